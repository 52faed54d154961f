"""Law: what a shape hides is the shape. Rolls, rails, bores and moving parts against their own equations."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenes.layout import read_layout
from scenes.model.extent import beyond_edge, beyond_edges, beyond_outline
from scenes.model.machine import Bore, Column, Face, MeshPart, Plate, Rail, Roll
from scenes.model.mesh_places import heights_of_mesh, nearest_on_mesh
from scenes.shapes import Triangles, bodies_of, box, revolved, sides_for, tube
from scenes.tracing.sight import Obstacles, Sight, sight_lines
from scenes.tracing.solids import obstacles_of, triangles_of

HALL = Path(__file__).parents[1] / "scenes" / "machine_hall.yaml"
SAGITTA = 1.2e-4  # metres; how far the sides of a drawn circle may leave it
STEPPED = Bore(((0.2, 0.0, 1.0), (0.16, 1.0, 1.5), (0.2, 2.0, 2.4)), 0.03)
SHAPES = [
    Plate(2.0, 1.0, 0.2), Column(0.3, 0.4, 2.0), Face(1.0, 0.2, 0.1), Rail(5.0, 0.1, 0.15), Roll(0.4, 2.0), STEPPED,
    Bore(((0.3, 0.5, 0.9),), 0.05),
]  # fmt: skip
seeds = st.integers(0, 2**32 - 1)


def alone(mesh: Triangles) -> Obstacles:
    return Obstacles(mesh, np.zeros(len(mesh.faces), dtype=np.int64), ("part",))


def volume_of(mesh: Triangles) -> float:
    a, b, c = np.moveaxis(mesh.corners(), 1, 0)
    return float(np.einsum("ij,ij->i", a, np.cross(b, c)).sum() / 6.0)


def is_inside(shape, points: np.ndarray, grown: float = 0.0) -> np.ndarray:
    """Whether points are inside the material, which is ``grown`` [m] larger (or smaller) on all sides."""
    x, y, z = np.moveaxis(points, -1, 0)
    radius = np.hypot(x, y)
    match shape:
        case Roll():
            return (radius <= 0.5 * shape.diameter + grown) & (np.abs(z) <= 0.5 * shape.face + grown)
        case Rail():
            along = (x >= -grown) & (x <= shape.length + grown)
            return along & (np.abs(y) <= 0.5 * shape.width + grown) & (z <= grown) & (z >= -shape.height - grown)
        case Bore():
            hit = np.zeros(x.shape, dtype=bool)
            for body in bodies_of(shape.sections):
                outer = 0.5 * max(section[0] for section in body) + shape.wall
                for diameter, start, end in body:
                    here = (z >= start - grown) & (z <= end + grown)
                    hit |= here & (radius >= 0.5 * diameter - grown) & (radius <= outer + grown)
            return hit
    raise TypeError(shape)


@pytest.mark.parametrize("shape", SHAPES, ids=lambda shape: type(shape).__name__)
def test_solids_are_closed_and_face_outward(shape) -> None:
    mesh = triangles_of(shape)
    a, b, c = np.moveaxis(mesh.corners(), 1, 0)
    normals = np.cross(b - a, c - a)
    assert np.linalg.norm(normals, axis=1).min() > 0.0
    assert np.allclose(normals.sum(axis=0), 0.0, atol=1e-12)
    edges = np.concatenate([mesh.faces[:, [0, 1]], mesh.faces[:, [1, 2]], mesh.faces[:, [2, 0]]])
    there, number = np.unique(np.round(mesh.vertices, 9), axis=0, return_inverse=True)
    edges = number.ravel()[edges]
    forth, back = edges[:, 0] * len(there) + edges[:, 1], edges[:, 1] * len(there) + edges[:, 0]
    assert np.array_equal(np.sort(forth), np.sort(back))  # every edge is met once in either sense
    assert volume_of(mesh) > 0.0


def test_volumes_are_those_of_the_parts() -> None:
    roll, bore = Roll(0.4, 2.0), STEPPED
    assert volume_of(triangles_of(roll)) == pytest.approx(np.pi * 0.2**2 * 2.0, rel=2e-3)
    expected = np.pi * (
        (0.13**2 - 0.1**2) * 1.0 + (0.13**2 - 0.08**2) * 0.5 + (0.13**2 - 0.1**2) * 0.4
    )  # the middle section shares the body of the first
    assert volume_of(triangles_of(bore)) == pytest.approx(expected, rel=5e-3)
    assert volume_of(triangles_of(Rail(5.0, 0.1, 0.15))) == pytest.approx(5.0 * 0.1 * 0.15)


def test_sections_of_one_size_that_touch_are_one_smooth_bore() -> None:
    parted = tube([(0.2, 0.0, 1.0), (0.2, 1.0, 2.0)], 0.03)
    assert volume_of(parted) == pytest.approx(volume_of(tube([(0.2, 0.0, 2.0)], 0.03)))


@given(st.floats(1e-3, 20.0))
def test_a_circle_has_as_many_sides_as_it_needs(radius: float) -> None:
    sides = sides_for(radius)
    assert 48 <= sides <= 256
    assert sides % 4 == 0
    if sides < 256:
        assert radius * (1.0 / np.cos(np.pi / sides) - 1.0) <= 1.0e-4 * (1 + 1e-9)


def test_a_section_may_touch_the_axis() -> None:
    cone = revolved([0.5, 0.0, 0.0], [0.0, 1.0, 0.0], 400)
    assert volume_of(cone) == pytest.approx(np.pi * 0.25 / 3.0, rel=1e-3)


@settings(max_examples=30, deadline=None)
@given(seeds, st.sampled_from([Roll(0.4, 2.0), Rail(2.0, 0.2, 0.3), STEPPED]))
def test_a_beam_is_stopped_where_it_meets_the_material(seed, shape) -> None:
    """Against the equations of the shape, sampled along each beam; 50 beams each time."""
    rng = np.random.default_rng(seed)
    mesh = triangles_of(shape)
    low, high = mesh.vertices.min(axis=0) - 0.3, mesh.vertices.max(axis=0) + 0.3
    start, end = rng.uniform(low, high, (50, 3)), rng.uniform(low, high, (50, 3))
    start, end = (np.where(is_inside(shape, points, 0.01)[:, None], high, points) for points in (start, end))
    along = start[:, None] + np.linspace(0, 1, 4000)[None, :, None] * (end - start)[:, None]
    deep = is_inside(shape, along, -SAGITTA).any(axis=1)
    near = is_inside(shape, along, SAGITTA + 1e-3).any(axis=1)  # the beams are sampled every millimetre
    sight = sight_lines(alone(mesh), start, end, np.full(50, 1e-6)).sight
    apart = np.linalg.norm(end - start, axis=1) > 0.01
    assert np.all(sight[deep & apart] == Sight.BLOCKED)
    assert np.all(sight[~near] == Sight.CLEAR)


@settings(max_examples=40, deadline=None)
@given(seeds)
def test_a_beam_inside_a_bore_is_clear_and_keeps_its_distance_from_the_wall(seed) -> None:
    rng = np.random.default_rng(seed)
    bore = Bore(((0.18, 0.0, 6.0),), 0.04)
    turn, out = rng.uniform(0, 2 * np.pi, (2, 20)), 0.08 * np.sqrt(rng.uniform(0, 1, (2, 20)))
    ends = np.stack([out * np.cos(turn), out * np.sin(turn), np.array([[-0.5], [6.5]]).repeat(20, axis=1)], axis=-1)
    wide = np.full(20, 0.2)  # so that the distance is worked out for all
    seen = sight_lines(alone(triangles_of(bore)), ends[0], ends[1], wide)
    inside = np.linspace(0.5 / 7.0, 6.5 / 7.0, 5000)
    line = ends[0][:, None] + inside[None, :, None] * (ends[1] - ends[0])[:, None]
    least = 0.09 - np.hypot(line[..., 0], line[..., 1]).max(axis=1)
    assert np.all(seen.sight == Sight.CLIPPED)
    assert np.all(seen.clearance <= least + 1e-6)
    assert np.all(seen.clearance >= least - SAGITTA - 1e-6)
    assert np.all(sight_lines(alone(triangles_of(bore)), ends[0], ends[1], np.full(20, 1e-3)).sight == Sight.CLEAR)


def test_the_wall_of_a_bore_stops_a_beam_and_a_gap_lets_it_pass() -> None:
    mesh = triangles_of(STEPPED)
    start = np.array([[0.0, -1.0, 0.5], [0.0, -1.0, 1.75], [0.0, 0.09, -1.0], [0.0, 0.0, -1.0]])
    end = np.array([[0.0, 0.0, 0.5], [0.0, 1.0, 1.75], [0.0, 0.09, 3.0], [0.0, 0.0, 3.0]])
    lines = sight_lines(alone(mesh), start, end, np.full(4, 1e-4))
    # through the wall, through the gap, against the step at 1 m, along the axis
    assert lines.sight.tolist() == [Sight.BLOCKED, Sight.CLEAR, Sight.BLOCKED, Sight.CLEAR]
    assert lines.reach[0] == pytest.approx(1.0 - 0.13, abs=SAGITTA)
    assert lines.reach[2] == pytest.approx(1.0 + 1.0, abs=1e-9)


@pytest.fixture(scope="module")
def hall():
    return read_layout(HALL)


def test_a_roll_in_the_way_is_named(hall) -> None:
    obstacles = obstacles_of(hall)
    line = np.array([[7.0, 0.0, 1.1]]), np.array([[11.0, 0.0, 1.1]])
    seen = sight_lines(obstacles, *line, np.array([1e-3]))
    assert obstacles.names[seen.by[0]] == "roll_1"
    assert seen.reach[0] == pytest.approx(0.8, abs=SAGITTA)
    behind = sight_lines(obstacles_of(hall, without=("roll_1",)), *line, np.array([1e-3]))
    assert behind.sight[0] == Sight.BLOCKED  # by the second one
    assert behind.reach[0] == pytest.approx(3.4 - 0.15, abs=SAGITTA)


@pytest.mark.parametrize(("position", "z", "blocked"), [
    ("low", 1.15, True), ("low", 1.05, False), ("mid", 1.15, False), ("mid", 1.45, True), ("top", 1.45, False),
    ("top", 2.25, False), ("top", 2.15, True),
])  # fmt: skip
def test_a_slide_stops_light_where_it_stands(hall, position: str, z: float, blocked: bool) -> None:
    """The slide is 500 mm high; its side that faces down is at 1.1 m, 1.4 m and 1.7 m."""
    obstacles = obstacles_of(hall, positions={"slide": position})
    line = np.array([[-3.0, 0.5, z]]), np.array([[3.0, 0.5, z]])
    seen = sight_lines(obstacles, *line, np.array([1e-3]))
    assert (seen.sight[0] == Sight.BLOCKED) == blocked
    if blocked:
        assert obstacles.names[seen.by[0]] == "slide"
    assert obstacles.names == obstacles_of(hall).names  # so that numbers mean the same at every position


@pytest.mark.parametrize(("position", "side"), [("low", 1.1), ("mid", 1.4), ("top", 1.7)])
def test_what_stands_on_a_slide_goes_with_it(hall, position: str, side: float) -> None:
    """The ram reaches 100 mm up from its side that faces down, which is that of the slide."""
    obstacles = obstacles_of(hall, without=("slide",), positions={"slide": position})
    start = np.array([[-3.0, -0.2, z + 0.05] for z in (1.1, 1.4, 1.7)])
    seen = sight_lines(obstacles, start, start + np.array([6.0, 0.0, 0.0]), np.full(3, 1e-3))
    expected = [Sight.BLOCKED if z == side else Sight.CLEAR for z in (1.1, 1.4, 1.7)]
    assert seen.sight.tolist() == expected
    assert obstacles.names[seen.by.max()] == "ram"


SURFACE_POINTS = [
    (Plate(2.0, 1.0, 0.2), (0.9, -0.5, 0.0), 0.0), (Plate(2.0, 1.0, 0.2), (1.2, -0.5, 0.0), 0.2),
    (Face(1.0, 0.2, 0.1), (0.0, 0.05, 0.0), 0.05), (Rail(5.0, 0.1, 0.15), (5.0, 0.05, 0.0), 0.0),
    (Rail(5.0, 0.1, 0.15), (-0.3, 0.0, 0.0), 0.3), (Rail(5.0, 0.1, 0.15), (1.0, 0.05, -0.1), 0.0),
    (Rail(5.0, 0.1, 0.15), (1.0, 0.05, -0.25), 0.1), (Roll(0.4, 2.0), (0.2, 0.0, 1.0), 0.0),
    (Roll(0.4, 2.0), (0.2, 0.0, 1.5), 0.5), (Roll(0.4, 2.0), (0.0, 0.25, 0.0), 0.05),
    (Roll(0.4, 2.0), (0.0, 0.15, 0.0), 0.05), (STEPPED, (0.0, 0.0, 0.5), 0.0), (STEPPED, (0.0, 0.1, 0.5), 0.0),
    (STEPPED, (0.0, 0.1, 1.2), 0.02), (STEPPED, (0.0, 0.0, 1.7), 0.2), (STEPPED, (0.0, 0.04, 2.7), 0.3),
    (STEPPED, (0.0, 0.13, 2.8), float(np.hypot(0.4, 0.03))), (Column(1.0, 2.0, 3.0), (0.5, 1.2, 0.0), 0.2),
]  # fmt: skip


@pytest.mark.parametrize(("shape", "place", "beyond"), SURFACE_POINTS)
def test_how_far_a_place_lies_off_a_surface(shape, place, beyond) -> None:
    assert beyond_edge(shape, *place) == pytest.approx(beyond, abs=1e-12)
    both = beyond_edges(shape, np.array([place, place]))
    assert both.shape == (2,)
    assert both == pytest.approx([beyond, beyond], abs=1e-12)


def test_outlines_for_feet() -> None:
    assert beyond_outline(Rail(5.0, 0.1, 0.15), 4.9, 0.05) == 0.0
    assert beyond_outline(Rail(5.0, 0.1, 0.15), -0.1, 0.0) == pytest.approx(0.1)
    assert beyond_outline(Roll(0.4, 2.0), 0.1, 0.1) == 0.0
    assert beyond_outline(STEPPED, 0.0, 0.14) == pytest.approx(0.01)
    part = MeshPart("part.stl", box(2.0, 1.0, -0.5, 0.0))
    assert beyond_outline(part, 0.9, 0.4) == 0.0
    assert beyond_outline(part, 0.9, -0.6) == pytest.approx(0.1)


@settings(max_examples=12, deadline=None)
@given(seeds)
def test_the_nearest_place_on_a_mesh_is_the_nearest_of_all(seed) -> None:
    """A crumpled mesh of 300 triangles: no sampled point of it is nearer, and the one found lies on it."""
    rng = np.random.default_rng(seed)
    mesh = Triangles(rng.normal(size=(150, 3)), rng.permuted(np.tile(np.arange(150), (300, 1)), axis=1)[:, :3])
    points = 1.5 * rng.normal(size=(20, 3))
    feet, normals = nearest_on_mesh(mesh, points)
    u = rng.uniform(size=(2, 400))
    u = np.where(u.sum(axis=0) > 1.0, 1.0 - u, u)
    a, b, c = np.moveaxis(mesh.corners(), 1, 0)
    cloud = (a[:, None] + u[0][None, :, None] * (b - a)[:, None] + u[1][None, :, None] * (c - a)[:, None]).reshape(
        -1, 3
    )
    distance = np.linalg.norm(feet - points, axis=1)
    sampled = np.linalg.norm(cloud[None] - points[:, None], axis=2).min(axis=1)
    assert np.all(distance <= sampled + 1e-12)
    np.testing.assert_allclose(np.linalg.norm(normals, axis=1), 1.0)
    on_it, _ = nearest_on_mesh(mesh, feet)
    np.testing.assert_allclose(on_it, feet, atol=1e-9)


def test_a_mesh_is_met_from_above() -> None:
    mesh = box(2.0, 1.0, -0.5, 0.25)
    heights = heights_of_mesh(mesh, np.array([[0.0, 0.0], [1.0, 0.5], [-0.3, 0.2], [1.01, 0.0]]))
    np.testing.assert_array_equal(np.isnan(heights), [False, False, False, True])
    assert heights[:3] == pytest.approx([0.25, 0.25, 0.25])
    ball = triangles_of(Roll(1.0, 1.0))
    lying = Triangles(ball.vertices[:, [2, 0, 1]], ball.faces)
    x = np.linspace(-0.49, 0.49, 101)
    assert heights_of_mesh(lying, np.column_stack([np.zeros(101), x])) == pytest.approx(np.sqrt(0.25 - x**2), abs=2e-3)
