"""The moves that a measured task asks for, and what a machine really is after they are carried out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from ..model.layout import Layout
from ..model.survey import Feet
from ..model.truth import Truth
from ..reductions.quantities.definition import Zone
from ..reductions.quantities.features import surface_named
from ..reductions.quantities.measured import Measured
from ..vectors import Floats
from .bearing_moves import bearing_moves_of
from .bed_feet import feet_of
from .feet_moves import feet_lifts
from .influence import Influence
from .movers import Movers, station_axes
from .movers_of_bearings import movers_of_bearings
from .movers_of_feet import movers_of_feet
from .moves import Moves
from .response import Shape, answers_of, shapes_of
from .soft_feet import soft_feet
from .told_moves import told_moves

__all__ = ["as_left_truth", "moves_of"]

WORTH = 0.2
"""A gain below this share of the standard uncertainty of a deviation is not worth touching another foot."""

UPRIGHT = 0.5
"""Deviations that count along the normal of a surface by more than this cosine are mended by lifts."""


def moves_of(
    layout: Layout,
    measured: Measured,
    *,
    goal: str = "minimax",
    most_feet: int | None = None,
    most_pieces: int | None = None,
    gaps: Mapping[str, tuple[float, ...]] | None = None,
    datum: str = "task",
    rng: np.random.Generator | None = None,
) -> Moves | None:
    """Moves of the feet, or of the bearings, of what a task has measured; None where the layout names neither.

    Parameters
    ----------
    goal : str
        ``minimax`` (the value itself) or ``least squares``.
    most_feet : int, optional
        Most feet, or parts on bearings, that may be touched.
    most_pieces : int, optional
        Most shims under one foot, in place of what the layout says.
    gaps : mapping of foot to gaps, optional
        Soft foot readings, metres: one per foot, or one per corner.
    datum : str
        For parts on bearings: ``task`` as asked, ``free`` for the common direction of least moves, or the name of a
        part that must not move.
    rng : numpy.random.Generator, optional
        For dithers and trials; one with a fixed seed if not given.

    Raises
    ------
    GeometryError
        Where the influence cannot be had, or the gaps cannot be filled.
    ReadingsError
        Where the file of a measured influence has problems.
    ValueError
        Unknown goal.
    """
    generator = np.random.default_rng(20) if rng is None else rng
    feet = feet_of(layout, measured.evidence.task.surface)
    if feet is not None:
        return _of_feet(layout, measured, feet, goal, most_feet, most_pieces, gaps or {}, generator)
    task = measured.evidence.task
    parts = dict.fromkeys(surface_named(layout, name) for name in (task.surface, *task.of))
    movers = movers_of_bearings(layout, [layout.bearings[name] for name in parts if name in layout.bearings])
    if movers is None:
        return None
    if most_pieces is not None:
        movers = replace(movers, most_pieces=(most_pieces,) * len(movers))
    return bearing_moves_of(measured, movers, goal, most_feet, datum, generator)


def _of_feet(
    layout: Layout, measured: Measured, feet: Feet, goal: str, most_feet: int | None, most_pieces: int | None,
    gaps: Mapping[str, tuple[float, ...]], rng: np.random.Generator,
) -> Moves | None:  # fmt: skip
    here = tuple(name for name in measured.evidence.stations if layout.stations[name].surface == feet.surface)
    if not here:
        return None
    movers, _ = movers_of_feet(layout, feet, here)
    if most_pieces is not None:
        movers = replace(movers, most_pieces=(most_pieces,) * len(movers))
    answers = answers_of(measured, movers)
    shapes = shapes_of(measured, movers, answers)
    aim = _aimed_at(layout, measured, feet, shapes)
    if aim is None:
        return None
    shape, reference = aim
    normal = movers.directions[0]
    if abs(float(shape.profile.directions[0] @ normal)) < UPRIGHT:
        movers, _ = movers_of_feet(layout, feet, here, side=True)
        answers = answers_of(measured, movers)
        shapes = shapes_of(measured, movers, answers)
        shape, reference = _aimed_at(layout, measured, feet, shapes) or aim
    soft = soft_feet(movers.names, gaps, movers.stock[0], movers.most_pieces[0], float(movers.highest.max()))
    places = np.array([layout.stations[name].at[:2] for name in shape.profile.stations])
    slack = WORTH * float(np.median(np.sqrt(np.maximum(np.diag(shape.covariance), 0.0))))
    found = feet_lifts(shape.found, places, _seen(shape, movers), movers, soft, goal, reference, most_feet, slack, rng)
    return told_moves(
        measured, movers, answers, shapes, shape, found.lifts, found.stacks, goal, reference, soft,
        found.proposal.reached, found.proposal.bound, rng, loads=found.loads, tilt=found.proposal.tilt,
        warnings=found.warnings,
    )  # fmt: skip


def _aimed_at(layout: Layout, measured: Measured, feet: Feet, shapes: tuple[Shape, ...]) -> tuple[Shape, str] | None:
    """Deviations that the lifts mend, and about which reference; None where the task shows none of that surface."""
    zones = {each.name: each for each in measured.definition.values if isinstance(each, Zone)}
    for shape in shapes:
        names, directions = shape.profile.stations, shape.profile.directions
        if any(layout.stations[name].surface != feet.surface for name in names):
            continue
        if len(set(names)) < len(names) or not np.allclose(directions, directions[0]):
            continue
        unseen = zones[shape.of].measure.unseen(len(names)).shape[1] if shape.of in zones else 1
        return shape, "minimum zone" if unseen > 1 else "level"
    return None


def _seen(shape: Shape, movers: Movers) -> Influence:
    """Influence on the deviations of a shape, with the sign in which they count, planes included."""
    number = {name: i for i, name in enumerate(movers.stations)}
    rows = [direction @ movers.rise[number[name]]
            for name, direction in zip(shape.profile.stations, shape.profile.directions, strict=True)]  # fmt: skip
    sideways = "up" not in movers.ways
    return Influence(np.array(rows), movers.own_loads, movers.load_change, movers.kind, sideways=sideways)


def as_left_truth(layout: Layout, truth: Truth, moves: Moves, rng: np.random.Generator | None = None) -> Truth:
    """What the machine is after the moves: the truth as found, with every station of the moved parts displaced.

    Parameters
    ----------
    rng : numpy.random.Generator, optional
        Draws what a fitter really does: each move and the influence are off as their stated uncertainties say. Without
        it the moves are exact.
    """
    movers, lifts = moves.movers, np.array(moves.lifts)
    bend = np.zeros(len(lifts))
    if rng is not None:
        bend = lifts * movers.influence_known_to * rng.standard_normal(len(lifts))
        lifts = lifts + (lifts != 0.0) * movers.known_to * rng.standard_normal(len(lifts))
    moved = _displaced(layout, movers, movers.rise @ lifts + movers.bent @ bend)
    up, aside = dict(truth.up), dict(truth.aside)
    for name, (along, beside) in moved.items():
        up[name] = up.get(name, 0.0) + along
        aside[name] = aside.get(name, 0.0) + beside
    return Truth(up, aside, truth.nod, truth.swing)


def _displaced(layout: Layout, movers: Movers, rise: Floats) -> dict[str, tuple[float, float]]:
    """Displacement of each station up and aside, from that in the world ``(s, 3)``."""
    found = {}
    for name, each in zip(movers.stations, rise, strict=True):
        up, aside = station_axes(layout, name) @ each
        found[name] = (float(up), float(aside))
    return found
