"""Air: how a temperature gradient bends a beam."""

from __future__ import annotations

import numpy as np

from ..vectors import Floats, dot

__all__ = ["INDEX_PER_KELVIN", "REFERENCE_TEMPERATURE", "bend"]

INDEX_PER_KELVIN = -9.548e-7
"""Change of the index of air with temperature at 20 degC, 101.325 kPa, 50 % humidity, 633 nm, per kelvin.

Source: equation of Ciddor (Applied Optics 35, 1996, 1566), evaluated with a general-purpose library.
"""

REFERENCE_TEMPERATURE = 293.15
UP = np.array([0.0, 0.0, 1.0])


def bend(direction: Floats, gradient: Floats, temperature: float) -> Floats:
    """Curvature vectors ``(..., 3)`` [1/m] of beams in a vertical temperature gradient.

    A beam curves toward the colder, denser side: r'' = (grad n - (grad n . d) d) / n. Density, and with it n - 1,
    goes as 1/T at a given pressure, so its slope goes as 1/T^2.

    Parameters
    ----------
    direction : (..., 3) float, unit vectors, world
    gradient : (...) float, K/m, + = warmer above
    temperature : float, K

    Source: the ray equation, M. Born and E. Wolf, Principles of Optics, section 3.2; the divisor n differs from one
    by 3e-4 and is left out.
    """
    slope = INDEX_PER_KELVIN * (REFERENCE_TEMPERATURE / temperature) ** 2 * gradient
    across = UP - dot(direction, UP)[..., None] * direction
    result: Floats = slope[..., None] * across
    return result
