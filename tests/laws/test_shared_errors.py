"""Which readings share one value of an error: the same thing errs alike wherever it is met, another one by itself."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from scenes.model.devices import Vial
from scenes.model.mounts import Mount
from scenes.model.readings import Readings
from scenes.model.survey import LevelBy
from scenes.tracing.geometry import survey_geometry
from scenes.tracing.rows import planned_rows, rows_of_readings
from scenes.tracing.spots import spots
from scenes.uncertainty.sources import sources_of

DISCS = Mount("discs", 0.0, 0.0, 0.0, 1e-6, 0.0, eccentric_known_to=10e-6)


def named(layout, name, field=""):
    """The sources of that name, or the one that moves ``field``."""
    found = [each for each in sources_of(layout, survey_geometry(layout, planned_rows(layout))) if each.name == name]
    return found if not field else next(each for each in found if each.field == field)


def rings(beams, *mounts, clocks=()):
    return tuple(
        beams.station(f"B{i + 1}", (-0.4 + 0.5 * i, 0.0, beams.axis), mount=mount, clocks=clocks)
        for i, mount in enumerate(mounts)
    )


def test_an_emitter_drifts_on_while_it_is_turned_in_its_v(beams):
    """One rate for the set-up: the beam against its housing is the same right before and right after the turn."""
    layout = beams.layout(beams.line(1.0, 2.0, 3.0), reversed=True)
    for field in ("drift", "drift_side"):
        assert len(set(named(layout, "drift of the emitter", field).group)) == 1
    two = {"beam": layout.setups["beam"], "two": replace(layout.setups["beam"], name="two")}
    apart = named(replace(layout, setups=two), "drift of the emitter", "drift").group
    assert len(set(apart[:6])) == len(set(apart[6:])) == 1
    assert apart[0] != apart[6]


def test_discs_of_another_size_have_an_eccentricity_of_their_own(beams):
    narrow, wide = replace(DISCS, diameter=0.18), replace(DISCS, diameter=0.20)
    for field in ("eccentric_h", "eccentric_v"):
        one = named(beams.layout(rings(beams, narrow, narrow, wide)), "eccentricity in the bore", field).group
        assert one[0] == one[1] != one[2]


def test_brackets_of_another_reach_are_other_brackets(beams):
    short = Mount("bracket", 0.12, 0.0, 0.3, 1e-6, 20e-6, arm=0.05)
    stations = tuple(beams.station(f"P{i}", (0.1 * i, 0.0), mount=replace(short, arm=arm))
                     for i, arm in enumerate((0.05, 0.05, 0.08)))  # fmt: skip
    group = named(beams.layout(stations), "height of the mount", "mount").group
    assert group[0] == group[1] != group[2]


def test_a_mount_stands_aside_by_the_same_amount_at_every_seating(beams):
    post = replace(beams.line(1.0)[0].mount, side_known_to=50e-6)
    other = replace(beams.target, name="t2")
    stations = beams.line(1.0, 2.0, 3.0, mount=post)
    layout = beams.layout((*stations[:2], replace(stations[2], target="t2")), glass=(other,))
    source = named(layout, "place of the mount sideways", "mount_side")
    assert source.group[0] == source.group[1] != source.group[2]
    assert source.u == pytest.approx(np.full(3, 50e-6))


def test_a_target_that_marks_a_datum_stands_at_no_wrong_height(beams):
    stations = beams.line(1.0, 3.0, 5.0)
    datum = replace(stations[0], is_datum=True), stations[1], replace(stations[2], is_datum=True)
    layout = beams.layout(datum, near="P1", far="P3")
    assert (named(layout, "height of the mount", "mount").u > 0.0).tolist() == [False, True, False]
    assert np.all(named(layout, "seating of the mount", "mount").u > 0.0)


@pytest.mark.parametrize(("changes", "counts"), [
    ({}, True), ({"reversed": True}, True), ({"near": "P1", "far": "P3"}, False),
    ({"near": "P1", "far": "P3", "reversed": True}, True),
])  # fmt: skip
def test_pointing_is_no_error_of_a_beam_that_is_set_by_targets(beams, changes, counts):
    """Bucked in, a beam stands where the targets say, whatever its housing does; turned in its V it shows it again."""
    layout = beams.layout(beams.line(1.0, 3.0, 5.0), **changes)
    laser = replace(layout.emitters["laser"], pointing=25e-6, parallel_offset=25e-6)
    layout = replace(layout, emitters={"laser": laser})
    found = [*named(layout, "beam against the housing"), *named(layout, "offset of the beam in its housing")]
    assert bool(found) is counts


def test_an_emitter_has_one_pointing_in_all_its_set_ups(beams):
    layout = beams.layout(beams.line(1.0, 3.0))
    lasers = {"laser": replace(layout.emitters["laser"], pointing=25e-6), "other": replace(
        layout.emitters["laser"], name="other", pointing=25e-6)}  # fmt: skip
    setup = layout.setups["beam"]
    setups = {
        "beam": setup,
        "again": replace(setup, name="again"),
        "third": replace(setup, name="third", emitter="other"),
    }
    group = named(replace(layout, emitters=lasers, setups=setups), "beam against the housing", "cone").group
    assert group[0] == group[2] != group[4]


def test_linearity_counts_the_spot_off_the_middle_either_way(beams):
    aside = replace(beams.line(1.0, 2.0)[1], at=np.array([0.6, -4e-3, 0.0]))  # the beam passes 4 mm to the left of it
    layout = beams.layout((beams.line(1.0)[0], aside))
    source = named(layout, "linearity of the detector", "noise_h")
    within = layout.setups["beam"].centred_within
    assert source.u[1] == pytest.approx(beams.target.linearity * np.hypot(4e-3, within))


def test_a_vial_levels_the_set_ups_that_it_stands_on_whatever_else_is_read(beams):
    layout = beams.layout(beams.line(1.0, 3.0), base="base", aim=None, level_by=LevelBy.VIAL, vial="level")
    vial = Vial("level", "block", 4e-6, 10e-6)
    layout = replace(layout, vials={"level": vial})
    line = replace(layout.setups["beam"], name="line", base="", aim=np.array([1.0, 0.0, 0.0]), vial="",
                   level_by=LevelBy.BEST_FIT)  # fmt: skip
    mixed = replace(layout, setups={**layout.setups, "line": line})
    for each in (named(mixed, "setting of the vial"), named(mixed, "zero of the vial")):
        assert {source.field for source in each} == {"tilt_x", "tilt_y"}
        assert all((source.u > 0.0).tolist() == [True, True, False, False] for source in each)


def test_a_base_whose_readings_state_a_side_is_not_turned_over(beams):
    """The vial was turned about, not the emitter."""
    stations = tuple(beams.station(f"S{i}", at) for i, at in enumerate([(1.0, 0.0), (0.5, 1.0), (0.0, -1.0)]))
    layout = beams.layout(stations, base="base", level_by=LevelBy.VIAL, reversed=True)
    n = 6
    readings = Readings(
        visit=("as found",) * n, setup=("beam",) * n, station=("S0", "S1", "S2") * 2, note=("",) * n, h=np.zeros(n),
        v=np.zeros(n), time=np.arange(6.0), mount_offset=np.zeros(n), file=("f",) * n, row=np.arange(n),
        side=np.array([0, 0, 0, 1, 1, 1]),
    )  # fmt: skip
    rows, _ = rows_of_readings(layout, readings, "as found", np.ones(n, dtype=bool))
    seen = spots(survey_geometry(layout, rows))
    assert seen.hit[3:] == pytest.approx(seen.hit[:3], abs=1e-12)


def records(layout, *stations, **columns):
    """Rows of one visit that reads these stations, one after the other."""
    n = len(stations)
    readings = Readings(
        visit=("as found",) * n, setup=("beam",) * n, station=stations, note=("",) * n, h=np.zeros(n), v=np.zeros(n),
        mount_offset=np.zeros(n), file=("f",) * n, row=np.arange(n), **{"time": np.arange(float(n)), **columns},
    )  # fmt: skip
    return rows_of_readings(layout, readings, "as found", np.ones(n, dtype=bool))[0]


def test_targets_that_stand_in_one_beam_are_seated_once_however_often_they_are_read(beams):
    layout = beams.layout(beams.line(1.0, 2.0, 3.0, 4.0), glass=(beams.glass,), through=("g1", "t1"))
    rows = records(layout, "P1", "P2", "P1", "P2", "P3", "P4", "P3", "P1", "P2")
    one, two, three, four, again, anew = rows.seat[[0, 1, 4, 5, 7, 8]]
    assert rows.seat.tolist() == [one, two, one, two, three, four, three, again, anew]
    assert len({one, two, three, four, again, anew}) == 6
    alone = beams.layout(beams.line(1.0, 2.0))
    assert records(alone, "P1", "P2", "P1", "P1").seat.tolist() == [0, 1, 2, 2]


def test_a_machine_whose_temperature_is_only_known_to_be_about_right_is_uncertain(beams):
    layout = beams.layout(beams.line(1.0, 2.0))
    bed = replace(layout.surfaces["bed"], material="cast iron", temperature_known_to=2.0)
    source = named(replace(layout, surfaces={"bed": bed}), "temperature of the machine", "deviation")
    assert source.u == pytest.approx(np.full(2, 2.0 * 10.8e-6 * 0.35), rel=0.1)


def test_targets_that_are_read_at_once_are_read_at_one_time(beams):
    """So that the drift of the beam is the same for all of them; the pace counts looks and not readings."""
    layout = beams.layout(beams.line(1.0, 2.0, 3.0, 4.0, 5.0), glass=(beams.glass,), through=("g1", "t1"),
                          again=("P1",), seconds_per_reading=30.0, reversed=True)  # fmt: skip
    assert (planned_rows(layout).time / 30.0).tolist() == [0, 0, 1, 1, 2, 3, 4, 4, 5, 5, 6, 7]
    looked = records(layout, "P1", "P2", "P1", "P2", "P3", "P4", time=np.full(6, np.nan))
    assert (looked.time / 30.0).tolist() == [0, 0, 1, 1, 2, 2]
    rings_ = rings(beams, DISCS, DISCS, clocks=(0.0, np.pi))
    assert (planned_rows(beams.layout(rings_, seconds_per_reading=30.0)).time / 30.0).tolist() == [0, 1, 2, 3]
    spindle = beams.layout(beams.line(1.0, 2.0), clocks=(0.0, np.pi), seconds_per_reading=30.0)
    assert (planned_rows(spindle).time / 30.0).tolist() == [0, 1, 2, 3]
