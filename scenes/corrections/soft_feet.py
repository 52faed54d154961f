"""Soft feet: gaps under feet whose bolts are loosened, what fills them, and what the feet carry until then."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from ..errors import GeometryError
from ..hints import did_you_mean
from ..vectors import Floats, frozen
from .influence import Influence
from .stacks import stacks_of

__all__ = ["ANGLED", "SOFT", "SoftFeet", "loads_with_gaps", "soft_feet"]

SOFT = 50e-6
"""Gap [m] from which a foot is called soft (common practice: 0.05 mm)."""

ANGLED = 50e-6
"""Difference of the gaps at the corners of a foot [m] from which it is called angled (common practice)."""


@dataclass(frozen=True, slots=True, eq=False)
class SoftFeet:
    """Gaps and what fills them; m feet, metres.

    Attributes
    ----------
    gaps : (m,) float
        Least gap of every foot; 0 where there is none, or one too small to matter.
    fill : (m,) float
        Thickness of the shims that fill it.
    first : tuple of str
        What to do before anything else.
    """

    gaps: Floats
    fill: Floats
    first: tuple[str, ...]

    def __post_init__(self) -> None:
        """Freeze the arrays."""
        object.__setattr__(self, "gaps", frozen(self.gaps))
        object.__setattr__(self, "fill", frozen(self.fill))


def soft_feet(
    names: tuple[str, ...], gaps: Mapping[str, tuple[float, ...]], stock: tuple[float, ...], most_pieces: int,
    travel: float,
) -> SoftFeet:  # fmt: skip
    """What the gaps under the named feet ask for.

    Parameters
    ----------
    gaps : mapping of foot to gaps
        Metres, read with the bolt of this foot loosened and all others tight: one number, or one per corner.

    Raises
    ------
    GeometryError
        A foot that is not there, a gap below zero, or one that the travel cannot fill.
    """
    least, fill, first = np.zeros(len(names)), np.zeros(len(names)), []
    for foot, corners in gaps.items():
        if foot not in names:
            raise GeometryError(f"A gap is stated for {foot}, which is no foot. {did_you_mean(foot, names)}".strip())
        if not corners or not all(np.isfinite(corners)) or min(corners) < 0.0:
            raise GeometryError(f"The gap under {foot} must be a length of zero or more.")
        j, gap, wedge = names.index(foot), min(corners), max(corners) - min(corners)
        if wedge > ANGLED:
            first.append(
                f"{foot} is angled: its corners gape from {1e3 * gap:.2f} to {1e3 * max(corners):.2f} mm. A flat shim "
                "would bend the foot; use step or tapered shims, or machine its seat, before anything else."
            )
        if gap < SOFT:
            if gap > 0.0:
                first.append(
                    f"The gap of {1e3 * gap:.2f} mm under {foot} is below the {1e3 * SOFT:g} mm of common practice "
                    "and is left alone."
                )
            continue
        least[j], fill[j] = gap, _filled(foot, gap, stock, most_pieces, travel)
        first.append(
            f"{foot} is a soft foot: loosen its bolt alone, put {1e3 * fill[j]:.2f} mm under it, tighten, and read the "
            "gap again; until then it carries nothing and its bolt bends the part."
        )
    if least.any():
        first.append("Fill the gaps first, then read the part again if you can: common practice, and better than any "
                     "model of what the bolts did.")  # fmt: skip
    return SoftFeet(least, fill, tuple(first))


def _filled(foot: str, gap: float, stock: tuple[float, ...], most_pieces: int, travel: float) -> float:
    """The least stack that fills a gap; the gap itself where any thickness is at hand."""
    if gap > travel:
        raise GeometryError(f"The gap of {1e3 * gap:.2f} mm under {foot} is more than its travel of "
                            f"{1e3 * travel:.2f} mm.")  # fmt: skip
    if not stock:
        return gap
    heights = stacks_of(stock, most_pieces, travel, add_only=True).heights
    enough = heights[heights >= gap - 1e-9]
    if not len(enough):
        raise GeometryError(
            f"No stack of at most {most_pieces} shims fills the gap of {1e3 * gap:.2f} mm under {foot}."
        )
    return float(enough[0])


def loads_with_gaps(influence: Influence, gaps: Floats) -> Floats | None:
    """Loads on the feet as found ``(m,)``, newton, where bolts pull the part down over the gaps; None: not known.

    A soft foot is lower than the model of feet at one height says, by so much that it would carry just nothing if its
    gap were filled. Pulled down by its bolt over the gap, its load is negative.
    """
    own, change = influence.own_loads, influence.load_change
    if own is None or change is None:
        return None
    soft = gaps > 0.0
    if not soft.any():
        return own
    lower = np.linalg.lstsq(change[np.ix_(soft, soft)], -own[soft], rcond=None)[0] - gaps[soft]
    return np.asarray(own + change[:, soft] @ lower)
