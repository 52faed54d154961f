"""Set-ups of every reference method, as the model holds them."""

from __future__ import annotations

import math
from dataclasses import fields

import numpy as np
import pytest

from scenes.model.devices import Emitter, Prism, RotaryBase, Stage, Target, Vial
from scenes.model.mounts import Mount
from scenes.model.survey import LevelBy, Method
from scenes.tracing.launches import launch_of, nose_frame
from scenes.tracing.places import station_places

NANOMETRE = 1e-9
METHODS = {
    ("press_slide", "plane"): Method.BASE_PLANE,
    ("press_slide", "upright"): Method.PRISM_LINE,
    ("rolls", "base line"): Method.PRISM_LINE,
    ("gantry", "square plane"): Method.PRISM_PLANE,
    ("gantry", "along a"): Method.LINE,
    ("bore", "through the bore"): Method.LINE,
    ("bore", "in the spindle"): Method.SPINDLE,
    ("rails", "first"): Method.BASE_PLANE,
    ("rails", "side"): Method.LINE,
}


@pytest.mark.parametrize(("sheet", "setup"), METHODS)
def test_the_method_follows_from_what_a_setup_says(sheets, sheet: str, setup: str) -> None:
    assert sheets[sheet].read().setups[setup].method is METHODS[sheet, setup]


def test_a_line_needs_no_base_and_a_base_no_aim(sheets) -> None:
    press = sheets["press_slide"].read()
    assert (press.setups["upright"].base, press.setups["plane"].base) == ("", "base")
    assert press.setups["plane"].aim is None
    np.testing.assert_allclose(press.setups["upright"].aim, [1.0, 0.0, 0.0])


def test_every_field_of_a_device_or_mount_says_where_it_comes_from(sheets) -> None:
    unnamed = {"name", "kind", "line", "origins"}
    for sheet in sheets.values():
        layout = sheet.read()
        things = [
            *layout.emitters.values(), *layout.bases.values(), *layout.targets.values(), *layout.prisms.values(),
            *layout.stages.values(), *layout.vials.values(), *(each.mount for each in layout.stations.values()),
            *(each.mount for each in layout.setups.values()),
        ]  # fmt: skip
        assert {type(thing) for thing in things} >= {Emitter, Target, Mount}
        for thing in things:
            assert isinstance(thing, Emitter | RotaryBase | Target | Prism | Stage | Vial | Mount)
            wanted = {each.name for each in fields(thing)} - unnamed
            assert set(thing.origins) == wanted, thing.kind
            said = {origin.split(" ")[0].rstrip(":") for origin in thing.origins.values()}
            assert said <= {"catalogue", "layout", "default"}, thing.origins


def test_devices_of_each_role(sheets) -> None:
    sheet = sheets["press_slide"]
    layout = sheet.read(("level: {vial: block level}", "level: {vial: block level, sensitivity: 2 um/m}"))
    assert layout.prisms["prism"].mirror_known_to == pytest.approx(math.radians(0.3 / 3600))
    assert layout.prisms["prism"].origins["mirror_known_to"].startswith("layout line")
    assert layout.vials["level"].sensitivity == pytest.approx(2e-6)
    assert layout.stages["four axes"].height > 0.0  # a kind of the catalogue, named directly
    assert sheets["rails"].read().targets["stepper"].step == pytest.approx(0.5)
    see_through = sheets["rails"].read().targets["t1"]
    assert 0.0 < see_through.passes < 1.0
    assert see_through.passes**12 >= see_through.least_light  # twelve in one beam still leave enough


def test_mounts_of_each_kind(sheets) -> None:
    sheet = sheets["gantry"]
    bracket = "{bracket: 40 mm, arm: -80 mm, tilts: 50 urad}"
    mount = sheet.read(("names: A, mount: {post: 40 mm}", f"names: A, mount: {bracket}")).stations["A1"].mount
    assert (mount.kind, mount.height, mount.arm, mount.tilts) == pytest.approx(("bracket", 0.04, -0.08, 50e-6))
    assert mount.origins["arm"].startswith("layout line")
    assert mount.origins["repeatability"] == "catalogue: bracket"
    bare = sheet.read().setups["square plane"].mount
    assert (bare.kind, bare.height) == ("none", 0.0)
    discs = sheets["bore"].read().stations["rings1"].mount
    assert (discs.kind, discs.height) == ("discs", 0.0)
    assert discs.eccentric_known_to > 0.0
    stage = sheets["bore"].read().setups["through the bore"]
    assert (stage.mount.kind, stage.stage) == ("stage", "four axes")
    assert stage.mount.height == sheets["bore"].read().stages["four axes"].height


def test_the_beam_in_front_of_a_bore_runs_along_its_axis(sheets) -> None:
    layout = sheets["bore"].read(("at: [0 m, 0 m, 1.2 m], axis: +x", "at: [1 m, 2 m, 1.2 m], axis: [3, 4, 0]"))
    launch = launch_of(layout, layout.setups["through the bore"])
    axis = np.array([0.6, 0.8, 0.0])
    np.testing.assert_allclose(launch.rotation[:, 0], axis, atol=1e-12)
    np.testing.assert_allclose(launch.origin, np.array([1.0, 2.0, 1.2]) - 0.8 * axis, atol=NANOMETRE)


def test_an_emitter_in_a_spindle_points_out_of_its_face(sheets) -> None:
    layout = sheets["bore"].read()
    setup = layout.setups["in the spindle"]
    assert setup.on == "spindle"
    assert setup.clocks == pytest.approx(np.radians([0.0, 90.0, 180.0, 270.0]))
    launch = launch_of(layout, setup)
    np.testing.assert_allclose(launch.rotation[:, 0], [1.0, 0.0, 0.0], atol=1e-12)
    np.testing.assert_allclose(launch.origin[1:], [5.0, 1.05], atol=NANOMETRE)  # on the axis ...
    assert launch.origin[0] >= 0.8  # ... before the face


def test_an_emitter_in_a_roll_starts_at_the_end_that_it_points_out_of(sheets) -> None:
    roll = "spindle: {roll: {diameter: 300 mm, face: 1 m}, at: [0.3 m, 5 m, 1.05 m], axis: +x}"
    face = "spindle: {face: {diameter: 300 mm, thickness: 60 mm}, at: [0.8 m, 5 m, 1.05 m], faces: +x}"
    layout = sheets["bore"].read((face, roll), ("in: spindle,", "in: spindle, aim: -z,"))
    np.testing.assert_allclose(layout.setups["in the spindle"].at, [0.0, 0.0, -0.5], atol=NANOMETRE)
    launch = launch_of(layout, layout.setups["in the spindle"])
    np.testing.assert_allclose(launch.rotation[:, 0], [-1.0, 0.0, 0.0], atol=1e-12)
    np.testing.assert_allclose(launch.origin[1:], [5.0, 1.05], atol=NANOMETRE)
    assert launch.origin[0] <= -0.2


def test_near_and_far_targets_stand_in_the_nominal_beam_and_are_read_first(sheets) -> None:
    layout = sheets["rolls"].read(("aim: +x", "aim: [4, 0, 0.1]"))
    setup = layout.setups["base line"]
    assert setup.reads == ("base line near", "base line far", "roll_1 near", "roll_1 far", "roll_2 near", "roll_2 far")
    assert (setup.near, setup.far, setup.again) == ("base line near", "base line far", ("base line near",))
    launch = launch_of(layout, setup)
    foot, normal, rise = station_places(layout, (setup.near, setup.far))
    centres = foot + rise[:, None] * normal
    for centre, distance in zip(centres, (2.0, 14.0), strict=True):
        np.testing.assert_allclose(centre, launch.origin + distance * launch.rotation[:, 0], atol=NANOMETRE)
    near = layout.stations["base line near"]
    assert near.is_datum
    assert (near.surface, near.group, near.target, near.mount.kind) == ("floor", "base line", "t1", "none")
    np.testing.assert_allclose(near.normal, launch.rotation[:, 2], atol=1e-12)
    assert layout.stations["base line far"].mount.height == pytest.approx(0.3)


def test_datum_targets_can_be_named_by_other_setups_and_stand_where_the_reading_order_says(sheets) -> None:
    other = (
        "  control: {emitter: {use: laser, on: floor, at: [-4 m, -2 m, 0 mm], aim: +x, mount: {tripod: 1.1 m}}, "
        "reads: [base line far, base line near]}\ntasks:"
    )
    layout = sheets["rolls"].read(("tasks:", other))
    assert layout.setups["control"].reads == ("base line far", "base line near")
    layout = sheets["rolls"].read(("reads: [", "reads: [base line far, base line near, "))
    assert layout.setups["base line"].reads[:2] == ("base line far", "base line near")
    assert all("base line" not in name for stop in layout.setups["base line"].prism.stops for name in stop.stations)


def test_stations_as_near_and_far_set_the_line(sheets) -> None:
    layout = sheets["gantry"].read()
    setup = layout.setups["along a"]
    assert (setup.near, setup.far, setup.aim) == ("A1", "A7", None)
    assert setup.reads == ("A1", "A2", "A3", "A4", "A5", "A6", "A7")  # once, in the order of reads
    launch = launch_of(layout, setup)
    np.testing.assert_allclose(launch.rotation[:, 0], [1.0, 0.0, 0.0], atol=1e-12)
    layout = sheets["gantry"].read(("    reads: a\n", "    reads: A2..A6\n"))
    assert layout.setups["along a"].reads == ("A1", "A7", "A2", "A3", "A4", "A5", "A6")


def test_stops_of_a_prism_say_what_is_read_from_each(sheets) -> None:
    use = sheets["rolls"].read().setups["base line"].prism
    assert [(stop.name, stop.distance, stop.stations) for stop in use.stops] == [
        ("at roll_1", 3.0, ("roll_1 near", "roll_1 far")),
        ("at roll_2", pytest.approx(5.4), ("roll_2 near", "roll_2 far")),
    ]
    assert not use.sweeps
    (only,) = sheets["press_slide"].read().setups["upright"].prism.stops
    assert (only.name, only.distance, len(only.stations)) == ("prism", pytest.approx(1.3), 9)
    swept = sheets["gantry"].read().setups["square plane"].prism
    assert (swept.sweeps, swept.centred_within) == (True, pytest.approx(50e-6))


@pytest.mark.parametrize("toward", [(0, 1, 0), (0, -1, 0), (0, 0, 1), (0, 0, -1), (0, 0.6, -0.8)])
def test_a_prism_is_turned_so_that_the_light_leaves_toward(sheets, toward: tuple) -> None:
    layout = sheets["rolls"].read(("toward: +y", f"toward: {list(toward)}"))
    setup = layout.setups["base line"]
    _, _, nose = nose_frame(launch_of(layout, setup), 3.0, setup.prism.turned, False)
    turned = setup.prism.turned
    exit_ = math.cos(turned) * nose[:, 2] - math.sin(turned) * nose[:, 1]  # z turned right-handed about x
    np.testing.assert_allclose(exit_, toward, atol=1e-12)
    assert sheets["rolls"].read(("toward: +y", "turned: -90 deg")).setups["base line"].prism.turned == pytest.approx(
        sheets["rolls"].read().setups["base line"].prism.turned
    )


def test_toward_is_square_to_a_line_that_stations_set(sheets) -> None:
    prism = "    prism: {use: nose, at: {along beam: 3 m}, toward: -y}\n    reads: a\n"
    assert sheets["gantry"].read(("    reads: a\n", prism)).setups["along a"].prism.turned == pytest.approx(math.pi / 2)


def test_positions_of_a_moving_part_are_read_in_the_order_asked(sheets) -> None:
    sheet = sheets["press_slide"]
    low, top = ("P1@low", "P2@low", "P3@low"), ("P1@top", "P2@top", "P3@top")
    for said in ("on slide", "slide", "P1..P3", "[P1, P2, P3]"):
        asked = f"stations: {said}, at positions: [top, low]"
        changed = sheet.read(("stations: on slide, at positions: [low, mid, top]", asked))
        assert changed.setups["upright"].reads == (*top, *low), said
    assert sheet.read(("[{stations: on slide, at positions: [low, mid, top]}]", "[P1..P3@low, P2@top]")).setups[
        "upright"
    ].reads == (*low, "P2@top")
    one = sheet.read(("[{stations: on slide, at positions: [low, mid, top]}]", "{stations: slide, at positions: mid}"))
    assert one.setups["upright"].reads == ("P1@mid", "P2@mid", "P3@mid")


def test_the_ends_of_a_surface_are_its_outermost_stations(sheets) -> None:
    reads = sheets["gantry"].read(("    reads: a\n", "    reads: ends of rail_a\n")).setups["along a"].reads
    assert reads == ("A1", "A7")


def test_through_and_reversed(sheets) -> None:
    side = sheets["rails"].read().setups["side"]
    assert (side.through, side.reversed) == (("t1", "t2", "t3"), False)
    plane = sheets["press_slide"].read().setups["plane"]
    assert (plane.level_by, plane.vial, plane.reversed) == (LevelBy.VIAL, "level", True)
    only = sheets["press_slide"].read(("    vial: level\n", "")).setups["plane"]
    assert only.vial == "level"  # the only one of the layout


def test_a_line_may_be_levelled_by_a_vial(sheets) -> None:
    upright = ("    emitter: {use: laser, on: bed", "    level by: vial\n    emitter: {use: laser, on: bed")
    layout = sheets["press_slide"].read(upright)
    assert (layout.setups["upright"].level_by, layout.setups["upright"].vial) == (LevelBy.VIAL, "level")


def test_air_in_full(sheets) -> None:
    air = sheets["press_slide"].read().air
    assert (air.pressure, air.humidity, air.gradient) == pytest.approx((100_200.0, 0.4, 0.3))
    assert air.origins["pressure"].startswith("layout line")
    assert sheets["rolls"].read().air.origins["pressure"] == "default"
    assert sheets["rolls"].read().air.pressure == 101_325.0
