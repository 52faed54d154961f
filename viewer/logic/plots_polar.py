"""Polar plots: where the stations of an axis stand off their reference, seen along it, as numbers and as a drawing."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from scenes.model.layout import Layout
from scenes.reductions.quantities.definition import Kind
from scenes.reductions.quantities.shown import scale_of
from scenes.vectors import Floats, unit
from viewer import text
from viewer.logic.figures import Figure, Form
from viewer.logic.limits_drawn import Limits, accepted_of, limits_of
from viewer.logic.plots_round import ACCEPTED, Document, Ring, Spot, round_chart
from viewer.logic.result_values import bare
from viewer.logic.shown import Shown

PLUS, MINUS = "+", "\u2212"

__all__ = ["Polar", "polar_chart", "polars_of"]


@dataclass(frozen=True, slots=True, eq=False)
class Polar:
    """Stations of an axis seen along it, from the first toward the last; n stations.

    Attributes
    ----------
    name : str
    stations : tuple of str
    right, up : (n,) float
        Off the reference, metres.
    expanded : (n, 2) float
        U of either.
    words : (str, str)
        What deviates to the right (or left) and upward.
    limit : float, optional
        Radius of the zone, metres.
    accepted : float, optional
        Radius of what the rule accepts, where that is something else.
    """

    name: str
    stations: tuple[str, ...]
    right: Floats
    up: Floats
    expanded: Floats
    words: tuple[str, str]
    limit: float | None
    accepted: float | None = None


def polars_of(shown: Shown) -> tuple[Polar, ...]:
    """A plot for every line whose stations deviate in two directions."""
    if shown.angles:
        return ()
    lines = [each for each in shown.figures if each.form is Form.LINE and len(each.directions) == 2]
    return tuple(_polar(shown, figure) for figure in lines)


def _polar(shown: Shown, figure: Figure) -> Polar:
    up, aside = figure.directions
    ahead = unit(figure.places[-1] - figure.places[0])
    right = np.cross(ahead, up)
    sign = 1.0 if float(right @ aside) > 0.0 else -1.0
    return Polar(
        figure.of or "along the line", figure.stations, sign * figure.displacement @ aside, figure.displacement @ up,
        figure.expanded[:, ::-1], (f"{figure.words[1]} {PLUS if sign > 0.0 else MINUS}", f"{figure.words[0]} {PLUS}"),
        _radius(limits_of(shown, figure)), _radius(accepted_of(shown, figure)),
    )  # fmt: skip


def _radius(limits: Limits | None) -> float | None:
    """Of limits that are a cylinder."""
    return 0.5 * limits.width if limits is not None and limits.across is None else None


def polar_chart(layout: Layout, polar: Polar) -> Document:
    """The plot as a drawing, in the units of the layout."""
    scale = scale_of(Kind.LENGTH, None, layout.units)
    spots = []
    for i, name in enumerate(polar.stations):
        off = float(np.hypot(polar.right[i], polar.up[i]))
        clock = np.rad2deg(np.arctan2(polar.right[i], polar.up[i])) % 360.0
        title = f"{name}: {bare(scale, off)} {text.screen_unit(scale.unit)} off, at {clock:.0f}° from up, clockwise"
        u = float(polar.expanded[i, 0]), float(polar.expanded[i, 1])
        spots.append(Spot(name, float(polar.right[i]), float(polar.up[i]), u[0], u[1], title))
    rings = [] if polar.limit is None else [Ring(polar.limit, f"limit, r = {text.told(scale, polar.limit)}")]
    note = f"Seen from {polar.stations[0]} toward {polar.stations[-1]}. Crosses: U."
    if polar.accepted is not None:
        told = f"{ACCEPTED}, r = {text.told(scale, polar.accepted)}"
        rings.append(Ring(polar.accepted, told, accepted=True))
    return round_chart(
        scale, polar.name, spots, polar.words, rings, joined=True, note=note,
    ) | {"kind": "polar", "stations": list(polar.stations)}  # fmt: skip
