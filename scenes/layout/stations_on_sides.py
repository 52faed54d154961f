"""Stations on plates, faces, rails and meshes by place: grids, named places, lines and circles."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from ..model.machine import MeshPart, Plate, Shape
from ..model.mesh_places import heights_of_mesh, nearest_on_mesh
from ..vectors import Floats, unit
from .context import Context
from .schema_stations import StationsKeys
from .station_spots import Spot, division_fits, spread
from .strict_yaml import Block, Place

__all__ = ["row_letters", "side_fits", "spots_on_side"]


def row_letters(row: int) -> str:
    """Letters of a row of a grid: A to Z, then AA, AB and so on; rows count from 0."""
    letters = ""
    row += 1
    while row:
        row, rest = divmod(row - 1, 26)
        letters = chr(ord("A") + rest) + letters
    return letters


def side_fits(entry: StationsKeys, shape: Shape, raw: Block, context: Context) -> bool:
    """Whether the places that the entry gives suit the shape and are complete; otherwise it is reported."""
    if entry.line is not None:
        return _line_fits(raw["line"], entry, context)
    if entry.grid is None and entry.margin is not None:
        message = "a margin belongs to a grid, or to stations along a rail, roll or bore"
        context.say(raw.keys_at["margin"], message, "remove it")
        return False
    if entry.grid is not None and isinstance(shape, Plate):
        return _grid_fits(entry, shape, raw, context)
    return True


def _grid_fits(entry: StationsKeys, shape: Plate, raw: Block, context: Context) -> bool:
    if entry.margin is None:
        context.say(raw.keys_at["grid"], "a grid needs a margin from the edges of the plate", "add margin: 100 mm")
        return False
    for word, margin, size in zip(("length", "width"), entry.margin, (shape.length, shape.width), strict=True):
        if margin >= 0.5 * size:
            message = f"a margin of {1e3 * margin:.6g} mm leaves nothing of the {word} of {1e3 * size:.6g} mm"
            context.say(raw.values_at["margin"], message, f"less than {500.0 * size:.6g} mm")
            return False
    return True


def _line_fits(raw: Block, entry: StationsKeys, context: Context) -> bool:
    line = entry.line
    assert line is not None
    if (line.count is None) == (line.every is None):
        said = "both count and every are" if line.count is not None else "neither count nor every is"
        context.say(raw.place, f"{said} given for this line of stations", "give one: count: 9, or every: 250 mm")
        return False
    length = float(np.hypot(line.to[0] - line.from_[0], line.to[1] - line.from_[1]))
    if length < 1e-6:
        context.say(raw.values_at["to"], "the line of stations starts and ends at the same place")
        return False
    return line.every is None or division_fits(length, line.every, raw.values_at["every"], "a line", context)


def spots_on_side(entry: StationsKeys, shape: Shape, raw: Block, place: Place, context: Context) -> list[Spot] | None:
    """Spots of an entry that ``side_fits``; None where one of them is not on the mesh, which is then reported."""
    spots = list(_spots(entry, shape, raw, place))
    return _on_mesh(spots, shape, entry.on, context) if isinstance(shape, MeshPart) else spots


def _spots(entry: StationsKeys, shape: Shape, raw: Block, place: Place) -> Iterator[Spot]:
    if entry.grid is not None and isinstance(shape, Plate):
        yield from _grid(entry, shape, place)
    elif isinstance(entry.at, dict):
        for name, at in entry.at.items():
            full = (at[0], at[1], at[2] if len(at) == 3 else 0.0)
            yield Spot(f"{entry.names or ''}{name}", full, raw["at"].keys_at[name], is_flat=len(at) == 2)
    elif entry.line is not None:
        yield from _line(entry, place)
    elif entry.circle is not None:
        angles = entry.circle.start + 2.0 * np.pi * np.arange(entry.circle.count) / entry.circle.count
        for i, angle in enumerate(angles.tolist()):
            x, y = entry.circle.radius * math.cos(angle), entry.circle.radius * math.sin(angle)
            yield Spot(f"{entry.names or 'C'}{i + 1}", (x, y, 0.0), place)


def _grid(entry: StationsKeys, shape: Plate, place: Place) -> Iterator[Spot]:
    assert entry.grid is not None
    assert entry.margin is not None
    columns, rows = entry.grid
    along = spread(entry.margin[0] - 0.5 * shape.length, 0.5 * shape.length - entry.margin[0], columns)
    across = spread(entry.margin[1] - 0.5 * shape.width, 0.5 * shape.width - entry.margin[1], rows)
    for row in range(rows):
        for column in range(columns):
            name = f"{entry.names or ''}{row_letters(row)}{column + 1}"
            yield Spot(name, (along[column], across[row], 0.0), place)


def _line(entry: StationsKeys, place: Place) -> Iterator[Spot]:
    assert entry.line is not None
    start, end = np.array(entry.line.from_), np.array(entry.line.to)
    length = float(np.hypot(*(end - start)))
    count = entry.line.count or int(length / (entry.line.every or length) + 1e-9) + 1
    step = (end - start) / (count - 1) if entry.line.every is None else (end - start) / length * entry.line.every
    x, y = ((end - start) / length).tolist()
    for i in range(count):
        spot = start + i * step
        at = (float(spot[0]), float(spot[1]), 0.0)
        yield Spot(f"{entry.names or 'L'}{i + 1}", at, place, along=(x, y, 0.0), is_flat=True)


def _on_mesh(spots: list[Spot], shape: MeshPart, surface: str, context: Context) -> list[Spot] | None:
    """Spots with their height, where it is not given, and the normal of the mesh; None where one of them misses it."""
    at = np.array([spot.at for spot in spots])
    flat = np.array([spot.is_flat for spot in spots])
    at[flat, 2] = heights_of_mesh(shape.triangles, at[flat, :2])
    missed = [spot for spot, z in zip(spots, at[:, 2], strict=True) if np.isnan(z)]
    for spot in missed:
        message = f"nothing of '{surface}' lies at the place of station '{spot.name}'"
        context.say(spot.place, message, "correct the place, or give all three lengths [x, y, z]")
    if missed:
        return None
    _, normals = nearest_on_mesh(shape.triangles, at)
    return [
        spot._replace(at=_vector(foot), normal=_vector(normal), along=_vector(_across(np.array(spot.along), normal)))
        for spot, foot, normal in zip(spots, at, normals, strict=True)
    ]


def _across(direction: Floats, normal: Floats) -> Floats:
    """``direction`` as near as it can be while square to ``normal``; y in its place where it runs along the normal."""
    for hint in (direction, np.array([0.0, 1.0, 0.0]), np.array([1.0, 0.0, 0.0])):
        flat = hint - (hint @ normal) * normal
        if np.linalg.norm(flat) > 1e-6:
            return unit(flat)
    raise AssertionError("two axes cannot both run along one normal")


def _vector(values: Floats) -> tuple[float, float, float]:
    x, y, z = values.tolist()
    return (x, y, z)
