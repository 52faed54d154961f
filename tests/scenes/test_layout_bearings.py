"""Bearings and measured influences in a layout: what is read, and what is told when it is wrong."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from scenes.errors import LayoutError
from scenes.layout.read import read_layout

EXAMPLES = Path(__file__).parents[2] / "examples"
ROLLS = (EXAMPLES / "coating_rolls" / "layout.yaml").read_text(encoding="utf-8")
ROLL = """
bearings:
  roll_1:
    at: {drive: -1.4 m, tending: 1.4 m}
    fixed: drive
    up: {travel: 2 mm, add only: true, stock: [0.05 mm, 0.1 mm], most pieces: 3}
    side: {travel: 4 mm, shim known to: 10 um}
"""


def read(text):
    return read_layout("rolls.yaml", ROLLS + text)


def test_bearings_are_read():
    found = read(ROLL).bearings["roll_1"]
    assert found.names == ("drive", "tending")
    np.testing.assert_allclose(found.at, [-1.4, 1.4])
    assert found.fixed == ("drive",)
    assert (found.up.travel, found.up.add_only, found.up.stock, found.up.most_pieces) == (2e-3, True, (5e-5, 1e-4), 3)
    assert (found.side.add_only, found.side.stock, found.side.known_to) == (False, (), pytest.approx(1e-5))
    assert read("").bearings == {}


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("roll_1:\n    at", "roll_9:\n    at", "there is no 'roll_9'"),
        (", tending: 1.4 m", "", "1 bearings; an axis is held by two"),
        ("tending: 1.4 m", "tending: -1.4 m", "both bearings stand at one place"),
        ("fixed: drive", "fixed: drve", "there is no bearing 'drve'"),
        ("travel: 2 mm", "travel: 0 mm", "above zero"),
        ("side:", "sides:", "sides"),
    ],
)
def test_what_is_wrong_is_told(old, new, words):
    assert ROLL.count(old) >= 1
    with pytest.raises(LayoutError) as caught:
        read(ROLL.replace(old, new, 1))
    assert words in str(caught.value)
    assert "line" in str(caught.value)


def test_only_an_axis_has_bearings_and_they_must_move():
    still = "\nbearings:\n  roll_1: {at: {a: 0 m, b: 1 m}}\n"
    with pytest.raises(LayoutError, match="cannot move at all"):
        read(still)
    bed = (EXAMPLES / "press_bed" / "layout.yaml").read_text(encoding="utf-8")
    with pytest.raises(LayoutError, match="has no axis"):
        read_layout("bed.yaml", bed + "\nbearings:\n  bed: {at: {a: 0 m, b: 1 m}, up: {travel: 1 mm}}\n")


def test_a_measured_influence_names_its_file_beside_the_layout():
    bed = (EXAMPLES / "press_bed" / "layout.yaml").read_text(encoding="utf-8")
    changed = bed.replace("influence: plate", "influence: {measured: own.csv}\n    influence known to: 3 %")
    feet = read_layout("here/bed.yaml", changed).feet["bed"]
    assert feet.influence == "measured"
    assert Path(feet.influence_file) == Path("here/own.csv")
    assert feet.influence_known_to == pytest.approx(0.03)
    for wrong, words in (("{measured: own.csv, other: 1}", "one key"), ("{file: own.csv}", "one key"),
                         ("measured", "needs its file"), ("plat", "did you mean plate")):  # fmt: skip
        with pytest.raises(LayoutError, match=words):
            read_layout("bed.yaml", bed.replace("influence: plate", f"influence: {wrong}"))
