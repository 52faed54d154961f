"""The face of a detector as a drawing in plain data: window, room, spots at true scale, margins with their numbers."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from scenes.checks.detector_view import SIDES, DetectorView
from scenes.units import SIZE, SPOT
from scenes.vectors import Floats
from viewer import text

__all__ = ["FACE_PART", "FACE_SIZE", "face_document"]

Document = dict[str, Any]

FACE_SIZE = (340, 252)
"""Width and height of the drawing in its own units."""

MOST_TALL, MOST_WIDE = 198.0, 198.0
"""Room for the window; numbers stand around it."""

ABOVE = 22.0
"""Room above the window for its number."""

FACE_PART = (0.5 * (FACE_SIZE[0] - MOST_WIDE) - 8.0, ABOVE - 8.0, MOST_WIDE + 16.0, MOST_TALL + 16.0)
"""Part of the drawing without the numbers around it: x, y, width, height."""

FAR = 2.5
"""A spot farther than this from the centre, in half windows, is told and not drawn."""

MOUNT = 5.0
"""Thickness of the mark of the mount."""


def _reach(view: DetectorView) -> Floats:
    """Half of what is drawn ``(2,)``, metres: the window, and the chosen spot where it is near enough."""
    half = 0.5 * view.window
    if not np.isfinite(view.spot).all():
        return half
    wanted = np.abs(view.spot) + 1.1 * view.radius
    return np.where(wanted <= FAR * half, np.maximum(half, wanted), half)


def face_document(view: DetectorView, others: list[DetectorView], unit: str) -> Document:
    """Drawing of one reading, with ``others`` of its station on detectors of the same size; ``unit`` of lengths."""
    width, _ = FACE_SIZE
    reach = _reach(view)
    scale = min(0.5 * MOST_WIDE / reach[0], 0.5 * MOST_TALL / reach[1])
    centre = np.array([0.5 * width, ABOVE + 0.5 * MOST_TALL])

    def at(points: ArrayLike) -> Floats:
        placed: Floats = centre + scale * np.asarray(points) * [1.0, -1.0]
        return placed

    same = [each for each in others if np.allclose(each.window, view.window)]
    spots = [_spot(each, at, f"other {n}", "other") for n, each in enumerate(same)] + [_spot(view, at, "own", "own")]
    half = 0.5 * view.window
    low, high = at([-half[0], half[1]]), at([half[0], -half[1]])
    return {
        "window": _rectangle(low, high),
        "room": _rectangle(at([-view.usable[0], view.usable[1]]), at([view.usable[0], -view.usable[1]]))
                if np.all(view.usable > 0.0) else None,
        "middle": _point(centre),
        "spots": [spot for spot in spots if spot is not None],
        "margins": _margins(view, low, high, unit),
        "free": _free(view, low, high, at),
        "mount": _mount(view, low, high),
        "label": _label(view, unit),
        "caption": _caption(view, unit),
    }  # fmt: skip


def _point(point: Floats) -> Document:
    return {"x": round(float(point[0]), 1), "y": round(float(point[1]), 1)}


def _rectangle(low: Floats, high: Floats) -> Document:
    return {**_point(low), "width": round(float(high[0] - low[0]), 1), "height": round(float(high[1] - low[1]), 1)}


def _spot(view: DetectorView, at: Any, key: str, kind: str) -> Document | None:
    """Outline and centre of a spot; None where the beam never meets the detector, or far off it."""
    if not np.isfinite(view.outline).all() or np.any(np.abs(view.spot) > FAR * view.window):
        return None
    points = at(view.outline)
    return {
        "key": key, "kind": kind if view.arrives else f"{kind} dr-lost", **_point(at(view.spot)),
        "points": " ".join(f"{x:.1f},{y:.1f}" for x, y in points.tolist()),
    }  # fmt: skip


def _margins(view: DetectorView, low: Floats, high: Floats, unit: str) -> list[Document]:
    """The four margins, written outside the side that each belongs to."""
    if not np.isfinite(view.margin).all():
        return []
    middle = 0.5 * (low + high)
    places = {
        "left": (low[0] - 8.0, middle[1] + 4.0, "end"), "right": (high[0] + 8.0, middle[1] + 4.0, "start"),
        "below": (middle[0], high[1] + 18.0, "middle"), "above": (middle[0], low[1] - 8.0, "middle"),
    }  # fmt: skip
    tells = dict(zip(SIDES, np.repeat(view.tells, 2).tolist(), strict=True))
    judged = [m for side, m in zip(SIDES, view.margin, strict=True) if tells[side]]
    least = min(judged, default=float(view.margin.min()))
    made = []
    for side, margin in zip(SIDES, view.margin.tolist(), strict=True):
        x, y, anchor = places[side]
        kind = "dr-far" if margin < 0.0 else "dr-least" if margin == least else "" if tells[side] else "dr-quiet"
        made.append({
            "key": side, "x": round(float(x), 1), "y": round(float(y), 1), "anchor": anchor, "kind": kind,
            "text": f"{text.length_number(margin, unit, SIZE)} {unit}",
        })  # fmt: skip
    return made


def _free(view: DetectorView, low: Floats, high: Floats, at: Any) -> Document | None:
    """Arrow across the window in the direction that carries no information; None where both do."""
    if view.tells.all() or not np.isfinite(view.spot).all():
        return None
    x, y = np.clip(at(view.spot), low, high)
    if not view.tells[0]:
        return {"x1": round(float(low[0]) + 5.0, 1), "y1": round(float(y), 1), "x2": round(float(high[0]) - 5.0, 1),
                "y2": round(float(y), 1), "axis": "h"}  # fmt: skip
    return {"x1": round(float(x), 1), "y1": round(float(low[1]) + 5.0, 1), "x2": round(float(x), 1),
            "y2": round(float(high[1]) - 5.0, 1), "axis": "v"}  # fmt: skip


def _mount(view: DetectorView, low: Floats, high: Floats) -> Document | None:
    """Bar outside the side of the window that the mount comes from; None where the detector looks along it."""
    h, v = view.mount_up
    if np.hypot(h, v) < 0.5:
        return None
    if abs(v) >= abs(h):
        y = high[1] if v > 0.0 else low[1] - MOUNT
        return _rectangle(np.array([low[0] + 0.35 * (high[0] - low[0]), y]),
                          np.array([low[0] + 0.65 * (high[0] - low[0]), y + MOUNT]))  # fmt: skip
    x = low[0] - MOUNT if h > 0.0 else high[0]
    return _rectangle(np.array([x, low[1] + 0.35 * (high[1] - low[1])]),
                      np.array([x + MOUNT, low[1] + 0.65 * (high[1] - low[1])]))  # fmt: skip


def _label(view: DetectorView, unit: str) -> str:
    """The drawing in words."""
    if not np.isfinite(view.spot).all():
        return "The beam does not meet this detector."
    h, v = (text.length_number(value, unit, SPOT) for value in view.spot)
    return (
        f"Spot at h {h}, v {v} {unit}, radius {text.length_number(view.radius, unit, SPOT)} {unit}; "
        f"least margin {text.length_number(float(view.margin.min()), unit, SIZE)} {unit}"
    )


def _caption(view: DetectorView, unit: str) -> list[str]:
    wide, tall = (f"{text.length_number(float(size), unit, SIZE)}" for size in view.window)
    lines = [f"As seen from the emitter, true scale. Window {wide} × {tall} {unit}; broken line: room for the middle "
             "of the spot; numbers: what is left on each side."]  # fmt: skip
    if not np.isfinite(view.spot).all():
        lines.append("The beam does not meet this detector.")
    elif np.any(np.abs(view.spot) > FAR * view.window):
        lines.append("The spot is too far off the window to be drawn.")
    elif not view.arrives:
        lines.append(f"No light comes here: blocked by {view.by}. The spot is where it would be.")
    if not view.tells[0]:
        lines.append("↔ h is free: the crew brings the spot to the middle by turning the beam.")
    if not view.tells[1]:
        lines.append("↕ v is free: the crew brings the spot to the middle by turning the beam.")
    return lines
