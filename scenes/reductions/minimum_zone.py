"""The minimum zone of a profile (two lines) or a surface (two planes), with orthogonal width, exact.

Three steps. The exchange finds the narrowest vertical zone of a working set; in a frame along the zone itself vertical
and orthogonal are the same, so the frame is turned until the contacts hold in their own frame. All points are then
measured against that zone, and those that stick out join the working set. Last, the zone is proved to be the narrowest
of all directions (see zone_proof); a set that is not thin enough for the proof goes through its convex hull.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from scenes.errors import GeometryError
from scenes.reductions.spans import FloatArray, coordinates_of, corners_of, frame_along, refuse_missing, scatter_frame
from scenes.reductions.zone_exchange import WEIGHT_NOISE, Zone, exchange
from scenes.reductions.zone_hull import narrowest_direction
from scenes.reductions.zone_proof import contact_reach, possible_excess

__all__ = ["HeldZone", "minimum_zone"]

SAMPLE = 3000
"""Points that the first zone of a large set is found from."""

FULL = 16_000
"""Largest set that goes into the exchange whole."""

NEGLIGIBLE = 1e-14
"""Doubt in the width, over the extent, that is left without going through the hull: rounding of the coordinates."""

MEASURED_AT_ONCE = 32_768
FORGETFUL_ROUNDS = 3
GOLDEN = 0.6180339887498949


@dataclass(frozen=True, slots=True, eq=False)
class HeldZone:
    """The narrowest zone and what holds it: ``deviations`` (n,) are counted from its middle, + along ``normal``."""

    normal: FloatArray
    offset: float
    width: float
    deviations: FloatArray
    high: npt.NDArray[np.intp]
    low: npt.NDArray[np.intp]
    high_weights: FloatArray
    low_weights: FloatArray


def minimum_zone(points: FloatArray) -> HeldZone:
    """Return the narrowest zone of points (n, 2) or (n, 3) between parallel lines or planes.

    Raises
    ------
    GeometryError
        When the points do not span a line or plane, or a coordinate is not finite.
    """
    chosen = spread_sample(len(points))
    try:
        centre, normal, size = scatter_frame(part_of(points, chosen))
    except GeometryError:
        chosen = np.arange(len(points))
        centre, normal, size = scatter_frame(coordinates_of(points))
    zone, normal, chosen, result = zone_of_all(points, chosen, centre, normal, size)
    if doubt(zone) > NEGLIGIBLE:
        found = narrowest_direction((points - centre) / size)
        if found is not None and found[1] < zone.orthogonal_width * (1.0 - WEIGHT_NOISE):
            zone, normal, chosen, result = zone_of_all(points, chosen, centre, found[0], size)
    return held(zone, normal, chosen, result)


def part_of(points: FloatArray, chosen: npt.NDArray[np.intp]) -> FloatArray:
    """Return coordinates (d, k) of the chosen points."""
    return coordinates_of(points if len(chosen) == len(points) else points[chosen])


def doubt(zone: Zone) -> float:
    """Return by how much the narrowest zone of all directions might be narrower."""
    lean = float(np.sqrt(zone.slopes @ zone.slopes))
    reach = float(contact_reach(zone.inverse, zone.weights()))
    if reach >= (1.0 + lean) * zone.width:
        return 0.0  # the first case of the proof, which holds for nearly every machine surface
    return float(possible_excess(zone.width, lean, reach, zone.breadth))


def spread_sample(count: int) -> npt.NDArray[np.intp]:
    """Return indices of all points of a small set, or of a sample in steps that fit no row of a grid."""
    if count <= FULL:
        return np.arange(count)
    return (np.arange(SAMPLE) * GOLDEN % 1.0 * count).astype(np.intp)


@dataclass(frozen=True, slots=True, eq=False)
class Measured:
    """All points measured along a normal: heights (n,), their extremes, and indices of those beyond two limits."""

    heights: FloatArray
    high: float
    low: float
    outside: npt.NDArray[np.intp]


def measured(points: FloatArray, normal: FloatArray, upper: float, lower: float) -> Measured:
    """Return all points measured along the normal, in blocks that stay in the cache.

    Raises
    ------
    GeometryError
        When a coordinate is not finite.
    """
    heights = np.empty(len(points))
    high, low, outside = -np.inf, np.inf, []
    for at in range(0, len(points), MEASURED_AT_ONCE):
        part = heights[at : at + MEASURED_AT_ONCE]
        np.dot(points[at : at + MEASURED_AT_ONCE], normal, out=part)
        top, bottom = float(part.max()), float(part.min())
        if not math.isfinite(top - bottom):
            refuse_missing(points)
        high, low = max(high, top), min(low, bottom)
        if top > upper or bottom < lower:
            outside.append(np.flatnonzero((part > upper) | (part < lower)) + at)
    return Measured(heights, high, low, np.concatenate(outside) if outside else np.empty(0, dtype=np.intp))


def zone_of_all(
    points: FloatArray, chosen: npt.NDArray[np.intp], centre: FloatArray, normal: FloatArray, size: float
) -> tuple[Zone, FloatArray, npt.NDArray[np.intp], Measured]:
    """Return zone, unit normal, working set and all points measured; no point sticks out of the zone.

    The working set grows by every point near the rim of the zone. The first sets forget the points well inside it.
    """
    rounds = 0
    while True:
        part = part_of(points, chosen)
        zone, normal = zone_in_own_frame((part - centre[:, None]) / size, normal)
        inside = normal @ part
        upper, lower = float(inside.max()), float(inside.min())
        inset = 0.05 * 0.5**rounds * (upper - lower) if len(chosen) < len(points) else -np.inf
        result = measured(points, normal, upper - inset, lower + inset)
        noise = 4.0 * np.finfo(float).eps * float(np.abs(normal) @ (np.abs(centre) + size))
        beyond = max(result.high - upper, lower - result.low)
        if beyond <= noise or len(chosen) == len(points):
            return zone, normal, chosen, result
        outside = result.outside
        if outside.size > FULL:
            outside = outermost(result.heights, outside, (upper + lower) / 2.0)
        chosen = np.union1d(chosen[zone.members] if rounds < FORGETFUL_ROUNDS else chosen, outside)
        rounds += 1


def outermost(rest: FloatArray, outside: npt.NDArray[np.intp], middle: float) -> npt.NDArray[np.intp]:
    """Return the FULL indices that lie farthest from the middle."""
    depth = np.abs(rest[outside] - middle)
    keep: npt.NDArray[np.intp] = outside[np.argpartition(depth, -FULL)[-FULL:]]
    return keep


def zone_in_own_frame(coordinates: FloatArray, normal: FloatArray) -> tuple[Zone, FloatArray]:
    """Return the zone of a working set (d, k) and its unit normal, with contacts that hold in the frame of that normal.

    Every turn makes the orthogonal width smaller, and there are finitely many sets of contacts.
    """
    while True:
        frame = frame_along(normal)
        local = frame @ coordinates
        corners, _, breadth = corners_of(local[:-1])
        zone = exchange(local, corners, breadth)
        if zone is None:
            raise GeometryError(
                "The points span a plane so poorly that rounding decides which of them hold the zone. Read stations "
                "farther apart across the narrow side."
            )
        steep = float(zone.slopes @ zone.slopes)
        lean = np.append(-zone.slopes, 1.0)
        holds = zone.weights(zone.width / (1.0 + steep) * lean[:-1]).min() >= -WEIGHT_NOISE
        normal = lean @ frame
        normal /= math.sqrt(float(normal @ normal))
        if holds or steep <= 4.0 * np.finfo(float).eps:
            return zone, normal


def held(zone: Zone, normal: FloatArray, chosen: npt.NDArray[np.intp], result: Measured) -> HeldZone:
    """Return the zone with the weights of its contacts in its own frame; heights become deviations in place."""
    steep = float(zone.slopes @ zone.slopes)
    lean = -zone.slopes / (1.0 + steep)
    weights = np.clip(zone.weights(zone.width * lean), 0.0, None)
    members, upper = chosen[zone.members], zone.sides > 0.0
    deviations, offset = result.heights, (result.high + result.low) / 2.0
    deviations -= offset
    high_weights, low_weights = weights[upper], weights[~upper]
    return HeldZone(
        normal,
        offset,
        result.high - result.low,
        deviations,
        members[upper],
        members[~upper],
        high_weights / high_weights.sum(),
        low_weights / low_weights.sum(),
    )
