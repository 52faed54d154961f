"""Measured influences: their file, what can be wrong with it, and how readings of lifted feet make one."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from scenes.corrections.bed_feet import influence_at
from scenes.corrections.influence_file import influence_text, read_influence, read_influence_text
from scenes.corrections.influence_readings import influence_from_lifts, lift_of_visit
from scenes.corrections.planned_moves import moves_of
from scenes.corrections.soft_foot_file import read_gaps, read_gaps_text
from scenes.errors import GeometryError, ReadingsError
from scenes.layout.read import read_layout
from scenes.model.survey import Feet
from scenes.model.truth import Truth
from scenes.readings.truth_file import read_truth
from scenes.reductions.survey import reduce_survey
from scenes.uncertainty.simulate import simulated

EXAMPLE = Path(__file__).parents[2] / "examples" / "press_bed"
FEET = Feet("bed", ("F1", "F2", "F3"), np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]]), True, 1e-3)
GOOD = "station,F1 [um/mm],F2 [mm/mm],F3 [um/mm]\nA,1000,0,0\nB,250,0.25,500\n"
STATIONS = ("A", "B")


def problems(text: str) -> str:
    with pytest.raises(ReadingsError) as caught:
        read_influence_text(text, FEET, STATIONS, "influence.csv")
    return str(caught.value)


def test_units_columns_in_any_order_and_loads():
    found = read_influence_text(GOOD, FEET, STATIONS)
    np.testing.assert_allclose(found.matrix, [[1, 0, 0], [0.25, 0.25, 0.5]])
    assert found.own_loads is None
    other = "F3 [um/mm];station;F2 [um/mm];F1 [um/mm]\n500;B;250;250\n0;A;0;1000\n"
    np.testing.assert_allclose(read_influence_text(other, FEET, STATIONS).matrix, found.matrix)
    loads = GOOD + "load,10,20,30\nload change F1,2,-1,-1\nload change F2,-1,2,-1\nload change F3,-1,-1,2\n"
    found = read_influence_text(loads, FEET, STATIONS)
    np.testing.assert_allclose(found.own_loads, [1e4, 2e4, 3e4])
    np.testing.assert_allclose(found.load_change, 1e6 * (3 * np.eye(3) - 1))


@pytest.mark.parametrize(
    ("old", "new", "place", "words"),
    [
        ("F2 [mm/mm]", "F9 [mm/mm]", "line 1, column 3", "have no 'F9 [mm/mm]'"),
        ("F2 [mm/mm]", "F1 [mm/mm]", "line 1, column 3", "two columns hold F1"),
        ("F2 [mm/mm]", "F2", "line 1, column 3", "has no unit"),
        ("F2 [mm/mm]", "F2 [kN]", "line 1, column 3", "write um/mm or mm/mm"),
        ("0.25", "x", "line 3, column 3", "'x' is not a number"),
        ("250,", ",", "line 3, column 2", "nothing stands here"),
        ("0.25", "250", "line 3, column 3", "250 times as much"),
        ("B,", "A,", "line 3, column 1", "A stands twice"),
        ("B,", "C,", "influence.csv", "no row for B"),
        ("A,1000,0,0\nB,250,0.25,500", "A,-1000,0,0\nB,-250,-0.25,-500", "line 1", "other way round"),
        ("A,1000,0,0\nB,250,0.25,500", "A,1000,-0.1,0\nB,250,-0.25,500", "line 1", "F2 lowers every station"),
        ("station,", "place,", "influence.csv", "station"),
    ],
)
def test_every_problem_is_told_at_its_place(old, new, place, words):
    said = problems(GOOD.replace(old, new, 1))
    assert place in said
    assert words in said


def test_a_file_that_is_not_there(tmp_path):
    with pytest.raises(ReadingsError, match="no such file"):
        read_influence(tmp_path / "none.csv", FEET, STATIONS)


@pytest.fixture(scope="module")
def lifted():
    """The press bed, read as found and with each of its feet lifted by half a millimetre."""
    layout = read_layout(EXAMPLE / "layout.yaml")
    truth = read_truth(EXAMPLE / "truth.csv", layout)
    names = tuple(name for name, station in layout.stations.items() if station.surface == "bed")
    rows = influence_at(layout, layout.feet["bed"], names).matrix
    visits = {"as found": np.zeros(6)}
    visits |= {f"lift F{k + 1} 0.5 mm": 0.5e-3 * np.eye(6)[k] for k in range(6)}
    rng, found = np.random.default_rng(2), []
    for visit, lifts in visits.items():
        up = {name: truth.up.get(name, 0.0) + float(row @ lifts) for name, row in zip(names, rows, strict=True)}
        found.append((visit, Truth(up)))
    return layout, names, rows, found, rng


def surveyed(lifted, perfect):
    layout, _, _, found, rng = lifted
    results = [
        reduce_survey(layout, simulated(layout, rng, truth, visit=visit, perfect=perfect).readings, trials=50)
        for visit, truth in found
    ]
    return replace(
        results[0],
        visits=tuple(visit for visit, _ in found),
        measured=tuple(each for result in results for each in result.measured),
    )


@pytest.mark.parametrize("perfect", [True, False])
def test_lifting_one_foot_at_a_time_tells_the_influence(lifted, perfect, tmp_path):
    layout, names, rows, *_ = lifted
    feet = layout.feet["bed"]
    found = influence_from_lifts(layout, surveyed(lifted, perfect), feet, "bed flatness", "as found")
    order = [names.index(name) for name in found.stations]
    plane = np.column_stack([np.ones(len(order)), [layout.stations[name].at[:2] for name in found.stations]])
    at_feet = np.column_stack([np.ones(6), feet.at])
    np.testing.assert_allclose(found.matrix @ at_feet, plane, atol=1e-9)  # lifts by a plane move all by that plane
    off = found.matrix - rows[order]
    off -= plane @ np.linalg.lstsq(plane, off, rcond=None)[0]  # of a plane of its own flatness tells nothing
    if perfect:
        assert np.abs(off).max() < 1e-4
    else:
        assert np.mean(np.abs(off) <= 2.5 * found.u) > 0.95
        assert 0.0 < found.known_to < 0.5
    path = tmp_path / "influence.csv"
    path.write_text(influence_text(feet, found.stations, found.matrix), encoding="utf-8")
    measured = surveyed(lifted, True).measured[0]
    own = replace(feet, influence="measured", influence_file=str(path))
    moves = moves_of(replace(layout, feet={"bed": own}), measured)
    model = moves_of(layout, measured)
    assert moves.movers.kind == "measured"
    loose = moves_of(replace(layout, feet={"bed": replace(feet, weight=1e9)}), measured)  # loads limit nothing
    assert moves.bound == pytest.approx(loose.bound, abs=1e-7 if perfect else 5e-6)
    assert model.bound >= loose.bound - 1e-9


def test_what_lifts_do_not_tell_is_explained(lifted):
    layout, *_ = lifted
    survey, feet = surveyed(lifted, True), layout.feet["bed"]
    with pytest.raises(GeometryError, match="No visit lifts F6"):
        influence_from_lifts(layout, replace(survey, visits=survey.visits[:-1]), feet, "bed flatness", "as found")
    with pytest.raises(GeometryError, match="does not determine"):
        influence_from_lifts(layout, survey, feet, "bed flatness", "as left")
    with pytest.raises(GeometryError, match="lifts no foot"):
        influence_from_lifts(layout, replace(survey, visits=("lift F7 1 mm",)), feet, "bed flatness", "as found")
    assert lift_of_visit("lift F1 0.5 mm") == ("F1", pytest.approx(0.5e-3))
    assert lift_of_visit("Lift north east -20 um") == ("north east", pytest.approx(-20e-6))
    assert lift_of_visit("as found") is None
    with pytest.raises(GeometryError, match="tells no lift"):
        lift_of_visit("lift F1 3 kg")


def test_gaps_of_soft_feet(tmp_path):
    assert read_gaps_text("foot,gap [um]\nF1,60\nF2,\nF3,0\n") == {"F1": (pytest.approx(60e-6),), "F3": (0.0,)}
    corners = read_gaps_text("foot;corner 1 [mm];corner 2 [mm];corner 3 [mm];corner 4 [mm]\nF1;0,1;0,2;0,1;0,2\n")
    assert corners["F1"] == pytest.approx((1e-4, 2e-4, 1e-4, 2e-4))
    path = tmp_path / "gaps.csv"
    path.write_text("foot,gap [um]\nF1,60\n", encoding="utf-8")
    assert read_gaps(path) == {"F1": (pytest.approx(60e-6),)}
    for text, words in (("foot,gap\nF1,60\n", "no unit"), ("foot,gap [um]\nF1,-60\n", "between 0 and 20 mm"),
                        ("foot,gap [um]\nF1,60\nF1,50\n", "stands twice"), ("gap [um],x\n60,1\n", "no column foot"),
                        ("foot,x\nF1,2\n", "no column gap")):  # fmt: skip
        with pytest.raises(ReadingsError, match=words):
            read_gaps_text(text)
