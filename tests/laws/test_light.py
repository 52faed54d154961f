"""Laws of the traced plane: planes, cones, bent beams, and the slopes of the model."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenes.frames import pose_from_turn
from scenes.model.layout import Air
from scenes.tracing.geometry import survey_geometry
from scenes.tracing.rows import planned_rows
from scenes.tracing.sensitivity import sensitivities
from scenes.tracing.spots import beams, spots
from scenes.tracing.state import FIELDS, NOMINAL, changed

NANOMETRE = 1e-9
ROUNDING = 1e-14  # metres; a few units in the last place of coordinates of some metres


@pytest.fixture
def plate(bench):
    layout = bench.layout()
    return survey_geometry(layout, planned_rows(layout))


def off_plane(geometry, values):
    """What a plane over the detector centres leaves of some values."""
    centres = geometry.detector_centres()
    design = np.column_stack([np.ones(len(values)), centres[:, :2]])
    return values - design @ np.linalg.lstsq(design, values, rcond=None)[0]


def test_a_level_beam_through_all_centres_reads_zero_everywhere(bench):
    layout = bench.layout(tripod=replace(bench.layout().setups["plane"].mount, height=0.90))
    seen = spots(survey_geometry(layout, planned_rows(layout)))
    # floor 0: tripod 0.90 + base 0.06 + beam 0.04 meets bed 0.85 + post 0.12 + target 0.03
    assert np.max(np.abs(seen.v)) < ROUNDING
    assert np.max(np.abs(seen.h)) < ROUNDING


def test_a_high_surface_reads_low_by_the_same_amount(plate):
    rng = np.random.default_rng(1)
    deviation = rng.normal(0.0, 50e-6, len(plate.rows))
    seen = spots(plate, replace(NOMINAL, deviation=deviation))
    assert np.max(np.abs(seen.v + deviation)) < ROUNDING


@settings(max_examples=1000, deadline=None)
@given(st.floats(-1e-3, 1e-3), st.floats(-1e-3, 1e-3), st.floats(-1e-3, 1e-3))
def test_tilt_and_lift_of_the_base_stay_a_plane(tilt_x, tilt_y, lift):
    """The swept surface is exactly flat: readings are those of one plane, whatever the attitude of the base."""
    geometry = test_tilt_and_lift_of_the_base_stay_a_plane.geometry
    seen = spots(geometry, replace(NOMINAL, tilt_x=tilt_x, tilt_y=tilt_y, lift=lift))
    hits = seen.hit - seen.hit.mean(axis=0)
    assert np.linalg.svd(hits, compute_uv=False)[2] < 1e-13


@pytest.fixture(autouse=True)
def _geometry_for_properties(plate):
    test_tilt_and_lift_of_the_base_stay_a_plane.geometry = plate


def test_a_rising_beam_makes_a_cone_of_height_angle_times_radius(plate):
    """Closed form: at radius R from the axis the beam stands R tan(cone) higher."""
    cone = 50e-6
    seen = spots(plate, replace(NOMINAL, cone=cone))
    radius = np.hypot(*(seen.hit - plate.launch_origin)[:, :2].T)
    assert np.max(np.abs(seen.v - radius * np.tan(cone))) < ROUNDING
    assert np.ptp(off_plane(plate, seen.v)) > 5e-6  # a plane fit does not remove it


def test_a_tilted_base_is_removed_by_a_plane_fit(plate):
    seen = spots(plate, replace(NOMINAL, tilt_x=1e-4, tilt_y=-2e-4))
    assert np.ptp(seen.v) > 1e-4
    # what is left is of second order in the tilt (1e-8) times metres
    assert np.ptp(off_plane(plate, seen.v)) < 30 * NANOMETRE


def test_tilt_signs_follow_the_right_hand(plate):
    """A turn about +x lifts what lies at +y; a turn about +y lowers what lies at +x."""
    about_x = spots(plate, replace(NOMINAL, tilt_x=1e-5)).v
    about_y = spots(plate, replace(NOMINAL, tilt_y=1e-5)).v
    off = (plate.detector_centres() - plate.launch_origin)[:, :2]
    assert np.allclose(about_x, 1e-5 * off[:, 1], atol=NANOMETRE)
    assert np.allclose(about_y, -1e-5 * off[:, 0], atol=NANOMETRE)


@pytest.mark.parametrize("gradient", [0.5, -2.0])
def test_a_gradient_drops_the_beam_by_half_k_l_squared(bench, gradient):
    layout = bench.layout(air=Air(gradient=gradient))
    geometry = survey_geometry(layout, planned_rows(layout))
    seen = spots(geometry)
    drop = 0.5 * geometry.index_slope * gradient * seen.path**2
    assert np.all(np.sign(seen.v) == -np.sign(gradient))  # toward the colder side
    assert np.max(np.abs(seen.v - drop)) < 1e-12


def test_without_a_gradient_the_beam_is_straight(plate):
    light = beams(plate)
    assert not light.curvature.any()
    along = spots(plate).hit - light.origin
    assert np.max(np.abs(np.cross(along, light.direction))) < 1e-15 * 4.0


def test_the_whole_survey_may_be_moved(bench):
    """Readings do not change when machine, stands and gravity move together about the vertical."""
    here = bench.layout()
    still = spots(survey_geometry(here, planned_rows(here)), replace(NOMINAL, tilt_x=0.0, cone=2e-5, lift=1e-4))
    angle = 0.7
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    stand = turn @ np.array([-2.3, 0.2]) + [5.0, -3.0]
    moved = bench.layout(pose=pose_from_turn([5.0, -3.0, 0.85], angle), stands={"plane": tuple(stand)})
    turned = spots(survey_geometry(moved, planned_rows(moved)), replace(NOMINAL, cone=2e-5, lift=1e-4))
    assert np.allclose(still.v, turned.v, atol=1e-13)
    assert np.allclose(still.path, turned.path, atol=1e-13)


def test_slopes_agree_with_differences_through_the_whole_model(plate):
    """Each slope predicts a finite change of its field to second order."""
    rng = np.random.default_rng(5)
    state = replace(NOMINAL, cone=1e-5, aim=rng.normal(0, 1e-3, len(plate.rows)), lift=1e-3, tilt_x=1e-4)
    slopes = sensitivities(plate, FIELDS, state)
    size = {"drift": 1e-9, "gradient": 0.2, "scale": 1e-3, "lean": 1e-6, "nod": 1e-6, "swing": 1e-6}
    for field in FIELDS:
        by = size.get(field, 1e-5)
        change = spots(plate, changed(state, field, by)).v - spots(plate, state).v
        assert np.allclose(change, slopes[field] * by, rtol=2e-3, atol=2e-12), field


def test_roll_mixes_the_sideways_place_into_the_height(plate):
    """Clockwise roll as seen from the emitter: a spot on the right appears higher."""
    seen = spots(plate, replace(NOMINAL, aim=1e-3, roll=1e-2))
    assert np.allclose(seen.h, 1e-3 * np.cos(1e-2), atol=NANOMETRE)
    assert np.allclose(seen.v, 1e-3 * np.sin(1e-2), atol=NANOMETRE)


def test_right_is_to_the_right_as_seen_from_the_emitter(plate):
    toward = -plate.facing
    assert np.allclose(np.cross(toward, plate.axis_v), plate.axis_h)
    aimed = spots(plate, replace(NOMINAL, aim=2e-3))
    assert np.allclose(aimed.h, 2e-3, atol=NANOMETRE)


def test_trials_are_independent_of_each_other(plate):
    rng = np.random.default_rng(2)
    cones = rng.normal(0, 1e-5, (50, 1))
    together = spots(plate, replace(NOMINAL, cone=cones)).v
    one = spots(plate, replace(NOMINAL, cone=cones[17, 0])).v
    assert together.shape == (50, len(plate.rows))
    assert np.array_equal(together[17], one)
