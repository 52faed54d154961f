"""Leaning: angles between two features as components of a task; common to parallelism, squareness and direction."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from ...hints import listed
from ...model.survey import Limit
from ...vectors import Floats
from .definition import Definition, Kind, Linear, Profile, Unreached, Zone
from .evidence import Evidence
from .features import Feature, features_of, lean
from .offset_measures import Range
from .ties import everything, first_reached

__all__ = ["NEARLY", "Leaning", "definition_of_angles", "over_datum", "same_direction", "square_direction"]

NEARLY = 0.1
"""Features that the layout places farther than this [rad] from parallel (square) cannot be asked to be so."""


@dataclass(frozen=True, slots=True, eq=False)
class Leaning:
    """One angle between a measured feature and its datum.

    Attributes
    ----------
    name, key : str
        Of the component, and under which its limit stands.
    measured, datum : Feature
    toward, datum_toward : (3,) float
        Directions in which both lean.
    datum_sign : float
        -1 where both lean alike without changing the angle, +1 where they close it together, 0 where the datum does
        not count.
    nominal : float
        What the layout alone says, rad.
    plus : str
        What a positive sign means.
    """

    name: str
    key: str
    measured: Feature
    datum: Feature
    toward: Floats
    datum_toward: Floats
    datum_sign: float
    nominal: float
    plus: str


@dataclass(frozen=True, slots=True, eq=False)
class _Told:
    """Lean of the measured feature and of its datum, each (p,), and the stations of both.

    ``narrow`` is true where stations that are read could not serve, since nothing ties them to the others.
    """

    own: Floats
    datum: Floats
    stations: tuple[str, ...]
    datum_stations: tuple[str, ...]
    narrow: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class _Angles:
    """Components for one measured feature, as for `Definition`."""

    values: tuple[Linear | Zone, ...]
    shown: tuple[Profile, ...]
    unreached: tuple[Unreached, ...]
    remarks: tuple[str, ...]


def same_direction(
    measured: Feature, datum: Feature, axes: Floats, names: tuple[str, ...], keys: tuple[str, ...], plus: str
) -> list[Leaning]:
    """Angles, in the directions ``axes`` (k, 3), of two directions that should coincide; the datum is seen that way."""
    other = datum if datum.direction @ measured.direction >= 0.0 else datum.flipped()
    return [
        Leaning(name, key, measured, other, axis, axis, -1.0, float((measured.direction - other.direction) @ axis),
                plus.format(axis=key or name))
        for axis, name, key in zip(axes, names, keys, strict=True)
    ]  # fmt: skip


def square_direction(measured: Feature, datum: Feature, name: str, key: str, plus: str) -> Leaning:
    """Angle of two directions that should be square to each other, less a right angle; + = it is smaller."""
    return Leaning(
        name, key, measured, datum, datum.direction, measured.direction, 1.0,
        float(measured.direction @ datum.direction), plus,
    )  # fmt: skip


def _told(evidence: Evidence, leaning: Leaning) -> _Told | str:
    """How both features lean, from the widest choice of stations that tells it; else why none does."""
    kept: dict[bytes, _Told] = {}

    def told(measured: frozenset[str], datum: frozenset[str]) -> Floats | None:
        own = lean(evidence, leaning.measured, leaning.toward, measured)
        other: tuple[Floats, tuple[str, ...]] | None = (np.zeros(evidence.unknowns), ())
        if leaning.datum_sign:
            other = lean(evidence, leaning.datum, leaning.datum_toward, datum)
        if own is None or other is None:
            return None
        whole = own[0] + leaning.datum_sign * other[0]
        kept[whole.tobytes()] = _Told(own[0], other[0], own[1], other[1])
        return whole

    found = first_reached(evidence, told, _nothing(evidence, leaning), leaning.datum.name)
    return found if isinstance(found, str) else replace(kept[found[0].tobytes()], narrow=found[1])


def _nothing(evidence: Evidence, leaning: Leaning) -> str:
    """Why the stations of a feature tell no such angle at all."""
    whole = everything(evidence)
    for feature, e in ((leaning.measured, leaning.toward), (leaning.datum, leaning.datum_toward)):
        if lean(evidence, feature, e, whole) is None:
            what = "heights" if feature.is_plane else "deviations"
            return (
                f"no reading tells how {feature.name} leans there: read {what} of two or more of its stations that "
                "stand apart in that direction"
            )
    return "no set-up reads enough of both"


def _heights(evidence: Evidence, told: list[tuple[Leaning, _Told]]) -> Profile | None:
    """Heights of the stations of a measured plane over a plane that leans as the datum does."""
    feature = told[0][0].measured
    names = evidence.seeing(feature.stations, feature.direction)
    names = tuple(name for name in names if all(name in each.stations for _, each in told))
    if len(names) < 2 or len(told) < 2:
        return None
    feet = evidence.feet(names)
    off = feet - feet.mean(axis=0)
    jacobian, offsets = evidence.displacements(names, feature.direction), np.zeros(len(names))
    for leaning, each in told:
        back = -(off @ leaning.toward)
        jacobian = jacobian + leaning.datum_sign * np.outer(back, each.datum)
        offsets = offsets + leaning.nominal * back
    directions = np.broadcast_to(feature.direction, feet.shape)
    jacobian = jacobian - jacobian.mean(axis=0)
    return Profile(names, (feature.name,) * len(names), feet, directions, offsets, jacobian)


def _sideways(evidence: Evidence, leaning: Leaning, told: _Told) -> Profile | None:
    """Deviations of the stations of a measured line from one that leans as the datum does.

    A line without stations, such as the axis of a spindle, is told by those of its datum: how they deviate from it.
    None where neither has any.
    """
    names, other, sign = told.stations, told.datum, leaning.datum_sign
    if not names and not leaning.datum.is_plane:
        names, other, sign = told.datum_stations, told.own, -1.0
    if not names:
        return None
    feet = evidence.feet(names)
    ahead = (feet - feet.mean(axis=0)) @ leaning.measured.direction
    jacobian = evidence.displacements(names, leaning.toward) + sign * np.outer(ahead, other)
    return Profile(
        names, (leaning.name or "toward the datum",) * len(names), feet, np.broadcast_to(leaning.toward, feet.shape),
        (leaning.nominal if told.stations else -leaning.nominal) * ahead, jacobian - jacobian.mean(axis=0),
    )  # fmt: skip


def over_datum(
    evidence: Evidence, stations: tuple[str, ...], counted: Floats, leanings: list[Leaning]
) -> Profile | str:
    """Deviations along ``counted`` (3,) of stations from the datum of ``leanings``, about their mean; else why not.

    Parameters
    ----------
    leanings : list of Leaning
        How the measured feature leans against the datum: along a line one, over a plane both.
    """
    feet = evidence.feet(stations)
    off = feet - feet.mean(axis=0)
    jacobian, offsets = evidence.displacements(stations, counted), np.zeros(len(stations))
    for leaning in leanings:
        told = _told(evidence, leaning)
        if isinstance(told, str):
            return told
        ahead = -(off @ leaning.toward) if leaning.measured.is_plane else off @ leaning.measured.direction
        jacobian = jacobian + leaning.datum_sign * np.outer(ahead, told.datum)
        offsets = offsets + leaning.nominal * ahead
    return Profile(
        stations, ("from the datum",) * len(stations), feet, np.broadcast_to(counted, feet.shape), offsets,
        jacobian - jacobian.mean(axis=0),
    )  # fmt: skip


def _angles_of(evidence: Evidence, leanings: list[Leaning]) -> _Angles:
    """Components for the angles of one measured feature.

    With the limit of an angle each is that angle; with that of a length it is the width of the zone along the datum
    that holds all stations of the measured feature: one zone for a plane, one in each direction for a line.
    """
    values: list[Linear | Zone] = []
    shown: list[Profile] = []
    unreached: list[Unreached] = []
    told: list[tuple[Leaning, _Told]] = []
    for leaning in leanings:
        found = _told(evidence, leaning)
        if isinstance(found, str):
            unreached.append(Unreached(leaning.name, found))
        else:
            told.append((leaning, found))
    if told and told[0][0].measured.is_plane:
        heights = None if unreached else _heights(evidence, told)
        shown += [] if heights is None else [heights]
        limit = evidence.limit(told[0][0].key)
        if heights is not None and _is_length(limit):
            values, shown = [Zone(told[0][0].measured.name, Kind.LENGTH, heights, Range(), limit)], []
            told = []
    for leaning, each in told:
        limit = evidence.limit(leaning.key)
        profile = None if leaning.measured.is_plane else _sideways(evidence, leaning, each)
        if profile is not None and _is_length(limit):
            values.append(Zone(leaning.name, Kind.LENGTH, profile, Range(), limit))
            continue
        shown += [] if profile is None else [profile]
        whole = each.own + leaning.datum_sign * each.datum
        judged = None if _is_length(limit) else limit
        values.append(Linear(leaning.name, Kind.ANGLE, leaning.nominal, whole, judged, leaning.plus))
    return _Angles(tuple(values), tuple(shown), tuple(unreached), _remarks(evidence, told))


def _is_length(limit: Limit | None) -> bool:
    return limit is not None and not limit.angle


def _remarks(evidence: Evidence, told: list[tuple[Leaning, _Told]]) -> tuple[str, ...]:
    """What datum and feature were taken from, where that is not all of their stations."""
    found: dict[str, list[str]] = {}
    whole = everything(evidence)
    for leaning, each in told:
        taken = (
            (leaning.measured, leaning.toward, each.stations),
            (leaning.datum, leaning.datum_toward, each.datum_stations),
        )
        for feature, e, names in taken:
            every = lean(evidence, feature, e, whole)
            if each.narrow and every is not None and len(names) < len(every[1]):
                found.setdefault(f"{feature.name} is taken from {listed(names)} only", []).append(leaning.name)
    alike = [leaning.name for leaning, _ in told]
    return tuple(text if names == alike else f"{', '.join(names)}: {text}" for text, names in found.items())


def definition_of_angles(
    evidence: Evidence, leanings_of: Callable[[Evidence, Feature, Feature, str], list[Leaning]], reference: str
) -> Definition:
    """Definition of a task about angles between its features and its datum.

    Parameters
    ----------
    leanings_of : callable
        Angles of one measured feature against the datum, their names beginning with a given text.
    reference : str
        What the angles count from, before the name of the datum.
    """
    datum = features_of(evidence, evidence.task.to)[0]
    measured = [feature for name in evidence.task.of for feature in features_of(evidence, name)]
    parts = [
        _angles_of(evidence, leanings_of(evidence, feature, datum, f"{feature.name} " if len(measured) > 1 else ""))
        for feature in measured
    ]
    return Definition(
        reference=f"{reference} {datum.name}",
        method="least-squares directions",
        values=tuple(value for part in parts for value in part.values),
        shown=tuple(profile for part in parts for profile in part.shown),
        unreached=tuple(each for part in parts for each in part.unreached),
        remarks=tuple(dict.fromkeys(remark for part in parts for remark in part.remarks)),
    )
