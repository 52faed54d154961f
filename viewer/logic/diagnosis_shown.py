"""A diagnosis in plain data: what stands out, suspects and suspicions as cards, what to read again."""

from __future__ import annotations

import re
from typing import Any

from scenes.diagnosis.diagnosis import LEVEL, Diagnosis, Suspect, Suspicion, Untold
from scenes.model.layout import Layout
from scenes.reductions.quantities.measured import Component
from scenes.reductions.quantities.shown import scale_of
from viewer import text
from viewer.logic.diagnosis_closures import closure_chart, closure_rows
from viewer.logic.diagnosis_held import Diagnosed
from viewer.logic.result_values import headline
from viewer.logic.session import Session
from viewer.report.diagnosis_words import COVERAGE, size_words

__all__ = ["NOTHING", "diagnosis_document"]

Document = dict[str, Any]

NOTHING = "Nothing stands out"
_FOLDERS = re.compile(r"\((?:[^()]*[/\\])(?=[^()/\\]+, row \d+\))")

SHAPE_TOO = "A machine of that shape looks the same: only another reading can tell."
NOT_APPLIED = "Nothing has been corrected."

LEAST_CHANGE = 5e-8
"""Changes of results below this [m or rad] are not told."""


def diagnosis_document(session: Session, held: Diagnosed) -> Document:
    """Everything that the panel shows of one group of set-ups."""
    layout, each = session.layout, held.diagnosis
    return {
        "head": _head(each),
        "suspects": [suspect_card(session, held, number) for number in range(len(each.suspects))],
        "suspicions": [_suspicion_card(layout, part, number) for number, part in enumerate(each.suspicions)],
        "suspicion_note": SHAPE_TOO,
        "advice": [{"station": part.station, "setup": part.setup, "reason": text.plain_message(part.reason)}
                   for part in each.advice],
        "chart": closure_chart(layout, each.closures) if each.closures else None,
        "closures": closure_rows(layout, each.closures),
        "setups": _setups(each),
        "untold": [_untold_row(part) for part in each.untold],
        "level": f"A sound survey shows as much of any error in {100.0 * LEVEL:g} % of all cases. {NOT_APPLIED}",
    }  # fmt: skip


def _head(each: Diagnosis) -> Document:
    """What stands out, in large words, and what it rests on."""
    if each.twins and not each.suspects:
        return {"kind": "bad", "shape": "◆", "word": "Written twice?", "sentence": f"{_first(each.twins[0].about)}.",
                "about": "Read one of the two stations again."}  # fmt: skip
    if not each.redundancy:
        return {"kind": "open", "shape": "▲", "word": "No reading controls another",
                "sentence": "So none can show an error. Read some stations again to be able to tell.",
                "about": ""}  # fmt: skip
    odds = text.probability(each.probability)
    rests = (
        f"{each.redundancy} reading{'s' * (each.redundancy != 1)} control others. Chi-square {each.chi_square:.1f}; "
        f"{odds} of sound surveys reach it. {each.tried} errors tried."
    )
    if not each.suspects:
        more = " The shape of the result alone raises suspicions, below." if each.suspicions else ""
        return {"kind": "good", "shape": "○", "word": NOTHING,
                "sentence": f"The readings agree with each other as well as their errors let expect.{more}",
                "about": rests}  # fmt: skip
    many, first = len(each.suspects), each.suspects[0]
    count = len(first.others)
    others = f" {count} other{'s' * (count != 1)} would explain it as well." if count else ""
    return {"kind": "bad", "shape": "◆", "word": "One error stands out" if many == 1 else f"{many} errors stand out",
            "sentence": f"Perhaps {_plain(first.about)}.{others} {NOT_APPLIED}",
            "about": rests}  # fmt: skip


def _first(words: str) -> str:
    """The same words as a sentence."""
    return text.plain_message(words[:1].upper() + words[1:])


def _plain(words: str) -> str:
    """Words as the screen spells them; files without their folders."""
    return text.plain_message(_FOLDERS.sub("(", words))


def _capital(words: str) -> str:
    """The same as a sentence begins."""
    return _plain(words[:1].upper() + words[1:])


# --- suspects


def suspect_card(session: Session, held: Diagnosed, number: int) -> Document:
    """One suspect: what may have happened, how large, the evidence, what else it may be, and what to do."""
    each = held.diagnosis.suspects[number]
    size, _, stated = size_words(session.layout, each).partition("; stated to ")
    return {
        "number": number, "rank": number + 1, "about": _capital(each.about),
        "size": _spelled(size), "size_note": f"U with k = {COVERAGE:g}" if size else "",
        "stated": f"Stated to {_spelled(stated.removesuffix(' (standard)'))} (standard uncertainty)." if stated else "",
        "evidence": evidence_words(each),
        "others": [_capital(other) for other in each.others],
        "confirm": _capital(each.confirm),
        "changes": _changes(session, held, each),
    }  # fmt: skip


def _spelled(words: str) -> str:
    """Sizes as the screen spells them."""
    return text.plain_message(words.replace(" (U = ", " ± ").replace(")", "")).replace("-", "\u2212")


def evidence_words(each: Suspect) -> str:
    """Evidence for a suspect in words."""
    free = f"{each.parameters} free size{'s' * (each.parameters != 1)}" if each.parameters else "no free size"
    chance = "less than 0.0001 %" if each.probability < 1e-6 else f"{100.0 * each.probability:.2g} %"
    seen = "all" if each.seen > 0.995 else f"{100.0 * each.seen:.0f} %"
    return (
        f"With it chi-square falls by {each.drop:.1f} ({free}). A sound survey shows as much of any error in {chance} "
        f"of all cases. The readings see {seen} of such an error."
    )


def _changes(session: Session, held: Diagnosed, each: Suspect) -> list[Document]:
    """By how much results would change if the error were taken out, the largest first."""
    told = sorted((part for part in each.changes if abs(part[2]) > LEAST_CHANGE), key=lambda part: -abs(part[2]))
    rows = []
    for task, name, change in told[:6]:
        component = _component(session, task, held.diagnosis.visit, name)
        if component is not None:
            scale = scale_of(component.kind, component.limit, session.layout.units)
            rows.append({
                "name": f"{task}, {name}" if name else task,
                "value": headline(scale, component.value, sign=bool(component.plus)),
                "change": headline(scale, change, sign=True),
            })  # fmt: skip
    return rows


def _component(session: Session, task: str, visit: str, name: str) -> Component | None:
    try:
        own = session.own(task, visit)
    except KeyError:
        return None
    return next((part for part in own.components if part.name == name), None)


# --- the rest


def _suspicion_card(layout: Layout, each: Suspicion, number: int) -> Document:
    of = f"{each.task}, {each.component}" if each.component else each.task
    size = size_words(layout, each).partition("; stated to ")[0]
    return {
        "key": number, "of": of, "about": _capital(each.about), "size": _spelled(size),
        "share": f"It would explain {100.0 * each.share:.0f} % of the shape of {of}.",
        "confirm": _capital(each.confirm),
    }  # fmt: skip


def _setups(each: Diagnosis) -> list[Document]:
    """How each set-up closes, where there are several."""
    if len(each.by_setup) < 2:
        return []
    return [
        {"name": part.setup, "chi_square": f"{part.chi_square:.1f}", "spare": f"{part.redundancy:.1f}"}
        for part in each.by_setup
    ]


def _untold_row(each: Untold) -> Document:
    places = [_FOLDERS.sub("(", place) for place in each.places if place]
    where = ", ".join(places[:3]) + (f" and {len(places) - 3} more" if len(places) > 3 else "")
    return {"kind": each.kind, "where": where.strip(), "confirm": _capital(each.confirm)}
