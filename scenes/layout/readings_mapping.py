"""The readings section of a layout, resolved: how tables of readings are read."""

from __future__ import annotations

import re

from ..model.layout import ReadingsMapping, WideTable
from .context import Context, place_of
from .entries import read_key
from .schema_file import LayoutFile
from .schema_readings import ColumnKeys, ColumnsKeys, ReadingsKeys, WideKeys
from .strict_yaml import Block, Place

__all__ = ["read_readings_mapping"]

_CELLS = ("h", "v", "pitch", "yaw")
_UNIT = re.compile(r"[\[(]([^\[\]()]*)[\])]\s*$")


def read_readings_mapping(root: Block, context: Context) -> ReadingsMapping:
    """How the layout says that tables of readings are read; what is wrong goes to ``context``."""
    readings: ReadingsKeys | None = read_key(LayoutFile, "readings", root, context)
    if readings is None:
        return ReadingsMapping()
    signs = readings.signs
    return ReadingsMapping(
        columns=_columns(readings.columns, root, context),
        v_up=signs is None or signs.v == "spot up",
        h_right=signs is None or signs.h == "spot right",
        decimal=readings.decimal or "",
        delimiter=readings.delimiter or "",
        headers=tuple(readings.headers or ()),
        sheet=readings.sheet or "",
        wide=_wide(readings.wide, root, context),
    )


def _columns(keys: ColumnsKeys | None, root: Block, context: Context) -> dict[str, str]:
    """Own column name -> header with its unit in brackets, as it may stand in a file."""
    columns = {}
    for key, field in ColumnsKeys.key_names().items():
        said = getattr(keys, field, None)
        if isinstance(said, ColumnKeys):
            header, unit = said.header or key, getattr(said, "unit", None)
            found = _UNIT.search(header)
            if found and unit:
                message = f"the header '{header}' states the unit {found[1]} already"
                context.say(_place(root, ("columns", key)), message, "leave unit out")
            columns[key] = f"{header} [{unit}]" if unit and not found else header
        elif said is not None:
            columns[key] = said
    return columns


def _wide(keys: WideKeys | None, root: Block, context: Context) -> WideTable | None:
    if keys is None:
        return None
    cells = {name: tuple(getattr(keys, name)) for name in _CELLS if getattr(keys, name) is not None}
    place = _place(root, ("wide",))
    if not cells:
        context.say(place, "the wide table does not say what its cells hold", 'for example v: "{visit}"')
    column = "{column}" in keys.station.replace(" ", "")
    for name, patterns in cells.items():
        for number, pattern in enumerate(patterns):
            words = set(re.findall(r"\{ *([a-z]+) *\}", pattern))
            at = _place(root, ("wide", name, number))
            if {"station", "column"} <= words:
                context.say(at, "{station} is a whole name, {column} a part of one", "keep one of them")
            elif column != ("column" in words) and "station" not in words:
                message = "a grid needs {column} in the header, and in the names of the stations"
                context.say(at, message, 'for example v: "{column}", station: "{row}{column}"')
    return WideTable(cells, keys.station)


def _place(root: Block, path: tuple[str | int, ...]) -> Place:
    return place_of(root, ("readings", *path), Place(1, 1))
