"""A shelf of a scene: parts and groups under a name of their own, so that two tabs draw alike without meeting."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace

import pyvista as pv

from scenes.meshes.cameras import Camera
from scenes.meshes.scene_parts import Part
from viewer.scene3d import Scene

__all__ = ["Shelf"]


class Shelf(Scene):
    """Looks like a scene to what draws on it; everything goes to ``scene``, with ``name`` in front of its names."""

    def __init__(self, scene: Scene, name: str) -> None:
        # The plotter is that of the scene: a shelf makes none.
        self._scene, self._name = scene, name

    def own(self, group: str) -> str:
        """Name of a part or group in the scene itself."""
        return f"{self._name} {group}"

    def put(self, group: str, parts: Iterable[Part], paint: str = "") -> None:
        """Draw ``parts`` in ``group``."""
        self._scene.put(self.own(group), [replace(part, name=self.own(part.name)) for part in parts], paint)

    def remove(self, name: str) -> None:
        """Take one part out of the picture; it need not be there."""
        self._scene.remove(self.own(name))

    def clear(self, group: str) -> None:
        """Take all parts of ``group`` out of the picture."""
        self._scene.clear(self.own(group))

    def mesh(self, name: str) -> pv.PolyData | None:
        """The mesh of a part, to be changed in place, or None."""
        return self._scene.mesh(self.own(name))

    def is_shown(self, group: str) -> bool:
        """Whether ``group`` is shown."""
        return self._scene.is_shown(self.own(group))

    def set_range(self, largest: float) -> None:
        """Let the ends of the colour map stand for plus and minus ``largest`` [um]."""
        self._scene.set_range(largest)

    @property
    def camera(self) -> Camera:
        """Where the picture is seen from."""
        return self._scene.camera

    @property
    def size(self) -> tuple[int, int]:
        """Width and height of the picture in pixels."""
        return self._scene.size

    def before_render(self, call: Callable[[], None]) -> None:
        """Call ``call`` before each picture is drawn."""
        self._scene.before_render(call)
