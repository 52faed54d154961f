"""Plots of results: their numbers are those of the result, and the drawings keep them to scale."""

import json

import numpy as np
import pytest

from scenes.layout.read import read_layout
from scenes.reductions.quantities.definition import Kind
from scenes.reductions.survey import reduce_survey
from scenes.uncertainty.simulate import simulated
from viewer.desk import plain
from viewer.logic.plots import plot_with, plots_of
from viewer.logic.plots_axes import Axis, axis_over, ticks_between
from viewer.logic.plots_circle import circles_of
from viewer.logic.plots_polar import polars_of
from viewer.logic.plots_profile import profile_chart, profiles_of
from viewer.logic.plots_run_out import turned_chart, turned_of
from viewer.logic.session import DIFFERENCE, Session
from viewer.logic.shown import first_factor, shown_of

from .conftest import open_example


def of(session, task, chosen=-1):
    return shown_of(session, task, session.visits(task)[0], "", False, chosen)


def told(shown):
    """Deviations of the result by station and direction."""
    found = {}
    for each in shown.measured.deviations:
        numbers = zip(each.values.tolist(), each.u.tolist(), strict=True)
        found |= dict(zip(zip(each.stations, each.components, strict=True), numbers, strict=True))
    return found


@pytest.mark.parametrize(
    ("name", "task", "word"),
    [("transfer_rails", "a height", "vertical"), ("lathe", "ways by stepping", "up"),
     ("transfer_rails", "a side", "horizontal")],
)  # fmt: skip
def test_a_profile_holds_the_deviations_of_the_result(name, task, word):
    session = open_example(name)
    shown = of(session, task)
    (profile,) = profiles_of(shown)
    values = told(shown)
    for station, value, expanded in zip(profile.stations, profile.values, profile.expanded, strict=True):
        wanted = values[station, word]
        assert value == pytest.approx(wanted[0], abs=1e-15)
        assert expanded == pytest.approx(2.0 * wanted[1], abs=1e-15)
    assert np.all(np.diff(profile.at) > 0.0)
    assert len(profile.stations) == len(values)


def test_the_limits_of_a_profile_are_as_far_apart_as_the_limit():
    shown = of(open_example("lathe"), "ways by line")
    (profile,) = profiles_of(shown)
    np.testing.assert_allclose(profile.high - profile.low, shown.component.verdict.limit)
    assert profile.values.max() <= profile.high[0]


def test_every_station_of_a_grid_is_in_a_row_and_in_a_column(session):
    shown = of(session, "bed flatness")
    profiles = profiles_of(shown)
    assert len(profiles) == 5 + 7
    names = [name for profile in profiles for name in profile.stations]
    assert sorted(names) == sorted(2 * shown.sheet.stations)
    values = dict(zip(shown.sheet.stations, shown.sheet.values, strict=True))
    for profile in profiles:
        np.testing.assert_array_equal(profile.values, [values[name] for name in profile.stations])


def test_angles_stay_angles():
    shown = of(open_example("gantry_mill"), "rail twist")
    (profile,) = profiles_of(shown)
    assert profile.kind is Kind.ANGLE
    (each,) = shown.measured.deviations
    np.testing.assert_allclose(np.sort(profile.values), np.sort(each.values))


def test_an_axis_is_seen_along_its_line():
    """Up stays up; what stands to the left of one who looks along the axis is drawn on the left."""
    session = open_example("extruder_barrel")
    shown = of(session, "axis")
    (polar,), values = polars_of(shown), told(shown)
    (figure,) = shown.figures
    ahead = figure.places[-1] - figure.places[0]
    right = np.cross(ahead, [0.0, 0.0, 1.0]) / np.linalg.norm(ahead)
    for i, name in enumerate(polar.stations):
        assert polar.up[i] == pytest.approx(values[name, "vertical"][0])
        assert abs(polar.right[i]) == pytest.approx(abs(values[name, "horizontal"][0]))
        assert polar.right[i] == pytest.approx(figure.displacement[i] @ right)
    farthest = np.hypot(polar.up, polar.right).max()
    assert 2.0 * farthest == pytest.approx(shown.component.value, rel=1e-9)
    assert 2.0 * polar.limit == pytest.approx(shown.component.verdict.limit)


def test_the_axis_of_a_spindle_leans_as_its_components_say():
    session = open_example("lathe")
    shown = of(session, "spindle")
    (figure,) = shown.figures
    assert figure.leans
    ahead = np.linalg.norm(figure.places - figure.places[0], axis=1)
    for number, component in enumerate(shown.measured.components):
        np.testing.assert_allclose(figure.displacement @ figure.directions[number], component.value * ahead, atol=1e-12)
        np.testing.assert_allclose(figure.expanded[:, number], component.expanded_uncertainty * ahead, atol=1e-12)
    assert figure.words == ("up", "front")


def test_circles_of_a_spindle_go_through_their_readings():
    """Readings are off the circle by no more than a few standard uncertainties; centres lean as the spindle does."""
    session = open_example("lathe")
    measured = session.own("spindle", "as found")
    circles = circles_of(session.layout, measured)
    assert [each.station for each in circles] == [f"C@p{i}" for i in range(1, 6)]
    for each in circles:
        assert len(each.turns) == 4
        assert each.apart.max() < 20e-6
        np.testing.assert_allclose(np.hypot(each.h - each.centre[0], each.v - each.centre[1]), each.radius, atol=20e-6)
        np.testing.assert_allclose(each.centre, [each.h.mean(), each.v.mean()], atol=1e-12)  # turns go all round
        assert np.all(each.u > 0.0)
    assert circles_of(open_example("press_bed").layout, open_example("press_bed").own("bed flatness", "as left")) == ()


ROLL = """
layout: 1
machine:
  roll_1: {roll: {diameter: 300 mm, face: 2000 mm}, at: [0 m, 0 m, 1 m], axis: +x}
devices: {laser: {emitter: block}, t1: {target: two axes}}
stations:
  run: {on: roll_1, at: [0.4 m, 1.6 m], target: t1, mount: {magnet: 60 mm}, turned: [0 deg, 90 deg, 180 deg, 270 deg]}
setups:
  along: {emitter: {use: laser, on: floor, at: [-2 m, 0 m, 0 mm], aim: +x, mount: {tripod: 1.235 m}}, reads: [run]}
tasks:
  turning: {run out: roll_1, limit: 150 um}
"""


def test_run_out_goes_round(tmp_path):
    """Places stand at their turns; the wave once per turn is as large as the eccentricity of the result."""
    path = tmp_path / "layout.yaml"
    path.write_text(ROLL, encoding="utf-8")
    layout = read_layout(path)
    survey = reduce_survey(layout, simulated(layout, np.random.default_rng(3)).readings, trials=1000)
    session = Session(layout, None, survey, {}, ())
    shown = of(session, "turning")
    turned = turned_of(layout, shown)
    assert [each.name for each in turned] == ["run1", "run2"]
    by_name = {each.name: each for each in shown.measured.components}
    for each in turned:
        np.testing.assert_allclose(np.rad2deg(each.turns), [0.0, 90.0, 180.0, 270.0])
        assert np.ptp(each.values) == pytest.approx(by_name[each.name].value)
        assert np.hypot(*each.once[1:]) == pytest.approx(by_name[f"{each.name} eccentricity"].value, rel=1e-6)
        assert each.limit == pytest.approx(150e-6)
        assert each.accepted == pytest.approx(150e-6 - by_name[each.name].verdict.guard)
        chart = turned_chart(layout, each)
        outer, inner = chart["rings"][1:], chart["accepted"]
        assert outer[1]["r"] - outer[0]["r"] == pytest.approx(each.limit * chart["per"], abs=0.11)
        assert inner[1] - inner[0] == pytest.approx(each.accepted * chart["per"], abs=0.11)
        off = np.array([[dot["x"], dot["y"]] for dot in chart["dots"]]) - chart["middle"]
        assert np.all(off[0] * [0, -1] >= 0.0)
        assert off[1, 0] > 0.0 > off[3, 0]  # clockwise
        radius = np.linalg.norm(off, axis=1) / chart["per"]
        np.testing.assert_allclose(np.diff(radius), np.diff(each.values), atol=0.3 / chart["per"])
    assert plots_of(session, shown)[0]["fit"]
    assert first_factor(session, "turning") > 100.0
    for each in turned:  # in the picture readings stand around the roll
        number = list(by_name).index(each.name)
        (figure,) = of(session, "turning", number).figures
        off = figure.places - [figure.places[0, 0], 0.0, 1.0]
        np.testing.assert_allclose(np.linalg.norm(off, axis=1), 0.15, rtol=1e-9)
        np.testing.assert_allclose(off[1], [0.0, 0.15, 0.0], atol=1e-9)  # turned by a quarter, that was up
        outward = np.einsum("ij,ij->i", figure.displacement, off) / 0.15
        np.testing.assert_allclose(outward, each.values, atol=1e-12)


def numbers(points):
    return np.array([pair.split(",") for pair in points.split()], dtype=float)


def test_the_drawing_keeps_the_numbers_to_scale():
    session = open_example("lathe")
    (profile,) = profiles_of(of(session, "ways by stepping"))
    chart = profile_chart(session.layout, profile)
    line, band = numbers(chart["line"]), numbers(chart["band"])
    n = len(profile.at)
    slope, zero = np.polyfit(1e6 * profile.values, line[:, 1], 1)
    assert slope < 0.0  # high is up
    np.testing.assert_allclose(line[:, 1], zero + slope * 1e6 * profile.values, atol=0.1)
    assert zero == pytest.approx(chart["zero"], abs=0.1)
    np.testing.assert_allclose(band[:n, 1] - line[:, 1], slope * 1e6 * profile.expanded, atol=0.16)
    for tick in chart["y_ticks"]:
        value = float(tick["text"].replace("\u2212", "-"))
        assert tick["y"] == pytest.approx(zero + slope * value, abs=0.15)
    assert [dot["name"] for dot in chart["dots"]] == list(profile.stations)
    assert chart["x_ticks"][0]["text"] == "0"
    for each in (line, band):
        assert each.min() >= 0.0
        assert each[:, 0].max() <= chart["width"]
        assert each[:, 1].max() <= chart["height"]


def test_ticks_are_round_and_few():
    rng = np.random.default_rng(3)
    for _ in range(1000):
        low = rng.normal(0.0, 10.0 ** rng.uniform(-6, 6))
        high = low + 10.0 ** rng.uniform(-4, 5) * (1.0 + abs(low) * 1e-6)
        ticks = ticks_between(low, high, 6)
        assert len(ticks) <= 7
        slack = 1e-5 * (high - low)
        assert np.all((ticks >= low - slack) & (ticks <= high + slack))


def test_an_axis_takes_values_to_places():
    axis = axis_over(np.array([-2.0, np.nan, 6.0]), 100.0, 0.0, zero=True, room=0.0)
    assert axis == Axis(-2.0, 6.0, 100.0, 0.0)
    np.testing.assert_allclose(axis.at(np.array([-2.0, 2.0, 6.0])), [100.0, 50.0, 0.0])


@pytest.mark.parametrize(
    "name",
    [
        "press_bed",
        "transfer_rails",
        "extruder_barrel",
        "lathe",
        "coating_rolls",
        "press_slide",
        "gantry_mill",
        "rotary_table",
    ],
)
def test_every_task_has_plots_that_go_through_json(name):
    session = open_example(name)
    for task in session.tasks():
        plots = plots_of(session, of(session, task))
        assert plots
        assert json.loads(json.dumps(plain(plots))) == plain(plots)
        for plot in plots:
            assert all(np.isfinite([dot["x"], dot["y"]]).all() for dot in plot["dots"])
            for dot in plot["dots"]:
                assert 0.0 <= dot["x"] <= plot.get("width", plot.get("size"))
                assert 0.0 <= dot["y"] <= plot.get("height", plot.get("size"))


def test_a_change_has_a_profile_without_limits(session):
    plots = plots_of(session, shown_of(session, "bed flatness", DIFFERENCE, "", False))
    assert {plot["kind"] for plot in plots} == {"profile"}
    assert not any(plot["zone"] for plot in plots)


def test_a_station_chooses_the_plot_that_holds_it(session):
    plots = plots_of(session, of(session, "bed flatness"))
    number = plot_with(plots, "C4", 0)
    assert "C4" in plots[number]["stations"]
    assert plot_with(plots, "C5", number) == number
    assert plot_with(plots, "", 99) == 0
    assert plot_with(plots, "nowhere", 2) == 2
