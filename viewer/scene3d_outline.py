"""The border of a deviation surface at its zero level, found once and then only raised."""

from __future__ import annotations

import pyvista as pv

from scenes.meshes.deviation_surface import DeviationSurface, zero_outline

__all__ = ["Outline"]


class Outline:
    """Kept, because finding the border takes longer than everything else that a slider costs."""

    def __init__(self, surface: DeviationSurface) -> None:
        self._flat = zero_outline(surface, 0.0)
        self._normal = surface.normal

    def at(self, lift: float) -> pv.PolyData:
        """The border ``lift`` [m] above the surface, as lines."""
        raised = self._flat.copy()
        raised.points = self._flat.points + lift * self._normal
        return raised
