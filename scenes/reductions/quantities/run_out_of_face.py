"""Total run-out of a face: deviations at all radii from the plane square to the axis that it is turned about.

The light need not be square to that axis. A point of the face that is turned past two places stands equally far ahead
at both, so that what its two readings differ by is how the light leans between these places. The lean is the
least-squares one of all points that are read at several places; plain rigid motion, no outside source.
"""

from __future__ import annotations

import numpy as np

from ...vectors import Floats
from .definition import Profile
from .evidence import SAME_PLACE, Evidence

__all__ = ["over_face"]

THIN = 1e-3
"""Share of the extent of the places that common points must span, so that the lean is told and not guessed."""


def over_face(evidence: Evidence, stations: tuple[str, ...], counted: Floats) -> Profile | str:
    """Deviations along ``counted`` (3,) of the stations of a face from the plane square to its axis; else why not."""
    if evidence.task.to:
        return "a face counts from the plane square to its own axis of turning: leave out to:"
    places = np.array([evidence.layout.stations[name].at[:2] for name in stations]).reshape(-1, 2)
    turns = np.array([evidence.layout.stations[name].turn for name in stations])
    away = places - places.mean(axis=0)
    fit = _lean(away, _within(_points(places, turns)))
    if fit is None:
        return (
            "how the light leans against the plane square to the axis of turning is not known: read the same points of "
            "the face at several places, best the same radii on both sides of the axis, at turns half a turn apart"
        )
    jacobian = evidence.displacements(stations, counted)
    jacobian = jacobian - away @ (fit @ jacobian)
    feet = evidence.feet(stations)
    return Profile(
        stations, ("from square to the axis",) * len(stations), feet, np.broadcast_to(counted, feet.shape),
        np.zeros(len(stations)), jacobian - jacobian.mean(axis=0),
    )  # fmt: skip


def _points(places: Floats, turns: Floats) -> Floats:
    """Points ``(n, 2)`` of the face that stand under ``places`` (n, 2) when it is turned right-handed by ``turns``."""
    cos, sin = np.cos(turns), np.sin(turns)
    return np.column_stack([cos * places[:, 0] + sin * places[:, 1], cos * places[:, 1] - sin * places[:, 0]])


def _within(points: Floats) -> Floats:
    """What ``(n, n)`` takes off every row the mean of the rows of the same point."""
    apart = np.linalg.norm(points[:, None] - points[None], axis=2)
    first = np.argmax(apart < SAME_PLACE, axis=1)
    same = (first[:, None] == first[None]).astype(np.float64)
    gain: Floats = np.eye(len(points)) - same / same.sum(axis=1, keepdims=True)
    return gain


def _lean(away: Floats, within: Floats) -> Floats | None:
    """Slope ``(2, n)`` of the light over the places, in the directions in which these lie; None where it stays open."""
    _, extent, axes = np.linalg.svd(away, full_matrices=False)
    spanned = axes[extent > THIN * max(float(extent[0]), SAME_PLACE)]
    moved = within @ away @ spanned.T
    if not len(spanned) or float(np.linalg.svd(moved, compute_uv=False)[-1]) < THIN * float(extent[0]):
        return None
    fit: Floats = spanned.T @ np.linalg.pinv(moved) @ within
    return fit
