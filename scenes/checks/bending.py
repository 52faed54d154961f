"""Check of long beams: how far the air bends them, by its stated gradient and by its own weight."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ..model.finding import Finding, Severity
from ..model.survey import Setup
from ..tracing.air import gradient_of_weight
from ..tracing.spots import spots
from ..tracing.state import NOMINAL
from ..units import PLACE, from_si, show
from ..vectors import Floats
from .allowances import PART, strictest
from .faults import is_astray
from .plan import Plan
from .saying import names_of, setup_finding, station_name

__all__ = ["check_bending"]


def _moved(plan: Plan, gradient: float) -> Floats:
    """How far ``(m, 2)`` [m] a gradient [K/m] beyond the stated one moves the spots along h and v."""
    seen = spots(plan.geometry, replace(NOMINAL, gradient=np.array(gradient)))
    tells = np.stack([plan.geometry.reads["h"], plan.geometry.reads["v"]], axis=1)
    ways = np.stack([seen.h - plan.spots.h, seen.v - plan.spots.v], axis=1)
    return np.where(tells, ways, 0.0)


def check_bending(plan: Plan) -> list[Finding]:
    """Beams that the air bends by a part of the limit: what of it is known and counted, and what is not."""
    air, rows = plan.layout.air, plan.geometry.rows
    stated = -_moved(plan, -air.gradient) if air.gradient else np.zeros((len(rows), 2))
    unsure = _moved(plan, air.gradient_known_to) if air.gradient_known_to else np.zeros((len(rows), 2))
    found = []
    for number, name in enumerate(rows.setups):
        setup = plan.layout.setups[name]
        mine = np.nonzero((rows.setup == number) & ~is_astray(plan))[0]
        if not len(mine):
            continue
        emitter = plan.layout.emitters[setup.emitter]
        weight = float(gradient_of_weight(
            air.temperature, pressure=air.pressure, humidity=air.humidity, wavelength=emitter.wavelength
        ))  # fmt: skip
        parts = [part[mine] for part in (stated, unsure, _moved(plan, weight))]
        limit, task = strictest(plan.layout, names_of(plan, mine))
        worst = int(np.argmax(np.max(np.abs(parts), axis=(0, 2))))
        if max(float(np.abs(part).max()) for part in parts) > PART * limit:
            found.append(_finding(plan, setup, int(mine[worst]), [part[worst] for part in parts], limit, task))
    return found


def _finding(plan: Plan, setup: Setup, row: int, parts: list[Floats], limit: float, task: str) -> Finding:
    units, air = plan.layout.units, plan.layout.air
    by_gradient, by_doubt, by_weight = (show(float(np.linalg.norm(part)), units.deviation) for part in parts)
    unit = "K/m"
    doubt = f", known to {from_si(air.gradient_known_to, unit, 'temperature gradient'):g} {unit}, so to {by_doubt}"
    return setup_finding(
        setup, Severity.NOTE, "bent-beam",
        f"over the {show(float(plan.spots.path[row]), units.length, to=PLACE)} to {station_name(plan, row)} the stated "
        f"gradient of {from_si(air.gradient, unit, 'temperature gradient'):g} {unit} bends the beam by {by_gradient}"
        f"{doubt if air.gradient_known_to else ''}, and the weight of the air by {by_weight}; {task} allows "
        f"{show(limit, units.deviation)}",
        "the stated gradient is taken out, the weight of the air only where the gradient counts it: read with fans on "
        "and doors shut, measure the gradient along the beam, or shorten the beam",
    )  # fmt: skip
