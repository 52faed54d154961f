"""The live tab in plain data: the next station, the last reading, every spot, what looks wrong, what was skipped."""

from __future__ import annotations

import math
from typing import Any

from scenes.errors import Problem
from scenes.hints import listed
from scenes.live.order import Look
from scenes.live.repeats import TEST
from scenes.live.watch import Watch
from scenes.model.layout import Layout
from scenes.units import show
from viewer import text
from viewer.logic.live_spots import STATES, State, marks_of, spelled_value, told_channels
from viewer.logic.live_table import drift_words, spot_rows

__all__ = ["SKIPPED_SHOWN", "TROUBLES_SHOWN", "live_document", "look_words", "skipped_document"]

Document = dict[str, Any]

SKIPPED_SHOWN = 30
TROUBLES_SHOWN = 30
MISSING_SHOWN = 12


def live_document(
    layout: Layout, watch: Watch, *, source: str, skipped: Document, remarks: tuple[str, ...] = ()
) -> Document:
    """Everything that panel and picture show of the readings so far.

    Parameters
    ----------
    source : str
        Where readings come from, for the page.
    skipped : dict
        As ``skipped_document`` makes it.
    """
    disagreeing = {each.look.key for each in watch.disagreements if _is_last(watch, each.record, each.look)}
    rows, rows_note = spot_rows(layout, watch, disagreeing)
    return {
        "source": source,
        "visit": watch.visit,
        "next": None if watch.next is None else _next(watch.next),
        "last": _last(layout, watch),
        "progress": _progress(watch),
        "missing": _missing(watch),
        "unit": text.screen_unit(layout.units.deviation),
        "rows": rows,
        "rows_note": rows_note,
        "troubles": [*_disagreements(layout, watch), *_edges(layout, watch)][:TROUBLES_SHOWN],
        "trouble_count": len(watch.disagreements) + len(watch.edges),
        "test": text.plain_message(TEST),
        "drifts": _drifts(layout, watch),
        "skipped": skipped,
        "remarks": [text.plain_message(remark) for remark in remarks],
        "key": [{"kind": each.kind, "shape": each.shape, "word": each.word} for each in STATES.values()],
        "marks": marks_of(layout, watch, disagreeing),
    }


def _is_last(watch: Watch, record: int, look: Look) -> bool:
    """Whether a reading was the last of its spot: one that was read again, and then agreed, is no longer in doubt."""
    return watch.station(look).records[-1] == record


def skipped_document(count: int, problems: list[Problem]) -> Document:
    """Records that could not be taken, the latest first; ``problems`` holds the last of ``count``."""
    shown = [
        {
            "where": f"{each.file}, line {each.line}" if each.line else each.file,
            "message": text.plain_message(each.message[:1].upper() + each.message[1:]),
            "advice": text.plain_message(each.advice),
        }
        for each in reversed(problems[-SKIPPED_SHOWN:])
    ]
    left = count - len(shown)
    return {"count": count, "list": shown, "note": f"and {left} before these" if left > 0 else ""}


# --- next, last, progress


def degrees(turn: float) -> str:
    """A clock position."""
    return f"{math.degrees(turn):.4g}°"


def look_words(look: Look) -> str:
    """Set-up, side and clock of a look, in words."""
    parts = [f"set-up {look.setup}"]
    parts.append("emitter reversed" if look.side else "emitter as set up")
    return ", ".join(parts)


def _next(look: Look) -> Document:
    words = look_words(look)
    return {
        "station": look.station,
        "clock": degrees(look.clock) if look.turned else "",
        "words": words[:1].upper() + words[1:],
        "target": look.target,
        "again": look.again,
        "look": [look.setup, look.station, look.side, look.clock],
    }


def _last(layout: Layout, watch: Watch) -> Document | None:
    if watch.last is None:
        return None
    station = watch.station(watch.last)
    telling = told_channels(station)
    record = max(record for each in watch.stations for record in each.records)
    off = any(each.record == record for each in watch.disagreements)
    near = any(each.record == record for each in watch.edges)
    state = STATES[State.OFF] if off else STATES[State.READ]
    values = [
        f"{each.channel} {spelled_value(layout, each.channel, each.last, sided=True)}" for each in telling
    ]  # fmt: skip
    return {
        "number": record + 1,
        "station": watch.last.station,
        "where": look_words(watch.last) + (f", clock {degrees(watch.last.clock)}" if watch.last.turned else ""),
        "values": ", ".join(values),
        "kind": "open" if near and not off else state.kind,
        "shape": state.shape,
        "word": "does not agree with earlier readings" if off else "near the edge of the window" if near else "taken",
    }


def _progress(watch: Watch) -> Document:
    planned = sum(each.planned for each in watch.stations)
    missing = len(watch.missing)
    done = planned - missing
    return {
        "records": watch.count, "planned": planned, "done": done, "missing": missing,
        "percent": 100 if planned == 0 else int(100 * done / planned),
    }  # fmt: skip


def _missing(watch: Watch) -> list[Document]:
    by_setup: dict[str, list[str]] = {}
    for look in watch.missing:
        words = str(look).partition(" (")[0].replace(" deg", "°")
        words = words.replace(", once more", " again").replace(", reversed", " reversed")
        by_setup.setdefault(look.setup, []).append(words)
    return [
        {"setup": setup, "count": len(names), "names": listed(names, MISSING_SHOWN)}
        for setup, names in by_setup.items()
    ]


# --- what looks wrong


def _disagreements(layout: Layout, watch: Watch) -> list[Document]:
    found = []
    for each in reversed(watch.disagreements):
        open_ = _is_last(watch, each.record, each.look)
        state = STATES[State.OFF]
        by = spelled_value(layout, each.channel, each.difference, sided=True)
        found.append({
            "station": each.look.station, "kind": state.kind if open_ else "note", "shape": state.shape,
            "title": "Does not agree" if open_ else "Did not agree",
            "place": f"{each.look.station}, {look_words(each.look)}, record {each.record + 1}",
            "message": f"{each.channel} is off by {by} from the mean of the earlier readings, "
                       f"u {spelled_value(layout, each.channel, each.u)}.",
            "advice": "Read it again." if open_ else "",
        })  # fmt: skip
    return found


def _edges(layout: Layout, watch: Watch) -> list[Document]:
    found = []
    for each in reversed(watch.edges):
        cut = each.left <= 0.0
        left = text.spelled(show(max(each.left, 0.0), layout.units.length))
        found.append({
            "station": each.look.station, "kind": "bad" if cut else "open", "shape": "■" if cut else "▲",
            "title": "Beam is cut" if cut else "Near the edge",
            "place": f"{each.look.station}, {look_words(each.look)}",
            "message": f"The spot has used {100 * each.used:.0f} % of the window in {each.channel}; {left} are left.",
            "advice": "Bring the target or the beam back to the middle.",
        })  # fmt: skip
    return found


def _drifts(layout: Layout, watch: Watch) -> list[Document]:
    return [
        {
            "place": f"Set-up {each.setup}{', reversed' if each.side else ''}",
            "channel": each.channel,
            "words": drift_words(layout, each.channel, each.slope),
        }
        for each in watch.drifts
    ]
