"""Machine surfaces as they are painted: one looks into a bore, a roll is round."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import pyvista as pv

from scenes.errors import PictureError
from scenes.layout import read_layout
from scenes.meshes.cameras import Camera
from scenes.meshes.machine import machine_parts
from viewer.colours import theme_of
from viewer.graphics import require_graphics
from viewer.scene3d import Scene

HALL = Path(__file__).parents[1] / "scenes" / "machine_hall.yaml"


@pytest.fixture(scope="module")
def hall():
    try:
        require_graphics()
    except PictureError as error:
        pytest.skip(str(error))
    return read_layout(HALL)


def picture_of(parts, camera: Camera, ball: tuple[float, float, float] | None = None) -> np.ndarray:
    """Pixels of the parts, and of a red ball of 40 mm radius that is not shaded."""
    scene = Scene(theme_of(False))
    scene.put("machine", parts)
    scene.show(["machine"])
    if ball is not None:
        scene.plotter.add_mesh(pv.Sphere(radius=0.04, center=ball), color="red", lighting=False)
    scene.look(camera)
    pixels = scene.pixels().astype(float)
    scene.close()
    return pixels


def camera(position, focus) -> Camera:
    return Camera(np.array(position), np.array(focus), np.array([0.0, 0.0, 1.0]))


def test_one_looks_into_a_bore(hall) -> None:
    """A ball on the axis shows from the side, through the shell and the near wall; not through a plate."""
    aside = camera((2.0, -7.0, 1.4), (2.0, -5.0, 1.2))
    ball = (2.0, -5.0, 1.2)

    def red_of(name: str) -> int:
        pixels = picture_of([part for part in machine_parts(hall) if part.place_name == name], aside, ball)
        return int(((pixels[..., 0] > 150) & (pixels[..., 1] < 100)).sum())

    free = red_of("roll_1")  # nowhere near
    assert free > 500
    assert red_of("barrel") > 0.9 * free


def test_a_roll_is_shaded_without_steps(hall) -> None:
    """Across the mantle the brightness changes from pixel to pixel by little; flat sides would show as steps."""
    parts = [part for part in machine_parts(hall) if part.name == "surface roll_1"]
    pixels = picture_of(parts, camera((6.0, 0.0, 1.3), (8.0, 0.0, 1.1)))
    column = pixels[:, pixels.shape[1] // 2].mean(axis=1)
    mantle = np.nonzero(column < 225)[0]  # the ground is lighter
    inner = column[mantle[0] + 6 : mantle[-1] - 5]
    assert len(inner) > 80
    assert np.ptp(inner) > 20
    assert np.abs(np.diff(inner)).max() < 5
