"""Beams through a prism and three plates: ours against a general ray tracer and plain Python, with the growth.

Run: python -m pytest tests/bench/bench_trace_glass.py -o python_files='bench_*.py' -s
"""

from __future__ import annotations

import math
import sys
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parent))
from form_timing import growth, seconds

from scenes.tracing.pentaprism import through_pentaprism
from scenes.tracing.plates import through_plate
from scenes.vectors import unit

SIZES = (1_000, 10_000, 100_000)
FEW = 500  # rays of the alternatives, which take them one by one
SIDE, GLASS, WINDOW, THICK = 0.04, 1.5168, 1.457, 5e-3
X, Y, Z = np.eye(3)
STANDS = (0.2, 0.5, 1.1)  # of the plates, along the exit
NORMAL = unit(np.array([0.05, 1.0, -0.03]))
LEAN = np.cross(NORMAL, [1e-5, 0.0, 2e-5])


def beams(count: int) -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(0)
    direction = unit(X + rng.uniform(-0.01, 0.01, (count, 3)))
    return rng.uniform(-2e-3, 2e-3, (count, 3)) - 0.1 * direction, direction


def ours(origin: np.ndarray, direction: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    path = through_pentaprism(origin, direction, SIDE, GLASS, mirror=1e-5, pyramid=2e-5)
    at, along = path.points[..., 3, :], path.direction
    for stand in STANDS:
        at, along, _ = through_plate(at, along, stand * Y, NORMAL, THICK, WINDOW, LEAN)
    return at, along


def listed_faces() -> list[tuple[tuple[float, ...], tuple[float, ...], float]]:
    """Point, normal and index before over behind (0: a mirror) of every face, as numbers."""
    slant, root = math.pi / 8.0, SIDE / math.sqrt(2.0)
    turned = 3.0 * slant - 1e-5 - math.pi
    flat, back = math.cos(2e-5), unit(NORMAL + LEAN)
    second = (flat * math.cos(turned), flat * math.sin(turned), -math.sin(2e-5))
    faces = [
        ((-0.5 * SIDE, 0.0, 0.0), (1.0, 0.0, 0.0), 1.0 / GLASS),
        ((root, 0.0, 0.0), (math.cos(slant), math.sin(slant), 0.0), 0.0),
        ((0.0, -root, 0.0), second, 0.0),
        ((0.0, 0.5 * SIDE, 0.0), (0.0, 1.0, 0.0), GLASS),
    ]
    for stand in STANDS:
        faces.append(((0.0, stand, 0.0), tuple(NORMAL.tolist()), 1.0 / WINDOW))
        faces.append((tuple((stand * Y + THICK * NORMAL).tolist()), tuple(back.tolist()), WINDOW))
    return faces


def ray_by_ray(origin: np.ndarray, direction: np.ndarray) -> list[tuple[float, ...]]:
    """The same in plain Python numbers, one ray after the other."""
    faces, ends = listed_faces(), []
    for (ox, oy, oz), (dx, dy, dz) in zip(origin.tolist(), direction.tolist(), strict=True):
        for (px, py, pz), (nx, ny, nz), ratio in faces:
            across = dx * nx + dy * ny + dz * nz
            way = ((px - ox) * nx + (py - oy) * ny + (pz - oz) * nz) / across
            ox, oy, oz = ox + way * dx, oy + way * dy, oz + way * dz
            if ratio:
                keep, add = ratio, math.sqrt(1.0 - ratio**2 * (1.0 - across**2)) - ratio * across
            else:
                keep, add = 1.0, -2.0 * across
            dx, dy, dz = keep * dx + add * nx, keep * dy + add * ny, keep * dz + add * nz
        ends.append((ox, oy, oz, dx, dy, dz))
    return ends


def solids():
    """The same faces as bodies of a general ray tracer; a function that traces rays one after the other, in metres."""
    optical = pytest.importorskip("raysect.optical")
    material, primitive = (pytest.importorskip(f"raysect.{name}") for name in ("optical.material", "primitive"))
    tracer = pytest.importorskip("raysect.optical.loggingray").LoggingRay
    world, one = optical.World(), optical.ConstantSF(1.0)
    primitive.Sphere(1e5, parent=world, material=material.AbsorbingSurface())

    def block(point, outward, half=60.0, **more):
        z = unit(np.array(outward))
        x = unit(np.cross(Z, z))
        matrix = np.eye(4)
        matrix[:3] = np.column_stack([x, np.cross(z, x), z, 1e3 * np.array(point)])
        low, high = optical.Point3D(-half, -half, -100.0), optical.Point3D(half, half, 0.0)
        return primitive.Box(low, high, transform=optical.AffineMatrix3D(matrix.tolist()), **more)

    def body(first, last, index):
        glass = material.Dielectric(optical.ConstantSF(index), one, transmission_only=True)
        front, back = block(first[0], -np.array(first[1])), block(last[0], last[1])
        primitive.Intersect(front, back, parent=world, material=glass)

    faces = listed_faces()
    body(faces[0], faces[3], GLASS)
    for mirror in faces[1:3]:  # what stands behind a mirror, with the front toward the glass
        silver = material.Conductor(optical.ConstantSF(0.1), optical.ConstantSF(4.0))
        block(mirror[0], -np.array(mirror[1]), 22.0, parent=world, material=silver)
    for k in (4, 6, 8):
        body(faces[k], faces[k + 1], WINDOW)

    def trace(origin, direction):
        ends = []
        for at, along in zip((1e3 * origin).tolist(), direction.tolist(), strict=True):
            ray = tracer(optical.Point3D(*at), optical.Vector3D(*along), bins=1, extinction_prob=0.0)
            ray.trace(world)
            last = ray.log[-1].ray
            ends.append([*(1e-3 * p for p in (last.origin.x, last.origin.y, last.origin.z)), *last.direction])
        return ends

    return trace


def test_beams_through_glass():
    spent = []
    for count in SIZES:
        origin, direction = beams(count)
        spent.append(seconds(lambda o=origin, d=direction: ours(o, d), 7))
        print(f"\n{count} beams: {1e3 * spent[-1]:.2f} ms, {1e6 * spent[-1] / count:.3f} us each", end="")
    print(f"\ncost grows with the beams to the power {growth(SIZES, spent):.2f}")
    origin, direction = beams(FEW)
    here = np.hstack(ours(origin, direction))
    for name, other in (("plain Python", ray_by_ray), ("general ray tracer of solids", solids())):
        took = seconds(lambda other=other: other(origin, direction), 3) * SIZES[-1] / FEW
        apart = np.abs(np.array(other(origin, direction)) - here).max()
        print(f"{name}: {took:.2f} s for {SIZES[-1]}, ratio {took / spent[-1]:.0f}; ends apart by {apart:.1e} m")
        assert apart < 1e-11
