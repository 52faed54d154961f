"""Wide tables: one row of the file holds several records, and the headers over them say what each of them is.

A pattern such as ``{visit} {repeat}`` is laid over a header such as ``as found 2``. What the header says that way
becomes columns of an ordinary table with one record per row; every cell keeps its place in the file.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from .journal import Journal
from .numbers import MISSING
from .table import Table, check_lengths
from .wide_patterns import WORDS, WidePatterns

__all__ = ["ordinary_table"]

ROUNDS = ("visit", "setup", "side", "round")
"""Words whose columns were read one after the other, each over all rows; all others were read at once in a row."""


@dataclass(frozen=True, slots=True)
class _Cell:
    """A column of values of a wide table: what its header says."""

    field: int
    own: str
    unit: str
    said: Mapping[str, str]


def ordinary_table(table: Table, patterns: WidePatterns, journal: Journal) -> Table | None:
    """Table with one record per row that a wide ``table`` stands for; None where the journal says why not."""
    before = len(journal.problems)
    row_names = _row_names(table, patterns)
    cells = _cells(table, patterns, row_names)
    if not cells:
        found = ", ".join(repr(cell) for cell in table.header if cell)
        message = "no header matches a pattern that the layout states for a wide table"
        journal.problem(table.header_line, 0, message, f"found here: {found}; see readings, wide in the layout")
        return None
    fixed = _fixed(table, patterns, cells, journal)
    fixed.pop("station", None)
    units = _units(table, patterns, cells, journal)
    check_lengths(table, [row_names] if row_names >= 0 else [], journal)
    if len(journal.problems) > before:
        return None
    return _unfolded(table, patterns, cells, fixed, units, row_names, journal)


def _row_names(table: Table, patterns: WidePatterns) -> int:
    """Column that names the rows: that of the stations, else the first; -1 where headers name the stations."""
    own = [patterns.own_name(header) for header in table.header]
    if "station" in own:
        return own.index("station")
    return -1 if patterns.names_stations else 0


def _cells(table: Table, patterns: WidePatterns, row_names: int) -> list[_Cell]:
    cells = []
    for field, header in enumerate(table.header):
        said = patterns.said(header) if field != row_names else None
        if said is not None:
            cells.append(_Cell(field, *said))
    return cells


def _fixed(table: Table, patterns: WidePatterns, cells: Sequence[_Cell], journal: Journal) -> dict[str, int]:
    """Own name -> field of the columns that hold for a whole row."""
    said = {word for cell in cells for word in cell.said}
    fixed: dict[str, int] = {}
    for field, header in enumerate(table.header):
        own = patterns.own_name(header)
        if not own:
            continue
        if own in fixed:
            journal.problem(*table.header_place(field), f"a second column holds {own}", "keep one of them")
        elif own in said:
            message = f"{own} stands in a column of its own, and in the headers over the values"
            journal.problem(*table.header_place(field), message, "one of them is enough")
        fixed[own] = field
    return fixed


def _units(table: Table, patterns: WidePatterns, cells: Sequence[_Cell], journal: Journal) -> dict[str, str]:
    """Own name -> the unit of all its cells."""
    units: dict[str, str] = {}
    for cell in cells:
        if not cell.unit and not patterns.stated_unit(cell.own) and cell.own not in units:
            message = f"the column {table.header[cell.field]!r} has no unit"
            example = f"readings: {{columns: {{{cell.own}: {{unit: um}}}}}}"
            advice = f"write it in the header, or state it in the layout, {example}"
            journal.problem(*table.header_place(cell.field), message, advice)
        if units.setdefault(cell.own, cell.unit) != cell.unit:
            first = next(each for each in cells if each.own == cell.own)
            message = f"{table.header[cell.field]!r} has another unit than {table.header[first.field]!r}"
            journal.problem(*table.header_place(cell.field), message, f"give all columns of {cell.own} the same unit")
    return units


def _unfolded(
    table: Table,
    patterns: WidePatterns,
    cells: Sequence[_Cell],
    fixed: Mapping[str, int],
    units: Mapping[str, str],
    row_names: int,
    journal: Journal,
) -> Table:
    words = [word for word in WORDS if word not in ("station", "column", "repeat", "round")]
    words = [word for word in words if any(word in cell.said for cell in cells)]
    header = ["station", *words, *fixed, *(f"{own} [{unit}]" if unit else own for own, unit in units.items())]
    header = [f"{name} [deg]" if name == "clock" and "clock" in words else name for name in header]
    header = [table.header[fixed[name]] if name in fixed else name for name in header]
    first = {cell.own: cell.field for cell in reversed(cells)}
    header_fields = (cells[0].field, *[cells[0].field] * len(words), *fixed.values(), *(first[own] for own in units))
    found = []
    for number, group in enumerate(_groups(cells)):
        said = group[0].said
        outer, empty = tuple(said.get(word, "") for word in ROUNDS), []
        for k, row in enumerate(table.rows):
            values = {cell.own: cell.field for cell in group if row[cell.field].strip().lower() not in MISSING}
            name = row[row_names] if row_names >= 0 else ""
            if not values:
                empty.append(k)
                continue
            at = next(iter(values.values()))
            texts = [patterns.station_of(name, said), *(said.get(word, "") for word in words)]
            texts += [row[field] for field in fixed.values()]
            texts += [row[values[own]] if own in values else "" for own in units]
            places = (row_names if row_names >= 0 else at, *[at] * len(words), *fixed.values())
            places += tuple(values.get(own, first[own]) for own in units)
            found.append(((outer, k, number), tuple(texts), table.lines[k], places))
        if empty and table.rows[1:]:
            names = table.header[group[0].field]
            journal.remark(table.header_line, f"{len(empty)} of {len(table.rows)} rows have nothing under {names!r}")
    order = {outer: place for place, outer in enumerate(dict.fromkeys(key[0] for key, *_ in found))}
    found.sort(key=lambda each: (order[each[0][0]], *each[0][1:]))
    return Table(
        table.delimiter,
        tuple(header),
        table.header_line,
        tuple(texts for _, texts, _, _ in found),
        tuple(line for _, _, line, _ in found),
        tuple(len(header) for _ in found),
        header_fields,
        tuple(places for *_, places in found),
        table.header,
    )


def _groups(cells: Sequence[_Cell]) -> list[list[_Cell]]:
    """Columns of values that belong to one record: their headers say the same, and each is of another channel."""
    groups: dict[tuple[tuple[tuple[str, str], ...], int], list[_Cell]] = {}
    count: dict[tuple[tuple[tuple[str, str], ...], str], int] = {}
    for cell in cells:
        key = tuple(sorted(cell.said.items()))
        number = count.get((key, cell.own), 0)
        count[key, cell.own] = number + 1
        groups.setdefault((key, number), []).append(cell)
    return list(groups.values())
