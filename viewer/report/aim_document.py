"""JSON document of an aimed beam; every number stands beside its unit."""

from __future__ import annotations

import math
from typing import Any

from scenes.aiming.advice import COVERAGE, AimAdvice
from scenes.aiming.following import Step
from scenes.aiming.near_far import End
from scenes.aiming.procedures import Procedure
from scenes.aiming.traced import TracedLine
from scenes.aiming.travel import Overrun
from scenes.units import from_si
from scenes.vectors import Floats

__all__ = ["aim_document"]


def aim_document(advice: AimAdvice, unit: str, angle_unit: str, traced: TracedLine | None = None) -> dict[str, Any]:
    """Document of ``datumray aim``: where the beam stands, what to set, and both procedures step by step.

    ``traced`` is the line of the set-up of a layout, if it is about one.
    """
    aim, turns = advice.aim, advice.turns
    return {
        "quantity": "aim",
        **({} if traced is None else {"setup": traced.setup, "pivot": _value(traced.pivot, "m")}),
        "reference": "line on which both targets read what is wanted",
        "signs": {"h": "+ = right as seen from the emitter", "v": "+ = up",
                  "yaw": "+ = beam to the right", "pitch": "+ = beam rises"},
        "targets": [
            {
                "target": end.name.lower(),
                **({} if traced is None else {"station": traced.stations[end], "device": traced.targets[end]}),
                "from_pivot": _value(aim.line.distance(end), "m"),
                "reading": _hv(aim.readings[end], unit),
                "wanted": _hv(aim.wanted[end], unit),
                "turned": _value(aim.line.turned[end], "deg", "angle"),
                "off": _hv(aim.off[end], unit),
                "standard_uncertainty": None if aim.off_u is None else _hv(aim.off_u[end], unit),
            }
            for end in End
        ],
        "angle": {
            **_yaw_pitch(aim.angle, angle_unit),
            "standard_uncertainty": None if aim.angle_u is None else _yaw_pitch(aim.angle_u, angle_unit),
        },
        "offset_at_pivot": {
            **_hv(aim.offset, unit),
            "standard_uncertainty": None if aim.offset_u is None else _hv(aim.offset_u, unit),
        },
        "coverage_factor": COVERAGE,
        "told_from_zero": None if aim.covariance is None else not advice.lost_in_doubt,
        "setting": {
            "tilt": _yaw_pitch(advice.setting.tilt, angle_unit),
            "shift": _hv(advice.setting.shift, unit),
            "tilt_turns": _turns(turns.tilt),
            "shift_turns": _turns(turns.shift),
            "beyond_travel": [
                {"move": each.move, "axis": each.axis, **_travel(each, *_kind(each, unit, angle_unit))}
                for each in advice.overruns
            ],
        },
        "overshoot": {
            "share_past_home": advice.overshoot_share,
            **_procedure(advice.overshoot, unit, angle_unit),
            "steps_outside_window": advice.outside_overshoot.tolist(),
        },
        "rounds": {
            "share_left_by_each": advice.round_share,
            "needed": advice.rounds_needed,
            "trouble": advice.rounds_trouble or None,
            **_procedure(advice.rounds, unit, angle_unit),
            "steps_outside_window": advice.outside_rounds.tolist(),
        },
    }  # fmt: skip


def _in(value: float, unit: str, kind: str = "length") -> float | None:
    """SI value in ``unit``, rounded to what float64 carries; None where there is none."""
    return float(f"{from_si(float(value), unit, kind):.12g}") if math.isfinite(value) else None


def _value(value: float, unit: str, kind: str = "length") -> dict[str, Any]:
    return {"value": _in(value, unit, kind), "unit": unit}


def _kind(overrun: Overrun, unit: str, angle_unit: str) -> tuple[str, str]:
    return (unit, "length") if overrun.move == "shift" else (angle_unit, "angle")


def _travel(overrun: Overrun, unit: str, kind: str) -> dict[str, Any]:
    return {"asked": _value(overrun.asked, unit, kind), "most": _value(overrun.most, unit, kind)}


def _hv(values: Floats, unit: str) -> dict[str, Any]:
    return {"h": _in(values[0], unit), "v": _in(values[1], unit), "unit": unit}


def _yaw_pitch(values: Floats, unit: str) -> dict[str, Any]:
    return {"yaw": _in(values[0], unit, "angle"), "pitch": _in(values[1], unit, "angle"), "unit": unit}


def _turns(values: Floats | None) -> dict[str, Any] | None:
    return None if values is None else {"h": float(values[0]), "v": float(values[1]), "unit": "turn"}


def _procedure(procedure: Procedure, unit: str, angle_unit: str) -> dict[str, Any]:
    return {
        "within": _value(procedure.within, unit),
        "closed": procedure.closed,
        "steps": [_step(step, unit, angle_unit) for step in procedure.steps],
    }


def _step(step: Step, unit: str, angle_unit: str) -> dict[str, Any]:
    return {
        "round": step.round,
        "move": str(step.move),
        "watch": None if step.end is None else step.end.name.lower(),
        "until": None if step.aimed is None else _hv(step.aimed, unit),
        "shift": _hv(step.setting.shift, unit),
        "tilt": _yaw_pitch(step.setting.tilt, angle_unit),
        "near": _hv(step.readings[End.NEAR], unit),
        "far": _hv(step.readings[End.FAR], unit),
    }
