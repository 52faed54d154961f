"""Flatness of a surface from an estimate of its heights: value, uncertainty, interval and verdict."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ..errors import GeometryError
from ..uncertainty.propagate import budget_of
from ..vectors import Floats, Indices
from .estimate import Estimate
from .form import FormResult, Reference, flatness, leverages
from .noise import NORMAL_95, noise_of_value
from .reference_gain import deviation_gain
from .verdict import Verdict, Word, decide

__all__ = ["TRIALS", "FlatnessResult", "evaluate_flatness"]

TRIALS = 20_000
"""Monte Carlo trials: the ends of a 95 % interval are then good to about 2 % of the standard uncertainty."""


@dataclass(frozen=True, slots=True, eq=False)
class FlatnessResult:
    """Flatness of one surface on one visit against one reference; lengths in metres.

    Attributes
    ----------
    estimate : Estimate
    form : FormResult
        Value, deviations, contacts.
    station_u : (n,) float
        Standard uncertainties of the deviations from the reference.
    leverage : (n,) float
        Pull of each station on a least-squares plane; they sum to 3.
    noise_bias : float
        By how much errors of the readings are likely to have raised the value; it is stated, not taken off.
    linear_u : float
        Standard uncertainty of the value by propagation through the contacts alone.
    standard_uncertainty : float
        That of the value: the longer side of the interval, divided by 1.96, so that U reaches the whole interval
        although the bias is not taken off.
    interval : (low, high)
        95 % interval of the true value.
    coverage_factor, expanded_uncertainty : float
    budget : tuple of (source, contribution)
        Through the contacts, the largest first.
    verdict : Verdict
    trials : int
    """

    estimate: Estimate
    form: FormResult
    station_u: Floats
    leverage: Floats
    noise_bias: float
    linear_u: float
    standard_uncertainty: float
    interval: tuple[float, float]
    coverage_factor: float
    expanded_uncertainty: float
    budget: tuple[tuple[str, float], ...]
    verdict: Verdict
    trials: int


def evaluate_flatness(
    estimate: Estimate,
    rng: np.random.Generator,
    reference: Reference | None = None,
    datum: tuple[str, ...] | None = None,
    trials: int = TRIALS,
) -> FlatnessResult:
    """Flatness of an estimated surface, its uncertainty and its verdict against the limit of the task.

    Parameters
    ----------
    reference : Reference, optional
        Another one than the task names.
    datum : tuple of str, optional
        Stations of a three-point reference; those of the task, else the widest triangle.

    Raises
    ------
    GeometryError
        Where a datum station was not read or the geometry is degenerate.
    """
    task = estimate.task
    kind = Reference(task.reference) if reference is None else reference
    names = task.datum if datum is None else datum
    chosen = _datum_numbers(estimate, names) if kind is Reference.THREE_POINTS and names else None
    form = flatness(estimate.points, kind, datum=chosen)
    if chosen is None and kind is Reference.THREE_POINTS:
        chosen = np.asarray(form.datum, dtype=np.int64)
    gain = deviation_gain(estimate.points[:, :2], form)
    value_spread = estimate.spread.through(form.gradient[None, :])
    linear = float(value_spread.standard_uncertainty()[0])
    noise = noise_of_value(form.value, estimate.points, estimate.spread.covariance(), kind, chosen, rng, trials)
    u = max(form.value - noise.low, noise.high - form.value) / NORMAL_95
    return FlatnessResult(
        estimate=estimate,
        form=form,
        station_u=estimate.spread.through(gain).standard_uncertainty(),
        leverage=leverages(estimate.points[:, :2]),
        noise_bias=noise.bias,
        linear_u=linear,
        standard_uncertainty=u,
        interval=(noise.low, noise.high),
        coverage_factor=task.coverage_factor,
        expanded_uncertainty=task.coverage_factor * u,
        budget=budget_of(value_spread),
        verdict=_judged(estimate, decide(form.value, u, task.limit, task.rule)),
        trials=trials,
    )


def _judged(estimate: Estimate, verdict: Verdict) -> Verdict:
    """The verdict, held back where stations of the task were not read: they can only make the surface worse."""
    if not estimate.missing or verdict.word is not Word.CONFORMS:
        return verdict
    count, asked = len(estimate.missing), len(estimate.task.stations)
    reason = f"{count} of {asked} stations were not read, and the surface may be worse there"
    return replace(verdict, word=Word.NOT_PROVEN, reason=reason)


def _datum_numbers(estimate: Estimate, names: tuple[str, ...]) -> Indices:
    absent = [name for name in names if name not in estimate.stations]
    if absent:
        raise GeometryError(
            f"task {estimate.task.name}, {estimate.visit}: datum station {', '.join(absent)} was not read, so the "
            "three-point reference does not exist; read it or take another reference"
        )
    return np.array([estimate.stations.index(name) for name in names], dtype=np.int64)
