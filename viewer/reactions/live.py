"""Reactions of the live tab: what the server's source of readings tells becomes page and picture."""

from __future__ import annotations

from typing import Any

import numpy as np

from scenes.vectors import Floats
from viewer.desk import Desk
from viewer.scene3d_live import GROUP, LivePicture

__all__ = ["LiveReactions"]

TAB = "live"


class LiveReactions:
    """Keeps panel and picture in step with the readings; the page opens with this tab."""

    def __init__(self, desk: Desk, picture: LivePicture) -> None:
        self._desk = desk
        self._picture = picture
        self._marks: list[dict[str, Any]] = []
        self._stale = False
        tabs = [{"value": TAB, "title": "Live"}, *desk.state.tabs]
        desk.put(live=None, live_failed="", live_all=False, tabs=tabs, tab=TAB)

    def hear(self, document: dict[str, Any]) -> None:
        """Show what there is now; called from outside of any reaction of the page."""
        with self._desk.state:
            self._desk.guarded(self._show)(dict(document))

    def _show(self, document: dict[str, Any]) -> None:
        if "failed" in document:
            self._desk.put(live_failed=document["failed"])
            return
        self._marks = document.pop("marks")
        self._desk.put(live=document, live_failed="")
        self._stale = True
        if self._desk.state.tab == TAB:
            self._draw()
            self._desk.redraw()

    def _draw(self) -> None:
        if self._stale:
            self._stale = False
            self._picture.draw(self._marks, self._desk.state.live["next"])

    # --- the picture

    groups = ("machine", "stand", GROUP)

    def refresh(self) -> None:
        """Show what came in while another tab was open."""
        self._desk.put(legend=None)
        self._draw()

    def drawn(self) -> Floats:
        """Points that a close look must hold."""
        return self._picture.places

    def points(self) -> tuple[tuple[str, ...], Floats]:
        """Stations and where they are marked."""
        return self._picture.stations, np.asarray(self._picture.places)
