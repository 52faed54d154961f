"""Parts drawn elsewhere: triangles of an STL, OBJ, PLY or glTF file, in metres."""

from __future__ import annotations

import logging
import warnings
from functools import lru_cache
from io import BytesIO
from pathlib import Path

import numpy as np

from ..shapes import Triangles
from ..units import factor_to_si
from ..vectors import Floats, Indices, length

__all__ = ["MOST_TRIANGLES", "MeshFileError", "read_mesh_file"]

SUFFIXES = (".stl", ".obj", ".ply", ".gltf", ".glb")
IN_METRES = (".gltf", ".glb")
"""Formats that are in metres, with y up. Source: Khronos, glTF 2.0 specification, section 3.4."""

MOST_TRIANGLES = 2_000_000
LARGEST_FILE = 800_000_000  # bytes; so many triangles as text
MIX = np.uint64(0x9E3779B97F4A7C15)  # any odd number with many digits
SMALLEST_PART, LARGEST_PART = 1e-3, 1e3  # metres; outside this the unit is a slip of the pen


class MeshFileError(ValueError):
    """A part cannot be read; ``key`` of the layout is to blame, ``advice`` says what to do."""

    def __init__(self, message: str, advice: str = "", key: str = "file") -> None:
        self.advice, self.key = advice, key
        super().__init__(message)


def read_mesh_file(path: Path, unit: str | None) -> Triangles:
    """Triangles of the file, coordinates in metres, z up.

    Parameters
    ----------
    unit : str or None
        Unit of the coordinates; None for a glTF file, which is in metres.

    Raises
    ------
    MeshFileError
    """
    suffix = path.suffix.lower()
    if suffix not in SUFFIXES:
        raise MeshFileError(f"a part is read from {', '.join(SUFFIXES)}, not from '{path.name}'", "export it as STL")
    if unit is None and suffix not in IN_METRES:
        advice = f"{suffix} files do not say it, for example unit: mm"
        raise MeshFileError("a mesh needs the key 'unit'", advice, "unit")
    try:
        about = path.stat()
    except (OSError, ValueError):  # a path may hold signs that no path can
        raise MeshFileError(f"there is no file '{path.name}' beside the layout", "the path counts from there") from None
    if not path.is_file():
        raise MeshFileError(f"'{path.name}' is a folder, not a file", "name the file in it")
    if about.st_size > LARGEST_FILE:
        raise MeshFileError(f"'{path.name}' is larger than {LARGEST_FILE // 1_000_000} MB", "export fewer triangles")
    return _read(path, unit or "m", about.st_mtime_ns)


@lru_cache(maxsize=8)
def _read(path: Path, unit: str, _changed: int) -> Triangles:
    """The same for a file that is there; read once while it does not change."""
    vertices, faces = _parsed(path)
    if len(faces) == 0:
        raise MeshFileError(f"'{path.name}' has no triangles")
    if len(faces) > MOST_TRIANGLES:
        message = f"'{path.name}' has {len(faces)} triangles; at most {MOST_TRIANGLES} are taken"
        raise MeshFileError(message, "export it coarser")
    vertices = vertices[faces].reshape(-1, 3)
    if not np.isfinite(vertices).all():
        raise MeshFileError(f"'{path.name}' has coordinates that are not numbers", "export it again")
    if path.suffix.lower() in IN_METRES:
        vertices = np.column_stack([vertices[:, 0], -vertices[:, 2], vertices[:, 1]])
    vertices *= factor_to_si(unit, "length")[0]
    size = float(np.ptp(vertices, axis=0).max())
    if not SMALLEST_PART <= size <= LARGEST_PART:
        raise MeshFileError(f"in {unit} this part would be {size:.3g} m large", "correct the unit", "unit")
    joined = _joined(vertices)
    if len(joined.faces) == 0:
        raise MeshFileError(f"'{path.name}' has no triangle with an area", "export it again")
    return joined


def _parsed(path: Path) -> tuple[Floats, Indices]:
    """Vertices and faces of all meshes of the file, in the units of the file."""
    import trimesh  # half a second that layouts without such a part do not pay
    from trimesh.resolvers import FilePathResolver

    logging.getLogger("trimesh").setLevel(logging.CRITICAL)  # what matters is said in the layout's own words
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            scene = trimesh.load_scene(
                BytesIO(path.read_bytes()), file_type=path.suffix.lower()[1:], resolver=FilePathResolver(str(path)),
                process=False, skip_materials=True,
            )  # fmt: skip
            mesh = scene.to_mesh()
    except Exception as error:  # a damaged file makes a reader fail in any way
        what = "is too large for the memory of this machine" if isinstance(error, MemoryError) else "cannot be read"
        kind = path.suffix.lower()[1:].upper().replace("GL", "gl")
        raise MeshFileError(f"'{path.name}' {what}", f"is it a {kind} file?") from None
    return np.array(mesh.vertices, dtype=np.float64), np.array(mesh.faces, dtype=np.int64)


def _joined(corners: Floats) -> Triangles:
    """Triangles out of their corners, three by three (3 m, 3); those at exactly one place become one vertex.

    Files such as STL give every triangle corners of its own. One sort of a number made of the bits of each place does
    it; ``numpy.unique`` over rows takes ten times as long.
    """
    corners = corners + 0.0  # -0 is 0
    number = np.zeros(len(corners), dtype=np.uint64)
    for bits in np.ascontiguousarray(corners.T).view(np.uint64):
        number = (number ^ bits) * MIX
        number ^= number >> np.uint64(29)  # else the signs of two coordinates could cancel
    _, first, vertex = np.unique(number, return_index=True, return_inverse=True)
    vertices = corners[first]
    if not np.array_equal(vertices[vertex], corners):  # two places of one number: rare, and then slow
        vertices, vertex = np.unique(corners, axis=0, return_inverse=True)
    faces = vertex.reshape(-1, 3)
    one, two = (vertices[faces[:, i]] - vertices[faces[:, 0]] for i in (1, 2))
    return Triangles(vertices, faces).only(length(np.cross(one, two)) > 0.0)
