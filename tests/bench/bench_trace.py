"""Traces through the whole train: all rows at once against one ray after the other, three sizes, the growth exponent.

The alternative is what one writes first: a list of faces, and one ray in plain Python that meets them in order. It
knows nothing of our model but where its faces stand and where the beam is aimed, which is prepared before its clock
starts, so that the two also check each other.

Run: python -m pytest tests/bench/bench_trace.py -o python_files='bench_*.py' -s
"""

from __future__ import annotations

import math
import time
from dataclasses import replace

import numpy as np
import pytest

from scenes.model.survey import LevelBy
from scenes.tracing.pentaprism import SLANT
from scenes.tracing.spots import aimed_azimuths, spots

SIZES = (1_000, 10_000, 100_000)
RAYS = 4_000  # its rate does not depend on the number of rays
X, Y, Z = np.eye(3)


# ---------------------------------------------------------------- one ray after the other


def minus(a, b):
    return (a[0] - b[0], a[1] - b[1], a[2] - b[2])


def along(a, s, d):
    return (a[0] + s * d[0], a[1] + s * d[1], a[2] + s * d[2])


def times(a, b):
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


def one_ray(origin, direction, faces):
    """End, direction and way of a ray that meets ``faces``: point, normal, None for a mirror, else ratio of indices.

    Glass counts by its length over its index.
    """
    way, index = 0.0, 1.0
    for point, normal, ratio in faces:
        cos = times(direction, normal)
        step = times(minus(point, origin), normal) / cos
        origin, way = along(origin, step, direction), way + step / index
        if ratio is None:
            direction = along(direction, -2.0 * cos, normal)
        elif ratio != 1.0:
            onward = math.copysign(math.sqrt(1.0 - ratio * ratio * (1.0 - cos * cos)), cos)
            scaled = (ratio * direction[0], ratio * direction[1], ratio * direction[2])
            direction = along(scaled, onward - ratio * cos, normal)
            index /= ratio
    return origin, direction, way


def spot_alone(detector, waist, start, direction, faces):
    """Reading h, v, pitch, yaw, beam radius and incidence of one ray at a detector: centre, facing, axis h, axis v."""
    centre, facing, axis_h, axis_v = detector
    end, direction, way = one_ray(start, direction, [*faces, (centre, facing, 1.0)])
    off, inward = minus(end, centre), -times(direction, facing)
    pitch, yaw = math.atan2(times(direction, axis_v), inward), math.atan2(times(direction, axis_h), inward)
    radius = waist[0] * math.hypot(1.0, way * waist[1] / (math.pi * waist[0] ** 2))
    return times(off, axis_h), times(off, axis_v), pitch, yaw, radius, math.acos(min(1.0, inward))


def base_rays(geometry, rows):
    """Each ray of a base with its faces: none."""
    turn = aimed_azimuths(geometry)
    for row in rows:
        c, s = math.cos(turn[row]), math.sin(turn[row])
        frame = geometry.launch_rotation[row]
        yield geometry.beam_origins()[0].tolist(), (frame @ [c, s, 0.0]).tolist(), []


def prism_rays(geometry, rows):
    """Each ray through a prism with its four faces, turned to the target."""
    turn, noses = aimed_azimuths(geometry), geometry.noses
    side, index = float(noses.aperture[0]), float(noses.index[0])
    slant = (math.cos(SLANT), math.sin(SLANT))
    faces = (  # frame of the prism: x in, y out
        ((-side / 2, 0, 0), (1, 0, 0), 1 / index), ((side / math.sqrt(2), 0, 0), (slant[0], slant[1], 0), None),
        ((0, -side / math.sqrt(2), 0), (-slant[1], -slant[0], 0), None), ((0, side / 2, 0), (0, 1, 0), index),
    )  # fmt: skip
    for row in rows:
        frame, centre = noses.frame[row], noses.centre[row]
        exit_ = math.cos(turn[row]) * frame[:, 2] - math.sin(turn[row]) * frame[:, 1]
        world = np.column_stack([frame[:, 0], exit_, np.cross(frame[:, 0], exit_)])
        placed = [
            ((centre + world @ point).tolist(), (world @ normal).tolist(), ratio) for point, normal, ratio in faces
        ]
        yield geometry.beam_origins()[row].tolist(), geometry.launch_rotation[row, :, 0].tolist(), placed


def plate_rays(geometry, rows):
    """Each ray through the plates before its target."""
    centres = geometry.detector_centres()
    for row in rows:
        direction, faces = geometry.launch_rotation[row, :, 0], []
        for k in range(geometry.plates.most):
            other = geometry.plates.row[row, k]
            if other >= 0:
                t, n = geometry.plates.thickness[row, k], float(geometry.plates.index[row, k])
                normal = -geometry.facing[other]
                faces += [(centres[other].tolist(), normal.tolist(), 1 / n),
                          ((centres[other] + t * normal).tolist(), normal.tolist(), n)]  # fmt: skip
        yield geometry.beam_origins()[row].tolist(), direction.tolist(), faces


# ---------------------------------------------------------------- surveys


def base_plane(beams):
    rng = np.random.default_rng(1)
    places = rng.uniform([-1.0, -4.0], [9.0, 4.0], (200, 2))
    stations = tuple(beams.station(f"S{i}", at) for i, at in enumerate(places))
    return beams.geometry(beams.layout(stations, base="base", level_by=LevelBy.VIAL)), base_rays


def prism_plane(beams):
    rng = np.random.default_rng(2)
    angle, radius = rng.uniform(0.0, 6.28, 200), rng.uniform(0.3, 6.0, 200)
    stations = tuple(
        beams.station(f"R{i}", (0.6 - beams.axis, -r * np.sin(a), beams.axis + r * np.cos(a)), normal=X, along=Z)
        for i, (a, r) in enumerate(zip(angle, radius, strict=True))
    )
    use = beams.prism({2.0: tuple(station.name for station in stations)}, sweeps=True)
    return beams.geometry(beams.layout(stations, prism=use)), prism_rays


def three_plates(beams):
    """Batches of three see-through targets and one behind them: beams that pass none, one, two and three plates."""
    glass = tuple(replace(beams.glass, name=f"g{i + 1}") for i in range(3))
    stations = tuple(beams.station(f"P{i}{j}", (i + 0.01 * j, 3e-3 * j)) for j in range(50) for i in range(4))
    names = tuple(each.name for each in glass)
    geometry = beams.geometry(beams.layout(stations, through=(*names, "t1"), glass=glass))
    return geometry, plate_rays


@pytest.mark.parametrize("survey", [base_plane, prism_plane, three_plates], ids=lambda each: each.__name__)
def test_trace(beams, survey):
    small, rays = survey(beams)
    spent = []
    for size in SIZES:
        geometry = small.chosen(np.resize(np.arange(len(small.rows)), size))
        rounds = max(1, 200_000 // size)
        began = time.process_time()
        for _ in range(rounds):
            seen = spots(geometry)
        spent.append((time.process_time() - began) / rounds)
        print(f"\n{survey.__name__}, {size} rows: {1e3 * spent[-1]:.2f} ms, {size / spent[-1]:.3g} rows/s", end="")
    few = np.arange(RAYS) % len(small.rows)
    parts = (small.detector_centres(), small.facing, small.axis_h, small.axis_v)
    detectors = [[part[row].tolist() for part in parts] for row in few.tolist()]
    prepared, waist = list(rays(small, few.tolist())), (float(small.waist_radius[0]), float(small.wavelength[0]))
    began = time.process_time()
    alone = [spot_alone(detector, waist, *ray) for detector, ray in zip(detectors, prepared, strict=True)]
    other = (time.process_time() - began) / RAYS
    exponent = np.polyfit(np.log(SIZES), np.log(spent), 1)[0]
    print(f"\n  one ray after the other: {1.0 / other:.3g} rays/s, ratio {other * SIZES[-1] / spent[-1]:.1f}; "
          f"cost grows with rows to the power {exponent:.2f}")  # fmt: skip
    seen = spots(small)
    m, names = len(small.rows), ("h", "v", "pitch", "yaw", "radius")
    ours = np.column_stack([np.broadcast_to(getattr(seen, name), m) for name in names])
    assert np.max(np.abs(ours[few] - np.array(alone)[:, :5])) < 1e-12
    assert np.max(np.abs(seen.incidence[few] - np.array(alone)[:, 5])) < 1e-7  # an arc cosine near 1
