"""The proposal for the feet of a bed: lifts, shims, and what they will do."""

from __future__ import annotations

from dataclasses import dataclass

from ..vectors import Floats

__all__ = ["ShimProposal"]


@dataclass(frozen=True, slots=True, eq=False)
class ShimProposal:
    """What to put under each foot and what it will do. Lengths in metres, loads in newton.

    Attributes
    ----------
    lifts : (m,) float
        Lift of each foot, + = up.
    stacks : tuple of tuple of float, or None
        Shims per foot, thickest first, negative for shims taken out; None: any thickness was allowed.
    goal : str
        ``minimax``: the flatness itself is least; ``least squares``: the root mean square deviation is.
    reference : str
        ``minimum zone`` (flatness, or straightness where the stations are on one line) or ``level``.
    as_found, predicted : float
        Width of the zone of the deviations before, and after the lifts.
    reached : float
        Value of the goal with these lifts.
    bound : float
        Best value of the goal with the same limits and any thickness in place of stock.
    best_lifts : (m,) float
        Lifts that reach ``bound``.
    tilt : (2,) float
        Turn of the whole bed by the lifts about x and about y, radians: about x, + raises the side of +y; about y,
        + lowers the side of +x.
    mean_lift : float
        Mean of the lifts of all feet.
    before, as_left : (n,) float
        Deviations from the middle of the zone, as found and predicted.
    standard_uncertainty : (n,) float or None
        Of ``as_left``, where a covariance was given.
    predicted_uncertainty : float or None
        Standard uncertainty of ``predicted``.
    predicted_interval : (low, high) or None
        Central 95 % of the flatness that a new reading of the corrected bed would show, noise included. The noise of
        the readings makes such a flatness larger on the average; this interval is not centred on ``predicted``.
    loads_before, loads_after : (m,) float or None
        Loads on the feet; None: not known.
    warnings : tuple of str
        What a fitter should know before using it.
    """

    lifts: Floats
    stacks: tuple[tuple[float, ...], ...] | None
    goal: str
    reference: str
    as_found: float
    predicted: float
    reached: float
    bound: float
    best_lifts: Floats
    tilt: Floats
    mean_lift: float
    before: Floats
    as_left: Floats
    standard_uncertainty: Floats | None
    predicted_uncertainty: float | None
    predicted_interval: tuple[float, float] | None
    loads_before: Floats | None
    loads_after: Floats | None
    warnings: tuple[str, ...]

    @property
    def above_bound(self) -> float:
        """How far the goal reached may at most be above the best that the stock can reach, metres.

        The bound allows any thickness, so the best of the stock lies between ``bound`` and ``reached``.
        """
        return max(self.reached - self.bound, 0.0)
