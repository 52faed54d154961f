"""What the result picture shows: deviations of one visit, their change, or what the shims should leave."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from scenes.meshes.exaggeration import default_factor, default_lift
from scenes.reductions.quantities.definition import Kind as Size
from scenes.reductions.quantities.definition import Zone
from scenes.reductions.quantities.measured import Component, Deviations, Measured
from scenes.reductions.quantities.measures import PlaneForm, ProfileForm
from scenes.reductions.quantities.offset_measures import Range
from scenes.vectors import Floats
from scenes.visits.changed import Change, ChangedDeviations
from viewer.logic.figures import ARM, Figure, Form, figure_of, sets_of
from viewer.logic.figures_axis import axis_of_spindle
from viewer.logic.figures_turned import laid_around
from viewer.logic.session import DIFFERENCE, Session

__all__ = ["Kind", "Shown", "component_of", "first_factor", "nice", "rounded_factor", "shown_of", "standing_bar"]

CONTACTS_NAMED = 12
GAP = 0.012
"""The zero level stands at least this share of the longer side above the surface."""

GENEROUS = 2.0
"""Lines and arrows stand alone, so that they may be drawn this much larger than a sheet."""

ROOMY = 3.0
"""Limits of lines may be drawn this much larger than a sheet."""

ALONE = 0.5
"""Extent [m] that stands in for that of a single place."""

LEAST_RANGE = 1e-6
"""The colours reach at least this far [m]."""


class Kind:
    """What the deviations are."""

    MEASURED = "measured"
    CHANGE = "change"
    PREDICTED = "predicted"


@dataclass(frozen=True, slots=True, eq=False)
class Shown:
    """Deviations to tell and to draw; metres, or rad.

    Attributes
    ----------
    kind : str
    task, visit : str
    measured : Measured
        The result; of a change that of the last visit.
    component : Component, optional
        The one that is chosen, else the worst; None for a change.
    sets : tuple of Deviations
        All that is told.
    figures : tuple of Figure
        Those that belong to the component, as they are drawn.
    angles : bool
        Whether figures show angles, over ``ARM``.
    factor : float
        Of the expanded uncertainty of deviations.
    longer : float
        Longest extent of a figure.
    lowest : float
        Lowest deviation in any view of the task: the zero level then stands still when the view changes.
    largest : float
        End of the colour map.
    zone : (low, high) or None
        Limits of the deviations, where there are such.
    high, low : tuple of str
        Stations that hold the value.
    change : Change, optional
    """

    kind: str
    task: str
    visit: str
    measured: Measured
    component: Component | None
    sets: tuple[Deviations, ...]
    figures: tuple[Figure, ...]
    angles: bool
    factor: float
    longer: float
    lowest: float
    largest: float
    zone: tuple[float, float] | None
    high: tuple[str, ...]
    low: tuple[str, ...]
    change: Change | None = None

    @property
    def sheet(self) -> Figure | None:
        """The one figure that is a sheet, where it is one."""
        return self.figures[0] if len(self.figures) == 1 and self.figures[0].form is Form.SHEET else None

    def lift(self, factor: float) -> float:
        """Height [m] of the zero level above the surface, so that all that is drawn stays clear of it."""
        return default_lift(np.array([self.lowest]), factor, self.longer * GAP / 0.01)

    def raised(self, figure: Figure, factor: float) -> Floats:
        """How far ``(3,)`` and where the zero line of a figure is drawn from its places."""
        result: Floats = self.lift(factor) * figure.away if figure.form is not Form.ARROWS else np.zeros(3)
        return result

    def tips_of(self, figure: Figure, factor: float) -> Floats:
        """World points ``(n, 3)`` at which the stations of a figure are drawn."""
        if figure.sheet is not None:
            up = figure.directions[0]
            sheet: Floats = figure.places + (self.lift(factor) + factor * figure.values)[:, None] * up
            return sheet
        result: Floats = figure.places + self.raised(figure, factor) + factor * figure.displacement
        return result

    @property
    def stations(self) -> tuple[str, ...]:
        """Stations of all figures."""
        return tuple(name for figure in self.figures for name in figure.stations)

    def tips(self, factor: float) -> Floats:
        """World points at which ``stations`` are drawn."""
        return np.vstack([np.zeros((0, 3)), *(self.tips_of(figure, factor) for figure in self.figures)])


def rounded_factor(log_factor: float) -> float:
    """Exaggeration of two figures from the logarithm that the slider holds; at least 1."""
    value = float(10.0 ** max(0.0, log_factor))
    digits = 1 - int(np.floor(np.log10(value)))
    return max(1.0, round(value, digits))


def nice(value: float) -> float:
    """The next of 1, 1.5, 2, 3, 4, 5, 6, 8, 10 times a power of ten that is not below ``value``."""
    if value <= 0.0:
        return 1e-6
    power = 10.0 ** np.floor(np.log10(value))
    steps = np.array([1.0, 1.5, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0]) * power
    return float(steps[np.searchsorted(steps, value * (1.0 - 1e-9))])


def standing_bar(shown: Shown) -> float:
    """Deviation [m] that the standing bar beside the figure is worth: a round one, below the end of the colours."""
    choices = np.array([1.0, 2.0, 5.0, 10.0]) * 10.0 ** np.floor(np.log10(0.8 * shown.largest))
    return float(choices[np.nonzero(choices <= 0.8 * shown.largest * (1.0 + 1e-9))[0][-1]])


def component_of(measured: Measured, chosen: int) -> Component | None:
    """The component of that number, else the worst one, else the first; None where there is none."""
    if 0 <= chosen < len(measured.components):
        return measured.components[chosen]
    return measured.worst or (measured.components[0] if measured.components else None)


def _figures(
    session: Session, sets: tuple[Deviations, ...], component: Component | None, factor: float
) -> tuple[Figure, ...]:
    """Figures of the sets of a component; sets about the same stations are one figure in space."""
    groups: dict[tuple[str, ...], list[Deviations]] = {}
    linear = component is not None and bool(component.plus)
    for each in tuple(each for each in sets if not each.of) if linear else sets_of(sets, component):
        groups.setdefault((str(each.kind), *each.stations), []).append(each)
    return tuple(figure_of(session.layout, _together(group), factor) for group in groups.values())


def _together(group: list[Deviations]) -> Deviations:
    if len(group) == 1:
        return group[0]
    parts = [np.concatenate([getattr(each, name) for each in group]) for name in ("places", "directions")]
    values, u = (np.concatenate([getattr(each, name) for each in group]) for name in ("values", "u"))
    stations, components = (tuple(word for each in group for word in getattr(each, name)) for name in
                            ("stations", "components"))  # fmt: skip
    return Deviations(group[0].of, stations, components, parts[0], parts[1], values, u, group[0].kind)


def _changed(each: ChangedDeviations) -> Deviations:
    return Deviations(
        each.of, each.stations, each.components, each.places, each.directions, each.change, each.u, each.kind
    )


def _every(session: Session, task: str) -> list[tuple[Deviations, ...]]:
    """Deviations of all visits of a task against its own reference, and their change."""
    told = [session.own(task, visit).deviations for visit in session.visits(task)]
    change = session.change(task)
    return told + ([] if change is None else [tuple(_changed(each) for each in change.deviations)])


def _values(sets: tuple[Deviations, ...]) -> Floats:
    """All deviations [m], angles over ``ARM``."""
    parts = [(ARM if each.kind is Size.ANGLE else 1.0) * each.values for each in sets]
    every = np.concatenate([np.zeros(0), *parts])
    known: Floats = every[np.isfinite(every)]
    return known


def first_factor(session: Session, task: str) -> float:
    """Exaggeration to begin with: the largest deviation of any view of the task then shows well."""
    own = session.own(task, session.visits(task)[0])
    figures = _figures(session, own.deviations, None, 1.0)
    if not figures:
        return 1.0
    sheet = all(figure.form is Form.SHEET for figure in figures)
    longest = max(figure.longer for figure in figures) or ALONE
    if sheet and len(figures) == 1:
        longest = float(np.ptp(figures[0].sheet.places[:, :2], axis=0).max()) if figures[0].sheet else longest
    every = np.concatenate([np.zeros(0), *(_values(sets) for sets in _every(session, task))])
    factor = default_factor(every, (1.0 if sheet else GENEROUS) * longest)
    if sheet:
        return factor
    widest = max((_reach(component, longest) for component in own.components), default=0.0)
    return min(factor, default_factor(np.array([widest]), ROOMY * longest)) if widest > 0.0 else factor


def _reach(component: Component, longest: float) -> float:
    """How far [m] the limit of a component lies from its zero line, over ``longest`` [m] where it is an angle."""
    if component.verdict is None:
        return 0.0
    return component.verdict.limit * (longest if component.kind is Size.ANGLE else 0.5)


def shown_of(session: Session, task: str, visit: str, reference: str, predicted: bool, chosen: int = -1) -> Shown:
    """What the picture shows for these choices; ``chosen`` is the number of a component.

    Raises
    ------
    KeyError
        Where there is no such visit, change or proposal.
    GeometryError
        Where the reference does not exist for the readings.
    """
    if visit == DIFFERENCE:
        change = session.change(task)
        if change is None:
            raise KeyError((task, visit))
        return _shown_change(session, change)
    measured = session.measured(task, visit, reference)
    component = component_of(measured, chosen)
    high, low = ((), ()) if component is None else (component.high, component.low)
    sets, kind = measured.deviations, Kind.MEASURED
    if predicted:
        kind, sets = Kind.PREDICTED, _predicted(session, measured)
        order = np.argsort(sets[0].values)
        high, low = (sets[0].stations[int(order[-1])],), (sets[0].stations[int(order[0])],)
    return _shown(session, kind, measured, component, sets, visit, high[:CONTACTS_NAMED], low[:CONTACTS_NAMED])


def _predicted(session: Session, measured: Measured) -> tuple[Deviations, ...]:
    """Deviations as the shims should leave them."""
    proposal = session.proposals[measured.evidence.task.name, measured.evidence.visit]
    u = np.zeros(len(proposal.as_left)) if proposal.standard_uncertainty is None else proposal.standard_uncertainty
    return (replace(measured.deviations[0], values=proposal.as_left, u=u, leverage=None), *measured.deviations[1:])


def _shown_change(session: Session, change: Change) -> Shown:
    sets = tuple(_changed(each) for each in change.deviations)
    values, names = np.concatenate([each.values for each in sets]), [name for each in sets for name in each.stations]
    high, low = (((names[int(pick(values))],)) for pick in (np.argmax, np.argmin))
    return _shown(session, Kind.CHANGE, change.after, None, sets, DIFFERENCE, high, low, change)


def _zone(
    measured: Measured, component: Component | None, sets: tuple[Deviations, ...], kind: str
) -> tuple[float, float] | None:
    """Limits of the deviations that a component is made of: where its limit is the width of a zone about them."""
    if component is None or component.verdict is None or kind == Kind.CHANGE or component.kind is not Size.LENGTH:
        return None
    asked = next(each for each in measured.definition.values if each.name == component.name)
    if not isinstance(asked, Zone) or not isinstance(asked.measure, PlaneForm | ProfileForm | Range):
        return None
    limit, values = component.verdict.limit, _values(sets_of(sets, component))
    if len(values) == 0:
        return None
    middle = 0.5 * float(values.max() + values.min())
    return middle - 0.5 * limit, middle + 0.5 * limit


def _shown(
    session: Session, kind: str, measured: Measured, component: Component | None, sets: tuple[Deviations, ...],
    visit: str, high: tuple[str, ...], low: tuple[str, ...], change: Change | None = None,
) -> Shown:  # fmt: skip
    task = measured.evidence.task
    figures = _figures(session, sets, component, task.coverage_factor)
    if kind == Kind.MEASURED:
        figures = tuple(laid_around(measured, axis_of_spindle(measured, each, sets)) for each in figures)
    sheet = len(figures) == 1 and figures[0].form is Form.SHEET
    round_ = any(len(figure.directions) > 1 for figure in figures)
    zone = None if round_ else _zone(measured, component, sets, kind)
    every = [_values(each) for each in _every(session, task.name)]
    told = [*every[: len(session.visits(task.name))], _values(sets)] if change is None else [_values(sets)]
    largest = max([LEAST_RANGE, *(float(np.abs(each).max(initial=0.0)) for each in told)])
    largest = max(largest, *(float(np.abs(figure.values).max(initial=0.0)) for figure in figures), 0.0)
    if zone is not None and sheet:
        largest = max(largest, abs(zone[0]), abs(zone[1]))
    longer = max((figure.longer for figure in figures), default=1.0)
    if sheet and figures[0].sheet is not None:
        longer = float(np.ptp(figures[0].sheet.places[:, :2], axis=0).max())
    return Shown(
        kind=kind, task=task.name, visit=visit, measured=measured, component=component, sets=sets, figures=figures,
        angles=any(each.kind is Size.ANGLE for each in sets_of(sets, component)), factor=task.coverage_factor,
        longer=longer, lowest=min([0.0, *(float(each.min(initial=0.0)) for each in [*every, _values(sets)])]),
        largest=nice(largest), zone=zone, high=high, low=low, change=change,
    )  # fmt: skip
