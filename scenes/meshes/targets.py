"""Posts, targets with their detector windows, and the spots on them.

Generic shapes: the height of a post, the place of the detector, the size of its window and the place and size of the
spot are those of the layout and of the traced beams.
"""

from __future__ import annotations

import numpy as np
import pyvista as pv

from ..model.layout import Layout
from ..shapes import box, ring
from ..tracing.geometry import SurveyGeometry
from ..tracing.sight import Sight, SightLines
from ..tracing.spots import Spots
from ..vectors import Floats, Indices
from .exaggeration import raised
from .scene_parts import Part, Role
from .solids import copies, disc, joined, mesh_of, rotations_along, sides_within

__all__ = ["first_rows", "post_mesh", "spot_mesh", "target_mesh", "target_parts", "window_mesh"]

CELLS = 40_000
POST_RADIUS = 0.008
FOOT_RADIUS = 0.024
FOOT_HEIGHT = 0.008
RIM = 0.012
"""Body of a target around its window, metres."""

DEPTH = 0.024
SOLE = 0.006
PROUD = 4.0e-4
"""Windows stand this far [m] before the face of the body, and spots as far before the window, so that both show."""


def first_rows(geometry: SurveyGeometry) -> Indices:
    """Rows in which a station is read for the first time: one for each station."""
    return np.unique(geometry.rows.station, return_index=True)[1]


def _facing_frames(geometry: SurveyGeometry, rows: Indices) -> Floats:
    """Rotations ``(k, 3, 3)``: x to the right as the emitter sees it, y up along the mount, z toward the emitter."""
    axes = [geometry.axis_h[rows], geometry.axis_v[rows], geometry.facing[rows]]
    return np.stack(axes, axis=-1)


def post_mesh(layout: Layout, geometry: SurveyGeometry, rows: Indices) -> pv.PolyData:
    """Posts from the surface to the foot of each target, with a foot plate; cell array ``station``."""
    heights = np.array([layout.stations[geometry.rows.stations[i]].mount.height for i in geometry.rows.station[rows]])
    heights = heights + geometry.rows.mount_offset[rows]
    standing = np.nonzero(heights > 0.0)[0]
    rows, heights = rows[standing], heights[standing]
    rotation = rotations_along(geometry.normal[rows], geometry.axis_h[rows])
    sides = sides_within(CELLS, len(rows), 8, most=16)
    plate = np.minimum(FOOT_HEIGHT, 0.2 * heights)
    shaft = copies(
        ring(POST_RADIUS, 0.0, 0.0, 1.0, sides), rotation, geometry.foot[rows],
        np.column_stack([np.ones((len(rows), 2)), heights]),
    )  # fmt: skip
    foot = copies(
        ring(FOOT_RADIUS, 0.0, 0.0, 1.0, sides), rotation, geometry.foot[rows],
        np.column_stack([np.ones((len(rows), 2)), plate]),
    )  # fmt: skip
    solid, owner = joined([shaft, foot])
    return mesh_of(solid, {"station": geometry.rows.station[rows][owner]})


def target_mesh(layout: Layout, geometry: SurveyGeometry, rows: Indices) -> pv.PolyData:
    """Bodies of the targets on their soles, their faces in the plane of the detector; cell array ``station``."""
    names = [geometry.rows.stations[i] for i in geometry.rows.station[rows]]
    below = np.array([layout.targets[layout.stations[name].target].centre_height for name in names])
    wide = geometry.window[rows, 0] + 2.0 * RIM
    above = 0.5 * geometry.window[rows, 1] + RIM
    tall = above + np.maximum(below, 0.0)
    centre = geometry.detector_centres()[rows] + (0.5 * (above - below))[:, None] * geometry.axis_v[rows]
    frames, ones = _facing_frames(geometry, rows), np.ones(len(rows))
    body = copies(box(1.0, 1.0, -DEPTH, 0.0), frames, centre, np.column_stack([wide, tall, ones]))
    sole = geometry.detector_centres()[rows] - (below - 0.5 * SOLE)[:, None] * geometry.axis_v[rows]
    seat = copies(box(1.0, SOLE, -DEPTH, POST_RADIUS + RIM), frames, sole, np.column_stack([wide, ones, ones]))
    solid, owner = joined([body, seat])
    return mesh_of(solid, {"station": geometry.rows.station[rows][owner]})


def window_mesh(geometry: SurveyGeometry, rows: Indices) -> pv.PolyData:
    """Sensitive areas of the detectors in their true size; cell array ``station``."""
    pane = box(1.0, 1.0, 0.0, PROUD)
    scale = np.column_stack([geometry.window[rows], np.ones(len(rows))])
    solid, owner = copies(pane, _facing_frames(geometry, rows), geometry.detector_centres()[rows], scale)
    return mesh_of(solid, {"station": geometry.rows.station[rows][owner]})


def spot_mesh(geometry: SurveyGeometry, seen: Spots, rows: Indices, factor: float = 1.0) -> pv.PolyData:
    """Spots on the detectors in their true size, at the readings h and v; cell arrays ``station`` and ``row``.

    ``factor`` draws them that much farther out of the nominal plane, like the beams; a spot may then leave its window.
    """
    rows = rows[np.isfinite(seen.v[rows])]
    sides = sides_within(CELLS, len(rows), 1, most=24)
    place = (
        geometry.detector_centres()[rows]
        + seen.h[rows, None] * geometry.axis_h[rows]
        + seen.v[rows, None] * geometry.axis_v[rows]
    )
    centre = raised(place, geometry.beam_origins()[rows], geometry.launch_rotation[rows, :, 2], factor)
    scale = np.column_stack([seen.radius[rows], seen.radius[rows], np.ones(len(rows))])
    solid, owner = copies(disc(1.0, 2.0 * PROUD, sides), _facing_frames(geometry, rows), centre, scale)
    return mesh_of(solid, {"station": geometry.rows.station[rows][owner], "row": rows[owner]})


def target_parts(
    layout: Layout, geometry: SurveyGeometry, seen: Spots, sight: SightLines, rows: Indices, factor: float = 1.0
) -> tuple[Part, ...]:
    """Posts, targets, windows and spots of ``rows``, one part each; no spot where the beam is blocked."""
    lit = rows[sight.sight[rows] != Sight.BLOCKED]
    return (
        Part("posts", post_mesh(layout, geometry, rows), Role.POST),
        Part("targets", target_mesh(layout, geometry, rows), Role.TARGET),
        Part("windows", window_mesh(geometry, rows), Role.WINDOW),
        Part("spots", spot_mesh(geometry, seen, lit, factor), Role.SPOT),
    )
