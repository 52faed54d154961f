"""The change between two visits: its uncertainty holds, errors that persist cancel, and a datum is no change."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import binom, kstest

from scenes.errors import GeometryError
from scenes.reductions.quantities.definition import Linear
from scenes.reductions.quantities.evaluate import measured, network_of_visit, setups_for
from scenes.reductions.quantities.evidence import evidence_of
from scenes.tracing.geometry import CHANNELS, survey_geometry
from scenes.tracing.rows import planned_rows
from scenes.tracing.spots import spots
from scenes.tracing.state import changed
from scenes.uncertainty.crew import PERFECT
from scenes.uncertainty.simulate import readings_of, simulated
from scenes.uncertainty.sources import sources_of
from scenes.visits.change import change, nothing_moved
from scenes.visits.forecast import Forecast
from scenes.visits.persistent import PERSISTENT, identities_of

STAYS = ("target", "mount", "emitter", "base", "vial", "prism")
"""What is the same thing at the next visit, written down here once more."""

TASKS = {
    "line": ("vertical", "space"), "square": ("square",), "spindle": ("direction",), "bore": ("axis",),
    "rails": ("cross level", "twist", "height", "level", "parallel"), "press": ("flat", "parallel", "travel"),
    "rolls": ("rolls",), "steps": ("profile",), "gantry": ("square",),
}  # fmt: skip
ALL = [(kind, task) for kind, tasks in TASKS.items() for task in tasks]
TRIALS = 400
STATED, RARE = 0.9545, 1e-4
NANOMETRE = 1e-9
SECOND_ORDER = 1e-5
"""Beams of two visits lie a little differently, so that what both do not feel to first order differs."""


def made(surveys, kind):
    return surveys.square(reverse=False) if kind == "square" else getattr(surveys, kind)()


def two_visits(crew, layout, task, *, seed=3):
    """A task at two visits whose errors have nothing in common; only their uncertainty is looked at."""
    truth = {"deviation": crew.truth([n for n, s in layout.stations.items() if not s.is_datum], 5)}
    return tuple(crew.measured(layout, crew.readings(layout, truth, seed + i), task, trials=100) for i in range(2))


@pytest.fixture(scope="module")
def visits(surveys, crew):
    """Two visits of a kind of survey and its task; each is made once."""
    kept = {}

    def of(kind, task):
        if (kind, task) not in kept:
            kept[kind, task] = two_visits(crew, made(surveys, kind), task)
        return kept[kind, task]

    return of


def errors_of_both(networks, rng, trials=TRIALS, stays=STAYS, cone=0.0):
    """Errors of the unknowns of two visits of one plan, traced, with one draw of what stays for both."""
    states = [network.state for network in networks]
    for pair in zip(*(network.sources for network in networks), strict=True):
        assert pair[0].name == pair[1].name
        assert np.array_equal(pair[0].group, pair[1].group)
        draws = [pair[0].distribution.draw(rng, (trials, int(pair[0].group.max()) + 1)) for _ in range(2)]
        if pair[0].shared in stays:
            draws[1] = draws[0]
        for i, source in enumerate(pair):
            states[i] = changed(states[i], source.field, draws[i][:, source.group] * source.u)
    if cone:
        drawn = cone * rng.standard_normal((trials, 1))
        states = [changed(state, "cone", drawn) for state in states]
    found = []
    for network, state in zip(networks, states, strict=True):
        of, m = network.observations, len(network.geometry.rows)
        seen, still = spots(network.geometry, state), spots(network.geometry, network.state)
        read, told = (
            np.stack([np.broadcast_to(getattr(each, channel), (n, m)) for channel in CHANNELS])[of.channel, :, of.row].T
            for each, n in ((seen, trials), (still, 1))
        )
        found.append((read - told) @ network.spread.gain.T)
    return found


@pytest.mark.parametrize("kind", TASKS)
def test_what_persists_is_told_apart_as_the_sources_do(surveys, kind):
    """The names by which errors are known again split the rows as the groups of the sources do."""
    layout = made(surveys, kind)
    geometry = survey_geometry(layout, planned_rows(layout))
    assert set(STAYS) <= set(PERSISTENT)
    for source in sources_of(layout, geometry):
        found = identities_of(source, layout, geometry)
        assert (found is not None) == (source.shared in STAYS), source.name
        if found is not None:
            here = np.flatnonzero(source.u)
            pairs = {(found[i], int(source.group[i])) for i in here}
            assert len(pairs) == len({a for a, _ in pairs}) == len({b for _, b in pairs}), source.name


@pytest.mark.parametrize(("kind", "task"), ALL)
def test_u_of_the_change_covers_it_as_often_as_it_says(visits, kind, task):
    one, two = visits(kind, task)
    told = change(one, two)
    errors = errors_of_both([each.evidence.network for each in (one, two)], np.random.default_rng(11))
    least = int(binom.ppf(RARE / 20, TRIALS, STATED))
    for value, a, b in zip(told.values, one.definition.values, two.definition.values, strict=True):
        if isinstance(a, Linear):
            off = errors[1] @ b.functional - errors[0] @ a.functional
            assert np.sum(np.abs(off) <= 2.0 * value.standard_uncertainty) >= least, value.name
            assert off.std() == pytest.approx(value.standard_uncertainty, rel=0.12), value.name
    for each in told.deviations:
        profile = next(
            p for p in (*(v.profile for v in two.definition.values if not isinstance(v, Linear)), *two.definition.shown)
            if p.stations == each.stations and p.components == each.components
        )  # fmt: skip
        jacobian = [
            next(p for p in (*(v.profile for v in m.definition.values if not isinstance(v, Linear)),
                             *m.definition.shown) if p.stations == profile.stations
                 and p.components == profile.components).jacobian
            for m in (one, two)
        ]  # fmt: skip
        zone = next((v for v in two.definition.values if not isinstance(v, Linear) and v.name == each.of), None)
        unseen = np.zeros((len(each.u), 0)) if zone is None else zone.measure.unseen(len(each.u))
        off = errors[1] @ jacobian[1].T - errors[0] @ jacobian[0].T
        named = each.datum.partition(" through ")[2]
        mine = [i for i, name in enumerate(each.stations) if not named or name in named.split(", ")]
        off = off - (off[:, mine] @ np.linalg.pinv(unseen[mine]).T) @ unseen.T
        covered = np.sum(np.abs(off) <= 2.0 * each.u + NANOMETRE, axis=0)
        assert covered.min() >= least, each.of
        p = np.array([nothing_moved(row, each.covariance, each.test.rank).probability for row in off[:300]])
        assert kstest(p, "uniform").pvalue > RARE / 20, each.of


@pytest.mark.parametrize(("kind", "task"), ALL)
def test_shared_errors_make_the_change_surer_and_never_less_sure(visits, kind, task):
    """Both visits see linear components and deviations in the same way, so that what is shared can only cancel."""
    one, two = visits(kind, task)
    told, alone = change(one, two), change(one, two, anew=STAYS)
    for value, apart in zip(told.values, alone.values, strict=True):
        assert apart.standard_uncertainty == pytest.approx(apart.apart, rel=1e-9)
        assert value.apart == pytest.approx(apart.apart, rel=1e-9)
        if value.plus:
            assert value.standard_uncertainty <= value.apart * (1.0 + SECOND_ORDER)
            kept = [each for each in value.shared if each.left < 0.9 * each.one and each.one > 1e-3 * value.apart]
            saved = sum(each.one**2 + each.two**2 - each.left**2 for each in value.shared)
            assert value.apart**2 - value.standard_uncertainty**2 == pytest.approx(saved, rel=1e-6, abs=1e-20)
            assert not kept or value.standard_uncertainty < value.apart
    for each, apart in zip(told.deviations, alone.deviations, strict=True):
        assert np.all(each.u <= each.apart * (1.0 + SECOND_ORDER))
        assert apart.u == pytest.approx(apart.apart, rel=1e-9)
    assert not alone.common


def test_the_prism_cancels_in_squareness_and_its_share_is_told(visits):
    one, two = visits("square", "square")
    value = change(one, two).values[0]
    prism = {each.name: each for each in value.shared}["mirror angle of the prism"]
    assert prism.one > 5e-6
    assert prism.left < 0.01 * prism.one
    assert value.standard_uncertainty < 0.7 * value.apart
    other = change(one, two, anew=("nose",)).values[0]
    assert other.standard_uncertainty == pytest.approx(
        np.sqrt(value.standard_uncertainty**2 + prism.one**2 + prism.two**2), rel=0.05
    )


def test_one_post_at_every_station_is_no_shared_error(visits):
    one, two = visits("line", "vertical")
    each = change(one, two).deviations[0]
    assert each.u == pytest.approx(each.apart, rel=1e-9)


def test_nothing_changed_between_a_visit_and_itself(visits):
    for kind, task in ALL:
        one, _ = visits(kind, task)
        told = change(one, one)
        assert all(value.change == 0.0 and value.standard_uncertainty > 0.0 for value in told.values)
        assert all(np.all(each.change == 0.0) and each.test.chi_square == 0.0 for each in told.deviations)
        assert "nothing is proven to have moved" in told.sentence or not told.deviations


@pytest.mark.parametrize("shift", [0.0, 1e-4, -2e-4])
def test_a_bed_that_is_moved_as_a_whole_has_not_changed(bench, crew, shift):
    layout = bench.layout(columns=4, rows=3)
    shape = crew.truth(layout.stations, 9)
    at = {name: station.at for name, station in layout.stations.items()}
    leaned = {name: shape[name] + shift + 5e-5 * at[name][0] - 3e-5 * at[name][1] for name in shape}
    one, two = (
        crew.measured(layout, crew.readings(layout, {"deviation": each}, 1, errors=False, scatter=0.0), "bed flatness")
        for each in (shape, leaned)
    )
    told = change(one, two)
    assert np.abs(told.deviations[0].change).max() < NANOMETRE
    assert abs(told.values[0].change) < NANOMETRE
    assert not told.deviations[0].moved.any()


def test_a_station_that_sank_is_named(bench, crew):
    layout = bench.layout(columns=4, rows=3)
    shape = crew.truth(layout.stations, 9)
    sunk = {**shape, "B2": shape["B2"] - 100e-6}
    one, two = (
        crew.measured(layout, crew.readings(layout, {"deviation": each}, seed), "bed flatness")
        for seed, each in enumerate((shape, sunk))
    )
    told = change(one, two)
    each = told.deviations[0]
    assert each.test.rejected
    assert each.stations[int(np.argmax(np.abs(each.change) / each.u))] == "B2"
    assert "B2" in told.sentence
    rest = change(one, two, at_rest=("A1", "A4", "C1", "C4")).deviations[0]
    sank = rest.stations.index("B2")
    assert abs(rest.change[sank] + 100e-6) < 3.0 * rest.u[sank]
    assert rest.test.chi_square == pytest.approx(each.test.chi_square, rel=1e-6)
    assert rest.test.rank == each.test.rank == 9
    back = change(two, one)
    assert back.deviations[0].change == pytest.approx(-each.change)
    assert back.deviations[0].u == pytest.approx(each.u)


def test_stations_that_only_one_visit_reads_are_left_out_and_named(bench, crew):
    layout = bench.layout(columns=4, rows=3)
    readings = crew.readings(layout, {"deviation": crew.truth(layout.stations, 9)}, 1)
    part = readings.chosen(np.array([i for i, name in enumerate(readings.station) if name != "C3"]))
    one, two = crew.measured(layout, readings, "bed flatness"), crew.measured(layout, part, "bed flatness")
    each = change(one, two).deviations[0]
    assert each.dropped == ("C3",)
    assert len(each.stations) == 11
    assert each.test.rank == 8
    assert np.all(np.abs(each.change) < 0.01 * each.u)  # weights of the others differ a little


def test_whole_surveys_from_records_keep_within_u(bench, crew):
    """Two visits simulated with one draw of what stays, read and reduced like any others."""
    layout = bench.layout(columns=4, rows=3)
    rng, inside, total, chi = np.random.default_rng(5), 0, 0, []
    truth = simulated(layout, np.random.default_rng(1), size=40e-6).truth
    for _ in range(12):
        first = simulated(layout, rng, truth, scatter=PERFECT)
        second = simulated(layout, rng, truth, scatter=PERFECT)
        state = second.state
        for a, b in zip(first.errors, second.errors, strict=True):
            if a.source.shared in STAYS:
                state = changed(state, b.source.field, a.value - b.value)
        again = readings_of(layout, second.geometry, state, "as found")
        one, two = (crew.measured(layout, each, "bed flatness", trials=100) for each in (first.readings, again))
        each = change(one, two).deviations[0]
        inside, total = inside + int(np.sum(~each.moved)), total + len(each.moved)
        chi.append(each.test.chi_square)
    assert inside / total > 0.91
    assert kstest(chi, "chi2", args=(9,)).pvalue > RARE


def test_a_forecast_that_comes_true_and_one_that_does_not(bench, crew):
    layout = bench.layout(columns=4, rows=3)
    shape = crew.truth(layout.stations, 9)
    lift = {name: 60e-6 * station.at[0] ** 2 for name, station in layout.stations.items()}
    one = crew.measured(layout, crew.readings(layout, {"deviation": shape}, 1), "bed flatness")
    raised = {name: shape[name] + lift[name] for name in shape}
    two = crew.measured(layout, crew.readings(layout, {"deviation": raised}, 2), "bed flatness")
    told = one.deviations[0]
    values = told.values + np.array([lift[name] for name in told.stations])
    sure = (2e-6) ** 2 * np.eye(len(values))
    good = change(Forecast("predicted", "", told.stations, told.components, values, sure, found=one), two)
    assert good.expected
    assert not good.deviations[0].test.rejected
    assert "came true" in good.sentence
    by_itself = change(Forecast("predicted", "", told.stations, told.components, values, sure), two)
    assert by_itself.before is None
    assert np.all(by_itself.deviations[0].u < good.deviations[0].u)  # errors of the visit before are not in it
    bad = change(Forecast("predicted", "", told.stations, told.components, told.values, sure, found=one), two)
    assert bad.deviations[0].test.rejected
    assert "not come out" in bad.sentence


def test_stations_at_rest_carry_no_datum_where_the_task_has_its_own(visits):
    one, two = visits("rails", "cross level")
    plain, told = change(one, two), change(one, two, at_rest=("A1",))
    assert not plain.remarks
    assert "stations at rest carry no datum" in told.remarks[0]
    assert np.array_equal(plain.deviations[0].change, told.deviations[0].change)


def test_a_certificate_on_which_both_fits_of_a_cone_lean_is_one_and_the_same(bench, crew):
    stands = {"left": (-2.3, 0.2), "right": (2.6, -0.1)}
    grid = tuple(bench.layout(columns=4, rows=3).stations)
    layout = bench.layout(columns=4, rows=3, stands=stands, reads=dict.fromkeys(stands, grid), fitted=("cone",))
    asked, shape = layout.tasks["bed flatness"], crew.truth(layout.stations, 9)
    one, two = (
        measured(
            evidence_of(layout, asked, "as found", network_of_visit(
                layout, setups_for(layout, asked), crew.readings(layout, {"deviation": shape}, seed), "as found",
                ("cone",),
            )[0]), np.random.default_rng(1), 100,
        )
        for seed in (1, 2)
    )  # fmt: skip
    (prior,) = one.evidence.network.priors
    told, apart = change(one, two).deviations[0], change(one, two, anew=("base",)).deviations[0]
    assert np.all(told.u <= apart.u)
    networks = [each.evidence.network for each in (one, two)]
    errors = errors_of_both(networks, np.random.default_rng(4), 2000, cone=prior.u)
    zone = two.definition.values[0]
    unseen = zone.measure.unseen(len(told.u))
    off = errors[1] @ zone.profile.jacobian.T - errors[0] @ one.definition.values[0].profile.jacobian.T
    off = off - (off @ np.linalg.pinv(unseen).T) @ unseen.T
    assert off.std(axis=0) == pytest.approx(told.u, rel=0.08)


def test_words_that_say_nothing_are_refused(visits):
    one, two = visits("line", "vertical")
    with pytest.raises(GeometryError, match="nothing here is called banana; what a crew can change"):
        change(one, two, anew=("banana",))
    other, _ = visits("square", "square")
    with pytest.raises(GeometryError, match="cannot be compared"):
        change(one, other)
