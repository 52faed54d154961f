"""Run-out in the picture: what a target reads over a turn, put where the surface was that it read."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from scenes.frames import turn_about_z
from scenes.reductions.quantities.measured import Measured
from scenes.tracing.places import pose_of
from viewer.logic.figures import Figure, Form

__all__ = ["laid_around"]


def laid_around(measured: Measured, figure: Figure) -> Figure:
    """A figure of run-out with its readings around the axis of turning, as the part stands at no turn.

    It has no bars of U. Any other figure, and that of any other quantity, stays as it is.
    """
    layout = measured.evidence.layout
    if measured.evidence.task.quantity != "run out" or figure.form is not Form.ARROWS:
        return figure
    stations = [layout.stations[name] for name in figure.stations]
    if len({each.surface for each in stations}) != 1:
        return figure
    pose = pose_of(layout, stations[0].surface)
    turns = np.array([
        pose.rotation @ turn_about_z(-each.turn) @ pose.rotation.T for each in stations
    ])  # fmt: skip
    return replace(
        figure,
        places=np.einsum("nij,nj->ni", turns, figure.places - pose.origin) + pose.origin,
        displacement=np.einsum("nij,nj->ni", turns, figure.displacement),
        expanded=np.full_like(figure.expanded, np.nan),
    )
