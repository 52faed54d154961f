"""Deviations along lines, of axes and of single stations in the picture: tubes, arrows, limits and uncertainty."""

from __future__ import annotations

import numpy as np
import pyvista as pv

from scenes.meshes.deviation_line import DeviationLine, deviation_arrows, deviation_line, line_size, zone_edges
from scenes.meshes.deviation_vectors import bars_along
from scenes.meshes.scene_parts import Part, Role
from scenes.meshes.solids import mesh_of, tubes
from scenes.vectors import Floats
from viewer.logic.figures import Figure, Form
from viewer.logic.limits_drawn import Limits, accepted_of, limits_of
from viewer.logic.shown import Shown
from viewer.logic.worst_piece import worst_piece
from viewer.scene3d import Scene

__all__ = ["LinesPicture", "leaning_lines"]

PIECE = 3.0
"""Radius of the bar that marks a piece on the machine, over that of shafts."""

LEAST_SIZE = 0.0007
"""Least radius of shafts, as a share of the extent of all lines together."""


class LinesPicture:
    """Draws figures that are lines or arrows; groups ``surface``, ``vectors``, ``uncertainty`` and ``limits``."""

    def __init__(self, scene: Scene) -> None:
        self._scene = scene
        self._names: set[str] = set()
        self._shown: Shown | None = None
        self._lines: tuple[object, ...] = ()

    def draw(self, shown: Shown, factor: float) -> None:
        """Show the lines; layers come by :meth:`layer`. The same lines, however they deviate, only get other meshes."""
        if shown is not self._shown and (lines := _lines_of(shown)) != self._lines:
            self.clear()
            self._lines = lines
        self._shown = shown
        for number, figure in enumerate(shown.figures):
            if figure.form is Form.LINE:
                line = self._line(shown, figure, factor)
                self._put("surface", f"line {number} tube", line.tube, Role.DEVIATION_SURFACE)
                self._put("surface", f"line {number} zero", line.zero, Role.ZERO_OUTLINE)

    def _put(self, group: str, name: str, mesh: pv.PolyData, role: Role) -> None:
        if mesh.n_cells:
            self._names.add(name)
        self._scene.put(group, [Part(name, mesh, role)])

    def clear(self) -> None:
        """Take all of it out of the picture."""
        for name in self._names:
            self._scene.remove(name)
        self._names, self._shown, self._lines = set(), None, ()

    def layer(self, name: str, shown: Shown, factor: float) -> None:
        """Draw one layer anew."""
        for number, figure in enumerate(shown.figures):
            getattr(self, f"_{name}")(shown, figure, factor, f"line {number}")

    @staticmethod
    def _line(shown: Shown, figure: Figure, factor: float) -> DeviationLine:
        return deviation_line(
            figure.places, figure.displacement, figure.values, None, factor, lift=shown.raised(figure, factor),
            radius=_size(shown, figure), with_vectors=False,
        )  # fmt: skip

    def _vectors(self, shown: Shown, figure: Figure, factor: float, name: str) -> None:
        start = figure.places + shown.raised(figure, factor)
        size = _size(shown, figure)
        arrows = deviation_arrows(start, figure.displacement, figure.values, factor, size)
        self._put("vectors", f"{name} vectors", arrows, Role.DEVIATION_VECTOR)

    def _uncertainty(self, shown: Shown, figure: Figure, factor: float, name: str) -> None:
        tips, thick = shown.tips_of(figure, factor), 0.35 * _size(shown, figure)
        for number, direction in enumerate(figure.directions):
            bars = bars_along(tips, direction, factor * figure.expanded[:, number], thick)
            self._put("uncertainty", f"{name} bars {number}", bars, Role.UNCERTAINTY_BAR)

    def _limits(self, shown: Shown, figure: Figure, factor: float, name: str) -> None:
        if figure.form is not Form.LINE:
            return
        limits, accepted = limits_of(shown, figure), accepted_of(shown, figure)
        if limits is not None:
            self._put("limits", f"{name} zone", self._zone(shown, figure, factor, limits), Role.LIMIT_PLANE)
        if accepted is not None and is_about(shown, figure):
            within = self._zone(shown, figure, factor, accepted)
            self._put("limits", f"{name} accepted", within, Role.MACHINE_GHOST)
        self._piece(shown, figure, factor, name)

    def _piece(self, shown: Shown, figure: Figure, factor: float, name: str) -> None:
        """The worst piece of a sliding length: a bar on the machine, and its limits about its own line."""
        piece = worst_piece(shown, figure)
        if piece is None:
            return
        places, size = figure.places[piece.numbers], _size(shown, figure)
        bar = mesh_of(tubes(places[[0, -1]][None], PIECE * size, 8)[0], lit=False)
        zero, up = places + shown.raised(figure, factor), figure.directions[0]
        low, high = (zero + factor * edge[:, None] * up for edge in piece.zone(piece.limit))
        frame = pv.lines_from_points(np.vstack([low, high[::-1], low[:1]]))
        self._put("limits", f"{name} piece", bar, Role.FINDING_WARNING)
        self._put("limits", f"{name} piece zone", frame, Role.LIMIT_PLANE)

    def _zone(self, shown: Shown, figure: Figure, factor: float, limits: Limits) -> pv.PolyData:
        """Edges of limits about a line."""
        zero = figure.places + shown.raised(figure, factor)
        if limits.lean is not None:
            return leaning_lines(zero, limits, factor)
        if limits.middle:
            zero = zero + factor * limits.middle * _direction(limits)
        return zone_edges(zero, 0.5 * factor * limits.width, limits.across)


def is_about(shown: Shown, figure: Figure) -> bool:
    """Whether the value that is shown is that of this figure, and not of another one."""
    return len(shown.figures) == 1 or (shown.component is not None and shown.component.name in figure.words)


def _lines_of(shown: Shown) -> tuple[object, ...]:
    """Which parts a picture of ``shown`` has: equal where only places and sizes differ."""
    part = shown.component
    judged = None if part is None else (part.name, part.verdict is None, part.verdict and part.verdict.rule)
    figures = ((each.of, each.form, each.stations, each.words) for each in shown.figures)
    return (shown.kind, shown.task, shown.visit, judged, *figures)


def _size(shown: Shown, figure: Figure) -> float:
    """Radius [m] of shafts: that of a line of its length, or more where several lines stand far apart."""
    places = np.vstack([each.places for each in shown.figures])
    return max(line_size(figure.places), LEAST_SIZE * float(np.linalg.norm(np.ptp(places, axis=0))))


def _direction(limits: Limits) -> Floats:
    assert limits.across is not None
    return limits.across


def leaning_lines(zero: Floats, limits: Limits, factor: float) -> pv.PolyData:
    """Two lines through the pivot that lean as far as the limits allow."""
    assert limits.lean is not None
    along = zero[-1] - zero[0]
    ahead = (zero - zero[0]) @ along / float(np.linalg.norm(along))
    ahead = ahead - limits.pivot
    ends = [zero + factor * lean * ahead[:, None] * _direction(limits) for lean in limits.lean]
    count = len(zero)
    cells = np.concatenate([[count, *range(i * count, (i + 1) * count)] for i in range(len(ends))])
    return pv.PolyData(np.vstack(ends), lines=cells, deep=True)
