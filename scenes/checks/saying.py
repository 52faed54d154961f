"""Findings about readings: of one station, or of the whole set-up where several stations share a cause."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from ..hints import listed
from ..model.finding import Finding, Severity
from ..model.survey import Setup
from ..vectors import Flags, Indices
from .plan import Plan

__all__ = ["counted", "names_of", "row_finding", "rows_finding", "rows_of_setups", "setup_finding", "station_name"]

NAMED = 4
"""Stations that a message names before it only counts them."""


def station_name(plan: Plan, row: int) -> str:
    """Station of a row."""
    rows = plan.geometry.rows
    name: str = rows.stations[rows.station[row]]
    return name


def names_of(plan: Plan, chosen: Sequence[int] | Indices) -> tuple[str, ...]:
    """Different stations of some rows, in their order."""
    return tuple(dict.fromkeys(station_name(plan, int(row)) for row in chosen))


def counted(names: Sequence[str]) -> str:
    """Stations in words: ``A1``, ``A1 and A2``, ``A1, A2, A3 and 4 more``."""
    if len(names) <= NAMED and len(names) > 1:
        return f"{', '.join(names[:-1])} and {names[-1]}"
    return listed(names, NAMED - 1) if len(names) > NAMED else listed(names, NAMED)


def rows_of_setups(plan: Plan, bad: Flags) -> Iterator[tuple[Setup, Indices]]:
    """Set-ups with rows where ``bad`` (m,) holds, and those rows: one per station, since re-readings tell no more."""
    rows = plan.geometry.rows
    for number, name in enumerate(rows.setups):
        mine = np.nonzero(bad & (rows.setup == number))[0]
        if len(mine):
            first = np.unique(rows.station[mine], return_index=True)[1]
            yield plan.layout.setups[name], mine[np.sort(first)]


def setup_finding(setup: Setup, severity: Severity, code: str, message: str, advice: str) -> Finding:
    """A finding about a whole set-up."""
    return Finding(severity, code, "set-up", setup.name, message, advice, setup=setup.name, line=setup.line)


def row_finding(plan: Plan, row: int, severity: Severity, code: str, message: str, advice: str) -> Finding:
    """A finding about the station of one row."""
    rows, name = plan.geometry.rows, station_name(plan, row)
    return Finding(
        severity, code, "station", name, message, advice,
        setup=rows.setups[rows.setup[row]], line=plan.layout.stations[name].line,
    )  # fmt: skip


def rows_finding(plan: Plan, chosen: Indices, severity: Severity, code: str, message: str, advice: str) -> Finding:
    """A finding about the stations of some rows of one set-up: about the set-up where there are several."""
    if len(names_of(plan, chosen)) == 1:
        return row_finding(plan, int(chosen[0]), severity, code, message, advice)
    rows = plan.geometry.rows
    setup = plan.layout.setups[rows.setups[rows.setup[int(chosen[0])]]]
    return setup_finding(setup, severity, code, message, advice)
