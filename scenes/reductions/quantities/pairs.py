"""Pairs of stations of two rails or surfaces that stand at the same place along them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ...vectors import Floats, unit
from .evidence import SAME_PLACE, Evidence
from .features import features_of

__all__ = ["Pairs", "pairs_of"]


@dataclass(frozen=True, slots=True, eq=False)
class Pairs:
    """Pairs of stations; k of them, in their order along the first surface.

    Attributes
    ----------
    first, second : tuple of str
    others : tuple of str; blend : (k, len(others)) float
        All stations of the second surface, and the weights that make of them what lies right beside each first one:
        where no station stands there, along the straight line of its two neighbours.
    along : (3,) float
        Direction of the first surface, world.
    across : (3,) float
        From the first surface to the second, square to ``along`` and to the world's up.
    places : (k,) float
        Along the first surface, metres.
    distance : float
        From the one to the other, as the layout places their stations, metres.
    alone : tuple of str
        Stations without a partner.
    """

    first: tuple[str, ...]
    second: tuple[str, ...]
    others: tuple[str, ...]
    blend: Floats
    along: Floats
    across: Floats
    places: Floats
    distance: float
    alone: tuple[str, ...]

    @property
    def names(self) -> tuple[str, ...]:
        """Name of each pair."""
        return tuple(f"{a}-{b}" for a, b in zip(self.first, self.second, strict=True))


def pairs_of(evidence: Evidence, seen: Floats | None = None) -> Pairs:
    """Pairs of the two surfaces of a task: each station of the first with the nearest of the second along it.

    Parameters
    ----------
    seen : (3,) float, optional
        Only stations that are read in this direction; default: in the direction from the one surface to the other.

    Raises
    ------
    GeometryError
        Where no two of them stand side by side.
    """
    (a,), (b,) = (features_of(evidence, name)[:1] for name in evidence.task.of)
    along = a.direction if not a.is_plane else a.frame[0]
    off = evidence.feet(b.stations).mean(axis=0) - evidence.feet(a.stations).mean(axis=0)
    up = np.array([0.0, 0.0, 1.0])
    off = off - (off @ along) * along
    off = off - (off @ up) * up
    if float(np.linalg.norm(off)) < 1e-6:
        raise evidence.refuse(f"{a.name} and {b.name} do not stand side by side in the layout")
    across = unit(off)
    counted = across if seen is None else seen
    first, second = evidence.seeing(a.stations, counted), evidence.seeing(b.stations, counted)
    if not first or not second:
        word = "sideways" if seen is None else "upright"
        raise evidence.refuse(f"no reading tells how {a.name if not first else b.name} stands {word}")
    x, y = (evidence.feet(names) @ along for names in (first, second))
    apart = np.abs(x[:, None] - y[None, :])
    reach = 0.5 * min(_step(x), _step(y))
    chosen = [
        (i, int(np.argmin(apart[i])))
        for i in np.argsort(x)
        if apart[i].min() <= reach and int(np.argmin(apart[:, np.argmin(apart[i])])) == i
    ]
    if not chosen:
        raise evidence.refuse(f"no station of {a.name} stands beside one of {b.name}; read them at the same places")
    mine = tuple(first[i] for i, _ in chosen)
    other = tuple(second[j] for _, j in chosen)
    alone = _alone((*first, *second), {*mine, *other}, evidence)
    places = x[[i for i, _ in chosen]]
    return Pairs(mine, other, second, _blend(y, places), along, across, places, float(off @ across), alone)


def _blend(y: Floats, places: Floats) -> Floats:
    """Weights ``(k, n)`` that take values at ``y`` (n,) to ``places`` (k,): on the line of the two nearest ones."""
    weights = np.zeros((len(places), len(y)))
    for row, place in enumerate(places):
        near = np.argsort(np.abs(y - place), kind="stable")
        one = int(near[0])
        apart = [int(i) for i in near if abs(y[i] - y[one]) > SAME_PLACE]
        if abs(y[one] - place) <= SAME_PLACE or not apart:
            weights[row, one] = 1.0
            continue
        beyond = [i for i in apart if (y[i] - place) * (y[one] - place) < 0.0]
        other = (beyond or apart)[0]
        share = (place - y[one]) / (y[other] - y[one])
        weights[row, one], weights[row, other] = 1.0 - share, share
    return weights


def _alone(names: tuple[str, ...], paired: set[str], evidence: Evidence) -> tuple[str, ...]:
    """Stations without a partner although their set-up reads pairs."""
    rows = evidence.network.geometry.rows
    read = {(rows.setups[i], rows.stations[j]) for i, j in zip(rows.setup, rows.station, strict=True)}
    telling = {setup for setup, station in read if station in paired}
    return tuple(name for name in names if name not in paired and any((setup, name) in read for setup in telling))


def _step(places: Floats) -> float:
    """Typical distance of neighbours; without bound for a single place."""
    gaps = np.diff(np.unique(np.round(places, 6)))
    return float(np.median(gaps)) if len(gaps) else 1e3
