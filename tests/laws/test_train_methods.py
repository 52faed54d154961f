"""Laws of reference methods through the whole train: swept prism planes, cones, reversals, clock circles, bent lines.

Frame of the surveys: the beam starts at [-1.4, 0], 0.15 above the plate, and runs along x; y is left, z up.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from scenes.model.layout import Air
from scenes.model.mounts import Mount
from scenes.model.survey import LevelBy
from scenes.tracing.air_index import temperature_slope
from scenes.tracing.pentaprism import PYRAMID_GAIN
from scenes.tracing.sensitivity import channel_slopes
from scenes.tracing.spots import aimed_azimuths, spots
from scenes.tracing.state import NOMINAL
from scenes.vectors import rotation_from_vector

TRIALS = 1000
ROUNDING = 2e-14  # metres, of places some metres from the origin
PICOMETRE = 1e-12
NANOMETRE = 1e-9
UP, LEFT, ALONG = np.array([0.0, 0.0, 1.0]), np.array([0.0, 1.0, 0.0]), np.array([1.0, 0.0, 0.0])
AT_PRISM = 2.0  # metres from the start of the beam
QUARTERS = tuple(np.arange(4) * np.pi / 2.0)


def drawn(seed, size, count=1):
    """``count`` arrays (TRIALS, 1) of even random numbers within ``size`` either way."""
    values = np.random.default_rng(seed).uniform(-size, size, (count, TRIALS, 1))
    return values[0] if count == 1 else values


def ring(beams, angles, radii):
    """Stations in the plane square to the beam at the prism: ``angles`` from up toward right, mounts along the beam."""
    on_axis = AT_PRISM - 1.4 - beams.axis
    return tuple(
        beams.station(f"R{i + 1}", (on_axis, -r * np.sin(a), beams.axis + r * np.cos(a)), normal=ALONG, along=UP)
        for i, (a, r) in enumerate(np.broadcast(angles, radii))
    )


def swept(beams, stations, **changes):
    names = tuple(station.name for station in stations)
    return beams.geometry(beams.layout(stations, prism=beams.prism({AT_PRISM: names}, sweeps=True), **changes))


# ---------------------------------------------------------------- law 2: the plane that a prism sweeps


@pytest.fixture(scope="module")
def plane(beams):
    rng = np.random.default_rng(1)
    return swept(beams, ring(beams, rng.uniform(0.0, 2.0 * np.pi, 40), rng.uniform(0.3, 3.0, 40)))


def test_a_swept_prism_plane_is_square_to_the_beam_not_to_the_axis_of_turning(plane, beams):
    """A tilt of the turning axis costs its square of the radius; it would cost the tilt itself if the axis ruled.

    The glass, met at an angle w about the edge, displaces the exit by w (G / n - a), the same at every radius: G is the
    way in the glass, a the aperture. The part e of the tilt about the exit costs e^2 of the radius.
    """
    size, nose = 5e-3, beams.nose
    tilt = drawn(2, size, 2)
    state = replace(NOMINAL, prism_ry=tilt[0], prism_rz=tilt[1])
    seen, turn = spots(plane, state), aimed_azimuths(plane, state)
    about_exit = tilt[1] * np.cos(turn) - tilt[0] * np.sin(turn)
    about_edge = -(tilt[0] * np.cos(turn) + tilt[1] * np.sin(turn))
    radius = np.hypot(*np.moveaxis(seen.hit - plane.noses.centre, -1, 0)[1:])
    displaced = about_edge * nose.aperture * ((2.0 + np.sqrt(2.0)) / nose.index - 1.0)
    # of the second order in the tilt times the size of the prism, and of the third times metres
    left = 0.1 * size**2 + 6.0 * size**3
    assert np.max(np.abs(seen.v - displaced - radius * about_exit**2)) < left
    assert np.max(radius * about_exit**2) > 10.0 * left
    assert np.max(np.abs(radius * about_edge)) > 50.0 * np.max(np.abs(seen.v))


def test_the_plane_follows_a_tilted_beam(plane):
    """A line turned by tilt_y, tilt_z, shifted and lifted: the nose is centred on the beam, so its plane goes along."""
    tilt, moved = drawn(3, 1e-3, 2), drawn(13, 1e-3, 2)
    state = replace(NOMINAL, tilt_y=tilt[0], tilt_z=tilt[1], shift=moved[0], lift=moved[1])
    seen, leg = spots(plane, state), spots(plane, state).train.corners[..., 0, :]
    beam = rotation_from_vector(np.stack([0.0 * tilt[0], tilt[0], tilt[1]], axis=-1))[..., 0]
    off = np.einsum("tmi,tmi->tm", seen.hit - leg, np.broadcast_to(beam, leg.shape)) - AT_PRISM / beam[..., 0]
    assert np.max(np.abs(off)) < ROUNDING
    hits = seen.hit - plane.launch_origin
    assert np.max(np.abs(hits[..., 0] - AT_PRISM)) > 3e-3


def test_a_beam_off_the_turning_axis_gives_the_same_wave_at_every_radius(plane):
    """Law 2: e cos(phi - phi0), whatever the radius; phi is where the nose stands."""
    size, start = np.abs(drawn(4, 1e-3)), drawn(5, np.pi)
    state = replace(NOMINAL, prism_y=-size * np.sin(start), prism_z=size * np.cos(start))
    seen = spots(plane, state)
    assert np.max(np.abs(seen.v - size * np.cos(aimed_azimuths(plane, state) - start))) < ROUNDING
    assert np.max(np.abs(seen.v)) > 0.9e-3


def test_a_prism_moved_along_the_beam_takes_its_plane_along(plane):
    moved = drawn(6, 5e-3)
    assert np.max(np.abs(spots(plane, replace(NOMINAL, prism_x=moved)).v - moved)) < ROUNDING


# ---------------------------------------------------------------- law 3: cones


def cone_designs(beams, equal):
    """Slopes of a base plane and of a swept prism plane with their own unknowns and with the angle of their cone."""
    angle = np.linspace(0.0, 2.0 * np.pi, 12, endpoint=False)
    radius = np.full(12, 1.3) if equal else np.linspace(0.4, 2.5, 12)
    around = tuple(
        beams.station(f"S{i + 1}", (-1.4 + r * np.cos(a), r * np.sin(a)))
        for i, (a, r) in enumerate(zip(angle, radius, strict=True))
    )
    base = beams.geometry(beams.layout(around, base="base", level_by=LevelBy.VIAL))
    prism = swept(beams, ring(beams, angle, radius))
    for geometry, names in ((base, ("tilt_x", "tilt_y", "lift", "cone")),
                            (prism, ("tilt_y", "tilt_z", "prism_x", "mirror"))):  # fmt: skip
        columns = channel_slopes(geometry, names)["v"]
        design = np.column_stack([columns[name] for name in names])
        yield design / np.linalg.norm(design, axis=0)


def test_equal_radii_cannot_tell_a_cone_from_the_plane(beams):
    for design in cone_designs(beams, equal=True):
        size = np.linalg.svd(design, compute_uv=False)
        assert size[3] < 1e-6 * size[0]
        assert size[2] > 0.1 * size[0]
    for design in cone_designs(beams, equal=False):
        assert np.linalg.svd(design, compute_uv=False)[3] > 0.05


def test_a_mirror_error_sweeps_a_cone_of_two_n_times_the_error(beams):
    """The exit leans toward the incoming direction by 2 n mirror at every turn; two radii tell it, one does not."""
    angle = np.tile(np.linspace(0.0, 6.0, 15), 2)
    geometry = swept(beams, ring(beams, angle, np.repeat([0.7, 2.9], 15)))
    mirror = drawn(7, 50e-6)
    near, far = np.split(spots(geometry, replace(NOMINAL, mirror=mirror)).v, 2, axis=1)
    lean = np.arctan((far - near) / 2.2)
    assert np.max(np.abs(lean - 2.0 * beams.nose.index * mirror)) < 10.0 * 50e-6**2
    assert np.max(np.ptp(near, axis=1)) < ROUNDING
    assert np.max(np.abs(near)) > 60e-6
    moved = spots(geometry, replace(NOMINAL, prism_x=near[:, :1])).v[:, :15]
    assert np.max(np.abs(moved - near)) < ROUNDING  # a displaced prism reads the same


# ---------------------------------------------------------------- law 5: reversals


def test_turning_an_emitter_in_its_v_takes_out_pointing_and_offset(beams):
    geometry = beams.geometry(beams.layout(beams.line(1.0, 7.5, 20.0), reversed=True))
    state = replace(NOMINAL, lift=2e-4, shift=-3e-4)
    pointing, offset = drawn(8, 2e-4, 2), drawn(9, 5e-4, 2)
    wrong = replace(state, cone=pointing[0], cone_side=pointing[1], offset_y=offset[0], offset_z=offset[1])
    for channel in ("h", "v"):
        sound, read = (getattr(spots(geometry, each), channel) for each in (state, wrong))
        one, two = np.split(read, 2, axis=1)
        assert np.max(np.abs(0.5 * (one + two) - sound[:3])) < ROUNDING
        assert np.max(np.abs(one - sound[:3])) > 3e-3


def test_turning_the_prism_about_its_exit_takes_out_its_errors(beams):
    names = ("Q1", "Q2", "Q3")
    across = tuple(
        beams.station(name, (AT_PRISM - 1.4, y), along=LEFT) for name, y in zip(names, (0.5, 1.5, 3.0), strict=True)
    )
    datum = tuple(beams.station(n, (x, 0.0), is_datum=True) for n, x in (("near", -1.0), ("far", 4.0)))
    layout = beams.layout(
        (*datum, *across), near="near", far="far", reversed=True, prism=beams.prism({AT_PRISM: names}, -np.pi / 2.0)
    )
    geometry = beams.geometry(layout)
    mirror, pyramid = drawn(10, 5e-6), drawn(11, 10e-6)
    seen = spots(geometry, replace(NOMINAL, mirror=mirror, pyramid=pyramid))
    for channel in ("h", "v"):
        one, two = np.split(getattr(seen, channel), 2, axis=1)
        assert np.max(np.abs(0.5 * (one + two))) < 2.0 * NANOMETRE  # of second order: 3 m times (28 urad)^2
        assert np.max(np.abs(one)[:, 2:]) > 40e-6
    assert np.max(np.abs(spots(geometry).h)) < PICOMETRE


@pytest.mark.parametrize("turned", [-2.5, -0.6, 0.0, 0.6, 1.9])
def test_a_prism_turned_to_any_side_is_reversed_about_its_own_exit(beams, turned):
    """On both sides the light leaves along the same line, whatever its turn about the beam."""
    way = np.cos(turned) * UP - np.sin(turned) * LEFT
    foot = np.array([AT_PRISM - 1.4, 0.0, beams.axis]) - beams.axis * ALONG
    points = tuple(
        beams.station(f"Q{i}", foot + s * way, normal=ALONG, along=np.cross(ALONG, way))
        for i, s in enumerate((0.5, 2.0))
    )
    names = tuple(each.name for each in points)
    geometry = beams.geometry(beams.layout(points, reversed=True, prism=beams.prism({AT_PRISM: names}, turned)))
    seen = spots(geometry)
    assert np.max(np.abs([seen.h, seen.v])) < ROUNDING
    assert np.max(seen.incidence) < 1e-7
    back = geometry.launch_origin[2] - geometry.launch_origin[0]
    assert np.allclose(back, 2.0 * AT_PRISM * ALONG, atol=PICOMETRE)
    assert np.allclose(geometry.launch_rotation[2, :, 0], -ALONG, atol=1e-15)


def test_errors_of_a_prism_and_of_its_turn_go_where_they_should(beams):
    """The light runs to +x and leaves to +y (turn -90 degrees); edges point up, a turn is right-handed about x."""
    across = tuple(beams.station(f"Q{i}", (AT_PRISM - 1.4, y), along=LEFT) for i, y in enumerate((0.5, 2.5)))
    names = tuple(each.name for each in across)
    geometry = beams.geometry(beams.layout(across, prism=beams.prism({AT_PRISM: names}, -np.pi / 2.0)))
    error, turn = drawn(30, 1e-5), drawn(31, 1e-4)
    out_of_plane = np.diff(spots(geometry, replace(NOMINAL, pyramid=error)).v, axis=1)
    assert np.allclose(out_of_plane, PYRAMID_GAIN * beams.nose.index * error * 2.0, atol=NANOMETRE)
    toward_x = np.diff(spots(geometry, replace(NOMINAL, mirror=error)).h, axis=1)
    assert np.allclose(toward_x, 2.0 * beams.nose.index * error * 2.0, atol=NANOMETRE)  # right is +x
    lifted = spots(geometry, replace(NOMINAL, prism_turn=turn)).v
    assert np.allclose(lifted, np.tan(turn) * [0.5, 2.5], atol=NANOMETRE)
    assert np.max(np.abs(lifted)) > 200e-6


def test_pitch_and_yaw_are_the_slopes_between_two_places_of_the_spot(beams):
    """Where a beam stands higher farther on it rises, in every set-up with the same signs as h and v."""
    angles = replace(beams.target, reads_angles=True)
    geometry = beams.geometry(beams.layout(beams.line(2.0, 7.0), target=angles))
    tilt = drawn(32, 1e-3, 2)
    seen = spots(geometry, replace(NOMINAL, tilt_y=tilt[0], tilt_z=tilt[1]))
    assert np.max(np.abs(np.tan(seen.pitch) * 5.0 - np.diff(seen.v, axis=1))) < ROUNDING
    assert np.max(np.abs(np.tan(seen.yaw) * 5.0 - np.diff(seen.h, axis=1))) < ROUNDING
    assert np.all(np.sign(seen.pitch[:, 0]) == -np.sign(tilt[0][:, 0]))


def test_a_rolled_target_turns_what_it_reads(beams):
    """Clockwise as seen from the emitter: a spot on the right appears higher, one above appears to the left."""
    geometry = beams.geometry(beams.layout(beams.line(2.0), target=replace(beams.target, reads_angles=True)))
    roll, lift, shift = drawn(33, 0.5), drawn(34, 1e-3), drawn(35, 1e-3)
    seen = spots(geometry, replace(NOMINAL, roll=roll, lift=lift, shift=shift, tilt_y=1e-4, tilt_z=2e-4))
    sound = spots(geometry, replace(NOMINAL, lift=lift, shift=shift, tilt_y=1e-4, tilt_z=2e-4))
    for first, second, one, two in ((seen.h, seen.v, sound.h, sound.v), (seen.yaw, seen.pitch, sound.yaw, sound.pitch)):
        turned = (one + 1j * two) * np.exp(1j * roll)
        assert np.max(np.abs(first + 1j * second - turned)) < 1e-15


def test_a_reversed_base_line_starts_as_far_beyond_its_far_target(beams):
    """Run the other way the beam passes far first, then near; the prism stands between them as before."""
    across = (beams.station("Q1", (0.6, 1.0), along=LEFT), beams.station("Q2", (1.6, 1.0), along=LEFT))
    datum = tuple(beams.station(n, (x, 0.0), is_datum=True) for n, x in (("near", -1.0), ("far", 4.0)))
    layout = beams.layout(
        (*datum, *across), near="near", far="far", reversed=True,
        prism=beams.prism({2.0: ("Q1",), 3.0: ("Q2",)}, -np.pi / 2.0),
    )  # fmt: skip
    seen = spots(beams.geometry(layout))
    to_near, to_far, to_q1, to_q2 = seen.path[:4]
    back = seen.path[4:]
    assert np.allclose(seen.h, 0.0, atol=PICOMETRE)
    assert np.allclose([to_near, to_far, *back[:2]], [0.4, 5.4, 5.4, 0.4], atol=PICOMETRE)
    # on the way to the prism 2 m and 3 m become 5.8 m less that
    assert np.allclose(back[2:] - [to_q1, to_q2], [1.8, -0.2], atol=PICOMETRE)


def test_half_a_turn_of_a_target_in_its_bore_takes_out_eccentricity_and_zero(beams):
    discs = Mount("discs", 0.0, 0.0, 0.0, 0.0, 0.0)
    rings = tuple(
        beams.station(f"B{i + 1}", (-1.4 + s, 0.0, beams.axis), mount=discs, clocks=(0.0, np.pi))
        for i, s in enumerate((0.6, 3.0, 9.0))
    )
    geometry = beams.geometry(beams.layout(rings))
    off, zero = drawn(12, 50e-6, 2), drawn(13, 20e-6, 2)
    state = replace(NOMINAL, lift=4e-4, shift=-2e-4, tilt_y=1e-5, deviation=drawn(14, 1e-4))
    wrong = replace(state, eccentric_h=off[0], eccentric_v=off[1], zero_h=zero[0], zero_v=zero[1])
    for channel in ("h", "v"):
        sound, read = (getattr(spots(geometry, each), channel) for each in (state, wrong))
        assert np.max(np.abs(sound[..., 0::2] + sound[..., 1::2])) < ROUNDING  # its axes turn with it
        assert np.max(np.abs(0.5 * (read[..., 0::2] - read[..., 1::2]) - sound[..., 0::2])) < ROUNDING
        assert np.max(np.abs(read - sound)) > 50e-6


# ---------------------------------------------------------------- law 6: the clock circle of a spindle


@pytest.mark.parametrize("count", [3, 4, 8])
def test_the_middle_of_the_clock_circle_is_the_axis_however_the_emitter_sits(beams, count):
    clocks = tuple(2.0 * np.pi * np.arange(count) / count)
    geometry = beams.geometry(beams.layout(beams.line(0.3, 1.2), clocks=clocks))
    lean, offset = drawn(15, 1e-3, 2), drawn(16, 1e-3, 2)
    axis = replace(NOMINAL, tilt_y=2e-5, tilt_z=-1e-5, lift=1e-4)
    for on in (NOMINAL, axis):
        tilted = replace(on, cone=lean[0], cone_side=lean[1], offset_y=offset[0], offset_z=offset[1])
        for channel in ("h", "v"):
            sound, read = (getattr(spots(geometry, each), channel) for each in (on, tilted))
            middle = read.reshape(TRIALS, count, 2).mean(axis=1)
            wanted = np.broadcast_to(sound, 2 * count).reshape(count, 2)[0]
            # a plane that is not square to the axis sees the circle as an ellipse, and a little in perspective
            assert np.max(np.abs(middle - wanted)) < (ROUNDING if on is NOMINAL else 0.1 * NANOMETRE)
            assert np.max(np.abs(read - sound)) > 1.5e-3


def test_the_clock_circle_starts_where_the_beam_points_and_turns_right_handed(beams):
    """At turn 0 a beam that rises reads high, a quarter turn later right: along the beam, up turns to the right."""
    geometry = beams.geometry(beams.layout(beams.line(1.0), clocks=QUARTERS))
    seen = spots(geometry, replace(NOMINAL, cone=1e-4))
    off = np.tan(1e-4) * (geometry.foot[0, 0] - geometry.launch_origin[0, 0])
    assert np.allclose(seen.v, off * np.array([1.0, 0.0, -1.0, 0.0]), atol=PICOMETRE)
    assert np.allclose(seen.h, off * np.array([0.0, 1.0, 0.0, -1.0]), atol=PICOMETRE)


# ---------------------------------------------------------------- law 12: the bent beam


def curvature(gradient):
    """Upward curvature of a level beam [1/m], + gradient = warmer above, in the air of the surveys."""
    return float(temperature_slope(635e-9, 293.15, 101_325.0, 0.5)) * gradient


def test_a_line_drops_by_half_k_l_squared_and_sags_by_an_eighth_between_its_ends(beams):
    geometry = beams.geometry(beams.layout(beams.line(2.0, 9.0, 16.0)))
    gradient = drawn(17, 2.0)
    read = spots(geometry, replace(NOMINAL, gradient=gradient)).v
    bend = curvature(gradient)
    assert np.max(np.abs(read - 0.5 * bend * np.array([2.0, 9.0, 16.0]) ** 2)) < ROUNDING
    assert np.max(np.abs(read)) > 200e-6
    zeroed = read[:, 1] - 0.5 * (read[:, 0] + read[:, 2])
    assert np.max(np.abs(zeroed + bend[:, 0] * 14.0**2 / 8.0)) < ROUNDING
    stated = spots(beams.geometry(beams.layout(beams.line(2.0, 9.0, 16.0), air=Air(gradient=1.5)))).v
    assert np.max(np.abs(stated - 0.5 * curvature(1.5) * np.array([2.0, 9.0, 16.0]) ** 2)) < ROUNDING
    assert np.all(stated < 0.0)  # warmer above: the beam goes down


def test_without_a_gradient_a_line_is_straight(beams):
    seen = spots(beams.geometry(beams.layout(beams.line(2.0, 9.0, 16.0))))
    assert np.max(np.abs(seen.v)) < 1e-15
    assert np.max(np.abs(seen.h)) < 1e-15


def test_a_prism_hands_on_the_slope_of_the_bent_beam(beams):
    """A nose along the bent beam sends it out level, but for the slope that the beam gains from its face to its middle;
    in the glass that slope is an index flatter."""
    across = (beams.station("Q1", (AT_PRISM - 1.4, 4.0), along=LEFT),)
    use = beams.prism({AT_PRISM: ("Q1",)}, -np.pi / 2.0)
    geometry = beams.geometry(beams.layout(across, prism=use))
    gradient = drawn(18, 2.0)
    bend, nose = curvature(gradient), beams.nose
    into, glass = AT_PRISM - 0.5 * nose.aperture, nose.aperture * (2.0 + np.sqrt(2.0))
    onward = 4.0 - 0.5 * nose.aperture
    half = 0.5 * nose.aperture
    wanted = bend * (0.5 * into**2 + AT_PRISM * half - half * (glass / nose.index + onward) + 0.5 * onward**2)
    assert np.max(np.abs(spots(geometry, replace(NOMINAL, gradient=gradient)).v - wanted)) < PICOMETRE


def test_a_beam_straight_up_is_not_bent(beams):
    above = (beams.station("Q1", (AT_PRISM - 1.4, 0.0, 3.0)),)
    geometry = beams.geometry(beams.layout(above, prism=beams.prism({AT_PRISM: ("Q1",)})))
    leg = spots(geometry, replace(NOMINAL, gradient=drawn(19, 2.0))).train.leg
    assert np.max(np.abs(leg.curvature)) < 1e-11
    assert np.allclose(leg.direction, UP, atol=1e-5)
