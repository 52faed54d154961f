"""The command line as a person uses it: what it prints, what it writes, and how it ends."""

from __future__ import annotations

import importlib.util
import io
import json
import re
import shutil
from pathlib import Path

import numpy as np
import pytest

from scenes.readings.read import read_readings
from viewer.commands.main import run

ROOT = Path(__file__).parents[2]
PRESS_BED = ROOT / "examples" / "press_bed"
VERDICTS = {"conforms", "not proven", "does not conform"}


@pytest.fixture
def datumray(monkeypatch, capsys):
    """Call the command in this process: exit code, standard output, standard error."""

    def call(*arguments: object, typed: str | None = None) -> tuple[int, str, str]:
        monkeypatch.setattr("sys.argv", ["datumray", *map(str, arguments)])
        if typed is not None:
            monkeypatch.setattr("sys.stdin", io.TextIOWrapper(io.BytesIO(typed.encode())))
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
def bed(tmp_path):
    """A copy of the press bed that a test may edit."""
    folder = tmp_path / "bed"
    shutil.copytree(PRESS_BED, folder, ignore=shutil.ignore_patterns("__pycache__"))
    return folder


def edited(path: Path, old: str, new: str) -> Path:
    text = path.read_text()
    assert old in text
    path.write_text(text.replace(old, new))
    return path


def test_a_sound_plan_passes(datumray):
    code, out, err = datumray("check", PRESS_BED / "layout.yaml")
    assert (code, err) == (0, "")
    assert "Nothing found against this plan." in out
    assert re.search(r"A1 +plane +\d+", out)


def test_moving_the_emitter_shows_which_stations_a_column_hides(datumray, bed):
    layout = edited(bed / "layout.yaml", "at: [0.15 m, -2.3 m, 0 m]", "at: [-2.3 m, 0.2 m, 0 m]")
    code, out, _ = datumray("check", layout)
    assert code == 1
    assert "A1 is hidden by column_a" in out
    assert "E1 is hidden by column_c" in out
    column = next(i for i, line in enumerate(layout.read_text().splitlines(), 1) if "column_a:" in line)
    assert f"column_a (line {column})" in out


def test_check_writes_json(datumray, bed, tmp_path):
    layout = edited(bed / "layout.yaml", "at: [0.15 m, -2.3 m, 0 m]", "at: [-2.3 m, 0.2 m, 0 m]")
    code, out, _ = datumray("check", layout, "--json", "-")
    document = json.loads(out)
    assert code == 1
    assert document["format"] == 1
    assert not document["passed"]
    assert {finding["code"] for finding in document["findings"]} == {"blocked"}
    assert all(finding["line"] for finding in document["findings"])
    blocked = [row["station"] for row in document["readings"] if row["sight"] == "blocked"]
    assert "A1" in blocked
    code, out, _ = datumray("check", layout, "--json", tmp_path / "out.json")
    assert json.loads((tmp_path / "out.json").read_text()) == document
    assert "hidden by column_a" in out


def test_reduce_gives_verdicts_stations_and_shims(datumray):
    files = sorted((PRESS_BED / "readings").glob("*.csv"))
    code, out, err = datumray("reduce", PRESS_BED / "layout.yaml", *files, "--json", "-")
    document = json.loads(out)
    assert (code, err, document["format"]) == (0, "", 1)
    assert [(each["visit"], each["verdict"]) for each in document["results"]] == [
        ("as found", "does not conform"), ("as left", "conforms"),
    ]  # fmt: skip
    wanted = {"task", "visit", "quantity", "reference", "value", "unit", "expanded_uncertainty", "coverage_factor",
              "limit", "verdict", "probability_of_conformity"}  # fmt: skip
    for each in document["results"]:
        assert wanted <= set(each)
        assert each["verdict"] in VERDICTS
        assert each["expanded_uncertainty"] == pytest.approx(each["coverage_factor"] * each["standard_uncertainty"])
        deviations = [row["deviation"] for row in document["stations"] if row["visit"] == each["visit"]]
        assert max(deviations) - min(deviations) == pytest.approx(each["value"])
        assert each["interval_95"][0] <= each["value"] <= each["interval_95"][1] + each["expanded_uncertainty"]
    assert {"station", "visit", "deviation", "unit", "standard_uncertainty"} <= set(document["stations"][0])
    shims = document["shims"][0]
    assert shims["predicted"] < shims["as_found"]
    for foot in shims["feet"]:
        assert sum(foot["shims"]) == pytest.approx(foot["lift"])


def test_reduce_prints_the_verdict_and_can_fail_on_it(datumray):
    layout, found = PRESS_BED / "layout.yaml", PRESS_BED / "readings" / "as_found.csv"
    code, out, _ = datumray("reduce", layout, found)
    assert code == 0
    assert "does not conform" in out
    assert "Block and lock out the machine" in out
    assert datumray("reduce", layout, found, "--fail-on-verdict")[0] == 1
    assert datumray("reduce", layout, PRESS_BED / "readings" / "as_left.csv", "--fail-on-verdict")[0] == 0


@pytest.mark.parametrize("reference", ["minimum-zone", "least-squares", "three-points"])
def test_reduce_takes_another_reference(datumray, reference):
    _, out, _ = datumray("reduce", PRESS_BED / "layout.yaml", PRESS_BED / "readings" / "as_found.csv",
                         "--reference", reference, "--json", "-")  # fmt: skip
    assert json.loads(out)["results"][0]["reference"] == f"{reference.replace('-', ' ')} plane"


def test_the_same_readings_give_the_same_figures(datumray):
    call = ("reduce", PRESS_BED / "layout.yaml", PRESS_BED / "readings" / "as_found.csv", "--json", "-")
    assert datumray(*call) == datumray(*call)


def test_the_example_is_what_its_script_makes():
    """The readings in the example are simulated by the script beside them, to the printed resolution."""
    spec = importlib.util.spec_from_file_location("make_readings", PRESS_BED / "make_readings.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    layout, made = module.visits()
    for visit, table in made.items():
        written = read_readings([PRESS_BED / "readings" / f"{visit.replace(' ', '_')}.csv"], layout)
        assert written.station == table.station
        assert np.allclose(written.v, table.v, atol=0.051e-6)  # printed to 0.1 um


def test_errors_of_a_layout_name_their_lines_and_nothing_is_computed(datumray, bed):
    text = (bed / "layout.yaml").read_text()
    text = text.replace("margin: 100 mm", "margin: 100").replace("turned by: base", "turned by: bass")
    (bed / "layout.yaml").write_text(text)
    code, out, err = datumray("check", bed / "layout.yaml")
    assert (code, out) == (2, "")
    assert err.startswith("datumray: 2 problems")
    for mark in ("margin: 100,", "turned by: bass"):
        line = next(i for i, row in enumerate(text.splitlines(), 1) if mark in row)
        assert f"line {line}, column" in err
    assert "did you mean base" in err.lower()


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("check", "nowhere.yaml"), "nowhere.yaml"),
        (("reduce", PRESS_BED / "layout.yaml", "nowhere.csv"), "nowhere.csv"),
        (("form", "flatness", "nowhere.csv"), "nowhere.csv"),
        (("check", PRESS_BED), "press_bed"),
        (("frobnicate",), "frobnicate"),
        (("form", "roundness", "x.csv"), "roundness"),
        (("example", "pres_bed"), "did you mean press_bed"),
    ],
)
def test_bad_input_ends_with_code_2_and_a_message(datumray, arguments, said):
    code, out, err = datumray(*arguments)
    assert (code, out) == (2, "")
    assert said in err


def test_a_wrong_unit_in_a_header_is_not_listed_a_thousand_times(datumray, bed):
    readings = bed / "readings" / "as_found.csv"
    edited(readings, "v [um]", "v [m]")
    code, _, err = datumray("reduce", bed / "layout.yaml", readings)
    assert code == 2
    assert "more" in err.splitlines()[-1]
    assert len(err.splitlines()) < 50


FLAT = "x [mm],y [mm],z [um]\n0,0,0\n100,0,0\n0,100,0\n100,100,0\n50,50,-12\n"


def test_form_reads_a_file_or_standard_input(datumray, tmp_path):
    (tmp_path / "points.csv").write_text(FLAT)
    code, out, _ = datumray("form", "flatness", tmp_path / "points.csv", "--json", "-")
    document = json.loads(out)
    assert code == 0
    assert document["format"] == 1
    assert (document["quantity"], document["reference"], document["unit"]) == ("flatness", "minimum zone", "um")
    assert document["value"] == pytest.approx(12.0)
    assert {"point": "5", "index": 4, "row": 6, "side": "low"} in document["contacts"]
    assert json.loads(datumray("form", "flatness", "-", "--json", "-", typed=FLAT)[1])["value"] == document["value"]


@pytest.mark.parametrize(
    ("reference", "value"), [("minimum-zone", 12.0), ("least-squares", 12.81090909), ("end-points", 13.32)]
)
def test_form_of_a_profile(datumray, tmp_path, reference, value):
    """The constructed eleven-point profile of tests/references, read from a file in inches and thou as well."""
    z = [-3.9, 2.8, -0.5, 3.3, 0.3, -5.2, 2.1, 3.9, 5.9, 10.8, 2.8]
    (tmp_path / "um.csv").write_text("x [mm];z [um]\n" + "".join(f"{200 * i};{h}\n".replace(".", ",")
                                                                 for i, h in enumerate(z)))  # fmt: skip
    (tmp_path / "thou.csv").write_text("x [in],z [thou]\n" + "".join(f"{200 * i / 25.4:.9f},{h / 25.4:.9f}\n"
                                                                     for i, h in enumerate(z)))  # fmt: skip
    for name in ("um.csv", "thou.csv"):
        _, out, _ = datumray("form", "straightness", tmp_path / name, "--reference", reference, "--json", "-")
        assert json.loads(out)["value"] == pytest.approx(value, abs=1e-6)


@pytest.mark.parametrize(
    ("quantity", "reference", "text", "said"),
    [
        ("flatness", "end-points", FLAT, "End points tell a line"),
        ("straightness", "three-points", "x [mm],z [um]\n0,0\n1,1\n2,0\n", "Three points tell a plane"),
        ("flatness", "minimum-zone", "x [mm],y [mm],z [um]\n0,0,0\n1,1,1\n2,2,0\n3,3,0\n", "line"),
        ("flatness", "minimum-zone", "x [mm],z [um]\n0,0\n1,1\n", "column y"),
        ("straightness", "minimum-zone", FLAT, "do not lie along one line"),
        ("straightness", "minimum-zone", "x [mm],z [um]\n5,0\n5,1\n5,2\n", "same"),
    ],
)
def test_form_explains_what_it_cannot_evaluate(datumray, tmp_path, quantity, reference, text, said):
    (tmp_path / "points.csv").write_text(text)
    code, out, err = datumray("form", quantity, tmp_path / "points.csv", "--reference", reference)
    assert (code, out) == (2, "")
    assert said in err


def test_schema_is_json_schema(datumray, tmp_path):
    code, out, _ = datumray("schema")
    assert code == 0
    assert json.loads(out)["$schema"].startswith("https://json-schema.org")
    datumray("schema", "--json", tmp_path / "schema.json")
    assert (tmp_path / "schema.json").read_text() == out


def test_json_is_written_whole_or_not_at_all(datumray, tmp_path):
    (tmp_path / "points.csv").write_text(FLAT)
    code, _, err = datumray("form", "flatness", tmp_path / "points.csv", "--json", tmp_path / "no" / "such" / "f.json")
    assert code == 2
    assert "f.json" in err
    assert [path.name for path in tmp_path.iterdir()] == ["points.csv"]


def test_an_example_is_copied_and_never_overwritten(datumray, tmp_path):
    assert "press_bed" in datumray("example")[1].split()
    target = tmp_path / "mine"
    assert datumray("example", "press_bed", target)[0] == 0
    assert (target / "readings" / "as_found.csv").exists()
    code, _, err = datumray("example", "press_bed", target)
    assert code == 2
    assert "nothing is overwritten" in err


BASIC = """
layout: 1
machine: {bed: {plate: {length: 2 m, width: 1 m, thickness: 100 mm}, at: [0 m, 0 m, 0.85 m]}}
devices: {laser: {emitter: block}, base: {rotary base: standard}, t1: {target: two axes}}
stations: {grid: {on: bed, grid: 4 x 3, margin: 100 mm, target: t1, mount: {post: 120 mm}}}
"""
SETUPS = """
setups: {plane: {emitter: {use: laser, on: floor, at: [-2 m, 0 m, 0 m], mount: {tripod: 0.9 m}}, turned by: base,
         level by: three points, reads: [grid]}}
"""


def test_layouts_without_tasks_or_setups_are_checked_in_words(datumray, tmp_path):
    (tmp_path / "a.yaml").write_text(BASIC)
    code, out, _ = datumray("check", tmp_path / "a.yaml")
    assert code == 0
    assert "no-task" in out
    (tmp_path / "b.yaml").write_text(BASIC + "tasks: {flat: {flatness: bed, from: grid, limit: 100 um}}\n")
    code, out, _ = datumray("check", tmp_path / "b.yaml")
    assert code == 1
    assert "no set-up reads A1" in out
    (tmp_path / "c.yaml").write_text(BASIC + SETUPS)
    assert datumray("check", tmp_path / "c.yaml")[0] == 0


def test_an_emitter_under_a_station_is_a_finding(datumray, tmp_path):
    text = BASIC + SETUPS.replace("[-2 m, 0 m, 0 m]", "[-0.9 m, -0.4 m, 0 m]")
    (tmp_path / "a.yaml").write_text(text)
    code, out, _ = datumray("check", tmp_path / "a.yaml")
    assert code == 1
    assert "target-at-emitter" in out
    assert "move the emitter" in out


def test_figures_are_readable_in_every_unit(datumray, bed):
    """No unit turns a value into zero: as many decimals as the unit needs."""
    for unit, value in (("mm", "0.1"), ("in", "0.00"), ("thou", "4."), ("m", "0.0001")):
        text = (PRESS_BED / "layout.yaml").read_text().replace("deviation: um", f"deviation: {unit}")
        (bed / "layout.yaml").write_text(text.replace("length: mm", "length: m"))
        _, out, _ = datumray("reduce", bed / "layout.yaml", bed / "readings" / "as_found.csv")
        line = next(row for row in out.splitlines() if "does not conform" in row)
        figures = [float(figure) for figure in re.findall(rf"([0-9.]+) {unit}\b", line)]
        assert len(figures) == 4
        assert all(figure > 0.0 for figure in figures), line
        assert value in line
        row = next(row for row in out.splitlines() if row.startswith("A1 "))
        assert "-1.400" in row


def test_one_visit_that_cannot_be_solved_does_not_hide_the_others(datumray, bed):
    left = bed / "readings" / "as_left.csv"
    left.write_text("\n".join(left.read_text().splitlines()[:4]) + "\n")
    files = [bed / "readings" / "as_found.csv", left]
    code, out, _ = datumray("reduce", bed / "layout.yaml", *files, "--json", "-")
    document = json.loads(out)
    assert code == 0
    assert [each["visit"] for each in document["results"]] == ["as found"]
    assert [each["visit"] for each in document["failures"]] == ["as left"]
    assert "stand on one line" in document["failures"][0]["message"]
    assert datumray("reduce", bed / "layout.yaml", *files, "--fail-on-verdict")[0] == 1
    code, _, err = datumray("reduce", bed / "layout.yaml", left)
    assert code == 2
    assert "stand on one line" in err


def test_a_datum_of_the_wrong_size_is_answered_in_the_users_words(datumray, tmp_path):
    (tmp_path / "points.csv").write_text(FLAT)
    _, _, err = datumray("form", "flatness", tmp_path / "points.csv", "--reference", "three-points", "--datum", "1,2")
    assert "3 different points, not 1,2" in err
    (tmp_path / "three.csv").write_text("\n".join(FLAT.splitlines()[:4]) + "\n")
    code, _, err = datumray("form", "flatness", tmp_path / "three.csv")
    assert code == 2
    assert "four are needed" in err
