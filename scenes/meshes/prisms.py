"""Prisms in their turnable noses. The glass has its true shape and place; what holds it is a plain shape of our own."""

from __future__ import annotations

import numpy as np

from ..frames import Pose
from ..model.devices import Prism
from ..model.layout import Layout
from ..shapes import Triangles, box, ring
from ..tracing.geometry import SurveyGeometry
from ..tracing.places import pose_of
from ..tracing.spots import aimed_azimuths, spots
from ..tracing.state import NOMINAL, RowState
from ..tracing.train import FROM_NOSE_COLUMNS
from ..vectors import Floats, rotation_between, rotation_from_vector, unit
from .scene_parts import Part, Role
from .solids import extruded, mesh_of, shifted, united
from .stands import pillar

__all__ = ["GLASS_OUTLINE", "nose_pose", "prism_parts"]

_FAR = 0.5 + np.tan(np.pi / 8.0)  # both mirrors end where a beam as wide as the clear side does
GLASS_OUTLINE = np.array([[-0.5, -0.5], [0.5, -_FAR], [_FAR, -0.5], [0.5, 0.5], [-0.5, 0.5]])
"""Section of a pentaprism of clear side 1 in its own frame, x in and y out: entrance on the left, exit above."""

BACKING = 0.10
"""Plates behind the mirrors, and the cheek, are this share of the clear side thick."""

RING_OUTER, RING_INNER, RING_LENGTH = 0.98, 0.74, 0.34
"""Turning ring around the entrance, in clear sides."""

LAUNCH_FIELDS = (
    "tilt_x", "tilt_y", "tilt_z", "shift", "lift", "cone", "cone_side", "offset_y", "offset_z",
)  # fmt: skip
"""What of a state moves the beam before it comes to the prism, from the first reading on."""

MOST_TURN = 0.35
"""Tilts are not drawn larger than this [rad], however much they are enlarged."""


def nose_pose(geometry: SurveyGeometry, row: int, state: RowState = NOMINAL, factor: float = 1.0) -> tuple[Pose, float]:
    """``world_from_nose`` of one row, and the turn of the nose [rad]; errors of the state enlarged by ``factor``.

    The crew centres a nose on the beam as it stands, so it follows what moves the emitter.
    """
    k = int(np.searchsorted(geometry.noses.rows, row))
    count = len(geometry.rows)

    def of(name: str) -> float:
        return float(np.broadcast_to(getattr(state, name), (count,))[row])

    follow, turned = _on_beam(geometry, row, state, factor)
    frame = turned @ geometry.noses.frame[k]
    moved = factor * np.array([of("prism_x"), of("prism_y"), of("prism_z")])
    tilt = np.clip(factor * np.array([0.0, of("prism_ry"), of("prism_rz")]), -MOST_TURN, MOST_TURN)
    turn = float(np.broadcast_to(aimed_azimuths(geometry), (count,))[row])
    turn += float(np.clip(factor * of("prism_turn"), -MOST_TURN, MOST_TURN))
    return Pose(frame @ rotation_from_vector(tilt), geometry.noses.centre[k] + follow + frame @ moved), turn


def _on_beam(geometry: SurveyGeometry, row: int, state: RowState, factor: float) -> tuple[Floats, Floats]:
    """What the beam of one row stands off its nominal place at the prism (3,), and its turn (3, 3), both enlarged."""
    launch = {name: getattr(state, name) for name in LAUNCH_FIELDS}
    if not any(np.any(value) for value in launch.values()):
        return np.zeros(3), np.eye(3)
    still, moved = (spots(geometry, RowState(**each)).train.corners for each in ({}, launch))
    still, moved = (np.broadcast_to(part, (len(geometry.rows), *part.shape[-2:]))[row, :2] for part in (still, moved))
    drawn = still + factor * (moved - still)
    ways = [unit(corners[1] - corners[0]) for corners in (still, drawn)]
    off = drawn[1] - still[1]
    return off - (off @ ways[0]) * ways[0], rotation_between(*ways)


def _about_x(turn: float) -> Floats:
    c, s = np.cos(turn), np.sin(turn)
    return np.array([[1.0, 0.0, 0.0], [0.0, c, -s], [0.0, s, c]])


def _holder(side: float) -> Triangles:
    """Plates behind both mirrors and the blind face, and a cheek on one side; frame of the prism."""
    plates = []
    corners = side * GLASS_OUTLINE
    for start in (0, 1, 2):
        one, two = corners[start], corners[start + 1]
        out = np.array([two[1] - one[1], one[0] - two[0]])
        out = BACKING * side * out / np.linalg.norm(out)
        plates.append(extruded([one, one + out, two + out, two], -0.56 * side, 0.56 * side))
    cheek = extruded(1.06 * (corners - corners.mean(axis=0)) + corners.mean(axis=0), -0.62 * side, -0.52 * side)
    return united(*plates, cheek)


def _turning_ring(side: float) -> Triangles:
    """Ring about the incoming beam with a mark for turn 0; frame of the nose turned with the prism."""
    band = ring(RING_OUTER * side, RING_INNER * side, 0.0, RING_LENGTH * side, 48)
    along_x = np.array([[0.0, 0.0, 1.0], [0.0, 1.0, 0.0], [-1.0, 0.0, 0.0]])
    lying = Triangles(band.vertices @ along_x.T, band.faces)
    mark = shifted(box(0.5 * RING_LENGTH * side, 0.06 * side, 0.0, 0.1 * side), 0.5 * RING_LENGTH * side, 0.0,
                   RING_OUTER * side)  # fmt: skip
    return shifted(united(lying, mark), -(0.52 + RING_LENGTH) * side, 0.0, 0.0)


def _saddle(prism: Prism) -> Triangles:
    """Block under the ring, with a foot plate ``prism.height`` below the beam; frame of the nose, not turned."""
    side = prism.aperture
    x, top = -(0.52 + 0.5 * RING_LENGTH) * side, -0.9 * side
    plate = min(0.008, 0.2 * prism.height)
    block = box(RING_LENGTH * side, 1.1 * side, min(-prism.height, top - plate), top)
    foot = box(1.6 * side, 1.6 * side, -prism.height, -prism.height + plate)
    return united(shifted(block, x, 0.0, 0.0), shifted(foot, x, 0.0, 0.0))


def prism_parts(
    layout: Layout, geometry: SurveyGeometry, row: int, state: RowState = NOMINAL, factor: float = 1.0
) -> tuple[Part, ...]:
    """Glass, holder, turning ring and saddle of the prism in the beam of ``row``; nothing where there is none.

    ``factor`` enlarges what the state moves and tilts of the nose.
    """
    if row not in geometry.noses.rows:
        return ()
    setup = layout.setups[geometry.rows.setups[geometry.rows.setup[row]]]
    assert setup.prism is not None
    prism = layout.prisms[setup.prism.prism]
    nose, turn = nose_pose(geometry, row, state, factor)
    turned = Pose(nose.rotation @ _about_x(turn), nose.origin)
    glass_pose = Pose(turned.rotation @ FROM_NOSE_COLUMNS, nose.origin)
    side = prism.aperture
    glass = extruded(side * GLASS_OUTLINE, -0.5 * side, 0.5 * side)
    stop = setup.prism.stops[int(geometry.rows.stop[row])].name
    pieces = [
        ("glass", glass.moved(glass_pose), Role.GLASS),
        ("prism", _holder(side).moved(glass_pose), Role.PRISM),
        ("ring", _turning_ring(side).moved(turned), Role.PRISM_RING),
        ("saddle", _stood(layout, setup.on, prism, nose), Role.BRACKET),
    ]
    return tuple(
        Part(f"{word} {setup.name} {stop}", mesh_of(solid), role, "set-up", setup.name) for word, solid, role in pieces
    )


def _stood(layout: Layout, place: str, prism: Prism, nose: Pose) -> Triangles:
    """Saddle of the nose, upright as the emitter stands, and a pillar from what that stands on."""
    support = pose_of(layout, place)
    up = support.rotation[:, 2] - (support.rotation[:, 2] @ nose.rotation[:, 0]) * nose.rotation[:, 0]
    if np.linalg.norm(up) < 0.5:
        up = nose.rotation[:, 2]
    up = up / np.linalg.norm(up)
    x = nose.rotation[:, 0]
    upright = Pose(np.column_stack([x, np.cross(up, x), up]), nose.origin)
    solids = [_saddle(prism).moved(upright)]
    middle = upright.points(np.array([-(0.52 + 0.5 * RING_LENGTH) * prism.aperture, 0.0, -prism.height]))
    foot = support.inverse().points(middle)
    if foot[2] > 2e-3 and up @ support.rotation[:, 2] > 0.99:
        solids.append(pillar(foot[2], 0.012).moved(Pose(support.rotation, support.points(foot * [1.0, 1.0, 0.0]))))
    return united(*solids)
