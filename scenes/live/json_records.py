"""Records as JSON objects, one per line: the columns of a readings file, numbers with their unit."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping

from ..hints import did_you_mean
from ..readings.columns import READING_COLUMNS
from ..readings.headers import plain_name
from ..readings.journal import Journal
from ..readings.table import Table, Typed

__all__ = ["IDENTITY", "table_of_record"]

IDENTITY = "id"
"""Key by which a sender names a record, so that it may send it again without its counting twice."""

LONGEST_TEXT = 2_000


def table_of_record(
    record: str | bytes | Mapping[str, object], line: int, journal: Journal
) -> tuple[Table, str] | None:
    """Table of one row that a record stands for and its ``id``, or None where the journal says what is wrong."""
    data = _parsed(record, line, journal)
    if data is None:
        return None
    identity = data.get(IDENTITY, "")
    header, cells = [], []
    for key, value in data.items():
        name = plain_name(key)
        if name == IDENTITY:
            continue
        if name not in READING_COLUMNS:
            journal.problem(line, 0, f"a record has no {key!r}", did_you_mean(name, [*READING_COLUMNS, IDENTITY], 20))
            continue
        cell = _cell(name, value, line, journal)
        if cell is not None:
            header.append(cell[0])
            cells.append(cell[1])
    if journal.problems:
        return None
    if "station" not in header:
        journal.problem(line, 0, "the record names no station", 'for example {"station": "A1", ...}')
        return None
    nowhere = (-1,) * len(header)  # a record has no columns that a message could count
    table = Table(",", tuple(header), line, (tuple(cells),), (line,), (len(cells),), nowhere, (nowhere,))
    return table, str(identity)


def _parsed(record: str | bytes | Mapping[str, object], line: int, journal: Journal) -> Mapping[str, object] | None:
    if isinstance(record, Mapping):
        return record
    try:
        data = json.loads(record, object_pairs_hook=_once, parse_constant=_no_number)
    except RecursionError:
        journal.problem(line, 0, "the record is nested too deeply")
        return None
    except ValueError as error:
        journal.problem(line, 0, f"this is no record in JSON: {error}", EXAMPLE)
        return None
    if not isinstance(data, dict):
        journal.problem(line, 0, "a record is a JSON object", EXAMPLE)
        return None
    return data


EXAMPLE = 'for example {"station": "A1", "v": {"value": 12.3, "unit": "um"}}'


def _once(pairs: list[tuple[str, object]]) -> dict[str, object]:
    found = dict(pairs)
    if len(found) != len(pairs):
        raise ValueError("a key stands twice")
    return found


def _no_number(text: str) -> float:
    raise ValueError(f"{text} is no number; leave the key out where nothing was read")


def _cell(name: str, value: object, line: int, journal: Journal) -> tuple[str, str] | None:
    """Header and cell for a value; None where it is null, or where the journal says what is wrong."""
    if value is None:
        return None
    kind = READING_COLUMNS[name]
    if isinstance(value, str) and kind in ("text", "time"):
        text = " ".join(value.split()) if name != "note" else value
        if len(text) > LONGEST_TEXT:
            journal.problem(line, 0, f"{name} is longer than {LONGEST_TEXT} characters")
            return None
        return name, "".join(letter if letter.isprintable() or letter in "\n\t" else " " for letter in text).strip()
    if isinstance(value, Mapping) and kind != "text" and set(value) == {"value", "unit"}:
        number, unit = value["value"], value["unit"]
        if number is None:
            return None
        plain = isinstance(number, (int, float)) and not isinstance(number, bool) and math.isfinite(number)
        if plain and isinstance(unit, str) and unit:
            return f"{name} [{unit}]", Typed(number)
    wanted = 'a number with its unit, {"value": 12.3, "unit": "um"}' if kind != "text" else "a text"
    if kind == "time":
        wanted = 'a time such as "08:15:30" or "2026-03-01T08:15:30", or a count, {"value": 60, "unit": "s"}'
    journal.problem(line, 0, f"{name}: {wanted} is expected, not {json.dumps(value, default=str)[:60]}")
    return None
