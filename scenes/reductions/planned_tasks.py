"""Planned tasks: what the planned readings determine of a task, before anything is said of its size."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from ..errors import GeometryError
from ..model.layout import Layout
from ..model.survey import Limit, Task
from ..uncertainty.propagate import Spread
from ..vectors import Floats
from .drawn_errors import drawn_unknowns
from .network import Network
from .quantities.definition import Definition
from .quantities.dispatch import definition_of
from .quantities.evaluate import fitted_for, network_of_plan, setups_for
from .quantities.evidence import evidence_of
from .quantities.measured import bounds_of

__all__ = ["Planned", "planned_of"]


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
        Networks solved so far, and errors drawn for them, by the set-ups and nuisances that they hold; both are
        added to.

    Raises
    ------
    GeometryError
        Where they determine nothing of it; the message says which reading is missing.
    """
    known = {} if networks is None else networks
    drawn_before = {} if errors is None else errors
    setups, fitted = setups_for(layout, task), fitted_for(task)
    key = (*setups, *fitted)
    if key not in known:
        try:
            known[key] = network_of_plan(layout, setups, fitted)
        except GeometryError as error:
            raise GeometryError(f"task {task.name}, plan: {error}", error.code) from None
    network = known[key]
    evidence = evidence_of(layout, task, "plan", network)

    def drawn(rng: np.random.Generator, trials: int, progress: Callable[[int], object] | None) -> Floats:
        if key not in drawn_before or len(drawn_before[key]) != trials:
            drawn_before[key] = drawn_unknowns(network, rng, trials, progress=progress)
        elif progress is not None:
            progress(trials)
        return drawn_before[key]

    return Planned(
        layout, task, definition_of(evidence), network.spread_of,
        bounds_of, drawn,
        tuple(name for name in task.stations if name not in set(evidence.stations)),
    )  # fmt: skip
