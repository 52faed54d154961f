"""Cones that only the shape of a surface tells: found by assuming that the surface itself holds no such dish."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.linalg import null_space

from ..errors import GeometryError
from ..vectors import Floats
from .columns import Columns, Design
from .nuisances import Prior
from .reach import Reach
from .unknowns import Unknown

__all__ = ["DISH", "EQUAL_RADII", "Assumed", "assumed_cones"]

DISH = "dish of the surface taken for a cone"

EQUAL_RADII = 1e-3
"""Radii count as equal where what a plane leaves of them is below this share of their size."""


@dataclass(frozen=True, slots=True, eq=False)
class Assumed:
    """What rests on the assumption; p unknowns, c cones.

    The datum of the network already leaves no dish of their shape in the heights of stations.

    Attributes
    ----------
    priors : tuple of Prior
        The cones, with what is stated of them.
    open_directions : (p, d) float
        Those that are still open.
    directions : (p, c) float
        Change of the unknowns where a cone is 1 rad larger and the readings stay as they are.
    sizes : (c,) float
        Of the cones, rad.
    """

    priors: tuple[Prior, ...]
    open_directions: Floats
    directions: Floats
    sizes: Floats

    def errors_of(self, functional: Floats) -> dict[str, Floats]:
        """Errors ``(k, c)`` of functionals if the assumption is wrong: there may be no cone at all."""
        return {DISH: (functional @ self.directions) * self.sizes} if len(self.priors) else {}


def assumed_cones(
    priors: tuple[Prior, ...], unknowns: tuple[Unknown, ...], values: Floats, reach: Reach, design: Design,
    columns: Columns,
) -> Assumed:  # fmt: skip
    """What it means that the surface is taken to hold no dish of the shape of these cones.

    Raises
    ------
    GeometryError
        Where all radii are equal (seen against a plane), so that a cone only lifts or tilts the whole reading.
    """
    if not priors:
        return Assumed((), reach.open_directions, np.zeros((len(values), 0)), np.zeros(0))
    named = [(unknown.field, key) for unknown in unknowns for key in unknown.keys]
    cones = np.array([named.index((prior.field, prior.key)) for prior in priors])
    heights = np.array([number for number, (field, _) in enumerate(named) if field == "deviation"])
    open_, scale = reach.open_directions, reach.scale
    share = open_[cones]
    directions = scale[:, None] * (open_ @ np.linalg.pinv(share)) / scale[cones]
    still = open_ @ null_space(share)
    planes, sizes, _ = np.linalg.svd(scale[heights, None] * still[heights], full_matrices=False)
    planes = planes[:, sizes > EQUAL_RADII * max(float(sizes.max(initial=0.0)), 1e-300)]
    dish = directions[heights] - planes @ (planes.T @ directions[heights])
    frame = {int(number): place for place, number in enumerate(columns.of_frame)}
    for number, prior in enumerate(priors):
        slope = np.where(design.numbers == frame[int(cones[number])], design.values, 0.0).sum(axis=1)
        felt = slope[slope != 0.0]
        if np.sqrt(np.mean(dish[:, number] ** 2)) < EQUAL_RADII * np.sqrt(np.mean(felt**2)):
            base = ", ".join(prior.key)
            raise GeometryError(
                f"the cone of {base} cannot be found: all stations stand at the same radius from it, or a tilted plane "
                "follows their radii, so a cone only lifts or tilts all readings together; read stations at clearly "
                "different radii or from a second set-up, or take the cone as stated"
            )
    return Assumed(priors, still, directions, np.abs(values[cones]))
