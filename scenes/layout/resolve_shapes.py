"""Shapes of the model out of their keys; what does not fit together is reported."""

from __future__ import annotations

from pathlib import Path

from ..model.machine import Bore, Column, Face, MeshPart, Plate, Rail, Roll, Shape
from .context import Context
from .mesh_files import MeshFileError, read_mesh_file
from .schema_machine import SurfaceKeys
from .schema_shapes import BoreKeys, FaceKeys, MeshKeys, PlatensKeys
from .strict_yaml import Block

__all__ = ["platen_shape", "shape_of"]

WALL = 0.2
"""Material around a bore where nothing is said, as a share of its diameter."""


def platen_shape(keys: PlatensKeys) -> Plate:
    """Shape of each of a pair of platens."""
    return Plate(keys.length, keys.width, keys.thickness)


def shape_of(entry: SurfaceKeys, raw: Block, context: Context) -> Shape | None:
    """Shape of a surface that is one; None where its sizes do not fit together, which is then reported."""
    if entry.plate is not None:
        return Plate(entry.plate.length, entry.plate.width, entry.plate.thickness)
    if entry.column is not None:
        return Column(entry.column.length, entry.column.width, entry.column.height)
    if entry.rail is not None:
        return Rail(entry.rail.length, entry.rail.width, entry.rail.height, entry.rail.guide)
    if entry.roll is not None:
        return Roll(entry.roll.diameter, entry.roll.face)
    if entry.face is not None:
        return _face(entry.face, raw["face"], context)
    if entry.bore is not None:
        return _bore(entry.bore, raw["bore"], context)
    if entry.mesh is not None:
        return _mesh(entry.mesh, raw["mesh"], context)
    return None


def _face(keys: FaceKeys, raw: Block, context: Context) -> Face | None:
    if keys.bore >= keys.diameter:
        context.say(raw.values_at["bore"], "the bore of a face must be smaller than its diameter")
        return None
    return Face(keys.diameter, keys.bore, keys.thickness)


def _bore(keys: BoreKeys, raw: Block, context: Context) -> Bore | None:
    plain = [key for key in ("diameter", "length") if key in raw]
    if keys.sections is not None:
        if plain:
            message = "a bore has either a diameter and a length, or sections"
            context.say(raw.keys_at[plain[0]], message, "remove one of them")
            return None
        sections = _sections(keys, raw, context)
    elif keys.diameter is not None and keys.length is not None:
        sections = ((keys.diameter, 0.0, keys.length),)
    else:
        absent = "length" if keys.diameter is not None else "diameter"
        context.say(raw.place, f"a bore needs the key '{absent}'", "diameter and length, or sections for several bores")
        return None
    if sections is None:
        return None
    wall = keys.wall if keys.wall is not None else WALL * max(diameter for diameter, _, _ in sections)
    return Bore(sections, wall)


def _sections(keys: BoreKeys, raw: Block, context: Context) -> tuple[tuple[float, float, float], ...] | None:
    """Sections in the order of their places; None where one of them is turned round or overlaps another."""
    assert keys.sections is not None
    listed = sorted(enumerate(keys.sections), key=lambda pair: pair[1].from_)
    before = 0.0
    for number, section in listed:
        place = raw["sections"][number].values_at
        if section.to <= section.from_:
            context.say(place["to"], "a section must end behind where it starts", "exchange from and to")
            return None
        if section.from_ < before - 1e-9:
            context.say(place["from"], f"this section starts before the one in front ends, at {1e3 * before:.6g} mm")
            return None
        before = section.to
    return tuple((section.diameter, section.from_, section.to) for _, section in listed)


def _mesh(keys: MeshKeys, raw: Block, context: Context) -> MeshPart | None:
    try:
        return MeshPart(keys.file, read_mesh_file(Path(context.file).parent / keys.file, keys.unit))
    except MeshFileError as error:
        place = raw.values_at[error.key] if error.key in raw else raw.place
        context.say(place, str(error), error.advice)
    return None
