"""Suspects: errors that may hide in readings, with the rows that each one touches and what would confirm it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from ..model.layout import Layout
from ..model.survey import LevelBy, Method, Setup
from ..tracing.geometry import CHANNELS, SurveyGeometry
from ..tracing.spots import aimed_azimuths
from ..vectors import Flags, Floats

__all__ = ["KINDS", "Candidate", "Kind", "Part", "candidates"]


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of error.

    Attributes
    ----------
    about : str
        What may have happened, with ``{}`` for where.
    confirm : str
        What to do to confirm it.
    unit : str
        Key of ``units.KINDS`` of its size; ``times`` for a plain number.
    in_shape : bool
        True where it bends a whole surface or line, so that a shape can raise the suspicion.
    """

    about: str
    confirm: str
    unit: str
    in_shape: bool = False


KINDS: dict[str, Kind] = {
    "cone": Kind(
        "the beam of the rotary base {} is not square to its axis: heights bend with the distance",
        "read some stations from a second place, at other radii; a real dish of the surface stays", "angle", True),
    "bent path": Kind(
        "the beam bends in the air more than stated{}",
        "shade or ventilate the path, or read again at another time of the day", "temperature gradient", True),
    "decentring": Kind(
        "the beam met the prism of {} off its turning axis",
        "centre the prism and read three stations again", "length", True),
    "prism error": Kind(
        "the prism {} turns the beam by another angle than stated", "read both sides with the prism reversed", "angle",
        True),
    "wobble": Kind(
        "the rotary base {} wobbles twice in a turn; once in a turn would be a tilt, which is solved for",
        "turn the base by a quarter on its foot and read the same stations again", "angle", True),
    "drift": Kind(
        "the beam of {} drifted steadily", "read the first stations again in the reverse order", "angle rate", True),
    "knock": Kind(
        "the emitter of {} was moved or knocked between two readings",
        "read a station from before and one from after that moment again", "length"),
    "mount": Kind(
        "the mount at {} was not of the height that the layout says",
        "look at the mount, and read this station again", "length"),
    "roll": Kind(
        "the target {} was rolled about the beam", "turn it by half a turn and read a station again", "angle"),
    "zero": Kind(
        "the zero of the target {} is off", "turn it by half a turn about the beam and read a station again",
        "length"),
    "eccentric": Kind(
        "the target at {} stood off the axis of its discs",
        "read it at opposite clock positions", "length"),
    "vial": Kind(
        "the level vial of {} was not where it says", "turn the vial about and read it again", "angle"),
    "bad reading": Kind(
        "the reading {} was read or written wrongly", "read this station again", "length"),
    "swapped": Kind(
        "the records of {} were exchanged", "read one of the two stations again", ""),
    "wrong sign": Kind("the reading {} was written with the wrong sign", "read this station again", ""),
    "point slipped": Kind(
        "the point slipped in the reading {}: it is ten times too large or too small", "read this station again", ""),
}  # fmt: skip
"""Every kind by its name."""


@dataclass(frozen=True, slots=True, eq=False)
class Part:
    """One unknown size of an error: fields of the state with the factor of each row ``(m,)``, 0 where it has none."""

    moved: dict[str, Floats]


@dataclass(frozen=True, slots=True, eq=False)
class Candidate:
    """An error at one place.

    Attributes
    ----------
    kind : str
    where : str
        In words.
    parts : tuple of Part
        Its unknown sizes.
    stated_u : float
        Standard uncertainty that the layout states of such an error; 0: none.
    """

    kind: str
    where: str
    parts: tuple[Part, ...]
    stated_u: float = 0.0


def _rows_by(keys: list[str]) -> dict[str, Flags]:
    """Rows of every key that is not empty."""
    names = np.array(keys)
    return {name: names == name for name in dict.fromkeys(keys) if name}


def _one(field: str, factor: Floats | Flags) -> Part:
    return Part({field: np.asarray(factor, dtype=np.float64)})


def candidates(layout: Layout, geometry: SurveyGeometry) -> tuple[Candidate, ...]:
    """All errors of devices, air, mounts and crew that could hide in the rows of a survey."""
    survey = _Survey(layout, geometry)
    makers: tuple[Callable[[_Survey], Iterator[Candidate]], ...] = (
        _of_bases, _of_air, _of_prisms, _of_time, _of_mounts, _of_targets,
    )  # fmt: skip
    return tuple(candidate for make in makers for candidate in make(survey))


class _Survey:
    """Rows of a survey with what each one meets."""

    def __init__(self, layout: Layout, geometry: SurveyGeometry) -> None:
        rows = geometry.rows
        self.layout, self.geometry, self.rows = layout, geometry, rows
        self.setups: list[Setup] = [layout.setups[rows.setups[i]] for i in rows.setup]
        self.method = [setup.method for setup in self.setups]
        self.by_setup = {name: rows.setup == number for number, name in enumerate(rows.setups)}


def _of_bases(s: _Survey) -> Iterator[Candidate]:
    base = np.array([each is Method.BASE_PLANE for each in s.method], dtype=bool)
    if not base.any():
        return
    azimuth = np.where(base, np.nan_to_num(aimed_azimuths(s.geometry)), 0.0)
    keys = [setup.base if here else "" for setup, here in zip(s.setups, base, strict=True)]
    for name, mine in _rows_by(keys).items():
        stated = s.layout.bases[name]
        yield Candidate("cone", name, (_one("cone", mine),), stated.cone_known_to)
        waves = tuple(_one("elevation", mine * wave(2.0 * azimuth)) for wave in (np.cos, np.sin))
        yield Candidate("wobble", name, waves, stated.wobble)
    for name, mine in s.by_setup.items():
        if s.layout.setups[name].level_by is LevelBy.VIAL:
            vial = s.layout.vials.get(s.layout.setups[name].vial)
            known = 0.0 if vial is None else vial.sensitivity
            yield Candidate("vial", name, (_one("tilt_x", mine), _one("tilt_y", mine)), known)


def _of_air(s: _Survey) -> Iterator[Candidate]:
    known = s.layout.air.gradient_known_to
    yield Candidate("bent path", "", (_one("gradient", np.ones(len(s.rows))),), known)
    if len(s.by_setup) > 1:
        for name, mine in s.by_setup.items():
            yield Candidate("bent path", f" on the way of {name}", (_one("gradient", mine),), known)


def _of_prisms(s: _Survey) -> Iterator[Candidate]:
    through = s.rows.stop >= 0
    if not through.any():
        return
    keys = [setup.prism.prism if setup.prism and here else "" for setup, here in zip(s.setups, through, strict=True)]
    for name, mine in _rows_by(keys).items():
        prism = s.layout.prisms[name]
        yield Candidate("prism error", name, (_one("mirror", mine),), prism.mirror_known_to)
    for name, setup in s.by_setup.items():
        use = s.layout.setups[name].prism
        if use is None:
            continue
        for number, stop in enumerate(use.stops):
            mine = setup & (s.rows.stop == number)
            where = name if len(use.stops) == 1 else f"{name}, {stop.name}"
            yield Candidate("decentring", where, (_one("prism_y", mine), _one("prism_z", mine)), use.centred_within)


def _of_time(s: _Survey) -> Iterator[Candidate]:
    for name, mine in s.by_setup.items():
        emitter = s.layout.emitters[s.layout.setups[name].emitter]
        both = bool((mine & s.geometry.reads["h"]).any())
        fields = ("drift", "drift_side") if both else ("drift",)
        yield Candidate("drift", name, tuple(_one(field, mine) for field in fields), emitter.drift)
        frame = ("tilt_x", "tilt_y", "lift") if s.layout.setups[name].base else ("tilt_y", "tilt_z", "lift", "shift")
        times = np.unique(s.rows.time[mine])
        for earlier, later in pairwise(times.tolist()):
            after = mine & (s.rows.time >= later)
            names = [s.rows.stations[s.rows.station[np.nonzero(mine & (s.rows.time == t))[0][-1]]]
                     for t in (earlier, later)]  # fmt: skip
            where = f"{name}, after {names[0]} and before {names[1]}"
            yield Candidate("knock", where, tuple(_one(field, after) for field in frame))


def _of_mounts(s: _Survey) -> Iterator[Candidate]:
    rows = s.rows
    for number, name in enumerate(rows.stations):
        station = s.layout.stations[name]
        if station.is_datum or station.mount.kind in ("discs", "none"):
            continue
        at = rows.station == number
        for setup, of in s.by_setup.items():
            mine = at & of
            if mine.any():
                where = f"{name}, read from {setup}" if len(s.by_setup) > 1 else name
                yield Candidate("mount", where, (_one("mount", mine),), station.mount.height_known_to)
    discs = [s.layout.stations[rows.stations[i]].mount for i in rows.station]
    keys = [f"discs of {mount.diameter * 1e3:.4g} mm" if mount.kind == "discs" else "" for mount in discs]
    for where, mine in _rows_by(keys).items():
        known = max(mount.eccentric_known_to for mount, here in zip(discs, mine, strict=True) if here)
        yield Candidate("eccentric", where, (_one("eccentric_h", mine), _one("eccentric_v", mine)), known)


def _of_targets(s: _Survey) -> Iterator[Candidate]:
    for number, name in enumerate(s.rows.targets):
        mine, target = s.rows.target == number, s.layout.targets[name]
        yield Candidate("roll", name, (_one("roll", mine),), target.roll)
        axes = [axis for axis in CHANNELS[:2] if (mine & s.geometry.reads[axis]).any()]
        yield Candidate("zero", name, tuple(_one(f"zero_{axis}", mine) for axis in axes), target.zero_known_to)
