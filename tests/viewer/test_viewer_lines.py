"""Plans of every method in the picture: nothing outside it, names that make room, beams as they fare."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from scenes.checks.check import CheckResult
from scenes.checks.plan import traced_plan
from scenes.errors import PictureError
from scenes.layout.read import read_layout
from scenes.meshes.beams import beam_paths
from scenes.meshes.cameras import Camera, camera_toward
from scenes.meshes.scene_parts import Role
from scenes.model.finding import Finding, Severity
from scenes.tracing.sight import Sight
from viewer.colours import LIGHT, theme_of
from viewer.graphics import require_graphics
from viewer.logic.picking import on_screen
from viewer.picture import PLAN_LAYERS
from viewer.scene3d import Scene
from viewer.scene3d_labels import free_places, lettering
from viewer.scene3d_plan import VIEWS, PlanPicture, view_camera

ROOT = Path(__file__).parents[2]
HALL = ROOT / "tests" / "scenes" / "meshes" / "methods.yaml"
LAYOUTS = [HALL, *sorted(ROOT.glob("examples/*/layout.yaml"))]
FINDINGS = (
    Finding(Severity.ERROR, "blocked", "station", "roll_2 near", "hidden", "move it", setup="base line"),
    Finding(Severity.WARNING, "no-reversal", "set-up", "square plane", "not reversed", "reverse it"),
    Finding(Severity.NOTE, "about-a-device", "device", "nose", "a prism", "look at it"),
    Finding(Severity.ERROR, "task-open", "task", "rail", "not determined", "read more"),
)


@pytest.fixture(scope="module")
def hall() -> CheckResult:
    """The hall with some findings; what the plan promises is left out, since it takes long and is not drawn."""
    layout = read_layout(HALL)
    return CheckResult(layout, traced_plan(layout), FINDINGS, ())


@pytest.fixture(scope="module")
def scene():
    """A scene; its parts are replaced by each test."""
    try:
        require_graphics()
    except PictureError as error:
        pytest.skip(str(error))
    made = Scene(LIGHT)
    made.plotter.window_size = [800, 500]
    yield made
    made.close()


@pytest.mark.parametrize("path", LAYOUTS, ids=lambda path: path.parent.name)
def test_every_view_holds_the_whole_survey(path: Path) -> None:
    """Emitters at both ends, prisms, targets and beams lie inside the picture, whatever its shape."""
    layout = read_layout(path)
    geometry = traced_plan(layout).geometry
    points = np.vstack([geometry.beam_origins(), geometry.detector_centres(), geometry.noses.centre])
    for view in VIEWS[1:]:
        for size in ((1366.0, 768.0), (1024.0, 768.0), (500.0, 700.0)):
            place = on_screen(points, view_camera(layout, view, size), size)
            assert np.isfinite(place).all()
            assert (place >= 0.0).all()
            assert (place <= np.array(size)).all()


def test_a_layout_that_cannot_be_traced_is_shown_all_the_same(scene) -> None:
    """Without a plan the machine is drawn, and the camera finds the emitters where they are placed."""
    layout = read_layout(HALL)
    picture = PlanPicture(scene, CheckResult(layout, None, FINDINGS, ()))
    assert "surface rail" in scene.names("machine")
    for number in range(len(FINDINGS)):
        assert np.isfinite(picture.mark_finding(number).position).all()
    picture.restrict(("shared",))
    for view in VIEWS:
        assert np.isfinite(view_camera(layout, view, (800.0, 500.0)).position).all()


def test_layers_hold_what_belongs_to_them(hall, scene) -> None:
    """Devices of set-ups are in the stand, those of stations with the targets, beams of all looks with the beams."""
    picture = PlanPicture(scene, hall)
    stand, targets = scene.names("stand"), scene.names("targets")
    assert {"stage shared", "V-blocks in a v", "glass base line one", "saddle base line one"} <= set(stand)
    assert {"other end emitter base line", "other stop glass base line two"} <= set(stand)
    assert {f"target {role}" for role in (Role.GLASS, Role.DISCS, Role.BRACKET, Role.MAGNET, Role.CLOCK_MARK)} <= set(
        targets
    )
    assert {"ghost target", "spots"} <= set(targets)
    assert {str(role) for role in (Role.BEAM_CLEAR, Role.BEAM_BLOCKED, Role.BEAM_BENT)} <= set(scene.names("beams"))
    assert "bend words" in scene.names("beams")
    assert picture.bend >= 1000.0
    assert scene.names("swept plane") == ("swept plane square plane",)


def test_one_set_up_alone_and_all_again(hall, scene) -> None:
    picture = PlanPicture(scene, hall)
    whole = {group: set(scene.names(group)) for group in ("stand", "targets", "beams", "swept plane", "machine")}
    picture.restrict(("through the bore",))
    assert all(name.endswith("through the bore") for name in scene.names("stand"))
    assert scene.names("swept plane") == ()
    assert f"target {Role.DISCS}" in scene.names("targets")
    assert f"target {Role.GLASS}" not in scene.names("targets")
    assert set(scene.names("machine")) == whole["machine"]
    picture.restrict()
    assert {group: set(scene.names(group)) for group in whole} == whole
    with pytest.raises(KeyError):
        picture.restrict(("no such one",))


def test_findings_are_marked_where_they_are(hall, scene) -> None:
    """The blocked beam at the obstacle, the set-up at its emitter; what has no place is not marked."""
    plan = hall.plan
    assert plan is not None
    scene.clear("findings")
    picture = PlanPicture(scene, hall)
    assert set(scene.names("findings")) == {"all finding marks", "all finding warnings"}
    paths = beam_paths(plan.geometry, plan.spots, plan.sight)
    blocked = paths.mark[np.nonzero(plan.sight.sight == Sight.BLOCKED)[0]]
    points = np.asarray(scene.mesh("all finding marks").points)
    assert np.linalg.norm(blocked - points[points[:, 2].argmin()], axis=1).min() < 1e-4
    origin = plan.geometry.beam_origins()[plan.geometry.rows.setup == plan.geometry.rows.setups.index("square plane")][
        0
    ]
    warning = np.asarray(scene.mesh("all finding warnings").points)
    assert np.linalg.norm(warning - origin, axis=1).min() < 1e-4
    camera = picture.mark_finding(0)
    assert "finding mark" in scene.names("findings")
    assert np.linalg.norm(blocked - camera.focal_point, axis=1).min() < 1e-4
    picture.unmark()
    assert set(scene.names("findings")) == {"all finding marks", "all finding warnings"}


def test_a_blocked_beam_is_red_up_to_the_obstacle(hall, scene) -> None:
    """Looking at the place where it stops: red before it, none behind it."""
    plan = hall.plan
    assert plan is not None
    PlanPicture(scene, hall)
    row = int(np.nonzero(plan.sight.sight == Sight.BLOCKED)[0][0])
    mark = beam_paths(plan.geometry, plan.spots, plan.sight).mark[row]
    scene.show(["beams"])
    camera = camera_toward(mark, np.array([-1.0, 0.0, 0.3]), 0.6)
    scene.look(camera)
    pixels = scene.pixels().astype(float)
    red = (pixels[..., 0] > 150) & (pixels[..., 1] < 90)
    toward = plan.stopped_from[row] - plan.stopped_toward[row]
    toward = toward / np.linalg.norm(toward)
    size = (float(pixels.shape[1]), float(pixels.shape[0]))
    before, behind = (
        on_screen((mark + side * 0.3 * toward)[None], camera, size)[0].astype(int) for side in (1.0, -1.0)
    )
    assert red[before[1] - 6 : before[1] + 7, before[0] - 6 : before[0] + 7].any()
    assert not red[behind[1] - 6 : behind[1] + 7, behind[0] - 6 : behind[0] + 7].any()


@pytest.mark.parametrize("dark", [False, True])
def test_pictures_show_every_device(hall, scene, dark: bool) -> None:
    """With devices and targets hidden the picture of each set-up is another one, in both themes."""
    PlanPicture(scene, hall)
    scene.set_theme(theme_of(dark))
    assert hall.plan is not None
    for setup in hall.layout.setups:
        row = int(np.argmax(hall.plan.geometry.rows.setup == hall.plan.geometry.rows.setups.index(setup)))
        scene.look(camera_toward(hall.plan.geometry.beam_origins()[row], np.array([0.6, -0.7, 0.4]), 0.35))
        scene.show(PLAN_LAYERS)
        with_devices = scene.pixels().astype(float)
        scene.show([layer for layer in PLAN_LAYERS if layer != "stand"])
        changed = np.abs(with_devices - scene.pixels()).max(axis=-1) > 30
        assert changed.mean() > 0.02, setup
    scene.set_theme(theme_of(False))


def test_names_never_lie_over_each_other() -> None:
    """Of names that would meet, the first stays; those that are free all stay."""
    rng = np.random.default_rng(8)
    camera = Camera(np.array([0.0, -10.0, 0.0]), np.zeros(3), np.array([0.0, 0.0, 1.0]))
    count = 0
    for _ in range(30):
        n = 40
        anchors = rng.uniform(-2.0, 2.0, (n, 3))
        boxes = np.stack([-rng.uniform(0.5, 4.0, (n, 2)), rng.uniform(0.5, 4.0, (n, 2))], axis=1)
        shown = free_places(anchors, boxes, 10.0, camera, 700)
        place = on_screen(anchors, camera, (0.0, 700.0))
        low = place + 10.0 * np.column_stack([boxes[:, 0, 0], -boxes[:, 1, 1]])
        high = place + 10.0 * np.column_stack([boxes[:, 1, 0], -boxes[:, 0, 1]])
        for i in range(n):
            earlier = [j for j in range(i) if shown[j]]
            meets = any((low[i] < high[j]).all() and (low[j] < high[i]).all() for j in earlier)
            assert shown[i] == (not meets)
            count += 1
    assert count >= 1000


def test_crowded_names_shrink_to_nothing() -> None:
    camera = Camera(np.array([0.0, -10.0, 0.0]), np.zeros(3), np.array([0.0, 0.0, 1.0]))
    letters = lettering(
        ["first", "second", "apart"], np.array([[0.0, 0, 0], [0.01, 0, 0], [3.0, 0, 0]]), 10.0, sparse=True
    )
    letters.turn(camera, 700)
    points = np.asarray(letters.mesh.points)
    wide = [np.ptp(points[letters.owner == number][:, 0]) for number in range(3)]
    assert wide[0] > 0.05
    assert wide[1] == 0.0
    assert wide[2] > 0.05


def test_a_factor_can_be_written_in_the_picture() -> None:
    """The letters lack the sign of multiplication and the narrow space; a cross and a space stand for them."""
    one, two = (lettering([words], np.zeros((1, 3)), 10.0) for words in ("bend \u00d7 10\u202f000", "bend x 10 000"))
    np.testing.assert_allclose(one.flat, two.flat)
