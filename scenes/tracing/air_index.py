"""Refractive index and density of moist air, and how the index changes with temperature, pressure and humidity."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..errors import InputError
from ..vectors import Floats, frozen

__all__ = ["IndexSlopes", "air_density", "index_slopes", "refractive_index", "temperature_slope", "vapour_pressure"]

Numbers = NDArray[Any]
"""float64, or complex128 where a slope is taken."""

ZERO_CELSIUS = 273.15
GAS_CONSTANT = 8.314472  # J/(mol K), as in the sources; the value of 2019 differs by 1e-6 of it
VAPOUR_MASS = 0.018015  # kg/mol
USUAL_CO2 = 450.0
"""Carbon dioxide of air in rooms, millionths of its molecules."""

COMPLEX_STEP = 1e-30
"""Imaginary step of the slopes: its square vanishes beside anything real, so that they are exact to rounding."""

RANGES = (  # what, from, to, unit
    ("wavelength", 0.3e-6, 1.7e-6, "m"),
    ("temperature", 233.15, 373.15, "K"),
    ("pressure", 10e3, 140e3, "Pa"),
    ("relative humidity", 0.0, 1.0, ""),
    ("carbon dioxide", 0.0, 2000.0, "ppm"),
)
"""Where the equation is said to hold. Source: J. A. Stone and J. H. Zimmerman, Index of Refraction of Air, NIST
Engineering Metrology Toolbox (from memory)."""


@dataclass(frozen=True, slots=True, eq=False)
class IndexSlopes:
    """How the index changes.

    Attributes
    ----------
    per_kelvin : (...) float
        With temperature, 1/K, where the relative humidity is everywhere the same.
    per_kelvin_mixed : (...) float
        With temperature, 1/K, where the share of vapour is everywhere the same, as in air that is stirred.
    per_pascal : (...) float
        With pressure, 1/Pa.
    per_humidity : (...) float
        With relative humidity from 0 to 1; a hundredth of it per percent.
    """

    per_kelvin: Floats
    per_kelvin_mixed: Floats
    per_pascal: Floats
    per_humidity: Floats

    def __post_init__(self) -> None:
        """Freeze."""
        for name in ("per_kelvin", "per_kelvin_mixed", "per_pascal", "per_humidity"):
            object.__setattr__(self, name, frozen(getattr(self, name)))


def refractive_index(
    wavelength: ArrayLike,
    temperature: ArrayLike,
    pressure: ArrayLike = 101_325.0,
    humidity: ArrayLike = 0.5,
    co2: ArrayLike = USUAL_CO2,
) -> Floats:
    """Refractive index of moist air, ``(...)``, for light of a vacuum ``wavelength``.

    Parameters
    ----------
    wavelength : (...) float, m
    temperature : (...) float, K
    pressure : (...) float, Pa
    humidity : (...) float, relative, 0 to 1
    co2 : (...) float, millionths of the molecules

    Raises
    ------
    InputError
        Outside the range of the equation, or where water would boil.

    Notes
    -----
    Standard uncertainty of the equation itself 1e-8 to 5e-8 in n.
    Source: P. E. Ciddor, Refractive index of air: new equations for the visible and near infrared, Applied Optics 35
    (1996) 1566; its sequence as on the page of Stone and Zimmerman, with the vapour pressure of `vapour_pressure`.

    Examples
    --------
    >>> round(float(refractive_index(633e-9, 293.15)), 9)
    1.000271373
    """
    light, t, p, rh, ppm = _checked(wavelength, temperature, pressure, humidity, co2)
    result: Floats = 1.0 + _refractivity(light, t, p, _vapour_share(t, p, rh), ppm)
    return result


def index_slopes(
    wavelength: ArrayLike,
    temperature: ArrayLike,
    pressure: ArrayLike = 101_325.0,
    humidity: ArrayLike = 0.5,
    co2: ArrayLike = USUAL_CO2,
) -> IndexSlopes:
    """Slopes of `refractive_index` in its place, by a complex step; parameters and errors as there."""
    light, t, p, rh, ppm = _checked(wavelength, temperature, pressure, humidity, co2)
    step = 1j * COMPLEX_STEP

    def index(t: Numbers, p: Numbers, share: Numbers) -> Floats:
        result: Floats = _refractivity(light, t, p, share, ppm).imag / COMPLEX_STEP
        return result

    share = _vapour_share(t, p, rh)
    return IndexSlopes(
        per_kelvin=index(t + step, p, _vapour_share(t + step, p, rh)),
        per_kelvin_mixed=index(t + step, p, share),
        per_pascal=index(t, p + step, _vapour_share(t, p + step, rh)),
        per_humidity=index(t, p, _vapour_share(t, p, rh + step)),
    )


def temperature_slope(
    wavelength: ArrayLike,
    temperature: ArrayLike,
    pressure: ArrayLike = 101_325.0,
    humidity: ArrayLike = 0.5,
    *,
    mixed: bool = False,
) -> Floats:
    """Change of the index with temperature alone, ``(...)`` 1/K: ``per_kelvin(_mixed)`` of `index_slopes`."""
    light, t, p, rh, ppm = _checked(wavelength, temperature, pressure, humidity, USUAL_CO2)
    warmer = t + 1j * COMPLEX_STEP
    share = _vapour_share(t if mixed else warmer, p, rh)
    result: Floats = _refractivity(light, warmer, p, share, ppm).imag / COMPLEX_STEP
    return result


def air_density(
    temperature: ArrayLike, pressure: ArrayLike = 101_325.0, humidity: ArrayLike = 0.5, co2: ArrayLike = USUAL_CO2
) -> Floats:
    """Density of moist air, ``(...)`` kg/m^3; parameters and errors as `refractive_index`.

    Source: the equation of state that Ciddor takes over, R. S. Davis, Metrologia 29 (1992) 67.
    """
    _, t, p, rh, ppm = _checked(633e-9, temperature, pressure, humidity, co2)
    dry, vapour = _densities(t, p, _vapour_share(t, p, rh), ppm)
    result: Floats = dry + vapour
    return result


def vapour_pressure(temperature: Numbers) -> Numbers:
    """Pressure [Pa] of saturated vapour over water, and over ice below 0 degC, at a temperature [K].

    Source: IAPWS industrial formulation of 1997, region 4 (water); W. Wagner, A. Saul and A. Pruss, J. Phys. Chem.
    Ref. Data 23 (1994) 515 (ice).
    """
    shifted = temperature - 0.23855557567849 / (temperature - 650.17534844798)
    a = (shifted + 1167.0521452767) * shifted - 724213.16703206
    b = (-17.073846940092 * shifted + 12020.82470247) * shifted - 3232555.0322333
    c = (14.91510861353 * shifted - 4823.2657361591) * shifted + 405113.40542057
    over_water = 1e6 * (2.0 * c / (np.sqrt(b * b - 4.0 * a * c) - b)) ** 4
    ratio = temperature / 273.16
    over_ice = 611.657 * np.exp(-13.928169 * (1.0 - ratio**-1.5) + 34.7078238 * (1.0 - ratio**-1.25))
    return np.where(np.real(temperature) >= ZERO_CELSIUS, over_water, over_ice)


def _checked(*given: ArrayLike) -> list[Floats]:
    """Wavelength, temperature, pressure, humidity and carbon dioxide as arrays, within the range of the equation."""
    arrays = [np.asarray(one, dtype=np.float64) for one in given]
    for (name, low, high, unit), array in zip(RANGES, arrays, strict=True):
        wrong = ~((array >= low) & (array <= high))
        if wrong.any():
            raise InputError(
                f"The index of air is known for a {name} from {low:.4g} to {high:.4g} {unit}".rstrip()
                + f", not for {float(array[wrong].flat[0]):.4g}."
            )
    return arrays


def _vapour_share(temperature: Numbers, pressure: Numbers, humidity: Numbers) -> Numbers:
    """Share of vapour among the molecules. Source: Ciddor, appendix B; enhancement factor of Davis."""
    celsius = temperature - ZERO_CELSIUS
    enhancement = 1.00062 + 3.14e-8 * pressure + 5.6e-7 * celsius**2
    share: Numbers = humidity * enhancement * vapour_pressure(temperature) / pressure
    if np.any(np.real(share) > 1.0):
        raise InputError("At this pressure and temperature water boils: air cannot hold that humidity.")
    return share


def _compressibility(temperature: Numbers, pressure: Numbers, share: Numbers) -> Numbers:
    """Compressibility of moist air. Source: Ciddor, equation 12; constants of Davis."""
    celsius = temperature - ZERO_CELSIUS
    ratio = pressure / temperature
    first = 1.58123e-6 + (-2.9331e-8 + 1.1043e-10 * celsius) * celsius
    first = first + (5.707e-6 - 2.051e-8 * celsius) * share + (1.9898e-4 - 2.376e-6 * celsius) * share**2
    result: Numbers = 1.0 - ratio * first + ratio**2 * (1.83e-11 - 0.765e-8 * share**2)
    return result


def _densities(temperature: Numbers, pressure: Numbers, share: Numbers, co2: Floats) -> tuple[Numbers, Numbers]:
    """Densities [kg/m^3] of the dry part and of the vapour. Source: Ciddor, equation 4."""
    molar = pressure / (_compressibility(temperature, pressure, share) * GAS_CONSTANT * temperature)
    return (1.0 - share) * molar * _dry_mass(co2), share * molar * VAPOUR_MASS


def _dry_mass(co2: Floats) -> Floats:
    """Molar mass of dry air, kg/mol."""
    result: Floats = 0.0289635 + 1.2011e-8 * (co2 - 400.0)
    return result


def _refractivity(light: Floats, temperature: Numbers, pressure: Numbers, share: Numbers, co2: Floats) -> Numbers:
    """Index less one. Source: Ciddor, equations 1 to 5.

    Dispersion of dry air at 15 degC, 101.325 kPa and of vapour at 20 degC, 1333 Pa, each times its density over that
    of its standard.
    """
    s = (1e-6 / light) ** 2
    dry_standard = 1e-8 * (5792105.0 / (238.0185 - s) + 167917.0 / (57.362 - s)) * (1.0 + 5.34e-7 * (co2 - 450.0))
    vapour_standard = 1.022e-8 * (295.235 + (2.6422 + (-0.03238 + 0.004028 * s) * s) * s)
    dry_density = 101_325.0 * _dry_mass(co2) / (0.9995922115 * GAS_CONSTANT * 288.15)
    dry, vapour = _densities(temperature, pressure, share, co2)
    result: Numbers = dry / dry_density * dry_standard + vapour / 0.00985938 * vapour_standard
    return result
