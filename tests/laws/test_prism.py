"""Laws of the pentaprism in glass: right angles, swept planes, its errors and how a reversal takes them out.

Frame P of the prism: x along the nominal beam, y along its exit, z along the edges.
"""

from __future__ import annotations

import numpy as np
import pytest

from scenes.tracing.glass_faces import reflected, refracted
from scenes.tracing.pentaprism import PYRAMID_GAIN, through_pentaprism
from scenes.vectors import dot, rotation_from_vector, unit

CASES = 2000
SIDE = 0.04  # metres
GLASS = 1.52
X, Y, Z = np.eye(3)
ROUNDING = 2e-15  # of unit vectors after four faces, and of metres inside a prism

rng = np.random.default_rng(20)


def ideal_exit(direction, edge):
    """Exit of the ideal deviator d' = a (a.d) - a x d, where a points against the edge direction x cross y."""
    a = -edge
    return a * dot(a, direction)[..., None] - np.cross(a, direction)


def near_x(spread, shape=(CASES,)):
    """Unit vectors within some ``spread`` of x."""
    return unit(np.stack([np.ones(shape), *rng.uniform(-spread, spread, (2, *shape))], axis=-1))


def turns_about(axis, angle):
    return rotation_from_vector(np.asarray(angle)[..., None] * axis)


def placed(world_from_prism, origin, direction, **prism):
    """Exit points and directions in the world of prisms ``(..., 3, 3)`` whose origin is that of the world."""
    into = np.swapaxes(world_from_prism, -1, -2)
    path = through_pentaprism(
        np.einsum("...ij,...j->...i", into, origin),
        np.einsum("...ij,...j->...i", into, direction),
        **({"aperture": SIDE, "index": GLASS} | prism),
    )
    return (
        np.einsum("...ij,...j->...i", world_from_prism, path.points[..., 3, :]),
        np.einsum("...ij,...j->...i", world_from_prism, path.direction),
    )


# ---------------------------------------------------------------- the right angle


def test_a_perfect_prism_turns_every_beam_like_the_ideal_deviator_whatever_its_glass():
    d = near_x(0.1)
    path = through_pentaprism(rng.uniform(-1e-3, 1e-3, (CASES, 3)), d, SIDE, rng.uniform(1.4, 1.9, CASES))
    assert np.abs(path.direction - ideal_exit(d, Z)).max() < ROUNDING


def test_turning_about_the_edge_changes_nothing():
    d = near_x(0.03)
    base = turns_about(near_x(1.0), rng.uniform(-0.05, 0.05, CASES))
    turned = base @ turns_about(Z, rng.uniform(-0.1, 0.1, CASES))
    assert np.abs(placed(turned, 0 * X, d)[1] - placed(base, 0 * X, d)[1]).max() < ROUNDING


def test_roll_about_the_beam_keeps_the_right_angle_and_leaves_the_plane_by_the_roll():
    roll = rng.uniform(-0.5, 0.5, CASES)
    exit_direction = placed(turns_about(X, roll), 0 * X, X)[1]
    assert np.abs(exit_direction[:, 0]).max() < ROUNDING
    assert np.abs(np.arctan2(exit_direction[:, 2], exit_direction[:, 1]) - roll).max() < ROUNDING


def test_turning_about_the_exit_line_costs_its_square():
    turn = rng.uniform(-0.1, 0.1, CASES)
    exit_direction = placed(turns_about(Y, turn), 0 * X, X)[1]
    assert np.abs(exit_direction[:, 0] - np.sin(turn) ** 2).max() < ROUNDING  # cosine of the angle in - out


# ---------------------------------------------------------------- the swept plane


@pytest.mark.parametrize("tilt", [1e-4, 1e-3, 1e-2])
def test_the_swept_plane_is_square_to_the_beam_not_to_the_turning_axis(tilt):
    """Directions: ``d'.d = (a.d)^2`` exactly, so a tilt of the axis costs its square; from the axis it is the tilt."""
    turn = np.linspace(0.0, 2.0 * np.pi, 721)
    axis = unit(np.array([1.0, 0.6 * tilt, 0.8 * tilt]))
    nose = turns_about(unit(np.cross(X, axis)), np.arccos(axis[0]))
    exit_direction = placed(nose @ turns_about(X, turn), 0 * X, X)[1]
    edges = (nose @ turns_about(X, turn))[..., 2]
    from_beam, from_axis = exit_direction @ X, exit_direction @ axis
    assert np.abs(from_beam - (edges @ X) ** 2).max() < ROUNDING
    assert np.abs(from_beam).max() == pytest.approx(tilt**2, rel=tilt**2 + 1e-4)
    assert np.abs(from_axis).max() == pytest.approx(tilt, rel=2.0 * tilt)


def test_a_decentred_beam_makes_a_cosine_of_the_same_height_at_every_radius():
    """Exact in glass too: the beam is square to the faces. Moved toward the exit, it leaves nearer to the emitter."""
    turn = rng.uniform(-np.pi, np.pi, CASES)
    off, toward = rng.uniform(0.0, 5e-3, CASES), rng.uniform(-np.pi, np.pi, CASES)
    origin = off[:, None] * np.stack([0 * toward, np.cos(toward), np.sin(toward)], axis=-1)
    point, direction = placed(turns_about(X, turn), origin, X)
    for radius in (0.5, 5.0, 50.0):
        height = (point + radius * direction)[:, 0]
        assert np.abs(height + off * np.cos(turn - toward)).max() < ROUNDING * max(1.0, radius)


def exit_lift(side, index):
    """Lever of a small turn of the prism about its edge on the height of the exit line, metres per rad.

    In air the two mirrors turn the beam about the line in which they meet, at (1/2 + sqrt 1/2) a (1, -1): the exit line
    is moved by (1 + sqrt 2) a per rad. The glass works like a plate of (2 + sqrt 2) a against it.
    """
    return side * ((1.0 + np.sqrt(2.0)) - (2.0 + np.sqrt(2.0)) * (1.0 - 1.0 / index))


def tilted_sweep(scale, radius):
    """Height of tilted sweeps beyond what is known: cosine of the tilt (first order) and (a.d)^2 radius (exact)."""
    case = np.random.default_rng(4)
    index, turn = case.uniform(1.45, 1.8, CASES), case.uniform(-np.pi, np.pi, CASES)
    tilt = scale * case.uniform(-1.0, 1.0, (CASES, 2))
    nose = rotation_from_vector(np.column_stack([np.zeros(CASES), tilt]))
    prism = nose @ turns_about(X, turn)
    point, direction = placed(prism, 0 * X, X, index=index)
    height = (point + radius * direction)[:, 0]
    way = radius + dot(point, direction)  # counted from the foot of the origin
    known = -exit_lift(SIDE, index) * prism[:, 0, 1] + way * prism[:, 0, 2] ** 2  # parts of the beam along y and z of P
    return np.abs(height).max(), np.abs(height - known).max()


def test_a_tilted_nose_acts_like_a_decentred_beam_to_first_order():
    for radius in (1.0, 20.0):
        whole, rest = tilted_sweep(1e-3, radius)
        _, rest_of_half = tilted_sweep(0.5e-3, radius)
        assert rest < 3.0 * SIDE * 1e-6  # second order in the tilt, times the size of the prism, not the radius
        assert rest / rest_of_half == pytest.approx(4.0, rel=0.02)
        assert whole > 50.0 * rest


# ---------------------------------------------------------------- errors of the prism


def first_order(scale):
    """Remainder of random errors of a prism beyond their stated first order, as angles of the exit."""
    case = np.random.default_rng(5)
    index = case.uniform(1.45, 1.8, CASES)
    mirror, pyramid = scale * case.uniform(-1.0, 1.0, (2, CASES))
    entrance, leaving = scale * case.uniform(-1.0, 1.0, (2, CASES, 3))
    entrance[:, 0], leaving[:, 1] = 0.0, 0.0
    path = through_pentaprism(-X, X, SIDE, index, mirror, pyramid, entrance, leaving)
    turned = np.stack([2.0 * index * mirror, 0 * index, PYRAMID_GAIN * index * pyramid], axis=-1)
    turned += (index - 1.0)[:, None] * (entrance * [0.0, 0.0, 1.0] - entrance[:, [1, 0, 2]] * [1.0, 0.0, 0.0] - leaving)
    return np.abs(path.direction - Y - turned).max()


def test_errors_of_the_prism_turn_the_exit_as_stated():
    rest = first_order(1e-3)
    assert rest < 20.0 * 1e-6
    assert rest / first_order(0.5e-3) == pytest.approx(4.0, rel=0.02)


def test_an_error_of_the_mirrors_turns_the_exit_by_twice_itself_and_is_refracted():
    mirror, index = rng.uniform(-1e-2, 1e-2, CASES), rng.uniform(1.0, 1.9, CASES)
    path = through_pentaprism(-X, X, SIDE, index, mirror=mirror)
    assert np.abs(path.direction[:, 0] - index * np.sin(2.0 * mirror)).max() < ROUNDING
    assert np.abs(path.direction[:, 2]).max() == 0.0


def test_the_pyramid_gain_is_twice_the_cosine_of_the_slant():
    assert pytest.approx(1.847759065, abs=1e-9) == PYRAMID_GAIN  # 2 cos 22.5 deg


def half_turn_about_exit(scale):
    """Departure from square to the base line: one position, and the mean of the two; attitudes differ between them."""
    case = np.random.default_rng(6)
    mirror, pyramid = scale * case.uniform(-1.0, 1.0, (2, CASES))
    wedges = scale * case.uniform(-1.0, 1.0, (2, CASES, 3)) * np.array([[[0.0, 1.0, 1.0]], [[1.0, 0.0, 1.0]]])
    errors = {"mirror": mirror, "pyramid": pyramid, "entrance_wedge": wedges[0], "exit_wedge": wedges[1]}
    along = []
    for base, beam in ((np.eye(3), X), (np.diag([-1.0, 1.0, -1.0]), -X)):
        attitude = rotation_from_vector(scale * case.uniform(-1.0, 1.0, (CASES, 3)))
        along.append(placed(attitude @ base, 0 * X, beam, **errors)[1] @ X)
    return np.abs(along[0]).max(), np.abs(0.5 * (along[0] + along[1])).max()


def test_reversal_takes_the_errors_of_the_prism_out_to_second_order():
    """Attitudes, mirrors, pyramid and wedges are free; the base line is the same and the beam runs the other way."""
    one, mean = half_turn_about_exit(1e-4)
    _, mean_of_half = half_turn_about_exit(0.5e-4)
    assert one > 2e-4
    assert mean < 10.0 * 1e-8
    assert mean / mean_of_half == pytest.approx(4.0, rel=0.02)


def test_reversal_of_a_squarely_set_prism_is_exact():
    errors = {"mirror": rng.uniform(-1e-3, 1e-3, CASES), "pyramid": rng.uniform(-1e-3, 1e-3, CASES)}
    first = placed(np.eye(3), 0 * X, X, **errors)[1]
    second = placed(np.diag([-1.0, 1.0, -1.0]), 0 * X, -X, **errors)[1]
    assert np.abs(first).max(axis=0)[0] > 1e-3
    assert np.abs((first + second)[:, [0, 2]]).max() < ROUNDING


# ---------------------------------------------------------------- the way in the glass, edges, misses


def test_the_way_in_glass_is_the_same_for_all_beams_square_to_the_face():
    off = rng.uniform(-0.5, 0.5, (CASES, 3)) * SIDE
    path = through_pentaprism(off, X, SIDE, GLASS)
    assert np.abs(path.glass - SIDE * (2.0 + np.sqrt(2.0))).max() < ROUNDING
    assert np.abs(path.margin - (0.5 * SIDE - np.abs(off[:, 1:]).max(axis=1))).max() < ROUNDING


def test_the_axis_meets_the_faces_in_their_middle():
    path = through_pentaprism(-X, X, 1.0, GLASS)
    root = np.sqrt(0.5)
    assert np.abs(path.points - [[-0.5, 0, 0], [root, 0, 0], [0, -root, 0], [0, 0.5, 0]]).max() < ROUNDING
    assert path.margin == pytest.approx(0.5, abs=ROUNDING)


def test_the_mirrors_never_cut_a_beam_before_the_outer_faces_do():
    """Facets of the five-sided shape: from corner to corner in the section, and as wide as the outer faces."""
    d, off = near_x(0.3), rng.uniform(-0.6, 0.6, (CASES, 3)) * SIDE * (1.0 - X)
    path = through_pentaprism(off - 0.5 * SIDE * X, d, SIDE, GLASS)
    far = np.sqrt(8.0) - 1.0
    corners = 0.5 * SIDE * np.array([[[1.0, 1.0], [far, -1.0]], [[-1.0, -1.0], [1.0, -far]]])
    for hit, (begin, end) in zip((path.points[:, 1], path.points[:, 2]), corners, strict=True):
        along = (end - begin) / np.hypot(*(end - begin))
        from_begin = (hit[:, :2] - begin) @ along
        assert np.abs((hit[:, :2] - begin) @ [along[1], -along[0]]).max() < ROUNDING  # the mirror joins the corners
        beside = np.minimum(from_begin, np.hypot(*(end - begin)) - from_begin) * np.cos(np.pi / 8.0)
        assert np.all(np.minimum(beside, 0.5 * SIDE - np.abs(hit[:, 2])) > path.margin - ROUNDING)


def test_light_goes_back_the_way_it_came():
    d, origin = near_x(0.05), np.array([-0.1, 0.0, 0.0]) + rng.uniform(-2e-3, 2e-3, (CASES, 3))
    index = rng.uniform(1.45, 1.8, CASES)
    there = through_pentaprism(origin, d, SIDE, index)
    swap = np.array([[0.0, -1.0, 0.0], [-1.0, 0.0, 0.0], [0.0, 0.0, -1.0]])  # the prism seen from its exit
    back = through_pentaprism(there.points[:, 3] @ swap.T, -there.direction @ swap.T, SIDE, index)
    assert np.abs(back.direction @ swap + d).max() < ROUNDING
    assert np.abs(back.points[:, ::-1] @ swap - there.points).max() < ROUNDING


def test_what_does_not_get_through_is_nan_and_the_rest_is_not_touched():
    d = np.stack([X, -X, Y, unit(np.array([0.1, -1.0, 0.0])), X])
    path = through_pentaprism(np.zeros(3), d, SIDE, GLASS, mirror=np.array([0.0, 0.0, 0.0, 0.0, 0.5]))
    lost = np.isnan(path.direction).all(axis=-1)
    assert lost.tolist() == [False, True, True, True, True]  # behind, along the face, past a mirror, total reflection
    for part in (path.points, path.direction, path.glass, path.margin):
        assert np.array_equal(np.isnan(part).reshape(5, -1).all(axis=1), lost)
        assert np.array_equal(np.isnan(part).reshape(5, -1).any(axis=1), lost)


def test_leading_axes_broadcast():
    d = near_x(0.01, (5, 1))
    path = through_pentaprism(np.zeros((2, 1, 1, 3)), d, np.full(7, SIDE), GLASS, mirror=np.zeros(7))
    assert path.points.shape == (2, 5, 7, 4, 3)
    assert path.direction.shape == (2, 5, 7, 3)
    assert path.glass.shape == path.margin.shape == (2, 5, 7)
    one = through_pentaprism(np.zeros(3), d[3, 0], SIDE, GLASS)
    assert np.array_equal(path.points[1, 3, 6], one.points)
    assert np.array_equal(path.margin[1, 3, 6], one.margin)


# ---------------------------------------------------------------- one face


def test_a_face_refracts_by_snell_and_keeps_the_plane_of_incidence():
    normal, index_ratio = unit(rng.normal(size=(CASES, 3))), rng.uniform(0.5, 1.0, CASES)
    d = unit(rng.normal(size=(CASES, 3)))
    out = refracted(d, normal, index_ratio)
    assert np.abs(dot(out, out) - 1.0).max() < ROUNDING
    assert np.abs(np.cross(out, normal) - index_ratio[:, None] * np.cross(d, normal)).max() < ROUNDING
    assert np.all(dot(out, normal) * dot(d, normal) > 0.0)
    assert np.array_equal(out, refracted(d, -normal, index_ratio))


def test_total_reflection_begins_at_the_critical_angle():
    ratio = 1.5
    for off, lost in ((-1e-9, False), (1e-9, True)):
        sine = 1.0 / ratio + off
        d = np.array([np.sqrt(1.0 - sine**2), sine, 0.0])
        assert np.isnan(refracted(d, X, ratio)).all() == lost


def test_a_mirror_turns_the_part_along_its_normal():
    normal, d = unit(rng.normal(size=(CASES, 3))), unit(rng.normal(size=(CASES, 3)))
    out = reflected(d, normal)
    assert np.abs(dot(out, normal) + dot(d, normal)).max() < ROUNDING
    assert np.abs(np.cross(out - d, normal)).max() < ROUNDING
