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

__all__ = ["contact_reach", "possible_excess"]

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
