"""``datumray change`` and ``datumray history``: tables, JSON, clear errors."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import numpy as np
import pytest
from typer.testing import CliRunner

from scenes.corrections.planned_moves import as_left_truth, moves_of
from scenes.errors import DatumrayError
from scenes.layout.read import read_layout
from scenes.readings.truth_file import read_truth
from scenes.reductions.survey import reduce_survey
from scenes.uncertainty.simulate import simulated
from scenes.visits import index_rows
from scenes.visits.change import change
from viewer.commands.main import app
from viewer.report.change_forecast import PREDICTED, forecasts_of

ROOT = Path(__file__).parents[2]
EXAMPLES = ROOT / "examples"
BED = EXAMPLES / "press_bed"
READINGS = tuple(str(BED / "readings" / f"{name}.csv") for name in ("as_found", "as_left"))


def run(*words, code=0):
    result = CliRunner().invoke(app, [str(word) for word in words])
    if isinstance(result.exception, DatumrayError):
        return str(result.exception)
    assert result.exit_code == code, result.output
    return result.output


def documented(*words):
    return json.loads(run(*words, "--json", "-"))


@pytest.fixture(autouse=True)
def few_trials(monkeypatch):
    monkeypatch.setattr(index_rows, "TRIALS", 200)


@pytest.fixture(scope="module")
def bed():
    """JSON of the change of the example."""
    return documented("change", BED / "layout.yaml", *READINGS, "--trials", 1000)


def test_the_change_of_the_bed(bed):
    (told,) = bed["changes"]
    assert (told["task"], told["from"], told["to"]) == ("bed flatness", "as found", "as left")
    (value,) = told["values"]
    assert value["unit"] == "um"
    assert value["change"] == pytest.approx(value["after"] - value["before"])
    assert value["proven"]
    assert value["verdicts"] == ["does not conform", "conforms"]
    assert {part["source"] for part in value["shared"]} == {"beam not square to the base axis"}
    assert len(told["stations"]) == 35
    assert sum(each["change"] for each in told["stations"]) == pytest.approx(0.0, abs=1e-6)
    assert all(
        each["standard_uncertainty"] <= each["standard_uncertainty_if_nothing_were_shared"] for each in told["stations"]
    )
    (test,) = told["tests"]
    assert test["rejected"]
    assert test["rank"] == 32
    assert "it changed its shape" in told["says"]


def test_the_table_says_the_same(bed):
    text = run("change", BED / "layout.yaml", *READINGS, "--trials", 1000)
    assert "bed flatness: from as found to as left" in text
    assert "verdict: does not conform -> conforms" in text
    assert "had nothing moved: chi-square" in text
    value = bed["changes"][0]["values"][0]
    assert f"change {value['change']:.1f} um" in text


def test_visits_can_be_named_and_devices_be_new(bed):
    back = documented(
        "change", BED / "layout.yaml", *READINGS, "--trials", 1000, "--from", "as_left", "--to", "as found"
    )
    value, other = bed["changes"][0]["values"][0], back["changes"][0]["values"][0]
    assert other["change"] == pytest.approx(-value["change"])
    fresh = documented("change", BED / "layout.yaml", *READINGS, "--trials", 1000, "--anew", "base", "--at-rest", "A1",
                       "--at-rest", "A7", "--at-rest", "E4")  # fmt: skip
    assert fresh["changes"][0]["values"][0]["shared"] == []
    rest = {each["station"]: each["change"] for each in fresh["changes"][0]["stations"]}
    assert [rest[name] for name in ("A1", "A7", "E4")] == pytest.approx([0.0, 0.0, 0.0], abs=1e-6)
    assert "taken as at rest" in fresh["changes"][0]["tests"][0]["datum"]


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (("--from", "as lost"), "there is no visit 'as lost'"),
        (("--to", "as found"), "a change needs two visits"),
        (("--task", "bed flatnes"), "there is no task 'bed flatnes'"),
        (("--at-rest", "Z9"), "there is no station 'Z9'"),
        (("--anew", "sledge"), "nothing here is called sledge"),
        (("--at-rest", "A1", "--at-rest", "A4", "--at-rest", "A7"), "do not carry it"),
    ],
)
def test_what_cannot_be_compared_is_told(words, message):
    assert message in run("change", BED / "layout.yaml", *READINGS, "--trials", 1000, *words, code=1)


def test_moves_that_were_carried_out_left_what_they_should():
    """As left against predicted, over simulated visits: the forecast is doubted as seldom as it should be."""
    layout = read_layout(BED / "layout.yaml")
    truth = read_truth(BED / "truth.csv", layout)
    rng, doubted, chi = np.random.default_rng(8), 0, []
    for _ in range(4):
        found = simulated(layout, rng, truth, visit="as found").readings
        one = reduce_survey(layout, found, trials=100).of("bed flatness", "as found")
        moves = moves_of(layout, one)
        after = as_left_truth(layout, truth, moves, rng)
        left = simulated(layout, rng, after, visit="as left").readings
        two = reduce_survey(layout, left, trials=100).of("bed flatness", "as left")
        (forecast,) = forecasts_of(one, moves)
        told = change(forecast, two, anew=("base", "target", "mount"))  # every survey here draws all of its errors
        assert told.one == PREDICTED
        doubted += told.deviations[0].test.rejected
        chi.append(told.deviations[0].test.chi_square)
        undone = change(one, two, anew=("base", "target", "mount")).deviations[0]
        assert undone.test.chi_square > 3.0 * told.deviations[0].test.chi_square
    assert doubted <= 1
    assert np.mean(chi) == pytest.approx(32.0, abs=14.0)  # 3.5 standard deviations of the mean of four


def test_predicted_by_the_command():
    (told,) = documented("change", BED / "layout.yaml", *READINGS, "--trials", 1000, "--predicted")["changes"]
    assert told["from_forecast"]
    assert told["from"] == "predicted"
    lathe = EXAMPLES / "lathe"
    assert "a change needs two visits" in run("change", lathe / "layout.yaml", lathe / "readings" / "as_found.csv")


@pytest.fixture(scope="module")
def plant(tmp_path_factory):
    """Two examples as a plant, and one of them a year later."""
    root = tmp_path_factory.mktemp("plant")
    for name in ("press_bed", "gantry_mill"):
        shutil.copytree(EXAMPLES / name, root / name, ignore=shutil.ignore_patterns("*.png", "README.md"))
    gantry = root / "gantry_mill" / "readings"
    (gantry / "as_found.csv").rename(gantry / "2024-05-06 as found.csv")
    shutil.copy(gantry / "2024-05-06 as found.csv", gantry / "2025-05-06 yearly.csv")
    return root


def test_the_history_of_a_plant(plant):
    text = run("history", plant)
    assert "2 machines, 4 visits, 4 worked out anew" in text
    for part in ("Latest verdicts", "press_bed", "as left", "Nothing is proven to have got worse", "Trends",
                 "no trend proven", "2024-05-06"):  # fmt: skip
        assert part in text
    assert (plant / "datumray.sqlite").is_file()
    again = documented("history", plant)
    assert again["computed_visits"] == 0
    gantry, bed = again["machines"]
    assert [each["date"] for each in gantry["visits"]] == ["2024-05-06", "2025-05-06"]
    assert {row["visit"] for row in bed["results"] if row["latest"]} == {"as left"}
    assert gantry["trends"]
    assert all(abs(row["per_year"]) <= row["expanded_uncertainty"] for row in gantry["trends"])
    assert bed["changes"][0]["proven"]


def test_rows_are_chosen(plant):
    only = documented("history", plant, "--machine", "PRESS", "--task", "flat")["machines"]
    assert [each["machine"] for each in only] == ["press_bed"]
    later = documented("history", plant, "--since", "2025-01-01", "--machine", "gantry")["machines"][0]
    assert {row["visit"] for row in later["results"]} == {"2025-05-06 yearly"}
    assert "no result is left" in run("history", plant, "--task", "nothing like it", code=1)
    assert "write 2026-03-14" in run("history", plant, "--since", "yesterday", code=1)


def test_the_index_stands_where_it_is_asked_for(plant, tmp_path):
    file = tmp_path / "all.sqlite"
    text = run("history", plant / "press_bed", "--index", file)
    assert file.is_file()
    assert "1 machine, 2 visits" in text
    file.write_bytes(b"broken")
    text = run("history", plant / "press_bed", "--index", file)
    assert "the index all.sqlite is damaged: it is built anew from the files" in text
    assert "0 worked out anew" in run("history", plant / "press_bed", "--index", file)
    assert "2 worked out anew" in run("history", plant / "press_bed", "--index", file, "--rebuild")
    assert "there is no machine in it" in run("history", tmp_path, code=1)
