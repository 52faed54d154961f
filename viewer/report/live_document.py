"""``datumray live --json``: one JSON object per line, quantities with their unit."""

from __future__ import annotations

import json
import math
from typing import Any

from scenes.errors import Problem
from scenes.live.order import Look
from scenes.live.repeats import TEST
from scenes.live.taken import Taken
from scenes.live.watch import ChannelWatch, Watch
from scenes.model.layout import Layout
from scenes.units import from_si
from viewer.report.live_report import turned
from viewer.report.output import FORMAT

__all__ = ["ending_document", "json_line", "problem_document", "record_document"]


def json_line(document: dict[str, Any]) -> str:
    """One line of JSON with its format number."""
    return json.dumps({"format": FORMAT, **document}, ensure_ascii=False, allow_nan=False)


def record_document(layout: Layout, taken: Taken, watch: Watch, look: Look) -> dict[str, Any]:
    """A record with running mean, scatter and drift of its spot, and the next station."""
    record = taken.number - 1
    return {
        "taken": taken.number,
        "visit": taken.visit,
        **_look(look),
        "from": {"file": taken.file, "line": taken.line},
        "channels": {each.channel: _channel(layout, each) for each in watch.station(look).channels},
        "disagrees": [
            {"channel": each.channel, "by": _value(layout, each.channel, each.difference, True),
             "u": _value(layout, each.channel, each.u)}
            for each in watch.disagreements if each.record == record
        ],
        "near_edge": [
            {"channel": each.channel, "used": each.used, "left": _value(layout, each.channel, each.left)}
            for each in watch.edges if each.record == record and math.isfinite(each.used)
        ],
        "next": None if watch.next is None else _look(watch.next),
    }  # fmt: skip


def problem_document(problem: Problem) -> dict[str, Any]:
    """A record or line that could not be taken."""
    place = {"file": problem.file, "line": problem.line, "column": problem.column}
    return {"problem": problem.message, "advice": problem.advice, "from": place}


def ending_document(layout: Layout, watch: Watch) -> dict[str, Any]:
    """What is missing, and the drift of every set-up."""
    drifts = [
        {
            "setup": each.setup,
            "side": "reversed" if each.side else "direct",
            "channel": each.channel,
            "per_hour": _value(layout, each.channel, 3600.0 * each.slope.value, True),
            "u": _value(layout, each.channel, 3600.0 * each.slope.u),
            "u_seen": _value(layout, each.channel, 3600.0 * each.slope.u_seen),
            "dof": each.slope.dof,
        }
        for each in watch.drifts
    ]
    return {
        "ended": {
            "visit": watch.visit,
            "records": watch.count,
            "missing": [_look(look) for look in watch.missing],
            "disagreeing": sorted({each.record + 1 for each in watch.disagreements}),
            "test": TEST,
            "drift": drifts,
        }
    }


def _look(look: Look) -> dict[str, Any]:
    found: dict[str, Any] = {"setup": look.setup, "station": look.station, "target": look.target}
    found["side"] = "reversed" if look.side else "direct"
    if look.turned:
        found["clock"] = {"value": math.degrees(look.clock), "unit": "deg"}
    found["again"] = look.again
    return found


def _channel(layout: Layout, each: ChannelWatch) -> dict[str, Any]:
    found: dict[str, Any] = {
        "tells": each.tells,
        "count": each.n,
        "last": _value(layout, each.channel, each.last, True),
        "mean": _value(layout, each.channel, each.mean, True),
        "scatter": _value(layout, each.channel, each.scatter),
        "expected": _value(layout, each.channel, each.expected),
        "expected_from": {name: _value(layout, each.channel, part) for name, part in each.expected_from},
    }
    if each.drift is not None:
        found["drift_per_hour"] = _value(layout, each.channel, 3600.0 * each.drift.value, True)
        found["u_of_drift"] = _value(layout, each.channel, 3600.0 * each.drift.u)
    return found


def _value(layout: Layout, channel: str, value: float, sided: bool = False) -> dict[str, Any] | None:
    """Value with its unit, ``sided``: in the sign of the readings; None where there is none."""
    if not math.isfinite(value):
        return None
    angle = channel in ("pitch", "yaw")
    unit = layout.units.angle if angle else layout.units.deviation
    shown = from_si(value * (turned(layout, channel) if sided else 1.0), unit, "angle" if angle else "length")
    return {"value": shown, "unit": unit}
