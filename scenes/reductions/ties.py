"""Ties: whether common stations hold the planes of several set-ups together."""

from __future__ import annotations

import numpy as np

from ..errors import GeometryError
from ..tracing.rows import Rows
from ..vectors import Floats

__all__ = ["centred_design", "check_ties", "thin_share"]

THIN = 1e-6
"""Stations lie on one line where their spread across it is below this share of the spread along it."""


def centred_design(places: Floats) -> Floats:
    """Columns ``1, x, y`` for stations ``places`` (n, 2), with x and y centred and scaled to about one."""
    off = places - places.mean(axis=0)
    size = np.abs(off).max() or 1.0
    return np.column_stack([np.ones(len(places)), off / size])


def thin_share(places: Floats) -> float:
    """Spread of ``places`` (n, 2) across their best line, as a share of that along it; 0 for points on one line."""
    values = np.linalg.svd(places - places.mean(axis=0), compute_uv=False)
    return float(values[-1] / values[0]) if len(places) > 2 and values[0] > 0.0 else 0.0


def check_ties(rows: Rows, places: Floats) -> None:
    """Return where one plane per set-up can be solved for, up to one common plane.

    Parameters
    ----------
    rows : Rows
    places : (n, 2) float
        Stations in the plane of the surface, metres.

    Raises
    ------
    GeometryError
        Fewer than four stations, all on one line, or set-ups without three common stations off one line.
    """
    n, setups = len(rows.stations), len(rows.setups)
    if n < 4:
        raise GeometryError(f"{n} stations were read; three always lie in one plane, so flatness needs at least four")
    if thin_share(places) < THIN:
        raise GeometryError("all stations lie on one line, so they say nothing about a plane; read stations beside it")
    if setups < 2:
        return
    seen = np.zeros((setups, n), dtype=bool)
    seen[rows.setup, rows.station] = True
    design = centred_design(places)
    station, second = np.nonzero(seen.T & (np.cumsum(seen.T, axis=1) > 1))
    first = np.argmax(seen[:, station], axis=0)
    ties = np.zeros((len(station), 3 * setups))
    each = np.arange(len(station))
    for column in range(3):
        ties[each, 3 * second + column] = design[station, column]
        ties[each, 3 * first + column] = -design[station, column]
    rank = int(np.linalg.matrix_rank(ties, tol=THIN * np.sqrt(n))) if len(ties) else 0
    if rank < 3 * (setups - 1):
        raise GeometryError(
            f"the set-ups {', '.join(rows.setups)} are not tied together: their common stations leave "
            f"{3 * (setups - 1) - rank} of {3 * (setups - 1)} tilts and heights between them open; "
            "read at least three common stations, not on one line, from neighbouring set-ups"
        )
