"""Headers of a table: which column holds what, and in which unit."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from difflib import SequenceMatcher

from ..hints import did_you_mean, near_names
from ..units import KINDS, UnitError, factor_to_si
from .journal import Journal
from .table import Table

__all__ = ["Column", "Vocabulary", "check_mapping", "matched_columns", "plain_name", "split_header"]

_WITH_UNIT = re.compile(r"(?P<name>.*?)\s*[\[(](?P<unit>[^\[\]()]*)[\])]")
_EXAMPLES = {"h": "um", "v": "um", "z": "um", "pitch": "arcsec", "yaw": "arcsec", "clock": "deg"}
_CLOSE = 0.75  # share of common letters from which an unknown header is taken for a slip of the pen


@dataclass(frozen=True, slots=True)
class Vocabulary:
    """The columns of one kind of table.

    Attributes
    ----------
    kinds : mapping
        Own name -> ``text``, ``time``, or a key of ``units.KINDS`` for a column of numbers.
    other_names : mapping
        Further plain names -> own name.
    unused : collection of str
        Names that are known and not used; they are remarked on, never taken for a slip of the pen.
    mapping : mapping
        Own name -> header in the file, as the layout states it.
    """

    kinds: Mapping[str, str]
    other_names: Mapping[str, str]
    unused: Collection[str]
    mapping: Mapping[str, str]

    def own_names(self) -> dict[str, str]:
        """Plain name of a header -> own name; what the layout maps goes before the names built in."""
        own = {name: name for name in self.kinds} | dict(self.other_names)
        mapped = {split_header(header)[0]: plain_name(name) for name, header in self.mapping.items()}
        return own | {header: name for header, name in mapped.items() if name in self.kinds}

    def unit_in_mapping(self, name: str) -> str:
        """Unit that the layout states for the own column ``name``, or empty."""
        return next((split_header(header)[1] for own, header in self.mapping.items() if plain_name(own) == name), "")

    def is_known(self, header: str) -> bool:
        """Tell whether ``header`` names one of these columns."""
        return split_header(header)[0] in self.own_names()


@dataclass(frozen=True, slots=True)
class Column:
    """Where a column stands (``field`` counts from 0), its header, its kind, and its unit with the factor to SI."""

    field: int
    header: str
    kind: str
    unit: str = ""
    factor: float = 1.0


def plain_name(text: str) -> str:
    """Name without regard to case, underscores and doubled blanks."""
    return " ".join(text.replace("_", " ").casefold().split())


def split_header(header: str) -> tuple[str, str]:
    """Plain name and unit of a header: ``Height [um]`` gives ``("height", "um")``; the unit may be empty."""
    found = _WITH_UNIT.fullmatch(header.strip())
    if found is None:
        return plain_name(header), ""
    return plain_name(found["name"]), found["unit"].strip()


def matched_columns(table: Table, words: Vocabulary, journal: Journal) -> dict[str, Column]:
    """Own name -> column, without those that have a problem.

    The journal gets slips of the pen, doubled columns, missing or wrong units, and columns that are not used.
    """
    own_names = words.own_names()
    names = [split_header(header)[0] for header in table.header]
    absent = set(words.kinds) - {own_names[name] for name in names if name in own_names}
    found: dict[str, Column] = {}
    first: dict[str, int] = {}
    for field, (name, header) in enumerate(zip(names, table.header, strict=True)):
        own = own_names.get(name)
        if own is None:
            _stranger(table, field, words, absent, journal)
        elif own in first:
            twin = f"{table.header[first[own]]!r} ({_place(table, first[own], journal)})"
            message = f"two columns hold {own}: {twin} and {header!r}"
            journal.problem(*table.header_place(field), message, "keep one of them")
        else:
            first[own] = field
            column = _column(table, field, own, words, journal)
            if column is not None:
                found[own] = column
    return found


def _stranger(table: Table, field: int, words: Vocabulary, absent: set[str], journal: Journal) -> None:
    header = table.header[field]
    name = split_header(header)[0]
    if not header:
        if any(table.column(field)):
            journal.remark(table.header_line, f"{_place(table, field, journal)} has no header and is not used")
        return
    near = [] if name in words.unused else _near(name, absent)
    if near:
        journal.problem(
            *table.header_place(field),
            f"the header {header!r} is not known",
            f"did you mean {' or '.join(near)}? Otherwise give the column a name that is less alike",
        )
    else:
        journal.remark(table.header_line, f"the column {header!r} is not used")


def _place(table: Table, field: int, journal: Journal) -> str:
    """Where a column stands, in words: its number, or the cell of its header."""
    line, column = table.header_place(field)
    return journal.place(line, column) if journal.sheet else f"column {column}"


def _near(name: str, absent: set[str]) -> list[str]:
    """Columns, not yet seen, that ``name`` may be meant for: alike in letters, or one of several words."""
    alike = [word for word in near_names(name, absent) if _share(name, word) >= _CLOSE]
    return alike or sorted(word for word in absent if " " in word and name in word.split() and len(name) > 1)


def _share(a: str, b: str) -> float:
    return SequenceMatcher(None, b, a).ratio()


def _column(table: Table, field: int, own: str, words: Vocabulary, journal: Journal) -> Column | None:
    header, kind = table.header[field], words.kinds[own]
    unit, stated = split_header(header)[1], words.unit_in_mapping(own)
    place = table.header_place(field)
    if kind == "text":
        return Column(field, header, kind)
    if unit and stated and not _same_unit(unit, stated, kind):
        journal.problem(*place, f"the header says {header!r}, the layout says that {own} is in {stated}", "correct one")
        return None
    unit = unit or stated
    if not unit and kind == "time":
        return Column(field, header, kind)
    if not unit:
        example = _EXAMPLES.get(own.split()[0], "mm")
        journal.problem(*place, f"the column {header!r} has no unit", f"write the header as {own} [{example}]")
        return None
    try:
        return Column(field, header, kind, unit, _factor(unit, kind))
    except UnitError as error:
        journal.problem(*place, f"in the header {header!r}: {error}", error.advice)
        return None


def _factor(unit: str, kind: str) -> float:
    factor, offset = factor_to_si(unit, kind)
    if offset or (kind == "length" and not factor <= 1.0):
        raise UnitError(
            f"{unit!r} is no unit for a table of readings", f"units of {kind}: {', '.join(KINDS[kind].usual)}"
        )
    return factor


def _same_unit(a: str, b: str, kind: str) -> bool:
    try:
        return _factor(a, kind) == _factor(b, kind)
    except UnitError:
        return a == b


def check_mapping(words: Vocabulary, journal: Journal) -> None:
    """Note every entry of the mapping that names no own column, or a header that another entry names as well."""
    seen: dict[str, str] = {}
    for name, header in words.mapping.items():
        if plain_name(name) not in words.kinds:
            journal.problem(0, 0, f"readings, columns: {name!r} is no column", did_you_mean(name, words.kinds, most=12))
        plain = split_header(header)[0]
        if plain in seen:
            journal.problem(0, 0, f"readings, columns: {seen[plain]} and {name} are both read from {header!r}")
        seen[plain] = name
