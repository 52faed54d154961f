"""``datumray moves`` as a person uses it."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from scenes.corrections.moves import SAFETY
from viewer.commands.main import run

EXAMPLES = Path(__file__).parents[2] / "examples"
BED = EXAMPLES / "press_bed"


@pytest.fixture
def moves(monkeypatch, capsys):
    """Call the command in this process: exit code, standard output, standard error."""

    def call(*arguments: object) -> tuple[int, str, str]:
        monkeypatch.setattr("sys.argv", ["datumray", "moves", *map(str, arguments)])
        code = 0
        try:
            run()
        except SystemExit as end:
            code = end.code or 0
        out, err = capsys.readouterr()
        assert "Traceback" not in out + err
        return code, " ".join(out.split()), err

    return call


def test_lifts_steps_and_the_predicted_as_left_are_told(moves):
    code, out, err = moves(BED / "layout.yaml", BED / "readings" / "as_found.csv")
    assert (code, err) == (0, "")
    for words in ("Moves for bed flatness, as found", "predicted, U =", "1. loosen F", "as left [um]", "load [kN]",
                  "kept with a probability of", "known to 20 % of what bends"):  # fmt: skip
        assert words in out
    for line in SAFETY:
        assert line in out


def test_json_says_the_same_and_options_are_heeded(moves, tmp_path):
    gaps = tmp_path / "gaps.csv"
    gaps.write_text("foot,gap [um]\nF2,90\n", encoding="utf-8")
    arguments = [BED / "layout.yaml", BED / "readings" / "as_found.csv", "--soft-foot", gaps, "--most-feet", 1]
    arguments += ["--most-pieces", 2, "--goal", "least squares", "--task", "bed flatness", "--visit", "as found"]
    code, out, _ = moves(*arguments, "--json", "-")
    assert code == 0
    made = json.loads(out)["moves"][0]
    assert made["goal"] == "least squares"
    assert made["steps"][0]["words"].startswith("fill the gap under F2")
    moved = [mover["name"] for mover in made["movers"] if mover["move"]]
    assert "F2" in moved
    assert len(moved) <= 2
    assert sum(step["move"] for step in made["steps"]) == pytest.approx(sum(m["move"] for m in made["movers"]))
    assert made["components"][0]["as_left"] > 0.0
    assert len(made["stations"]) == 35


def test_bearings_of_rolls_and_the_stage_of_the_emitter(moves, tmp_path):
    rolls = EXAMPLES / "coating_rolls"
    text = (rolls / "layout.yaml").read_text(encoding="utf-8")
    text += "\nbearings:\n  roll_3: {at: {drive: -1.4 m, tending: 1.4 m}, fixed: drive, side: {travel: 3 mm}}\n"
    layout = tmp_path / "rolls.yaml"
    layout.write_text(text, encoding="utf-8")
    code, out, _ = moves(layout, rolls / "readings" / "as_found.csv")
    assert code == 0
    assert "push roll_3 tending, side by" in out
    code, _, err = moves(layout, rolls / "readings" / "as_found.csv", "--datum", "roll_7")
    assert code == 2
    rails = EXAMPLES / "transfer_rails"
    code, out, err = moves(rails / "layout.yaml", rails / "readings" / "as_found.csv")
    assert code == 2
    assert "'datumray aim'" in out
    assert "name feet, or the bearings" in err


def test_wrong_options_are_told(moves):
    for options, words in ((("--task", "roundness"), "no task 'roundness'"), (("--visit", "later"), "no reading is of"),
                           (("--influence-out", "x.csv"), "No visit lifts F1")):  # fmt: skip
        code, _, err = moves(BED / "layout.yaml", BED / "readings" / "as_found.csv", *options)
        assert code == 2
        assert words in err


def test_stations_that_were_not_read_are_named_beside_the_moves(moves, tmp_path):
    lines = (BED / "readings" / "as_found.csv").read_text(encoding="utf-8").splitlines()
    half = tmp_path / "half.csv"
    half.write_text("\n".join(line for line in lines if ",D" not in line and ",E" not in line) + "\n", encoding="utf-8")
    code, out, _ = moves(BED / "layout.yaml", half)
    assert code == 0
    assert "stations were not read" in out
    assert "rest on nothing" in out
    _, out, _ = moves(BED / "layout.yaml", half, "--json", "-")
    assert any("rest on nothing" in each for each in json.loads(out)["moves"][0]["warnings"])
