"""Reactions of the plan tab: a finding is chosen, and the picture goes there."""

from __future__ import annotations

from viewer.desk import Desk
from viewer.logic.plan import plan_document
from viewer.scene3d_plan import PlanPicture

__all__ = ["PlanReactions"]


class PlanReactions:
    """Keeps the plan panel and the mark of a finding in step."""

    def __init__(self, desk: Desk, picture: PlanPicture) -> None:
        self._desk = desk
        self._picture = picture
        desk.put(plan=plan_document(desk.session.check))

    def go_to(self, number: int) -> None:
        """Mark one finding in the picture and look at it."""
        if not (isinstance(number, int) and 0 <= number < len(self._desk.session.check.findings)):
            return
        camera = self._picture.mark_finding(number)
        self._desk.put(finding=number, view="")
        self._desk.redraw()
        self._desk.look(camera)

    def forget(self) -> None:
        """Take the mark away."""
        if self._desk.state.finding >= 0:
            self._picture.unmark()
            self._desk.put(finding=-1)
