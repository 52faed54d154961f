"""The printed trace: a table of spots for every set-up, and the corners of single beams."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

from rich.console import Console
from rich.markup import escape
from rich.table import Table
from rich.text import Text

from scenes.model.layout import Layout
from scenes.units import PLACE, SIZE, SPOT, show
from viewer.report.traced_beams import TracedBeam

__all__ = ["print_trace"]

FEW = 12
"""So many beams are shown corner by corner without being asked for."""

Cell = Callable[[TracedBeam], str | Text]


def print_trace(layout: Layout, beams: Sequence[TracedBeam], every_corner: bool, out: Console) -> None:
    """Print spots by set-up, and the corners where they are asked for or few."""
    if layout.title:
        out.print(f"[bold]{escape(layout.title)}[/bold]")
    for name in dict.fromkeys(beam.setup for beam in beams):
        mine = [beam for beam in beams if beam.setup == name]
        out.print()
        out.print(f"[bold]{escape(name)}[/bold]: {mine[0].method}, {_count(len(mine), 'reading')}{_all_alike(mine)}")
        out.print(_spots(layout, mine))
        _print_stopped(mine, layout.units.length, out)
    if any(beam.free for beam in beams):
        out.print("  (in brackets: the direction in which the crew brings the spot to the middle; it tells nothing)",
                  style="dim")  # fmt: skip
    if not every_corner and len(beams) > FEW:
        out.print("  corners of single beams: --station NAMES; of all: --json FILE", style="dim")
        return
    out.print()
    out.print(_corners(layout, beams))


def _count(number: int, what: str) -> str:
    return f"{number} {what}{'s' * (number != 1)}"


def _number(value: float, unit: str, to: float, kind: str = "length", sign: bool = False) -> str:
    """Number alone, for columns whose header names the unit."""
    return show(value, unit, kind, sign=sign, to=to).split(" ")[0]


def _percent(share: float) -> str:
    return f"{100.0 * share:.3g}" if math.isfinite(share) else "-"


def _alike(beams: Sequence[TracedBeam], cell: Cell) -> bool:
    return len({str(cell(beam)) for beam in beams}) == 1


def _all_alike(beams: Sequence[TracedBeam]) -> str:
    """What is the same for all beams of a set-up and so needs no column."""
    said = [f"target {beams[0].target}"] if _alike(beams, lambda beam: beam.target) else []
    if _alike(beams, lambda beam: _percent(beam.light)) and beams[0].met:
        said.append(f"light {_percent(beams[0].light)} %")
    return "".join(f", {part}" for part in said)


def _variants(beams: Sequence[TracedBeam]) -> list[tuple[str, Cell]]:
    """Columns that tell readings of one station apart, as far as they differ."""

    def degrees(value: float) -> str:
        return "-" if math.isnan(value) else f"{math.degrees(value):g}"

    columns: list[tuple[str, Cell]] = [
        ("target", lambda beam: escape(beam.target)),
        ("stop", lambda beam: escape(beam.stop) or "-"),
        ("side", lambda beam: "reversed" if beam.reversed else "direct"),
        ("turn\n\\[deg]", lambda beam: degrees(beam.turn)),
        ("clock\n\\[deg]", lambda beam: degrees(beam.clock)),
    ]
    return [(header, cell) for header, cell in columns if not _alike(beams, cell)]


def _place(beam: TracedBeam, channel: str, unit: str) -> str:
    text = _number(beam.spot[channel], unit, SPOT, sign=True)
    return f"({text})" if channel == beam.free else text


def _margin(beam: TracedBeam, channels: tuple[str, str], unit: str, kind: str) -> Text:
    """The smaller of two margins; what is beyond the edge stands out."""
    if channels[0] not in beam.margin:
        return Text("-")
    margin = min(beam.margin[channel] for channel in channels)
    to = SPOT if kind == "length" else 5e-6
    return Text(_number(margin, unit, to, kind), style="bold red" if margin < 0.0 else "")


def _angle(beam: TracedBeam, channel: str, unit: str) -> str:
    value = beam.spot.get(channel, math.nan)
    return _number(value, unit, 5e-7, "angle", sign=True)


def _sight(beam: TracedBeam) -> Text:
    if not beam.met:
        return Text("misses", style="bold red")
    if not beam.stopped_by:
        return Text(beam.sight)
    return Text(beam.sight, style="bold red" if beam.sight == "blocked" else "yellow")


def _print_stopped(beams: Sequence[TracedBeam], unit: str, out: Console) -> None:
    """Print what stands in the way, with the stations that it hides and how far the light gets."""
    for sight, by in dict.fromkeys((beam.sight, beam.stopped_by) for beam in beams if beam.stopped_by):
        hidden: dict[str, list[str]] = {}
        for beam in beams:
            if (beam.sight, beam.stopped_by) == (sight, by):
                hidden.setdefault(beam.station, []).append(show(beam.stopped_after, unit, to=PLACE))
        listed = ", ".join(f"{station} ({' and '.join(dict.fromkeys(after))})" for station, after in hidden.items())
        out.print(f"  {sight} by {escape(by)} (so far from the emitter): {escape(listed)}")
    missed = dict.fromkeys(beam.station for beam in beams if not beam.met)
    if missed:
        out.print(f"  the beam does not meet the front of the detector: {escape(', '.join(missed))}")


def _table() -> Table:
    return Table(box=None, pad_edge=False, padding=(0, 1, 0, 0))


def _spots(layout: Layout, beams: Sequence[TracedBeam]) -> Table:
    unit, angle = layout.units.length, layout.units.angle
    columns: list[tuple[str, Cell]] = [
        ("station", lambda beam: escape(beam.station)),
        *_variants(beams),
        (f"length\n\\[{unit}]", lambda beam: _number(beam.length, unit, PLACE)),
        (f"radius\n\\[{unit}]", lambda beam: _number(beam.radius, unit, SPOT)),
    ]
    if not _alike(beams, lambda beam: _percent(beam.light)):
        columns.append(("light\n\\[%]", lambda beam: _percent(beam.light)))
    columns += [
        (f"h\n\\[{unit}]", lambda beam: _place(beam, "h", unit)),
        (f"v\n\\[{unit}]", lambda beam: _place(beam, "v", unit)),
        (f"margin\n\\[{unit}]", lambda beam: _margin(beam, ("h", "v"), unit, "length")),
    ]
    if any("pitch" in beam.spot for beam in beams):
        columns += [
            (f"pitch\n\\[{angle}]", lambda beam: _angle(beam, "pitch", angle)),
            (f"yaw\n\\[{angle}]", lambda beam: _angle(beam, "yaw", angle)),
            (f"margin\n\\[{angle}]", lambda beam: _margin(beam, ("pitch", "yaw"), angle, "angle")),
        ]
    columns.append(("incid.\n\\[deg]", lambda beam: _number(beam.incidence, "deg", 2e-4, "angle")))
    columns.append(("sight", _sight))
    table = _table()
    words = {"station", "target", "stop", "side", "sight"}
    for header, _ in columns:
        table.add_column(header, justify="left" if header in words else "right", no_wrap=header not in words,
                         vertical="bottom")  # fmt: skip
    for beam in beams:
        table.add_row(*(cell(beam) for _, cell in columns))
    return table


def _corners(layout: Layout, beams: Sequence[TracedBeam]) -> Table:
    unit = layout.units.length
    table = _table()
    for header in ("station", "corner", "device"):
        table.add_column(header, vertical="bottom")
    for header in ("x", "y", "z", "way", "radius"):
        table.add_column(f"{header}\n\\[{unit}]", justify="right", no_wrap=True)
    table.add_column("light\n\\[%]", justify="right", no_wrap=True)
    for beam in beams:
        for number, corner in enumerate(beam.corners):
            table.add_row(
                escape(beam.station) if number == 0 else "", corner.place, escape(corner.device),
                *(_number(float(value), unit, SIZE) for value in corner.point),
                _number(corner.way, unit, PLACE), _number(corner.radius, unit, SPOT), _percent(corner.light),
            )  # fmt: skip
    return table
