"""Planned tasks: what the planned readings determine of a task, before anything is said of its size."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from ..errors import GeometryError
from ..model.layout import Layout
from ..model.survey import Limit, Method, Task
from ..uncertainty.propagate import Spread
from ..vectors import Floats
from .drawn_errors import drawn_heights, drawn_unknowns
from .estimate import planned_estimate
from .form import Reference
from .network import Network
from .quantities.definition import Definition, Kind, Profile, Zone
from .quantities.dispatch import definition_of
from .quantities.evaluate import network_of_plan, setups_for
from .quantities.evidence import evidence_of
from .quantities.measured import bounds_of
from .quantities.measures import PlaneForm

__all__ = ["Planned", "planned_of", "swept_by_bases"]


@dataclass(frozen=True, slots=True, eq=False)
class Planned:
    """A task with what its plan determines: p unknowns.

    Attributes
    ----------
    definition : Definition
        What the task asks for, as sums of the unknowns.
    spread_of : callable
        Errors by source of sums of the unknowns (k, p).
    bounds : callable
        Upper and lower bound of a component with a limit; whether it is signed is the second argument.
    drawn : callable
        Errors (trials, p) of the unknowns, drawn through the traced model.
    missing : tuple of str
        Stations of the task that the plan does not read.
    """

    layout: Layout
    task: Task
    definition: Definition
    spread_of: Callable[[Floats], Spread]
    bounds: Callable[[Limit, bool], tuple[float, float | None]]
    drawn: Callable[[np.random.Generator, int, Callable[[int], object] | None], Floats]
    missing: tuple[str, ...]


def swept_by_bases(layout: Layout, task: Task) -> bool:
    """Whether a task is the flatness of a surface that rotary bases alone read: these go their own way."""
    wanted = set(task.stations)
    reading = [setup for setup in layout.setups.values() if wanted & {*setup.reads, *setup.again}]
    return task.quantity == "flatness" and all(setup.method is Method.BASE_PLANE for setup in reading)


def planned_of(
    layout: Layout,
    task: Task,
    networks: dict[tuple[str, ...], Network] | None = None,
    errors: dict[tuple[str, ...], Floats] | None = None,
) -> Planned:
    """What the planned readings determine of a task.

    Parameters
    ----------
    networks, errors : dict, optional
        Networks solved so far, and errors drawn for them, by the set-ups that they hold; both are added to.

    Raises
    ------
    GeometryError
        Where they determine nothing of it; the message says which reading is missing.
    """
    if swept_by_bases(layout, task):
        return _planned_surface(layout, task)
    known = {} if networks is None else networks
    drawn_before = {} if errors is None else errors
    setups = setups_for(layout, task)
    if setups not in known:
        try:
            known[setups] = network_of_plan(layout, setups)
        except GeometryError as error:
            raise GeometryError(f"task {task.name}, plan: {error}", error.code) from None
    network = known[setups]
    evidence = evidence_of(layout, task, "plan", network)

    def drawn(rng: np.random.Generator, trials: int, progress: Callable[[int], object] | None) -> Floats:
        if setups not in drawn_before or len(drawn_before[setups]) != trials:
            drawn_before[setups] = drawn_unknowns(network, rng, trials, progress=progress)
        elif progress is not None:
            progress(trials)
        return drawn_before[setups]

    return Planned(
        layout, task, definition_of(evidence), network.spread_of,
        bounds_of, drawn,
        tuple(name for name in task.stations if name not in set(evidence.stations)),
    )  # fmt: skip


def _planned_surface(layout: Layout, task: Task) -> Planned:
    """Flatness by rotary bases: the unknowns are the heights themselves."""
    estimate = planned_estimate(layout, task)
    geometry, n = estimate.adjustment.geometry, len(estimate.stations)
    reference = Reference(task.reference)
    datum = [estimate.stations.index(name) for name in task.datum if name in estimate.stations]
    chosen = np.array(datum, dtype=np.int64) if reference is Reference.THREE_POINTS and len(datum) == 3 else None
    first = np.array([int(np.argmax(geometry.rows.station == i)) for i in range(n)], dtype=np.int64)
    profile = Profile(
        estimate.stations, ("up",) * n, geometry.foot[first], geometry.normal[first], np.zeros(n), np.eye(n)
    )
    zone = Zone("", Kind.LENGTH, profile, PlaneForm(estimate.points[:, :2], reference, chosen), Limit(task.limit))

    def drawn(rng: np.random.Generator, trials: int, progress: Callable[[int], object] | None) -> Floats:
        return drawn_heights(layout, estimate, rng, trials, progress=progress)

    return Planned(
        layout, task, Definition(f"{reference} plane", "heights over a swept plane", (zone,), form=True),
        estimate.spread.through, bounds_of, drawn, estimate.missing,
    )  # fmt: skip
