"""Deviations along a line of stations: top or side of a rail, line of a roll, axis of a bore.

What is drawn is given as arrays, so that any result can be shown: where the stations are, how each is displaced, which
number its colour stands for. Between stations the tube is straight and its colour even: nothing is invented there.

Example: a rail whose stations are 50 um high in the middle, 1000 times enlarged::

    line = deviation_line(points, up[:, None] * [0, 0, 1], up, limit=100e-6, factor=1000.0, lift=(0, 0, 0.3))
    scene.put("line", line.parts("rail_a"))
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pyvista as pv
from numpy.typing import ArrayLike

from ..shapes import Triangles
from ..vectors import Flags, Floats, dot, frozen, length, unit
from .deviation_surface import DEVIATION
from .deviation_vectors import CELLS, DOT, HEAD, arrows
from .scene_parts import Part, Role
from .solids import copies, disc, joined, mesh_of, rotations_along, sides_within

__all__ = ["DeviationLine", "deviation_arrows", "deviation_line", "line_size", "zone_edges"]

TUBE = 1.7
"""Radius of the tube over that of the shafts of the arrows."""

HOOPS = 9
HOOP_SIDES = 48
"""Hoops of a round zone, and their sides."""


@dataclass(frozen=True, slots=True, eq=False)
class DeviationLine:
    """A line of stations as it is drawn, world, metres.

    Attributes
    ----------
    tube : pyvista.PolyData
        Through the displaced stations; point array ``deviation [um]``. Open where a station has no value.
    vectors : pyvista.PolyData
        From each station to where it is drawn; cell arrays ``station`` and ``deviation [um]``.
    zero : pyvista.PolyData
        Line through the stations where nothing deviates.
    zone : pyvista.PolyData
        Edges of the tolerance zone as lines; empty where no limit is given.
    tips : (n, 3) float
        Where the stations are drawn; nan where one has no value.
    """

    tube: pv.PolyData
    vectors: pv.PolyData
    zero: pv.PolyData
    zone: pv.PolyData
    tips: Floats

    def parts(self, name: str, place_kind: str = "", place_name: str = "") -> tuple[Part, ...]:
        """Parts of the picture, coloured like other deviations; their names begin with ``name``."""
        drawn = (
            ("tube", self.tube, Role.DEVIATION_SURFACE), ("vectors", self.vectors, Role.DEVIATION_VECTOR),
            ("zero", self.zero, Role.ZERO_OUTLINE), ("zone", self.zone, Role.LIMIT_PLANE),
        )  # fmt: skip
        return tuple(Part(f"{name} {word}", mesh, role, place_kind, place_name) for word, mesh, role in drawn)


def line_size(points: Floats) -> float:
    """Radius [m] of shafts that suits the length of a line through ``points`` (n, 3) and the way between them."""
    extent = float(length(np.ptp(points, axis=0)))
    return min(0.0012 * extent, 0.1 * extent / max(1, len(points) - 1)) if extent > 0.0 else 0.005


def deviation_line(
    points: Floats,
    displacement: Floats,
    values: Floats,
    limit: float | None = None,
    factor: float = 1.0,
    *,
    across: ArrayLike | None = None,
    lift: ArrayLike = (0.0, 0.0, 0.0),
    radius: float | None = None,
    with_vectors: bool = True,
) -> DeviationLine:
    """A line of n stations with its deviations enlarged.

    Parameters
    ----------
    points : (n, 3) float
        Stations in their order along the line, nominal, world, metres; at least two.
    displacement : (n, 3) float
        How far and where each one is off, true size, world, metres: up, aside, or both at once. nan where a station has
        no value.
    values : (n,) float
        Number that the colour stands for, metres: the deviation with its sign, or its size in space.
    limit : float, optional
        Width of the tolerance zone, true size, metres: the diameter of a cylinder about the zero line, or the distance
        of the two lines of a band. Enlarged like the deviations.
    factor : float
        How much larger than life; to be stated beside the picture. ``exaggeration.default_factor`` proposes one.
    across : (3,) float, optional
        Direction of the band, world; not given: the zone is a cylinder.
    lift : (3,) float
        Where the zero line is drawn, from the stations, metres: clear of the surface.
    radius : float, optional
        Of the shafts of the arrows, metres; ``line_size`` where not given.
    with_vectors : bool
        False where the arrows, which take longest, are not drawn: ``vectors`` is empty then.

    Raises
    ------
    ValueError
        Fewer than two stations, or arrays of other lengths.
    """
    n = len(points)
    if n < 2 or displacement.shape != (n, 3) or values.shape != (n,):
        raise ValueError("a line needs two stations or more, each with its displacement and its value")
    thick = line_size(points) if radius is None else radius
    zero = points + np.asarray(lift, dtype=np.float64)
    tips = zero + factor * displacement
    there = np.isfinite(tips).all(axis=1) & np.isfinite(values)
    zone = pv.PolyData() if limit is None else zone_edges(zero, 0.5 * factor * limit, across)
    return DeviationLine(
        _tube(tips, values, there, TUBE * thick),
        deviation_arrows(zero, displacement, values, factor, thick) if with_vectors else pv.PolyData(),
        _lines([zero]),
        zone,
        tips,
    )


def deviation_arrows(
    points: Floats, displacement: Floats, values: Floats, factor: float, radius: float | None = None
) -> pv.PolyData:
    """Arrows from ``points`` (n, 3) along ``displacement`` (n, 3), enlarged; flat dots where there is next to none.

    Arguments are those of ``deviation_line``. For up and aside apart, call it once for each.

    Returns
    -------
    pyvista.PolyData
        Cell arrays ``station`` (index into ``points``) and ``deviation [um]``; stations without a value have no cells.
    """
    thick = line_size(points) if radius is None else radius
    reach = factor * length(displacement)
    long, short = np.nonzero(reach > DOT * thick)[0], np.nonzero(reach <= DOT * thick)[0]
    turned = _frames(unit(displacement[long]))
    parts = [
        *arrows(points[long], reach[long], turned, thick),
        copies(disc(HEAD * thick, 0.0, 8), np.eye(3), points[short]),
    ]
    numbers = [*([long] * (len(parts) - 1)), short]
    station = np.concatenate([number[owner] for number, (_, owner) in zip(numbers, parts, strict=True)])
    return mesh_of(joined(parts)[0], {"station": station, DEVIATION: 1e6 * values[station]})


def _frames(along: Floats) -> Floats:
    """Rotations ``(k, 3, 3)`` whose z runs along unit vectors."""
    hint = np.eye(3)[np.argmin(np.abs(along), axis=-1)]
    return rotations_along(along, unit(np.cross(hint, along)))


def _tangents(path: Floats) -> Floats:
    """Directions ``(n, 3)`` of a path at its points: the mean of the two pieces that meet there."""
    pieces = np.diff(path, axis=0)
    size = length(pieces)[:, None]
    pieces = np.divide(pieces, size, out=np.zeros_like(pieces), where=size > 0.0)
    both = np.vstack([pieces[:1], pieces]) + np.vstack([pieces, pieces[-1:]])
    return np.where(length(both)[:, None] > 1e-9, both, np.vstack([pieces, pieces[-1:]]))


def _tube(path: Floats, values: Floats, there: Flags, radius: float) -> pv.PolyData:
    """Tube through the points that are there, open on either side of those that are not."""
    known = np.nonzero(there)[0]
    if len(known) < 2:
        return pv.PolyData()
    sides = sides_within(CELLS, len(known), 2, most=16)
    centre = path[known]
    chord = unit(centre[-1] - centre[0]) if length(centre[-1] - centre[0]) > 0.0 else np.array([1.0, 0.0, 0.0])
    along = _tangents(centre)
    along = unit(np.where(length(along)[:, None] > 0.0, along, chord))
    hint = np.eye(3)[int(np.argmin(np.abs(chord)))]
    one = np.cross(along, hint)
    one = unit(np.where(length(one)[:, None] > 1e-9, one, np.cross(chord, hint)))
    two = np.cross(along, one)
    angle = np.linspace(0.0, 2.0 * np.pi, sides, endpoint=False)
    circle = np.cos(angle)[:, None] * one[:, None] + np.sin(angle)[:, None] * two[:, None]
    vertices = (centre[:, None] + radius * circle).reshape(-1, 3)
    here = np.arange(sides)
    after = np.roll(here, -1)
    band = np.vstack(
        [np.column_stack([here, after, after + sides]), np.column_stack([here, after + sides, here + sides])]
    )
    joins = np.diff(known) == 1
    start = sides * np.nonzero(joins)[0]
    fan = np.column_stack([np.zeros(sides - 2, dtype=np.int64), here[1:-1], here[2:]])
    first, last = sides * np.nonzero(np.append(True, ~joins))[0], sides * np.nonzero(np.append(~joins, True))[0]
    faces = [start[:, None, None] + band, first[:, None, None] + fan[:, ::-1], last[:, None, None] + fan]
    triangles = Triangles(vertices, np.concatenate([part.reshape(-1, 3) for part in faces]))
    return mesh_of(triangles, points={DEVIATION: 1e6 * np.repeat(values[known], sides)})


def _lines(paths: list[Floats]) -> pv.PolyData:
    """Lines through the points of each path."""
    count = np.array([len(path) for path in paths])
    first = np.cumsum(count) - count
    cells = [np.concatenate([[c], f + np.arange(c)]) for c, f in zip(count, first, strict=True)]
    return pv.PolyData(np.array(np.vstack(paths)), lines=np.concatenate(cells), deep=True)


def zone_edges(zero: Floats, half: float, across: ArrayLike | None) -> pv.PolyData:
    """Edges of a band ``half`` [m] to either side of a line ``zero`` (n, 3), world, metres, along ``across``.

    Not given ``across``: hoops and lines of a cylinder of that radius.
    """
    if across is not None:
        step = half * unit(np.asarray(across, dtype=np.float64))
        low, high = zero - step, zero + step
        return _lines([low, high, np.stack([low[0], high[0]]), np.stack([low[-1], high[-1]])])
    axis = unit(zero[-1] - zero[0])
    frame = _frames(axis[None])[0]
    place = dot(zero - zero[0], np.broadcast_to(axis, zero.shape))
    middle = zero - place[:, None] * axis
    turn = np.linspace(0.0, 2.0 * np.pi, HOOP_SIDES + 1)
    rim = half * (np.cos(turn)[:, None] * frame[:, 0] + np.sin(turn)[:, None] * frame[:, 1])
    hoops = [
        frozen([np.interp(at, place, middle[:, i]) for i in range(3)]) + at * axis + rim
        for at in np.linspace(place.min(), place.max(), HOOPS)
    ]
    return _lines([*hoops, *(zero + rim[quarter] for quarter in range(0, HOOP_SIDES, HOOP_SIDES // 4))])
