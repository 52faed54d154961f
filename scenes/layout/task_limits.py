"""Kinds of limits of tasks, one for all or one for each component, and distances by tape."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import BeforeValidator, Discriminator, Tag

from ..model.survey import Limit
from .context import fail, shown
from .limits import LimitText
from .quantities import Size

__all__ = [
    "DirectionLimits", "EitherLimit", "LengthLimit", "PositionLimits", "SignedEither", "SignedLimit", "SquareLimits",
    "Taped", "ZoneLimit",
]  # fmt: skip

LengthLimit = Annotated[Limit, LimitText()]
ZoneLimit = Annotated[Limit, LimitText(diameter=True)]
EitherLimit = Annotated[Limit, LimitText(angle=True)]
SignedLimit = Annotated[Limit, LimitText(signed=True)]
SignedEither = Annotated[Limit, LimitText(angle=True, signed=True)]
AngleLimit = Annotated[Limit, LimitText(length=False, angle=True, signed=True)]


def _tag(value: Any) -> str:
    return "<parts>" if isinstance(value, dict) else "<one>"


def _components(*known: str) -> BeforeValidator:
    def check(value: Any) -> Any:
        for name in value:
            if name not in known:
                raise fail(f"{shown(name)} is no component of this limit", f"one of: {', '.join(known)}")
        if not value:
            raise fail("a limit is expected, not an empty mapping")
        return value

    return BeforeValidator(check)


UP_AND_FRONT = ("up", "front", "side")
DirectionLimits = Annotated[
    Annotated[AngleLimit, Tag("<one>")] | Annotated[dict[str, AngleLimit], _components(*UP_AND_FRONT), Tag("<parts>")],
    Discriminator(_tag),
]
SquareLimits = Annotated[
    Annotated[EitherLimit, Tag("<one>")] | Annotated[dict[str, EitherLimit], _components("x", "y"), Tag("<parts>")],
    Discriminator(_tag),
]
PositionLimits = Annotated[
    Annotated[ZoneLimit, Tag("<one>")]
    | Annotated[dict[str, SignedLimit], _components("vertical", "horizontal"), Tag("<parts>")],
    Discriminator(_tag),
]
OneTape = dict[str, Size]


def _tape_tag(value: Any) -> str:
    visits = isinstance(value, dict) and any(isinstance(each, dict) for each in value.values())
    return "<visits>" if visits else "<one>"


Taped = Annotated[
    Annotated[OneTape, Tag("<one>")] | Annotated[dict[str, OneTape], Tag("<visits>")], Discriminator(_tape_tag)
]
