"""The lesson of bucking in: shares of the rounds, tilting past nought, the wrong way round, what the panel says."""

import json

import numpy as np
import pytest

from scenes.aiming.following import Move
from scenes.aiming.near_far import End
from scenes.model.layout import ShownUnits
from scenes.units import to_si
from viewer.desk import plain
from viewer.logic.lesson_buck_in import CLOSED, FAR_AT, begun, open_buck_in_lesson, stepped
from viewer.logic.lesson_buck_in_view import buck_in_document

ANGLE, OFFSET = to_si(2.0, "arcmin", "angle"), -1e-3


def after(count, way="closes", near=2.0, angle=ANGLE, offset=OFFSET):
    state = begun(open_buck_in_lesson(ShownUnits(), near), way, angle, offset)
    for _ in range(count):
        state = stepped(state)
    return state


def test_the_start_is_a_straight_beam():
    off = after(0).off[0]
    np.testing.assert_allclose(off, OFFSET + np.tan(ANGLE) * np.array([2.0, FAR_AT]), atol=1e-9)


@pytest.mark.parametrize("near", [0.5, 2.0, 5.0])
def test_each_round_leaves_near_over_far(near):
    """After each tilt far reads nought and near is off by the share of what far was off by before."""
    state = after(6, near=near)
    assert state.share == pytest.approx(near / FAR_AT, rel=1e-9)
    tilted = np.abs(state.off[2::2, End.NEAR])
    np.testing.assert_allclose(tilted[1:] / tilted[:-1], near / FAR_AT, rtol=1e-5)
    assert np.abs(state.off[1::2, End.NEAR]).max() < 2e-9
    assert np.abs(state.off[2::2, End.FAR]).max() < 2e-9
    np.testing.assert_allclose(np.abs(state.off).max(axis=1)[1:], state.foretold[1:], rtol=1e-5)


def test_the_other_way_round_runs_off_the_detector():
    state = after(8, way="runs")
    assert state.share == pytest.approx(FAR_AT / 2.0, rel=1e-9)
    assert state.lost is End.FAR
    assert len(state.steps) == 3  # nothing is turned by a crew that sees no spot
    assert stepped(state) is state
    assert abs(state.off[2, End.FAR] / state.off[1, End.NEAR]) == pytest.approx(FAR_AT / 2.0, rel=1e-5)


def test_tilted_past_nought_one_round_is_enough():
    state = after(2, way="past")
    assert state.closed
    assert [step.move for step in state.steps] == [Move.START, Move.TILT, Move.SHIFT]
    far = state.off[1, End.FAR]
    assert far == pytest.approx(OFFSET, rel=1e-6)  # parallel to the line: the offset is all that is left
    shifted = after(1)
    assert state.past == pytest.approx(2.0 / (FAR_AT - 2.0), rel=1e-9)
    # had near been brought home first, far would be tilted past nought by that share of what it then reads
    again = begun(state.lesson, "past", *_setting(shifted))
    assert stepped(again).off[1, End.FAR] == pytest.approx(-state.past * shifted.off[1, End.FAR], rel=1e-5)


def _setting(state):
    setting = state.settings[-1]
    return float(setting.tilt[1]), float(setting.shift[1])


def test_a_beam_on_the_line_needs_no_step():
    state = after(3, angle=0.0, offset=0.0)
    assert state.closed
    assert len(state.steps) == 1
    assert "lies on the line" in buck_in_document(state)["note"]


def test_the_panel_tells_readings_share_and_the_next_step():
    document = buck_in_document(after(0))
    assert [each["key"] for each in document["numbers"]] == ["buck-near", "buck-far", "buck-rounds", "buck-share"]
    assert "shift until near reads nought" in document["note"]
    document = buck_in_document(after(1))
    assert "tilt until far reads nought" in document["note"]
    assert document["numbers"][3]["value"] == "× 0.25"
    state = after(40)
    assert state.closed
    assert np.abs(state.off[-1]).max() <= CLOSED
    assert f"after {state.steps[-1].round} rounds" in buck_in_document(state)["note"]
    assert f"{state.steps[-1].round} rounds in all" in buck_in_document(after(1))["note"]
    assert "shift at the near target" in buck_in_document(after(8, way="runs"))["note"]
    assert buck_in_document(after(0, way="past"))["numbers"][3]["value"] == "33 %"
    for count in (0, 3, 40):
        document = buck_in_document(after(count, near=5.0))
        assert json.loads(json.dumps(plain(document))) == plain(document)
