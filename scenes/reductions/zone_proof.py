"""Proof that a zone found over a plan is the narrowest of all directions.

In a frame along the zone itself let W be its width, r the distance from the origin to the rim of the convex set of all
steps in plan from a low to a high contact, and b the least breadth of the plan. A zone that leans by the slope s from
it has a vertical width of at least W + r s and of at least b s - W. Divided by sqrt(1 + s^2), one of the two never
falls below W when r >= W, or when r (b^2 - W^2) >= b W^2.

A zone found in a frame from which it leans by the slope t loses at most t W of r and of b when the frame is laid
along it, because the contacts of both sides are W apart.

Without such an r the zone is still the narrowest over its plan, so a narrower one would have to lean: by no more than
2 b W / (b^2 - W^2), beyond which the plan is too broad for it.
"""

from __future__ import annotations

import numpy as np

from scenes.reductions.spans import FloatArray

__all__ = ["contact_reach", "excess_by_lean", "open_side", "possible_excess", "steepest_lean"]

NO_ANSWER = 1e-300
"""Stands for the answer of a weight that no step changes: the only contact on its side."""


def contact_reach(inverse: FloatArray, weights: FloatArray) -> FloatArray:
    """Return the distance r from the origin to the rim of all steps from low to high contacts.

    Parameters
    ----------
    inverse : (d + 2, d + 2, ...) float
        Inverse contact equations; the first d columns say how the weights answer to a step in plan.
    weights : (d + 2, ...) float
        Weights of the contacts for no step. The rim is where the first of them reaches zero.
    """
    answer = np.sqrt(np.sum(inverse[:, : inverse.shape[0] - 2] ** 2, axis=1))
    held = np.clip(weights, 0.0, None)
    return np.asarray((held / np.maximum(answer, NO_ANSWER)).min(axis=0))


def open_side(inverse: FloatArray, weights: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return the direction (d, ...) in which the zone is held least, and the reach of its contacts to the other sides.

    Arguments are those of ``contact_reach``. The reach comes as one value against that direction and one square to it,
    each (...). A zone that leans from this one by u along the direction and by v square to it is wider by at least
    the former times -u, and by at least the latter times the size of v.
    """
    d = inverse.shape[0] - 2
    answer, held = inverse[:, :d], np.clip(weights, 0.0, None)
    size = np.sqrt(np.sum(answer**2, axis=1))
    least = (held / np.maximum(size, NO_ANSWER)).argmin(axis=0)[None]
    toward = np.take_along_axis(answer, least[:, None], axis=0)[0] / np.take_along_axis(size, least, axis=0)
    along = np.sum(answer * toward, axis=1)
    square = np.sqrt(np.sum((answer - along[:, None] * toward) ** 2, axis=1))
    reach = []
    for each in (np.clip(-along, 0.0, None), square):
        limit = held / np.maximum(each, NO_ANSWER)
        np.put_along_axis(limit, least, np.inf, axis=0)
        reach.append(np.maximum(limit.min(axis=0), NO_ANSWER))
    return toward, reach[0], reach[1]


def steepest_lean(width: FloatArray, lean: FloatArray, breadth: float) -> FloatArray:
    """Return the slope beyond which no zone of a smaller width lies; infinite where the plan is not broad enough.

    Arguments are those of ``possible_excess``.
    """
    across = width / np.hypot(1.0, lean)
    b = breadth - lean * across
    thin = b > across
    more = 2.0 * b * across / np.where(thin, b**2 - across**2, 1.0)
    return np.where(
        thin & (lean * more < 0.5), lean + more * (1.0 + lean**2) / np.maximum(1.0 - lean * more, 0.5), np.inf
    )


def excess_by_lean(width: FloatArray, lean: FloatArray, steepest: FloatArray) -> FloatArray:
    """Return by how much a zone exceeds one of the same vertical width that leans by the slope ``steepest``."""
    return np.asarray(width / np.hypot(1.0, lean) - width / np.hypot(1.0, steepest))


def possible_excess(
    width: FloatArray | float, lean: FloatArray | float, reach: FloatArray | float, breadth: float
) -> FloatArray:
    """Return by how much the zones may exceed the narrowest of all directions; 0 where they are proved.

    Parameters
    ----------
    width : (...) float
        Vertical widths.
    lean : (...) float
        Slopes of the zones in the frame they were found in.
    reach : (...) float
        Contact reach r.
    breadth : float
        Least breadth of the plan.
    """
    width, lean, reach = np.broadcast_arrays(width, lean, reach)
    across = width / np.hypot(1.0, lean)
    r, b = reach - lean * across, breadth - lean * across
    proved = (r >= across) | ((b > across) & (r * (b**2 - across**2) >= b * across**2))
    thin = b > across
    steepest = 2.0 * b * across / np.where(thin, b**2 - across**2, 1.0)
    excess = np.where(thin, across - width / np.hypot(1.0, lean + steepest * (1.0 + lean**2)), across)
    return np.where(proved, 0.0, excess)
