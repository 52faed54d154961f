"""The chosen station: its detector's face, its readings, its budget, its findings, and its beam in the picture."""

import json

import numpy as np
import pytest

from scenes.checks.check import check_layout
from scenes.checks.detector_view import detector_view, rows_of_station
from scenes.layout.read import read_layout
from scenes.reductions.planned_tasks import planned_of
from scenes.reductions.prediction import predict
from scenes.tracing.sight import Sight
from viewer.desk import plain
from viewer.logic.budgets import budget_chart, reading_variances
from viewer.logic.detector_face import FACE_SIZE, face_document
from viewer.logic.findings import about_station, finding_rows, row_of_finding, severity_choices
from viewer.logic.plan import plan_document
from viewer.logic.plan_budget import PlanBudgets
from viewer.logic.session import open_session
from viewer.logic.station import station_document
from viewer.logic.station_budgets import station_budgets
from viewer.scene3d_chosen import beam_pieces, dashes

from .conftest import ROOT

MOVED = ("at: [0.15 m, -2.3 m, 0 m]", "at: [-2.3 m, 0.2 m, 0 m]")
EXAMPLES = sorted(path.parent.name for path in (ROOT / "examples").glob("*/layout.yaml"))
MICROMETRE = 1e-6


@pytest.fixture(scope="module")
def checked():
    """``checked(name)`` is the check of an example, worked out once."""
    kept = {}

    def of(name):
        if name not in kept:
            kept[name] = check_layout(read_layout(ROOT / "examples" / name / "layout.yaml"), np.random.default_rng(1))
        return kept[name]

    return of


def numbers(points):
    return np.array([pair.split(",") for pair in points.split()], dtype=float)


# --- the face


def test_the_face_is_drawn_to_scale(planned):
    plan = planned.check.plan
    view = detector_view(plan, 12)
    face = face_document(view, [], "mm")
    per_metre = face["window"]["width"] / view.window[0]
    assert face["window"]["height"] == pytest.approx(per_metre * view.window[1], abs=0.2)
    outline = numbers(face["spots"][0]["points"])
    assert np.ptp(outline[:, 0]) == pytest.approx(2.0 * per_metre * view.radius, rel=0.01)
    assert face["room"]["width"] == pytest.approx(2.0 * per_metre * view.usable[0], abs=0.2)
    middle = np.array([face["middle"]["x"], face["middle"]["y"]])
    spot = face["spots"][0]
    np.testing.assert_allclose(
        np.array([spot["x"], spot["y"]]) - middle, per_metre * view.spot * [1.0, -1.0], atol=0.11
    )  # up on the detector is up on the screen
    for x, y in [*outline, *[(each["x"], each["y"]) for each in face["margins"]]]:
        assert 0.0 <= x <= FACE_SIZE[0]
        assert 0.0 <= y <= FACE_SIZE[1]


def test_the_margins_stand_where_they_belong(change_layout):
    """Targets 2 mm higher: the spots stand 2 mm low, so less is left below."""
    check = open_session(change_layout(("mount: {post: 120 mm}", "mount: {post: 122 mm}"))).check
    view = detector_view(check.plan, 0)
    margins = {each["key"]: each for each in face_document(view, [], "mm")["margins"]}
    below, above = (float(margins[key]["text"].split()[0]) for key in ("below", "above"))
    assert above - below == pytest.approx(-2e3 * view.spot[1], abs=0.2)
    assert below == pytest.approx(1e3 * view.margin[2], abs=0.051)
    assert margins["below"]["y"] > margins["above"]["y"]
    assert margins["left"]["x"] < margins["right"]["x"]
    assert margins["below"]["kind"] == "dr-least"
    assert margins["left"]["kind"] == "dr-quiet"  # a swept plane says nothing sideways
    assert face_document(view, [], "mm")["free"]["axis"] == "h"


def test_a_blocked_spot_is_told_and_drawn_otherwise(change_layout):
    check = open_session(change_layout(MOVED)).check
    row = int(np.nonzero(check.plan.sight.sight == Sight.BLOCKED)[0][0])
    face = face_document(detector_view(check.plan, row), [], "mm")
    assert face["spots"][-1]["kind"] == "own dr-lost"
    assert any("blocked by column_a" in line for line in face["caption"])


# --- its readings


def test_all_readings_of_a_station_are_listed(planned):
    document = station_document(planned.check.plan, planned.layout, "A1", -1)
    assert [row["how"] for row in document["rows"]] == ["", "again"]
    assert document["row"] == document["rows"][0]["row"]
    again = station_document(planned.check.plan, planned.layout, "A1", document["rows"][1]["row"])
    assert again["row"] == document["rows"][1]["row"]
    assert station_document(planned.check.plan, planned.layout, "nowhere", 0) is None
    assert json.loads(json.dumps(plain(document))) == plain(document)


@pytest.mark.parametrize("name", EXAMPLES)
def test_every_example_can_be_looked_at(checked, name):
    """Lines, prisms, bores and spindles: every station has a face or a note, and every reading is told apart."""
    check = checked(name)
    document = plan_document(check)
    assert len(document["rows"]) > 0
    assert json.loads(json.dumps(plain(document))) == plain(document)
    for station in check.layout.stations:
        shown = station_document(check.plan, check.layout, station, -1)
        rows = rows_of_station(check.plan, station)
        assert len(shown["rows"]) == len(rows)
        assert (shown["face"] is None) == (len(rows) == 0)
        assert shown["note"] or len(rows)
        kinds = [(row["setup"], row["how"]) for row in shown["rows"] if "again" not in row["how"]]
        assert len(set(kinds)) == len(kinds)
        about_station(check, station)
    for finding in check.findings:
        row_of_finding(check.plan, finding)


def test_clock_positions_and_sides_have_names(checked):
    bore = checked("extruder_barrel")
    clocked = next(name for name, each in bore.layout.stations.items() if each.clocks)
    hows = [row["how"] for row in station_document(bore.plan, bore.layout, clocked, -1)["rows"]]
    assert any("target at 90°" in how for how in hows)
    slide = checked("press_slide")
    station = slide.layout.setups["upright x"].reads[0]
    assert any("reversed" in row["how"] for row in station_document(slide.plan, slide.layout, station, -1)["rows"])


# --- findings


def test_findings_and_stations_know_each_other(change_layout):
    check = open_session(change_layout(MOVED)).check
    rows, note = finding_rows(check)
    assert note == ""
    assert [each["number"] for each in rows] == list(range(len(check.findings)))
    station = check.findings[0].name
    assert about_station(check, station)["0"] == "this station"
    assert about_station(check, "") == {}
    assert "0" not in about_station(check, "C4")
    row = row_of_finding(check.plan, check.findings[0])
    assert check.plan.geometry.rows.stations[check.plan.geometry.rows.station[row]] == station
    assert check.plan.sight.sight[row] == Sight.BLOCKED
    (choice,) = [each for each in severity_choices(check) if each["value"] == "error"]
    assert choice["title"].endswith("errors")


# --- budgets


def test_the_budget_of_a_reading_adds_up(planned):
    parts = reading_variances(planned.layout, planned.check.plan.geometry)["v"]
    total = np.sqrt(sum(parts.values()))
    chart = budget_chart([(name, float(np.sqrt(part[5]))) for name, part in parts.items()], "um")
    assert chart["total"] == f"u = {1e6 * total[5]:.1f} µm"
    widths = [bar["width"] for bar in chart["bars"]]
    assert widths[0] == max(widths)
    names = [bar["name"] for bar in chart["bars"]]
    assert "height of the mount" in names
    assert chart["bars"][0]["words"].endswith("%")
    shares = [float(bar["words"].split("·")[1].strip(" %<")) for bar in chart["bars"]]
    assert sum(shares) == pytest.approx(100.0, abs=0.5 * len(shares))


def test_the_budget_of_a_deviation_is_that_of_the_reduction(planned):
    """What all readings share, such as the height of the mount, drops out."""
    budgets = PlanBudgets(planned.check)
    (task,) = budgets.tasks
    work = budgets.missing("station", "v", task, "C4")
    assert work is not None
    work()
    assert budgets.missing("station", "v", task, "C4") is None
    document = budgets.document("station", "v", task, "C4", 17)
    planned_task = planned_of(planned.layout, planned.layout.tasks[task])
    (stations,) = predict(planned_task, np.random.default_rng(1), 0, 100).stations
    u = stations.u[stations.stations.index("C4")]
    assert document["chart"]["total"] == f"u = {1e6 * u:.1f} µm"
    assert "height of the mount" not in [bar["name"] for bar in document["chart"]["bars"]]


@pytest.mark.parametrize("name", ["press_bed", "press_slide", "coating_rolls", "gantry_mill"])
def test_budgets_of_deviations_add_up_to_what_is_predicted(checked, name):
    """Two ways to the same number: the variances by source, and the uncertainty of each station of the prediction."""
    layout = checked(name).layout
    for task in layout.tasks.values():
        predicted = predict(planned_of(layout, task), np.random.default_rng(1), 0, 100)
        wanted = [u for each in predicted.stations for u in each.u]
        names = [station for each in predicted.stations for station in each.stations]
        found = station_budgets(layout, task)
        assert [each.station for each in found] == names
        sums = [np.sqrt(sum(u**2 for _, u in each.parts)) for each in found]
        np.testing.assert_allclose(sums, wanted, rtol=1e-6, atol=1e-12)


def test_what_cannot_be_told_is_not_offered(planned):
    budgets = PlanBudgets(planned.check)
    document = budgets.document("reading", "v", "", "", -1)
    assert {each["value"]: each["can"] for each in document["kinds"]} == {"reading": False, "station": False,
                                                                          "task": True}  # fmt: skip
    assert document["of"] == "task"
    assert budgets.document("reading", "h", "", "A1", 0)["axis"] == "v"  # h says nothing in a swept plane


@pytest.mark.parametrize("name", EXAMPLES)
def test_every_example_has_budgets(checked, name):
    check = checked(name)
    budgets, rows = PlanBudgets(check), check.plan.geometry.rows
    for row in {0, len(rows) - 1}:
        station = rows.stations[rows.station[row]]
        document = budgets.document("reading", "v", "", station, row)
        assert document["of"] == "reading"
        assert document["chart"]["bars"]
    for task in budgets.tasks:
        assert budgets.document("task", "v", task, "", -1)["task"] == task


# --- its beam in the picture


def test_a_blocked_beam_ends_at_the_obstacle_and_goes_on_as_dashes(change_layout):
    plan = open_session(change_layout(MOVED)).check.plan
    row = int(np.nonzero(plan.sight.sight == Sight.BLOCKED)[0][0])
    lit, dark = beam_pieces(plan, row)
    start, end = plan.geometry.beam_origins()[row], plan.spots.hit[row]
    assert np.linalg.norm(lit[-1, 1] - start) == pytest.approx(plan.sight.reach[row], rel=1e-9)
    np.testing.assert_allclose(dark[0, 0], lit[-1, 1])
    np.testing.assert_allclose(dark[-1, 1], end)
    made = dashes(dark[0, 0], dark[0, 1], 5)
    np.testing.assert_allclose(made[-1, 1], end)
    assert np.linalg.norm(made[:, 1] - made[:, 0], axis=1).sum() == pytest.approx(
        0.5 * np.linalg.norm(dark[0, 1] - dark[0, 0])
    )


def test_a_clear_beam_goes_through_its_prism(checked):
    plan = checked("press_slide").plan
    row = int(plan.geometry.noses.rows[0])
    lit, dark = beam_pieces(plan, row)
    assert len(dark) == 0
    assert len(lit) == 5  # to the glass, three ways in it, to the target
    np.testing.assert_allclose(lit[1:, 0], lit[:-1, 1])
