"""The plane that a set-up sweeps: a fan from its nearest to its farthest station, or the whole turn."""

from __future__ import annotations

import numpy as np
import pyvista as pv

from ..shapes import Triangles
from ..tracing.geometry import SurveyGeometry
from ..tracing.spots import aimed_azimuths
from ..tracing.state import NOMINAL, RowState
from ..tracing.sweep import swept_points
from ..vectors import Floats, Indices, dot, length
from .exaggeration import raised
from .solids import mesh_of

__all__ = ["fan_of", "swept_plane"]

AZIMUTH_STEP = np.deg2rad(3.0)
RINGS = 16
MARGIN = 0.03
"""The fan reaches this share beyond the nearest and farthest station."""


def fan_of(azimuths: Floats, full_turn: bool = False) -> Floats:
    """Azimuths [rad] from one end to the other of the smallest fan that holds ``azimuths``, 3 deg apart or closer.

    A whole turn ends where it begins.
    """
    turned = np.sort(np.mod(azimuths, 2.0 * np.pi))
    gaps = np.diff(np.append(turned, turned[0] + 2.0 * np.pi))
    widest = int(np.argmax(gaps))
    start = float(turned[(widest + 1) % len(turned)])
    span = 2.0 * np.pi - float(gaps[widest])
    if full_turn or span > 2.0 * np.pi - 2.0 * AZIMUTH_STEP:
        return start + np.linspace(0.0, 2.0 * np.pi, int(np.ceil(2.0 * np.pi / AZIMUTH_STEP)) + 1)
    side = 0.5 * AZIMUTH_STEP
    return start + np.linspace(-side, span + side, int(np.ceil((span + 2.0 * side) / AZIMUTH_STEP)) + 1)


def _radii(geometry: SurveyGeometry, rows: Indices) -> Floats:
    """Distances of the rings from the axis of turning, metres."""
    axis = geometry.launch_rotation[rows[0], :, 2]
    off = geometry.detector_centres()[rows] - geometry.launch_origin[rows]
    reach = length(off - dot(off, np.broadcast_to(axis, off.shape))[:, None] * axis)
    return np.linspace((1.0 - MARGIN) * reach.min(), (1.0 + MARGIN) * reach.max(), RINGS)


def swept_plane(
    geometry: SurveyGeometry,
    setup: str,
    state: RowState = NOMINAL,
    factor: float = 1.0,
    row: int | None = None,
    full_turn: bool = False,
) -> pv.PolyData:
    """Sheet that the beam of ``setup`` sweeps, traced with the model of the readings.

    Parameters
    ----------
    state : RowState
        Errors to show: cone, tilt, drift, bending.
    factor : float
        Heights out of the nominal plane are drawn this much larger than life.
    row : int, optional
        Reading whose moment is shown (drift); the first of the set-up where not given.
    full_turn : bool
        The whole turn in place of the fan that holds the stations.

    Returns
    -------
    pyvista.PolyData
        Point array ``height [um]``: true height above the nominal plane.
    """
    rows = np.nonzero(geometry.rows.setup == geometry.rows.setups.index(setup))[0]
    moment = int(rows[0]) if row is None else row
    azimuths = fan_of(np.broadcast_to(aimed_azimuths(geometry, state), (len(geometry.rows),))[rows], full_turn)
    sweep = swept_points(geometry, state, moment, azimuths, _radii(geometry, rows))
    points = raised(sweep.points, sweep.origin, sweep.axis, factor)
    return mesh_of(_lattice(points), points={"height [um]": 1e6 * sweep.height.ravel()})


def _lattice(points: Floats) -> Triangles:
    """Triangles between the points ``(a, r, 3)`` of neighbouring azimuths and rings."""
    lines, rings = points.shape[:2]
    number = np.arange(lines * rings).reshape(lines, rings)
    a, b, c, d = number[:-1, :-1], number[:-1, 1:], number[1:, 1:], number[1:, :-1]
    faces = np.concatenate([np.stack([a, b, c], axis=-1), np.stack([a, c, d], axis=-1)]).reshape(-1, 3)
    return Triangles(points.reshape(-1, 3), faces)
