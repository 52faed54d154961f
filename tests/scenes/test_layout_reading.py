"""What a layout file says, as the model holds it: units, frames, stations, set-ups, tasks, feet, origins, lines."""

from __future__ import annotations

import time
from pathlib import Path

import numpy as np
import pytest

from scenes.layout import read_layout
from scenes.layout.resolve_stations import row_letters
from scenes.model.machine import Column, Face, Plate
from scenes.model.survey import LevelBy, Rule

EXAMPLES = Path(__file__).parents[2] / "examples"
PICOMETRE = 1e-12
PLATE = "{plate: {length: 1 m, width: 1 m, thickness: 0.1 m}"


def line_of(text: str, part: str) -> int:
    return text[: text.index(part)].count("\n") + 1


def with_machine(press, entry: str) -> dict:
    return press.read(("  column_a:", f"  {entry}\n  column_a:")).surfaces


@pytest.mark.parametrize("path", sorted(EXAMPLES.glob("*/layout.yaml")), ids=lambda path: path.parent.name)
def test_every_example_is_read(path) -> None:
    layout = read_layout(path)
    assert layout.tasks
    assert layout.file == str(path)


def test_a_layout_is_read_from_its_file(press) -> None:
    layout = read_layout(press.path)
    assert layout.title == "Bed of a 400 t press"
    assert list(layout.surfaces) == ["bed", "column_a", "column_b", "column_c", "column_d"]
    bed = layout.surfaces["bed"].shape
    assert isinstance(bed, Plate)
    assert (bed.length, bed.width, bed.thickness) == pytest.approx((3.0, 1.8, 0.35))
    assert isinstance(layout.surfaces["column_a"].shape, Column)
    assert layout.surfaces["bed"].material == "cast iron"
    assert layout.air.temperature == pytest.approx(294.15)
    assert (layout.air.gradient, layout.air.gradient_known_to) == (0.3, 0.2)
    assert layout.tasks["bed flatness"].limit == pytest.approx(60e-6)
    assert layout.feet["bed"].stock == pytest.approx((50e-6, 100e-6, 200e-6))
    assert layout.feet["bed"].add_only is True


def test_weight_on_the_feet_and_other_names_of_a_material(press) -> None:
    assert press.read().feet["bed"].weight == 0.0
    layout = press.read(
        ("travel: 2 mm", "travel: 2 mm\n    weight: 60 t"), ("material: cast iron", "material: Grey Iron")
    )
    assert layout.feet["bed"].weight == pytest.approx(588399.0)
    assert layout.feet["bed"].origins["weight"].startswith("layout line")
    assert layout.surfaces["bed"].material == "Grey Iron"


def test_lines_point_to_the_names(press) -> None:
    layout = press.read()
    for name, thing in {**layout.surfaces, **layout.targets, **layout.setups, **layout.groups}.items():
        assert thing.line == line_of(press.text, f"\n  {name}:") + 1, name
    assert layout.stations["C3"].line == layout.groups["grid"].line
    assert layout.tasks["bed flatness"].line == line_of(press.text, "bed flatness:")


def test_origins_say_catalogue_or_layout_line(press) -> None:
    layout = press.read()
    line = line_of(press.text, "laser: {emitter")
    assert layout.emitters["laser"].origins["drift"] == f"layout line {line}"
    assert layout.emitters["laser"].origins["wavelength"] == "catalogue: block"
    assert layout.targets["t1"].origins["window_h"] == "catalogue: two axes"
    mount = layout.setups["plane"].mount
    assert mount.origins["height"].startswith("layout line")
    assert mount.origins["repeatability"] == "catalogue: tripod"
    assert layout.feet["bed"].origins["most_pieces"] == "default"
    assert layout.air.origins["gradient"].startswith("layout line")


def test_any_field_of_a_device_is_overridden_in_place(press) -> None:
    layout = press.read(("drift: 3 urad/h}", "drift: 6 urad/h, beam height: 2 in}"), (
        "t1: {target: two axes}", "t1: {target: two axes, window: [10 mm, 8 mm], zero: [-3 um, 4 um], roll: 2 mrad}",
    ))  # fmt: skip
    assert layout.emitters["laser"].drift == pytest.approx(6e-6 / 3600)
    assert layout.emitters["laser"].beam_height == pytest.approx(0.0508)
    target = layout.targets["t1"]
    assert (target.window_h, target.window_v, target.zero_h, target.zero_v, target.roll) == pytest.approx(
        (0.010, 0.008, -3e-6, 4e-6, 2e-3)
    )
    assert target.origins["zero_v"].startswith("layout line")


def test_a_grid_is_lettered_along_the_width_and_numbered_along_the_length(press) -> None:
    stations = press.read().stations
    assert list(stations)[:8] == ["A1", "A2", "A3", "A4", "A5", "A6", "A7", "B1"]
    assert len(stations) == 35
    for name, x, y in (("A1", -1.4, -0.8), ("A7", 1.4, -0.8), ("C4", 0.0, 0.0), ("E1", -1.4, 0.8)):
        np.testing.assert_allclose(stations[name].at, [x, y, 0.0], atol=PICOMETRE)
    group = press.read().groups["grid"]
    assert (group.rows, group.columns, len(group.stations)) == (5, 7, 35)


def test_rows_after_z_have_two_letters() -> None:
    assert [row_letters(row) for row in (0, 25, 26, 51, 52, 701, 702)] == ["A", "Z", "AA", "AZ", "BA", "ZZ", "AAA"]


def test_two_margins_and_a_prefix(press) -> None:
    stations = press.read(
        ("margin: 100 mm", "margin: [200 mm, 150 mm], names: bed-"), ("[A1, E7]", "[bed-A1]")
    ).stations
    np.testing.assert_allclose(stations["bed-A1"].at, [-1.3, -0.75, 0.0], atol=PICOMETRE)


def test_named_places_and_lines(press) -> None:
    text = press.changed(
        ("setups:", "  pts: {on: bed, at: {P1: [0.2 m, 0.1 m], 7: [1 m, 0 m, 20 mm]}, mount: {post: 60 mm}}\n"
         "  row: {on: bed, line: {from: [-1 m, 0 m], to: [1 m, 0.5 m], count: 5}, names: R, mount: {post: 60 mm}}\n"
         "  step: {on: bed, line: {from: [-1 m, 0 m], to: [1 m, 0 m], every: 300 mm}, mount: {post: 60 mm}}\nsetups:"),
    )  # fmt: skip
    layout = read_layout("press.yaml", text)
    np.testing.assert_allclose(layout.stations["P1"].at, [0.2, 0.1, 0.0])
    np.testing.assert_allclose(layout.stations["7"].at, [1.0, 0.0, 0.02])
    np.testing.assert_allclose(layout.stations["R3"].at, [0.0, 0.25, 0.0], atol=PICOMETRE)
    assert layout.groups["step"].stations == ("L1", "L2", "L3", "L4", "L5", "L6", "L7")
    np.testing.assert_allclose(layout.stations["L7"].at, [0.8, 0.0, 0.0], atol=PICOMETRE)
    assert layout.stations["P1"].target == "t1"  # the only target of the layout


def test_a_circle_on_a_face(press) -> None:
    layout = press.read(
        ("  column_a:", "  hub: {face: {diameter: 1 m, bore: 200 mm, thickness: 50 mm}, on: bed}\n  column_a:"),
        (
            "setups:",
            "  rim: {on: hub, circle: {radius: 400 mm, count: 8, start: 90 deg}, names: S,\n"
            "    mount: {post: 0 mm}}\nsetups:",
        ),
    )
    assert layout.surfaces["hub"].shape == Face(1.0, 0.2, 0.05)
    assert layout.groups["rim"].stations == tuple(f"S{i}" for i in range(1, 9))
    np.testing.assert_allclose(layout.stations["S1"].at, [0.0, 0.4, 0.0], atol=PICOMETRE)
    np.testing.assert_allclose(layout.stations["S3"].at, [-0.4, 0.0, 0.0], atol=PICOMETRE)


def test_frames_are_nested_in_any_order_of_definition(press) -> None:
    surfaces = with_machine(
        press,
        f"top: {PLATE}, on: mid, at: [100 mm, 0 m, 50 mm], turned: 90 deg}}\n"
        f"  mid: {PLATE}, on: low, at: [1 m, 0 m, 0.2 m], turned: 90 deg}}\n"
        f"  low: {PLATE}, at: [2 m, 3 m, 0.5 m]}}",
    )
    pose = surfaces["top"].world_from_surface
    np.testing.assert_allclose(pose.origin, [3.0, 3.1, 0.75], atol=PICOMETRE)
    np.testing.assert_allclose(pose.rotation, [[-1, 0, 0], [0, -1, 0], [0, 0, 1]], atol=PICOMETRE)


@pytest.mark.parametrize(
    ("said", "z", "x"),
    [
        ("", (0, 0, 1), (1, 0, 0)),
        (", faces: up", (0, 0, 1), (1, 0, 0)),
        (", faces: down", (0, 0, -1), (1, 0, 0)),
        (", axis: -y", (0, -1, 0), (1, 0, 0)),
        (", axis: +x", (1, 0, 0), (0, 1, 0)),
        (", axis: [0, 3, 4]", (0, 0.6, 0.8), (1, 0, 0)),
        (", faces: down, turned: 90 deg", (0, 0, -1), (0, -1, 0)),
    ],
)
def test_the_measured_side_faces_where_it_is_told(press, said: str, z: tuple, x: tuple) -> None:
    rotation = with_machine(press, f"p: {PLATE}{said}}}")["p"].world_from_surface.rotation
    np.testing.assert_allclose(rotation[:, 2], z, atol=PICOMETRE)
    np.testing.assert_allclose(rotation[:, 0], x, atol=PICOMETRE)
    assert np.linalg.det(rotation) == pytest.approx(1.0)


def test_what_is_read_in_which_order(press) -> None:
    setup = press.read(("[grid, again: [A1, E7]]", "[A7..A5, B1, C1..C3, again: [A7, A7], again: C1..C2]")).setups[
        "plane"
    ]
    assert setup.reads == ("A7", "A6", "A5", "B1", "C1", "C2", "C3")
    assert setup.again == ("A7", "A7", "C1", "C2")


@pytest.mark.parametrize(
    ("said", "method", "stations"),
    [
        ("three points", LevelBy.THREE_POINTS, ()),
        ("best fit", LevelBy.BEST_FIT, ()),
        ("vial", LevelBy.VIAL, ()),
        ("pads [A1, A7, E4]", LevelBy.PADS, ("A1", "A7", "E4")),
        ("{pads: [A1, A7, E1..E2]}", LevelBy.PADS, ("A1", "A7", "E1", "E2")),
        ("three points [A1, A7, E4]", LevelBy.THREE_POINTS, ("A1", "A7", "E4")),
        ("{three points: [A1, A7, E4]}", LevelBy.THREE_POINTS, ("A1", "A7", "E4")),
    ],
)
def test_ways_to_set_the_plane(press, said: str, method: LevelBy, stations: tuple) -> None:
    setup = press.read(("level by: three points ", f"level by: {said} ")).setups["plane"]
    assert (setup.level_by, setup.level_stations) == (method, stations)


def test_defaults_of_a_setup(press) -> None:
    setup = press.read(("    turned by: base\n", ""), ("    level by: three points ", "    pace: 90 s ")).setups[
        "plane"
    ]
    assert (setup.base, setup.level_by, setup.seconds_per_reading) == ("base", LevelBy.THREE_POINTS, 90.0)


def test_a_task_in_full_and_in_short(press) -> None:
    full = "from: [A1..A7, E1..E7], reference: three points, datum: [A1, A7, E4], limit: 2 thou, "
    full += "rule: simple acceptance, fitted: [cone, drift], coverage: 3"
    task = press.read(("from: grid, reference: minimum zone, limit: 60 um", full)).tasks["bed flatness"]
    assert (len(task.stations), task.datum, task.rule, task.fitted) == (
        14, ("A1", "A7", "E4"), Rule.SIMPLE, ("cone", "drift"),
    )  # fmt: skip
    assert (task.limit, task.coverage_factor) == (pytest.approx(50.8e-6), 3.0)
    short = press.read(("from: grid, reference: minimum zone, ", "")).tasks["bed flatness"]
    assert (len(short.stations), short.reference, short.coverage_factor) == (35, "minimum zone", 2.0)


def test_a_kind_of_the_catalogue_can_be_used_directly(press) -> None:
    devices = press.text[press.text.index("devices:") : press.text.index("stations:")]
    layout = press.read(
        (devices, ""),
        ("use: laser", "use: block"),
        ("turned by: base", "turned by: standard"),
        ("target: t1", "target: two axes"),
    )
    assert layout.emitters["block"].kind == "block"
    assert layout.bases["standard"].line == 0
    assert layout.targets["two axes"].window_h > 0


def test_declared_unit_of_bare_lengths(press) -> None:
    layout = press.read(("angle: arcsec}", "angle: arcsec, bare: mm}"), ("margin: 100 mm", "margin: 100"))
    assert layout.stations["A1"].at[0] == pytest.approx(-1.4)
    assert press.problems(("angle: arcsec}", "angle: arcsec, bare: mm}"), ("21 degC", "21"))  # lengths only


def test_readings_mapping(press) -> None:
    mapping = press.read(
        ("feet:", 'readings:\n  columns: {station: Pt, v: "Height [um]", mount offset: Blocks}\n'
         "  signs: {v: target up, h: spot right}\nfeet:")
    ).readings  # fmt: skip
    assert mapping.columns == {"station": "Pt", "v": "Height [um]", "mount offset": "Blocks"}
    assert (mapping.v_up, mapping.h_right) == (False, True)


def test_words_of_old_yaml_are_words_here(press) -> None:
    layout = press.read(("title: Bed of a 400 t press", "title: 12:30"), ("  t1:", "  yes: {target: two axes}\n  t1:"))
    assert layout.title == "12:30"
    assert "yes" in layout.targets


def test_an_alias_repeats_a_value(press) -> None:
    size = "{length: 420 mm, width: 420 mm, height: 3.1 m}"
    layout = press.read((f"column_a: {{column: {size}", f"column_a: {{column: &size {size}"), (
        f"column_b: {{column: {size}", "column_b: {column: *size"))  # fmt: skip
    assert layout.surfaces["column_b"].shape == layout.surfaces["column_a"].shape


def test_200_named_stations_are_read_quickly(press) -> None:
    places = ",\n    ".join(f"P{i}: [{-1400 + 14 * i} mm, {(37 * i) % 1600 - 800} mm]" for i in range(200))
    text = press.changed(("grid: 7 x 5, margin: 100 mm, ", f"at: {{{places}}}, "), ("[A1, E7]", "[P0..P9]"))
    read_layout("press.yaml", text)
    times = []
    for _ in range(3):
        start = time.perf_counter()
        layout = read_layout("press.yaml", text)
        times.append(time.perf_counter() - start)
    assert len(layout.stations) == 200
    assert min(times) < 0.3
