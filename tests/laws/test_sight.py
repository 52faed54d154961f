"""Law 17: sight is symmetric, removing an obstacle never blocks, a wider beam stops wherever a narrower one does."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenes.model.machine import Column, Face
from scenes.shapes import Triangles, box, ring
from scenes.tracing import sight as sight_module
from scenes.tracing.clearance import crossings, segment_triangle_distances
from scenes.tracing.sight import Obstacles, Sight, sight_lines, triangles_of

seeds = st.integers(0, 2**32 - 1)


def obstacles(rng, count):
    """Random boxes in a hall, one owner each."""
    vertices, faces, owner, start = [], [], [], 0
    for number in range(count):
        mesh = box(*rng.uniform(0.1, 1.0, 2), 0.0, float(rng.uniform(0.5, 3.0)))
        vertices.append(mesh.vertices + rng.uniform(-3, 3, 3) * [1, 1, 0.2])
        faces.append(mesh.faces + start)
        owner.append(np.full(12, number))
        start += 8
    return Obstacles(
        Triangles(np.vstack(vertices), np.vstack(faces)), np.concatenate(owner), tuple(f"box {i}" for i in range(count))
    )


def rays(rng, n):
    return rng.uniform(-4, 4, (n, 3)), rng.uniform(-4, 4, (n, 3)), rng.uniform(1e-4, 0.05, n)


@settings(max_examples=60, deadline=None)
@given(seeds)
def test_sight_is_symmetric(seed):
    rng = np.random.default_rng(seed)
    hall = obstacles(rng, 6)
    start, end, radius = rays(rng, 40)
    there, back = sight_lines(hall, start, end, radius), sight_lines(hall, end, start, radius)
    assert np.array_equal(there.sight, back.sight)


@settings(max_examples=60, deadline=None)
@given(seeds)
def test_removing_an_obstacle_never_blocks(seed):
    rng = np.random.default_rng(seed)
    hall = obstacles(rng, 6)
    start, end, radius = rays(rng, 40)
    kept = hall.owner != rng.integers(6)
    fewer = Obstacles(Triangles(hall.triangles.vertices, hall.triangles.faces[kept]), hall.owner[kept], hall.names)
    before, after = sight_lines(hall, start, end, radius), sight_lines(fewer, start, end, radius)
    assert np.all(after.sight <= before.sight)
    # a beam that was blocked may now be clipped nearer by; apart from that it only gets longer
    comparable = (after.sight != Sight.CLIPPED) & (before.sight != Sight.CLIPPED)
    assert np.all(after.reach[comparable] >= before.reach[comparable])


@settings(max_examples=60, deadline=None)
@given(seeds, st.floats(1.0, 10.0))
def test_a_wider_beam_is_stopped_wherever_a_narrower_one_is(seed, wider):
    rng = np.random.default_rng(seed)
    hall = obstacles(rng, 6)
    start, end, radius = rays(rng, 40)
    narrow, wide = sight_lines(hall, start, end, radius), sight_lines(hall, start, end, wider * radius)
    assert np.all(wide.sight >= narrow.sight)


def test_many_triangles_give_the_same_answer_as_few(monkeypatch):
    """The cell locator and the pairwise kernel agree on which surface stops which beam, and where."""
    rng = np.random.default_rng(3)
    hall = obstacles(rng, 40)
    start, end, radius = rays(rng, 4000)
    few = sight_lines(hall, start, end, radius)
    monkeypatch.setattr(sight_module, "LARGE", 0)
    many = sight_lines(hall, start, end, radius)
    assert (few.sight == Sight.BLOCKED).sum() > 50
    assert np.array_equal(few.sight, many.sight)
    assert np.array_equal(few.by, many.by)
    assert np.allclose(few.reach, many.reach, atol=1e-9)


def test_distances_agree_with_dense_sampling():
    """Brute force on 200 pairs: no sampled pair of points is nearer, and one is as near to the sampling."""
    rng = np.random.default_rng(4)
    start, end = rng.normal(size=(200, 3)), rng.normal(size=(200, 3))
    corners = rng.normal(size=(200, 3, 3))
    distance, share = segment_triangle_distances(start, end, corners)
    t = np.linspace(0, 1, 60)
    u, v = (grid.ravel() for grid in np.meshgrid(t, t))
    u, v = u[u + v <= 1.0], v[u + v <= 1.0]
    for i in range(200):
        line = start[i] + t[:, None] * (end[i] - start[i])
        one, two = corners[i, 1] - corners[i, 0], corners[i, 2] - corners[i, 0]
        face = corners[i, 0] + u[:, None] * one + v[:, None] * two
        sampled = np.sqrt(((line[:, None] - face[None]) ** 2).sum(axis=2).min())
        assert distance[i] <= sampled + 1e-12
        assert sampled - distance[i] < 0.08  # step of the sampling: 1/60 of edges of some units
        assert 0.0 <= share[i] <= 1.0


def test_a_known_crossing():
    triangle = np.array([[[0.0, 0, 0], [1, 0, 0], [0, 1, 0]]])
    assert crossings(np.array([[0.2, 0.2, 1.0]]), np.array([[0.2, 0.2, -3.0]]), triangle)[0] == pytest.approx(0.25)
    assert np.isnan(crossings(np.array([[0.8, 0.8, 1.0]]), np.array([[0.8, 0.8, -3.0]]), triangle)[0])


def test_the_column_that_stands_between_is_named_and_the_reach_ends_at_its_face(bench):
    from scenes.checks.plan import traced_plan

    layout = bench.layout(
        obstacles={"west": ((-1.8, 0.2, 0.0), Column(0.2, 0.2, 3.0)), "east": ((2.5, 0.0, 0.0), Column(0.2, 0.2, 3.0))}
    )
    plan = traced_plan(layout)
    blocked = plan.sight.sight == Sight.BLOCKED
    assert {plan.obstacles.names[i] for i in plan.sight.by[blocked]} == {"west"}
    # a station straight behind the column: the free beam ends at the column's near face, 0.4 m away
    c4 = plan.geometry.rows.stations.index("C4")
    row = int(np.nonzero(plan.geometry.rows.station == c4)[0][0])
    along = plan.geometry.detector_centres()[row] - plan.geometry.beam_origins()[row]
    expected = 0.4 / (along[0] / np.linalg.norm(along))
    assert plan.sight.reach[row] == pytest.approx(expected, abs=1e-9)


def test_a_beam_that_grazes_a_column_is_clipped_not_blocked():
    hall = Obstacles(box(1.0, 1.0, 0.0, 2.0), np.zeros(12, dtype=np.int64), ("column",))
    start, end = np.array([[-3.0, 0.502, 1.0]]), np.array([[3.0, 0.502, 1.0]])
    assert sight_lines(hall, start, end, np.array([0.001])).sight[0] == Sight.CLEAR
    clipped = sight_lines(hall, start, end, np.array([0.003]))
    assert clipped.sight[0] == Sight.CLIPPED
    assert clipped.clearance[0] == pytest.approx(0.002)


@pytest.mark.parametrize("bore", [0.0, 0.5])
def test_a_disc_stops_light_and_a_ring_lets_it_through_its_bore(bore):
    mesh = triangles_of(Face(1.0, bore, 0.1))
    hall = Obstacles(mesh, np.zeros(len(mesh.faces), dtype=np.int64), ("face",))
    start = np.array([[0.0, 0.05, 1.0], [0.3, 0.0, 1.0], [0.52, 0.0, 1.0]])
    seen = sight_lines(hall, start, start - [0, 0, 2.0], np.full(3, 1e-4)).sight
    assert seen.tolist() == [Sight.CLEAR if bore else Sight.BLOCKED, Sight.BLOCKED, Sight.CLEAR]


def test_meshes_are_closed_and_face_outward():
    for mesh in (box(1, 2, 0, 3), ring(0.5, 0.2, 0, 0.1), ring(0.5, 0.0, 0, 0.1)):
        a, b, c = np.moveaxis(mesh.corners(), 1, 0)
        assert np.allclose(np.cross(b - a, c - a).sum(axis=0), 0.0, atol=1e-12)  # closed
        volume = np.einsum("ij,ij->i", a, np.cross(b, c)).sum() / 6.0
        assert volume > 0.0
