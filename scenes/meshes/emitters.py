"""Emitter on its rotary base on its tripod. Generic shapes: only heights and places are those of the layout."""

from __future__ import annotations

import numpy as np

from ..frames import Pose, turn_about_z
from ..model.layout import Layout
from ..model.survey import Setup
from ..shapes import Triangles, box, ring
from ..tracing.geometry import SurveyGeometry
from ..tracing.places import pose_of
from ..tracing.spots import aimed_azimuths
from ..tracing.state import NOMINAL, RowState
from ..vectors import Floats
from .scene_parts import Part, Role
from .solids import copies, mesh_of, shifted, tubes, united

__all__ = ["emitter_parts"]

HOUSING_LENGTH = 0.19
HOUSING_WIDTH = 0.085
EXIT_AHEAD = 0.06
"""The exit port lies this far [m] before the axis of turning."""

PORT_RADIUS = 0.011
BASE_RADIUS = 0.075
HEAD_RADIUS = 0.05
HEAD_HEIGHT = 0.06
SPREAD = 0.42
"""Feet of a tripod stand this share of its height from its middle."""

_FORWARD = np.array([[0.0, 0.0, 1.0], [0.0, 1.0, 0.0], [-1.0, 0.0, 0.0]])
"""Turns a solid about z into one about +x."""


def _housing(kind: str, beam_height: float) -> Triangles:
    """Housing in the frame of the beam: +x along the beam, z = 0 the mounting side."""
    middle = EXIT_AHEAD - 0.5 * HOUSING_LENGTH
    if "cylind" in kind:
        radius = min(0.62 * beam_height, 0.5 * HOUSING_WIDTH)
        shank = ring(radius, 0.0, EXIT_AHEAD - HOUSING_LENGTH, EXIT_AHEAD, 32)
        lying = shifted(Triangles(shank.vertices @ _FORWARD.T, shank.faces), 0.0, 0.0, beam_height)
        saddle = box(0.45 * HOUSING_LENGTH, 1.5 * radius, 0.0, beam_height - 0.4 * radius)
        return united(lying, shifted(saddle, middle, 0.0, 0.0))
    block = box(HOUSING_LENGTH, HOUSING_WIDTH, 0.0, beam_height + max(0.03, 0.5 * beam_height))
    return shifted(block, middle, 0.0, 0.0)


def _port(beam_height: float) -> Triangles:
    """Ring around the exit of the beam on the front of the housing."""
    rim = ring(PORT_RADIUS, 0.5 * PORT_RADIUS, EXIT_AHEAD - 0.004, EXIT_AHEAD + 0.008, 32)
    return shifted(Triangles(rim.vertices @ _FORWARD.T, rim.faces), 0.0, 0.0, beam_height)


def _base(height: float) -> Triangles:
    """Base below the mounting side: a drum with a wider foot and a turning plate."""
    waist = [(BASE_RADIUS, 0.0, 0.3), (0.8 * BASE_RADIUS, 0.3, 0.75), (0.92 * BASE_RADIUS, 0.75, 1.0)]
    return united(*(ring(radius, 0.0, low * height, high * height, 48) for radius, low, high in waist))


def _tripod(top: float, heading: float) -> Triangles:
    """Three-legged stand from z = 0 to ``top``; one leg points against ``heading`` [rad]."""
    head = min(HEAD_HEIGHT, 0.3 * top)
    angle = heading + np.pi + 2.0 * np.pi / 3.0 * np.arange(3)
    outward = np.column_stack([np.cos(angle), np.sin(angle), np.zeros(3)])
    hip = 0.7 * HEAD_RADIUS * outward + [0.0, 0.0, top - 0.6 * head]
    foot = max(SPREAD * top, 1.2 * HEAD_RADIUS) * outward
    thick = min(0.016, 0.08 * top)
    knee = hip + 0.55 * (foot - hip)
    upper = tubes(np.stack([hip, knee], axis=1), thick, 12)[0]
    ankle = foot + np.array([0.0, 0.0, 0.62 * thick])
    lower = tubes(np.stack([hip, ankle], axis=1), 0.62 * thick, 12)[0]
    pads = copies(ring(1.6 * thick, 0.0, 0.0, thick, 16), np.eye(3), foot)[0]
    shaft = ring(0.5 * HEAD_RADIUS, 0.0, max(0.0, top - 0.35 * top), top - 0.5 * head, 24)
    plate = ring(HEAD_RADIUS, 0.0, top - head, top, 32)
    return united(upper, lower, pads, shaft, plate)


def _pillar(top: float) -> Triangles:
    """Plain post with a foot plate, from z = 0 to ``top``."""
    return united(ring(0.02, 0.0, 0.0, top, 24), ring(0.06, 0.0, 0.0, min(0.012, 0.2 * top), 32))


def _turned_base(geometry: SurveyGeometry, state: RowState, row: int) -> Pose:
    """world_from_beam of one row: at the foot of the base, z its axis, x the heading of the beam."""
    heading = float(np.broadcast_to(aimed_azimuths(geometry, state), (len(geometry.rows),))[row])
    return Pose(geometry.launch_rotation[row] @ turn_about_z(heading), geometry.launch_origin[row])


def _stand_heading(layout: Layout, setup: Setup, toward: Floats) -> float:
    """Heading of ``toward`` (world) in the frame of what the set-up stands on, rad."""
    local = pose_of(layout, setup.on).rotation.T @ toward
    return float(np.arctan2(local[1], local[0]))


def emitter_parts(layout: Layout, geometry: SurveyGeometry, row: int, state: RowState = NOMINAL) -> tuple[Part, ...]:
    """Housing, exit port, base and stand of the set-up of one reading, turned toward its target."""
    setup = layout.setups[geometry.rows.setups[geometry.rows.setup[row]]]
    emitter, base = layout.emitters[setup.emitter], layout.bases[setup.base]
    turned = _turned_base(geometry, state, row)
    seat = turned @ Pose(np.eye(3), np.array([0.0, 0.0, base.height]))
    support = pose_of(layout, setup.on)
    ground = Pose(support.rotation, support.points(setup.at))
    parts = [
        ("emitter", _housing(emitter.kind, emitter.beam_height).moved(seat), Role.EMITTER),
        ("exit port", _port(emitter.beam_height).moved(seat), Role.EXIT_PORT),
        ("base", _base(base.height).moved(turned), Role.BASE),
    ]
    if setup.mount.height > 0.0:
        heading = _stand_heading(layout, setup, turned.rotation[:, 0])
        stand = _tripod(setup.mount.height, heading) if setup.mount.kind == "tripod" else _pillar(setup.mount.height)
        parts.append(("stand", stand.moved(ground), Role.TRIPOD))
    return tuple(
        Part(f"{word} {setup.name}", mesh_of(solid), role, "set-up", setup.name) for word, solid, role in parts
    )
