"""Check of the radii in a swept plane: whether a cone could be told from a height and a tilt of the whole plane."""

from __future__ import annotations

import numpy as np

from ..model.finding import Finding, Severity
from ..model.survey import Method, Setup
from ..tracing.geometry import SurveyGeometry
from ..tracing.sensitivity import channel_slopes
from ..units import PLACE, show
from ..vectors import Floats, Indices, length
from .faults import is_astray
from .plan import Plan
from .saying import setup_finding

__all__ = ["EQUAL_RADII", "check_radii"]

EQUAL_RADII = 1e-3
"""A cone cannot be told from a plane where what a plane leaves of it is below this share of its size."""

LEAST = 4
"""With fewer stations a plane goes through everything."""

_CONE = {Method.BASE_PLANE: "cone", Method.PRISM_PLANE: "mirror"}
"""Error of a device that makes a cone of its plane."""

_FRAME = {Method.BASE_PLANE: ("tilt_x", "tilt_y", "lift"), Method.PRISM_PLANE: ("tilt_y", "tilt_z", "prism_x")}
"""What moves that plane as a whole."""


def check_radii(plan: Plan) -> list[Finding]:
    """Planes whose stations are all at one radius, so that a cone lifts or tilts all of them together."""
    rows, found = plan.geometry.rows, []
    for number, name in enumerate(rows.setups):
        setup = plan.layout.setups[name]
        if setup.method not in _CONE:
            continue
        mine = (rows.setup == number) & (rows.side == 0) & ~is_astray(plan)
        for stop in np.unique(rows.stop[mine & ((rows.stop >= 0) | (setup.prism is None))]).tolist():
            here = np.nonzero(mine & (rows.stop == stop))[0]
            chosen = here[np.unique(rows.station[here], return_index=True)[1]]
            if len(chosen) >= LEAST and _cone_share(plan.geometry.chosen(chosen), setup.method) < EQUAL_RADII:
                found.append(_finding(plan, setup, stop, chosen))
    return found


def _cone_share(geometry: SurveyGeometry, method: Method) -> float:
    """What tilts and a shift of the plane leave of a cone: root mean square, as a share of the mean size."""
    error, frame = _CONE[method], _FRAME[method]
    slopes = channel_slopes(geometry, (error, *frame))

    def read(field: str) -> Floats:
        return np.where(geometry.frees_h, slopes["v"][field], slopes["h"][field])

    cone = read(error)
    design = np.column_stack([read(field) for field in frame])
    size = np.abs(design).max(axis=0)
    q, values, _ = np.linalg.svd(design / np.where(size > 0.0, size, 1.0), full_matrices=False)
    q = q[:, values > 1e-9 * values[0]]
    left = cone - q @ (q.T @ cone)
    return float(np.sqrt(np.mean(left**2)) / np.mean(np.abs(cone)))


def _finding(plan: Plan, setup: Setup, stop: int, chosen: Indices) -> Finding:
    units, geometry = plan.layout.units, plan.geometry
    radius = length(geometry.detector_centres()[chosen] - geometry.sources()[chosen])
    low, high, mean = float(radius.min()), float(radius.max()), float(radius.mean())
    device, known_to, gain = _device(plan, setup)
    place = f" at {setup.prism.stops[stop].name}" if setup.prism is not None and len(setup.prism.stops) > 1 else ""
    middle, amount = show(mean, units.length, to=PLACE), ""
    if known_to > 0.0:
        lifts = show(gain * known_to * mean, units.deviation)
        amount = f"; its angle is known to {show(known_to, units.angle, 'angle')}, {lifts} at {middle}"
    if high - low < EQUAL_RADII * mean:
        message = (
            f"all {len(chosen)} stations stand {middle} from {device}{place}: light that is not square to its axis of "
            f"turning moves all readings alike, so that such a cone cannot be found{amount}"
        )
        advice = (
            "form read from here alone does not suffer; to find the cone, read one more station at half that distance, "
            f"{show(0.5 * mean, units.length, to=PLACE)}"
        )
    else:
        spans = f"{show(low, units.length, to=PLACE)} to {show(high, units.length, to=PLACE)}"
        message = (
            f"the distances of all {len(chosen)} stations from {device}{place}, {spans}, change as on a tilted plane: "
            "light that is not square to its axis of turning tilts all readings, and nothing tells that from a "
            f"tilt{amount}"
        )
        advice = f"form read from here alone does not suffer, directions do: read the other side of {device} as well"
    return setup_finding(setup, Severity.NOTE, "equal-radii", message, advice)


def _device(plan: Plan, setup: Setup) -> tuple[str, float, float]:
    """What turns the light, how well its angle is known [rad], and the cone that 1 rad of that makes."""
    if setup.prism is None:
        base = plan.layout.bases[setup.base]
        return base.name, base.cone_known_to, 1.0
    prism = plan.layout.prisms[setup.prism.prism]
    return prism.name, prism.mirror_known_to, 2.0 * prism.index
