"""Stations of a result in plain data: the table of deviations in any order, and the card of one station."""

from __future__ import annotations

from typing import Any

import numpy as np

from scenes.reductions.quantities.measured import Deviations
from scenes.reductions.quantities.shown import Scale, scale_of
from scenes.tracing.geometry import CHANNELS
from scenes.units import show
from scenes.vectors import Floats
from viewer import text
from viewer.logic.figures import sets_of
from viewer.logic.result_values import bare
from viewer.logic.session import Session
from viewer.logic.shown import Shown

__all__ = ["ROWS_SHOWN", "SORTS", "result_card", "rows_unit", "sorted_rows", "table_columns"]

Document = dict[str, Any]

ROWS_SHOWN = 400
"""Longer tables end here and say so."""

LEAST = 1e-6
"""Leverages that are all below this say nothing: the reference stands by itself."""

SORTS = ("order", "name", "deviation", "u", "leverage")


def _entries(shown: Shown) -> list[tuple[Deviations, int]]:
    return [(each, i) for each in shown.sets for i in range(len(each.stations))]


def rows_unit(session: Session, shown: Shown) -> str:
    """Unit of the deviations, where they share one."""
    units = {scale_of(each.kind, None, session.layout.units).unit for each in shown.sets}
    return text.screen_unit(units.pop()) if len(units) == 1 else ""


def table_columns(shown: Shown) -> Document:
    """Which columns the table needs: direction where there are several, leverage where a reference was fitted."""
    words = {word for each in shown.sets for word in each.components}
    return {
        "direction": len(words) > 1 or len(shown.sets) > 1,
        "leverage": any(each.leverage is not None and np.any(each.leverage > LEAST) for each in shown.sets),
    }


def _scale(session: Session, each: Deviations) -> Scale:
    return scale_of(each.kind, None, session.layout.units)


def _leverage(each: Deviations, i: int) -> float:
    return -2.0 if each.leverage is None else float(each.leverage[i])


def _keys(entries: list[tuple[Deviations, int]], key: str) -> Floats:
    """Numbers to sort by."""
    if key == "deviation":
        return np.array([each.values[i] for each, i in entries])
    if key == "u":
        return np.array([each.u[i] for each, i in entries])
    if key == "leverage":
        return np.array([max(_leverage(each, i), -1.0) for each, i in entries])
    if key == "name":
        words = [each.stations[i] for each, i in entries]
        return np.unique(np.array(words), return_inverse=True)[1].astype(np.float64)
    return np.arange(len(entries), dtype=np.float64)


def sorted_rows(session: Session, shown: Shown, key: str, down: bool) -> tuple[list[Document], str]:
    """Rows of the station table in the asked order, and a note where not all are shown."""
    entries = _entries(shown)
    order = np.argsort(_keys(entries, key), kind="stable")
    order = order[::-1] if down else order
    marks = {**dict.fromkeys(shown.high, "high"), **dict.fromkeys(shown.low, "low")}
    marked = set(map(id, sets_of(shown.sets, shown.component)))
    rows = []
    for number in order[:ROWS_SHOWN]:
        each, i = entries[int(number)]
        scale, leverage = _scale(session, each), _leverage(each, i)
        rows.append({
            "key": int(number), "name": each.stations[i],
            "direction": ", ".join(dict.fromkeys(word for word in (each.of, each.components[i]) if word)),
            "deviation": bare(scale, float(each.values[i]), sign=True),
            "u": bare(scale, shown.factor * float(each.u[i])),
            "leverage": "\u2013" if leverage < 0.0 else f"{leverage:.2f}",
            "mark": marks.get(each.stations[i], "") if id(each) in marked else "",
        })  # fmt: skip
    note = f"{len(rows)} of {len(order)} rows; sort to see others." if len(rows) < len(order) else ""
    return rows, note


def _reading_facts(session: Session, shown: Shown, station: str) -> list[tuple[str, str]]:
    """Means of what was read at a station, by channel, with the number of readings."""
    network = shown.measured.evidence.network
    rows, observations = network.geometry.rows, network.observations
    if shown.change is not None or station not in rows.stations:
        return []
    row = observations.row
    mine = rows.station[row] == rows.stations.index(station)
    several = len({(int(rows.setup[i]), int(rows.side[i])) for i in row[mine]}) > 1
    facts: dict[tuple[int, int, int], list[float]] = {}
    for i in np.nonzero(mine)[0]:
        key = (int(observations.channel[i]), int(rows.setup[row[i]]), int(rows.side[row[i]]))
        facts.setdefault(key, []).append(float(observations.value[i]))
    return [_reading(session, key, values, rows.setups[key[1]] if several else "") for key, values in facts.items()]


def _reading(session: Session, key: tuple[int, int, int], values: list[float], setup: str) -> tuple[str, str]:
    """Name and mean of the readings of one channel from one set-up."""
    units, name, mean = session.layout.units, CHANNELS[key[0]], float(np.mean(values))
    angle = name in ("pitch", "yaw")
    told = show(mean, units.angle, "angle", sign=True) if angle else show(mean, units.deviation, sign=True)
    times = "" if len(values) == 1 else f" (mean of {len(values)})"
    end = " reversed" if key[2] and setup else ""
    return f"Reading {name}" + (f", {setup}{end}" if setup else ""), text.spelled(told) + times


def result_card(session: Session, shown: Shown, station: str) -> Document | None:
    """The card of one station, or None where the view has no such station."""
    mine = [(each, i) for each, i in _entries(shown) if each.stations[i] == station]
    if not mine:
        return None
    length = session.layout.units.length
    facts: list[tuple[str, str]] = []
    if station in session.layout.stations:
        at = session.layout.stations[station].at
        place = f"{text.length_number(at[0], length)}, {text.length_number(at[1], length)} {length}"
        facts.append(("Place x, y", place))
        facts += _reading_facts(session, shown, station)
    single = len(mine) == 1
    for each, i in mine:
        scale = _scale(session, each)
        name = " ".join(part for part in (each.of, each.components[i]) if part)
        value, u = float(each.values[i]), shown.factor * float(each.u[i])
        expanded = text.told(scale, u, whole=False)
        if single:
            facts.append(("U", f"± {expanded}"))
        else:
            facts.append((name or "Deviation", f"{text.told(scale, value, sign=True)} ± {expanded}"))
        if _leverage(each, i) >= 0.0:
            facts.append(("Leverage" if single else f"Leverage {name}".strip(), f"{_leverage(each, i):.2f}"))
    held = {"high": station in shown.high, "low": station in shown.low}
    role = "holds the value from above" if held["high"] else "holds the value from below" if held["low"] else ""
    if held["high"] and not shown.low:
        role = "holds the value"
    deviation = text.told(_scale(session, mine[0][0]), float(mine[0][0].values[mine[0][1]]), sign=True)
    return {
        "name": station, "deviation": deviation if single else "", "role": role,
        "facts": [{"name": name, "value": value} for name, value in facts],
    }  # fmt: skip
