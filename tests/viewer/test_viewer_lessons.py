"""The lessons: what the sliders do against closed forms, and what the panel says about it."""

import json
from dataclasses import replace

import numpy as np
import pytest

from scenes.errors import GeometryError
from scenes.model.layout import ShownUnits
from scenes.tracing.pentaprism import PYRAMID_GAIN
from scenes.units import to_si
from viewer.desk import plain
from viewer.logic.charts import CHART_SIZE, LEFT, RIGHT, Curve, Marks, bar_chart, decade_chart, line_chart, nice_ceiling
from viewer.logic.lesson_air import air_result, open_air_lesson
from viewer.logic.lesson_air_view import air_document
from viewer.logic.lesson_base import lesson_of_layout, open_base_lesson
from viewer.logic.lesson_base_view import HEIGHT, WIDTH, base_document, base_of_sliders
from viewer.logic.lesson_movables import Pick, Slider
from viewer.logic.lesson_prism import open_prism_lesson, prism_result, prism_state
from viewer.logic.lesson_prism_view import prism_document, prism_of_sliders
from viewer.logic.lesson_scenes import FLANGE_RADII, NEAR_AT, PRISM, flange_scene
from viewer.logic.lesson_sliders import LESSONS
from viewer.text_lessons import HAPPENS, NAMES, STEPS

MICROMETRE = 1e-6
NANOMETRE = 1e-9
ARCSEC = np.pi / 180.0 / 3600.0
UNITS = ShownUnits()


def is_plain(document):
    return json.loads(json.dumps(plain(document))) == plain(document)


# --- tilt and cone


@pytest.fixture(scope="module")
def lesson(planned):
    return open_base_lesson(planned.layout)


def test_a_plane_takes_a_tilt_out_and_leaves_a_dish(lesson):
    tilted = base_of_sliders(lesson, 10.0, -6.0, 0.0)
    assert tilted.readings_spread > 100 * MICROMETRE
    assert tilted.deviations_spread < 0.01 * MICROMETRE
    coned = base_of_sliders(lesson, 0.0, 0.0, 10.0)
    assert coned.deviations_spread > 10 * MICROMETRE
    both = base_of_sliders(lesson, 10.0, -6.0, 10.0)
    assert both.deviations_spread == pytest.approx(coned.deviations_spread, rel=1e-3)


def test_the_sliders_are_seconds_of_arc(lesson):
    change = base_of_sliders(lesson, 0.0, 0.0, 10.0).readings
    reach = np.linalg.norm(lesson.geometry.detector_centres() - lesson.geometry.beam_origins(), axis=1)
    np.testing.assert_allclose(change, reach * to_si(10.0, "arcsec", "angle"), rtol=1e-3)


def test_charts_show_both_in_one_scale(lesson):
    result = base_of_sliders(lesson, 0.0, 0.0, 10.0)
    document = base_document(lesson, result)
    readings, left = (chart["bars"] for chart in document["bars"])
    assert len(readings) == len(left) == len(result.readings)
    largest = max(bar["height"] for bar in readings)
    assert largest == pytest.approx(0.5 * HEIGHT - 3.0, abs=0.01)
    ratio = np.abs(result.deviations).max() / np.abs(result.readings - result.readings.mean()).max()
    assert max(bar["height"] for bar in left) / largest == pytest.approx(ratio, abs=0.02)
    for bar in (*readings, *left):
        assert 0.0 <= bar["x"] <= WIDTH - bar["width"]
        assert -0.5 <= bar["y"] <= HEIGHT
    assert is_plain(document)


def test_no_error_is_no_share(lesson):
    document = base_document(lesson, base_of_sliders(lesson, 0.0, 0.0, 0.0))
    assert [each["value"] for each in document["numbers"]] == ["0.0 µm", "0.0 µm"]
    assert "move a slider" in document["note"]


def test_a_cone_cannot_be_seen_from_equal_radii(planned):
    """All readings move by the same cone times radius, and the fit has nothing to take out."""
    lesson = open_base_lesson(planned.layout, one_radius=True)
    result = base_of_sliders(lesson, 0.0, 0.0, 10.0)
    assert result.common == pytest.approx(0.75 * np.tan(10.0 * ARCSEC), rel=1e-6)
    assert result.readings_spread < 0.1 * NANOMETRE
    assert result.deviations_spread < 0.1 * NANOMETRE
    assert "alike" in base_document(lesson, result)["note"]
    assert base_of_sliders(lesson, 5.0, 0.0, 10.0).readings_spread > 10 * MICROMETRE


def test_the_lesson_stands_on_the_layout_where_that_fits(planned):
    assert not open_base_lesson(planned.layout).own
    other = flange_scene(UNITS, sweeps=True)
    with pytest.raises(GeometryError, match="rotary base"):
        lesson_of_layout(other)
    own = open_base_lesson(other)
    assert own.own
    assert base_of_sliders(own, 0.0, 0.0, 10.0).deviations_spread > 10 * MICROMETRE
    assert open_base_lesson(replace(planned.layout, tasks={})).own


# --- prism


@pytest.fixture(scope="module")
def prism():
    return open_prism_lesson(UNITS)


ANGLE = 10.0 * 60.0 * ARCSEC


def test_turning_about_the_edge_changes_no_direction(prism):
    result = prism_result(prism, prism_state(edge=ANGLE))
    assert abs(result.right_angle) < 1e-14
    assert abs(result.out_of_plane) < 1e-14
    assert abs(result.along) > 10 * MICROMETRE  # but it moves the line


def test_roll_keeps_the_right_angle_and_leaves_the_plane_by_the_roll(prism):
    result = prism_result(prism, prism_state(roll=ANGLE))
    assert abs(result.right_angle) < 1e-14
    assert result.out_of_plane == pytest.approx(ANGLE, rel=1e-9)
    assert result.aside == pytest.approx(FLANGE_RADII[1] * np.tan(ANGLE), rel=1e-9)


def test_turning_about_the_exit_costs_its_square(prism):
    """``d'.d = sin^2`` of the turn: the angle between the beams is that much below a right one."""
    result = prism_result(prism, prism_state(exit_=ANGLE))
    assert result.right_angle == pytest.approx(-np.arcsin(np.sin(ANGLE) ** 2), rel=1e-6)
    assert abs(result.right_angle) < 2.0 * ARCSEC
    turns, errors = result.scan
    np.testing.assert_allclose(errors, -(np.sin(turns) ** 2), atol=1e-13)


@pytest.mark.parametrize(("error", "sideways", "gain"), [("mirror", False, 2.0), ("pyramid", True, PYRAMID_GAIN)])
def test_errors_of_the_glass_turn_the_exit(prism, error, sideways, gain):
    result = prism_result(prism, prism_state(**{error: 10.0 * ARCSEC}))
    wanted = gain * PRISM.index * 10.0 * ARCSEC
    turned, other = result.right_angle, result.out_of_plane
    if sideways:
        turned, other = other, turned
    assert abs(turned) == pytest.approx(wanted, rel=1e-3)
    assert abs(other) < 1e-3 * wanted


@pytest.mark.parametrize(("up", "right"), [(1e-4, 0.0), (0.0, 1e-4), (2e-4, -1e-4)])
def test_a_decentred_beam_makes_one_wave_a_turn_at_every_radius(prism, up, right):
    """Height ``e cos(turn - direction)``: toward the emitter where the beam enters on the side of the exit."""
    result = prism_result(prism, prism_state(up=up, right=right))
    wanted = up * np.cos(prism.turns) + right * np.sin(prism.turns)
    np.testing.assert_allclose(result.heights, np.stack([wanted, wanted]), atol=NANOMETRE)


def test_a_wrong_mirror_angle_sweeps_a_cone_and_a_lean_nothing(prism):
    cone = prism_result(prism, prism_state(mirror=10.0 * ARCSEC)).heights
    assert np.ptp(cone, axis=1).max() < NANOMETRE
    slope = (cone[1].mean() - cone[0].mean()) / (FLANGE_RADII[1] - FLANGE_RADII[0])
    assert slope == pytest.approx(-2.0 * PRISM.index * 10.0 * ARCSEC, rel=1e-3)
    lean = prism_result(prism, prism_state(pyramid=10.0 * ARCSEC)).heights
    assert np.abs(lean).max() < 10 * NANOMETRE


def test_the_stations_read_what_the_curves_show(prism):
    """The heights are those of the beams that the detectors read."""
    state = prism_state(mirror=5.0 * ARCSEC, up=1e-4)
    result = prism_result(prism, state)
    stations = len(prism.plane.rows) // 2
    turns = -2.0 * np.pi * np.arange(stations) / stations  # the face looks back to the emitter
    for ring, height in enumerate(result.heights):
        at = np.interp(np.mod(turns, 2.0 * np.pi), prism.turns, height)
        seen = result.plane.v[ring * stations : (ring + 1) * stations]
        np.testing.assert_allclose(seen, at, atol=0.2 * MICROMETRE)  # 5 degrees between the points of the curve


def test_the_panel_of_the_prism(prism):
    result = prism_of_sliders(prism, (0.0, 0.0, 10.0, 0.0, 0.0, 0.0, 0.0))
    document = prism_document(prism, result, sweeps=False)
    assert [each["value"] for each in document["numbers"]] == ["−1.75 arcsec", "+600 arcsec"]
    assert document["lines"][0]["dots"]
    result = prism_of_sliders(prism, (0.0, 0.0, 0.0, 5.0, 0.0, 0.1, 0.0))
    document = prism_document(prism, result, sweeps=True)
    assert document["numbers"][0]["value"] == "200.0 µm"
    assert document["numbers"][1]["more"] == "a cone, no plane"
    assert [key["name"] for key in document["lines"][0]["keys"]] == ["at 450 mm", "at 1050 mm"]
    assert is_plain(document)


# --- bent beam


@pytest.mark.parametrize("reach", [5.0, 20.0, 40.0])
def test_a_level_beam_drops_with_the_square_of_the_distance(reach):
    lesson = open_air_lesson(UNITS, reach)
    curvature = -float(lesson.geometry.index_slope[0])  # per K/m
    result = air_result(lesson, 1.0, zeroed=False)
    assert result.at_end == pytest.approx(-0.5 * curvature * reach**2, rel=1e-8)
    assert air_result(lesson, -1.0, zeroed=False).at_end == pytest.approx(-result.at_end, rel=1e-8)
    np.testing.assert_allclose(result.curve[1], -0.5 * curvature * result.curve[0] ** 2, atol=NANOMETRE)


@pytest.mark.parametrize("reach", [5.0, 20.0, 40.0])
def test_set_on_near_and_far_a_quarter_is_left_half_way(reach):
    lesson = open_air_lesson(UNITS, reach)
    curvature = -float(lesson.geometry.index_slope[0])
    result = air_result(lesson, 1.0, zeroed=True)
    assert np.abs(result.seen.v[[0, -1]]).max() < 1e-3 * NANOMETRE
    assert result.half_way == pytest.approx(curvature * (reach - NEAR_AT) ** 2 / 8.0, rel=1e-6)
    assert result.bend == pytest.approx(air_result(lesson, 1.0, zeroed=False).bend, rel=1e-6)


def test_without_a_gradient_the_beam_is_straight():
    lesson = open_air_lesson(UNITS, 20.0)
    for zeroed in (False, True):
        result = air_result(lesson, 0.0, zeroed)
        assert np.abs(result.curve[1]).max() < 1e-14
        assert "no bend" in air_document(lesson, result, zeroed)["note"]


def test_the_panel_of_the_bent_beam():
    lesson = open_air_lesson(UNITS, 20.0)
    document = air_document(lesson, air_result(lesson, 1.0, zeroed=True), zeroed=True)
    assert document["numbers"][0]["value"] == "0.0 µm"
    assert "45.4 µm" in document["note"]
    assert len(document["lines"][0]["dots"]) == len(lesson.geometry.rows)
    assert is_plain(document)


# --- charts and words


def test_a_chart_keeps_its_curves_inside():
    x = np.linspace(0.0, 4.0, 9)
    for y in (3.0 * np.sin(x), x, -x, 0.0 * x):
        chart = line_chart("name", [Curve("a", x, y)], [(0.0, "0"), (4.0, "4")], 1.0, [Marks(x, y)])
        points = np.array([pair.split(",") for pair in chart["lines"][0]["points"].split()], dtype=float)
        assert points[:, 0].min() == pytest.approx(LEFT)
        assert points[:, 0].max() == pytest.approx(CHART_SIZE[0] - RIGHT)
        assert points[:, 1].min() >= 0.0
        assert points[:, 1].max() <= CHART_SIZE[1]
        assert np.all(np.diff(points[:, 1])[y[1:] > y[:-1]] < 0.0)  # up is up
        assert [tick["text"] for tick in chart["y_ticks"]].count("0") == 1


def test_a_chart_of_decades_is_one_step_for_each_power():
    y = np.array([1e3, 1e2, 1.0, 0.1, 1e-9])
    x = np.arange(5.0)
    chart = decade_chart("left", [Curve("a", x, y)], [(0.0, "0"), (4.0, "4")], 0.1, 1e3, [Marks(x, y, "full")])
    heights = np.array([pair.split(",")[1] for pair in chart["lines"][0]["points"].split()], dtype=float)
    decade = heights[1] - heights[0]
    np.testing.assert_allclose(np.diff(heights), [decade, 2 * decade, decade, 0.0], atol=0.11)  # figures rounded to 0.1
    assert [tick["text"] for tick in chart["y_ticks"]] == ["0.1", "1", "10", "100", "1000"]
    assert {dot["kind"] for dot in chart["dots"]} == {"full"}


@pytest.mark.parametrize(("value", "ceiling"), [(0.9, 1.0), (1.0, 1.0), (1.1, 2.0), (21.0, 50.0), (6e-6, 1e-5)])
def test_nice_ceilings(value, ceiling):
    assert nice_ceiling(value) == pytest.approx(ceiling)


def test_bars_are_as_long_as_their_sizes():
    chart = bar_chart([("a", 4.0, "4"), ("b", 1.0, "1")])
    assert [bar["width"] for bar in chart["bars"]] == [chart["width"], 0.25 * chart["width"]]
    assert chart["label"] == "a 4; b 1"
    assert bar_chart([])["bars"] == []


def test_every_slider_is_explained_in_two_or_three_sentences():
    assert set(LESSONS) == set(NAMES) == set(HAPPENS) == set(STEPS)
    names = [each.name for movable in LESSONS.values() for each in movable]
    assert len(set(names)) == len(names)
    for movable in LESSONS.values():
        for each in movable:
            assert 2 <= each.about.count(". ") + 1 <= 3
            if isinstance(each, Slider):
                assert each.low <= each.first <= each.high
            if isinstance(each, Pick):
                assert len({value for value, _ in each.ways}) == len(each.ways) > 2
