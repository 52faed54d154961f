"""Definitions: how the number that a task asks for follows from the unknowns of the network, before any reading."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from ...model.survey import Limit
from ...vectors import Floats
from .measures import Measure

__all__ = ["Definition", "Kind", "Linear", "Profile", "Unreached", "Zone"]


class Kind(StrEnum):
    """What a number is; the names are kinds of ``scenes.units``."""

    LENGTH = "length"
    ANGLE = "angle"


@dataclass(frozen=True, slots=True, eq=False)
class Profile:
    """Deviations of stations that belong to a value; k entries of one station and one direction each.

    Attributes
    ----------
    stations, components : tuple of str
        Of each entry; components such as ``up`` and ``side``.
    places, directions : (k, 3) float
        Where on the nominal surface, and the direction in which the deviation counts, world, metres.
    offsets : (k,) float; jacobian : (k, p) float
        The deviations are ``offsets + jacobian @ unknowns``.
    kind : Kind
    """

    stations: tuple[str, ...]
    components: tuple[str, ...]
    places: Floats
    directions: Floats
    offsets: Floats
    jacobian: Floats
    kind: Kind = Kind.LENGTH


@dataclass(frozen=True, slots=True, eq=False)
class Linear:
    """A number that is linear in the unknowns: ``nominal + functional @ unknowns``.

    Attributes
    ----------
    name : str
        Of the component, such as ``up`` or ``x``; empty where there is one only.
    kind : Kind
    nominal : float
        What the layout alone says, metres or rad.
    functional : (p,) float
    limit : Limit, optional
        None: told, but not judged.
    plus : str
        What a positive sign means.
    others : tuple of (name, standard uncertainty)
        Errors of the number that do not come through readings of light, such as that of a tape.
    """

    name: str
    kind: Kind
    nominal: float
    functional: Floats
    limit: Limit | None
    plus: str = ""
    others: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Zone:
    """A number that a measure makes of many deviations, such as their range; it is never negative.

    Attributes
    ----------
    name, kind, limit : as in `Linear`
    profile : Profile
    measure : Measure
    tells_deviations : bool
        False where another zone tells the same deviations.
    """

    name: str
    kind: Kind
    profile: Profile
    measure: Measure
    limit: Limit | None
    tells_deviations: bool = True


@dataclass(frozen=True, slots=True)
class Unreached:
    """A component that the readings do not tell, and why in words."""

    component: str
    reason: str


@dataclass(frozen=True, slots=True, eq=False)
class Definition:
    """All that a task asks for.

    Attributes
    ----------
    reference, method : str
        What deviations count from, and how it was found, in words.
    values : tuple of Linear or Zone
        The components, in the order in which they are told.
    shown : tuple of Profile
        Deviations that belong to linear components; those of zones are their own.
    unreached : tuple of Unreached
    remarks : tuple of str
    form : bool
        True where stations that were not read can only make it worse.
    held : str
        Why a value that keeps its limit proves nothing all the same; else empty.
    """

    reference: str
    method: str
    values: tuple[Linear | Zone, ...]
    shown: tuple[Profile, ...] = ()
    unreached: tuple[Unreached, ...] = ()
    remarks: tuple[str, ...] = ()
    form: bool = False
    held: str = ""
