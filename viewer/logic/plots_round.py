"""Drawings with equal scales both ways: spots with their U about a centre, rings, and names of the axes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from scenes.reductions.quantities.shown import Scale
from viewer import text
from viewer.logic.plots_axes import points_text, ticks_between

__all__ = ["ACCEPTED", "ROUND_SIZE", "Document", "Ring", "Spot", "round_chart"]

Document = dict[str, Any]

ROUND_SIZE = 300.0
ROOM = 34.0
FAR = 3.0
"""A ring farther out than so many times the spots is told in words instead."""

ACCEPTED = "what the rule accepts"


@dataclass(frozen=True, slots=True)
class Spot:
    """A spot [m] with U either way; ``title`` is told where the pointer rests on it."""

    name: str
    x: float
    y: float
    expanded_x: float = 0.0
    expanded_y: float = 0.0
    title: str = ""


@dataclass(frozen=True, slots=True)
class Ring:
    """A circle [m] about the centre, with its words; what a rule accepts is dotted and told in the note."""

    radius: float
    words: str
    accepted: bool = False


def round_chart(
    scale: Scale, name: str, spots: Sequence[Spot], words: tuple[str, str], rings: Sequence[Ring], *,
    joined: bool, note: str = "", centre: tuple[float, float] = (0.0, 0.0), grid: bool = True,
) -> Document:  # fmt: skip
    """A drawing about ``centre`` [m]; ``rings`` lie about it, ``words`` name x and y."""
    x, y = np.array([spot.x for spot in spots]), np.array([spot.y for spot in spots])
    more = np.array([[spot.expanded_x, spot.expanded_y] for spot in spots]).reshape(-1, 2)
    off = np.abs(np.column_stack([x, y]) - centre) + more
    reach = max(1e-9, float(np.hypot(off[:, 0], off[:, 1]).max()))
    drawn = [ring for ring in rings if ring.radius <= FAR * reach]
    reach = 1.08 * max([reach, *(ring.radius for ring in drawn)])
    half = 0.5 * ROUND_SIZE
    per = (half - ROOM) / reach
    across, down = half + per * (x - centre[0]), half - per * (y - centre[1])
    shown = scale.number(1.0)
    ticks = [tick / shown for tick in ticks_between(0.0, reach * shown, 4) if tick > 0.0] if grid else []
    told = "".join(f" Dotted: {ring.words}." for ring in drawn if ring.accepted and ring.words)
    told += "".join(f" Outside: {ring.words}." for ring in rings if ring not in drawn and ring.words)
    return {
        "name": name, "size": ROUND_SIZE, "middle": half, "per": per, "fit": "", "unit": text.screen_unit(scale.unit),
        "note": note + told, "x_word": words[0], "y_word": words[1],
        "grid": [{"r": round(per * each, 1), "text": f"{each * shown:.4g}", "y": round(half + per * each + 11.0, 1)}
                 for each in ticks if per * each < half - 16.0],
        "rings": [{"r": round(per * ring.radius, 1), "text": ring.words, "y": round(half - per * ring.radius - 4.0, 1)}
                  for ring in drawn if not ring.accepted],
        "accepted": [round(per * ring.radius, 1) for ring in drawn if ring.accepted],
        "path": points_text(across, down) if joined else "",
        "dots": [
            {"name": spot.name, "x": round(float(a), 1), "y": round(float(b), 1), "title": spot.title,
             "dx": round(per * spot.expanded_x, 1), "dy": round(per * spot.expanded_y, 1)}
            for spot, a, b in zip(spots, across, down, strict=True)
        ],
        "label": f"{name}: " + "; ".join(spot.title for spot in spots[:30]),
    }  # fmt: skip
