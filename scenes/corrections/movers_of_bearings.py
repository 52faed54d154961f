"""Movers of rolls, shafts and bores: both bearings of each, up and sideways; the part between them stays rigid."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from ..model.bearings import Bearings, Play
from ..model.layout import Layout
from ..reductions.quantities.features import across
from ..vectors import Floats
from .movers import Movers

__all__ = ["movers_of_bearings"]


def movers_of_bearings(layout: Layout, bearings: Iterable[Bearings]) -> Movers | None:
    """Bearings as movers of all stations of the parts that they hold; None where none of them can move."""
    parts = [_of_part(layout, each) for each in bearings]
    rows = [row for part in parts for row in part]
    if not rows:
        return None
    stations = tuple(
        name for name, station in layout.stations.items() if any(station.surface == part.surface for part, *_ in rows)
    )
    rise = np.zeros((len(stations), 3, len(rows)))
    for j, (part, bearing, _, direction, _) in enumerate(rows):
        for i, name in enumerate(stations):
            if layout.stations[name].surface == part.surface:
                rise[i, :, j] = _share(part, bearing, layout.stations[name].at[2]) * direction
    held = [part.names[bearing] in part.fixed for part, bearing, *_ in rows]
    highest = np.array([0.0 if stays else play.travel for stays, (*_, play) in zip(held, rows, strict=True)])
    return Movers(
        names=tuple(part.names[bearing] for part, bearing, *_ in rows),
        parts=tuple(part.surface for part, *_ in rows),
        ways=tuple(way for _, _, way, _, _ in rows),
        directions=np.array([direction for *_, direction, _ in rows]),
        stations=stations,
        rise=rise,
        bent=np.zeros_like(rise),
        lowest=np.array([0.0 if play.add_only else -top for top, (*_, play) in zip(highest, rows, strict=True)]),
        highest=highest,
        stock=tuple(play.stock for *_, play in rows),
        most_pieces=tuple(play.most_pieces for *_, play in rows),
        known_to=np.array([0.0 if stays else play.known_to for stays, (*_, play) in zip(held, rows, strict=True)]),
        influence_known_to=0.0,
        own_loads=None,
        load_change=None,
        kind="bearings",
    )


def _of_part(layout: Layout, bearings: Bearings) -> list[tuple[Bearings, int, str, Floats, Play]]:
    """Every bearing of a part with each way in which it can move."""
    axis = layout.surfaces[bearings.surface].world_from_surface.rotation[:, 2]
    found = []
    for way, direction, play in zip(("up", "side"), across(axis), (bearings.up, bearings.side), strict=True):
        if play is not None:
            found += [(bearings, k, way, direction, play) for k in range(len(bearings.names))]
    return found


def _share(bearings: Bearings, bearing: int, place: float) -> float:
    """Move of the axis at ``place`` [m along it] per move of one bearing, the other held."""
    here, other = bearings.at[bearing], bearings.at[1 - bearing]
    return float((place - other) / (here - other))
