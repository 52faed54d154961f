"""Rows of the index: what the files of machines say, as plain numbers and words in SI units."""

from __future__ import annotations

from dataclasses import astuple, dataclass, fields

__all__ = ["ChangeRow", "MachineRows", "ProblemRow", "ResultRow", "TrendRow", "VisitRow", "cells_of", "columns_of"]


@dataclass(frozen=True, slots=True)
class VisitRow:
    """A visit and the fingerprints of all that its results follow from."""

    machine: str
    visit: str
    position: int
    date: str | None
    adjusted: int
    note: str
    layout_hash: str
    readings_hash: str
    inputs_hash: str


@dataclass(frozen=True, slots=True)
class ResultRow:
    """A component of a task at a visit; ``value * factor`` is in ``unit``."""

    machine: str
    visit: str
    task: str
    component: str
    quantity: str
    reference: str
    kind: str
    value: float | None
    standard_uncertainty: float | None
    expanded_uncertainty: float | None
    lower_limit: float | None
    upper_limit: float | None
    verdict: str | None
    probability: float | None
    unit: str
    factor: float


@dataclass(frozen=True, slots=True)
class ChangeRow:
    """Change of a component from one visit to the next."""

    machine: str
    task: str
    component: str
    before: str
    after: str
    change: float
    standard_uncertainty: float
    expanded_uncertainty: float
    proven: int
    worse: int
    sentence: str
    unit: str
    factor: float


@dataclass(frozen=True, slots=True)
class TrendRow:
    """Trend of a component, or of a station where one is named; per year."""

    machine: str
    task: str
    of: str
    station: str
    component: str
    first: str
    last: str
    visits: int
    slope: float
    standard_uncertainty: float
    expanded_uncertainty: float
    scatter: float | None
    proven: int
    outlook: str | None
    limit_value: float | None
    reached: str | None
    earliest: str | None
    latest: str | None
    unit: str
    factor: float


@dataclass(frozen=True, slots=True)
class ProblemRow:
    """What could not be worked out."""

    machine: str
    visit: str
    task: str
    message: str


@dataclass(frozen=True, slots=True)
class MachineRows:
    """All rows of one machine."""

    visits: tuple[VisitRow, ...]
    results: tuple[ResultRow, ...]
    changes: tuple[ChangeRow, ...]
    trends: tuple[TrendRow, ...]
    problems: tuple[ProblemRow, ...]


def columns_of(row: type) -> tuple[str, ...]:
    """Names of the columns of a kind of row."""
    return tuple(each.name for each in fields(row))


def cells_of(row: object) -> tuple[object, ...]:
    """Values of a row."""
    return astuple(row)  # type: ignore[call-overload, no-any-return]
