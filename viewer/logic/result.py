"""The result tab in plain data: everything its panel shows, worked out from a session; no widgets, no picture."""

from __future__ import annotations

from typing import Any

import numpy as np

from scenes.model.finding import Finding
from scenes.reductions.quantities.shown import scale_of
from scenes.visits.changed import Change, ChangedDeviations, ChangedValue
from viewer import text
from viewer.logic.plots import plots_of
from viewer.logic.result_references import reference_rows, rule_rows
from viewer.logic.result_stations import rows_unit, table_columns
from viewer.logic.result_values import component_rows, detail, head_of, headline
from viewer.logic.session import DIFFERENCE, Session
from viewer.logic.shims import predicted_head, shims_document, why_no_shims
from viewer.logic.shown import Kind, Shown

__all__ = ["finding_row", "result_document", "visit_choices"]

Document = dict[str, Any]


def result_document(session: Session, shown: Shown) -> Document:
    """Everything that the panel shows for these choices."""
    measured, component, layout = shown.measured, shown.component, session.layout
    document = {
        "unit": rows_unit(session, shown),
        "length_unit": layout.units.length,
        "predicted": shown.kind == Kind.PREDICTED,
        "change": shown.kind == Kind.CHANGE,
        "columns": table_columns(shown),
        "plots": plots_of(session, shown),
        "remarks": _plain(session.remarks),
    }
    if shown.kind == Kind.CHANGE:
        return document | _change_document(session, shown)
    return document | {
        "head": predicted_head(session, shown) if document["predicted"] else head_of(layout, measured, component),
        "components": component_rows(layout, measured) if len(measured.components) > 1 else [],
        "component": None if component is None else detail(layout, measured, component),
        "references": reference_rows(session, measured, component),
        "rules": rule_rows(layout, measured, component),
        "open": [{"name": each.component or "No value", "reason": text.plain_message(each.reason)}
                 for each in measured.unreached],
        "changes": [],
        "shims": shims_document(session, shown),
        "no_shims": why_no_shims(session, shown),
        "findings": [finding_row(finding) for finding in measured.findings],
        "remarks": _plain((*session.remarks, *measured.remarks)),
    }  # fmt: skip


def _plain(remarks: tuple[str, ...]) -> list[str]:
    return [text.plain_message(remark) for remark in remarks]


# --- change


def _change_document(session: Session, shown: Shown) -> Document:
    change = shown.change
    assert change is not None
    head = {"kind": "forecast", "shape": "△", "word": f"{change.two} less {change.one}",
            "sentence": _moved(session, change), "about": _about(change.deviations), "value": "",
            "expanded": "", "limit": ""}  # fmt: skip
    return {
        "head": head, "components": [], "component": None, "references": [], "rules": [], "open": [],
        "changes": [_changed_row(session, shown, each) for each in change.values], "shims": None, "no_shims": "",
        "findings": [], "remarks": _plain((*session.remarks, *change.remarks)),
    }  # fmt: skip


def _moved(session: Session, change: Change) -> str:
    """Whether anything moved, and the largest changes."""
    told = [text.plain_message(change.sentence[:1].upper() + change.sentence[1:]) + "."]
    for each in change.deviations:
        scale = scale_of(each.kind, None, session.layout.units)
        high, low = int(np.argmax(each.change)), int(np.argmin(each.change))
        name = f"{each.of}: stations" if each.of else "Stations"
        told.append(
            f"{name} moved against each other by up to {headline(scale, float(np.ptp(each.change)))}. "
            f"Most up at {each.stations[high]} ({headline(scale, each.change[high], sign=True)}), "
            f"most down at {each.stations[low]} ({headline(scale, each.change[low], sign=True)})."
        )
    return " ".join([*told, text.CHANGE_WORDS])


def _about(deviations: tuple[ChangedDeviations, ...]) -> str:
    """What changes count from, and which stations only one visit read."""
    words = ", ".join(dict.fromkeys(each.datum for each in deviations if each.datum))
    dropped = sorted({name for each in deviations for name in each.dropped})
    told = f"Changes count from {words}; errors that both visits share cancel." if words else ""
    return told + (f" Read at one visit only: {', '.join(dropped)}." if dropped else "")


def _changed_row(session: Session, shown: Shown, each: ChangedValue) -> Document:
    """Change of one value, with what its uncertainty would be without shared errors."""
    component = next((part for part in shown.measured.components if part.name == each.name), None)
    scale = scale_of(each.kind, None if component is None else component.limit, session.layout.units)
    quantity = shown.measured.evidence.task.quantity
    sign = bool(each.plus)
    return {
        "name": each.name or quantity,
        "before": headline(scale, each.before, sign=sign), "after": headline(scale, each.after, sign=sign),
        "change": headline(scale, each.change, sign=True),
        "expanded": f"± {headline(scale, each.expanded_uncertainty)}",
        "apart": f"± {headline(scale, each.coverage_factor * each.apart)}", "proven": each.proven,
        "word": "proven" if each.proven else "within U",
    }  # fmt: skip


# --- parts


def finding_row(finding: Finding) -> Document:
    """A finding, ready for the page."""
    place = f"{finding.kind} {finding.name}".strip()
    if finding.setup and finding.kind != "set-up":
        place += f", from {finding.setup}"
    return {
        "kind": text.SEVERITY_KINDS[finding.severity], "shape": text.SEVERITY_SHAPES[finding.severity],
        "word": text.SEVERITY_WORDS[finding.severity], "code": finding.code, "place": place,
        "message": text.plain_message(finding.message), "advice": text.plain_message(finding.advice),
        "line": f"layout line {finding.line}" if finding.line else "",
    }  # fmt: skip


def visit_choices(session: Session, task: str) -> list[Document]:
    """Visits of a task as choices, with the difference where there are two or more."""
    visits = [{"value": visit, "title": visit} for visit in session.visits(task)]
    if session.change(task) is not None:
        visits.append({"value": DIFFERENCE, "title": "difference"})
    return visits
