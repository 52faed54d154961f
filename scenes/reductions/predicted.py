"""Prediction: how sure the answer to a task will be, and which limits it can prove, from the plan alone.

Two ways stand side by side: propagation of every source through the slopes of the model (GUM), and trials through the
traced model itself (Monte Carlo). Where the answer is linear in the readings they agree but for the count of trials.
"""

from __future__ import annotations

from dataclasses import dataclass

from ..model.survey import Limit, Task
from ..vectors import Floats
from .quantities.definition import Kind, Unreached

__all__ = ["Predicted", "PredictedComponent", "StationUncertainty"]


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
