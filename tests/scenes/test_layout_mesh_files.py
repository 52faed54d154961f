"""Parts from files: every format gives the same part, and what is wrong with a file is told where it is named."""

from __future__ import annotations

import json
import struct
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from scenes.errors import LayoutError, Problem
from scenes.layout import mesh_files, read_layout
from scenes.model.machine import MeshPart
from scenes.shapes import Triangles, box, ring
from scenes.tracing.places import station_places, station_sides

TEXT = """layout: 1
machine:
  part: {mesh: {file: FILE, unit: mm}, at: [1 m, 2 m, 0.5 m], turned: 90 deg}
devices: {laser: {emitter: block}, base: {rotary base: standard}, t1: {target: two axes}}
stations:
  pads: {on: part, at: PLACES, mount: {post: 120 mm}}
setups:
  plane:
    emitter: {use: laser, on: floor, at: [-2 m, 0 m, 0 m], mount: {tripod: 0.9 m}}
    turned by: base
    reads: [pads]
    level by: vial
tasks:
  flat: {flatness: part, from: pads, limit: 60 um}
"""
PLACES = "{P1: [0.1 m, 0.1 m], P2: [-0.1 m, 0.1 m], P3: [-0.1 m, -0.1 m], P4: [0.1 m, -0.1 m]}"
BLOCK = box(0.6, 0.4, -0.1, 0.2)  # metres


def text_of(file: str, places: str = PLACES, unit: str = "mm") -> str:
    return TEXT.replace("FILE", file).replace("PLACES", places).replace("unit: mm", f"unit: {unit}")


def problems_of(folder: Path, text: str) -> tuple[Problem, ...]:
    try:
        read_layout(folder / "layout.yaml", text)
    except LayoutError as error:
        return error.problems
    return ()


def binary_stl(mesh: Triangles) -> bytes:
    """Written by hand, so that the reader is not tested with its own writer."""
    facets = b"".join(struct.pack("<12fH", 0, 0, 0, *corners.ravel(), 0) for corners in 1e3 * mesh.corners())
    return b"part".ljust(80) + struct.pack("<I", len(mesh.faces)) + facets


def ascii_stl(mesh: Triangles) -> bytes:
    lines = ["solid part"]
    for corners in 1e3 * mesh.corners():
        lines += ["facet normal 0 0 0", "outer loop", *(f"vertex {x:.9g} {y:.9g} {z:.9g}" for x, y, z in corners)]
        lines += ["endloop", "endfacet"]
    return "\n".join([*lines, "endsolid part", ""]).encode()


def obj(mesh: Triangles) -> bytes:
    lines = [f"v {x:.9g} {y:.9g} {z:.9g}" for x, y, z in 1e3 * mesh.vertices]
    return "\n".join([*lines, *(f"f {a} {b} {c}" for a, b, c in mesh.faces + 1), ""]).encode()


def ply(mesh: Triangles, kind: str) -> bytes:
    head = f"""ply
format {kind} 1.0
element vertex {len(mesh.vertices)}
property float x
property float y
property float z
element face {len(mesh.faces)}
property list uchar int vertex_indices
end_header
""".encode()
    if kind == "ascii":
        rows = [" ".join(f"{value:.9g}" for value in row) for row in 1e3 * mesh.vertices]
        return head + "\n".join([*rows, *(f"3 {a} {b} {c}" for a, b, c in mesh.faces), ""]).encode()
    order = "<" if kind == "binary_little_endian" else ">"
    vertices = (1e3 * mesh.vertices).astype(f"{order}f4").tobytes()
    return head + vertices + b"".join(struct.pack(f"{order}B3i", 3, *face) for face in mesh.faces)


def glb(mesh: Triangles, scale: float = 1e3) -> bytes:
    """Y is up in glTF: x, z, -y of ours."""
    x, y, z = (scale * mesh.vertices).T
    vertices = np.column_stack([x, z, -y]).astype("<f4")
    faces = mesh.faces.astype("<u2")
    data = vertices.tobytes() + faces.tobytes()
    header = {
        "asset": {"version": "2.0"}, "scene": 0, "scenes": [{"nodes": [0]}], "nodes": [{"mesh": 0}],
        "meshes": [{"primitives": [{"attributes": {"POSITION": 0}, "indices": 1}]}],
        "buffers": [{"byteLength": len(data)}],
        "bufferViews": [
            {"buffer": 0, "byteOffset": 0, "byteLength": vertices.nbytes},
            {"buffer": 0, "byteOffset": vertices.nbytes, "byteLength": faces.nbytes},
        ],
        "accessors": [
            {"bufferView": 0, "componentType": 5126, "count": len(vertices), "type": "VEC3",
             "min": vertices.min(axis=0).tolist(), "max": vertices.max(axis=0).tolist()},
            {"bufferView": 1, "componentType": 5123, "count": faces.size, "type": "SCALAR"},
        ],
    }  # fmt: skip
    said = json.dumps(header).encode()
    said += b" " * (-len(said) % 4)
    data += b"\0" * (-len(data) % 4)
    chunks = struct.pack("<II", len(said), 0x4E4F534A) + said + struct.pack("<II", len(data), 0x004E4942) + data
    return struct.pack("<III", 0x46546C67, 2, 12 + len(chunks)) + chunks


FILES = {
    "binary.stl": binary_stl(BLOCK), "ascii.stl": ascii_stl(BLOCK), "part.obj": obj(BLOCK),
    "ascii.ply": ply(BLOCK, "ascii"), "little.ply": ply(BLOCK, "binary_little_endian"),
    "big.PLY": ply(BLOCK, "binary_big_endian"), "part.glb": glb(BLOCK),
}  # fmt: skip


@pytest.mark.parametrize("name", FILES)
def test_every_format_gives_the_same_part(tmp_path, name: str) -> None:
    (tmp_path / "parts").mkdir()
    (tmp_path / "parts" / name).write_bytes(FILES[name])
    layout = read_layout(tmp_path / "layout.yaml", text_of(f"parts/{name}"))
    shape = layout.surfaces["part"].shape
    assert isinstance(shape, MeshPart)
    assert (shape.file, len(shape.triangles.faces), len(shape.triangles.vertices)) == (f"parts/{name}", 12, 8)
    order = np.lexsort(shape.triangles.vertices.round(6).T)
    np.testing.assert_allclose(shape.triangles.vertices[order], BLOCK.vertices[np.lexsort(BLOCK.vertices.T)], atol=1e-7)
    a, b, c = np.moveaxis(shape.triangles.corners(), 1, 0)
    assert np.einsum("ij,ij->i", a, np.cross(b, c)).sum() / 6.0 == pytest.approx(0.6 * 0.4 * 0.3)  # faces outward
    foot, normal, _ = station_places(layout, ("P1",))
    np.testing.assert_allclose(foot[0], [1 - 0.1, 2 + 0.1, 0.7], atol=1e-7)
    np.testing.assert_allclose(normal[0], [0, 0, 1], atol=1e-7)


def test_gltf_is_in_metres_where_no_unit_is_said(tmp_path) -> None:
    (tmp_path / "part.glb").write_bytes(glb(BLOCK, scale=1.0))
    layout = read_layout(tmp_path / "layout.yaml", text_of("part.glb").replace(", unit: mm", ""))
    np.testing.assert_allclose(
        np.ptp(layout.surfaces["part"].shape.triangles.vertices, axis=0), [0.6, 0.4, 0.3], atol=1e-7
    )


@pytest.mark.parametrize(("unit", "size"), [("m", 600.0), ("in", 600 * 0.0254), ("mm", 0.6)])
def test_the_unit_scales_the_part(tmp_path, unit: str, size: float) -> None:
    (tmp_path / "part.stl").write_bytes(FILES["binary.stl"])
    part = mesh_files.read_mesh_file(tmp_path / "part.stl", unit)
    assert np.ptp(part.vertices[:, 0]) == pytest.approx(size)


def test_stations_stand_square_to_the_nearest_triangle(tmp_path) -> None:
    """A tube, lying on its side after its axes have been exchanged: normals point away from its axis."""
    tube = ring(0.5, 0.3, -1.0, 1.0, 360)
    lying = Triangles(tube.vertices[:, [2, 0, 1]], tube.faces)
    (tmp_path / "tube.obj").write_bytes(obj(lying))
    places = "{T: [0.2 m, 0 m], S: [0.2 m, 0.3 m], B: [0 m, 0 m, -0.5 m], I: [0 m, 0 m, 0.3 m]}"
    layout = read_layout(tmp_path / "layout.yaml", text_of("tube.obj", places).replace(", turned: 90 deg", ""))
    foot, normal, _ = station_places(layout, ("T", "S", "B", "I"))
    np.testing.assert_allclose(foot, [[1.2, 2, 1], [1.2, 2.3, 0.9], [1, 2, 0], [1, 2, 0.8]], atol=1e-4)
    np.testing.assert_allclose(normal, [[0, 0, 1], [0, 0.6, 0.8], [0, 0, -1], [0, 0, -1]], atol=0.02)
    side = station_sides(layout, ("T", "S", "B", "I"))
    np.testing.assert_allclose(np.einsum("ij,ij->i", side, normal), 0.0, atol=1e-12)
    np.testing.assert_allclose(side[:, 0], 0.0, atol=1e-9)  # along is x


def test_a_line_on_a_mesh_follows_its_height(tmp_path) -> None:
    (tmp_path / "part.stl").write_bytes(FILES["binary.stl"])
    text = text_of("part.stl").replace(f"at: {PLACES}", "line: {from: [-0.2 m, 0 m], to: [0.2 m, 0 m], count: 5}")
    layout = read_layout(tmp_path / "layout.yaml", text)
    assert [layout.stations[f"L{i}"].at[2] for i in range(1, 6)] == pytest.approx([0.2] * 5)


def test_places_off_a_mesh(tmp_path) -> None:
    from scenes.checks.placement import check_places

    (tmp_path / "part.stl").write_bytes(FILES["binary.stl"])
    (problem,) = problems_of(tmp_path, text_of("part.stl", PLACES.replace("P1: [0.1 m", "P1: [0.4 m")))
    assert "nothing of 'part' lies at the place of station 'P1'" in problem.message
    assert problem.line == 6
    places = PLACES.replace("P1: [0.1 m, 0.1 m]", "P1: [0.1 m, 0.1 m, 0.203 m]").replace(
        "P2: [-0.1 m, 0.1 m]", "P2: [-0.1 m, 0.1 m, 0.2005 m]"
    )
    found = check_places(read_layout(tmp_path / "layout.yaml", text_of("part.stl", places)))
    assert [(finding.code, finding.name) for finding in found] == [("off-surface", "P1")]
    assert "3.0 mm outside part" in found[0].message


def stl_with(corners: np.ndarray) -> bytes:
    return b"x".ljust(80) + struct.pack("<I", 1) + struct.pack("<12fH", 0, 0, 0, *corners.ravel(), 0)


BAD = {
    "none.stl": (None, "there is no file 'none.stl' beside the layout"),
    "folder.stl": ("folder", "'folder.stl' is a folder, not a file"),
    "part.step": (b"ISO-10303-21;", "a part is read from .stl, .obj, .ply, .gltf, .glb, not from 'part.step'"),
    "nosuffix": (b"", "not from 'nosuffix'"),
    "empty.stl": (b"", "'empty.stl' has no triangles"),
    "solid.stl": (b"solid x\nendsolid x\n", "has no triangles"),
    "empty.obj": (b"# nothing\n", "has no triangles"),
    "points.ply": (ply(Triangles(BLOCK.vertices, np.zeros((0, 3), dtype=int)), "ascii"), "has no triangles"),
    "garbage.ply": (bytes(range(256)) * 9, "'garbage.ply' cannot be read"),
    "garbage.glb": (bytes(range(256)) * 9, "'garbage.glb' cannot be read"),
    "garbage.gltf": (b"{]", "'garbage.gltf' cannot be read"),
    "cut.ply": (FILES["little.ply"][:-40], "'cut.ply' cannot be read"),
    "cut.glb": (FILES["part.glb"][:-60], "'cut.glb' cannot be read"),
    "cut.stl": (FILES["binary.stl"][:-60], "'cut.stl'"),
    "wrong.obj": (b"v 1 2 3\nf 1 2 9\n", "'wrong.obj' cannot be read"),
    "nan.stl": (stl_with(np.array([[np.nan, 0, 0], [1, 0, 0], [0, 1, 0]])), "coordinates that are not numbers"),
    "infinite.stl": (stl_with(np.array([[np.inf, 0, 0], [1, 0, 0], [0, 1, 0]])), "coordinates that are not numbers"),
    "flat.stl": (stl_with(np.array([[0, 0, 0], [100, 0, 0], [200, 0, 0]])), "'flat.stl' has no triangle with an area"),
    "tiny.stl": (stl_with(np.array([[0, 0, 0], [0.3, 0, 0], [0, 0.3, 0]])), "in mm this part would be 0.0003 m large"),
    "huge.stl": (stl_with(np.array([[0, 0, 0], [3e6, 0, 0], [0, 3e6, 0]])), "in mm this part would be 3e+03 m large"),
}  # fmt: skip


@pytest.mark.parametrize("name", BAD)
def test_a_bad_file_gives_one_problem_where_it_is_named(tmp_path, name: str) -> None:
    content, message = BAD[name]
    if content == "folder":
        (tmp_path / name).mkdir()
    elif content is not None:
        (tmp_path / name).write_bytes(content)
    text = text_of(name)
    (problem,) = problems_of(tmp_path, text)
    assert message in problem.message
    line = text.splitlines()[2]
    assert (problem.line, problem.column) == (3, 1 + line.index("mm}" if "would be" in message else name))


def test_a_unit_is_needed_where_the_format_has_none(tmp_path) -> None:
    (tmp_path / "part.stl").write_bytes(FILES["binary.stl"])
    (problem,) = problems_of(tmp_path, text_of("part.stl").replace(", unit: mm", ""))
    assert (problem.message, problem.line) == ("a mesh needs the key 'unit'", 3)
    (problem,) = problems_of(tmp_path, text_of("part.stl", unit="kg"))
    assert "'kg' is not a unit of length" in problem.message


def test_too_many_triangles(tmp_path, monkeypatch) -> None:
    monkeypatch.setattr(mesh_files, "MOST_TRIANGLES", 11)
    (tmp_path / "many.stl").write_bytes(FILES["binary.stl"])
    (problem,) = problems_of(tmp_path, text_of("many.stl"))
    assert "'many.stl' has 12 triangles; at most 11 are taken" in problem.message
    monkeypatch.setattr(mesh_files, "LARGEST_FILE", 100)
    (problem,) = problems_of(tmp_path, text_of("many.stl"))
    assert "is larger than" in problem.message


def test_a_file_that_changes_is_read_again(tmp_path) -> None:
    (tmp_path / "part.stl").write_bytes(FILES["binary.stl"])
    before = mesh_files.read_mesh_file(tmp_path / "part.stl", "mm")
    assert mesh_files.read_mesh_file(tmp_path / "part.stl", "mm") is before
    (tmp_path / "part.stl").write_bytes(binary_stl(box(1.0, 1.0, 0.0, 1.0)))
    assert np.ptp(mesh_files.read_mesh_file(tmp_path / "part.stl", "mm").vertices[:, 0]) == pytest.approx(1.0)


def test_layouts_without_such_parts_do_not_load_the_reader() -> None:
    root = Path(__file__).parents[2]
    code = (
        "import sys; from scenes.layout import read_layout; read_layout(sys.argv[1]); print('trimesh' in sys.modules)"
    )
    command = [sys.executable, "-c", code, str(root / "tests" / "scenes" / "machine_hall.yaml")]
    done = subprocess.run(command, capture_output=True, text=True, cwd=root, check=False)
    assert (done.returncode, done.stdout.strip()) == (0, "False"), done.stderr
