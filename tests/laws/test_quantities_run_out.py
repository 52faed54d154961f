"""Run-out of a roll and of a face that are turned past their targets, against closed forms of the truth put in."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from scenes.errors import GeometryError

NANOMETRE = 1e-9
NANORADIAN = 1e-9


def component(result, name=""):
    return next(each for each in result.components if each.name == name)


def lobed(layout, ecc=20e-6, high=0.7, lobes=8e-6, bow=(0.0, 5e-6, -10e-6), letter="P"):
    """Deviations of a roll that runs eccentric, with three lobes, and higher at some places than at others."""
    return {
        name: ecc * np.cos(each.turn - high) + lobes * np.cos(3.0 * each.turn) + bow[int(name[1])]
        for name, each in layout.stations.items()
        if name.startswith(letter)
    }


def test_radial_run_out_eccentricity_and_what_is_beside(surveys, crew):
    layout = surveys.turned_roll()
    up = lobed(layout)
    found = crew.measured(layout, crew.readings(layout, {"deviation": up}, errors=False), "run-out")
    for place, bow in zip(("P0", "P1", "P2"), (0.0, 5e-6, -10e-6), strict=True):
        mine = np.array([value for name, value in up.items() if name.startswith(place)])
        assert component(found, place).value == pytest.approx(np.ptp(mine), abs=NANOMETRE)
        assert component(found, f"{place} eccentricity").value == pytest.approx(20e-6, abs=NANOMETRE)
        assert component(found, f"{place} high at").value == pytest.approx(0.7, abs=1e-4)
        turns = np.arange(8) * np.pi / 4
        rest = mine - bow - 20e-6 * np.cos(turns - 0.7)
        assert component(found, f"{place} beside the circle").value == pytest.approx(np.ptp(rest), abs=NANOMETRE)
        assert component(found, place).verdict is not None
        assert component(found, f"{place} eccentricity").verdict is None


def test_an_eccentric_round_part_runs_out_by_twice_its_eccentricity(surveys, crew):
    layout = surveys.turned_roll(places=1)
    up = lobed(layout, high=0.0, lobes=0.0)
    found = crew.measured(layout, crew.readings(layout, {"deviation": up}, errors=False), "run-out")
    assert component(found).value == pytest.approx(2.0 * component(found, "eccentricity").value, abs=NANOMETRE)
    assert component(found, "beside the circle").value < NANOMETRE


def test_what_the_target_and_its_seat_are_off_by_cancels_in_one_place(surveys, crew):
    """The target stays where it is: only readings, moving air and drift are left, not mount or zero."""
    layout = surveys.turned_roll(places=1)
    found = crew.measured(layout, crew.readings(layout, lobed_truth(layout)), "run-out")
    budget = dict(component(found).budget)
    assert not {"height of the mount", "seating of the mount", "zero of the detector"} & set(budget)
    assert component(found).linear_u < 5e-6


def lobed_truth(layout):
    return {"deviation": lobed(layout)}


def test_total_run_out_counts_along_a_datum(surveys, crew):
    layout = surveys.turned_roll(total=True)
    up = lobed(layout)
    beside = {"D0": 4e-6, "D1": 0.0, "D2": -4e-6}
    readings = crew.readings(layout, {"deviation": {**up, **beside}}, errors=False)
    found = crew.measured(layout, readings, "run-out")
    slope = -8e-6 / 1.6
    x = {"P0": -0.8, "P1": 0.0, "P2": 0.8}
    wanted = np.ptp([value - slope * x[name[:2]] for name, value in up.items()])
    assert component(found, "total").value == pytest.approx(wanted, abs=10 * NANOMETRE)
    largest = max(component(found, place).value for place in x)
    assert component(found, "total").value >= largest - NANOMETRE
    alone = replace(layout, tasks={"run-out": replace(layout.tasks["run-out"], to="")})
    told = crew.measured(alone, readings, "run-out")
    assert [each.component for each in told.unreached] == ["total"]
    assert "name a datum along it" in told.unreached[0].reason


def test_axial_run_out_of_a_face(surveys, crew):
    """A face that leans by t runs out by twice t times the radius."""
    layout = surveys.turned_face()
    lean = 50e-6
    ahead = {
        name: lean * np.linalg.norm(each.at) * np.cos(each.turn - 1.0) for name, each in layout.stations.items()
    }  # fmt: skip
    found = crew.measured(layout, crew.readings(layout, {"deviation": ahead}, errors=False), "run-out")
    for place, radius in (("F0", 0.1), ("F1", 0.2)):
        assert component(found, f"{place} eccentricity").value == pytest.approx(lean * radius, abs=NANOMETRE)
        mine = [value for name, value in ahead.items() if name.startswith(place)]
        assert component(found, place).value == pytest.approx(np.ptp(mine), abs=NANOMETRE)


def wavy_face(layout, lean=50e-6, dish=2e-4, lobes=4e-6):
    """Deviations of a face that leans, is dished and has three lobes, from the plane square to its axis."""
    found = {}
    for name, each in layout.stations.items():
        r, body = np.hypot(*each.at[:2]), np.arctan2(each.at[1], each.at[0]) - each.turn
        found[name] = lean * r * np.cos(body - 0.4) + dish * r**2 + lobes * np.cos(3.0 * body)
    return found


@pytest.mark.parametrize("slope", [0.0, 3e-4])
def test_total_run_out_of_a_face_does_not_count_how_the_light_lies(surveys, crew, slope):
    """Places on both sides of the axis tell it, though light that leans by 300 um per m shows far more."""
    layout = surveys.crossed_face()
    ahead = wavy_face(layout)
    seen = {name: value + slope * layout.stations[name].at[1] for name, value in ahead.items()}
    found = crew.measured(layout, crew.readings(layout, {"deviation": seen}, errors=False), "run-out")
    assert component(found, "total").value == pytest.approx(np.ptp(list(ahead.values())), abs=2 * NANOMETRE)
    assert component(found, "total").verdict is not None
    assert component(found, "total").value >= max(component(found, f"F{i}").value for i in range(4)) - NANOMETRE


def test_total_run_out_of_a_face_from_one_side_stays_open(surveys, crew):
    """On one side a light that leans looks like a face that is a cone."""
    for layout in (surveys.crossed_face(radii=(0.1, 0.2)), surveys.crossed_face(radii=(-0.1, 0.2))):
        found = crew.measured(layout, crew.readings(layout, errors=False), "run-out")
        assert [each.component for each in found.unreached] == ["total"]
        assert "both sides of the axis" in found.unreached[0].reason


def test_total_run_out_of_a_face_covers_the_truth(surveys, crew):
    layout = surveys.crossed_face(radii=(-0.2, 0.2))
    ahead = wavy_face(layout)
    wanted, inside = np.ptp(list(ahead.values())), []
    for seed in range(25):
        found = crew.measured(layout, crew.readings(layout, {"deviation": ahead}, seed), "run-out", trials=500)
        inside.append(abs(component(found, "total").value - wanted) <= component(found, "total").expanded_uncertainty)
    assert np.mean(inside) >= 0.76  # as below


def test_run_out_covers_the_truth(surveys, crew):
    layout = surveys.turned_roll(places=1)
    truth = lobed(layout)
    wanted = np.ptp(list(truth.values()))
    inside = []
    for seed in range(25):
        found = crew.measured(layout, crew.readings(layout, {"deviation": truth}, seed), "run-out", trials=500)
        inside.append(abs(component(found).value - wanted) <= component(found).expanded_uncertainty)
    assert np.mean(inside) >= 0.76  # of 25, fewer than 19 happen by chance less than once in 1000


def test_one_turn_is_no_run_out(surveys, crew):
    layout = surveys.turned_roll(places=1)
    readings = crew.readings(layout, errors=False)
    kept = readings.chosen(np.array([i for i, name in enumerate(readings.station) if name.endswith("@0")]))
    with pytest.raises(GeometryError, match="read it at two turns or more"):
        crew.measured(layout, kept, "run-out")
