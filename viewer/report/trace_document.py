"""JSON document of traced beams; every number stands beside its unit."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from scenes.model.layout import Layout
from scenes.units import from_si
from scenes.vectors import Floats
from viewer.report.traced_beams import Corner, TracedBeam

__all__ = ["trace_document"]


def trace_document(layout: Layout, beams: Sequence[TracedBeam]) -> dict[str, Any]:
    """Document of ``datumray trace``: every beam with its corners, spot, margins and sight."""
    return {
        "layout": layout.file,
        "title": layout.title,
        "world": "right-handed, z up",
        "signs": {"h": "+ = right as seen from the emitter", "v": "+ = up along the mount",
                  "pitch": "+ = beam rises", "yaw": "+ = beam goes right"},
        "beams": [_beam(layout, beam) for beam in beams],
    }  # fmt: skip


def _in(value: float, unit: str, kind: str = "length") -> float | None:
    """SI value in ``unit``, rounded to what float64 carries; None where there is none."""
    return float(f"{from_si(value, unit, kind):.12g}") if math.isfinite(value) else None


def _value(value: float, unit: str, kind: str = "length") -> dict[str, Any] | None:
    return {"value": _in(value, unit, kind), "unit": unit} if math.isfinite(value) else None


def _point(point: Floats, unit: str) -> dict[str, Any]:
    return {**{axis: _in(float(value), unit) for axis, value in zip("xyz", point, strict=True)}, "unit": unit}


def _corner(corner: Corner, unit: str) -> dict[str, Any]:
    return {
        "device": corner.device,
        "place": corner.place,
        "point": _point(corner.point, unit),
        "way": _value(corner.way, unit),
        "beam_radius": _value(corner.radius, unit),
        "light": _in_percent(corner.light),
    }


def _in_percent(share: float) -> dict[str, Any] | None:
    return {"value": float(f"{100.0 * share:.12g}"), "unit": "%"} if math.isfinite(share) else None


def _channels(values: dict[str, float], unit: str, angle: str) -> dict[str, Any]:
    """Places h and v, and angles pitch and yaw where they are read, each pair with its unit."""
    places = {"h": _in(values["h"], unit), "v": _in(values["v"], unit), "unit": unit}
    if "pitch" not in values:
        return places
    angles = {channel: _in(values[channel], angle, "angle") for channel in ("pitch", "yaw")}
    return {**places, **angles, "angle_unit": angle}


def _beam(layout: Layout, beam: TracedBeam) -> dict[str, Any]:
    unit, angle = layout.units.length, layout.units.angle
    return {
        "reading": beam.number,
        "setup": beam.setup,
        "method": beam.method,
        "station": beam.station,
        "target": beam.target,
        "stop": beam.stop or None,
        "side": "reversed" if beam.reversed else "direct",
        "emitter_turn": _value(beam.turn, "deg", "angle"),
        "clock": _value(beam.clock, "deg", "angle"),
        "time": _value(beam.time, "s", "time"),
        "path": [_corner(corner, unit) for corner in beam.corners],
        "length": _value(beam.length, unit),
        "beam_radius": _value(beam.radius, unit),
        "light": _in_percent(beam.light),
        "spot": _channels(beam.spot, unit, angle) if beam.met else None,
        "free": beam.free or None,
        "margin": _channels(beam.margin, unit, angle) if beam.met else None,
        "prism_margin": _value(beam.prism_margin, unit),
        "incidence": _value(beam.incidence, "deg", "angle"),
        "sight": beam.sight,
        "stopped_by": beam.stopped_by or None,
        "stopped_at": None if beam.stopped_at is None else _point(beam.stopped_at, unit),
        "stopped_after": _value(beam.stopped_after, unit),
    }
