"""The axis of a spindle as it leans against its datum, told by its components alone."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from scenes.reductions.quantities.definition import Kind
from scenes.reductions.quantities.features import surface_named
from scenes.reductions.quantities.measured import Deviations, Measured
from scenes.tracing.places import pose_of
from viewer.logic.figures import Figure, Form

__all__ = ["axis_of_spindle"]


def axis_of_spindle(measured: Measured, figure: Figure, sets: tuple[Deviations, ...]) -> Figure:
    """The axis in place of the stations of its datum: it leans by what the components say, from the nearest station.

    Any other figure, and that of any other quantity, stays as it is.
    """
    if measured.evidence.task.quantity != "direction" or figure.form is not Form.LINE:
        return figure
    named = {each.components[0]: each.directions[0] for each in sets if len(set(each.components)) == 1}
    told = [each for each in measured.components if each.kind is Kind.ANGLE and each.name in named]
    if not told:
        return figure
    layout, surface = measured.evidence.layout, surface_named(measured.evidence.layout, measured.evidence.task.of[0])
    away = pose_of(layout, surface).rotation[:, 2]
    if float((figure.places[-1] - figure.places[0]) @ away) < 0.0:  # the first is the one nearest to the spindle
        figure = replace(figure, stations=figure.stations[::-1], places=figure.places[::-1])
    ahead = (figure.places - figure.places[0]) @ away
    displacement, expanded = np.zeros((len(ahead), 3)), np.zeros((len(ahead), len(told)))
    for number, each in enumerate(told):
        displacement += each.value * ahead[:, None] * named[each.name]
        expanded[:, number] = each.expanded_uncertainty * ahead
    directions = tuple(np.array(named[each.name]) for each in told)
    values = displacement @ directions[0] if len(told) == 1 else np.linalg.norm(displacement, axis=1)
    return replace(
        figure, of="spindle axis", displacement=displacement, values=values, directions=directions,
        words=tuple(each.name for each in told), expanded=expanded, leans=True,
    )  # fmt: skip
