"""How readings change with each part of the state: the Jacobian of the traced model."""

from __future__ import annotations

import numpy as np

from ..vectors import Floats
from .geometry import CHANNELS, SurveyGeometry
from .spots import spots
from .state import FIELDS, NOMINAL, RowState, changed

__all__ = ["STEPS", "channel_slopes", "sensitivities"]

FIELDS_AT_ONCE = 16
READINGS_AT_ONCE = 20_000
"""Fields that are traced together, fewer in large surveys: a trace of so many readings stays in tens of megabytes, and
is not slower than a larger one."""


ANGLES = (
    "tilt_x", "tilt_y", "tilt_z", "cone", "cone_side", "elevation", "prism_ry", "prism_rz", "prism_turn", "mirror",
    "pyramid", "lean", "nod", "swing", "wedge_h", "wedge_v", "plate_nod", "plate_swing",
)  # fmt: skip
STEPS: dict[str, float] = {
    **dict.fromkeys(FIELDS, 1e-4),
    **{name: 1e-5 for name in FIELDS if name.partition(".")[0] in ANGLES},
    "drift": 1e-8, "drift_side": 1e-8, "gradient": 1e-1, "scale": 1e-3,
}  # fmt: skip
"""Half-steps of the central differences, in the unit of the field; small against what bends the model (1 m, 1 rad),
large against rounding (1e-16 of metres), so that slopes are good to about 1e-9 of themselves."""


def channel_slopes(
    geometry: SurveyGeometry, names: tuple[str, ...], state: RowState = NOMINAL
) -> dict[str, dict[str, Floats]]:
    """Change of every channel of each reading with each named field of its own row, ``{channel: {field: (m,)}}``.

    A reading depends on its own row of the state only, so one pair of traces gives a field's whole diagonal; grouping
    rows by what they share (set-up, seating, target ...) makes Jacobian columns of it.

    Parameters
    ----------
    names : tuple of str
        Fields of ``RowState``; ``wedge_h.2`` is that of the third plate.
    """
    parts: dict[str, list[Floats]] = {channel: [] for channel in CHANNELS}
    at_once = min(max(READINGS_AT_ONCE // (2 * max(len(geometry.rows), 1)), 1), FIELDS_AT_ONCE)
    for first in range(0, len(names), at_once):
        some = names[first : first + at_once]
        steps = np.array([STEPS[name] for name in some])
        trials = state
        for number, name in enumerate(some):
            shift = np.zeros((2 * len(some), 1))
            shift[2 * number], shift[2 * number + 1] = steps[number], -steps[number]
            trials = changed(trials, name, shift)
        seen = spots(geometry, trials)
        for channel in CHANNELS:
            read = np.broadcast_to(getattr(seen, channel), (2 * len(some), len(geometry.rows)))
            parts[channel].append((read[0::2] - read[1::2]) / (2.0 * steps[:, None]))
    return {
        channel: dict(zip(names, np.concatenate(part), strict=True)) if part else {} for channel, part in parts.items()
    }


def sensitivities(
    geometry: SurveyGeometry, names: tuple[str, ...], state: RowState = NOMINAL, axis: str = "v"
) -> dict[str, Floats]:
    """Change of one channel of each reading with each named field of its own row, ``{field: (m,)}``.

    Parameters as in ``channel_slopes``; ``axis`` is the channel.
    """
    return channel_slopes(geometry, names, state)[axis]
