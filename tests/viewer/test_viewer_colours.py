"""The colours of deviations: even for the eye, also without red and green; words on their grounds can be read."""

import numpy as np
import pytest

from viewer.colours import DARK, LIGHT, diverging, hex_of, lab_from_srgb, srgb_from_lab, theme_of

# Source: Vienot, Brettel, Mollon, Digital video colourmaps for checking the legibility of displays by dichromats,
# Color Research and Application 24 (1999): linear RGB -> LMS, and the LMS of a deuteranope; from memory.
LMS_FROM_LINEAR = np.array([[17.8824, 43.5161, 4.11935], [3.45565, 27.1554, 3.86714], [0.0299566, 0.184309, 1.46709]])
DEUTERANOPE = np.array([[1.0, 0.0, 0.0], [0.494207, 0.0, 1.24827], [0.0, 0.0, 1.0]])
JUST_VISIBLE = 2.3  # CIELAB difference that most people just see; common practice


def without_green(rgb):
    linear = np.where(rgb <= 0.04045, rgb / 12.92, ((rgb + 0.055) / 1.055) ** 2.4)
    seen = linear @ LMS_FROM_LINEAR.T @ DEUTERANOPE.T @ np.linalg.inv(LMS_FROM_LINEAR).T
    seen = np.clip(seen, 0.0, 1.0)
    return np.where(seen <= 0.0031308, 12.92 * seen, 1.055 * seen ** (1 / 2.4) - 0.055)


def steps(rgb):
    return np.linalg.norm(np.diff(lab_from_srgb(rgb), axis=0), axis=1)


def test_cielab_of_known_colours():
    # Source of the values: CIELAB of sRGB white, and of pure red (53.24, 80.09, 67.20), as tables for D65 give them.
    lab = lab_from_srgb(np.array([[1.0, 1.0, 1.0], [1.0, 0.0, 0.0], [0.0, 0.0, 0.0]]))
    np.testing.assert_allclose(lab[0], [100.0, 0.0, 0.0], atol=0.02)
    np.testing.assert_allclose(lab[1], [53.24, 80.09, 67.20], atol=0.02)
    np.testing.assert_allclose(lab[2], [0.0, 0.0, 0.0], atol=1e-9)


def test_both_ways_of_cielab_fit():
    rgb = np.random.default_rng(3).uniform(size=(1000, 3))
    np.testing.assert_allclose(srgb_from_lab(lab_from_srgb(rgb)), rgb, atol=1e-6)


def test_equal_deviations_are_equal_steps_on_both_sides():
    found = steps(diverging(np.linspace(-1.0, 1.0, 201)))
    assert found.max() / found.min() < 1.05


def test_zero_is_neutral_and_the_ends_are_two_hues():
    lab = lab_from_srgb(diverging(np.array([-1.0, 0.0, 1.0])))
    assert np.hypot(*lab[1, 1:]) < 4.0
    assert lab[1, 0] > 90.0
    assert abs(lab[0, 0] - lab[2, 0]) < 1.0  # neither side looks larger
    hue = np.rad2deg(np.arctan2(lab[:, 2], lab[:, 1]))
    assert 90.0 < abs((hue[2] - hue[0] + 180.0) % 360.0 - 180.0) <= 180.0


def test_high_and_low_differ_without_red_and_green():
    far = np.linspace(0.1, 1.0, 10)
    low, high = (lab_from_srgb(without_green(diverging(sign * far))) for sign in (-1.0, 1.0))
    apart = np.linalg.norm(high - low, axis=1)
    assert apart[0] > 2.0 * JUST_VISIBLE
    assert np.all(np.diff(apart) > 0.0)
    seen = steps(without_green(diverging(np.linspace(-1.0, 1.0, 101))))
    assert seen.max() / seen.min() < 1.9


def test_values_beyond_the_ends_take_the_end_colours():
    assert np.array_equal(diverging(np.array([-5.0, 5.0])), diverging(np.array([-1.0, 1.0])))


def luminance(colour):
    rgb = np.array([int(colour[i : i + 2], 16) for i in (1, 3, 5)]) / 255.0
    return np.where(rgb <= 0.04045, rgb / 12.92, ((rgb + 0.055) / 1.055) ** 2.4) @ [0.2126, 0.7152, 0.0722]


@pytest.mark.parametrize("theme", [LIGHT, DARK])
@pytest.mark.parametrize(
    ("ink", "ground"),
    [("ink", "panel"), ("quiet", "panel"), ("quiet", "ground"), ("accent", "panel"), ("accent", "accent-soft"),
     ("good", "good-soft"), ("open", "open-soft"), ("bad", "bad-soft"), ("ink", "bad-soft"), ("ink", "good-soft")],
)  # fmt: skip
def test_words_can_be_read(theme, ink, ground):
    # Source of the ratio: WCAG 2.1, success criterion 1.4.3, 4.5 to 1 for text of usual size.
    one, two = sorted(luminance(theme.page[name]) for name in (ink, ground))
    assert (two + 0.05) / (one + 0.05) >= 4.5


def test_themes_paint_the_same_parts():
    assert set(LIGHT.paints) == set(DARK.paints)
    assert set(LIGHT.page) == set(DARK.page)
    assert set(LIGHT.special) == set(DARK.special)
    assert theme_of(True) is DARK
    assert hex_of(np.array([1.0, 0.5, 0.0])) == "#ff8000"
