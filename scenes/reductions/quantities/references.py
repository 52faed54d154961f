"""Which references each quantity knows, and the same task against another one."""

from __future__ import annotations

from dataclasses import replace

from ...model.survey import Task
from ..reference import Reference

__all__ = ["KNOWN", "known_references", "with_reference"]

_LINES = (Reference.MINIMUM_ZONE, Reference.LEAST_SQUARES, Reference.END_POINTS)
_AXES = (Reference.MINIMUM_CYLINDER, Reference.LEAST_SQUARES, Reference.END_POINTS)
_OUTSIDE = (Reference.GRAVITY, Reference.DATUM_FEATURE)

KNOWN: dict[str, tuple[Reference, ...]] = {
    "flatness": (Reference.MINIMUM_ZONE, Reference.LEAST_SQUARES, Reference.THREE_POINTS, *_OUTSIDE),
    "straightness": (*_LINES, Reference.MINIMUM_CYLINDER, *_OUTSIDE),
    "slope": (*_LINES, Reference.THREE_POINTS),
    "coaxiality": _AXES,
    "bore position": _AXES[1:],
}
"""Quantity -> references that its deviations may count from."""


def known_references(task: Task) -> tuple[Reference, ...]:
    """References that a task may count from, its own one included: those of its quantity, in the plane asked for."""
    known = KNOWN.get(task.quantity, ())
    if task.quantity == "straightness":
        if task.plane == "space":
            known = _AXES
        elif task.plane:
            known = (*_LINES, *_OUTSIDE)
    own = [each for each in Reference if each == task.reference and each not in known and known]
    return (*own, *known)


def with_reference(task: Task, reference: Reference | None) -> Task:
    """``task`` against another reference, or as it is where it does not know that one in the plane that it asks for."""
    if reference is None or reference not in known_references(task):
        return task
    datum = task.datum if reference is Reference.THREE_POINTS else ()
    return replace(task, reference=str(reference), datum=datum)
