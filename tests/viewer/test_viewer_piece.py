"""The worst piece of a sliding length: in the profile plot, in words, and on the machine."""

from dataclasses import replace

import numpy as np
import pytest

from scenes.model.survey import Rule
from viewer.logic.plots import plots_of
from viewer.logic.shown import shown_of
from viewer.logic.worst_piece import worst_piece

from .conftest import open_example
from .test_viewer_reactions import Page

TASK, WHOLE, LOCAL = "a height", 0, 1
NANOMETRE = 1e-9


@pytest.fixture(scope="module")
def rails():
    return open_example("transfer_rails")


def piece_of(session):
    shown = shown_of(session, TASK, "as found", "", False, LOCAL)
    (figure,) = shown.figures
    return shown, figure, worst_piece(shown, figure)


def test_the_piece_is_as_long_as_asked_and_holds_the_value(rails):
    shown, figure, piece = piece_of(rails)
    limit, span = rails.layout.tasks[TASK].local
    at = figure.places[piece.numbers]
    assert np.all(np.diff(piece.numbers) == 1)
    assert np.linalg.norm(at[-1] - at[0]) <= span + NANOMETRE
    assert (piece.limit, piece.span) == (limit, span)
    assert piece.value == shown.component.value
    assert piece.high - piece.low == pytest.approx(piece.value, abs=NANOMETRE)
    assert set(shown.component.high) | set(shown.component.low) <= {figure.stations[i] for i in piece.numbers}


def test_no_other_piece_is_worse(rails):
    """Straight lines by least squares through every run of stations within the span, worked out anew."""
    _, figure, piece = piece_of(rails)
    along = (figure.places - figure.places[0]) @ (figure.places[-1] - figure.places[0])
    along /= np.linalg.norm(figure.places[-1] - figure.places[0])
    heights, widest = figure.displacement @ figure.directions[0], 0.0
    for i in range(len(along)):
        inside = np.nonzero((along >= along[i] - NANOMETRE) & (along <= along[i] + piece.span + NANOMETRE))[0]
        if len(inside) >= 3:
            line = np.polyfit(along[inside], heights[inside], 1)
            widest = max(widest, float(np.ptp(heights[inside] - np.polyval(line, along[inside]))))
    assert piece.value == pytest.approx(widest, abs=NANOMETRE)


def test_the_plot_draws_the_piece_with_its_line_its_limit_and_its_value(rails):
    shown, figure, piece = piece_of(rails)
    (chart,) = plots_of(rails, shown)
    first, last = (figure.stations[int(piece.numbers[i])] for i in (0, -1))
    assert (
        chart["piece"]["words"] == f"Worst piece of 6000 mm: {first} to {last}, {1e6 * piece.value:.1f} µm of 250.0 µm."
    )
    ends = [np.array([part.split(",") for part in line.split(" ")], float) for line in chart["piece"]["limits"]]
    band = np.array([part.split(",") for part in chart["piece"]["band"].split(" ")], float)
    dots = {dot["name"]: dot["x"] for dot in chart["dots"]}
    assert [ends[0][0, 0], ends[0][-1, 0]] == pytest.approx([dots[first], dots[last]], abs=0.1)
    wide, m = float(ends[0][0, 1] - ends[1][0, 1]), len(piece.numbers)
    assert (band[-1, 1] - band[0, 1]) / wide == pytest.approx(piece.value / piece.limit, abs=0.01)
    assert len(band) == 2 * m
    assert 0.0 < chart["piece"]["y"] < chart["height"]


def test_the_whole_line_and_a_change_have_no_piece(rails):
    shown = shown_of(rails, TASK, "as found", "", False, WHOLE)
    assert worst_piece(shown, shown.figures[0]) is None
    assert plots_of(rails, shown)[0]["piece"] is None
    local, figure, _ = piece_of(rails)
    assert worst_piece(replace(local, kind="change"), figure) is None


def test_the_rule_leaves_less_of_the_limit(rails):
    for rule in Rule:
        shown, _, piece = piece_of(replace(rails, rule=rule))
        guard = shown.component.verdict.guard
        assert piece.accepted == pytest.approx(piece.limit + (guard if rule is Rule.RELAXED else -guard), abs=NANOMETRE)


def test_the_piece_is_marked_on_the_machine_only_while_its_value_is_chosen(rails):
    page = Page(replace(rails, _measured={}, _changes={}))
    page.set(component=WHOLE)
    assert "line 0 piece" not in page.scene.parts
    page.set(component=LOCAL)
    _, figure, piece = piece_of(rails)
    bar = page.scene.mesh("line 0 piece").points
    ends = figure.places[piece.numbers][[0, -1]]
    assert np.ptp(bar, axis=0).max() == pytest.approx(np.ptp(ends, axis=0).max(), rel=0.02)
    assert "line 0 piece zone" in page.scene.names("limits")
    page.set(component=WHOLE)
    assert "line 0 piece" not in page.scene.parts


def test_another_exaggeration_of_lines_draws_what_a_fresh_picture_would(rails):
    """Actors stay and get other meshes; layers that are hidden meanwhile are drawn when they are shown."""
    stretched, fresh = (Page(replace(rails, _measured={}, _changes={})) for _ in range(2))
    zoom = stretched.state.zoom_log + 0.2
    stretched.set(zoom_log=zoom)
    fresh.set(zoom_log=zoom)
    fresh.result._picture._painter.clear()
    fresh.result._picture._redraw()
    for group in ("surface", "vectors", "limits", "names"):
        assert set(stretched.scene.names(group)) == set(fresh.scene.names(group))
        for name in stretched.scene.names(group):
            mine, theirs = (np.asarray(page.scene.mesh(name).points) for page in (stretched, fresh))
            np.testing.assert_allclose(mine, theirs, atol=1e-5, err_msg=name)
    stretched.set(task="cross level")
    assert not [name for name in stretched.scene.parts if "piece" in name]
