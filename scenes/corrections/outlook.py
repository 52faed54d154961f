"""Deviations about their zone, and how sure the predicted ones are."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from ..reductions.minimum_zone import minimum_zone
from ..vectors import Floats, frozen
from .minimum_zones import zone_deviations

__all__ = ["about_zone", "uncertainty_after"]

TRIALS = 2000


def about_zone(stations: Floats, basis: Floats, deviations: Floats) -> Floats:
    """Deviations from the middle of their zone: orthogonal to it for flatness, vertical for a line or level."""
    if basis.shape[1] == 3:
        zone = minimum_zone(np.column_stack([stations, deviations]))
        return np.asarray(zone.deviations if zone.normal[2] > 0.0 else -zone.deviations, dtype=np.float64)
    return np.asarray(zone_deviations(basis, deviations[None])[0])


def uncertainty_after(
    basis: Floats, after: Floats, covariance: ArrayLike | None, generator: np.random.Generator
) -> tuple[Floats | None, float | None, tuple[float, float] | None]:
    """Standard uncertainties of the predicted deviations and of their zone, and an interval, by random draws.

    The lifts are decided and carry no uncertainty of their own. At the best lifts many stations touch the zone at
    once; the width is then not smooth, and draws tell what a derivative cannot.
    """
    if covariance is None:
        return None, None, None
    matrix = frozen(covariance, (len(after), len(after)))
    values, axes = np.linalg.eigh((matrix + matrix.T) / 2.0)
    if values.min() < -1e-9 * max(values.max(), 0.0):
        raise ValueError("the covariance has a negative variance in some direction, so it is not one")
    noise = generator.standard_normal((TRIALS, len(after))) * np.sqrt(np.maximum(values, 0.0))
    rest = zone_deviations(basis, after + noise @ axes.T)
    widths = np.ptp(rest, axis=1)
    low, high = np.quantile(widths, [0.025, 0.975])
    return frozen(rest.std(axis=0)), float(widths.std()), (float(low), float(high))
