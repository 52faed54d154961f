"""What a tab of its own tells the picture: the groups that it shows, and where its stations are drawn."""

from __future__ import annotations

from typing import Protocol

from scenes.vectors import Floats

__all__ = ["TabPicture"]


class TabPicture(Protocol):
    """Reactions of a tab that has a picture of its own."""

    @property
    def groups(self) -> tuple[str, ...]:
        """Groups of the scene that the tab shows."""

    def refresh(self) -> None:
        """Show what is chosen after another tab, with legend and colours."""

    def drawn(self) -> Floats:
        """Points ``(n, 3)`` that a close look must hold; none: it is seen as a whole."""

    def points(self) -> tuple[tuple[str, ...], Floats]:
        """Stations and the points at which they are drawn."""
