"""Shims for a measured bed: from the feet of the layout and its measured flatness to a proposal."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from ..errors import GeometryError
from ..model.layout import Layout
from ..model.machine import Plate, Rail
from ..model.materials import material_named
from ..model.survey import Feet
from ..reductions.quantities.definition import Zone
from ..reductions.quantities.measured import Measured, shape_of
from ..reductions.quantities.measures import PlaneForm
from ..vectors import Floats
from .beam import beam_influence
from .influence import Influence, rigid_influence
from .influence_file import read_influence
from .plate import plate_influence
from .proposal import ShimProposal
from .shims import propose_shims

__all__ = ["UNSTATED_MATERIAL", "UNSTATED_RAIL", "feet_of", "influence_at", "influence_of", "shims_for"]

UNSTATED_MATERIAL = "cast iron"
"""Material of a bed that states none: the usual one of machine beds (common practice)."""

UNSTATED_RAIL = "steel"
"""Material of a rail that states none (common practice)."""

WORTH = 0.2
"""A gain below this share of the standard uncertainty of a deviation is not worth touching another foot."""


def feet_of(layout: Layout, surface: str) -> Feet | None:
    """Feet that the layout names for a surface, or None."""
    return next((feet for feet in layout.feet.values() if feet.surface == surface), None)


def influence_of(layout: Layout, feet: Feet, stations: Floats) -> Influence:
    """Rise of ``stations`` (n, 2) [m, frame of the surface] per lift of each foot, as the layout says the bed bends.

    Raises
    ------
    GeometryError
        Where the surface is no plate, or three feet are asked to bend, or feet stand on one line.
    """
    surface = layout.surfaces[feet.surface]
    shape = surface.shape
    if feet.influence == "rigid":
        return rigid_influence(feet.at, stations, weight=feet.weight or None)
    if feet.influence == "measured":
        raise GeometryError(f"feet of {surface.name}: a measured influence is known at its stations only")
    if isinstance(shape, Rail):
        return _influence_of_rail(shape, feet, stations, surface.material or UNSTATED_RAIL)
    if not isinstance(shape, Plate):
        raise GeometryError(f"feet of {surface.name}: only plates and rails can be shimmed")
    return _of_plate(
        feet.influence, shape, surface.material or UNSTATED_MATERIAL, feet.effective_thickness or None,
        feet.weight or None, feet.at.tobytes(), np.ascontiguousarray(stations, dtype=np.float64).tobytes(),
    )  # fmt: skip


@lru_cache(maxsize=32)
def _of_plate(
    model: str, plate: Plate, material: str, effective: float | None, weight: float | None, feet: bytes, stations: bytes
) -> Influence:
    """Influence of a plate; places (., 2) as bytes, since the same bed is asked for again and again."""
    made_of = material_named(material)
    at, places = (np.frombuffer(each, dtype=np.float64).reshape(-1, 2) for each in (feet, stations))
    bend = plate_influence if model == "plate" else beam_influence
    return bend(
        at, places, plate.length, plate.width, plate.thickness,
        made_of.youngs_modulus.value, made_of.poisson.value, made_of.density.value,
        effective_thickness=effective, weight=weight,
    )  # fmt: skip


def _influence_of_rail(rail: Rail, feet: Feet, stations: Floats, material: str) -> Influence:
    """Influence of the packers of a rail, a beam that counts from its start."""
    if feet.influence == "plate":
        raise GeometryError(f"feet of {feet.surface}: a rail bends as a beam: write influence: beam")
    made_of = material_named(material)
    middle = np.array([0.5 * rail.length, 0.0])
    return beam_influence(
        feet.at - middle, stations - middle, rail.length, rail.width, rail.height,
        made_of.youngs_modulus.value, made_of.poisson.value, made_of.density.value,
        effective_thickness=feet.effective_thickness or None, weight=feet.weight or None,
    )  # fmt: skip


def influence_at(layout: Layout, feet: Feet, names: tuple[str, ...]) -> Influence:
    """The same for stations by their names; reads the file of a measured influence.

    Raises
    ------
    ReadingsError
        With every problem of that file.
    """
    if feet.influence == "measured":
        return read_influence(feet.influence_file, feet, names)
    return influence_of(layout, feet, np.array([layout.stations[name].at[:2] for name in names]).reshape(-1, 2))


def shims_for(layout: Layout, measured: Measured, rng: np.random.Generator | None = None) -> ShimProposal | None:
    """Proposed shims for the surface of ``measured``, or None where the layout names no feet for it.

    Raises
    ------
    GeometryError
        See ``influence_of``, or where the task has no flatness.
    """
    task = measured.evidence.task
    feet = feet_of(layout, task.surface)
    zone = next((each for each in measured.definition.values if isinstance(each, Zone)), None)
    if feet is None or zone is None or not isinstance(zone.measure, PlaneForm):
        return None
    heights, jacobian = shape_of(measured.evidence, zone)
    spread = measured.evidence.network.spread_of(jacobian)
    places = np.array([layout.stations[name].at[:2] for name in zone.profile.stations])
    return propose_shims(
        heights,
        places,
        influence_at(layout, feet, zone.profile.stations),
        add_only=feet.add_only,
        travel=feet.travel,
        stock=feet.stock or None,
        max_pieces=feet.most_pieces,
        covariance=spread.covariance(),
        slack=WORTH * float(np.median(spread.standard_uncertainty())),
        generator=rng,
        names=feet.names,
    )
