"""The change between two visits in the picture: rods with full or hollow tips, what joins them, U, and names."""

from __future__ import annotations

import numpy as np
import pyvista as pv

from scenes.errors import GeometryError
from scenes.meshes.deviation_line import deviation_line
from scenes.meshes.deviation_surface import DeviationSurface, deviation_mesh, spanned_surface
from scenes.meshes.deviation_vectors import bars_along
from scenes.meshes.scene_parts import Part, Role
from scenes.vectors import Floats
from viewer.logic.change_shown_drawn import ChangeDrawn
from viewer.logic.figures import Figure, Form, Sheet
from viewer.scene3d import Scene
from viewer.scene3d_labels import Lettering, lettering
from viewer.scene3d_marks import diamonds, hollow_diamonds, hoops, stems
from viewer.scene3d_outline import Outline

__all__ = ["ChangePicture"]

NAMES_SHOWN = 40
"""Of more stations than these only those that moved carry their names."""


def _spanned(sheet: Sheet) -> tuple[DeviationSurface, Outline] | None:
    """Surface through the stations with its border; None where they span none."""
    try:
        surface = spanned_surface(sheet.places, sheet.world_from_sheet, sheet.bore)
    except GeometryError:
        return None
    return surface, Outline(surface)


class ChangePicture:
    """Draws a change; groups ``change``, ``change bars`` and ``change names``."""

    def __init__(self, scene: Scene) -> None:
        self._scene = scene
        self._drawn: ChangeDrawn | None = None
        self._factor = 1.0
        self._chosen = ""
        self._letters: dict[str, tuple[list[str], Lettering]] = {}
        self._spanned: dict[str, tuple[DeviationSurface, Outline] | None] = {}
        scene.before_render(self._turn)

    def clear(self) -> None:
        """Show nothing."""
        self._drawn = None
        self._letters, self._spanned = {}, {}
        for group in ("change", "change bars", "change names"):
            self._scene.clear(group)

    def draw(self, drawn: ChangeDrawn, factor: float, chosen: str) -> None:
        """Show another change, or the same one with another exaggeration: that only gets other meshes."""
        if drawn is not self._drawn or chosen != self._chosen:
            self.clear()
        self._drawn, self._factor, self._chosen = drawn, factor, chosen
        self._scene.set_range(1e6 * drawn.largest)
        self._joined(drawn)
        self._rods(drawn)
        self._bars(drawn)
        self._names(drawn)

    def choose(self, station: str) -> None:
        """Mark one station; an empty name takes the mark away."""
        self._chosen = station
        if self._drawn is not None:
            self._scene.clear("change names")
            self._letters = {}
            self._names(self._drawn)

    # --- parts

    def _joined(self, drawn: ChangeDrawn) -> None:
        """Sheets and tubes that join the tips, and the zero line under them."""
        parts: list[Part] = []
        for number, figure in enumerate(drawn.figures):
            parts += self._of_figure(drawn, figure, f"change {number}")
        self._scene.put("change", parts)

    def _of_figure(self, drawn: ChangeDrawn, figure: Figure, name: str) -> list[Part]:
        lift, factor = drawn.lift(self._factor), self._factor
        if figure.form is Form.SHEET and figure.sheet is not None:
            if name not in self._spanned:
                self._spanned[name] = _spanned(figure.sheet)
            found = self._spanned[name]
            if found is None:
                return []
            surface, outline = found
            sheet = deviation_mesh(surface, figure.values, factor, lift)
            return [Part(f"{name} sheet", sheet, Role.DEVIATION_SURFACE),
                    Part(f"{name} zero", outline.at(lift), Role.ZERO_OUTLINE)]  # fmt: skip
        if figure.form is not Form.LINE or len(figure.directions) > 1:
            return []
        line = deviation_line(figure.places, figure.displacement, figure.values, None, factor, lift=lift * figure.away,
                              radius=0.3 * drawn.size)  # fmt: skip
        return [Part(f"{name} tube", line.tube, Role.DEVIATION_SURFACE),
                Part(f"{name} zero", line.zero, Role.ZERO_OUTLINE)]  # fmt: skip

    def _rods(self, drawn: ChangeDrawn) -> None:
        """A rod to each tip; full diamonds beyond U, hollow ones within."""
        zero, tips, size = drawn.zero(self._factor), drawn.tips(self._factor), drawn.size
        full, open_ = np.nonzero(drawn.moved)[0], np.nonzero(~drawn.moved)[0]
        self._scene.put("change", [
            Part("change rods", stems(zero, tips, 0.7 * size, drawn.changes), Role.DEVIATION_VECTOR),
            Part("change full", diamonds(tips, 4.4 * size, full, drawn.changes), Role.DEVIATION_VECTOR),
            Part("change rims", hollow_diamonds(tips, 4.45 * size, full), Role.UNCERTAINTY_BAR),
            Part("change hollow", hollow_diamonds(tips, 4.0 * size, open_), Role.UNCERTAINTY_BAR),
        ])  # fmt: skip

    def _bars(self, drawn: ChangeDrawn) -> None:
        """Bars of U at the tips, one mesh for each direction."""
        tips, parts = drawn.tips(self._factor), []
        ways, number = np.unique(np.round(drawn.directions, 9), axis=0, return_inverse=True)
        for i, way in enumerate(ways):
            mine = number.reshape(-1) == i
            reach = np.where(mine, self._factor * drawn.expanded, np.nan)
            parts.append(
                Part(f"change bars {i}", bars_along(tips, way, reach, 0.35 * drawn.size), Role.UNCERTAINTY_BAR)
            )
        self._scene.put("change bars", parts)

    # --- names

    def _names(self, drawn: ChangeDrawn) -> None:
        tips = drawn.tips(self._factor) + np.array([0.0, 0.0, 6.5 * drawn.size])  # above the diamonds
        first = {name: i for i, name in reversed(list(enumerate(drawn.stations)))}
        names = [name for name in first if name != self._chosen]
        if len(first) > NAMES_SHOWN:
            moved = {name for name, far in zip(drawn.stations, drawn.moved, strict=True) if far}
            names = [name for name in names if name in moved]
        self._put("change names", names, np.array([tips[first[name]] for name in names]).reshape(-1, 3), False)
        if self._chosen in first:
            mine = [i for i, name in enumerate(drawn.stations) if name == self._chosen]
            at = drawn.tips(self._factor)[mine]
            mark = hoops(at, 7.0 * drawn.size, np.arange(len(at)))
            parts = [Part("change chosen", mark, Role.STATION_MARK, "station", self._chosen)]
            self._scene.put("change names", parts, "chosen")
            self._put("change chosen name", [self._chosen], tips[mine[:1]], True)
        self._turn()

    def _put(self, name: str, texts: list[str], anchors: Floats, chosen: bool) -> None:
        kept = self._letters.get(name)
        if kept is not None and kept[0] == texts and (not texts or self._scene.mesh(name) is not None):
            kept[1].anchors = anchors
            return
        letters = lettering(texts, anchors, 14.0 if chosen else 10.0, 1.2 if chosen else 0.9, sparse=not chosen)
        self._letters[name] = (texts, letters)
        paint = "chosen" if chosen else "ink"
        self._scene.put("change names", [Part(name, letters.mesh, Role.STATION_MARK)], paint)
        plates = pv.PolyData() if letters.plates is None else letters.plates
        self._scene.put("change names", [Part(f"{name} plates", plates, Role.STATION_MARK)], "plate")

    def _turn(self) -> None:
        camera, height = self._scene.camera, self._scene.size[1]
        for _, letters in self._letters.values():
            letters.turn(camera, height)
