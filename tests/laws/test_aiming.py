"""Law 13: buck-in rounds shrink by s1/s2, and the overshoot closes in one round - tried on an independent stage.

The stage here is a solid body in space: it carries a beam, slides across and turns about a pivot; targets are planes
that the beam is followed to. Nothing of the package under test computes a spot.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from scenes.aiming.advice import advise
from scenes.aiming.aim import aim_from_readings, reading_covariance
from scenes.aiming.closing import overshoot_reading, overshoot_share, round_share, rounds_needed
from scenes.aiming.following import Move
from scenes.aiming.near_far import End, NearFar, near_far_from_tape
from scenes.aiming.procedures import (
    perform_overshoot,
    perform_rounds,
    perform_setting,
    steps_outside,
    straight_stage,
)
from scenes.aiming.setting import AS_FOUND, StageSetting, closing_setting, parallel_setting
from scenes.aiming.travel import overruns_of, reach_of, turns_of
from scenes.errors import GeometryError
from scenes.model.devices import Stage

NANOMETRE = 1e-9
FINE = 1e-13  # rounding of readings of some millimetres

STAGE = Stage("stage", "fine", 0.03, 2e-3, math.radians(1.0), 0.5e-3, 0.12)


def turn(yaw, pitch):
    """Rotation that lifts the beam by pitch and then swings it to the right by yaw (against the right hand about z)."""
    (cy, sy), (cp, sp) = (math.cos(yaw), math.sin(yaw)), (math.cos(pitch), math.sin(pitch))
    return np.array([[cy * cp, sy, -cy * sp], [-sy * cp, cy, sy * sp], [sp, 0.0, cp]])


@dataclass(frozen=True)
class Body:
    """A beam on a stage. World: x along the datum line, y left, z up; the pivot is the origin.

    yaw, pitch: as found, rad. side, up: the beam as found passes the pivot's plane here, m. bend_h, bend_v: curvature
    of the beam to the right and up, 1/m. roll: of both targets, rad.
    """

    near: float
    far: float
    yaw: float = 0.0
    pitch: float = 0.0
    side: float = 0.0
    up: float = 0.0
    bend_h: float = 0.0
    bend_v: float = 0.0
    roll: float = 0.0
    zeros: tuple[tuple[float, float], tuple[float, float]] = ((0.0, 0.0), (0.0, 0.0))

    def crossing(self, shift, tilt, distance):
        """Place (right, up) at which the beam goes through the plane x = distance."""
        turned = turn(*tilt)  # of the whole beam about the pivot
        start = turned @ [0.0, -self.side, self.up] + np.array([0.0, -shift[0], shift[1]])
        forward = turned @ turn(self.yaw, self.pitch) @ [1.0, 0.0, 0.0]
        path = (distance - start[0]) / forward[0]
        place = start + path * forward + 0.5 * path**2 * np.array([0.0, -self.bend_h, self.bend_v])
        return np.array([-place[1], place[2]])

    def read(self, shift, tilt):
        rolled = np.array([[math.cos(self.roll), -math.sin(self.roll)], [math.sin(self.roll), math.cos(self.roll)]])
        seen = [rolled @ self.crossing(shift, tilt, each) for each in (self.near, self.far)]
        return np.array(seen) + np.array(self.zeros)

    @property
    def as_found(self):
        return self.read(np.zeros(2), np.zeros(2))

    def uneven(self, angle=None):
        """Bound of what yaw and pitch together leave at either target: half of distance times angle cubed, and offsets
        that turn with the stage, angle squared."""
        angle = math.hypot(self.yaw, self.pitch) if angle is None else angle
        reach = max(abs(self.near), abs(self.far))
        return 2.0 * reach * angle**3 + 2.0 * math.hypot(self.side, self.up) * angle**2 + FINE


places = st.floats(-10.0, 30.0)
angles = st.floats(-2e-3, 2e-3)
offsets = st.floats(-3e-3, 3e-3)
zeros = st.tuples(offsets, offsets)


@st.composite
def bodies(draw, bent=False):
    near, far = draw(places), draw(places)
    assume(abs(far - near) > 0.1)
    bend = st.floats(-2e-6, 2e-6) if bent else st.just(0.0)
    return Body(near, far, draw(angles), draw(angles), draw(offsets), draw(offsets), draw(bend), draw(bend),
                zeros=(draw(zeros), draw(zeros)))  # fmt: skip


def line_of(body):
    return NearFar(body.near, body.far)


def aim_of(body):
    return aim_from_readings(body.as_found, line_of(body), body.zeros)


@settings(max_examples=1000, deadline=None)
@given(bodies())
def test_the_beam_stands_where_it_was_put(body):
    aim = aim_of(body)
    cubed = math.hypot(body.yaw, body.pitch) ** 3 + FINE / abs(aim.line.apart) * 2.0
    assert aim.angle == pytest.approx([body.yaw, body.pitch], abs=cubed)
    assert aim.offset == pytest.approx([body.side, body.up], abs=FINE * 30.0 / abs(aim.line.apart) * 2.0)
    for distance in (-3.0, 0.5 * (body.near + body.far), 40.0):
        there = body.crossing(np.zeros(2), np.zeros(2), distance)
        assert aim.off_at(distance) == pytest.approx(there, abs=FINE * 50.0 / abs(aim.line.apart) * 2.0)


@settings(max_examples=1000, deadline=None)
@given(bodies())
def test_the_setting_closes_at_once(body):
    setting = closing_setting(aim_of(body))
    left = body.read(setting.shift, setting.tilt) - body.zeros
    assert np.abs(left).max() <= body.uneven() + NANOMETRE
    tilted = parallel_setting(aim_of(body))
    beside = body.read(tilted.shift, tilted.tilt) - body.zeros
    assert np.abs(beside[1] - beside[0]).max() <= 2.0 * body.uneven() + NANOMETRE
    assert beside[0] == pytest.approx(aim_of(body).offset, abs=body.uneven() + NANOMETRE)


@settings(max_examples=300, deadline=None)
@given(bodies())
def test_the_overshoot_closes_in_one_round_wherever_the_pivot_lies(body):
    line = line_of(body)
    assume(abs(line.distance(line.shift_at.other)) > 0.05)
    went = perform_overshoot(body.read, line, body.uneven() + 3.0 * NANOMETRE, body.zeros)
    assert went.closed
    assert went.rounds <= 1
    if went.rounds == 0:
        return
    assert [step.move for step in went.steps] == [Move.START, Move.TILT, Move.SHIFT]
    tilt_at = line.shift_at.other
    assert went.steps[1].readings[tilt_at] == pytest.approx(overshoot_reading(aim_of(body), tilt_at), abs=NANOMETRE)
    assert np.all(went.steps[1].setting.shift == 0.0)
    assert np.all(went.steps[2].setting.tilt == went.steps[1].setting.tilt)


@settings(max_examples=300, deadline=None)
@given(bodies(), st.floats(2e-6, 1e-4))
def test_rounds_shrink_by_the_ratio_of_the_distances(body, within):
    line = line_of(body)
    share = round_share(line)
    assume(abs(share) < 0.8)
    assert share == pytest.approx(
        body.near / body.far if abs(body.near) < abs(body.far) else body.far / body.near, abs=1e-15
    )
    went = perform_rounds(body.read, line, within, body.zeros, most_rounds=200)
    shift_at, tilt_at = line.shift_at, line.shift_at.other
    assert went.closed
    slack = 10.0 * body.uneven() + 5.0 * NANOMETRE
    for before, after in zip(went.steps[1:], went.steps[2:], strict=False):
        off, then = before.readings - body.zeros, after.readings - body.zeros
        if after.move is Move.TILT:  # near was home and far was off: now far is home, near off by the share of that
            assert then[shift_at] == pytest.approx(-share * off[tilt_at], abs=slack)
        else:  # and the shift carries what near was off over to far
            assert then[tilt_at] == pytest.approx(-off[shift_at], abs=slack)


@settings(max_examples=300, deadline=None)
@given(bodies(), st.floats(1e-5, 1e-4))
def test_the_number_of_rounds_is_foretold(body, within):
    line, aim = line_of(body), aim_of(body)
    assume(abs(round_share(line)) < 0.8)
    slack = (10.0 * body.uneven() + 5.0 * NANOMETRE) / within
    assume(slack < 0.5)
    few, many = (int(rounds_needed(aim, within * (1.0 + sign * slack))) for sign in (1.0, -1.0))
    assume(few == many)  # not at the very edge between two numbers
    assert perform_rounds(body.read, line, within, body.zeros, most_rounds=200).rounds == few


@settings(max_examples=300, deadline=None)
@given(bodies())
def test_what_is_foretold_is_what_happens(body):
    line, aim = line_of(body), aim_of(body)
    assume(abs(line.distance(line.shift_at.other)) > 0.05)
    foretold = straight_stage(aim)
    for perform in (perform_rounds, perform_overshoot, perform_setting):
        said = perform(foretold, line, 1e-5, body.zeros, most_rounds=1)
        went = perform(body.read, line, 1e-5, body.zeros, most_rounds=1)
        worst = body.uneven() * (2.0 + 100.0 / abs(line.distance(line.shift_at.other)))
        assert len(said.steps) == len(went.steps)
        assert np.abs(said.off - went.off).max() <= worst + 5.0 * NANOMETRE


@settings(max_examples=300, deadline=None)
@given(places, places, offsets, offsets)
def test_the_share_past_home_is_the_same_reading(near, far, h, v):
    """Once near is home, the rule of thumb d s1 / (s2 - s1) and the offset at the pivot are one."""
    assume(abs(far - near) > 0.1)
    assume(abs(far) > 0.05)
    aim = aim_from_readings([[0.0, 0.0], [h, v]], NearFar(near, far))
    past = -overshoot_share(aim.line, End.NEAR) * np.array([h, v])
    assert overshoot_reading(aim, End.FAR) == pytest.approx(past, abs=FINE * (1.0 + abs(near / (far - near))))


def test_the_textbook_case():
    """Targets at 1 m and 5 m, near home, far 400 um high: each round leaves a fifth; overshoot by a quarter."""
    line = NearFar(1.0, 5.0)
    aim = aim_from_readings([[0.0, 0.0], [0.0, 400e-6]], line)
    assert round_share(line) == pytest.approx(0.2)
    assert overshoot_share(line) == pytest.approx(0.25)
    assert overshoot_reading(aim) == pytest.approx([0.0, -100e-6])
    assert aim.angle == pytest.approx([0.0, 100e-6])
    body = Body(1.0, 5.0, pitch=math.atan(100e-6), up=-100e-6)
    went = perform_rounds(body.read, line, 1e-6)
    assert [round(each, 3) for each in went.off[2::2, 0, 1] * 1e6] == [-80.0, -16.0, -3.2, -0.64]
    assert went.rounds == 4 == rounds_needed(aim, 1e-6)
    once = perform_overshoot(body.read, line, 1e-6)
    assert once.off[:, :, 1] * 1e6 == pytest.approx(np.array([[0, 400], [-100, -100], [0, 0]]), abs=1e-3)


@pytest.mark.parametrize("perform", [perform_rounds, perform_overshoot, perform_setting])
@settings(max_examples=50, deadline=None)
@given(body=bodies(bent=True))
def test_a_bent_beam_is_closed_at_both_targets(perform, body):
    line = line_of(body)
    assume(abs(round_share(line)) < 0.7)
    went = perform(body.read, line, 0.1e-6, body.zeros, most_rounds=60)
    assert went.closed


@settings(max_examples=100, deadline=None)
@given(st.floats(0.2, 5.0), st.floats(1.0, 30.0), st.floats(-2e-6, 2e-6), st.floats(-2e-6, 2e-6))
def test_a_closed_bent_beam_sags_by_an_eighth(near, apart, bend_h, bend_v):
    """Law 12: after zeroing near and far the beam stands off by k L^2 / 8 half-way between."""
    body = Body(near, near + apart, 1e-4, -2e-4, 1e-4, 2e-4, bend_h, bend_v)
    end = perform_overshoot(body.read, line_of(body), 2.0 * NANOMETRE).steps[-1].setting
    middle = body.crossing(end.shift, end.tilt, near + 0.5 * apart)
    assert middle == pytest.approx(-np.array([bend_h, bend_v]) * apart**2 / 8.0, abs=5.0 * NANOMETRE)


def test_a_large_angle_takes_a_second_pass():
    body = Body(1.0, 6.0, 0.05, -0.04, 2e-3, -1e-3)
    for perform in (perform_overshoot, perform_setting):
        went = perform(body.read, line_of(body), 0.1e-6)
        assert went.closed
        assert went.rounds in (2, 3)
        assert np.abs(went.off[2 if perform is perform_overshoot else 1]).max() < body.uneven()


@settings(max_examples=100, deadline=None)
@given(st.floats(0.9, 1.1), st.floats(0.9, 1.1), st.floats(-0.05, 0.05))
def test_wrong_distances_and_rolled_targets_cost_rounds_not_accuracy(near, far, roll):
    """The first pass leaves what the wrong distances leave; the law of that remainder is worked out by hand."""
    body = Body(1.2, 6.0, 4e-4, -3e-4, 2e-4, 5e-4, roll=roll)
    stated = NearFar(1.2 * near, 6.0 * far)
    e1, e2 = body.as_found
    went = perform_overshoot(body.read, stated, 0.2e-6)
    assert went.closed
    past = (e1 * stated.far - e2 * stated.near) / stated.apart
    left = past - (e1 + body.near * (past - e2) / body.far)  # far, after tilting to `past` and shifting near home
    assert went.off[2, 1] == pytest.approx(left, abs=5.0 * NANOMETRE)


@settings(max_examples=200, deadline=None)
@given(bodies(), st.floats(-math.pi, math.pi))
def test_targets_turned_about_the_beam_by_any_angle_close_in_one_round(body, roll):
    """With the turn stated, the beam is told in the directions of the stage, and nothing else changes."""
    turned, plain = replace(body, roll=roll), replace(body, roll=0.0)
    line = NearFar(body.near, body.far, (roll, roll))
    assume(abs(line.distance(line.shift_at.other)) > 0.05)
    told, upright = aim_from_readings(turned.as_found, line, body.zeros), aim_of(plain)
    assert told.off == pytest.approx(upright.off, abs=FINE)
    assert told.angle == pytest.approx(upright.angle, abs=2.0 * FINE / abs(line.apart))
    went = perform_overshoot(turned.read, line, body.uneven() + 5.0 * NANOMETRE, body.zeros)
    assert went.closed
    assert went.rounds <= 1
    said = perform_overshoot(straight_stage(told), line, body.uneven() + 5.0 * NANOMETRE, body.zeros)
    assert np.abs(said.off[: len(went.steps)] - went.off[: len(said.steps)]).max() <= 1e2 * body.uneven() + 1e-8


@pytest.mark.parametrize("stated", [NearFar(1.2, 14.0), NearFar(1.2, 2.5), NearFar(-1.2, -14.0)])
def test_rounds_need_no_distances(stated):
    """A screw is turned until the target reads what it should, wherever the pivot is thought to be."""
    body = Body(1.2, 6.0, 4e-4, -3e-4, 2e-4, 5e-4, roll=0.3)
    went = perform_rounds(body.read, stated, 1e-6)
    assert went.closed
    assert went.rounds == perform_rounds(body.read, line_of(body), 1e-6).rounds
    assert np.abs(went.off[2, 1]).max() < NANOMETRE


def test_rounds_the_wrong_way_run_away_and_say_so():
    body = Body(1.0, 5.0, 1e-4, 0.0)
    line = line_of(body)
    went = perform_rounds(body.read, line, 1e-6, most_rounds=3, shift_at=End.FAR)
    assert not went.closed
    assert np.abs(went.off[2::2]).max(axis=(1, 2)) == pytest.approx(400e-6 * 5.0 ** np.arange(1, 4), rel=1e-5)
    with pytest.raises(GeometryError, match="every round makes it worse"):
        rounds_needed(aim_of(body), 1e-6, End.FAR)


def test_a_pivot_midway_never_closes_by_rounds_but_by_overshoot():
    body = Body(-3.0, 3.0, 1e-4, 5e-5, 2e-4, 0.0)
    with pytest.raises(GeometryError, match="midway between the targets"):
        rounds_needed(aim_of(body), 1e-6)
    swinging = perform_rounds(body.read, line_of(body), 1e-6, most_rounds=5)
    assert np.abs(swinging.off[2::2, 0, 0]) == pytest.approx(6e-4, rel=1e-6)
    assert perform_overshoot(body.read, line_of(body), 1e-8).rounds == 1


def test_a_target_at_the_pivot_is_the_best_to_shift_by():
    body = Body(0.0, 4.0, 1e-4, 5e-5, 2e-4, 0.0)
    assert round_share(line_of(body)) == 0.0
    assert int(rounds_needed(aim_of(body), 1e-7)) == 1
    assert perform_rounds(body.read, line_of(body), 1e-8).rounds == 1
    assert overshoot_share(line_of(body)) == 0.0


def test_targets_at_one_place_or_a_tilt_at_the_pivot_are_explained():
    with pytest.raises(GeometryError, match="but not where it goes"):
        near_far_from_tape(2.0, 2.0, 0.5)
    line = NearFar(2.0, 0.0)
    with pytest.raises(GeometryError, match="does not move the spot"):
        round_share(line, End.NEAR)
    with pytest.raises(GeometryError, match="does not move the spot"):
        overshoot_reading(aim_from_readings(np.zeros((2, 2)), line), End.FAR)
    with pytest.raises(GeometryError, match="does not move the spot"):
        perform_rounds(Body(2.0, 0.0, 1e-4).read, line, 1e-6, shift_at=End.NEAR)
    with pytest.raises(GeometryError, match="turn the emitter by hand"):
        aim_from_readings([[0.0, 0.0], [0.0, 0.02]], NearFar(0.1, 0.2))


def test_a_dead_screw_and_a_lost_beam_are_explained():
    body = Body(1.0, 5.0, 1e-4, 2e-4)
    dead = lambda shift, tilt: body.read(shift, np.zeros(2))  # noqa: ARG005, E731
    with pytest.raises(GeometryError, match="does not follow the tilt"):
        perform_rounds(dead, line_of(body), 1e-6)
    lost = lambda shift, tilt: np.where(np.abs(tilt).max() > 0, np.nan, body.read(shift, tilt))  # noqa: E731
    with pytest.raises(GeometryError, match="does not reach the near and far target"):
        perform_overshoot(lost, line_of(body), 1e-6)


def test_a_scattering_reading_is_followed_as_near_as_it_can_be():
    body, rng = Body(1.0, 5.0, 4e-4, -2e-4, 3e-4, 1e-4), np.random.default_rng(5)
    noisy = lambda shift, tilt: body.read(shift, tilt) + 0.3e-6 * rng.standard_normal((2, 2))  # noqa: E731
    went = perform_overshoot(noisy, line_of(body), 3e-6, followed=1.5e-6)
    assert went.closed
    assert np.abs(body.read(went.steps[-1].setting.shift, went.steps[-1].setting.tilt)).max() < 4e-6


@pytest.mark.parametrize("same_target", [False, True])
def test_stated_uncertainty_is_the_scatter_of_many_aims(same_target):
    rng, n = np.random.default_rng(20_000), 40_000
    body = Body(0.8, 4.3, 3e-4, -2e-4, 1e-4, 2e-4)
    reading = rng.standard_normal((n, 2, 2)) * np.array([1.5e-6, 3e-6])[:, None]
    zero = 2.5e-6 * rng.standard_normal((n, 1 if same_target else 2, 2))
    covariance = reading_covariance([1.5e-6, 3e-6], 2.5e-6, same_target)
    aim = aim_from_readings(body.as_found + reading + zero, line_of(body), covariance=covariance)
    sampling = 4.0 / math.sqrt(2.0 * n)  # relative, four standard deviations
    assert aim.angle.std(axis=0) == pytest.approx(aim.angle_u[0], rel=sampling)
    for distance in (0.0, 2.0, 9.0):
        assert aim.off_at(distance).std(axis=0) == pytest.approx(aim.off_u_at(distance), rel=sampling)
    assert np.array_equal(aim.offset_u, aim.off_u_at(0.0))


def test_a_moved_target_takes_its_zero_error_out_of_the_angle():
    free = aim_from_readings(np.zeros((2, 2)), NearFar(1.0, 3.0), covariance=reading_covariance(0.0, 2.5e-6, True))
    assert free.angle_u == pytest.approx(np.zeros(2), abs=1e-20)
    assert free.offset_u == pytest.approx(2.5e-6)
    own = aim_from_readings(np.zeros((2, 2)), NearFar(1.0, 3.0), covariance=reading_covariance(0.0, 2.5e-6))
    assert own.angle_u == pytest.approx(np.full(2, 2.5e-6 * math.sqrt(2.0) / 2.0))
    assert aim_from_readings(np.zeros((2, 2)), NearFar(1.0, 3.0)).angle_u is None


@settings(max_examples=200, deadline=None)
@given(bodies(), st.floats(-5.0, 5.0))
def test_a_tape_may_start_anywhere_and_names_may_be_exchanged(body, pivot):
    readings, wanted = body.as_found, np.array(body.zeros)
    one = aim_from_readings(readings, line_of(body), wanted)
    moved = aim_from_readings(readings, near_far_from_tape(body.near + pivot, body.far + pivot, pivot), wanted)
    swapped = aim_from_readings(readings[::-1], NearFar(body.far, body.near), wanted[::-1])
    for other in (moved, swapped):
        assert other.angle == pytest.approx(one.angle, abs=1e-12)
        assert other.offset == pytest.approx(one.offset, abs=1e-11)


def test_many_beams_at_once_are_the_beams_one_by_one():
    rng = np.random.default_rng(1)
    readings, line = 1e-3 * rng.standard_normal((1000, 2, 2)), NearFar(0.7, 5.2)
    many = aim_from_readings(readings, line)
    rounds, setting, past = rounds_needed(many, 2e-6), closing_setting(many), overshoot_reading(many)
    for i in range(0, 1000, 50):
        one = aim_from_readings(readings[i], line)
        assert np.array_equal(many.angle[i], one.angle)
        assert np.array_equal(setting.shift[i], closing_setting(one).shift)
        assert np.array_equal(past[i], overshoot_reading(one))
        assert rounds[i] == rounds_needed(one, 2e-6)


@settings(max_examples=300, deadline=None)
@given(offsets, offsets, angles, angles)
def test_turns_of_the_screws_move_the_stage(h, v, yaw, pitch):
    turns = turns_of(StageSetting(np.array([h, v]), np.array([yaw, pitch])), STAGE)
    assert turns.shift * 0.5 == pytest.approx(np.array([h, v]) * 1e3, abs=1e-12)
    assert np.arctan2(turns.tilt * 0.5e-3, 0.12) == pytest.approx([yaw, pitch], abs=1e-15)
    assert turns_of(AS_FOUND, replace(STAGE, lever=0.0)).tilt is None
    assert turns_of(AS_FOUND, replace(STAGE, screw_pitch=0.0)).shift is None


def test_a_stage_says_where_its_travel_ends():
    asked = StageSetting(np.array([-2.5e-3, 1.0e-3]), np.array([0.0, 0.02]))
    shift, tilt = overruns_of(asked, STAGE)
    assert (shift.move, shift.axis, tilt.move, tilt.axis) == ("shift", "h", "tilt", "v")
    assert shift.beyond == pytest.approx(-0.5e-3)
    assert tilt.beyond == pytest.approx(0.02 - math.radians(1.0))
    assert overruns_of(asked, STAGE, StageSetting(np.array([1e-3, 0.0]), np.array([0.0, -0.01]))) == ()
    pushed = reach_of(STAGE, NearFar(-0.5, 4.0))
    there = Body(-0.5, 4.0).read(np.array([2e-3, 0.0]), np.array([-math.radians(1.0), 0.0]))[0, 0]
    assert pushed[0] == pytest.approx(there)
    there = Body(-0.5, 4.0).read(np.array([2e-3, 0.0]), np.array([math.radians(1.0), 0.0]))[1, 0]
    assert pushed[1] == pytest.approx(there)


def test_spots_that_leave_their_detectors_on_the_way_are_told():
    body = Body(1.0, 5.0, 1e-3, 0.0, 4.5e-3)  # 5.5 mm at near, 9.5 mm at far
    went = perform_rounds(body.read, line_of(body), 1e-6, most_rounds=2)
    assert steps_outside(went, [20e-3, 20e-3]).tolist() == []
    assert steps_outside(went, [18e-3, 20e-3]).tolist() == [0]
    assert steps_outside(went, [[10e-3, 10e-3], [20e-3, 20e-3]]).tolist() == [0]


def test_advice_knows_when_there_is_nothing_to_set():
    line = NearFar(1.0, 5.0)
    doubtful = aim_from_readings([[1e-6, 0.0], [-3e-6, 2e-6]], line, covariance=reading_covariance(2e-6))
    assert advise(doubtful, STAGE, 1e-6).lost_in_doubt
    sure = aim_from_readings([[1e-6, 0.0], [-5e-6, 2e-6]], line, covariance=reading_covariance(2e-6))
    assert not advise(sure, STAGE, 1e-6).lost_in_doubt
    assert not advise(aim_from_readings(np.zeros((2, 2)), line), STAGE, 1e-6).lost_in_doubt
