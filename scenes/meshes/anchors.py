"""Where words belong in the picture: station labels and findings, with a camera that looks there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..checks.plan import Plan
from ..errors import GeometryError
from ..model.finding import Finding
from ..model.layout import Layout
from ..model.survey import Setup
from ..tracing.launches import launch_of
from ..tracing.places import pose_of, station_places
from ..tracing.sight import triangles_of
from ..vectors import Floats, frozen
from .beam_paths import BeamPaths, beam_paths
from .cameras import Camera, camera_toward

__all__ = ["Anchor", "FindingPlace", "Labels", "finding_anchor", "finding_places", "has_place", "station_labels"]


@dataclass(frozen=True, slots=True, eq=False)
class Labels:
    """Names and the points ``(n, 3)`` [m, world] that they belong to."""

    names: tuple[str, ...]
    points: Floats


@dataclass(frozen=True, slots=True, eq=False)
class Anchor:
    """The point ``(3,)`` [m, world] that a finding is about, and a camera that shows it."""

    point: Floats
    camera: Camera


def station_labels(layout: Layout, names: tuple[str, ...] | None = None, above: float | None = None) -> Labels:
    """Label points of stations: ``above`` [m] over the surface, or just above their detectors where not given."""
    chosen = tuple(layout.stations) if names is None else names
    foot, normal, rise = station_places(layout, chosen)
    if above is None:
        window = np.array([layout.targets[layout.stations[name].target].window_v for name in chosen])
        rise = rise + window + 0.02
    else:
        rise = np.full(len(chosen), above)
    return Labels(chosen, frozen(foot + rise[:, None] * normal))


def _middle(layout: Layout) -> Floats:
    """Middle of everything that stands in the layout, world."""
    points = [triangles_of(each.shape).moved(each.world_from_surface).vertices for each in layout.surfaces.values()]
    points += [pose_of(layout, setup.on).points(setup.at)[None] for setup in layout.setups.values()]
    corners = np.vstack([np.zeros((0, 3)), *points]) if points else np.zeros((1, 3))
    result: Floats = 0.5 * (corners.min(axis=0) + corners.max(axis=0))
    return result


def _station(layout: Layout, name: str) -> tuple[Floats, float]:
    foot, normal, rise = station_places(layout, (name,))
    return foot[0] + rise[0] * normal[0], max(0.4, 2.5 * float(rise[0]))


def _setup(layout: Layout, name: str) -> tuple[Floats, float]:
    setup = layout.setups[name]
    pose = pose_of(layout, setup.on)
    try:
        launch = launch_of(layout, setup)
    except GeometryError:  # a set-up that cannot be traced stands where it is placed
        return pose.points(setup.at) + setup.mount.height * pose.rotation[:, 2], 0.6
    point = launch.origin + launch.beam_height * launch.rotation[:, 2]
    foot = pose.inverse().points(point)
    return point, float(np.clip(0.8 * abs(foot[2]), 0.45, 1.6))


def _surface(layout: Layout, name: str) -> tuple[Floats, float]:
    surface = layout.surfaces[name]
    corners = surface.world_from_surface.points(triangles_of(surface.shape).vertices)
    low, high = corners.min(axis=0), corners.max(axis=0)
    return 0.5 * (low + high), 0.6 * float(np.linalg.norm(high - low))


def _task(layout: Layout, name: str) -> tuple[Floats, float]:
    task = layout.tasks[name]
    if not task.stations:
        return _surface(layout, task.surface) if task.surface in layout.surfaces else (_middle(layout), 3.0)
    foot = station_places(layout, task.stations)[0]
    centre = foot.mean(axis=0)
    return centre, max(0.5, 1.1 * float(np.linalg.norm(foot - centre, axis=1).max()))


def _nose(layout: Layout, setup: Setup, stop: int = 0) -> tuple[Floats, float]:
    """Place of the prism of a set-up at one of its stops."""
    assert setup.prism is not None
    try:
        launch = launch_of(layout, setup)
    except GeometryError:
        return _setup(layout, setup.name)
    return launch.origin + setup.prism.stops[stop].distance * launch.rotation[:, 0], 0.5


def _device(layout: Layout, name: str) -> tuple[Floats, float] | None:
    """Place of the first set-up or station that uses the device, or None."""
    for setup in layout.setups.values():
        if setup.prism is not None and name == setup.prism.prism:
            return _nose(layout, setup)
        if name in (setup.emitter, setup.base, setup.stage, setup.vial):
            return _setup(layout, setup.name)
        if name in setup.through and setup.reads:
            return _station(layout, setup.reads[setup.through.index(name) % len(setup.reads)])
    for station in layout.stations.values():
        if name == station.target:
            return _station(layout, station.name)
    return None


def _place(layout: Layout, kind: str, name: str) -> tuple[Floats, float]:
    """Point and radius of what a finding is about; the whole layout where it names nothing that stands anywhere."""
    known = {
        "station": (layout.stations, _station), "set-up": (layout.setups, _setup),
        "task": (layout.tasks, _task), "surface": (layout.surfaces, _surface),
    }  # fmt: skip
    if kind in known and name in known[kind][0]:
        return known[kind][1](layout, name)
    found = _device(layout, name) if kind == "device" else None
    return (_middle(layout), 3.0) if found is None else found


@dataclass(frozen=True, slots=True, eq=False)
class FindingPlace:
    """What a finding is about: a point, how far around it matters [m], and from where it shows, or None for outside."""

    point: Floats
    radius: float
    away: Floats | None


def _stopped(plan: Plan, paths: BeamPaths, finding: Finding) -> FindingPlace | None:
    """Where the beam of a finding meets a machine surface; None where it is free."""
    rows = plan.geometry.rows
    if finding.kind != "station" or finding.name not in rows.stations or finding.code not in ("blocked", "clipped"):
        return None
    mine = (rows.station == rows.stations.index(finding.name)) & np.isfinite(paths.mark[:, 0])
    if finding.setup in rows.setups:
        mine &= rows.setup == rows.setups.index(finding.setup)
    chosen = np.nonzero(mine)[0]
    if len(chosen) == 0:
        return None
    row = chosen[0]
    point, along = paths.mark[row], paths.heading[row]
    off = point - _surface(plan.layout, plan.obstacles.names[plan.sight.by[row]])[0]
    across = np.array([-along[1], along[0], 0.0]) if abs(along[2]) < 0.9 else np.array([0.8, 0.6, 0.0])
    side = across if across @ off > 0.0 else -across
    return FindingPlace(point, 0.8, -along + 0.7 * side + np.array([0.0, 0.0, 0.6]))


def finding_places(layout: Layout, findings: Sequence[Finding], plan: Plan | None = None) -> tuple[FindingPlace, ...]:
    """Place of each of ``findings``.

    With a traced ``plan`` a blocked or clipped beam is shown at the obstacle, from the emitter and from the free side.
    """
    paths = None if plan is None else beam_paths(plan.geometry, plan.spots, plan.sight)
    places = []
    for finding in findings:
        stopped = None if plan is None or paths is None else _stopped(plan, paths, finding)
        places.append(FindingPlace(*_place(layout, finding.kind, finding.name), None) if stopped is None else stopped)
    return tuple(places)


def has_place(layout: Layout, finding: Finding) -> bool:
    """Whether a finding is about something that stands somewhere, and not about a task or the survey as a whole."""
    named = {"station": layout.stations, "set-up": layout.setups, "surface": layout.surfaces}
    if finding.kind == "device":
        return _device(layout, finding.name) is not None
    return finding.name in named.get(finding.kind, ())


def finding_anchor(layout: Layout, finding: Finding, plan: Plan | None = None) -> Anchor:
    """Point that ``finding`` is about and a camera that shows it.

    With a traced ``plan`` a blocked or clipped beam is shown at the obstacle, from the emitter and from the free
    side; everything else from outside the machine, a little from above.
    """
    place = finding_places(layout, (finding,), plan)[0]
    point = place.point
    if place.away is not None:
        return Anchor(frozen(point), camera_toward(point, place.away, place.radius))
    outward = (point - _middle(layout)) * np.array([1.0, 1.0, 0.0])
    if np.linalg.norm(outward) < 0.05:
        outward = np.array([-0.55, -0.75, 0.0])
    away = outward / np.linalg.norm(outward) + np.array([0.0, 0.0, 0.6])
    return Anchor(frozen(point), camera_toward(point, away, place.radius))
