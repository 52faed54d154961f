"""The picture as such: a plotter with named actors in groups, painted by theme.

What stands in the picture is decided in the ``scene3d_*`` files; here parts are drawn, replaced, painted, shown and
looked at. All content is plain meshes, so that a picture drawn in the browser shows the same as one drawn here.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np
import pyvista as pv

from scenes.meshes.cameras import VIEW_ANGLE, Camera
from scenes.meshes.deviation_surface import DEVIATION
from scenes.meshes.scene_parts import Part, Role
from scenes.vectors import Floats
from viewer.colours import Paint, Theme, diverging, hex_of

__all__ = ["FIRST_SIZE", "Scene"]

FIRST_SIZE = (1000, 700)
"""Size of the picture in pixels until the page has told its own."""

MAP_STEPS = 256
_MAP = [hex_of(colour) for colour in diverging(np.linspace(-1.0, 1.0, MAP_STEPS))]
_COLOURED = (Role.DEVIATION_SURFACE, Role.DEVIATION_VECTOR)
_SMOOTH = (Role.DEVIATION_SURFACE, Role.MACHINE_SURFACE, Role.MACHINE_INSIDE, Role.MACHINE_SHELL)
_ONE_SIDED = (Role.MACHINE_INSIDE, Role.GLASS, Role.GHOST_STAND, Role.GHOST_TARGET)
"""Not drawn where they are seen from behind, so that one looks through the near side of a bore at the far one."""


@dataclass(slots=True)
class _Drawn:
    """One actor and what it shows."""

    actor: Any
    mesh: pv.PolyData
    group: str
    role: Role
    paint: str
    place_kind: str
    place_name: str
    opacity: float | None = None


def _colour_by_deviation(mapper: Any, mesh: pv.PolyData) -> None:
    """Take the colours from the array by its name, so that they survive an exchange of the mesh."""
    if DEVIATION in mesh.point_data:
        mapper.SetScalarModeToUsePointFieldData()
    else:
        mapper.SetScalarModeToUseCellFieldData()
    mapper.SelectColorArray(DEVIATION)
    mapper.SetScalarVisibility(True)


class Scene:
    """Plotter whose actors have names and groups; a part of the same name replaces the earlier one."""

    def __init__(self, theme: Theme, samples: int = 0) -> None:
        self.plotter = pv.Plotter(off_screen=True, window_size=FIRST_SIZE, lighting=None)
        self.plotter.render_window.SetMultiSamples(samples)
        # What can be seen through is faint here; the pass that sorts it costs a third of each picture.
        self.plotter.renderer.SetUseOIT(False)
        self.plotter.camera.view_angle = VIEW_ANGLE
        self.theme = theme
        self.range = 1.0
        self._drawn: dict[str, _Drawn] = {}
        self._shown: set[str] = set()
        self._before_render: list[Callable[[], None]] = []
        self._set_background()
        self._set_lights()
        self.plotter.renderer.AddObserver("StartEvent", self._about_to_render)

    # --- parts

    def put(self, group: str, parts: Iterable[Part], paint: str = "") -> None:
        """Draw ``parts`` in ``group``, by their roles or all with the special ``paint`` of the theme.

        A part with no cells only removes the earlier one of its name.
        """
        for part in parts:
            drawn = self._drawn.get(part.name)
            if part.mesh.n_cells == 0:
                self.remove(part.name)
            elif drawn is not None and (drawn.group, drawn.role) == (group, part.role):
                self._exchange(drawn, part, paint)
            else:
                self.remove(part.name)
                self._add(group, part, paint)

    def _exchange(self, drawn: _Drawn, part: Part, paint: str) -> None:
        """Give an actor another mesh: much quicker than another actor."""
        drawn.actor.mapper.SetInputData(part.mesh)
        drawn.mesh = part.mesh
        drawn.place_kind, drawn.place_name = part.place_kind, part.place_name
        if drawn.paint != paint:
            drawn.paint = paint
            self._style(drawn)

    def _paint_of(self, drawn: _Drawn) -> Paint:
        return self.theme.special[drawn.paint] if drawn.paint else self.theme.paints[drawn.role]

    def _add(self, group: str, part: Part, paint: str) -> None:
        options: dict[str, Any] = {"color": "white"}
        if part.role in _COLOURED:
            options = {"scalars": DEVIATION, "cmap": _MAP, "clim": (-self.range, self.range), "nan_color": "#888888"}
        # The mesh goes in as it is, for a redraw in place; pyvista would work on a copy otherwise.
        actor = self.plotter.add_mesh(
            part.mesh, name=part.name, reset_camera=False, render=False, show_scalar_bar=False, copy_mesh=False,
            **options,
        )  # fmt: skip
        actor.mapper.SetInputData(part.mesh)
        if part.role in _COLOURED:
            _colour_by_deviation(actor.mapper, part.mesh)
        if part.role in _SMOOTH:
            actor.GetProperty().SetInterpolationToPhong()  # with the normals that the mesh brings
        actor.GetProperty().SetBackfaceCulling(part.role in _ONE_SIDED)
        self._drawn[part.name] = _Drawn(actor, part.mesh, group, part.role, paint, part.place_kind, part.place_name)
        self._style(self._drawn[part.name])
        actor.SetVisibility(group in self._shown)

    def _style(self, drawn: _Drawn) -> None:
        paint = self._paint_of(drawn)
        prop = drawn.actor.GetProperty()
        if drawn.role not in _COLOURED:
            prop.SetColor(pv.Color(paint.colour).float_rgb)
        prop.SetOpacity(paint.opacity if drawn.opacity is None else drawn.opacity)
        prop.SetLineWidth(max(paint.line, 1.0))
        prop.SetLighting(paint.lit)
        prop.SetSpecular(0.0)
        prop.SetAmbient(0.45 if drawn.role in _COLOURED else 0.36)
        prop.SetDiffuse(0.62 if drawn.role in _COLOURED else 0.72)

    def remove(self, name: str) -> None:
        """Take one part out of the picture; it need not be there."""
        if name in self._drawn:
            self.plotter.remove_actor(self._drawn.pop(name).actor, reset_camera=False, render=False)

    def clear(self, group: str) -> None:
        """Take all parts of ``group`` out of the picture."""
        for name in [name for name, drawn in self._drawn.items() if drawn.group == group]:
            self.remove(name)

    def names(self, group: str) -> tuple[str, ...]:
        """Names of the parts in ``group``."""
        return tuple(name for name, drawn in self._drawn.items() if drawn.group == group)

    def mesh(self, name: str) -> pv.PolyData | None:
        """The mesh of a part, to be changed in place, or None."""
        return self._drawn[name].mesh if name in self._drawn else None

    # --- how it looks

    def show(self, groups: Iterable[str]) -> None:
        """Show these groups and hide all others."""
        self._shown = set(groups)
        for drawn in self._drawn.values():
            drawn.actor.SetVisibility(drawn.group in self._shown)

    def is_shown(self, group: str) -> bool:
        """Whether ``group`` is shown."""
        return group in self._shown

    def set_range(self, largest: float) -> None:
        """Let the ends of the colour map stand for plus and minus ``largest`` [um]."""
        self.range = max(largest, 1e-3)
        for drawn in self._drawn.values():
            if drawn.role in _COLOURED:
                drawn.actor.mapper.scalar_range = (-self.range, self.range)

    def set_theme(self, theme: Theme) -> None:
        """Paint everything anew."""
        self.theme = theme
        self._set_background()
        for drawn in self._drawn.values():
            self._style(drawn)

    def make_glass(self, name: str, opacity: float) -> None:
        """Let one part be seen through, in every theme; only the sides that face the eye are drawn."""
        drawn = self._drawn[name]
        drawn.opacity = opacity
        drawn.actor.GetProperty().SetOpacity(opacity)
        drawn.actor.GetProperty().SetBackfaceCulling(True)

    def _set_lights(self) -> None:
        """One light from over the left shoulder and a weak one from the right; each more costs time per pixel."""
        for place, intensity in (((-0.5, 0.9, 1.0), 0.80), ((0.9, 0.0, 0.6), 0.38)):
            light = pv.Light(position=place, focal_point=(0.0, 0.0, 0.0), light_type="cameralight", intensity=intensity)
            self.plotter.add_light(light)

    def _set_background(self) -> None:
        self.plotter.set_background(self.theme.low, top=self.theme.high)

    # --- camera

    def look(self, camera: Camera) -> None:
        """Stand where ``camera`` stands."""
        mine = self.plotter.camera
        mine.position, mine.focal_point, mine.up = camera.position, camera.focal_point, camera.up
        mine.view_angle = VIEW_ANGLE
        self.plotter.renderer.ResetCameraClippingRange()

    @property
    def camera(self) -> Camera:
        """Where the picture is seen from."""
        mine = self.plotter.camera
        return Camera(np.array(mine.position), np.array(mine.focal_point), np.array(mine.up))

    @property
    def size(self) -> tuple[int, int]:
        """Width and height of the picture in pixels."""
        width, height = self.plotter.render_window.GetSize()
        return int(width), int(height)

    def before_render(self, call: Callable[[], None]) -> None:
        """Call ``call`` before each picture is drawn: things that turn with the camera."""
        self._before_render.append(call)

    def _about_to_render(self, *_: object) -> None:
        for call in self._before_render:
            call()
        self.plotter.renderer.ResetCameraClippingRange()

    def pixels(self) -> Floats:
        """The picture as it is now, ``(height, width, 3)``."""
        self.plotter.render()
        picture: Floats = np.asarray(self.plotter.screenshot(return_img=True))
        return picture

    def add_colour_bar(self, title: str, per_micrometre: float, size: int) -> None:
        """Draw the colours with their values into the picture itself, for files; ``size`` of letters in pixels."""
        table = pv.LookupTable(cmap=_MAP)
        table.scalar_range = (-self.range * per_micrometre, self.range * per_micrometre)
        mapper = pv.DataSetMapper()
        mapper.lookup_table = table
        self.plotter.add_scalar_bar(
            title=title, mapper=mapper, n_labels=5, fmt="{:+.6g}", width=0.36, height=0.075, position_x=0.6,
            position_y=0.02, title_font_size=size, label_font_size=size, color=self.theme.special["ink"].colour,
        )  # fmt: skip

    def close(self) -> None:
        """Give the window back."""
        self.plotter.close()
