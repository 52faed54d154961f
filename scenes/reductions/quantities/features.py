"""Features: the line or plane of a surface, an axis, a travel or a set-up, and how it leans, as a sum of unknowns."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ...model.layout import Layout
from ...model.machine import FLOOR, Bore, Rail, Roll
from ...model.survey import Method, Setup
from ...tracing.places import pose_of, positions_of
from ...vectors import Floats, Indices, unit
from .evidence import SAME_PLACE, Evidence

__all__ = ["AXIS", "TRAVEL", "Feature", "across", "features_of", "lean", "offset", "same_stations", "surface_named"]

AXIS, TRAVEL = " axis", " travel"
"""What may stand behind the name of a surface in a task."""

THIN = 1e-3
"""Stations lie on one line where their spread across it is below this share of the spread along it."""


@dataclass(frozen=True, slots=True, eq=False)
class Feature:
    """A line or a plane that a task speaks of.

    Attributes
    ----------
    name : str
        As in the task, with the position of a moving part behind it where it is read at several.
    is_plane : bool
    direction : (3,) float
        Along the line, or normal of the plane; nominal, world, unit.
    frame : (2, 3) float
        Two directions square to it: x and y of a plane; up and to the left of a line.
    stations : tuple of str
        That tell of it.
    is_axis, travels : bool
        True for the axis of a roll, bore or face, and for the way of a moving part.
    setup : str
        Set-up whose light it is, or empty.
    plane : (3, 3) float, optional
        Normal, x and y of the surface on which a row of stations stands.
    """

    name: str
    is_plane: bool
    direction: Floats
    frame: Floats
    stations: tuple[str, ...] = ()
    is_axis: bool = False
    travels: bool = False
    setup: str = ""
    plane: Floats | None = None

    def as_plane(self) -> Feature:
        """The surface on which a row of stations stands, in place of their line; anything else as it is."""
        if self.plane is None:
            return self
        return replace(self, is_plane=True, direction=self.plane[0], frame=self.plane[1:], plane=None)

    def flipped(self) -> Feature:
        """The same line or plane seen the other way."""
        return replace(self, direction=-self.direction)


def surface_named(layout: Layout, name: str) -> str:
    """Surface of a feature; empty where it is a set-up."""
    if name in layout.surfaces:
        return name
    return next((plain for word in (AXIS, TRAVEL) if (plain := name.removesuffix(word)) in layout.surfaces), "")


def across(direction: Floats) -> Floats:
    """Two directions ``(2, 3)`` square to a line: the world's up made square to it, and to the left of it.

    For an upright line they are the world's x and y, made square to it.
    """
    t = unit(direction)
    up = np.array([0.0, 0.0, 1.0])
    first = up - (up @ t) * t
    if float(np.linalg.norm(first)) < 0.1:
        first = np.array([1.0, 0.0, 0.0]) - t[0] * t
        first = unit(first)
        return np.stack([first, np.cross(t, first)])
    first = unit(first)
    return np.stack([first, np.cross(first, t)])


def _frame_of_plane(normal: Floats, x: Floats) -> Floats:
    """Directions x and y ``(2, 3)`` of a plane, the first one along ``x`` or, where that stands upright, level."""
    first = x - (x @ normal) * normal
    first = unit(first) if float(np.linalg.norm(first)) > 0.1 else across(normal)[1]
    return np.stack([first, np.cross(normal, first)])


def _of_setup(evidence: Evidence, setup: Setup, name: str) -> Feature:
    geometry = evidence.network.geometry
    rows = geometry.rows
    if setup.name not in rows.setups:
        raise evidence.refuse(f"no reading is from set-up {setup.name}, which is the datum; read its stations")
    mine = np.nonzero((rows.setup == rows.setups.index(setup.name)) & (rows.side == 0))[0]
    mine = mine if len(mine) else np.nonzero(rows.setup == rows.setups.index(setup.name))[0]
    launch = geometry.launch_rotation[mine[0]]
    if setup.method is Method.BASE_PLANE:
        return Feature(name, True, launch[:, 2], launch[:, :2].T, setup=setup.name)
    line = Feature(name, False, launch[:, 0], across(launch[:, 0]), setup=setup.name)
    ends = (setup.near, setup.far)
    if all(ends) and len(evidence.read(ends)) == 2:  # the crew brings the beam onto these: they are the line
        return replace(line, stations=ends, setup="")
    return line


def _spindle_on(evidence: Evidence, surface: str) -> Setup | None:
    """Set-up whose emitter is turned in the axis of a surface."""
    setups = evidence.layout.setups
    mine = [setups[name] for name in evidence.network.geometry.rows.setups]
    return next((each for each in mine if each.method is Method.SPINDLE and each.on == surface), None)


def _of_travel(evidence: Evidence, name: str, surface: str) -> Feature:
    moving = evidence.layout.surfaces[surface]
    if moving.moves is None:
        raise evidence.refuse(f"{surface} does not move, so it has no travel")
    under = pose_of(evidence.layout, moving.on) if moving.on != FLOOR else None
    along = moving.moves.along if under is None else under.directions(moving.moves.along)
    stations = evidence.carried_by(surface)
    groups = [numbers for numbers in same_stations(evidence, stations) if len(numbers) > 1]
    moved = tuple(stations[i] for i in sorted(int(i) for numbers in groups for i in numbers))
    if not moved:
        raise evidence.refuse(f"{name}: none of its stations was read at two positions")
    return Feature(name, False, unit(along), across(along), moved, travels=True)


def _of_stations(evidence: Evidence, name: str, surface: str, stations: tuple[str, ...]) -> Feature:
    layout = evidence.layout
    positions = positions_of(layout.stations[stations[0]]) if stations else {}
    pose = pose_of(layout, surface, positions)
    shape = layout.surfaces[surface].shape
    if name.endswith(AXIS) or isinstance(shape, (Roll, Bore)):
        return Feature(name, False, pose.rotation[:, 2], across(pose.rotation[:, 2]), stations, is_axis=True)
    if isinstance(shape, Rail):
        return Feature(name, False, pose.rotation[:, 0], across(pose.rotation[:, 0]), stations)
    feet = evidence.feet(stations)
    if len(feet) < 2:
        raise evidence.refuse(f"{name}: {len(feet)} of its stations were read; a direction needs two places")
    _, size, rows = np.linalg.svd(feet - feet.mean(axis=0), full_matrices=False)
    normal = unit(np.mean([pose.directions(layout.stations[each].normal) for each in stations], axis=0))
    frame = _frame_of_plane(normal, pose.rotation[:, 0])
    if len(feet) > 2 and size[1] > THIN * size[0]:
        return Feature(name, True, normal, frame, stations)
    if size[0] < SAME_PLACE:
        raise evidence.refuse(f"{name}: its stations stand at one place; a direction needs two")
    line = rows[0] if rows[0] @ pose.directions(layout.stations[stations[0]].along) >= 0.0 else -rows[0]
    return Feature(name, False, line, across(line), stations, plane=np.vstack([normal[None], frame]))


def features_of(evidence: Evidence, name: str) -> tuple[Feature, ...]:
    """What a task calls ``name``: one feature, or one for each position at which a moving surface is read.

    Raises
    ------
    GeometryError
        Where too little of it was read to tell any direction.
    """
    if name in evidence.layout.setups and not surface_named(evidence.layout, name):
        return (_of_setup(evidence, evidence.layout.setups[name], name),)
    surface = surface_named(evidence.layout, name)
    if name == surface + TRAVEL:
        return (_of_travel(evidence, name, surface),)
    stations = evidence.on(surface)
    if not stations:
        turned = _spindle_on(evidence, surface)
        if turned is not None:
            return (_of_setup(evidence, turned, name),)
        raise evidence.refuse(f"no station of {name} was read")
    places: dict[str, list[str]] = {}
    for each in stations:
        places.setdefault(evidence.layout.stations[each].position, []).append(each)
    if len(places) == 1:
        return (_of_stations(evidence, name, surface, stations),)
    wanted = [(position, tuple(names)) for position, names in places.items() if len(names) > 1]
    if not wanted:
        raise evidence.refuse(f"{name}: no two of its stations were read at one position; a direction needs two places")
    return tuple(_of_stations(evidence, f"{name} at {position}", surface, names) for position, names in wanted)


def _launch(evidence: Evidence, feature: Feature, field: str) -> Floats:
    """The unknown of a set-up as a functional; zero where it is known, such as the tilt of a base set by a vial."""
    functional = np.zeros(evidence.unknowns)
    for key in ((feature.setup,), (feature.setup, "0"), (feature.setup, "1")):
        column = evidence.network.column(field, *key)
        if column is not None:
            functional[column] = 1.0
            break
    return functional


def lean(
    evidence: Evidence, feature: Feature, e: Floats, among: frozenset[str]
) -> tuple[Floats, tuple[str, ...]] | None:
    """How a feature leans toward the unit vector ``e``, beyond nominal, and the stations that tell it.

    A line leans by the least-squares slope of what its stations are displaced along ``e``; the normal of a plane leans
    against the slope of their heights.

    Parameters
    ----------
    e : (3,) float
        Square to the direction.
    among : names of stations and set-ups
        That may be used.

    Returns
    -------
    (p,) float and names, or None where these tell nothing of it
    """
    if feature.setup:
        if feature.setup not in among:
            return None
        tilt = {field: _launch(evidence, feature, field) for field in ("tilt_x", "tilt_y", "tilt_z")}
        geometry = evidence.network.geometry
        row = int(np.argmax(geometry.rows.setup == geometry.rows.setups.index(feature.setup)))
        x, y, z = geometry.launch_rotation[row].T
        if feature.is_plane:
            return (x @ e) * tilt["tilt_y"] - (y @ e) * tilt["tilt_x"], ()
        return (y @ e) * tilt["tilt_z"] - (z @ e) * tilt["tilt_y"], ()
    counted = feature.direction if feature.is_plane else e
    names = evidence.seeing([name for name in feature.stations if name in among], counted)
    if len(names) < 2:
        return None
    share = _shares_of_travel(evidence, feature, names) if feature.travels else _shares(evidence, feature, names, e)
    if share is None:
        return None
    slope = share @ evidence.displacements(names, counted)
    return (-slope if feature.is_plane else slope), names


def _shares(evidence: Evidence, feature: Feature, names: tuple[str, ...], e: Floats) -> Floats | None:
    """Weights ``(k,)`` that make a slope of displacements: along a line, or along ``e`` over a plane."""
    feet = evidence.feet(names)
    axes = feature.frame if feature.is_plane else feature.direction[None, :]
    places = (feet - feet.mean(axis=0)) @ axes.T
    wanted = axes @ e if feature.is_plane else np.ones(1)
    _, size, rows = np.linalg.svd(places, full_matrices=False)
    if size[0] < SAME_PLACE:
        return None
    rows = rows[size > THIN * size[0]]
    if float(np.linalg.norm(wanted - rows.T @ (rows @ wanted))) > THIN:
        return None
    result: Floats = wanted @ np.linalg.pinv(places, rcond=THIN)
    return result


def _shares_of_travel(evidence: Evidence, feature: Feature, names: tuple[str, ...]) -> Floats | None:
    """Weights ``(k,)`` of the slope over the way, every station of the part counted from its own mean."""
    way = evidence.feet(names) @ feature.direction
    off = np.zeros(len(names))
    for mine in same_stations(evidence, names):
        off[mine] = way[mine] - way[mine].mean()
    total = float(off @ off)
    if total < SAME_PLACE**2:
        return None
    result: Floats = off / total
    return result


def same_stations(evidence: Evidence, names: tuple[str, ...]) -> list[Indices]:
    """Numbers of the names that are one station of a moving part at different positions."""
    groups: dict[tuple[str, bytes, bytes], list[int]] = {}
    for number, name in enumerate(names):
        station = evidence.layout.stations[name]
        key = (station.surface, np.round(station.at, 6).tobytes(), np.round(station.normal, 6).tobytes())
        groups.setdefault(key, []).append(number)
    return [np.array(numbers, dtype=np.int64) for numbers in groups.values()]


def offset(evidence: Evidence, feature: Feature, place: Floats, e: Floats, among: frozenset[str]) -> Floats | None:
    """Displacement ``(p,)`` along ``e`` of the point of a line that lies beside ``place`` (3,); None where open."""
    if feature.setup:
        if feature.setup not in among:
            return None
        geometry = evidence.network.geometry
        row = int(np.argmax(geometry.rows.setup == geometry.rows.setups.index(feature.setup)))
        x, y, z = geometry.launch_rotation[row].T
        ahead = float((place - geometry.beam_origins()[row]) @ x)
        leaning = lean(evidence, feature, e, among)
        assert leaning is not None
        moved = (y @ e) * _launch(evidence, feature, "shift") + (z @ e) * _launch(evidence, feature, "lift")
        beam: Floats = moved + ahead * leaning[0]
        return beam
    leaning = lean(evidence, feature, e, among)
    if leaning is None:
        return None
    functional, names = leaning
    middle = evidence.feet(names).mean(axis=0)
    mean: Floats = evidence.displacements(names, e).mean(axis=0)
    return mean + float((place - middle) @ feature.direction) * functional
