"""Hidden faults: what goes wrong on site without anybody noting it, put into simulated readings on request."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np

from ..errors import InputError, Problem
from ..hints import did_you_mean, near_names
from ..model.layout import Layout
from ..model.readings import Readings
from ..tracing.geometry import SurveyGeometry
from ..tracing.spots import spots
from ..tracing.state import RowState, changed
from ..units import KINDS, UnitError, parse_number, parse_quantity
from ..vectors import Flags
from .fault_kinds import FAULTS, TIMES, Chance, FaultKind, Scene, Strike

__all__ = ["FAULTS", "Fault", "HiddenFault", "exchanged", "faults_of_texts", "hidden_fault", "possible_faults",
           "with_faults"]  # fmt: skip

SMALLEST = 1.0 / 32.0
"""An amount that nobody stated is halved until its spots stay on their detectors, down to this share."""


@dataclass(frozen=True, slots=True)
class Fault:
    """A fault that is asked for; what is left open is drawn.

    Attributes
    ----------
    kind : str
        Key of ``FAULTS``.
    where : tuple of str
        A station, two of them, a set-up or a device, as the kind asks; empty: drawn.
    amount : float, optional
        In SI units (a plain number for a multiple); None: what is usual for the kind, either way.
    """

    kind: str
    where: tuple[str, ...] = ()
    amount: float | None = None


@dataclass(frozen=True, slots=True, eq=False)
class HiddenFault:
    """A fault with everything decided.

    Attributes
    ----------
    kind, where, amount
        As in `Fault`; the amount of an exchange of records is nan.
    strike : Strike
        The readings that it spoils and what it adds to the state.
    """

    kind: str
    where: tuple[str, ...]
    amount: float
    strike: Strike


def possible_faults(layout: Layout, geometry: SurveyGeometry) -> dict[str, tuple[str, ...]]:
    """Kinds of faults that a survey can have, each with the names at which it can strike."""
    names = {kind: tuple(each.names(Scene(layout, geometry))) for kind, each in FAULTS.items()}
    return {kind: places for kind, places in names.items() if places}


def _refused(kind: str, message: str, advice: str) -> Problem:
    return Problem(f"fault {kind}", 0, 0, message, advice)


def _problem(fault: Fault, possible: dict[str, tuple[str, ...]]) -> Problem | None:
    """What is wrong with a fault that is asked for."""
    if fault.kind not in FAULTS:
        near = " or ".join(near_names(fault.kind, possible))
        meant = f"did you mean {near}? " if near else ""
        return _refused(fault.kind, "there is no such fault", f"{meant}possible here: {', '.join(possible)}")
    kind = FAULTS[fault.kind]
    if fault.kind not in possible:
        return _refused(fault.kind, f"this layout cannot have it: {kind.lacks}",
                        f"possible here: {', '.join(possible)}")  # fmt: skip
    count = _count(kind)
    if fault.where and len(fault.where) != count:
        asked = ("nothing", f"one {kind.place}", f"two {kind.place}s")[count]
        return _refused(fault.kind, f"{asked} can be named, not {', '.join(fault.where)}", _usage(fault.kind, kind))
    if len(set(fault.where)) < len(fault.where):
        return _refused(fault.kind, f"{fault.where[0]} is named twice", "name two different stations")
    for name in fault.where:
        if name not in possible[fault.kind]:
            return _refused(fault.kind, f"it cannot strike {kind.place} {name!r}",
                            did_you_mean(name, possible[fault.kind]))  # fmt: skip
    if fault.amount is not None and not kind.quantity:
        return _refused(fault.kind, "it has no amount", _usage(fault.kind, kind))
    return None


def _count(kind: FaultKind) -> int:
    """How many names say where it strikes."""
    return 0 if not kind.place else 1 if kind.quantity else 2


def _usage(name: str, kind: FaultKind) -> str:
    """How the fault is written."""
    parts = [kind.place.upper()] * _count(kind)
    if kind.quantity:
        parts.append("12" if kind.quantity == TIMES else KINDS[kind.quantity].example)
    return f"write it as {name} or {name}={','.join(parts)}"


def faults_of_texts(texts: Iterable[str], layout: Layout, geometry: SurveyGeometry) -> tuple[Fault, ...]:
    """Faults as they are typed: ``drift``, ``wrong-mount=A3``, ``wrong-mount=A3,5 mm``, ``cone=8 arcsec``.

    Raises
    ------
    InputError
        With everything that is wrong, and the faults that are possible.
    """
    possible = possible_faults(layout, geometry)
    faults, problems = [], []
    for text in texts:
        name, _, rest = text.partition("=")
        name = re.sub(r"[\s_]+", "-", name.strip().casefold())
        try:
            fault = Fault(name, *_detail(rest.strip(), FAULTS.get(name), possible.get(name, ())))
            problem = _problem(fault, possible)
        except UnitError as error:
            problem = _refused(name, str(error), error.advice)
        if problem is not None:
            problems.append(problem)
        else:
            faults.append(fault)
    if problems:
        raise InputError(problems)
    return tuple(faults)


def _detail(text: str, kind: FaultKind | None, names: tuple[str, ...]) -> tuple[tuple[str, ...], float | None]:
    """Names and amount in what stands behind the equals sign; a comma inside a number is decimal."""
    if not text or kind is None:
        return (), None
    if not kind.quantity:
        return tuple(part.strip() for part in re.split(r"[,;]", text)), None
    if text in names:
        return (text,), None
    first, *rest = (part.strip() for part in re.split(r"[,;]", text, maxsplit=1))
    try:
        return (), _amount(text, kind)
    except UnitError:
        if not kind.place or (first not in names and first[:1] in "+-.0123456789"):
            raise
    return (first,), _amount(rest[0], kind) if rest else None


def _amount(text: str, kind: FaultKind) -> float:
    if kind.quantity != TIMES:
        return parse_quantity(text, kind.quantity)
    try:
        return parse_number(text)
    except ValueError as error:
        raise UnitError(str(error), "write how many times what is stated: 10") from None


def hidden_fault(
    layout: Layout, geometry: SurveyGeometry, state: RowState, fault: Fault, rng: np.random.Generator
) -> HiddenFault:
    """``fault`` with everything decided that it leaves open.

    An amount that is drawn goes up or down, and is made smaller where spots would leave their detectors.

    Parameters
    ----------
    state : RowState
        In which the readings are taken, without it.

    Raises
    ------
    InputError
        Where the survey cannot have it; the message lists what it can have.
    """
    possible = possible_faults(layout, geometry)
    problem = _problem(fault, possible)
    if problem is not None:
        raise InputError([problem])
    kind, scene = FAULTS[fault.kind], Scene(layout, geometry)
    drawn = rng.uniform(size=4)
    where = fault.where or _drawn_place(scene, fault.kind, possible[fault.kind], float(drawn[0]))
    chance = Chance(2.0 * np.pi * float(drawn[2]), float(drawn[3]))
    if not kind.quantity:
        strike = kind.strike(scene, where, 0.0, chance)
        if not len(strike.rows):
            raise InputError([_refused(fault.kind, f"no set-up reads both {' and '.join(where)}",
                                       "name two stations of one set-up")])  # fmt: skip
        return HiddenFault(fault.kind, where, float("nan"), strike)
    if fault.amount is not None:
        return HiddenFault(fault.kind, where, fault.amount, kind.strike(scene, where, fault.amount, chance))
    amount = kind.usual if drawn[1] < 0.5 else -kind.usual
    while True:
        for signed in (amount, -amount):
            strike = kind.strike(scene, where, signed, chance)
            if abs(amount) <= SMALLEST * kind.usual or _on_detectors(geometry, state, strike):
                return HiddenFault(fault.kind, where, signed, strike)
        amount *= 0.5


def _drawn_place(scene: Scene, name: str, names: tuple[str, ...], pick: float) -> tuple[str, ...]:
    count = _count(FAULTS[name])
    if count < 2:
        return (names[int(pick * len(names))],) if count else ()
    rows = scene.geometry.rows
    first = np.nonzero((rows.setup[1:] == rows.setup[:-1]) & (rows.station[1:] != rows.station[:-1]))[0]
    row = int(first[int(pick * len(first))])
    return rows.stations[rows.station[row]], rows.stations[rows.station[row + 1]]


def _on_detectors(geometry: SurveyGeometry, state: RowState, strike: Strike) -> bool:
    """Whether the spots of the readings that it spoils stay on their detectors, or were off before."""
    half = 0.5 * geometry.window[strike.rows]

    def off(here: RowState) -> Flags:
        seen = spots(geometry, here)
        places = np.stack(np.broadcast_arrays(seen.h, seen.v), axis=-1)[..., strike.rows, :]
        return np.asarray(np.any(~(np.abs(places) <= half), axis=-1))

    return not np.any(off(_struck_state(state, strike)) & ~off(state))


def _struck_state(state: RowState, strike: Strike) -> RowState:
    for name, by in strike.moved.items():
        state = changed(state, name, by)
    return state


def with_faults(state: RowState, faults: Iterable[HiddenFault]) -> RowState:
    """``state`` with what the faults add to it."""
    for fault in faults:
        state = _struck_state(state, fault.strike)
    return state


def exchanged(readings: Readings, faults: Iterable[HiddenFault]) -> Readings:
    """Records with the values of stations exchanged where a fault says so; all else stays as it is."""
    for fault in faults:
        if FAULTS[fault.kind].quantity:
            continue
        order = np.arange(len(readings))
        order[fault.strike.rows] = fault.strike.rows[::-1]
        values = {name: getattr(readings, name)[order] for name in ("h", "v", "pitch", "yaw")}
        readings = replace(readings, **values)
    return readings
