"""Results other than surfaces: directions, squareness, rolls; their verdicts, deviations, cards and arrows."""

import json

import numpy as np
import pytest

from scenes.meshes.deviation_surface import DEVIATION
from scenes.reductions.quantities.definition import Kind
from scenes.reductions.verdict import Word
from viewer import text
from viewer.desk import plain
from viewer.logic.measured import arrows_of, measured_card, measured_document
from viewer.logic.session import open_session
from viewer.scene3d_measured import arrow_mesh

from .conftest import ROOT


def opened(name):
    folder = ROOT / "examples" / name
    readings = sorted(str(path) for path in (folder / "readings").glob("*.csv"))
    if not readings:
        pytest.skip(f"the example {name} has no readings")
    return open_session(str(folder / "layout.yaml"), readings)


@pytest.fixture(scope="module")
def rolls():
    return opened("coating_rolls")


@pytest.fixture(scope="module")
def measured(rolls):
    return rolls.measured("rolls", rolls.visits("rolls")[0])


def test_the_worst_component_is_shown_first_and_in_full(rolls, measured):
    document = measured_document(rolls, measured, -1)
    assert document["head"]["word"] == text.VERDICT_WORDS[measured.word]
    assert len(document["components"]) == len(measured.components)
    assert document["component"]["name"] == measured.worst.name
    assert measured_document(rolls, measured, 0)["component"]["number"] == 0
    assert measured_document(rolls, measured, 99)["component"]["name"] == measured.worst.name
    assert json.loads(json.dumps(plain(document))) == plain(document)


def test_values_stand_with_uncertainty_and_limit_in_the_units_of_the_layout(rolls, measured):
    row, component = measured_document(rolls, measured, 0)["components"][0], measured.components[0]
    assert component.kind is Kind.ANGLE
    arcsec = component.value * 180.0 * 3600.0 / np.pi
    assert row["value"] == text.signed(f"{arcsec:+.2f}") + " arcsec"
    assert row["expanded"].startswith("± ")
    assert row["limit"].startswith("± ")
    assert row["word"] == text.VERDICT_WORDS[component.verdict.word]
    assert {each["kind"] for each in measured_document(rolls, measured, 0)["components"]} <= {"good", "open", "bad"}


def test_deviations_are_listed_and_found_on_cards(rolls, measured):
    document = measured_document(rolls, measured, 0)
    assert len(document["rows"]) == sum(len(each.stations) for each in measured.deviations)
    name = document["rows"][0]["name"]
    card = measured_card(rolls.layout, measured, name)
    assert document["rows"][0]["deviation"] in card["facts"][0]["value"]
    assert measured_card(rolls.layout, measured, "nowhere") is None
    assert document["rows_unit"] == "µm"


def test_arrows_point_where_the_deviation_does(measured):
    shown = max(arrows_of(measured, measured.components[0].name), key=lambda each: np.abs(each.values).max())
    factor = 5000.0
    mesh = arrow_mesh(shown.places, shown.directions, shown.values, factor)
    entry = np.asarray(mesh.cell_data["entry"])
    assert set(entry) == set(range(len(shown.values)))
    np.testing.assert_allclose(mesh.cell_data[DEVIATION], 1e6 * shown.values[entry])
    centres = mesh.cell_centers().points
    for i, value in enumerate(shown.values):
        reach = (centres[entry == i] - shown.places[i]) @ shown.directions[i]
        tip = reach[np.argmax(np.abs(reach))]
        assert abs(tip) <= factor * abs(value) * (1.0 + 1e-6)
        if factor * abs(value) > 0.02:
            assert np.sign(tip) == np.sign(value)
            assert abs(tip) > 0.5 * factor * abs(value)


def test_no_deviation_is_no_arrow():
    empty = np.zeros((0, 3))
    assert arrow_mesh(empty, empty, np.zeros(0), 10.0).n_cells == 0
    flat = arrow_mesh(np.array([[0.0, 0.0, 0.0], [1.0, 1.0, 1.0]]), np.eye(3)[:2], np.array([0.0, np.nan]), 10.0)
    assert set(flat.cell_data["entry"]) == {0}  # a dot where there is nought, nothing where nobody knows


def test_surfaces_and_other_quantities_of_one_survey():
    session = opened("press_slide")
    assert session.surface_tasks() == ("bed flatness",)
    assert set(session.tasks()) == set(session.layout.tasks)
    words = set()
    for task in session.tasks():
        for visit in session.visits(task):
            if task in session.surface_tasks():
                assert session.result(task, visit).form.value > 0.0
                with pytest.raises(KeyError):
                    session.measured(task, visit)
            else:
                document = measured_document(session, session.measured(task, visit), -1)
                words.add(document["head"]["word"])
                assert document["component"]["lines"]
    assert words <= {text.VERDICT_WORDS[word] for word in Word}
