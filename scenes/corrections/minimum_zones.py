"""Minimum zones of many sets of deviations over the same stations, whatever costs nothing: tilts, or height alone."""

from __future__ import annotations

import numpy as np

from ..reductions.form_of_trials import form_of_trials, zone_deviations_of_trials
from ..reductions.reference import Reference
from ..vectors import Floats

__all__ = ["zone_deviations", "zone_widths"]


def zone_widths(basis: Floats, deviations: Floats) -> Floats:
    """Widths ``(k,)`` of the minimum zones of sets of deviations, metres.

    Tilts are taken out first, so that the orthogonal width that the reductions give is the one along z.

    Parameters
    ----------
    basis : (n, p) float
        Values at the stations of what costs nothing: 1, x, y for flatness; 1, x for straightness; 1 for level.
    deviations : (k, n) float
        One set of deviations per row, metres.
    """
    level = _without_tilts(basis, deviations)
    if basis.shape[1] == 1:
        return np.asarray(np.ptp(level, axis=0))
    return form_of_trials(basis[:, 1:], level, Reference.MINIMUM_ZONE, None)


def zone_deviations(basis: Floats, deviations: Floats) -> Floats:
    """Deviations ``(k, n)`` from the middle of each minimum zone, metres; arguments as for ``zone_widths``."""
    level = _without_tilts(basis, deviations)
    if basis.shape[1] == 1:
        return np.asarray(level - (level.max(axis=0) + level.min(axis=0)) / 2.0).T
    return zone_deviations_of_trials(basis[:, 1:], level).T


def _without_tilts(basis: Floats, deviations: Floats) -> Floats:
    """Deviations less their least-squares plane, line or mean, one column per set."""
    q, _ = np.linalg.qr(basis)
    return np.asarray(deviations.T - q @ (q.T @ deviations.T))
