"""Law 13 through the traced model: rounds shrink by s1/s2, the overshoot closes at once - in bent air, through glass.

Frame of the surveys: the beam starts at [-1.4, 0], 0.15 above the plate, and runs along x; y is left, z up.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenes.aiming.aim import aim_from_readings
from scenes.aiming.closing import round_share
from scenes.aiming.following import Move
from scenes.aiming.near_far import End
from scenes.aiming.procedures import perform_overshoot, perform_rounds, perform_setting
from scenes.aiming.setting import AS_FOUND, StageSetting
from scenes.aiming.traced import (
    as_found,
    covariance_of_readings,
    state_of_stage,
    traced_line,
    traced_stage,
)
from scenes.errors import GeometryError
from scenes.model.layout import Air
from scenes.tracing.air_index import temperature_slope
from scenes.tracing.spots import spots
from scenes.uncertainty.sources import drawn_state, sources_of

NANOMETRE = 1e-9
ROUNDING = 1e-13  # metres
NEAR, FAR = 1.0, 6.0  # metres from the start of the beam
ASIDE, UP = np.array([0.0, 1.0, 0.0]), np.array([0.0, 0.0, 1.0])


def bend(gradient):
    """Upward curvature of a level beam [1/m] in the air of the surveys."""
    return float(temperature_slope(635e-9, 293.15, 101_325.0, 0.5)) * gradient


def line_of(beams, pivot=0.0, **changes):
    stations = beams.line(NEAR, 3.0, FAR)
    layout = beams.layout(stations, **{"near": "P1", "far": "P3", **changes})
    return layout, traced_line(layout, "beam", "P1", "P3", pivot)


@pytest.fixture(scope="module", params=["straight", "bent"])
def line(beams, request):
    return line_of(beams, air=Air(gradient=2.0) if request.param == "bent" else Air())[1]


offsets, angles = st.floats(-2e-3, 2e-3), st.floats(-4e-4, 4e-4)


def readings_of(traced, h, v, yaw, pitch):
    """Readings of a beam that is off by h, v and yaw, pitch, by the straight formula on top of the wanted ones."""
    rise = traced.line.distances[:, None] * np.tan([yaw, pitch])
    return traced.wanted + np.array([h, v]) + rise


@settings(max_examples=30, deadline=None)
@given(offsets, offsets, angles, angles)
def test_the_stage_stands_where_its_readings_say(line, h, v, yaw, pitch):
    readings = readings_of(line, h, v, yaw, pitch)
    found = as_found(line, readings)
    assert found.shift == pytest.approx([h, v], abs=NANOMETRE)
    assert found.tilt == pytest.approx([yaw, pitch], abs=NANOMETRE)
    assert traced_stage(line, readings)(np.zeros(2), np.zeros(2)) == pytest.approx(readings, abs=2e-11)


@settings(max_examples=30, deadline=None)
@given(offsets, offsets, angles, angles)
def test_the_overshoot_closes_in_one_round_and_rounds_shrink_by_the_distances(line, h, v, yaw, pitch):
    readings = readings_of(line, h, v, yaw, pitch)
    read = traced_stage(line, readings)
    uneven = 30.0 * max(abs(yaw), abs(pitch)) ** 3 + 3.0 * NANOMETRE
    once = perform_overshoot(read, line.line, uneven, line.wanted)
    assert once.closed
    assert once.rounds <= 1
    went = perform_rounds(read, line.line, 1e-6, line.wanted)
    assert went.closed
    for before, after in zip(went.steps[1:], went.steps[2:], strict=False):
        off, then = before.readings - line.wanted, after.readings - line.wanted
        if after.move is Move.TILT:
            assert then[End.NEAR] == pytest.approx(-NEAR / FAR * off[End.FAR], abs=10.0 * uneven)
        else:
            assert then[End.FAR] == pytest.approx(-off[End.NEAR], abs=10.0 * uneven)
    assert round_share(line.line) == pytest.approx(NEAR / FAR, abs=1e-15)
    set_at_once = perform_setting(read, line.line, NANOMETRE, line.wanted)
    assert set_at_once.closed
    assert set_at_once.rounds <= 2


def test_near_and_far_stand_where_the_layout_puts_them(line):
    assert line.line.distances == pytest.approx([NEAR, FAR], abs=ROUNDING)
    assert line.line.turned == pytest.approx((0.0, 0.0), abs=1e-15)
    assert line.window.tolist() == [[0.02, 0.02], [0.02, 0.02]]


def test_a_bent_beam_is_wanted_where_it_bends_to(beams):
    """The line of the layout is the one that the beam leaves along: it drops by half k s^2 to each target."""
    _, bent = line_of(beams, air=Air(gradient=2.0))
    assert bent.wanted[:, 1] == pytest.approx(0.5 * bend(2.0) * np.array([NEAR, FAR]) ** 2, abs=ROUNDING)
    assert bent.wanted[1, 1] < -30e-6
    assert line_of(beams)[1].wanted == pytest.approx(np.zeros((2, 2)), abs=1e-15)


@pytest.mark.parametrize(
    ("move", "h", "v"),
    [
        ("shift", [1.0, 1.0], [0.0, 0.0]),
        ("lift", [0.0, 0.0], [1.0, 1.0]),
        ("yaw", [NEAR, FAR], [0.0, 0.0]),
        ("pitch", [0.0, 0.0], [NEAR, FAR]),
    ],
)
def test_screws_move_the_spot_to_the_right_and_up(beams, move, h, v):
    """By the world, not by readings: right of a beam along x is -y, up is z."""
    _, line = line_of(beams)
    size = 1e-4
    screws = {name: size * (name == move) for name in ("shift", "lift", "yaw", "pitch")}
    setting = StageSetting(np.array([screws["shift"], screws["lift"]]), np.array([screws["yaw"], screws["pitch"]]))
    moved = spots(line.geometry, state_of_stage(setting)).hit[:2] - spots(line.geometry).hit[:2]
    assert moved @ -ASIDE == pytest.approx(size * np.array(h), abs=NANOMETRE)
    assert moved @ UP == pytest.approx(size * np.array(v), abs=NANOMETRE)


@settings(max_examples=30, deadline=None)
@given(st.floats(-2.0, 8.0), angles, angles)
def test_a_tilt_leaves_the_beam_at_the_pivot(pivot, yaw, pitch):
    """A straight beam turned about a point of it: elsewhere it moves by the distance from there."""
    state = state_of_stage(StageSetting(np.zeros(2), np.array([yaw, pitch])), pivot)
    y, z = (float(part) for part in (state.shift, state.lift))
    for s in (pivot, 0.0, 5.0):
        there = np.array([y - s * np.tan(yaw), z + s * np.tan(pitch)])
        moved = (s - pivot) * np.array([-np.tan(yaw), np.tan(pitch)])
        assert there == pytest.approx(moved, abs=20.0 * max(abs(yaw), abs(pitch)) ** 3 + ROUNDING)
    assert (float(state.tilt_y), float(state.tilt_z)) == (-pitch, -yaw)


@pytest.mark.parametrize("pivot", [-0.4, 0.3, 2.5])
def test_a_pivot_elsewhere_changes_the_distances_and_closes_as_well(beams, pivot):
    _, line = line_of(beams, pivot, air=Air(gradient=2.0))
    assert line.line.distances == pytest.approx([NEAR - pivot, FAR - pivot], abs=ROUNDING)
    read = traced_stage(line, readings_of(line, 2e-4, -3e-4, 2e-4, 1e-4))
    went = perform_overshoot(read, line.line, 2.0 * NANOMETRE, line.wanted)
    assert went.closed
    assert went.rounds == 1
    second = perform_rounds(read, line.line, 1e-6, line.wanted)
    near_over_far = (NEAR - pivot) / (FAR - pivot)
    assert (second.off[2, 0] / second.off[1, 1]) == pytest.approx(np.full(2, -near_over_far), rel=1e-4)


def test_a_see_through_near_target_shortens_the_lever_of_far_by_its_glass(beams):
    """Far answers to a tilt by s2 - g, g = t (1 - 1/n); so one overshoot leaves a g s1 / s2 and a second one takes it.

    Worked by hand: off e1 = s1 a, e2 = (s2 - g) a; far is tilted to (e1 s2 - e2 s1) / (s2 - s1), near shifted home.
    """
    glass = beams.glass
    front = replace(glass, name="front", thickness=30e-3)  # ten times as thick, so that it shows
    _, line = line_of(
        beams, glass=(front, replace(glass, name="middle", thickness=0.0)), through=("front", "middle", "t1")
    )
    assert line.targets == ("front", "t1")
    g = 30e-3 * (1.0 - 1.0 / front.index)
    a = np.array([3e-4, -2e-4])
    readings = a * np.array([[NEAR], [FAR - g]])
    read = traced_stage(line, readings)
    assert as_found(line, readings).tilt == pytest.approx(a, abs=NANOMETRE)
    once = perform_overshoot(read, line.line, NANOMETRE, line.wanted)
    left = a * g * NEAR / (FAR - NEAR) * (FAR - g - NEAR) / (FAR - g)
    assert once.off[2, End.FAR] == pytest.approx(left, abs=0.5 * NANOMETRE)
    assert np.abs(left).max() > 100.0 * NANOMETRE
    assert once.rounds == 2
    assert once.closed
    rounds = perform_rounds(read, line.line, 1e-6, line.wanted)
    assert rounds.off[2, End.NEAR] / rounds.off[1, End.FAR] == pytest.approx(np.full(2, -NEAR / (FAR - g)), rel=1e-5)


def test_targets_on_the_side_of_a_machine_are_aimed_by_their_own_axes(beams):
    """Their mounts point to the right: v of the target is to the right, its h points down."""
    sideways = [
        beams.station(name, (s - 1.4, beams.axis, beams.axis), normal=-ASIDE) for name, s in (("P1", NEAR), ("P2", FAR))
    ]
    upright = line_of(beams)[1]
    line = traced_line(beams.layout(tuple(sideways), near="P1", far="P2"), "beam", "P1", "P2")
    assert line.line.distances == pytest.approx([NEAR, FAR], abs=ROUNDING)
    assert line.line.turned == pytest.approx([np.pi / 2.0, np.pi / 2.0], abs=1e-12)
    seen = readings_of(upright, 2e-4, -3e-4, 1e-4, 2e-4)
    readings = np.stack([-seen[:, 1], seen[:, 0]], axis=-1)
    one, other = (
        aim_from_readings(each, which.line, which.wanted) for each, which in ((seen, upright), (readings, line))
    )
    assert other.off == pytest.approx(one.off, abs=ROUNDING)
    assert other.angle == pytest.approx(one.angle, abs=ROUNDING)
    read = traced_stage(line, readings)
    for perform in (perform_overshoot, perform_rounds, perform_setting):
        went = perform(read, line.line, 5.0 * NANOMETRE, line.wanted)
        assert went.closed
        plain = perform(traced_stage(upright, seen), upright.line, 5.0 * NANOMETRE, upright.wanted)
        assert went.steps[-1].setting.shift == pytest.approx(plain.steps[-1].setting.shift, abs=10.0 * NANOMETRE)
        assert went.steps[-1].setting.tilt == pytest.approx(plain.steps[-1].setting.tilt, abs=10.0 * NANOMETRE)


@pytest.mark.parametrize("case", ["two targets", "one target", "through glass", "on the side"])
def test_stated_covariance_is_the_scatter_of_traced_readings(beams, case):
    trials = 4000
    air = Air(gradient=0.5, gradient_known_to=1.0)
    glass = replace(beams.glass, name="front", wedge_known_to=20e-6)
    other = replace(beams.target, name="t2")
    across = {"normal": -ASIDE} if case == "on the side" else {}
    height = (beams.axis, beams.axis) if across else (0.0,)
    stations = tuple(
        beams.station(
            name, (s - 1.4, *height), **across, **({"target": "t2"} if name == "P2" and case == "two targets" else {})
        )
        for name, s in (("P1", NEAR), ("P2", FAR))
    )
    through = {"through": ("front", "t1")} if case == "through glass" else {}
    layout = beams.layout(stations, air=air, glass=(glass, other), near="P1", far="P2", **through)
    line = traced_line(layout, "beam", "P1", "P2")
    readings = readings_of(line, 1e-3, -2e-3, 1e-4, 2e-4)
    stated = covariance_of_readings(layout, line, readings)
    geometry = line.geometry
    off = np.hypot(*(readings - line.zeros).T)
    counted = [source for source in sources_of(layout, geometry, off) if not source.field.startswith(
        ("mount", "lean", "nod", "swing", "cone", "offset", "drift", "eccentric"))]  # fmt: skip
    state = state_of_stage(as_found(line, readings))
    shape = np.zeros((1, len(geometry.rows)))
    found = replace(state, tilt_y=state.tilt_y + shape, tilt_z=state.tilt_z + shape, shift=state.shift + shape,
                    lift=state.lift + shape)  # fmt: skip
    drawn = spots(geometry, drawn_state(found, tuple(counted), np.random.default_rng(20_000), trials))
    seen = np.stack([drawn.h, drawn.v], axis=-1)[:, :2]
    real = np.stack([seen[..., 1], -seen[..., 0]], axis=-1) if across else seen  # to the right, up
    for axis in range(2):
        scatter = np.cov(real[..., axis].T)
        size = np.sqrt(np.outer(np.diag(scatter), np.diag(scatter)))
        assert np.abs(scatter - stated[axis]).max() < 4.0 * np.sqrt(2.0 / trials) * size.max()
    apart = stated[:, 0, 1]
    same = line.targets[0] == line.targets[1]
    assert np.all(apart > (2.0e-6) ** 2) if same else apart[0] < (1e-6) ** 2  # the zero of 2.5 um goes along


def test_a_line_behind_a_prism_is_aimed_by_its_base_line(beams):
    across = (beams.station("Q1", (0.6, 1.0), along=ASIDE),)
    datum = tuple(beams.station(n, (s - 1.4, 0.0), is_datum=True) for n, s in (("near", NEAR), ("far", FAR)))
    layout = beams.layout(
        (*datum, *across), near="near", far="far", prism=beams.prism({2.0: ("Q1",)}, -np.pi / 2.0), reversed=True
    )
    line = traced_line(layout, "beam", "near", "far")
    assert line.line.distances == pytest.approx([NEAR, FAR], abs=ROUNDING)
    assert perform_overshoot(traced_stage(line, readings_of(line, 1e-4, 1e-4, 1e-4, 1e-4)), line.line, 1e-8).rounds == 1
    with pytest.raises(GeometryError, match="in front of the prism"):
        traced_line(layout, "beam", "near", "Q1")


def test_readings_that_no_stage_gives_are_explained(beams):
    _, line = line_of(beams)
    with pytest.raises(GeometryError, match="turn the emitter by hand"):
        as_found(line, [[0.0, 0.0], [0.0, 2.0]])
    assert as_found(line, line.wanted).tilt == pytest.approx(AS_FOUND.tilt)
    lost, _ = line_of(beams)
    behind = replace(lost, stations={**lost.stations, "P1": beams.station("P1", (-2.0, 0.0))})
    with pytest.raises(GeometryError, match="does not meet the near target"):
        traced_line(behind, "beam", "P1", "P3")
