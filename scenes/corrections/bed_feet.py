"""Shims for a measured bed: from the feet of the layout and its measured flatness to a proposal."""

from __future__ import annotations

import numpy as np

from ..errors import GeometryError
from ..model.layout import Layout
from ..model.machine import Plate
from ..model.materials import material_named
from ..model.survey import Feet
from ..reductions.quantities.definition import Zone
from ..reductions.quantities.measured import Measured, shape_of
from ..reductions.quantities.measures import PlaneForm
from ..vectors import Floats
from .beam import beam_influence
from .influence import Influence, rigid_influence
from .plate import plate_influence
from .proposal import ShimProposal
from .shims import propose_shims

__all__ = ["UNSTATED_MATERIAL", "feet_of", "influence_of", "shims_for"]

UNSTATED_MATERIAL = "cast iron"
"""Material of a bed that states none: the usual one of machine beds (common practice)."""


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
    if not isinstance(shape, Plate):
        raise GeometryError(f"feet of {surface.name}: only a plate can be shimmed in this version")
    material = material_named(surface.material or UNSTATED_MATERIAL)
    bend = plate_influence if feet.influence == "plate" else beam_influence
    return bend(
        feet.at, stations, shape.length, shape.width, shape.thickness,
        material.youngs_modulus.value, material.poisson.value, material.density.value,
        effective_thickness=feet.effective_thickness or None, weight=feet.weight or None,
    )  # fmt: skip


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
        influence_of(layout, feet, places),
        add_only=feet.add_only,
        travel=feet.travel,
        stock=feet.stock or None,
        max_pieces=feet.most_pieces,
        covariance=spread.covariance(),
        slack=WORTH * float(np.median(spread.standard_uncertainty())),
        generator=rng,
        names=feet.names,
    )
