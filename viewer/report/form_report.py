"""Form of a list of points: evaluated and printed."""

from __future__ import annotations

import numpy as np
from rich.console import Console
from rich.markup import escape

from scenes.errors import GeometryError, InputError, Problem
from scenes.hints import did_you_mean
from scenes.readings.points import PointsTable
from scenes.reductions.form import FormResult, Reference, flatness, straightness
from scenes.units import UnitError, factor_to_si, show
from scenes.vectors import Floats

__all__ = ["evaluate_points", "print_form"]


def evaluate_points(table: PointsTable, quantity: str, reference: Reference, datum: str, unit: str) -> FormResult:
    """Form value of the points of ``table``.

    Raises
    ------
    InputError
        A datum point that the file does not hold, a file without the columns that the quantity needs, or no unit.
    GeometryError
        Degenerate points.
    """
    try:
        factor_to_si(unit, "length")
    except UnitError as error:
        raise InputError([Problem("--unit", 0, 0, str(error), error.advice)]) from None
    chosen = [_point_number(table, name.strip()) for name in datum.split(",")] if datum.strip() else None
    asked = 2 if quantity == "straightness" else 3
    if chosen is not None and len(set(chosen)) != asked:
        raise InputError([Problem("--datum", 0, 0, f"{quantity} goes through {asked} different points, not {datum}",
                                  "name as many as the reference needs")])  # fmt: skip
    if quantity == "straightness":
        if len(table) < 3:
            raise GeometryError(f"{table.file} has {len(table)} points, which always lie on a line: three are needed")
        return straightness(_profile(table), reference, datum=chosen)
    if table.y is None:
        raise InputError([Problem(table.file, 1, 0, "flatness needs a column y",
                                  "write the header as x [mm], y [mm], z [um]")])  # fmt: skip
    if len(table) < 4:
        raise GeometryError(f"{table.file} has {len(table)} points, which always lie in a plane: four are needed")
    return flatness(np.column_stack([table.x, table.y, table.z]), reference, datum=chosen)


def _point_number(table: PointsTable, name: str) -> int:
    if name in table.name:
        return table.name.index(name)
    if name.isdigit() and 1 <= int(name) <= len(table):
        return int(name) - 1
    raise InputError([Problem("--datum", 0, 0, f"there is no point {name!r} in {table.file}",
                              did_you_mean(name, table.name))])  # fmt: skip


FINE = 1e-9
"""Form values are printed to this [m]: they come from points alone, without rounding of their own."""

OFF_LINE = 0.05
"""Places farther from one line than this share of its length are no profile."""


def _profile(table: PointsTable) -> Floats:
    """Position along the line through the places, and height, ``(n, 2)``."""
    if table.y is None:
        return np.column_stack([table.x, table.z])
    places = np.column_stack([table.x, table.y])
    off = places - places.mean(axis=0)
    _, size, axes = np.linalg.svd(off, full_matrices=False)
    if len(size) > 1 and size[1] > OFF_LINE * size[0]:
        raise InputError([Problem(table.file, 0, 0, "the places do not lie along one line",
                                  "straightness needs points along a line; ask for flatness instead")])  # fmt: skip
    along = off @ (axes[0] * np.sign(axes[0][np.argmax(np.abs(axes[0]))]))
    return np.column_stack([along, table.z])


def print_form(result: FormResult, table: PointsTable, unit: str, out: Console) -> None:
    """Print the value and what holds it."""
    value = show(result.value, unit, to=FINE)
    out.print(f"[bold]{result.quantity} {value}[/bold] against {result.reference}, {len(table)} points")
    for side, numbers in (("high", result.high), ("low", result.low), ("through", result.datum)):
        if len(numbers):
            listed = ", ".join(f"{table.name[i]} ({show(float(result.deviations[i]), unit, sign=True, to=FINE)})"
                               for i in numbers)  # fmt: skip
            out.print(f"  {side}: {escape(listed)}")
    if result.criterion:
        out.print(f"  contacts {result.criterion}: no other pair of parallel {_shape(result)} lies closer")
    out.print("  from points alone: no uncertainty is stated, since that of the points is not known", style="dim")
    for remark in table.remarks:
        out.print(f"  note: {escape(remark)}")


def _shape(result: FormResult) -> str:
    return "planes" if result.quantity == "flatness" else "lines"
