"""What the result picture shows: deviations of one visit, their change, or what the shims should leave."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from scenes.frames import Pose
from scenes.meshes.exaggeration import default_factor, default_lift
from scenes.model.layout import Layout
from scenes.model.machine import Face
from scenes.model.survey import Task
from scenes.reductions.form import Reference
from scenes.tracing.places import pose_of
from scenes.vectors import Floats
from viewer.logic.session import DIFFERENCE, Change, Session

__all__ = ["Kind", "Shown", "first_factor", "nice", "rounded_factor", "shown_of", "standing_bar"]

CONTACTS_NAMED = 12
GAP = 0.012
"""The zero level stands at least this share of the longer side above the surface."""


class Kind:
    """What the deviations are."""

    MEASURED = "measured"
    CHANGE = "change"
    PREDICTED = "predicted"


@dataclass(frozen=True, slots=True, eq=False)
class Shown:
    """Deviations to draw, with where they stand; n stations, metres.

    Attributes
    ----------
    kind : str
    task, visit : str
    stations : tuple of str
    places : (n, 3) float
        In the frame of the surface.
    deviations, expanded : (n,) float
        Deviations and their expanded uncertainties.
    world_from_surface : Pose
    bore : float
        Hole that stays open in the drawn surface.
    longer : float
        Longer side of what the stations cover.
    lowest : float
        Lowest deviation in any view of the task: the zero level then stands still when the view changes.
    largest : float
        End of the colour map.
    zone : (low, high) or None
        Limits about the middle of the deviations.
    high, low : tuple of str
        Stations that hold the value.
    """

    kind: str
    task: str
    visit: str
    stations: tuple[str, ...]
    places: Floats
    deviations: Floats
    expanded: Floats
    world_from_surface: Pose
    bore: float
    longer: float
    lowest: float
    largest: float
    zone: tuple[float, float] | None
    high: tuple[str, ...]
    low: tuple[str, ...]

    def lift(self, factor: float) -> float:
        """Height [m] of the zero level above the surface, so that all that is drawn stays clear of it."""
        return default_lift(np.array([self.lowest]), factor, self.longer * GAP / 0.01)

    def tips(self, factor: float) -> Floats:
        """World points ``(n, 3)`` at which the deviations are drawn."""
        up = self.world_from_surface.rotation[:, 2]
        base = self.world_from_surface.points(self.places)
        result: Floats = base + (self.lift(factor) + factor * self.deviations)[:, None] * up
        return result


def rounded_factor(log_factor: float) -> float:
    """Exaggeration of two figures from the logarithm that the slider holds; at least 1."""
    value = float(10.0 ** max(0.0, log_factor))
    digits = 1 - int(np.floor(np.log10(value)))
    return max(1.0, round(value, digits))


def _measured(session: Session, task: str) -> list[Floats]:
    return [session.result(task, visit).form.deviations for visit in session.visits(task)]


def _all_deviations(session: Session, task: str) -> list[Floats]:
    change = session.change(task)
    return _measured(session, task) + ([] if change is None else [change.deviation])


def _extent(layout: Layout, task: Task) -> float:
    at = np.array([layout.stations[name].at[:2] for name in task.stations])
    return float(np.ptp(at, axis=0).max())


def first_factor(session: Session, task: str) -> float:
    """Exaggeration to begin with: the largest deviation of any view of the task then shows well."""
    every = np.concatenate(_all_deviations(session, task))
    return default_factor(every, _extent(session.layout, session.layout.tasks[task]))


def nice(value: float) -> float:
    """The next of 1, 1.5, 2, 3, 4, 5, 6, 8, 10 times a power of ten that is not below ``value``."""
    if value <= 0.0:
        return 1e-6
    power = 10.0 ** np.floor(np.log10(value))
    steps = np.array([1.0, 1.5, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0]) * power
    return float(steps[np.searchsorted(steps, value * (1.0 - 1e-9))])


def standing_bar(shown: Shown) -> float:
    """Deviation [m] that the standing bar beside the surface is worth: a round one, about a third of the map's end."""
    choices = np.array([1.0, 2.0, 5.0, 10.0]) * 10.0 ** np.floor(np.log10(0.8 * shown.largest))
    return float(choices[np.nonzero(choices <= 0.8 * shown.largest * (1.0 + 1e-9))[0][-1]])


def shown_of(session: Session, task: str, visit: str, reference: Reference | None, predicted: bool) -> Shown:
    """What the picture shows for these choices.

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
        return _shown_change(session, task, change)
    result = session.result(task, visit, reference)
    estimate, form = result.estimate, result.form
    deviations, u = form.deviations, result.station_u
    high, low = (tuple(estimate.stations[i] for i in numbers[:CONTACTS_NAMED]) for numbers in (form.high, form.low))
    kind = Kind.MEASURED
    if predicted:
        proposal = session.proposals[task, visit]
        kind, deviations = Kind.PREDICTED, proposal.as_left
        u = np.zeros(len(deviations)) if proposal.standard_uncertainty is None else proposal.standard_uncertainty
        high = (estimate.stations[int(np.argmax(deviations))],)
        low = (estimate.stations[int(np.argmin(deviations))],)
    limit = session.layout.tasks[task].limit
    middle = 0.5 * float(deviations.max() + deviations.min())
    every = np.concatenate([*_measured(session, task), deviations])
    largest = nice(max(float(np.abs(every).max()), abs(middle) + 0.5 * limit))
    return _shown(
        session, task, visit, kind, estimate.stations, deviations, estimate.task.coverage_factor * u, largest,
        (middle - 0.5 * limit, middle + 0.5 * limit), high, low,
    )  # fmt: skip


def _shown_change(session: Session, task: str, change: Change) -> Shown:
    factor = session.layout.tasks[task].coverage_factor
    names = change.stations
    ends = ((names[int(pick(change.deviation))],) for pick in (np.argmax, np.argmin))
    high, low = ends
    largest = nice(float(np.abs(change.deviation).max()))
    return _shown(
        session, task, DIFFERENCE, Kind.CHANGE, names, change.deviation, factor * change.standard_uncertainty, largest,
        None, high, low,
    )  # fmt: skip


def _shown(
    session: Session, task: str, visit: str, kind: str, stations: tuple[str, ...], deviations: Floats,
    expanded: Floats, largest: float, zone: tuple[float, float] | None, high: tuple[str, ...], low: tuple[str, ...],
) -> Shown:  # fmt: skip
    layout = session.layout
    surface = layout.tasks[task].surface
    shape = layout.surfaces[surface].shape
    places = np.array([layout.stations[name].at for name in stations])
    every = [*_all_deviations(session, task), deviations]
    return Shown(
        kind=kind, task=task, visit=visit, stations=stations, places=places, deviations=deviations, expanded=expanded,
        world_from_surface=pose_of(layout, surface), bore=shape.bore if isinstance(shape, Face) else 0.0,
        longer=float(np.ptp(places[:, :2], axis=0).max()), lowest=min(float(each.min()) for each in every),
        largest=largest, zone=zone, high=high, low=low,
    )  # fmt: skip
