"""The picture of a plan: machine, floor, emitters, prisms, targets, beams and swept planes, in parts."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pyvista as pv

from ..checks.plan import Plan
from ..model.layout import Layout
from ..model.survey import Method
from ..tracing.spots import spots
from ..tracing.state import NOMINAL, RowState
from ..vectors import Flags, Indices, length
from .beams import beam_parts, beam_paths, drawn_radius, thinned
from .bent_beams import bent_beams
from .emitters import emitter_parts
from .feet import feet_mesh
from .machine import floor_parts, machine_parts
from .prisms import prism_parts
from .scene_parts import Part, Role, bounds_of, shown
from .station_marks import surface_marks
from .swept_plane import spindle_cone, sweeping_setups, swept_plane
from .targets import target_parts

__all__ = ["MOST_TARGETS", "layout_parts", "plan_parts", "stand_parts", "station_parts", "survey_parts"]

SAME_PLACE = 1.0e-3
"""Emitters nearer to each other than this [m] stand at one place."""

MOST_TARGETS = 250
"""More stations than this are drawn as dots, and only the chosen one carries its target."""


def layout_parts(layout: Layout) -> tuple[Part, ...]:
    """What stands in the shop without the survey: machine surfaces, their feet and station dots."""
    feet = [
        Part(f"feet {name}", feet_mesh(layout, feet), Role.FOOT, "surface", name) for name, feet in layout.feet.items()
    ]
    return shown([*machine_parts(layout), *feet, *station_parts(layout)])


def station_parts(layout: Layout) -> tuple[Part, ...]:
    """Dots at all stations on surfaces, one part for each; cell array ``station`` counts into the layout."""
    parts = []
    names = list(layout.stations)
    measured = dict.fromkeys(station.surface for station in layout.stations.values())
    for surface in [name for name in measured if name in layout.surfaces]:
        mine = np.array([i for i, name in enumerate(names) if layout.stations[name].surface == surface])
        marks = surface_marks(layout, tuple(names[i] for i in mine))
        marks.cell_data["station"] = mine[marks.cell_data["station"]]
        parts.append(Part(f"stations {surface}", marks, Role.STATION_MARK, "surface", surface))
    return tuple(parts)


def _shown_rows(plan: Plan, row: int, among: Flags) -> Indices:
    """Rows whose targets are drawn: one for each station, or only the chosen one where there are too many."""
    station = plan.geometry.rows.station[among]
    rows: Indices = np.nonzero(among)[0][np.unique(station, return_index=True)[1]]
    return rows if len(rows) <= MOST_TARGETS else np.array([row])


def _ghosts(parts: tuple[Part, ...], name: str) -> list[Part]:
    """``parts`` as they stand at another time, glass and all in one look."""
    return [replace(part, name=f"{name} {part.name}", role=Role.GHOST_STAND) for part in parts]


def stand_parts(plan: Plan, row: int, state: RowState = NOMINAL, factor: float = 1.0) -> tuple[Part, ...]:
    """Emitter and prism of the set-up of ``row``, as they stand for that reading, and ghosts of where else they stand.

    Ghosts are the emitter at the other end of a reversed line, and the prism at its other stops.
    """
    layout, geometry, rows = plan.layout, plan.geometry, plan.geometry.rows
    parts = list(emitter_parts(layout, geometry, row, state))
    mine = np.nonzero(rows.setup == rows.setup[row])[0]
    moved = length(geometry.launch_origin[mine] - geometry.launch_origin[row]) > SAME_PLACE
    if moved.any():
        parts += _ghosts(emitter_parts(layout, geometry, int(mine[moved][0]), state), "other end")
    through = mine[np.isin(mine, geometry.noses.rows)]
    if len(through):
        shot = row if row in through else int(through[0])
        parts += prism_parts(layout, geometry, shot, state, factor)
        for stop in np.unique(rows.stop[through]):
            if stop != rows.stop[shot]:
                other = int(through[rows.stop[through] == stop][0])
                parts += _ghosts(prism_parts(layout, geometry, other, state, factor), "other stop")
    return tuple(parts)


def plan_parts(
    plan: Plan, row: int = 0, state: RowState = NOMINAL, factor: float = 1.0, setups: tuple[str, ...] | None = None
) -> tuple[Part, ...]:
    """Everything of a plan that is drawn, the floor last.

    Parameters
    ----------
    row : int
        Reading for which its emitter and prism are turned; the other set-ups are turned for their first one.
    state : RowState
        Errors of the beams to show; nominal: none.
    factor : float
        Beams, spots, swept planes and prisms leave their nominal place this much farther than in life.
    setups : tuple of str, optional
        Only these set-ups, with their beams and targets; all where not given.
    """
    parts = list(layout_parts(plan.layout))
    if len(plan.geometry.rows):
        parts += survey_parts(plan, row, state, factor, setups)
    return shown([*parts, *floor_parts(bounds_of(parts))])


def survey_parts(
    plan: Plan, row: int = 0, state: RowState = NOMINAL, factor: float = 1.0, setups: tuple[str, ...] | None = None
) -> tuple[Part, ...]:
    """What the survey brings into the shop: devices, beams, swept planes; parameters as for ``plan_parts``."""
    geometry, rows = plan.geometry, plan.geometry.rows
    chosen = [number for number, name in enumerate(rows.setups) if setups is None or name in setups]
    among = np.isin(rows.setup, chosen)
    seen = plan.spots if state is NOMINAL else spots(geometry, state)
    sweeping = sweeping_setups(geometry)
    parts: list[Part] = []
    for number in chosen:
        setup = rows.setups[number]
        shot = row if rows.setup[row] == number else int(np.argmax(rows.setup == number))
        parts += stand_parts(plan, shot, state, factor)
        if setup in sweeping:
            sheet = swept_plane(geometry, setup, state, factor, shot)
            parts.append(Part(f"swept plane {setup}", sheet, Role.SWEPT_PLANE, "set-up", setup))
        elif factor != 1.0 and plan.layout.setups[setup].method is Method.SPINDLE:
            cone = spindle_cone(geometry, setup, state, factor, shot)
            parts.append(Part(f"swept plane {setup}", cone, Role.SWEPT_PLANE, "set-up", setup))
    parts += target_parts(plan.layout, geometry, seen, plan.sight, _shown_rows(plan, row, among), factor)
    paths = beam_paths(geometry, seen, plan.sight, state, factor)
    beams = thinned(paths, row)
    parts += beam_parts(paths, drawn_radius(geometry, seen), beams[among[beams]])
    if state is NOMINAL and factor == 1.0:
        bent = bent_beams(plan, setups)
        parts.append(Part(str(Role.BEAM_BENT), pv.PolyData() if bent is None else bent.mesh, Role.BEAM_BENT))
    return shown(parts)
