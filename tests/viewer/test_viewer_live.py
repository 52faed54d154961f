"""Readings while they are taken, in the viewer: what is told as plain data, the source, and the reactions of a page."""

import asyncio
import itertools
import json
import socket
import sys
import threading
import time

import numpy as np
import pytest
from trame.app import get_server

from scenes.errors import InputError
from scenes.layout.read import read_layout
from scenes.live.reader import LiveReadings
from scenes.live.watch import watch
from scenes.meshes.cameras import Camera
from viewer.colours import LIGHT
from viewer.commands.main import run
from viewer.desk import Desk
from viewer.logic import live_table
from viewer.logic.live import SKIPPED_SHOWN, live_document, skipped_document
from viewer.logic.live_source import LiveSource
from viewer.logic.live_table import is_wide
from viewer.reactions.lesson import LessonReactions
from viewer.reactions.live import LiveReactions
from viewer.reactions.picture import PictureReactions
from viewer.reactions.plan import PlanReactions
from viewer.scene3d_live import FEW_CORNERS, WORDS_SHOWN, LivePicture, next_beam
from viewer.scene3d_plan import PlanPicture
from viewer.visits import MOST_WAITING, Visit, Visits

from .conftest import BED, LAYOUT, ROOT

COUNT = itertools.count()
FOUND = BED / "readings" / "as_found.csv"
SECONDS = 20.0


@pytest.fixture(scope="module")
def bed():
    return read_layout(LAYOUT)


def document(layout, text):
    """What the page shows after the readings ``text``."""
    live = LiveReadings(layout)
    problems = [each for each in live.take(text) if hasattr(each, "message")]
    seen = watch(layout, live.readings)
    return live_document(layout, seen, source="a test", skipped=skipped_document(len(problems), problems))


def lines(count):
    """Headers and so many records of the example."""
    return "".join(FOUND.read_text(encoding="utf-8").splitlines(keepends=True)[: count + 1])


def marks(shown):
    return {each["station"]: each["state"] for each in shown["marks"]}


# --- plain data


def test_before_the_first_reading_the_page_names_the_first_station(bed):
    shown = document(bed, "")
    assert (shown["next"]["station"], shown["next"]["words"]) == ("A1", "Set-up plane, emitter as set up")
    assert shown["last"] is None
    assert shown["progress"] == {"records": 0, "planned": 37, "done": 0, "missing": 37, "percent": 0}
    assert marks(shown)["A1"] == "next"
    assert set(marks(shown).values()) == {"next", "missing"}
    json.dumps(shown, allow_nan=False)


def test_each_reading_moves_the_next_station_and_marks_its_own(bed):
    shown = document(bed, lines(3))
    assert shown["next"]["station"] == "A4"
    assert shown["last"]["station"] == "A3"
    assert shown["last"]["values"] == "v +357.8 µm"
    assert marks(shown) | {"A1": "read", "A2": "read", "A3": "read", "A4": "next", "A5": "missing"} == marks(shown)
    assert next(each["value"] for each in shown["marks"] if each["station"] == "A2") == "+378.0"
    assert [each["name"] for each in shown["rows"][:4]] == ["A4", "A3", "A2", "A1"]  # what is next, then the latest
    assert shown["rows"][3]["word"] == "1 of 2 looks"  # the first station is read again at the end
    assert shown["missing"][0]["setup"] == "plane"
    assert shown["missing"][0]["count"] == shown["progress"]["missing"] == 34


def test_repeats_get_mean_scatter_with_its_source_and_drift(bed):
    shown = document(bed, FOUND.read_text(encoding="utf-8"))
    assert shown["next"] is None
    row = next(each for each in shown["rows"] if each["name"] == "A1")
    values = [float(line.split(",")[5]) for line in lines(40).splitlines()[1:] if ",A1," in line]
    assert row["n"] == len(values) == 2
    assert float(row["mean"]) == pytest.approx(np.mean(values), abs=0.051)
    assert float(row["scatter"]) == pytest.approx(np.std(values, ddof=1), abs=0.051)
    assert row["expected"].endswith("expected, bearing of the base")
    assert row["drift_u"].startswith("u ")
    assert shown["drifts"][0]["place"] == "Set-up plane"
    assert "per hour, u " in shown["drifts"][0]["words"]


def test_a_reading_that_does_not_agree_is_marked_until_it_is_read_again(bed):
    text = lines(3) + "as found,plane,A3,t1,855.5,500.0,150\n"
    shown = document(bed, text)
    assert marks(shown)["A3"] == "off"
    trouble = shown["troubles"][0]
    assert (trouble["title"], trouble["station"], trouble["advice"]) == ("Does not agree", "A3", "Read it again.")
    assert "+142.2 µm" in trouble["message"]
    assert shown["last"]["word"] == "does not agree with earlier readings"
    again = document(bed, text + "as found,plane,A3,t1,855.5,358.1,170\n")
    assert marks(again)["A3"] == "read"
    assert again["troubles"][0]["title"] == "Did not agree"


def test_a_spot_near_the_edge_is_told(bed):
    shown = document(bed, lines(3).replace(",357.8,", ",9400,"))
    assert shown["troubles"][0]["title"] in ("Near the edge", "Beam is cut")
    assert shown["troubles"][0]["station"] == "A3"


def test_the_sign_is_that_of_the_readings(change_layout):
    other = read_layout(change_layout(("layout: 1\n", "layout: 1\nreadings: {signs: {v: target up}}\n")))
    shown = document(other, lines(3))
    assert shown["last"]["values"] == "v +357.8 µm"
    assert next(each["value"] for each in shown["marks"] if each["station"] == "A2") == "+378.0"


def test_sides_and_clocks_are_told_in_words():
    lathe = ROOT / "examples" / "lathe"
    layout = read_layout(str(lathe / "layout.yaml"))
    text = next((lathe / "readings").glob("*.csv")).read_text(encoding="utf-8").splitlines(keepends=True)
    said, asked = set(), set()
    for count in range(0, len(text), 4):
        shown = document(layout, "".join(text[: count + 1]))
        if shown["next"] is not None:
            asked.add(shown["next"]["clock"])
            said.add(shown["next"]["words"].rpartition(", ")[2])
    assert said == {"emitter as set up", "emitter reversed"}
    assert {"0°", "180°"} <= asked


def test_skipped_records_stand_with_their_reason_the_latest_on_top(bed):
    bad = "as found,plane,A99,t1,1,1,200\nas found,plane,A4,t1,1,much,300\n"
    shown = document(bed, lines(3) + bad)["skipped"]
    assert shown["count"] == 2
    assert "much" in shown["list"][0]["message"]
    assert "A99" in shown["list"][1]["message"]
    assert "line 5" in shown["list"][1]["where"]
    live = LiveReadings(bed)
    many = [each for each in live.take(lines(1) + "as found,plane,A99,t1,1,1,9\n" * 40) if hasattr(each, "message")]
    cut = skipped_document(len(many), many[-SKIPPED_SHOWN:])
    assert (cut["count"], len(cut["list"]), cut["note"]) == (40, SKIPPED_SHOWN, "and 10 before these")


def test_wide_scatter_is_called_so_at_its_rate():
    """One in a hundred of normal repeats with exactly the expected scatter, and most of those with three times it."""
    generator = np.random.default_rng(5)

    def share(size):
        draws = np.std(generator.normal(0.0, size, (4000, 5)), axis=1, ddof=1)
        watched = type("Watched", (), {"n": 5, "expected": 1.0})
        found = []
        for each in draws:
            watched.scatter = each
            found.append(is_wide(watched))
        return np.mean(found)

    assert share(1.0) == pytest.approx(live_table.SHARE, abs=0.006)
    assert share(3.0) > 0.75


def test_long_lists_are_cut_and_say_so(bed, monkeypatch):
    monkeypatch.setattr(live_table, "ROWS_SHOWN", 5)
    shown = document(bed, lines(8))
    assert [each["name"] for each in shown["rows"]] == ["B2", "B1", "A7", "A6", "A5"]
    assert shown["rows_note"].startswith("30 spots")
    assert len(shown["marks"]) == 35


# --- the source


class Heard:
    """Keeps what is told."""

    def __init__(self):
        self.all, self._new = [], threading.Condition()

    def __call__(self, news):
        with self._new:
            self.all.append(news)
            self._new.notify_all()

    def until(self, check):
        with self._new:
            assert self._new.wait_for(lambda: self.all and check(self.all[-1]), SECONDS), self.all[-1:]
            return self.all[-1]


def test_a_file_is_followed_and_a_half_written_record_is_skipped(tmp_path):
    file = tmp_path / "as_found.csv"
    file.write_text(lines(2), encoding="utf-8")
    heard = Heard()
    source = LiveSource(LAYOUT, follow_file=str(file))
    assert source.begin(heard) == f"Following {file}"
    try:
        heard.until(lambda news: news["progress"]["records"] == 2)
        with file.open("a", encoding="utf-8") as grown:
            grown.write("as found,plane,A3\n" + "as found,plane,A4,t1,-858.9,338.0,180.000\n")
        last = heard.until(lambda news: news["progress"]["records"] == 3)
        assert last["last"]["station"] == "A4"
        assert last["skipped"]["count"] == 1
    finally:
        source.close()


def test_senders_are_taken_and_the_journal_goes_on_after_a_break(tmp_path):
    journal = str(tmp_path / "kept.csv")
    for number, station in enumerate(("A1", "A2"), start=1):
        heard, source = Heard(), LiveSource(LAYOUT, port=0, journal=journal)
        port = int(source.begin(heard).rpartition(" ")[2])
        try:
            with socket.create_connection(("127.0.0.1", port)) as connection:
                record = {"station": station, "v": {"value": 12.5, "unit": "um"}, "h": {"value": 1, "unit": "um"}}
                connection.sendall(json.dumps(record).encode() + b"\n")
                shown = heard.until(lambda news, n=number: news["progress"]["records"] == n)
            assert shown["last"]["station"] == station
        finally:
            source.close()


def test_many_records_are_told_few_times_and_the_last_one_always(tmp_path):
    """300 records at once: a handful of documents, not one each, and the last one holds them all."""
    file = tmp_path / "long.csv"
    body = "".join(f"as found,plane,A{1 + k % 7},t1,1.0,{400 + k % 3}.0,{60 * k}\n" for k in range(300))
    file.write_text(lines(0), encoding="utf-8")
    heard, source = Heard(), LiveSource(LAYOUT, follow_file=str(file))
    source.begin(heard)
    try:
        heard.until(lambda _: True)
        for start in range(0, len(body), 500):
            with file.open("a", encoding="utf-8") as grown:
                grown.write(body[start : start + 500])
            time.sleep(0.005)
        shown = heard.until(lambda news: news["progress"]["records"] == 300)
        assert shown["skipped"]["count"] == 0
        assert len(heard.all) < 30
    finally:
        source.close()


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ({}, "--follow FILE or --listen PORT"),
        ({"follow_file": "x.csv", "port": 0}, "--follow FILE or --listen PORT"),
        ({"follow_file": "-"}, "not followed"),
    ],
)
def test_exactly_one_source(arguments, words):
    with pytest.raises(InputError, match=words):
        LiveSource(LAYOUT, **arguments)


def test_a_journal_without_a_source_is_refused(capsys, monkeypatch):
    monkeypatch.setattr(sys, "argv", ["datumray", "view", LAYOUT, "--no-browser", "--journal", "x.csv"])
    with pytest.raises(SystemExit) as ended:
        run()
    assert ended.value.code == 2
    assert "live readings" in capsys.readouterr().err


# --- from the source to the pages


class SlowWriter:
    """A pipe whose other end takes nothing until it is told to."""

    def __init__(self):
        self.sent, self.waiting, self.transport = [], 0, self

    def get_write_buffer_size(self):
        return self.waiting

    def write(self, data):
        self.sent.append(data)


def test_a_page_that_does_not_keep_up_gets_the_latest_news_and_no_heap_of_them(monkeypatch):
    monkeypatch.setattr("viewer.visits.CATCH_UP_SECONDS", 0.01)

    async def go():
        visits, writer = Visits(lambda _: None, 1), SlowWriter()
        visits._open.add(Visit(None, None, writer))
        visits.tell({"number": 0})
        writer.waiting = 2 * MOST_WAITING
        for number in range(1, 50):
            visits.tell({"number": number})
        await asyncio.sleep(0.05)
        held = len(writer.sent)
        writer.waiting = 0
        await asyncio.sleep(0.05)
        return held, [json.loads(each[5:])["news"]["number"] for each in writer.sent]

    held, numbers = asyncio.run(go())
    assert held == 1
    assert numbers == [0, 49]


# --- the page


class SceneWithoutPicture:
    """Stands in for the scene: keeps what is put."""

    def __init__(self):
        self.theme, self.range, self.size = LIGHT, 1.0, (900, 600)
        self.parts, self.shown = {}, set()
        self.camera = Camera([-3.0, -4.0, 3.0], [0.0, 0.0, 1.0], [0.0, 0.0, 1.0])

    def put(self, group, parts, paint=""):
        for part in parts:
            self.parts.pop(part.name, None)
            if part.mesh.n_cells:
                self.parts[part.name] = (group, part.mesh.copy(), paint)

    def names(self, group):
        return {name for name, entry in self.parts.items() if entry[0] == group}

    def show(self, groups):
        self.shown = set(groups)

    def look(self, camera):
        self.camera = camera

    def remove(self, name):
        self.parts.pop(name, None)

    def clear(self, group):
        self.parts = {name: entry for name, entry in self.parts.items() if entry[0] != group}

    def mesh(self, name):
        return self.parts[name][1] if name in self.parts else None

    def is_shown(self, group):
        return group in self.shown

    def __getattr__(self, _name):
        return lambda *_, **__: None


class Page:
    """An app with the tab, on a server that never starts."""

    def __init__(self, session):
        self.server = get_server(f"live reactions {next(COUNT)}", client_type="vue3")
        self.scene = SceneWithoutPicture()
        self.desk = Desk(self.server, session, self.scene)
        self.state = self.server.state
        check = session.check
        plan = PlanReactions(self.desk, PlanPicture(self.scene, check))
        self.live = LiveReactions(self.desk, LivePicture(self.scene, check.layout, check.plan))
        self.picture = PictureReactions(self.desk, None, plan, LessonReactions(self.desk), {"live": self.live})
        self.desk.start()

    def set(self, **values):
        for name, value in values.items():
            self.state[name] = value
        for _ in range(3):
            self.desk.start()


@pytest.fixture
def opened(planned):
    return Page(planned)


def test_the_page_opens_with_the_tab(opened):
    assert opened.state.tab == "live"
    assert opened.state.tabs[0] == {"value": "live", "title": "Live"}
    assert {"machine", "live"} <= opened.scene.shown
    assert "beams" not in opened.scene.shown


def test_what_is_heard_stands_on_page_and_picture(opened, bed):
    opened.live.hear(document(bed, lines(3) + "as found,plane,A3,t1,855.5,500.0,150\n"))
    assert opened.state.live["next"]["station"] == "A4"
    assert "marks" not in opened.state.live  # those are for the picture alone
    drawn = opened.scene.names("live")
    assert {"live read", "live off", "live next", "live missing", "live words", "live beam"} <= drawn
    # states differ in shape, not in colour alone
    corners = {name: opened.scene.mesh(f"live {name}").n_cells for name in ("off", "next")}
    assert corners == {"off": 2, "next": 1}
    assert opened.scene.mesh("live read").n_cells == 24 * 2
    assert opened.scene.mesh("live missing").n_cells == 48 * 31


def test_marks_stand_at_their_station(opened, bed):
    opened.live.hear(document(bed, lines(3)))
    names, places = opened.live.points()
    here = places[names.index("A4")]
    middle = opened.scene.mesh("live next").points.mean(axis=0)
    eye = np.asarray(opened.scene.camera.position)
    off = np.cross(here - eye, middle - eye) / np.linalg.norm(here - eye)
    assert np.linalg.norm(off) < 0.1  # in the same direction from the eye, but for the height of the mark


def test_what_comes_while_another_tab_is_open_is_drawn_when_it_is_left(opened, bed):
    opened.live.hear(document(bed, lines(1)))
    opened.set(tab="plan")
    before = opened.scene.mesh("live read").n_points
    opened.live.hear(document(bed, lines(3)))
    assert opened.state.live["progress"]["records"] == 3
    assert opened.scene.mesh("live read").n_points == before
    opened.set(tab="live")
    assert opened.scene.mesh("live read").n_points == 3 * before
    assert opened.state.legend is None


def test_when_all_is_read_nothing_is_next(opened, bed):
    opened.live.hear(document(bed, lines(3)))
    opened.live.hear(document(bed, FOUND.read_text(encoding="utf-8")))
    assert opened.state.live["next"] is None
    assert "live next" not in opened.scene.names("live")
    assert "live beam" not in opened.scene.names("live")


def test_stations_that_the_page_does_not_know_are_passed_over(opened, bed):
    """The layout was changed, and the page loaded anew, while the source runs with the earlier one."""
    shown = document(bed, lines(3))
    shown["marks"].append({"station": "Z9", "state": "missing", "value": ""})
    opened.live.hear(shown)
    assert opened.state.live["next"]["station"] == "A4"
    assert opened.state.notice == ""


def test_what_cannot_be_worked_out_is_said(opened, bed):
    opened.live.hear({"failed": "The plane stands upright.", "source": "x", "skipped": {"count": 0, "list": []}})
    assert opened.state.live_failed == "The plane stands upright."
    opened.live.hear(document(bed, lines(1)))
    assert opened.state.live_failed == ""


def test_the_beam_is_that_of_the_look(planned):
    plan = planned.check.plan
    here = next_beam(plan, "plane", "A4", 0, 0.0)
    assert here is not None
    assert not np.allclose(here.center, next_beam(plan, "plane", "E1", 0, 0.0).center)
    assert next_beam(plan, "plane", "Z9", 0, 0.0) is None
    assert next_beam(plan, "plane", "A4", 1, 0.0) is None
    assert next_beam(None, "plane", "A4", 0, 0.0) is None


def test_of_very_many_stations_only_the_last_read_are_written(opened, planned):
    """Letters take far longer than marks: what is drawn for each record must not grow with the survey."""
    stations = list(planned.layout.stations)
    marks = [{"station": stations[k % len(stations)], "state": "read", "value": f"+{k}", "at": k} for k in range(2000)]
    marks.append({"station": stations[0], "state": "next", "value": "", "at": -1})
    opened.live._picture.draw(marks, None)
    letters = opened.live._picture._words
    assert len(letters.anchors) == WORDS_SHOWN
    last = [stations[k % len(stations)] for k in range(1999, 1999 - WORDS_SHOWN + 1, -1)]
    places = [opened.live._picture._place[name] for name in (stations[0], *last)]
    np.testing.assert_array_equal(letters.anchors, places)
    assert opened.scene.mesh("live read").n_cells == FEW_CORNERS * 2000
