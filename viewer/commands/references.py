"""Reference methods as they are typed on the command line."""

from __future__ import annotations

from enum import StrEnum
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from scenes.reductions.form import Reference

__all__ = ["FormReference", "reference_of"]


class FormReference(StrEnum):
    """References of deviations."""

    MINIMUM_ZONE = "minimum-zone"
    LEAST_SQUARES = "least-squares"
    END_POINTS = "end-points"
    THREE_POINTS = "three-points"


def reference_of(typed: FormReference | None) -> Reference | None:
    """Reference method of what was typed, or None."""
    from scenes.reductions.form import Reference

    return None if typed is None else Reference(typed.value.replace("-", " "))
