"""Propagation of named sources through a linear map: J S J^T, kept apart by source so that shared errors cancel.

Source: JCGM 100:2008 (GUM), clause 5.2, in the matrix form of JCGM 102:2011, clause 6.2.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..vectors import Floats
from .sources import Source

__all__ = ["Spread", "budget_of", "spread_of"]


@dataclass(frozen=True, slots=True, eq=False)
class Spread:
    """Errors of n results as columns, one per independent error of standard size one.

    Attributes
    ----------
    sources : tuple of str
        Names; ``columns[name]`` is (n, k) for the k independent errors of that source.
    origins : mapping of str to str
        Where each source's size comes from.
    """

    columns: dict[str, Floats]
    origins: dict[str, str]

    def matrix(self) -> Floats:
        """All columns side by side, ``(n, K)``."""
        return np.hstack(list(self.columns.values()))

    def covariance(self) -> Floats:
        """Covariance matrix ``(n, n)`` of the results."""
        matrix = self.matrix()
        result: Floats = matrix @ matrix.T
        return result

    def standard_uncertainty(self) -> Floats:
        """Standard uncertainties ``(n,)`` of the results."""
        squares = [np.einsum("ij,ij->i", part, part) for part in self.columns.values()]
        result: Floats = np.sqrt(np.sum(squares, axis=0))
        return result

    def through(self, jacobian: Floats) -> Spread:
        """Spread of ``jacobian @ results``; ``jacobian`` is (p, n)."""
        return Spread({name: jacobian @ part for name, part in self.columns.items()}, self.origins)


def spread_of(gain: Floats, slopes: dict[str, Floats], sources: tuple[Source, ...]) -> Spread:
    """Spread of results that depend on readings as ``gain @ reading_errors``.

    Parameters
    ----------
    gain : (n, m) float
        Change of the results with the readings.
    slopes : {field: (m,)}
        Change of each reading with each field of its row, from ``tracing.sensitivity``.
    sources : tuple of Source

    Returns
    -------
    Spread
    """
    columns: dict[str, Floats] = {}
    origins: dict[str, str] = {}
    for source in sources:
        groups = int(source.group.max()) + 1
        shared = np.zeros((len(source.group), groups))
        shared[np.arange(len(source.group)), source.group] = slopes[source.field] * source.u
        columns[source.name] = gain @ shared
        origins[source.name] = source.origin
    return Spread(columns, origins)


def budget_of(spread: Spread, row: int = 0) -> tuple[tuple[str, float], ...]:
    """Contribution of every source to the standard uncertainty of one result, the largest first."""
    parts = [(name, float(np.linalg.norm(columns[row]))) for name, columns in spread.columns.items()]
    return tuple(sorted(parts, key=lambda part: -part[1]))
