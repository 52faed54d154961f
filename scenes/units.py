"""Units at the edges: text to SI and back. Everything inside is metres, radians, seconds and kelvin.

The arithmetic of units is pint's; this module says which units suit which kind of quantity and words the errors.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import pint

__all__ = [
    "ANGLE", "DEVIATION", "KINDS", "PLACE", "SIZE", "SPOT", "Kind", "UnitError", "decimals", "factor_to_si", "from_si",
    "parse_number", "parse_quantity", "show", "to_si",
]  # fmt: skip

_NUMBER = re.compile(r"[+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d+)?", re.ASCII)
# One unit, or one over another. Nothing else reaches pint, which would work out powers of any size.
_UNIT = re.compile(r"[A-Za-zµμ°%″′\"]{1,16}(?:\s*/\s*[A-Za-zµμ°]{1,16})?")
_MASSES = ("kg", "t", "lb")  # where a force is asked for they stand for their weight
_SPELLINGS = {"µ": "u", "μ": "u", "°C": "degC", "°": "deg", '"': "arcsec", "″": "arcsec", "′": "arcmin", "inch": "in"}


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of quantity: its SI unit, the units to suggest, and an example to type."""

    name: str
    si: str
    usual: tuple[str, ...]
    example: str


KINDS: dict[str, Kind] = {
    kind.name: kind
    for kind in (
        Kind("length", "m", ("m", "cm", "mm", "um", "nm", "in", "thou", "ft"), "120 mm"),
        Kind("angle", "rad", ("deg", "arcmin", "arcsec", "mrad", "urad", "mm/m", "um/m", "thou/ft"), "10 arcsec"),
        Kind("temperature", "K", ("degC", "degF", "K"), "21 degC"),
        Kind("temperature difference", "K", ("K", "degC", "degF"), "2 K"),
        Kind("temperature gradient", "K/m", ("K/m", "degC/m"), "0.3 K/m"),
        Kind("angle rate", "rad/s", ("urad/h", "arcsec/h", "urad/min"), "3 urad/h"),
        Kind("time", "s", ("s", "min", "h"), "1 min"),
        Kind("ratio", "", ("%", "um/mm", "mm/m"), "0.2 %"),
        Kind("pressure", "Pa", ("hPa", "kPa", "mbar", "bar"), "1013 hPa"),
        Kind("force", "N", ("N", "kN", "t", "kg", "lbf"), "600 kN"),
        Kind("length at 1 m", "m", ("um", "mm", "thou"), "0.5 um"),
    )
}


class UnitError(ValueError):
    """A text is not a quantity of the asked kind; the message says what is wrong, ``advice`` what to type."""

    def __init__(self, message: str, advice: str) -> None:
        self.advice = advice
        super().__init__(message)


_DEFINITIONS = """
nano- = 1e-9 = n-
micro- = 1e-6 = u- = µ- = μ-
milli- = 1e-3 = m-
centi- = 1e-2 = c-
deci- = 1e-1 = d-
kilo- = 1e3 = k-
metre = [length] = m = meter
inch = 25.4e-3 * metre = in = inches
foot = 12 * inch = ft = feet
thou = 1e-3 * inch = _ = mil = mils
radian = [] = rad
degree = 3.141592653589793 / 180 * radian = deg = degrees
arcmin = degree / 60
arcsec = degree / 3600
second = [time] = s = sec
minute = 60 * second = min = minutes
hour = 3600 * second = h = hr = hours
day = 86400 * second = d = days
kelvin = [temperature]; offset: 0 = K
degree_Celsius = kelvin; offset: 273.15 = degC
degree_Fahrenheit = 5 / 9 * kelvin; offset: 255.37222222222223 = degF
percent = 0.01 = %
gram = [mass] = g
tonne = 1000 * kilogram = t
pound = 0.45359237 * kilogram = lb
newton = kilogram * metre / second ** 2 = N
pascal = newton / metre ** 2 = Pa
hectopascal = 100 * pascal = hPa
bar = 1e5 * pascal
standard_gravity = 9.80665 * metre / second ** 2
pound_force = pound * standard_gravity = lbf
"""


@cache
def _registry() -> pint.UnitRegistry:
    """Registry of the units of the trade; the whole one of pint takes half a second to build and knows odd ones."""
    import pint  # half a second that commands without a quantity do not pay

    registry: pint.UnitRegistry = pint.UnitRegistry(None, autoconvert_offset_to_baseunit=True)
    registry.load_definitions(_DEFINITIONS.strip().splitlines())
    return registry


@cache
def factor_to_si(unit: str, kind: str) -> tuple[float, float]:
    """Factor and offset ``(a, b)`` with ``si = a * value + b`` for values in ``unit``.

    Raises
    ------
    UnitError
        Where ``unit`` is unknown or belongs to another kind of quantity.
    """
    wanted = KINDS[kind]
    spelled = unit.strip()
    for odd, plain in _SPELLINGS.items():
        if spelled == odd or odd in "µμ°":
            spelled = spelled.replace(odd, plain)
    if kind in ("temperature gradient", "temperature difference"):
        spelled = spelled.replace("degC", "K").replace("degF", "delta_degree_Fahrenheit")
    if kind == "force" and spelled in _MASSES:
        spelled = f"{spelled} * standard_gravity"  # Source: CGPM 1901, 9.80665 m/s2 by convention
    usual = ", ".join(wanted.usual)
    if not _UNIT.fullmatch(unit.strip()):
        raise UnitError(f"{unit!r} is not a known unit", f"units of {kind}: {usual}")
    from pint import DimensionalityError

    registry = _registry()
    try:
        zero = registry.Quantity(0.0, spelled).to(wanted.si or "dimensionless").magnitude
        one = registry.Quantity(1.0, spelled).to(wanted.si or "dimensionless").magnitude
    except DimensionalityError:
        raise UnitError(f"{unit!r} is not a unit of {kind}", f"units of {kind}: {usual}") from None
    except Exception:  # pint raises many kinds of errors for text that is no unit
        raise UnitError(f"{unit!r} is not a known unit", f"units of {kind}: {usual}") from None
    return float(one - zero), float(zero)


def parse_number(text: str) -> float:
    """Number in ``text``, with a decimal point or a decimal comma; raises ``ValueError`` for anything else."""
    if not _NUMBER.fullmatch(text.strip()):
        raise ValueError(f"{text.strip()!r} is not a number")
    value = float(text.strip().replace(",", "."))
    if not math.isfinite(value):
        raise ValueError(f"{text.strip()!r} is too large")
    return value


def parse_quantity(text: object, kind: str, bare: str | None = None) -> float:
    """Value in SI units of a text such as ``120 mm``.

    Parameters
    ----------
    text : str, or a number where ``bare`` is given
    kind : str
        Key of ``KINDS``.
    bare : str, optional
        Unit of a number without one; without it such a number is an error.

    Raises
    ------
    UnitError
    """
    wanted = KINDS[kind]
    if isinstance(text, bool) or not isinstance(text, (str, int, float)):
        raise UnitError(f"a {kind} with its unit is expected, not {text!r}", f"for example {wanted.example}")
    written = str(text).strip()
    found = _NUMBER.match(written)
    if found is None:
        raise UnitError(f"a {kind} with its unit is expected, not {written!r}", f"for example {wanted.example}")
    unit = written[found.end() :].strip()
    if not unit:
        if bare is None:
            usual_unit = wanted.example.split(" ", 1)[1]
            raise UnitError(
                f"the number {written} has no unit", f"write it with its unit, for example {written} {usual_unit}"
            )
        unit = bare
    factor, offset = factor_to_si(unit, kind)
    try:
        value = factor * parse_number(found.group()) + offset
        if not math.isfinite(value):
            raise ValueError(f"{written!r} is too large")
        return value
    except ValueError as error:
        raise UnitError(str(error), f"for example {wanted.example}") from None


def to_si(value: float, unit: str, kind: str) -> float:
    """``value`` in ``unit``, in SI units."""
    factor, offset = factor_to_si(unit, kind)
    return factor * value + offset


def from_si(value: float, unit: str, kind: str) -> float:
    """SI ``value``, in ``unit``."""
    factor, offset = factor_to_si(unit, kind)
    return (value - offset) / factor


PLACE = 1e-3
"""Places and ranges are printed to this [m], ..."""

SIZE = 1e-4
"""... sizes and travels to this, ..."""

SPOT = 1e-5
"""... spots on detectors to this, ..."""

DEVIATION = 1e-7
"""... and deviations to this, whatever the unit."""

ANGLE = 5e-8
"""Angles are printed to this [rad]: a hundredth of an arcsecond."""

MOST_DECIMALS = 9


def decimals(unit: str, kind: str, to: float) -> int:
    """Decimals that a number in ``unit`` needs to tell values apart by about ``to`` (SI)."""
    factor, _ = factor_to_si(unit, kind)
    return min(MOST_DECIMALS, max(0, round(math.log10(factor / to))))


def show(
    value: float,
    unit: str,
    kind: str = "length",
    digits: int | None = None,
    sign: bool = False,
    to: float | None = None,
) -> str:
    """SI ``value`` as text in ``unit``: ``show(12.3e-6, "um")`` is ``12.3 um``; not a number gives a dash.

    Parameters
    ----------
    digits : int, optional
        Decimals; otherwise as many as the unit needs to print to ``to`` [SI], a deviation or angle if not given.
    sign : bool
        Show a plus.
    """
    if not math.isfinite(value):
        return "-"
    if digits is None:
        digits = decimals(unit, kind, to or (ANGLE if kind == "angle" else DEVIATION))
    number = from_si(value, unit, kind)
    text = f"{number:+.{digits}f}" if sign else f"{number:.{digits}f}"
    if float(text) == 0.0:
        text = text.lstrip("+-")
    return f"{text} {unit}"
