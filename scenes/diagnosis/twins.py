"""Records of different stations that are the same in every figure: one was probably written twice.

Readings of a target scatter over much more than their last figure, the more so in the direction that carries no
information, where the crew leaves the spot anywhere. That two of them agree in all figures by chance is rare, and how
rare follows from the spread of the others.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..model.readings import Readings
from ..vectors import Floats, Indices

__all__ = ["Twin", "twins_of"]

RARE = 0.01
"""Records that are the same are told where chance makes any such pair in less than this share of surveys."""

CHANNELS = ("h", "v", "pitch", "yaw")
LEAST_STEP = 1e-12
"""Differences below this [m or rad] are rounding."""


@dataclass(frozen=True, slots=True)
class Twin:
    """Two records of one set-up with the same figures.

    Attributes
    ----------
    stations, rows : two str
        Names, and where the records stand.
    setup : str
    chance : float
        Share of sound surveys in which any pair of this set-up agrees so by chance, were readings normal.
    """

    stations: tuple[str, str]
    rows: tuple[str, str]
    setup: str
    chance: float

    @property
    def about(self) -> str:
        """What was found, in words."""
        (one, two), (first, second) = self.stations, self.rows
        return (
            f"the records of {one} ({first}) and {two} ({second}) are the same in every figure, by chance in "
            f"about {max(self.chance, 1e-9):.1g} of sound surveys: one was probably written twice"
        )


def twins_of(readings: Readings, visit: str) -> tuple[Twin, ...]:
    """Pairs of records of one visit, set-up and side that agree in every figure, at different stations."""
    here = np.array([name == visit for name in readings.visit], dtype=bool)
    setups = np.array(readings.setup)
    found: list[Twin] = []
    for name in dict.fromkeys(setups[here].tolist()):
        for side in (0, 1):
            rows = np.nonzero(here & (setups == name) & (readings.side == side))[0]
            found += _of_rows(readings, rows, name)
    return tuple(found)


def _of_rows(readings: Readings, rows: Indices, setup: str) -> list[Twin]:
    values = np.stack([getattr(readings, channel)[rows] for channel in CHANNELS], axis=1)
    if len(rows) < 3:
        return []
    _, group, count = np.unique(np.nan_to_num(values, nan=np.inf), axis=0, return_inverse=True, return_counts=True)
    pairs, each = 0.5 * len(rows) * (len(rows) - 1), np.array([_agreement(column) for column in values.T])
    found = []
    for number in np.nonzero(count > 1)[0]:
        same = np.nonzero(group.ravel() == number)[0]
        chance = float(pairs * np.prod(each[np.isfinite(values[same[0]])]))  # only what was read can agree
        one = int(rows[same[0]])
        for two in rows[same[1:]].tolist():
            if chance < RARE and readings.station[one] != readings.station[two]:
                places = tuple(f"{readings.file[i]}, row {readings.row[i]}" for i in (one, two))
                stations = (readings.station[one], readings.station[two])
                found.append(Twin(stations, (places[0], places[1]), setup, chance))
                break
    return found


def _agreement(column: Floats) -> float:
    """Chance that two values of a column agree in their last figure, from the spread of all of them."""
    there = np.unique(column[np.isfinite(column)])
    steps = np.diff(there)
    steps = steps[steps > LEAST_STEP]
    if not steps.size:
        return 1.0
    return float(min(1.0, steps.min() / (2.0 * np.sqrt(np.pi) * np.std(there))))
