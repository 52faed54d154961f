"""How deviations from a reference plane change with the heights that were measured."""

from __future__ import annotations

import numpy as np

from ..vectors import Floats
from .form import FormResult, Reference
from .ties import centred_design

__all__ = ["deviation_gain"]


def deviation_gain(places: Floats, result: FormResult) -> Floats:
    """Change ``(n, n)`` of each deviation (row) with each height (column), slopes of the surface being small.

    The plane of a minimum zone follows its contacts: three coefficients and half the width make their heights.

    Parameters
    ----------
    places : (n, 2) float
        Points in the plane of the surface, metres.
    result : FormResult
        Flatness of these points.
    """
    design = centred_design(places)
    n = len(places)
    plane: Floats = np.zeros((3, n))
    if result.reference is Reference.LEAST_SQUARES:
        plane[:] = np.linalg.pinv(design)
    elif result.reference is Reference.MINIMUM_ZONE:
        contacts = np.concatenate([result.high, result.low])
        side = np.concatenate([np.ones(len(result.high)), -np.ones(len(result.low))])
        plane[:, contacts] = np.linalg.pinv(np.column_stack([design[contacts], side]))[:3]
    else:
        plane[:, result.datum] = np.linalg.pinv(design[result.datum])
    gain: Floats = np.eye(n) - design @ plane
    return gain
