"""Paths of the beams: every corner from the emitter to the detector, with the way until there and the beam's radius."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..model.layout import Layout
from ..vectors import Flags, Floats, Indices, length
from .beam import beam_radius
from .geometry import SurveyGeometry
from .spots import Spots

__all__ = ["Paths", "Pieces", "paths_of", "pieces_of"]

PRISM_CORNERS = ("entrance", "mirror 1", "mirror 2", "exit")


@dataclass(frozen=True, slots=True, eq=False)
class Paths:
    """Corners of every beam, in the order of the light; c of them, nan where a row has none.

    Attributes
    ----------
    points : (m, c, 3) float
        World, metres.
    way : (m, c) float
        Length of the path until there, metres.
    radius : (m, c) float
        Beam radius there (1/e^2), metres.
    light : (m, c) float
        Share of the emitter's light behind that corner.
    places : tuple of str
        What a corner is: ``emitter``, ``entrance`` ... ``exit`` of a prism, ``front 1``, ``back 1`` of see-through
        targets, ``target``.
    """

    points: Floats
    way: Floats
    radius: Floats
    light: Floats
    places: tuple[str, ...]

    @property
    def here(self) -> Flags:
        """Which corners a row has, ``(m, c)``."""
        result: Flags = np.isfinite(self.points[..., 0])
        return result

    def device(self, layout: Layout, geometry: SurveyGeometry, row: int, corner: int) -> str:
        """Name of the device that stands at a corner of one row."""
        rows, place = geometry.rows, self.places[corner]
        setup = layout.setups[rows.setups[rows.setup[row]]]
        if place == "emitter":
            return setup.emitter
        if place in PRISM_CORNERS:
            return setup.prism.prism if setup.prism is not None else ""
        other = row if place == "target" else int(geometry.plates.row[row, int(place.rpartition(" ")[2]) - 1])
        return rows.targets[int(rows.target[other])]


@dataclass(frozen=True, slots=True, eq=False)
class Pieces:
    """Straight pieces between corners; ``row`` (p,), ``start``, ``end`` (p, 3), ``radius`` (p,) at the end, metres."""

    row: Indices
    start: Floats
    end: Floats
    radius: Floats


def paths_of(geometry: SurveyGeometry, seen: Spots) -> Paths:
    """Corners of the beams that made ``seen``, a trace without leading axes."""
    m = len(geometry.rows)
    corners = np.broadcast_to(seen.train.corners, (m, *seen.train.corners.shape[-2:]))
    points = np.concatenate([corners, np.broadcast_to(seen.hit, (m, 3))[:, None, :]], axis=1)
    plates = geometry.plates.most
    prism = PRISM_CORNERS if len(geometry.noses.rows) else ()
    places = ("emitter", *prism, *(f"{side} {k + 1}" for k in range(plates) for side in ("front", "back")), "target")
    here = np.isfinite(points[..., 0])
    way, spread, light = np.zeros(here.shape), np.zeros(here.shape), np.ones(here.shape)
    index, passes = _glass(geometry)
    last = points[:, 0]
    for corner in range(1, points.shape[1]):
        place = places[corner]
        step = np.nan_to_num(np.where(here[:, corner], length(points[:, corner] - last), 0.0))
        way[:, corner] = way[:, corner - 1] + step
        spread[:, corner] = spread[:, corner - 1] + step / index.get(place, 1.0)
        light[:, corner] = light[:, corner - 1] * passes.get(place, 1.0)
        last = np.where(here[:, corner, None], points[:, corner], last)
    radius = beam_radius(spread, geometry.waist_radius[:, None], geometry.wavelength[:, None])
    blank = np.where(here, 1.0, np.nan)
    return Paths(points, way * blank, radius * blank, light * blank, places)


def _glass(geometry: SurveyGeometry) -> tuple[dict[str, Floats], dict[str, Floats]]:
    """Index ``(m,)`` of the glass before a corner, and share of light that gets past it, by the name of the corner.

    A beam widens in glass as over the way divided by the index.
    """
    plates, noses = geometry.plates, geometry.noses
    index, passes = np.ones(len(geometry.rows)), np.ones(len(geometry.rows))
    index[noses.rows], passes[noses.rows] = noses.index, noses.passes
    each = range(plates.most)
    return (
        dict.fromkeys(PRISM_CORNERS[1:], index) | {f"back {k + 1}": plates.index[:, k] for k in each},
        {"exit": passes} | {f"back {k + 1}": plates.passes[:, k] for k in each},
    )


def pieces_of(paths: Paths, radius: Floats) -> Pieces:
    """Pieces of all paths; ``radius`` (m,) is the beam radius at each detector, which the last piece takes exactly."""
    here = paths.here
    rows, starts, ends, radii = [], [], [], []
    before = np.zeros(len(here), dtype=np.int64)
    each = np.arange(len(here))
    for corner in range(1, here.shape[1]):
        mine = np.nonzero(here[:, corner])[0]
        rows.append(mine)
        starts.append(paths.points[mine, before[mine]])
        ends.append(paths.points[mine, corner])
        radii.append(paths.radius[mine, corner] if corner < here.shape[1] - 1 else radius[mine])
        before = np.where(here[:, corner], corner, before)
    order = np.argsort(np.concatenate(rows), kind="stable") if rows else each[:0]
    return Pieces(*(np.concatenate(part)[order] for part in (rows, starts, ends, radii)))
