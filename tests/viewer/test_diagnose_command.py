"""``datumray diagnose``: what is printed, and the same in JSON."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from typer.testing import CliRunner

from scenes.errors import InputError
from scenes.layout.read import read_layout
from scenes.readings.write import write_readings
from scenes.uncertainty.faults import Fault
from scenes.uncertainty.simulate import simulated
from viewer.commands.main import app

EXAMPLES = Path(__file__).parents[2] / "examples"
BED = EXAMPLES / "press_bed"


def diagnosed(*words):
    answer = CliRunner().invoke(app, ["diagnose", *map(str, words), "--trials", "1000"])
    return answer.exit_code, answer.stdout, answer.exception


def test_a_sound_survey_is_told_to_be_sound():
    code, out, _ = diagnosed(BED / "layout.yaml", BED / "readings" / "as_found.csv")
    assert code == 0
    assert "Nothing stands out." in out
    assert "Closures" in out
    assert "read again: " in out


def test_a_hidden_exchange_is_told_with_its_evidence(tmp_path):
    layout = read_layout(EXAMPLES / "extruder_barrel" / "layout.yaml")
    names = [name for name in layout.stations if layout.stations[name].clocks]
    fault = Fault("swapped-stations", (names[0], names[-1]))
    readings = simulated(layout, np.random.default_rng(4), faults=(fault,)).readings
    path = tmp_path / "as_found.csv"
    write_readings(path, readings, layout)
    code, out, _ = diagnosed(EXAMPLES / "extruder_barrel" / "layout.yaml", path, "--json", "-")
    (document,) = json.loads(out)["diagnoses"]
    assert code == 0
    assert document["corrected"] is False
    (first, *_) = document["suspects"]
    assert first["kind"] == "swapped"
    assert names[0] in first["where"]
    assert names[-1] in first["where"]
    assert first["parameters"] == 0
    assert first["chi_square_falls_by"] > 20.0
    assert first["probability"] < 0.05
    assert first["changes_if_taken_out"]


def test_a_visit_that_is_not_there_is_named():
    code, _, error = diagnosed(BED / "layout.yaml", BED / "readings" / "as_found.csv", "--visit", "last year")
    assert code != 0
    with pytest.raises(InputError, match="there is no visit 'last year'"):
        raise error
