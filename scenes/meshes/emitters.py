"""Emitters on bases, stages, V-blocks and tripods, or in a spindle.

Generic shapes of our own: only heights and places are those of the layout.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..frames import Pose, turn_about_z
from ..model.layout import Layout
from ..model.survey import Method, Setup
from ..shapes import Triangles, box, ring
from ..tracing.geometry import SurveyGeometry
from ..tracing.places import pose_of
from ..tracing.spots import aimed_azimuths
from ..tracing.state import NOMINAL, RowState
from ..vectors import Floats
from .scene_parts import Part, Role
from .solids import mesh_of, shifted, united
from .stands import pillar, stage, tripod, v_block

__all__ = ["EXIT_AHEAD", "HOUSING_LENGTH", "SPINDLE_AHEAD", "emitter_parts"]

HOUSING_LENGTH = 0.19
HOUSING_WIDTH = 0.085
EXIT_AHEAD = 0.06
"""On a base the exit port lies this far [m] before the axis of turning."""

SPINDLE_AHEAD = 0.12
"""In a spindle the emitter stands out this far [m] before the face."""

PORT_RADIUS = 0.011
BASE_RADIUS = 0.075
FLANGE_RADIUS = 0.052
LEAST_STAND = 2.0e-3
"""Less room than this [m] under an emitter needs no stand."""

_FORWARD = np.array([[0.0, 0.0, 1.0], [0.0, 1.0, 0.0], [-1.0, 0.0, 0.0]])
"""Turns a solid about z into one about +x."""

Piece = tuple[str, Triangles, Role]
"""Word for the name, solid in the world, role."""


def _forward(solid: Triangles) -> Triangles:
    return Triangles(solid.vertices @ _FORWARD.T, solid.faces)


def _is_round(kind: str) -> bool:
    return "cylind" in kind


def _shank_radius(beam_height: float) -> float:
    return min(0.62 * beam_height, 0.5 * HOUSING_WIDTH)


def _housing(kind: str, beam_height: float) -> tuple[Triangles, Triangles | None]:
    """Housing with its exit at x = 0, +x along the beam, z = 0 its mounting side; and V-blocks under a round one."""
    if not _is_round(kind):
        block = box(HOUSING_LENGTH, HOUSING_WIDTH, 0.0, beam_height + max(0.03, 0.5 * beam_height))
        return shifted(block, -0.5 * HOUSING_LENGTH, 0.0, 0.0), None
    radius = _shank_radius(beam_height)
    shank = shifted(_forward(ring(radius, 0.0, -HOUSING_LENGTH, 0.0, 40)), 0.0, 0.0, beam_height)
    blocks = [shifted(v_block(radius, beam_height), share * HOUSING_LENGTH, 0.0, 0.0) for share in (-0.75, -0.25)]
    return shank, united(*blocks)


def _port(beam_height: float) -> Triangles:
    """Ring around the exit of the beam on the front of the housing."""
    rim = ring(PORT_RADIUS, 0.5 * PORT_RADIUS, -0.004, 0.008, 32)
    return shifted(_forward(rim), 0.0, 0.0, beam_height)


def _base(height: float) -> Triangles:
    """Base below the mounting side: a drum with a wider foot and a turning plate."""
    waist = [(BASE_RADIUS, 0.0, 0.3), (0.8 * BASE_RADIUS, 0.3, 0.75), (0.92 * BASE_RADIUS, 0.75, 1.0)]
    return united(*(ring(radius, 0.0, low * height, high * height, 48) for radius, low, high in waist))


@dataclass(frozen=True, slots=True, eq=False)
class _Stood:
    """Pieces of an emitter, and the point under which its stand ends, with the heading of the beam; world."""

    pieces: list[Piece]
    bottom: Floats
    heading: Floats


def _on_base(layout: Layout, geometry: SurveyGeometry, setup: Setup, row: int, state: RowState) -> _Stood:
    emitter, base = layout.emitters[setup.emitter], layout.bases[setup.base]
    turn = float(np.broadcast_to(aimed_azimuths(geometry, state), (len(geometry.rows),))[row])
    turned = Pose(geometry.launch_rotation[row] @ turn_about_z(turn), geometry.launch_origin[row])
    seat = turned @ Pose(np.eye(3), np.array([EXIT_AHEAD, 0.0, base.height]))
    pieces = _seated(emitter.kind, emitter.beam_height, seat)
    pieces.append(("base", _base(base.height).moved(turned), Role.BASE))
    return _Stood(pieces, geometry.launch_origin[row], turned.rotation[:, 0])


def _seated(kind: str, beam_height: float, seat: Pose) -> list[Piece]:
    """Housing, exit port and V-blocks on a seat; its x runs along the beam and begins at the exit."""
    housing, blocks = _housing(kind, beam_height)
    pieces = [
        ("emitter", housing.moved(seat), Role.EMITTER), ("exit port", _port(beam_height).moved(seat), Role.EXIT_PORT)
    ]  # fmt: skip
    if blocks is not None:
        pieces.append(("V-blocks", blocks.moved(seat), Role.V_BLOCK))
    return pieces


def _on_line(layout: Layout, geometry: SurveyGeometry, setup: Setup, row: int) -> _Stood:
    """Emitter whose beam leaves it where the line starts, with the stage that it may stand on."""
    emitter = layout.emitters[setup.emitter]
    seat = Pose(geometry.launch_rotation[row], geometry.launch_origin[row]) @ Pose(
        np.eye(3), np.array([0.0, 0.0, -emitter.beam_height])
    )
    pieces = _seated(emitter.kind, emitter.beam_height, seat)
    middle = np.array([-0.5 * HOUSING_LENGTH, 0.0, 0.0])
    if setup.stage:
        height = layout.stages[setup.stage].height
        middle = middle - [0.0, 0.0, height]
        under = stage(height, 1.08 * HOUSING_LENGTH, 1.2 * HOUSING_WIDTH).moved(seat @ Pose(np.eye(3), middle))
        pieces.append(("stage", under, Role.STAGE))
    return _Stood(pieces, seat.points(middle), seat.rotation[:, 0])


def _in_spindle(layout: Layout, geometry: SurveyGeometry, setup: Setup, row: int) -> list[Piece]:
    """Round emitter in a flange on the face of a spindle, with a key that turns with it, and marks of all turns."""
    emitter = layout.emitters[setup.emitter]
    launch = Pose(geometry.launch_rotation[row], geometry.launch_origin[row])
    radius = _shank_radius(emitter.beam_height)
    shank = _forward(ring(radius, 0.0, 0.0, SPINDLE_AHEAD, 40))
    port = shifted(_port(0.0), SPINDLE_AHEAD, 0.0, 0.0)
    flange = _forward(ring(max(FLANGE_RADIUS, 1.5 * radius), radius, 0.0, 0.014, 48))
    key = shifted(box(0.5 * SPINDLE_AHEAD, 0.25 * radius, 0.0, 0.3 * radius), 0.6 * SPINDLE_AHEAD, 0.0, 0.97 * radius)
    mine = geometry.rows.setup == geometry.rows.setup[row]
    turns = np.unique(np.round(geometry.rows.turn[mine], 6))
    tick = shifted(box(0.006, 0.005, 0.0, 0.012), 0.016, 0.0, max(FLANGE_RADIUS, 1.5 * radius) - 0.014)
    ticks = united(*(_turned_about_x(tick, turn) for turn in turns))
    return [
        ("emitter", united(shank, _turned_about_x(key, geometry.turn[row])).moved(launch), Role.EMITTER),
        ("exit port", port.moved(launch), Role.EXIT_PORT),
        ("flange", flange.moved(launch), Role.V_BLOCK),
        ("turns", ticks.moved(launch), Role.CLOCK_MARK),
    ]


def _turned_about_x(solid: Triangles, angle: float) -> Triangles:
    c, s = np.cos(angle), np.sin(angle)
    return Triangles(solid.vertices @ np.array([[1.0, 0.0, 0.0], [0.0, c, s], [0.0, -s, c]]), solid.faces)


def _stand(layout: Layout, setup: Setup, stood: _Stood) -> list[Piece]:
    """Tripod or pillar from what the set-up stands on to the foot of base, stage or housing."""
    support = pose_of(layout, setup.on)
    foot = support.inverse().points(stood.bottom)
    if foot[2] < LEAST_STAND:
        return []
    heading = support.rotation.T @ stood.heading
    angle = float(np.arctan2(heading[1], heading[0]))
    solid = tripod(foot[2], angle) if setup.mount.kind == "tripod" else pillar(foot[2])
    ground = Pose(support.rotation, support.points(foot * [1.0, 1.0, 0.0]))
    return [("stand", solid.moved(ground), Role.TRIPOD)]


def emitter_parts(layout: Layout, geometry: SurveyGeometry, row: int, state: RowState = NOMINAL) -> tuple[Part, ...]:
    """Housing, exit port and all that carries them, of the set-up of one reading.

    A base is turned toward its target; a line stands at the end from which the reading is taken; in a spindle the key
    on the housing shows its turn.
    """
    setup = layout.setups[geometry.rows.setups[geometry.rows.setup[row]]]
    if setup.method is Method.SPINDLE:
        pieces = _in_spindle(layout, geometry, setup, row)
    else:
        on_base = setup.method is Method.BASE_PLANE
        stood = _on_base(layout, geometry, setup, row, state) if on_base else _on_line(layout, geometry, setup, row)
        pieces = [*stood.pieces, *_stand(layout, setup, stood)]
    return tuple(
        Part(f"{word} {setup.name}", mesh_of(solid), role, "set-up", setup.name) for word, solid, role in pieces
    )
