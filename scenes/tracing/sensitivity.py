"""How readings change with each part of the state: the Jacobian of the traced model."""

from __future__ import annotations

import numpy as np

from ..vectors import Floats
from .geometry import SurveyGeometry
from .spots import spots
from .state import NOMINAL, RowState, changed

__all__ = ["STEPS", "sensitivities"]

STEPS: dict[str, float] = {
    "deviation": 1e-4, "tilt_x": 1e-5, "tilt_y": 1e-5, "lift": 1e-4, "cone": 1e-5, "drift": 1e-8, "elevation": 1e-5,
    "turbulence": 1e-4, "gradient": 1e-1, "mount": 1e-4, "roll": 1e-4, "scale": 1e-3, "zero_h": 1e-4, "zero_v": 1e-4,
    "noise_h": 1e-4, "noise_v": 1e-4, "aim": 1e-4,
}  # fmt: skip
"""Half-steps of the central differences, in the unit of the field; small against what bends the model (1 m, 1 rad),
large against rounding (1e-16 of metres), so that slopes are good to about 1e-9 of themselves."""


def sensitivities(
    geometry: SurveyGeometry, names: tuple[str, ...], state: RowState = NOMINAL, axis: str = "v"
) -> dict[str, Floats]:
    """Change of each reading with each named field of its own row, ``{field: (m,)}``.

    A reading depends on its own row of the state only, so one pair of traces gives a field's whole diagonal; grouping
    rows by what they share (set-up, seating, target ...) makes Jacobian columns of it.

    Parameters
    ----------
    names : tuple of str
        Fields of ``RowState``.
    axis : str
        ``v`` or ``h``: which reading.
    """
    steps = np.array([STEPS[name] for name in names])
    trials = state
    for number, name in enumerate(names):
        shift = np.zeros((2 * len(names), 1))
        shift[2 * number], shift[2 * number + 1] = steps[number], -steps[number]
        trials = changed(trials, name, shift)
    read = getattr(spots(geometry, trials), axis)
    slopes = (read[0::2] - read[1::2]) / (2.0 * steps[:, None])
    return dict(zip(names, slopes, strict=True))
