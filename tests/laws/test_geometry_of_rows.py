"""Rows as arrays: which detector stands where, in whose beam, and on which surface."""

from __future__ import annotations

import tracemalloc
from dataclasses import fields, replace

import numpy as np
import pytest

from scenes.model.machine import Moves
from scenes.tracing.geometry import survey_geometry
from scenes.tracing.rows import planned_rows
from scenes.tracing.sensitivity import channel_slopes
from scenes.tracing.spots import spots
from scenes.tracing.state import NOMINAL, RowState

PICOMETRE, NANOMETRE = 1e-12, 1e-9
ASIDE = np.array([0.0, 1.0, 0.0])


def test_a_target_that_is_read_through_stands_on_its_own_foot(beams):
    """Which target is read decides how high its centre is, not the one that the station names by itself."""
    tall = replace(beams.glass, name="tall", centre_height=0.034)
    layout = beams.layout(beams.line(1.0, 3.0), glass=(tall,), through=("tall", "t1"))
    seen = spots(beams.geometry(layout))
    assert seen.v == pytest.approx([-4e-3, 0.0], abs=PICOMETRE)


def test_a_line_bucked_in_on_see_through_targets_runs_through_their_centres(beams):
    tall = replace(beams.glass, name="tall", centre_height=0.034)
    layout = beams.layout(beams.line(1.0, 3.0, 6.0), glass=(tall, beams.glass), through=("tall", "g1", "t1"),
                          near="P1", far="P3")  # fmt: skip
    seen = spots(beams.geometry(layout))
    askew = 2.0 * 3e-3 * (1.0 - 1.0 / 1.515) * 4e-3 / 5.0  # displaced by the plates of P1 and P2
    assert seen.v[[0, 2]] == pytest.approx([0.0, askew], abs=NANOMETRE)
    assert seen.v[1] == pytest.approx(4e-3 * 3.0 / 5.0 + 0.5 * askew, abs=10.0 * NANOMETRE)


def warm(layout):
    bed = replace(layout.surfaces["bed"], material="cast iron", temperature=303.15, across=2.0)
    return replace(layout, surfaces={"bed": bed})


def test_a_line_is_bucked_in_on_targets_where_the_warm_machine_holds_them(beams):
    stations = beams.line(1.0, 3.0, 6.0)
    seen = spots(beams.geometry(warm(beams.layout(stations, near="P1", far="P3"))))
    assert seen.v[[0, 2]] == pytest.approx([0.0, 0.0], abs=PICOMETRE)
    assert seen.v[1] < -10e-6  # the bed crowns between them, so the target stands high and reads low
    held = replace(stations[0], is_datum=True), stations[1], replace(stations[2], is_datum=True)
    assert spots(beams.geometry(warm(beams.layout(held, near="P1", far="P3")))).v[0] < -20e-6  # along aim


def test_a_plane_is_levelled_on_targets_where_the_warm_machine_holds_them(beams):
    around = tuple(
        beams.station(f"S{i}", at) for i, at in enumerate([(1.0, 0.0), (-1.0, 1.0), (-1.0, -1.0), (0.0, 0.2)])
    )
    layout = beams.layout(around, base="base", at=np.array([2.0, 1.0, 0.0]), level_stations=("S0", "S1", "S2"))
    cold, hot = (spots(beams.geometry(each)).v for each in (layout, warm(layout)))
    assert np.ptp(hot[:3]) < PICOMETRE
    assert np.ptp(cold) < PICOMETRE
    assert hot[3] - hot[0] < -10e-6


def test_a_plane_is_levelled_on_detectors_with_the_arms_of_their_brackets(beams):
    """Three feet on a slope across a bed that lies askew: the detectors span another plane than their feet."""
    bracket = replace(beams.station("S", (0.0, 0.0)).mount, kind="bracket", arm=0.2)
    slanted = np.array([0.0, -np.sin(0.2), np.cos(0.2)])
    around = tuple(
        beams.station(f"S{i}", at, mount=replace(bracket, arm=arm), normal=slanted)
        for i, (at, arm) in enumerate([((1.0, 0.0), 0.2), ((-1.0, 1.0), -0.1), ((-1.0, -1.0), 0.0)])
    )
    geometry = beams.geometry(beams.layout(around, base="base", at=np.array([3.0, 2.0, 0.0])))
    heights = np.einsum("ij,ij->i", geometry.detector_centres(), geometry.launch_rotation[:, :, 2])
    assert np.ptp(heights) < PICOMETRE


def glasses(beams, *names):
    return tuple(replace(beams.glass, name=name) for name in names)


def passed_by(geometry):
    """Names of the targets that each row passes, by slot; empty where none stands."""
    rows = geometry.rows
    return [
        [rows.targets[rows.target[other]] if other >= 0 else "" for other in slots] for slots in geometry.plates.row
    ]


def test_targets_at_another_stop_of_the_prism_stand_in_another_beam(beams):
    """Three targets and three stations per stop would fit; with two the batches end where the prism is carried on."""
    stops = {2.0: ("Q1", "Q2", "Q3"), 3.0: ("R1", "R2")}
    stations = tuple(
        beams.station(name, (s - 1.4, 0.5 + 0.5 * i), along=ASIDE)
        for s, names in stops.items()
        for i, name in enumerate(names)
    )
    layout = beams.layout(stations, prism=beams.prism(stops, -np.pi / 2.0), glass=glasses(beams, "g1"),
                          through=("g1", "t1"))  # fmt: skip
    geometry = beams.geometry(layout)
    rows = geometry.rows
    assert [rows.targets[i] for i in rows.target] == ["g1", "t1", "g1", "g1", "t1"]
    assert passed_by(geometry) == [[""], ["g1"], [""], [""], ["g1"]]
    assert geometry.plates.row[:, 0].tolist() == [-1, 0, -1, -1, 3]
    assert np.all(spots(geometry).path < 6.0)


def test_targets_cannot_stand_at_two_positions_of_a_moving_part_at_once(beams):
    stations = tuple(
        beams.station(f"S{i}@{where}", (s, 0.0), position=where, carried_by="slide", surface="slide")
        for where in ("low", "high") for i, s in enumerate((0.5, 1.5, 2.5))
    )  # fmt: skip
    layout = beams.layout(stations, glass=glasses(beams, "g1"), through=("g1", "t1"))
    slide = replace(layout.surfaces["bed"], name="slide", on="bed",
                    moves=Moves(np.array([0.0, 1.0, 0.0]), {"low": 0.0, "high": 1.0}, "low"))  # fmt: skip
    geometry = beams.geometry(replace(layout, surfaces={**layout.surfaces, "slide": slide}))
    assert passed_by(geometry) == [[""], ["g1"], [""], [""], ["g1"], [""]]


@pytest.mark.parametrize("missing", [0, 3, 4])
def test_a_see_through_target_keeps_its_place_in_the_state(beams, missing):
    """So that its wedge is one error, also where a target of a batch was not read."""
    layout = beams.layout(beams.line(1.0, 2.0, 3.0, 4.0, 5.0, 6.0), glass=glasses(beams, "g1", "g2"),
                          through=("g1", "g2", "t1"))  # fmt: skip
    rows = planned_rows(layout)
    geometry = survey_geometry(layout, rows.chosen(np.delete(np.arange(6), missing)))
    named = np.array(passed_by(geometry))
    assert {name for name in named[:, 0] if name} <= {"g1"}
    assert {name for name in named[:, 1] if name} == {"g2"}
    whole = spots(survey_geometry(layout, rows), replace(NOMINAL, wedge_h=np.eye(12)[1] * 1e-4, tilt_z=1e-4))
    part = spots(geometry, replace(NOMINAL, wedge_h=np.eye(12)[1] * 1e-4, tilt_z=1e-4))
    without = [i for i in range(6) if i != missing and i // 3 != missing // 3]
    now = [i - (i > missing) for i in without]
    assert part.h[now] == pytest.approx(whole.h[without], abs=PICOMETRE)
    if missing != 4:
        assert abs(part.h[-1] - 6.0 * np.tan(-1e-4)) > 40e-6  # deviated by (n - 1) times the wedge


def test_targets_that_change_their_order_are_told_by_the_order_of_the_light(beams):
    """No place in the state suits a target that is first in one beam and last in another."""
    stations = beams.line(1.0, 2.0, 3.0, 5.0, 4.0)
    layout = beams.layout(stations, glass=glasses(beams, "g1", "g2"), through=("g1", "g2", "t1"))
    turned = replace(layout.setups["beam"], name="turned", reads=("P3", "P2", "P1"), through=("g1", "g2", "t1"))
    geometry = beams.geometry(replace(layout, setups={**layout.setups, "turned": turned}))
    assert passed_by(geometry)[2] == ["g1", "g2"]
    assert passed_by(geometry)[5:] == [["t1", "g2"], ["t1", ""], ["", ""]]


def test_a_reading_depends_on_its_own_row_of_the_state_alone(beams):
    """Slopes are read off the rows of one trace, so nothing of another row may reach a reading."""
    layout = beams.layout(beams.line(1.0, 2.5, 4.0), glass=glasses(beams, "g1", "g2"), through=("g1", "g2", "t1"))
    geometry = beams.geometry(layout)
    askew = replace(NOMINAL, tilt_y=1e-3, tilt_z=-2e-3)
    still = spots(geometry, askew)
    rng = np.random.default_rng(1)
    for field in fields(RowState):
        plates = field.name.startswith(("wedge", "plate"))
        moved = 1e-3 * rng.standard_normal((2, 12) if plates else 2) * (1e-6 if field.name.startswith("drift") else 1.0)
        value = np.concatenate([moved, np.zeros((1, 12)) if plates else np.zeros(1)])
        seen = spots(geometry, replace(askew, **{field.name: np.asarray(getattr(askew, field.name)) + value}))
        for channel in ("h", "v", "pitch", "yaw"):
            assert getattr(seen, channel)[2] == pytest.approx(getattr(still, channel)[2], abs=1e-15), field.name


def test_slopes_of_a_large_survey_are_those_of_its_parts_and_keep_a_small_memory(beams):
    names = tuple(f"g{i}" for i in range(11))
    layout = beams.layout(
        beams.line(*np.linspace(0.5, 40.0, 2400)), glass=glasses(beams, *names), through=(*names, "t1")
    )
    geometry = beams.geometry(layout)
    fields_ = ("deviation", "tilt_y", "plate_nod.0", *(f"wedge_h.{k}" for k in range(11)), "wedge_v.10", "lift")
    tracemalloc.start()
    whole = channel_slopes(geometry, fields_)
    most = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert most < 100e6
    first = np.arange(24)
    part = channel_slopes(geometry.chosen(first), fields_)
    for channel in ("h", "v"):
        for name in fields_:
            assert part[channel][name] == pytest.approx(whole[channel][name][first], abs=1e-9)
    last = 11  # the deviation by a wedge from the fourth target on, of the twelfth of the first batch
    way = geometry.foot[last, 0] - geometry.foot[3, 0]
    assert whole["h"]["wedge_h.3"][last] == pytest.approx(0.515 * way, rel=0.2)
    assert whole["h"]["wedge_h.3"][3] == 0.0


@pytest.mark.parametrize("turned", [0.0, -np.pi / 2.0, np.pi / 2.0, 0.6])
def test_the_emitter_stands_upright_at_either_end_of_a_reversed_base_line(beams, turned):
    """The prism is turned over about its exit, the emitter is carried: what raises its beam raises it on both sides."""
    exit_ = np.array([0.0, -np.sin(turned), np.cos(turned)])
    at = np.array([0.6, 0.0, beams.axis]) + 1.5 * exit_
    across = (beams.station("Q1", at, along=exit_, normal=np.cross([1.0, 0.0, 0.0], exit_)),)
    datum = tuple(beams.station(n, (x, 0.0), is_datum=True) for n, x in (("near", -1.0), ("far", 4.0)))
    layout = beams.layout((*datum, *across), near="near", far="far", reversed=True,
                          prism=beams.prism({2.0: ("Q1",)}, turned))  # fmt: skip
    geometry = beams.geometry(layout)
    assert geometry.launch_rotation[:, :, 2] == pytest.approx(np.tile([0.0, 0.0, 1.0], (6, 1)), abs=1e-15)
    assert np.sign(geometry.launch_rotation[:, 0, 0]).tolist() == [1, 1, 1, -1, -1, -1]
    assert np.linalg.det(geometry.launch_rotation) == pytest.approx(np.ones(6))
    rising = spots(geometry, replace(NOMINAL, drift=1e-8)).v[[0, 1, 3, 4]]
    assert np.all(rising[1:] > 1e-9)
    assert spots(geometry).hit[[2, 5]] == pytest.approx(geometry.detector_centres()[[2, 5]], abs=0.2)
