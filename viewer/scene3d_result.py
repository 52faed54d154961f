"""The result in the picture: sheet, tubes or arrows, the standing bar, signs, names and the chosen station."""

from __future__ import annotations

import numpy as np
import pyvista as pv

from scenes.checks.plan import Plan
from scenes.meshes.beams import beam_of, beam_paths, drawn_radius
from scenes.meshes.deviation_line import deviation_arrows
from scenes.meshes.deviation_vectors import mark_size
from scenes.meshes.scene_parts import Part, Role
from scenes.meshes.solids import mesh_of, tubes
from scenes.vectors import Floats
from viewer.logic.shown import Shown, standing_bar
from viewer.logic.signs import Sign, bar_foot, bar_words, signs_of
from viewer.scene3d import Scene
from viewer.scene3d_labels import Lettering, lettering
from viewer.scene3d_lines import LinesPicture
from viewer.scene3d_sheet import SheetPicture

__all__ = ["NAMES_SHOWN", "ResultPicture", "beam_mesh_of"]

NAMES_SHOWN = 80
"""With more stations than this only those that hold the value carry their names."""

LAYERS = ("vectors", "uncertainty", "limits")
_LETTERS = {
    "names": (10.0, 1.1, "ink"), "bar name": (11.0, 0.0, "ink"), "chosen name": (14.0, 1.4, "chosen"),
    "signs": (12.0, 0.9, "ink"),
}  # fmt: skip
"""Height in pixels, rise in heights of a letter, and paint."""


class ResultPicture:
    """Draws what is shown; groups ``surface``, ``vectors``, ``uncertainty``, ``limits``, ``names`` and ``chosen``."""

    def __init__(self, scene: Scene, unit: str, angle_unit: str) -> None:
        self._scene = scene
        self._units = (unit, angle_unit)
        self._shown: Shown | None = None
        self._sheet, self._lines = SheetPicture(scene), LinesPicture(scene)
        self._painter: SheetPicture | LinesPicture = self._sheet
        self._names: dict[str, tuple[list[str], Lettering]] = {}
        self._stale: set[str] = set()
        self._factor = 1.0
        self._chosen = ""
        self._beam: pv.PolyData | None = None
        scene.before_render(self._turn_names)

    def draw(self, shown: Shown, factor: float) -> None:
        """Show other deviations."""
        self._shown, self._factor = shown, factor
        self._scene.set_range(1e6 * shown.largest)
        painter = self._lines if shown.sheet is None else self._sheet
        if painter is not self._painter:
            self._painter.clear()
            self._painter = painter
        self._redraw()

    def stretch(self, factor: float) -> None:
        """Show the same with another exaggeration."""
        if factor != self._factor:
            self._factor = factor
            self._redraw()

    def choose(self, station: str, beam: pv.PolyData | None = None) -> None:
        """Mark one station, with its beam; an empty name takes the mark away."""
        self._chosen, self._beam = station, beam
        if self._shown is not None:
            self._draw_chosen(self._shown)
            self._draw_names(self._shown)

    def _redraw(self) -> None:
        if self._shown is None:
            return
        self._painter.draw(self._shown, self._factor)
        self._draw_bar(self._shown)
        self._draw_signs(self._shown)
        self._draw_chosen(self._shown)
        self._draw_names(self._shown)
        self._stale = set(LAYERS)
        self.freshen()

    def freshen(self) -> None:
        """Draw those layers that are shown but were hidden when they last changed."""
        if self._shown is None:
            return
        for layer in [layer for layer in self._stale if self._scene.is_shown(layer)]:
            self._stale.discard(layer)
            self._painter.layer(layer, self._shown, self._factor)

    # --- what all forms share

    def _size(self, shown: Shown) -> float:
        """Radius of shafts that suits the figures."""
        sizes = [mark_size(figure.places) for figure in shown.figures]
        return max(min(sizes, default=0.003), 0.0015 * shown.longer)

    def _draw_bar(self, shown: Shown) -> None:
        """A bar that is worth a round deviation, with cross-plates, and its name."""
        foot = bar_foot(shown, self._factor)
        if foot is None:
            self._scene.remove("standing bar")
            self._put_letters("bar name", "surface", [], np.zeros((0, 3)))
            return
        worth = self._factor * standing_bar(shown)
        tip = foot.place + worth * foot.up
        thick = 0.6 * self._size(shown)
        arm = 4.0 * thick * foot.across
        lines = np.array([[foot.place, tip], [foot.place - arm, foot.place + arm], [tip - arm, tip + arm]])
        mesh = mesh_of(tubes(lines, thick, 8)[0], lit=False)
        self._scene.put("surface", [Part("standing bar", mesh, Role.UNCERTAINTY_BAR)])
        middle = 0.5 * (foot.place + tip) - foot.room * foot.across
        self._put_letters("bar name", "surface", [bar_words(shown, *self._units)], middle[None])

    def _draw_signs(self, shown: Shown) -> None:
        """Arrows that tell which way counts positive."""
        signs: tuple[Sign, ...] = signs_of(shown, self._factor)
        starts = np.array([sign.place for sign in signs]).reshape(-1, 3)
        reach = np.array([sign.reach * sign.direction for sign in signs]).reshape(-1, 3)
        mesh = deviation_arrows(starts, reach, np.zeros(len(signs)), 1.0, 0.8 * self._size(shown)) if signs else (
            pv.PolyData()
        )  # fmt: skip
        mesh.clear_data()
        self._scene.put("limits", [Part("sign arrows", mesh, Role.UNCERTAINTY_BAR)])
        self._put_letters("signs", "limits", [sign.words for sign in signs], starts + 1.15 * reach)

    def _draw_chosen(self, shown: Shown) -> None:
        self._scene.clear("chosen")
        self._names.pop("chosen name", None)
        if self._chosen not in shown.stations:
            return
        tips, radius = shown.tips(self._factor), 4.0 * self._size(shown)
        parts: list[Part] = []
        for number, name in enumerate(shown.stations):
            if name == self._chosen:
                ball = pv.Sphere(radius=radius, center=tips[number], theta_resolution=20, phi_resolution=16)
                parts.append(Part(f"chosen ball {number}" if parts else "chosen ball", ball, Role.STATION_MARK,
                                  "station", name))  # fmt: skip
        foot = self._foot(shown)
        tip = tips[shown.stations.index(self._chosen)]
        if float(np.linalg.norm(tip - foot)) > radius:
            stem = mesh_of(tubes(np.array([[foot, tip]]), 0.25 * radius, 8)[0])
            parts.append(Part("chosen stem", stem, Role.STATION_MARK, "station", self._chosen))
        if self._beam is not None:
            parts.append(Part("chosen beam", self._beam, Role.BEAM_CLEAR, "station", self._chosen))
        self._scene.put("chosen", parts, "chosen")

    def _foot(self, shown: Shown) -> Floats:
        """Nominal place of the chosen station."""
        figure = next(each for each in shown.figures if self._chosen in each.stations)
        place: Floats = figure.places[figure.stations.index(self._chosen)]
        return place

    def _draw_names(self, shown: Shown) -> None:
        names = tuple(dict.fromkeys(shown.stations))
        if len(names) > NAMES_SHOWN:
            names = tuple(name for name in dict.fromkeys([*shown.high, *shown.low]) if name in shown.stations)
        tips = dict(zip(shown.stations, shown.tips(self._factor), strict=True))
        plain = [name for name in names if name != self._chosen]
        self._put_letters("names", "names", plain, np.array([tips[name] for name in plain]).reshape(-1, 3),
                          sparse=shown.sheet is None)  # fmt: skip
        chosen = [self._chosen] if self._chosen in tips else []
        self._put_letters("chosen name", "chosen", chosen, np.array([tips[name] for name in chosen]).reshape(-1, 3))
        self._turn_names()

    def _put_letters(self, name: str, group: str, texts: list[str], anchors: Floats, sparse: bool = False) -> None:
        """Letters at other places; they are made anew only for other texts."""
        pixels, rise, paint = _LETTERS[name]
        kept = self._names.get(name)
        if kept is not None and kept[0] == texts and (not texts or self._scene.mesh(name) is not None):
            kept[1].anchors, kept[1].sparse = anchors, sparse
            return
        letters = lettering(texts, anchors, pixels, rise, sparse)
        self._names[name] = (texts, letters)
        self._scene.put(group, [Part(name, letters.mesh, Role.STATION_MARK)], paint)
        plates = pv.PolyData() if letters.plates is None else letters.plates
        self._scene.put(group, [Part(f"{name} plates", plates, Role.STATION_MARK)], "plate")

    def _turn_names(self) -> None:
        camera, height = self._scene.camera, self._scene.size[1]
        for _, letters in self._names.values():
            letters.turn(camera, height)


def beam_mesh_of(plan: Plan | None, station: str, scale: float = 1.6) -> pv.PolyData | None:
    """The planned beam to ``station``, a little thicker than the others; None where no set-up reads it."""
    if plan is None or station not in plan.geometry.rows.stations:
        return None
    rows = plan.geometry.rows
    row = int(np.argmax(rows.station == rows.stations.index(station)))
    paths = beam_paths(plan.geometry, plan.spots, plan.sight)
    return beam_of(paths, row, scale * drawn_radius(plan.geometry, plan.spots))
