"""Directions: words such as ``up`` and ``+x``, or three plain numbers."""

from __future__ import annotations

from typing import Annotated, Any, TypeAlias

from pydantic import ValidationInfo

from .context import fail, shown
from .values import Number, Validated

__all__ = ["WAYS", "Direction", "Way"]

WAYS: dict[str, tuple[float, float, float]] = {
    "+x": (1.0, 0.0, 0.0),
    "-x": (-1.0, 0.0, 0.0),
    "+y": (0.0, 1.0, 0.0),
    "-y": (0.0, -1.0, 0.0),
    "+z": (0.0, 0.0, 1.0),
    "-z": (0.0, 0.0, -1.0),
    "up": (0.0, 0.0, 1.0),
    "down": (0.0, 0.0, -1.0),
}
"""Words for a direction."""


class Direction(Validated):
    """A direction: one of the words of ``WAYS`` or three plain numbers."""

    def read(self, value: Any, info: ValidationInfo) -> tuple[float, float, float]:
        """Direction as written, not yet of length one."""
        if isinstance(value, str) and value in WAYS:
            return WAYS[value]
        if not isinstance(value, list) or len(value) != 3:
            words = ", ".join(WAYS)
            raise fail(f"a direction is expected, not {shown(value)}", f"one of {words}, or three numbers [x, y, z]")
        number = Number(-1e6, 1e6)
        x, y, z = (number.read(entry, info) for entry in value)
        if max(abs(x), abs(y), abs(z)) < 1e-6:
            raise fail("a direction of length zero points nowhere", "for example [0, 0, 1]")
        return (x, y, z)

    def schema(self) -> dict[str, Any]:
        """JSON Schema: the words, or three numbers."""
        numbers = {"type": "array", "items": {"type": "number"}, "minItems": 3, "maxItems": 3}
        return {"oneOf": [{"enum": list(WAYS)}, numbers]}


Way: TypeAlias = Annotated[tuple[float, float, float], Direction()]
