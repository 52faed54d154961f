"""Position of bores against a datum axis: the zone that holds the axis of each, and where its middle stands.

The zone is round about the datum axis and holds all stations (ISO 1101): its diameter where the limit is one or none is
asked, else the largest distance. The middle of each bore is told upright and to the left, and by its clock.
"""

from __future__ import annotations

import numpy as np

from .datum_axis import WORDS, axis_words, beside_axis, datum_axis, measured_axes
from .definition import Definition, Kind, Linear, Profile, Unreached, Zone
from .evidence import Evidence
from .offset_measures import LargestOffset
from .zones import left_out, profile_of, read_in

__all__ = ["bore_position"]

PLUS = ("+: stands high", "+: stands to the left, as seen along its axis")
CLOCK = "0: stands high; right-handed about its axis"
TELLS_CLOCK = 3.0
"""The clock of a position is told from a distance of so many standard uncertainties on."""


def bore_position(evidence: Evidence) -> Definition:
    """Definition of a task about the position of bores."""
    measured = measured_axes(evidence)
    datum = datum_axis(evidence, measured)
    values: list[Linear | Zone] = []
    unreached: list[Unreached] = []
    remarks: list[str] = []
    for feature in measured:
        several = f"{feature.name} " if len(measured) > 1 else ""
        chosen = [i for i, word in enumerate(WORDS) if evidence.task.plane in ("", "space", word)]
        stations = read_in(evidence, feature.stations, feature.frame[chosen])
        if not stations:
            unreached.append(Unreached(several.strip(), f"no reading tells where {feature.name} stands there"))
            continue
        remarks += left_out(feature.stations, stations, feature.name)
        each = profile_of(evidence, stations, feature.frame[chosen], [WORDS[i] for i in chosen])
        off = beside_axis(evidence, each, datum)
        if isinstance(off, str):
            unreached.append(Unreached(several.strip(), off))
            continue
        values += _position(evidence, off, several, chosen)
    return Definition(
        axis_words(evidence, datum), "distance from the datum axis, and the middle of each bore", tuple(values),
        unreached=tuple(unreached), remarks=tuple(dict.fromkeys(remarks)), form=True,
    )  # fmt: skip


def _middle(off: Profile, parts: int) -> Profile:
    """One entry per direction: the mean over all stations."""
    return Profile(
        off.stations[:parts], off.components[:parts], off.places.reshape(-1, parts, 3).mean(axis=0),
        off.directions[:parts], off.offsets.reshape(-1, parts).mean(axis=0),
        off.jacobian.reshape(-1, parts, off.jacobian.shape[1]).mean(axis=0),
    )  # fmt: skip


def _position(evidence: Evidence, off: Profile, several: str, chosen: list[int]) -> list[Linear | Zone]:
    """The zone, the components of the middle along the axes, and its clock where it is told."""
    middle = _middle(off, len(chosen))
    by_part = {word: limit for word, limit in evidence.task.limits.items() if word}
    found: list[Linear | Zone] = []
    whole = None if by_part else evidence.limit("")
    factor = 2.0 if whole is None or whole.diameter else 1.0
    found.append(Zone(several.strip(), Kind.LENGTH, off, LargestOffset(len(chosen), factor), whole))
    for row, i in enumerate(chosen):
        limit = by_part.get(WORDS[i])
        found.append(Linear(f"{several}{WORDS[i]}", Kind.LENGTH, 0.0, middle.jacobian[row], limit, PLUS[i]))
    if len(chosen) == len(WORDS):
        found += _clock(evidence, middle, several)
    return found


def _clock(evidence: Evidence, middle: Profile, several: str) -> list[Linear]:
    """Direction in which the middle stands off the axis, linear about where it was found."""
    network = evidence.network
    up, left = middle.jacobian @ network.values
    distance = float(np.hypot(up, left))
    u = float(network.spread_of(middle.jacobian).standard_uncertainty().max())
    if distance <= TELLS_CLOCK * u:
        return []
    functional = (left * middle.jacobian[0] - up * middle.jacobian[1]) / distance**2
    clock = float(np.arctan2(-left, up))
    return [Linear(f"{several}clock", Kind.ANGLE, clock - float(functional @ network.values), functional, None, CLOCK)]
