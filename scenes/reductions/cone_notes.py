"""What to say of cones that were solved for from the shape of a surface."""

from __future__ import annotations

from ..model.finding import Finding, Severity
from ..model.layout import Layout
from ..units import show
from .network import Network

__all__ = ["cone_notes"]

FAR_FROM_STATED = 3.0
"""A fitted cone farther from the stated one than so many of its standard uncertainties gets a warning."""


def cone_notes(layout: Layout, network: Network) -> list[Finding]:
    """Findings about fitted cones that rest on the assumption that the surface is not dished."""
    found = []
    for fitted in network.fitted():
        if not fitted.from_shape:
            continue
        base = fitted.key[0]
        far = abs(fitted.value) > FAR_FROM_STATED * fitted.stated_u > 0.0
        angle = layout.units.angle
        stated = (
            f"; the base is stated to {show(fitted.stated_u, angle, 'angle')} (standard), so that a real dish is likely"
        )
        found.append(
            Finding(
                Severity.WARNING if far else Severity.NOTE, "cone-from-shape", "device", base,
                f"the fitted cone of {show(fitted.value, angle, 'angle', sign=True)} rests on the assumption that the "
                "surface itself is not dished about the base; a real dish of that shape has been taken out with it"
                + (stated if far else ""),
                "read some stations from a second place, at other radii, to tell a dish from a cone",
                line=layout.bases[base].line,
            )
        )  # fmt: skip
    return found
