"""Closures: readings of one station that should agree, and which station to read again."""

from __future__ import annotations

import numpy as np

from ..reductions.consistency import Control
from ..reductions.network import Network
from ..tracing.geometry import CHANNELS
from ..uncertainty.propagate import reading_covariance
from ..vectors import Floats
from .diagnosis import Advice, Closure, SetupControl

__all__ = ["advice_of", "closures_of", "setups_of"]

MOST_ADVICE = 3
WIDE = 3.290526731491895
"""One closure in a thousand is wider than so many standard deviations."""

UNCONTROLLED = 0.01
"""A reading whose error shows by less than this share of its weight is as good as uncontrolled."""

WORDS = {"time": "read again", "setup": "read from two set-ups", "side": "both sides", "clock": "other clock position"}


SHOWN = 0.1
"""Differences of which the residuals show less than this share close by themselves: the set-up follows both."""


def closures_of(network: Network, control: Control) -> tuple[Closure, ...]:
    """Each reading against the one before of the same station and channel, the worst first."""
    rows, of = network.geometry.rows, network.observations
    order = np.lexsort((of.row, of.channel, rows.station[of.row]))
    first, second = order[:-1], order[1:]
    same = (rows.station[of.row[first]] == rows.station[of.row[second]]) & (of.channel[first] == of.channel[second])
    first, second = first[same], second[same]
    if not len(first):
        return ()
    contrast = np.zeros((len(of.row), len(first)))
    contrast[second, np.arange(len(first))], contrast[first, np.arange(len(first))] = 1.0, -1.0
    carried = reading_covariance(network.effects, len(of.row)) @ contrast
    variance = np.einsum("oc,oc->c", carried, control.shown(carried))
    told = variance > SHOWN**2 * np.einsum("oc,oc->c", contrast, carried)
    found = [
        _closure(
            network, int(i), int(j), float(network.residual[j] - network.residual[i]), float(np.sqrt(max(var, 0.0)))
        )
        for i, j, var in zip(first[told], second[told], variance[told], strict=True)
    ]
    return tuple(sorted(found, key=lambda each: -abs(each.normalised)))


def _closure(network: Network, i: int, j: int, difference: float, expected: float) -> Closure:
    rows, of = network.geometry.rows, network.observations
    a, b = int(of.row[i]), int(of.row[j])
    kind = "time"
    if rows.setup[a] != rows.setup[b]:
        kind = "setup"
    elif rows.side[a] != rows.side[b]:
        kind = "side"
    elif abs(rows.clock[a] - rows.clock[b]) > 1e-6 or abs(rows.turn[a] - rows.turn[b]) > 1e-6:
        kind = "clock"
    channel = CHANNELS[int(of.channel[i])]
    between = (rows.setups[rows.setup[a]], rows.setups[rows.setup[b]])
    return Closure(
        rows.stations[rows.station[a]], channel, WORDS[kind], between, difference, expected, channel in CHANNELS[2:]
    )


def setups_of(network: Network, control: Control) -> tuple[SetupControl, ...]:
    """What every set-up has of chi-square, and of the readings to spare."""
    rows, of = network.geometry.rows, network.observations
    part = control.push * network.residual
    covariance = reading_covariance(network.effects, len(of.row))
    spare = np.einsum("oc,oc->o", control.share, covariance)
    which = rows.setup[of.row]
    return tuple(
        SetupControl(name, float(part[which == i].sum()), float(spare[which == i].sum()))
        for i, name in enumerate(rows.setups)
    )


def advice_of(network: Network, control: Control | None, closures: tuple[Closure, ...]) -> tuple[Advice, ...]:
    """Stations to read again: where readings do not agree, else where none controls them."""
    found: dict[str, Advice] = {}
    for each in closures:
        if abs(each.normalised) > WIDE and len(found) < MOST_ADVICE:
            reason = f"its readings differ by {abs(each.normalised):.1f} standard deviations ({each.what})"
            found.setdefault(each.station, Advice(each.station, each.between[1], reason))
    rows, of = network.geometry.rows, network.observations
    if control is None:
        return tuple(found.values()) or _uncontrolled(network, np.zeros(len(of.row)))
    held = control.system.seen_alone() / control.system.blocks.weights_alone()
    push = np.abs(control.push) / np.sqrt(np.maximum(control.system.seen_alone(), 1e-300))
    for number in np.argsort(-np.where(held > UNCONTROLLED, push, 0.0), kind="stable")[:MOST_ADVICE].tolist():
        row = int(of.row[number])
        name = rows.stations[rows.station[row]]
        if push[number] > WIDE and held[number] > UNCONTROLLED and len(found) < MOST_ADVICE:
            reason = f"it stands {push[number]:.1f} standard deviations off what all others say"
            found.setdefault(name, Advice(name, rows.setups[rows.setup[row]], reason))
    return tuple(found.values()) or _uncontrolled(network, held)


def _uncontrolled(network: Network, held: Floats) -> tuple[Advice, ...]:
    """The first station of each set-up that no other reading controls: read again at the end it shows a drift."""
    rows, of = network.geometry.rows, network.observations
    found = []
    for number, setup in enumerate(rows.setups):
        mine = np.nonzero((rows.setup[of.row] == number) & (held <= UNCONTROLLED))[0]
        if len(mine):
            first = int(mine[np.argmin(rows.time[of.row[mine]])])
            reason = (
                f"{len(mine)} readings from {setup} are controlled by no other: read the first station again at the end"
            )
            found.append(Advice(rows.stations[rows.station[of.row[first]]], setup, reason))
    return tuple(found[:MOST_ADVICE])
