"""A station of the plan in plain data: how it is read, and the face of its detector for one of these readings."""

from __future__ import annotations

from typing import Any

import numpy as np

from scenes.checks.detector_view import DetectorView, detector_view, rows_of_station
from scenes.checks.plan import Plan
from scenes.model.layout import Layout
from scenes.tracing.sight import Sight
from scenes.units import PLACE, SIZE, SPOT, from_si, show
from viewer import text
from viewer.logic.detector_face import face_document

__all__ = ["SIGHTS", "how_read", "station_document"]

Document = dict[str, Any]

ROWS_SHOWN = 48
SIGHTS = {Sight.CLEAR: ("good", "●", "clear"), Sight.CLIPPED: ("open", "▲", "clipped"),
          Sight.BLOCKED: ("bad", "■", "blocked")}  # fmt: skip


def how_read(plan: Plan, row: int) -> str:
    """What tells a reading from the others of its station and set-up: side, stop, turn, clock position; often empty."""
    rows = plan.geometry.rows
    setup = plan.layout.setups[rows.setups[rows.setup[row]]]
    words = []
    if rows.side[row]:
        words.append("reversed")
    if setup.prism is not None and rows.stop[row] >= 0 and len(setup.prism.stops) > 1:
        words.append(f"stop {setup.prism.stops[int(rows.stop[row])].name}")
    if setup.clocks:
        words.append(f"emitter at {np.rad2deg(rows.turn[row]):.4g}°")
    station = plan.layout.stations[rows.stations[rows.station[row]]]
    if station.clocks:
        words.append(f"target at {np.rad2deg(rows.clock[row]):.4g}°")
    return ", ".join(words)


def station_document(plan: Plan | None, layout: Layout, station: str, row: int) -> Document | None:
    """Everything about a station that the panel shows; None where the layout has no such station.

    ``row`` is the chosen reading; any other number stands for the first one.
    """
    if station not in layout.stations:
        return None
    where = layout.stations[station]
    document: Document = {
        "name": station, "rows": [], "row": -1, "face": None, "facts": [], "note": "",
        "place": f"on {where.surface}" + (f" at {where.position}" if where.position else ""),
        "unit": layout.units.length,
    }  # fmt: skip
    mine = np.zeros(0, dtype=np.int64) if plan is None else rows_of_station(plan, station)
    if plan is None or len(mine) == 0:
        return document | {"note": "No set-up reads this station." if plan is not None else text.NO_PLAN}
    chosen = row if row in mine else int(mine[0])
    shown = mine[:ROWS_SHOWN]
    views = {int(each): detector_view(plan, int(each)) for each in {*shown.tolist(), chosen}}
    others = [view for number, view in views.items() if number != chosen]
    return document | {
        "row": chosen,
        "rows": [_row(plan, int(number), views[int(number)], layout.units.length) for number in shown],
        "face": face_document(views[chosen], others, layout.units.length),
        "facts": _facts(plan, chosen, views[chosen], layout),
        "note": f"{len(shown)} of {len(mine)} readings are listed." if len(shown) < len(mine) else "",
    }


def _row(plan: Plan, row: int, view: DetectorView, unit: str) -> Document:
    kind, shape, word = SIGHTS[view.sight]
    margin = view.margin[np.repeat(view.tells, 2)].min() if view.tells.any() else view.margin.min()
    if kind == "good" and not margin >= view.travel:
        kind, shape, word = "bad", "■", "off the window" if np.isfinite(margin) else "does not meet the detector"
    again = row != int(_first_like(plan, row))
    how = ", ".join(part for part in (how_read(plan, row), "again" if again else "") if part)
    return {
        "row": row, "setup": view.setup, "how": how, "target": view.target,
        "h": text.length_number(float(view.spot[0]), unit, SPOT),
        "v": text.length_number(float(view.spot[1]), unit, SPOT),
        "margin": text.length_number(float(margin), unit, SIZE),
        "kind": kind, "shape": shape, "sight": word + (f" by {view.by}" if view.by else ""),
    }  # fmt: skip


def _first_like(plan: Plan, row: int) -> int:
    """First reading of the same station, set-up, side, stop, turn and clock position."""
    rows = plan.geometry.rows
    same = np.ones(len(rows), dtype=bool)
    for part in (rows.station, rows.setup, rows.side, rows.stop, rows.turn, rows.clock):
        same &= part == part[row]
    return int(np.argmax(same))


def _angle(value: float, layout: Layout) -> str:
    unit = layout.units.angle
    return text.signed(show(value, unit, "angle", sign=True).rpartition(" ")[0]) + f" {unit}"


def _facts(plan: Plan, row: int, view: DetectorView, layout: Layout) -> list[Document]:
    unit = layout.units.length

    def long(value: float, to: float) -> str:
        return f"{text.length_number(value, unit, to)} {unit}"

    facts = [("Target", view.target), ("Way of the light", long(float(plan.spots.path[row]), PLACE))]
    if np.isfinite(view.spot).all():
        h, v = (text.length_number(float(value), unit, SPOT) for value in view.spot)
        facts += [("Spot h, v", f"{h}, {v} {unit}"), ("Radius of the spot", _of(long(view.radius, SPOT),
                  long(view.largest_spot, SPOT)))]  # fmt: skip
    if view.travel > 0.0:
        facts.append(("Limits let it move", f"± {long(view.travel, SPOT)}"))
    degrees = from_si(view.incidence, "deg", "angle")
    if np.isfinite(view.angular_range) and np.isfinite(degrees):
        facts.append(("Angle to the target", _of(f"{degrees:.2f}°", f"{np.rad2deg(view.angular_range):.3g}°")))
    if view.least_light > 0.0 or view.light < 1.0:
        facts.append(("Light left", _of(f"{100.0 * view.light:.0f} %", f"{100.0 * view.least_light:.0f} %", "needs")))
    if view.angle_window > 0.0:
        pitch, yaw = view.angles
        facts.append(("Pitch, yaw", f"{_angle(float(pitch), layout)}, {_angle(float(yaw), layout)}"))
    return [{"name": name, "value": value} for name, value in facts]


def _of(value: float | str, most: str, word: str = "up to") -> str:
    return f"{value} ({word} {most})"
