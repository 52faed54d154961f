"""The references that deviations are counted from."""

from __future__ import annotations

from enum import StrEnum

__all__ = ["OF_POINTS", "Reference"]


class Reference(StrEnum):
    """Line, plane or axis that deviations are counted from."""

    MINIMUM_ZONE = "minimum zone"
    LEAST_SQUARES = "least squares"
    THREE_POINTS = "three points"
    END_POINTS = "end points"
    MINIMUM_CYLINDER = "minimum circumscribed cylinder"
    GRAVITY = "gravity"
    DATUM_FEATURE = "datum feature"


OF_POINTS = (Reference.MINIMUM_ZONE, Reference.LEAST_SQUARES, Reference.THREE_POINTS, Reference.END_POINTS)
"""Those that a list of points has by itself, as a line or a plane."""
