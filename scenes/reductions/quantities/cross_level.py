"""Cross level: how much higher the second of two rails stands than the first, at every pair of stations.

Heights count above the level surface, which falls away from a horizontal plane with the square of the distance.
"""

from __future__ import annotations

import numpy as np

from .definition import Definition
from .evidence import Evidence
from .gravity import UP, heights_above_gravity
from .pairs import pairs_of
from .spacing import paired_definition
from .ties import GRAVITY

__all__ = ["cross_level"]


def cross_level(evidence: Evidence) -> Definition:
    """Definition of a task about cross level."""
    pairs = pairs_of(evidence, UP)
    a, b = evidence.task.of
    above = [
        heights_above_gravity(evidence, names) - evidence.feet(names) @ UP for names in (pairs.first, pairs.second)
    ]
    return paired_definition(
        evidence, pairs, UP, np.asarray(above[1] - above[0]), f"level surface, {b} over {a}",
        f"+: {b} stands higher than {a}", GRAVITY, (),
    )  # fmt: skip
