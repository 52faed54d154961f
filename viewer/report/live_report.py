"""What ``datumray live`` prints: one line for each record, and what the crew should know at once."""

from __future__ import annotations

import math

from scenes.errors import Problem
from scenes.hints import listed
from scenes.live.order import Look
from scenes.live.repeats import TEST
from scenes.live.taken import Taken
from scenes.live.watch import ChannelWatch, StationWatch, Watch
from scenes.model.layout import Layout
from scenes.units import show

__all__ = ["ending", "problem_line", "record_lines"]


def shown(layout: Layout, channel: str, value: float, sign: bool = False) -> str:
    """A value of a channel in the units of the layout; its sign is that of the readings, not of the model."""
    angle = channel in ("pitch", "yaw")
    return show(
        value, layout.units.angle if angle else layout.units.deviation, "angle" if angle else "length", sign=sign
    )


def turned(layout: Layout, channel: str) -> float:
    """Sign with which the readings of the layout state a channel."""
    model = {"h": layout.readings.h_right, "v": layout.readings.v_up}.get(channel, True)
    return 1.0 if model else -1.0


def record_lines(layout: Layout, taken: Taken, watch: Watch, look: Look) -> list[str]:
    """Lines for a record: number, place, values with mean and scatter, then what looks wrong with it."""
    station = watch.station(look)
    place = str(look).partition(" (")[0].removesuffix(", once more")
    parts = [_values(layout, channel) for channel in station.channels if channel.tells or len(station.channels) == 1]
    lines = [f"{taken.number:4d}  {place}: {'; '.join(parts) or 'read'}"]
    record = taken.number - 1
    for each in watch.disagreements:
        if each.record == record:
            off = shown(layout, each.channel, each.difference * turned(layout, each.channel), sign=True)
            u = shown(layout, each.channel, each.u)
            lines.append(
                f"      ! {each.channel} does not agree with the earlier readings: off by {off}, u {u}; read it again"
            )
    for edge in watch.edges:
        if edge.record == record:
            left = show(edge.left, layout.units.length)
            lines.append(
                f"      ! {edge.channel}: the spot has used {100 * edge.used:.0f} % of the window; {left} are left"
            )
    return lines


def _values(layout: Layout, each: ChannelWatch) -> str:
    sign = turned(layout, each.channel)
    text = f"{each.channel} {shown(layout, each.channel, sign * each.last)}"
    if each.n < 2:
        return text
    text += f", mean {shown(layout, each.channel, sign * each.mean)} of {each.n}"
    text += f", scatter {shown(layout, each.channel, each.scatter)}"
    if math.isfinite(each.expected):
        text += f" (by the budget {shown(layout, each.channel, each.expected)})"
    return text


def problem_line(problem: Problem) -> str:
    """A problem in one or two lines."""
    return f"   ?  {problem}"


def ending(layout: Layout, watch: Watch) -> list[str]:
    """What to say at the end: how many records, what is missing, what drifted, what does not agree."""
    lines = [f"{watch.count} records{f' of the visit {watch.visit!r}' if watch.visit else ''}"]
    for drift in watch.drifts:
        u = drift.slope.u_seen if drift.slope.dof > 2 else drift.slope.u
        change = shown(layout, drift.channel, 3600.0 * turned(layout, drift.channel) * drift.slope.value, sign=True)
        side = ", reversed" if drift.side else ""
        lines.append(
            f"drift of {drift.channel} in set-up {drift.setup}{side}: {change} per hour, "
            f"u {shown(layout, drift.channel, 3600.0 * u)}"
        )
    if watch.disagreements:
        names = list(dict.fromkeys(str(each.look).partition(" (")[0] for each in watch.disagreements))
        lines.append(f"readings that do not agree with earlier ones: {listed(names, 20)}")
        lines.append(f"  test: {TEST}")
    if watch.missing:
        by_setup: dict[str, list[str]] = {}
        for look in watch.missing:
            by_setup.setdefault(look.setup, []).append(str(look).partition(" (")[0])
        lines += [f"missing in set-up {name}: {listed(names, 20)}" for name, names in by_setup.items()]
    else:
        lines.append("nothing is missing")
    return lines


def station_of(watch: Watch, record: int) -> StationWatch:
    """The spot to which a record belongs."""
    return next(each for each in watch.stations if record in each.records)
