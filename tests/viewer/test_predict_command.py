"""``datumray predict``, and ``reduce`` and ``check`` for every quantity, as a person uses them."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from viewer.commands.main import run

ROOT = Path(__file__).parents[2]
PRESS, LATHE, ROLLS = (ROOT / "examples" / name / "layout.yaml" for name in ("press_slide", "lathe", "coating_rolls"))
ROW = {"task", "visit", "quantity", "reference", "component", "value", "unit", "expanded_uncertainty",
       "coverage_factor", "limit", "verdict", "probability_of_conformity"}  # fmt: skip
STATION = {"task", "station", "visit", "component", "deviation", "unit", "standard_uncertainty"}

RAIL = """
layout: 1
units: {length: mm, deviation: um, angle: arcsec}
machine:
  rail_a: {rail: {length: 6 m, width: 100 mm, height: 150 mm}, at: [0 m, 0 m, 0.4 m]}
  rail_b: {rail: {length: 6 m, width: 100 mm, height: 150 mm}, at: [0 m, 2 m, 0.4 m]}
devices:
  laser: {emitter: block}
  base: {rotary base: fine}
  t1: {target: two axes}
stations:
  a: {on: rail_a, every: 1 m, names: A, target: t1, mount: {post: 600 mm}}
  b: {on: rail_b, every: 1 m, names: B, target: t1, mount: {post: 600 mm}}
setups:
  plane:
    emitter: {use: laser, on: floor, at: [2.5 m, 1.1 m, 0 m], mount: {tripod: 0.915 m}}
    turned by: base
    level by: best fit
    reads: [a, b]
tasks:
  height: {straightness: rail_a, from: a, plane: vertical, limit: 0.3 mm}
  level: {cross level: [rail_a, rail_b], limit: 0.5 mm}
"""


@pytest.fixture
def datumray(monkeypatch, capsys):
    """Call the command in this process: exit code, standard output, standard error."""

    def call(*arguments: object) -> tuple[int, str, str]:
        monkeypatch.setattr("sys.argv", ["datumray", *map(str, arguments)])
        code = 0
        try:
            run()
        except SystemExit as end:
            code = end.code or 0
        out, err = capsys.readouterr()
        assert "Traceback" not in out + err
        return code, out, err

    return call


@pytest.fixture
def rails(tmp_path):
    """Layout file of two rails under a plane that no vial has levelled, with parts exchanged."""

    def written(*changes: tuple[str, str]) -> Path:
        text = RAIL
        for old, new in changes:
            assert old in text
            text = text.replace(old, new)
        path = tmp_path / "layout.yaml"
        path.write_text(text, encoding="utf-8")
        return path

    return written


def predicted(datumray, path, *options):
    code, out, err = datumray("predict", path, "--trials", 400, *options, "--json", "-")
    assert err == ""
    document = json.loads(out)
    assert document["format"] == 1
    return code, document


def test_a_prediction_tells_every_component(datumray):
    code, document = predicted(datumray, PRESS)
    assert code == (0 if document["provable"] else 1)
    tasks = {row["task"] for row in document["predictions"]} | {row["task"] for row in document["open"]}
    assert {"bed flatness", "bed level", "slide parallel", "travel square"} <= tasks
    for row in document["predictions"]:
        budget = [part["standard_uncertainty"] for part in row["budget"]]
        assert budget == sorted(budget, reverse=True)
        assert row["dominant_source"] == row["budget"][0]["source"]
        assert np.hypot.reduce(budget) == pytest.approx(row["standard_uncertainty"], rel=1e-6)
        drawn = row["perfect_machine"]["monte_carlo"]["standard_deviation"]
        assert drawn == pytest.approx(row["perfect_machine"]["propagation"]["standard_deviation"], rel=0.25)
        if row["limit"] is not None and row["provable"]:
            assert row["least_provable_limit"] <= row["limit"]
            assert row["largest_conforming_value"] <= row["limit"]
    for row in document["stations"]:
        assert row["standard_uncertainty_monte_carlo"] == pytest.approx(row["standard_uncertainty"], rel=0.3, abs=0.1)


def test_the_same_seed_gives_the_same_prediction(datumray):
    assert predicted(datumray, ROLLS, "--seed", 4) == predicted(datumray, ROLLS, "--seed", 4)


def test_a_limit_over_a_length_is_told_so(datumray):
    _, document = predicted(datumray, LATHE)
    up = next(row for row in document["predictions"] if row["component"] == "up")
    assert (up["unit"], up["over"]) == ("um", {"value": 300.0, "unit": "mm"})
    assert (up["lower_limit"], up["limit"]) == (0.0, pytest.approx(20.0))
    assert up["sign"] == "+: rises away from the spindle"
    code, out, _ = datumray("predict", LATHE, "--trials", 0)
    assert "limit 0.0 to 20.0 um over 300 mm" in " ".join(out.split())
    assert code in (0, 1)


def test_what_cannot_be_proven_ends_with_code_1(datumray, rails):
    code, document = predicted(datumray, rails())
    held = [row for row in document["predictions"] if row["task"] == "level"]
    assert code == 1
    assert not document["provable"]
    assert all("level its base by a vial" in row["held"] for row in held)
    _, out, _ = datumray("predict", rails(), "--trials", 0)
    assert "cannot be proven" in out
    assert "can be proven" in out
    code, out, _ = datumray("predict", rails(("limit: 0.3 mm", "limit: 3 um"), ("  level: {", "  # level: {")))
    assert code == 1
    assert "cannot be proven: limit 3.0 um" in " ".join(out.split())


def test_tasks_that_stay_open_are_named_with_their_reason(datumray, rails):
    levelness = rails(
        ("  level: {cross level: [rail_a, rail_b], limit: 0.5 mm}", "  level: {levelness: rail_a, limit: 0.1 mm/m}")
    )
    code, document = predicted(datumray, levelness)
    assert code == 1
    (open_,) = document["open"]
    assert open_["task"] == "level"
    assert "level its base by a vial" in open_["reason"]
    code, out, _ = datumray("check", levelness, "--json", "-")
    assert code == 1
    assert "task-open" in {finding["code"] for finding in json.loads(out)["findings"]}


def test_an_unreadable_layout_ends_with_code_2(datumray, rails):
    code, out, err = datumray("predict", rails(("post: 600 mm", "post: 600")))
    assert (code, out) == (2, "")
    assert "600" in err


@pytest.mark.parametrize("path", [PRESS, LATHE, ROLLS], ids=lambda path: path.parent.name)
def test_simulated_readings_are_reduced_to_every_quantity(datumray, tmp_path, path):
    """simulate -> reduce: every component has its row, every station its deviation; the table tells the same."""
    csv = tmp_path / "readings.csv"
    assert datumray("simulate", path, "--seed", 5, "-o", csv)[0] == 0
    code, out, err = datumray("reduce", path, csv, "--trials", 1000, "--json", "-")
    assert (code, err) == (0, "")
    document = json.loads(out)
    assert document["failures"] == []
    assert all(row.keys() >= ROW for row in document["results"])
    assert all(row.keys() >= STATION for row in document["stations"])
    assert {row["verdict"] for row in document["results"]} <= {"conforms", "not proven", "does not conform", None}
    for row in document["results"]:
        low, high = row["interval_95"]
        assert low <= row["value"] <= high
        assert row["expanded_uncertainty"] == pytest.approx(row["coverage_factor"] * row["standard_uncertainty"])
    code, out, _ = datumray("reduce", path, csv, "--trials", 1000)
    assert code == 0
    for row in document["results"]:
        assert row["task"] in out
        assert row["component"] is None or row["component"] in out


def test_reductions_by_another_reference(datumray, rails, tmp_path):
    layout, csv = rails(), tmp_path / "readings.csv"
    datumray("simulate", layout, "--seed", 6, "-o", csv)
    _, out, _ = datumray("reduce", layout, csv, "--trials", 1000, "--reference", "end-points", "--json", "-")
    height = next(row for row in json.loads(out)["results"] if row["task"] == "height")
    assert height["reference"] == "end points line"
    code, _, err = datumray("reduce", layout, csv, "--reference", "three-points")
    assert code == 2
    assert "no task of the layout can count from three points" in err


def test_a_verdict_that_is_held_back_fails_where_asked(datumray, rails, tmp_path):
    layout, csv = rails(), tmp_path / "readings.csv"
    datumray("simulate", layout, "--seed", 7, "--size", "5 um", "-o", csv)
    code, out, _ = datumray("reduce", layout, csv, "--trials", 1000, "--fail-on-verdict")
    assert code == 1
    assert "only how it changes along the rails is known" in " ".join(out.split())
