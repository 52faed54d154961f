"""Named error sources of a survey: which part of the state each one moves, how far, and for which readings together."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..model.layout import Layout
from ..tracing.geometry import SurveyGeometry
from ..tracing.spots import spots
from ..tracing.state import RowState, changed
from ..vectors import Floats, Indices, frozen
from .distributions import NORMAL, Distribution
from .source_tables import TURBULENCE_EXPONENT, source_lines, survey_of

__all__ = ["TURBULENCE_EXPONENT", "Source", "drawn_state", "source_fields", "sources_of"]


@dataclass(frozen=True, slots=True, eq=False)
class Source:
    """One error source.

    Attributes
    ----------
    name : str
        In words, as it stands in a budget.
    field : str
        Field of ``RowState`` that it moves.
    group : (m,) int
        Rows with the same number share one value of the error.
    u : (m,) float
        Standard uncertainty of that field, in its SI unit.
    shared : str
        What the rows of a group have in common: ``reading``, ``seating``, ``target``, ``set-up`` ...
    origin : str
        Where the standard uncertainty comes from.
    distribution : Distribution
        Of the error, in standard uncertainties.
    """

    name: str
    field: str
    group: Indices
    u: Floats
    shared: str
    origin: str
    distribution: Distribution = NORMAL


def sources_of(layout: Layout, geometry: SurveyGeometry, off_centre: Floats | None = None) -> tuple[Source, ...]:
    """Every error source that acts on the rows of ``geometry``, those of size zero left out.

    Parameters
    ----------
    off_centre : (m,) float, optional
        How far each spot stands from the centre of its detector, metres; planned: as near as the crew brings it.
    """
    survey = survey_of(layout, geometry, spots(geometry), off_centre)
    return tuple(
        Source(name, field, group, frozen(np.nan_to_num(u)), shared, origin)
        for name, field, group, u, shared, origin in source_lines(survey)
        if np.any(u != 0.0)
    )


def source_fields(sources: tuple[Source, ...]) -> tuple[str, ...]:
    """Fields of the state that any of the sources moves."""
    return tuple(dict.fromkeys(source.field for source in sources))


def drawn_state(state: RowState, sources: tuple[Source, ...], rng: np.random.Generator, trials: int) -> RowState:
    """``state`` with one draw of every source for each of ``trials`` trials (leading axis)."""
    for source in sources:
        groups = int(source.group.max()) + 1
        draw = source.distribution.draw(rng, (trials, groups))[:, source.group]
        state = changed(state, source.field, draw * source.u)
    return state
