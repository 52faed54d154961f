"""What always holds for moves: their order, soft feet, few feet, bearings, other moves tried by hand."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations, permutations
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenes.corrections.bearing_lifts import Rows, chosen_parts, lifts_of_rows
from scenes.corrections.feet_moves import feet_lifts
from scenes.corrections.influence import Influence
from scenes.corrections.lift_problem import free_basis, lift_problem
from scenes.corrections.lifts import minimax_lifts
from scenes.corrections.movers import Movers
from scenes.corrections.order import LARGEST_FIRST, best_order
from scenes.corrections.planned_moves import moves_of
from scenes.corrections.plate import plate_influence
from scenes.corrections.soft_feet import SoftFeet, loads_with_gaps, soft_feet
from scenes.errors import GeometryError
from scenes.layout.read import read_layout
from scenes.reductions.survey import reduce_survey
from scenes.uncertainty.simulate import simulated

NANOMETRE = 1e-9
EXAMPLES = Path(__file__).parents[2] / "examples"
FEET = np.array([[x, y] for y in (-0.8, 0.8) for x in (-1.4, 0.1, 1.3)])
GRID = np.array([[x, y] for x in np.linspace(-1.4, 1.4, 7) for y in np.linspace(-0.8, 0.8, 5)])
NAMES = tuple(f"F{k}" for k in range(1, 7))
STOCK = (20e-6, 50e-6, 100e-6, 200e-6)
NONE = SoftFeet(np.zeros(6), np.zeros(6), ())
seeds = st.integers(0, 2**32 - 1)


@pytest.fixture(scope="module")
def bed() -> Influence:
    return plate_influence(FEET, GRID, 3.0, 1.8, 0.35, 110e9, 0.25, 7200.0, effective_thickness=0.08)


def movers_of(bed: Influence, *, lowest: float = 0.0, stock: tuple[float, ...] = STOCK) -> Movers:
    m = bed.matrix.shape[1]
    up = np.array([0.0, 0.0, 1.0])
    rise = bed.matrix[:, None, :] * up[:, None]
    return Movers(
        NAMES[:m], ("bed",) * m, ("up",) * m, np.tile(up, (m, 1)), tuple(str(k) for k in range(len(rise))), rise, rise,
        np.full(m, lowest), np.full(m, 500e-6), (stock,) * m, (4,) * m, np.full(m, 5e-6), 0.2, bed.own_loads,
        bed.load_change, "plate",
    )  # fmt: skip


def rows_of(*numbers: tuple[float, list[float]]) -> Rows:
    found, moves = zip(*numbers, strict=True)
    return Rows(np.array(found), np.array(moves), np.arange(len(found)), np.zeros(len(found)))


def bearings(parts: int, *, lowest: float = -1e-3, stock: tuple[float, ...] = ()) -> Movers:
    m = 2 * parts
    side = np.array([1.0, 0.0, 0.0])
    return Movers(
        ("drive", "tending") * parts, tuple(f"roll_{k // 2}" for k in range(m)), ("side",) * m, np.tile(side, (m, 1)),
        (), np.zeros((0, 3, m)), np.zeros((0, 3, m)), np.full(m, lowest), np.full(m, 1e-3), (stock,) * m, (4,) * m,
        np.full(m, 5e-6), 0.0, None, None, "bearings",
    )  # fmt: skip


@settings(max_examples=40, deadline=None)
@given(seeds, st.integers(1, 6), st.booleans())
def test_the_order_is_the_best_of_all_permutations(bed: Influence, seed: int, count: int, loaded: bool) -> None:
    """Against every permutation: least shortage of load, then least worst bend, then least sum of bends."""
    generator = np.random.default_rng(seed)
    lifts = np.zeros(6)
    lifts[generator.permutation(6)[:count]] = generator.uniform(-300e-6, 300e-6, count)
    found = generator.normal(size=len(GRID)) * 20e-6
    own, change = (bed.own_loads, bed.load_change) if loaded else (None, None)
    least = None if own is None else np.full(6, 0.1 * own.mean())

    def cost(order: tuple[int, ...]) -> tuple[float, float, float]:
        done, short, bends = np.zeros(6), 0.0, []
        for j in order[:-1]:
            done[j] = lifts[j]
            bends.append(np.ptp(found + bed.matrix @ done))
            if own is not None:
                short = max(short, float(np.max(least - (own + change @ done))) / own.sum())
        return max(short, 0.0), max(bends, default=0.0), sum(bends)

    order, _ = best_order(lifts, bed.matrix, found, own, change, least)
    assert sorted(order) == sorted(np.flatnonzero(lifts))
    best = min(cost(each) for each in permutations(order))
    assert cost(tuple(order)) == pytest.approx(best, rel=1e-6, abs=1e-8)


def test_many_moves_go_largest_first() -> None:
    lifts = np.arange(14) * 1e-5
    order, said = best_order(lifts, np.zeros((0, 14)), np.zeros(0), None, None, None)
    assert order == list(range(13, 0, -1))
    assert said == LARGEST_FIRST
    assert best_order(np.zeros(3), np.zeros((0, 3)), np.zeros(0), None, None, None)[0] == []


@settings(max_examples=10, deadline=None)
@given(seeds, st.integers(1, 3))
def test_few_feet_are_the_best_few(bed: Influence, seed: int, most: int) -> None:
    """Without stock, against every choice of feet on its own."""
    generator = np.random.default_rng(seed)
    found = bed.matrix @ generator.uniform(0, 150e-6, 6) + generator.normal(size=len(GRID)) * 3e-6
    movers = movers_of(bed, stock=())

    made = feet_lifts(found, GRID, bed, movers, NONE, "minimax", "minimum zone", most, 0.0, np.random.default_rng(0))
    value = made.proposal.reached
    assert np.count_nonzero(made.lifts) <= most
    problem = lift_problem(
        found, bed, free_basis(GRID, "minimum zone"), True, movers.highest, "minimax", True, None, None
    )
    every = [minimax_lifts(replace(problem, highest=np.where(np.isin(np.arange(6), each), movers.highest, 0.0)))[1]
             for each in combinations(range(6), most)]  # fmt: skip
    assert value == pytest.approx(min(every), abs=10 * NANOMETRE)
    assert value >= minimax_lifts(problem)[1] - NANOMETRE


def test_a_soft_foot_is_filled_first_and_carries_nothing_until_then(bed: Influence) -> None:
    gaps = np.array([0.0, 0.0, 130e-6, 0.0, 0.0, 0.0])
    loads = loads_with_gaps(bed, gaps)
    assert loads.sum() == pytest.approx(bed.own_loads.sum(), rel=1e-9)
    assert loads[2] < 0.0  # its bolt pulls the bed down
    filled = loads + bed.load_change @ gaps
    assert filled[2] == pytest.approx(0.0, abs=1e-6 * bed.own_loads.sum())
    np.testing.assert_array_equal(loads_with_gaps(bed, np.zeros(6)), bed.own_loads)
    soft = soft_feet(NAMES, {"F3": (130e-6,)}, STOCK, 4, 500e-6)
    assert soft.fill[2] == pytest.approx(140e-6)  # 100 + 20 + 20: the least stack that fills it
    made = feet_lifts(-bed.matrix @ gaps, GRID, bed, movers_of(bed), soft, "minimax", "minimum zone", None, 0.0,
                      np.random.default_rng(0))  # fmt: skip
    assert made.lifts[2] >= 140e-6 - NANOMETRE
    assert sum(made.stacks[2]) == pytest.approx(made.lifts[2])
    lowering = feet_lifts(bed.matrix @ gaps, GRID, bed, movers_of(bed, lowest=-500e-6), soft, "minimax", "minimum zone",
                          None, 0.0, np.random.default_rng(0))  # fmt: skip
    assert lowering.lifts[2] >= 140e-6 - NANOMETRE  # never back into its gap


def test_angled_feet_and_wrong_gaps_are_told() -> None:
    told = soft_feet(NAMES, {"F1": (20e-6, 90e-6, 100e-6, 30e-6), "F2": (30e-6,), "F4": (60e-6,)}, (), 4, 1e-3)
    assert any("F1 is angled" in text and "tapered" in text for text in told.first)
    assert any("F2" in text and "common practice" in text for text in told.first)
    assert any("F4 is a soft foot" in text for text in told.first)
    np.testing.assert_allclose(told.fill, [0, 0, 0, 60e-6, 0, 0])
    for gaps, words in (({"F9": (1e-4,)}, "no foot"), ({"F1": (-1e-4,)}, "zero or more"), ({"F1": ()}, "zero or more"),
                        ({"F1": (2e-3,)}, "more than its travel")):  # fmt: skip
        with pytest.raises(GeometryError, match=words):
            soft_feet(NAMES, gaps, STOCK, 4, 1e-3)
    with pytest.raises(GeometryError, match="No stack"):
        soft_feet(NAMES, {"F1": (9e-4,)}, STOCK, 2, 1e-3)


@settings(max_examples=60, deadline=None)
@given(seeds, st.sampled_from(["minimax", "least squares"]), st.booleans())
def test_bearings_bring_every_roll_to_nought_within_their_limits(seed: int, goal: str, stocked: bool) -> None:
    generator = np.random.default_rng(seed)
    found = generator.uniform(-1.5e-3, 1.5e-3, 3)
    rows = rows_of(*((value, list(np.eye(6)[2 * k + 1] - np.eye(6)[2 * k])) for k, value in enumerate(found)))
    movers = bearings(3, stock=STOCK if stocked else ())
    lifts, stacks, reached, bound = lifts_of_rows(rows, movers, goal)
    assert reached == pytest.approx(np.abs(found + rows.moves @ lifts).max())
    assert bound <= 1e-6 * np.abs(found).max() + NANOMETRE  # two bearings of 1 mm mend up to 2 mm
    assert reached <= (10e-6 if stocked else 1e-6 * np.abs(found).max()) + NANOMETRE or np.abs(found).max() > 0.7e-3
    assert (np.abs(lifts) <= 1e-3 + NANOMETRE).all()
    if not stocked and goal == "minimax":
        np.testing.assert_allclose(np.abs(lifts).sum(), np.abs(found).sum(), atol=1e-8)
    if stacks is not None:
        np.testing.assert_allclose([sum(stack) for stack in stacks], lifts, atol=1e-12)


@settings(max_examples=30, deadline=None)
@given(seeds, st.floats(-2e-3, 2e-3))
def test_a_free_datum_does_not_see_a_common_direction(seed: int, common: float) -> None:
    """The same parts are moved, and a roll of five that is off alone is the one."""
    off = int(np.random.default_rng(seed).integers(5))
    found = np.full(5, common)
    found[off] += 600e-6
    rows = rows_of(*((value, list(np.eye(10)[2 * k + 1] - np.eye(10)[2 * k])) for k, value in enumerate(found)))
    rows = replace(rows, common=np.ones(5))
    chosen = chosen_parts(rows, bearings(5), np.full(5, 20e-6), None, True)
    assert np.flatnonzero(chosen.movable).tolist() == [2 * off, 2 * off + 1]
    lifts, *_ = lifts_of_rows(chosen, bearings(5), "minimax")
    after = found + rows.moves @ lifts
    assert np.ptp(after) <= 41e-6


def test_parts_that_conform_are_left_alone_and_few_parts_can_be_asked_for() -> None:
    rows = rows_of((30e-6, [1, 0, 0, 0]), (500e-6, [0, 0, 1, 0]))
    chosen = chosen_parts(rows, bearings(2), np.full(2, 40e-6), None, False)
    assert chosen.movable.tolist() == [False, False, True, True]
    both = rows_of((300e-6, [1, 0, 0, 0]), (500e-6, [0, 0, 1, 0]))
    one = chosen_parts(both, bearings(2), np.full(2, 40e-6), 1, False)
    assert one.movable.tolist() == [False, False, True, True]


@pytest.fixture(scope="module")
def read():
    """The press bed, read once."""
    layout = read_layout(EXAMPLES / "press_bed" / "layout.yaml")
    readings = simulated(layout, np.random.default_rng(4)).readings
    return layout, reduce_survey(layout, readings, trials=100).measured[0]


def test_other_moves_can_be_tried(read) -> None:
    layout, measured = read
    moves = moves_of(layout, measured)
    same, none = moves.evaluate(moves.lifts), moves.evaluate(np.zeros(6))
    assert same.values[0] == pytest.approx(moves.components[0].after, abs=NANOMETRE)
    assert none.values[0] == pytest.approx(moves.components[0].before, abs=NANOMETRE)
    np.testing.assert_allclose(same.as_left[0], moves.stations[0].as_left, atol=NANOMETRE)
    np.testing.assert_allclose(none.as_left[0], measured.deviations[0].values, atol=NANOMETRE)
    tilt = 1e-4 * (1.0 + layout.feet["bed"].at[:, 0])
    assert moves.evaluate(moves.lifts + tilt).values[0] == pytest.approx(same.values[0], abs=2 * NANOMETRE)
    high = moves.evaluate([3e-3, 0, 0, 0, 0, 0])
    assert high.outside == (0,)
    assert high.unloaded
    for wrong in ([0.0] * 5, [np.nan] * 6):
        with pytest.raises(GeometryError, match="6 moves are needed"):
            moves.evaluate(wrong)


def test_moves_do_not_depend_on_the_units_shown_and_fewer_pieces_are_kept(read) -> None:
    layout, measured = read
    first = moves_of(layout, measured)
    other = replace(layout, units=replace(layout.units, length="in", deviation="mil", angle="mm/m"))
    np.testing.assert_array_equal(first.lifts, moves_of(other, measured).lifts)
    few = moves_of(layout, measured, most_feet=1, most_pieces=2)
    assert len(few.touched) <= 1
    assert all(len(stack) <= 2 for stack in few.stacks)
    assert few.reached >= first.bound - NANOMETRE
    assert [step.number for step in first.steps] == list(range(1, len(first.steps) + 1))
    total = np.zeros(6)
    for step in first.steps:
        total[step.mover] += step.amount
        assert step.loads.min() > 0.0
    np.testing.assert_allclose(total, first.lifts, atol=1e-12)


def test_uncertainty_as_left_grows_with_what_the_moves_are_known_to(read) -> None:
    layout, measured = read
    feet = layout.feet["bed"]

    def as_left(known_to: float, influence: float) -> tuple[np.ndarray, float]:
        sure = replace(feet, known_to=known_to, influence_known_to=influence)
        moves = moves_of(replace(layout, feet={"bed": sure}), measured)
        return moves.stations[0].u_as_left, moves.components[0].u_after

    exact, loose, vague = as_left(0.0, 0.0), as_left(20e-6, 0.0), as_left(0.0, 0.5)
    assert (loose[0] >= exact[0] - NANOMETRE).all()
    assert loose[0].max() > exact[0].max()
    assert vague[0].max() > exact[0].max()


def test_no_feet_no_moves_and_a_soft_foot_that_is_none(read) -> None:
    layout, measured = read
    assert moves_of(replace(layout, feet={}), measured) is None
    with pytest.raises(GeometryError, match="no foot"):
        moves_of(layout, measured, gaps={"F7": (1e-4,)})
    soft = moves_of(layout, measured, gaps={"F2": (90e-6,)})
    assert soft.steps[0].words.startswith("fill the gap under F2")
    assert soft.first
    assert soft.lifts[1] >= 90e-6
    with pytest.raises(ValueError, match="not known"):
        moves_of(layout, measured, goal="flattest")
