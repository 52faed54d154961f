"""The stage: a session with its picture, drawn once, before there is a page to show it on."""

from __future__ import annotations

from dataclasses import dataclass

from viewer.colours import LIGHT
from viewer.logic.session import Session
from viewer.logic.shown import first_factor, shown_of
from viewer.scene3d import Scene
from viewer.scene3d_plan import PlanPicture, view_camera
from viewer.scene3d_result import ResultPicture

__all__ = ["Stage", "set_stage"]

USUAL_SIZE = (962, 688)
"""Size of the picture on a usual laptop; the page says its own later."""


@dataclass(frozen=True, slots=True, eq=False)
class Stage:
    """Session and scene; ``result`` draws results where there are readings."""

    session: Session
    scene: Scene
    plan: PlanPicture
    result: ResultPicture | None


def set_stage(session: Session) -> Stage:
    """Draw the first picture of ``session``, so that a page need not wait for it."""
    scene = Scene(LIGHT)
    scene.plotter.window_size = list(USUAL_SIZE)
    plan = PlanPicture(scene, session.check)
    result = None
    if session.survey is not None:
        result = ResultPicture(scene, session.layout.units.deviation, session.layout.units.angle)
        for task in session.tasks()[:1]:
            scene.show(["surface", "vectors", "limits", "names"])
            result.draw(shown_of(session, task, session.visits(task)[0], "", False), first_factor(session, task))
    scene.show(["machine", "stand", "surface", "vectors", "limits", "names", "chosen", "targets", "beams"])
    scene.look(view_camera(session.layout, "whole", USUAL_SIZE))
    scene.plotter.render()  # the graphics driver makes its programs now
    return Stage(session, scene, plan, result)
