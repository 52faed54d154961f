"""The plan as the beam sees it: every planned reading, traced, with its sight line."""

from __future__ import annotations

from dataclasses import dataclass

from ..model.layout import Layout
from ..tracing.geometry import SurveyGeometry, survey_geometry
from ..tracing.rows import planned_rows
from ..tracing.sight import Obstacles, SightLines, obstacles_of, sight_lines
from ..tracing.spots import Spots, spots

__all__ = ["Plan", "traced_plan"]


@dataclass(frozen=True, slots=True, eq=False)
class Plan:
    """All planned readings of a layout, traced at nominal; rows as in ``geometry.rows``."""

    layout: Layout
    geometry: SurveyGeometry
    spots: Spots
    obstacles: Obstacles
    sight: SightLines


def traced_plan(layout: Layout) -> Plan:
    """Trace every planned reading of ``layout``.

    Raises
    ------
    GeometryError
        Where a set-up cannot be levelled as asked.
    """
    geometry = survey_geometry(layout, planned_rows(layout))
    seen = spots(geometry)
    obstacles = obstacles_of(layout)
    lines = sight_lines(obstacles, geometry.beam_origins(), geometry.detector_centres(), seen.radius)
    return Plan(layout, geometry, seen, obstacles, lines)
