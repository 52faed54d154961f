"""``read_layout``: a layout file to the model, or every problem of the file at once."""

from __future__ import annotations

from pathlib import Path

from ..errors import LayoutError
from ..model.layout import Air, Layout, ShownUnits
from .catalogue import Kind, builtin_catalogue, read_catalogue
from .centring_discs import check_discs
from .context import Context, place_of, shown
from .entries import read_key, section_of
from .readings_mapping import read_readings_mapping
from .resolve_bearings import read_bearings
from .resolve_devices import device_roles, read_devices
from .resolve_feet import read_feet
from .resolve_machine import read_machine, surface_names
from .resolve_setups import read_setups
from .resolve_stations import read_stations
from .resolve_tasks import read_tasks
from .schema_file import AirKeys, LayoutFile, UnitsKeys
from .strict_yaml import Block, Place, parse
from .text_files import read_text

__all__ = ["read_layout"]


def read_layout(path: Path | str, text: str | None = None) -> Layout:
    """Layout that the file says, names resolved, in SI units.

    Parameters
    ----------
    path : Path or str
        The file; own catalogues are looked for beside it.
    text : str, optional
        Its content where it is at hand, e.g. from an editor; the file is then not read.

    Raises
    ------
    LayoutError
        With all problems of the file, in the order of their lines.
    """
    file = str(path)
    root, problems = parse(read_text(path, file) if text is None else text, file)
    context = Context(file, problems)
    if not isinstance(root, Block):
        found = "it is empty" if root is None else f"here stands {shown(root)}"
        context.say(Place(1, 1), f"a layout is a mapping of sections; {found}", "it starts with 'layout: 1'")
        raise LayoutError(context.problems)
    layout = _read_sections(root, file, context)
    if context.problems or layout is None:
        raise LayoutError(sorted(context.problems, key=lambda p: (p.file != file, p.line, p.column)))
    return layout


def _read_sections(root: Block, file: str, context: Context) -> Layout:
    LayoutFile.look(root, context)
    read_key(LayoutFile, "layout", root, context)
    units = _read_units(root, context)
    air = _read_air(root, context)
    context.kinds = _read_kinds(root, Path(file).parent, context)
    sections = {
        name: section_of(root, name, context, needs_entry=name == "machine")
        for name in ("machine", "devices", "stations", "setups", "tasks", "feet", "bearings")
    }
    context.surfaces = surface_names(sections["machine"])
    context.setups = {name: place.line for name, place in sections["setups"].keys_at.items()}
    context.roles = device_roles(sections["devices"])
    surfaces = read_machine(sections["machine"], context)
    devices = read_devices(sections["devices"], context)
    read_stations(sections["stations"], surfaces, devices, context)
    check_discs(sections["stations"], surfaces, devices, context)
    setups = read_setups(sections["setups"], surfaces, devices, context)
    tasks = read_tasks(sections["tasks"], surfaces, devices, setups, context)
    feet = read_feet(sections["feet"], surfaces, context)
    return Layout(
        file, read_key(LayoutFile, "title", root, context) or "", units, air, surfaces, devices.by_role["emitter"],
        devices.by_role["rotary base"], devices.by_role["target"], context.stations, context.groups, setups, tasks,
        feet, read_readings_mapping(root, context), devices.by_role["prism"], devices.by_role["stage"],
        devices.by_role["vial"], read_bearings(sections["bearings"], surfaces, context),
    )  # fmt: skip


def _read_units(root: Block, context: Context) -> ShownUnits:
    units: UnitsKeys | None = read_key(LayoutFile, "units", root, context)
    if units is None:
        raw = root.get("units")
        # A wrong unit is told once and not again at every length.
        context.bare = "mm" if isinstance(raw, Block) and "bare" in raw else None
        return ShownUnits()
    context.bare = units.bare
    return ShownUnits(units.length, units.deviation, units.angle)


def _read_air(root: Block, context: Context) -> Air:
    air: AirKeys | None = read_key(LayoutFile, "air", root, context)
    values, origins = {}, {}
    for key, field in AirKeys.key_names().items():
        value = getattr(air, field, None)
        if value is None:
            origins[field] = "default"
            continue
        values[field] = value
        origins[field] = f"layout line {root['air'].keys_at[key].line}"
    return Air(**values, origins=origins)


def _read_kinds(root: Block, folder: Path, context: Context) -> dict[str, dict[str, Kind]]:
    """Kinds of the built-in catalogue and of the own ones; a later file may replace a kind."""
    kinds = {role: dict(named) for role, named in builtin_catalogue().items()}
    names: list[str] = read_key(LayoutFile, "catalogue", root, context) or []
    for index, name in enumerate(names):
        place = place_of(root, ("catalogue", index), Place(1, 1))
        path = folder / name
        try:
            text = read_text(path, str(path))
        except LayoutError as error:
            context.say(place, f"the catalogue '{name}' cannot be read: {error.problems[0].message}")
            continue
        own, problems = read_catalogue(text, str(path), f"catalogue {name}")
        context.problems.extend(problems)
        for role, named in own.items():
            kinds[role].update(named)
    return kinds
