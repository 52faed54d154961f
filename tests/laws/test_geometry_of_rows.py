"""Rows as arrays: which detector stands where, in whose beam, and on which surface."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from scenes.tracing.spots import spots

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
