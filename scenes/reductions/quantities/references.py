"""Which references each quantity knows, and the same task against another one."""

from __future__ import annotations

from dataclasses import replace

from ...model.survey import Task
from ..reference import Reference

__all__ = ["KNOWN", "with_reference"]

_LINES = (Reference.MINIMUM_ZONE, Reference.LEAST_SQUARES, Reference.END_POINTS)

KNOWN: dict[str, tuple[Reference, ...]] = {
    "flatness": (Reference.MINIMUM_ZONE, Reference.LEAST_SQUARES, Reference.THREE_POINTS),
    "straightness": _LINES,
    "slope": _LINES,
}
"""Quantity -> references that its deviations may count from."""


def with_reference(task: Task, reference: Reference | None) -> Task:
    """``task`` against another reference, or as it is where its quantity does not know that one."""
    if reference is None or reference not in KNOWN.get(task.quantity, ()):
        return task
    datum = task.datum if reference is Reference.THREE_POINTS else ()
    return replace(task, reference=str(reference), datum=datum)
