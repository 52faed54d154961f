"""Random edits of a layout give a layout, or problems with their places; never another exception, never a hang."""

from __future__ import annotations

import re
import time

from hypothesis import given, settings
from hypothesis import strategies as st

from scenes.errors import LayoutError, Problem
from scenes.layout import read_layout
from scenes.model.layout import Layout

SIGNS = [*"\t\n\r {}[]:,#&*!|>'\"%@`-?~019.e=<", "\x00", "\x85", "\ufeff", "\u2028", "é", "\U0001f600"]
WORDS = [
    "<<: *a", "&a ", "*a", "!!python/object:x ", "\n---\n", "\n...\n", "nan", ".inf", "1e400", "010", "12:30", "on",
    "null", "-1 mm", "1e-300 mm", "1e308 m", "0 mm", "A1..A7", "A7..A1", "A1..A99999", "[]", "{}", "again: [A1]",
    "floor", "three points", "pads [A1, A2]", "near", "far", "aim: +x", "prism: {use: nose}", "reversed: true",
    "on slide", "ends of rail_a", "@low", "0..20 um over 300 mm", "+-3 mm", "dia 0.4 mm", "through: [t1]",
    "in: bed", "1 m**9**9**9", "[0, 0, 1]",
]  # fmt: skip
NAMES = ["", "", "press_slide", "rolls", "gantry", "bore", "rails"]
"""Layouts that are edited; the press bed twice as often as the others."""

SLOWEST = 5.0  # seconds; a reading takes some 20 ms


@st.composite
def edits(draw: st.DrawFn) -> tuple[str, float, int, str, float]:
    kind = draw(st.sampled_from(["delete", "insert", "replace", "value", "swap", "line"]))
    at, other = draw(st.floats(0, 1)), draw(st.floats(0, 1))
    new = draw(st.sampled_from(SIGNS + WORDS) | st.text(max_size=3))
    return kind, at, draw(st.integers(1, 12)), new, other


def edited(text: str, edit: tuple[str, float, int, str, float]) -> str:
    kind, at, size, new, other = edit
    spot = int(at * len(text))
    if kind in ("delete", "insert", "replace"):
        return text[:spot] + ("" if kind == "delete" else new) + text[spot + (0 if kind == "insert" else size) :]
    if kind == "line":
        lines = text.split("\n")
        line = lines.pop(int(at * (len(lines) - 1)))
        lines.insert(int(other * len(lines)), line)
        return "\n".join(lines)
    values = [match.span() for match in re.finditer(r"[^\s,\[\]{}:]+(?: [^\s,\[\]{}:]+)*", text)]
    if not values:
        return new
    start, end = values[int(at * (len(values) - 1))]
    if kind == "swap":
        from_, to = values[int(other * (len(values) - 1))]
        new = text[from_:to]
    return text[:start] + new + text[end:]


@settings(max_examples=250, deadline=None)
@given(st.sampled_from(NAMES), st.lists(edits(), min_size=1, max_size=4))
def test_edits_give_a_layout_or_problems(press, sheets, name: str, changes: list) -> None:
    text = sheets[name].text if name else press.text
    for change in changes:
        text = edited(text, change)
    start = time.perf_counter()
    problems = problems_of(text)
    assert time.perf_counter() - start < SLOWEST
    lines = len(re.split(r"\r\n|[\n\r\x85\u2028\u2029]", text))
    assert problems is None or problems
    for problem in problems or ():
        assert 1 <= problem.line <= lines
        assert problem.column >= 1
        assert problem.message


def problems_of(text: str) -> tuple[Problem, ...] | None:
    """Problems; None where a layout comes out."""
    try:
        layout = read_layout("press.yaml", text)
    except LayoutError as error:
        return error.problems
    assert isinstance(layout, Layout)
    return None
