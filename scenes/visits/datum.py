"""The datum that visits share: what a measure cannot see is taken out of the deviations of the stations both read."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..errors import GeometryError
from ..hints import listed
from ..reductions.quantities.definition import Linear, Profile, Zone
from ..reductions.quantities.measured import Measured
from ..vectors import Floats, Indices

__all__ = ["OF_TASK", "CommonDatum", "Entry", "datum_of", "entries_of", "profiles_of"]

Entry = tuple[str, str]
"""Station and component."""

OF_TASK = "the reference of the task"

CENTRED = 1e-9
"""A profile whose mean depends on no unknown by more than this is about its own mean."""


class CommonDatum:
    """Takes out what a measure cannot see, so that deviations of several visits count from the same.

    Attributes
    ----------
    words : str
    projector : (k, k) float
    rank : int
        Of the projector.
    """

    def __init__(self, words: str, unseen: Floats, through: Indices | None = None) -> None:
        k, width = unseen.shape
        self.words = words
        fit = np.zeros((width, k))
        if width:
            mine = np.arange(k) if through is None else through
            if np.linalg.matrix_rank(unseen[mine]) < np.linalg.matrix_rank(unseen):
                raise GeometryError(
                    "the stations of the datum do not carry it: they stand too close to one line or place"
                )
            fit[:, mine] = np.linalg.pinv(unseen[mine])
        self.projector: Floats = np.eye(k) - unseen @ fit
        self.rank = k - (int(np.linalg.matrix_rank(unseen)) if width else 0)


def profiles_of(measured: Measured) -> list[tuple[str, Zone | None, Profile]]:
    """The deviations of a task: those of its zones, each with its name, then those of linear components."""
    zones = [
        (each.name, each, each.profile)
        for each in measured.definition.values
        if not isinstance(each, Linear) and each.tells_deviations
    ]
    return [*zones, *(("", None, profile) for profile in measured.definition.shown)]


def entries_of(profile: Profile) -> list[Entry]:
    """Station and component of every entry."""
    return list(zip(profile.stations, profile.components, strict=True))


def datum_of(
    profiles: Sequence[Profile], zones: Sequence[Zone | None], values: Sequence[Floats], kept: Sequence[Entry],
    stations: tuple[str, ...] = (),
) -> CommonDatum:  # fmt: skip
    """The datum of the entries ``kept`` of the profiles of several visits.

    Parameters
    ----------
    values : sequence of (p,) float
        Unknowns of each visit.
    stations : tuple of str
        Taken as at rest; empty: the stations of the reference where it has some, else all of them.

    Raises
    ------
    GeometryError
        Where the stations at rest do not carry a line or plane.
    """
    first, zone = profiles[0], zones[0]
    order = {entry: number for number, entry in enumerate(entries_of(first))}
    index = np.array([order[entry] for entry in kept], dtype=np.int64)
    if zone is None:
        return _of_shown(profiles, kept)
    unseen = zone.measure.unseen(len(first.stations))[index]
    if not unseen.shape[1]:
        return CommonDatum(OF_TASK, unseen)
    what = {1: "mean", 2: "line", 3: "plane"}.get(unseen.shape[1], "line")
    if stations:
        mine = np.array([i for i, (name, _) in enumerate(kept) if name in stations], dtype=np.int64)
        absent = [name for name in stations if name not in {kept[i][0] for i in mine}]
        if absent:
            raise GeometryError(f"{listed(absent)} cannot be at rest: not read at every visit")
        return CommonDatum(f"the {what} of {listed(list(stations))}, taken as at rest", unseen, mine)
    carried = _carriers(zone, first, values[0], kept)
    if carried is not None:
        names = list(dict.fromkeys(kept[i][0] for i in carried))
        return CommonDatum(f"the {what} through {listed(names)}", unseen, carried)
    fitted = what if what == "mean" else f"least-squares {what}"
    return CommonDatum(f"the {fitted} of the stations that every visit reads", unseen)


def _carriers(zone: Zone, profile: Profile, values: Floats, kept: Sequence[Entry]) -> Indices | None:
    """Entries among ``kept`` that the reference of a zone goes through; None where it goes through none, or not all."""
    if not zone.measure.steady:
        return None
    stand = zone.measure.at(profile.offsets + profile.jacobian @ values)
    if not len(stand.datum):
        return None
    entries = entries_of(profile)
    wanted = [entries[i] for i in stand.datum]
    if any(entry not in kept for entry in wanted):
        return None
    return np.array([kept.index(entry) for entry in wanted], dtype=np.int64)


def _of_shown(profiles: Sequence[Profile], kept: Sequence[Entry]) -> CommonDatum:
    """Deviations of a linear component count from its reference; about their mean where they are told about it."""
    k = len(kept)
    centred = all(np.abs(profile.jacobian.mean(axis=0)).max(initial=0.0) < CENTRED for profile in profiles)
    if not centred:
        return CommonDatum(OF_TASK, np.zeros((k, 0)))
    return CommonDatum(f"{OF_TASK}, about the mean of the stations that every visit reads", np.ones((k, 1)))
