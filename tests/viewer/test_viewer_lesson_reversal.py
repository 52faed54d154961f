"""The lesson of reversal: the mean is the machine, half the difference the device, and what moved stays by half."""

import json

import numpy as np
import pytest

from scenes.model.layout import ShownUnits
from viewer.desk import plain
from viewer.logic.lesson_movables import Pick
from viewer.logic.lesson_reversal import open_reversal_lesson
from viewer.logic.lesson_reversal_sliders import REVERSAL
from viewer.logic.lesson_reversal_view import reversal_document, reversal_of_sliders

ARCSEC = np.pi / 180.0 / 3600.0
SECOND_ORDER = 1e-6
"""Share of an error of ten arcsec that a tangent may differ by from its angle, with room."""

DEVICES = tuple(way for each in REVERSAL if isinstance(each, Pick) for way, _ in each.ways)


@pytest.fixture(scope="module", params=DEVICES)
def lesson(request):
    return open_reversal_lesson(ShownUnits(), request.param)


@pytest.mark.parametrize(("truth", "error", "moved"), [(6.0, 10.0, 0.0), (-3.5, 20.0, 0.0), (6.0, -10.0, 4.0)])
def test_the_mean_is_the_machine_and_half_the_difference_the_device(lesson, truth, error, moved):
    result = reversal_of_sliders(lesson, truth, error, moved)
    assert result.mean / ARCSEC == pytest.approx(truth + 0.5 * moved, abs=SECOND_ORDER * 30.0)
    assert result.half_difference / ARCSEC == pytest.approx(error - 0.5 * moved, abs=SECOND_ORDER * 30.0)
    np.testing.assert_allclose(result.slopes / ARCSEC, [truth + error, truth - error + moved], atol=SECOND_ORDER * 30.0)


@pytest.mark.parametrize("short", [1.0, 10.0, 30.0])
def test_a_turn_that_falls_short_leaves_its_share_of_the_error(lesson, short):
    """Of an error e turned by 180 degrees less s, (1 - cos s)/2 stays in the mean; a prism cannot fall short."""
    truth, error = 6.0, 20.0
    result = reversal_of_sliders(lesson, truth, error, 0.0, short)
    share = 0.0 if lesson.device == "prism" else 0.5 * (1.0 - np.cos(np.deg2rad(short)))
    assert result.mean / ARCSEC == pytest.approx(truth + share * error, abs=SECOND_ORDER * 30.0)
    assert result.half_difference / ARCSEC == pytest.approx((1.0 - share) * error, abs=SECOND_ORDER * 30.0)


def test_what_a_short_turn_takes_from_the_height_goes_sideways():
    lesson = open_reversal_lesson(ShownUnits(), "emitter")
    result = reversal_of_sliders(lesson, 0.0, 20.0, 0.0, 30.0)
    along = lesson.ways[1].along
    aside = np.polyfit(along, result.seen[1].h, 1)[0] / ARCSEC
    assert abs(aside) == pytest.approx(20.0 * np.sin(np.deg2rad(30.0)), rel=1e-5)
    assert np.polyfit(along, result.seen[0].h, 1)[0] / ARCSEC == pytest.approx(0.0, abs=1e-5)


def test_the_note_tells_what_is_left_and_why(lesson):
    prism = lesson.device == "prism"
    result = reversal_of_sliders(lesson, 6.0, 20.0, 4.0, 30.0)
    note = reversal_document(lesson, result, 6.0, 20.0, turned=True, moved=4.0, short=30.0)["note"]
    assert ("off by +2.00 arcsec" if prism else "off by +3.34 arcsec") in note
    assert "half of what moved" in note
    assert ("6.7 % of the error" in note) is not prism
    assert ("cannot be turned short" in note) is prism


def test_a_device_without_error_reads_alike_both_ways(lesson):
    result = reversal_of_sliders(lesson, 8.0, 0.0, 0.0)
    np.testing.assert_allclose(result.read[0] - result.read[0].mean(), result.true, atol=1e-11)
    np.testing.assert_allclose(result.read[1] - result.read[1].mean(), result.true, atol=1e-11)


def test_the_device_really_is_turned():
    """The emitter turns about its beam, the prism gets its light from the other end, the base stays where it is."""
    emitter, prism, vial = (open_reversal_lesson(ShownUnits(), device).ways for device in ("emitter", "prism", "vial"))
    np.testing.assert_allclose(emitter[1].geometry.turn - emitter[0].geometry.turn, np.pi)
    one, two = (way.geometry for way in prism)
    k = prism[0].tells[0]
    np.testing.assert_allclose(one.launch_rotation[k][:, 0], -two.launch_rotation[k][:, 0], atol=1e-12)
    np.testing.assert_allclose(one.noses.centre[0], two.noses.centre[0], atol=1e-12)
    np.testing.assert_array_equal(vial[0].geometry.launch_origin, vial[1].geometry.launch_origin)


def test_the_panel_tells_both_ways_mean_and_half_difference(lesson):
    result = reversal_of_sliders(lesson, 6.0, 10.0, 0.0)
    document = reversal_document(lesson, result, 6.0, 10.0, turned=True)
    told = {each["key"]: each["value"] for each in document["numbers"]}
    assert told == {
        "as-set-up": "+16.0 arcsec", "turned": "−4.0 arcsec", "mean": "+6.0 arcsec", "half": "+10.0 arcsec",
    }  # fmt: skip
    assert [bool(each.get("on")) for each in document["numbers"]] == [False, True, False, False]
    assert "the mean is the machine" in document["note"]
    assert json.loads(json.dumps(plain(document))) == plain(document)
    moved = reversal_document(lesson, reversal_of_sliders(lesson, 6.0, 10.0, 4.0), 6.0, 10.0, turned=False, moved=4.0)
    assert "off by +2.00 arcsec" in moved["note"]
    none = reversal_document(lesson, reversal_of_sliders(lesson, 6.0, 0.0, 0.0), 6.0, 0.0, turned=False)
    assert "no error" in none["note"]
