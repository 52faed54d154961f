"""Polar plots of run-out: what a target reads over a turn, about a circle, with what goes round once per turn."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from scenes.model.layout import Layout
from scenes.reductions.quantities.definition import Kind
from scenes.reductions.quantities.measured import Deviations
from scenes.reductions.quantities.shown import scale_of
from scenes.vectors import Floats
from viewer import text
from viewer.logic.limits_drawn import shrink_of
from viewer.logic.plots_axes import points_text
from viewer.logic.plots_round import ACCEPTED, Document, Ring, Spot, round_chart
from viewer.logic.shown import Kind as Shows
from viewer.logic.shown import Shown

__all__ = ["Turned", "turned_chart", "turned_of"]

BASE = 2.2
"""Radius of the circle that stands for nought, in sizes of the deviations."""

CIRCLE = 3
"""Turns that tell a circle."""

AROUND = np.linspace(0.0, 2.0 * np.pi, 121)


@dataclass(frozen=True, slots=True, eq=False)
class Turned:
    """Deviations of a surface under one target at n turns.

    Attributes
    ----------
    name : str
    stations : tuple of str
    turns : (n,) float
        Rad, rising.
    values, expanded : (n,) float
        Metres, from the middle of their range.
    once : (3,) float, optional
        Mean, and shares of cosine and sine of the turn, by least squares.
    limit : float, optional
        Of their range, metres.
    accepted : float, optional
        What the rule accepts of their range, where that is something else.
    """

    name: str
    stations: tuple[str, ...]
    turns: Floats
    values: Floats
    expanded: Floats
    once: Floats | None
    limit: float | None
    accepted: float | None = None


def turned_of(layout: Layout, shown: Shown) -> tuple[Turned, ...]:
    """One for every target that a part is turned past."""
    if shown.measured.evidence.task.quantity != "run out":
        return ()
    places = [each for each in shown.sets if len({name.partition("@")[0] for name in each.stations}) == 1]
    return tuple(_turned(layout, shown, each) for each in places)


def _turned(layout: Layout, shown: Shown, each: Deviations) -> Turned:
    turns = np.array([layout.stations[name].turn for name in each.stations])
    order = np.argsort(turns, kind="stable")
    turns, values = turns[order], np.asarray(each.values)[order]
    design = np.column_stack([np.ones(len(turns)), np.cos(turns), np.sin(turns)])
    tells = np.linalg.matrix_rank(design, tol=1e-6) == CIRCLE
    limit, accepted = _limits(shown, each.of)
    return Turned(
        each.of or each.stations[0].partition("@")[0], tuple(each.stations[i] for i in order), turns, values,
        shown.factor * np.asarray(each.u)[order], np.linalg.pinv(design) @ values if tells else None,
        limit, accepted,
    )  # fmt: skip


def _limits(shown: Shown, of: str) -> tuple[float | None, float | None]:
    """Limit of a range and what the rule accepts of it; a change has neither."""
    judged = next((part for part in shown.measured.components if part.name == of), None)
    if judged is None or judged.verdict is None or shown.kind == Shows.CHANGE:
        return None, None
    limit, shrink = judged.verdict.limit, shrink_of(judged)
    return limit, limit - shrink if shrink and limit > shrink and shown.kind == Shows.MEASURED else None


def _around(turns: Floats, radius: Floats) -> Floats:
    """Places ``(n, 2)`` at these turns: nought is up, and they go round clockwise."""
    return np.column_stack([radius * np.sin(turns), radius * np.cos(turns)])


def turned_chart(layout: Layout, turned: Turned) -> Document:
    """The plot as a drawing, in the units of the layout."""
    scale = scale_of(Kind.LENGTH, None, layout.units)
    half = 0.5 * (turned.limit or 0.0)
    inner = 0.5 * (turned.accepted or 0.0)
    base = BASE * max(float(np.max(np.abs(turned.values) + turned.expanded)), half, inner, 1e-9)
    at = _around(turned.turns, base + turned.values)
    spots = [
        Spot(name, float(x), float(y), 0.0, 0.0,
             f"{name}: {text.told(scale, float(value), sign=True)} ± {text.told(scale, float(u))} "
             f"at {np.rad2deg(turn):.0f}°")
        for name, (x, y), value, u, turn in zip(
            turned.stations, at.tolist(), turned.values, turned.expanded, turned.turns, strict=True)
    ]  # fmt: skip
    rings = [Ring(base, "0")]
    if half:
        rings += [Ring(base + side * half, text.told(scale, side * half, sign=True)) for side in (-1.0, 1.0)]
    if inner:
        rings += [Ring(base + side * inner, "", accepted=True) for side in (-1.0, 1.0)]
    chart = round_chart(scale, turned.name, spots, ("90°", "0°"), rings, joined=True, grid=False,
                        note=_note(turned, text.told(scale, float(np.ptp(turned.values)))))  # fmt: skip
    fit = ""
    if turned.once is not None:
        wave = turned.once[0] + turned.once[1] * np.cos(AROUND) + turned.once[2] * np.sin(AROUND)
        drawn = _around(AROUND, base + wave) * chart["per"]
        fit = points_text(chart["middle"] + drawn[:, 0], chart["middle"] - drawn[:, 1])
    return chart | {"kind": "polar", "stations": list(turned.stations), "fit": fit}


def _note(turned: Turned, width: str) -> str:
    told = f"Deviation outward from the circle at nought, by turn; range {width}."
    told += " Thin: once per turn." if turned.once is not None else ""
    told += " Dashed: the zone of the limit." if turned.limit else ""
    return told + (f" Dotted: {ACCEPTED}." if turned.accepted else "")
