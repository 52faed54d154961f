"""Propagation of named sources through a linear map: J S J^T, kept apart by source so that shared errors cancel.

Source: JCGM 100:2008 (GUM), clauses 5.1 and 5.2, in the matrix form of JCGM 102:2011, clause 6.2; degrees of freedom
by its annex G.4.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from ..vectors import Floats, Indices
from .degrees import coverage_factor, effective_dof
from .distributions import NORMAL, Distribution, Shape, student

if TYPE_CHECKING:
    from .sources import Source  # a formula is propagated without any light

__all__ = [
    "NEGLIGIBLE", "Effect", "Spread", "budget_of", "drawn_errors", "effects_of", "reading_covariance", "spread_of",
]  # fmt: skip

TRIALS_AT_ONCE = 4_000
"""Trials of reading errors that are held at a time."""


@dataclass(frozen=True, slots=True, eq=False)
class Effect:
    """What one source does to the readings: row i moves by ``size[i]`` times the standard draw of its ``group[i]``.

    Attributes
    ----------
    name : str
    size : (m,) float
        Standard uncertainty of each reading from this source, with the sign of its change.
    group : (m,) int
    groups : int
        Numbers of groups run below this.
    origin : str
        Where the standard uncertainty comes from.
    dof : float
        Degrees of freedom of the standard uncertainty, estimated once for all groups together.
    distribution : Distribution
        Of the draws. A normal error whose uncertainty has finite ``dof`` is drawn from Student t.
    """

    name: str
    size: Floats
    group: Indices
    groups: int
    origin: str
    dof: float = float("inf")
    distribution: Distribution = NORMAL

    @property
    def apart(self) -> bool:
        """True where every row has a draw of its own."""
        return len(np.unique(self.group)) == len(self.group)

    @property
    def drawn(self) -> Distribution:
        """Distribution that trials draw from.

        Source: JCGM 101:2008, 6.4.9.
        """
        known = self.distribution.shape not in (Shape.NORMAL, Shape.STUDENT)
        return self.distribution if known else student(self.freedom)

    @property
    def freedom(self) -> float:
        """Degrees of freedom, also where the distribution alone states them."""
        return min(self.dof, self.distribution.dof)


@dataclass(frozen=True, slots=True, eq=False)
class Spread:
    """Errors of n results that depend on m readings, by source.

    Attributes
    ----------
    gain : (n, m) float
        Change of the results with the readings.
    effects : tuple of Effect
    others : mapping of name to (n, k) float
        Further independent errors of the results, one per column.
    """

    gain: Floats
    effects: tuple[Effect, ...]
    others: dict[str, Floats]

    @property
    def names(self) -> tuple[str, ...]:
        """Names of all sources."""
        return (*(effect.name for effect in self.effects), *self.others)

    def variances(self) -> dict[str, Floats]:
        """Variance of each result from each source, ``{name: (n,)}``."""
        parts: dict[str, Floats] = {}
        for effect, part in zip(self.effects, self._effect_variances(), strict=True):
            parts[effect.name] = parts.get(effect.name, 0.0) + part
        for name, columns in self.others.items():
            parts[name] = parts.get(name, 0.0) + np.einsum("ij,ij->i", columns, columns)
        return parts

    def _effect_variances(self) -> list[Floats]:
        """Variance ``(n,)`` of the results from each effect."""
        squared = self.gain**2
        parts: list[Floats] = []
        for effect in self.effects:
            if effect.apart:
                parts.append(squared @ effect.size**2)
            else:
                columns = _columns(self.gain, effect)
                parts.append(np.einsum("ij,ij->i", columns, columns))
        return parts

    def standard_uncertainty(self) -> Floats:
        """Standard uncertainties ``(n,)`` of the results."""
        result: Floats = np.sqrt(sum(self.variances().values(), np.zeros(len(self.gain))))
        return result

    def covariance(self) -> Floats:
        """Covariance matrix ``(n, n)`` of the results."""
        result: Floats = self.gain @ reading_covariance(self.effects, self.gain.shape[1]) @ self.gain.T
        for columns in self.others.values():
            result = result + columns @ columns.T
        return result

    def correlation(self) -> Floats:
        """Correlation matrix ``(n, n)`` of the results; 0 beside a result that has no uncertainty."""
        covariance = self.covariance()
        u = np.sqrt(np.diag(covariance))
        scale = np.divide(1.0, u, out=np.zeros(len(u)), where=u > 0.0)
        result: Floats = np.clip(covariance * np.outer(scale, scale), -1.0, 1.0)
        np.fill_diagonal(result, 1.0)
        return result

    def effective_dof(self) -> Floats:
        """Effective degrees of freedom ``(n,)`` of the standard uncertainties of the results."""
        variances = [*self._effect_variances(), *(np.sum(columns**2, axis=1) for columns in self.others.values())]
        if not variances:
            return np.full(len(self.gain), np.inf)
        dof = [effect.freedom for effect in self.effects] + [np.inf] * len(self.others)
        return effective_dof(np.array(variances), np.array(dof))

    def expanded_uncertainty(self, probability: float) -> Floats:
        """Half-widths ``(n,)`` of the intervals that hold ``probability``."""
        result: Floats = coverage_factor(probability, self.effective_dof()) * self.standard_uncertainty()
        return result

    def draw(self, rng: np.random.Generator, trials: int) -> Floats:
        """Errors ``(trials, n)`` of the results, drawn by source; ``others`` are normal."""
        result = np.empty((trials, len(self.gain)))
        for start in range(0, trials, TRIALS_AT_ONCE):
            block = result[start : start + TRIALS_AT_ONCE]
            block[:] = drawn_errors(self.effects, self.gain.shape[1], rng, len(block)) @ self.gain.T
            for columns in self.others.values():
                block += rng.standard_normal((len(block), columns.shape[1])) @ columns.T
        return result

    def through(self, jacobian: Floats) -> Spread:
        """Spread of ``jacobian @ results``; ``jacobian`` is (p, n)."""
        others = {name: jacobian @ columns for name, columns in self.others.items()}
        return replace(self, gain=jacobian @ self.gain, others=others)


def _columns(gain: Floats, effect: Effect) -> Floats:
    """Change ``(n, groups)`` of the results with each standard draw of an effect, groups without rows left out."""
    order = np.argsort(effect.group, kind="stable")
    _, starts = np.unique(effect.group[order], return_index=True)
    result: Floats = np.add.reduceat((gain * effect.size)[:, order], starts, axis=1)
    return result


def drawn_errors(effects: tuple[Effect, ...], m: int, rng: np.random.Generator, trials: int) -> Floats:
    """Errors ``(trials, m)`` of the readings, drawn by source; each reading's trials lie side by side in memory."""
    errors = np.zeros((m, trials))
    for effect in effects:
        rows = np.flatnonzero(effect.size)
        kept, number = np.unique(effect.group[rows], return_inverse=True)
        draws = effect.drawn.draw(rng, (trials, len(kept))).T
        errors[rows] += effect.size[rows, None] * draws[number]
    return errors.T


def reading_covariance(effects: tuple[Effect, ...], m: int) -> Floats:
    """Covariance matrix ``(m, m)`` of the readings, square metres."""
    covariance = np.zeros((m, m))
    diagonal = np.zeros(m)
    for effect in effects:
        if effect.apart:
            diagonal += effect.size**2
        else:
            together = effect.group[:, None] == effect.group[None, :]
            covariance += np.where(together, np.outer(effect.size, effect.size), 0.0)
    covariance[np.diag_indices(m)] += diagonal
    return covariance


def effects_of(slopes: dict[str, Floats], sources: tuple[Source, ...]) -> tuple[Effect, ...]:
    """Effects of the sources on the readings; ``slopes`` come from ``tracing.sensitivity``."""
    return tuple(
        Effect(
            name=source.name,
            size=slopes[source.field] * source.u,
            group=source.group,
            groups=int(source.group.max()) + 1,
            origin=source.origin,
            distribution=source.distribution,
        )
        for source in sources
    )


def spread_of(
    gain: Floats, slopes: dict[str, Floats], sources: tuple[Source, ...], others: dict[str, Floats] | None = None
) -> Spread:
    """Spread of results that depend on readings as ``gain @ reading_errors``.

    Parameters
    ----------
    gain : (n, m) float
        Change of the results with the readings.
    slopes : {field: (m,)}
        Change of each reading with each field of its row.
    sources : tuple of Source
    others : {name: (n, k)}, optional
        Errors of the results that do not come through readings.
    """
    return Spread(gain, effects_of(slopes, sources), dict(others or {}))


NEGLIGIBLE = 1e-12
"""Contributions below this [m, rad] are rounding."""


def budget_of(spread: Spread, row: int = 0, negligible: float = NEGLIGIBLE) -> tuple[tuple[str, float], ...]:
    """Contribution of every source to the standard uncertainty of one result, the largest first, rounding left out."""
    parts = [(name, float(np.sqrt(part[row]))) for name, part in spread.variances().items()]
    return tuple(sorted((part for part in parts if part[1] > negligible), key=lambda part: -part[1]))
