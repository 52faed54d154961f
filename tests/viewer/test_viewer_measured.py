"""Results of any quantity: verdicts, tables and cards, and what they look like in the picture."""

import json

import numpy as np
import pytest

from scenes.meshes.deviation_surface import DEVIATION
from scenes.reductions.quantities.definition import Kind
from scenes.reductions.quantities.measured import Deviations
from scenes.reductions.verdict import Word
from viewer import text
from viewer.desk import plain
from viewer.logic.figures import ARM, Form, figure_of, sets_of
from viewer.logic.limits_drawn import limits_of
from viewer.logic.result import result_document
from viewer.logic.result_stations import result_card, sorted_rows
from viewer.logic.shown import first_factor, shown_of
from viewer.scene3d_lines import LinesPicture, leaning_lines

from .conftest import open_example

EXAMPLES = (
    "press_bed", "transfer_rails", "extruder_barrel", "lathe", "coating_rolls", "press_slide", "gantry_mill",
    "rotary_table",
)  # fmt: skip


@pytest.fixture(scope="module")
def rolls():
    return open_example("coating_rolls")


def of(session, task, chosen=-1):
    return shown_of(session, task, session.visits(task)[0], "", False, chosen)


def test_the_worst_component_is_shown_first_and_in_full(rolls):
    shown = of(rolls, "rolls")
    document = result_document(rolls, shown)
    measured = shown.measured
    assert document["head"]["word"] == text.VERDICT_WORDS[measured.word]
    assert len(document["components"]) == len(measured.components)
    assert document["component"]["name"] == measured.worst.name
    assert result_document(rolls, of(rolls, "rolls", 0))["component"]["number"] == 0
    assert of(rolls, "rolls", 99).component is measured.worst
    assert json.loads(json.dumps(plain(document))) == plain(document)


def test_values_stand_with_uncertainty_and_limit_in_the_units_of_the_layout(rolls):
    shown = of(rolls, "rolls")
    row, component = result_document(rolls, shown)["components"][0], shown.measured.components[0]
    assert component.kind is Kind.ANGLE
    arcsec = component.value * 180.0 * 3600.0 / np.pi
    assert row["value"] == text.signed(f"{arcsec:+.2f}") + " arcsec"
    assert row["expanded"].startswith("± ")
    assert row["limit"].startswith("± ")
    assert row["word"] == text.VERDICT_WORDS[component.verdict.word]


def test_deviations_are_listed_and_found_on_cards(rolls):
    shown = of(rolls, "rolls")
    rows, note = sorted_rows(rolls, shown, "order", False)
    assert len(rows) == sum(len(each.stations) for each in shown.measured.deviations)
    assert note == ""
    card = result_card(rolls, shown, rows[0]["name"])
    assert rows[0]["deviation"] in card["deviation"]
    assert result_card(rolls, shown, "nowhere") is None
    assert result_document(rolls, shown)["unit"] == "µm"
    assert result_document(rolls, shown)["columns"] == {"direction": True, "leverage": False}


@pytest.mark.parametrize("name", EXAMPLES)
def test_every_task_of_every_example_is_told_and_drawn(name):
    session = open_example(name)
    assert set(session.tasks()) == set(session.layout.tasks)
    for task in session.tasks():
        assert first_factor(session, task) > 1.0
        for visit in session.visits(task):
            shown = shown_of(session, task, visit, "", False)
            document = result_document(session, shown)
            assert document["head"]["word"] in {text.VERDICT_WORDS[word] for word in Word}
            assert document["component"]["lines"]
            assert shown.figures
            tips = shown.tips(100.0)
            assert tips.shape == (len(shown.stations), 3)
            assert np.isfinite(tips).all()
            assert max(np.abs(figure.values).max() for figure in shown.figures) <= shown.largest


@pytest.mark.parametrize(
    ("name", "task", "form", "directions"),
    [
        ("press_bed", "bed flatness", Form.SHEET, 1), ("press_slide", "bed level", Form.SHEET, 1),
        ("press_slide", "slide parallel", Form.SHEET, 1), ("press_slide", "travel square", Form.LINE, 2),
        ("transfer_rails", "a height", Form.LINE, 1), ("transfer_rails", "cross level", Form.LINE, 1),
        ("extruder_barrel", "axis", Form.LINE, 2), ("lathe", "ways by stepping", Form.LINE, 1),
        ("gantry_mill", "rail twist", Form.LINE, 1),
    ],
)  # fmt: skip
def test_what_a_quantity_looks_like(name, task, form, directions):
    (figure,) = of(open_example(name), task).figures
    assert figure.form is form
    assert len(figure.directions) == directions


def test_a_figure_displaces_stations_by_their_deviations(rolls):
    """Displacements are the deviations along their directions, whatever the order of the stations."""
    layout, rng = rolls.layout, np.random.default_rng(4)
    for _ in range(200):
        n = int(rng.integers(2, 9))
        names, x = [f"p{i}" for i in range(n)], rng.permutation(n) + rng.uniform(0.0, 0.4, n)
        places = np.column_stack([x, np.zeros(n), np.zeros(n)])
        both = np.tile([[0.0, 1.0, 0.0], [0.0, 0.0, 1.0]], (n, 1))
        values, u = rng.normal(0.0, 1e-4, 2 * n), rng.uniform(0.0, 1e-5, 2 * n)
        told = Deviations("", tuple(np.repeat(names, 2)), ("side", "up") * n, np.repeat(places, 2, axis=0), both,
                          values, u, Kind.LENGTH)  # fmt: skip
        figure = figure_of(layout, told, 2.0)
        assert figure.form is Form.LINE
        assert np.all(np.diff(figure.places[:, 0]) > 0.0)
        order = [names.index(name) for name in figure.stations]
        np.testing.assert_allclose(figure.displacement[:, 1:], values.reshape(n, 2)[order])
        np.testing.assert_allclose(figure.expanded, 2.0 * u.reshape(n, 2)[order])
        np.testing.assert_allclose(figure.values, np.linalg.norm(values.reshape(n, 2)[order], axis=1))


def test_angles_are_drawn_over_a_length():
    session = open_example("gantry_mill")
    shown = of(session, "rail twist")
    (figure,), (each,) = shown.figures, sets_of(shown.sets, shown.component)
    assert shown.angles
    np.testing.assert_allclose(np.sort(figure.values), np.sort(ARM * each.values))


def test_the_cylinder_of_the_limit_is_as_wide_as_the_limit():
    """A diameter as it is; a distance from the axis twice."""
    session = open_example("extruder_barrel")
    for task in ("axis", "steps"):
        shown = of(session, task)
        (figure,) = shown.figures
        limits = limits_of(shown, figure)
        assert limits.across is None
        off = np.linalg.norm(figure.displacement, axis=1)
        share = 2.0 * off.max() / limits.width
        assert share == pytest.approx(shown.component.value / shown.component.verdict.limit, rel=1e-6)


def test_the_band_of_a_profile_holds_it_exactly_when_the_limit_is_kept():
    session = open_example("transfer_rails")
    assert limits_of(of(session, "a height", 1), of(session, "a height", 1).figures[0]) is None  # of a sliding length
    for task in ("a height", "b height", "a side"):
        shown = of(session, task, 0)
        (figure,) = shown.figures
        limits = limits_of(shown, figure)
        low, high = (limits.middle + side * limits.width for side in (-0.5, 0.5))
        inside = low <= figure.values.min() and figure.values.max() <= high
        assert inside == (shown.component.value <= shown.component.verdict.limit)


def test_lines_that_lean_as_far_as_the_limit(rolls):
    """Ends of the drawn lines: limit times half the length, enlarged."""
    shown = of(rolls, "rolls", 2)
    for figure, component in zip(shown.figures, shown.measured.components, strict=True):
        limits, upper = limits_of(shown, figure), component.verdict.limit
        assert limits.lean == (-upper, upper)
        points = leaning_lines(figure.places, limits, 1000.0).points
        reach = (points - np.tile(figure.places, (2, 1))) @ limits.across
        np.testing.assert_allclose(np.abs(reach), 1000.0 * upper * figure.longer / 2.0, rtol=1e-4)


class Kept:
    """Keeps what is put, by name."""

    def __init__(self):
        self.parts = {}

    def put(self, _group, parts):
        self.parts |= {part.name: part.mesh for part in parts}

    def remove(self, name):
        self.parts.pop(name, None)


@pytest.mark.parametrize(("name", "task"), [("lathe", "ways by line"), ("extruder_barrel", "axis")])
def test_tubes_arrows_and_bars_stand_where_the_deviations_are(name, task):
    shown, scene, factor = of(open_example(name), task), Kept(), 2000.0
    picture = LinesPicture(scene)
    picture.draw(shown, factor)
    for layer in ("vectors", "uncertainty", "limits"):
        picture.layer(layer, shown, factor)
    (figure,) = shown.figures
    tips = shown.tips_of(figure, factor)
    tube = scene.parts["line 0 tube"]
    away = np.linalg.norm(tube.points[:, None] - tips[None], axis=2).min(axis=1)
    assert away.max() < 0.01 * figure.longer
    values = np.asarray(tube.point_data[DEVIATION])
    assert {round(float(each), 3) for each in values} == {round(1e6 * float(each), 3) for each in figure.values}
    for number, direction in enumerate(figure.directions):
        bars = scene.parts[f"line 0 bars {number}"]
        station, points = np.asarray(bars.cell_data["station"]), bars.cell_centers().points
        for i in set(station.tolist()):
            reach = (points[station == i] - tips[i]) @ direction
            wanted = factor * figure.expanded[i, number]
            assert np.abs(reach).max() == pytest.approx(wanted, rel=1e-3, abs=1e-5)
    assert scene.parts["line 0 zone"].n_cells
    picture.clear()
    assert not scene.parts


def test_a_component_that_keeps_its_limit_says_so_while_the_task_does_not(rolls):
    """The word is about what is told; what the task as a whole is stands below."""
    shown = of(rolls, "rolls", 0)
    head = result_document(rolls, shown)["head"]
    assert head["word"] == text.VERDICT_WORDS[shown.component.verdict.word] == "Conforms"
    assert head["about"].startswith("The task as a whole: does not conform.")
    worst = result_document(rolls, of(rolls, "rolls"))["head"]
    assert worst["word"] == "Does not conform"
    assert "as a whole" not in worst["about"]
