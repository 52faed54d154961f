"""What is told while reading: means, scatter, drift, the next station, what does not agree, spots near an edge."""

from __future__ import annotations

import math
import time
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenes.layout.read import read_layout
from scenes.live import LiveReadings, watch
from scenes.live.order import planned_looks, progress_of
from scenes.live.repeats import Budget, disagreeing, expected_scatter, slope
from scenes.model.readings import Readings
from scenes.readings import read_readings
from scenes.reductions.consistency import UNLIKELY
from scenes.tracing.rows import planned_rows
from scenes.uncertainty.simulate import simulated

EXAMPLES = Path(__file__).parents[2] / "examples"
NAMES = sorted(path.parent.name for path in EXAMPLES.glob("*/layout.yaml"))
UM = 1e-6


def layout_of(name: str):
    return read_layout(EXAMPLES / name / "layout.yaml")


BED = layout_of("press_bed")
PLAN = planned_looks(BED)


def live(*rows: str, layout=BED) -> Readings:
    """Readings of rows ``station, v [um], time [s]``."""
    found = LiveReadings(layout)
    said = found.take("station,v [um],time [s],note\n" + "".join(f"{row}\n" for row in rows))
    assert len(said) == len(rows) == len(found), said
    return found.readings


def of(seen, station: str, channel: str = "v"):
    (spot,) = [each for each in seen.stations if each.look.station == station]
    return spot, next((each for each in spot.channels if each.channel == channel), None)


# --- the order of reading --------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", NAMES)
def test_reading_in_the_planned_order_is_led_through_it_to_the_end(name):
    layout = layout_of(name)
    readings = read_readings([EXAMPLES / name / "readings" / "as_found.csv"], layout)
    plan = planned_looks(layout)
    assert len(plan) == len(planned_rows(layout)) == len(readings)
    for count in range(0, len(plan), max(1, len(plan) // 12)):
        seen = watch(layout, readings.chosen(slice(0, count)))
        assert seen.next == plan[count]
        assert seen.missing == plan[count:]
    seen = watch(layout, readings)
    assert seen.next is None
    assert seen.missing == ()
    assert sum(each.looks for each in seen.stations) == sum(each.planned for each in seen.stations) == len(plan)


def test_nothing_read_yet_begins_with_the_first():
    seen = watch(BED, LiveReadings(BED).readings)
    assert (seen.count, seen.last, seen.next) == (0, None, PLAN[0])
    assert seen.missing == PLAN
    assert {each.look.station for each in seen.stations} == set(BED.stations)


def test_readings_of_one_spot_one_after_the_other_are_one_look():
    seen = watch(BED, live("A1,1,0,", "A1,1,10,", "A1,1,20,", "A2,1,60,"))
    assert seen.next.station == "A3"
    assert [look.station for look in seen.missing if look.again] == ["A1", "E7"]
    spot, _ = of(seen, "A1")
    assert (spot.planned, spot.looks, spot.records) == (2, 1, (0, 1, 2))


def test_a_station_that_was_passed_over_comes_back_at_the_end_of_the_round():
    order = [look.station for look in PLAN if not look.again]
    rows = [f"{name},1,{60 * k}," for k, name in enumerate(order) if name != "B3"]
    assert watch(BED, live(*rows[:9])).next.station == "B3"
    assert watch(BED, live(*rows[:10])).next.station == "B5"
    seen = watch(BED, live(*rows))
    assert [look.again for look in seen.missing] == [False, True, True]
    assert seen.next.again  # the re-readings stand behind it in the plan
    assert watch(BED, live(*rows, "A1,1,9000,")).next.station == "B3"


def test_a_re_reading_in_between_lets_the_round_go_on():
    assert watch(BED, live("A1,1,0,", "A2,1,60,", "A3,1,120,", "A1,1,180,")).next.station == "A4"


def test_words_of_a_look():
    barrel = planned_looks(layout_of("extruder_barrel"))
    assert str(barrel[1]) == "R1 at 90 deg (set-up through the bore, target ring)"
    assert str(PLAN[-1]) == "E7, once more (set-up plane, target t1)"
    assert any(", reversed" in str(look) for look in planned_looks(layout_of("press_slide")))


@given(st.lists(st.sampled_from(PLAN), max_size=60))
@settings(max_examples=200)
def test_what_is_left_never_grows_and_next_is_one_of_it(taken):
    missing = len(PLAN)
    for count in range(len(taken) + 1):
        progress = progress_of(PLAN, taken[:count])
        assert missing - 1 <= len(progress.missing) <= missing
        missing = len(progress.missing)
        assert (progress.next is None) == (not progress.missing)
        assert progress.next is None or progress.next in progress.missing


# --- means, scatter, drift -------------------------------------------------------------------------------------------


def test_means_and_scatter_are_those_of_the_repeats():
    seen = watch(BED, live("A1,1,0,", "A1,2,10,", "A1,6,20,", "A2,5,60,"))
    _, told = of(seen, "A1")
    assert (told.n, told.mean, told.last) == (3, pytest.approx(3 * UM), pytest.approx(6 * UM))
    assert told.scatter == pytest.approx(np.std([1, 2, 6], ddof=1) * UM)
    assert told.tells
    _, single = of(seen, "A2")
    assert math.isnan(single.scatter)
    assert single.expected_from[0][0] in ("detector resolution", "moving air")
    assert {name for name, _ in single.expected_from} == {"detector resolution", "moving air"}


def test_the_expected_scatter_is_what_simulated_repeats_show():
    """Monte Carlo of the same plan: variance of repeats without and with the target set anew in between."""
    setup = BED.setups["plane"]
    reads = ("A1", "A1", "A1", "E7", "A7", "A1")
    layout = replace(BED, setups={"plane": replace(setup, reads=reads, again=())})
    rng = np.random.default_rng(5)
    squares, expected = [], 0.0
    for _ in range(150):
        made = simulated(layout, rng).readings
        values = made.v[[i for i, name in enumerate(made.station) if name == "A1"]]
        squares.append(np.var(values, ddof=1))
        if not expected:
            _, told = of(watch(layout, made), "A1")
            assert told.n == 4
            assert "seating of the mount" in dict(told.expected_from)
            expected = told.expected
    mean, error = np.mean(squares), np.std(squares, ddof=1) / math.sqrt(len(squares))
    assert expected**2 == pytest.approx(mean, abs=4.0 * error)


def budget(m: int, own: float = 1.0, shared: float = 0.0) -> Budget:
    group = np.stack([np.arange(m), np.zeros(m, dtype=np.int64)])
    return Budget(("own", "shared"), np.stack([np.full(m, own), np.full(m, shared)]), group)


@given(n=st.integers(2, 9), own=st.floats(0.1, 5.0), shared=st.floats(0.0, 50.0))
def test_what_repeats_share_does_not_scatter_them(n, own, shared):
    expected, parts = expected_scatter(budget(n, own, shared), np.arange(n))
    assert expected == pytest.approx(own, rel=1e-6)
    assert parts[0] == ("own", pytest.approx(own, rel=1e-6))


@given(
    rate=st.floats(-3.0, 3.0), levels=st.lists(st.floats(-50.0, 50.0), min_size=1, max_size=4),
    times=st.lists(st.integers(1, 100), min_size=2, max_size=5, unique=True),
)  # fmt: skip
def test_a_common_slope_is_found_whatever_the_levels(rate, levels, times):
    spot, time = (part.ravel() for part in np.meshgrid(np.arange(len(levels)), np.array(times, float), indexing="ij"))
    values = np.array(levels)[spot] + rate * time
    m = len(values)
    found = slope(values, time, spot, budget(m, 0.5, 3.0), np.arange(m))
    assert found.value == pytest.approx(rate, abs=1e-9)
    assert found.dof == m - len(levels) - 1
    square = len(levels) * np.sum((np.array(times) - np.mean(times)) ** 2)
    assert found.u == pytest.approx(0.5 / math.sqrt(square), rel=1e-6)  # what all share does not tilt them
    assert math.isnan(found.u_seen) == (found.dof == 0)


def test_the_uncertainty_of_a_slope_covers_it():
    """Normal readings of known scatter: the slope stands within two u in 95 % of trials, seen and stated."""
    rng, m = np.random.default_rng(3), 12
    spot, time = np.arange(m) % 4, np.arange(m) * 60.0
    stated, seen = [], []
    for values in rng.normal(0.0, 0.7, (400, m)):
        found = slope(values, time, spot, budget(m, 0.7), np.arange(m))
        stated.append(abs(found.value) < 1.96 * found.u)
        seen.append(abs(found.value) < 2.365 * found.u_seen)  # Student t, 7 degrees of freedom, two-sided 95 %
    error = math.sqrt(0.95 * 0.05 / 400)
    assert np.mean(stated) == pytest.approx(0.95, abs=4 * error)
    assert np.mean(seen) == pytest.approx(0.95, abs=4 * error)


def test_without_times_or_re_readings_there_is_no_drift():
    assert watch(BED, live("A1,1,,", "A1,2,,")).drifts == ()
    assert watch(BED, live("A1,1,0,", "A2,2,60,")).drifts == ()
    (drift,) = watch(BED, live("A1,1,0,", "A2,5,60,", "A1,4,120,")).drifts
    assert (drift.setup, drift.side, drift.channel) == ("plane", 0, "v")
    assert drift.slope.value == pytest.approx(3 * UM / 120.0)


# --- what looks wrong ------------------------------------------------------------------------------------------------


def test_a_reading_that_does_not_agree_is_named_with_its_size():
    seen = watch(BED, live("A1,1,0,", "A1,1.5,10,", "A1,300,20,", "A1,1.2,30,", "A2,5,60,"))
    (found,) = seen.disagreements
    assert (found.record, found.look.station, found.channel) == (2, "A1", "v")
    assert found.difference == pytest.approx(298.75 * UM)
    assert abs(found.difference) > UNLIKELY * found.u


def test_honest_repeats_are_hardly_ever_called_wrong():
    """Of a thousand simulated pairs with the target set anew about one would be named by chance."""
    rng = np.random.default_rng(8)
    named = 0
    for _ in range(15):
        made = simulated(BED, rng).readings
        named += len(watch(BED, made).disagreements)
    assert named <= 1  # of 30 pairs


@given(
    values=st.lists(st.floats(-4.0, 4.0), min_size=2, max_size=8), seed=st.integers(0, 10_000),
)  # fmt: skip
def test_the_running_test_is_that_of_the_whole_covariance(values, seed):
    """Reference: contrasts against the covariance matrix, formed at length."""
    rng, m = np.random.default_rng(seed), len(values)
    size, group = rng.normal(0.0, 0.7, (3, m)), rng.integers(0, 3, (3, m))
    covariance = sum(np.where(g[:, None] == g, np.outer(s, s), 0.0) for s, g in zip(size, group, strict=True))
    good, wanted = [0], []
    for k in range(1, m):
        contrast = np.zeros(m)
        contrast[good], contrast[k] = -1.0 / len(good), 1.0
        u = math.sqrt(max(contrast @ covariance @ contrast, 0.0))
        if abs(contrast @ values) > max(UNLIKELY * u, 1e-12):
            wanted.append((k, contrast @ values, u))
        else:
            good.append(k)
    found = disagreeing(np.array(values), Budget(("a", "b", "c"), size, group), np.arange(m))
    assert [k for k, *_ in found] == [k for k, *_ in wanted]
    for mine, theirs in zip(found, wanted, strict=True):
        assert mine[1:] == pytest.approx(theirs[1:], abs=1e-9)


def test_values_far_from_the_first_are_compared_with_those_that_agree():
    found = disagreeing(np.array([0.0, 10.0, 0.5, 10.2]), budget(4, 1.0), np.arange(4))
    assert [k for k, *_ in found] == [1, 3]
    assert found[1][2] == pytest.approx(math.sqrt(1.0 + 1.0 / 2.0))


def test_a_spot_near_the_edge_is_told_where_it_was_read_last():
    half = BED.targets["t1"].window_v / 2.0
    seen = watch(BED, live(f"A1,{0.95 * half / UM:.1f},0,", "A2,1,60,"))
    (edge,) = seen.edges
    assert (edge.record, edge.look.station, edge.channel) == (0, "A1", "v")
    assert edge.used > 0.95
    assert edge.left < 0.05 * half
    assert not watch(BED, live(f"A1,{0.95 * half / UM:.1f},0,", "A1,1,60,")).edges


def test_two_thousand_records_of_one_spot_are_watched_in_a_moment():
    """Half an hour at one reading a second; a covariance matrix for every source would take a gigabyte."""
    rng = np.random.default_rng(2)
    readings = live(*(f"A1,{value:.2f},{k}," for k, value in enumerate(rng.normal(0.0, 1.0, 2000))))
    start = time.perf_counter()
    seen = watch(BED, readings)
    assert time.perf_counter() - start < 5.0
    _, told = of(seen, "A1")
    assert told.scatter == pytest.approx(1.0 * UM, rel=0.1)
    assert told.drift.dof == 1998


def test_what_is_watched_is_one_visit():
    found = LiveReadings(BED)
    found.take("visit,station,v [um]\nas found,A1,1\nas left,A1,2\nas left,A2,3\n")
    seen = watch(BED, found.readings)
    assert (seen.visit, seen.count) == ("as left", 2)
    assert of(seen, "A1")[1].mean == pytest.approx(2 * UM)
    assert watch(BED, found.readings, "as found").count == 1
    assert watch(BED, found.readings, "another").next == PLAN[0]


def test_a_station_read_beside_the_plan_has_a_row_of_its_own():
    rails = layout_of("transfer_rails")
    first, *_, last = rails.setups.values()
    station = next(name for name in last.reads if name not in first.reads)
    found = LiveReadings(rails)
    said = found.take_record({"station": station, "setup": first.name, "v": {"value": 1, "unit": "um"}})
    assert said.number == 1
    assert any("is not planned from" in remark for remark in found.remarks)
    seen = watch(rails, found.readings)
    beside = seen.stations[-1]
    assert (beside.look.station, beside.look.setup, beside.planned, beside.records) == (station, first.name, 0, (0,))
    assert len(seen.missing) == len(planned_looks(rails))
    assert seen.next.setup == first.name


def test_single_readings_are_told_as_repeats_would_be_one_by_one():
    """All at once, or each by itself from the sources that every reading draws anew."""
    rng = np.random.default_rng(8)
    m = 40
    group = np.stack([np.arange(m), np.zeros(m, dtype=np.int64), rng.permutation(m), np.arange(m) // 2])
    made = Budget(("noise", "shared", "noise", "seating"), rng.normal(0.0, UM, (4, m)), group)
    for row in range(m):
        expected, parts = expected_scatter(made, np.array([row]))
        wanted = math.hypot(*made.size[[0, 2], row])  # the others are shared by some readings
        assert expected == pytest.approx(wanted, rel=1e-12)
        assert [name for name, _ in parts] == ["noise"]
        assert parts[0][1] == pytest.approx(wanted, rel=1e-12)
