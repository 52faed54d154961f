"""What happens when something is chosen: the whole app without a browser and without pictures."""

import asyncio
import itertools
import logging
import pickle
from pathlib import Path

import numpy as np
import pytest
from trame.app import get_server

from scenes.errors import GeometryError
from scenes.meshes.cameras import Camera
from viewer import app as app_module
from viewer import text
from viewer.app import App, make_app
from viewer.colours import LIGHT
from viewer.desk import Desk, plain
from viewer.graphics import require_graphics
from viewer.logic.picking import on_screen
from viewer.logic.session import DIFFERENCE, open_session
from viewer.reactions.lesson import LessonReactions
from viewer.reactions.picture import PictureReactions
from viewer.reactions.plan import PlanReactions
from viewer.reactions.result import ResultReactions
from viewer.scene3d_plan import PlanPicture
from viewer.scene3d_result import ResultPicture
from viewer.state import first_state

from .conftest import LAYOUT, READINGS, open_example

COUNT = itertools.count()


class SceneWithoutPicture:
    """Stands in for the scene: keeps what is put, and where one looks from."""

    def __init__(self):
        self.theme, self.range, self.size = LIGHT, 1.0, (900, 600)
        self.parts, self.shown, self.glass = {}, set(), []
        self.camera = Camera([-3.0, -4.0, 3.0], [0.0, 0.0, 1.0], [0.0, 0.0, 1.0])

    def put(self, group, parts, paint=""):
        for part in parts:
            self.remove(part.name)
            if part.mesh.n_cells:
                self.parts[part.name] = (group, part, paint)

    def remove(self, name):
        self.parts.pop(name, None)

    def clear(self, group):
        self.parts = {name: entry for name, entry in self.parts.items() if entry[0] != group}

    def names(self, group):
        return tuple(name for name, entry in self.parts.items() if entry[0] == group)

    def mesh(self, name):
        return self.parts[name][1].mesh if name in self.parts else None

    def show(self, groups):
        self.shown = set(groups)

    def is_shown(self, group):
        return group in self.shown

    def set_range(self, largest):
        self.range = largest

    def set_theme(self, theme):
        self.theme = theme

    def make_glass(self, name, _opacity):
        self.glass.append(name)

    def before_render(self, call):
        pass

    def look(self, camera):
        self.camera = camera

    def close(self):
        pass


def _picture(scene, session):
    units = session.layout.units
    return ResultPicture(scene, units.deviation, units.angle)


class Page:
    """An app on a server that never starts; ``set`` does what the page's widgets do."""

    def __init__(self, session):
        self.server = get_server(f"reactions {next(COUNT)}", client_type="vue3")
        self.scene = SceneWithoutPicture()
        self.desk = Desk(self.server, session, self.scene)
        self.plan = PlanReactions(self.desk, PlanPicture(self.scene, session.check))
        self.result = None
        if session.survey is not None:
            self.result = ResultReactions(self.desk, _picture(self.scene, session))
        self.lesson = LessonReactions(self.desk)
        self.picture = PictureReactions(self.desk, self.result, self.plan, self.lesson)
        self.desk.start()
        self.state = self.server.state

    def set(self, **values):
        for name, value in values.items():
            self.state[name] = value
        for _ in range(3):  # reactions set values to which others react
            self.desk.start()


@pytest.fixture(autouse=True)
def nothing_goes_wrong_unsaid(caplog):
    yield
    records = [*caplog.get_records("setup"), *caplog.get_records("call")]
    assert [record for record in records if record.levelno >= logging.ERROR] == []


@pytest.fixture
def opened(session):
    return Page(session)


def test_the_page_opens_with_the_result(opened):
    assert opened.state.tab == "result"
    assert opened.state.result["head"]["word"] == "Does not conform"
    assert len(opened.state.rows) == 35
    assert opened.state.card is None
    assert {"machine", "surface", "vectors", "limits", "names"} <= opened.scene.shown
    assert "beams" not in opened.scene.shown
    assert opened.scene.glass == [f"surface column_{letter}" for letter in "abcd"]


def test_another_visit_has_another_verdict_and_another_surface(opened):
    before = opened.scene.mesh("deviation surface").points.copy()
    opened.set(visit="as left")
    assert opened.state.result["head"]["word"] == "Conforms"
    assert not np.allclose(opened.scene.mesh("deviation surface").points, before)
    opened.set(visit=DIFFERENCE)
    assert opened.state.result["head"]["word"] == "as left less as found"
    assert "limit edges" not in opened.scene.parts
    assert opened.state.legend["what"] == "change"


def test_another_reference(opened):
    opened.set(reference="least squares")
    rows = opened.state.result["references"]
    assert [each["kind"] for each in rows if each["chosen"]] == ["least squares"]
    assert opened.state.result["head"]["about"].count("least squares plane") == 1
    shown = opened.result.shown
    np.testing.assert_allclose(shown.sheet.values.sum(), 0.0, atol=1e-9)
    opened.set(reference="gravity")  # nothing ties this plane to gravity
    assert "nothing ties" in opened.state.notice
    assert opened.result.shown.measured.evidence.task.reference == "least squares"


def test_the_exaggeration_stretches_what_is_drawn(opened):
    up = 2
    before = np.ptp(opened.scene.mesh("deviation surface").points[:, up])
    opened.set(zoom_log=opened.state.zoom_log + np.log10(2.0))
    assert np.ptp(opened.scene.mesh("deviation surface").points[:, up]) == pytest.approx(2.0 * before, rel=0.03)
    assert "4\u202f000" in opened.state.legend["factor"]


def test_a_station_gets_its_card_its_mark_and_its_beam(opened):
    opened.set(station="C4")
    assert opened.state.card["name"] == "C4"
    assert {"chosen ball", "chosen beam", "chosen name"} <= set(opened.scene.names("chosen"))
    opened.set(station="")
    assert opened.state.card is None
    assert opened.scene.names("chosen") == ()


def test_a_click_chooses_a_station(opened):
    names, points = opened.result.points()
    number = names.index("D2")
    x, y = on_screen(points, opened.scene.camera, (450.0, 300.0))[number]
    opened.picture.click(float(x), float(y), 450.0, 300.0)  # a page that counts in larger pixels than the picture
    assert opened.state.station == "D2"
    opened.picture.hit({"worldPosition": [float(value) for value in points[0]]})
    assert opened.state.station == names[0]
    opened.picture.hit(None)
    opened.picture.click(1.0, 299.0, 450.0, 300.0)
    assert opened.state.station == names[0]


def test_the_prediction_is_drawn_and_taken_back(opened):
    before = opened.scene.mesh("deviation surface").points.copy()
    opened.set(predicted=True)
    assert opened.state.result["predicted"]
    assert opened.state.result["head"]["word"] == "Predicted, not measured"
    assert not np.allclose(opened.scene.mesh("deviation surface").points, before)
    opened.set(visit=DIFFERENCE)
    assert opened.state.predicted is False
    opened.set(visit="as found")
    np.testing.assert_allclose(opened.scene.mesh("deviation surface").points, before)


def test_the_columns_of_the_table_sort_three_ways(opened):
    first = [row["name"] for row in opened.state.rows]
    opened.result.sort("deviation")
    opened.desk.start()
    down = [row["name"] for row in opened.state.rows]
    opened.result.sort("deviation")
    opened.desk.start()
    assert [row["name"] for row in opened.state.rows] == down[::-1]
    opened.result.sort("deviation")
    opened.desk.start()
    assert [row["name"] for row in opened.state.rows] == first


def test_layers(opened):
    opened.set(layers=["targets", "uncertainty", "no such layer"])
    assert {"targets", "uncertainty"} <= opened.scene.shown
    assert not {"vectors", "names", "no such layer"} & opened.scene.shown


def test_tabs_show_their_own(opened):
    opened.set(tab="plan")
    assert {"beams", "targets", "swept plane"} <= opened.scene.shown
    assert "surface" not in opened.scene.shown
    opened.set(tab="lesson", cone=10.0)
    assert opened.scene.shown == {"machine", "lesson base"}
    assert opened.state.lesson["numbers"][1]["value"] != "0.0 µm"
    opened.lesson.reset()
    opened.desk.start()
    assert opened.state.lesson["numbers"][1]["value"] == "0.0 µm"
    opened.set(tab="result")
    assert opened.state.legend["what"] == "deviation"
    assert opened.scene.range == pytest.approx(1e6 * opened.result.shown.largest)


def test_the_views_and_the_size_of_the_picture(opened):
    stood = opened.scene.camera
    opened.picture.choose_view("top")
    assert opened.state.view == "top"
    assert not np.allclose(opened.scene.camera.position, stood.position)
    before = opened.scene.camera
    opened.set(picture_size={"size": {"width": 500, "height": 700}})
    assert not np.allclose(opened.scene.camera.position, before.position)
    turned = opened.scene.camera
    opened.scene.camera = type(turned)(turned.position + 1.0, turned.focal_point, turned.up)
    opened.set(picture_size={"size": {"width": 900, "height": 400}})
    np.testing.assert_allclose(opened.scene.camera.position, turned.position + 1.0)  # a turned view is left alone


def test_the_theme(opened):
    opened.set(dark=True)
    assert opened.scene.theme.name == "dark"


@pytest.mark.parametrize(
    "nonsense",
    [{"visit": "never"}, {"task": "none"}, {"reference": "crooked"}, {"tab": "cellar"}, {"station": "nowhere"},
     {"zoom_log": -3.0}, {"layers": []}, {"picture_size": {}}, {"sort_key": "colour"}],
    ids=lambda each: next(iter(each)),
)  # fmt: skip
def test_what_a_page_cannot_ask_for_changes_nothing(opened, nonsense):
    word = opened.state.result["head"]["word"]
    opened.set(**nonsense)
    assert opened.state.result["head"]["word"] == word
    assert opened.state.notice == ""


# --- sessions of other kinds


def test_without_readings_there_is_no_result(planned):
    page = Page(planned)
    assert [each["value"] for each in page.state.tabs] == ["plan", "lesson"]
    assert page.state.tab == "plan"
    page.set(station="A1")
    page.picture.click(10.0, 10.0, 900.0, 600.0)


def test_one_visit_has_no_difference(one_visit):
    page = Page(one_visit)
    assert [each["value"] for each in page.state.visits] == ["as found"]
    page.set(visit=DIFFERENCE)
    assert page.state.result["head"]["word"] == "Does not conform"


def test_several_tasks(change_layout):
    second = (
        "tasks:\n",
        "tasks:\n  front half: {flatness: bed, from: [A1, A3, A5, A7, B1, B3, B5, B7, C1, C3, C5, C7], "
        "reference: least squares, limit: 200 um}\n",
    )
    page = Page(open_session(change_layout(second), READINGS))
    assert page.state.tasks == ["front half", "bed flatness"]
    assert len(page.state.rows) == 12
    page.set(task="bed flatness", station="E5")
    assert len(page.state.rows) == 35
    assert page.state.result["references"][0]["chosen"]
    page.set(task="front half")
    assert page.state.reference == "least squares"
    assert len(page.state.rows) == 12


def test_a_failed_plan_still_opens(change_layout):
    page = Page(open_session(change_layout(("reads: [grid, again: [A1, E7]]", "reads: [A1, A2, A3, A4, A5]"))))
    assert [each["value"] for each in page.state.tabs] == ["plan", "lesson"]
    assert not page.state.plan["traced"]
    page.plan.go_to(0)
    assert page.state.finding == 0
    assert "finding mark" in page.scene.names("findings")
    page.set(station="A1")
    assert page.state.plan_station["face"] is None
    assert page.state.budget["chart"] is None
    page.set(tab="lesson")
    assert page.state.lesson["numbers"]


def test_a_finding_is_marked_and_looked_at(change_layout):
    page = Page(open_session(change_layout(("at: [0.15 m, -2.3 m, 0 m]", "at: [-2.3 m, 0.2 m, 0 m]"))))
    whole = page.scene.camera
    page.plan.go_to(1)
    assert page.state.finding == 1
    assert np.linalg.norm(page.scene.camera.focal_point - whole.focal_point) > 0.3
    page.plan.go_to(99)
    assert page.state.finding == 1
    page.set(tab="lesson")
    assert "finding mark" not in page.scene.names("findings")


def test_a_survey_of_other_quantities(read_lathe):
    page = Page(read_lathe)
    assert {"machine", "surface", "vectors", "limits", "names"} <= page.scene.shown
    assert page.scene.mesh("deviation surface") is None
    for task in page.state.tasks:
        page.set(task=task)
        assert page.state.result["component"]["lines"]
        assert page.scene.mesh("line 0 tube").n_cells
        assert page.state.notice == ""
    before = page.scene.mesh("line 0 tube").points.copy()
    page.set(zoom_log=page.state.zoom_log - 0.5)
    assert np.ptp(page.scene.mesh("line 0 tube").points[:, 2]) < np.ptp(before[:, 2])
    page.set(station=page.state.rows[2]["name"])
    assert page.state.card["facts"]
    assert {"chosen ball", "chosen beam"} <= set(page.scene.names("chosen"))
    page.set(tab="plan")
    assert page.state.plan_station["face"]
    page.set(tab="result", component=0)
    assert page.state.notice == ""


def test_sheets_and_lines_replace_each_other():
    page = Page(open_example("press_slide"))
    assert page.scene.mesh("deviation surface") is not None
    page.set(task="travel square")
    assert page.scene.mesh("deviation surface") is None
    assert page.scene.mesh("sign arrows") is not None
    assert page.scene.mesh("line 0 zone") is not None
    page.set(task="bed flatness")
    assert page.scene.mesh("line 0 tube") is page.scene.mesh("line 0 zone") is page.scene.mesh("sign arrows") is None
    assert page.scene.mesh("deviation surface") is not None


def test_a_component_is_chosen():
    page = Page(open_example("coating_rolls"))
    names = [each["name"] for each in page.state.result["components"]]
    for number, name in enumerate(names):
        page.set(component=number)
        assert page.state.result["component"]["name"] == name
        assert name in page.state.result["head"]["sentence"]
        assert len(page.result.shown.figures) == len(names)  # the others stay in the picture
        assert page.result.shown.component.name == name


@pytest.mark.parametrize("lesson", ["base", "prism", "air", "form", "buck_in", "reversal"])
def test_every_lesson_stands_on_any_layout(lathe, lesson):
    """On a lathe every lesson brings its own scene; its sliders change panel and picture."""
    page = Page(lathe)
    page.set(tab="lesson", lesson_kind=lesson)
    assert page.scene.shown == {f"lesson {lesson}"}
    assert page.state.views
    assert page.state.view == page.state.views[0]
    before = page.state.lesson
    moved = {"form": "tube"}.get(lesson, "beam")
    beam = next(name for name in page.scene.names(f"lesson {lesson}") if moved in name)
    drawn = page.scene.mesh(beam).points.copy()
    slider = {"base": {"cone": 10.0}, "prism": {"prism_roll": 5.0}, "air": {"air_gradient": -2.0},
              "form": {"form_last": 9.0}, "buck_in": {"buck_angle": -1.0},
              "reversal": {"rev_error": -4.0}}[lesson]  # fmt: skip
    page.set(**slider)
    assert page.state.lesson != before
    now = page.scene.mesh(beam).points
    assert now.shape != drawn.shape or not np.allclose(now, drawn)
    for view in page.state.views:
        page.picture.choose_view(view)
        assert page.state.view == view
    page.lesson.reset()
    page.desk.start()
    assert page.state.lesson == before
    assert page.state.notice == ""


def test_steps_are_taken_one_by_one_and_forgotten(planned):
    page = Page(planned)
    page.set(tab="lesson", lesson_kind="buck_in")
    before = page.state.lesson
    faint = "lesson buck_in earlier"
    assert page.scene.mesh(faint) is None
    page.lesson.press("buck_step")
    once = page.state.lesson
    assert once != before
    assert page.scene.mesh(faint).n_cells
    page.lesson.press("buck_step")
    assert page.state.lesson != once
    page.lesson.press("nothing of the kind")
    page.set(buck_offset=0.5)  # another start begins anew
    assert page.state.lesson["numbers"][2]["value"] == "0"
    for rounds in "1234":
        page.lesson.press("buck_round")
        assert page.state.lesson["numbers"][2]["value"] == rounds
    page.lesson.press("buck_overshoot")
    assert page.state.lesson["numbers"][2]["value"] == "5"
    assert "lies on the line" in page.state.lesson["note"]
    page.set(buck_hand=80.0)  # so does another hand
    page.lesson.press("buck_overshoot")
    assert "Next: shift until near reads nought" in page.state.lesson["note"]
    page.lesson.reset()
    page.desk.start()
    assert page.state.lesson == before
    assert page.scene.mesh(faint) is None
    page.set(lesson_kind="air")
    page.lesson.press("buck_step")  # a lesson without steps takes none
    assert page.state.notice == ""


def test_a_reversal_shows_one_way_at_a_time(planned):
    page = Page(planned)
    page.set(tab="lesson", lesson_kind="reversal")
    for device in ("emitter", "prism", "vial"):
        page.set(rev_device=device, rev_turned=False)
        names = set(page.scene.names("lesson reversal"))
        what = "emitter" if device == "prism" else "turn mark"
        mark = next(name for name in sorted(names) if what in name)
        here = page.scene.mesh(mark).points.copy()
        page.set(rev_turned=True)
        assert set(page.scene.names("lesson reversal")) == names  # nothing of the other way is left
        assert not np.allclose(page.scene.mesh(mark).points.mean(axis=0), here.mean(axis=0), atol=1e-3)
    assert page.state.notice == ""


def test_the_choices_of_the_lessons(planned):
    page = Page(planned)
    page.set(tab="lesson")
    assert page.scene.shown == {"machine", "lesson base"}
    page.set(one_radius=True)
    assert page.scene.shown == {"lesson base"}
    page.set(one_radius=False)
    assert page.scene.shown == {"machine", "lesson base"}
    page.set(lesson_kind="prism", prism_sweeps=True)
    assert "lesson prism plane" in page.scene.names("lesson prism")
    page.set(prism_sweeps=False)
    assert "lesson prism plane" not in page.scene.names("lesson prism")
    page.set(lesson_kind="air", air_reach=30.0)
    assert "30 m" in page.state.lesson["numbers"][0]["words"]
    page.set(air_zeroed=True)
    assert page.state.lesson["numbers"][0]["value"] == "0.0 µm"
    page.set(lesson_kind="geology")
    assert page.state.notice == ""


def test_findings_and_stations_lead_to_each_other(change_layout):
    page = Page(open_session(change_layout(("at: [0.15 m, -2.3 m, 0 m]", "at: [-2.3 m, 0.2 m, 0 m]"))))
    page.plan.go_to(0)
    name = page.desk.session.check.findings[0].name
    assert page.state.station == name
    assert page.state.plan_station["name"] == name
    assert page.state.about == {"0": "this station"}
    assert {"chosen light", "chosen dark"} <= set(page.scene.names("plan chosen"))
    names, points = page.picture._stations()
    number = names.index("C4")
    x, y = on_screen(points, page.scene.camera, (900.0, 600.0))[number]
    page.picture.click(float(x), float(y), 900.0, 600.0)
    page.desk.start()
    assert page.state.station != name
    assert page.state.finding == -1  # it was about another station
    assert "finding mark" not in page.scene.names("findings")
    assert "chosen dark" not in page.scene.names("plan chosen")
    page.set(budget_of="station")
    assert page.state.budget["of"] == "station"
    assert page.state.budget["chart"]["bars"]
    page.set(station="")
    assert page.state.plan_station is None
    assert page.scene.names("plan chosen") == ()


# --- mistakes


def test_an_error_of_the_geometry_becomes_a_sentence(opened):
    def fails():
        raise GeometryError("The three datum points lie on one line; they differ by 3 um.")

    opened.desk.guarded(fails)()
    assert opened.state.notice == "The three datum points lie on one line; they differ by 3 µm."
    assert opened.state.notice_shown


def test_a_mistake_of_the_program_is_logged_and_said(opened, caplog):
    opened.desk.guarded(lambda: 1 / 0)()
    assert opened.state.notice == text.FAILED
    assert any(record.exc_info and record.exc_info[0] is ZeroDivisionError for record in caplog.records)
    caplog.clear()


def test_long_work_gives_way_and_ends():
    async def main():
        page = Page(open_session(LAYOUT, READINGS[:1]))
        page.set(reference="three points")
        assert page.state.busy
        assert page.state.result["references"][0]["chosen"]
        for _ in range(400):
            await asyncio.sleep(0.02)
            if not page.state.busy:
                break
        assert [each["kind"] for each in page.state.result["references"] if each["chosen"]] == ["three points"]

    asyncio.run(main())


def test_no_numpy_reaches_the_state(opened):
    def check(value):
        assert not isinstance(value, np.ndarray | np.generic)
        for each in value.values() if isinstance(value, dict) else value if isinstance(value, list | tuple) else ():
            check(each)

    opened.set(station="A1", tab="lesson")
    for name in first_state(opened.desk.session):
        check(opened.state[name])
    assert plain({"a": (np.float64(1.0), np.arange(2), np.bool_(True))}) == {"a": [1.0, [0, 1], True]}


# --- the page itself


def test_the_page_is_made_of_constants(change_layout):
    """Texts of a layout must not get into the template, which the browser compiles."""
    require_graphics()
    path = change_layout(
        ("title: Bed of a 400 t press", 'title: "<img src=x onerror=alert(1)> {{ 7*7 }}"'),
        ("bed flatness:", "<img src=x onerror=alert(2)>:"),
    )

    async def main():
        server = get_server(f"page {next(COUNT)}", client_type="vue3")
        viewer = make_app(server, path, READINGS)
        template = server.state.trame__template_main
        await viewer.close()
        return template

    template = asyncio.run(main())
    assert "{{ title }}" in template
    for words in ("7*7", "onerror", "400 t", "column_a", "as found", "station A1"):
        assert words not in template


def test_a_changed_file_is_read_again(change_layout, monkeypatch):
    made = []
    monkeypatch.setattr(app_module, "Viewer", lambda _server, stage: made.append(stage))
    monkeypatch.setattr(app_module, "set_stage", lambda session: session)
    path = change_layout()
    maker = pickle.loads(pickle.dumps(App(path)))  # as it gets to the process of a page
    maker.prepare()
    maker(None)
    maker(None)
    assert made[0] is made[1]
    with Path(path).open("a", encoding="utf-8") as file:
        file.write("# changed\n")
    maker(None)
    assert made[2] is not made[0]


def test_lines_where_the_surface_leaves_its_zone_are_raised_as_if_found_anew(session):
    """They are found once and then only moved; the mesh they are found on is the one that is drawn."""
    stretched, anew = Page(session), Page(session)
    first = stretched.scene.mesh("limit crossing").points.copy()
    stretched.set(zoom_log=stretched.state.zoom_log + 0.2)
    shown = anew.result.shown
    anew.result._picture._sheet._crossing = None
    anew.set(zoom_log=stretched.state.zoom_log)
    found = anew.scene.mesh("deviation surface").contour([1e6 * end for end in shown.zone], scalars="deviation [um]")
    raised = stretched.scene.mesh("limit crossing").points
    assert raised.shape == found.points.shape
    assert not np.allclose(raised, first, atol=1e-4)
    np.testing.assert_allclose(raised, found.points, atol=2e-6)  # float32 at some metres
