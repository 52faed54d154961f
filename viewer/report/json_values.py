"""Values in JSON: SI numbers in the units that the layout shows, rounded to what float64 carries."""

from __future__ import annotations

import math
from typing import Any

from scenes.model.finding import Finding
from scenes.model.layout import Layout
from scenes.reductions.network import Fitted
from scenes.reductions.quantities.shown import Scale
from scenes.units import from_si

__all__ = ["finding_value", "in_unit", "over_value", "rounded", "scaled", "unit_of_nuisance", "with_unit"]


def rounded(value: float | None, digits: int = 12) -> float | None:
    """A number rounded to significant digits; None where there is none."""
    return None if value is None or not math.isfinite(value) else float(f"{value:.{digits}g}")


def in_unit(value: float, unit: str, kind: str = "length") -> float | None:
    """SI value in ``unit``; None where there is none."""
    return rounded(from_si(float(value), unit, kind)) if math.isfinite(value) else None


def with_unit(value: float, unit: str, kind: str = "length") -> dict[str, Any]:
    """SI value beside its unit."""
    return {"value": in_unit(value, unit, kind), "unit": unit}


def scaled(value: float | None, scale: Scale) -> float | None:
    """SI value of a component in the unit of its scale; None where there is none."""
    return None if value is None or not math.isfinite(value) else rounded(scale.number(float(value)))


def over_value(scale: Scale) -> dict[str, Any] | None:
    """The length over which values are meant; None where there is none."""
    return with_unit(scale.over, scale.length_unit) if scale.over else None


def finding_value(finding: Finding, file: str) -> dict[str, Any]:
    """A finding."""
    return {
        "severity": str(finding.severity), "code": finding.code, "kind": finding.kind, "name": finding.name,
        "setup": finding.setup or None, "file": file, "line": finding.line or None,
        "message": finding.message, "advice": finding.advice,
    }  # fmt: skip


def unit_of_nuisance(layout: Layout, found: Fitted) -> tuple[str, str]:
    """Unit and kind in which a device error that was solved for is shown."""
    if found.field.startswith("drift"):
        return "urad/h", "angle rate"
    if found.field in ("prism_y", "prism_z"):
        return layout.units.deviation, "length"
    return layout.units.angle, "angle"
