"""What other references and other rules say of the same readings, side by side, in plain data."""

from __future__ import annotations

from typing import Any

from scenes.errors import GeometryError
from scenes.model.layout import Layout
from scenes.model.survey import Rule
from scenes.reductions.quantities.compared import rules_compared
from scenes.reductions.quantities.measured import Component, Measured
from scenes.reductions.quantities.shown import scale_of
from scenes.reductions.reference import Reference
from scenes.reductions.verdict import RULES
from viewer import text
from viewer.logic.result_values import headline, mark_of
from viewer.logic.session import Session

__all__ = ["reference_rows", "rule_rows"]

Document = dict[str, Any]
PENDING = "\u2026"
NONE = "\u2013"


def reference_rows(session: Session, measured: Measured, component: Component | None) -> list[Document]:
    """Value, U and verdict under each reference; where one does not exist for these readings, the reason.

    Empty where the task knows one reference only. Those not worked out yet are marked as pending.
    """
    task, visit = measured.evidence.task, measured.evidence.visit
    known = session.references(task.name)
    asked = session.layout.tasks[task.name].reference
    if len(known) < 2:
        return []
    return [
        _row(session, (task.name, visit), kind, component) | {
            "chosen": kind == task.reference, "asked": kind == asked, "kind": str(kind),
            "name": text.REFERENCE_WORDS[kind], "meaning": text.REFERENCE_MEANING[kind],
        }
        for kind in known
    ]  # fmt: skip


def _row(session: Session, of: tuple[str, str], kind: Reference, component: Component | None) -> Document:
    blank = {"value": PENDING, "expanded": "", "shape": "", "word": "", "mark": "note", "reason": "", "exists": True}
    if not session.is_ready(*of, str(kind)):
        return blank
    try:
        found = session.measured(*of, str(kind))
    except GeometryError as error:
        reason = text.plain_message(str(error)).removeprefix(f"task {of[0]}, {of[1]}: ")
        return {**blank, "value": NONE, "exists": False, "reason": reason}
    name = "" if component is None else component.name
    same = next((each for each in found.components if each.name == name), None)
    if same is None:
        reasons = [each.reason for each in found.unreached if each.component in ("", name)]
        reason = text.plain_message(reasons[0]) if reasons else "it tells other values than this one"
        return {**blank, "value": NONE, "reason": reason}
    scale = scale_of(same.kind, same.limit, session.layout.units)
    mark = mark_of(None if same.verdict is None else same.verdict.word)
    return {
        **blank, "value": headline(scale, same.value, sign=bool(same.plus)),
        "expanded": f"± {headline(scale, same.expanded_uncertainty)}", "shape": mark["shape"], "word": mark["word"],
        "mark": mark["kind"],
    }  # fmt: skip


def rule_rows(layout: Layout, measured: Measured, component: Component | None) -> list[Document]:
    """Verdict on a component by every rule, the default of ISO 14253-1 first; empty where nothing is asked of it."""
    if component is None or component.verdict is None:
        return []
    number = measured.components.index(component)
    scale = scale_of(component.kind, component.limit, layout.units)
    rows = []
    asked = layout.tasks[measured.evidence.task.name].rule
    for each in sorted(rules_compared(measured), key=lambda ruled: list(Rule).index(ruled.rule)):
        verdict = each.verdicts[number]
        assert verdict is not None
        inside = -verdict.guard if each.rule is Rule.RELAXED else verdict.guard
        guard = text.told(scale, inside, whole=False) if inside else "none"
        rows.append({
            "name": text.RULE_NAMES[each.rule], "meaning": RULES[each.rule], "chosen": each.chosen, "guard": guard,
            "asked": each.rule is asked, "under": text.RULE_UNDER.get(each.rule, ""),
            "value": "" if each.rule is asked else str(each.rule),
            "test": str(each.rule).replace(" ", "-"),
            **mark_of(verdict.word),
        })  # fmt: skip
    return rows
