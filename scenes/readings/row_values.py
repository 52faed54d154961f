"""Values of the rows of a readings file, in SI units and in the model's signs; what cannot be so is a problem."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from ..hints import near_names
from ..model.devices import Target
from ..model.layout import Layout
from ..units import from_si
from ..vectors import Floats
from .columns import SIDES
from .headers import Column
from .journal import Journal
from .row_names import texts
from .table import Table

__all__ = ["SAME_CLOCK", "angles_of_rows", "check_offsets", "clocks_of_rows", "places_of_rows", "sides_of_rows"]

WINDOW_EDGE = 1e-3
"""Share of the window by which a reading may stand beyond its edge: a display rounds."""
LARGEST_MOUNT_OFFSET = 1.0
"""Metres; blocks under a post are thinner than that by far, so more is a wrong unit."""
SAME_CLOCK = math.radians(2.0)
"""A clock position set by hand is taken for a planned one this near to it, rad."""


def places_of_rows(
    axis: str,
    columns: dict[str, Column],
    values: dict[str, Floats],
    targets: Sequence[Target | None],
    model_sign: bool,
    table: Table,
    journal: Journal,
) -> Floats:
    """Place of the spot along one axis of the detector ``(n,)``, metres, both zeros taken off; nan where not read."""
    if axis not in columns:
        return np.full(len(table.rows), np.nan)
    nan = float("nan")
    zero = np.array([getattr(target, f"zero_{axis}") if target else nan for target in targets])
    window = np.array([getattr(target, f"window_{axis}") if target else nan for target in targets])
    stated_zero = np.nan_to_num(values.get(f"{axis} zero", np.zeros(len(targets))), nan=0.0)
    place: Floats = values[axis] - stated_zero - zero
    outside: NDArray[np.bool_] = np.abs(place) > window * (0.5 + WINDOW_EDGE)
    column = columns[axis]
    for k in np.flatnonzero(outside).tolist():
        target = targets[k]
        edge = from_si(float(window[k]) / 2.0, column.unit, "length")
        message = (
            f"{table.title(k, column.field)}: {table.rows[k][column.field]} is outside the window of target "
            f"{target.name if target else ''} (from -{edge:g} to {edge:g} {column.unit} about its zero)"
        )
        journal.problem(
            *table.place(k, column.field), message, "no spot can be read there: check unit, digits and zero"
        )
    return place if model_sign else 0.0 - place


def angles_of_rows(
    axis: str,
    columns: dict[str, Column],
    values: dict[str, Floats],
    targets: Sequence[Target | None],
    table: Table,
    journal: Journal,
) -> Floats:
    """Angle of the beam to the detector's normal, ``pitch`` or ``yaw``, ``(n,)`` rad; nan where not read."""
    angle = np.full(len(table.rows), np.nan)
    if axis not in columns:
        return angle
    column, blind = columns[axis], set()
    for k in np.flatnonzero(np.isfinite(values[axis])).tolist():
        target = targets[k]
        if target is None:
            continue
        if not target.reads_angles:
            if target.name not in blind:
                journal.remark(table.lines[k], f"target {target.name} reads no angles; its {axis} is not used")
            blind.add(target.name)
            continue
        angle[k] = values[axis][k]
        if abs(angle[k]) > target.angle_window * (1.0 + WINDOW_EDGE):
            edge = from_si(target.angle_window, column.unit, "angle")
            cell = table.rows[k][column.field]
            message = f"{column.header}: {cell} is more than target {target.name} reads, {edge:g} {column.unit}"
            journal.problem(*table.place(k, column.field), message, "check unit and digits")
    return angle


def clocks_of_rows(
    columns: dict[str, Column],
    values: dict[str, Floats],
    layout: Layout,
    station: list[str],
    setup: list[str],
    table: Table,
    journal: Journal,
) -> Floats:
    """Turn of the target, or of the emitter in a spindle, ``(n,)`` rad; the only planned one where none is stated."""
    n = len(table.rows)
    clock = values["clock"].copy() if "clock" in columns else np.full(n, np.nan)
    unstated: dict[str, tuple[int, int]] = {}
    unplanned: dict[tuple[str, str], int] = {}
    for k in range(n):
        if station[k] not in layout.stations or setup[k] not in layout.setups:
            continue
        planned = layout.setups[setup[k]].clocks or layout.stations[station[k]].clocks
        if math.isnan(clock[k]):
            if len(planned) > 1:
                unstated.setdefault(station[k], (table.lines[k], len(planned)))
            elif planned:
                clock[k] = planned[0]
        elif not any(abs(math.remainder(clock[k] - turn, 2.0 * math.pi)) <= SAME_CLOCK for turn in planned or (0.0,)):
            unplanned[station[k], f"{math.degrees(clock[k]):.4g}"] = table.lines[k]
    for name, (line, turns) in unstated.items():
        message = f"station {name!r} is read at {turns} clock positions and the row names none"
        journal.problem(line, 0, message, "state it in a column clock [deg]")
    for (name, turn), line in unplanned.items():
        journal.remark(line, f"station {name} is not planned at the clock position {turn} deg")
    return clock


def sides_of_rows(
    columns: dict[str, Column], layout: Layout, setup: list[str], table: Table, journal: Journal
) -> NDArray[np.int64]:
    """Side of each row ``(n,)``: 0 as set up, also where the file does not say, 1 reversed."""
    sides = np.zeros(len(table.rows), dtype=np.int64)
    unstated: dict[str, int] = {}
    unplanned: dict[str, int] = {}
    for k, said in enumerate(texts(table, columns, "side")):
        line, name = table.lines[k], setup[k]
        if not said:
            unstated.setdefault(name, line)
            continue
        word = " ".join(said.casefold().split())
        if word not in SIDES:
            near = near_names(word, SIDES, most=1)
            advice = f"did you mean {near[0]}?" if near else f"one of: {', '.join(SIDES)}"
            journal.problem(*table.place(k, columns["side"].field), f"the side of a reading is not {said!r}", advice)
            continue
        sides[k] = SIDES[word]
        if sides[k] and name in layout.setups and not layout.setups[name].reversed:
            unplanned.setdefault(name, line)
    for name, line in unplanned.items():
        journal.remark(line, f"set-up {name} is not planned to be reversed")
    for name, line in unstated.items():
        if name in layout.setups and layout.setups[name].reversed:
            journal.remark(line, f"set-up {name} is reversed; rows that state no side are taken as direct")
    return sides


def check_offsets(offset: Floats, columns: dict[str, Column], table: Table, journal: Journal) -> None:
    """Note mount offsets that are too large to be true."""
    for k in np.flatnonzero(np.abs(offset) > LARGEST_MOUNT_OFFSET).tolist():
        column = columns["mount offset"]
        message = f"{column.header}: {table.rows[k][column.field]} is more than {LARGEST_MOUNT_OFFSET:g} m"
        journal.problem(*table.place(k, column.field), message, "check the unit in the header")
