"""Circle plots: readings of a target while the emitter is turned in a spindle, with the fitted centre and its U."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from scenes.model.layout import Layout
from scenes.model.survey import Method
from scenes.reductions.network import Network
from scenes.reductions.quantities.definition import Kind
from scenes.reductions.quantities.measured import Measured
from scenes.reductions.quantities.shown import scale_of
from scenes.tracing.geometry import CHANNELS
from scenes.uncertainty.propagate import Spread
from scenes.vectors import Floats, Indices
from viewer import text
from viewer.logic.plots_round import Document, Ring, Spot, round_chart

__all__ = ["Circle", "circle_chart", "circles_of"]

TURNS = 3
"""Turns that tell a circle."""


@dataclass(frozen=True, slots=True, eq=False)
class Circle:
    """Readings of one station at n turns of a spindle, and the circle through them.

    Attributes
    ----------
    station : str
    turns : (n,) float
        Of the emitter, rad.
    h, v : (n,) float
        Readings, metres.
    centre, u : (2,) float
        Where the axis of the spindle meets the detector, and its standard uncertainty, metres.
    radius : float
        How far the beam stands off the axis there.
    apart : (n,) float
        Distance of every reading from where the circle has it at its turn.
    """

    station: str
    turns: Floats
    h: Floats
    v: Floats
    centre: Floats
    u: Floats
    radius: float
    apart: Floats


def circles_of(layout: Layout, measured: Measured) -> tuple[Circle, ...]:
    """A circle for every station that a turned spindle reads at three turns or more."""
    network = measured.evidence.network
    rows = network.geometry.rows
    found = []
    for number, name in enumerate(rows.setups):
        if layout.setups[name].method is not Method.SPINDLE:
            continue
        for station in dict.fromkeys(rows.station[rows.setup == number].tolist()):
            mine = np.nonzero((rows.setup == number) & (rows.station == station))[0]
            circle = _circle(network, mine, rows.stations[station])
            found += [] if circle is None else [circle]
    return tuple(found)


def _numbers(network: Network, mine: Indices, channel: str) -> Indices | None:
    """Observations of a channel in the rows ``mine``; None where one is missing."""
    of = network.observations
    here = np.nonzero(of.channel == CHANNELS.index(channel))[0]
    at = {int(row): int(number) for row, number in zip(of.row[here], here, strict=True)}
    if any(int(row) not in at for row in mine):
        return None
    return np.array([at[int(row)] for row in mine], dtype=np.int64)


def _design(turns: Floats, sense: float) -> Floats:
    """Change ``(2 n, 4)`` of h and v with the centre and with the spot at no turn; ``sense`` +1: anticlockwise."""
    c, s, one, nought = np.cos(turns), sense * np.sin(turns), np.ones(len(turns)), np.zeros(len(turns))
    return np.vstack([np.column_stack([one, nought, c, -s]), np.column_stack([nought, one, s, c])])


def _circle(network: Network, mine: Indices, station: str) -> Circle | None:
    h, v = _numbers(network, mine, "h"), _numbers(network, mine, "v")
    turns = np.asarray(network.geometry.rows.turn[mine])
    if h is None or v is None or len(np.unique(np.round(turns, 6))) < TURNS:
        return None
    number = np.concatenate([h, v])
    read = network.observations.value[number]
    fits = [np.linalg.pinv(_design(turns, sense)) for sense in (1.0, -1.0)]
    left = [read - _design(turns, sense) @ (fit @ read) for sense, fit in zip((1.0, -1.0), fits, strict=True)]
    best = int(np.argmin([float(each @ each) for each in left]))
    found = fits[best] @ read
    gain = np.zeros((2, len(network.observations.value)))
    gain[:, number] = fits[best][:2]
    u = Spread(gain, network.effects, {}).standard_uncertainty()
    n = len(turns)
    return Circle(
        station, turns, read[:n], read[n:], found[:2], u, float(np.hypot(*found[2:])),
        np.hypot(left[best][:n], left[best][n:]),
    )  # fmt: skip


def circle_chart(layout: Layout, circle: Circle, factor: float) -> Document:
    """The circle as a drawing; ``factor`` is that of the expanded uncertainty."""
    scale = scale_of(Kind.LENGTH, None, layout.units)
    unit = text.screen_unit(scale.unit)
    spots = [
        Spot(circle.station, float(h), float(v), 0.0, 0.0,
             f"turn {np.rad2deg(turn):.0f}°: h {text.told(scale, float(h), sign=True)}, "
             f"v {text.told(scale, float(v), sign=True)}; {text.told(scale, float(apart))} off the circle")
        for turn, h, v, apart in zip(circle.turns, circle.h, circle.v, circle.apart, strict=True)
    ]  # fmt: skip
    spread = factor * circle.u
    told = [f"{word} {text.told(scale, float(value), sign=True)} ± {text.told(scale, float(u))}"
            for word, value, u in zip("hv", circle.centre, spread, strict=True)]  # fmt: skip
    (x, y), (u_x, u_y) = circle.centre.tolist(), spread.tolist()
    middle = Spot(circle.station, x, y, u_x, u_y, f"axis: {', '.join(told)}")
    chart = round_chart(
        scale, circle.station, [*spots, middle], ("h +", "v +"),
        [Ring(circle.radius, f"r = {text.told(scale, circle.radius)}")], joined=False,
        note=f"Readings while the spindle turns. Axis at {told[0]}, {told[1]} (U). Largest reading off the circle "
             f"{text.told(scale, float(circle.apart.max()))}.",
        centre=(x, y),
    )  # fmt: skip
    return chart | {"kind": "circle", "stations": [circle.station], "unit": unit}
