"""Material table: stiffness, density and thermal expansion, each with its spread and where it comes from."""

from __future__ import annotations

from dataclasses import dataclass

from ..errors import InputError
from ..hints import did_you_mean

__all__ = ["MATERIALS", "OTHER_NAMES", "Material", "Property", "material_named"]

MEMORY = "typical handbook value, from memory"
TABLE = "table of linear expansion at tigerquesttech.com"
RANGES = "ranges of linear expansion at wisetool.com"
GUM = "GUM (JCGM 100:2008), annex H.1: steel gauge block, limits of 2e-6/K"


@dataclass(frozen=True, slots=True)
class Property:
    """A value in SI units, half the width of the range it may lie in, and its origin."""

    value: float
    half_width: float
    origin: str

    @property
    def standard_uncertainty(self) -> float:
        """Of an even distribution over the range. Source: GUM (JCGM 100:2008), 4.3.7."""
        return float(self.half_width / 3.0**0.5)


@dataclass(frozen=True, slots=True)
class Material:
    """What a machine part is made of.

    Attributes
    ----------
    name : str
    youngs_modulus : Property
        Pascal.
    poisson : Property
        Poisson's ratio.
    density : Property
        Kilogram per cubic metre.
    expansion : Property
        Linear thermal expansion near 20 degC, per kelvin.
    """

    name: str
    youngs_modulus: Property
    poisson: Property
    density: Property
    expansion: Property


def _solid(
    name: str,
    gigapascal: tuple[float, float],
    poisson: tuple[float, float],
    density: tuple[float, float],
    expansion: tuple[float, float],
    origin: str = MEMORY,
) -> Material:
    """Material from pairs of value and half-width; expansion in 1e-6/K is from ``origin``, the rest from memory."""
    return Material(
        name,
        Property(gigapascal[0] * 1e9, gigapascal[1] * 1e9, MEMORY),
        Property(*poisson, MEMORY),
        Property(*density, MEMORY),
        Property(expansion[0] * 1e-6, expansion[1] * 1e-6, origin),
    )


MATERIALS = {
    solid.name: solid
    for solid in (
        _solid("cast iron", (110.0, 20.0), (0.26, 0.03), (7200.0, 150.0), (10.8, 1.0), f"grey cast iron: {TABLE}"),
        _solid("ductile iron", (169.0, 8.0), (0.275, 0.015), (7100.0, 100.0), (11.5, 1.5)),
        _solid("steel", (206.0, 8.0), (0.29, 0.02), (7850.0, 60.0), (11.5, 2.0), GUM),
        _solid("stainless steel", (195.0, 8.0), (0.29, 0.02), (7950.0, 80.0), (16.5, 1.5)),
        _solid("aluminium", (70.0, 3.0), (0.33, 0.01), (2700.0, 100.0), (24.0, 3.0), f"{TABLE}; {RANGES}: 21 to 25"),
        _solid(
            "granite", (60.0, 20.0), (0.25, 0.08), (2800.0, 200.0), (6.5, 1.5), f"{TABLE}: 7.9; other handbooks: 5 to 8"
        ),
        _solid("mineral casting", (35.0, 10.0), (0.25, 0.05), (2400.0, 200.0), (14.0, 4.0)),
        _solid("concrete", (30.0, 8.0), (0.2, 0.03), (2400.0, 100.0), (10.0, 2.0)),
    )
}
"""By name."""

OTHER_NAMES = {
    "gray cast iron": "cast iron",
    "grey cast iron": "cast iron",
    "gray iron": "cast iron",
    "grey iron": "cast iron",
    "nodular iron": "ductile iron",
    "mild steel": "steel",
    "aluminum": "aluminium",
    "polymer concrete": "mineral casting",
    "epoxy granite": "mineral casting",
}
"""Other common name -> name."""


def material_named(name: str) -> Material:
    """Material of a name; the case and other common names do not matter.

    Raises
    ------
    InputError
        A name that is not in the table; the near ones are listed.

    Examples
    --------
    >>> material_named("Aluminum").expansion.value
    2.4e-05
    """
    plain = " ".join(name.lower().split())
    found = MATERIALS.get(OTHER_NAMES.get(plain, plain))
    if found is None:
        raise InputError(
            f"The material {name!r} is not in the table; {did_you_mean(plain, [*MATERIALS, *OTHER_NAMES])}"
        )
    return found
