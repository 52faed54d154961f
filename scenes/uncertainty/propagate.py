"""Propagation of named sources through a linear map: J S J^T, kept apart by source so that shared errors cancel.

Source: JCGM 100:2008 (GUM), clause 5.2, in the matrix form of JCGM 102:2011, clause 6.2.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ..vectors import Floats, Indices
from .sources import Source

__all__ = ["NEGLIGIBLE", "Effect", "Spread", "budget_of", "effects_of", "reading_covariance", "spread_of"]


@dataclass(frozen=True, slots=True, eq=False)
class Effect:
    """What one source does to the readings: row i moves by ``size[i]`` times the standard draw of its ``group[i]``."""

    name: str
    size: Floats
    group: Indices
    groups: int
    origin: str

    @property
    def apart(self) -> bool:
        """True where every row has a draw of its own."""
        return self.groups == len(self.group)


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
        squared = self.gain**2
        for effect in self.effects:
            if effect.apart:
                parts[effect.name] = squared @ effect.size**2
            else:
                columns = _columns(self.gain, effect)
                parts[effect.name] = np.einsum("ij,ij->i", columns, columns)
        for name, columns in self.others.items():
            parts[name] = parts.get(name, np.zeros(len(columns))) + np.einsum("ij,ij->i", columns, columns)
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

    def through(self, jacobian: Floats) -> Spread:
        """Spread of ``jacobian @ results``; ``jacobian`` is (p, n)."""
        others = {name: jacobian @ columns for name, columns in self.others.items()}
        return replace(self, gain=jacobian @ self.gain, others=others)


def _columns(gain: Floats, effect: Effect) -> Floats:
    """Change ``(n, groups)`` of the results with each standard draw of an effect."""
    order = np.argsort(effect.group, kind="stable")
    starts = np.searchsorted(effect.group[order], np.arange(effect.groups))
    result: Floats = np.add.reduceat((gain * effect.size)[:, order], starts, axis=1)
    return result


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
        Effect(source.name, slopes[source.field] * source.u, source.group, int(source.group.max()) + 1, source.origin)
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


def budget_of(spread: Spread, row: int = 0) -> tuple[tuple[str, float], ...]:
    """Contribution of every source to the standard uncertainty of one result, the largest first, rounding left out."""
    parts = [(name, float(np.sqrt(part[row]))) for name, part in spread.variances().items()]
    return tuple(sorted((part for part in parts if part[1] > NEGLIGIBLE), key=lambda part: -part[1]))
