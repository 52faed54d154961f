"""What sets of deviations look like: a sheet over a surface, a line of stations, or single arrows."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from scenes.frames import Pose
from scenes.model.layout import Layout
from scenes.model.machine import Bore, Face
from scenes.reductions.quantities.definition import Kind
from scenes.reductions.quantities.measured import Component, Deviations
from scenes.tracing.places import pose_of, positions_of
from scenes.vectors import Floats, Indices, unit

__all__ = ["ARM", "Figure", "Form", "Sheet", "figure_of", "sets_of"]

ARM = 1.0
"""Angles are drawn as what they make over this length [m]."""

THIN = 1e-3
"""Places lie on one line where their spread across it is below this share of the spread along it."""

ALONG = 0.9
"""A deviation that counts along the line of its stations to this share is no deviation of a line."""


class Form(StrEnum):
    """How a set of deviations is drawn."""

    SHEET = "sheet"
    LINE = "line"
    ARROWS = "arrows"


@dataclass(frozen=True, slots=True, eq=False)
class Sheet:
    """Where a sheet of deviations lies: ``places`` (n, 3) in its own frame, and a hole that stays open [m]."""

    places: Floats
    world_from_sheet: Pose
    bore: float


@dataclass(frozen=True, slots=True, eq=False)
class Figure:
    """A set of deviations as it is drawn; n stations, world, metres.

    Attributes
    ----------
    form : Form
    of : str
        Name of the set.
    stations : tuple of str
        Of a line, in their order along it.
    places : (n, 3) float
        Nominal.
    displacement : (n, 3) float
        True size; of angles over ``ARM``.
    values : (n,) float
        What the colour stands for: the deviation, or its size where it counts in two directions.
    directions : tuple of (3,) float
        In which deviations count: one or two.
    words : tuple of str
        Their names; empty where stations have names of their own.
    expanded : (n, d) float
        U in each of these.
    away : (3,) float
        In which it is lifted clear of the machine; zero for the axis of a bore.
    sheet : Sheet, optional
    leans : bool
        True for an axis that is drawn as it leans, from its first place.
    """

    form: Form
    of: str
    stations: tuple[str, ...]
    places: Floats
    displacement: Floats
    values: Floats
    directions: tuple[Floats, ...]
    words: tuple[str, ...]
    expanded: Floats
    away: Floats
    sheet: Sheet | None = None
    leans: bool = False

    @property
    def longer(self) -> float:
        """Longest extent of its places [m]."""
        return float(np.linalg.norm(np.ptp(self.places, axis=0)))


def sets_of(deviations: tuple[Deviations, ...], component: Component | None) -> tuple[Deviations, ...]:
    """Those sets that belong to a component: by its name, or by that of their entries; all where none does."""
    if component is None:
        return deviations
    named = tuple(each for each in deviations if each.of == component.name and each.of)
    if named:
        return named
    own = tuple(each for each in deviations if component.name and component.name in each.components)
    if own and len({each.stations for each in deviations}) > 1:
        return own
    nameless = tuple(each for each in deviations if not each.of)
    return nameless or deviations


def figure_of(layout: Layout, deviations: Deviations, factor: float) -> Figure:
    """How a set of deviations is drawn; ``factor`` is that of the expanded uncertainty."""
    names = tuple(dict.fromkeys(deviations.stations))
    directions = _directions(deviations)
    size = 1.0 if deviations.kind is Kind.LENGTH else ARM
    places, displacement = np.zeros((len(names), 3)), np.zeros((len(names), 3))
    along = np.zeros((len(names), len(directions)))
    words: list[set[str]] = [set() for _ in directions]
    expanded = np.full((len(names), len(directions)), np.nan)
    for i, name in enumerate(deviations.stations):
        n = names.index(name)
        d = int(np.argmax([float(each @ deviations.directions[i]) for each in directions]))
        places[n] = deviations.places[i]
        words[d].add(deviations.components[i])
        along[n, d] = size * deviations.values[i]
        displacement[n] += size * deviations.values[i] * deviations.directions[i]
        expanded[n, d] = size * factor * deviations.u[i]
    values = along[:, 0] if len(directions) == 1 else np.linalg.norm(displacement, axis=1)
    form, order = _form(places, directions)
    if deviations.kind is Kind.ANGLE and form is Form.SHEET:
        form = Form.ARROWS
    parts = [part[order] for part in (places, displacement, values, expanded)]
    ordered = tuple(names[i] for i in order)
    away = _away(layout, ordered)
    sheet = _sheet(layout, ordered, parts[0], directions[0]) if form is Form.SHEET else None
    return Figure(
        form, deviations.of or _name(deviations), ordered, parts[0], parts[1], parts[2], directions,
        tuple(each.pop() if len(each) == 1 else "" for each in words),
        parts[3], away, sheet,
    )  # fmt: skip


def _name(deviations: Deviations) -> str:
    """Name of a set without one of its own: that of all its entries, if they share it."""
    names = set(deviations.components)
    return names.pop() if len(names) == 1 else ""


def _directions(deviations: Deviations) -> tuple[Floats, ...]:
    """Directions that differ, in the order of their first entry."""
    found: list[Floats] = []
    for each in deviations.directions:
        if not any(float(each @ other) > 1.0 - 1e-9 for other in found):
            found.append(np.array(each))
    return tuple(found)


def _form(places: Floats, directions: tuple[Floats, ...]) -> tuple[Form, Indices]:
    """Form, and the order of the stations in it."""
    plain = np.arange(len(places))
    if len(places) < 2 or len(directions) > 2:
        return Form.ARROWS, plain
    off = places - places.mean(axis=0)
    _, size, axes = np.linalg.svd(off, full_matrices=False)
    if size[0] == 0.0:
        return Form.ARROWS, plain
    wide = len(size) > 1 and size[1] > THIN * size[0]
    if not wide:
        beside = max(abs(float(each @ axes[0])) for each in directions)
        way = off @ (axes[0] if axes[0][int(np.argmax(np.abs(axes[0])))] > 0.0 else -axes[0])
        return (Form.LINE, np.argsort(way, kind="stable")) if beside < ALONG else (Form.ARROWS, plain)
    flat = len(size) < 3 or size[2] < THIN * size[0]
    upright = len(directions) == 1 and abs(float(directions[0] @ np.cross(axes[0], axes[1]))) > ALONG
    return (Form.SHEET if flat and upright else Form.ARROWS), plain


def _away(layout: Layout, names: tuple[str, ...]) -> Floats:
    """Outward from the surface of the stations; nought where they are in a bore, or several surfaces."""
    known = [layout.stations[name] for name in names if name in layout.stations]
    if not known or any(isinstance(layout.surfaces[each.surface].shape, Bore) for each in known):
        return np.zeros(3)
    normals = [pose_of(layout, each.surface, positions_of(each)).directions(each.normal) for each in known]
    mean = np.mean(normals, axis=0)
    return unit(mean) if float(np.linalg.norm(mean)) > 0.5 else np.zeros(3)


def _sheet(layout: Layout, names: tuple[str, ...], places: Floats, normal: Floats) -> Sheet:
    """Frame whose z is the direction of the deviations, as near to that of the surface as can be."""
    station = next((layout.stations[name] for name in names if name in layout.stations), None)
    origin, x, bore = places.mean(axis=0), np.array([1.0, 0.0, 0.0]), 0.0
    if station is not None:
        pose = pose_of(layout, station.surface, positions_of(station))
        shape = layout.surfaces[station.surface].shape
        x = pose.rotation[:, 0]
        if isinstance(shape, Face):
            origin, bore = pose.origin, shape.bore
    x = x - (x @ normal) * normal
    if float(np.linalg.norm(x)) < 0.1:
        x = np.linalg.svd(normal[None, :])[2][1]
    x = unit(x)
    frame = Pose(np.column_stack([x, np.cross(normal, x), normal]), origin)
    return Sheet((places - origin) @ frame.rotation, frame, bore)
