"""Legend and scale beside the picture, in plain data."""

from __future__ import annotations

from typing import Any

from scenes.units import from_si
from viewer import text
from viewer.colours import gradient_stops

__all__ = ["factor_legend", "factor_words", "legend_document"]

ANGLE = "angle"
GRADIENT = f"linear-gradient(to right, {gradient_stops()})"


def factor_words(factor: float, what: str = "heights") -> str:
    """The exaggeration as the picture states it."""
    if factor <= 1.0:
        return f"{what} × 1 (true scale)"
    return (
        f"{what} × {factor:,.3g}".replace(",", "\u202f")
        if factor < 100.0
        else (f"{what} × {factor:,.0f}".replace(",", "\u202f"))
    )


def legend_document(
    factor: float, largest: float, unit: str, *, bar: float | None, zone: tuple[float, float] | None, drawn: str,
    what: str = "heights", angles: bool = False,
) -> dict[str, Any]:  # fmt: skip
    """Factor, true scale and colour bar; ``largest``, ``bar`` and ``zone`` in metres, or of ``angles`` in rad."""

    def told(value: float, sign: bool = True) -> str:
        if not angles:
            return text.quantity(value, unit, sign=sign)
        number = from_si(value, unit, ANGLE)
        return f"{text.signed(f'{number:+.3g}' if sign else f'{number:.3g}')} {text.screen_unit(unit)}"

    limits = []
    if zone is not None:
        limits = [
            {"at": round(50.0 + 50.0 * end / largest, 2), "text": told(end)} for end in zone if abs(end) <= largest
        ]
    worth = "" if bar is None else (
        told(bar, False) if angles else f"{from_si(bar, unit, 'length'):.6g} {text.screen_unit(unit)}"
    )  # fmt: skip
    return {
        "factor": factor_words(factor, what),
        "bar": f"standing bar = {worth}" if worth else "",
        "low": told(-largest), "high": told(largest),
        "gradient": GRADIENT, "limits": limits, "what": drawn, "map": True, "slider": "",
    }  # fmt: skip


def factor_legend(factor: float, what: str, slider: str) -> dict[str, Any]:
    """Factor alone, where nothing is coloured by its size; ``slider`` names what sets it, or is empty."""
    return {"factor": factor_words(factor, what), "bar": "", "map": False, "limits": [], "slider": slider}
