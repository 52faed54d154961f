"""The result tab for quantities measured through the network, in plain data: components, deviations, verdicts."""

from __future__ import annotations

from typing import Any

from scenes.model.layout import Layout
from scenes.reductions.quantities.definition import Kind
from scenes.reductions.quantities.measured import Component, Deviations, Measured
from scenes.reductions.quantities.shown import Scale, scale_of
from scenes.reductions.verdict import Word
from viewer import text
from viewer.logic.budgets import budget_chart
from viewer.logic.result import finding_row
from viewer.logic.session import Session

__all__ = ["ROWS_SHOWN", "arrows_of", "measured_card", "measured_document", "measured_rows"]

Document = dict[str, Any]

ROWS_SHOWN = 400
"""Longer tables end here and say so."""

NO_LIMIT = {"kind": "forecast", "shape": "○", "word": "No limit is set"}


def _bare(scale: Scale, value: float, *, sign: bool = False) -> str:
    """A value [SI] without its unit."""
    return text.told(scale, value, sign=sign, whole=False).split(" ")[0]


def measured_document(session: Session, measured: Measured, chosen: int) -> Document:
    """Everything that the panel shows; ``chosen`` is the number of a component, else the worst is shown in full."""
    layout, components = session.layout, measured.components
    worst = next((i for i, each in enumerate(components) if each is measured.worst), 0)
    number = chosen if 0 <= chosen < len(components) else worst
    rows, note = measured_rows(layout, measured)
    control = measured.consistency
    lines = [text.plain_message(remark) for remark in (*session.remarks, *measured.remarks)]
    if control.redundancy:
        lines.append(
            f"{control.redundancy} reading{'s' * (control.redundancy != 1)} control others; "
            f"largest normalised residual {control.largest:.1f}."
        )
    return {
        "measured": True,
        "predicted": False,
        "head": _head(measured),
        "components": [_row(layout, each, i, measured.evidence.task.quantity) for i, each in enumerate(components)],
        "component": _detail(layout, components[number], number) if components else None,
        "open": [{"name": each.component or "no value", "reason": text.plain_message(each.reason)}
                 for each in measured.unreached],
        "rows": rows,
        "rows_unit": _units(layout, measured),
        "rows_note": note,
        "several": len({each.of for each in measured.deviations}) > 1,
        "findings": [finding_row(finding) for finding in measured.findings],
        "remarks": lines,
    }  # fmt: skip


def _mark(word: Word | None) -> Document:
    if word is None:
        return dict(NO_LIMIT)
    return {"kind": text.VERDICT_KINDS[word], "shape": text.VERDICT_SHAPES[word], "word": text.VERDICT_WORDS[word]}


def _head(measured: Measured) -> Document:
    task = measured.evidence.task
    about = ", ".join(task.of) or task.surface
    sentence = (
        f"{task.quantity.capitalize()} of {about}; reference: {measured.definition.reference}; "
        f"{measured.definition.method}, {measured.points} stations."
    )
    if measured.missing:
        sentence += f" {len(measured.missing)} stations were not read."
    return {**_mark(measured.word), "sentence": text.plain_message(sentence)}


def _limit(component: Component, scale: Scale) -> str:
    """The limit as it was asked: one bound, both ways, or a range."""
    if component.verdict is None:
        return "\u2013"
    upper = text.told(scale, component.verdict.limit)
    if component.lower is None:
        return upper
    if component.lower == -component.verdict.limit:
        return f"± {upper}"
    return f"{_bare(scale, component.lower)} to {upper}"


def _row(layout: Layout, component: Component, number: int, quantity: str) -> Document:
    scale = scale_of(component.kind, component.limit, layout.units)
    mark = _mark(None if component.verdict is None else component.verdict.word)
    return {
        "number": number, "name": component.name or quantity, **mark,
        "value": text.told(scale, component.value, sign=bool(component.plus)),
        "expanded": f"± {text.told(scale, component.expanded_uncertainty, whole=False)}",
        "limit": _limit(component, scale),
    }  # fmt: skip


def _detail(layout: Layout, component: Component, number: int) -> Document:
    """Interval, what holds the value, and the budget of one component."""
    scale = scale_of(component.kind, component.limit, layout.units)
    low, high = (text.told(scale, end) for end in component.interval)
    lines = [f"The true value lies between {low} and {high} with 95 % probability."]
    if component.plus:
        lines.append(f"{component.plus}.")
    if component.noise_bias > 0.0:
        bias = text.told(scale, component.noise_bias)
        lines.append(f"Errors of the readings raise the value by {bias} on average; this is stated, not taken off.")
    if component.high:
        held = f"Held by {', '.join(component.high)}"
        lines.append(held + (f" (high) and {', '.join(component.low)} (low)." if component.low else "."))
    if component.datum:
        lines.append(f"The reference goes through {', '.join(component.datum)}.")
    verdict = component.verdict
    if verdict is not None:
        guard = f", {text.told(scale, verdict.guard)} wide" if verdict.guard else ""
        lines.append(f"Rule: {verdict.rule}{guard}. Probability of conformity {text.probability(verdict.probability)}.")
        if verdict.reason:
            lines.append(text.plain_message(verdict.reason[:1].upper() + verdict.reason[1:] + "."))
    chart = budget_chart([(name, u * (scale.over or 1.0)) for name, u in component.budget], scale.unit, scale.kind)
    return {
        "number": number, "name": component.name, "lines": lines, "chart": chart,
        "unit": text.plain_message(text.screen_unit(scale.unit) + scale.behind), "k": f"{component.coverage_factor:g}",
    }  # fmt: skip


def _units(layout: Layout, measured: Measured) -> str:
    """Unit of the deviations, where they share one."""
    units = {scale_of(each.kind, None, layout.units).unit for each in measured.deviations}
    return text.screen_unit(units.pop()) if len(units) == 1 else ""


def _entries(measured: Measured) -> list[tuple[Deviations, int]]:
    return [(each, i) for each in measured.deviations for i in range(len(each.stations))]


def measured_rows(layout: Layout, measured: Measured) -> tuple[list[Document], str]:
    """Deviations of stations, one row for each direction, and a note where not all are listed."""
    entries = _entries(measured)
    held = {(component.name, name): side for component in measured.components
            for side, names in (("low", component.low), ("high", component.high)) for name in names}  # fmt: skip
    rows = []
    for key, (each, i) in enumerate(entries[:ROWS_SHOWN]):
        scale = scale_of(each.kind, None, layout.units)
        name = each.stations[i]
        rows.append({
            "key": key, "name": name, "of": each.of, "component": each.components[i],
            "deviation": _bare(scale, float(each.values[i]), sign=True), "u": _bare(scale, float(each.u[i])),
            "mark": held.get((each.of, name), ""),
        })  # fmt: skip
    note = f"{len(rows)} of {len(entries)} deviations are listed." if len(rows) < len(entries) else ""
    return rows, note


def measured_card(layout: Layout, measured: Measured, station: str) -> Document | None:
    """The card of one station: its deviations in every direction; None where it has none."""
    facts = []
    for each, i in _entries(measured):
        if each.stations[i] != station:
            continue
        scale = scale_of(each.kind, None, layout.units)
        name = " ".join(part for part in (each.of, each.components[i]) if part)
        value, u = text.told(scale, float(each.values[i]), sign=True), text.told(scale, float(each.u[i]), whole=False)
        facts.append({"name": name or "deviation", "value": f"{value}, u = {u}"})
    if not facts:
        return None
    return {"name": station, "deviation": "", "role": "", "facts": facts}


def arrows_of(measured: Measured, of: str) -> tuple[Deviations, ...]:
    """Deviations that are lengths and belong to the component ``of``, or all where it has none of its own."""
    lengths = [each for each in measured.deviations if each.kind is Kind.LENGTH]
    mine = [each for each in lengths if each.of == of]
    return tuple(mine or lengths)
