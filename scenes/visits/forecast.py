"""Forecast: what a visit is expected to find, as a partner of a comparison."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..reductions.quantities.measured import Measured
from ..vectors import Floats

__all__ = ["Forecast"]


@dataclass(frozen=True, slots=True, eq=False)
class Forecast:
    """Deviations that are expected at a visit; k entries of one station and one direction each.

    Attributes
    ----------
    visit : str
        What it is called, such as ``predicted``.
    of : str
        Name of the component that they belong to; empty where there is one only.
    stations, components : tuple of str
        As in the deviations of the task.
    values : (k,) float
        Expected deviations, metres or rad; a common line or plane does not matter where the task does not see it.
    covariance : (k, k) float
        Of the expected deviations; where they follow from ``found``, of what was added to those alone.
    found : Measured, optional
        The visit from whose deviations they follow: its errors are shared with the later visit as far as they persist.
    """

    visit: str
    of: str
    stations: tuple[str, ...]
    components: tuple[str, ...]
    values: Floats
    covariance: Floats
    found: Measured | None = None

    def __post_init__(self) -> None:
        """Copy and freeze the arrays."""
        k = len(self.stations)
        if len(self.components) != k:
            raise ValueError("components must have one entry per station")
        for name, shape in (("values", (k,)), ("covariance", (k, k))):
            array = np.array(getattr(self, name), dtype=np.float64)
            if array.shape != shape or not np.isfinite(array).all():
                raise ValueError(f"{name} must be finite and of shape {shape}")
            array.setflags(write=False)
            object.__setattr__(self, name, array)
