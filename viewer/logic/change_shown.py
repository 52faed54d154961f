"""The change between two visits in plain data: sentence, values, stations, and the test that nothing moved."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from scenes.model.layout import Layout
from scenes.reductions.quantities.shown import Scale, scale_of
from scenes.visits.changed import Change, ChangedDeviations, ChangedValue, NothingMoved
from viewer import text
from viewer.logic.change_shown_shared import shared_document
from viewer.logic.result_values import bare, headline

__all__ = ["MOVED", "STILL", "change_card", "change_document", "scale_of_value", "station_rows"]

Document = dict[str, Any]

MOVED = {"shape": "◆", "word": "beyond U", "kind": "open"}
STILL = {"shape": "◇", "word": "within U", "kind": "note"}
"""Marks of a change that its uncertainty does not explain, and of one that it may."""


ALIKE = 0.98
"""An uncertainty above this share of what it would be without shared errors is called the same."""


def _mark(proven: bool) -> Document:
    return dict(MOVED if proven else STILL)


def change_document(layout: Layout, changes: Sequence[Change], shared_of: int) -> Document:
    """Everything that the panel shows of the changes of one task; ``shared_of`` is the number of a value."""
    values = [value for each in changes for value in each.values]
    entries = [part for each in changes for part in each.deviations]
    chosen = shared_of if 0 <= shared_of < len(values) else 0
    rows = station_rows(layout, entries)
    return {
        "head": _head(changes),
        "values": [_value_row(layout, of, i) for each in changes[:1] for i, of in _numbered(each)],
        "shared": shared_document(layout, changes[0], values[chosen], chosen) if values else None,
        "sets": [_set_row(layout, part) for part in entries],
        "rows": rows,
        "moved": sum(row["moved"] for row in rows),
        "unit": ", ".join(dict.fromkeys(_unit(layout, part) for part in entries)),
        "has_ways": len({row["way"] for row in rows}) > 1,
        "remarks": [text.plain_message(remark) for each in changes for remark in each.remarks],
    }


def _numbered(change: Change) -> list[tuple[int, tuple[Change, ChangedValue]]]:
    return [(number, (change, value)) for number, value in enumerate(change.values)]


def _unit(layout: Layout, part: ChangedDeviations) -> str:
    return text.screen_unit(scale_of(part.kind, None, layout.units).unit)


# --- sentence

FEW_SETS = 2
"""Of more sets of stations only those are told at the top that changed; each has its own words below."""


def _of_many(parts: Sequence[ChangedDeviations], expected: bool) -> str:
    """Which of many sets changed, in one sentence."""
    names = [each.name for each in parts if each.test.rejected]
    if not names:
        return f"None of {len(parts)} is proven to " + ("differ from the forecast." if expected else "have changed.")
    return (
        f"{len(names)} of {len(parts)} {'differ from the forecast' if expected else 'changed'}: {', '.join(names)}. "
        + ("Nothing is proven of the others." if len(names) < len(parts) else "")
    ).strip()


def _head(changes: Sequence[Change]) -> Document:
    """What happened, in large words and in one sentence."""
    first = changes[0]
    deviations = [part for each in changes for part in each.deviations]
    moved = any(part.test.rejected for part in deviations)
    if deviations:
        told = ("It did not come out as forecast" if moved else "The forecast came true") if first.expected else (
            "It changed its shape" if moved else "Nothing is proven to have moved"
        )  # fmt: skip
    else:
        moved = any(value.proven for each in changes for value in each.values)
        told = "A change is proven" if moved else "No change is proven"
    sentences = [text.plain_message(each.sentence[:1].upper() + each.sentence[1:]) + "." for each in changes]
    if len(deviations) > FEW_SETS:
        sentences = [_of_many(deviations, first.expected)]
    return {
        **_mark(moved), "word": told, "sentence": " ".join(sentences),
        "about": f"{first.two} less {'what was predicted' if first.expected else first.one}. {text.CHANGE_WORDS}",
    }  # fmt: skip


# --- values


def scale_of_value(layout: Layout, change: Change, value: ChangedValue) -> Scale:
    """Unit in which a value is shown: that of the result."""
    limit = next((part.limit for part in change.after.components if part.name == value.name), None)
    return scale_of(value.kind, limit, layout.units)


def _value_row(layout: Layout, of: tuple[Change, ChangedValue], number: int) -> Document:
    change, value = of
    scale, sign = scale_of_value(layout, change, value), bool(value.plus)
    words = [text.VERDICT_WORDS[word] for word in value.words if word is not None]
    turned = len(words) == 2 and words[0] != words[1]
    return {
        "number": number,
        "name": value.name or change.after.evidence.task.quantity,
        "over": text.plain_message(scale.behind.strip()),
        "before": headline(scale, value.before, sign=sign, whole=False),
        "after": headline(scale, value.after, sign=sign, whole=False),
        "change": headline(scale, value.change, sign=True, whole=False),
        "expanded": f"± {headline(scale, value.expanded_uncertainty, whole=False)}",
        **_mark(value.proven),
        "word": "proven" if value.proven else "not proven",
        "verdict": f"{words[0]} → {words[1].lower()}" if turned else "",
    }


# --- stations


def _set_row(layout: Layout, part: ChangedDeviations) -> Document:
    """What a set of changes counts from, and the test that nothing moved."""
    scale = scale_of(part.kind, None, layout.units)
    return {
        "name": part.name,
        "datum": f"Changes count from {text.plain_message(part.datum)}." if part.datum else "",
        "test": test_words(part.test),
        **_mark(part.test.rejected),
        "dropped": f"Not read at both visits: {', '.join(part.dropped)}." if part.dropped else "",
        "apart": _apart(scale, part),
        "factor": f"U with k = {part.coverage_factor:.3g}.",
    }


def test_words(test: NothingMoved) -> str:
    """The test that no station moved against the others, in one sentence."""
    if test.rank == 0:
        return "Test “nothing moved”: no change is independent of what it counts from."
    many = f"{test.rank} independent change{'s' * (test.rank != 1)}"
    outcome = "rejected" if test.rejected else "not rejected"
    odds = "less than 0.01 %" if test.probability < 1e-4 else f"{100.0 * test.probability:.3g} %"
    return (
        f"Test “nothing moved”: {outcome}. Chi-square {test.chi_square:.1f} with {many}; errors alone reach it in "
        f"{odds} of all cases."
    )


def _apart(scale: Scale, part: ChangedDeviations) -> str:
    """How much the visits share, by the uncertainty that it saves."""
    if not len(part.u) or float(part.apart.max()) <= 0.0:
        return ""
    k, i = part.coverage_factor, int(part.u.argmax())
    if float(part.u[i]) > ALIKE * float(part.apart[i]):
        return "Errors that both visits share hardly count in these changes."
    return (
        f"U of a station's change is up to {headline(scale, k * float(part.u[i]))}; it would be "
        f"{headline(scale, k * float(part.apart[i]))} if the visits shared no error."
    )


def station_rows(layout: Layout, sets: Sequence[ChangedDeviations]) -> list[Document]:
    """One row per station and direction, as they are read."""
    rows = []
    for number, part in enumerate(sets):
        scale, moved = scale_of(part.kind, None, layout.units), part.moved
        for i, name in enumerate(part.stations):
            way = part.components[i] if part.components[i] != part.of else ""
            rows.append({
                "key": f"{number} {i}", "name": name,
                "way": ", ".join(word for word in (part.of, way) if word),
                "before": bare(scale, float(part.before[i]), sign=True),
                "after": bare(scale, float(part.after[i]), sign=True),
                "change": bare(scale, float(part.change[i]), sign=True),
                "u": bare(scale, part.coverage_factor * float(part.u[i])),
                "moved": bool(moved[i]), **_mark(bool(moved[i])),
            })  # fmt: skip
    return rows


def change_card(layout: Layout, changes: Sequence[Change], station: str) -> Document | None:
    """The chosen station: what it did in every direction, and what its U would be without shared errors."""
    parts = [part for each in changes for part in each.deviations if station in part.stations]
    if not parts:
        return None
    facts = []
    for part in parts:
        scale, k = scale_of(part.kind, None, layout.units), part.coverage_factor
        for i in [i for i, name in enumerate(part.stations) if name == station]:
            mark, way = _mark(bool(part.moved[i])), part.components[i] or part.name
            facts.append({
                "key": f"{part.of} {i}", **mark, "way": way,
                "change": f"{headline(scale, float(part.change[i]), sign=True)} "
                          f"± {headline(scale, k * float(part.u[i]))}",
                "course": f"{bare(scale, float(part.before[i]), sign=True)} → "
                          f"{text.told(scale, float(part.after[i]), sign=True)}",
                "apart": f"± {headline(scale, k * float(part.apart[i]))} if nothing were shared",
            })  # fmt: skip
    return {"name": station, "facts": facts}
