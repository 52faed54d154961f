"""Moves in the picture: what they should leave, and an arrow with a number at every foot or bearing."""

from __future__ import annotations

import numpy as np
import pyvista as pv

from scenes.meshes.deviation_line import deviation_arrows
from scenes.meshes.scene_parts import Part, Role
from scenes.meshes.solids import mesh_of, tubes
from scenes.vectors import Floats, length
from viewer.logic.moves_places import MoverPlaces
from viewer.logic.shown import Shown
from viewer.scene3d import Scene
from viewer.scene3d_labels import Lettering, lettering
from viewer.scene3d_result import ResultPicture
from viewer.scene3d_shelf import Shelf

__all__ = ["GROUPS", "MovesPicture", "arrow_reach"]

SHELF = "moves"
GROUPS = tuple(f"{SHELF} {group}" for group in ("surface", "limits", "chosen", "arrows"))
ARROWS = "moves arrows"
LETTER_PIXELS = 13.0
THICK = 0.0045
"""Radius of the shafts of arrows, as a share of the length of the part."""

LONGEST = 0.3
"""Arrows reach no farther than this share of the length of the part; their numbers tell the rest."""


def arrow_reach(lifts: Floats, directions: Floats, factor: float, size: float) -> Floats:
    """Drawn arrows ``(m, 3)`` of moves ``(m,)``: exaggerated like the deviations, but not longer than ``LONGEST``."""
    reach = np.clip(factor * lifts, -LONGEST * size, LONGEST * size)
    result: Floats = reach[:, None] * directions
    return result


class MovesPicture:
    """Draws chosen moves; groups ``GROUPS``."""

    def __init__(self, scene: Scene, unit: str, angle_unit: str) -> None:
        self._scene = scene
        self._left = ResultPicture(Shelf(scene, SHELF), unit, angle_unit)
        self._letters: tuple[list[str], Lettering] | None = None
        scene.before_render(self._turn)

    def clear(self) -> None:
        """Show nothing."""
        for group in (*GROUPS, "moves vectors", "moves uncertainty", "moves names"):
            self._scene.clear(group)
        self._letters = None

    def draw(
        self, shown: Shown, factor: float, places: MoverPlaces, directions: Floats, lifts: Floats, words: list[str]
    ) -> None:  # fmt: skip
        """Show what moves ``lifts`` (m,) [m] along ``directions`` (m, 3) should leave, with ``words`` at the movers."""
        self._left.draw(shown, factor)
        raised = shown.raised(shown.figures[0], factor) if shown.sheet is not None else np.zeros(3)
        starts, thick = places.starts + raised, THICK * places.size
        reach = arrow_reach(lifts, directions, factor, places.size)
        arrows = deviation_arrows(starts, reach, np.zeros(len(lifts)), 1.0, thick)
        arrows.clear_data()
        beside = length(places.starts - places.feet) > thick
        stems = np.stack([places.feet[beside] + raised, starts[beside]], axis=1)
        mesh = mesh_of(tubes(stems, 0.25 * thick, 6)[0]) if len(stems) else pv.PolyData()
        self._scene.put(ARROWS, [
            Part("moves arrows", arrows, Role.SHIM), Part("moves stems", mesh, Role.SHIM),
        ])  # fmt: skip
        self._name(starts + reach + 3.0 * thick * np.where(lifts < 0.0, -1.0, 1.0)[:, None] * directions, words)

    def choose(self, station: str) -> None:
        """Mark one station; an empty name takes the mark away."""
        self._left.choose(station)

    def _name(self, anchors: Floats, words: list[str]) -> None:
        """Letters at other places; they are made anew only for other words."""
        told = [k for k, word in enumerate(words) if word]
        anchors, words = anchors[told], [words[k] for k in told]
        if self._letters is not None and self._letters[0] == words:
            self._letters[1].anchors = anchors
            return
        letters = lettering(words, anchors, LETTER_PIXELS, 0.9, sparse=True)
        self._letters = (words, letters)
        plates = pv.PolyData() if letters.plates is None else letters.plates
        self._scene.put(ARROWS, [Part("moves words", letters.mesh, Role.STATION_MARK)], "ink")
        self._scene.put(ARROWS, [Part("moves plates", plates, Role.STATION_MARK)], "plate")
        self._turn()

    def _turn(self) -> None:
        if self._letters is not None:
            self._letters[1].turn(self._scene.camera, self._scene.size[1])
