"""Beams as tubes along their traced, bent paths, by what becomes of them, and the plane that they sweep."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pyvista as pv

from ..shapes import Triangles, ring
from ..tracing.beam import point_on_path
from ..tracing.geometry import SurveyGeometry
from ..tracing.sight import Sight, SightLines
from ..tracing.spots import Spots, beams
from ..tracing.state import NOMINAL, RowState
from ..vectors import Floats, Indices, unit
from .emitters import EXIT_AHEAD
from .exaggeration import raised
from .scene_parts import Part, Role
from .solids import Solid, copies, joined, mesh_of, sides_within, tubes

__all__ = ["BeamPaths", "beam_mesh", "beam_of", "beam_parts", "beam_paths", "drawn_radius", "thinned"]

CELLS = 60_000
STEPS = 8
"""Pieces of a bent beam; few long beams only, else one piece."""

BENT_BEAMS = 300
CLEAR_BEAMS = 150
"""More clear beams than this run together into a sheet; then every second, third, ... is drawn."""

_CLASSES = ((Sight.CLEAR, Role.BEAM_CLEAR), (Sight.CLIPPED, Role.BEAM_CLIPPED), (Sight.BLOCKED, Role.BEAM_BLOCKED))


@dataclass(frozen=True, slots=True, eq=False)
class BeamPaths:
    """Beams as they are drawn; m rows.

    Attributes
    ----------
    points : (m, p, 3) float
        Along each beam, from the exit port to its end: the target, or the obstacle where it is blocked. World.
    sight : (m,) int
        ``Sight`` of each beam, -1 where it never meets its detector and is not drawn.
    clip : (m, 3) float
        Where a clipped beam is touched, nan elsewhere.
    """

    points: Floats
    sight: Indices
    clip: Floats


def drawn_radius(geometry: SurveyGeometry, seen: Spots) -> float:
    """Radius [m] of the tubes: half that of the beam, so that spots show, but at least 0.05 % of the longest path."""
    path = seen.path[np.isfinite(seen.path)]
    longest = float(path.max()) if len(path) else 1.0
    waist = float(geometry.waist_radius.min()) if len(geometry.rows) else 0.0
    return max(0.5 * waist, 5e-4 * longest)


def beam_paths(
    geometry: SurveyGeometry, seen: Spots, sight: SightLines, state: RowState = NOMINAL, factor: float = 1.0
) -> BeamPaths:
    """Paths of all beams in ``state``, out of the plane of the nominal beam by ``factor`` times their true height."""
    light = beams(geometry, state)
    steps = STEPS if len(geometry.rows) <= BENT_BEAMS else 1
    met = np.isfinite(seen.path)
    blocked = sight.sight == Sight.BLOCKED
    end = np.where(blocked, np.fmin(sight.reach, seen.path), seen.path)
    end = np.where(met, end, 0.0)
    begin = np.minimum(EXIT_AHEAD, 0.5 * end)
    along = begin[:, None] + (end - begin)[:, None] * np.linspace(0.0, 1.0, steps + 1)
    points = point_on_path(light.origin[:, None], light.direction[:, None], light.curvature[:, None], along)
    touched = np.where(sight.sight == Sight.CLIPPED, sight.reach, np.nan)
    clip = point_on_path(light.origin, light.direction, light.curvature, touched)
    origin, axis = geometry.beam_origins(), geometry.launch_rotation[:, :, 2]
    return BeamPaths(
        raised(points, origin[:, None], axis[:, None], factor),
        np.where(met, sight.sight, -1),
        raised(clip, origin, axis, factor),
    )


def beam_mesh(paths: BeamPaths, rows: Indices, radius: float) -> pv.PolyData:
    """Tubes [radius in metres] of ``rows`` with the marks of clipped and blocked ones; cell array ``row``.

    A blocked beam ends in a cross, a clipped one carries a ring where it is touched.
    """
    rows = rows[paths.sight[rows] >= 0]
    pieces = paths.points.shape[1] - 1
    sides = sides_within(CELLS, len(rows), 2 * pieces, most=10)
    solid, owner = tubes(paths.points[rows], radius, sides)
    parts = [(solid, rows[owner])]
    for kind, mark in ((Sight.BLOCKED, _crosses), (Sight.CLIPPED, _rings)):
        chosen = rows[paths.sight[rows] == kind]
        if len(chosen):
            marks, which = mark(paths, chosen, radius)
            parts.append((marks, chosen[which]))
    whole, row = joined(parts)
    return mesh_of(whole, {"row": row})


def _frames(paths: BeamPaths, rows: Indices) -> Floats:
    """Rotations ``(k, 3, 3)`` at the ends of beams: z along the beam, y as near up as it can be."""
    along = unit(paths.points[rows, -1] - paths.points[rows, 0])
    hint = np.where(np.abs(along[:, 2:]) > 0.99, [1.0, 0.0, 0.0], [0.0, 0.0, 1.0])
    across = unit(np.cross(hint, along))
    return np.stack([across, np.cross(along, across), along], axis=-1)


def _crosses(paths: BeamPaths, rows: Indices, radius: float) -> Solid:
    """Crosses at the ends of blocked beams, drawn a little before the obstacle and square to the beam."""
    arm, thick = 9.0 * radius, 1.5 * radius
    diagonal = np.array([[[-arm, -arm, 0.0], [arm, arm, 0.0]], [[-arm, arm, 0.0], [arm, -arm, 0.0]]])
    bars = tubes(diagonal, thick, 6)[0]
    back = Triangles(bars.vertices - [0.0, 0.0, thick], bars.faces)
    return copies(back, _frames(paths, rows), paths.points[rows, -1])


def _rings(paths: BeamPaths, rows: Indices, radius: float) -> Solid:
    """Rings around clipped beams where they are touched."""
    band = ring(7.0 * radius, 5.0 * radius, -radius, radius, 20)
    return copies(band, _frames(paths, rows), paths.clip[rows])


def beam_of(paths: BeamPaths, row: int, radius: float) -> pv.PolyData:
    """Tube of one beam alone, to be drawn over the others when it is chosen."""
    return beam_mesh(paths, np.array([row]), radius)


def thinned(paths: BeamPaths, row: int) -> Indices:
    """Rows to draw: all that are clipped or blocked, and of the clear ones an even choice with ``row`` in it."""
    clear = np.nonzero(paths.sight == Sight.CLEAR)[0]
    kept = clear[:: max(1, -(-len(clear) // CLEAR_BEAMS))]
    chosen: Indices = np.union1d(np.append(kept, row), np.nonzero(paths.sight > Sight.CLEAR)[0])
    return chosen


def beam_parts(paths: BeamPaths, radius: float, rows: Indices | None = None) -> tuple[Part, ...]:
    """Beams of ``rows`` (all where not given), one part for each of clear, clipped and blocked."""
    chosen = np.arange(len(paths.sight)) if rows is None else rows
    return tuple(
        Part(str(role), beam_mesh(paths, chosen[paths.sight[chosen] == kind], radius), role) for kind, role in _CLASSES
    )
