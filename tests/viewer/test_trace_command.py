"""``datumray trace`` as a person uses it: the printed spots and corners, and the document."""

from __future__ import annotations

import io
import json
import math
from pathlib import Path

import numpy as np
import pytest
from rich.console import Console

from scenes.checks.plan import traced_plan
from scenes.layout.read import read_layout
from viewer.commands.main import run
from viewer.report.trace_report import print_trace
from viewer.report.traced_beams import traced_beams

ROOT = Path(__file__).parents[2]
BED = ROOT / "examples" / "press_bed" / "layout.yaml"
SHOP = Path(__file__).parent / "shop.yaml"
LAYOUTS = [SHOP, *sorted((ROOT / "examples").glob("*/layout.yaml")), *sorted((ROOT / "tests").glob("scenes/layouts/*"))]


@pytest.fixture
def trace(monkeypatch, capsys):
    """Call the command in this process: exit code, standard output, standard error."""

    def call(*arguments: object) -> tuple[int, str, str]:
        monkeypatch.setattr("sys.argv", ["datumray", "trace", *map(str, arguments)])
        code = 0
        try:
            run()
        except SystemExit as end:
            code = end.code or 0
        out, err = capsys.readouterr()
        assert "Traceback" not in out + err
        return code, out, err

    return call


def moved(folder: Path, old: str, new: str) -> Path:
    """The press bed with one text exchanged."""
    text = BED.read_text(encoding="utf-8")
    assert old in text
    path = folder / "layout.yaml"
    path.write_text(text.replace(old, new), encoding="utf-8")
    return path


def beams_of(trace, *arguments):
    code, out, err = trace(*arguments, "--json", "-")
    assert (code, err) == (0, "")
    document = json.loads(out)
    assert document["format"] == 1
    return document["beams"]


def test_the_table_says_where_the_spots_stand(trace):
    """Worked by hand: A1 stands 1.55 m and 1.5 m from the base; a beam of 3 mm leaves 7 mm of a half window of 10."""
    code, out, err = trace(BED)
    assert (code, err) == (0, "")
    lines = [line.split() for line in out.splitlines()]
    assert f"{1e3 * math.hypot(1.55, 1.5):.0f}" == "2157"
    assert ["A1", "2157", "3.00", "(0.00)", "0.00", "7.00", "0.00", "clear"] in lines
    assert "plane: plane swept by a rotary base, 37 readings, target t1, light 100 %" in out
    assert "in brackets: the direction in which the crew brings the spot to the middle" in out
    assert "corner" not in out.splitlines()[5]
    assert "--station NAMES" in out


def test_corners_of_chosen_stations(trace):
    code, out, _ = trace(BED, "--station", "A1, C3..C4")
    assert code == 0
    assert "B1" not in out
    corners = [line.split() for line in out.splitlines()]
    assert ["A1", "emitter", "laser", "150.0", "-2300.0", "1040.0", "0", "3.00", "100"] in corners
    assert ["target", "t1", "-1400.0", "-800.0", "1040.0", "2157", "3.00", "100"] in corners
    # read once and again at the end: two beams
    assert sum(line[:2] == ["A1", "emitter"] for line in corners) == 2


def test_every_number_of_the_document_stands_beside_its_unit(trace):
    def walk(value, path=""):
        if isinstance(value, dict):
            numbers = [key for key, part in value.items() if isinstance(part, (int, float)) and part is not True]
            if numbers and path not in ("", "beams"):
                assert "unit" in value, (path, value)
            for key, part in value.items():
                walk(part, f"{path}.{key}" if path else key)
        elif isinstance(value, list):
            for part in value:
                walk(part, path)

    walk({"beams": beams_of(trace, SHOP)})


def test_the_document_has_the_chain_of_corners(trace):
    for beam in beams_of(trace, SHOP, "--setup", "square"):
        points = np.array([[corner["point"][axis] for axis in "xyz"] for corner in beam["path"]])
        ways = np.array([corner["way"]["value"] for corner in beam["path"]])
        spans = np.linalg.norm(np.diff(points, axis=0), axis=1)
        assert np.allclose(np.concatenate([[0.0], np.cumsum(spans)]), ways, atol=1e-6)
        assert beam["length"] == {"value": pytest.approx(ways[-1]), "unit": "mm"}
        assert np.all(np.diff([corner["beam_radius"]["value"] for corner in beam["path"]]) > 0.0)
        devices = [(corner["device"], corner["place"]) for corner in beam["path"]]
        if beam["station"].startswith("square"):
            assert devices == [("laser", "emitter"), ("t1", "target")]
            assert (beam["light"]["value"], beam["prism_margin"], beam["stop"]) == (100.0, None, None)
        else:
            faces = [("nose", place) for place in ("entrance", "mirror 1", "mirror 2", "exit")]
            assert devices == [("laser", "emitter"), *faces, ("t1", "target")]
            assert (beam["light"]["value"], beam["free"]) == (pytest.approx(90.0), None)
            # the clear half of 15 mm less the beam, which has widened to a bit over 3 mm
            assert 11.98 < beam["prism_margin"]["value"] < 12.0
        assert beam["spot"]["unit"] == beam["margin"]["unit"] == "mm"
        radius = beam["beam_radius"]["value"]
        for axis in ("h", "v"):
            assert beam["margin"][axis] == pytest.approx(10.0 - radius - abs(beam["spot"][axis]), abs=1e-9)


def test_lengths_through_glass_follow_by_hand(trace):
    """To Q2: 2 m to the crossing and 1 m on, and in the glass a (2 + sqrt 2) in place of a."""
    beam = beams_of(trace, SHOP, "--station", "Q2")[0]
    assert beam["length"]["value"] == pytest.approx(3000.0 + 30.0 * (1.0 + math.sqrt(2.0)), abs=1e-3)
    assert beam["path"][-1]["point"]["x"] == pytest.approx(400.0, abs=1e-3)
    corner = {each["place"]: each["point"] for each in beam["path"]}
    assert corner["entrance"]["x"] == pytest.approx(400.0 - 15.0, abs=1e-3)
    assert corner["exit"]["y"] == pytest.approx(-600.0 + 15.0, abs=1e-3)


def test_see_through_targets_stand_on_the_way_and_take_light(trace):
    beams = beams_of(trace, SHOP, "--setup", "line")
    assert [beam["station"] for beam in beams] == ["L1", "L2", "L3", "L4"]
    for beam in beams:
        passed = [corner["device"] for corner in beam["path"] if corner["place"] == "back"]
        assert passed == (["t2"] if beam["target"] == "t1" else [])
        assert beam["light"]["value"] == pytest.approx(78.0 if passed else 100.0)


def test_angles_and_clock_positions_are_told_where_they_are(trace):
    bore = beams_of(trace, ROOT / "tests/scenes/layouts/bore.yaml")
    rings = [beam for beam in bore if beam["station"] == "rings1"]
    assert [beam["clock"]["value"] for beam in rings] == [0.0, 90.0, 180.0, 270.0]
    assert {beam["clock"]["unit"] for beam in rings} == {"deg"}
    spindle = [beam for beam in bore if beam["setup"] == "in the spindle"]
    assert sorted({beam["emitter_turn"]["value"] for beam in spindle}) == [0.0, 90.0, 180.0, 270.0]
    stepping = beams_of(trace, SHOP, "--setup", "stepping")
    assert stepping[1]["spot"]["angle_unit"] == "arcsec"
    assert stepping[1]["margin"]["pitch"] == pytest.approx(900.0, abs=0.1)  # the angular window is 15 arcmin
    assert stepping[1]["spot"]["pitch"] == pytest.approx(-0.191e-6 * 0.6 / (math.pi / 648_000.0), rel=0.01)  # 0.2 K/m


def test_a_hidden_station_tells_what_hides_it_and_where_the_light_ends(trace, tmp_path):
    """From [-2.3, 0.2] the light to A1 at [-1.4, -0.8] meets the side of column_a at y = -0.59 m."""
    layout = moved(tmp_path, "at: [0.15 m, -2.3 m, 0 m]", "at: [-2.3 m, 0.2 m, 0 m]")
    hidden = beams_of(trace, layout, "--station", "A1")[0]
    assert (hidden["sight"], hidden["stopped_by"]) == ("blocked", "column_a")
    share = (0.2 + 0.59) / 1.0
    wanted = {"x": 1e3 * (-2.3 + 0.9 * share), "y": -590.0, "z": 1040.0}
    for axis, value in wanted.items():
        assert hidden["stopped_at"][axis] == pytest.approx(value, abs=0.1)
    assert hidden["stopped_after"]["value"] == pytest.approx(1e3 * share * math.hypot(0.9, 1.0), abs=0.1)
    code, out, _ = trace(layout)
    assert code == 0
    assert "blocked by column_a (so far from the emitter): A1 (1063 mm)" in " ".join(out.split())


def test_light_that_is_stopped_behind_a_prism_ends_where_the_obstacle_begins(trace):
    """The near end of the face of roll_1 stands at y = -1600 mm, 400 mm from the beam that runs along x."""
    beam = beams_of(trace, ROOT / "tests/scenes/layouts/rolls.yaml", "--station", "roll_1 near")[0]
    assert (beam["sight"], beam["stopped_by"]) == ("blocked", "roll_1")
    assert beam["stopped_at"] == {
        "x": pytest.approx(0.0, abs=0.1), "y": pytest.approx(-1600.0, abs=0.1), "z": pytest.approx(1132.0, abs=0.1),
        "unit": "mm",
    }  # fmt: skip
    before = 3000.0 + 30.0 * (1.0 + math.sqrt(2.0))
    assert beam["stopped_after"]["value"] == pytest.approx(before + 400.0, abs=0.1)


def test_a_spot_beyond_the_window_has_a_negative_margin(trace, tmp_path):
    layout = moved(tmp_path, "mount: {tripod: 0.9 m}}", "mount: {tripod: 0.912 m}}")
    beam = beams_of(trace, layout, "--station", "C4")[0]
    assert beam["spot"]["v"] == pytest.approx(12.0, abs=0.01)
    assert beam["margin"]["v"] == pytest.approx(10.0 - 12.0 - 3.0, abs=0.02)


@pytest.mark.parametrize("layout", LAYOUTS, ids=lambda path: f"{path.parent.name}-{path.stem}")
def test_the_tables_read_well_at_100_columns(layout):
    plan = traced_plan(read_layout(layout))
    beams = traced_beams(plan)
    stream = io.StringIO()
    print_trace(plan.layout, beams, True, Console(file=stream, width=100, highlight=False))
    text = stream.getvalue()
    assert max(map(len, text.splitlines())) <= 100
    assert "…" not in text
    words = set(text.split())
    for beam in beams:
        assert set(beam.station.split()) <= words
        if beam.met:
            assert f"{1e3 * beam.length:.0f}" in words


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (("--station", "A1,Z9"), "there is no station or group 'Z9'"),
        (("--station", "A1..B3"), "may differ in their number only"),
        (("--setup", "plan"), "did you mean plane?"),
    ],
)
def test_unknown_names_are_told(trace, options, said):
    code, out, err = trace(BED, *options)
    assert (code, out) == (2, "")
    assert said in err


def test_a_station_that_the_setup_does_not_read_is_told(trace):
    code, _, err = trace(SHOP, "--setup", "line", "--station", "B1")
    assert code == 2
    assert "no such reading is planned" in err
    assert "they are read from plane" in err
