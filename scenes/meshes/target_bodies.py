"""Bodies of the targets: plain, see-through, stepping on two feet, and on centring discs in a bore.

Generic shapes of our own. Sizes that the layout gives are true: window, glass, step, height of the centre, bore.
"""

from __future__ import annotations

import numpy as np

from ..model.layout import Layout
from ..model.machine import Bore
from ..shapes import Triangles, box, ring
from ..tracing.geometry import SurveyGeometry
from ..vectors import Flags, Floats, Indices, dot
from .collected import Collected
from .scene_parts import Role
from .solids import rotations_along, sides_within
from .target_mounts import POST_RADIUS, heights_of, step_of

__all__ = ["PROUD", "RIM", "bodies", "clock_marks", "disc_radius", "facing_frames"]

CELLS = 40_000
RIM = 0.012
"""Body of a target around its window, metres."""

DEPTH = 0.024
DEEP = 0.06
"""Depth of one that also reads angles: it needs a lens."""

SOLE = 0.006
PROUD = 4.0e-4
"""Windows stand this far [m] before the face of the body, and spots as far before the window, so that both show."""

BORDER = 0.0015
"""Line around the sensitive area of a see-through target, metres."""

FRAME_DEPTH = 0.010
SHOE = 0.012
"""Height of the feet of a stepping target, metres."""

BAR = 0.022
ARMS = np.deg2rad([90.0, 210.0, 330.0])
LEAST_DISC = 0.03


def facing_frames(geometry: SurveyGeometry, rows: Indices) -> Floats:
    """Rotations ``(k, 3, 3)``: x to the right as the emitter sees it, y up along the mount, z toward the emitter."""
    return np.stack([geometry.axis_h[rows], geometry.axis_v[rows], geometry.facing[rows]], axis=-1)


def disc_radius(layout: Layout, geometry: SurveyGeometry, rows: Indices) -> Floats:
    """Radius ``(k,)`` of the bore at the station of each row; that of a hand where it stands in none, metres."""
    of_station = [_bore_radius(layout, name) for name in geometry.rows.stations]
    return np.array(of_station, dtype=np.float64)[geometry.rows.station[rows]]


def _bore_radius(layout: Layout, name: str) -> float:
    station = layout.stations[name]
    surface = layout.surfaces.get(station.surface)
    if surface is None or not isinstance(surface.shape, Bore):
        return LEAST_DISC
    away = [max(start - station.at[2], station.at[2] - end, 0.0) for _, start, end in surface.shape.sections]
    return 0.5 * surface.shape.sections[int(np.argmin(away))][0]


def bodies(layout: Layout, geometry: SurveyGeometry, rows: Indices) -> Collected:
    """Bodies and windows of the targets of ``rows`` (k,), their faces in the plane of the detector."""
    made = Collected()
    if len(rows) == 0:
        return made
    targets = [layout.targets[geometry.rows.targets[i]] for i in geometry.rows.target[rows]]
    kinds = [layout.stations[geometry.rows.stations[i]].mount.kind for i in geometry.rows.station[rows]]
    discs = np.array([kind == "discs" for kind in kinds])
    glass = np.array([target.passes > 0.0 for target in targets]) & ~discs
    steps = (step_of(layout, geometry, rows) > 0.0) & ~discs & ~glass
    deep = np.array([target.reads_angles for target in targets])
    lying = np.abs(dot(geometry.facing[rows], geometry.normal[rows])) > 0.5
    below = geometry.rise[rows] - heights_of(layout, geometry, rows)
    plain = ~discs & ~glass & ~steps
    depth = np.where(deep, DEEP, DEPTH)
    _plain(made, geometry, rows[plain & ~lying], below[plain & ~lying], depth[plain & ~lying])
    _lying(made, geometry, rows[plain & lying], below[plain & lying])
    thickness = np.array([target.thickness for target in targets])
    _see_through(made, geometry, rows[glass], below[glass], thickness[glass])
    _stepping(made, layout, geometry, rows[steps], below[steps])
    _on_discs(made, geometry, rows[discs], disc_radius(layout, geometry, rows[discs]))
    _windows(made, geometry, rows[~glass])
    _borders(made, geometry, rows[glass])
    return made


def _sizes(geometry: SurveyGeometry, rows: Indices, below: Floats) -> tuple[Floats, Floats, Floats]:
    """Width of the bodies, what of them is above and what below the centre of the detector, metres."""
    wide, above = geometry.window[rows, 0] + 2.0 * RIM, 0.5 * geometry.window[rows, 1] + RIM
    return wide, above, np.maximum(below, above)


def _plain(made: Collected, geometry: SurveyGeometry, rows: Indices, below: Floats, depth: Floats) -> None:
    """Boxes that stand on a sole."""
    wide, above, low = _sizes(geometry, rows, below)
    frames, centre, ones = facing_frames(geometry, rows), geometry.detector_centres()[rows], np.ones(len(rows))
    middle = centre + (0.5 * (above - low))[:, None] * geometry.axis_v[rows]
    made.add(Role.TARGET, box(1.0, 1.0, -1.0, 0.0), rows, frames, middle, np.column_stack([wide, above + low, depth]))
    sole = centre - (low - 0.5 * SOLE)[:, None] * geometry.axis_v[rows]
    made.add(Role.TARGET, box(1.0, SOLE, -DEPTH, POST_RADIUS + RIM), rows, frames, sole,
             np.column_stack([wide, ones, ones]))  # fmt: skip


def _lying(made: Collected, geometry: SurveyGeometry, rows: Indices, below: Floats) -> None:
    """Boxes that look along their mount, on a stem."""
    wide, above, _ = _sizes(geometry, rows, below)
    frames, centre, ones = facing_frames(geometry, rows), geometry.detector_centres()[rows], np.ones(len(rows))
    made.add(Role.TARGET, box(1.0, 1.0, -DEPTH, 0.0), rows, frames, centre, np.column_stack([wide, 2.0 * above, ones]))
    stem = np.maximum(np.abs(below), 1e-4)
    along = np.sign(below)[:, None] * geometry.normal[rows]
    upright = rotations_along(along, geometry.axis_h[rows])
    sides = sides_within(CELLS, len(rows), 4, most=16)
    made.add(Role.TARGET, ring(POST_RADIUS + 0.4 * RIM, 0.0, -1.0, 0.0, sides), rows, upright,
             centre - 0.5 * DEPTH * geometry.facing[rows], np.column_stack([ones, ones, stem]))  # fmt: skip


def _frame_bars(inner: Floats, outer: Floats) -> list[tuple[Floats, Floats]]:
    """Centre (k, 2) and size (k, 2) of the four bars between an inner and an outer rectangle, half sizes (k, 2)."""
    bar = outer - inner
    o = np.zeros(len(inner))
    across = np.column_stack([2.0 * outer[:, 0], bar[:, 1]])
    upright = np.column_stack([bar[:, 0], 2.0 * inner[:, 1]])
    off_y, off_x = inner[:, 1] + 0.5 * bar[:, 1], inner[:, 0] + 0.5 * bar[:, 0]
    return [
        (np.column_stack([o, off_y]), across), (np.column_stack([o, -off_y]), across),
        (np.column_stack([off_x, o]), upright), (np.column_stack([-off_x, o]), upright),
    ]  # fmt: skip


def _bordered(
    made: Collected, role: Role, geometry: SurveyGeometry, rows: Indices, inner: Floats, outer: Floats,
    ends: tuple[float, float],
) -> None:  # fmt: skip
    """Rectangular frames in the plane of the detectors, from ``ends[0]`` to ``ends[1]`` along the light's normal."""
    frames, centre = facing_frames(geometry, rows), geometry.detector_centres()[rows]
    for off, size in _frame_bars(inner, outer):
        place = centre + off[:, :1] * geometry.axis_h[rows] + off[:, 1:] * geometry.axis_v[rows]
        made.add(role, box(1.0, 1.0, *ends), rows, frames, place, np.column_stack([size, np.ones(len(rows))]))


def _see_through(made: Collected, geometry: SurveyGeometry, rows: Indices, below: Floats, thickness: Floats) -> None:
    """Frames with a pane of glass, on a neck."""
    inner = 0.5 * geometry.window[rows] + 0.4 * RIM
    outer = inner + 0.8 * RIM
    _bordered(made, Role.TARGET, geometry, rows, inner, outer, (-FRAME_DEPTH, 0.002))
    frames, centre = facing_frames(geometry, rows), geometry.detector_centres()[rows]
    pane = np.column_stack([2.0 * inner, thickness])
    made.add(Role.GLASS, box(1.0, 1.0, -1.0, 0.0), rows, frames, centre, pane)
    neck = np.maximum(below - outer[:, 1], 1e-4)
    place = centre - (outer[:, 1] + 0.5 * neck)[:, None] * geometry.axis_v[rows]
    scale = np.column_stack([0.5 * outer[:, 0], neck, np.ones(len(rows))])
    made.add(Role.TARGET, box(1.0, 1.0, -FRAME_DEPTH, 0.002), rows, frames, place, scale)
    sole = centre - (np.maximum(below, outer[:, 1]) - 0.5 * SOLE)[:, None] * geometry.axis_v[rows]
    scale = np.column_stack([2.0 * outer[:, 0], np.ones((len(rows), 2))])
    made.add(Role.TARGET, box(1.0, SOLE, -DEPTH, POST_RADIUS + RIM), rows, frames, sole, scale)


def _stepping(made: Collected, layout: Layout, geometry: SurveyGeometry, rows: Indices, below: Floats) -> None:
    """Boxes on a bar with two feet, one step apart along the line of stations."""
    wide, above, low = _sizes(geometry, rows, below)
    frames, centre, ones = facing_frames(geometry, rows), geometry.detector_centres()[rows], np.ones(len(rows))
    bottom = low - SHOE - BAR
    middle = centre + (0.5 * (above - bottom))[:, None] * geometry.axis_v[rows]
    made.add(Role.TARGET, box(1.0, 1.0, -DEEP, 0.0), rows, frames, middle,
             np.column_stack([wide, above + bottom, ones]))  # fmt: skip
    step = step_of(layout, geometry, rows)
    upright = rotations_along(geometry.normal[rows], geometry.ahead[rows])  # x along the stations
    foot = centre - low[:, None] * geometry.normal[rows]
    bar = foot + SHOE * geometry.normal[rows]
    made.add(Role.TARGET, box(1.0, 1.0, 0.0, BAR), rows, upright, bar, np.column_stack([step + 0.03, 0.7 * wide, ones]))
    for side in (-0.5, 0.5):
        shoe = foot + side * step[:, None] * geometry.ahead[rows]
        made.add(
            Role.BRACKET, box(0.02, 1.0, 0.0, SHOE), rows, upright, shoe, np.column_stack([ones, 0.7 * wide, ones])
        )


def _on_discs(made: Collected, geometry: SurveyGeometry, rows: Indices, radius: Floats) -> None:
    """A hub on three spokes in a rim that fills the bore."""
    frames, centre, ones = facing_frames(geometry, rows), geometry.detector_centres()[rows], np.ones(len(rows))
    sides = sides_within(CELLS, len(rows), 16, most=40)
    hub = np.minimum(0.5 * geometry.window[rows].max(axis=1) + 0.7 * RIM, 0.5 * radius)
    made.add(Role.TARGET, ring(1.0, 0.0, -DEPTH, 0.0, sides), rows, frames, centre, np.column_stack([hub, hub, ones]))
    for z in (-0.030, -0.010):  # two thin discs, as far apart as they guide
        made.add(Role.DISCS, ring(0.985, 0.87, z - 0.003, z + 0.003, sides), rows, frames, centre,
                 np.column_stack([radius, radius, ones]))  # fmt: skip
    for angle in ARMS:
        c, s = np.cos(angle), np.sin(angle)
        turn = np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])
        made.add(Role.DISCS, _spoke(), rows, frames @ turn, centre, np.column_stack([radius, 0.1 * radius, ones]))


def _spoke() -> Triangles:
    """Spoke along x from the hub to the rim of a disc of radius 1 and width 1."""
    solid = box(0.6, 1.0, -0.026, -0.014)
    return Triangles(solid.vertices + np.array([0.6, 0.0, 0.0]), solid.faces)


def _windows(made: Collected, geometry: SurveyGeometry, rows: Indices) -> None:
    """Sensitive areas in their true size."""
    scale = np.column_stack([geometry.window[rows], np.ones(len(rows))])
    made.add(Role.WINDOW, box(1.0, 1.0, 0.0, PROUD), rows, facing_frames(geometry, rows),
             geometry.detector_centres()[rows], scale)  # fmt: skip


def _borders(made: Collected, geometry: SurveyGeometry, rows: Indices) -> None:
    """Lines around the sensitive areas of glass."""
    half = 0.5 * geometry.window[rows]
    _bordered(made, Role.WINDOW, geometry, rows, half - BORDER, half, (0.0, PROUD))


def clock_marks(layout: Layout, geometry: SurveyGeometry, rows: Indices) -> Collected:
    """Small marks at the clock angles at which the stations of ``rows`` are read: where the v of the target points."""
    made = Collected()
    stations = geometry.rows.station[rows]
    names = geometry.rows.stations
    clocked = np.array([len(layout.stations[name].clocks) > 1 for name in names], dtype=bool)
    mine = np.nonzero(clocked[geometry.rows.station] & np.isin(geometry.rows.station, stations))[0]
    pair = np.column_stack([geometry.rows.station[mine], np.round(geometry.rows.clock[mine] / 1e-4)])
    mine = mine[np.unique(pair, axis=0, return_index=True)[1]]
    discs = _has_discs(layout, geometry, mine)
    reach = np.where(discs, disc_radius(layout, geometry, mine), 0.5 * geometry.window[mine, 1] + 2.0 * RIM)
    size = np.where(discs, 0.10, 0.2) * reach
    place = geometry.detector_centres()[mine] + (0.82 * reach)[:, None] * geometry.axis_v[mine]
    wedge = Triangles(np.array([
        [-0.5, -1.0, 0.0], [0.5, -1.0, 0.0], [0.0, 0.6, 0.0], [-0.5, -1.0, 0.3], [0.5, -1.0, 0.3], [0.0, 0.6, 0.3],
    ]), np.array([[0, 2, 1], [3, 4, 5], [0, 1, 4], [0, 4, 3], [1, 2, 5], [1, 5, 4], [2, 0, 3], [2, 3, 5]]))  # fmt: skip
    made.add(Role.CLOCK_MARK, wedge, mine, facing_frames(geometry, mine), place, np.repeat(size[:, None], 3, axis=1))
    return made


def _has_discs(layout: Layout, geometry: SurveyGeometry, rows: Indices) -> Flags:
    kinds = [layout.stations[geometry.rows.stations[i]].mount.kind == "discs" for i in geometry.rows.station[rows]]
    return np.array(kinds, dtype=bool)
