"""The result as a picture file, with everything that has to stand beside it: factor, true scale, colours, verdict."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from scenes.units import from_si
from viewer import text
from viewer.colours import theme_of
from viewer.graphics import require_graphics
from viewer.logic.legend import factor_words
from viewer.logic.result import result_document
from viewer.logic.session import Session
from viewer.logic.shown import Shown, first_factor, shown_of
from viewer.logic.signs import bar_words, corners_drawn
from viewer.scene3d import Scene
from viewer.scene3d_plan import PlanPicture, close_camera, view_camera
from viewer.scene3d_result import ResultPicture, beam_mesh_of

__all__ = ["PictureOptions", "render_png"]

SAMPLES = 8
FONT_SHARE = 0.024
"""Height of letters as a share of the picture's height."""

LAYERS = ("machine", "stand", "surface", "vectors", "limits", "names", "chosen")
PLAN_LAYERS = ("machine", "stand", "targets", "stations", "beams", "swept plane", "plan names", "findings")


@dataclass(frozen=True, slots=True)
class PictureOptions:
    """What the picture shows; what is not given is taken as the viewer does when it is opened."""

    task: str = ""
    visit: str = ""
    reference: str = ""
    predicted: bool = False
    factor: float | None = None
    station: str = ""
    view: str = ""
    dark: bool = False
    size: tuple[int, int] = (1600, 1000)
    layers: tuple[str, ...] = LAYERS
    setups: tuple[str, ...] = ()


def render_png(session: Session, path: str | Path, options: PictureOptions | None = None) -> None:
    """Draw the result, or without readings the plan, off screen and write it to ``path``.

    Raises
    ------
    PictureError
        This machine cannot draw.
    KeyError
        Where there is no such task, visit or set-up.
    """
    require_graphics()
    chosen = PictureOptions() if options is None else options
    scene = Scene(theme_of(chosen.dark), samples=SAMPLES)
    try:
        scene.plotter.window_size = list(chosen.size)
        plan = PlanPicture(scene, session.check)
        if chosen.setups:
            plan.restrict(chosen.setups)
        if session.survey is None:
            scene.show(PLAN_LAYERS)
            scene.look(view_camera(session.layout, chosen.view or "whole", chosen.size))
        else:
            _draw_result(scene, session, chosen)
        scene.plotter.render()  # a screenshot after the first picture does not draw again
        scene.plotter.screenshot(str(path))
    finally:
        scene.close()


def _draw_result(scene: Scene, session: Session, options: PictureOptions) -> None:
    task = options.task or session.tasks()[0]
    visit = options.visit or session.visits(task)[0]
    shown = shown_of(session, task, visit, options.reference, options.predicted)
    factor = first_factor(session, task) if options.factor is None else options.factor
    result = ResultPicture(scene, session.layout.units.deviation, session.layout.units.angle)
    scene.show(options.layers)
    result.draw(shown, factor)
    if options.station:
        result.choose(options.station, beam_mesh_of(session.check.plan, options.station))
    drawn = corners_drawn(shown, factor)
    if options.view in ("", "bed"):
        scene.look(close_camera(session.layout, shown.stations, drawn, options.size))
    else:
        scene.look(view_camera(session.layout, options.view, options.size, drawn))
    _write_beside(scene, session, shown, options, factor)


def _write_beside(scene: Scene, session: Session, shown: Shown, options: PictureOptions, factor: float) -> None:
    """Title, verdict, factor and true scale in the corners; the colours with their unit."""
    units = session.layout.units
    unit = units.angle if shown.angles else units.deviation
    head = result_document(session, shown)["head"]
    size = max(10, round(FONT_SHARE * options.size[1]))
    ink = scene.theme.special["ink"].colour
    bar = bar_words(shown, units.deviation, units.angle)
    words = f"{session.layout.title or shown.task}\n{shown.visit}: {head['word']}"
    if head["value"]:
        words += f", {head['value']} {head['expanded']}".rstrip()
    what = "heights" if shown.sheet is not None else "slopes" if shown.angles else "deviations"
    written: Any = scene.plotter.add_text
    written(words, position=(0.02, 0.90), viewport=True, font_size=size // 2, color=ink, name="words")
    written(f"{factor_words(factor, what)}; standing bar = {bar}", position=(0.02, 0.03), viewport=True,
            font_size=size // 2, color=ink, name="scale")  # fmt: skip
    limit = ""
    if shown.zone is not None:
        low, high = (text.quantity(end, unit, sign=True) for end in shown.zone)
        limit = f"; limits {low} and {high}"
    per = from_si(1e-6, unit, "angle" if shown.angles else "length")
    scene.add_colour_bar(f"deviation [{text.screen_unit(unit)}]{limit}", per, size)
