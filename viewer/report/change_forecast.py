"""What proposed moves let a later visit expect, as partners of a comparison."""

from __future__ import annotations

from scenes.corrections.forecast import move_errors
from scenes.corrections.moves import Moves
from scenes.corrections.planned_moves import moves_of
from scenes.errors import GeometryError
from scenes.model.layout import Layout
from scenes.reductions.quantities.measured import Measured
from scenes.visits.forecast import Forecast

__all__ = ["PREDICTED", "forecasts_of", "predictions_of"]

PREDICTED = "predicted"
"""Name of the visit that moves let expect."""


def forecasts_of(found: Measured, moves: Moves) -> tuple[Forecast, ...]:
    """Deviations as the moves should leave them, one forecast per component; + what was found with all its errors.

    Errors of ``found`` are shared with the later visit as far as they persist; those of the moves and of the influence
    are added.
    """
    made = []
    for shape in moves.shapes:
        errors = move_errors(moves.movers, moves.lifts, shape.moves, shape.bent)
        profile = shape.profile
        made.append(
            Forecast(
                PREDICTED, shape.of, profile.stations, profile.components, shape.found + shape.moves @ moves.lifts,
                errors @ errors.T, found,
            )
        )  # fmt: skip
    return tuple(made)


def predictions_of(layout: Layout, found: Measured) -> tuple[Forecast, ...]:
    """What the moves that are proposed for a visit should leave.

    Raises
    ------
    GeometryError
        Where the layout names neither feet nor bearings of what the task has measured.
    """
    moves = moves_of(layout, found)
    if moves is None:
        raise GeometryError("no moves are proposed: the layout names no feet and no bearings of it")
    return forecasts_of(found, moves)
