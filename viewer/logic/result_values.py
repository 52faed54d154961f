"""Components of a result in plain data: verdict in one sentence, values with their limits, and how sure they are."""

from __future__ import annotations

from math import isfinite
from typing import Any

import numpy as np

from scenes.model.layout import Layout
from scenes.reductions.quantities.measured import Component, Measured
from scenes.reductions.quantities.shown import Scale, scale_of
from scenes.reductions.verdict import Word
from scenes.units import show
from viewer import text
from viewer.logic.budgets import budget_chart
from viewer.logic.figures import sets_of
from viewer.report.json_values import unit_of_nuisance

__all__ = ["bare", "component_rows", "detail", "head_of", "headline", "limit_words", "mark_of", "rule_sentence"]

Document = dict[str, Any]

NO_LIMIT = {"kind": "forecast", "shape": "○", "word": "No limit is set"}
NONE = "\u2013"


def bare(scale: Scale, value: float, *, sign: bool = False) -> str:
    """A value [SI] without its unit."""
    return text.told(scale, value, sign=sign, whole=False).split(" ")[0]


def mark_of(word: Word | None) -> Document:
    """Kind, shape and word of a verdict."""
    if word is None:
        return dict(NO_LIMIT)
    return {"kind": text.VERDICT_KINDS[word], "shape": text.VERDICT_SHAPES[word], "word": text.VERDICT_WORDS[word]}


def headline(scale: Scale, value: float, *, sign: bool = False, whole: bool = True) -> str:
    """A value as headlines tell it: lengths without a figure that nobody needs there; as ``text.told`` else."""
    if scale.kind == "length" and not scale.over:
        return text.quantity(value, scale.unit, sign=sign)
    return text.told(scale, value, sign=sign, whole=whole)


def limit_words(component: Component, scale: Scale, whole: bool = True) -> str:
    """The limit as it was asked: one bound, both ways, or a range."""
    if component.verdict is None:
        return NONE
    upper = headline(scale, component.verdict.limit, whole=whole)
    if component.lower is None:
        return upper
    if component.lower == -component.verdict.limit:
        return f"± {upper}"
    return f"{bare(scale, component.lower)} to {upper}"


_RELATION = {
    "good": "keeps the limit of {limit}",
    "spared": "is above the limit of {limit}, but not by enough to prove it",
    "open": "is too near to the limit of {limit} to tell",
    "bad": "is above the limit of {limit}",
}
_BOTH_WAYS = {
    "good": "lies within {limit}",
    "spared": "lies outside {limit}, but not by enough to prove it",
    "open": "is too near to an end of {limit} to tell",
    "bad": "lies outside {limit}",
}


def head_of(layout: Layout, measured: Measured, component: Component | None) -> Document:
    """Verdict on a task: shape, word, and the figures of the component that is shown."""
    mark, about = mark_of(measured.word), _about(measured)
    if component is not None and component is not measured.worst and component.verdict is not None:
        mark = mark_of(component.verdict.word)
        about = f"The task as a whole: {measured.word}. {about}"
    if component is None:
        return {**mark, "sentence": "No value could be told.", "about": _about(measured), "value": "", "expanded": "",
                "limit": ""}  # fmt: skip
    scale = scale_of(component.kind, component.limit, layout.units)
    value = headline(scale, component.value, sign=bool(component.plus))
    expanded = headline(scale, component.expanded_uncertainty)
    name = component.name or measured.evidence.task.quantity.capitalize()
    short = headline(scale, component.value, sign=bool(component.plus), whole=False)
    told = f"{name} {short} ± {expanded} (U, k = {component.coverage_factor:.3g})"
    if len(measured.components) > 1:
        which = "Worst" if component is measured.worst else "Chosen"
        told = f"{which} of {len(measured.components)} values: {told}"
    if component.verdict is not None:
        told += f" {_relation(component, scale)}. " + (
            f"Probability of conformity {text.probability(component.verdict.probability)}."
        )
    else:
        told += "; no limit is set for it."
    told += _ends(layout, measured, component)
    return {**mark, "sentence": told, "rule": rule_sentence(layout, component), "about": about, "value": value,
            "expanded": f"± {expanded}", "limit": limit_words(component, scale)}  # fmt: skip


def _relation(component: Component, scale: Scale) -> str:
    verdict = component.verdict
    assert verdict is not None
    limit = limit_words(component, scale, whole=False)
    if verdict.reason:
        return f"proves nothing for the limit of {limit}: {text.plain_message(verdict.reason)}"
    words = _RELATION if component.lower is None else _BOTH_WAYS
    kind = text.VERDICT_KINDS[verdict.word]
    outside = component.value > verdict.limit or (component.lower is not None and component.value < component.lower)
    return words["spared" if kind == "good" and outside else kind].format(limit=limit)


def rule_sentence(layout: Layout, component: Component | None) -> str:
    """The rule of a verdict and what it asks; empty where nothing is judged."""
    if component is None or component.verdict is None:
        return ""
    verdict, scale = component.verdict, scale_of(component.kind, component.limit, layout.units)
    asks = text.RULE_SENTENCES[verdict.rule].format(guard=text.told(scale, verdict.guard, whole=False))
    return f"Rule: {text.RULE_WORDS[verdict.rule]}: {asks}."


def _ends(layout: Layout, measured: Measured, component: Component) -> str:
    """Highest and lowest station of a zone about one direction."""
    sets = [each for each in sets_of(measured.deviations, component) if len(set(map(tuple, each.directions))) == 1]
    if not component.high or not component.low or len(sets) != 1:
        return ""
    each = sets[0]
    scale = scale_of(each.kind, None, layout.units)
    high, low = int(np.argmax(each.values)), int(np.argmin(each.values))
    ends = [headline(scale, float(each.values[i]), sign=True) for i in (high, low)]
    return f" Highest at {each.stations[high]} ({ends[0]}), lowest at {each.stations[low]} ({ends[1]})."


def _about(measured: Measured) -> str:
    """What was asked, against what, and how it was found."""
    task = measured.evidence.task
    words = f"{task.quantity.capitalize()} of {', '.join(task.of) or task.surface}"
    words += f". Reference: {measured.definition.reference}" if measured.definition.reference else ""
    words += f". {measured.definition.method.capitalize()}, {measured.points} stations"
    if measured.missing:
        words += f"; {len(measured.missing)} were not read"
    return text.plain_message(f"{words}.")


def component_rows(layout: Layout, measured: Measured) -> list[Document]:
    """Every component with its verdict, value and limit."""
    rows = []
    for number, component in enumerate(measured.components):
        scale = scale_of(component.kind, component.limit, layout.units)
        rows.append({
            "number": number, "name": component.name or measured.evidence.task.quantity,
            **mark_of(None if component.verdict is None else component.verdict.word),
            "value": text.told(scale, component.value, sign=bool(component.plus), whole=False),
            "expanded": f"± {text.told(scale, component.expanded_uncertainty, whole=False)}",
            "over": text.plain_message(scale.behind.strip()),
            "limit": NONE if component.verdict is None else _full_limit(component, scale),
        })  # fmt: skip
    return rows


def _full_limit(component: Component, scale: Scale) -> str:
    assert component.verdict is not None
    upper = text.told(scale, component.verdict.limit, whole=False)
    if component.lower is None:
        return upper
    return f"± {upper}" if component.lower == -component.verdict.limit else f"{bare(scale, component.lower)} to {upper}"


def detail(layout: Layout, measured: Measured, component: Component) -> Document:
    """Interval, what holds the value, rule, and the budget of one component."""
    scale = scale_of(component.kind, component.limit, layout.units)
    chart = budget_chart([(name, u * (scale.over or 1.0)) for name, u in component.budget], scale.unit, scale.kind)
    return {
        "number": measured.components.index(component), "name": component.name,
        "lines": [*_lines(component, scale), *_control(layout, measured)], "chart": chart,
        "unit": text.plain_message(text.screen_unit(scale.unit) + scale.behind),
        "k": f"{component.coverage_factor:.3g}", "plus": component.plus,
    }  # fmt: skip


def _lines(component: Component, scale: Scale) -> list[str]:
    low, high = (text.told(scale, end) for end in component.interval)
    lines = [f"The true value lies between {low} and {high} with 95 % probability."]
    if isfinite(component.dof):
        k = f"k = {component.coverage_factor:.3g}"
        lines.append(f"{component.dof:.0f} degrees of freedom, so that {k} gives the coverage that was asked for.")
    if component.plus:
        lines.append(f"{component.plus}.")
    if component.noise_bias > 0.0:
        bias = text.told(scale, component.noise_bias)
        lines.append(f"Errors of the readings raise the value by {bias} on average; this is stated, not taken off.")
    if component.high:
        sides = f"{len(component.high)} + {len(component.low)} stations (high + low)"
        lines.append(f"Held by {sides}: {_names(component.high)} and {_names(component.low)}." if component.low
                     else f"Held by {_names(component.high)}.")  # fmt: skip
    if component.datum:
        lines.append(f"The reference goes through {_names(component.datum)}.")
    verdict = component.verdict
    if verdict is not None:
        guard = f", {text.told(scale, verdict.guard)} wide" if verdict.guard else ""
        lines.append(f"Rule: {verdict.rule}{guard}.")
    return lines


NAMED = 6


def _names(names: tuple[str, ...]) -> str:
    more = len(names) - NAMED
    return ", ".join(names[:NAMED]) + (f" and {more} more" if more > 0 else "")


def _control(layout: Layout, measured: Measured) -> list[str]:
    """How readings control each other, and device errors that were solved for."""
    control, lines = measured.consistency, []
    if control.redundancy:
        lines.append(
            f"{control.redundancy} reading{'s' * (control.redundancy != 1)} control others; "
            f"largest normalised residual {control.largest:.1f}."
        )
    for found in measured.evidence.network.fitted():
        unit, kind = unit_of_nuisance(layout, found)
        value, u = (text.plain_message(show(each, unit, kind, sign=sign)) for each, sign in
                    ((found.value, True), (found.u, False)))  # fmt: skip
        lines.append(f"Fitted {found.word} of {', '.join(found.key)}: {value}, standard uncertainty {u}.")
    return lines
