"""Trends: slopes with the errors that visits share, what scatters by itself, and when a limit is reached."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest
from scipy.stats import binom

from scenes.errors import GeometryError
from scenes.reductions.quantities.definition import Kind
from scenes.visits.change import change
from scenes.visits.trend import fitted_trend, since_adjusted, trends
from scenes.visits.trended import DAYS_OF_YEAR, Dated, Outlook

FIRST = date(2020, 3, 1)
DAYS = (0, 200, 365, 731, 900, 1461)
YEARS = np.array(DAYS) / DAYS_OF_YEAR
DATES = tuple(FIRST + timedelta(days=each) for each in DAYS)
OWN, SHARED = 3e-6, 20e-6
COVARIANCE = OWN**2 * np.diag([1.0, 2.0, 1.0, 1.5, 1.0, 1.0]) + SHARED**2
"""Errors of every visit by itself, and one that all share."""

TRIALS = 2000
RARE = 1e-4


def fitted(values, limits=(), covariance=COVARIANCE, dates=DATES):
    return fitted_trend("flat", "", "", "", Kind.LENGTH, dates, np.asarray(values), covariance, limits)


def drawn(seed, slope=10e-6, covariance=COVARIANCE, more=0.0):
    rng = np.random.default_rng(seed)
    errors = rng.standard_normal((TRIALS, len(DAYS))) @ np.linalg.cholesky(covariance).T
    return 50e-6 + slope * YEARS + errors + more * rng.standard_normal((TRIALS, len(DAYS)))


def test_u_of_the_slope_covers_it_and_an_error_of_all_visits_is_not_in_it():
    found = [fitted(row) for row in drawn(1)]
    inside = sum(abs(each.slope - 10e-6) <= each.expanded_uncertainty for each in found)
    assert binom.ppf(RARE, TRIALS, 0.95) <= inside
    off = np.std([each.slope for each in found])
    alone = fitted(np.zeros(len(DAYS)), covariance=COVARIANCE - SHARED**2)
    assert off == pytest.approx(alone.slope_u, rel=0.08)


def test_machines_that_scatter_by_themselves_get_a_wider_u():
    found = [fitted(row) for row in drawn(2, more=15e-6)]
    widened = [each for each in found if each.scatter_probability < 0.05]
    assert len(widened) > 0.9 * TRIALS
    inside = sum(abs(each.slope - 10e-6) <= each.expanded_uncertainty for each in found)
    assert inside > 0.92 * TRIALS
    quiet = [fitted(row) for row in drawn(3)]
    assert np.mean([each.scatter_probability < 0.05 for each in quiet]) == pytest.approx(0.05, abs=0.02)
    assert np.sqrt(np.mean([each.scatter**2 for each in quiet])) == pytest.approx(1.0, abs=0.05)


def test_the_interval_of_the_date_holds_the_true_one():
    covariance = COVARIANCE - SHARED**2
    limit = 150e-6
    true = FIRST + timedelta(days=round((limit - 50e-6) / 10e-6 * DAYS_OF_YEAR))
    found = [fitted(row, [(limit, True)], covariance) for row in drawn(4, covariance=covariance)]
    told = [each.reach[0] for each in found if each.reach[0].outlook is Outlook.AHEAD]
    assert len(told) > 0.9 * TRIALS
    inside = sum(each.earliest <= true and (each.latest is None or true <= each.latest) for each in told)
    assert binom.ppf(RARE, len(told), 0.95) <= inside
    assert all(each.earliest <= each.when for each in told)


@pytest.mark.parametrize(
    ("slope", "start", "limit", "outlook"),
    [
        (0.0, 50e-6, (60e-6, True), Outlook.NO_TREND),
        (10e-6, 50e-6, (60e-6, True), Outlook.REACHED),
        (-10e-6, 50e-6, (60e-6, True), Outlook.AWAY),
        (-10e-6, 50e-6, (-60e-6, False), Outlook.AHEAD),
        (-10e-6, -50e-6, (-60e-6, False), Outlook.REACHED),
        (10e-6, -50e-6, (-60e-6, False), Outlook.AWAY),
        (10e-6, 0.0, (2e-3, True), Outlook.FAR),
        (10e-6, -30e-6, (20e-6, True), Outlook.AHEAD),
    ],
)
def test_what_a_trend_says_of_a_limit(slope, start, limit, outlook):
    told = fitted(start + slope * YEARS, [limit], COVARIANCE - SHARED**2)
    reach = told.reach[0]
    assert reach.outlook is outlook
    assert (reach.when is not None) == (outlook is Outlook.AHEAD)
    if reach.when is not None:
        assert (reach.when - FIRST).days == pytest.approx((limit[0] - start) / slope * DAYS_OF_YEAR, abs=1.0)


def test_a_trend_does_not_depend_on_the_unit_or_on_the_first_date():
    values = drawn(5)[0]
    one, more = fitted(values), fitted(1e3 * values, covariance=1e6 * COVARIANCE)
    assert more.slope == pytest.approx(1e3 * one.slope)
    assert more.slope_u == pytest.approx(1e3 * one.slope_u)
    later = fitted(values, dates=tuple(each + timedelta(days=5000) for each in DATES))
    assert later.slope == pytest.approx(one.slope)


@pytest.fixture(scope="module")
def yearly():
    """Shapes of a bed of which B2 sinks by 30 um in a year."""
    return lambda shape, years: {**shape, "B2": shape["B2"] - 30e-6 * years}


@pytest.fixture
def visits(bench, crew, yearly):
    layout = bench.layout(columns=4, rows=3)
    shape = crew.truth(layout.stations, 9)
    return [
        Dated(FIRST + timedelta(days=days), crew.measured(
            layout, crew.readings(layout, {"deviation": yearly(shape, days / DAYS_OF_YEAR)}, seed), "bed flatness",
            trials=100,
        ))
        for seed, days in enumerate((0, 365, 730, 1461))
    ]  # fmt: skip


def test_the_station_that_sinks_has_the_trend(visits):
    found = trends(visits)
    values = [each for each in found if not each.station]
    stations = [each for each in found if each.station]
    assert len(values) == 1
    assert len(stations) == 12
    sinking = max(stations, key=lambda each: abs(each.slope) / each.slope_u)
    assert sinking.station == "B2"
    assert sinking.proven
    share = 1.0 / 12.0 + (1.0 / 3.0) ** 2 / (6.0 * (1.0 + (1.0 / 3.0) ** 2))  # of B2 in the plane of a 4 x 3 grid
    assert sinking.slope == pytest.approx(-30e-6 * (1.0 - share), abs=3.0 * sinking.slope_u)
    assert values[0].reach[0].limit == pytest.approx(60e-6)


def test_two_visits_tell_the_change_by_the_years_between(visits):
    pair = [visits[0], replace(visits[3], anew=("mount",))]
    told = change(pair[0].measured, pair[1].measured, anew=("mount",))
    years = 1461 / DAYS_OF_YEAR
    value, *stations = trends(pair)
    assert value.slope == pytest.approx(told.values[0].change / years)
    assert value.slope_u == pytest.approx(told.values[0].standard_uncertainty / years, rel=1e-6)
    assert value.scatter is None
    for i, each in enumerate(stations):
        assert each.station == told.deviations[0].stations[i]
        assert each.slope == pytest.approx(told.deviations[0].change[i] / years)
        assert each.slope_u == pytest.approx(told.deviations[0].u[i] / years, rel=1e-6)


def test_a_trend_starts_anew_where_the_machine_was_moved(visits):
    moved = [*visits[:2], replace(visits[2], adjusted=True), visits[3]]
    assert since_adjusted(moved[::-1]) == tuple(moved[2:])
    assert all(len(each.dates) == 2 for each in trends(moved))
    with pytest.raises(GeometryError, match="two or more visits on different dates since"):
        trends([*visits[:3], replace(visits[3], adjusted=True)])
    with pytest.raises(GeometryError, match="two or more visits"):
        trends([visits[0], replace(visits[1], date=visits[0].date)])
