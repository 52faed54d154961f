"""Values of a device or mount: those of its kind, then those that the layout states, each with its origin."""

from __future__ import annotations

from typing import Any

from ..model.devices import Origins
from .catalogue import Kind
from .keys import Keys
from .strict_yaml import Block

__all__ = ["DEFAULT", "kind_values", "stated_at"]

DEFAULT = "default"
"""Origin of a value that neither the catalogue nor the layout states."""

_PAIRS = {"window": ("window_h", "window_v"), "zero": ("zero_h", "zero_v")}
_REMARKS = ("about",)


def stated_at(raw: Block, key: str) -> str:
    """Origin of a value that the layout states."""
    return f"layout line {raw.keys_at[key].line}"


def kind_values(kind: Kind, entry: Keys | None, raw: Block | None) -> tuple[dict[str, Any], Origins]:
    """Field values and their origins.

    A value that neither states is left out of the values, so that the default of the model holds.
    """
    values: dict[str, Any] = {}
    origins: Origins = {}
    assert kind.data is not None
    for key, field in type(kind.data).key_names().items():
        if field in _REMARKS:
            continue
        value, origin = getattr(kind.data, field), kind.origin
        stated = getattr(entry, field, None)
        if stated is not None and raw is not None:
            value, origin = stated, stated_at(raw, key)
        if value is None:
            origins[field] = DEFAULT
            continue
        parts = _PAIRS.get(field)
        for name, part in zip(parts, value, strict=True) if parts else [(field, value)]:
            values[name], origins[name] = part, origin
    return values, origins
