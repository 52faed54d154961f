"""A diagnosis in the picture: stations by shape and colour of their residuals, and what a suspect would do."""

from __future__ import annotations

import numpy as np
import pyvista as pv

from scenes.meshes.deviation_line import deviation_arrows
from scenes.meshes.scene_parts import Part, Role
from scenes.vectors import Floats
from viewer.logic.diagnosis_closures import FAR, NEAR
from viewer.logic.diagnosis_drawn import Marks, Signature
from viewer.scene3d import Scene
from viewer.scene3d_labels import Lettering, lettering
from viewer.scene3d_marks import diamonds, dice, hoops, small_balls

__all__ = ["DiagnosisPicture"]

NAMES_SHOWN = 60
"""Of more stations than these only those that stand out carry their names."""

GROUPS = ("diagnosis", "diagnosis would do", "diagnosis names")


class DiagnosisPicture:
    """Draws marks of stations and the signature of a suspect; groups ``GROUPS``."""

    def __init__(self, scene: Scene) -> None:
        self._scene = scene
        self._marks: Marks | None = None
        self._signature: Signature | None = None
        self._chosen = ""
        self._letters: list[Lettering] = []
        scene.before_render(self._turn)

    def clear(self) -> None:
        """Show nothing."""
        self._marks, self._signature, self._letters = None, None, []
        for group in GROUPS:
            self._scene.clear(group)

    def draw(self, marks: Marks, chosen: str) -> None:
        """Show the stations of a network: balls within two standard deviations, dice to three, diamonds beyond."""
        self.clear()
        self._marks, self._chosen = marks, chosen
        size = np.where(np.isnan(marks.worst), -1.0, marks.worst)
        points, r = marks.points, marks.size
        sets = [np.nonzero(flags)[0] for flags in (
            size < 0.0, (size >= 0.0) & (size <= NEAR), (size > NEAR) & (size <= FAR), size > FAR,
        )]  # fmt: skip
        self._scene.put("diagnosis", [
            Part("diagnosis uncontrolled", hoops(points, 2.6 * r, sets[0]), Role.POST),
            Part("diagnosis quiet", small_balls(points, 2.8 * r, sets[1]), Role.BEAM_CLEAR),
            Part("diagnosis near", dice(points, 4.2 * r, sets[2]), Role.BEAM_CLIPPED),
            Part("diagnosis far", diamonds(points, 6.0 * r, sets[3]), Role.BEAM_BLOCKED),
        ])  # fmt: skip
        self._names()

    def would_do(self, signature: Signature | None, factor: float) -> None:
        """Show what a suspect does to the readings, as arrows; None takes them away."""
        self._scene.clear("diagnosis would do")
        self._signature = signature
        if signature is None or self._marks is None:
            return
        start = self._marks.points[signature.of]
        moved = signature.effects[:, None] * signature.directions
        arrows = deviation_arrows(start, moved, signature.effects, factor, 1.3 * self._marks.size)
        arrows.clear_data()
        self._scene.put("diagnosis would do", [Part("diagnosis signature", arrows, Role.BEAM_BENT)])

    def choose(self, station: str) -> None:
        """Mark one station; an empty name takes the mark away."""
        self._chosen = station
        self._names()

    # --- names

    def _names(self) -> None:
        self._scene.clear("diagnosis names")
        self._letters = []
        marks = self._marks
        if marks is None:
            return
        names = [i for i, name in enumerate(marks.stations) if name != self._chosen]
        if len(names) > NAMES_SHOWN:
            names = [i for i in names if marks.worst[i] > NEAR]
        names.sort(key=lambda i: -float(np.nan_to_num(marks.worst[i], nan=-1.0)))
        heads = (
            marks.points + (np.where(np.nan_to_num(marks.worst) > FAR, 8.0, 3.5) * marks.size)[:, None] * marks.normals
        )
        self._put("diagnosis letters", [marks.stations[i] for i in names], heads[names].reshape(-1, 3), False)
        if self._chosen in marks.stations:
            at = marks.points[[marks.stations.index(self._chosen)]]
            ring = hoops(at, 8.0 * marks.size, np.array([0]))
            self._scene.put("diagnosis names", [
                Part("diagnosis chosen", ring, Role.STATION_MARK, "station", self._chosen)
            ], "chosen")  # fmt: skip
            self._put("diagnosis chosen name", [self._chosen], heads[[marks.stations.index(self._chosen)]], True)
        self._turn()

    def _put(self, name: str, texts: list[str], anchors: Floats, chosen: bool) -> None:
        letters = lettering(texts, anchors, 14.0 if chosen else 10.0, 1.4 if chosen else 1.1, sparse=not chosen)
        self._letters.append(letters)
        self._scene.put("diagnosis names", [Part(name, letters.mesh, Role.STATION_MARK)], "chosen" if chosen else "ink")
        plates = pv.PolyData() if letters.plates is None else letters.plates
        self._scene.put("diagnosis names", [Part(f"{name} plates", plates, Role.STATION_MARK)], "plate")

    def _turn(self) -> None:
        camera, height = self._scene.camera, self._scene.size[1]
        for letters in self._letters:
            letters.turn(camera, height)
