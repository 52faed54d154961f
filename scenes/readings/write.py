"""Readings and other tables to CSV files, whole or not at all."""

from __future__ import annotations

import csv
import io
import math
import os
import re
import secrets
import shutil
from collections.abc import Iterable, Sequence
from pathlib import Path

import numpy as np

from ..errors import Problem, ReadingsError
from ..model.layout import Layout
from ..model.readings import Readings
from ..units import factor_to_si
from ..vectors import Floats
from .columns import READING_COLUMNS, SIDES, planned_targets
from .headers import plain_name, split_header

__all__ = [
    "reading_columns",
    "readings_text",
    "replace_text",
    "table_text",
    "write_readings",
    "write_table_csv",
    "written_delimiter",
]

_NO_TEXT = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f]")
_TIME_RESOLUTION = 1e-3  # seconds
_CLOCK_RESOLUTION = 1e-5  # rad


def write_readings(path: str | Path, readings: Readings, layout: Layout, resolution: float = 1e-7) -> None:
    """Write ``readings`` so that ``read_readings`` with the same layout gives them back, to the printed resolution.

    Parameters
    ----------
    resolution : float
        Coarsest step of the printed values, metres, and rad for pitch and yaw; the step printed is the next power of
        ten of the unit.

    Raises
    ------
    ReadingsError
        Where the file cannot be written; what stood there before is untouched then.
    """
    replace_text(path, readings_text(readings, layout, resolution))


def readings_text(readings: Readings, layout: Layout, resolution: float = 1e-7) -> str:
    """Text of a readings file: columns in the names, units and signs that the layout states, zeros of targets put back.

    Columns without a value in any row are left out, except ``v`` where nothing else was read. Positions of moving parts
    are part of the names of their stations.
    """
    columns = reading_columns(readings, layout, resolution)
    rows = zip(*(cells for _, cells in columns), strict=True)
    return table_text([header for header, _ in columns], rows, written_delimiter(layout))


def reading_columns(
    readings: Readings, layout: Layout, resolution: float, times: Sequence[str] | None = None
) -> list[tuple[str, list[str]]]:
    """Headers and cells of a readings file.

    Parameters
    ----------
    times : one text per record, optional
        Times as they are written; all columns are there then, also those without a value.
    """
    every = times is not None
    planned = planned_targets(layout, readings.setup, readings.station)
    targets = [layout.targets[name] for name in planned]
    signs = {"h": 1.0 if layout.readings.h_right else -1.0, "v": 1.0 if layout.readings.v_up else -1.0}
    shown = {
        "h": signs["h"] * readings.h + np.array([target.zero_h for target in targets]),
        "v": signs["v"] * readings.v + np.array([target.zero_v for target in targets]),
    }
    columns: list[tuple[str, list[str]]] = [
        (_header(layout, "visit"), list(readings.visit)),
        (_header(layout, "setup"), list(readings.setup)),
        (_header(layout, "station"), list(readings.station)),
        (_header(layout, "target"), planned),
    ]
    if every or np.isfinite(readings.clock).any():
        columns.append(_numbers(layout, "clock", readings.clock, "deg", _CLOCK_RESOLUTION))
    if every or readings.side.any():
        words = {number: word for word, number in SIDES.items()}
        columns.append((_header(layout, "side"), [words[number] for number in readings.side.tolist()]))
    angles = {"pitch": readings.pitch, "yaw": readings.yaw}
    angular = every and any(target.reads_angles for target in layout.targets.values())
    read_angles = [axis for axis, values in angles.items() if angular or np.isfinite(values).any()]
    for axis in ("h", "v"):
        if every or np.isfinite(shown[axis]).any() or (axis == "v" and not read_angles):
            columns.append(_numbers(layout, axis, shown[axis], layout.units.deviation, resolution))
    columns += [_numbers(layout, axis, angles[axis], layout.units.angle, resolution) for axis in read_angles]
    offsets = _numbers(layout, "mount offset", readings.mount_offset, layout.units.length, resolution)
    if every or any(float(cell.replace(",", ".")) for cell in offsets[1]):
        columns.append(offsets)
    if times is not None:
        columns.append((_header(layout, "time"), list(times)))
    elif np.isfinite(readings.time).any():
        columns.append(_numbers(layout, "time", readings.time, "s", _TIME_RESOLUTION))
    if every or any(readings.note):
        columns.append((_header(layout, "note"), list(readings.note)))
    return columns


def _header(layout: Layout, name: str) -> str:
    """Header of a column: as the layout maps it, else its own name."""
    return next((text for own, text in layout.readings.columns.items() if plain_name(own) == name), name)


def _numbers(layout: Layout, name: str, values: Floats, unit: str, resolution: float) -> tuple[str, list[str]]:
    """Header with its unit, and the values printed in that unit."""
    header = _header(layout, name)
    stated = split_header(header)[1]
    if not stated:
        header = f"{header} [{unit}]"
    factor, _ = factor_to_si(stated or unit, READING_COLUMNS[name])
    digits = max(0, math.ceil(math.log10(factor / resolution) - 1e-9))
    cells = []
    for value in values / factor:
        text = f"{value:.{digits}f}" if math.isfinite(value) else ""
        text = text.lstrip("-") if text and float(text) == 0.0 else text
        cells.append(text.replace(".", ",") if layout.readings.decimal == "comma" else text)
    return header, cells


def written_delimiter(layout: Layout) -> str:
    """Delimiter with which readings are written: as the layout states, else a comma."""
    return {"semicolon": ";", "tab": "\t"}.get(layout.readings.delimiter, ",")


def write_table_csv(path: str | Path, header: Sequence[str], rows: Iterable[Sequence[object]]) -> None:
    """Write a table of texts and numbers; every number stands in the unit that its header names."""
    replace_text(path, table_text(header, rows))


def table_text(header: Sequence[str], rows: Iterable[Sequence[object]], delimiter: str = ",") -> str:
    """Text of a table with a header, comma-separated if nothing else is said, quoted only where a cell needs it."""
    lines = [[_clean(cell) for cell in row] for row in (header, *rows)]
    # A first field that begins with # would be taken for a comment, unless it is quoted.
    quoting: int = csv.QUOTE_ALL if any(row[:1] and row[0].startswith("#") for row in lines) else csv.QUOTE_MINIMAL
    stream = io.StringIO(newline="")
    writer = csv.writer(stream, lineterminator="\n", quoting=quoting, delimiter=delimiter)  # type: ignore[arg-type]
    writer.writerows(lines)
    return stream.getvalue()


def _clean(cell: object) -> str:
    """Cell as text: line breaks in one style, no bytes that make a text file unreadable."""
    text = str(cell).replace("\r\n", "\n").replace("\r", "\n")
    return _NO_TEXT.sub(" ", text)


def replace_text(path: str | Path, text: str) -> None:
    """Write ``text`` (UTF-8) to ``path``: under another name first, then in its place; no half file is ever seen.

    A device or a named pipe cannot be replaced; it is written to as it is.

    Raises
    ------
    ReadingsError
        Where the file cannot be written.
    """
    target = Path(path).resolve()  # a link stays a link
    beside = target.with_name(f".{target.name}.{secrets.token_hex(4)}")
    try:
        if target.exists() and not target.is_file():
            with target.open("w", encoding="utf-8", errors="replace", newline="") as stream:
                stream.write(text)
            return
        with beside.open("x", encoding="utf-8", errors="replace", newline="") as stream:
            stream.write(text)
            stream.flush()
            os.fsync(stream.fileno())
        if target.exists():
            shutil.copymode(target, beside)
        beside.replace(target)
    except OSError as error:
        beside.unlink(missing_ok=True)
        raise ReadingsError([Problem(str(path), 0, 0, f"the file cannot be written: {error.strerror}")]) from error
