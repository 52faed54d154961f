"""How a diagnosis is drawn: stations by their largest normalised residual, and what a suspect does to the readings."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from scenes.diagnosis.diagnosis import Suspect
from scenes.diagnosis.exchanges import exchanges_of
from scenes.diagnosis.signatures import Signatures, named_reading, signatures_of
from scenes.diagnosis.suspects import candidates
from scenes.meshes.deviation_vectors import mark_size
from scenes.meshes.exaggeration import default_factor
from scenes.model.layout import Layout
from scenes.reductions.consistency import control_of
from scenes.reductions.network import Network
from scenes.tracing.geometry import CHANNELS
from scenes.vectors import Floats, Indices
from viewer.logic.diagnosis_held import Diagnosed
from viewer.logic.figures import ARM

__all__ = ["Marks", "Signature", "marks_of", "residuals_of", "signature_of"]

UNCONTROLLED = 0.01
"""A reading whose error shows by less than this share of its weight is as good as uncontrolled."""

SAME = 1e-6
"""An exchange is that of a suspect where its places have the same name; sizes are equal to this share."""

LARGER = 1.5


@dataclass(frozen=True, slots=True, eq=False)
class Marks:
    """Stations of a network as they are drawn, world, metres; n of them.

    Attributes
    ----------
    stations : tuple of str
    places, normals : (n, 3) float
        Foot of the mount, and the direction in which it stands.
    worst : (n,) float
        Largest normalised residual of the readings there; nan where no other reading controls any of them.
    longer : float
    """

    stations: tuple[str, ...]
    places: Floats
    normals: Floats
    worst: Floats
    longer: float

    @property
    def size(self) -> float:
        """Radius [m] of shafts that suits the places."""
        return max(mark_size(self.places), 0.0012 * self.longer)

    @property
    def points(self) -> Floats:
        """Where the marks stand ``(n, 3)``: clear of the surface."""
        result: Floats = self.places + 5.0 * self.size * self.normals
        return result


@dataclass(frozen=True, slots=True, eq=False)
class Signature:
    """What an error of the estimated size does to k readings; metres, angles over ``ARM``.

    Attributes
    ----------
    of : (k,) int
        Station of each reading, in ``Marks``.
    stations : tuple of str
    directions : (k, 3) float
        World: that of the channel that it moves.
    effects : (k,) float
    """

    of: Indices
    stations: tuple[str, ...]
    directions: Floats
    effects: Floats

    def first_factor(self, longer: float) -> float:
        """Exaggeration to begin with."""
        return default_factor(self.effects, LARGER * longer)


# --- residuals


def residuals_of(network: Network) -> Floats:
    """Normalised residual ``(o,)`` of each observation, with its sign; nan where no other controls it."""
    control = control_of(network)
    if control is None:
        return np.full(len(network.residual), np.nan)
    alone = control.system.seen_alone()
    held = alone / control.system.blocks.weights_alone()
    told = control.push / np.sqrt(np.maximum(alone, 1e-300))
    result: Floats = np.where(held > UNCONTROLLED, told, np.nan)
    return result


def marks_of(network: Network) -> Marks:
    """Stations with the worst of their residuals."""
    rows, of, geometry = network.geometry.rows, network.observations, network.geometry
    size = np.abs(np.nan_to_num(residuals_of(network), nan=-1.0))
    known = ~np.isnan(residuals_of(network))
    worst = np.full(len(rows.stations), -1.0)
    np.maximum.at(worst, rows.station[of.row[known]], size[known])
    read = np.unique(rows.station)
    first = np.array([int(np.argmax(rows.station == number)) for number in read], dtype=np.int64)
    places = geometry.foot[first]
    return Marks(
        stations=tuple(rows.stations[number] for number in read),
        places=places,
        normals=geometry.normal[first],
        worst=np.where(worst[read] < 0.0, np.nan, worst[read]),
        longer=max(float(np.linalg.norm(np.ptp(places, axis=0))), 0.3),
    )


# --- signatures


def signature_of(layout: Layout, held: Diagnosed, number: int) -> Signature | None:
    """What the suspect of that ``number`` does to the readings; None where it does nothing that could be drawn."""
    network = held.network
    effect = _effect(layout, held, held.diagnosis.suspects[number])
    if effect is None or not np.any(np.abs(effect) > 0.0):
        return None
    geometry, of = network.geometry, network.observations
    touched = np.nonzero(np.abs(effect) > SAME * float(np.abs(effect).max()))[0]
    row, channel = of.row[touched], of.channel[touched]
    across = {"h": geometry.axis_h, "v": geometry.axis_v, "pitch": geometry.axis_v, "yaw": geometry.axis_h}
    axes = np.stack([across[name] for name in CHANNELS])
    scale = np.array([ARM if name in ("pitch", "yaw") else 1.0 for name in CHANNELS])
    rows = geometry.rows
    read = np.unique(rows.station)
    return Signature(
        of=np.searchsorted(read, rows.station[row]),
        stations=tuple(rows.stations[i] for i in rows.station[row]),
        directions=axes[channel, row],
        effects=scale[channel] * effect[touched],
    )


def _effect(layout: Layout, held: Diagnosed, suspect: Suspect) -> Floats | None:
    """What the suspect adds to every observation ``(o,)``."""
    network = held.network
    if not suspect.sizes:
        return _exchanged(network, held.records, suspect)
    signatures = signatures_of(network, candidates(layout, network.geometry), held.records)
    return _column(signatures, suspect)


def _column(signatures: Signatures, suspect: Suspect) -> Floats | None:
    for number, each in enumerate(signatures.candidates):
        if (each.kind, each.where) == (suspect.kind, suspect.where):
            columns = signatures.columns[:, signatures.of_candidate(number)]
            effect: Floats = columns @ np.array(suspect.sizes)
            return effect
    return None


def _exchanged(network: Network, records: tuple[str, ...], suspect: Suspect) -> Floats | None:
    """What an exchange did: the opposite of what puts it right."""
    found: list[Floats] = []
    for exchange in exchanges_of(network):
        if exchange.kind != suspect.kind:
            continue
        for number, pair in enumerate(exchange.rows.tolist()):
            if _name_of(network, pair, records) == suspect.where:
                moved = np.zeros(len(network.residual) + 1)
                np.add.at(moved, exchange.numbers[number], -exchange.by[number])
                found.append(moved[:-1])
    # A point that slipped either way has one name: the one whose removal leaves less is the one that was found.
    left = [float(np.sum((network.residual - effect) ** 2)) for effect in found]
    return found[int(np.argmin(left))] if found else None


def _name_of(network: Network, pair: list[int], records: tuple[str, ...]) -> str:
    """One or two rows in the words that a diagnosis uses."""
    numbers = [int(np.nonzero(network.observations.row == row)[0][0]) for row in pair if row >= 0]
    if len(numbers) == 1:
        return named_reading(network, numbers[0], records)
    rows = network.geometry.rows
    return " and ".join(rows.stations[rows.station[row]] + (f" ({records[row]})" if records else "") for row in pair)
