"""``datumray picture``: plan and result as files, and what is said where that cannot be."""

from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from typer.testing import CliRunner

from scenes.errors import InputError
from viewer.commands.main import app

BED = Path(__file__).parents[2] / "examples" / "press_bed"


def drawn(*arguments):
    return CliRunner().invoke(app, ["picture", str(BED / "layout.yaml"), *map(str, arguments)])


@pytest.mark.parametrize("readings", [(), (BED / "readings" / "as_found.csv",)], ids=["plan", "result"])
def test_a_picture_has_the_size_asked_for_and_shows_something(tmp_path, readings):
    out = tmp_path / "bed.png"
    result = drawn(*readings, "-o", out, "--width", 640, "--height", 400)
    assert result.exit_code == 0, result.output
    pixels = np.asarray(Image.open(out).convert("RGB"))
    assert pixels.shape == (400, 640, 3)
    assert len(np.unique(pixels.reshape(-1, 3), axis=0)) > 200


def test_themes_and_views_differ(tmp_path):
    files = [tmp_path / f"{n}.png" for n in range(3)]
    for out, extra in zip(files, ((), ("--theme", "dark"), ("--view", "top")), strict=True):
        assert drawn("-o", out, "--width", 320, "--height", 200, *extra).exit_code == 0
    light, dark, top = (np.asarray(Image.open(out).convert("L"), dtype=float) for out in files)
    assert dark.mean() < 0.6 * light.mean()
    assert np.abs(top - light).mean() > 1.0


def test_an_unknown_view_is_refused_with_the_known_ones(tmp_path):
    result = drawn("-o", tmp_path / "x.png", "--view", "moon")
    assert result.exit_code == 2
    assert "whole" in result.output


@pytest.mark.parametrize(("name", "why"), [("x.txt", "png"), ("nowhere/x.png", "folder")])
def test_a_file_that_cannot_be_written_is_named_before_anything_is_drawn(tmp_path, name, why):
    result = drawn("-o", tmp_path / name)
    assert isinstance(result.exception, InputError)
    assert why in str(result.exception)
    assert not list(tmp_path.iterdir())
