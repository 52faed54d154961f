"""Targets with all that carries them, and the spots on their detectors.

The height of a mount, the place of the detector, the size of its window and the place and size of the spot are those
of the layout and of the traced beams.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pyvista as pv

from ..model.layout import Layout
from ..tracing.geometry import SurveyGeometry
from ..tracing.sight import Sight, SightLines
from ..tracing.spots import Spots, spots
from ..vectors import Flags, Floats, Indices
from .collected import Collected
from .exaggeration import enlarged, sweep_axes
from .scene_parts import Part, Role
from .solids import copies, disc, mesh_of, sides_within
from .target_bodies import PROUD, bodies, clock_marks, facing_frames
from .target_mounts import mounts

__all__ = ["device_parts", "first_rows", "spot_mesh", "target_parts"]

CELLS = 40_000
ROLES = (
    Role.TRIPOD, Role.POST, Role.MAGNET, Role.BRACKET, Role.DISCS, Role.TARGET, Role.GLASS, Role.WINDOW,
    Role.CLOCK_MARK,
)  # fmt: skip


def first_rows(geometry: SurveyGeometry) -> Indices:
    """Rows in which a station is read for the first time: one for each station."""
    return np.unique(geometry.rows.station, return_index=True)[1]


def _elsewhere(layout: Layout, geometry: SurveyGeometry, rows: Indices) -> Flags:
    """Rows of stations on a moving part that is read where it is not drawn."""
    away = []
    for name in geometry.rows.stations:
        station = layout.stations[name]
        moves = layout.surfaces[station.carried_by].moves if station.carried_by else None
        away.append(moves is not None and station.position not in ("", moves.drawn))
    result: Flags = np.array(away, dtype=bool)[geometry.rows.station[rows]]
    return result


def device_parts(layout: Layout, geometry: SurveyGeometry, rows: Indices) -> tuple[Part, ...]:
    """Targets of ``rows`` (one for each station) with mounts, windows and clock marks, one part for each role.

    Targets on a part that is drawn elsewhere are ghosts. Cell arrays ``station`` and ``row``.
    """
    ghost = _elsewhere(layout, geometry, rows)
    here, faint = Collected(), Collected()
    for made in (mounts(layout, geometry, rows[~ghost]), bodies(layout, geometry, rows[~ghost])):
        here.take(made)
    here.take(clock_marks(layout, geometry, rows[~ghost]))
    for made in (mounts(layout, geometry, rows[ghost]), bodies(layout, geometry, rows[ghost])):
        faint.take(made, Role.GHOST_TARGET)
    solid = here.parts(geometry, "target ", ROLES)
    return (*solid, *faint.parts(geometry, "", (Role.GHOST_TARGET,)))


def _places(geometry: SurveyGeometry, seen: Spots, rows: Indices) -> Floats:
    right, up = seen.h[rows, None] * geometry.axis_h[rows], seen.v[rows, None] * geometry.axis_v[rows]
    result: Floats = geometry.detector_centres()[rows] + right + up
    return result


def spot_mesh(
    geometry: SurveyGeometry, seen: Spots, rows: Indices, factor: float = 1.0, nominal: Spots | None = None
) -> pv.PolyData:
    """Spots on the detectors in their true size, at the readings h and v; cell arrays ``station`` and ``row``.

    ``factor`` draws them that much farther off their ``nominal`` places, like the beams; a spot may then leave its
    window.
    """
    rows = rows[np.isfinite(seen.v[rows])]
    centre = _places(geometry, seen, rows)
    if factor != 1.0:
        still = spots(replace(geometry, gradient=0.0)) if nominal is None else nominal
        plain = _places(geometry, still, rows)
        axis, sweeps = sweep_axes(geometry)
        centre = enlarged(centre, np.where(np.isfinite(plain), plain, centre), factor, axis[rows], sweeps[rows])
    sides = sides_within(CELLS, len(rows), 1, most=24)
    scale = np.column_stack([seen.radius[rows], seen.radius[rows], np.ones(len(rows))])
    solid, owner = copies(disc(1.0, 2.0 * PROUD, sides), facing_frames(geometry, rows), centre, scale)
    return mesh_of(solid, {"station": geometry.rows.station[rows][owner], "row": rows[owner]})


def target_parts(
    layout: Layout, geometry: SurveyGeometry, seen: Spots, sight: SightLines, rows: Indices, factor: float = 1.0
) -> tuple[Part, ...]:
    """Targets of ``rows`` and the spots on them; no spot where the beam is blocked."""
    lit = rows[sight.sight[rows] != Sight.BLOCKED]
    spot = Part("spots", spot_mesh(geometry, seen, lit, factor), Role.SPOT)
    return (*device_parts(layout, geometry, rows), spot)
