"""Deviations over a surface in the picture: an exaggerated sheet with arrows, limits and uncertainty."""

from __future__ import annotations

import numpy as np
import pyvista as pv

from scenes.meshes.deviation_surface import (
    DEVIATION,
    DeviationSurface,
    deviation_mesh,
    redraw,
    spanned_surface,
)
from scenes.meshes.deviation_vectors import deviation_vectors, limit_edges, uncertainty_bars
from scenes.meshes.scene_parts import Part, Role
from scenes.vectors import Floats, Indices
from viewer.logic.figures import Figure, Sheet
from viewer.logic.limits_drawn import accepted_zone
from viewer.logic.shown import Shown
from viewer.scene3d import Scene
from viewer.scene3d_outline import Outline

__all__ = ["SheetPicture"]

SURFACE, ZERO = "deviation surface", "zero outline"


class SheetPicture:
    """Draws one figure that is a sheet; groups ``surface``, ``vectors``, ``uncertainty`` and ``limits``."""

    def __init__(self, scene: Scene) -> None:
        self._scene = scene
        self._spanned: tuple[tuple[str, ...], DeviationSurface] | None = None
        self._outline: Outline | None = None
        self._crossing: tuple[Shown, Floats, Floats, Indices] | None = None

    @staticmethod
    def _figure(shown: Shown) -> tuple[Figure, Sheet]:
        figure = shown.sheet
        assert figure is not None
        assert figure.sheet is not None
        return figure, figure.sheet

    def draw(self, shown: Shown, factor: float) -> None:
        """Show the sheet; layers come by :meth:`layer`."""
        figure, sheet = self._figure(shown)
        key = (shown.task, figure.of, *figure.stations)
        if self._spanned is None or self._spanned[0] != key:
            self._spanned = (key, spanned_surface(sheet.places, sheet.world_from_sheet, sheet.bore))
            self._outline = None
            self._scene.remove(SURFACE)
        surface, lift = self._spanned[1], shown.lift(factor)
        mesh = self._scene.mesh(SURFACE)
        if mesh is None:
            mesh = deviation_mesh(surface, figure.values, factor, lift)
            self._scene.put("surface", [Part(SURFACE, mesh, Role.DEVIATION_SURFACE, "task", shown.task)])
        else:
            redraw(mesh, surface, figure.values, factor, lift)
        if self._outline is None:
            self._outline = Outline(surface)
        self._scene.put("surface", [Part(ZERO, self._outline.at(lift), Role.ZERO_OUTLINE)])

    def clear(self) -> None:
        """Take all of it out of the picture."""
        for name in (SURFACE, ZERO, "vectors", "uncertainty bars", "limit edges", "accepted edges", "limit crossing"):
            self._scene.remove(name)

    def layer(self, name: str, shown: Shown, factor: float) -> None:
        """Draw one layer anew."""
        getattr(self, f"_{name}")(shown, factor)

    def _vectors(self, shown: Shown, factor: float) -> None:
        figure, sheet = self._figure(shown)
        vectors = deviation_vectors(sheet.places, figure.values, sheet.world_from_sheet, factor, shown.lift(factor))
        self._scene.put("vectors", [Part("vectors", vectors, Role.DEVIATION_VECTOR)])

    def _uncertainty(self, shown: Shown, factor: float) -> None:
        figure, sheet = self._figure(shown)
        bars = uncertainty_bars(
            sheet.places, figure.values, figure.expanded[:, 0], sheet.world_from_sheet, factor, shown.lift(factor)
        )
        self._scene.put("uncertainty", [Part("uncertainty bars", bars, Role.UNCERTAINTY_BAR)])

    def _limits(self, shown: Shown, factor: float) -> None:
        """Edges of the zone, and lines on the surface where it leaves the zone."""
        if shown.zone is None:
            self._scene.clear("limits")
            return
        accepted = accepted_zone(shown)
        within = pv.PolyData() if accepted is None else self._edges(shown, factor, accepted)
        self._scene.put("limits", [
            Part("limit edges", self._edges(shown, factor, shown.zone), Role.LIMIT_PLANE),
            Part("accepted edges", within, Role.MACHINE_GHOST),
            Part("limit crossing", self._crossing_at(shown, factor), Role.ZERO_OUTLINE),
        ])  # fmt: skip

    def _crossing_at(self, shown: Shown, factor: float) -> pv.PolyData:
        """Lines on the surface where it leaves the zone: found once, since the exaggeration only raises them."""
        mesh, up = self._scene.mesh(SURFACE), self._figure(shown)[1].world_from_sheet.rotation[:, 2]
        if mesh is None or shown.zone is None:
            return pv.PolyData()
        if self._crossing is None or self._crossing[0] is not shown:
            found = mesh.contour([1e6 * each for each in shown.zone], scalars=DEVIATION)
            if not found.n_points:
                return pv.PolyData()
            values = 1e-6 * np.asarray(found[DEVIATION], dtype=np.float64)
            flat = np.asarray(found.points, dtype=np.float64) - (shown.lift(factor) + factor * values)[:, None] * up
            self._crossing = (shown, flat, values, found.lines)
        _, flat, values, lines = self._crossing
        return pv.PolyData(flat + (shown.lift(factor) + factor * values)[:, None] * up, lines=lines, deep=True)

    def _edges(self, shown: Shown, factor: float, zone: tuple[float, float]) -> pv.PolyData:
        """Edges of two planes at the ends of a zone of heights [m]."""
        low, high = zone
        _, sheet = self._figure(shown)
        raised = shown.lift(factor) + 0.5 * factor * (low + high)
        return limit_edges(sheet.places, high - low, sheet.world_from_sheet, factor, raised)
