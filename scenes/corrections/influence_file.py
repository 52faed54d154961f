"""A measured influence in a CSV file: one row per station, one column per foot, and how it is read and written."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from ..errors import ReadingsError
from ..hints import did_you_mean, listed
from ..model.survey import Feet
from ..readings.header_rows import Expected
from ..readings.headers import plain_name, split_header
from ..readings.journal import Journal
from ..readings.sources import table_of
from ..readings.table import Table
from ..readings.text_file import bytes_of, source_name
from ..units import UnitError, factor_to_si, parse_number
from ..vectors import Floats
from .influence import Influence, measured_influence

__all__ = ["influence_text", "read_influence", "read_influence_text"]

STATION = "station"
LOAD_ROW, CHANGE_ROW = "load", "load change"
"""Names in the column ``station`` of the rows that tell loads [kN] and their change [kN/mm] in place of a station."""

LARGEST = 10.0
"""No station rises ten times as much as the foot that lifts it; more is a wrong unit."""

KILONEWTON, PER_MM = 1e3, 1e6


def read_influence(path: str | Path, feet: Feet, stations: tuple[str, ...]) -> Influence:
    """Influence in the file ``path``, rows in the order of ``stations``, columns in that of the feet.

    The header reads ``station, F1 [um/mm], F2 [um/mm], ...`` (or mm/mm); + = the station rises when the foot is
    raised. Rows named ``load`` [kN] and ``load change F1`` [kN/mm], one per foot, may tell the loads.

    Raises
    ------
    ReadingsError
        With every problem of the file.
    """
    journal = Journal(source_name(path))
    return _influence(bytes_of(path, journal), feet, stations, journal)


def read_influence_text(text: str, feet: Feet, stations: tuple[str, ...], file: str = "influence") -> Influence:
    """The same from text; ``file`` is what messages call it."""
    return _influence(text.encode("utf-8"), feet, stations, Journal(file))


def _influence(data: bytes | None, feet: Feet, stations: tuple[str, ...], journal: Journal) -> Influence:
    table = None
    if data is not None:
        table, journal = table_of(data, Expected(lambda header: split_header(header)[0] == STATION), journal)
    if table is None or journal.problems:
        raise ReadingsError(journal.sorted_problems())
    columns = _columns(table, feet, journal)
    if journal.problems:
        raise ReadingsError(journal.sorted_problems())
    rows = _rows(table, columns, feet, journal)
    missing = [name for name in stations if name not in rows]
    if missing:
        advice = "read them while each foot is lifted, or leave them out of the task"
        journal.problem(0, 0, f"the influence has no row for {listed(missing)}", advice)
    if journal.problems:
        raise ReadingsError(journal.sorted_problems())
    matrix = np.array([rows[name] for name in stations])
    _require_signs(matrix, feet, table, journal)
    change = [rows.get(f"{CHANGE_ROW} {name}") for name in feet.names]
    known = LOAD_ROW in rows and all(row is not None for row in change)
    return measured_influence(
        matrix,
        own_loads=rows[LOAD_ROW] * KILONEWTON if known else None,
        load_change=np.array(change, dtype=np.float64).T * PER_MM if known else None,
    )


def _columns(table: Table, feet: Feet, journal: Journal) -> dict[str, tuple[int, float]]:
    """Field and factor to metre per metre of ``station`` and of each foot."""
    wanted = {plain_name(name): name for name in feet.names}
    found: dict[str, tuple[int, float]] = {}
    for field, header in enumerate(table.header):
        plain, unit = split_header(header)
        place = table.header_place(field)
        if plain == STATION:
            found[STATION] = (field, 1.0)
        elif plain not in wanted:
            advice = did_you_mean(header, feet.names)
            journal.problem(*place, f"the feet of {feet.surface} have no {header!r}", advice)
        elif wanted[plain] in found:
            journal.problem(*place, f"two columns hold {wanted[plain]}", "keep one of them")
        else:
            found[wanted[plain]] = (field, _factor(unit, header, place, journal))
    if STATION not in found:
        journal.problem(table.header_line, 0, "there is no column station")
    for name in feet.names:
        if name not in found:
            journal.problem(table.header_line, 0, f"there is no column for the foot {name}", f"such as {name} [um/mm]")
    return found


def _factor(unit: str, header: str, place: tuple[int, int], journal: Journal) -> float:
    if unit == "mm/mm":
        return 1.0
    try:
        if unit:
            return factor_to_si(unit, "ratio")[0]
    except UnitError as error:
        journal.problem(*place, f"in the header {header!r}: {error}", "write um/mm or mm/mm")
        return 1.0
    journal.problem(*place, f"the column {header!r} has no unit", "write um/mm or mm/mm in brackets behind the foot")
    return 1.0


def _rows(table: Table, columns: dict[str, tuple[int, float]], feet: Feet, journal: Journal) -> dict[str, Floats]:
    """Values of each named row; rows of loads without the factor of the columns."""
    found: dict[str, Floats] = {}
    field = columns[STATION][0]
    for k, cells in enumerate(table.rows):
        name = cells[field].strip() if field < len(cells) else ""
        if not name:
            journal.problem(*table.place(k, field), "the row has no station")
            continue
        if name in found:
            journal.problem(*table.place(k, field), f"{name} stands twice", "keep one of the rows")
            continue
        loads = name.startswith(LOAD_ROW)
        found[name] = np.array([_number(table, k, columns[foot], loads, journal) for foot in feet.names])
    return found


def _number(table: Table, k: int, column: tuple[int, float], loads: bool, journal: Journal) -> float:
    field, factor = column
    text = table.rows[k][field].strip() if field < len(table.rows[k]) else ""
    place = table.place(k, field)
    try:
        value = parse_number(text) if text else float("nan")
    except ValueError:
        value = float("nan")
    if not np.isfinite(value):
        journal.problem(*place, f"{text!r} is not a number" if text else "nothing stands here",
                        "every station needs a number for every foot")  # fmt: skip
        return 0.0
    value = value if loads else value * factor
    if not loads and abs(value) > LARGEST:
        message = f"{text} would raise the station {abs(value):.3g} times as much as the foot"
        journal.problem(*place, message, "check the unit in the header")
    return value


def _require_signs(matrix: Floats, feet: Feet, table: Table, journal: Journal) -> None:
    """Raising all feet raises all stations: columns with the other sign are told."""
    total = matrix.sum(axis=1)
    if float(np.median(total)) < 0.0:
        message = "raising all feet would lower the stations: the signs are the other way round"
        journal.problem(table.header_line, 0, message, "+ means that a station rises when a foot is raised")
    for j, name in enumerate(feet.names):
        if float(matrix[:, j].sum()) < 0.0 < float(np.median(total)) and np.all(matrix[:, j] <= 0.0):
            message = f"{name} lowers every station when it is raised: its sign is the other way round"
            journal.problem(table.header_line, 0, message)
    if journal.problems:
        raise ReadingsError(journal.sorted_problems())


def influence_text(feet: Feet, stations: tuple[str, ...], matrix: Floats) -> str:
    """CSV text of an influence, as `read_influence` reads it.

    Parameters
    ----------
    matrix : (n, m) float
        Rise of each station per lift of each foot, metre per metre.
    """
    header = ",".join([STATION, *(f"{name} [um/mm]" for name in feet.names)])
    lines = [",".join([name, *(f"{1e3 * value:.3f}" for value in row)])
             for name, row in zip(stations, matrix, strict=True)]  # fmt: skip
    return "\n".join([header, *lines]) + "\n"
