"""How changes are drawn: arrows from a zero level clear of the machine, full tips beyond U and hollow ones within."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from scenes.meshes.deviation_vectors import mark_size
from scenes.meshes.exaggeration import default_factor, default_lift
from scenes.model.layout import Layout
from scenes.reductions.quantities.definition import Kind
from scenes.reductions.quantities.measured import Deviations
from scenes.vectors import Flags, Floats
from scenes.visits.changed import Change, ChangedDeviations
from viewer.logic.figures import ARM, Figure, Form, figure_of
from viewer.logic.shown import nice

__all__ = ["ChangeDrawn", "change_drawn"]

LARGER = 1.5
"""Arrows may be drawn so many times larger than a sheet would be."""

LEAST_RANGE = 1e-6
"""The colours reach at least this far [m]."""

LEAST_LENGTH = 0.3
"""Changes of a single place are drawn as if the machine were this long [m]."""


@dataclass(frozen=True, slots=True, eq=False)
class ChangeDrawn:
    """Changes of k entries as they are drawn, world, metres; angles over ``ARM``.

    Attributes
    ----------
    stations : tuple of str
    places, directions : (k, 3) float
    changes, expanded : (k,) float
    moved : (k,) bool
        Changed by more than U.
    away : (k, 3) float
        Direction in which the zero level is lifted; zero in a bore.
    figures : tuple of Figure
        The same entries as sheets and lines, for what joins them.
    longer : float
    largest : float
        End of the colours.
    angles : bool
    """

    stations: tuple[str, ...]
    places: Floats
    directions: Floats
    changes: Floats
    expanded: Floats
    moved: Flags
    away: Floats
    figures: tuple[Figure, ...]
    longer: float
    largest: float
    angles: bool

    @property
    def size(self) -> float:
        """Radius [m] of shafts that suits the places."""
        return max(mark_size(self.places), 0.0012 * self.longer)

    def first_factor(self) -> float:
        """Exaggeration to begin with: the largest change with its U then shows well."""
        return default_factor(np.concatenate([self.changes, self.expanded]), LARGER * self.longer)

    def lift(self, factor: float) -> float:
        """Height [m] of the zero level."""
        return default_lift(self.changes, factor, 1.2 * self.longer)

    def zero(self, factor: float) -> Floats:
        """Points ``(k, 3)`` at which the arrows start."""
        result: Floats = self.places + self.lift(factor) * self.away
        return result

    def tips(self, factor: float) -> Floats:
        """Points ``(k, 3)`` at which they end."""
        result: Floats = self.zero(factor) + factor * self.changes[:, None] * self.directions
        return result

    def corners(self, factor: float) -> Floats:
        """Points ``(n, 3)`` that a picture must hold, bars of U included."""
        reach = factor * self.expanded[:, None] * self.directions
        tips = self.tips(factor)
        return np.vstack([self.places, self.zero(factor), tips - reach, tips + reach])


def change_drawn(layout: Layout, changes: Sequence[Change]) -> ChangeDrawn | None:
    """What the picture shows of the changes of a task; None where no station is told."""
    parts = [part for each in changes for part in each.deviations]
    if not parts:
        return None
    figures = tuple(figure_of(layout, _deviations(part), part.coverage_factor) for part in parts)
    size = [ARM if part.kind is Kind.ANGLE else 1.0 for part in parts]
    values = np.concatenate([scale * part.change for scale, part in zip(size, parts, strict=True)])
    away = [
        np.tile(figure.away if figure.form is not Form.ARROWS else 0.0 * figure.away, (len(part.stations), 1))
        for figure, part in zip(figures, parts, strict=True)
    ]
    places = np.concatenate([part.places for part in parts])
    longer = max(float(np.linalg.norm(np.ptp(places, axis=0))), LEAST_LENGTH)
    return ChangeDrawn(
        stations=tuple(name for part in parts for name in part.stations),
        places=places,
        directions=np.concatenate([part.directions for part in parts]),
        changes=values,
        expanded=np.concatenate([scale * part.coverage_factor * part.u for scale, part in
                                 zip(size, parts, strict=True)]),
        moved=np.concatenate([part.moved for part in parts]),
        away=np.concatenate(away),
        figures=figures,
        longer=longer,
        largest=nice(max(LEAST_RANGE, float(np.abs(values).max()))),
        angles=any(part.kind is Kind.ANGLE for part in parts),
    )  # fmt: skip


def _deviations(part: ChangedDeviations) -> Deviations:
    return Deviations(
        part.of, part.stations, part.components, part.places, part.directions, part.change, part.u, part.kind
    )
