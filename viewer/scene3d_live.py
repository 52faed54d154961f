"""Stations in the picture while they are read: a mark and a value each, and the beam that is read next.

Marks keep their size on the screen and tell the state by their shape; colour comes beside.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pyvista as pv

from scenes.checks.plan import Plan
from scenes.meshes.beams import beam_of, beam_paths, drawn_radius
from scenes.meshes.cameras import Camera
from scenes.meshes.scene_parts import Part, Role
from scenes.model.layout import Layout
from scenes.tracing.places import station_places
from scenes.vectors import Floats, Indices
from viewer.logic.live_spots import State
from viewer.scene3d import Scene
from viewer.scene3d_labels import PULL, Lettering, facing_points, lettering

__all__ = ["GROUP", "LivePicture", "next_beam"]

GROUP = "live"
ABOVE = 0.02
"""Marks stand this far above the surface, metres."""
CORNERS, FEW_CORNERS = 24, 10
MANY = 200
"""With more marks of one state than this each has fewer corners."""

WORDS_SHOWN = 160
"""So many words are written at most: at the next station, at doubtful ones, and at those read last."""

NEARER = PULL + 0.01
"""Marks are drawn this share of the way nearer to the eye: before the words of their neighbours."""

WORDS_PIXELS, RISE = 11.0, 1.5
ENLARGED, CLEAR = 1.4, 1.2
"""The next is written so much larger, and so many heights of a letter higher, above its mark."""

PLAIN_NAMES = 60
"""With more stations than this, those that are missing carry no name."""

_LOOKS = {
    State.MISSING: (Role.STATION_MARK, "", 11.0),
    State.READ: (Role.BEAM_CLEAR, "", 13.0),
    State.OFF: (Role.FINDING_MARK, "", 16.0),
    State.NEXT: (Role.STATION_MARK, "chosen", 26.0),
}
"""Role, paint and height in pixels of the marks of each state."""


def _shape(state: State, corners: int) -> tuple[Floats, Indices]:
    """Points ``(p, 2)`` and triangles ``(t, 3)`` of a mark one unit high: disc, square, ring, arrow head."""
    if state is State.NEXT:
        return np.array([[0.0, 0.15], [0.5, 1.0], [-0.5, 1.0]]), np.array([[0, 1, 2]])
    if state is State.OFF:
        return np.array([[-0.5, -0.5], [0.5, -0.5], [0.5, 0.5], [-0.5, 0.5]]), np.array([[0, 1, 2], [0, 2, 3]])
    turn = 2.0 * math.pi * np.arange(corners) / corners
    rim = 0.5 * np.column_stack([np.cos(turn), np.sin(turn)])
    k, after = np.arange(corners), (np.arange(corners) + 1) % corners
    if state is State.READ:
        return np.vstack([rim, [[0.0, 0.0]]]), np.column_stack([k, after, np.full(corners, corners)])
    inner = np.column_stack([k, after, k + corners]), np.column_stack([after, after + corners, k + corners])
    return np.vstack([rim, 0.62 * rim]), np.vstack(inner)


@dataclass(slots=True, eq=False)
class _Marks:
    """Marks of one state: ``mesh`` follows the camera."""

    mesh: pv.PolyData
    anchors: Floats
    flat: Floats
    owner: Indices
    pixels: float
    _last: Floats = field(default_factory=lambda: np.zeros(0))

    def turn(self, camera: Camera, height: int) -> None:
        """Turn the marks to ``camera``."""
        seen = np.concatenate([camera.position, camera.focal_point, camera.up, [height]])
        if len(self.owner) and not np.array_equal(seen, self._last):
            self._last = seen
            self.mesh.points = facing_points(self.anchors, self.flat, self.owner, self.pixels, camera, height, NEARER)


def _marks(state: State, anchors: Floats) -> _Marks:
    count, pixels = len(anchors), _LOOKS[state][2]
    points, faces = _shape(state, CORNERS if count <= MANY else FEW_CORNERS)
    owner = np.repeat(np.arange(count), len(points))
    rows = (faces[None] + len(points) * np.arange(count)[:, None, None]).reshape(-1, 3)
    cells = np.column_stack([np.full(len(rows), 3), rows]).ravel().astype(np.int64)
    mesh = pv.PolyData(anchors[owner].copy(), faces=cells, deep=True) if count else pv.PolyData()
    return _Marks(mesh, anchors, np.tile(points, (count, 1)), owner, pixels)


class LivePicture:
    """Draws the group ``live``."""

    def __init__(self, scene: Scene, layout: Layout, plan: Plan | None) -> None:
        self._scene, self._plan = scene, plan
        self.stations = tuple(layout.stations)
        foot, normal, _ = station_places(layout, self.stations)
        self.places: Floats = foot + ABOVE * normal
        self._place = dict(zip(self.stations, self.places, strict=True))
        self._marks: dict[State, _Marks] = {}
        self._words: Lettering | None = None
        self._next: tuple[object, ...] = ()
        scene.before_render(self._turn)

    def draw(self, marks: list[dict[str, Any]], following: dict[str, Any] | None) -> None:
        """Show the marks of stations, and the beam to the ``following`` look of the plan."""
        known = [each for each in marks if each["station"] in self._place]
        for state, (role, paint, _) in _LOOKS.items():
            anchors = self._places([each["station"] for each in known if each["state"] == state])
            self._marks[state] = _marks(state, anchors)
            self._scene.put(GROUP, [Part(f"live {state}", self._marks[state].mesh, role)], paint)
        self._write(known)
        self._draw_beam(following)
        self._turn()

    def _places(self, stations: list[str]) -> Floats:
        return np.array([self._place[name] for name in stations]).reshape(-1, 3)

    def _write(self, marks: list[dict[str, Any]]) -> None:
        """Values at what was read, names at the rest, and the next in larger letters, for which others make way.

        Of very many those that were read last are written; letters would hide each other anyway.
        """
        order: list[str] = [State.NEXT, State.OFF, State.READ, State.MISSING]
        named = order if len(marks) <= PLAIN_NAMES else order[:3]
        chosen = sorted(
            (each for each in marks if each["state"] in named),
            key=lambda each: (order.index(each["state"]), -each["at"] if len(marks) > WORDS_SHOWN else 0),
        )[:WORDS_SHOWN]
        texts = [f"next: {each['station']}" if each["state"] == State.NEXT else
                 f"{each['station']}  {each['value']}".strip() for each in chosen]  # fmt: skip
        letters = lettering(texts, self._places([each["station"] for each in chosen]), WORDS_PIXELS, RISE, sparse=True)
        if chosen and chosen[0]["state"] == State.NEXT:
            _enlarge_first(letters)
        self._words = letters
        plates = pv.PolyData() if letters.plates is None else letters.plates
        self._scene.put(GROUP, [Part("live words", letters.mesh, Role.STATION_MARK)], "ink")
        self._scene.put(GROUP, [Part("live words plates", plates, Role.STATION_MARK)], "plate")

    def _draw_beam(self, following: dict[str, Any] | None) -> None:
        look = () if following is None else tuple(following["look"])
        if look == self._next:
            return
        self._next = look
        mesh = next_beam(self._plan, *look) if look else None
        self._scene.put(
            GROUP, [Part("live beam", pv.PolyData() if mesh is None else mesh, Role.BEAM_CLEAR)], "chosen"
        )  # fmt: skip

    def _turn(self) -> None:
        camera, height = self._scene.camera, self._scene.size[1]
        for marks in self._marks.values():
            marks.turn(camera, height)
        if self._words is not None:
            self._words.turn(camera, height)


def _enlarge_first(letters: Lettering) -> None:
    """Write the first text larger and higher than the others."""
    mine = letters.owner == 0
    letters.flat[mine] = ENLARGED * letters.flat[mine] + np.array([0.0, CLEAR])
    letters.corners[:4] = ENLARGED * letters.corners[:4] + np.array([0.0, CLEAR])


def next_beam(plan: Plan | None, setup: str, station: str, side: int, clock: float) -> pv.PolyData | None:
    """The planned beam of one look; None where the plan could not be traced, or does not hold it."""
    if plan is None:
        return None
    rows = plan.geometry.rows
    if setup not in rows.setups or station not in rows.stations:
        return None
    mine = (rows.setup == rows.setups.index(setup)) & (rows.station == rows.stations.index(station))
    turn = np.abs(np.angle(np.exp(1j * (rows.turn + rows.clock - clock))))
    found = np.flatnonzero(mine & (rows.side == side))
    if not len(found):
        return None
    row = int(found[np.argmin(turn[found])])
    paths = beam_paths(plan.geometry, plan.spots, plan.sight)
    return beam_of(paths, row, 1.6 * drawn_radius(plan.geometry, plan.spots))
