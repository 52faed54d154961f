"""The plane that a set-up sweeps with a base or a prism, and the cone of a spindle: as fans, or the whole turn."""

from __future__ import annotations

import numpy as np
import pyvista as pv
from scipy.spatial import ConvexHull

from ..shapes import Triangles
from ..tracing.geometry import SurveyGeometry
from ..tracing.spots import aimed_azimuths
from ..tracing.state import NOMINAL, RowState
from ..tracing.sweep import sweep_frame, swept_cone, swept_points
from ..vectors import Floats, Indices, dot, length
from .exaggeration import raised, sweep_axes
from .solids import mesh_of

__all__ = ["fan_of", "spindle_cone", "sweeping_setups", "swept_plane"]

AZIMUTH_STEP = np.deg2rad(3.0)
RINGS = 16
MARGIN = 0.03
"""The fan reaches this share beyond the nearest and farthest station."""

THIN = 0.01
"""Stations that spread to the side of a line through the axis less than this share of their reach have no hull."""

SIDEWAYS = 1.0e-9
CONE_SIDES = 48
LEAST_CONE = 1.0e-9
"""A cone narrower than this [m] is none."""

HUB = 0.04
"""That of a prism begins this share of its reach from the prism, so that the fan is seen to come out of it."""


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


def sweeping_setups(geometry: SurveyGeometry) -> tuple[str, ...]:
    """Set-ups whose base or prism sweeps a plane."""
    numbers = np.unique(geometry.rows.setup[sweep_axes(geometry)[1]])
    return tuple(geometry.rows.setups[number] for number in numbers)


LEAST_REACH = 0.1
"""The fan reaches this share of its farthest station everywhere: at its very axis there is the glass of a prism."""


def _flat(geometry: SurveyGeometry, rows: Indices) -> Floats:
    """Places ``(k, 2)`` of the detectors in the swept plane, from the axis of turning, along turn 0 and a quarter."""
    frame = sweep_frame(geometry)
    off = geometry.detector_centres()[rows] - frame.origin[rows]
    return np.column_stack([dot(off, frame.start[rows]), dot(off, frame.aside[rows])])


def _reach(places: Floats, azimuths: Floats) -> Floats:
    """How far ``(a,)`` the hull of ``places`` (k, 2) and the axis reaches at azimuths [rad]; the farthest if thin."""
    farthest = float(length(places).max())
    corners = np.vstack([places, np.zeros(2)])
    if len(corners) < 3 or np.linalg.svd(corners - corners.mean(axis=0), compute_uv=False)[-1] < THIN * farthest:
        return np.full(len(azimuths), farthest)
    hull = ConvexHull(corners)
    normal, offset = hull.equations[:, :2], -hull.equations[:, 2]
    outward = np.column_stack([np.cos(azimuths), np.sin(azimuths)]) @ normal.T
    with np.errstate(divide="ignore", invalid="ignore"):
        way = np.where(outward > SIDEWAYS, np.maximum(offset, 0.0) / outward, np.inf)
    result: Floats = np.minimum(way.min(axis=1), farthest)
    return result


def _radii(geometry: SurveyGeometry, rows: Indices, azimuths: Floats, full_turn: bool) -> Floats:
    """Distances ``(a, r)`` of the points from the axis of turning, metres: up to just beyond the outer stations."""
    places = _flat(geometry, rows)
    reach = length(places)
    if full_turn:
        outer = np.full(len(azimuths), reach.max())
    else:  # the fan is a little wider than the stations
        side = 0.5 * AZIMUTH_STEP
        closed = np.ptp(azimuths) > 2.0 * np.pi - 1e-6
        inside = azimuths if closed else np.clip(azimuths, azimuths[0] + side, azimuths[-1] - side)
        outer = np.maximum(_reach(places, inside), LEAST_REACH * reach.max())
    inner = (1.0 - MARGIN) * reach.min() if geometry.sweeps[rows[0]] else HUB * reach.max()
    inner = np.minimum(inner, 0.9 * outer)
    share = np.linspace(0.0, 1.0, RINGS)
    result: Floats = inner[:, None] + share * ((1.0 + MARGIN) * outer - inner)[:, None]
    return result


def swept_plane(
    geometry: SurveyGeometry,
    setup: str,
    state: RowState = NOMINAL,
    factor: float = 1.0,
    row: int | None = None,
    full_turn: bool = False,
) -> pv.PolyData:
    """Sheet that ``setup``, one of ``sweeping_setups``, sweeps with base or prism, traced as the readings are.

    Parameters
    ----------
    state : RowState
        Errors to show: cone, tilt, drift, bending.
    factor : float
        Heights out of the nominal plane are drawn this much larger than life.
    row : int, optional
        Reading whose moment is shown (drift); the first one that is swept where it is not one of these.
    full_turn : bool
        The whole turn in place of the fan that holds the stations.

    Returns
    -------
    pyvista.PolyData
        Point array ``height [um]``: true height above the nominal plane.
    """
    mine = geometry.rows.setup == geometry.rows.setups.index(setup)
    rows = np.nonzero(mine & sweep_axes(geometry)[1])[0]
    moment = row if row is not None and row in rows else int(rows[0])
    azimuths = fan_of(np.broadcast_to(aimed_azimuths(geometry, state), (len(geometry.rows),))[rows], full_turn)
    sweep = swept_points(geometry, state, moment, azimuths, _radii(geometry, rows, azimuths, full_turn))
    points = raised(sweep.points, sweep.origin, sweep.axis, factor)
    return mesh_of(_lattice(points), points={"height [um]": 1e6 * sweep.height.ravel()})


def spindle_cone(
    geometry: SurveyGeometry, setup: str, state: RowState = NOMINAL, factor: float = 1.0, row: int | None = None
) -> pv.PolyData:
    """Cone that the beam of ``setup`` sweeps while its emitter turns about its own axis: spindle or V-block.

    Parameters are those of ``swept_plane``. The cone is as thin as the errors of the state make it, so it is empty
    where the beam runs along the axis.

    Returns
    -------
    pyvista.PolyData
        Point array ``off axis [um]``: true distance from the axis of turning.
    """
    rows = np.nonzero(geometry.rows.setup == geometry.rows.setups.index(setup))[0]
    moment = int(rows[0]) if row is None else row
    axis, origin = geometry.launch_rotation[moment, :, 0], geometry.beam_origins()[moment]
    reach = (geometry.detector_centres()[rows] - origin) @ axis
    turns = np.linspace(0.0, 2.0 * np.pi, CONE_SIDES + 1)
    sweep = swept_cone(geometry, state, moment, turns, np.linspace(0.0, (1.0 + MARGIN) * reach.max(), RINGS))
    if float(sweep.height.max()) < LEAST_CONE:
        return pv.PolyData()
    along = sweep.origin + dot(sweep.points - sweep.origin, np.broadcast_to(axis, sweep.points.shape))[..., None] * axis
    points = along + factor * (sweep.points - along)
    return mesh_of(_lattice(points), points={"off axis [um]": 1e6 * sweep.height.ravel()})


def _lattice(points: Floats) -> Triangles:
    """Triangles between the points ``(a, r, 3)`` of neighbouring azimuths and rings."""
    lines, rings = points.shape[:2]
    number = np.arange(lines * rings).reshape(lines, rings)
    a, b, c, d = number[:-1, :-1], number[:-1, 1:], number[1:, 1:], number[1:, :-1]
    faces = np.concatenate([np.stack([a, b, c], axis=-1), np.stack([a, c, d], axis=-1)]).reshape(-1, 3)
    return Triangles(points.reshape(-1, 3), faces)
