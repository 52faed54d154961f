"""Errors of a reduction drawn through the traced model: every source and the crew's setting, many trials at once."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from ..tracing.geometry import CHANNELS, SurveyGeometry
from ..tracing.spots import spots
from ..tracing.state import RowState, changed
from ..uncertainty.simulate import SetupScatter
from ..uncertainty.sources import drawn_state
from ..vectors import Floats
from .network import Network

__all__ = ["drawn_unknowns"]

RAYS_AT_ONCE = 20_000
"""Beams that are traced together, so that a block of trials stays in the cache."""

Progress = Callable[[int], object]
"""Is told how many trials a block has done."""


def _scatter_of(off: SetupScatter) -> dict[str, float]:
    """Standard deviation of every unknown of a set-up, rad and metres."""
    return {
        **dict.fromkeys(("tilt_x", "tilt_y", "tilt_z", "cone", "cone_side"), off.tilt),
        **dict.fromkeys(("lift", "shift", "offset_y", "offset_z"), off.lift),
        "prism_x": off.prism,
        "prism_turn": off.turn,
    }


def _blocks(geometry: SurveyGeometry, trials: int) -> list[int]:
    """Sizes of the blocks that add up to ``trials``."""
    size = max(1, RAYS_AT_ONCE // max(1, len(geometry.rows)))
    return [min(size, trials - start) for start in range(0, trials, size)]


def drawn_unknowns(
    network: Network,
    rng: np.random.Generator,
    trials: int,
    scatter: SetupScatter | None = None,
    progress: Progress | None = None,
) -> Floats:
    """Errors ``(trials, p)`` of the unknowns of a network.

    In each trial all sources and the setting of every set-up are drawn, the readings are traced, and one Gauss-Newton
    step with the gain of the network is taken from where it stands; the error is what that step misses.
    """
    off = _scatter_of(scatter or SetupScatter())
    geometry, of, m = network.geometry, network.observations, len(network.geometry.rows)
    told = _told(geometry, network.state)[of.channel, 0, of.row]
    parts = []
    for count in _blocks(geometry, trials):
        state, true = network.state, []
        for unknown in network.unknowns:
            size, shape = off.get(unknown.field, 0.0), (count, len(unknown.keys))
            drawn = size * rng.standard_normal(shape) if size else np.zeros(shape)
            true.append(drawn)
            if size:
                padded = np.concatenate([drawn, np.zeros((count, 1))], axis=1)
                state = changed(state, unknown.field, padded[:, unknown.group])
        state = drawn_state(state, network.sources, rng, count)
        read = np.moveaxis(_told(geometry, state, (count, m))[of.channel, :, of.row], 0, 1)
        parts.append((read - told) @ network.spread.gain.T - np.concatenate(true, axis=1))
        if progress is not None:
            progress(count)
    return np.concatenate(parts)


def _told(geometry: SurveyGeometry, state: RowState, shape: tuple[int, int] | None = None) -> Floats:
    """All channels ``(4, trials, m)``."""
    seen = spots(geometry, state)
    wanted = shape or (1, len(geometry.rows))
    return np.stack([np.broadcast_to(getattr(seen, channel), wanted) for channel in CHANNELS])
