"""The piece of a line whose straightness over a sliding length is worst, with its limit, as it lies in a figure."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from scenes.reductions.quantities.definition import Zone
from scenes.reductions.quantities.measures import LocalForm
from scenes.vectors import Floats, Indices
from viewer.logic.figures import Figure, Form
from viewer.logic.limits_drawn import shrink_of
from viewer.logic.shown import Kind, Shown

__all__ = ["Piece", "worst_piece"]


@dataclass(frozen=True, slots=True, eq=False)
class Piece:
    """The worst piece of a figure; m of its stations, heights in its first direction, metres.

    Attributes
    ----------
    numbers : (m,) int
        Of its stations in the figure.
    line : (m,) float
        The reference of the piece.
    low, high : float
        What the stations reach below and above it; their distance is the value.
    value, limit, accepted : float
        ``accepted`` is what the rule leaves of the limit.
    span : float
        The sliding length.
    """

    numbers: Indices
    line: Floats
    low: float
    high: float
    value: float
    limit: float
    accepted: float
    span: float

    def zone(self, width: float) -> tuple[Floats, Floats]:
        """Lower and upper edge ``(m,)`` of a band of this width about the middle of the stations."""
        middle = self.line + 0.5 * (self.low + self.high)
        return middle - 0.5 * width, middle + 0.5 * width


@lru_cache(maxsize=8)
def worst_piece(shown: Shown, figure: Figure) -> Piece | None:
    """The worst piece of a figure, where the value that is shown is that of its pieces; else None."""
    component, task = shown.component, shown.measured.evidence.task
    if component is None or component.verdict is None or shown.kind != Kind.MEASURED or task.local is None:
        return None
    asked = next(each for each in shown.measured.definition.values if each.name == component.name)
    if figure.form is not Form.LINE or not isinstance(asked, Zone) or not isinstance(asked.measure, LocalForm):
        return None
    names, way = asked.profile.stations, asked.profile.directions[0]
    if set(names) != set(figure.stations) or abs(float(way @ figure.directions[0])) < 1.0 - 1e-6:
        return None
    order = np.array([figure.stations.index(name) for name in names])
    z = (figure.displacement @ figure.directions[0])[order]
    marks, stand = asked.measure.worst(z)
    numbers = order[np.nonzero(marks)[0]]
    along = np.argsort(numbers, kind="stable")
    line: Floats = (z[marks] - stand.deviations)[along]
    limit = component.verdict.limit
    return Piece(
        numbers[along], line, float(stand.deviations.min()), float(stand.deviations.max()), component.value, limit,
        max(0.0, limit - shrink_of(component)), task.local[1],
    )  # fmt: skip
