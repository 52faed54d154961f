"""Moves in the viewer without a browser: sliders, numbers, forecast, buttons, soft feet, and what the picture gets."""

import itertools
import logging
from types import SimpleNamespace

import numpy as np
import pytest
from trame.app import get_server

from scenes.corrections.chosen_moves import chosen_moves, makeable
from scenes.corrections.planned_moves import moves_of
from scenes.meshes.cameras import Camera
from scenes.reductions.survey import SEED
from viewer.colours import LIGHT
from viewer.desk import Desk
from viewer.logic.moves_book import Asked, MovesBook, movable_tasks
from viewer.logic.moves_places import mover_places
from viewer.logic.moves_sliders import lifts_at, positions_of, sliders_of
from viewer.logic.session import open_session
from viewer.reactions.lesson import LessonReactions
from viewer.reactions.moves import MovesReactions
from viewer.reactions.picture import PictureReactions
from viewer.reactions.plan import PlanReactions
from viewer.scene3d_moves import LONGEST, MovesPicture, arrow_reach
from viewer.scene3d_plan import PlanPicture

from .conftest import ROOT

COUNT = itertools.count()
UM = 1e-6


class Parts:
    """Stands in for the scene: keeps what is put."""

    def __init__(self):
        self.theme, self.range, self.size, self.parts, self.shown = LIGHT, 1.0, (900, 600), {}, set()
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

    def mesh(self, name):
        return self.parts[name][1].mesh if name in self.parts else None

    def show(self, groups):
        self.shown = set(groups)

    def is_shown(self, group):
        return group in self.shown

    def set_range(self, largest):
        self.range = largest

    def look(self, camera):
        self.camera = camera

    def set_theme(self, theme): ...
    def make_glass(self, *_): ...
    def before_render(self, _call): ...
    def close(self): ...


class Page:
    """A page with the tab of moves open; ``set`` does what its widgets do."""

    def __init__(self, session):
        units = session.layout.units
        self.scene = Parts()
        self.desk = Desk(get_server(f"moves {next(COUNT)}", client_type="vue3"), session, self.scene)
        plan, lesson = PlanReactions(self.desk, PlanPicture(self.scene, session.check)), LessonReactions(self.desk)
        self.moves = MovesReactions(self.desk, MovesPicture(self.scene, units.deviation, units.angle))
        PictureReactions(self.desk, None, plan, lesson, {"moves": self.moves})
        self.state = self.desk.state
        self.desk.start()
        self.set(tab="moves")

    def set(self, **values):
        for name, value in values.items():
            self.state[name] = value
        for _ in range(3):
            self.desk.start()

    def do(self, call, *given):
        self.desk.guarded(call)(*given)
        self.set()

    @property
    def head(self):
        return self.state.moves_live["head"]


@pytest.fixture(autouse=True)
def nothing_goes_wrong_unsaid(caplog):
    yield
    records = [*caplog.get_records("setup"), *caplog.get_records("call")]
    assert [record for record in records if record.levelno >= logging.ERROR] == []


@pytest.fixture(scope="module")
def rolls(tmp_path_factory):
    """The rolls of the example on bearings of which one can be pushed."""
    folder = ROOT / "examples" / "coating_rolls"
    text = (folder / "layout.yaml").read_text(encoding="utf-8") + "\nbearings:\n" + "".join(
        f"  roll_{k}: {{at: {{drive: -1.4 m, tending: 1.4 m}}, fixed: drive, side: {{travel: 3 mm}}}}\n"
        for k in range(1, 6)
    )  # fmt: skip
    path = tmp_path_factory.mktemp("rolls") / "layout.yaml"
    path.write_text(text, encoding="utf-8")
    return open_session(str(path), (str(folder / "readings" / "as_found.csv"),))


@pytest.fixture(scope="module")
def bed_moves(session):
    return moves_of(session.layout, session.own("bed flatness", "as found"), rng=np.random.default_rng(SEED))


@pytest.fixture(scope="module")
def bed_page(session):
    return Page(session)


@pytest.fixture
def bed(bed_page):
    """The page of the bed as it opens."""
    bed_page.set(visit="as found", moves_goal="minimax", moves_most=0, moves_gaps={}, moves_free=False, station="")
    bed_page.do(bed_page.moves.optimum)
    return bed_page


# --- sliders


def test_sliders_keep_to_travel_and_stock(bed_moves):
    sliders = sliders_of(bed_moves, "um", free=False)
    beyond = lifts_at(sliders, [1e9] * len(sliders))
    for j, slider in enumerate(sliders):
        held = makeable(bed_moves, j)
        assert beyond[j] == held.moves[-1] <= bed_moves.movers.highest[j] + 1e-12
        for move, shims in zip(held.moves, held.shims, strict=True):
            assert sum(shims) == pytest.approx(move, abs=1e-12)
            assert len(shims) <= bed_moves.movers.most_pieces[j]
        assert slider.move(-50.0) == 0.0  # shims can only be added
    free = sliders_of(bed_moves, "um", free=True)
    assert lifts_at(free, [-7.0, 12.5, 1e9, float("nan"), "word", None]) == pytest.approx(
        [0.0, 12.5 * UM, 2e-3, 0.0, 0.0, 0.0]
    )


def test_positions_and_moves_belong_together(bed_moves):
    for free in (False, True):
        sliders = sliders_of(bed_moves, "um", free)
        assert lifts_at(sliders, positions_of(sliders, bed_moves.lifts)) == pytest.approx(bed_moves.lifts, abs=1e-12)
        rng = np.random.default_rng(3)
        for _ in range(200):
            lifts = lifts_at(sliders, list(rng.uniform(-5.0, 2500.0, len(sliders))))
            assert np.array_equal(lifts_at(sliders, positions_of(sliders, lifts)), lifts) or free
            assert lifts_at(sliders, positions_of(sliders, lifts)) == pytest.approx(lifts, abs=1e-11)


# --- numbers are those of scenes.corrections


def test_chosen_moves_tell_the_proposal_as_the_proposal_does(session, bed_moves):
    task = session.layout.tasks["bed flatness"]
    told = chosen_moves(bed_moves, bed_moves.lifts, task, np.random.default_rng(1))
    assert told.components[0].after == bed_moves.components[0].after
    assert told.components[0].u_after == pytest.approx(bed_moves.components[0].u_after, rel=0.15)  # other draws
    assert told.components[0].verdict.word == bed_moves.components[0].verdict.word
    assert [step.words for step in told.steps] == [step.words for step in bed_moves.steps]
    assert told.stacks == bed_moves.stacks
    assert np.array_equal(told.loads, bed_moves.loads_after)
    assert np.array_equal(told.stations[0].as_left, bed_moves.stations[0].as_left)


def test_the_optimum_equals_the_proposal(bed, bed_moves):
    assert np.array_equal(bed.moves.lifts, bed_moves.lifts)
    bed.set(moves_at=[0.0, 5.0, 0.0, 0.0, 7.0, 0.0])
    assert bed.state.moves_live["at"] == ""
    bed.do(bed.moves.optimum)
    assert np.array_equal(bed.moves.lifts, bed_moves.lifts)
    assert bed.state.moves_live["at"] == "optimum"
    value = 1e6 * bed_moves.components[0].after
    assert bed.head["after"] == f"{value:.1f} µm"
    assert (bed.head["word"], bed.head["shape"], bed.head["kind"]) == ("Should conform", "○", "good")
    rows = bed.state.moves_live["rows"]
    assert [row["number"] for row in rows] == pytest.approx(list(1e6 * bed_moves.lifts))
    assert rows[3]["shims"] == "0.1 + 0.02 mm in"
    assert rows[3]["load"] == f"{bed_moves.loads_before[3] / 1e3:.0f} → {bed_moves.loads_after[3] / 1e3:.0f} kN"
    assert [step["words"].lower() for step in bed.state.moves_steps] == [each.words.lower() for each in bed_moves.steps]
    assert "lock it out" in bed.state.moves["safety"][0]


def test_no_moves_leave_what_was_found(bed, session):
    bed.do(bed.moves.as_found)
    own = session.own("bed flatness", "as found")
    assert not bed.moves.lifts.any()
    assert bed.head["after"] == bed.head["before"] == f"{1e6 * own.components[0].value:.1f} µm"
    assert bed.head["word"] == "Would not conform"
    assert bed.state.moves_steps == []
    assert bed.state.moves_live["at"] == "found"
    shown = bed.moves._shown
    assert shown.sets[0].values == pytest.approx(own.deviations[0].values, abs=1e-12)


def test_every_slider_position_shows_what_evaluate_says(bed, bed_moves):
    rng = np.random.default_rng(8)
    for _ in range(10):
        bed.set(moves_at=[float(k) for k in rng.integers(0, 30, 6)])
        outcome = bed_moves.evaluate(bed.moves.lifts)
        assert bed.head["after"] == f"{1e6 * outcome.values[0]:.1f} µm"
        assert np.array_equal(bed.moves._shown.sets[0].values, outcome.as_left[0])
        loads = [row["load"].split("→")[1].split()[0].replace("\u2212", "-") for row in bed.state.moves_live["rows"]]
        assert [float(load) for load in loads] == pytest.approx(outcome.loads / 1e3, abs=0.51)
    surface = bed.scene.mesh("moves deviation surface")
    assert surface.n_points > 100


def test_a_slider_beyond_its_end_comes_back_and_numbers_are_held(bed):
    bed.set(moves_at=[1e6, -3.0, 2.4, 0.0, 0.0, 0.0])
    ends = [each["high"] for each in bed.state.moves["sliders"]]
    assert bed.state.moves_at == [ends[0], 0.0, 2.0, 0.0, 0.0, 0.0]
    bed.set(moves_free=True)
    bed.do(bed.moves.set_move, 1, "33.3")
    assert bed.moves.lifts[1] == pytest.approx(33.3 * UM)
    assert bed.state.moves_live["rows"][1]["shims"] == "no such stack in stock"
    bed.do(bed.moves.set_move, 1, "99999")
    assert bed.moves.lifts[1] == pytest.approx(2e-3)
    for nonsense in ("", "word", None, "-40"):
        bed.do(bed.moves.set_move, 1, nonsense)
    assert bed.moves.lifts[1] == 0.0


# --- warnings, soft feet, goals


def test_feet_that_lift_off_and_full_travel_are_said(bed):
    bed.set(moves_free=True)
    bed.do(bed.moves.set_move, 1, "2000")
    said = " ".join(bed.state.moves_live["warnings"])
    assert "F2 uses its whole travel." in said
    assert "lifts off" in said
    assert any(row["off"] for row in bed.state.moves_live["rows"])
    assert (bed.head["word"], bed.head["kind"]) == ("No forecast", "open")  # the model no longer holds


def test_soft_feet_change_the_proposal_and_are_missed_when_left_open(bed):
    bed.do(bed.moves.set_gap, 1, "90")
    assert bed.state.moves_gaps == {"F2": 90.0}
    assert "fill the gap under f2" in bed.state.moves_steps[0]["words"].lower()
    assert any("soft foot" in each for each in bed.state.moves["first"])
    bed.do(bed.moves.as_found)
    assert any("F2 is a soft foot and its gap of 0.09 mm stays open" in each
               for each in bed.state.moves_live["warnings"])  # fmt: skip
    bed.do(bed.moves.set_gap, 1, "")
    assert bed.state.moves_gaps == {}


def test_goal_and_fewest_feet(bed, session):
    bed.set(moves_goal="least squares", moves_most=1)
    wanted = moves_of(session.layout, session.own("bed flatness", "as found"), goal="least squares", most_feet=1,
                      rng=np.random.default_rng(SEED))  # fmt: skip
    assert np.array_equal(bed.moves.lifts, wanted.lifts)
    assert np.count_nonzero(bed.moves.lifts) == 1
    assert "least squares" in bed.state.moves["about"]


def test_another_visit_starts_from_its_own_readings(bed, session):
    bed.set(visit="as left")
    wanted = moves_of(session.layout, session.own("bed flatness", "as left"), rng=np.random.default_rng(SEED))
    assert bed.state.moves["visit"] == "as left"
    assert np.array_equal(bed.moves.lifts, wanted.lifts)
    bed.set(visit="difference")
    assert bed.state.moves["visit"] == "as left"  # the last one


# --- picture


def test_arrows_follow_the_sliders_and_are_not_endless(bed):
    before = bed.scene.mesh("moves arrows").points[:, 2].max()
    bed.set(moves_at=[0.0, 0.0, 0.0, 20.0, 0.0, 0.0])
    assert bed.scene.mesh("moves arrows").points[:, 2].max() > before
    reach = arrow_reach(np.array([1.0, -1e-5]), np.array([[0.0, 0.0, 1.0]] * 2), 1000.0, 2.0)
    assert reach[:, 2] == pytest.approx([2.0 * LONGEST, -0.01])
    assert {"machine", "moves surface", "moves arrows"} <= bed.scene.shown
    names, points = bed.moves.points()
    assert len(names) == len(points) == 35


def test_arrows_stand_outside_of_the_bed(session, bed_moves):
    places = mover_places(session.layout, bed_moves)
    plate = session.layout.surfaces["bed"].shape
    local = session.layout.surfaces["bed"].world_from_surface.inverse().points(places.starts)
    outside = (np.abs(local[:, 0]) > plate.length / 2) | (np.abs(local[:, 1]) > plate.width / 2)
    assert outside.all()


def test_a_station_is_told_before_and_after(bed, bed_moves):
    bed.set(station="A1")
    card = bed.state.moves_card
    k = bed_moves.stations[0].stations.index("A1")
    assert card["name"] == "A1"
    assert card["rows"][0]["after"].replace("\u2212", "-") == f"{1e6 * bed_moves.stations[0].as_left[k]:+.1f} µm"


# --- bearings, and where there is nothing to move


def test_sliders_of_lines_keep_their_actors_and_draw_what_a_fresh_picture_would(rolls, monkeypatch):
    page, fresh = Page(rolls), Page(rolls)
    taken = []
    lines = page.moves._picture._left._lines
    monkeypatch.setattr(lines, "clear", lambda: taken.append(True))
    at = list(page.state.moves_at)
    before = {name: np.array(part.mesh.points) for name, (_, part, _) in page.scene.parts.items()}
    for other in ([0.5 * each for each in at], [0.0] * len(at)):
        page.set(moves_at=other)
        fresh.set(moves_at=other)
        fresh.moves._picture._left._lines.clear()
        fresh.moves._draw()
        assert set(page.scene.parts) == set(fresh.scene.parts)
        for name, (_, part, _) in page.scene.parts.items():
            np.testing.assert_allclose(part.mesh.points, fresh.scene.mesh(name).points, atol=1e-5, err_msg=name)
    assert taken == []
    moved = [name for name, points in before.items() if name.endswith("tube")
             and np.abs(page.scene.mesh(name).points - points).max() > 1e-3]  # fmt: skip
    assert moved


def test_bearings_of_rolls(rolls):
    page = Page(rolls)
    task = page.state.moves["task"]
    wanted = moves_of(rolls.layout, rolls.own(task, "as found"), rng=np.random.default_rng(SEED))
    assert page.moves.lifts == pytest.approx(wanted.lifts, abs=1e-12)
    assert page.state.moves["bearings"]
    assert page.state.moves["sliders"][0]["still"]  # the drive side stays
    assert not page.state.moves["sliders"][1]["still"]
    assert len(page.state.moves_live["components"]) == len(wanted.components)
    number = int(np.flatnonzero(wanted.lifts)[0])
    page.do(page.moves.set_move, number, -100.0)
    assert page.moves.lifts[number] == pytest.approx(-100.0 * UM)
    after = page.moves._open.moves.evaluate(page.moves.lifts).values
    told = chosen_moves(wanted, page.moves.lifts, rolls.layout.tasks[task], np.random.default_rng(0))
    assert [each.after for each in told.components] == list(after)
    assert page.scene.mesh("moves arrows").n_points > 0
    assert "along" in page.state.moves_steps[0]["words"]


def test_a_task_without_feet_says_so(rolls, read_lathe):
    assert movable_tasks(read_lathe) == ()
    page = Page(read_lathe)
    assert page.state.moves is None
    assert "neither feet nor bearings" in page.state.moves_word
    assert [each["value"] for each in page.state.tabs if each["value"] == "moves"] == []
    assert [each["value"] for each in Page(rolls).state.tabs if each["value"] == "moves"] == ["moves"]


def test_what_cannot_be_filled_is_a_sentence(session):
    found = MovesBook(session).of(Asked("bed flatness", "as found", gaps=(("F1", 5e-3),)))
    assert "more than its travel" in found


def test_while_one_forecast_is_worked_out_the_next_waits(bed, monkeypatch):
    waiting = []

    def keep(work, then):
        waiting.append(SimpleNamespace(work=work, then=then))

    monkeypatch.setattr(bed.desk, "in_background", keep)
    bed.do(bed.moves.as_found)
    bed.set(moves_at=[1.0, 0.0, 0.0, 0.0, 0.0, 0.0])
    bed.set(moves_at=[2.0, 0.0, 0.0, 0.0, 0.0, 0.0])
    assert len(waiting) == 1
    assert (bed.head["word"], bed.head["pending"]) == ("…", True)
    waiting[0].work()
    waiting[0].then()
    assert len(waiting) == 2  # of the last position alone
    assert bed.head["pending"]
    waiting[1].work()
    waiting[1].then()
    assert not bed.head["pending"]
    assert len(waiting) == 2
