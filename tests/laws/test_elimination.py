"""Elimination of stations gives what dense least squares with the full covariance gives; nuisances are found."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.linalg import block_diag

from scenes.errors import GeometryError
from scenes.layout.schema_tasks import FITTED
from scenes.reductions.columns import Columns, Design
from scenes.reductions.consistency import control_of
from scenes.reductions.elimination import eliminated
from scenes.reductions.nuisances import NUISANCES
from scenes.reductions.quantities.evaluate import network_of_plan, network_of_visit, setups_for
from scenes.reductions.reach import reach_of
from scenes.reductions.station_blocks import blocks_of
from scenes.tracing.geometry import survey_geometry
from scenes.tracing.rows import planned_rows
from scenes.tracing.state import NOMINAL
from scenes.uncertainty.propagate import Effect, reading_covariance
from scenes.uncertainty.simulate import readings_of, simulated

NOTHING = np.zeros(0, dtype=np.int64)


def dense(station, frame):
    return Design(station, frame, np.tile(np.arange(frame.shape[1]), (len(frame), 1)), frame.shape[1])


class System:
    """A random network: n stations with two unknowns, f frame unknowns, errors alone, within stations and shared."""

    def __init__(self, seed, known=()):
        rng = np.random.default_rng(seed)
        n, f = int(rng.integers(2, 7)), int(rng.integers(1, 5))
        self.station = np.sort(np.concatenate([np.repeat(np.arange(n), 3), rng.integers(0, n, 12)]))
        o = len(self.station)
        self.design = dense(rng.standard_normal((o, 2)), rng.standard_normal((o, f)))
        self.columns = Columns(("a", "b"), np.arange(2 * n).reshape(n, 2), 2 * n + np.arange(f), 2 * n + f)
        self.full = np.zeros((o, 2 * n + f))
        for i, k in enumerate(self.station):
            self.full[i, 2 * k : 2 * k + 2] = self.design.station[i]
        self.full[:, 2 * n :] = self.design.frame
        order = rng.permutation(o)
        self.effects = (
            Effect("alone", rng.uniform(0.5, 1.5, o), np.arange(o), o, ""),
            Effect("seat", rng.uniform(0.1, 1.0, o), 2 * self.station + rng.integers(0, 2, o), 2 * n, ""),
            Effect("shared", rng.uniform(-1.0, 1.0, o), np.argsort(order) % 3, 3, ""),
        )
        self.known = np.array(known, dtype=np.int64)
        self.known_to = np.full(len(known), 0.7)
        self.values = rng.standard_normal(o)
        reach = reach_of(self.design, self.columns, self.station)
        self.made = eliminated(
            blocks_of(self.station, self.effects), self.design, self.columns, reach, self.known, self.known_to
        )

    def dense(self):
        """Gain ``(p, o + k)`` of the whole problem written out."""
        rows = np.vstack([self.full, *(np.eye(self.columns.count)[self.columns.of_frame[i]][None] for i in self.known)])
        covariance = block_diag(reading_covariance(self.effects, len(self.values)), *([[0.49]] * len(self.known)))
        weight = np.linalg.inv(covariance)
        return np.linalg.solve(rows.T @ weight @ rows, rows.T @ weight)


@pytest.mark.parametrize("seed", range(200))
def test_elimination_is_dense_least_squares(seed):
    system = System(seed, known=(0,) if seed % 2 else ())
    gain = system.dense()
    told, known = system.made.gain(np.eye(system.columns.count))
    o = len(system.values)
    assert np.allclose(told, gain[:, :o], rtol=1e-7, atol=1e-9)
    assert np.allclose(known, gain[:, o:] * 0.7, rtol=1e-7, atol=1e-9)
    beforehand = np.full(len(system.known), 0.3)
    assert np.allclose(
        system.made.solution(system.values, beforehand / 0.7), gain @ np.append(system.values, beforehand), atol=1e-8
    )


@pytest.mark.parametrize("seed", range(100))
def test_what_is_left_is_the_weighted_residual(seed):
    """Share of the weight that shows in residuals, its diagonal, and the weight, against written-out matrices."""
    system = System(seed)
    weight = np.linalg.inv(reading_covariance(system.effects, len(system.values)))
    share = weight @ (np.eye(len(weight)) - system.full @ system.dense())
    blocks, eye = system.made.blocks, np.eye(len(weight))
    assert np.allclose(blocks.unwhite(system.made.left(blocks.white(eye)).T), share, atol=1e-8)
    assert np.allclose(system.made.seen_alone(), np.diag(share), atol=1e-8)
    assert np.allclose(blocks.unwhite(blocks.weighted(blocks.white(eye)).T), weight, atol=1e-8)
    assert np.allclose(blocks.weights_alone(), np.diag(weight), atol=1e-8)


@pytest.mark.parametrize("seed", range(50))
def test_a_common_shift_stays_open_and_stations_carry_the_datum(seed):
    """Two sets of stations over one level each: what is open is one shift; the mean of the stations is nought."""
    rng = np.random.default_rng(seed)
    n, setups, o = 6, 2, 30
    station, setup = np.concatenate([np.arange(n), rng.integers(0, n, o - n)]), rng.integers(0, setups, o)
    design = dense(-np.ones((o, 1)), np.eye(setups)[setup])
    columns = Columns(("deviation",), np.arange(n)[:, None], n + np.arange(setups), n + setups)
    reach = reach_of(design, columns, station)
    assert reach.open_directions.shape == (n + setups, 1)
    assert reach.rank == n + setups - 1
    effect = Effect("alone", np.full(o, 1e-6), np.arange(o), o, "")
    made = eliminated(blocks_of(station, (effect,)), design, columns, reach, NOTHING, np.zeros(0))
    truth = rng.standard_normal(n + setups) * 1e-4
    read = -truth[station] + truth[n + setup]
    found = made.solution(read, np.zeros(0))
    scaled = (found / reach.scale)[:n]
    assert abs(scaled @ reach.open_directions[:n, 0]) < 1e-15  # each station counts as often as it was read
    assert np.ptp((found - truth)[:n]) < 1e-15
    assert np.allclose(-found[station] + found[n + setup], read, atol=1e-15)


def test_equal_readings_in_other_order_give_equal_results(surveys):
    """The order of readings does not matter to rounding."""
    layout = surveys.rails()
    task = layout.tasks["height"]
    setups = setups_for(layout, task)
    readings = simulated(layout, np.random.default_rng(3)).readings
    one, _ = network_of_visit(layout, setups, readings, "as found")
    backwards = replace(readings.chosen(slice(None, None, -1)), time=readings.time[::-1])
    two, _ = network_of_visit(layout, setups, backwards, "as found")
    for name in one.geometry.rows.stations:
        a, b = one.column("deviation", name), two.column("deviation", name)
        assert one.values[a] == pytest.approx(two.values[b], abs=1e-10)


def two_stands(bench, **more):
    return bench.layout(stands={"front": (0.2, -2.3), "side": (-2.6, 0.1)}, again=("A1", "E7"), **more)


def hidden(layout, **moved):
    """Perfect readings of the plan in a state of its own."""
    geometry = survey_geometry(layout, planned_rows(layout))
    fields = {name: np.full(len(geometry.rows), value) for name, value in moved.items()}
    return readings_of(layout, geometry, replace(NOMINAL, **fields), "as found")


def test_a_drift_is_found_from_readings_taken_again(bench):
    layout = bench.layout(again=("A1", "C4", "E7"))
    readings = hidden(layout, drift=8e-10)
    setups = setups_for(layout, layout.tasks["bed flatness"])
    network, _ = network_of_visit(layout, setups, readings, "as found", ("drift",))
    (fitted,) = [each for each in network.fitted() if each.field == "drift"]
    assert fitted.value == pytest.approx(8e-10, abs=2.0 * fitted.u)
    assert 0.0 < fitted.u < fitted.stated_u


@pytest.mark.parametrize("word", ["cone", "drift"])
def test_solving_for_an_error_never_knows_less_than_its_certificate(bench, word):
    layout = two_stands(bench)
    setups = setups_for(layout, layout.tasks["bed flatness"])
    network = network_of_plan(layout, setups, (word,))
    told = [each for each in network.fitted() if each.stated_u > 0.0]
    assert told
    for each in told:
        assert each.u <= each.stated_u * (1.0 + 1e-9)


@pytest.mark.parametrize("word", ["prism error", "decentring"])
def test_a_prism_that_readings_do_not_tell_stays_as_stated(surveys, word):
    """From one side a prism's error is a tilt of its plane: it stays a source, and no value is made up."""
    layout = surveys.gantry()
    setups = setups_for(layout, layout.tasks["square"])
    plain, fitted = network_of_plan(layout, setups), network_of_plan(layout, setups, (word,))
    for each in fitted.fitted():
        assert each.u <= each.stated_u * (1.0 + 1e-9)
    assert {source.name for source in plain.sources} >= {source.name for source in fitted.sources}


def test_an_unknown_word_is_refused(bench):
    layout = bench.layout()
    with pytest.raises(GeometryError, match="these can"):
        network_of_plan(layout, setups_for(layout, layout.tasks["bed flatness"]), ("magic",))


def test_explained_is_the_fall_of_chi_square(bench):
    """Adding an unknown to a least-squares fit lowers chi-square by what the score test says."""
    layout = two_stands(bench)
    setups = setups_for(layout, layout.tasks["bed flatness"])
    rng = np.random.default_rng(11)
    readings = simulated(layout, rng).readings
    network, _ = network_of_visit(layout, setups, readings, "as found")
    control = control_of(network)
    column = rng.standard_normal((len(network.residual), 2)) * 1e-5
    told = control.explained(column)
    weight = control.weight
    base, _, _ = np.linalg.svd(np.linalg.cholesky(weight).T @ network.design * network.scale, full_matrices=False)
    base = base[:, : network.solved.reach.rank]
    white = np.linalg.cholesky(weight).T @ network.residual
    more = np.linalg.cholesky(weight).T @ column
    before = white - base @ (base.T @ white)
    extra = more - base @ (base.T @ more)
    fit, *_ = np.linalg.lstsq(extra, before, rcond=None)
    # what counts as open couples by the tilt of the base, so that the two agree to a thousandth of the uncertainty
    assert np.all(np.abs(told.size - fit) < 1e-3 * np.sqrt(np.diag(told.covariance)))
    after = before - extra @ fit
    assert told.drop == pytest.approx(before @ before - after @ after, rel=1e-3)


@pytest.mark.parametrize("seed", range(50))
def test_variances_are_those_of_the_gain(seed):
    """The quick way to all variances is the gain with the covariance of the observations."""
    system = System(seed)
    gain, _ = system.made.gain(np.eye(system.columns.count))
    covariance = gain @ reading_covariance(system.effects, len(system.values)) @ gain.T
    assert np.allclose(system.made.variances(), np.diag(covariance), rtol=1e-7)


@pytest.mark.parametrize("seed", range(30))
def test_sums_and_blocks_are_one(seed):
    """Errors that are all alone go by sums, others by blocks of stations: the same system either way."""
    system = System(seed)
    o = len(system.values)
    alone = Effect("alone", system.effects[0].size, np.arange(o), o, "")
    shared = Effect("shared", np.full(o, 0.3), np.arange(o) % 2, 2, "")
    meets = Effect("seat", np.full(o, 1e-12), system.station, int(system.station.max()) + 1, "")
    reach = reach_of(system.design, system.columns, system.station)
    by_sums, by_blocks = (
        eliminated(blocks_of(system.station, effects), system.design, system.columns, reach, NOTHING, np.zeros(0))
        for effects in ((alone, shared), (alone, shared, meets))
    )
    assert by_sums.blocks.own is not None
    assert by_blocks.blocks.own is None
    eye = np.eye(system.columns.count)
    assert np.allclose(by_sums.gain(eye)[0], by_blocks.gain(eye)[0], rtol=1e-8, atol=1e-10)
    assert np.allclose(by_sums.seen_alone(), by_blocks.seen_alone(), rtol=1e-8, atol=1e-10)


def test_the_words_of_the_language_are_those_of_the_adjustment():
    assert tuple(NUISANCES) == FITTED
