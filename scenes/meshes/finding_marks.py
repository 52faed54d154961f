"""Marks of findings in the picture: one for the chosen finding, small ones for all that are about a place."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pyvista as pv

from ..checks.plan import Plan
from ..model.finding import Finding, Severity
from ..model.layout import Layout
from ..tracing.sight import triangles_of
from ..vectors import Floats
from .anchors import finding_places, has_place
from .scene_parts import Part, Role
from .solids import copies, mesh_of, tubes

__all__ = ["finding_marks", "finding_parts"]

MOST_MARKS = 300
"""More findings than this are not all marked."""

SHARE = 0.010
SMALLEST, LARGEST = 0.03, 0.16
"""Small marks are this share of the layout wide, within these bounds [m]."""


def finding_marks(points: Floats, size: float = 0.06) -> pv.PolyData:
    """Spindles that stand with their tips on ``points`` (n, 3), ``size`` [m] wide; cell array ``finding``."""
    spindle = tubes(np.array([[[0.0, 0.0, 0.0], [0.0, 0.0, 1.4 * size], [0.0, 0.0, 2.0 * size]]]),
                    np.array([0.0, 0.5 * size, 0.0]), 6)[0]  # fmt: skip
    solid, owner = copies(spindle, np.eye(3), points)
    return mesh_of(solid, {"finding": owner})


def _size(layout: Layout) -> float:
    """Width of small marks [m] that suits the layout."""
    solids = [triangles_of(each.shape).moved(each.world_from_surface) for each in layout.surfaces.values()]
    corners = [end for solid in solids for end in (solid.vertices.min(axis=0), solid.vertices.max(axis=0))]
    extent = float(np.ptp(np.array(corners), axis=0).max()) if corners else 1.0
    return float(np.clip(SHARE * extent, SMALLEST, LARGEST))


def _apart(points: Floats, taken: Floats, room: float) -> Floats:
    """Those of ``points`` (n, 3) that lie ``room`` [m] from all ``taken`` ones (k, 3) and from those before them."""
    near = np.linalg.norm(points[:, None] - points[None], axis=-1) < room
    first = ~(np.tril(near, -1)).any(axis=1)
    free = (np.linalg.norm(points[:, None] - taken[None], axis=-1) >= room).all(axis=1)
    result: Floats = points[first & free]
    return result


def finding_parts(layout: Layout, findings: Sequence[Finding], plan: Plan | None = None) -> tuple[Part, ...]:
    """Small marks at the places of errors and of warnings; findings about one place share a mark, the worse one."""
    size, parts, taken = _size(layout), [], np.zeros((0, 3))
    for severity, role in ((Severity.ERROR, Role.FINDING_MARK), (Severity.WARNING, Role.FINDING_WARNING)):
        mine = [each for each in findings if each.severity is severity and has_place(layout, each)][:MOST_MARKS]
        points = np.array([place.point for place in finding_places(layout, mine, plan)]).reshape(-1, 3)
        points = _apart(points, taken, size)
        taken = np.vstack([taken, points])
        parts.append(Part(f"all {role}s", finding_marks(points, size), role))
    return tuple(parts)
