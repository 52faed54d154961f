"""Law 14: what always holds for influence rows and for proposals of shims."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.optimize import Bounds, LinearConstraint, lsq_linear, milp, minimize

from scenes.corrections.beam import beam_influence
from scenes.corrections.lift_problem import free_basis, lift_problem
from scenes.corrections.lifts import least_squares_lifts, minimax_lifts
from scenes.corrections.minimum_zones import zone_deviations, zone_widths
from scenes.corrections.shims import (
    Influence,
    ShimProposal,
    measured_influence,
    plate_influence,
    propose_shims,
    rigid_influence,
)
from scenes.corrections.stacks import stacks_of
from scenes.corrections.touched_feet import bounds_of_choices, choices_of, flattest_lifts
from scenes.corrections.zone_cuts import ZoneCuts
from scenes.errors import GeometryError
from scenes.reductions.form import flatness, flatness_of_trials

NANOMETRE = 1e-9
IRON = (110e9, 0.25, 7200.0)
FEET = np.array([[x, y] for y in (-0.8, 0.8) for x in (-1.4, 0.1, 1.3)])
GRID = np.array([[x, y] for x in np.linspace(-1.4, 1.4, 7) for y in np.linspace(-0.8, 0.8, 5)])
STOCK = (50e-6, 100e-6, 200e-6)
seeds = st.integers(0, 2**32 - 1)


def plane(places: np.ndarray) -> np.ndarray:
    return np.column_stack([np.ones(len(places)), places])


@pytest.fixture(scope="module")
def soft() -> Influence:
    return plate_influence(FEET, GRID, 3.0, 1.8, 0.35, *IRON, effective_thickness=0.08)


@pytest.fixture(scope="module")
def stiff() -> Influence:
    return plate_influence(FEET, GRID, 3.0, 1.8, 0.35, *IRON, effective_thickness=0.25)


def random_deviations(bed: Influence, seed: int) -> np.ndarray:
    """Deviations of feet out of height and of an uneven top."""
    generator = np.random.default_rng(seed)
    n, m = bed.matrix.shape
    return bed.matrix @ generator.uniform(0, 150e-6, m) + generator.normal(size=n) * generator.uniform(0, 8e-6)


def same_proposal_limits(proposal: ShimProposal, lowest: float, highest: float) -> None:
    assert proposal.lifts.min() >= lowest - 1e-15
    assert proposal.lifts.max() <= highest + 1e-15
    assert proposal.best_lifts.min() >= lowest - 1e-15
    assert proposal.best_lifts.max() <= highest + 1e-15


@settings(max_examples=6, deadline=None)
@given(seeds)
def test_plate_rows_reproduce_planes_and_loads_balance(seed: int) -> None:
    generator = np.random.default_rng(seed)
    m = int(generator.integers(3, 13))
    length, width = generator.uniform(1.0, 6.0), generator.uniform(0.5, 3.0)
    feet = generator.uniform(-0.5, 0.5, (m, 2)) * [length, width]
    stations = np.vstack([generator.uniform(-0.5, 0.5, (12, 2)) * [length, width], feet])
    bed = plate_influence(feet, stations, length, width, 0.1, *IRON)
    np.testing.assert_allclose(bed.matrix @ plane(feet), plane(stations), atol=1e-10 * m)
    np.testing.assert_allclose(bed.matrix[12:], np.eye(m), atol=1e-6)
    size = max(np.abs(bed.load_change).max(), 1.0)
    np.testing.assert_allclose(plane(feet).T @ bed.load_change / size, 0.0, atol=1e-9)
    np.testing.assert_allclose(bed.load_change, bed.load_change.T, atol=1e-12 * size)
    assert np.linalg.eigvalsh(bed.load_change / size).min() > -1e-9  # lifting costs work
    weight = 7200.0 * length * width * 0.1 * 9.80665
    np.testing.assert_allclose(plane(feet).T @ bed.own_loads / weight, [1.0, 0.0, 0.0], atol=1e-5)


@settings(max_examples=200, deadline=None)
@given(seeds)
def test_beam_and_rigid_rows_reproduce_planes(seed: int) -> None:
    generator = np.random.default_rng(seed)
    m = int(generator.integers(3, 9))
    x = (np.arange(m) + generator.uniform(0.1, 0.9, m)) / m - 0.5  # no two feet so close that rounding rules
    feet = np.column_stack([x, generator.uniform(-0.5, 0.5, m)]) * [4.0, 0.4]
    assume(all(np.linalg.cond(plane(f)) < 1e3 for f in (feet[:3], feet)))
    stations = np.vstack([generator.uniform(-0.5, 0.5, (9, 2)) * [4.0, 0.4], feet])
    for bed in (beam_influence(feet, stations, 4.0, 0.4, 0.3, *IRON), rigid_influence(feet[:3], stations)):
        held = bed.matrix.shape[1]
        np.testing.assert_allclose(bed.matrix @ plane(feet[:held]), plane(stations), atol=1e-9)
        np.testing.assert_allclose(bed.matrix[9 : 9 + held], np.eye(held), atol=1e-7)
    assert beam_influence(feet, stations, 4.0, 0.4, 0.3, *IRON).own_loads.sum() == pytest.approx(
        7200.0 * 4.0 * 0.4 * 0.3 * 9.80665, rel=1e-6
    )


def test_a_symmetric_bed_has_a_symmetric_influence() -> None:
    feet = np.array([[x, y] for y in (-0.8, 0.8) for x in (-1.4, 0.0, 1.4)])
    bed = plate_influence(feet, GRID, 3.0, 1.8, 0.1, *IRON)
    for flip in ([-1.0, 1.0], [1.0, -1.0]):
        foot = [int(np.flatnonzero((np.abs(feet - f * flip) < 1e-9).all(axis=1))[0]) for f in feet]
        place = [int(np.flatnonzero((np.abs(GRID - p * flip) < 1e-9).all(axis=1))[0]) for p in GRID]
        np.testing.assert_allclose(bed.matrix[np.ix_(place, foot)], bed.matrix, atol=1e-7)
        np.testing.assert_allclose(bed.own_loads[foot], bed.own_loads, rtol=1e-6)


def test_holding_the_bed_by_one_more_foot_loses_no_shape(soft: Influence) -> None:
    """A foot brought up to the bed without load changes nothing: the shapes of five feet are among those of six.

    So an added foot never makes the best flatness worse, provided that it may go down as well as up and that no
    least load is asked of it. In an add-only job, or with loads kept, it can: the new foot holds the bed.
    """
    added = 4
    old = np.delete(np.arange(6), added)
    fewer = plate_influence(FEET[old], np.vstack([GRID, FEET[[added]]]), 3.0, 1.8, 0.35, *IRON)
    follow = np.zeros((6, 5))
    follow[old] = np.eye(5)
    follow[added] = fewer.matrix[-1]
    np.testing.assert_allclose(soft.matrix @ follow, fewer.matrix[:-1], atol=1e-6)
    five = measured_influence(fewer.matrix[:-1])
    for seed in range(10):
        found = random_deviations(soft, seed)
        free = {"add_only": False, "travel": 0.1, "keep_loads": False}
        assert propose_shims(found, GRID, soft, **free).predicted <= (
            propose_shims(found, GRID, five, **free).predicted + NANOMETRE
        )


@settings(max_examples=30, deadline=None)
@given(seeds, st.sampled_from(["minimax", "least squares"]), st.booleans())
def test_letting_one_more_foot_move_never_makes_it_worse(
    soft: Influence, seed: int, goal: str, keep_loads: bool
) -> None:
    """In one influence model: a foot with travel against the same foot left alone."""
    found = random_deviations(soft, seed)
    order = np.random.default_rng(seed).permutation(6)
    bound = np.inf
    for count in (0, 3, 4, 6):
        travel = np.zeros(6)
        travel[order[:count]] = 300e-6
        proposal = propose_shims(found, GRID, soft, travel=travel, goal=goal, keep_loads=keep_loads)
        assert (proposal.lifts <= travel + 1e-15).all()
        assert proposal.bound <= bound + NANOMETRE
        bound = proposal.bound


@settings(max_examples=30, deadline=None)
@given(
    seeds,
    st.sampled_from(["minimax", "least squares"]),
    st.sampled_from(["minimum zone", "level"]),
    st.booleans(),
    st.booleans(),
    st.booleans(),
)
def test_stock_is_never_better_than_any_thickness_and_all_limits_hold(
    soft: Influence, stiff: Influence, seed: int, goal: str, reference: str, add_only: bool, keep: bool, hard: bool
) -> None:
    bed = stiff if hard else soft
    found = random_deviations(bed, seed)
    proposal = propose_shims(
        found,
        GRID,
        bed,
        goal=goal,
        reference=reference,
        add_only=add_only,
        keep_loads=keep,
        travel=400e-6,
        stock=STOCK,
        max_pieces=3,
    )
    same_proposal_limits(proposal, 0.0 if add_only else -400e-6, 400e-6)
    assert proposal.reached >= proposal.bound - NANOMETRE
    assert proposal.stacks is not None
    for lift, stack in zip(proposal.lifts, proposal.stacks, strict=True):
        assert sum(stack) == pytest.approx(lift, abs=1e-12)
        assert len(stack) <= 3
        assert all(any(abs(abs(shim) - size) < 1e-12 for size in STOCK) for shim in stack)
    if keep:
        least = np.minimum(0.1 * bed.own_loads.mean(), bed.own_loads)
        assert (proposal.loads_after >= least - 1e-6 * bed.own_loads.sum()).all()
    np.testing.assert_allclose(proposal.loads_after.sum(), bed.own_loads.sum(), rtol=1e-9)
    if goal == "minimax":
        assert proposal.reached == pytest.approx(proposal.predicted, abs=NANOMETRE)
        assert proposal.predicted <= proposal.as_found + NANOMETRE  # leaving the bed alone is always allowed


@settings(max_examples=30, deadline=None)
@given(seeds, st.booleans())
def test_as_left_is_readings_plus_moves(soft: Influence, seed: int, add_only: bool) -> None:
    found = random_deviations(soft, seed)
    proposal = propose_shims(found, GRID, soft, add_only=add_only)
    after = found + soft.matrix @ proposal.lifts
    gap = after - proposal.as_left
    fitted = plane(GRID) @ np.linalg.lstsq(plane(GRID), gap, rcond=None)[0]
    np.testing.assert_allclose(gap, fitted, atol=NANOMETRE)
    assert flatness(np.column_stack([GRID, after])).value == pytest.approx(proposal.predicted, abs=NANOMETRE)
    assert proposal.predicted == pytest.approx(proposal.bound, abs=NANOMETRE)
    same_proposal_limits(proposal, 0.0 if add_only else -2e-3, 2e-3)


@settings(max_examples=30, deadline=None)
@given(seeds)
def test_tilting_the_readings_changes_nothing(soft: Influence, seed: int) -> None:
    found = random_deviations(soft, seed)
    tilt = plane(GRID) @ np.random.default_rng(seed).normal(size=3) * 100e-6
    first, second = (propose_shims(d, GRID, soft, add_only=False, travel=0.01) for d in (found, found + tilt))
    assert first.bound == pytest.approx(second.bound, abs=NANOMETRE)


@settings(max_examples=30, deadline=None)
@given(seeds)
def test_a_bed_bent_by_its_feet_alone_is_made_flat(soft: Influence, seed: int) -> None:
    """Feet too low by known amounts: the lifts undo them, up to a plane, and at least three feet stay untouched."""
    low = np.random.default_rng(seed).uniform(0.0, 100e-6, 6)
    proposal = propose_shims(-soft.matrix @ low, GRID, soft, keep_loads=False, travel=5e-3)
    assert proposal.predicted <= NANOMETRE
    gap = proposal.lifts - low
    np.testing.assert_allclose(gap, plane(FEET) @ np.linalg.lstsq(plane(FEET), gap, rcond=None)[0], atol=5 * NANOMETRE)
    assert (proposal.lifts < 5 * NANOMETRE).sum() >= 3


@settings(max_examples=25, deadline=None)
@given(seeds)
def test_least_squares_agrees_with_other_solvers(soft: Influence, stiff: Influence, seed: int) -> None:
    q, _ = np.linalg.qr(plane(GRID))
    for bed, keep in ((soft, False), (stiff, True)):
        found = random_deviations(bed, seed)
        proposal = propose_shims(found, GRID, bed, goal="least squares", travel=120e-6, keep_loads=keep)
        moves, rest = (a - q @ (q.T @ a) for a in (bed.matrix * 1e-4, found * 1e4))
        if not keep:
            other = lsq_linear(moves * 1e4, -rest, bounds=(0.0, 1.2), method="bvls", tol=1e-14).x
        else:
            weight = bed.own_loads.sum()
            least = np.minimum(0.1 * weight / 6, bed.own_loads)
            other = minimize(
                lambda s, a=moves * 1e4, b=rest: np.sum((a @ s + b) ** 2),
                np.zeros(6),
                jac=lambda s, a=moves * 1e4, b=rest: 2.0 * a.T @ (a @ s + b),
                bounds=[(0.0, 1.2)] * 6,
                constraints={
                    "type": "ineq",
                    "fun": lambda s, r=bed, lo=least, w=weight: (r.own_loads + r.load_change @ s * 1e-4 - lo) / w,
                    "jac": lambda _, r=bed, w=weight: r.load_change * 1e-4 / w,
                },
                method="SLSQP",
                options={"ftol": 1e-14, "maxiter": 300},
            ).x
        value = np.sqrt(np.mean((moves * 1e4 @ other + rest) ** 2)) * 1e-4
        assert proposal.reached == pytest.approx(value, abs=NANOMETRE)


def milp_flatness(
    found: np.ndarray, grid: np.ndarray, bed: Influence, pieces: int, travel: float, least: np.ndarray | None,
    seconds: float = np.inf,
) -> tuple[float, float]:  # fmt: skip
    """Best flatness with stock by mixed-integer programming, and what it proves that none is below.

    Unknown are the counts of each shim per foot, the plane and the half-width. The two differ where the time was up.
    """
    n, m = bed.matrix.shape
    each, micrometre = len(STOCK), 1e-6
    heights = np.kron(np.eye(m), np.array(STOCK)[None, :])
    rise = bed.matrix @ heights / micrometre
    ones, none = np.ones((n, 1)), np.zeros((m, 4))
    sides = np.block([[rise, -plane(grid), -ones], [-rise, plane(grid), -ones]])
    limits = [
        LinearConstraint(sides, -np.inf, np.concatenate([-found, found]) / micrometre),
        LinearConstraint(np.hstack([np.kron(np.eye(m), np.ones((1, each))), none]), 0, pieces),
        LinearConstraint(np.hstack([heights / micrometre, none]), 0, travel / micrometre),
    ]
    if least is not None:
        total = bed.own_loads.sum()
        change = np.hstack([bed.load_change @ heights / total, none])
        limits.append(LinearConstraint(change, (least - bed.own_loads) / total - 1e-9, np.inf))
    free = np.full(3, np.inf)
    answer = milp(
        np.concatenate([np.zeros(m * each + 3), [1.0]]),
        constraints=limits,
        integrality=np.concatenate([np.ones(m * each), np.zeros(4)]),
        bounds=Bounds(
            np.concatenate([np.zeros(m * each), -free, [0.0]]),
            np.concatenate([np.full(m * each, pieces), free, [np.inf]]),
        ),
        options={"time_limit": seconds, "mip_rel_gap": 0.0},
    )
    assert answer.x is not None
    return float(2.0 * answer.fun * micrometre), float(2.0 * answer.mip_dual_bound * micrometre)


@pytest.mark.parametrize("keep", [False, True])
@pytest.mark.parametrize("seed", range(3))
def test_stock_is_within_a_micrometre_of_the_integer_optimum(
    soft: Influence, stiff: Influence, seed: int, keep: bool
) -> None:
    """And the result says itself how far it can be from it at most."""
    bed = stiff if keep else soft
    found = random_deviations(bed, seed)
    best, proven = milp_flatness(
        found, GRID, bed, 2, 300e-6, np.minimum(0.1 * bed.own_loads.mean(), bed.own_loads) if keep else None
    )
    assert proven == pytest.approx(best, abs=NANOMETRE)
    proposal = propose_shims(found, GRID, bed, stock=STOCK, max_pieces=2, travel=300e-6, keep_loads=keep)
    assert best - NANOMETRE <= proposal.predicted <= best + 1e-6
    assert proposal.bound <= best + NANOMETRE
    assert proposal.predicted - best <= proposal.above_bound + NANOMETRE
    assert proposal.above_bound == pytest.approx(proposal.reached - proposal.bound, abs=1e-15)


@pytest.mark.parametrize("hard", [False, True])
def test_the_bound_beside_stock_is_that_of_linear_programming(soft: Influence, stiff: Influence, hard: bool) -> None:
    """Nearly every bound comes with a proof of its own, and HiGHS finds the same flatness; else HiGHS gives it."""
    bed, proofs = stiff if hard else soft, 0
    for seed in range(40):
        found = random_deviations(bed, seed)
        problem = lift_problem(found, bed, free_basis(GRID, "minimum zone"), True, 300e-6, "minimax", hard, None, None)
        proven = flattest_lifts(problem)
        if proven is None:
            continue
        proofs += 1
        best = minimax_lifts(problem)[1]
        assert proven.bound == pytest.approx(best, abs=0.1 * NANOMETRE)
        assert problem.values(proven.lifts[None])[0] <= best + 2.0 * NANOMETRE
        assert (proven.lifts >= 0.0).all()
        assert (proven.lifts <= 300e-6).all()
        assert not problem.missing_loads(proven.lifts[None]).any()
    assert proofs >= 36
    assert flattest_lifts(replace(problem, lowest=-problem.highest)) is None


@settings(max_examples=100, deadline=None)
@given(seeds, st.sampled_from(["minimum zone", "level"]), st.sampled_from(["minimax", "least squares"]))
def test_cuts_never_cut_a_good_set_and_values_are_those_of_the_zone(
    soft: Influence, seed: int, reference: str, goal: str
) -> None:
    """Over portions of sets with a falling limit: what is below it has its exact value, all else is infinite."""
    generator = np.random.default_rng(seed)
    found = random_deviations(soft, seed)
    if seed % 2:
        found = found.round(6)
    problem = lift_problem(found, soft, free_basis(GRID, reference), True, 1e-3, goal, False, None, None)
    cuts = ZoneCuts.begin(problem)
    for _ in range(4):
        lifts = (generator.uniform(0.0, 200e-6, 6) + generator.uniform(0.0, 50e-6, (40, 6))).round(5)
        values = problem.values(lifts)
        enough = float(np.quantile(values, generator.uniform()))
        assert (cuts.floors_of(lifts) <= values + 0.01 * NANOMETRE).all()
        told = cuts.values_within(lifts, enough)
        good, bad = values <= enough - 1e-15, values > enough + 1e-15
        np.testing.assert_allclose(told[good], values[good], atol=0.01 * NANOMETRE)
        assert np.isinf(told[bad]).all()
        assert (cuts.floors_of(lifts) <= values + 0.01 * NANOMETRE).all()


@pytest.mark.parametrize(("seed", "keep"), [(1, False), (6, True), (8, False), (8, True)])
def test_stock_touches_the_fewest_feet_then_lifts_least(
    soft: Influence, stiff: Influence, seed: int, keep: bool
) -> None:
    """Against all 117649 sets of stacks: of those within the slack, fewest feet, least total lift, fewest pieces."""
    bed = stiff if keep and seed == 8 else soft
    found = random_deviations(bed, seed)
    stacks = stacks_of(STOCK, 2, 300e-6, add_only=True)
    every = np.stack(np.meshgrid(*[np.arange(len(stacks.heights))] * 6, indexing="ij"), axis=-1).reshape(-1, 6)
    if keep:
        least = np.minimum(0.1 * bed.own_loads.mean(), bed.own_loads)
        loads = bed.own_loads + stacks.heights[every] @ bed.load_change.T
        every = every[(loads >= least - 1e-9 * bed.own_loads.sum()).all(axis=1)]
    lifts = stacks.heights[every]
    values = flatness_of_trials(GRID, found[:, None] + bed.matrix @ lifts.T)
    for slack in (0.0, 1e-6, 5e-6):
        good = np.flatnonzero(values <= values.min() + slack + NANOMETRE)
        feet, total = (lifts[good] > 0.0).sum(axis=1), lifts[good].sum(axis=1).round(9)
        pieces = np.array([len(stack) for stack in stacks.shims])[every[good]].sum(axis=1)
        best = np.lexsort([pieces, total, feet])[0]
        proposal = propose_shims(
            found, GRID, bed, stock=STOCK, max_pieces=2, travel=300e-6, keep_loads=keep, slack=slack
        )
        assert (proposal.lifts > 0.0).sum() == feet[best]
        assert proposal.lifts.sum() == pytest.approx(total[best], abs=NANOMETRE)
        assert sum(len(stack) for stack in proposal.stacks) == pieces[best]
        assert proposal.predicted <= values.min() + slack + 2.0 * NANOMETRE


@pytest.mark.parametrize("stock", [None, (20e-6, 50e-6, 100e-6, 200e-6)])
@pytest.mark.parametrize("seed", range(4))
def test_a_corner_that_settled_is_mended_at_that_corner(
    soft: Influence, seed: int, stock: tuple[float, ...] | None
) -> None:
    generator = np.random.default_rng(seed)
    found = soft.matrix @ np.array([0, 10e-6, 0, 0, 0, -160e-6]) + generator.normal(size=len(GRID)) * 3e-6
    best = propose_shims(found, GRID, soft, stock=stock, keep_loads=False)
    easy = propose_shims(found, GRID, soft, stock=stock, keep_loads=False, slack=2e-6)
    assert easy.predicted <= best.predicted + 2e-6 + NANOMETRE
    assert 1 <= (easy.lifts > 0.0).sum() <= 3
    assert easy.lifts.argmax() == 5
    assert easy.lifts.sum() < 300e-6


@pytest.mark.parametrize("goal", ["minimax", "least squares"])
@pytest.mark.parametrize("add_only", [True, False])
def test_choices_of_feet_are_bounded_as_by_programming(
    soft: Influence, stiff: Influence, goal: str, add_only: bool
) -> None:
    """Every choice of feet against its own linear programme (least squares: a bound only); proofs hold for all."""
    for seed, (bed, keep) in enumerate([(soft, False), (stiff, True)]):
        found = random_deviations(bed, seed)
        problem = lift_problem(found, bed, free_basis(GRID, "minimum zone"), add_only, 200e-6, goal, keep, None, None)
        chosen = choices_of(problem, 6)
        assert len(chosen) == 64
        bounds = bounds_of_choices(problem, chosen, 1.0)
        assert not bounds.lifts[~chosen].any()
        solve = minimax_lifts if goal == "minimax" else least_squares_lifts
        for k in range(0, 64, 3):
            alone = replace(problem, highest=problem.highest * chosen[k], lowest=problem.lowest * chosen[k])
            best = solve(alone)[1]
            assert bounds.least[k] <= best + 0.01 * NANOMETRE
            if goal == "minimax":
                assert bounds.least[k] >= best - 10.0 * NANOMETRE
                assert problem.values(bounds.lifts[k][None])[0] == pytest.approx(best, abs=3.0 * NANOMETRE)
        some = np.random.default_rng(seed).uniform(-200e-6, 200e-6, (1000, 6))
        cuts = ZoneCuts.begin(problem)
        cuts.values_within(some[:32], np.inf)
        assert (cuts.floors_of(some) <= problem.values(some) + 0.01 * NANOMETRE).all()
        enough = float(np.median(bounds.least))
        early = bounds_of_choices(problem, chosen, enough)
        np.testing.assert_array_equal(early.least <= enough, bounds.least <= enough)


def test_zones_of_many_sets_are_those_of_single_sets() -> None:
    """400 sets over grids, half of them rounded to 1 um, where a naive exchange goes round in circles."""
    generator = np.random.default_rng(5)
    for case in range(20):
        side = generator.integers(2, 7, 2)
        grid = np.array([[i, j] for i in range(side[0] + 1) for j in range(side[1])], dtype=float)
        heights = generator.normal(size=(20, len(grid))) * 10e-6 + plane(grid) @ generator.normal(size=3) * 1e-4
        if case % 2:
            heights = heights.round(6)
        widths, about = zone_widths(plane(grid), heights), zone_deviations(plane(grid), heights)
        np.testing.assert_allclose(np.ptp(about, axis=1), widths, atol=0.001 * NANOMETRE)
        np.testing.assert_allclose(about.max(axis=1), widths / 2.0, atol=0.001 * NANOMETRE)
        single = [flatness(np.column_stack([grid, row])).value for row in heights]
        np.testing.assert_allclose(widths, single, atol=0.01 * NANOMETRE)
        gap = heights - about
        np.testing.assert_allclose(gap.T, plane(grid) @ np.linalg.lstsq(plane(grid), gap.T)[0], atol=0.001 * NANOMETRE)


@settings(max_examples=300, deadline=None)
@given(seeds)
def test_zones_of_lines_and_levels(seed: int) -> None:
    generator = np.random.default_rng(seed)
    x = np.sort(generator.uniform(0.0, 1.0, 12))
    heights = generator.normal(size=(2, 12)) * 10e-6
    line = np.column_stack([np.ones(12), x])
    a, b = np.triu_indices(12, 1)
    slopes = ((heights[0, b] - heights[0, a]) / (x[b] - x[a]))[:, None]
    every = np.ptp(heights[0] - slopes * x, axis=1).min()  # a zone of least width has two contacts on one side
    assert zone_widths(line, heights)[0] == pytest.approx(every, abs=0.01 * NANOMETRE)
    np.testing.assert_allclose(zone_widths(line[:, :1], heights), np.ptp(heights, axis=1), atol=1e-15)


def test_three_feet_level_a_bed_and_say_that_they_cannot_bend_it() -> None:
    bed = rigid_influence(FEET[[0, 2, 4]], GRID)
    bent = 10e-6 * GRID[:, 0] ** 2
    free = propose_shims(bent, GRID, bed)
    assert not free.lifts.any()
    assert any("only tilt" in text for text in free.warnings)
    level = propose_shims(bent + 80e-6 * GRID[:, 1], GRID, bed, reference="level")
    assert level.predicted == pytest.approx(free.predicted, abs=NANOMETRE)
    assert level.as_found > 100e-6
    np.testing.assert_allclose(level.tilt, [-80e-6, 0.0], atol=1e-9)  # the side of +y comes down against -y
    assert level.mean_lift == pytest.approx(level.lifts.mean())
    assert not any("tilt the whole" in text for text in level.warnings)  # it is what was asked for


def test_the_tilt_of_the_whole_bed_is_stated_and_a_large_one_warned_of(soft: Influence) -> None:
    low = soft.matrix @ np.array([0.0, 0.0, 0.0, 0.0, 0.0, 100e-6])
    small, large = (propose_shims(-size * low, GRID, soft, keep_loads=False) for size in (0.5, 5.0))
    for proposal in (small, large):
        plane_of_rise = np.linalg.lstsq(plane(GRID), soft.matrix @ proposal.lifts, rcond=None)[0]
        np.testing.assert_allclose(proposal.tilt, [plane_of_rise[2], -plane_of_rise[1]], atol=1e-12)
    assert np.linalg.norm(small.tilt) < 50e-6 < np.linalg.norm(large.tilt)
    assert not any("tilt the whole" in text for text in small.warnings)
    assert any("tilt the whole bed by" in text and "mm/m" in text for text in large.warnings)


def test_a_foot_that_would_lift_off_is_named_or_kept_down(stiff: Influence) -> None:
    found = -stiff.matrix @ np.array([0.0, 200e-6, 0.0, 0.0, 0.0, 0.0])
    loose = propose_shims(found, GRID, stiff, keep_loads=False)
    kept = propose_shims(found, GRID, stiff)
    bolted = propose_shims(found, GRID, stiff, least_load=-1e9)
    assert loose.loads_after.min() < 0.0
    assert any("would lift off" in text for text in loose.warnings)
    assert kept.loads_after.min() >= 0.1 * stiff.own_loads.mean() - 1.0
    assert any("limits the proposal" in text for text in kept.warnings)
    assert loose.predicted < kept.predicted < kept.as_found
    assert bolted.predicted == pytest.approx(loose.predicted, abs=NANOMETRE)


def test_what_a_fitter_should_know_is_said(soft: Influence) -> None:
    found = random_deviations(soft, 3)
    said = " ".join(propose_shims(found, GRID, soft, travel=10e-6).warnings)
    assert "whole travel" in said
    names = ("NE", "E", "SE", "NW", "W", "SW")
    said = propose_shims(-soft.matrix[:, 2] * 1e-4, GRID, soft, travel=10e-6, names=names, add_only=False).warnings
    assert any(" and " in text and "SE" in text and "use their whole travel" in text for text in said)
    one = propose_shims(-soft.matrix[:, 2] * 1e-4, GRID, soft, travel=[0, 0, 1e-5, 0, 0, 0], names=names).warnings
    assert any(text.startswith("SE uses its whole travel") for text in one)
    with pytest.raises(ValueError, match="2 names for 6 feet"):
        propose_shims(found, GRID, soft, names=("a", "b"))
    blind = measured_influence(np.column_stack([soft.matrix, np.zeros(len(GRID))]))
    proposal = propose_shims(found, GRID, blind)
    assert any("sees foot 7" in text for text in proposal.warnings)
    assert proposal.lifts[6] == 0.0
    assert any("not known" in text for text in proposal.warnings)
    noisy = propose_shims(found, GRID, soft, covariance=np.eye(len(GRID)) * 1e-4**2)
    assert any("read again" in text for text in noisy.warnings)
    assert any("No foot can move" in text for text in propose_shims(found, GRID, soft, travel=0.0).warnings)
    thin = propose_shims(found, GRID, soft, travel=40e-6, stock=(50e-6,))
    assert any("thinnest shim" in text for text in thin.warnings)
    wrong = measured_influence(soft.matrix + 0.05 * np.random.default_rng(0).normal(size=soft.matrix.shape))
    assert any("carries errors" in text for text in propose_shims(found, GRID, wrong).warnings)


def test_slack_saves_feet(soft: Influence) -> None:
    for seed in range(5):
        found = random_deviations(soft, seed)
        strict = propose_shims(found, GRID, soft, keep_loads=False)
        easy = propose_shims(found, GRID, soft, keep_loads=False, slack=10e-6)
        assert (easy.lifts > 0).sum() <= (strict.lifts > 0).sum()
        assert easy.lifts.sum() <= strict.lifts.sum() + NANOMETRE
        assert easy.predicted <= strict.predicted + 10e-6 + NANOMETRE


def test_uncertainty_of_the_prediction(soft: Influence) -> None:
    """As the zones of single draws have it; noise alone is never read as flat; without noise nothing is unsure."""
    found = random_deviations(soft, 1)
    noise = 2e-6
    cov = np.eye(len(GRID)) * noise**2
    proposal = propose_shims(found, GRID, soft, covariance=cov)
    low, high = proposal.predicted_interval
    assert low < high
    assert proposal.predicted < high
    flat = propose_shims(0.0 * found, GRID, soft, covariance=cov)
    assert flat.predicted == 0.0
    assert flat.predicted_interval[0] > 2.0 * noise  # noise alone is never read as flat
    after = found + soft.matrix @ proposal.lifts
    draws = after + np.random.default_rng(2).normal(size=(500, len(GRID))) * noise
    each = np.array([flatness(np.column_stack([GRID, heights])).deviations for heights in draws])
    np.testing.assert_allclose(proposal.standard_uncertainty, each.std(axis=0), rtol=0.15)  # 500 draws: 3.2 % each
    assert proposal.predicted_uncertainty == pytest.approx(np.ptp(each, axis=1).std(), rel=0.15)
    again = propose_shims(found, GRID, soft, covariance=cov)
    assert again.predicted_uncertainty == proposal.predicted_uncertainty
    still = propose_shims(found, GRID, soft, covariance=np.zeros_like(cov))
    assert still.predicted_uncertainty == pytest.approx(0.0, abs=1e-15)
    tilt = plane(GRID)[:, [1]] * 50e-6
    common = propose_shims(found, GRID, soft, covariance=tilt @ tilt.T)
    assert common.predicted_uncertainty < NANOMETRE  # an error that only tilts the readings does not touch flatness
    with pytest.raises(ValueError, match="negative variance"):
        propose_shims(found, GRID, soft, covariance=-cov)


@settings(max_examples=200, deadline=None)
@given(st.sets(st.integers(1, 60), min_size=1, max_size=4), st.integers(1, 4), st.integers(0, 150))
def test_every_stack_can_be_made_and_none_is_missing(sizes: set[int], pieces: int, highest: int) -> None:
    ways = {0}
    for _ in range(pieces):
        ways |= {a + b for a in ways for b in sizes}
    stacks = stacks_of(tuple(1e-5 * s for s in sizes), pieces, 1e-5 * highest, add_only=True)
    expected = sorted(w for w in ways if w <= highest)
    np.testing.assert_allclose(stacks.heights, np.array(expected) * 1e-5, atol=1e-12)
    assert all(len(shims) <= pieces for shims in stacks.shims)
    np.testing.assert_allclose([sum(shims) for shims in stacks.shims], stacks.heights, atol=1e-12)


def test_wrong_input_is_explained(soft: Influence) -> None:
    found = np.zeros(len(GRID))
    with pytest.raises(GeometryError, match="each station needs one"):
        propose_shims(found[:-1], GRID, soft)
    with pytest.raises(GeometryError, match="no stations"):
        propose_shims([], [], soft)
    with pytest.raises(GeometryError, match="always fit a plane"):
        propose_shims([0, 0, 0], [[0, 0], [1, 0], [0, 1]], measured_influence(np.eye(3)))
    with pytest.raises(GeometryError, match="has no deviation"):
        propose_shims(np.where(np.arange(len(GRID)) == 4, np.nan, 0.0), GRID, soft)
    for wrong in ({"goal": "flattest"}, {"reference": "plumb"}, {"travel": -1.0}, {"stock": ()}):
        with pytest.raises(ValueError, match=r"not known|negative|needs"):
            propose_shims(found, GRID, soft, **wrong)


def test_feet_that_move_sideways_keep_their_loads() -> None:
    """Nothing is known of the loads there, and nothing needs to be."""
    rng = np.random.default_rng(5)
    found = 1e-4 * rng.standard_normal(len(GRID))
    lifted = Influence(rng.standard_normal((len(GRID), 3)), None, None, "beam")
    said, aside = (
        " ".join(propose_shims(found, GRID, each, travel=1e-4).warnings)
        for each in (lifted, replace(lifted, sideways=True))
    )
    assert "loads on the feet are not known" in said
    assert "loads" not in aside
