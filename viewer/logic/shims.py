"""Proposed shims in plain data: what goes under each foot, and what it should leave."""

from __future__ import annotations

from typing import Any

import numpy as np

from scenes.corrections.bed_feet import feet_of
from scenes.corrections.proposal import ShimProposal
from scenes.model.survey import Feet
from scenes.reductions.quantities.definition import Zone
from scenes.reductions.quantities.measures import PlaneForm
from scenes.units import from_si
from viewer import text
from viewer.logic.session import Session
from viewer.logic.shown import Shown

__all__ = ["predicted_head", "shims_document", "why_no_shims"]

Document = dict[str, Any]


def _known(session: Session, shown: Shown, proposal: ShimProposal) -> str:
    """Expanded uncertainty of the prediction, with its sign in front; empty where it is not known."""
    u = proposal.predicted_uncertainty
    return "" if u is None else f" ± {text.quantity(shown.factor * u, session.layout.units.deviation)}"


def predicted_head(session: Session, shown: Shown) -> Document:
    """What the shims should leave, told as a forecast."""
    unit = session.layout.units.deviation
    proposal = session.proposals[shown.task, shown.visit]
    limit = session.layout.tasks[shown.task].limit
    known = _known(session, shown, proposal)
    told = f"{known} (U of the readings, k = {shown.factor:g}; Moves adds that of the feet)" if known else ""
    side = "within" if proposal.predicted <= limit else "above"
    return {
        "kind": "forecast", "shape": "◇", "word": "Predicted, not measured",
        "sentence": f"With these shims the flatness should be {text.quantity(proposal.predicted, unit)}{told}, "
                    f"{side} the limit of {text.quantity(limit, unit)}. Only new readings can prove it.",
        "about": "", "value": text.quantity(proposal.predicted, unit), "expanded": known.strip(),
        "limit": text.quantity(limit, unit),
    }  # fmt: skip


def why_no_shims(session: Session, shown: Shown) -> str:
    """Why there is no proposal, for surfaces that feet could move; else empty."""
    values = shown.measured.definition.values
    if not any(isinstance(each, Zone) and isinstance(each.measure, PlaneForm) for each in values):
        return ""
    return text.NO_SHIMS if feet_of(session.layout, shown.measured.evidence.task.surface) else text.NO_FEET


def _note(shown: Shown, proposal: ShimProposal) -> str:
    if bool(np.all(proposal.lifts == 0.0)):
        return text.NO_MOVE_HELPS
    word = shown.measured.word
    return text.NO_MOVE_NEEDED if word is not None and text.VERDICT_KINDS[word] == "good" else ""


def shims_document(session: Session, shown: Shown) -> Document | None:
    """Shims by foot, before and after; None where there is no proposal."""
    proposal = session.proposals.get((shown.task, shown.visit))
    feet = feet_of(session.layout, shown.measured.evidence.task.surface)
    if proposal is None or feet is None:
        return None
    unit = session.layout.units.deviation
    return {
        "rows": [_foot_row(session, feet, proposal, number) for number in range(len(feet.names))],
        "before": text.quantity(proposal.as_found, unit),
        "after": text.quantity(proposal.predicted, unit) + _known(session, shown, proposal),
        "bound": text.quantity(proposal.bound, unit),
        "warnings": [text.plain_message(warning) for warning in proposal.warnings],
        "loads": proposal.loads_after is not None,
        "note": _note(shown, proposal),
    }


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
