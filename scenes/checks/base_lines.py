"""Checks of base lines: whether near and far targets enclose what is read, and the emitter can be set on their line."""

from __future__ import annotations

import numpy as np

from ..model.finding import Finding, Severity
from ..model.survey import Setup
from ..tracing.places import pose_of, station_places
from ..units import PLACE, SIZE, show
from ..vectors import Floats, Indices, dot
from .mends import STILL, moved
from .plan import Plan
from .saying import names_of, setup_finding

__all__ = ["check_datum_ends", "check_emitter_on_line"]

BESIDE = 1e-3
"""A place this far [m] beyond an end still counts as at it, and an emitter this far off its line as on it."""


def _setups_with_ends(plan: Plan) -> list[tuple[Setup, Indices]]:
    """Set-ups whose line near and far targets set, and their rows other than those targets."""
    rows, found = plan.geometry.rows, []
    for number, name in enumerate(rows.setups):
        setup = plan.layout.setups[name]
        if setup.near and setup.far:
            ends = np.array([station in (setup.near, setup.far) for station in rows.stations], dtype=bool)
            found.append((setup, np.nonzero((rows.setup == number) & ~ends[rows.station])[0]))
    return found


def _along(plan: Plan, setup: Setup, mine: Indices) -> tuple[Floats, Floats]:
    """Places ``(k,)`` [m] along the beam of detectors, or of the prism that they are read through, and of both ends.

    They count from the emitter as set up; reversed, the line is the same.
    """
    geometry = plan.geometry
    first = int(np.nonzero(geometry.rows.setup == geometry.rows.setups.index(setup.name))[0][0])
    origin, along = geometry.launch_origin[first], geometry.launch_rotation[first][:, 0]
    points = geometry.detector_centres()
    points[geometry.noses.rows] = geometry.noses.centre
    foot, normal, rise = station_places(plan.layout, (setup.near, setup.far))
    ends = foot + rise[:, None] * normal
    return dot(points[mine] - origin, along), dot(ends - origin, along)


def check_datum_ends(plan: Plan) -> list[Finding]:
    """Stations and stops of a prism that lie beyond the near or the far target of their base line.

    With errors of equal size at both ends, the line is off at the share t of the way from near to far by
    sqrt((1 - t)^2 + t^2) times that size: less between the ends, more beyond them.
    """
    found = []
    for setup, mine in _setups_with_ends(plan):
        if not len(mine):
            continue
        places, ends = _along(plan, setup, mine)
        low, high = float(ends.min()), float(ends.max())
        beyond = np.maximum(low - places, places - high)
        out = beyond > BESIDE
        if out.any():
            found.append(_extrapolated(plan, setup, mine[out], places[out], (low, high)))
    return found


def _extrapolated(plan: Plan, setup: Setup, out: Indices, places: Floats, ends: tuple[float, float]) -> Finding:
    unit, (low, high) = plan.layout.units.length, ends
    share = (places - low) / (high - low)
    gain = np.hypot(1.0 - share, share)
    worst = int(np.argmax(gain))
    stop = int(plan.geometry.rows.stop[out[worst]])
    what = names_of(plan, out[[worst]])[0]
    if stop >= 0 and setup.prism is not None:
        what = f"the prism at {setup.prism.stops[stop].name} (for {what})"
    past_far = places[worst] > high
    end = setup.far if past_far else setup.near
    by = float(places[worst] - high if past_far else low - places[worst])
    names = names_of(plan, out)
    count = f"; {len(names)} stations are read beyond the ends" if len(names) > 1 else ""
    return setup_finding(
        setup, Severity.WARNING, "datum-extrapolated",
        f"{what} stands {show(by, unit, to=PLACE)} {'beyond' if past_far else 'before'} {end}: an error at the ends of "
        f"the base line is {gain[worst]:.1f} times as large there{count}",
        _wider_words(plan, setup, places, ends),
    )  # fmt: skip


def _wider_words(plan: Plan, setup: Setup, places: Floats, ends: tuple[float, float]) -> str:
    """Where the ends have to stand to enclose everything, in words."""
    unit, parts = plan.layout.units.length, []
    targets = plan.layout.stations[setup.near].is_datum
    for end, name, wanted, out in (
        ("near", setup.near, float(places.min()), places.min() < ends[0] - BESIDE),
        ("far", setup.far, float(places.max()), places.max() > ends[1] + BESIDE),
    ):
        if not out:
            continue
        at = f"{show(wanted, unit, to=PLACE)} {'or less' if end == 'near' else 'or more'} along the beam"
        parts.append(f"stand {name} at {at}" if targets else f"take a {end} station at {at}")
    return " and ".join(parts)


def check_emitter_on_line(plan: Plan) -> list[Finding]:
    """Emitters off the line of near and far, by more than their stage can shift and tilt them, or without a stage."""
    found = []
    rows = plan.geometry.rows
    for number, name in enumerate(rows.setups):
        setup = plan.layout.setups[name]
        if setup.near and setup.far and not plan.layout.stations[setup.near].is_datum:
            row = int(np.nonzero((rows.setup == number) & (rows.side == 0))[0][0])
            found += _off_line(plan, setup, row)
    return found


def _off_line(plan: Plan, setup: Setup, row: int) -> list[Finding]:
    geometry, layout, unit = plan.geometry, plan.layout, plan.layout.units.length
    pose = pose_of(layout, setup.on)
    rise = setup.mount.height + layout.emitters[setup.emitter].beam_height
    stand = pose.points(setup.at) + rise * pose.rotation[:, 2]
    off = geometry.launch_origin[row] - stand
    aside, up = (float(off @ geometry.launch_rotation[row][:, axis]) for axis in (1, 2))
    local = pose.inverse().directions(geometry.launch_rotation[row][:, 0])
    tilt = _tilt(setup, local)
    ways = [(up, "above", "below"), (aside, "to the left of", "to the right of")]
    parts = [
        f"{show(abs(by), unit, to=SIZE)} {more if by > 0.0 else less}" for by, more, less in ways if abs(by) > STILL
    ]  # fmt: skip
    said = (
        f"the line through {setup.near} and {setup.far} passes {' and '.join(parts)} the beam of {setup.emitter} where "
        "it stands"
    )
    mend = moved(layout, setup, pose.inverse().directions(off))
    advice = mend.words if mend else f"stand {setup.emitter} on another mount, or take mounts of other heights"
    if not setup.stage:
        if max(abs(up), abs(aside)) <= BESIDE:
            return []
        return [setup_finding(setup, Severity.WARNING, "emitter-off-line", said, advice)]
    stage, found = layout.stages[setup.stage], []
    if max(abs(up), abs(aside)) > stage.shift_range:
        able = f"; {stage.name} shifts it by {show(stage.shift_range, unit, to=SIZE)} either way"
        found.append(setup_finding(setup, Severity.ERROR, "stage-range", said + able, advice))
    if tilt > stage.tilt_range:
        found.append(setup_finding(
            setup, Severity.ERROR, "stage-range",
            f"the line through {setup.near} and {setup.far} runs {show(tilt, 'deg', 'angle', 3)} off the way the "
            f"emitter looks; {stage.name} tilts it by {show(stage.tilt_range, 'deg', 'angle', 3)} either way",
            _aim_words(setup, local, tilt - stage.tilt_range),
        ))  # fmt: skip
    return found


def _tilt(setup: Setup, local: Floats) -> float:
    """Turn [rad] of the emitter onto its line: from its aim, or without one out of the plane that it stands on."""
    if setup.aim is None:
        return float(np.abs(np.arcsin(np.clip(local[2], -1.0, 1.0))))
    return float(np.arctan2(np.linalg.norm(np.cross(setup.aim, local)), setup.aim @ local))


def _aim_words(setup: Setup, local: Floats, more: float) -> str:
    if setup.aim is None:
        size = show(more, "deg", "angle", 3)
        return f"tilt what the stage stands on by {size} or more, or bring near and far to one height"
    return f"aim the emitter along the line: aim: [{', '.join(f'{part:.5f}' for part in local)}]"
