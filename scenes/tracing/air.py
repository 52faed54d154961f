"""Air: how its temperature and its own weight bend a beam.

Moving air adds scatter. Its size at 1 m is stated for each emitter and grows with the length L to the power 1.5: a
slope that wanders at random along the way has a variance that goes as L, and the place of the spot one that goes as
L^3. So does the wander of a beam in turbulence, 2.42 Cn^2 L^3 / w^(1/3): L. C. Andrews and R. L. Phillips, Laser Beam
Propagation through Random Media, chapter 6 (from memory).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from ..vectors import Floats, dot
from .air_index import air_density, index_slopes, temperature_slope

__all__ = ["INDEX_PER_KELVIN", "bend", "bend_in", "gradient_of_weight"]

PRESSURE = 101_325.0
HUMIDITY = 0.5
WAVELENGTH = 633e-9
STANDARD_GRAVITY = 9.80665  # m/s^2; that of a place differs by less than 0.3 %

INDEX_PER_KELVIN = float(temperature_slope(WAVELENGTH, 293.15, PRESSURE, HUMIDITY))
"""Change of the index of air with temperature at 20 degC, 101.325 kPa, 50 % humidity, 633 nm: -9.548e-7 per kelvin."""

UP = np.array([0.0, 0.0, 1.0])


def bend(
    direction: Floats,
    gradient: Floats,
    temperature: ArrayLike,
    *,
    pressure: ArrayLike = PRESSURE,
    humidity: ArrayLike = HUMIDITY,
    wavelength: ArrayLike = WAVELENGTH,
    mixed: bool = False,
) -> Floats:
    """Curvature vectors ``(..., 3)`` [1/m] of beams in a vertical temperature gradient.

    A beam curves toward the colder, denser side; see `bend_in`, of which this is the vertical case.

    Parameters
    ----------
    direction : (..., 3) float, unit vectors, world
    gradient : (...) float, K/m, + = warmer above
    temperature : (...) float, K
    pressure : (...) float, Pa
    humidity : (...) float, relative, 0 to 1
    wavelength : (...) float, m
    mixed : bool
        Whether the share of vapour is taken as the same everywhere, as in air that is stirred, instead of the relative
        humidity. The beam bends less then: by 3 % at 20 degC and 50 %, by 8 % at 40 degC.
    """
    slope = temperature_slope(wavelength, temperature, pressure, humidity, mixed=mixed)
    return bend_in(direction, np.asarray(gradient)[..., None] * UP, slope)


def bend_in(direction: Floats, gradient: Floats, slope: ArrayLike) -> Floats:
    """Curvature vectors ``(..., 3)`` [1/m] of beams in a temperature gradient of any direction.

    r'' = (grad n - (grad n . d) d) / n, of which the divisor n is left out. It takes less than 3e-4 off the drop of the
    beam (0.2 um of 0.76 mm after 40 m in 1 K/m), while no gradient in a hall is known to better than some percent.

    Parameters
    ----------
    direction : (..., 3) float, unit vectors, world
    gradient : (..., 3) float, K/m, toward the warmer side, world
    slope : (...) float
        Change of the index with temperature, 1/K: `temperature_slope`. With slope 1, ``gradient`` is that of the index.

    Notes
    -----
    The curvature is that at the start of a beam and is kept along it. In an index that changes evenly this is exact to
    the share by which the index changes along the way (3e-5 in 40 m at 1 K/m).
    Source: the ray equation, M. Born and E. Wolf, Principles of Optics, section 3.2.
    """
    across = gradient - dot(gradient, direction)[..., None] * direction
    result: Floats = np.asarray(slope)[..., None] * across
    return result


def gradient_of_weight(
    temperature: ArrayLike,
    *,
    pressure: ArrayLike = PRESSURE,
    humidity: ArrayLike = HUMIDITY,
    wavelength: ArrayLike = WAVELENGTH,
    mixed: bool = False,
) -> Floats:
    """Gradient of temperature ``(...)`` [K/m] that bends a beam as the weight of the air does.

    Air is denser below because it carries what lies above, so that a level beam drops in air of one temperature too: by
    1.6 um in 10 m and 25 um in 40 m. To count it, add this value to the gradient that was measured.

    Notes
    -----
    dp/dz = -density g, so that the gradient is -density g (dn/dp) / (dn/dT). Parameters as in `bend`.
    Source: hydrostatics; the negative of the result is the lapse at which air has the same density at every height,
    that of dry air being 34 K/km in any text on meteorology.
    """
    slopes = index_slopes(wavelength, temperature, pressure, humidity)
    per_kelvin = slopes.per_kelvin_mixed if mixed else slopes.per_kelvin
    result: Floats = -air_density(temperature, pressure, humidity) * STANDARD_GRAVITY * slopes.per_pascal / per_kelvin
    return result
