"""The printed moves: what to do, in which order, and what that should leave."""

from __future__ import annotations

import numpy as np
from rich.console import Console
from rich.markup import escape

from scenes.corrections.moves import SAFETY, Forecast, Moves, StationMoves
from scenes.model.layout import Layout
from scenes.reductions.quantities.definition import Kind
from scenes.reductions.quantities.shown import scale_of
from scenes.units import from_si, show
from viewer.report.tables import table_of

__all__ = ["print_moves"]


def print_moves(layout: Layout, found: list[Moves], remarks: list[str], out: Console) -> None:
    """Print the moves of every task."""
    if layout.title:
        out.print(f"[bold]{escape(layout.title)}[/bold]")
    for remark in remarks:
        out.print(escape(f"  note: {remark}"))
    for line in SAFETY if found else ():
        out.print(escape(f"  safety: {line}"))
    for each in found:
        out.print()
        _print_one(layout, each, out)


def _print_one(layout: Layout, moves: Moves, out: Console) -> None:
    out.print(f"[bold]Moves for {escape(moves.task)}, {escape(moves.visit)}[/bold]")
    out.print(escape(f"  {moves.goal} about {moves.reference}; influence: {moves.movers.kind}"
                     f"{_known(moves)}; reached {_length(layout, moves.reached)}, no shims could reach less than "
                     f"{_length(layout, moves.bound)}"))  # fmt: skip
    for line in moves.first:
        out.print(escape(f"  first: {line}"))
    if not moves.touched:
        out.print("  nothing to move: nothing that may be moved, or that stock allows, makes it better")
    else:
        _print_lifts(layout, moves, out)
        out.print(escape(f"  steps ({moves.criterion}):"))
        for step in moves.steps:
            least = "" if step.loads is None else f"; least load {step.loads.min() / 1e3:.1f} kN"
            bend = f"; range of deviations {_length(layout, step.bend)}" if step.bend > 0.0 else ""
            out.print(escape(f"    {step.number}. {step.words}{bend}{least}"))
    for c in moves.components:
        out.print(escape(f"  {_prospect(layout, c)}"))
    for stations in moves.stations:
        _print_stations(layout, stations, out)
    if moves.tilt is not None and np.any(moves.tilt):
        about_x, about_y = (show(float(angle), "mm/m", "angle", 3, sign=True) for angle in moves.tilt)
        out.print(escape(f"  the bed as a whole: tilted by {about_x} about x and {about_y} about y"))
    for warning in moves.warnings:
        out.print(escape(f"  note: {warning}"))


def _known(moves: Moves) -> str:
    share = moves.movers.influence_known_to
    return f" known to {100.0 * share:g} % of what bends" if share else ""


def _length(layout: Layout, value: float, sign: bool = False) -> str:
    return show(value, layout.units.deviation, sign=sign)


def _print_lifts(layout: Layout, moves: Moves, out: Console) -> None:
    unit, length = layout.units.deviation, layout.units.length
    loads = moves.loads_before is not None and moves.loads_after is not None
    headers = ["foot" if moves.movers.kind != "bearings" else "bearing", f"move \\[{unit}]"]
    headers += [f"shims \\[{length}]"] if moves.stacks is not None else []
    table = table_of(*headers, *(["load \\[kN]", "after \\[kN]"] if loads else []))
    for j in range(len(moves.movers)):
        if not loads and moves.lifts[j] == 0.0:
            continue
        cells = [escape(moves.movers.label(j)), f"{from_si(float(moves.lifts[j]), unit, 'length'):+.4g}"]
        if moves.stacks is not None:
            cells.append(" + ".join(f"{from_si(s, length, 'length'):.3g}" for s in moves.stacks[j]) or "-")
        if moves.loads_before is not None and moves.loads_after is not None:
            cells += [f"{moves.loads_before[j] / 1e3:.1f}", f"{moves.loads_after[j] / 1e3:.1f}"]
        table.add_row(*cells)
    out.print(table)


def _prospect(layout: Layout, c: Forecast) -> str:
    """As found, as left with its uncertainty, and the prospects of conformity."""
    scale = scale_of(c.kind, c.limit, layout.units)
    name = f"{c.name}: " if c.name else ""
    told = (
        f"{name}{scale.told(c.before)} -> {scale.told(c.after)} predicted, U = {scale.told(2.0 * c.u_after)} (k = 2); "
        f"true value as left between {scale.told(c.interval[0])} and {scale.told(c.interval[1])} (95 %)"
    )
    if c.probability is None or c.verdict is None:
        return told
    return f"{told}; limit {scale.told(c.verdict.limit)}, kept with a probability of {100.0 * c.probability:.1f} %"


def _print_stations(layout: Layout, stations: StationMoves, out: Console) -> None:
    scale = scale_of(Kind.LENGTH, None, layout.units)
    unit = scale.unit
    table = table_of("station", "direction", f"as found \\[{unit}]", f"u \\[{unit}]", f"as left \\[{unit}]",
                     f"u \\[{unit}]")  # fmt: skip
    for k, name in enumerate(stations.stations):
        figures = (stations.before[k], stations.u_before[k], stations.as_left[k], stations.u_as_left[k])
        cells = [f"{from_si(float(value), unit, 'length'):{'+' if k2 % 2 == 0 else ''}.1f}" for k2, value in
                 enumerate(figures)]  # fmt: skip
        table.add_row(escape(name), escape(stations.components[k]), *cells)
    out.print(table)
