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
    moved = reversal_document(lesson, reversal_of_sliders(lesson, 6.0, 10.0, 4.0), 6.0, 10.0, turned=False)
    assert "off by +2.0 arcsec" in moved["note"]
    none = reversal_document(lesson, reversal_of_sliders(lesson, 6.0, 0.0, 0.0), 6.0, 0.0, turned=False)
    assert "no error" in none["note"]
