"""JSON document of the answers to simulated readings: truth, how the crew set up, drawn errors, hidden faults."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

import numpy as np

from scenes.model.layout import Layout, ShownUnits
from scenes.model.truth import Truth
from scenes.tracing.sensitivity import ANGLES
from scenes.uncertainty.fault_kinds import FAULTS, TIMES
from scenes.uncertainty.faults import HiddenFault
from scenes.uncertainty.simulate import Simulated
from scenes.units import factor_to_si
from scenes.vectors import Floats, Indices

__all__ = ["answers_document", "shown_in"]

AS_SET = ("tilt_x", "tilt_y", "tilt_z", "lift", "shift", "cone", "cone_side", "offset_y", "offset_z", "prism_x",
          "prism_turn")  # fmt: skip
"""What a crew sets and nobody measures."""

DIGITS = 9
"""Digits of drawn values: platforms agree in about fifteen."""


def answers_document(
    layout: Layout, made: Simulated, written: Indices, seed: int, truth_file: str, perfect: bool
) -> dict[str, Any]:
    """Document of the answers.

    Parameters
    ----------
    written : (k,) int
        Planned readings that stand in the readings file, in its order; lists of values follow them.
    truth_file : str
        Where the truth comes from; empty where it was drawn.
    """
    units, rows = layout.units, made.geometry.rows
    return {
        "layout": layout.file,
        "title": layout.title,
        "seed": seed,
        "visit": made.readings.visit[0] if len(made.readings) else None,
        "perfect": perfect,
        "truth_from": truth_file or "drawn",
        "truth": _truth(made.truth, units),
        "faults": [_fault(each, units, written) for each in made.faults],
        "setups": _setups(layout, made, units),
        "readings": [
            {"record": k + 1, "setup": rows.setups[rows.setup[i]], "station": rows.stations[rows.station[i]],
             "side": "reversed" if rows.side[i] else "direct"}
            for k, i in enumerate(written.tolist())
        ],
        "errors": _errors(made, units, written),
    }  # fmt: skip


def shown_in(field: str, units: ShownUnits) -> tuple[str, str]:
    """Unit in which a field of the state is written, and its kind."""
    name = field.partition(".")[0]
    odd = {"drift": ("urad/h", "angle rate"), "gradient": ("K/m", "temperature gradient"), "scale": ("%", "ratio")}
    if name.removesuffix("_side") in odd:
        return odd[name.removesuffix("_side")]
    angle = name in ANGLES or name == "roll" or name.endswith(("pitch", "yaw"))
    return (units.angle, "angle") if angle else (units.deviation, "length")


def _rounded(values: Floats | float, unit: str, kind: str) -> list[float]:
    factor, _ = factor_to_si(unit, kind)
    return [float(f"{value:.{DIGITS}g}") for value in np.atleast_1d(values) / factor]


def _value(value: float, unit: str, kind: str) -> dict[str, Any] | None:
    return {"value": _rounded(value, unit, kind)[0], "unit": unit} if math.isfinite(value) else None


def _truth(truth: Truth, units: ShownUnits) -> list[dict[str, Any]]:
    """Deviations of every station, and slopes where some are not nought."""
    names = dict.fromkeys((*truth.up, *truth.aside, *truth.nod, *truth.swing))
    parts = {"up": truth.up, "aside": truth.aside}
    slopes = {"nod": truth.nod, "swing": truth.swing} if truth.nod or truth.swing else {}

    def of(name: str, which: dict[str, Mapping[str, float]], unit: str, kind: str) -> dict[str, float]:
        return {part: _rounded(values.get(name, 0.0), unit, kind)[0] for part, values in which.items()}

    listed = []
    for name in names:
        row: dict[str, Any] = {"station": name, **of(name, parts, units.deviation, "length"), "unit": units.deviation}
        if slopes:
            row |= {**of(name, slopes, units.angle, "angle"), "angle_unit": units.angle}
        listed.append(row)
    return listed


def _fault(fault: HiddenFault, units: ShownUnits, written: Indices) -> dict[str, Any]:
    kind = FAULTS[fault.kind]
    shown = {"angle": units.angle, "length": units.deviation, "temperature gradient": "K/m"}
    if kind.quantity == TIMES:
        amount: dict[str, Any] | None = {"value": fault.amount, "unit": "times what is stated"}
    else:
        amount = _value(fault.amount, shown[kind.quantity], kind.quantity) if kind.quantity else None
    return {
        "fault": fault.kind,
        "about": kind.about,
        "where": list(fault.where),
        "amount": amount,
        "direction": _value(fault.strike.direction, "deg", "angle"),
        "records": (np.nonzero(np.isin(written, fault.strike.rows))[0] + 1).tolist(),
    }


def _setups(layout: Layout, made: Simulated, units: ShownUnits) -> list[dict[str, Any]]:
    """How each set-up, side and stop was off from the plan; what was not off is left out."""
    rows, m = made.geometry.rows, len(made.geometry.rows)
    keys = np.stack([rows.setup, rows.side, rows.stop], axis=1)
    _, first = np.unique(keys, axis=0, return_index=True)
    values = {name: np.broadcast_to(getattr(made.as_set, name), m) for name in AS_SET}
    found = []
    for row in np.sort(first).tolist():
        setup = layout.setups[rows.setups[rows.setup[row]]]
        stop = setup.prism.stops[int(rows.stop[row])].name if setup.prism is not None and rows.stop[row] >= 0 else None
        off = {
            name: _value(float(value[row]), *shown_in(name, units)) for name, value in values.items() if value[row]
        }  # fmt: skip
        found.append({"setup": setup.name, "side": "reversed" if rows.side[row] else "direct", "stop": stop,
                      "off": off})  # fmt: skip
    return found


def _errors(made: Simulated, units: ShownUnits, written: Indices) -> list[dict[str, Any]]:
    """Drawn values of every source, one for each reading."""
    drawn = [
        (each.source.name, each.source.field, each.source.shared, each.value[written]) for each in made.errors
    ]  # fmt: skip
    if np.any(made.aim):
        drawn.append(("spot brought to the middle by eye", "aim", "reading", made.aim[written]))
    listed = []
    for name, field, shared, value in drawn:
        unit, kind = shown_in(field, units)
        values = _rounded(value, unit, kind)
        listed.append({"source": name, "field": field, "shared_by": shared, "unit": unit, "values": values})
    return listed
