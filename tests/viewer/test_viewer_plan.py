"""The plan in plain data, clicks in the picture, letters that turn to the eye."""

import numpy as np
import pytest

from scenes.layout.read import read_layout
from scenes.meshes.cameras import Camera
from scenes.tracing.places import station_places
from scenes.vectors import unit
from viewer import text
from viewer.logic.picking import nearest, on_screen
from viewer.logic.plan import plan_document
from viewer.logic.session import open_session
from viewer.scene3d_labels import facing_points, lettering
from viewer.scene3d_plan import BOTTOM_INSET, TOP_INSET, VIEWS, close_camera, view_camera

from .conftest import ROOT

MICROMETRE = 1e-6
MOVED = ("at: [0.15 m, -2.3 m, 0 m]", "at: [-2.3 m, 0.2 m, 0 m]")


# --- plan


def test_a_good_plan_is_ready(planned):
    document = plan_document(planned.check)
    assert document["head"]["word"] == "Ready to measure"
    assert document["findings"] == []
    assert len(document["rows"]) == 35  # two re-readings are not listed again
    assert all(row["sight"] == "clear" for row in document["rows"])


def test_numbers_of_the_readings(planned):
    document, plan = plan_document(planned.check), planned.check.plan
    row = document["rows"][6]
    assert row["station"] == "A7"
    assert row["range"] == f"{1e3 * plan.spots.path[6]:.0f}"
    assert row["radius"] == f"{1e3 * plan.spots.radius[6]:.2f}"
    margin = 0.5 * plan.geometry.window[6, 1] - plan.spots.radius[6] - abs(plan.spots.v[6])
    assert float(row["margin"]) == pytest.approx(1e3 * margin, abs=0.06)


def test_blocked_beams_are_findings_with_place_and_advice(change_layout):
    session = open_session(change_layout(MOVED))
    document = plan_document(session.check)
    assert document["head"]["kind"] == "bad"
    assert document["head"]["word"] == "Not ready to measure"
    first = document["findings"][0]
    assert (first["shape"], first["word"], first["code"]) == ("◆", "Error", "blocked")
    assert first["place"] == "station A1, from plane"
    assert first["line"].startswith("layout line ")
    assert first["advice"]
    rows = {row["station"]: row for row in document["rows"]}
    assert rows["A1"]["sight"] == "blocked by column_a"
    assert rows["A2"]["sight"] == "clear"


def test_a_plan_that_cannot_be_traced_says_why(change_layout):
    session = open_session(change_layout(("reads: [grid, again: [A1, E7]]", "reads: [A1, A2, A3, A4, A5]")))
    assert session.check.plan is None
    document = plan_document(session.check)
    assert not document["traced"]
    assert document["rows"] == document["promises"] == []
    assert "level-without-reference" in [each["code"] for each in document["findings"]]
    assert document["no_plan"] == text.NO_PLAN


def test_what_the_plan_can_prove(planned):
    (promise,) = plan_document(planned.check)["promises"]
    (prediction,) = planned.check.predictions
    assert f"from {prediction.provable / MICROMETRE:.1f} µm upward; 60.0 µm is asked" in promise["sentence"]
    assert promise["kind"] == "good"
    assert f"up to {prediction.station_u.max() / MICROMETRE:.1f} µm" in promise["lines"][0]


# --- clicks and letters

CAMERA = Camera(np.array([-3.0, -4.0, 3.0]), np.array([0.1, 0.2, 0.8]), np.array([0.0, 0.0, 1.0]))
SIZE = (900, 600)


def test_the_point_looked_at_is_in_the_middle():
    np.testing.assert_allclose(on_screen(CAMERA.focal_point[None], CAMERA, SIZE), [[450.0, 300.0]], atol=1e-9)


def test_up_and_right_on_the_screen():
    toward = unit(CAMERA.position - CAMERA.focal_point)
    right = unit(np.cross(CAMERA.up, toward))
    points = CAMERA.focal_point + 0.3 * np.array([right, [0.0, 0.0, 1.0]])
    seen = on_screen(points, CAMERA, SIZE)
    assert seen[0, 0] > 450.0
    assert seen[0, 1] == pytest.approx(300.0)
    assert seen[1, 1] < 300.0


def test_a_click_means_the_nearest_station_within_reach():
    points = np.random.default_rng(5).uniform(-1.0, 1.0, (30, 3))
    seen = on_screen(points, CAMERA, SIZE)
    for number in range(30):
        x, y = seen[number] + [0.2, -0.2]
        expected = int(np.argmin(np.linalg.norm(seen - [x, y], axis=1)))
        assert nearest(points, CAMERA, SIZE, x, y, 20.0) == expected
    assert nearest(points, CAMERA, SIZE, -500.0, -500.0, 20.0) is None
    assert nearest(np.zeros((0, 3)), CAMERA, SIZE, 0.0, 0.0, 20.0) is None


def test_what_is_behind_the_eye_cannot_be_clicked():
    behind = CAMERA.position + 2.0 * (CAMERA.position - CAMERA.focal_point)
    assert np.all(np.isnan(on_screen(behind[None], CAMERA, SIZE)))
    assert nearest(behind[None], CAMERA, SIZE, 450.0, 300.0, 1e9) is None


def test_letters_keep_their_place_and_size_on_the_screen():
    anchors = np.array([[0.0, 0.0, 0.9], [1.0, 0.5, 0.9]])
    flat = np.array([[0.0, 0.0], [0.0, 1.0]])
    owner = np.array([0, 0, 1, 1])
    points = facing_points(anchors, np.vstack([flat, flat]), owner, 12.0, CAMERA, SIZE[1])
    seen = on_screen(points, CAMERA, SIZE)
    np.testing.assert_allclose(seen[[0, 2]], on_screen(anchors, CAMERA, SIZE), atol=1e-6)
    np.testing.assert_allclose(np.linalg.norm(seen[[1, 3]] - seen[[0, 2]], axis=1), 12.0, rtol=1e-6)


def test_letters_for_units_and_unknown_signs():
    made = lettering(["50 µm", "A1", "дом", ""], np.zeros((4, 3)), 10.0)
    widths = [np.ptp(made.flat[made.owner == n, 0]) if np.any(made.owner == n) else 0.0 for n in range(4)]
    assert widths[0] > widths[1] > 0.5
    assert widths[2] > 0.5  # question marks
    assert widths[3] == 0.0
    low = made.flat[made.owner == 0, 1].min()
    assert low < made.flat[made.owner == 1, 1].min() - 0.1  # the stem of the micro sign


@pytest.mark.parametrize("size", [(962, 688), (652, 687), (768, 352), (400, 240)])
@pytest.mark.parametrize("view", VIEWS)
def test_every_view_leaves_room_for_its_buttons(planned, view, size):
    layout = planned.layout
    foot = station_places(layout, tuple(layout.stations))[0]
    camera = view_camera(layout, view, size, foot)
    seen = on_screen(foot, camera, size)
    assert seen[:, 0].min() >= 0.0
    assert seen[:, 0].max() <= size[0]
    assert seen[:, 1].min() >= min(TOP_INSET, 0.2 * size[1])
    assert seen[:, 1].max() <= size[1] - 0.5 * BOTTOM_INSET


def test_a_close_look_passes_over_the_floor_and_holds_all_rolls():
    layout = read_layout(ROOT / "examples" / "coating_rolls" / "layout.yaml")
    far = np.array([[0.0, 0.0, 1.0]])
    names = tuple(layout.stations)
    assert any(layout.stations[name].surface not in layout.surfaces for name in names)
    close_camera(layout, names, far, (900.0, 600.0))
    camera = view_camera(layout, "bed", (900.0, 600.0))
    rolls = np.vstack([each.world_from_surface.origin for each in layout.surfaces.values()])
    places = on_screen(rolls, camera, (900.0, 600.0))
    assert np.all((places > 0.0) & (places < [900.0, 600.0]))
