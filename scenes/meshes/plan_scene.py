"""The picture of a plan: machine, floor, emitter, targets, beams and the swept plane, in parts."""

from __future__ import annotations

import numpy as np

from ..checks.plan import Plan
from ..model.layout import Layout
from ..tracing.spots import spots
from ..tracing.state import NOMINAL, RowState
from ..vectors import Indices
from .beams import beam_parts, beam_paths, drawn_radius, thinned
from .emitters import emitter_parts
from .feet import feet_mesh
from .machine import floor_parts, machine_parts
from .scene_parts import Part, Role, bounds_of, shown
from .station_marks import surface_marks
from .swept_plane import swept_plane
from .targets import first_rows, target_parts

__all__ = ["MOST_TARGETS", "layout_parts", "plan_parts", "station_parts"]

MOST_TARGETS = 250
"""More stations than this are drawn as dots, and only the chosen one carries its target."""


def layout_parts(layout: Layout) -> tuple[Part, ...]:
    """What stands in the shop without the survey: machine surfaces, their feet and station dots."""
    feet = [
        Part(f"feet {name}", feet_mesh(layout, feet), Role.FOOT, "surface", name) for name, feet in layout.feet.items()
    ]
    return shown([*machine_parts(layout), *feet, *station_parts(layout)])


def station_parts(layout: Layout) -> tuple[Part, ...]:
    """Dots at all stations, one part for each surface; cell array ``station`` counts into the layout."""
    parts = []
    names = list(layout.stations)
    for surface in dict.fromkeys(station.surface for station in layout.stations.values()):
        mine = np.array([i for i, name in enumerate(names) if layout.stations[name].surface == surface])
        marks = surface_marks(layout, tuple(names[i] for i in mine))
        marks.cell_data["station"] = mine[marks.cell_data["station"]]
        parts.append(Part(f"stations {surface}", marks, Role.STATION_MARK, "surface", surface))
    return tuple(parts)


def _shown_rows(plan: Plan, row: int) -> Indices:
    """Rows whose targets are drawn: one for each station, or only the chosen one where there are too many."""
    rows = first_rows(plan.geometry)
    if len(rows) <= MOST_TARGETS:
        return rows
    return np.array([row])


def plan_parts(plan: Plan, row: int = 0, state: RowState = NOMINAL, factor: float = 1.0) -> tuple[Part, ...]:
    """Everything of a plan that is drawn, the floor last.

    Parameters
    ----------
    row : int
        Reading toward which its emitter is turned; the other set-ups are turned toward their first one.
    state : RowState
        Errors of the beams to show; nominal: none.
    factor : float
        Beams, spots and swept planes leave their nominal place this much farther than in life.
    """
    parts = list(layout_parts(plan.layout))
    geometry = plan.geometry
    if len(geometry.rows):
        seen = plan.spots if state is NOMINAL else spots(geometry, state)
        paths = beam_paths(geometry, seen, plan.sight, state, factor)
        for number, setup in enumerate(geometry.rows.setups):
            mine = int(np.argmax(geometry.rows.setup == number))
            shot = row if geometry.rows.setup[row] == number else mine
            parts += emitter_parts(plan.layout, geometry, shot, state)
            sheet = swept_plane(geometry, setup, state, factor, shot)
            parts.append(Part(f"swept plane {setup}", sheet, Role.SWEPT_PLANE, "set-up", setup))
        parts += target_parts(plan.layout, geometry, seen, plan.sight, _shown_rows(plan, row), factor)
        parts += beam_parts(paths, drawn_radius(geometry, seen), thinned(paths, row))
    return shown([*parts, *floor_parts(bounds_of(parts))])
