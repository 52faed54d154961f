"""Laws of the whole train: the chain of corners, see-through targets, rigid motions, trials, chosen rows.

Frame of the surveys: the beam starts at [-1.4, 0], 0.15 above the plate, and runs along x; y is left, z up.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from scenes.frames import Pose, turn_about_z
from scenes.model.layout import Air
from scenes.model.mounts import Mount
from scenes.model.survey import LevelBy
from scenes.model.truth import Truth
from scenes.tracing.beam import beam_radius
from scenes.tracing.geometry import CHANNELS
from scenes.tracing.paths import paths_of, pieces_of
from scenes.tracing.sensitivity import STEPS
from scenes.tracing.spots import spots
from scenes.tracing.state import FIELDS, NOMINAL, changed
from scenes.tracing.sweep import state_at
from scenes.uncertainty.simulate import simulated
from scenes.vectors import dot, length, rotation_from_vector, unit

TRIALS = 1000
ROUNDING = 2e-14  # metres, of places some metres from the origin
PICOMETRE = 1e-12
NANOMETRE = 1e-9
LEFT = np.array([0.0, 1.0, 0.0])
METHODS = ("base plane", "line in a V", "line square to it", "plane of a prism", "spindle", "see-through", "bore")


def drawn(seed, size, count=1):
    """``count`` arrays (TRIALS, 1) of even random numbers within ``size`` either way."""
    values = np.random.default_rng(seed).uniform(-size, size, (count, TRIALS, 1))
    return values[0] if count == 1 else values


def made(beams, method, **changes):
    """A small survey by one of the methods."""
    quarters = tuple(np.arange(4) * np.pi / 2.0)
    datum = tuple(beams.station(n, (x, 0.0), is_datum=True) for n, x in (("near", -1.0), ("far", 2.6)))
    across = tuple(beams.station(f"Q{i + 1}", (0.6, y), along=LEFT) for i, y in enumerate((0.5, -0.4, 2.0)))
    names = tuple(station.name for station in across)
    match method:
        case "base plane":
            places = ((0.0, 1.0), (1.0, -0.7), (2.0, 0.3), (-0.9, -1.5))
            stations = tuple(beams.station(f"S{i + 1}", at) for i, at in enumerate(places))
            asked = {"base": "base", "level_by": LevelBy.VIAL}
        case "line in a V":
            stations, asked = beams.line(0.5, 2.0, 5.0), {"reversed": True, "again": ("P1",)}
        case "line square to it":
            stations, use = (*datum, across[0], across[2]), beams.prism({2.0: ("Q1", "Q3")}, -np.pi / 2.0)
            asked = {"near": "near", "far": "far", "reversed": True, "prism": use}
        case "plane of a prism":
            stations = (*datum, *across)
            asked = {"near": "near", "far": "far", "prism": beams.prism({2.0: names}, sweeps=True)}
        case "spindle":
            stations, asked = beams.line(0.4, 1.1), {"clocks": quarters}
        case "see-through":
            stations, asked = (
                beams.line(1.0, 2.5, 4.0, 6.0, 7.0),
                {"through": ("g1", "g2", "t1"), "glass": glasses(beams)},
            )
        case _:
            discs = Mount("discs", 0.0, 0.0, 0.0, 0.0, 0.0)
            places = ((-1.0, 0.0, beams.axis), (2.0, 0.0, beams.axis))
            stations = tuple(
                beams.station(f"B{i + 1}", at, mount=discs, clocks=quarters) for i, at in enumerate(places)
            )
            asked = {}
    return beams.layout(stations, **asked, **changes)


def glasses(beams, *thickness):
    """See-through targets ``g1``, ``g2`` ... of different glass, or of the ``thickness`` stated."""
    sizes = thickness or (3e-3, 8e-3)
    return tuple(replace(beams.glass, name=f"g{i + 1}", thickness=t, index=1.5 + 0.1 * i) for i, t in enumerate(sizes))


def wild(geometry, seed, trials=()):
    """A state in which nothing is nominal, each field some steps off; ``trials`` are its leading axes."""
    rng, state = np.random.default_rng(seed), NOMINAL
    for name in FIELDS:
        state = changed(state, name, 5.0 * STEPS[name] * rng.uniform(-1.0, 1.0, (*trials, len(geometry.rows))))
    return state


def channels(seen, m):
    return np.stack([np.broadcast_to(getattr(seen, name), (*seen.h.shape[:-1], m)) for name in CHANNELS])


# ---------------------------------------------------------------- the chain of corners


@pytest.mark.parametrize("method", METHODS)
@pytest.mark.parametrize("seed", [None, 0, 1])
def test_pieces_light_and_radius_add_up_along_every_beam(beams, method, seed):
    geometry = beams.geometry(made(beams, method))
    m = len(geometry.rows)
    seen = spots(geometry, NOMINAL if seed is None else wild(geometry, seed))
    paths = paths_of(geometry, seen)
    pieces = pieces_of(paths, seen.radius)
    spans = np.bincount(pieces.row, weights=length(pieces.end - pieces.start), minlength=m)
    assert np.allclose(spans, paths.way[:, -1], atol=ROUNDING)
    passed = np.sum(geometry.plates.row >= 0, axis=1)
    through_prism = np.isin(np.arange(m), geometry.noses.rows)
    assert np.allclose(paths.light[:, -1], beams.glass.passes**passed * beams.nose.passes**through_prism, rtol=1e-14)
    assert np.allclose(geometry.light(), paths.light[:, -1], rtol=1e-14)
    for row in range(m):
        here = paths.here[row]
        assert np.all(np.diff(paths.radius[row, here]) >= 0.0)
        assert np.all(np.diff(paths.way[row, here]) > 0.0)
        assert np.all(np.diff(paths.light[row, here]) <= 0.0)
    assert np.allclose(paths.radius[:, -1], seen.radius, rtol=1e-9)


@pytest.mark.parametrize("method", METHODS)
def test_the_way_to_the_detector_counts_glass_by_its_index(beams, method):
    """The width of a beam sees glass as thickness over index."""
    geometry = beams.geometry(made(beams, method))
    seen = spots(geometry, replace(wild(geometry, 2), gradient=np.zeros(())))
    paths = paths_of(geometry, seen)
    for row in range(len(geometry.rows)):
        here = np.nonzero(paths.here[row])[0]
        spans = length(np.diff(paths.points[row, here], axis=0))
        for number, corner in enumerate(here[1:]):
            place = paths.places[corner]
            if place in ("mirror 1", "mirror 2", "exit"):
                spans[number] /= beams.nose.index
            elif place.startswith("back"):
                spans[number] /= geometry.plates.index[row, int(place[5:]) - 1]
        assert np.sum(spans) == pytest.approx(seen.path[row], abs=1e-12)
        setup = geometry.waist_radius[row], geometry.wavelength[row]
        assert seen.radius[row] == pytest.approx(float(beam_radius(np.sum(spans), *setup)), rel=1e-12)


@pytest.mark.parametrize("seed", range(20))
def test_every_face_of_a_see_through_target_bends_by_its_index(beams, seed):
    geometry = beams.geometry(made(beams, "see-through"))
    state = replace(wild(geometry, seed), gradient=np.zeros(()), wedge_h=np.zeros(()), wedge_v=np.zeros(()))
    points = paths_of(geometry, spots(geometry, state)).points
    last = 2  # row of the third target of the first batch: the light has passed two of them
    emitter, front, back, onward = points[last, 0], points[last, 1], points[last, 2], points[last, 3]
    before, inside, behind = unit(front - emitter), unit(back - front), unit(onward - back)
    assert np.allclose(before, behind, atol=1e-13)  # a parallel plate keeps the direction
    square = np.cross(before, inside)
    normal = unit(1.5 * inside - before)  # Snell's law as vectors
    assert np.allclose(np.cross(before, normal), 1.5 * np.cross(inside, normal), atol=1e-13)
    assert length(square) > 1e-6
    assert dot(back - front, normal) == pytest.approx(3e-3, abs=1e-12)


# ---------------------------------------------------------------- law 4: see-through targets in the train


@pytest.fixture(scope="module")
def through(beams):
    return beams.geometry(beams.layout(beams.line(1.0, 4.0, 9.0), through=("g1", "g2", "t1"), glass=glasses(beams)))


@pytest.mark.parametrize("plate", [0, 1])
def test_a_tilted_plate_shifts_what_is_behind_it_by_the_law_of_the_plate(through, plate):
    """By t sin th (1 - cos th / sqrt(n^2 - sin^2 th)) toward its normal; what is before it stays."""
    nod, swing = drawn(20, 0.08, 2)
    read = spots(through, changed(changed(NOMINAL, f"plate_nod.{plate}", nod), f"plate_swing.{plate}", swing))
    axis_h, axis_v, beam = through.axis_h[2], through.axis_v[2], -through.facing[2]
    normal = np.einsum("tij,j->ti", rotation_from_vector(nod * axis_h + swing * axis_v), beam)
    cos = normal @ beam
    sin = np.sqrt(1.0 - cos**2)
    thickness, index = (3e-3, 1.5) if plate == 0 else (8e-3, 1.6)
    size = thickness * sin * (1.0 - cos / np.sqrt(index**2 - sin**2))
    shift = size[:, None] * unit(normal - cos[:, None] * beam)
    behind = [1, 2] if plate == 0 else [2]
    for row in range(3):
        wanted_h, wanted_v = (shift @ axis_h, shift @ axis_v) if row in behind else (0.0, 0.0)
        assert np.max(np.abs(read.h[:, row] - wanted_h)) < PICOMETRE
        assert np.max(np.abs(read.v[:, row] - wanted_v)) < PICOMETRE
    assert np.max(size) > 80e-6
    # a plate whose upper edge leans toward the emitter has its normal raised: the spots behind it rise
    assert np.all(np.sign(read.v[:, 2]) == np.sign(nod[:, 0]))
    assert np.all(np.sign(read.h[:, 2]) == -np.sign(swing[:, 0]))


@pytest.mark.parametrize("axis", ["h", "v"])
def test_a_wedge_turns_the_beam_behind_it_toward_its_thick_side(through, axis):
    """By (n - 1) w: thicker to the right or above counts positive. The second plate is met aslant and flattens it."""
    wedge = drawn(21, 100e-6)
    behind_first = np.array([0.0, 3.0 - 3e-3, 8.0 - 3e-3 - 8e-3 * (1.0 - 1.0 / 1.6)])
    behind_second = np.array([0.0, 0.0, 5.0 - 8e-3])
    for plate, index, distance in ((0, 1.5, behind_first), (1, 1.6, behind_second)):
        seen = spots(through, changed(NOMINAL, f"wedge_{axis}.{plate}", wedge))
        read, other = (seen.h, seen.v) if axis == "h" else (seen.v, seen.h)
        assert np.max(np.abs(read - (index - 1.0) * wedge * distance)) < 10.0 * PICOMETRE
        assert np.max(np.abs(read[:, 2])) > 250e-6
        assert np.max(np.abs(other)) < PICOMETRE


def test_the_order_of_tilted_plates_does_not_matter_to_what_is_behind_them(beams):
    stations = beams.line(1.0, 4.0, 9.0)
    one, two = glasses(beams)
    nods, swings = drawn(22, 0.05, 2), drawn(23, 0.05, 2)
    read = []
    for order in ((0, 1), (1, 0)):
        names = tuple((one, two)[i].name for i in order)
        geometry = beams.geometry(beams.layout(stations, through=(*names, "t1"), glass=(one, two)))
        state = NOMINAL
        for place, plate in enumerate(order):
            state = changed(changed(state, f"plate_nod.{place}", nods[plate]), f"plate_swing.{place}", swings[plate])
        read.append(channels(spots(geometry, state), 3))
    assert np.max(np.abs(read[0][:, :, 2] - read[1][:, :, 2])) < ROUNDING
    assert np.max(np.abs(read[0][:, :, 1] - read[1][:, :, 1])) > 10e-6  # between them it does


def test_targets_without_glass_read_together_as_they_would_alone(beams):
    stations, bare = beams.line(1.0, 2.5, 4.0, 6.0, 7.0), glasses(beams, 0.0, 0.0)
    together = beams.geometry(beams.layout(stations, through=("g1", "g2", "t1"), glass=bare))
    alone = beams.geometry(beams.layout(stations))
    assert together.plates.most == 2
    # alone they are read one after the other, so that a drift would go on meanwhile
    bends = dict.fromkeys(("wedge_h", "wedge_v", "plate_nod", "plate_swing", "drift", "drift_side"), np.zeros(()))
    for seed in range(100):
        state = replace(wild(alone, seed), **bends)
        off = channels(spots(together, state), 5) - channels(spots(alone, state), 5)
        assert np.max(np.abs(off)) < 1e-15
    thick = beams.geometry(beams.layout(stations, through=("g1", "g2", "t1"), glass=glasses(beams)))
    off = channels(spots(thick, replace(state, **bends)), 5) - channels(spots(alone, state), 5)
    # the first target of each batch has nothing before it
    assert np.all(off[:, [0, 3]] == 0.0)
    assert np.all(np.max(np.abs(off[:2, [1, 2, 4]]), axis=0) > 1e-8)


def test_a_target_behind_the_emitter_stands_in_no_beam(beams):
    behind = (beams.station("P0", (-1.8, 0.0)), *beams.line(1.0, 2.0))
    geometry = beams.geometry(beams.layout(behind, through=("g1", "g2", "t1"), glass=glasses(beams)))
    seen = spots(geometry)
    assert np.isnan(seen.h[0])
    assert np.all(np.isfinite(seen.h[1:]))
    assert (geometry.plates.row >= 0).sum(axis=1).tolist() == [0, 0, 1]


def test_a_detector_looks_against_a_fixed_line_wherever_it_stands(beams):
    """Set square to the beam: beside a line, near or far, it sees the beam come in square."""
    beside = tuple(
        beams.station(f"S{i + 1}", (x, y)) for i, (x, y) in enumerate(((-0.9, 0.0), (-0.9, 0.3), (1.0, -0.5)))
    )
    along = tuple(replace(each, along=LEFT) for each in beside)
    use = beams.prism({1.4: tuple(each.name for each in beside)}, -np.pi / 2.0)
    for stations, asked in ((beside, {}), (along, {"prism": use, "at": np.array([-1.4, -3.0, 0.0])})):
        geometry = beams.geometry(beams.layout(stations, **asked))
        seen = spots(geometry)
        assert np.max(seen.incidence) < 1e-7
        off = dot(geometry.detector_centres() - seen.hit, geometry.axis_h)
        assert np.allclose(seen.h, -off, atol=ROUNDING)
        assert np.ptp(off) > 0.5


def test_a_beam_beside_the_axis_of_its_base_turns_with_it(beams):
    """A beam that leaves left of the axis passes every station on its left, all around."""
    angle = np.linspace(0.0, 6.0, 9)
    around = tuple(beams.station(f"S{i}", (-1.4 + 2.0 * np.cos(a), 2.0 * np.sin(a))) for i, a in enumerate(angle))
    geometry = beams.geometry(beams.layout(around, base="base", level_by=LevelBy.VIAL))
    beside, above = drawn(24, 1e-3), drawn(25, 1e-3)
    seen = spots(geometry, replace(NOMINAL, offset_y=beside, offset_z=above))
    assert np.max(np.abs(seen.h + beside)) < ROUNDING
    assert np.max(np.abs(seen.v - above)) < ROUNDING


# ---------------------------------------------------------------- motions, trials, rows


@pytest.mark.parametrize("method", METHODS)
def test_the_whole_scene_may_be_moved_and_turned(beams, method):
    """Readings depend on nothing outside: in air without a gradient any rigid motion of everything leaves them.

    A base levelled by a vial and the clock of a spindle know the vertical: they are turned about it only. The own x of
    a base keeps pointing along the world's, so that its tilt and shift stay out.
    """
    rng = np.random.default_rng(30)
    still = beams.geometry(made(beams, method, pose=Pose(np.eye(3), np.zeros(3))))
    m = len(still.rows)
    state = replace(wild(still, 31, (40,)), gradient=np.zeros(()))
    upright = method in ("base plane", "spindle")
    if method == "base plane":
        state = replace(state, **dict.fromkeys(("tilt_x", "tilt_y", "shift"), np.zeros(())))
    wanted = channels(spots(still, state), m)
    for _ in range(25):
        turn = turn_about_z(rng.uniform(-3.0, 3.0)) if upright else rotation_from_vector(rng.normal(size=3))
        moved = beams.geometry(made(beams, method, pose=Pose(turn, rng.normal(size=3))))
        assert np.max(np.abs(channels(spots(moved, state), m) - wanted)) < PICOMETRE


@pytest.mark.parametrize("method", METHODS)
def test_trials_are_what_a_loop_over_them_gives(beams, method):
    geometry = beams.geometry(made(beams, method, air=Air(gradient=1.3)))
    m = len(geometry.rows)
    together = channels(spots(geometry, wild(geometry, 40, (1,))), m)
    assert np.max(np.abs(together[:, 0] - channels(spots(geometry, wild(geometry, 40)), m))) < ROUNDING
    state = wild(geometry, 41, (30,))
    every = channels(spots(geometry, state), m)
    assert np.isfinite(every[:2]).all()
    for trial in range(30):
        one = replace(state, **{
            name: value[trial] for name in vars_of(state) if (value := getattr(state, name)).ndim > 1
        })  # fmt: skip
        assert np.max(np.abs(channels(spots(geometry, one), m) - every[:, trial])) < ROUNDING


def vars_of(state):
    return state.__dataclass_fields__


@pytest.mark.parametrize("method", METHODS)
def test_chosen_rows_are_traced_as_among_all(beams, method):
    geometry = beams.geometry(made(beams, method, air=Air(gradient=-0.7)))
    m = len(geometry.rows)
    state = wild(geometry, 50, (20,))
    every = channels(spots(geometry, state), m)
    rng = np.random.default_rng(51)
    for _ in range(10):
        index = rng.permutation(np.concatenate([np.arange(m), rng.integers(0, m, 7)]))
        some = channels(spots(geometry.chosen(index), state_at(state, index)), len(index))
        assert np.max(np.abs(some - every[:, :, index])) < ROUNDING


@pytest.mark.parametrize("method", METHODS)
def test_a_perfect_simulated_survey_is_the_trace(beams, method):
    """Law 16: without truth, errors and scatter the readings are the nominal spots; with a truth the traced ones."""
    layout = made(beams, method, air=Air(gradient=0.4))
    geometry = beams.geometry(layout)
    m = len(geometry.rows)
    rng = np.random.default_rng(60)
    perfect = simulated(layout, rng, Truth(), perfect=True)
    nominal = spots(geometry)
    for channel in ("h", "v"):
        assert np.array_equal(getattr(perfect.readings, channel), np.broadcast_to(getattr(nominal, channel), m))
    drawn_one = simulated(layout, rng, perfect=True, size=50e-6)
    up = np.array([drawn_one.truth.up.get(geometry.rows.stations[i], 0.0) for i in geometry.rows.station])
    aside = np.array([drawn_one.truth.aside.get(geometry.rows.stations[i], 0.0) for i in geometry.rows.station])
    real = spots(geometry, replace(NOMINAL, deviation=up, deviation_side=aside))
    assert np.array_equal(drawn_one.readings.v, real.v)
    assert np.ptp(up) == pytest.approx(50e-6) or m < 3 or method in ("line square to it", "plane of a prism")
