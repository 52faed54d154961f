"""The result tab in plain data: everything its panel shows, worked out from a session; no widgets, no picture."""

from __future__ import annotations

from typing import Any

import numpy as np

from scenes.corrections.proposal import ShimProposal
from scenes.errors import GeometryError
from scenes.model.finding import Finding
from scenes.model.survey import Feet
from scenes.reductions.flatness_task import FlatnessResult
from scenes.reductions.form import Reference, flatness, leverages
from scenes.units import from_si
from viewer import text
from viewer.logic.session import DIFFERENCE, Session
from viewer.logic.shown import Kind, Shown

__all__ = ["REFERENCES", "ROWS_SHOWN", "SORTS", "finding_row", "result_card", "result_document", "sorted_rows"]

Document = dict[str, Any]

ROWS_SHOWN = 400
"""Longer tables end here and say so."""

SOURCES_SHOWN = 6
REFERENCES = (Reference.MINIMUM_ZONE, Reference.LEAST_SQUARES, Reference.THREE_POINTS)
SORTS = ("order", "name", "deviation", "u", "leverage")
NOTHING = 1e-10
"""Contributions below this [m] are not named."""


def result_document(session: Session, shown: Shown, reference: Reference | None) -> Document:
    """Everything that the panel shows for these choices."""
    document = {
        "measured": False,
        "unit": text.screen_unit(session.layout.units.deviation),
        "length_unit": session.layout.units.length,
        "predicted": shown.kind == Kind.PREDICTED,
        "change": shown.kind == Kind.CHANGE,
        "remarks": [text.plain_message(remark) for remark in session.remarks],
    }
    if shown.kind == Kind.CHANGE:
        return document | _change_document(session, shown)
    result = session.result(shown.task, shown.visit, reference)
    return document | {
        "head": _predicted_head(session, shown) if shown.kind == Kind.PREDICTED else _head(session, result),
        "references": _references(session, result),
        "budget": _budget(session, result),
        "words": _words(session, result),
        "shims": _shims(session, result, shown),
        "no_shims": _why_no_shims(session, shown.task),
        "findings": [finding_row(finding) for finding in result.estimate.findings],
    }


# --- head


_RELATION = {
    "good": "keeps the limit of {limit}",
    "open": "is too near to the limit of {limit} to tell",
    "bad": "is above the limit of {limit}",
}


def _head(session: Session, result: FlatnessResult) -> Document:
    unit, verdict, form = session.layout.units.deviation, result.verdict, result.form
    kind = text.VERDICT_KINDS[verdict.word]
    names = result.estimate.stations
    high, low = int(np.argmax(form.deviations)), int(np.argmin(form.deviations))
    expanded = text.quantity(result.expanded_uncertainty, unit)
    value = text.quantity(form.value, unit)
    relation = _RELATION[kind].format(limit=text.quantity(verdict.limit, unit))
    if verdict.reason:
        relation = f"proves nothing for the limit of {text.quantity(verdict.limit, unit)}: {verdict.reason}"
    sentence = (
        f"{form.quantity.capitalize()} {value} ± {expanded} (U, k = {result.coverage_factor:g}) {relation}. "
        f"Probability of conformity {text.probability(verdict.probability)}. "
        f"Highest at {names[high]} ({text.quantity(form.deviations[high], unit, sign=True)}), "
        f"lowest at {names[low]} ({text.quantity(form.deviations[low], unit, sign=True)})."
    )
    return {
        "kind": kind, "shape": text.VERDICT_SHAPES[verdict.word], "word": text.VERDICT_WORDS[verdict.word],
        "sentence": sentence, "value": value, "expanded": f"± {expanded}", "limit": text.quantity(verdict.limit, unit),
    }  # fmt: skip


def _predicted_head(session: Session, shown: Shown) -> Document:
    unit = session.layout.units.deviation
    proposal = session.proposals[shown.task, shown.visit]
    limit = session.layout.tasks[shown.task].limit
    factor = session.layout.tasks[shown.task].coverage_factor
    u = proposal.predicted_uncertainty
    known = "" if u is None else f" ± {text.quantity(factor * u, unit)} (U, k = {factor:g})"
    side = "within" if proposal.predicted <= limit else "above"
    return {
        "kind": "forecast", "shape": "◇", "word": "Predicted, not measured",
        "sentence": f"With these shims the flatness should be {text.quantity(proposal.predicted, unit)}{known}, "
                    f"{side} the limit of {text.quantity(limit, unit)}. Only new readings can prove it.",
        "value": text.quantity(proposal.predicted, unit), "expanded": known.strip(),
        "limit": text.quantity(limit, unit),
    }  # fmt: skip


def _change_document(session: Session, shown: Shown) -> Document:
    change = session.change(shown.task)
    assert change is not None
    unit, names = session.layout.units.deviation, shown.stations
    high, low = int(np.argmax(shown.deviations)), int(np.argmin(shown.deviations))
    sentence = (
        f"From {change.first} to {change.last} the surface moved against itself by up to "
        f"{text.quantity(float(np.ptp(shown.deviations)), unit)}. "
        f"Most up at {names[high]} ({text.quantity(shown.deviations[high], unit, sign=True)}), "
        f"most down at {names[low]} ({text.quantity(shown.deviations[low], unit, sign=True)}). "
        f"{text.CHANGE_WORDS}"
    )
    head = {"kind": "forecast", "shape": "△", "word": f"{change.last} less {change.first}", "sentence": sentence,
            "value": "", "expanded": "", "limit": ""}  # fmt: skip
    return {"head": head, "references": [], "budget": [], "words": [], "shims": None, "no_shims": "", "findings": []}


# --- parts


def _references(session: Session, result: FlatnessResult) -> list[Document]:
    """The value under each reference; where one does not exist for these readings, a dash and the reason."""
    unit, estimate = session.layout.units.deviation, result.estimate
    rows = []
    for kind in REFERENCES:
        reason = text.REFERENCE_MEANING[kind]
        try:
            value = text.quantity(_value_under(kind, result), unit)
        except GeometryError as error:
            value, reason = "\u2013", text.plain_message(str(error))
        rows.append({
            "kind": str(kind), "name": text.REFERENCE_WORDS[kind], "value": value, "meaning": reason,
            "chosen": kind is result.form.reference, "asked": str(kind) == estimate.task.reference,
            "exists": value != "\u2013",
        })  # fmt: skip
    return rows


def _value_under(kind: Reference, result: FlatnessResult) -> float:
    if kind is result.form.reference:
        return result.form.value
    estimate = result.estimate
    datum = None
    if kind is Reference.THREE_POINTS and estimate.task.datum:
        absent = [name for name in estimate.task.datum if name not in estimate.stations]
        if absent:
            raise GeometryError(f"datum station {', '.join(absent)} was not read")
        datum = [estimate.stations.index(name) for name in estimate.task.datum]
    return flatness(estimate.points, kind, datum=datum).value


def _budget(session: Session, result: FlatnessResult) -> list[Document]:
    unit = session.layout.units.deviation
    parts = [(name, u) for name, u in result.budget if u > NOTHING]
    if not parts:
        return []
    largest = parts[0][1]
    rows = [
        {"name": name, "value": text.number(u, unit), "share": round(100.0 * u / largest, 1)}
        for name, u in parts[:SOURCES_SHOWN]
    ]
    rest = float(np.sqrt(sum(u**2 for _, u in parts[SOURCES_SHOWN:])))
    if rest > NOTHING:
        rows.append({"name": "all others", "value": text.number(rest, unit), "share": round(100.0 * rest / largest, 1)})
    return rows


def _words(session: Session, result: FlatnessResult) -> list[str]:
    unit = session.layout.units.deviation
    low, high = (text.quantity(end, unit, fine=True) for end in result.interval)
    lines = [
        f"The true value lies between {low} and {high} with 95 % probability.",
        f"Errors of the readings raise the value by {text.quantity(result.noise_bias, unit, fine=True)} on average; "
        "this is stated, not taken off.",
        f"Rule: {result.verdict.rule}"
        + (f", {text.quantity(result.verdict.guard, unit, fine=True)} wide." if result.verdict.guard else "."),
    ]
    control = result.estimate.consistency
    if control.redundancy:
        lines.append(
            f"{control.redundancy} reading{'s' * (control.redundancy != 1)} control others; "
            f"largest normalised residual {control.largest:.1f}."
        )
    if result.form.criterion:
        lines.append(f"The zone is held by {result.form.criterion.replace('-', ' + ')} stations (high + low).")
    adjustment = result.estimate.adjustment
    for base, angle, u in zip(adjustment.cone_bases, adjustment.cone, result.estimate.cone_u, strict=True):
        angle_unit = session.layout.units.angle
        fitted, known = (from_si(float(value), angle_unit, "angle") for value in (angle, u))
        lines.append(f"Fitted cone of {base}: {fitted:+.2f} {angle_unit}, standard uncertainty {known:.2f}.")
    return lines


def _why_no_shims(session: Session, task: str) -> str:
    return text.NO_SHIMS if session.layout.tasks[task].surface in session.layout.feet else text.NO_FEET


def _shims_note(result: FlatnessResult, proposal: ShimProposal) -> str:
    if bool(np.all(proposal.lifts == 0.0)):
        return text.NO_MOVE_HELPS
    return text.NO_MOVE_NEEDED if text.VERDICT_KINDS[result.verdict.word] == "good" else ""


def _shims(session: Session, result: FlatnessResult, shown: Shown) -> Document | None:
    task, visit = shown.task, shown.visit
    proposal = session.proposals.get((task, visit))
    feet = session.layout.feet.get(session.layout.tasks[task].surface)
    if proposal is None or feet is None:
        return None
    unit = session.layout.units.deviation
    u, factor = proposal.predicted_uncertainty, session.layout.tasks[task].coverage_factor
    known = "" if u is None else f" ± {text.quantity(factor * u, unit)}"
    return {
        "rows": [_foot_row(session, feet, proposal, number) for number in range(len(feet.names))],
        "before": text.quantity(proposal.as_found, unit),
        "after": text.quantity(proposal.predicted, unit) + known,
        "bound": text.quantity(proposal.bound, unit),
        "warnings": [text.plain_message(warning) for warning in proposal.warnings],
        "loads": proposal.loads_after is not None,
        "note": _shims_note(result, proposal),
    }  # fmt: skip


def _foot_row(session: Session, feet: Feet, proposal: ShimProposal, number: int) -> Document:
    unit, length = session.layout.units.deviation, session.layout.units.length
    lift = float(proposal.lifts[number])
    pieces = () if proposal.stacks is None else proposal.stacks[number]
    if proposal.stacks is None:
        stack = "any thickness"
    else:
        stack = " + ".join(f"{from_si(piece, length, 'length'):.3g}" for piece in pieces) or "none"
    loads = ("", "")
    if proposal.loads_after is not None and proposal.loads_before is not None:
        loads = (f"{proposal.loads_before[number] / 1e3:.0f}", f"{proposal.loads_after[number] / 1e3:.0f}")
    return {
        "name": feet.names[number], "lift": text.number(lift, unit, fine=False, sign=lift != 0.0), "stack": stack,
        "before": loads[0], "after": loads[1], "moved": lift != 0.0,
    }  # fmt: skip


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


# --- stations


def _station_numbers(session: Session, shown: Shown) -> dict[str, Any]:
    """Reading, count and leverage of each station; empty for a change."""
    if shown.kind == Kind.CHANGE:
        return {"reading": None, "count": None, "leverage": leverages(shown.places[:, :2])}
    estimate = session.estimate(shown.task, shown.visit)
    return {"reading": estimate.reading_v, "count": estimate.count, "leverage": leverages(estimate.points[:, :2])}


def sorted_rows(session: Session, shown: Shown, key: str, down: bool) -> tuple[list[Document], str]:
    """Rows of the station table in the asked order, and a note where not all are shown."""
    unit = session.layout.units.deviation
    numbers = _station_numbers(session, shown)
    keys = {
        "order": np.arange(len(shown.stations)), "deviation": shown.deviations, "u": shown.expanded,
        "leverage": numbers["leverage"], "name": np.argsort(np.argsort(np.array(shown.stations))),
    }  # fmt: skip
    order = np.argsort(keys[key], kind="stable")
    order = order[::-1] if down else order
    marks = {**dict.fromkeys(shown.high, "high"), **dict.fromkeys(shown.low, "low")}
    rows = [
        {
            "name": shown.stations[i],
            "deviation": text.number(shown.deviations[i], unit, sign=True),
            "u": text.number(shown.expanded[i], unit),
            "leverage": f"{numbers['leverage'][i]:.2f}",
            "mark": marks.get(shown.stations[i], ""),
        }
        for i in order[:ROWS_SHOWN]
    ]
    note = f"{len(rows)} of {len(order)} stations; sort to see others." if len(rows) < len(order) else ""
    return rows, note


def result_card(session: Session, shown: Shown, station: str) -> Document | None:
    """The card of one station, or None where the view has no such station."""
    if station not in shown.stations:
        return None
    number, unit, length = shown.stations.index(station), session.layout.units.deviation, session.layout.units.length
    numbers = _station_numbers(session, shown)
    at = session.layout.stations[station].at
    facts = [("Place x, y", f"{text.length_number(at[0], length)}, {text.length_number(at[1], length)} {length}")]
    if numbers["reading"] is not None:
        count = int(numbers["count"][number])
        times = "" if count == 1 else f" (mean of {count})"
        facts.append(("Reading v", text.quantity(numbers["reading"][number], unit, fine=True, sign=True) + times))
    facts += [
        ("U", f"± {text.quantity(shown.expanded[number], unit, fine=True)}"),
        ("Leverage", f"{numbers['leverage'][number]:.2f}"),
    ]
    role = "holds the value from above" if station in shown.high else "holds the value from below"
    return {
        "name": station,
        "deviation": text.quantity(shown.deviations[number], unit, fine=True, sign=True),
        "role": role if station in (*shown.high, *shown.low) else "",
        "facts": [{"name": name, "value": value} for name, value in facts],
    }


def visit_choices(session: Session, task: str) -> list[Document]:
    """Visits of a task as choices, with the difference where there are two or more."""
    visits = [{"value": visit, "title": visit} for visit in session.visits(task)]
    if session.change(task) is not None:
        visits.append({"value": DIFFERENCE, "title": "difference"})
    return visits
