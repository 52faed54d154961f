"""Changes of the numbers that a task asks for, with what cancels between the visits."""

from __future__ import annotations

import numpy as np

from ..reductions.quantities.definition import Linear, Zone
from ..reductions.quantities.measured import Component, Measured, shape_of
from ..reductions.verdict import probability_of_factor
from ..uncertainty.degrees import coverage_factor
from ..uncertainty.propagate import NEGLIGIBLE, Spread, budget_of
from ..vectors import Floats
from .changed import ChangedValue, SharedSource
from .joint_errors import Joint

__all__ = ["changed_values", "functional_of"]


def _factor(spread: Spread, row: int, asked: float) -> tuple[float, float]:
    """Degrees of freedom and coverage factor."""
    dof = float(spread.effective_dof()[row])
    return dof, asked if not np.isfinite(dof) else float(coverage_factor(probability_of_factor(asked), dof))


def functional_of(measured: Measured, asked: Linear | Zone) -> Floats:
    """Change ``(1, p)`` of a value with the unknowns; of a zone through what holds it."""
    if isinstance(asked, Linear):
        return asked.functional[None, :]
    z, jacobian = shape_of(measured.evidence, asked)
    return (asked.measure.at(z).gradient @ jacobian)[None, :]


def changed_values(one: Measured, two: Measured, joint: Joint) -> tuple[ChangedValue, ...]:
    """Changes of the components that both visits tell."""
    asked = {each.name: each for each in one.definition.values}
    before = {each.name: each for each in one.components}
    found = []
    for each, after in zip(two.definition.values, two.components, strict=True):
        other = asked.get(each.name)
        if other is None or after.name not in before or other.kind != each.kind:
            continue
        rows = functional_of(one, other), functional_of(two, each)
        found.append(_changed_value(before[after.name], after, rows, joint, two.evidence.task.coverage_factor))
    return tuple(found)


def _changed_value(
    before: Component, after: Component, rows: tuple[Floats, Floats], joint: Joint, asked: float
) -> ChangedValue:
    spread = joint.spread([-rows[0], rows[1]])
    alone = [joint.spread([-rows[0], 0.0 * rows[1]]), joint.spread([0.0 * rows[0], rows[1]])]
    u = float(spread.standard_uncertainty()[0])
    dof, k = _factor(spread, 0, asked)
    return ChangedValue(
        name=after.name,
        kind=after.kind,
        before=before.value,
        after=after.value,
        change=after.value - before.value,
        standard_uncertainty=u,
        apart=float(np.hypot(*(each.standard_uncertainty()[0] for each in alone))),
        coverage_factor=k,
        expanded_uncertainty=k * u,
        dof=dof,
        budget=budget_of(spread),
        shared=_shared(joint, spread, alone),
        words=tuple(None if each.verdict is None else each.verdict.word for each in (before, after)),  # type: ignore[arg-type]
        plus=after.plus,
    )


def _shared(joint: Joint, spread: Spread, alone: list[Spread]) -> tuple[SharedSource, ...]:
    """What the shared sources do to either visit and to the change, the largest first."""
    parts = [each.variances() for each in (*alone, spread)]
    sizes = {name: [float(np.sqrt(part[name][0])) for part in parts] for name in joint.common if name in parts[2]}
    told = [SharedSource(name, *size) for name, size in sizes.items() if max(size) > NEGLIGIBLE]
    return tuple(sorted(told, key=lambda each: -max(each.one, each.two)))
