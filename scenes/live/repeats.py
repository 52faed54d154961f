"""Repeats of one spot: how they scatter and drift, what the budget lets expect, and which one does not agree."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from ..reductions.consistency import UNLIKELY
from ..uncertainty.propagate import Effect
from ..vectors import Floats, Indices

__all__ = ["TEST", "Budget", "Slope", "budget_of_effects", "disagreeing", "expected_scatter", "scatter", "slope"]

TEST = (
    "difference of a reading from the mean of the earlier ones that agree, in standard uncertainties of that "
    "difference by the budget; normal, two-sided, one in a thousand"
)
"""The test by which a reading is said not to agree with its earlier ones."""


@dataclass(frozen=True, slots=True, eq=False)
class Budget:
    """Errors of m readings of one channel from e sources.

    Attributes
    ----------
    name : tuple of str
    size : (e, m) float
        Standard uncertainty of each reading from each source, with the sign of its change.
    group : (e, m) int
        Readings with the same number share one draw of the source.
    """

    name: tuple[str, ...]
    size: Floats
    group: Indices

    def variances(self, gain: Floats, rows: Indices) -> Floats:
        """Variance ``(e,)`` of the combination ``gain @ readings[rows]`` from each source."""
        group = self.group[:, rows]
        most = int(group.max(initial=0)) + 1
        flat = (group + most * np.arange(len(group))[:, None]).ravel()
        sums = np.bincount(flat, (gain * self.size[:, rows]).ravel(), most * len(group)).reshape(len(group), most)
        result: Floats = np.einsum("eg,eg->e", sums, sums)
        return result

    def standard_uncertainty(self, gain: Floats, rows: Indices, without: str = "") -> float:
        """Standard uncertainty of the combination ``gain @ readings[rows]``; one source may be left out."""
        kept = np.array([name != without for name in self.name], dtype=bool)
        return math.sqrt(float(self.variances(gain, rows)[kept].sum()))


def budget_of_effects(effects: Sequence[Effect], m: int) -> Budget:
    """Budget of m readings."""
    return Budget(
        tuple(effect.name for effect in effects),
        np.array([effect.size for effect in effects]).reshape(-1, m),
        np.array([effect.group for effect in effects], dtype=np.int64).reshape(-1, m),
    )


Expected = tuple[float, tuple[tuple[str, float], ...]]
"""Standard deviation, and its parts by source, the largest first."""


def scatter(values: Floats) -> float:
    """Standard deviation of repeats; nan for fewer than two."""
    return float(np.std(values, ddof=1)) if len(values) > 1 else math.nan


@lru_cache(maxsize=8)
def _of_singles(budget: Budget) -> tuple[Expected, ...]:
    """What `expected_scatter` tells of every reading by itself: most spots of a large survey are read once."""
    apart = [len(np.unique(group)) == len(group) for group in budget.group]
    names = list(dict.fromkeys(budget.name))
    variance = np.zeros((len(names), budget.size.shape[1]))
    for name, own, size in zip(budget.name, apart, budget.size, strict=True):
        variance[names.index(name)] += size**2 if own else 0.0
    order = np.argsort(-variance, axis=0, kind="stable")
    u, whole = np.sqrt(np.take_along_axis(variance, order, axis=0)).T.tolist(), np.sqrt(variance.sum(axis=0)).tolist()
    return tuple(
        (every, tuple((names[k], part) for k, part in zip(which, parts, strict=True) if part > 0.0))
        for every, which, parts in zip(whole, order.T.tolist(), u, strict=True)
    )


def expected_scatter(budget: Budget, rows: Indices) -> Expected:
    """Standard deviation that the budget lets expect of some repeats, and its parts by source, the largest first.

    What all of them share cancels. A single reading stands for two that differ only in what each reading draws anew.

    Source: expectation of a sample variance, (trace C - sum C / n) / (n - 1), for readings of covariance C.
    """
    n = len(rows)
    if n == 1:
        return _of_singles(budget)[int(rows[0])]
    own = np.sum(budget.size[:, rows] ** 2, axis=1)
    variance = (own - budget.variances(np.ones(n), rows) / n) / (n - 1)
    by_name: dict[str, float] = {}
    for name, part in zip(budget.name, variance.tolist(), strict=True):
        by_name[name] = by_name.get(name, 0.0) + max(part, 0.0)
    named = sorted(((name, math.sqrt(part)) for name, part in by_name.items() if part > 0.0), key=lambda each: -each[1])
    return math.sqrt(sum(by_name.values())), tuple(named)


def disagreeing(values: Floats, budget: Budget, rows: Indices) -> list[tuple[int, float, float]]:
    """Which of some repeats do not agree with the earlier ones: number, difference, and its standard uncertainty."""
    if len(values) < 2:
        return []
    size, group = budget.size[:, rows], _numbered(budget.group[:, rows])
    each, sums = np.arange(len(size)), np.zeros((len(size), int(group.max(initial=0)) + 1))
    sums[each, group[:, 0]] = size[:, 0]  # of the readings that agree, source by source and draw by draw
    square, total, good, found = size[:, 0] ** 2, float(values[0]), 1, []
    for k in range(1, len(values)):
        mine, own = sums[each, group[:, k]], size[:, k]
        u = math.sqrt(max(float(np.sum(square / good**2 - 2.0 * mine * own / good + own**2)), 0.0))
        difference = float(values[k]) - total / good
        if abs(difference) > max(UNLIKELY * u, ROUNDING):
            found.append((k, difference, u))
            continue
        square = square + 2.0 * mine * own + own**2
        sums[each, group[:, k]] += own
        total, good = total + float(values[k]), good + 1
    return found


def _numbered(group: Indices) -> Indices:
    """Groups of each source counted from 0 without gaps."""
    return np.stack([np.unique(each, return_inverse=True)[1] for each in group]) if len(group) else group


ROUNDING = 1e-12
"""Differences below this [m, rad] are rounding."""


@dataclass(frozen=True, slots=True)
class Slope:
    """Change of readings with time, per second.

    Attributes
    ----------
    value : float
    u : float
        Standard uncertainty by the budget without the drift of the emitter, which is what is looked for.
    u_seen : float
        Standard uncertainty from what the readings scatter about the slope; nan without ``dof``.
    dof : int
        Readings beyond those that spots and slope need.
    """

    value: float
    u: float
    u_seen: float
    dof: int


DRIFT = "drift of the emitter"


def slope(values: Floats, time: Floats, spot: Indices, budget: Budget, rows: Indices) -> Slope | None:
    """Common slope of readings over time; None where no spot was read at two times.

    Parameters
    ----------
    values, time : (n,) float
    spot : (n,) int
        Readings with the same number are of one spot, each of which has a level of its own.
    rows : (n,) int
        Their numbers in ``budget``.

    Source: analysis of covariance, one slope within groups.
    """
    ok = np.isfinite(values) & np.isfinite(time)
    values, time, spot, rows = values[ok], time[ok], spot[ok], rows[ok]
    if len(values) < 2:
        return None
    _, group, count = np.unique(spot, return_inverse=True, return_counts=True)
    past = time - (np.bincount(group, time) / count)[group]
    over = values - (np.bincount(group, values) / count)[group]
    square = float(past @ past)
    if square <= 1e-6:  # a thousandth of a second
        return None
    gain = past / square
    value = float(gain @ over)
    u = budget.standard_uncertainty(gain, rows, DRIFT)
    dof = len(values) - len(count) - 1
    left = over - value * past
    seen = math.sqrt(float(left @ left) / dof / square) if dof > 0 else math.nan
    return Slope(value, u, seen, max(dof, 0))
