"""Changes of a set-up that bring its spots to the middle of their detectors, the smallest change first."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from ..model.survey import Method, Setup, Stop
from ..tracing.places import pose_of
from ..units import SIZE, show
from ..vectors import Floats, Indices, dot, length, unit
from .faults import places
from .mends import STILL, TURN, Mend, moved, rounded, stops_words
from .plan import Plan

__all__ = ["off_light", "window_mends"]

LEAST_SPAN = 0.1
"""Stations must reach this far [m] along a line to say how it should be turned."""


def window_mends(plan: Plan, setup: Setup, mine: Indices) -> Iterator[Mend]:
    """Changes to try for the rows ``mine`` of ``setup``."""
    match setup.method:
        case Method.BASE_PLANE:
            yield from _of_plane(plan, setup, mine)
        case Method.LINE if setup.aim is not None:
            yield from _of_line(plan, setup, mine)
        case Method.PRISM_LINE | Method.PRISM_PLANE:
            yield from _of_prism(plan, setup, mine)
        case _:
            return


def _middle(values: Floats) -> float:
    """Middle between the least and the largest value; 0 for none."""
    return 0.5 * float(values.min() + values.max()) if len(values) else 0.0


def _of_plane(plan: Plan, setup: Setup, mine: Indices) -> Iterator[Mend]:
    """The emitter raised or lowered along the axis of its base."""
    geometry = plan.geometry
    up = geometry.launch_rotation[mine][:, :, 2]
    channel = np.where(geometry.frees_h[mine], 1, 0)
    spot = np.take_along_axis(places(plan)[mine], channel[:, None], axis=1)[:, 0]
    axis = np.where(channel[:, None] == 1, geometry.axis_v[mine], geometry.axis_h[mine])
    mend = moved(plan.layout, setup, np.array([0.0, 0.0, -_middle(spot / dot(axis, up))]))
    if mend is not None:
        yield mend


def _in_frames(points: Floats, origin: Floats, frame: Floats) -> Floats:
    """Points ``(k, 3)`` in frames given by ``origin`` and ``frame`` (world from frame), one for each."""
    result: Floats = np.einsum("kji,kj->ki", frame, points - origin)
    return result


def _of_line(plan: Plan, setup: Setup, mine: Indices) -> Iterator[Mend]:
    """The line raised or lowered, moved aside, both, or laid through the detectors by turning it as well.

    A line that near and far stations set goes where they stand: nothing of it can be changed.
    """
    if setup.near and not plan.layout.stations[setup.near].is_datum:
        return
    geometry, rows = plan.geometry, plan.geometry.rows
    ends = np.array([name in (setup.near, setup.far) for name in rows.stations], dtype=bool)
    mine = mine[~ends[rows.station[mine]]]  # near and far stand in the beam and move with it
    if not len(mine):
        return
    centres = geometry.detector_centres()[mine]
    origin, frame = geometry.launch_origin[mine], geometry.launch_rotation[mine]
    s, y, z = _in_frames(centres, origin, frame).T
    along, aside, up = frame[0].T
    pose = pose_of(plan.layout, setup.on)
    for step in (_middle(z) * up, _middle(y) * aside, _middle(y) * aside + _middle(z) * up):
        if np.all(s > -STILL):
            mend = moved(plan.layout, setup, pose.inverse().directions(step))
            if mend is not None:
                yield mend
    direction, through = _line_through(centres, origin[0], along)
    start = through + ((origin[0] - through) @ direction) * direction
    mend = _turned(plan, setup, direction, start - origin[0])
    if mend is not None:
        yield mend


def _line_through(centres: Floats, origin: Floats, along: Floats) -> tuple[Floats, Floats]:
    """Direction of the line that goes near all detectors, away from the emitter, and a point of it."""
    middle = centres.mean(axis=0)
    _, values, axes = np.linalg.svd(centres - middle)
    if len(centres) < 2 or values[0] < LEAST_SPAN:
        away = middle - origin
        return (unit(away) if float(length(away)) > 0.0 else along), middle
    direction = axes[0]
    return (-direction if direction @ (middle - origin) < 0.0 else direction), middle


def _turned(plan: Plan, setup: Setup, direction: Floats, step: Floats) -> Mend | None:
    """The line of ``setup`` moved by ``step`` and turned to ``direction``, both (3,), world."""
    pose = pose_of(plan.layout, setup.on)
    aim = unit(np.round(pose.inverse().directions(direction), 5))
    assert setup.aim is not None
    angle = np.degrees(np.arctan2(float(length(np.cross(setup.aim, aim))), float(setup.aim @ aim)))
    shift = moved(plan.layout, setup, pose.inverse().directions(step))
    if shift is None and float(np.abs(step).max()) >= STILL:
        return None
    if angle < TURN:
        return shift
    changed = replace(setup if shift is None else shift.setup, aim=aim)
    words = f"turn the beam by {angle:.3f} deg (aim: [{', '.join(f'{part:.5f}' for part in aim)}])"
    return Mend(words if shift is None else f"{shift.words} and {words}", changed)


def _of_prism(plan: Plan, setup: Setup, mine: Indices) -> Iterator[Mend]:
    """The nose turned and its stops moved along the beam, then the line moved aside as well."""
    noses, use = plan.geometry.noses, setup.prism
    assert use is not None
    k = np.nonzero(np.isin(noses.rows, mine))[0]
    if not len(k):
        return
    rows = noses.rows[k]
    x, y, z = _in_frames(plan.geometry.detector_centres()[rows], noses.centre[k], noses.frame[k]).T
    side = plan.geometry.rows.side[rows]
    x = np.where(side == 1, -x, x)  # reversed, the beam comes from the other end
    stop = plan.geometry.rows.stop[rows]
    unit_name = plan.layout.units.length
    steps = {number: rounded(_middle(x[stop == number]), unit_name) for number in np.unique(stop).tolist()}
    stops = tuple(
        replace(each, distance=each.distance + steps.get(number, 0.0)) for number, each in enumerate(use.stops)
    )
    if min(each.distance for each in stops) <= 0.0:
        return
    along = any(abs(step) >= STILL for step in steps.values())
    wanted = np.arctan2(-y, z)[side == 0]
    by = _middle(np.arctan2(np.sin(wanted - use.turned), np.cos(wanted - use.turned)))
    degrees = 0.0 if use.sweeps else round(float(np.degrees(by)) / TURN) * TURN
    if along:
        yield _prism_mend(plan, setup, stops, 0.0)
    if degrees:
        yield _prism_mend(plan, setup, use.stops, degrees)
    if along and degrees:
        yield _prism_mend(plan, setup, stops, degrees)
    yield from _prism_aside(plan, setup, stops, np.stack([y, z])[:, side == 0])


def off_light(plan: Plan, rows: Indices) -> Floats:
    """How far ``(k,)`` [m] the light of their prism passes the detectors of ``rows``, as the nose is set or sweeps."""
    noses = plan.geometry.noses
    k = np.searchsorted(noses.rows, rows)
    x, y, z = _in_frames(plan.geometry.detector_centres()[rows], noses.centre[k], noses.frame[k]).T
    sin, cos = np.sin(noses.turned[k]), np.cos(noses.turned[k])
    across, ahead = y * cos + z * sin, z * cos - y * sin
    aside = np.where(ahead > 0.0, np.abs(across), np.hypot(across, ahead))
    result: Floats = np.where(noses.sweeps[k], np.abs(x), np.hypot(x, aside))
    return result


def _prism_mend(plan: Plan, setup: Setup, stops: tuple[Stop, ...], degrees: float) -> Mend:
    use = setup.prism
    assert use is not None
    words = []
    turned = use.turned + np.radians(degrees)
    if degrees:
        way = "right-handed about the beam" if degrees > 0.0 else "left-handed about the beam"
        words.append(f"turn the nose by {abs(degrees):.3f} deg {way}, to {np.degrees(turned):.3f} deg")
    if stops != use.stops:
        unit_name = plan.layout.units.length
        step = max((new.distance - old.distance for new, old in zip(stops, use.stops, strict=True)), key=abs)
        way = "farther along the beam" if step > 0.0 else "back along the beam"
        size = show(abs(step), unit_name, to=SIZE)
        words.append(f"move the prism by {size} {way}, to {stops_words(stops, unit_name)}")
    return Mend(" and ".join(words), replace(setup, prism=replace(use, turned=turned, stops=stops)))


def _prism_aside(plan: Plan, setup: Setup, stops: tuple[Stop, ...], off: Floats) -> Iterator[Mend]:
    """The base line moved so that the light of a fixed nose goes through its stations; ``off`` (2, k) in the nose."""
    use = setup.prism
    assert use is not None
    if setup.aim is None or not off.shape[1]:
        return
    if use.sweeps:
        return
    first = int(np.argmax(plan.geometry.rows.setup == plan.geometry.rows.setups.index(setup.name)))
    aside, up = plan.geometry.launch_rotation[first].T[1:]
    exit_ = np.array([-np.sin(use.turned), np.cos(use.turned)])
    across = np.array([np.cos(use.turned), np.sin(use.turned)])
    step = _middle(across @ off) * across
    if float(exit_ @ off.mean(axis=1)) <= 0.0:
        return
    pose = pose_of(plan.layout, setup.on)
    shift = moved(plan.layout, setup, pose.inverse().directions(step[0] * aside + step[1] * up))
    if shift is None:
        return
    yield shift
    if stops != use.stops:
        both = _prism_mend(plan, shift.setup, stops, 0.0)
        yield Mend(f"{shift.words} and {both.words}", both.setup)
