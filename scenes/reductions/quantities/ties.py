"""Which set-ups hang together by common stations, and why readings leave a quantity open, in words."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator

import numpy as np

from ...hints import listed
from ...model.survey import Method
from ...vectors import Floats
from .evidence import Evidence

__all__ = ["everything", "first_reached", "open_shapes", "tied_groups", "usable", "why_open"]

MATTERS = 0.3
"""Unknowns of set-ups are named where they have at least this share of the largest in what is open."""


def _stations_of(evidence: Evidence) -> dict[str, frozenset[str]]:
    rows = evidence.network.geometry.rows
    read = np.unique(np.stack([rows.setup, rows.station], axis=1), axis=0).tolist()
    return {
        name: frozenset(rows.stations[j] for i, j in read if i == number) for number, name in enumerate(rows.setups)
    }


def tied_groups(setups: dict[str, frozenset[str]]) -> list[tuple[str, ...]]:
    """Set-ups that hang together because they read common stations, in the order of their first one."""
    groups: list[tuple[set[str], set[str]]] = []
    for name, stations in setups.items():
        mine, reach = {name}, set(stations)
        apart = []
        for names, read in groups:
            if read & reach:
                mine, reach = names | mine, read | reach
            else:
                apart.append((names, read))
        groups = [*apart, (mine, reach)]
    order = list(setups)
    return sorted((tuple(sorted(names, key=order.index)) for names, _ in groups), key=lambda each: order.index(each[0]))


def _named(setups: Iterable[str], stations: dict[str, frozenset[str]]) -> frozenset[str]:
    chosen = tuple(setups)
    return frozenset(chosen).union(*(stations[name] for name in chosen))


def everything(evidence: Evidence) -> frozenset[str]:
    """All stations and set-ups of the network."""
    return frozenset((*evidence.stations, *evidence.network.geometry.rows.setups))


def usable(evidence: Evidence) -> Iterator[tuple[frozenset[str], frozenset[str]]]:
    """Choices of what measured feature and datum are taken from, the widest first.

    All of the network; what hangs together; and for the datum what a single set-up of these reads, where heights read
    from another one are not tied to it.
    """
    stations = _stations_of(evidence)
    whole = everything(evidence)
    yield whole, whole
    groups = tied_groups(stations)
    for group in groups:
        if len(groups) > 1:
            tied = _named(group, stations)
            yield tied, tied
    for group in groups:
        for name in group:
            if len(stations) > 1:
                alone = _named((name,), stations)
                yield _named(group, stations), alone
    for name in stations:
        alone = _named((name,), stations)
        yield alone, alone


def first_reached(
    evidence: Evidence, told: Callable[[frozenset[str], frozenset[str]], Floats | None], reason: str, against: str
) -> tuple[Floats, bool] | str:
    """The first functional that the readings reach, over the choices of `usable`; else why there is none, in words.

    With it comes whether it leaves out stations that are read, since they are not tied to the others.

    Parameters
    ----------
    told : callable
        Functional (p,) or (k, p) for what measured feature and datum are taken from, or None where these tell nothing.
    reason : str
        Why there is none where ``told`` never gives any.
    against : str
        What the quantity counts against, in words.
    """
    opened: Floats | None = None
    for measured, datum in usable(evidence):
        found = told(measured, datum)
        if found is None:
            continue
        if evidence.network.reaches(found):
            return found, len(measured & datum) < len(everything(evidence))
        opened = found if opened is None else opened
    return reason if opened is None else why_open(evidence, opened, against)


SHARED = 1e-3
"""Parts of what stays open that are below this share of the largest are traces, such as those of glass."""


def open_shapes(evidence: Evidence, functionals: Floats) -> Floats:
    """Orthonormal shapes ``(k, r)`` of numbers ``functionals`` (k, p) that no reading tells."""
    parts = (functionals * evidence.network.scale) @ evidence.network.open_directions
    left, size, _ = np.linalg.svd(parts, full_matrices=False)
    if size.max(initial=0.0) <= SHARED * float(np.abs(functionals * evidence.network.scale).max(initial=0.0)):
        return left[:, :0]
    found: Floats = left[:, size > SHARED * size[0]]
    return found


def why_open(evidence: Evidence, functional: Floats, against: str) -> str:
    """Why readings do not determine a functional (p,), or the worst of several (k, p), and what would help."""
    rows = np.atleast_2d(functional)
    parts = np.array([evidence.network.left_open(row) for row in rows])
    part = parts[int(np.argmax(np.linalg.norm(parts, axis=1)))]
    setups = set(evidence.network.geometry.rows.setups)
    found = [
        (abs(float(size)), field, key)
        for size, (field, key) in zip(part, evidence.network.named(), strict=True)
        if key[0] in setups and not field.startswith(("deviation", "nod", "swing"))
    ]
    largest = max((size for size, _, _ in found), default=0.0)
    if largest <= 1e-9:
        return "no reading tells it; read the missing stations or channels"
    named = [(field, key[0]) for size, field, key in found if size >= MATTERS * largest]
    fields = {field for field, _ in named}
    names = tuple(dict.fromkeys(name for _, name in named))
    return _words(evidence, fields, names, against)


def _words(evidence: Evidence, fields: set[str], names: tuple[str, ...], against: str) -> str:
    where = f"set-up{'s' * (len(names) > 1)} {listed(names)}"
    if "prism_turn" in fields:
        return (
            f"the turn of the prism about the beam is not known ({where}): read the other direction with a second "
            "set-up, or ask for the in-plane channel"
        )
    if "prism_x" in fields:
        return (
            f"the place of the prism along the beam is not known ({where}), so that nothing tells how the lines of "
            "different stops lie to each other along it: read both from one stop"
        )
    if fields & {"cone", "cone_side", "offset_y", "offset_z"}:
        return (
            f"the emitter's own error is not told apart from the axis that it turns in ({where}): read at three clock "
            "positions or more, at two places along the beam"
        )
    method = evidence.layout.setups[names[0]].method
    plane = method in (Method.BASE_PLANE, Method.PRISM_PLANE)
    if len(names) > 1:
        ties = "three stations off one line" if plane else "two stations"
        return f"nothing ties the {where} to each other: read {ties} from both"
    light = "plane" if plane else "line"
    if against == GRAVITY:
        how = "level its base by a vial" if method is Method.BASE_PLANE else "read them from a base levelled by a vial"
        return f"nothing ties the {light} of {where} to gravity: {how}"
    return f"nothing tells how the {light} of {where} lies to {against}: read stations of it from there too"


GRAVITY = "gravity"
