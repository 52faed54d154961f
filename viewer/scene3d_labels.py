"""Names in the picture: flat letters that turn to the camera and keep their size on the screen.

They are meshes like everything else, so a picture drawn in the browser shows them too (as they last stood).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np
import pyvista as pv
from vtkmodules.util.numpy_support import vtk_to_numpy
from vtkmodules.vtkRenderingFreeType import vtkVectorText

from scenes.meshes.cameras import VIEW_ANGLE, Camera
from scenes.vectors import Flags, Floats, Indices, unit
from viewer.logic.picking import on_screen

__all__ = ["Lettering", "facing_points", "free_places", "lettering"]

PULL = 0.06
"""Letters are drawn this share of the way nearer to the eye, so that what they stand at does not hide them."""

USUAL_HEIGHT = 760
"""Letters grow with pictures higher than this [pixels]: those of fine screens, and files for print."""

KNOWN = frozenset(chr(code) for code in range(32, 127))
MISSING = "?"
REPLACED = str.maketrans({"\u00d7": "x", "\u202f": " ", "\u00a0": " ", "\u2013": "-", "\u2212": "-"})
"""Signs that the library lacks and that a plain letter can stand for."""

MARGIN = 0.3
"""Room around the letters on their plate, in heights of a letter."""

GAP, SPACE = 0.12, 0.35
"""Room between pieces of a text, and that of a blank, in heights of a letter."""


def _drawn(text: str) -> tuple[Floats, Indices]:
    """Points ``(p, 2)`` and triangles of a text as the library draws it; letters that it lacks are replaced."""
    writer = vtkVectorText()
    writer.SetText("".join(letter if letter in KNOWN else MISSING for letter in text.translate(REPLACED)))
    writer.Update()
    drawn = pv.wrap(writer.GetOutput()).triangulate()
    if drawn.n_points == 0:
        return np.zeros((0, 2)), np.zeros((0, 3), dtype=np.int64)
    points = np.array(vtk_to_numpy(drawn.GetPoints().GetData()), dtype=np.float64)[:, :2]
    return points, np.array(drawn.faces.reshape(-1, 4)[:, 1:], dtype=np.int64)


def _micro() -> tuple[Floats, Indices]:
    """The sign for a millionth: the letter u with a stem."""
    points, faces = _drawn("u")
    left = float(points[:, 0].min())
    stem = np.array([[left, -0.28], [left + 0.11, -0.28], [left + 0.11, 0.2], [left, 0.2]])
    n = len(points)
    return np.vstack([points, stem]), np.vstack([faces, [[n, n + 1, n + 2], [n, n + 2, n + 3]]])


@lru_cache(maxsize=4096)
def _letters(text: str) -> tuple[Floats, Indices]:
    """Points ``(p, 2)`` and triangles ``(t, 3)`` of a text one unit high, its middle at zero."""
    pen, points, faces = 0.0, np.zeros((0, 2)), np.zeros((0, 3), dtype=np.int64)
    for number, piece in enumerate(text.split("\u00b5")):
        for made in ([_micro()] if number else []) + [_drawn(piece)]:
            faces = np.vstack([faces, made[1] + len(points)])
            points = np.vstack([points, made[0] + [pen, 0.0]])
            pen = float(points[:, 0].max()) + GAP if len(points) else 0.0
        pen += SPACE * (len(piece) - len(piece.rstrip()))
    if len(points):
        points = points - [0.5 * (points[:, 0].min() + points[:, 0].max()), 0.5]
    return points, faces


@dataclass(slots=True, eq=False)
class Lettering:
    """Texts and the points that they stand at.

    Attributes
    ----------
    mesh : pyvista.PolyData
        Its points move with the camera.
    anchors : (k, 3) float
        World, metres.
    flat : (p, 2) float
        Letters in the plane of the screen, in heights of a letter.
    owner : (p,) int
        Anchor of each point.
    pixels : float
        Height of a letter on the screen.
    plates : pyvista.PolyData or None
        Rectangles behind the texts, with ``corners`` (4 k, 2) in heights of a letter.
    sparse : bool
        Leave out texts that would lie over earlier ones, as the picture stands.
    """

    mesh: pv.PolyData
    anchors: Floats
    flat: Floats
    owner: Indices
    pixels: float
    plates: pv.PolyData | None = None
    corners: Floats = field(default_factory=lambda: np.zeros((0, 2)))
    sparse: bool = False
    _last: Floats = field(default_factory=lambda: np.zeros(0))

    def turn(self, camera: Camera, height: int) -> None:
        """Turn all letters to ``camera``, for a picture ``height`` pixels high."""
        if len(self.flat) == 0:
            return
        seen = np.concatenate([camera.position, camera.focal_point, camera.up, [height], self.anchors.ravel()])
        if seen.shape == self._last.shape and np.array_equal(seen, self._last):
            return
        self._last = seen
        shown = np.ones(len(self.anchors))
        if self.sparse:
            shown = free_places(self.anchors, self._boxes(), self.pixels, camera, height).astype(np.float64)
        flat = shown[self.owner, None] * self.flat
        self.mesh.points = facing_points(self.anchors, flat, self.owner, self.pixels, camera, height)
        if self.plates is not None:
            owner = np.repeat(np.arange(len(self.anchors)), 4)
            corners = shown[owner, None] * self.corners
            self.plates.points = facing_points(self.anchors, corners, owner, self.pixels, camera, height, PULL - 0.002)

    def _boxes(self) -> Floats:
        """Lowest and highest corner ``(k, 2, 2)`` of each text, in heights of a letter."""
        boxes = np.zeros((len(self.anchors), 2, 2))
        np.minimum.at(boxes[:, 0], self.owner, self.flat)
        np.maximum.at(boxes[:, 1], self.owner, self.flat)
        return boxes


def free_places(anchors: Floats, boxes: Floats, pixels: float, camera: Camera, height: int) -> Flags:
    """Texts ``(k,)`` that lie over none of those before them that are shown; ``boxes`` (k, 2, 2) in letter heights."""
    size = pixels * height / min(max(1, height), USUAL_HEIGHT)
    place = on_screen(anchors, camera, (0.0, float(height)))
    place = np.where(np.isfinite(place), place, 1e9)
    low = place + size * np.column_stack([boxes[:, 0, 0], -boxes[:, 1, 1]])
    high = place + size * np.column_stack([boxes[:, 1, 0], -boxes[:, 0, 1]])
    over: Flags = np.all((low[:, None] < high[None]) & (low[None] < high[:, None]), axis=-1)
    shown = np.zeros(len(anchors), dtype=bool)
    for number in range(len(anchors)):
        shown[number] = not (over[number] & shown).any()
    return shown


def facing_points(
    anchors: Floats, flat: Floats, owner: Indices, pixels: float, camera: Camera, height: int, pull: float = PULL
) -> Floats:
    """World points of letters that face ``camera``, ``pixels`` high in a picture of usual ``height``."""
    toward = unit(camera.position - camera.focal_point)
    right = unit(np.cross(camera.up, toward))
    above = np.cross(toward, right)
    near = anchors + pull * (camera.position - anchors)
    depth = np.maximum((camera.position - near) @ toward, 1e-3)
    size = 2.0 * depth * np.tan(0.5 * np.deg2rad(VIEW_ANGLE)) * pixels / min(max(1, height), USUAL_HEIGHT)
    grown = size[owner, None] * flat
    result: Floats = near[owner] + grown[:, :1] * right + grown[:, 1:] * above
    return result


def lettering(texts: list[str], anchors: Floats, pixels: float, rise: float = 0.0, sparse: bool = False) -> Lettering:
    """Letters for ``texts`` at ``anchors`` (k, 3), ``pixels`` high, their middle ``rise`` letter heights above them."""
    made = [_letters(text) for text in texts]
    count = np.array([len(points) for points, _ in made], dtype=np.int64)
    before = np.concatenate([[0], np.cumsum(count)[:-1]]).astype(np.int64) if made else np.zeros(0, dtype=np.int64)
    flat = np.vstack([np.zeros((0, 2)), *(points + np.array([0.0, rise]) for points, _ in made)])
    faces = np.vstack([np.zeros((0, 3), dtype=np.int64), *(f + b for (_, f), b in zip(made, before, strict=True))])
    owner = np.repeat(np.arange(len(texts)), count)
    start = np.asarray(anchors, dtype=np.float64).reshape(-1, 3)
    rows = np.column_stack([np.full(len(faces), 3), faces]).ravel().astype(np.int64)
    mesh = pv.PolyData(start[owner].copy(), faces=rows, deep=True) if len(faces) else pv.PolyData()
    plates, corners = _plates([points for points, _ in made], start, rise)
    return Lettering(mesh, start, flat, owner, pixels, plates, corners, sparse)


def _plates(letters: list[Floats], anchors: Floats, rise: float) -> tuple[pv.PolyData | None, Floats]:
    """Rectangles behind the texts, a little larger than these."""
    if not letters:
        return None, np.zeros((0, 2))
    half = np.array([np.abs(points[:, 0]).max() if len(points) else 0.0 for points in letters]) + MARGIN
    tall = 0.5 + MARGIN
    corners = np.stack([
        np.column_stack([side * half, np.full(len(half), rise + up * tall)])
        for side, up in ((-1, -1), (1, -1), (1, 1), (-1, 1))
    ], axis=1).reshape(-1, 2)  # fmt: skip
    faces = np.column_stack([np.full(len(half), 4), np.arange(4 * len(half)).reshape(-1, 4)]).ravel()
    return pv.PolyData(np.repeat(anchors, 4, axis=0), faces=faces, deep=True), corners
