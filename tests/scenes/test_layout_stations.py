"""Stations on rails, rolls, platens and moving parts and in bores, as the layout language says them."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from scenes.errors import LayoutError, Problem
from scenes.layout import read_layout
from scenes.tracing.places import pose_of, station_places, station_sides

HALL = (Path(__file__).parent / "machine_hall.yaml").read_text(encoding="utf-8")
PICOMETRE = 1e-12
POST = "mount: {post: 120 mm}"


def changed(*pairs: tuple[str, str]) -> str:
    text = HALL
    for old, new in pairs:
        assert old in text, old
        text = text.replace(old, new, 1)
    return text


def with_group(entry: str, *pairs: tuple[str, str]):
    """The hall with one more group, named ``new``."""
    return read_layout("hall.yaml", changed(("stations:\n", f"stations:\n  new: {entry}\n"), *pairs))


def problems_of(text: str) -> tuple[Problem, ...]:
    try:
        read_layout("hall.yaml", text)
    except LayoutError as error:
        return error.problems
    return ()


@pytest.fixture(scope="module")
def hall():
    return read_layout("hall.yaml", HALL)


def directions(layout, name: str) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Foot, normal and side of one station, world."""
    foot, normal, _ = station_places(layout, (name,))
    return foot[0], normal[0], station_sides(layout, (name,))[0]


def test_stations_along_a_rail_count_from_its_start(hall) -> None:
    names = hall.groups["a"].stations
    assert (names[0], names[-1], len(names)) == ("RA1", "RA21", 21)
    foot, normal, side = directions(hall, "RA5")
    np.testing.assert_allclose(foot, [20, 6, 0.2], atol=PICOMETRE)
    np.testing.assert_allclose(normal, [0, 0, 1], atol=PICOMETRE)
    np.testing.assert_allclose(side, [-1, 0, 0], atol=PICOMETRE)  # to the left of the way along it


def test_a_number_of_stations_is_spread_between_the_margins(hall) -> None:
    names = hall.groups["a2"].stations
    assert names == ("a2-1", "a2-2", "a2-3", "a2-4")  # a2 and 1 would look like a21
    assert [hall.stations[name].at[0] for name in names] == pytest.approx([1, 10, 19, 28])


def test_the_last_station_is_the_last_that_fits() -> None:
    layout = with_group(f"{{on: rail_a, every: 4 m, margin: [0.5 m, 2 m], {POST}}}")
    assert [layout.stations[name].at[0] for name in layout.groups["new"].stations] == pytest.approx(
        [0.5, 4.5, 8.5, 12.5, 16.5, 20.5, 24.5]
    )


def test_ends_of_rolls(hall) -> None:
    assert hall.groups["rolls"].stations == ("roll_1 near", "roll_1 far", "roll_2 near", "roll_2 far")
    assert hall.groups["ends of roll_2"].stations == ("roll_2 near", "roll_2 far")
    foot, normal, side = directions(hall, "roll_1 near")
    np.testing.assert_allclose(foot, [8, -1.6 + 0.16, 1.3], atol=PICOMETRE)  # 5 % of the face
    np.testing.assert_allclose(normal, [0, 0, 1], atol=PICOMETRE)
    np.testing.assert_allclose(side, [-1, 0, 0], atol=PICOMETRE)
    np.testing.assert_allclose(directions(hall, "roll_2 far")[0], [10.4, 0.6 - 0.1, 1.25], atol=PICOMETRE)  # 100 mm


def test_ends_of_rolls_at_another_clock_and_margin() -> None:
    """Right-handed about the axis: about +y, up turns to +x."""
    layout = read_layout(
        "hall.yaml", changed(("ends of: [roll_1, roll_2]", "ends of: roll_1, margin: 0 mm, clock: 90 deg"))
    )
    assert layout.groups["rolls"].stations == layout.groups["ends of roll_1"].stations == ("roll_1 near", "roll_1 far")
    foot, normal, _ = directions(layout, "roll_1 far")
    np.testing.assert_allclose(foot, [8.2, 1.6, 1.1], atol=PICOMETRE)
    np.testing.assert_allclose(normal, [1, 0, 0], atol=PICOMETRE)


def test_distances_along_the_face_of_a_roll(hall) -> None:
    foot, normal, side = directions(hall, "face2")
    np.testing.assert_allclose(foot, [8.2, -1.6 + 3.0, 1.1], atol=PICOMETRE)
    np.testing.assert_allclose(normal, [1, 0, 0], atol=PICOMETRE)
    np.testing.assert_allclose(side, np.cross([1, 0, 0], [0, 1, 0]), atol=PICOMETRE)


@pytest.mark.parametrize("axis", ["+y", "-x", "[1, 2, 0.5]", "[0.3, 0.1, -2]", "up", "down"])
def test_up_on_a_roll_is_the_nearest_to_the_sky(axis: str) -> None:
    layout = read_layout("hall.yaml", changed(("1.1 m], axis: +y}", f"1.1 m], axis: {axis}, turned: 33 deg}}")))
    pose = layout.surfaces["roll_1"].world_from_surface
    foot, normal, side = directions(layout, "roll_1 near")
    z = pose.rotation[:, 2]
    assert abs(normal @ z) < PICOMETRE
    assert np.linalg.norm(np.cross(foot - pose.origin, z)) == pytest.approx(0.2)
    np.testing.assert_allclose(side, np.cross(normal, z), atol=PICOMETRE)
    if axis in ("up", "down"):
        np.testing.assert_allclose(normal, pose.rotation[:, 0], atol=PICOMETRE)  # no way is up: its own x
    else:
        turns = np.linspace(0, 2 * np.pi, 3601)
        around = np.cos(turns)[:, None] * normal + np.sin(turns)[:, None] * np.cross(z, normal)
        assert around[:, 2].max() <= normal[2] + PICOMETRE


def test_rings_in_a_bore_stand_on_its_axis(hall) -> None:
    names = hall.groups["rings"].stations
    assert (names[0], names[-1], len(names)) == ("rings1", "rings13", 13)
    foot, normal, side = directions(hall, "rings3")
    np.testing.assert_allclose(foot, [1.0, -5, 1.2], atol=PICOMETRE)
    np.testing.assert_allclose(normal, [0, 0, 1], atol=PICOMETRE)
    np.testing.assert_allclose(side, [0, 1, 0], atol=PICOMETRE)
    assert hall.stations["rings3"].clocks == pytest.approx(np.deg2rad([0, 90, 180, 270]))


def test_one_ring_in_the_middle_of_each_section(hall) -> None:
    assert [hall.stations[f"bearing{i}"].at[2] for i in (1, 2, 3)] == pytest.approx([0.05, 1.1, 1.25])
    assert hall.stations["bearing1"].clocks == ()
    np.testing.assert_allclose(directions(hall, "bearing2")[0], [0, -7 - 1.1, 1.2], atol=PICOMETRE)


def test_no_ring_hangs_in_a_gap() -> None:
    layout = with_group(f"{{in: bearings, every: 100 mm, names: N, {POST}}}")
    at = [layout.stations[name].at[2] for name in layout.groups["new"].stations]
    assert at == pytest.approx([0.0, 0.1, 1.0, 1.1, 1.2, 1.3])
    layout = with_group(f"{{in: bearings, at: [20 mm, 1.25 m], clock: 90 deg, {POST}}}")
    assert layout.stations["new2"].at[2] == 1.25
    assert layout.stations["new2"].clocks == pytest.approx((np.pi / 2,))


def test_positions_make_stations_of_their_own(hall) -> None:
    names = hall.groups["under"].stations
    assert len(names) == 18
    assert names[:7] == ("SA1@low", "SA2@low", "SB1@low", "SB2@low", "SC1@low", "SC2@low", "SA1@mid")
    grid = hall.groups["under@top"]
    assert (grid.stations[0], len(grid.stations), grid.rows, grid.columns) == ("SA1@top", 6, 3, 2)
    assert (hall.groups["under"].rows, hall.groups["under"].columns) == (0, 0)
    for position, z in (("low", 1.1), ("mid", 1.4), ("top", 1.7)):
        foot, normal, side = directions(hall, f"SA1@{position}")
        np.testing.assert_allclose(foot, [-1.2, 0.65, z], atol=PICOMETRE)
        np.testing.assert_allclose(normal, [0, 0, -1], atol=PICOMETRE)
        np.testing.assert_allclose(side, [0, -1, 0], atol=PICOMETRE)
        assert (hall.stations[f"SA1@{position}"].position, hall.stations[f"SA1@{position}"].carried_by) == (
            position, "slide",
        )  # fmt: skip


def test_without_positions_a_group_is_read_as_drawn(hall) -> None:
    station = hall.stations["Q"]
    assert (station.carried_by, station.position) == ("slide", "mid")
    np.testing.assert_allclose(directions(hall, "Q")[0], [0.1, -0.2, 1.4], atol=PICOMETRE)
    assert hall.stations["UA1"].position == "closed"
    assert (hall.stations["A1"].carried_by, hall.stations["A1"].position) == ("", "")


def test_many_stations_at_once_are_those_taken_one_by_one(hall) -> None:
    names = tuple(hall.stations)
    foot, normal, rise = station_places(hall, names)
    side = station_sides(hall, names)
    for i, name in enumerate(names):
        station = hall.stations[name]
        pose = pose_of(hall, station.surface, {station.carried_by: station.position})
        np.testing.assert_array_equal(foot[i], pose.points(station.at))
        np.testing.assert_array_equal(normal[i], pose.directions(station.normal))
        assert rise[i] == station.mount.height + hall.targets["t1"].centre_height
        assert abs(side[i] @ normal[i]) < PICOMETRE
        assert np.linalg.norm(side[i]) == pytest.approx(1.0)


@pytest.mark.parametrize(
    ("item", "names"),
    [
        ("SA1@low", ["SA1@low"]),
        ("SA1@low..SA2@low", ["SA1@low", "SA2@low"]),
        ("SA2..SA1@top", ["SA2@top", "SA1@top"]),
        ("under@mid", ["SA1@mid", "SA2@mid", "SB1@mid", "SB2@mid", "SC1@mid", "SC2@mid"]),
        ("on ram", ["Q"]),
        ("on press upper", ["UA1", "UA2", "UB1", "UB2"]),
        ("ends of roll_1", ["roll_1 near", "roll_1 far"]),
        ("a2-4..a2-3", ["a2-4", "a2-3"]),
    ],
)
def test_items_of_reads(item: str, names: list[str]) -> None:
    layout = read_layout("hall.yaml", changed(("reads: [grid]", f"reads: [grid, {item}]")))
    assert list(layout.setups["plane"].reads[35:]) == names


def test_all_on_a_surface_or_those_at_one_position() -> None:
    for item, count in (("on slide", 18), ("on slide@top", 6), ("on roll_1", 4)):
        layout = read_layout("hall.yaml", changed(("reads: [grid]", f"reads: [grid, {item}]")))
        assert len(layout.setups["plane"].reads) == 35 + count


def test_a_line_runs_along_itself() -> None:
    layout = with_group(f"{{on: bed, line: {{from: [-1 m, 0 m], to: [1 m, 0.5 m], count: 5}}, names: N, {POST}}}")
    along = layout.stations["N2"].along
    np.testing.assert_allclose(along, np.array([2, 0.5, 0]) / np.hypot(2, 0.5), atol=PICOMETRE)


def test_a_line_across_a_rail() -> None:
    layout = with_group(f"{{on: rail_a, line: {{from: [1 m, -30 mm], to: [1 m, 30 mm], count: 3}}, names: N, {POST}}}")
    np.testing.assert_allclose(directions(layout, "N3")[0], [20 - 0.03, 1, 0.2], atol=PICOMETRE)


# entry of a new group, text in it at which the problem stands, message, advice
WRONG = [
    ("{on: bed, every: 1 m, POST}", "every", "stations every so far need a rail or a roll; 'bed' is a plate", "grid"),
    ("{on: bed, count: 4, POST}", "count", "a number of stations needs a rail or a roll", "grid or line or at"),
    ("{on: bed, at: [1 m], POST}", "[1 m]", "distances need a rail, roll or bore; 'bed' is a plate", "P1"),
    ("{on: roll_1, at: {P: [1 m, 0 m]}, POST}", "{P", "places on a roll are distances", "at: [0.2 m"),
    ("{on: roll_1, grid: 2 x 2, margin: 1 mm, POST}", "grid", "a grid needs a plate; 'roll_1' is a roll", "every or"),
    ("{on: roll_1, line: {from: [0 m, 0 m], to: [1 m, 0 m], count: 2}, POST}", "line", "a line needs a flat", "every"),
    ("{on: rail_a, circle: {radius: 1 m, count: 4}, POST}", "circle", "needs a face; 'rail_a' is a rail", "every"),
    ("{on: barrel, every: 1 m, POST}", "barrel", "'barrel' is a bore; stations are in it", "write in: barrel"),
    ("{in: bed, every: 1 m, POST}", "bed", "'bed' is no bore", "write on: bed"),
    ("{in: barrel, on: bed, every: 1 m, POST}", "on", "cannot be 'in' and 'on' at the same time", "keep one"),
    ("{in: barrel, every: 1 m, count: 3, POST}", "count", "given by 'every' and 'count' at the same time", "keep one"),
    ("{in: barrel, every: 7 m, POST}", "7 m", "cannot be divided every 7000 mm", "two to"),
    ("{in: barrel, every: 1 um, POST}", "1 um", "cannot be divided every 0.001 mm", "two to"),
    ("{in: barrel, at: [7 m], POST}", "7 m", "7000 mm is beyond the end of 'barrel', at 6000 mm", "correct"),
    ("{in: bearings, at: [20 mm, 0.5 m], POST}", "0.5 m", "500 mm is not inside a section of 'bearings'", "correct"),
    ("{in: barrel, margin: 1 m, POST}", "margin", "a margin belongs to every or count", "remove"),
    ("{in: barrel, at: [1 m], margin: 1 m, POST}", "margin", "a margin belongs to every or count", "remove"),
    ("{in: barrel, count: 3, margin: 3 m, POST}", "3 m", "these margins leave nothing of 'barrel'", ""),
    ("{in: barrel, clock: [], POST}", "[]", "one clock position or a list of them is expected", "90 deg"),
    ("{in: barrel, clock: 90, POST}", "90", "the number 90 has no unit", "with its unit"),
    ("{inn: barrel, every: 1 m, POST}", "inn", "a group of stations in a bore has no key 'inn'", "did you mean in?"),
    ("{on: bed, grid: 2 x 2, margin: 1 mm, clock: 0 deg, POST}", "clock", "a clock position needs a roll", "remove"),
    ("{ends of: bed, POST}", "bed", "'bed' is no roll", "rolls only"),
    ("{ends of: [roll_2, rol_1], POST}", "rol_1", "there is no machine surface 'rol_1'", "roll_1"),
    ("{ends of: roll_2, margin: 600 mm, POST}", "600 mm", "leaves nothing of the face of 1200 mm", "less than 600"),
    ("{ends off: [roll_2], POST}", "ends off", "has no key 'ends off'", "did you mean ends of?"),
    ("{ends of: [roll_1], POST}", "roll_1", "station 'roll_1 near' of 'new' has the name of one", ""),
    ("{on: slide, at: {P: [0 m, 0 m]}, positions: [lw], POST}", "[lw]", "'slide' has no position 'lw'", "mean low?"),
    ("{on: slide, at: {P: [0 m, 0 m]}, positions: [low, low], POST}", "[low", "a position is named twice", "once"),
    ("{on: slide, at: {P: [0 m, 0 m]}, positions: {}, POST}", "{}", "a list of positions, or all, is expected", "low"),
    ("{on: bed, at: {P: [0 m, 0 m]}, positions: all, POST}", "positions", "'bed' does not move", "remove"),
    ("{on: bed, at: {P@low: [0 m, 0 m]}, POST}", "P@low", "'P@low' cannot be the name of a station", "@ stands"),
    ("{on: slide, at: {SA1: [0 m, 0 m]}, positions: low, POST}", "SA1", "station 'SA1@low' of ", "other names"),
]  # fmt: skip


@pytest.mark.parametrize(("entry", "at", "message", "advice"), WRONG, ids=[case[2][:40] for case in WRONG])
def test_a_wrong_group_is_told_once_at_its_place(entry, at, message, advice) -> None:
    text = changed(("  rim: {on", f"  new: {entry.replace('POST', POST)}\n  rim: {{on"))
    problems = problems_of(text)
    entry_at = text.index("  new: ") + len("  new: ")
    offset = text.index(at, entry_at + (0 if entry.startswith(at) else 1))
    if "ends of: [roll_1]" in entry or at == "SA1":
        offset = text.index(at, entry_at)
    line, column = text.count("\n", 0, offset) + 1, offset - (text.rfind("\n", 0, offset) + 1) + 1
    hits = [p for p in problems if message in p.message and advice in p.advice]
    assert hits, [str(p) for p in problems]
    assert (hits[0].line, hits[0].column) == (line, column)
    assert len({p.message.partition("'new'")[2] or p.message for p in problems}) == 1, [str(p) for p in problems]


def test_same_names_at_other_positions_do_not_clash() -> None:
    layout = with_group(
        f"{{on: slide, at: {{SA1: [0 m, 0 m]}}, positions: low, {POST}}}",
        ("names: S, positions: all", "names: S, positions: [top]"),
    )
    assert {"SA1@low", "SA1@top"} <= set(layout.stations)
