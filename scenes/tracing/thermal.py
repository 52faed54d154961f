"""Growth and bow of machine surfaces at the temperatures that a layout states, at stations.

Deviations are those that a surface has at the reference temperature: what warmth does to its shape is part of the
nominal geometry, and its uncertainty an error source.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..errors import GeometryError
from ..model.layout import Layout
from ..model.machine import Column, Face, Plate, Rail, Roll, Surface
from ..model.materials import material_named
from ..vectors import Floats, Indices
from .growth import REFERENCE_TEMPERATURE, column_growth, plate_growth, rail_growth, relative_growth

__all__ = ["StationGrowth", "station_growth"]

KELVIN = 1.0


@dataclass(frozen=True, slots=True, eq=False)
class StationGrowth:
    """What warmth does at n stations; all along the normal of the station.

    Attributes
    ----------
    deviation : (n,) float
        Growth and bow as stated, metres.
    of_temperature, of_across, of_expansion : (n,) float
        Standard uncertainties from the temperature, from the difference across the part and from its expansion, metres,
        signed: those of one surface move together.
    surface : (n,) int
        Stations of the same surface have the same number.
    """

    deviation: Floats
    of_temperature: Floats
    of_across: Floats
    of_expansion: Floats
    surface: Indices


def _growth(surface: Surface, at: Floats, expansion: float, temperature: float, across: float) -> Floats:
    match surface.shape:
        case Plate(thickness=thickness) | Face(thickness=thickness):
            return plate_growth(at, thickness, expansion, temperature, across)
        case Rail(length=length, height=height):
            return rail_growth(at, length, height, expansion, temperature, across)
        case Column(length=depth):
            return column_growth(at, depth, expansion, temperature, across)
        case Roll(diameter=diameter):
            return np.full(len(at), 0.5 * diameter * float(relative_growth(expansion, temperature)))
    return np.zeros(len(at))  # a bore grows about its own axis; the inside of a mesh is not known


def _is_told(surface: Surface) -> bool:
    """Whether the layout says anything of the warmth of a surface."""
    known_to = surface.temperature_known_to or surface.across_known_to
    return surface.temperature is not None or bool(surface.across or known_to)


def station_growth(layout: Layout, names: Sequence[str]) -> StationGrowth:
    """Growth at the stations ``names``; zero on surfaces whose temperature the layout does not state.

    Raises
    ------
    GeometryError
        A surface with a temperature and no material: its expansion is not known.
    """
    stations = [layout.stations[name] for name in names]
    order = {name: number for number, name in enumerate(dict.fromkeys(station.surface for station in stations))}
    surface_of = np.array([order[station.surface] for station in stations], dtype=np.int64)
    at = np.array([station.at for station in stations]).reshape(-1, 3)
    parts = np.zeros((4, len(names)))
    for name, number in order.items():
        surface = layout.surfaces.get(name)
        if surface is None or not _is_told(surface):
            continue
        if not surface.material:
            raise GeometryError(
                f"{name} has a temperature and no material, so its growth is not known; state its material",
                code="no-material",
            )
        mine = surface_of == number
        expansion = material_named(surface.material).expansion
        warm = REFERENCE_TEMPERATURE if surface.temperature is None else surface.temperature

        def grown(
            alpha: float, temperature: float, across: float, of: Surface = surface, here: Floats = at[mine]
        ) -> Floats:
            return _growth(of, here, alpha, temperature, across)

        alpha = expansion.value
        parts[0, mine] = grown(alpha, warm, surface.across)
        parts[1, mine] = surface.temperature_known_to * grown(alpha, REFERENCE_TEMPERATURE + KELVIN, 0.0)
        parts[2, mine] = surface.across_known_to * grown(alpha, REFERENCE_TEMPERATURE, KELVIN)
        parts[3, mine] = parts[0, mine] * expansion.standard_uncertainty / alpha
    return StationGrowth(parts[0], parts[1], parts[2], parts[3], surface_of)
