"""Heights of a grid from slopes read step by step along its lines, all solved as one.

Every step joins two places where the feet of the target stand; its slope times its length is the difference of their
heights. The angle that a line counts from is not known, so that slopes of one line share an offset: only lines that
cross at common feet tell a surface, and of rows and columns the twist (heights that grow with x times y) stays open
until a diagonal meets them at three feet. Where lines close more often than they must, least squares shares out what
is left.

Source: the aim of J. C. Moody, How to calibrate surface plates in the plant, The Tool Engineer 35 (1955) 85, solved by
least squares instead of line by line.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from ...errors import GeometryError
from ...vectors import Floats, Indices

__all__ = ["Stepped", "merged_places", "solved_steps"]

RANK = 1e-9
"""Singular values below this share of the largest are nought."""

OPEN = 1e-6
"""Heights hang together where no larger share of what stays open is other than a plane."""


@dataclass(frozen=True, slots=True, eq=False)
class Stepped:
    """Heights of n places from k slopes.

    Attributes
    ----------
    gain : (n, k) float
        Change of the heights with the slopes; a plane of all of them stays open.
    closing : (k, k) float
        What least squares leaves of each slope.
    redundancy : int
        Slopes beyond those that the heights need: how often the grid closes.
    """

    gain: Floats
    closing: Floats
    redundancy: int


def merged_places(places: Floats, within: float) -> tuple[Indices, Floats]:
    """Number ``(m,)`` of the place of each of m points, points nearer than ``within`` [m] being one, and the places."""
    pairs = cKDTree(places).query_pairs(within, output_type="ndarray")
    m = len(places)
    joined = coo_array((np.ones(len(pairs)), (pairs[:, 0], pairs[:, 1])), shape=(m, m))
    count, number = connected_components(joined, directed=False)
    middle = np.zeros((count, places.shape[1]))
    np.add.at(middle, number, places)
    return np.asarray(number, dtype=np.int64), middle / np.bincount(number)[:, None]


def solved_steps(first: Indices, second: Indices, length: Floats, offsets: Floats, plan: Floats) -> Stepped:
    """Heights from slopes.

    Parameters
    ----------
    first, second : (k,) int
        Places that each step joins; the slope is positive where the second stands higher.
    length : (k,) float
        Of each step, metres.
    offsets : (k, r) float
        What slopes share that is not known, such as one column of ones for every line.
    plan : (n, 2) float
        Where the places lie.

    Raises
    ------
    GeometryError
        Where the lines do not hang together, so that more than a plane stays open.
    """
    k, n = len(first), len(plan)
    design = np.zeros((k, n + offsets.shape[1]))
    design[np.arange(k), second] += 1.0 / length
    design[np.arange(k), first] -= 1.0 / length
    design[:, n:] = offsets / length.mean()
    left, size, rows = np.linalg.svd(design)
    rank = int(np.count_nonzero(size > RANK * size[0]))
    _hang_together(rows[rank:, :n], plan)
    gain = (rows[:rank].T / size[:rank]) @ left[:, :rank].T
    closing = np.eye(k) - left[:, :rank] @ left[:, :rank].T
    return Stepped(gain[:n], closing, k - rank)


def _hang_together(open_heights: Floats, plan: Floats) -> None:
    """Raise where heights that stay open (d, n) are not planes."""
    off = (plan - plan.mean(axis=0)) / np.abs(plan - plan.mean(axis=0)).max()
    planes = np.column_stack([np.ones(len(plan)), off])
    if _beyond(open_heights, planes) <= OPEN:
        return
    if _beyond(open_heights, np.column_stack([planes, off[:, 0] * off[:, 1], off**2])) <= OPEN:
        raise GeometryError(
            "lines in two directions only leave the twist of the surface open, since each of them counts from an angle "
            "of its own: step along diagonals too that meet other lines at three feet"
        )
    raise GeometryError(
        "the lines of steps do not hang together: let each of them cross others at common feet, at two places or more, "
        "and a diagonal at three, such as edges, middle lines and diagonals that are whole numbers of steps long"
    )


def _beyond(open_heights: Floats, shapes: Floats) -> float:
    """Largest part of open heights (d, n) that is none of the shapes (n, q)."""
    known, _ = np.linalg.qr(shapes)
    return float(np.abs(open_heights - (open_heights @ known) @ known.T).max(initial=0.0))
