"""Response: how every component of a task, and every deviation behind it, answers to moves."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..model.survey import Limit
from ..reductions.quantities.definition import Kind, Linear, Profile, Zone
from ..reductions.quantities.measured import Component, Measured, shape_of
from ..reductions.quantities.measures import Measure
from ..vectors import Floats, frozen
from .movers import Movers, effect_on_unknowns

__all__ = ["Answer", "Shape", "answers_of", "shapes_of"]


@dataclass(frozen=True, slots=True, eq=False)
class Shape:
    """Deviations of k entries, as found, and what moves do to them.

    Attributes
    ----------
    of : str
        Component that they belong to.
    profile : Profile
    found : (k,) float
        Metres.
    covariance : (k, k) float
    moves, bent : (k, m) float
        Change per unit move, and its share that rests on how the part bends.
    """

    of: str
    profile: Profile
    found: Floats
    covariance: Floats
    moves: Floats
    bent: Floats

    def __post_init__(self) -> None:
        """Freeze the arrays."""
        for name in ("found", "covariance", "moves", "bent"):
            object.__setattr__(self, name, frozen(getattr(self, name)))


@dataclass(frozen=True, slots=True, eq=False)
class Answer:
    """One component of the task and its answer to moves.

    Attributes
    ----------
    component : Component
        As found.
    shape : Shape, optional
        Deviations that make a zone; None for a linear component.
    measure : Measure, optional
        Makes one number of them.
    moves : (m,) float
        Change of a linear component per unit move; zeros for a zone.
    """

    component: Component
    shape: Shape | None
    measure: Measure | None
    moves: Floats

    def __post_init__(self) -> None:
        """Freeze the array."""
        object.__setattr__(self, "moves", frozen(self.moves))

    @property
    def kind(self) -> Kind:
        """Length or angle."""
        return self.component.kind

    @property
    def limit(self) -> Limit | None:
        """Limit of the component."""
        return self.component.limit

    def value(self, lifts: Floats) -> float:
        """Value after moves ``(m,)``."""
        if self.shape is None or self.measure is None:
            return self.component.value + float(self.moves @ lifts)
        return float(self.measure.at(self.shape.found + self.shape.moves @ lifts).value)


def answers_of(measured: Measured, movers: Movers) -> tuple[Answer, ...]:
    """Answers of all components of a task, in its order."""
    evidence, definition = measured.evidence, measured.definition
    change = effect_on_unknowns(evidence, movers, movers.rise)
    bent = effect_on_unknowns(evidence, movers, movers.bent)
    asked: dict[str, Linear | Zone] = {each.name: each for each in definition.values}
    found = []
    for component in measured.components:
        value = asked[component.name]
        if isinstance(value, Linear):
            found.append(Answer(component, None, None, value.functional @ change))
            continue
        heights, jacobian = shape_of(evidence, value)
        covariance = evidence.network.spread_of(jacobian).covariance()
        shape = Shape(value.name, value.profile, heights, covariance, jacobian @ change, jacobian @ bent)
        found.append(Answer(component, shape, value.measure, np.zeros(len(movers))))
    return tuple(found)


def shapes_of(measured: Measured, movers: Movers, answers: tuple[Answer, ...]) -> tuple[Shape, ...]:
    """Deviations that people look at: those of the zones, and those shown beside linear components."""
    evidence, definition = measured.evidence, measured.definition
    told = {each.name: each.tells_deviations for each in definition.values if isinstance(each, Zone)}
    change = effect_on_unknowns(evidence, movers, movers.rise)
    bent = effect_on_unknowns(evidence, movers, movers.bent)
    found = [each.shape for each in answers if each.shape is not None and told[each.component.name]]
    for profile in definition.shown:
        covariance = evidence.network.spread_of(profile.jacobian).covariance()
        heights = profile.offsets + profile.jacobian @ evidence.network.values
        found.append(Shape("", profile, heights, covariance, profile.jacobian @ change, profile.jacobian @ bent))
    return tuple(found)
