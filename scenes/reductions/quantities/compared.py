"""What another reference, or another rule, would say of the same task from the same readings."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ...errors import GeometryError
from ...model.survey import Rule
from ..reference import Reference
from ..verdict import Verdict, Word, decide
from .components import component_of, hold_of
from .definition import Unreached, Zone
from .dispatch import definition_of
from .measured import Component, Measured, word_of
from .measures import PlaneForm
from .references import known_references, with_reference

__all__ = ["Compared", "Ruled", "compared", "judged_by", "rules_compared"]


@dataclass(frozen=True, slots=True, eq=False)
class Compared:
    """A task against one reference.

    Attributes
    ----------
    reference : Reference
    words : str
        The reference as results tell it.
    chosen : bool
        True for the reference of the task itself.
    components : tuple of Component
        Value, U, interval and verdict of each; empty where the reference does not exist.
    unreached : tuple of Unreached
    reason : str
        Why readings or points do not give this reference at all; else empty.
    """

    reference: Reference
    words: str
    chosen: bool
    components: tuple[Component, ...]
    unreached: tuple[Unreached, ...]
    reason: str = ""

    @property
    def word(self) -> Word | None:
        """Verdict as a whole; None where nothing is judged."""
        return word_of(self.components, self.unreached)


@dataclass(frozen=True, slots=True, eq=False)
class Ruled:
    """A task judged by one rule: a verdict per component, None where nothing is asked of it."""

    rule: Rule
    chosen: bool
    verdicts: tuple[Verdict | None, ...]


def compared(measured: Measured, rng: np.random.Generator, trials: int) -> tuple[Compared, ...]:
    """The same task and readings against every reference that its quantity knows, its own first.

    The network is not solved again; empty for quantities that know one reference only.
    """
    task = measured.evidence.task
    known = [each for each in known_references(task) if each not in _of_other_shape(measured)]
    own = [each for each in known if each == task.reference]
    return tuple(
        _against(measured, reference, rng, trials) for reference in (*own, *(each for each in known if each not in own))
    )


def _of_other_shape(measured: Measured) -> tuple[Reference, ...]:
    """A profile from slopes has no three points, and a surface from slopes no end points."""
    if measured.evidence.task.quantity != "slope":
        return ()
    surface = any(isinstance(each, Zone) and isinstance(each.measure, PlaneForm) for each in measured.definition.values)
    return (Reference.END_POINTS,) if surface else (Reference.THREE_POINTS,)


def _against(measured: Measured, reference: Reference, rng: np.random.Generator, trials: int) -> Compared:
    task = measured.evidence.task
    if reference == task.reference:
        words = measured.definition.reference
        return Compared(reference, words, True, measured.components, measured.unreached)
    evidence = replace(measured.evidence, task=with_reference(task, reference))
    try:
        definition = definition_of(evidence)
        hold = hold_of(evidence, definition)
        found = [component_of(evidence, asked, hold, rng, trials)[0] for asked in definition.values]
    except GeometryError as error:
        head = f"task {task.name}, {measured.evidence.visit}: "
        return Compared(reference, str(reference), False, (), (), str(error).removeprefix(head))
    return Compared(reference, definition.reference, False, tuple(found), definition.unreached)


def rules_compared(measured: Measured) -> tuple[Ruled, ...]:
    """The same values judged by every rule, that of the task first."""
    own = measured.evidence.task.rule
    rules = (own, *(rule for rule in Rule if rule is not own))
    return tuple(Ruled(rule, rule is own, tuple(_judged(each, rule) for each in measured.components)) for rule in rules)


def judged_by(measured: Measured, rule: Rule) -> Measured:
    """The same result with every verdict by another rule; values and uncertainties stay as they are."""
    evidence = measured.evidence
    if rule is evidence.task.rule:
        return measured
    return replace(
        measured, evidence=replace(evidence, task=replace(evidence.task, rule=rule)),
        components=tuple(replace(each, verdict=_judged(each, rule)) for each in measured.components),
    )  # fmt: skip


def _judged(component: Component, rule: Rule) -> Verdict | None:
    told = component.verdict
    if told is None:
        return None
    verdict = decide(
        component.value, component.standard_uncertainty, told.limit, rule, component.lower,
        component.coverage_factor, component.dof,
    )  # fmt: skip
    if told.reason and verdict.word is Word.CONFORMS:
        return replace(verdict, word=Word.NOT_PROVEN, reason=told.reason)
    return verdict
