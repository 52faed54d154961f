"""Beams as tubes along their traced, bent paths, by what becomes of them, with marks where they are touched or stop."""

from __future__ import annotations

import numpy as np
import pyvista as pv

from ..shapes import Triangles, ring
from ..tracing.geometry import SurveyGeometry
from ..tracing.sight import Sight
from ..tracing.spots import Spots
from ..vectors import Floats, Indices, length
from .beam_paths import BeamPaths, Look, beam_paths
from .merged_beams import trimmed, without_doubles
from .scene_parts import Part, Role
from .solids import Solid, copies, joined, mesh_of, sides_within, tubes

__all__ = ["BeamPaths", "Look", "beam_mesh", "beam_of", "beam_parts", "beam_paths", "drawn_radius", "thinned"]

CELLS = 60_000
STEPS = 12
"""Pieces of a bent beam; of few beams only, else one piece."""

BENT_BEAMS = 300
CLEAR_BEAMS = 150
"""More clear beams than this run together into a sheet; then every second, third, ... is drawn."""

SAME = 0.3
"""Beams drawn nearer to each other than this share of their radius are one beam."""

_LOOKS = (
    (Look.CLEAR, Role.BEAM_CLEAR, 1.0), (Look.CLIPPED, Role.BEAM_CLIPPED, 1.2),
    (Look.BLOCKED, Role.BEAM_BLOCKED, 1.35), (Look.LOST, Role.BEAM_LOST, 0.9),
)  # fmt: skip
"""Role of each look, and how thick it is: thicker where it must show on top of a clear beam."""


def drawn_radius(geometry: SurveyGeometry, seen: Spots) -> float:
    """Radius [m] of the tubes: half that of the beam, so that spots show, but at least 0.05 % of the longest path."""
    path = seen.path[np.isfinite(seen.path)]
    longest = float(path.max()) if len(path) else 1.0
    waist = float(geometry.waist_radius.min()) if len(geometry.rows) else 0.0
    return max(0.5 * waist, 5e-4 * longest)


def _steps(paths: BeamPaths, pieces: Indices, radius: float) -> int:
    """Straight parts in which bent pieces are drawn; 1 where nobody would see that they are bent."""
    sag = 0.25 * length(paths.bow[pieces])
    return STEPS if len(pieces) <= BENT_BEAMS and len(pieces) and float(sag.max()) > 0.5 * radius else 1


def _tubes(paths: BeamPaths, pieces: Indices, span: Floats, radius: float) -> Solid:
    """Tubes of pieces; the number of each cell is a row."""
    if len(pieces) == 0:
        return Triangles(np.zeros((0, 3)), np.zeros((0, 3), dtype=np.int64)), np.zeros(0, dtype=np.int64)
    steps = _steps(paths, pieces, radius)
    sides = sides_within(CELLS, len(pieces), 2 * steps, most=10)
    solid, owner = tubes(paths.of(pieces, span, steps), radius, sides)
    return solid, paths.row[pieces[owner]]


def _drawn(paths: BeamPaths, rows: Indices, radius: float) -> dict[Look, tuple[Indices, Floats]]:
    """Pieces of ``rows`` to be drawn in each look, and their spans, each way only once."""
    every = paths.pieces_of(rows)
    clear = without_doubles(paths, every[paths.look[every] == Look.CLEAR], SAME * radius)
    drawn = {Look.CLEAR: (clear, paths.span[clear])}
    for look in (Look.CLIPPED, Look.BLOCKED, Look.LOST):
        pieces = without_doubles(paths, every[paths.look[every] == look], SAME * radius)
        drawn[look] = (pieces, trimmed(paths, pieces, clear, SAME * radius))
    return drawn


def _marks(paths: BeamPaths, rows: Indices, radius: float, look: Look) -> list[Solid]:
    """Crosses at the ends of blocked beams, rings where clipped ones are touched."""
    mark = {Look.BLOCKED: (Sight.BLOCKED, _crosses), Look.CLIPPED: (Sight.CLIPPED, _rings)}.get(look)
    if mark is None:
        return []
    chosen = rows[(paths.sight[rows] == mark[0]) & np.isfinite(paths.mark[rows, 0])]
    if len(chosen) == 0:
        return []
    place = np.round(paths.mark[chosen] / radius)  # beams that stop at one place share a mark
    chosen = chosen[np.sort(np.unique(place, axis=0, return_index=True)[1])]
    solid, which = mark[1](paths, chosen, radius)
    return [(solid, chosen[which])]


def beam_mesh(paths: BeamPaths, rows: Indices, radius: float) -> pv.PolyData:
    """Tubes [radius in metres] of ``rows`` with the marks of clipped and blocked ones, whole; cell array ``row``.

    A blocked beam ends in a cross, a clipped one carries a ring where it is touched.
    """
    pieces = paths.pieces_of(rows)
    parts = [_tubes(paths, pieces, paths.span[pieces], radius)]
    for look in (Look.CLIPPED, Look.BLOCKED):
        parts += _marks(paths, np.asarray(rows), radius, look)
    whole, row = joined(parts)
    return mesh_of(whole, {"row": row})


def _frames(paths: BeamPaths, rows: Indices) -> Floats:
    """Rotations ``(k, 3, 3)`` at the marks of beams: z along the beam, y as near up as it can be."""
    along = paths.heading[rows]
    hint = np.where(np.abs(along[:, 2:]) > 0.99, [1.0, 0.0, 0.0], [0.0, 0.0, 1.0])
    across = np.cross(hint, along)
    across = across / length(across)[:, None]
    return np.stack([across, np.cross(along, across), along], axis=-1)


def _crosses(paths: BeamPaths, rows: Indices, radius: float) -> Solid:
    """Crosses at the ends of blocked beams, drawn a little before the obstacle and square to the beam."""
    arm, thick = 9.0 * radius, 1.5 * radius
    diagonal = np.array([[[-arm, -arm, 0.0], [arm, arm, 0.0]], [[-arm, arm, 0.0], [arm, -arm, 0.0]]])
    bars = tubes(diagonal, thick, 6)[0]
    back = Triangles(bars.vertices - [0.0, 0.0, thick], bars.faces)
    return copies(back, _frames(paths, rows), paths.mark[rows])


def _rings(paths: BeamPaths, rows: Indices, radius: float) -> Solid:
    """Rings around clipped beams where they are touched."""
    band = ring(7.0 * radius, 5.0 * radius, -radius, radius, 20)
    return copies(band, _frames(paths, rows), paths.mark[rows])


def beam_of(paths: BeamPaths, row: int, radius: float) -> pv.PolyData:
    """Tube of one beam alone, to be drawn over the others when it is chosen."""
    return beam_mesh(paths, np.array([row]), radius)


def thinned(paths: BeamPaths, row: int) -> Indices:
    """Rows to draw: all that are clipped, blocked or lost, and of the clear ones an even choice with ``row`` in it."""
    clear = np.nonzero(paths.sight == Sight.CLEAR)[0]
    kept = clear[:: max(1, -(-len(clear) // CLEAR_BEAMS))]
    chosen: Indices = np.union1d(np.append(kept, row), np.nonzero(paths.sight != Sight.CLEAR)[0])
    return chosen


def beam_parts(paths: BeamPaths, radius: float, rows: Indices | None = None) -> tuple[Part, ...]:
    """Beams of ``rows`` (all where not given), one part for each of clear, clipped, blocked and lost.

    Where several beams run along one line it is drawn once; the array ``row`` then holds the longest of them.
    """
    chosen = np.arange(len(paths.sight)) if rows is None else rows
    drawn = _drawn(paths, chosen, radius)
    parts = []
    for look, role, wide in _LOOKS:
        solid, row = joined([_tubes(paths, *drawn[look], wide * radius), *_marks(paths, chosen, radius, look)])
        parts.append(Part(str(role), mesh_of(solid, {"row": row}), role))
    return tuple(parts)
