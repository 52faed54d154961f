"""Movers of a bed or a rail: its feet, with the influence that the layout states."""

from __future__ import annotations

import numpy as np

from ..model.layout import Layout
from ..model.survey import Feet
from ..vectors import Floats
from .bed_feet import influence_at
from .influence import Influence, plane_basis
from .movers import Movers

__all__ = ["USUAL_INFLUENCE", "movers_of_feet"]

USUAL_INFLUENCE = {"plate": 0.2, "beam": 0.2, "rigid": 0.0, "measured": 0.05}
"""Standard uncertainty of what bends, as a share, where the layout states none (common practice)."""


def movers_of_feet(
    layout: Layout, feet: Feet, stations: tuple[str, ...], side: bool = False
) -> tuple[Movers, Influence]:
    """Feet as movers of the named stations of their surface, and their influence on them.

    Parameters
    ----------
    side : bool
        True: the feet move sideways, along y of the surface, in place of up. A rail alone can; it bends alike.
    """
    influence = influence_at(layout, feet, stations)
    m = len(feet.names)
    turn = layout.surfaces[feet.surface].world_from_surface.rotation
    direction = turn[:, 1] if side else turn[:, 2]
    stiff = influence.kind == "rigid"
    bent = np.zeros_like(influence.matrix) if stiff else influence.matrix - _planes(layout, feet, stations)
    lowest = np.full(m, -feet.travel) if side or not feet.add_only else np.zeros(m)
    known = USUAL_INFLUENCE[influence.kind] if feet.influence_known_to is None else feet.influence_known_to
    movers = Movers(
        names=feet.names,
        parts=(feet.surface,) * m,
        ways=("side" if side else "up",) * m,
        directions=np.tile(direction, (m, 1)),
        stations=stations,
        rise=influence.matrix[:, None, :] * direction[:, None],
        bent=bent[:, None, :] * direction[:, None],
        lowest=lowest,
        highest=np.full(m, feet.travel),
        stock=(() if side else feet.stock,) * m,
        most_pieces=(feet.most_pieces,) * m,
        known_to=np.full(m, feet.known_to),
        influence_known_to=known,
        own_loads=None if side else influence.own_loads,
        load_change=None if side else influence.load_change,
        kind=influence.kind,
    )
    return movers, influence


def _planes(layout: Layout, feet: Feet, stations: tuple[str, ...]) -> Floats:
    """Rise ``(n, m)`` of the stations where the part follows its feet as a whole, without bending."""
    at = np.array([layout.stations[name].at[:2] for name in stations]).reshape(-1, 2)
    tilts = 2 if np.ptp(feet.at[:, 1]) <= 1e-6 * np.ptp(feet.at[:, 0]) else 3
    return np.asarray(plane_basis(at)[:, :tilts] @ np.linalg.pinv(plane_basis(feet.at)[:, :tilts]))
