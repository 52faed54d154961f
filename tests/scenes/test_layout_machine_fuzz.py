"""Values of a hall with one surface of every kind exchanged for each other: a layout or problems, nothing else."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from scenes.checks.placement import check_places
from scenes.errors import LayoutError, Problem
from scenes.layout import read_layout
from scenes.model.layout import Layout
from scenes.tracing.places import station_places, station_sides
from scenes.tracing.solids import obstacles_of

HALL = (Path(__file__).parent / "machine_hall.yaml").read_text(encoding="utf-8")
VALUES = [match.span() for match in re.finditer(r"(?<=[:\[{,] )[^\s,\[\]{}:]+(?: [^\s,\[\]{}:]+)*(?=[,\]}\n])", HALL)]
KEYS = [match.span() for match in re.finditer(r"[a-z][a-z ]*(?=: )", HALL)]
EXAMPLES = 100
OTHER = [
    "all", "low", "0 mm", "-1 m", "1e-9 m", "9 km", "5000", "360 deg", "[]", "{}", "[0 m]", "bed", "slide", "ends of",
    "in", "every", "count", "at", "clock", "positions", "along", "mesh", "{file: none.stl, unit: mm}", "press upper",
    "SA1@low", "press", "floor", "[0, 0, 1]", "down", "moves", "-4 degC", "{low: 1 mm, low 2: 2 mm}", "999 x 999",
]  # fmt: skip


@st.composite
def exchanged(draw: st.DrawFn) -> str:
    """The hall with one to three values or keys replaced by others, the last first so that places stay."""
    spots = draw(st.lists(st.sampled_from(VALUES + KEYS), min_size=1, max_size=3, unique=True))
    text = HALL
    for start, end in sorted(spots, reverse=True):
        copied = draw(st.sampled_from(VALUES + KEYS).map(lambda span: HALL[slice(*span)]))
        text = text[:start] + draw(st.sampled_from([copied, *OTHER])) + text[end:]
    return text


def read(text: str) -> tuple[Layout | None, tuple[Problem, ...]]:
    try:
        return read_layout("hall.yaml", text), ()
    except LayoutError as error:
        return None, error.problems


@settings(max_examples=EXAMPLES, deadline=None)
@given(exchanged())
def test_exchanged_values_give_a_layout_that_holds_or_problems_with_places(text: str) -> None:
    layout, problems = read(text)
    for problem in problems:
        assert 1 <= problem.line <= text.count("\n") + 1
        assert problem.column >= 1
        assert problem.message
    if layout is None:
        assert problems
        return
    names = tuple(layout.stations)
    foot, normal, rise = station_places(layout, names)
    side = station_sides(layout, names)
    assert np.isfinite(foot).all()
    assert np.isfinite(rise).all()
    np.testing.assert_allclose(np.linalg.norm(normal, axis=1), 1.0, atol=1e-12)
    np.testing.assert_allclose(np.linalg.norm(side, axis=1), 1.0, atol=1e-12)
    assert all(station in layout.stations for group in layout.groups.values() for station in group.stations)
    assert np.isfinite(obstacles_of(layout).triangles.vertices).all()
    check_places(layout)
