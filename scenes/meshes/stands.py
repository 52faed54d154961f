"""Stands of devices: tripods, pillars, stages, V-blocks. Plain shapes of our own; heights are those of the layout."""

from __future__ import annotations

import numpy as np

from ..shapes import Triangles, box, ring
from .solids import copies, extruded, tubes, united

__all__ = ["SPREAD", "pillar", "stage", "tripod", "v_block"]

HEAD_RADIUS = 0.05
HEAD_HEIGHT = 0.06
SPREAD = 0.42
"""Feet of a tripod stand this share of its height from its middle."""

PLATE_SHARE = 0.27
"""Thickness of either plate of a stage, as a share of its height."""

V_LENGTH = 0.035


def tripod(top: float, heading: float) -> Triangles:
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


def pillar(top: float, radius: float = 0.02) -> Triangles:
    """Plain post with plates at foot and head, from z = 0 to ``top`` [m]."""
    plate = min(0.012, 0.2 * top)
    foot, head = ring(3.0 * radius, 0.0, 0.0, plate, 32), ring(2.0 * radius, 0.0, top - plate, top, 32)
    return united(ring(radius, 0.0, 0.0, top, 24), foot, head)


def stage(height: float, length: float, width: float) -> Triangles:
    """Fine adjustment from z = 0 to ``height``: two plates on four screws, with two knobs at the side [m]."""
    plate = PLATE_SHARE * height
    screw = ring(0.05 * width, 0.0, plate, height - plate, 16)
    places = np.array([[x, y, 0.0] for x in (-0.4 * length, 0.4 * length) for y in (-0.36 * width, 0.36 * width)])
    knob = ring(0.2 * height, 0.0, 0.0, 0.14 * width, 20)
    sideways = np.array([[1.0, 0.0, 0.0], [0.0, 0.0, 1.0], [0.0, -1.0, 0.0]])  # z of the knob along y
    knobs = copies(knob, sideways, np.array([[x * length, 0.4 * width, 0.5 * height] for x in (-0.22, 0.22)]))[0]
    plates = box(length, width, 0.0, plate), box(0.94 * length, 0.94 * width, height - plate, height)
    return united(*plates, copies(screw, np.eye(3), places)[0], knobs)


def v_block(radius: float, axis_height: float) -> Triangles:
    """Block with a groove of 90 degrees that carries a shank of ``radius`` along x, ``axis_height`` over z = 0 [m]."""
    apex = max(axis_height - np.sqrt(2.0) * radius, 0.05 * axis_height)
    top = axis_height - 0.3 * radius
    wide = max(1.35 * radius, top - apex + 0.15 * radius)
    half = [(0.0, 0.0), (wide, 0.0), (wide, top), (top - apex, top), (0.0, apex)]
    mirrored = [(-y, z) for y, z in reversed(half)]
    solid = united(*(extruded(outline, -0.5 * V_LENGTH, 0.5 * V_LENGTH) for outline in (half, mirrored)))
    return Triangles(solid.vertices[:, [2, 0, 1]], solid.faces)  # (y, z, x) to (x, y, z): an even exchange
