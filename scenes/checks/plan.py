"""The plan as the beam sees it: every planned reading, traced, with its sight lines."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..model.layout import Layout
from ..tracing.geometry import SurveyGeometry, survey_geometry
from ..tracing.paths import Paths, Pieces, paths_of, pieces_of
from ..tracing.places import positions_of
from ..tracing.rows import planned_rows
from ..tracing.sight import Obstacles, Sight, SightLines, obstacles_of, sight_lines
from ..tracing.spots import Spots, spots
from ..vectors import Floats, Indices, length

__all__ = ["Plan", "traced_plan"]


@dataclass(frozen=True, slots=True, eq=False)
class Plan:
    """All planned readings of a layout, traced at nominal; rows as in ``geometry.rows``.

    Attributes
    ----------
    obstacles : Obstacles
        With every moving part where it is drawn; their names are those of all surfaces at any position.
    sight : SightLines
        One per row: the first piece of its path that is stopped, or the last one; ``reach`` counts from the emitter.
    stopped_from : (m, 3) float
        Where the piece begins that ``sight`` speaks of.
    stopped_toward : (m, 3) float
        Where it would end.
    """

    layout: Layout
    geometry: SurveyGeometry
    spots: Spots
    paths: Paths
    obstacles: Obstacles
    sight: SightLines
    stopped_from: Floats
    stopped_toward: Floats


def traced_plan(layout: Layout) -> Plan:
    """Trace every planned reading of ``layout``.

    Raises
    ------
    GeometryError
        Where a set-up cannot be levelled as asked, or a line has no direction.
    """
    geometry = survey_geometry(layout, planned_rows(layout))
    seen = spots(geometry)
    paths = paths_of(geometry, seen)
    obstacles = obstacles_of(layout)
    pieces = _whole(pieces_of(paths, seen.radius), geometry)
    lines = _sight(layout, geometry, obstacles, pieces)
    worst = _worst(pieces.row, lines, len(geometry.rows))
    before = _way_before(pieces)[worst]
    sight = SightLines(lines.sight[worst], lines.by[worst], before + lines.reach[worst], lines.clearance[worst])
    return Plan(layout, geometry, seen, paths, obstacles, sight, pieces.start[worst], pieces.end[worst])


def _whole(pieces: Pieces, geometry: SurveyGeometry) -> Pieces:
    """The pieces, with straight ones in place of those of beams that never meet their detector."""
    lost = np.setdiff1d(np.arange(len(geometry.rows)), pieces.row)
    if not len(lost):
        return pieces
    start, end = geometry.sources()[lost], geometry.detector_centres()[lost]
    parts = (
        np.concatenate([pieces.row, lost]), np.concatenate([pieces.start, start]), np.concatenate([pieces.end, end]),
        np.concatenate([pieces.radius, np.zeros(len(lost))]),
    )  # fmt: skip
    order = np.argsort(parts[0], kind="stable")
    return Pieces(*(part[order] for part in parts))


def _sight(layout: Layout, geometry: SurveyGeometry, drawn: Obstacles, pieces: Pieces) -> SightLines:
    """Sight lines of all pieces, each among the moving parts where they stand during its reading."""
    rows = geometry.rows
    places = [tuple(sorted(positions_of(layout.stations[name]).items())) for name in rows.stations]
    kinds = list(dict.fromkeys(places))
    kind = np.array([kinds.index(place) for place in places], dtype=np.int64)[rows.station[pieces.row]]
    parts = [np.zeros(len(pieces.row), dtype=np.int64), np.full(len(pieces.row), -1, dtype=np.int64)]
    reach, clearance = np.zeros(len(pieces.row)), np.zeros(len(pieces.row))
    for number, place in enumerate(kinds):
        mine = np.nonzero(kind == number)[0]
        obstacles = obstacles_of(layout, positions=dict(place)) if place else drawn
        lines = sight_lines(obstacles, pieces.start[mine], pieces.end[mine], pieces.radius[mine])
        parts[0][mine], parts[1][mine], reach[mine], clearance[mine] = (
            lines.sight, lines.by, lines.reach, lines.clearance
        )  # fmt: skip
    return SightLines(parts[0], parts[1], reach, clearance)


def _worst(row: Indices, lines: SightLines, m: int) -> Indices:
    """The piece of each row that is stopped first, else clipped first, else the last one."""
    order = np.arange(len(row))
    clear = lines.sight == Sight.CLEAR
    key = np.lexsort((np.where(clear, -order, order), -lines.sight, row))
    first = np.unique(row[key], return_index=True)[1]
    result: Indices = key[first]
    if len(result) != m:
        raise ValueError("every row needs a piece of its own")
    return result


def _way_before(pieces: Pieces) -> Floats:
    """Length ``(p,)`` of the path of the same row before each piece, metres."""
    span = length(pieces.end - pieces.start)
    until = np.cumsum(span) - span
    first = np.unique(pieces.row, return_index=True)[1]
    result: Floats = until - until[first[pieces.row]]
    return result
