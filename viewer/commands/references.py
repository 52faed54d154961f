"""Reference methods and decision rules as they are typed on the command line."""

from __future__ import annotations

from enum import StrEnum
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from scenes.model.survey import Rule
    from scenes.reductions.form import Reference

__all__ = ["DecisionRule", "FormReference", "TaskReference", "reference_of", "rule_of"]


class FormReference(StrEnum):
    """References that a list of points has by itself."""

    MINIMUM_ZONE = "minimum-zone"
    LEAST_SQUARES = "least-squares"
    END_POINTS = "end-points"
    THREE_POINTS = "three-points"


class TaskReference(StrEnum):
    """References that a task of a layout may count from."""

    MINIMUM_ZONE = "minimum-zone"
    LEAST_SQUARES = "least-squares"
    END_POINTS = "end-points"
    THREE_POINTS = "three-points"
    MINIMUM_CYLINDER = "minimum-circumscribed-cylinder"
    GRAVITY = "gravity"
    DATUM_FEATURE = "datum-feature"


class DecisionRule(StrEnum):
    """How a verdict treats uncertainty."""

    GUARD_BAND = "guard-band"
    GUARD_BAND_U = "guard-band-of-U"
    SIMPLE = "simple-acceptance"
    RELAXED = "relaxed-acceptance"


def reference_of(typed: FormReference | TaskReference | None) -> Reference | None:
    """Reference method of what was typed, or None."""
    from scenes.reductions.form import Reference

    return None if typed is None else Reference(typed.value.replace("-", " "))


def rule_of(typed: DecisionRule) -> Rule:
    """Decision rule of what was typed."""
    from scenes.model.survey import Rule

    return Rule(typed.value.replace("-", " "))
