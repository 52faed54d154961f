"""Prediction: how sure the answer to a task will be, and which limits it can prove, from the plan alone.

Two ways stand side by side: propagation of every source through the slopes of the model (GUM), and trials through the
traced model itself (Monte Carlo). Where the answer is linear in the readings they agree but for the count of trials.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from ..errors import GeometryError
from ..model.layout import Layout
from ..model.survey import Limit, Method, Rule, Task
from ..uncertainty.propagate import NEGLIGIBLE, Spread, budget_of
from ..vectors import Floats
from .drawn_errors import drawn_heights, drawn_unknowns
from .estimate import planned_estimate
from .form import Reference
from .network import Network
from .noise import NORMAL_95
from .quantities.definition import Definition, Kind, Linear, Profile, Unreached, Zone
from .quantities.dispatch import definition_of
from .quantities.evaluate import network_of_plan, setups_for
from .quantities.evidence import evidence_of
from .quantities.measured import bounds_of
from .quantities.measures import PlaneForm
from .quantities.shape_noise import drawn_deviations, values_of
from .verdict import GUARD_FACTOR

__all__ = ["SHAPES", "Planned", "Predicted", "PredictedComponent", "StationUncertainty", "planned_of", "predict",
           "swept_by_bases"]  # fmt: skip

SHAPES = 24
"""Shapes, drawn at random, that tell how uncertain a zone of some size is on average."""


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


@dataclass(frozen=True, slots=True, eq=False)
class StationUncertainty:
    """How well the deviations of stations will be known; k entries of one station and one direction each.

    Attributes
    ----------
    of : str
        Component that they belong to.
    stations, components : tuple of str
    places, directions : (k, 3) float
        World, metres.
    u, trial_u : (k,) float
        Standard uncertainties by propagation and from trials (nan without trials), metres or rad.
    kind : Kind
    """

    of: str
    stations: tuple[str, ...]
    components: tuple[str, ...]
    places: Floats
    directions: Floats
    u: Floats
    trial_u: Floats
    kind: Kind


@dataclass(frozen=True, slots=True, eq=False)
class PredictedComponent:
    """What the plan promises for one number of a task; metres, or rad where ``kind`` is an angle.

    Attributes
    ----------
    name : str
    kind : Kind
    is_zone : bool
        True for a number that errors can only raise, such as a flatness.
    nominal : float
        What the layout alone says.
    standard_uncertainty : float
        By propagation; of a zone: of one that is large against the errors, on average over shapes.
    empty_value, empty_scatter : float
        What a perfect machine would read from errors alone, on average, and its standard deviation: by propagation.
    trial_mean, trial_u : float
        The same from trials through the traced model; nan without trials.
    trial_interval : (low, high)
        95 % of the trials.
    limit : Limit, optional
    upper, lower : float, optional
        The limit as bounds of the value.
    provable : float
        Least limit that a perfect machine could be proven to keep; of a limit both ways, half its width.
    largest, smallest : float, optional
        Measured values up to and down to which conformity would be proven; None where no value would do.
    budget : tuple of (source, contribution)
        Of ``standard_uncertainty``, the largest first.
    plus : str
    """

    name: str
    kind: Kind
    is_zone: bool
    nominal: float
    standard_uncertainty: float
    empty_value: float
    empty_scatter: float
    trial_mean: float
    trial_u: float
    trial_interval: tuple[float, float]
    limit: Limit | None
    upper: float | None
    lower: float | None
    provable: float
    largest: float | None
    smallest: float | None
    budget: tuple[tuple[str, float], ...]
    plus: str

    @property
    def can_be_proven(self) -> bool | None:
        """Whether any measured value would prove conformity; None where no limit is set."""
        return None if self.limit is None else self.largest is not None


@dataclass(frozen=True, slots=True, eq=False)
class Predicted:
    """What the plan promises for one task.

    Attributes
    ----------
    task : Task
    reference, method : str
    components : tuple of PredictedComponent
    stations : tuple of StationUncertainty
    unreached : tuple of Unreached
        Components that the planned readings do not tell, each with its reason.
    missing : tuple of str
        Stations of the task that the plan does not read.
    remarks : tuple of str
    held : str
        Why no conformity could be proven all the same; else empty.
    trials : int
        Of the Monte Carlo, 0 for none.
    """

    task: Task
    reference: str
    method: str
    components: tuple[PredictedComponent, ...]
    stations: tuple[StationUncertainty, ...]
    unreached: tuple[Unreached, ...]
    missing: tuple[str, ...]
    remarks: tuple[str, ...]
    held: str
    trials: int

    @property
    def worst(self) -> PredictedComponent:
        """The component whose limit is tightest for what can be proven, of those with a limit, if any has one."""
        return max(self.components, key=lambda each: each.provable / _room(each))

    @property
    def can_be_proven(self) -> bool | None:
        """Whether readings as planned can prove conformity at all; None where no limit is set."""
        asked = [each.can_be_proven for each in self.components if each.can_be_proven is not None]
        return None if not asked else all(asked) and not self.unreached and not self.held


def _room(component: PredictedComponent) -> float:
    """Half the width of a limit both ways, or the limit; without bound where none is set."""
    if component.upper is None:
        return float("inf")
    return component.upper if component.lower is None else 0.5 * (component.upper - component.lower)


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
        lambda limit, signed: bounds_of(task, limit, signed), drawn,
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
        estimate.spread.through, lambda limit, signed: bounds_of(task, limit, signed), drawn, estimate.missing,
    )  # fmt: skip


def predict(
    planned: Planned,
    rng: np.random.Generator,
    trials: int,
    gum_trials: int = 4_000,
    progress: Callable[[int], object] | None = None,
) -> Predicted:
    """What a plan promises for its task.

    Parameters
    ----------
    trials : int
        Monte Carlo trials through the traced model; 0: none.
    gum_trials : int
        Draws from the covariance for zones, which only errors make.
    progress : callable, optional
        Is told how many trials have been done, block by block.
    """
    errors = planned.drawn(rng, trials, progress) if trials else None
    definition = planned.definition
    found = [_component(planned, asked, errors, rng, gum_trials) for asked in definition.values]
    zones = [asked for asked in definition.values if isinstance(asked, Zone) and asked.tells_deviations]
    profiles = [(asked.name, asked.profile, asked) for asked in zones]
    shown = [_stations(planned, name, profile, zone, errors) for name, profile, zone in profiles]
    shown += [_stations(planned, "", profile, None, errors) for profile in definition.shown]
    return Predicted(
        task=planned.task,
        reference=definition.reference,
        method=definition.method,
        components=tuple(found),
        stations=tuple(shown),
        unreached=definition.unreached,
        missing=planned.missing,
        remarks=definition.remarks,
        held=definition.held,
        trials=trials,
    )


def _seen_by(zone: Zone | None, jacobian: Floats) -> Floats:
    """A Jacobian without what the measure of a zone does not see."""
    if zone is None:
        return jacobian
    unseen = zone.measure.unseen(len(jacobian))
    return jacobian - unseen @ (np.linalg.pinv(unseen) @ jacobian) if unseen.shape[1] else jacobian


def _stations(
    planned: Planned, name: str, profile: Profile, zone: Zone | None, errors: Floats | None
) -> StationUncertainty:
    jacobian = _seen_by(zone, profile.jacobian)
    if zone is not None and zone.measure.steady:
        jacobian = zone.measure.at(np.linspace(-1e-3, 1e-3, len(jacobian)) ** 3).gain @ jacobian
    u = planned.spread_of(jacobian).standard_uncertainty()
    trial_u = np.full(len(u), np.nan) if errors is None else (errors @ jacobian.T).std(axis=0)
    return StationUncertainty(
        name, profile.stations, profile.components, profile.places, profile.directions, u, trial_u, profile.kind
    )


def _component(
    planned: Planned, asked: Linear | Zone, errors: Floats | None, rng: np.random.Generator, gum_trials: int
) -> PredictedComponent:
    if isinstance(asked, Linear):
        return _linear(planned, asked, errors)
    return _zone(planned, asked, errors, rng, gum_trials)


def _interval(values: Floats) -> tuple[float, float]:
    low, high = np.quantile(values, [0.025, 0.975])
    return float(low), float(high)


NO_TRIALS = (float("nan"), float("nan"))


def _linear(planned: Planned, asked: Linear, errors: Floats | None) -> PredictedComponent:
    spread = planned.spread_of(asked.functional[None, :])
    u = float(spread.standard_uncertainty()[0])
    values = None if errors is None else asked.nominal + errors @ asked.functional
    guard = GUARD_FACTOR * u if planned.task.rule is Rule.GUARD_BAND else 0.0
    upper, lower = (None, None) if asked.limit is None else planned.bounds(asked.limit, True)
    largest = smallest = None
    if upper is not None and lower is not None and lower + guard <= upper - guard:
        largest, smallest = upper - guard, lower + guard
    return PredictedComponent(
        name=asked.name,
        kind=asked.kind,
        is_zone=False,
        nominal=asked.nominal,
        standard_uncertainty=u,
        empty_value=asked.nominal,
        empty_scatter=u,
        trial_mean=float("nan") if values is None else float(values.mean()),
        trial_u=float("nan") if values is None else float(values.std()),
        trial_interval=NO_TRIALS if values is None else _interval(values),
        limit=asked.limit,
        upper=upper,
        lower=lower,
        provable=guard,
        largest=largest,
        smallest=smallest,
        budget=budget_of(spread),
        plus=asked.plus,
    )


def _zone(
    planned: Planned, asked: Zone, errors: Floats | None, rng: np.random.Generator, gum_trials: int
) -> PredictedComponent:
    jacobian = _seen_by(asked, asked.profile.jacobian)
    shape = _seen_by(asked, asked.profile.offsets[:, None])[:, 0]
    spread = planned.spread_of(jacobian)
    empty = values_of(asked.measure, shape, drawn_deviations(spread.covariance(), asked.measure, rng, gum_trials))
    mean, scatter = float(empty.mean()), float(empty.std())
    values = None if errors is None else values_of(asked.measure, shape, (_few(asked, errors) @ jacobian.T).T)
    u, budget = _large(asked, spread, rng)
    guards = planned.task.rule is Rule.GUARD_BAND
    upper = None if asked.limit is None else planned.bounds(asked.limit, False)[0]
    provable = mean + (GUARD_FACTOR * max(mean / NORMAL_95, scatter) if guards else 0.0)
    largest = None
    if upper is not None and provable <= upper:
        largest = max(mean, upper - (GUARD_FACTOR * max(u, scatter) if guards else 0.0))
    return PredictedComponent(
        name=asked.name,
        kind=asked.kind,
        is_zone=True,
        nominal=0.0,
        standard_uncertainty=u,
        empty_value=mean,
        empty_scatter=scatter,
        trial_mean=float("nan") if values is None else float(values.mean()),
        trial_u=float("nan") if values is None else float(values.std()),
        trial_interval=NO_TRIALS if values is None else _interval(values),
        limit=asked.limit,
        upper=upper,
        lower=None,
        provable=provable,
        largest=largest,
        smallest=None if largest is None else 0.0,
        budget=budget,
        plus="",
    )


MOST_SLOW = 4_000


def _few(asked: Zone, errors: Floats) -> Floats:
    """Not too many trials of a measure that takes long."""
    return errors if asked.measure.quick else errors[:MOST_SLOW]


def _large(asked: Zone, spread: Spread, rng: np.random.Generator) -> tuple[float, tuple[tuple[str, float], ...]]:
    """Standard uncertainty of a zone that is large against the errors, on average over shapes, and its budget."""
    k = len(asked.profile.stations)
    gradients = np.array([asked.measure.at(rng.standard_normal(k) * 1e-3).gradient for _ in range(SHAPES)])
    variances = {name: float(np.mean(part)) for name, part in spread.through(gradients).variances().items()}
    parts = [(name, float(np.sqrt(part))) for name, part in variances.items() if part > NEGLIGIBLE**2]
    return float(np.sqrt(sum(variances.values()))), tuple(sorted(parts, key=lambda part: -part[1]))
