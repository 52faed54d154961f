"""The pentaprism against recorded figures.

Source: pentaprism-checks-a.json, kept beside the repository: closed forms of the two-mirror deviator, with the
literature named in the record. Its model is ours: edge along +z, incoming beam +x, outgoing +y; angles in seconds
of arc.
"""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from scenes.tracing.pentaprism import through_pentaprism
from scenes.vectors import rotation_from_vector

RECORD = Path(__file__).parents[2].parent / "shared" / "reference" / "pentaprism-checks-a.json"
ARCSEC = np.pi / 180.0 / 3600.0
DEGREE = np.pi / 180.0
PRINTED = 0.5e-6  # seconds of arc: the figures carry six decimals
ROUNDING = 1e-9  # seconds of arc, 5e-15 rad
SIDE, GLASS = 0.03, 1.5151
X, Y, Z = np.eye(3)


@pytest.fixture(scope="module")
def figures():
    if not RECORD.exists():
        pytest.skip(f"the recorded figures {RECORD.name} are not beside the repository")
    record = json.loads(RECORD.read_text(encoding="utf-8"))
    assert record["unit"] == "arcsec unless said"
    return record["expected"]


def exit_of(turn=0.0 * X, beam=X, **prism):
    """Exit in the world of a prism turned by the vector ``turn`` [rad]."""
    world_from_prism = rotation_from_vector(turn)
    errors = {"aperture": SIDE, "index": GLASS} | prism
    path = through_pentaprism(0.0 * X, world_from_prism.T @ beam, **errors)
    return world_from_prism @ path.direction


def beyond_square(beam, leaving):
    """Angle between in and out beyond 90 degrees, seconds of arc."""
    return -np.arcsin(beam @ leaving) / ARCSEC


@pytest.mark.parametrize("index", [1.0, GLASS])
def test_error_of_the_angle_between_the_mirrors(figures, index):
    """The record speaks of the mirrors alone; the exit face refracts their error by the index."""
    deviation = beyond_square(X, exit_of(index=index, mirror=ARCSEC)) / index
    assert abs(deviation) == pytest.approx(figures["dihedral_error_1_arcsec_changes_deviation_by"], abs=1e-6)
    assert deviation < 0.0  # + turns the exit toward the way of the beam: the angle closes


@pytest.mark.parametrize("yaw", [0.1, 1.0, 5.0])
def test_yaw_about_the_edge(figures, yaw):
    change = beyond_square(X, exit_of(yaw * DEGREE * Z))
    assert change == pytest.approx(figures["yaw_of_prism_about_edge_any_angle_changes_exit_by"], abs=ROUNDING)


@pytest.mark.parametrize("roll", [-2.0, 0.1, 30.0])
def test_roll_about_the_incoming_beam(figures, roll):
    assert figures["roll_about_incoming_beam_rho"] == (
        "angle in-out stays exactly 90 deg; exit leaves the plane by exactly rho"
    )
    leaving = exit_of(roll * DEGREE * X)
    assert abs(beyond_square(X, leaving)) < ROUNDING
    assert np.arcsin(leaving[2]) / ARCSEC == pytest.approx(roll * DEGREE / ARCSEC, abs=ROUNDING)


def test_roll_about_the_outgoing_beam(figures):
    expected = figures["roll_about_outgoing_beam_0.1deg"]
    leaving = exit_of(0.1 * DEGREE * Y)
    assert beyond_square(X, leaving) == pytest.approx(expected["angle_in_out_minus_90"], abs=PRINTED)
    assert abs(np.arcsin(leaving[2])) / ARCSEC == pytest.approx(expected["out_of_plane"], abs=0.5e-4)  # four decimals


@pytest.mark.parametrize("key", ["0.1deg", "1deg"])
def test_beam_out_of_the_plane(figures, key):
    expected = figures["beam_out_of_plane_eps"]
    assert expected["exact"] == "angle between in and out = arccos(sin^2 eps)"
    eps = float(key.removesuffix("deg")) * DEGREE
    beam = np.array([np.cos(eps), 0.0, np.sin(eps)])
    leaving = exit_of(beam=beam)
    short = -beyond_square(beam, leaving)
    assert short == pytest.approx(expected[key], abs=PRINTED)
    assert short == pytest.approx((0.5 * np.pi - np.arccos(np.sin(eps) ** 2)) / ARCSEC, abs=ROUNDING)


def test_offset_of_a_long_exit(figures):
    leaving = exit_of(index=1.0, mirror=0.025 * DEGREE)
    assert 120.0 * leaving[0] / leaving[1] == pytest.approx(figures["0.05deg_exit_error_at_120_inch_in"], abs=0.5e-4)
