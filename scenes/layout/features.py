"""Features that tasks speak of: a surface, its axis, its travel, or the line or plane of a set-up."""

from __future__ import annotations

from typing import Annotated, Any, TypeAlias

from pydantic import BeforeValidator, ValidationInfo

from .context import Context, context_of, fail, shown
from .json_words import ListOrOne
from .names import SurfaceName

__all__ = ["AXIS", "TRAVEL", "Feature", "FeatureList", "Reference", "SurfaceList", "SurfacePair", "surface_of"]

AXIS, TRAVEL = " axis", " travel"
"""What may stand behind the name of a surface."""


def surface_of(feature: str, context: Context) -> str:
    """Surface that a feature belongs to; empty where it is none, such as a set-up."""
    if feature in context.surfaces:
        return feature
    for word in (AXIS, TRAVEL):
        plain = feature.removesuffix(word)
        if plain != feature and plain in context.surfaces:
            return plain
    return ""


def _feature(value: Any, info: ValidationInfo) -> str:
    context = context_of(info)
    if not isinstance(value, str) or not value.strip():
        raise fail(f"the name of a machine surface is expected, not {shown(value)}")
    if not surface_of(str(value), context):
        raise fail(f"there is no machine surface {shown(value)}", context.near(_plain(value), context.surfaces))
    return str(value)


def _reference(value: Any, info: ValidationInfo) -> str:
    context = context_of(info)
    if not isinstance(value, str) or not value.strip():
        raise fail(f"the name of a machine surface or set-up is expected, not {shown(value)}")
    if not surface_of(str(value), context) and str(value) not in context.setups:
        advice = context.near(_plain(value), [*context.surfaces, *context.setups])
        raise fail(f"there is no machine surface or set-up {shown(value)}", advice)
    return str(value)


def _plain(name: str) -> str:
    """Name without a word behind it that may have been spelled right."""
    return str(name).removesuffix(AXIS).removesuffix(TRAVEL)


def _some(value: Any) -> Any:
    if value is None or isinstance(value, dict) or (isinstance(value, list) and not value):
        raise fail(f"a machine surface or a list of them is expected, not {shown(value)}")
    names = value if isinstance(value, list) else [value]
    if len({str(name) for name in names}) < len(names):
        raise fail("a surface is named twice", "name each once")
    return names


def _two(value: Any) -> Any:
    if not isinstance(value, list) or len(value) != 2:
        found = f"a list of {len(value)}" if isinstance(value, list) else shown(value)
        raise fail(f"two machine surfaces are expected, not {found}", "for example [rail_a, rail_b]")
    return _some(value)


Feature: TypeAlias = Annotated[str, BeforeValidator(_feature)]
Reference: TypeAlias = Annotated[str, BeforeValidator(_reference)]
FeatureList: TypeAlias = Annotated[list[Feature], BeforeValidator(_some), ListOrOne()]
SurfaceList: TypeAlias = Annotated[list[SurfaceName], BeforeValidator(_some), ListOrOne()]
SurfacePair: TypeAlias = Annotated[list[SurfaceName], BeforeValidator(_two)]
