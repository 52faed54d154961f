"""Wide tables: one row of the file holds several records, and the headers over them say what each of them is.

A pattern such as ``{visit} {repeat}`` is laid over a header such as ``as found 2``. What the header says that way
becomes columns of an ordinary table with one record per row; every cell keeps its place in the file.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from ..model.layout import WideTable
from .columns import SIDES
from .headers import Vocabulary, split_header
from .journal import Journal
from .numbers import MISSING
from .table import Table, check_lengths

__all__ = ["WORDS", "WidePatterns", "ordinary_table", "pattern_words"]

WORDS = {
    "visit": r".+?",
    "setup": r".+?",
    "station": r".+?",
    "column": r".+?",
    "position": r".+?",
    "target": r".+?",
    "side": "|".join(SIDES),
    "clock": r"[-+]?\d+(?:[.,]\d+)?",
    "repeat": r"\d+",
    "round": r"\d+",
}
"""Word of a pattern -> what stands for it in a header."""

ROUNDS = ("visit", "setup", "side", "round")
"""Words whose columns were read one after the other, each over all rows; all others were read at once in a row."""

_WORD = re.compile(r"\{ *([a-z]+) *\}")
_BLANKS = re.compile(r"[\s_]+")


def pattern_words(pattern: str) -> list[str]:
    """Words in braces of a pattern, in their order."""
    return _WORD.findall(pattern)


@dataclass(frozen=True, slots=True)
class _Pattern:
    """One pattern: the column whose values stand under it, what it matches, and its unit."""

    own: str
    match: re.Pattern[str]
    unit: str


@dataclass(frozen=True, slots=True)
class _Cell:
    """A column of values of a wide table: what its header says."""

    field: int
    own: str
    unit: str
    said: Mapping[str, str]


class WidePatterns:
    """The patterns of a wide table, and the vocabulary of the columns beside them."""

    def __init__(self, wide: WideTable, words: Vocabulary) -> None:
        self._words = words
        self.station = wide.station
        self._patterns = [_compiled(own, text) for own, texts in wide.cells.items() for text in texts]

    @property
    def names_stations(self) -> bool:
        """True where headers, and not rows, name the stations."""
        return all("station" in pattern.match.groupindex for pattern in self._patterns)

    def own_name(self, header: str) -> str:
        """Own name of a column beside the values; empty where it is none."""
        return self._words.own_names().get(split_header(header)[0], "")

    def stated_unit(self, own: str) -> str:
        """Unit that the layout states for a column of values, or empty."""
        return self._words.unit_in_mapping(own)

    def is_known(self, header: str) -> bool:
        """Tell whether ``header`` names a column of readings or stands over values."""
        return self._words.is_known(header) or self.said(header) is not None

    def said(self, header: str) -> tuple[str, str, dict[str, str]] | None:
        """Column of values, unit, and what a header says; None where it matches no pattern."""
        name, unit = _name_and_unit(header)
        if not name or self._words.is_known(header):
            return None
        for pattern in self._patterns:
            found = pattern.match.fullmatch(name)
            if found:
                return (
                    pattern.own,
                    unit or pattern.unit,
                    {word: part.strip() for word, part in found.groupdict().items()},
                )
        return None

    def is_ordinary(self, header: Sequence[str], values: Sequence[str]) -> bool:
        """Tell whether a header is that of a table with one record per row: it names ``values`` with their units."""
        own = self._words.own_names()
        for text in header:
            name, unit = split_header(text)
            if own.get(name) in values and (unit or self._words.unit_in_mapping(own[name])):
                return True
        return False


def _name_and_unit(text: str) -> tuple[str, str]:
    """Name in its own case, with single blanks, and unit of a header."""
    unit = split_header(text)[1]
    name = re.sub(r"\s*[\[(][^\[\]()]*[\])]\s*$", "", text) if unit else text
    return _BLANKS.sub(" ", name).strip(), unit


def _compiled(own: str, pattern: str) -> _Pattern:
    name, unit = _name_and_unit(pattern)
    parts, at = [], 0
    for found in _WORD.finditer(name):
        parts.append(_literal(name[at : found.start()]))
        word = found.group(1)
        degrees = r"\s*(?:deg|°)?" if word == "clock" else ""
        parts.append(f"(?P<{word}>{WORDS[word]}){degrees}")
        at = found.end()
    parts.append(_literal(name[at:]))
    return _Pattern(own, re.compile("".join(parts), re.IGNORECASE), unit)


def _literal(text: str) -> str:
    return r"\s*".join(re.escape(part) for part in text.split(" ")) if text.strip() or not text else r"\s*"


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
            texts = [_station(patterns.station, name, said), *(said.get(word, "") for word in words)]
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


def _station(pattern: str, row: str, said: Mapping[str, str]) -> str:
    """Name of a station as the pattern makes it from the name of the row and the header."""
    if "station" in said:
        return said["station"]
    if not row:
        return ""
    parts = {"row": row, "column": said.get("column", "")}
    return _WORD.sub(lambda found: parts.get(found.group(1), found.group()), pattern).strip()
