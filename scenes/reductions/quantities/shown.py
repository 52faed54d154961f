"""How the numbers of a task are shown: lengths, angles, and angles as a length over the length that the limit names."""

from __future__ import annotations

from dataclasses import dataclass

from ...model.layout import ShownUnits
from ...model.survey import Limit
from ...units import PLACE, from_si, show

__all__ = ["Scale", "scale_of"]


@dataclass(frozen=True, slots=True)
class Scale:
    """Unit in which the values of one component are shown.

    Attributes
    ----------
    unit, kind : str
        Unit, and the kind of quantity that it belongs to.
    over : float
        Length [m] over which a length is meant; 0: none.
    length_unit : str
        Unit of that length.
    """

    unit: str
    kind: str
    over: float
    length_unit: str

    def number(self, value: float) -> float:
        """SI ``value`` of the component, in the unit."""
        return from_si(value * (self.over or 1.0), self.unit, self.kind)

    def told(self, value: float, sign: bool = False, whole: bool = True) -> str:
        """Text of an SI ``value``; with ``whole`` the length that it is meant over stands behind it."""
        text = show(value * (self.over or 1.0), self.unit, self.kind, sign=sign)
        return f"{text}{self.behind}" if whole else text

    @property
    def behind(self) -> str:
        """Words behind the unit: the length that a length is meant over."""
        return f" over {show(self.over, self.length_unit, to=PLACE)}" if self.over else ""


def scale_of(kind: str, limit: Limit | None, units: ShownUnits) -> Scale:
    """Scale of a component that is a ``length`` or an ``angle``."""
    if kind == "length":
        return Scale(units.deviation, "length", 0.0, units.length)
    if limit is not None and limit.over > 0.0:
        return Scale(units.deviation, "length", limit.over, units.length)
    return Scale(units.angle, "angle", 0.0, units.length)
