"""The way of the light through prism and plates, found twice more by others.

raysect: a general ray tracer of solids (BSD licence), here with the five-sided prism and plates as bodies of glass that
it traces without being told the order of their faces. Its rays start 1e-9 of its unit behind each face, so it works
in millimetres.

Fermat: between a point before and a point behind the glass, light takes the way of least optical length over points
that are free on every face. With plane faces that length is convex, so there is one such way. Neither Snell's law
nor the law of reflection is written down.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest
from scipy.optimize import minimize

from scenes.tracing.pentaprism import through_pentaprism
from scenes.tracing.plates import through_plate
from scenes.vectors import length, rotation_from_vector, unit

SIDE, GLASS, WINDOW = 0.04, 1.5168, 1.4570
NANOMETRE = 1e-9
X, Y, Z = np.eye(3)


@dataclass(frozen=True, slots=True, eq=False)
class Train:
    """A beam, a prism with its errors, and plates behind it; the prism stands at the origin as frame P says."""

    origin: np.ndarray
    direction: np.ndarray
    errors: dict
    points: np.ndarray  # (3, 3) front faces of the plates, also their normals, thickness and wedges
    normals: np.ndarray
    thickness: np.ndarray
    wedges: np.ndarray


def some_train(seed: int, spread: float = 0.02) -> Train:
    """A train with errors far larger than those of real glass, so that every sign and order shows."""
    rng = np.random.default_rng(seed)
    direction = unit(X + np.append(0.0, rng.uniform(-spread, spread, 2)))
    origin = rng.uniform(-2e-3, 2e-3, 3) - 0.3 * direction
    wedge = rng.uniform(-5e-3, 5e-3, (2, 3))
    errors = {
        "mirror": rng.uniform(-5e-3, 5e-3), "pyramid": rng.uniform(-5e-3, 5e-3),
        "entrance_wedge": wedge[0] * (1.0 - X), "exit_wedge": wedge[1] * (1.0 - Y),
    }  # fmt: skip
    normals = unit(Y + rng.uniform(-0.2, 0.2, (3, 3)))
    wedges = np.cross(normals, rng.uniform(-5e-3, 5e-3, (3, 3)))
    points = np.array([0.2, 0.5, 1.1])[:, None] * Y
    return Train(origin, direction, errors, points, normals, rng.uniform(2e-3, 8e-3, 3), wedges)


def traced(train: Train) -> tuple[np.ndarray, np.ndarray]:
    """Our own corners ``(10, 3)``: four of the prism, two of each plate, and the direction at the end."""
    path = through_pentaprism(train.origin, train.direction, SIDE, GLASS, **train.errors)
    corners, at, along = [*path.points], path.points[3], path.direction
    for point, normal, thickness, wedge in zip(train.points, train.normals, train.thickness, train.wedges, strict=True):
        front = at + (point - at) @ normal / (along @ normal) * along
        at, along, glass = through_plate(at, along, point, normal, thickness, WINDOW, wedge)
        assert glass == pytest.approx(length(at - front), abs=1e-15)
        corners += [front, at]
    return np.array(corners), along


def faces(train: Train) -> list[tuple[np.ndarray, np.ndarray, float]]:
    """Point, normal and index behind, of every face in the order of the light; built from angles, not from our code."""

    def at_angle(degrees: float) -> np.ndarray:
        return np.array([np.cos(np.radians(degrees)), np.sin(np.radians(degrees)), 0.0])

    errors, root = train.errors, SIDE / np.sqrt(2.0)
    second = at_angle(67.5)
    across = np.cross(second, Z)
    second = rotation_from_vector(-errors["mirror"] * Z) @ rotation_from_vector(errors["pyramid"] * across) @ second
    built = [
        (-0.5 * SIDE * X, unit(X + errors["entrance_wedge"]), GLASS),
        (root * X, at_angle(202.5), GLASS),
        (-root * Y, second, GLASS),
        (0.5 * SIDE * Y, unit(Y + errors["exit_wedge"]), 1.0),
    ]
    for point, normal, thickness, wedge in zip(train.points, train.normals, train.thickness, train.wedges, strict=True):
        built += [(point, normal, WINDOW), (point + thickness * normal, unit(normal + wedge), 1.0)]
    return built


# ---------------------------------------------------------------- Fermat


def tangents(normal: np.ndarray) -> np.ndarray:
    """Two unit vectors ``(3, 2)`` in a plane."""
    return np.linalg.svd(normal[None, :])[2][1:].T


def quickest(train: Train, end: np.ndarray) -> np.ndarray:
    """Points ``(10, 3)`` of least optical length from the origin of the beam to ``end``, found from the middles."""
    built = faces(train)
    index = np.array([1.0, *(behind for *_, behind in built)])
    middle = np.array([point for point, *_ in built])
    spans = np.array([tangents(normal) for _, normal, _ in built])

    def ways(free: np.ndarray) -> np.ndarray:
        corners = middle + np.einsum("kij,kj->ki", spans, free.reshape(-1, 2))
        return np.diff(np.vstack([train.origin, corners, end]), axis=0)

    def optical(free: np.ndarray) -> float:
        return float(index @ length(ways(free)))

    def slope(free: np.ndarray) -> np.ndarray:
        pulls = index[:, None] * unit(ways(free))
        return np.einsum("kij,ki->kj", spans, pulls[:-1] - pulls[1:]).ravel()

    def curvature(free: np.ndarray) -> np.ndarray:
        """Second derivatives: a chain of springs, each stiff across its own direction."""
        way = ways(free)
        along = unit(way)
        stiff = (index / length(way))[:, None, None] * (np.eye(3) - along[:, :, None] * along[:, None, :])
        whole = np.zeros((len(middle), 2, len(middle), 2))
        for k in range(len(middle)):
            whole[k, :, k, :] = spans[k].T @ (stiff[k] + stiff[k + 1]) @ spans[k]
            if k:
                whole[k, :, k - 1, :] = -spans[k].T @ stiff[k] @ spans[k - 1]
                whole[k - 1, :, k, :] = whole[k, :, k - 1, :].T
        return whole.reshape(free.size, free.size)

    found = minimize(optical, np.zeros(2 * len(middle)), jac=slope, hess=curvature, method="trust-exact").x
    for _ in range(2):  # the length itself is flat at its least: its last digits come from its slopes
        found = found - np.linalg.solve(curvature(found), slope(found))
    assert np.linalg.eigvalsh(curvature(found))[0] > 0.0
    return middle + np.einsum("kij,kj->ki", spans, found.reshape(-1, 2))


@pytest.mark.parametrize("seed", range(20))
def test_our_way_is_the_quickest(seed):
    train = some_train(seed)
    corners, along = traced(train)
    assert np.abs(quickest(train, corners[-1] + 2.0 * along) - corners).max() < 1e-5 * NANOMETRE


# ---------------------------------------------------------------- a ray tracer of solids

MM = 1e3  # of a metre
NUDGE = 1e-11  # metres: rays go on 1e-9 mm behind a face, ten times


class Bodies:
    """Bodies of a train in the ray tracer; whatever else the light meets is the dark wall around."""

    def __init__(self, train: Train) -> None:
        self.optical = pytest.importorskip("raysect.optical")
        self.material = pytest.importorskip("raysect.optical.material")
        self.primitive = pytest.importorskip("raysect.primitive")
        self.world = self.optical.World()
        self.primitive.Sphere(1e5, parent=self.world, material=self.material.AbsorbingSurface())
        built = faces(train)
        self.prism(built[:4])
        for front, back in zip(built[4::2], built[5::2], strict=True):
            self.glass([(front[0], -front[1]), (back[0], back[1])], WINDOW)

    def block(self, point, outward, half=(60.0, 60.0), **more):
        """A box whose front face has its middle at ``point``, its second axis along the edges of the prism."""
        z = unit(np.asarray(outward))
        x = unit(np.cross(Z if abs(z[2]) < 0.9 else X, z))
        matrix = np.eye(4)
        matrix[:3] = np.column_stack([x, np.cross(z, x), z, MM * np.asarray(point)])
        low, high = (self.optical.Point3D(*at) for at in ((-half[0], -half[1], -100.0), (*half, 0.0)))
        return self.primitive.Box(low, high, transform=self.optical.AffineMatrix3D(matrix.tolist()), **more)

    def glass(self, sides, index):
        """The body of glass within all ``sides``, each a point and its outward normal."""
        constant = self.optical.ConstantSF
        body, *others = (self.block(point, outward) for point, outward in sides)
        for other in others:
            body = self.primitive.Intersect(body, other)
        body.material = self.material.Dielectric(constant(index), constant(1.0), transmission_only=True)
        body.parent = self.world
        return body

    def prism(self, built):
        """The five-sided prism; silver lies on the glass of its mirrors, which goes on for 1 nm under it."""
        silver = self.material.Conductor(self.optical.ConstantSF(0.1), self.optical.ConstantSF(4.0))
        (entry, into, _), (at_1, inward_1, _), (at_2, inward_2, _), (leave, out, _) = built
        under = 1e-9
        cut = SIDE * np.array([0.5 + np.tan(np.pi / 8.0), -0.5, 0.0])  # where mirror 1 ends
        sides = [
            (entry, -into),
            (at_1 - under * inward_1, -inward_1),
            (at_2 - under * inward_2, -inward_2),
            (leave, out),
            (cut, X - Y),
            (0.5 * SIDE * Z, Z),
            (-0.5 * SIDE * Z, -Z),
        ]
        self.whole = self.glass(sides, GLASS)
        half = (0.5 * MM * SIDE / np.cos(np.pi / 8.0), 0.5 * MM * SIDE)
        # a mirror is the front of a block that lies behind it
        self.mirrors = [
            self.block(at, inward, half, parent=self.world, material=silver)
            for at, inward in ((at_1, inward_1), (at_2, inward_2))
        ]

    def traced(self, origin, direction):
        """Bodies met, where, in metres, and the direction in which the wall is met."""
        ray_of = pytest.importorskip("raysect.optical.loggingray").LoggingRay
        ray = ray_of(
            self.optical.Point3D(*(MM * origin)), self.optical.Vector3D(*direction), bins=1, extinction_prob=0.0
        )
        ray.trace(self.world)
        met = [each.hit_point.transform(each.primitive_to_world) for each in ray.log]
        last = ray.log[-1].ray.direction
        where = np.array([[p.x, p.y, p.z] for p in met]) / MM
        return [each.primitive for each in ray.log[:-1]], where[:-1], np.array([last.x, last.y, last.z])


@pytest.mark.parametrize("seed", range(20))
def test_our_way_is_that_of_a_tracer_of_solids(seed):
    train = some_train(seed)
    bodies = Bodies(train)
    met, where, last = bodies.traced(train.origin, train.direction)
    corners, along = traced(train)
    assert met[:4] == [bodies.whole, *bodies.mirrors, bodies.whole]
    assert where.shape == corners.shape
    assert np.abs(where - corners).max() < NUDGE
    assert np.abs(last - along).max() < 1e-14


def test_the_margin_is_positive_just_where_the_solid_sends_the_light_through():
    rng = np.random.default_rng(8)
    errors = {"mirror": 0.0, "pyramid": 0.0, "entrance_wedge": 0.0 * X, "exit_wedge": 0.0 * X}
    none = np.empty((0, 3))
    perfect = Train(-X, X, errors, none, none, np.empty(0), none)
    bodies = Bodies(perfect)
    through = [bodies.whole, *bodies.mirrors, bodies.whole]
    entry = np.column_stack([np.full(600, -0.5 * SIDE), rng.uniform(-0.6, 0.6, (600, 2)) * SIDE])
    direction = unit(X + np.column_stack([np.zeros(600), rng.uniform(-0.4, 0.4, (600, 2))]))
    path = through_pentaprism(entry, direction, SIDE, GLASS)
    counted = 0
    for at, along, margin in zip(entry, direction, path.margin, strict=True):
        if abs(margin) > 1e-8:
            met, _, _ = bodies.traced(at - 0.1 * along, along)
            assert (met == through) == (margin > 0.0), margin
            counted += margin > 0.0
    assert 100 < counted < 500
