"""Points files: profiles and surfaces measured elsewhere."""

import io
import sys
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from scenes.errors import ReadingsError
from scenes.readings import read_points, read_points_text, write_table_csv

MM, UM = 1e-3, 1e-6
PICOMETRE = 1e-12


def problem(text):
    with pytest.raises(ReadingsError) as caught:
        read_points_text(text)
    assert len(caught.value.problems) == 1, str(caught.value)
    return caught.value.problems[0]


def test_a_profile_has_no_y():
    points = read_points_text("x [mm],z [um]\n0,1.5\n100,-2\n")
    assert points.y is None
    assert points.x == pytest.approx([0, 0.1])
    assert points.z == pytest.approx([1.5 * UM, -2 * UM], abs=PICOMETRE)
    assert points.name == ("1", "2")
    assert len(points) == 2


def test_a_surface_in_any_units_order_and_case_with_names():
    points = read_points_text("# grid\nZ [thou];Point;Y [in];X [m]\n1;a;2;0,5\n\n-1;b;3;1,5\n")
    assert points.x == pytest.approx([0.5, 1.5])
    assert points.y == pytest.approx([50.8 * MM, 76.2 * MM])
    assert points.z == pytest.approx([25.4 * UM, -25.4 * UM])
    assert points.name == ("a", "b")
    assert list(points.row) == [3, 5]


def test_points_without_a_height_are_left_out_with_a_remark_and_keep_the_count():
    points = read_points_text("x [mm],z [um]\n0,1\n50,-\n100,3\n")
    assert points.name == ("1", "3")
    assert points.remarks == ("standard input, line 3: the point has no z and is left out",)


def test_doubled_names_and_unused_columns_are_remarked_on():
    points = read_points_text("point,x [mm],z [um],operator\na,0,1,\na,1,2,\n")
    assert "operator" in points.remarks[0]
    assert "the point a stands 2 times" in points.remarks[1]


@pytest.mark.parametrize(
    ("text", "place", "words"),
    [
        ("y [mm],z [um]\n1,2\n", (1, 0), "no column x"),
        ("x [mm],y [mm]\n1,2\n", (1, 0), "no column z"),
        ("x,z [um]\n1,2\n", (1, 1), "'x' has no unit"),
        ("x [mm],x [m],z [um]\n1,1,2\n", (1, 2), "two columns hold x"),
        ("x [mm],z [um],ponit\n1,1,2\n", (1, 3), "'ponit' is not known"),
        ("x [mm],z [um]\n", (1, 0), "no points below"),
        ("x [mm],z [um]\n1,\n", (1, 0), "no point of the file has a z"),
        ("x [mm],z [um]\n,1\n", (2, 1), "the point has no x"),
        ("x [mm],z [um]\n1\n", (2, 1), "the row ends after 1 field, before z [um]"),
        ("z [um],x [mm]\n1\n", (2, 1), "the row ends after 1 field, before x [mm]"),
        ("x [mm],z [um]\n1,2,3\n", (2, 3), "the row has 3 fields"),
        ("x [mm],z [um]\none,2\n", (2, 1), "'one' is not a number"),
        ('x [mm],z [um]\n"1,500",2\n', (2, 1), "a thousands separator"),
        ("", (0, 0), "empty"),
    ],
)
def test_what_is_wrong_is_said_with_its_place(text, place, words):
    found = problem(text)
    assert words in found.message
    assert (found.line, found.column) == place


def test_a_missing_file(tmp_path):
    (tmp_path / "profile.csv").touch()
    with pytest.raises(ReadingsError, match=r"no such file\n.*did you mean profile.csv"):
        read_points(tmp_path / "profil.csv")


def test_standard_input(monkeypatch):
    monkeypatch.setattr(sys, "stdin", SimpleNamespace(buffer=io.BytesIO(b"x [mm],z [um]\n0,1\n")))
    assert read_points("-").file == "standard input"


def test_points_are_read_only():
    with pytest.raises(ValueError, match="read-only"):
        read_points_text("x [mm],z [um]\n0,1\n").z[0] = 0


COORDINATES = st.lists(st.tuples(*[st.floats(-1e4, 1e4, allow_nan=False)] * 3), min_size=1, max_size=12)


@given(COORDINATES)
def test_a_table_that_was_written_is_read_back_exactly(tmp_path_factory, rows):
    path = tmp_path_factory.mktemp("points") / "surface.csv"
    write_table_csv(path, ["x [m]", "y [m]", "z [m]"], rows)
    points = read_points(path)
    assert np.array_equal(np.column_stack([points.x, points.y, points.z]), np.array(rows))


FIELDS = st.sampled_from(["x [mm]", "z [um]", "y", "1", "1,5", "1.5", "-", "#", "\x00", "é", *'"\n\r;,\t'])


@given(st.lists(FIELDS, max_size=40).map("".join))
def test_any_text_gives_points_or_a_readings_error(text):
    try:
        points = read_points_text("x [mm];z [um]\n" + text)
    except ReadingsError as error:
        found = error.problems
    else:
        found = points.z[np.isfinite(points.z)]
    assert len(found) > 0


@given(st.binary(max_size=200))
def test_any_bytes_give_points_or_a_readings_error(data):
    with pytest.raises(ReadingsError):  # no table of points comes about by chance
        read_points_text(data)
