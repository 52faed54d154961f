"""The result in the picture: deviation surface, vectors, limits, standing bar, station names and the chosen station."""

from __future__ import annotations

import numpy as np
import pyvista as pv

from scenes.checks.plan import Plan
from scenes.meshes.beams import beam_of, beam_paths, drawn_radius
from scenes.meshes.deviation_surface import (
    DEVIATION,
    DeviationSurface,
    deviation_mesh,
    redraw,
    spanned_surface,
)
from scenes.meshes.deviation_vectors import deviation_vectors, limit_planes, mark_size, uncertainty_bars
from scenes.meshes.scene_parts import Part, Role
from scenes.meshes.solids import mesh_of, tubes
from scenes.units import from_si
from scenes.vectors import Floats
from viewer.logic.shown import Shown, standing_bar
from viewer.scene3d import Scene
from viewer.scene3d_labels import Lettering, lettering
from viewer.scene3d_outline import Outline
from viewer.text import screen_unit

__all__ = ["NAMES_SHOWN", "ResultPicture", "beam_mesh_of"]

NAMES_SHOWN = 80
"""With more stations than this only those that hold the value carry their names."""

SURFACE, ZERO = "deviation surface", "zero outline"
LAYERS = ("vectors", "uncertainty", "limits")
_LETTERS = {"names": (10.0, 1.1, "ink"), "bar name": (11.0, 0.0, "ink"), "chosen name": (14.0, 1.4, "chosen")}
"""Height in pixels, rise in heights of a letter, and paint."""


class ResultPicture:
    """Draws what is shown; groups ``surface``, ``vectors``, ``uncertainty``, ``limits``, ``names`` and ``chosen``."""

    def __init__(self, scene: Scene, unit: str) -> None:
        self._scene = scene
        self._unit = unit
        self._shown: Shown | None = None
        self._spanned: tuple[tuple[str, ...], DeviationSurface] | None = None
        self._outline: Outline | None = None
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
        if self._spanned is None or self._spanned[0] != shown.stations:
            self._spanned = (shown.stations, spanned_surface(shown.places, shown.world_from_surface, shown.bore))
            self._outline = None
            self._scene.remove(SURFACE)
        if self._scene.mesh(SURFACE) is None:
            mesh = deviation_mesh(self._spanned[1], shown.deviations, factor, shown.lift(factor))
            self._scene.put("surface", [Part(SURFACE, mesh, Role.DEVIATION_SURFACE, "task", shown.task)])
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
            self._draw_chosen()
            self._draw_names()

    def _redraw(self) -> None:
        shown = self._shown
        if shown is None or self._spanned is None:
            return
        lift = shown.lift(self._factor)
        mesh = self._scene.mesh(SURFACE)
        if mesh is not None:
            redraw(mesh, self._spanned[1], shown.deviations, self._factor, lift)
        self._draw_zero(lift)
        self._draw_bar(lift)
        self._draw_chosen()
        self._draw_names()
        self._stale = set(LAYERS)
        self.freshen()

    def freshen(self) -> None:
        """Draw those layers that are shown but were hidden when they last changed."""
        shown = self._shown
        if shown is None:
            return
        for layer in [layer for layer in self._stale if self._scene.is_shown(layer)]:
            self._stale.discard(layer)
            getattr(self, f"_draw_{layer}")(shown, shown.lift(self._factor))

    def _draw_vectors(self, shown: Shown, lift: float) -> None:
        vectors = deviation_vectors(shown.places, shown.deviations, shown.world_from_surface, self._factor, lift)
        self._scene.put("vectors", [Part("vectors", vectors, Role.DEVIATION_VECTOR)])

    def _draw_uncertainty(self, shown: Shown, lift: float) -> None:
        bars = uncertainty_bars(
            shown.places, shown.deviations, shown.expanded, shown.world_from_surface, self._factor, lift
        )
        self._scene.put("uncertainty", [Part("uncertainty bars", bars, Role.UNCERTAINTY_BAR)])

    def _draw_zero(self, lift: float) -> None:
        assert self._spanned is not None
        if self._outline is None:
            self._outline = Outline(self._spanned[1])
        self._scene.put("surface", [Part(ZERO, self._outline.at(lift), Role.ZERO_OUTLINE)])

    def _draw_limits(self, shown: Shown, lift: float) -> None:
        """Edges of the zone, and lines on the surface where it leaves the zone."""
        if shown.zone is None:
            self._scene.clear("limits")
            return
        low, high = shown.zone
        raised = lift + 0.5 * self._factor * (low + high)
        sheets = limit_planes(shown.places, high - low, shown.world_from_surface, self._factor, raised)
        edges = sheets.extract_feature_edges(
            boundary_edges=True, feature_edges=False, manifold_edges=False, non_manifold_edges=False
        )
        edges.clear_data()
        mesh = self._scene.mesh(SURFACE)
        crossing = pv.PolyData()
        if mesh is not None:
            crossing = mesh.contour([1e6 * low, 1e6 * high], scalars=DEVIATION)
            crossing.clear_data()
        self._scene.put("limits", [
            Part("limit edges", edges, Role.LIMIT_PLANE), Part("limit crossing", crossing, Role.ZERO_OUTLINE),
        ])  # fmt: skip

    def bar_foot(self) -> Floats:
        """Foot of the standing bar: beside the corner of the stations, on the zero level; frame of the surface."""
        shown = self._shown
        assert shown is not None
        low = shown.places.min(axis=0)
        beside = 0.06 * shown.longer
        return np.array([low[0] - beside, low[1], low[2]])

    def _draw_bar(self, lift: float) -> None:
        """A bar that is worth a round deviation, with cross-plates, and its name."""
        shown = self._shown
        assert shown is not None
        worth = standing_bar(shown)
        pose = shown.world_from_surface
        up, across = pose.rotation[:, 2], pose.rotation[:, 0]
        foot = pose.points(self.bar_foot()[None])[0] + lift * up
        tip = foot + self._factor * worth * up
        thick = 0.6 * mark_size(shown.places)
        arm = 4.0 * thick * across
        lines = np.array([[foot, tip], [foot - arm, foot + arm], [tip - arm, tip + arm]])
        mesh = mesh_of(tubes(lines, thick, 8)[0])
        self._scene.put("surface", [Part("standing bar", mesh, Role.UNCERTAINTY_BAR)])

    def _draw_chosen(self) -> None:
        shown = self._shown
        self._scene.clear("chosen")
        if shown is None or self._chosen not in shown.stations:
            return
        number = shown.stations.index(self._chosen)
        tip = shown.tips(self._factor)[number]
        radius = 4.0 * mark_size(shown.places)
        up = shown.world_from_surface.rotation[:, 2]
        foot = shown.world_from_surface.points(shown.places[number][None])[0]
        ball = pv.Sphere(radius=radius, center=tip, theta_resolution=20, phi_resolution=16)
        parts = [Part("chosen ball", ball, Role.STATION_MARK, "station", self._chosen)]
        if float((tip - foot) @ up) > radius:
            stem = mesh_of(tubes(np.array([[foot, tip]]), 0.25 * radius, 8)[0])
            parts.append(Part("chosen stem", stem, Role.STATION_MARK, "station", self._chosen))
        if self._beam is not None:
            parts.append(Part("chosen beam", self._beam, Role.BEAM_CLEAR, "station", self._chosen))
        self._scene.put("chosen", parts, "chosen")

    def _draw_names(self) -> None:
        shown = self._shown
        assert shown is not None
        names = shown.stations
        if len(names) > NAMES_SHOWN:
            names = tuple(dict.fromkeys([*shown.high, *shown.low]))
        tips = dict(zip(shown.stations, shown.tips(self._factor), strict=True))
        plain = [name for name in names if name != self._chosen]
        self._put_letters("names", "names", plain, np.array([tips[name] for name in plain]).reshape(-1, 3))
        chosen = [self._chosen] if self._chosen in tips else []
        self._put_letters("chosen name", "chosen", chosen, np.array([tips[name] for name in chosen]).reshape(-1, 3))
        pose, worth = shown.world_from_surface, standing_bar(shown)
        up, across = pose.rotation[:, 2], pose.rotation[:, 0]
        foot = pose.points(self.bar_foot()[None])[0] + shown.lift(self._factor) * up
        middle = foot + 0.5 * self._factor * worth * up - 0.05 * shown.longer * across
        words = f"{from_si(worth, self._unit, 'length'):.6g} {screen_unit(self._unit)}"
        self._put_letters("bar name", "surface", [words], middle[None])
        self._turn_names()

    def _put_letters(self, name: str, group: str, texts: list[str], anchors: Floats) -> None:
        """Letters at other places; they are made anew only for other texts."""
        pixels, rise, paint = _LETTERS[name]
        kept = self._names.get(name)
        if kept is not None and kept[0] == texts and (not texts or self._scene.mesh(name) is not None):
            kept[1].anchors = anchors
            return
        letters = lettering(texts, anchors, pixels, rise)
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
