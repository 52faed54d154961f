"""The lesson of bucking in: shares of the rounds, tilting past nought, the wrong way round, what the panel says."""

import json

import numpy as np
import pytest

from scenes.aiming.closing import overshoot_share, round_share
from scenes.aiming.following import FOLLOWED, Move
from scenes.aiming.near_far import End
from scenes.aiming.procedures import perform_overshoot, perform_rounds
from scenes.model.layout import ShownUnits
from scenes.units import to_si
from viewer.desk import plain
from viewer.logic.detector_face import FACE_PART
from viewer.logic.lesson_buck_in import (
    CLOSED,
    FAR_AT,
    begun,
    hand_share,
    open_buck_in_lesson,
    overshot,
    rounded,
    stepped,
)
from viewer.logic.lesson_buck_in_sliders import BUCK_IN
from viewer.logic.lesson_buck_in_view import buck_in_document

ANGLE, OFFSET = to_si(2.0, "arcmin", "angle"), -1e-3
NANOMETRE = 1e-9


def after(count, way="closes", near=2.0, angle=ANGLE, offset=OFFSET, hand=1.0):
    state = begun(open_buck_in_lesson(ShownUnits(), near), way, angle, offset, hand)
    for _ in range(count):
        state = stepped(state)
    return state


def number(state, key):
    return next(each for each in buck_in_document(state)["numbers"] if each["key"] == key)


# --- rounds


def test_the_start_is_a_straight_beam():
    off = after(0).off[0]
    np.testing.assert_allclose(off, OFFSET + np.tan(ANGLE) * np.array([2.0, FAR_AT]), atol=NANOMETRE)


@pytest.mark.parametrize("near", [0.5, 2.0, 5.0])
def test_each_round_leaves_near_over_far(near):
    """After each tilt far reads nought and near is off by the share of what far was off by before."""
    state = after(6, near=near)
    assert state.share == round_share(state.lesson.traced.line) == pytest.approx(near / FAR_AT, rel=1e-9)
    tilted = np.abs(state.off[2::2, End.NEAR])
    np.testing.assert_allclose(tilted[1:] / tilted[:-1], near / FAR_AT, rtol=1e-5)
    assert np.abs(state.off[1::2, End.NEAR]).max() < 2 * FOLLOWED
    assert np.abs(state.off[2::2, End.FAR]).max() < 2 * FOLLOWED
    rounds, foretold = state.foretold
    np.testing.assert_allclose(rounds, [0.0, 0.5, 1.0, 1.5, 2.0, 2.5, 3.0])
    np.testing.assert_allclose(state.worst, foretold, rtol=1e-5)


@pytest.mark.parametrize("way", ["closes", "runs", "past"])
def test_the_steps_are_those_of_the_procedures(way):
    """Step by step the crew of the lesson does what the procedures foretell for whole rounds."""
    state = after(4, way, near=5.0, angle=0.3 * ANGLE)
    perform = perform_overshoot if way == "past" else perform_rounds
    made = perform(
        state.read, state.lesson.traced.line, CLOSED, most_rounds=2,
        shift_at=None if way == "past" else state.shift_at,
    )  # fmt: skip
    assert len(made.steps) == len(state.steps) > 2
    for mine, theirs in zip(state.steps, made.steps, strict=True):
        assert (mine.round, mine.move, mine.end) == (theirs.round, theirs.move, theirs.end)
        np.testing.assert_allclose(mine.readings, theirs.readings, atol=2 * FOLLOWED)


def test_the_measured_share_is_that_of_the_readings():
    assert after(1).measured_share is None
    for count in (2, 3, 4, 7):
        assert after(count).measured_share == pytest.approx(0.25, rel=1e-4)
    assert number(after(0), "buck-share")["value"] == "–"
    shown = number(after(4, near=4.0), "buck-share")
    assert (shown["value"], shown["more"]) == ("× 0.5", "near ÷ far = 0.5")


def test_the_other_way_round_runs_away_with_the_inverse_share():
    state = after(40, way="runs", near=5.0, angle=0.3 * ANGLE)
    assert state.share == pytest.approx(FAR_AT / 5.0, rel=1e-9)
    assert state.measured_share == pytest.approx(FAR_AT / 5.0, rel=1e-4)
    np.testing.assert_allclose(state.worst, state.foretold[1], rtol=1e-4)
    assert state.lost is End.FAR
    assert stepped(state) is rounded(state) is overshot(state) is state  # a crew that sees no spot turns nothing
    note = buck_in_document(state)["note"]
    assert "left the far detector" in note
    assert "Shifting 8.000 m and tilting 5.000 m from the pivot: every round makes it worse" in note
    assert "shift at the target nearer to the pivot" in note
    assert "1 mm at near puts in 4 mm at far" in buck_in_document(after(0, way="runs"))["note"]


# --- overshoot


def test_tilted_past_nought_one_round_is_enough():
    state = after(2, way="past")
    assert state.closed
    assert [step.move for step in state.steps] == [Move.START, Move.TILT, Move.SHIFT]
    assert state.off[1, End.FAR] == pytest.approx(OFFSET, rel=1e-6)  # parallel to the line: the offset alone is left
    assert number(state, "buck-share")["value"] == "≈ 0"


@pytest.mark.parametrize("before", [0, 1, 2, 3])
def test_one_overshoot_closes_whatever_was_done_before(before):
    state = overshot(after(before, near=5.0))
    assert state.closed
    assert [step.move for step in state.steps[-2:]] == [Move.TILT, Move.SHIFT]
    assert state.steps[-1].round == -(-before // 2) + 1
    assert state.regular == before
    assert len(state.foretold[1]) == before + 1  # the share foretells nothing of it
    assert overshot(after(2, way="runs", near=5.0, angle=0.3 * ANGLE)).closed


def test_the_overshoot_is_a_share_of_what_far_reads_once_near_is_home():
    shifted = after(1)
    assert shifted.past == overshoot_share(shifted.lesson.traced.line) == pytest.approx(2.0 / (FAR_AT - 2.0), rel=1e-9)
    assert overshot(shifted).off[2, End.FAR] == pytest.approx(-shifted.past * shifted.off[1, End.FAR], rel=1e-5)
    note = buck_in_document(after(0, way="past"))["note"]
    assert "until far reads −1000.0 µm" in note
    assert "33 %" in note


# --- the hand


def round_of_hand(way, hand, near, far):
    """What a round makes of the readings (near, far) of a straight beam: a shift and a tilt, each by ``hand``."""
    shift = np.array([[1.0 - hand, 0.0], [-hand, 1.0]])  # watched at near
    lever = np.array([[near], [far]])
    if way == "past":  # all of the angle is wanted
        return shift @ (np.eye(2) - hand * lever @ np.array([[-1.0, 1.0]]) / (far - near))
    if way == "runs":
        shift, lever = np.array([[1.0, -hand], [0.0, 1.0 - hand]]), lever / near
        return (np.eye(2) - hand * lever @ np.array([[1.0, 0.0]])) @ shift
    return (np.eye(2) - hand * (lever / far) @ np.array([[0.0, 1.0]])) @ shift


@pytest.mark.parametrize("hand", [0.7, 0.9, 1.0, 1.05, 1.3])
@pytest.mark.parametrize("way", ["closes", "runs", "past"])
def test_a_hand_that_makes_more_or_less_leaves_the_share_of_relaxation(way, hand):
    state = after(10, way, near=5.0, angle=0.05 * ANGLE, offset=0.05 * OFFSET, hand=hand)
    made = round_of_hand(way, hand, 5.0, FAR_AT)
    largest = np.abs(np.linalg.eigvals(made)).max()
    assert state.share_of_hand == hand_share(state.share, hand) == pytest.approx(largest, rel=1e-6, abs=1e-7)
    rounds = (len(state.steps) - 1) // 2
    wanted = np.array([np.linalg.matrix_power(made, n) @ state.off[0] for n in range(rounds + 1)])
    np.testing.assert_allclose(state.off[::2], wanted, rtol=1e-4, atol=20 * NANOMETRE)
    if rounds > 1:
        worst = np.abs(wanted).max(axis=1)
        first = 0 if way == "past" else 1
        assert after(2 * rounds, way, 5.0, 0.05 * ANGLE, 0.05 * OFFSET, hand).measured_share == pytest.approx(
            (worst[-1] / worst[first]) ** (1.0 / (rounds - first)), rel=1e-2
        )
    if hand != 1.0:
        assert number(state, "buck-share")["more"] == f"foretold × {largest:.3g}"


def test_a_little_past_is_faster_than_exact_and_too_much_is_slower():
    exact = hand_share(0.25, 1.0)
    assert exact == pytest.approx(0.25)
    assert hand_share(0.25, 1.08) == pytest.approx(0.08)
    assert hand_share(0.25, 1.3) == pytest.approx(0.3)
    rounds = {hand: after(60, hand=hand).steps[-1].round for hand in (0.8, 1.0, 1.08, 1.4)}
    assert rounds[1.08] < rounds[1.0] < min(rounds[0.8], rounds[1.4])
    for hand in np.linspace(0.6, 1.4, 9):
        assert hand_share(4.0, hand) > 1.0  # no hand helps the wrong way round
        assert hand_share(0.75, hand) < 1.0


def test_half_a_round_can_be_finished_or_left():
    half = after(1)
    assert half.half is Move.SHIFT
    assert rounded(half).places.tolist() == [0.0, 0.5, 1.0]
    assert overshot(half).places.tolist() == [0.0, 0.5, 1.5, 2.0]
    assert rounded(after(0)).half is None
    tilted = after(1, way="past", hand=0.8)
    assert stepped(tilted).steps[-1].move is Move.SHIFT
    assert [number(after(n), "buck-rounds")["value"] for n in range(4)] == ["0", "½", "1", "1½"]


# --- what the panel says


def test_a_beam_on_the_line_needs_no_step():
    state = after(3, angle=0.0, offset=0.0)
    assert state.closed
    assert len(state.steps) == 1
    assert "lies on the line" in buck_in_document(state)["note"]


def test_the_panel_tells_readings_share_and_the_next_step():
    document = buck_in_document(after(0))
    assert [each["key"] for each in document["numbers"]] == ["buck-near", "buck-far", "buck-rounds", "buck-share"]
    assert document["numbers"][1]["value"] == "+3654.2 µm"
    assert "shift until near reads nought" in document["note"]
    assert "tilt until far reads nought" in buck_in_document(after(1))["note"]
    state = after(40)
    assert state.closed
    assert state.worst[-1] <= CLOSED
    assert f"after {state.steps[-1].round} rounds" in buck_in_document(state)["note"]
    assert f"{state.steps[-1].round} rounds in all" in buck_in_document(after(1))["note"]


def test_the_chart_shows_each_target_after_the_other_was_set():
    chart = buck_in_document(after(5))["lines"][0]
    assert [key["name"] for key in chart["keys"]] == ["near", "far", "foretold"]
    points = {
        line["key"]: np.array([pair.split(",") for pair in line["points"].split()], dtype=float)
        for line in chart["lines"]
    }
    assert [len(points[name]) for name in ("near", "far", "foretold")] == [3, 4, 6]
    for name in ("near", "far"):  # readings lie on what was foretold, once the rounds have begun
        for place in points[name][1:]:
            assert np.abs(points["foretold"] - place).sum(axis=1).min() < 0.3
    steps = np.diff(points["far"][1:], axis=0)  # one share a round is a straight line over powers of ten
    np.testing.assert_allclose(steps, np.broadcast_to(steps[0], steps.shape), atol=0.21)  # figures rounded to 0.1


@pytest.mark.parametrize("count", [0, 9, 12, 17, 33])
def test_the_rounds_under_the_chart_do_not_run_into_each_other(count):
    ticks = buck_in_document(after(count, near=6.0))["lines"][0]["x_ticks"]
    places = np.array([tick["x"] for tick in ticks])
    assert ticks[-1]["text"] == f"{max(4, -(-count // 2))} rounds"
    assert 4 <= len(ticks) <= 10
    assert np.diff(places).min() > 25.0
    assert places[-1] - places[-2] > 60.0  # its words end there


def test_the_detectors_show_the_spot_and_where_it_was():
    near, far = buck_in_document(after(1))["faces"]
    assert (near["name"], near["value"], far["name"]) == ("Near, 2.0 m", "0.0 µm", "Far, 8.0 m")
    x, y, width, height = FACE_PART
    for each in (near, far):
        own, other = each["face"]["spots"][-1], each["face"]["spots"][0]
        assert (own["kind"], other["kind"]) == ("own", "other")
        assert x < each["face"]["window"]["x"]
        assert each["face"]["window"]["x"] + each["face"]["window"]["width"] < x + width
        assert y < each["face"]["window"]["y"] < y + height
    middle = near["face"]["middle"]
    assert near["face"]["spots"][-1]["y"] == pytest.approx(middle["y"], abs=0.11)
    assert far["face"]["spots"][-1]["y"] < middle["y"]  # high is up
    assert len(buck_in_document(after(11, near=5.0))["faces"][0]["face"]["spots"]) == 7


@pytest.mark.parametrize("way", ["closes", "runs", "past"])
def test_the_document_is_plain_at_the_ends_of_the_sliders(way):
    """Wherever the sliders stand, the page gets numbers; nothing is lost before the first step."""
    sliders = {each.name: each for each in BUCK_IN if hasattr(each, "low")}
    for near in (sliders["buck_near"].low, sliders["buck_near"].high):
        for angle in (sliders["buck_angle"].low, sliders["buck_angle"].high):
            for hand in (sliders["buck_hand"].low, sliders["buck_hand"].high):
                start = to_si(angle, "arcmin", "angle"), to_si(sliders["buck_offset"].high, "mm", "length")
                state = begun(open_buck_in_lesson(ShownUnits(), near), way, *start, hand / 100.0)
                assert state.lost is None
                for _ in range(3):
                    document = buck_in_document(state)
                    assert json.loads(json.dumps(plain(document), allow_nan=False)) == plain(document)
                    state = rounded(state)
