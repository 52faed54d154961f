"""Where the headers of a table stand, below titles and in one row or two."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Sequence
from dataclasses import dataclass

__all__ = ["HEADER_WITHIN", "Expected", "Headers", "headers_in"]

HEADER_WITHIN = 30
"""Rows among which the row of headers is looked for; above it may stand titles."""
MOST_OF_WIDTH = 0.7
"""Share of the cells of the fullest row, names of rows left out, from which a row may be that of headers."""


@dataclass(frozen=True, slots=True)
class Expected:
    """What is known of a table before it is read.

    Attributes
    ----------
    is_known : callable
        Tells whether a text is one of the headers looked for.
    headers : tuple of str
        Headers of a table that has none.
    delimiter : str
        A key of ``DELIMITERS``; empty: the one that brings most headers to light.
    row_names, is_value : callable
        For a wide table, in which many texts may be headers: tell whether a text stands over the names of the rows, and
        whether it stands over values.
    """

    is_known: Callable[[str], bool]
    headers: tuple[str, ...] = ()
    delimiter: str = ""
    row_names: Callable[[str], bool] | None = None
    is_value: Callable[[str], bool] = bool


@dataclass(frozen=True, slots=True)
class Headers:
    """Where the headers of a table stand: their first row, how many rows they take, and what they say."""

    at: int
    rows: int
    cells: tuple[str, ...]


def headers_in(rows: Sequence[Sequence[str]], expected: Expected) -> Headers | None:
    """Headers of a table: the first row with two known ones, or in a wide table the first full row.

    In a wide table they may take two rows, of which the upper one holds for the cells below it and to their right,
    as in a spreadsheet whose upper headers are merged cells.
    """
    some = rows[:HEADER_WITHIN]
    if expected.row_names is None:
        at = next((k for k, cells in enumerate(some) if sum(map(expected.is_known, cells)) > 1), None)
        return None if at is None else Headers(at, 1, tuple(some[at]))
    ways = [(1, some), (2, [_joined(upper, lower) for upper, lower in itertools.pairwise(some)])]
    for count, candidates in ways:
        for k, cells in enumerate(candidates):
            if any(map(expected.row_names, cells)) and any(map(expected.is_value, cells)):
                return Headers(k, count, tuple(cells))
    for k, cells in enumerate(some):
        if any(map(expected.row_names, cells)) and sum(map(bool, cells)) > 1:
            return Headers(k, 1, tuple(cells))
    # No header names the rows: their names stand in the first column, over which there may be nothing.
    enough = max(1.0, MOST_OF_WIDTH * max((sum(map(bool, cells[1:])) for cells in some), default=0))
    for count, candidates in ways:
        for k, cells in enumerate(candidates):
            if sum(map(bool, cells[1:])) >= enough and any(map(expected.is_value, cells[1:])):
                return Headers(k, count, tuple(cells))
    return None


def _joined(upper: Sequence[str], lower: Sequence[str]) -> list[str]:
    """Two rows of headers as one: an upper header goes on to the right until the next one."""
    found, last = [], ""
    for above, below in itertools.zip_longest(upper, lower, fillvalue=""):
        last = above or last
        found.append(f"{last} {below}".strip() if below or above else "")
    return found
