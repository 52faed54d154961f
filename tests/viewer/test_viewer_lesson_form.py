"""The lesson of the reference lines: closed forms of its shapes, what moves which value, and what the panel says."""

import json

import numpy as np
import pytest
from scipy.stats import norm

from scenes.model.layout import ShownUnits
from viewer.desk import plain
from viewer.logic.lesson_form import form_lesson_result, open_form_lesson
from viewer.logic.lesson_form_sliders import FORM, FORM_REFERENCES
from viewer.logic.lesson_form_view import contacts_of, form_document, form_of_sliders
from viewer.logic.lesson_movables import Pick

MICROMETRE = 1e-6
PICKS = {each.name: tuple(way for way, _ in each.ways) for each in FORM if isinstance(each, Pick)}
SHAPES = PICKS["form_shape"]


@pytest.fixture(scope="module")
def lesson():
    return open_form_lesson(ShownUnits())


def values(result):
    return {way: form.value / MICROMETRE for way, form in result.forms.items()}


def test_a_bow_is_the_same_from_every_line(lesson):
    assert values(form_of_sliders(lesson, "bow", 40.0, 0.0, 0.0, 0.0)) == pytest.approx(
        dict.fromkeys(FORM_REFERENCES, 40.0), abs=1e-6
    )


def test_a_lifted_end_from_its_closed_forms(lesson):
    """Ten flat stations and one lifted by s. End points and zone: nine tenths of s. Least squares from its formula."""
    found = values(form_of_sliders(lesson, "end", 50.0, 0.0, 0.0, 0.0))
    assert found["end"] == pytest.approx(45.0, abs=1e-6)
    assert found["zone"] == pytest.approx(45.0, abs=1e-6)
    k = np.arange(11.0) - 5.0
    left = np.append(np.zeros(10), 50.0) - 50.0 / 11.0 - k * 50.0 * 5.0 / (k @ k)
    assert found["least"] == pytest.approx(np.ptp(left), abs=1e-6)


@pytest.mark.parametrize("shape", SHAPES)
def test_no_line_gives_less_than_the_minimum_zone(lesson, shape):
    for last in (-30.0, 0.0, 25.0):
        for scatter in (0.0, 8.0):
            found = values(form_of_sliders(lesson, shape, 35.0, 0.5, last, scatter))
            assert found["zone"] <= min(found["end"], found["least"]) + 1e-9


@pytest.mark.parametrize("shape", SHAPES)
def test_a_tilt_of_the_beam_changes_no_value(lesson, shape):
    level, tilted = (values(form_of_sliders(lesson, shape, 40.0, tilt, 10.0, 3.0)) for tilt in (0.0, 2.0))
    assert tilted == pytest.approx(level, abs=1e-3)


def test_the_end_points_carry_the_error_of_the_last_reading(lesson):
    """A straight rail: an error e of the last reading is nine tenths of e from the end points."""
    result = form_of_sliders(lesson, "bow", 0.0, 0.0, 20.0, 0.0)
    assert result.forms["end"].value == pytest.approx(18.0 * MICROMETRE, abs=1e-12)
    np.testing.assert_allclose(result.heights[:-1], 0.0, atol=1e-15)
    assert result.heights[-1] == pytest.approx(20.0 * MICROMETRE, abs=1e-15)


def test_scatter_adds_to_every_value_and_least_to_the_minimum_zone(lesson):
    """Of a straight rail the value is the scatter alone, and grows with it in step."""
    once, twice = (form_lesson_result(lesson, "bow", 0.0, 0.0, 0.0, sigma * MICROMETRE).added for sigma in (5.0, 10.0))
    assert all(once[way] > 10.0 * MICROMETRE for way in FORM_REFERENCES)
    assert once["zone"] == min(once.values())
    assert twice == pytest.approx({way: 2.0 * value for way, value in once.items()}, rel=1e-6)
    x = np.linspace(-9.0, 9.0, 20001)  # average range of 11 numbers; a fitted line takes two degrees of freedom out
    average = np.trapezoid(1.0 - norm.cdf(x) ** 11 - norm.sf(x) ** 11, x)
    assert 0.8 * average * 5.0 < once["least"] / MICROMETRE < average * 5.0


def test_contacts_lie_on_both_sides_of_each_other(lesson):
    """The zone of a line is held by three: the one of its side lies between the two of the other."""
    for shape in ("worn", "wave", "bump"):
        high, low = contacts_of(form_of_sliders(lesson, shape, 40.0, 0.3, 7.0, 2.0).forms["zone"])
        one, two = sorted((high, low), key=len)
        assert (len(one), len(two)) == (1, 2)
        assert two[0] < one[0] < two[1]


def test_the_panel_names_values_contacts_and_the_chosen_line(lesson):
    result = form_of_sliders(lesson, "worn", 40.0, 0.0, 0.0, 0.0)
    document = form_document(lesson, result, "zone")
    assert [each["key"] for each in document["numbers"]] == ["end", "least", "zone", "added"]
    assert [bool(each.get("on")) for each in document["numbers"]] == [False, False, True, False]
    assert "differ by" in document["note"]
    chart = document["lines"][0]
    assert [line["kind"] for line in chart["lines"]].count("two") == 1
    assert sum(dot["kind"] == "full" for dot in chart["dots"]) == 3
    assert json.loads(json.dumps(plain(document))) == plain(document)
    same = form_document(lesson, form_of_sliders(lesson, "bow", 40.0, 0.0, 0.0, 0.0), "end")
    assert "same value" in same["note"]
    straight = form_document(lesson, form_of_sliders(lesson, "bow", 0.0, 1.0, 0.0, 0.0), "end")
    assert "straight" in straight["note"]
    assert straight["numbers"][0]["more"] == "a straight line"
