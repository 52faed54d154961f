"""Places of stations: the columns of a plane, and whether they stand on one line."""

from __future__ import annotations

import numpy as np

from ..vectors import Floats

__all__ = ["centred_design", "thin_share"]


def centred_design(places: Floats) -> Floats:
    """Columns ``1, x, y`` for stations ``places`` (n, 2), with x and y centred and scaled to about one."""
    off = places - places.mean(axis=0)
    size = np.abs(off).max() or 1.0
    return np.column_stack([np.ones(len(places)), off / size])


def thin_share(places: Floats) -> float:
    """Spread of ``places`` (n, 2) across their best line, as a share of that along it; 0 for points on one line."""
    values = np.linalg.svd(places - places.mean(axis=0), compute_uv=False)
    return float(values[-1] / values[0]) if len(places) > 2 and values[0] > 0.0 else 0.0
