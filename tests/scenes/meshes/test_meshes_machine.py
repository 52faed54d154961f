"""Surfaces of every kind in the picture: smooth, crisp at their edges, bores one can look into, moving parts."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import pyvista as pv

from scenes.frames import IDENTITY
from scenes.layout import read_layout
from scenes.meshes.feet import feet_mesh, foot_places
from scenes.meshes.machine import bore_meshes, machine_parts, outline_parts, surface_edges, surface_mesh
from scenes.meshes.plan_scene import station_parts
from scenes.meshes.scene_parts import Role
from scenes.meshes.solids import MOST_DRAWN, coarser
from scenes.meshes.station_marks import surface_marks
from scenes.model.machine import Bore, MeshPart, Rail, Roll, Surface
from scenes.model.survey import Feet
from scenes.shapes import Triangles, box
from scenes.tracing.places import station_places
from scenes.tracing.sight import triangles_of

HALL = Path(__file__).parents[1] / "machine_hall.yaml"
STEPPED = Surface("s", Bore(((0.2, 0.0, 1.0), (0.16, 1.0, 1.5), (0.2, 2.0, 2.4)), 0.03), IDENTITY)
NANOMETRE = 1e-9


@pytest.fixture(scope="module")
def hall():
    return read_layout(HALL)


def normals_of(mesh: pv.PolyData) -> np.ndarray:
    return np.asarray(mesh.point_data["Normals"], dtype=np.float64)


def test_a_roll_is_shaded_round_and_crisp_at_its_ends() -> None:
    mesh = surface_mesh(Surface("r", Roll(0.4, 2.0), IDENTITY))
    points, normals = np.asarray(mesh.points), normals_of(mesh)
    mantle = np.abs(normals[:, 2]) < 0.5
    out = points[mantle, :2] / np.linalg.norm(points[mantle, :2], axis=1)[:, None]
    assert np.einsum("ij,ij->i", out, normals[mantle, :2]).min() > np.cos(np.deg2rad(3.7))  # half of one of 100 sides
    assert np.abs(normals[~mantle, 2]).min() > 1 - 1e-6
    rims = surface_edges(Surface("r", Roll(0.4, 2.0), IDENTITY))
    assert set(np.round(np.asarray(rims.points)[:, 2], 9)) == {-1.0, 1.0}


def test_edges_of_a_stepped_bore_are_its_rims_and_steps() -> None:
    edges = surface_edges(STEPPED)
    z = np.round(np.asarray(edges.points)[:, 2], 6)
    radius = np.round(np.linalg.norm(np.asarray(edges.points)[:, :2], axis=1), 2)
    found = {(float(a), float(b)) for a, b in zip(z, radius, strict=True)}
    assert found == {(0.0, 0.1), (0.0, 0.13), (1.0, 0.1), (1.0, 0.08), (1.5, 0.08), (1.5, 0.13),
                     (2.0, 0.1), (2.0, 0.13), (2.4, 0.1), (2.4, 0.13)}  # fmt: skip


def test_the_inside_of_a_bore_is_apart_from_the_shell_around_it() -> None:
    inside, shell = bore_meshes(STEPPED)
    whole = triangles_of(STEPPED.shape)
    assert inside.n_cells + shell.n_cells == len(whole.faces)
    assert np.linalg.norm(np.asarray(shell.points)[:, :2], axis=1).min() > 0.13 - 1e-9
    lit = np.asarray(inside.compute_normals(cell_normals=True, point_normals=False).cell_data["Normals"])
    centres = np.asarray(inside.cell_centers().points)
    inward = np.einsum("ij,ij->i", lit[:, :2], centres[:, :2])
    liner = np.abs(lit[:, 2]) < 0.5
    assert inward[liner].max() < 0.0  # seen from the axis, and not drawn from behind
    assert np.abs(lit[~liner, 2]).min() > 1 - 1e-6


def test_every_surface_has_its_parts(hall) -> None:
    parts = {part.name: part for part in machine_parts(hall)}
    for name, surface in hall.surfaces.items():
        bore = isinstance(surface.shape, Bore)
        assert parts[f"surface {name}"].role is (Role.MACHINE_INSIDE if bore else Role.MACHINE_SURFACE)
        assert (f"shell {name}" in parts) == bore
        assert parts[f"edges {name}"].mesh.n_cells > 0
        assert parts[f"surface {name}"].place_name == name
    assert len(parts) == len(machine_parts(hall))
    assert sum(part.mesh.n_cells for part in parts.values()) < 2e4


def test_moving_parts_are_outlined_where_they_are_read_besides(hall) -> None:
    names = {part.name for part in outline_parts(hall)}
    assert names == {
        "edges slide@low", "edges ram@low", "edges slide@top", "edges ram@top", "edges gantry@back", "edges head@back",
    }  # fmt: skip
    outline = next(part.mesh for part in outline_parts(hall) if part.name == "edges slide@top")
    assert np.reshape(outline.bounds, (3, 2))[2] == pytest.approx([1.7, 2.2])


def test_dots_lie_on_their_surface_where_it_is_read(hall) -> None:
    names = tuple(hall.groups["under"].stations)
    marks = surface_marks(hall, names)
    foot, normal, _ = station_places(hall, names)
    for i in range(len(names)):
        cells = marks.extract_cells(np.nonzero(marks.cell_data["station"] == i)[0])
        np.testing.assert_allclose(cells.center, foot[i] + 2e-3 * normal[i], atol=1e-6)
    down = np.asarray(marks.compute_normals(cell_normals=True, point_normals=False).cell_data["Normals"])
    np.testing.assert_allclose(down, np.broadcast_to([0, 0, -1], down.shape), atol=1e-6)


def test_dots_are_not_larger_than_what_they_lie_on(hall) -> None:
    for part in station_parts(hall):
        shape = hall.surfaces[part.place_name].shape
        narrow = {Rail: lambda it: it.width, Roll: lambda it: 0.5 * it.diameter}.get(type(shape))
        if narrow is not None:
            one = part.mesh.extract_cells(
                np.nonzero(part.mesh.cell_data["station"] == part.mesh.cell_data["station"][0])[0]
            )
            assert one.length < narrow(shape)


def test_parts_of_very_many_triangles_are_drawn_with_fewer() -> None:
    u, v = (grid.ravel() for grid in np.meshgrid(np.linspace(0, 1, 400), np.linspace(0, 2, 300)))
    corner = np.arange(300 * 400).reshape(300, 400)
    a, b, c, d = (corner[i : i - 1 or None, j : j - 1 or None].ravel() for i, j in ((0, 0), (0, 1), (1, 1), (1, 0)))
    sheet = Triangles(
        np.column_stack([u, v, 0.1 * np.sin(3 * u) * v]),
        np.vstack([np.column_stack([a, b, c]), np.column_stack([a, c, d])]),
    )
    assert len(sheet.faces) > 2e5
    fewer = coarser(sheet)
    assert 1000 < len(fewer.faces) < MOST_DRAWN
    assert np.abs(fewer.vertices[:, 2] - 0.1 * np.sin(3 * fewer.vertices[:, 0]) * fewer.vertices[:, 1]).max() < 1e-3
    np.testing.assert_allclose(np.ptp(fewer.vertices, axis=0)[:2], [1, 2], atol=0.05)
    assert len(coarser(box(1, 1, 0, 1)).faces) == 12


@pytest.mark.parametrize(("name", "shape", "below"), [
    ("rail", Rail(30.0, 0.08, 0.1), 0.1), ("part", MeshPart("p.stl", box(2.0, 1.0, -0.4, 0.1)), 0.4),
])  # fmt: skip
def test_feet_stand_under_every_kind_of_surface(bench, name, shape, below) -> None:
    layout = bench.layout()
    surface = Surface(name, shape, layout.surfaces["bed"].world_from_surface)
    feet = Feet(name, ("F1", "F2"), np.array([[0.1, 0.0], [0.9, 0.0]]), True, 1e-3)
    layout = bench.replace(layout, surfaces={name: surface}, feet={name: feet})
    assert foot_places(layout, feet)[:, 2] == pytest.approx([0.85 - below] * 2)
    mesh = feet_mesh(layout, feet)
    assert mesh.n_cells > 0
    assert np.ptp(np.reshape(mesh.bounds, (3, 2))[1]) < 0.12  # pads of a rail are not wider than it by much
