"""Law 16: a perfect survey closes to zero, and a simulated one gives back the deviations that were put in.

Law 18: linear propagation and Monte Carlo through the traced model agree.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import chi2, kstest

from scenes.errors import GeometryError
from scenes.model.finding import Severity
from scenes.model.layout import Air
from scenes.reductions.consistency import consistency_of
from scenes.reductions.form import flatness
from scenes.reductions.network import observed, solve_network
from scenes.reductions.quantities.dispatch import definition_of
from scenes.reductions.quantities.evaluate import fitted_for, measured, network_of_plan, network_of_visit, setups_for
from scenes.reductions.quantities.evidence import evidence_of
from scenes.reductions.quantities.measured import shape_of
from scenes.reductions.verdict import Word
from scenes.tracing.geometry import survey_geometry
from scenes.tracing.rows import planned_rows
from scenes.tracing.spots import spots
from scenes.tracing.state import NOMINAL
from scenes.uncertainty.simulate import SetupScatter, simulate_readings
from scenes.uncertainty.sources import drawn_state, sources_of

PICOMETRE = 1e-12
NANOMETRE = 1e-9
TASK = "bed flatness"


def plane_off(places, values):
    design = np.column_stack([np.ones(len(places)), places])
    return values - design @ np.linalg.lstsq(design, values, rcond=None)[0]


def truth_of(layout, seed=0, size=40e-6):
    rng = np.random.default_rng(seed)
    return {name: float(size * rng.standard_normal()) for name in layout.stations}


class Heights:
    """Heights about their own least-squares plane, as a visit or a plan tells them."""

    def __init__(self, layout, network, visit, records=()):
        self.network, self.records = network, records
        self.evidence = evidence_of(layout, layout.tasks[TASK], visit, network)
        zone = definition_of(self.evidence).values[0]
        heights, jacobian = shape_of(self.evidence, zone)
        self.stations = zone.profile.stations
        at = np.array([layout.stations[name].at[:2] for name in self.stations])
        self.points = np.column_stack([at, heights])
        self.spread = network.spread_of(jacobian)
        self.jacobian = jacobian

    def measured(self, seed=1, trials=500):
        return measured(self.evidence, np.random.default_rng(seed), trials, self.records)


def heights_of(layout, readings):
    task = layout.tasks[TASK]
    network, records = network_of_visit(layout, setups_for(layout, task), readings, "as found", fitted_for(task))
    return Heights(layout, network, "as found", records)


def planned_heights(layout):
    task = layout.tasks[TASK]
    return Heights(layout, network_of_plan(layout, setups_for(layout, task), fitted_for(task)), "plan")


def solved(layout, geometry, seen, fitted=()):
    """Heights of readings without any error."""
    read = observed(geometry, {"v": seen.v, "h": seen.h}, np.zeros(len(seen.v)))
    return Heights(layout, solve_network(layout, geometry, read, (), fitted=fitted), "as found")


def test_a_perfect_survey_closes_to_zero(bench):
    layout = bench.layout(air=Air(gradient=0.8), again=("A1", "E7"))
    readings = simulate_readings(layout, {}, "as found", np.random.default_rng(0), errors=False)
    estimate = heights_of(layout, readings)
    assert np.max(np.abs(estimate.points[:, 2])) < PICOMETRE
    assert np.max(np.abs(estimate.network.residual)) < PICOMETRE
    assert flatness(estimate.points).value < PICOMETRE


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize(("tilt", "tolerance"), [(1e-4, PICOMETRE), (1e-3, NANOMETRE)])
def test_deviations_come_back_through_a_tilted_and_lifted_base(bench, seed, tilt, tolerance):
    """Without reading errors only the common plane is lost, however the crew has set the base.

    Which part of a slope belongs to the bed and which to the base is open to second order in the tilt: with a base off
    by 1 mm/m that is below a tenth of a nanometre.
    """
    layout = bench.layout(air=Air(gradient=-1.0))
    truth = truth_of(layout, seed)
    scatter = SetupScatter(tilt=tilt, lift=3e-3)
    readings = simulate_readings(layout, truth, "as found", np.random.default_rng(seed), errors=False, scatter=scatter)
    estimate = heights_of(layout, readings)
    places = estimate.points[:, :2]
    wanted = plane_off(places, np.array([truth[name] for name in estimate.stations]))
    assert np.max(np.abs(estimate.points[:, 2] - wanted)) < tolerance
    assert abs(flatness(estimate.points).value - flatness(np.column_stack([places, wanted])).value) < tolerance


def two_stands(bench, common):
    """A long bed read from both ends; ``common`` columns of stations are read from both."""
    names = [f"{chr(65 + j)}{i + 1}" for j in range(3) for i in range(9)]
    west = tuple(name for name in names if int(name[1:]) <= 5 + common // 2)
    east = tuple(name for name in names if int(name[1:]) > 5 - (common + 1) // 2)
    return bench.layout(
        columns=9, rows=3, length=8.0, width=2.0, stands={"west": (-5.0, 0.3), "east": (5.0, -0.2)},
        reads={"west": west, "east": east},
    )  # fmt: skip


def test_two_setups_tied_by_common_stations_give_the_deviations_back(bench):
    layout = two_stands(bench, 2)
    truth = truth_of(layout, 3)
    readings = simulate_readings(
        layout, truth, "as found", np.random.default_rng(3), errors=False, scatter=SetupScatter(3e-5, 1e-3)
    )
    estimate = heights_of(layout, readings)
    wanted = plane_off(estimate.points[:, :2], np.array([truth[name] for name in estimate.stations]))
    assert estimate.network.redundancy == len(readings) - len(layout.stations) - 3
    assert np.max(np.abs(estimate.points[:, 2] - wanted)) < PICOMETRE


def test_setups_without_common_stations_are_refused_in_words(bench):
    layout = two_stands(bench, 0)
    readings = simulate_readings(layout, {}, "as found", np.random.default_rng(3), errors=False)
    with pytest.raises(GeometryError, match="nothing ties the set-ups west, east"):
        heights_of(layout, readings)


def test_setups_tied_on_one_line_only_are_refused(bench):
    layout = two_stands(bench, 1)
    readings = simulate_readings(layout, {}, "as found", np.random.default_rng(3), errors=False)
    with pytest.raises(GeometryError, match="three stations off one line"):
        heights_of(layout, readings)


def test_a_fitted_cone_is_found_and_its_dish_removed(bench):
    layout = bench.layout(fitted=("cone",))
    rows = planned_rows(layout)
    geometry = survey_geometry(layout, rows)
    cone = 40e-6
    seen = spots(geometry, replace(NOMINAL, cone=np.array(cone), tilt_x=np.array(1e-4), lift=np.array(5e-4)))
    assert np.ptp(solved(layout, geometry, seen).points[:, 2]) > 10e-6
    found = solved(layout, geometry, seen, ("cone",))
    (fitted,) = found.network.fitted()
    assert fitted.from_shape
    assert fitted.value == pytest.approx(cone, abs=1e-12)
    assert np.max(np.abs(found.points[:, 2])) < PICOMETRE


def test_two_stands_tell_a_cone_from_a_dish(bench):
    """From two places the cone is determined by the readings; a real dish of the surface then survives."""
    unknown = replace(bench.layout().bases["base"], cone_known_to=0.0)
    layout = bench.layout(stands={"front": (0.2, -2.3), "side": (-2.6, 0.1)}, base=unknown)
    rows = planned_rows(layout)
    geometry = survey_geometry(layout, rows)
    at = np.array([layout.stations[name].at[:2] for name in rows.stations])
    dish = 30e-6 * (at**2).sum(axis=1)
    seen = spots(geometry, replace(NOMINAL, cone=np.array(40e-6), deviation=dish[rows.station]))
    found = solved(layout, geometry, seen, ("cone",))
    (fitted,) = found.network.fitted()
    assert not fitted.from_shape
    assert fitted.value == pytest.approx(40e-6, abs=1e-11)
    assert np.max(np.abs(found.points[:, 2] - plane_off(at, dish))) < PICOMETRE


def test_a_fitted_cone_is_never_known_worse_than_stated(bench):
    """The stated cone is an observation like any other: fitting it from two stands can only make it better known."""
    known = bench.layout().bases["base"].cone_known_to
    stands = {"front": (0.2, -2.3), "side": (-2.6, 0.1)}
    estimate = planned_heights(bench.layout(stands=stands, fitted=("cone",)))
    assert estimate.network.fitted()[0].u < known
    as_stated = planned_heights(bench.layout(stands=stands)).spread.standard_uncertainty()
    assert np.allclose(estimate.spread.standard_uncertainty(), as_stated, rtol=1e-6)


def test_a_dish_taken_for_a_cone_is_not_proven_flat(bench):
    """From one stand a dish and a cone look alike; the value then carries the whole dish as its uncertainty."""
    layout = bench.layout(fitted=("cone",))
    rows = planned_rows(layout)
    at = np.array([layout.stations[name].at[:2] for name in rows.stations])
    radius = np.hypot(at[:, 0] + 2.3, at[:, 1] - 0.2)
    truth = dict(zip(rows.stations, 300e-6 * radius, strict=True))
    true = flatness(np.column_stack([at, 300e-6 * radius])).value
    readings = simulate_readings(layout, truth, "as found", np.random.default_rng(4))
    estimate = heights_of(layout, readings)
    result = estimate.measured()
    (flat,) = result.components
    assert true > layout.tasks[TASK].limit > flat.value
    assert result.word is Word.NOT_PROVEN
    assert flat.value + flat.expanded_uncertainty > true
    assert [f.code for f in result.findings if f.severity is Severity.WARNING] == ["cone-from-shape"]


def test_a_blunder_in_one_of_two_setups_is_named(bench):
    layout = two_stands(bench, 2)
    clean = simulate_readings(layout, {}, "as found", np.random.default_rng(8))
    assert not heights_of(layout, clean).measured().consistency.outliers
    wrong = next(i for i in range(len(clean)) if (clean.station[i], clean.setup[i]) == ("B5", "east"))
    v = np.array(clean.v)
    v[wrong] += 500e-6
    found = heights_of(layout, replace(clean, v=v)).measured()
    worst = found.consistency.outliers[0]
    assert found.consistency.largest > 10.0
    assert abs(worst.error) == pytest.approx(500e-6, abs=4.0 * worst.standard_uncertainty)
    named = [f for f in found.findings if f.code == "readings-differ"]
    assert named[0].name == "B5"


def test_sound_readings_are_rarely_called_wrong(bench):
    """One normalised residual in a thousand is named by chance; 60 surveys with 3 re-readings each give about 0.2."""
    layout = bench.layout(again=("A1", "C4", "E7"))
    rng = np.random.default_rng(12)
    surveys = (heights_of(layout, simulate_readings(layout, {}, "as found", rng)) for _ in range(60))
    found = [consistency_of(survey.network) for survey in surveys]
    assert sum(len(each.outliers) for each in found) <= 2
    # What share of sound surveys reaches a chi-square is itself even between 0 and 1 in sound surveys.
    assert kstest([each.probability for each in found], "uniform").pvalue > 0.01
    for each in found:
        assert each.probability == pytest.approx(chi2.sf(each.chi_square, each.redundancy), rel=1e-9)


def test_seatings_and_times_follow_from_all_records_of_a_visit(bench):
    """A task on some of the stations sees the same seatings and times as one on all of them."""
    layout = bench.layout(again=("A1", "E7"))
    some = tuple(name for name in layout.stations if name != "A1")
    all_rows, part = planned_rows(layout), planned_rows(layout, only=some)
    e7 = [i for i in range(len(part)) if part.stations[part.station[i]] == "E7"]
    assert part.seat[e7[0]] != part.seat[e7[1]]
    kept = [i for i in range(len(all_rows)) if all_rows.stations[all_rows.station[i]] != "A1"]
    assert np.array_equal(part.time, all_rows.time[kept])


def test_conformity_is_not_proven_by_a_part_of_the_stations(bench):
    layout = bench.layout()
    readings = simulate_readings(layout, {}, "as found", np.random.default_rng(8))
    part = readings.chosen(slice(20))
    result = heights_of(layout, part).measured()
    assert result.word is Word.NOT_PROVEN
    assert "15 of 35 stations were not read" in result.components[0].verdict.reason


def test_blocks_under_a_post_change_nothing(bench):
    """A re-reading with the target 5 mm higher gives the same height and raises no alarm."""
    layout = bench.layout(again=("A1",))
    readings = simulate_readings(layout, {}, "as found", np.random.default_rng(8), errors=False)
    v, offset = np.array(readings.v), np.zeros(len(readings))
    v[-1] -= 5e-3
    offset[-1] = 5e-3
    estimate = heights_of(layout, replace(readings, v=v, mount_offset=offset))
    assert np.max(np.abs(estimate.points[:, 2])) < PICOMETRE
    assert not estimate.measured().findings


def ring_layout(bench, **task):
    """Stations all at one radius from a base that stands in their middle."""
    angle = np.linspace(0.0, 2.0 * np.pi, 12, endpoint=False)
    places = {f"P{i + 1}": (float(0.8 * np.cos(a)), float(0.8 * np.sin(a))) for i, a in enumerate(angle)}
    from scenes.model.mounts import Mount

    tripod = Mount("tripod", 0.90, 0.60, 1.60, 0.0, 0.0)
    return bench.layout(places=places, stands={"middle": (0.0, 0.0)}, tripod=tripod, **task)


def test_equal_radii_are_said_not_solved(bench):
    """Law 3: with equal radii a cone cannot be found."""
    layout = ring_layout(bench, fitted=("cone",))
    readings = simulate_readings(layout, {}, "as found", np.random.default_rng(3), errors=False)
    with pytest.raises(GeometryError, match="same radius"):
        heights_of(layout, readings)
    calm = ring_layout(bench)  # taken as stated it does no harm
    assert flatness(heights_of(calm, readings).points).value < PICOMETRE


def test_propagation_agrees_with_draws_through_the_traced_model(bench):
    layout = bench.layout(air=Air(gradient_known_to=0.5), again=("A1",))
    rows = planned_rows(layout)
    geometry = survey_geometry(layout, rows)
    sources = sources_of(layout, geometry)
    estimate = planned_heights(layout)
    start = replace(NOMINAL, aim=np.full(len(rows), layout.setups["plane"].centred_within))
    trials = 20_000
    drawn = spots(geometry, drawn_state(start, sources, np.random.default_rng(1), trials)).v
    heights = (drawn - spots(geometry, start).v) @ estimate.spread.gain.T
    linear = estimate.spread.standard_uncertainty()
    # the standard deviation of n draws scatters by 1/sqrt(2 n): 0.5 %; four of these over 35 stations
    assert np.allclose(heights.std(axis=0), linear, rtol=4.0 / np.sqrt(2.0 * trials))
    covariance = estimate.spread.covariance()
    assert np.allclose(np.cov(heights.T), covariance, atol=5.0 * np.max(linear) ** 2 / np.sqrt(trials))


def test_repeats_used_singly_or_averaged_give_the_same_heights(bench):
    layout = bench.layout()
    single = simulate_readings(layout, truth_of(layout), "as found", np.random.default_rng(5))
    rng = np.random.default_rng(6)
    noise = 1e-6 * rng.standard_normal((3, len(single)))

    def repeated(v, times):
        pick = np.repeat(np.arange(len(single)), times)
        return replace(single.chosen(pick), v=v, row=pick + 2)

    each = heights_of(layout, repeated((single.v + noise).T.ravel(), 3))
    mean = heights_of(layout, repeated(single.v + noise.mean(axis=0), 1))
    assert np.max(np.abs(each.points - mean.points)) < PICOMETRE
    assert np.all(each.spread.standard_uncertainty() <= mean.spread.standard_uncertainty() + PICOMETRE)


def test_adding_a_reading_never_raises_a_variance(bench):
    """Law 11, second half."""
    few = planned_heights(bench.layout()).spread.standard_uncertainty()
    many = planned_heights(bench.layout(again=("A1", "C4", "E7"))).spread.standard_uncertainty()
    assert np.all(many <= few * (1.0 + 1e-9))


@pytest.mark.parametrize("size", [0.0, 10e-6, 60e-6])
def test_the_stated_uncertainty_covers_the_truth(bench, size, record_property):
    """Of 60 simulated surveys the true flatness lies within U of the value at least as often as k = 2 promises.

    Near a perfect surface the noise only ever adds to a peak-to-valley value: without the bias in U the coverage there
    would be near zero.
    """
    layout = bench.layout()
    surveys, covered, inside = 60, 0, 0
    rng = np.random.default_rng(77)
    shape = {name: size * np.cos(2.0 * station.at[0]) * (1.0 + station.at[1]) for name, station in
             layout.stations.items()}  # fmt: skip
    for _ in range(surveys):
        readings = simulate_readings(layout, shape, "as found", rng)
        estimate = heights_of(layout, readings)
        (result,) = measured(estimate.evidence, rng, 500).components
        places = estimate.points[:, :2]
        true = flatness(np.column_stack([places, [shape[name] for name in estimate.stations]])).value
        covered += abs(result.value - true) <= result.expanded_uncertainty
        inside += result.interval[0] <= true <= result.interval[1]
    record_property("coverage", covered / surveys)
    record_property("interval", inside / surveys)
    print(f"size {1e6 * size:.0f} um: U covers {covered / surveys:.3f}, interval {inside / surveys:.3f}")
    assert covered / surveys >= 0.954 - 3.0 * np.sqrt(0.954 * 0.046 / surveys)
