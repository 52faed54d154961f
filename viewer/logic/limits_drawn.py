"""How the limit of a component is drawn about a line: as a band, as a cylinder, or as two lines that lean."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from scenes.model.survey import Rule
from scenes.reductions.quantities.definition import Kind, Zone
from scenes.reductions.quantities.measured import Component, bounds_of
from scenes.reductions.quantities.offset_measures import CylinderForm, LargestOffset
from scenes.vectors import Floats
from viewer.logic.figures import Figure
from viewer.logic.shown import Kind as Shows
from viewer.logic.shown import Shown

__all__ = ["Limits", "accepted_of", "accepted_zone", "limits_of", "shrink_of"]


@dataclass(frozen=True, slots=True, eq=False)
class Limits:
    """The limit of a component about the zero line of a figure.

    Attributes
    ----------
    width : float
        Width of the band, or diameter of the cylinder, metres.
    across : (3,) float, optional
        Direction of the band or of the lean; None: a cylinder.
    middle : float
        Of the band, from the zero line, metres.
    lean : (low, high), optional
        Slopes of the two lines through ``pivot`` [m] along the line; then there is no band.
    """

    width: float
    across: Floats | None
    middle: float = 0.0
    lean: tuple[float, float] | None = None
    pivot: float = 0.0


def limits_of(shown: Shown, figure: Figure) -> Limits | None:
    """Limits about a figure, where the component that is shown has such."""
    return _limits(shown, figure, lambda _: 0.0)


def accepted_of(shown: Shown, figure: Figure) -> Limits | None:
    """What the rule accepts about a figure, narrower or wider than the limits; None where it is the same or nothing."""
    component = _own(shown, figure)
    if component is None or shown.kind != Shows.MEASURED or not shrink_of(component):
        return None
    found = _limits(shown, figure, shrink_of)
    if found is None or (found.lean is None and found.width <= 0.0):
        return None
    return None if found.lean is not None and found.lean[0] >= found.lean[1] else found


def shrink_of(component: Component) -> float:
    """By how much values that conform must keep the limit; below nought where they may go beyond it."""
    told = component.verdict
    if told is None:
        return 0.0
    return -told.guard if told.rule is Rule.RELAXED else told.guard


def accepted_zone(shown: Shown) -> tuple[float, float] | None:
    """What the rule accepts of the deviations of a surface, metres; None where it is the zone itself, or nothing."""
    if shown.zone is None or shown.component is None or shown.kind != Shows.MEASURED:
        return None
    half = 0.5 * shrink_of(shown.component)
    low, high = shown.zone[0] + half, shown.zone[1] - half
    return (low, high) if half and low < high else None


def _limits(shown: Shown, figure: Figure, shrink: Callable[[Component], float]) -> Limits | None:
    component = _own(shown, figure)
    if component is None or component.verdict is None or component.limit is None or shown.kind == Shows.CHANGE:
        return None
    asked = next(each for each in shown.measured.definition.values if each.name == component.name)
    if isinstance(asked, Zone):
        return _of_zone(shown, figure, asked, component.verdict.limit - shrink(component))
    upper, lower = bounds_of(component.limit, True)
    low = (-upper if lower is None else lower) + shrink(component)
    upper -= shrink(component)
    across = _direction(shown, figure, component.name)
    if component.kind is Kind.LENGTH:
        return Limits(upper - low, across, 0.5 * (upper + low))
    ahead = _ahead(figure.places)
    return Limits(0.0, across, 0.0, (low, upper), 0.0 if figure.leans else float(ahead.mean()))


def _own(shown: Shown, figure: Figure) -> Component | None:
    """The component that is shown, or that of the figure itself where several figures have one each."""
    chosen = shown.component
    if chosen is None or not chosen.plus or chosen.name in figure.words or len(shown.figures) == 1:
        return chosen
    return next((each for each in shown.measured.components if each.name in figure.words), chosen)


def _of_zone(shown: Shown, figure: Figure, zone: Zone, limit: float) -> Limits | None:
    if zone.kind is not Kind.LENGTH:
        return None
    if isinstance(zone.measure, LargestOffset | CylinderForm):
        width = 2.0 * limit / zone.measure.factor
        return Limits(width, None if len(figure.directions) > 1 else figure.directions[0])
    if shown.zone is None:
        return None
    return Limits(limit, figure.directions[0], 0.5 * (shown.zone[0] + shown.zone[1]))


def _ahead(places: Floats) -> Floats:
    along = places[-1] - places[0]
    result: Floats = (places - places[0]) @ along / float(np.linalg.norm(along))
    return result


def _direction(shown: Shown, figure: Figure, component: str) -> Floats:
    """Direction in which a component counts: that of the entries that bear its name, else the first one."""
    for each in shown.sets:
        for word, direction in zip(each.components, each.directions, strict=True):
            if word == component:
                return np.array(direction)
    return figure.directions[0]
