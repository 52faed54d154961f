from pathlib import Path

import pytest

from scenes.checks.plan import traced_plan
from scenes.layout.read import read_layout

EXAMPLE = Path(__file__).parents[3] / "examples" / "press_bed" / "layout.yaml"


@pytest.fixture(scope="session")
def press_bed():
    return read_layout(EXAMPLE)


@pytest.fixture(scope="session")
def plan(press_bed):
    return traced_plan(press_bed)


TEXT = """
layout: 1
title: Plate behind a column
machine:
  plate: {plate: {length: 2 m, width: 1 m, thickness: 100 mm}, at: [0 m, 0 m, 0.8 m]}
  column: {column: {length: 200 mm, width: 200 mm, height: 2 m}, at: [-1.6 m, 0.3 m, 0 m]}
devices:
  laser: {emitter: cylinder}
  base: {rotary base: standard}
  t1: {target: two axes}
stations:
  grid: {on: plate, grid: COLUMNS x ROWS, margin: 50 mm, target: t1, mount: {post: 120 mm}}
setups:
  plane:
    emitter: {use: laser, on: floor, at: [-2.5 m, 0 m, 0 m], mount: {tripod: 0.86 m}}
    turned by: base
    level by: vial
    reads: [grid]
tasks:
  flat: {flatness: plate, from: grid, reference: least squares, limit: 50 um}
"""


SECOND = """
  other plane:
    emitter: {use: laser, on: floor, at: [2.5 m, 0 m, 0 m], mount: {tripod: 0.86 m}}
    turned by: base
    level by: vial
    reads: [grid]
"""


@pytest.fixture(scope="session")
def survey_of():
    """Plan of a plate that is partly hidden by a column, with a grid of a chosen size."""

    def planned(columns, rows, twice=False):
        text = TEXT.replace("COLUMNS", str(columns)).replace("ROWS", str(rows))
        if twice:
            text = text.replace("tasks:", SECOND + "tasks:")
        return traced_plan(read_layout("plate.yaml", text))

    return planned


@pytest.fixture(scope="session")
def hidden(survey_of):
    return survey_of(9, 7)


@pytest.fixture(scope="session")
def lines():
    """Plan of a hall with one of each method that runs along a line."""
    return traced_plan(read_layout(Path(__file__).with_name("methods.yaml")))
