"""The references that deviations are counted from."""

from __future__ import annotations

from enum import StrEnum

__all__ = ["Reference"]


class Reference(StrEnum):
    """Line or plane that deviations are counted from."""

    MINIMUM_ZONE = "minimum zone"
    LEAST_SQUARES = "least squares"
    THREE_POINTS = "three points"
    END_POINTS = "end points"
