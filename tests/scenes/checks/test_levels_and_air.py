"""Vials and their reversal, reversal of nothing, the round Earth, and air that bends long beams."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest

from scenes.frames import pose_from_turn
from scenes.model.finding import Severity
from scenes.model.layout import Air
from scenes.model.machine import Plate, Surface
from scenes.model.survey import LevelBy, Limit


@pytest.fixture
def grid(hall):
    return [hall.station(f"G{i}{j}", -3.0 + 2.0 * i, -1.5 + 1.5 * j) for i in range(4) for j in range(3)]


def by_vial(hall, grid, **more):
    usual = {"level_by": LevelBy.VIAL, "vial": "vial"}
    return hall.plane([each.name for each in grid], **{**usual, **more})


def levelness(hall, grid, limit=2e-4):
    return hall.task(
        [each.name for each in grid], limit, "levelness", of=("bed",), limits={"": Limit(limit, angle=True)}
    )


def test_a_vial_read_one_way_round_leaves_its_zero_in_the_level(hall, said, grid):
    """20 urad over the 6.7 m of the grid's diagonal are 134 um."""
    asked = levelness(hall, grid)
    finding = said(hall.layout(grid, by_vial(hall, grid), tasks=[asked])).one("level-unreversed")
    assert finding.severity is Severity.WARNING
    diagonal = np.hypot(6.0, 3.0)
    assert f"{20e-6 * diagonal * 1e6:.1f} um over the {diagonal * 1e3:.0f} mm of asked" in finding.message
    assert "known to 4.13 arcsec" in finding.message
    assert f"allows {2e-4 * diagonal * 1e6:.1f} um" in finding.message
    assert "reversed: true" in finding.advice
    turned = by_vial(hall, grid, reversed=True)
    assert "level-unreversed" not in said(hall.layout(grid, turned, tasks=[asked])).codes


def test_without_a_task_that_asks_for_level_it_is_a_note(hall, said, grid):
    finding = said(hall.layout(grid, by_vial(hall, grid))).one("level-unreversed")
    assert finding.severity is Severity.NOTE
    assert "no task here asks for level" in finding.message
    exact = {"vial": replace(hall.vial, zero_known_to=0.0)}
    assert said(hall.layout(grid, by_vial(hall, grid), vials=exact)).codes == set()


def test_a_vial_without_a_name_is_not_counted(hall, said, grid):
    asked = levelness(hall, grid)
    finding = said(hall.layout(grid, by_vial(hall, grid, vial=""), tasks=[asked])).one("level-unreversed")
    assert "the vial is not named" in finding.message
    assert said(hall.layout(grid, by_vial(hall, grid, vial=""))).codes == set()


def test_cross_level_counts_from_one_rail_to_the_other(hall, said):
    """Two rails 3 m apart and 8 m long: 20 urad tell over 3 m, that is 60 um."""
    other = Surface("other", Plate(12.0, 0.2, 0.4), pose_from_turn([0.0, 3.0, 0.5]), "floor", "", 5)
    first = hall.row()
    second = [replace(each, name=f"R{i}", surface="other") for i, each in enumerate(first)]
    both = [*first, *second]
    asked = hall.task([each.name for each in both], 3e-4, "cross level", of=("bed", "other"))
    setup = by_vial(hall, both, at=(-7.0, 1.5, 0.0))
    finding = said(hall.layout(both, setup, tasks=[asked], surfaces=[other])).one("level-unreversed")
    assert "60.0 um over the 3000 mm of asked" in finding.message


@pytest.mark.parametrize("method", ["base", "spindle"])
def test_reversal_where_nothing_can_be_reversed(hall, said, grid, method):
    setup = hall.plane([each.name for each in grid], reversed=True)
    stations = grid
    if method == "spindle":
        stations = hall.row()
        names = [each.name for each in stations]
        setup = hall.line(names, at=(-5.0, 0.0, 0.04), clocks=(0.0, np.pi), reversed=True)
    finding = said(hall.layout(stations, setup)).one("nothing-reversed")
    assert "remove reversed" in finding.advice
    assert said(hall.layout(stations, replace(setup, reversed=False))).codes == set()


def test_a_base_by_vial_and_a_line_can_be_reversed(hall, said, grid):
    assert said(hall.layout(grid, by_vial(hall, grid, reversed=True))).codes == set()
    stations = hall.row()
    assert said(hall.layout(stations, hall.line([each.name for each in stations], reversed=True))).codes == set()


def test_a_reversed_base_line_needs_common_ends(hall, said):
    stations = hall.across()
    names = [each.name for each in stations]
    finding = said(hall.layout(stations, hall.square(names, reversed=True))).one("reversal-untied")
    assert "near and far" in finding.advice
    ends = [hall.station(name, x, 0.0, is_datum=True) for name, x in (("near", -4.5), ("far", 2.0))]
    tied = replace(hall.square(names, reversed=True), reads=("near", "far", *names), near="near", far="far")
    assert said(hall.layout([*ends, *stations], tied)).codes == set()


def test_the_earth_falls_away_below_a_long_levelled_plane(hall, said):
    """38 m away the level surface lies d^2 / 2R = 113 um below the plane; the radius is 6371 km."""
    yard = Surface("yard", Plate(80.0, 2.0, 0.4), pose_from_turn([0.0, 0.0, 0.5]), "floor", "", 5)
    stations = [replace(each, surface="yard") for each in hall.row(5, -2.0, 10.0)]
    setup = by_vial(hall, stations, at=(0.0, -0.8, 0.0), reversed=True)
    task = levelness(hall, stations, 2.5e-5)  # over 40 m: 1 mm
    found = said(hall.layout(stations, setup, tasks=[task], surfaces=[yard]))
    finding = found.one("earth-curvature")
    assert finding.severity is Severity.NOTE
    away = np.hypot(38.0, 0.8)
    assert f"{away**2 / (2.0 * 6_371_008.8) * 1e6:.1f} um below the plane at P5" in finding.message
    assert "11% of what asked allows (1000.0 um)" in finding.message
    within = float(re.search(r"within (\d+) mm", finding.advice)[1]) * 1e-3
    assert within**2 / (2.0 * 6_371_008.8) == pytest.approx(1e-4, rel=1e-3)
    nearer = replace(setup, at=np.array([38.0 - within + 0.1, -0.8, 0.0]))
    assert "earth-curvature" not in said(hall.layout(stations, nearer, tasks=[task], surfaces=[yard])).codes
    flat = replace(task, quantity="flatness", limits={}, limit=1e-3)
    assert "earth-curvature" not in said(hall.layout(stations, setup, tasks=[flat], surfaces=[yard])).codes


KAPPA = 0.955e-6
"""Curvature of a beam per K/m at 20 degC and 635 nm, 1/m. Source: design figure 0.96e-6, index of air after Ciddor."""


def test_a_long_beam_in_a_gradient_sags_by_what_is_said(hall, said):
    """k L^2 / 2 after 9 m in 0.5 K/m: 19.3 um; half of that for 0.25 K/m of doubt; 3/20 of a limit of 100 um."""
    stations = hall.row()
    names = [each.name for each in stations]
    air = Air(gradient=0.5, gradient_known_to=0.25)
    task = hall.task(names, 1e-4, plane="vertical")
    finding = said(hall.layout(stations, hall.line(names), tasks=[task], air=air)).one("bent-beam")
    assert finding.severity is Severity.NOTE
    sag = 0.5 * KAPPA * 0.5 * 9.0**2 * 1e6
    assert re.search(
        r"bends the beam by .* um, known to 0.25 K/m, so to .* um, and the weight of the air by", finding.message
    )
    stated, doubt, weight = (float(size) for size in re.findall(r"(\d+\.\d) um", finding.message)[:3])
    assert stated == pytest.approx(sag, rel=0.01)
    assert doubt == pytest.approx(0.5 * sag, rel=0.01)
    assert weight == pytest.approx(1.6 * (9.0 / 10.0) ** 2, abs=0.1)  # 1.6 um in 10 m
    wide = replace(task, limit=3e-4)
    assert "bent-beam" not in said(hall.layout(stations, hall.line(names), tasks=[wide], air=air)).codes


def test_the_weight_of_the_air_alone_is_worth_a_note_on_a_long_beam(hall, said):
    """25 um in 40 m, of 200 um."""
    yard = Surface("yard", Plate(90.0, 2.0, 0.4), pose_from_turn([0.0, 0.0, 0.5]), "floor", "", 5)
    stations = [replace(each, surface="yard") for each in hall.row(5, -4.0, 9.75)]
    names = [each.name for each in stations]
    setup = replace(hall.line(names), on="yard")
    for limit, noted in ((2e-4, True), (4e-4, False)):
        task = hall.task(names, limit, plane="vertical")
        found = said(hall.layout(stations, setup, tasks=[task], surfaces=[yard]))
        assert ("bent-beam" in found.codes) is noted
    task = hall.task(names, 2e-4, plane="vertical")
    assert "the weight of the air by 25" in said(
        hall.layout(stations, setup, tasks=[task], surfaces=[yard])
    ).one("bent-beam").message  # fmt: skip


def test_a_beam_along_the_gradient_does_not_bend(hall, said):
    """Straight up, nothing is across the beam."""
    side = {"normal": np.array([-1.0, 0.0, 0.0]), "along": np.array([0.0, 0.0, 1.0])}
    stations = [
        replace(hall.station(f"U{i}", 0.0, 0.0, **side), at=np.array([0.15, 0.0, 0.5 + 2.0 * i])) for i in range(5)
    ]
    names = [each.name for each in stations]
    setup = hall.line(names, at=(0.0, 0.0, 0.0), aim=np.array([0.0, 0.0, 1.0]))
    task = hall.task(names, 5e-5)
    assert "bent-beam" not in said(hall.layout(stations, setup, tasks=[task], air=Air(gradient=2.0))).codes
