"""Tasks of every quantity: features, stations, limits; and what is said where they do not fit."""

from __future__ import annotations

import pytest

from scenes.errors import InputError
from scenes.layout.limits import upper_of
from scenes.model.survey import Limit

TASKS = {  # sheet, task -> quantity, of, to, surface, plane, reference
    ("press_slide", "bed flatness"): ("flatness", ("bed",), "", "bed", "", "minimum zone"),
    ("press_slide", "bed level"): ("levelness", ("bed",), "", "bed", "", "least squares"),
    ("press_slide", "bed twist"): ("twist", ("bed",), "", "bed", "", "least squares"),
    ("press_slide", "slide parallel"): ("parallelism", ("slide",), "bed", "slide", "", "least squares"),
    ("press_slide", "travel square"): ("squareness", ("slide travel",), "bed", "slide", "", "least squares"),
    ("rolls", "rolls"): ("parallelism", ("roll_1", "roll_2"), "base line", "roll_1", "in plane", "least squares"),
    ("gantry", "gantry"): ("squareness", ("gantry beam",), "rail_a", "gantry beam", "", "least squares"),
    ("bore", "axis"): ("straightness", ("barrel axis",), "", "barrel", "space", "minimum circumscribed cylinder"),
    ("bore", "place"): ("bore position", ("barrel",), "through the bore", "barrel", "space", "least squares"),
    ("bore", "spindle"): ("direction", ("spindle axis",), "bed ways", "spindle", "", "least squares"),
    ("rails", "a height"): ("straightness", ("rail_a",), "", "rail_a", "vertical", "minimum zone"),
    ("rails", "a side"): ("straightness", ("rail_a",), "", "rail_a", "horizontal", "end points"),
    ("rails", "gauge"): ("spacing", ("rail_a", "rail_b"), "", "rail_a", "", "least squares"),
    ("rails", "cross level"): ("cross level", ("rail_a", "rail_b"), "", "rail_a", "", "least squares"),
    ("rails", "twist"): ("twist", ("rail_a", "rail_b"), "", "rail_a", "", "least squares"),
    ("rails", "a profile"): ("slope", ("rail_a",), "", "rail_a", "", "end points"),
}


@pytest.mark.parametrize(("sheet", "task"), TASKS)
def test_quantity_features_and_datum(sheets, sheet: str, task: str) -> None:
    found = sheets[sheet].read().tasks[task]
    assert (found.quantity, found.of, found.to, found.surface, found.plane, found.reference) == TASKS[sheet, task]


def test_every_sheet_is_covered(sheets) -> None:
    assert {(name, task) for name, sheet in sheets.items() for task in sheet.read().tasks} == set(TASKS)


def test_stations_are_those_that_tell_of_the_features_and_of_the_datum(sheets) -> None:
    press = sheets["press_slide"].read()
    moved = tuple(f"P{i}@{position}" for position in ("low", "mid", "top") for i in (1, 2, 3))
    for task in ("slide parallel", "travel square"):
        stations = press.tasks[task].stations
        assert stations[:9] == moved
        assert stations[9:] == press.groups["grid"].stations
    assert sheets["rolls"].read().tasks["rolls"].stations == ("roll_1 near", "roll_1 far", "roll_2 near", "roll_2 far")
    bore = sheets["bore"].read()
    assert bore.tasks["axis"].stations == bore.groups["rings"].stations
    assert bore.tasks["spindle"].stations == ("W1", "W2", "W3")  # read from the spindle, then the rest of the ways
    named = sheets["rolls"].read(("channel: in plane", "from: [ends of roll_1, base line near, ends of roll_2]"))
    assert named.tasks["rolls"].stations[2] == "base line near"


def test_what_carries_a_travel_tells_of_it(sheets) -> None:
    die = "  die: {plate: {length: 1 m, width: 1 m, thickness: 0.2 m}, on: slide, at: [0 m, 0 m, 0.2 m]}\n"
    on_die = "  more: {on: die, at: {D1: [0 m, 0 m]}, positions: all, target: t1, mount: {magnet: 60 mm}}\n"
    layout = sheets["press_slide"].read(("\ndevices:", f"{die}\ndevices:"), ("\nsetups:", f"{on_die}\nsetups:"))
    assert {"D1@low", "D1@mid", "D1@top"} <= set(layout.tasks["travel square"].stations)
    assert "D1@low" not in layout.tasks["slide parallel"].stations


LIMITS = [  # sheet, old, new, component -> limit, that of the task
    ("press_slide", "60 um", "60 um", {"": Limit(60e-6)}, 60e-6),
    ("press_slide", "60 um", "2 thou", {"": Limit(50.8e-6)}, 50.8e-6),
    ("rails", "+-3 mm", "+-3 mm", {"": Limit(3e-3, -3e-3)}, 3e-3),
    ("rails", "+-3 mm", "± 3 mm", {"": Limit(3e-3, -3e-3)}, 3e-3),
    ("rails", "+-3 mm", "-1 mm .. 2 mm", {"": Limit(2e-3, -1e-3)}, 2e-3),
    ("rails", "+-3 mm", "'0..2,5 mm'", {"": Limit(2.5e-3, 0.0)}, 2.5e-3),
    ("rails", "+-3 mm", "-500 um..2 mm", {"": Limit(2e-3, -0.5e-3)}, 2e-3),
    ("rails", "+-3 mm", "3 mm", {"": Limit(3e-3)}, 3e-3),
    ("bore", "dia 0.4 mm", "dia 0.4 mm", {"": Limit(0.4e-3, diameter=True)}, 0.4e-3),
    ("bore", "dia 0.4 mm", "0.4 mm", {"": Limit(0.4e-3)}, 0.4e-3),
    ("rolls", "0.05 mm/m", "0.05 mm/m", {"": Limit(50e-6, angle=True)}, 50e-6),
    ("rolls", "0.05 mm/m", "10 arcsec", {"": Limit(48.4813681e-6, angle=True)}, 48.4813681e-6),
    ("rolls", "0.05 mm/m", "0.02 mm over 300 mm", {"": Limit(20e-6, over=0.3, angle=True)}, 20e-6 / 0.3),
    ("rolls", "0.05 mm/m", "0.1 mm", {"": Limit(0.1e-3)}, 0.1e-3),
    ("bore", "{up: 0..20 um over 300 mm, front: 0..15 um over 300 mm}", "{front: -5..5 um over 300 mm}",
     {"front": Limit(5e-6, -5e-6, 0.3, True)}, 5e-6 / 0.3),
    ("press_slide", "directions: [x, y], limit: 0.02 mm over 300 mm", "limit: {y: 20 um over 0.3 m, x: 1 arcmin}",
     {"y": Limit(20e-6, over=0.3, angle=True), "x": Limit(290.888209e-6, angle=True)}, 20e-6 / 0.3),
]  # fmt: skip


@pytest.mark.parametrize(("sheet", "old", "new", "limits", "first"), LIMITS)
def test_limits_in_all_their_forms(sheets, sheet: str, old: str, new: str, limits: dict, first: float) -> None:
    layout = sheets[sheet].read((old, new))
    (task,) = [
        each for each in layout.tasks.values()
        if each.line == sheets[sheet].changed((old, new)).split(new)[0].count("\n") + 1
    ]  # fmt: skip
    assert list(task.limits) == list(limits)
    for name, wanted in limits.items():
        found = task.limits[name]
        assert (found.upper, found.lower, found.over) == pytest.approx((wanted.upper, wanted.lower, wanted.over))
        assert (found.angle, found.diameter) == (wanted.angle, wanted.diameter)
    assert task.limit == pytest.approx(first)
    assert task.limit == upper_of(next(iter(task.limits.values())))


def test_one_limit_holds_for_all_directions(sheets) -> None:
    limits = sheets["press_slide"].read().tasks["travel square"].limits
    assert list(limits) == ["x", "y"]
    assert limits["x"] == limits["y"]


def test_local_waviness_and_nominal(sheets) -> None:
    rails = sheets["rails"].read()
    assert rails.tasks["a height"].local == pytest.approx((0.2e-3, 2.0))
    assert rails.tasks["a side"].local is None
    assert rails.tasks["gauge"].nominal == pytest.approx(4.0)
    assert sheets["press_slide"].read().tasks["bed flatness"].waviness == pytest.approx(0.8)


def test_a_bare_unit_holds_for_limits(sheets) -> None:
    layout = sheets["rails"].read(("machine:", "units: {bare: mm}\nmachine:"), ("limit: +-3 mm", "limit: +-3"))
    assert layout.tasks["gauge"].limits[""] == Limit(pytest.approx(3e-3), pytest.approx(-3e-3))


PROBLEMS = [  # sheet, old part, new part, text at which the problem stands, message, advice
    # what is asked
    ("bore", "straightness: barrel axis", "strightness: barrel axis", "strightness", "no key 'strightness'",
     "straightness"),
    ("bore", "straightness: barrel axis, ", "", "{reference", "does not say what is asked for",
     "flatness, straightness"),
    ("bore", "straightness: barrel axis", "straightness: barrel axis, coaxiality: barrel", "coaxiality", "same time",
     "one"),
    ("bore", "straightness: barrel axis", "straightness: barel axis", "barel axis",
     "no machine surface 'barel axis'", "barrel?"),
    ("bore", "straightness: barrel axis", "straightness: barrel beam", "barrel beam", "no machine surface", "barrel?"),
    ("bore", "direction: spindle axis", "direction: bed ways axis", "bed ways axis", "'bed ways' has no axis",
     "bed ways"),
    ("bore", "direction: spindle axis", "direction: [spindle, spindle]", "[spindle, s", "a surface is named twice",
     "once"),
    ("bore", "direction: spindle axis", "direction: []", "[]", "a machine surface or a list of them", ""),
    ("bore", "to: bed ways, ", "", "{direction", "a task needs the key 'to'", "to: bed"),
    ("bore", "to: through the bore", "to: trough the bore", "trough", "no machine surface or set-up 'trough the",
     "through"),
    ("bore", "to: through the bore", "to: barrel", "barrel, l", "'barrel' cannot be its own datum", "set-up"),
    ("rails", "spacing: [rail_a, rail_b]", "spacing: rail_a", "rail_a", "two machine surfaces are expected",
     "[rail_a, rail_b]"),
    ("rails", "nominal: 4 m, ", "", "{spacing", "a task needs the key 'nominal'", "nominal: 4 m"),
    ("rails", "plane: vertical", "plane: upright", "upright", "one of these is expected, not 'upright'", ""),
    ("rails", "plane: vertical", "channel: in plane", "channel", "a task has no key 'channel'", ""),
    ("rolls", "channel: in plane", "channel: in plane, plane: horizontal", "plane: hor", "both channel and plane",
     "keep one"),
    ("press_slide", "squareness: slide travel", "squareness: bed travel", "bed travel", "'bed' does not move", ""),
    ("press_slide", "directions: [x, y]", "directions: [z]", "z]", "one of these is expected, not 'z': x, y", ""),
    # limits
    ("press_slide", "limit: 60 um", "limit: 0.05 mm/m", "0.05", "'mm/m' is not a unit of length", "um"),
    ("press_slide", "limit: 60 um", "limit: 60 um over 1 m", "60 um o", "an angle, but the limit of a length", "60 um"),
    ("press_slide", "limit: 60 um", "limit: +-60 um", "+-60", "has a sign, but only the size counts", "60 um"),
    ("press_slide", "limit: 60 um", "limit: 0..60 um", "0..60", "has a sign, but only the size counts", "60 um"),
    ("press_slide", "limit: 60 um", "limit: dia 60 um", "dia", "the diameter of a round zone", "remove dia"),
    ("bore", "dia 0.4 mm", "dia 0.4", "dia 0.4", "the number 0.4 has no unit", "0.4 mm"),
    ("bore", "dia 0.4 mm", "dia 0 mm", "dia 0", "a length above zero is expected", ""),
    ("bore", "reference: minimum circumscribed cylinder, ", "plane: vertical, ", "vertical",
     "a round zone counts in space", "dia"),
    ("bore", "cylinder, limit: dia", "cylinder, plane: vertical, limit:", "vertical", "it has no vertical plane",
     "space"),
    ("bore", "0..20 um over 300 mm", "20..0 um over 300 mm", "20..0", "is not below the upper one", "exchange"),
    ("bore", "0..20 um over 300 mm", "0..20 um", "0..20 um", "is a length, but the limit of an angle",
     "0..20 um over 300 mm"),
    ("bore", "0..20 um over 300 mm", "0..20 um over 300", "0..20 um o", "the number 300 has no unit", "300 mm"),
    ("bore", "0..20 um over 300 mm", "5 arcsec over 300 mm", "5 arcsec", "'5 arcsec' is an angle by itself", "remove"),
    ("bore", "{up: 0..20", "{upp: 0..20", "{upp", "'upp' is no component of this limit", "up, front"),
    ("bore", "0..20 um over 300 mm", "0 arcsec..20 um", "0 arcsec", "are not of one kind", "0..20 um"),
    ("rails", "+-3 mm", "-3 mm", "-3 mm", "a length above zero is expected", ""),
    ("rails", "+-3 mm", "+-3 arcsec", "+-3", "'arcsec' is not a unit of length", "mm"),
    ("rails", "{limit: 0.2 mm, over: 2 m}", "{limit: 0.6 mm, over: 2 m}", "0.6", "the local limit is wider", "smaller"),
    ("rails", "{limit: 0.2 mm, over: 2 m}", "{limit: 0.2 mm}", "{limit", "a local limit needs the key 'over'",
     "over: 2 m"),
    ("rails", "{limit: 0.2 mm, over: 2 m}", "0.2 mm", "0.2 mm", "a local limit is a mapping with keys such as", ""),
    ("press_slide", "directions: [x, y], limit: 0.02 mm over 300 mm", "directions: [x], limit: {x: 1 arcsec}",
     "directions", "both directions and limit name", "remove"),
    # stations
    ("rails", "from: a, plane: vertical", "from: [A1, A2], plane: vertical", "[A1, A2]",
     "needs three stations or more", "add"),
    ("rails", "from: a, plane: vertical", "from: b, plane: vertical", "b, p",
     "'B1' is on 'rail_b', the task is about", "out"),
    ("rails", "slope: rail_a, from: steps", "slope: rail_a, from: a", "rail_a", "by 't3', which reads no angles",
     "two axes"),
    ("press_slide", "slide parallel: {parallelism: slide",
     "slide parallel: {parallelism: slide, from: [A1..A7, P1@low]",
     "[A1..A7", "parallelism needs two stations or more on 'slide', here is 1", "add"),
    ("press_slide", "squareness: slide travel", "squareness: slide travel, from: [grid, slide@low]", "[grid",
     "needs stations at two positions or more of 'slide', here is 1", "positions"),
    ("press_slide", "bed twist: {twist: bed", "bed twist: {twist: bed, from: A1..A3", "A1..A3",
     "twist needs four stations", ""),
    ("press_slide", "slide parallel: {parallelism: slide", "slide parallel: {parallelism: slide, from: [slide, A1, A2]",
     "[slide", "parallelism needs three stations or more on 'bed', here are 2", "add"),
]  # fmt: skip


@pytest.mark.parametrize(("sheet", "old", "new", "at", "message", "advice"), PROBLEMS)
def test_one_clear_message_at_its_place(sheets, sheet, old, new, at, message, advice) -> None:
    problem, place = sheets[sheet].one_problem(old, new, at)
    assert message in problem.message
    assert advice in problem.advice
    assert (problem.line, problem.column) == place


def test_a_problem_of_a_setup_is_not_told_again_by_its_task(sheets) -> None:
    problems = sheets["bore"].problems(("in: spindle, clock: [0 deg, 90 deg", "in: spindle, clock: [90 deg, 90 deg"))
    assert [problem.message for problem in problems] == ["two of these turns are the same"]


def test_taped_distances(sheets) -> None:
    """For every visit, or by visit; tapes start at stations of the first rail."""
    sheet = sheets["rails"]
    tasks = sheet.read().tasks
    gauge = next(task for task in tasks.values() if task.quantity == "spacing")
    first = next(name for name in gauge.stations if sheet.read().stations[name].surface == gauge.of[0])
    other = next(name for name in gauge.stations if sheet.read().stations[name].surface == gauge.of[1])
    line = next(line for line in sheet.changed().splitlines() if "spacing:" in line)

    def taped(said: str):
        return sheet.read((line, line.replace("spacing:", f"tape: {said}, tape known to: 0.2 mm, spacing:")))

    found = taped(f"{{{first}: 4.001 m}}").tasks[gauge.name]
    assert found.tape == {"": {first: 4.001}}
    assert found.tape_known_to == pytest.approx(0.2e-3)
    by_visit = taped(f"{{as found: {{{first}: 4.001 m}}, as left: {{{first}: 4 m}}}}").tasks[gauge.name].tape
    assert by_visit == {"as found": {first: 4.001}, "as left": {first: 4.0}}
    with pytest.raises(InputError, match="where tapes start"):
        taped(f"{{{other}: 4.001 m}}")
