"""The tab of visits: its numbers are those of ``scenes.visits``, and its reactions keep panel and picture in step."""

import json
import logging
from dataclasses import replace

import numpy as np
import pytest
from typer.testing import CliRunner

from scenes.reductions.quantities.shown import scale_of
from scenes.visits.change import change
from scenes.visits.trend import trends
from scenes.visits.trended import Dated
from viewer.commands.main import app
from viewer.desk import plain
from viewer.logic.change_shown import MOVED, STILL, change_card, change_document
from viewer.logic.change_shown_drawn import change_drawn
from viewer.logic.result_values import bare
from viewer.logic.session import open_session
from viewer.logic.trends_shown import Courses, course_of
from viewer.logic.visits_shown import FORECAST, VisitChanges, from_choices, visit_pair
from viewer.logic.visits_shown_dates import dates_of
from viewer.reactions.visits_tab import ONE_VISIT, VisitsReactions
from viewer.scene3d_change import ChangePicture

from .conftest import ROOT
from .test_viewer_reactions import Page

TASK = "bed flatness"
DAYS = ("2024-03-10", "2025-04-02", "2026-03-14")
SLOW = 80.0
"""How much one station rises from one of these visits to the next [um]."""


@pytest.fixture(autouse=True)
def nothing_goes_wrong_unsaid(caplog):
    yield
    assert [record for record in caplog.get_records("call") if record.levelno >= logging.ERROR] == []


@pytest.fixture(scope="module")
def told(session):
    """The change from the first to the last visit of the example."""
    return change(session.own(TASK, "as found"), session.own(TASK, "as left"))


@pytest.fixture(scope="module")
def dated(tmp_path_factory):
    """Rails in the folder of their machine, with three dated visits; one place rises."""
    folder = tmp_path_factory.mktemp("rails")
    example = ROOT / "examples" / "transfer_rails"
    (folder / "layout.yaml").write_text((example / "layout.yaml").read_text(encoding="utf-8"), encoding="utf-8")
    (folder / "visits").mkdir()
    head, *rows = (example / "truth.csv").read_text(encoding="utf-8").splitlines()
    files = []
    for number, day in enumerate(DAYS):
        truth, file = folder / f"truth {number}.csv", folder / "visits" / f"{day}.csv"
        risen = [_risen(row, number * SLOW) for row in rows]
        truth.write_text("\n".join([head, *risen]) + "\n", encoding="utf-8")
        command = ["simulate", str(folder / "layout.yaml"), "--seed", str(number), "--visit", day,
                   "--truth", str(truth), "-o", str(file)]  # fmt: skip
        assert CliRunner().invoke(app, command).exit_code == 0
        truth.unlink()
        files.append(str(file))
    return open_session(str(folder / "layout.yaml"), files)


def _risen(row, by):
    station, up, *rest = row.split(",")
    return ",".join([station, str(float(up) + by) if station == "A6" else up, *rest])


# --- plain data


def test_rows_of_stations_are_those_of_the_change(session, told):
    (part,) = told.deviations
    document = change_document(session.layout, (told,), 0)
    scale = scale_of(part.kind, None, session.layout.units)
    assert [row["name"] for row in document["rows"]] == list(part.stations)
    for i, row in enumerate(document["rows"]):
        for key, values in (("before", part.before), ("after", part.after), ("change", part.change)):
            assert row[key] == bare(scale, float(values[i]), sign=True)
        assert row["u"] == bare(scale, part.coverage_factor * float(part.u[i]))
        assert row["moved"] == (abs(part.change[i]) > part.coverage_factor * part.u[i])
        assert row["shape"] == (MOVED if row["moved"] else STILL)["shape"]
    assert 0 < document["moved"] == int(part.moved.sum()) < len(part.stations)
    json.dumps(plain(document))


def test_the_value_is_told_with_its_own_uncertainty(session, told):
    (value,) = told.values
    (row,) = change_document(session.layout, (told,), 0)["values"]
    assert row["word"] == ("proven" if value.proven else "not proven")
    assert row["change"] == f"\u2212{abs(1e6 * value.change):.0f} µm"
    assert row["expanded"] == f"± {1e6 * value.expanded_uncertainty:.0f} µm"
    assert row["verdict"] == "Does not conform → conforms"


def test_the_test_that_nothing_moved_is_named(session, told):
    (part,) = told.deviations
    (row,) = change_document(session.layout, (told,), 0)["sets"]
    assert "nothing moved" in row["test"]
    assert f"{part.test.chi_square:.1f} with {part.test.rank} independent changes" in row["test"]
    assert ("not rejected" in row["test"]) != part.test.rejected


def test_of_many_sets_only_those_that_changed_are_told_at_the_top(session, told):
    (part,) = told.deviations
    calm = replace(part, of="quiet", test=replace(part.test, probability=0.5))
    parts = (*(replace(part, of=name) for name in ("roll_1", "roll_2")), calm)
    assert not calm.test.rejected
    head = change_document(session.layout, (replace(told, deviations=parts),), 0)["head"]
    assert head["sentence"] == "2 of 3 changed: roll_1, roll_2. Nothing is proven of the others."
    head = change_document(session.layout, (replace(told, deviations=(calm, calm, calm)),), 0)["head"]
    assert head["sentence"] == "None of 3 is proven to have changed."


def test_shared_sources_are_told_with_what_is_left(session, told):
    shared = change_document(session.layout, (told,), 0)["shared"]
    (value,) = told.values
    assert [row["name"] for row in shared["rows"]] == [each.name for each in value.shared]
    for row, each in zip(shared["rows"], value.shared, strict=True):
        assert float(row["left"]) == pytest.approx(1e6 * each.left, abs=0.051)


def test_the_card_tells_one_station(session, told):
    (part,) = told.deviations
    card = change_card(session.layout, (told,), part.stations[3])
    assert card["name"] == part.stations[3]
    assert len(card["facts"]) == 1
    assert change_card(session.layout, (told,), "nowhere") is None


def test_visits_that_a_task_does_not_have_become_those_that_it_has(session):
    assert visit_pair(session, TASK, "", "") == ("as found", "as left")
    assert visit_pair(session, TASK, "as left", "as left") == ("as found", "as left")
    assert visit_pair(session, TASK, "as left", "as found") == ("as left", "as found")
    assert FORECAST + "as found" in [each["value"] for each in from_choices(session, TASK)]


def test_what_was_predicted_may_stand_in_place_of_the_first_visit(session):
    (found,) = VisitChanges(session).of(TASK, FORECAST + "as found", "as left")
    assert found.expected
    head = change_document(session.layout, (found,), 0)["head"]
    assert head["word"] in ("The forecast came true", "It did not come out as forecast")
    assert (head["shape"] == MOVED["shape"]) == found.deviations[0].test.rejected


def test_a_visit_that_is_not_there_is_told_in_words(session):
    assert isinstance(VisitChanges(session).of(TASK, "as found", "never"), str)


def test_tips_are_drawn_to_scale_and_full_where_they_moved(session, told):
    (part,) = told.deviations
    drawn = change_drawn(session.layout, (told,))
    reach = drawn.tips(1000.0) - drawn.zero(1000.0)
    np.testing.assert_allclose(reach, 1000.0 * part.change[:, None] * part.directions, atol=1e-12)
    np.testing.assert_array_equal(drawn.moved, part.moved)
    assert np.all(drawn.tips(1000.0)[:, 2] > part.places[:, 2])  # clear of the machine


# --- courses


def test_dates_come_from_the_folder_of_the_machine(dated, session):
    assert [str(each.date) for each in dates_of(dated).values()] == list(DAYS)
    assert dates_of(session) == {}


def test_a_station_that_rises_has_the_trend_of_the_library(dated):
    task = "a height"
    visits = [Dated(each.date, dated.own(task, visit)) for visit, each in dates_of(dated).items()]
    wanted = next(each for each in trends(visits) if each.station == "A6")
    course = course_of(Courses(dated), task, "A6", 0)
    assert wanted.proven
    assert course["trend"]["word"] == "Trend proven"
    assert course["trend"]["lines"][0].startswith(f"{1e6 * wanted.slope:+.3g} ± ")
    assert [dot["visit"] for dot in course["dots"]] == list(DAYS)
    k = dated.layout.tasks[task].coverage_factor
    for dot, value, u in zip(course["dots"], wanted.values, wanted.u, strict=True):
        per = (course["dots"][0]["y"] - course["dots"][-1]["y"]) / (wanted.values[-1] - wanted.values[0])
        assert dot["low"] - dot["high"] == pytest.approx(2.0 * k * u * per, abs=0.3)
        assert course["zero"] - dot["y"] == pytest.approx(value * per, abs=0.3)
    assert course["line"]


def test_a_value_has_its_course_with_its_limit(dated):
    course = course_of(Courses(dated), "a height", "", 0)
    own = [dated.own("a height", day).components[0] for day in DAYS]
    assert [dot["title"].split(": ")[1].split(" ")[0] for dot in course["dots"]] == [
        f"{1e6 * each.value:.1f}" for each in own
    ]
    assert len(course["limits"]) == 1


def test_visits_without_dates_have_points_and_no_line(session):
    course = course_of(Courses(session), TASK, "", 0)
    assert [dot["visit"] for dot in course["dots"]] == ["as found", "as left"]
    assert course["line"] == course["band"] == ""
    assert "date" in course["trend"]["lines"][0]
    assert course["apart"] == ""  # the value needs no datum


def test_a_station_over_visits_without_dates_is_told_to_have_no_common_datum(session, dated):
    course = course_of(Courses(session), TASK, "C4", 0)
    assert [dot["visit"] for dot in course["dots"]] == ["as found", "as left"]
    assert course["apart"].startswith("No common datum: each visit counts from its own reference")
    assert course_of(Courses(dated), "a height", "A6", 0)["apart"] == ""


# --- reactions


class VisitsPage(Page):
    """The page with the tab of visits open."""

    def __init__(self, session):
        super().__init__(session)
        self.visits = VisitsReactions(self.desk, ChangePicture(self.scene))
        self.looked = 0
        self.visits.look = self._looked
        self.state.tab = "visits"
        self.visits.refresh()

    def _looked(self):
        self.looked += 1


@pytest.fixture
def opened(session):
    return VisitsPage(session)


def test_the_tab_opens_with_the_first_and_the_last_visit(opened, told):
    state = opened.state
    assert (state.change_from, state.change_to) == ("as found", "as left")
    assert state.changed["head"]["word"] == "It changed its shape"
    assert state.change_word == ""
    assert opened.looked == 1
    full, hollow = opened.scene.mesh("change full"), opened.scene.mesh("change hollow")
    (part,) = told.deviations
    assert sorted(set(full["station"])) == np.flatnonzero(part.moved).tolist()
    assert sorted(set(hollow["station"])) == np.flatnonzero(~part.moved).tolist()
    assert state.legend["slider"] == "change_zoom_log"


def test_other_visits_turn_the_change_round(opened):
    before = [row["change"] for row in opened.state.changed["rows"]]
    opened.set(change_to="as found", change_from="as left")
    after = [row["change"] for row in opened.state.changed["rows"]]
    assert after != before
    assert [float(each.replace("\u2212", "-")) for each in after] == [
        -float(each.replace("\u2212", "-")) for each in before
    ]


def test_a_station_has_a_card_a_mark_and_a_course(opened):
    opened.set(station="A7")
    assert opened.state.change_card["name"] == "A7"
    assert opened.state.course["name"].startswith("A7")
    assert opened.scene.mesh("change chosen") is not None
    opened.set(station="")
    assert opened.state.change_card is None
    assert opened.scene.mesh("change chosen") is None


def test_exaggeration_moves_the_tips(opened):
    _, before = opened.visits.points()
    factor = opened.visits.factor
    opened.set(change_zoom_log=opened.state.change_zoom_log - 0.301)
    _, after = opened.visits.points()
    assert opened.visits.factor < factor
    assert np.ptp(after[:, 2]) < np.ptp(before[:, 2])


def test_bars_of_uncertainty_are_a_group_of_their_own(opened):
    assert not opened.scene.is_shown("change bars")
    opened.set(change_bars=True)
    assert opened.scene.is_shown("change bars")
    assert opened.scene.names("change bars")


def test_one_visit_is_told(one_visit):
    page = VisitsPage(one_visit)
    assert page.state.changed is None
    assert page.state.change_word == ONE_VISIT


def test_nothing_is_worked_out_while_another_tab_is_open(session):
    page = VisitsPage(session)
    page.set(tab="result")
    known = page.state.changed
    page.set(change_from="as left", change_to="as found")
    assert page.state.changed is known


def test_another_exaggeration_draws_what_a_fresh_picture_would(opened, session):
    """Only meshes are exchanged then, letters and the spanned surface are kept."""
    opened.set(station="A7")
    zoom = opened.state.change_zoom_log + 0.2
    opened.set(change_zoom_log=zoom)
    fresh = VisitsPage(session)
    fresh.set(station="A7", change_zoom_log=zoom)
    fresh.visits._picture.clear()
    fresh.visits._draw()
    names = {name for group in ("change", "change bars", "change names") for name in opened.scene.names(group)}
    assert names == {name for group in ("change", "change bars", "change names") for name in fresh.scene.names(group)}
    assert {"change 0 sheet", "change rods", "change chosen"} <= names
    for name in names:
        mine, theirs = (np.asarray(page.scene.mesh(name).points) for page in (opened, fresh))
        np.testing.assert_allclose(mine, theirs, atol=1e-5, err_msg=name)
    opened.set(station="")
    assert "change chosen" not in opened.scene.parts
