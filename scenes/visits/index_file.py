"""The file of an index: tables of SQLite, read whole and written whole.

It is never written in place: a new file takes the place of the old one, so that who reads it sees a whole one.
"""

from __future__ import annotations

import secrets
import sqlite3
from collections.abc import Sequence
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from ..errors import InputError, Problem
from .rows import ChangeRow, MachineRows, ProblemRow, ResultRow, TrendRow, VisitRow, cells_of, columns_of

__all__ = ["INDEX", "SCHEMA", "Indexed", "check_place", "read_index", "write_index"]

INDEX = "datumray.sqlite"
"""Name of the index inside its root; version control should ignore it."""

SCHEMA = 1
"""Version of the tables; an index of another version is built anew."""

OURS = 0x64726179
"""Application number in the header of the file."""

TABLES: dict[str, type] = {
    "visit": VisitRow, "result": ResultRow, "change": ChangeRow, "trend": TrendRow, "problem": ProblemRow,
}  # fmt: skip
_TYPES = {"str": "TEXT", "int": "INTEGER", "float": "REAL"}


@dataclass(frozen=True, slots=True)
class Indexed:
    """What an index holds, and what happened while it was built.

    Attributes
    ----------
    machines : mapping of name to MachineRows
        In the order of their names.
    computed : int
        Visits whose results were worked out anew.
    remarks : tuple of str
    """

    machines: dict[str, MachineRows]
    computed: int = 0
    remarks: tuple[str, ...] = ()


class _Unusable(Exception):
    """The index cannot be read; the text says why."""


def check_place(file: Path) -> None:
    """Raise where ``file`` is something that must not be written over.

    Raises
    ------
    InputError
    """
    if not file.exists():
        return
    if not file.is_file():
        raise InputError([Problem(str(file), 0, 0, "an index is a file", "name another one with --index")])
    with file.open("rb") as stream:
        head = stream.read(100)
    if head[:16] == b"SQLite format 3\0":
        number = int.from_bytes(head[68:72], "big")
        if len(head) == 100 and number != OURS:
            raise InputError([Problem(str(file), 0, 0, "it is a database of something else", "it was left as it is")])
    elif head and file.suffix != ".sqlite":
        raise InputError([Problem(str(file), 0, 0, "it is no index and was left as it is", "call an index x.sqlite")])


def read_index(file: Path) -> Indexed:
    """All rows of an index.

    Raises
    ------
    InputError
        Where it is damaged, of another version, or missing.
    """
    if not file.is_file():
        raise InputError([Problem(str(file), 0, 0, "there is no such index", "datumray history builds it")])
    try:
        return Indexed(_read(file))
    except _Unusable as error:
        raise InputError([Problem(str(file), 0, 0, f"the index {file.name} {error}")]) from None
    except (sqlite3.Error, TypeError, ValueError, OverflowError):
        raise InputError([Problem(str(file), 0, 0, f"the index {file.name} is damaged")]) from None


def _read(file: Path) -> dict[str, MachineRows]:
    address = f"{file.resolve().as_uri()}?mode=ro"
    with closing(sqlite3.connect(address, uri=True)) as base:
        if base.execute("PRAGMA quick_check").fetchone() != ("ok",):
            raise sqlite3.DatabaseError("damaged")
        found = base.execute("PRAGMA user_version").fetchone()[0]
        if found != SCHEMA:
            raise _Unusable(f"is of version {found}, not {SCHEMA}")
        names = [name for (name,) in base.execute("SELECT name FROM machine ORDER BY name")]
        tables = {
            table: [row(*cells) for cells in base.execute(
                f"SELECT {', '.join(_quoted(row))} FROM {_quote(table)} ORDER BY rowid"
            )]
            for table, row in TABLES.items()
        }  # fmt: skip
    parts = {name: {table: [] for table in TABLES} for name in names}  # type: dict[str, dict[str, list[object]]]
    for table, rows in tables.items():
        for each in rows:
            parts[each.machine][table].append(each)
    return {
        name: MachineRows(*(tuple(part[table]) for table in TABLES))  # type: ignore[arg-type]
        for name, part in parts.items()
    }


def _quote(name: str) -> str:
    return f'"{name}"'


def _quoted(row: type) -> list[str]:
    return [_quote(name) for name in columns_of(row)]


def _declared(row: type) -> str:
    """Columns of a table, typed."""
    hints = row.__annotations__
    kinds = ((name, str(hints[name]).partition(" ")[0]) for name in columns_of(row))
    return ", ".join(f"{_quote(name)} {_TYPES[kind]}" for name, kind in kinds)


def write_index(file: Path, machines: dict[str, MachineRows]) -> None:
    """Write all rows to a new file and put it in the place of ``file``.

    Raises
    ------
    InputError
        Where that cannot be done; what stood there before is kept.
    """
    beside = file.with_name(f".{file.name}.{secrets.token_hex(4)}")
    try:
        with closing(sqlite3.connect(beside)) as base:
            base.execute("PRAGMA journal_mode = OFF")
            base.execute(f"PRAGMA application_id = {OURS}")
            base.execute(f"PRAGMA user_version = {SCHEMA}")
            base.execute("CREATE TABLE machine (name TEXT PRIMARY KEY)")
            base.executemany("INSERT INTO machine VALUES (?)", [(name,) for name in machines])
            for number, (table, row) in enumerate(TABLES.items()):
                base.execute(f"CREATE TABLE {_quote(table)} ({_declared(row)})")
                places = ", ".join("?" * len(columns_of(row)))
                rows = [cells_of(each) for part in machines.values() for each in _part(part, number)]
                base.executemany(f"INSERT INTO {_quote(table)} VALUES ({places})", rows)
                base.execute(f"CREATE INDEX {_quote(f'{table}_of_machine')} ON {_quote(table)} (machine)")
            base.commit()
        beside.replace(file)
    except (OSError, sqlite3.OperationalError) as error:
        raise InputError(
            [Problem(str(file), 0, 0, f"it cannot be written: {error}", "choose a place by --index")]
        ) from None
    finally:
        beside.unlink(missing_ok=True)


def _part(rows: MachineRows, number: int) -> Sequence[object]:
    return (rows.visits, rows.results, rows.changes, rows.trends, rows.problems)[number]
