"""The catalogue: kinds of devices and mounts by role and name, from the file of this package and from own files."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from ..errors import LayoutError, Problem
from .context import Context
from .entries import named_entries, read_entry, read_key, section_of
from .keys import Keys
from .schema_devices import BaseKind, EmitterKind, PrismKind, StageKind, VialKind
from .schema_file import CatalogueFile
from .schema_mounts import MountKind, MountsKeys
from .schema_targets import TargetKind
from .strict_yaml import Block, Place, parse

__all__ = ["Kind", "Kinds", "builtin_catalogue", "read_catalogue"]

SECTIONS: dict[str, tuple[str, type[Keys]]] = {
    "emitter": ("emitters", EmitterKind),
    "rotary base": ("rotary bases", BaseKind),
    "target": ("targets", TargetKind),
    "prism": ("prisms", PrismKind),
    "stage": ("stages", StageKind),
    "vial": ("vials", VialKind),
    "mount": ("mounts", MountKind),
}
"""Role -> section of a catalogue file and keys of its entries."""


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind: its data, and where they come from in words; None where the entry could not be read."""

    data: Keys | None
    origin: str


Kinds = Mapping[str, Mapping[str, Kind]]
"""Role -> name -> kind."""


@cache
def builtin_catalogue() -> Kinds:
    """Kinds that come with datumray; typical values, see the head of the file."""
    resource = files("scenes") / "catalogue" / "devices.yaml"
    kinds, problems = read_catalogue(resource.read_text(encoding="utf-8"), "scenes/catalogue/devices.yaml", "catalogue")
    if problems:  # a damaged installation
        raise LayoutError(problems)
    return kinds


def read_catalogue(text: str, file: str, origin: str) -> tuple[Kinds, list[Problem]]:
    """Kinds of a catalogue file, and what is wrong in it.

    Parameters
    ----------
    text, file : str
        Content and name of the file.
    origin : str
        What the origin of its values starts with, e.g. ``catalogue`` or ``catalogue ours.yaml``.
    """
    try:
        root, problems = parse(text, file)
    except LayoutError as error:
        return {}, list(error.problems)
    context = Context(file, problems)
    if not isinstance(root, Block):
        context.say(Place(1, 1), "a catalogue is a mapping of sections", "it starts with 'catalogue: 1'")
        return {}, context.problems
    CatalogueFile.look(root, context)
    read_key(CatalogueFile, "catalogue", root, context)
    kinds: dict[str, dict[str, Kind]] = {}
    for role, (section_name, keys) in SECTIONS.items():
        section = section_of(root, section_name, context)
        if role == "mount":
            MountsKeys.look(section, context)
        kinds[role] = {
            name: Kind(read_entry(keys, raw, place, context), f"{origin}: {name}")
            for name, raw, place in named_entries(section, context)
            if role != "mount" or name in MountsKeys.key_names()
        }
    return kinds, context.problems
