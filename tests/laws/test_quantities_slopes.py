"""Slopes read step by step: the profile of a line, and a surface from lines that cross and close."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from scenes.errors import GeometryError
from scenes.reductions.form import Reference, flatness, straightness
from scenes.reductions.quantities.compared import compared
from scenes.reductions.quantities.stepped_grid import merged_places, solved_steps

NANOMETRE = 1e-9
STEP = 0.2


def rough(layout, seed):
    """Points where feet stand, with random heights, and the slopes that they make of the stations."""
    rng, heights, slopes = np.random.default_rng(seed), {}, {}
    for name, each in layout.stations.items():
        ends = [tuple(np.round(each.at + sign * 0.5 * STEP * each.along, 6)[:2] + 0.0) for sign in (-1.0, 1.0)]
        low, high = (heights.setdefault(end, 5e-6 * rng.standard_normal()) for end in ends)
        slopes[name] = (high - low) / STEP
    return np.array([[*place, height] for place, height in heights.items()]), slopes


def values(names, truth):
    return np.array([truth.get(name, 0.0) for name in names])


def component(result, name=""):
    return next(each for each in result.components if each.name == name)


def shown(result, component):
    """Deviations of one direction, by station."""
    return {
        name: value
        for each in result.deviations
        for name, word, value in zip(each.stations, each.components, each.values, strict=True)
        if word == component
    }


def test_a_profile_is_the_sum_of_its_steps(surveys, crew):
    layout = surveys.steps()
    names = layout.tasks["profile"].stations
    nod = crew.truth(names, 23, 20e-6)
    found = crew.measured(layout, crew.readings(layout, {"nod": nod}, errors=False), "profile")
    heights = np.concatenate([[0.0], np.cumsum(0.2 * values(names, nod))])
    feet = np.arange(len(heights)) * 0.2
    wanted = straightness(np.column_stack([feet, heights]), Reference.END_POINTS)
    assert component(found).value == pytest.approx(wanted.value, abs=NANOMETRE)
    assert np.allclose(list(shown(found, "up").values()), wanted.deviations, rtol=0.0, atol=NANOMETRE)
    apart = surveys.steps(step=0.3)
    assert "do not join" in crew.measured(apart, crew.readings(apart, errors=False), "profile").remarks[0]


@pytest.mark.parametrize("reference", [Reference.MINIMUM_ZONE, Reference.LEAST_SQUARES, Reference.THREE_POINTS])
def test_a_closed_grid_gives_the_surface_back(surveys, crew, reference):
    layout = surveys.stepped()
    layout = replace(layout, tasks={"plate": replace(layout.tasks["plate"], reference=str(reference))})
    z, slopes = rough(layout, 1)
    found = crew.measured(layout, crew.readings(layout, {"nod": slopes}, errors=False), "plate")
    (component,) = found.components
    assert component.value == pytest.approx(flatness(z, reference).value, abs=2 * NANOMETRE)
    (told,) = found.deviations
    assert len(told.stations) == len(z)
    # 62 slopes; 21 + 15 - 9 + 9 + 9 feet with heights less a plane, and the angles of eight lines
    assert f"close {62 - (len(z) - 3) - 8} times" in found.remarks[0]
    assert told.leverage.sum() == pytest.approx(3.0, abs=1e-9)


def test_a_wrong_slope_does_not_close(surveys, crew):
    layout = surveys.stepped()
    _, slopes = rough(layout, 3)
    readings = crew.readings(layout, {"nod": slopes})
    pitch = np.array(readings.pitch)
    wrong = readings.station.index("rows 1, 2")
    pitch[wrong] += 200e-6
    good, bad = (crew.measured(layout, each, "plate") for each in (readings, replace(readings, pitch=pitch)))
    assert "again" not in good.remarks[0]
    assert "step along the line of that station again" in bad.remarks[0]


@pytest.mark.parametrize("backward", [False, True])
def test_yaw_tells_the_sideways_profile(surveys, crew, backward):
    """Left of the way is left whichever end the light comes from."""
    layout = surveys.steps()
    if backward:
        setup = replace(layout.setups["stepping"], at=np.array([2.6, 0.0, 0.0]), aim=np.array([-1.0, 0.0, 0.0]))
        layout = replace(layout, setups={"stepping": setup})
    layout = replace(layout, tasks={"profile": replace(layout.tasks["profile"], plane="horizontal")})
    names = layout.tasks["profile"].stations
    swing = crew.truth(names, 23, 20e-6)
    found = crew.measured(layout, crew.readings(layout, {"swing": swing}, errors=False), "profile")
    aside = np.concatenate([[0.0], np.cumsum(STEP * values(names, swing))])
    wanted = straightness(np.column_stack([STEP * np.arange(len(aside)), aside]), Reference.END_POINTS)
    assert component(found).value == pytest.approx(wanted.value, abs=NANOMETRE)
    np.testing.assert_allclose(list(shown(found, "left").values()), wanted.deviations, rtol=0.0, atol=NANOMETRE)
    assert found.deviations[0].directions[0] == pytest.approx([0.0, 1.0, 0.0], abs=1e-9)


def test_lines_that_leave_more_than_a_plane_open_are_refused(surveys, crew):
    rows, grid = surveys.stepped(["rows"]), surveys.stepped(["rows", "columns"])
    with pytest.raises(GeometryError, match="do not hang together"):
        crew.measured(rows, crew.readings(rows, errors=False), "plate")
    with pytest.raises(GeometryError, match="leave the twist of the surface open"):
        crew.measured(grid, crew.readings(grid, errors=False), "plate")


def test_other_references_of_a_stepped_surface(surveys, crew):
    layout = surveys.stepped()
    z, slopes = rough(layout, 4)
    found = crew.measured(layout, crew.readings(layout, {"nod": slopes}, errors=False), "plate")
    told = compared(found, np.random.default_rng(0), 500)
    assert {each.reference for each in told} == {
        Reference.MINIMUM_ZONE, Reference.LEAST_SQUARES, Reference.THREE_POINTS
    }  # fmt: skip
    for each in told:
        wanted = flatness(z, each.reference).value
        assert each.components[0].value == pytest.approx(wanted, abs=2 * NANOMETRE)


# --- the heights of steps by themselves -----------------------------------------------------------------------------


def grid_of(rows, columns):
    """Steps of a closed grid with one long diagonal: first, second, offsets of its lines, plan."""
    node = np.arange((rows + 1) * (columns + 1)).reshape(rows + 1, columns + 1)
    first = [*node[:, :-1].ravel(), *node[:-1, :].T.ravel()]
    second = [*node[:, 1:].ravel(), *node[1:, :].T.ravel()]
    line = [*np.repeat(np.arange(rows + 1), columns), *(rows + 1 + np.repeat(np.arange(columns + 1), rows))]
    short = min(rows, columns) + 1
    steps = node[np.arange(short), np.arange(short)]
    first, second, line = [*first, *steps[:-1]], [*second, *steps[1:]], [*line, *[max(line) + 1] * (short - 1)]
    offsets = (np.array(line)[:, None] == np.arange(max(line) + 1)).astype(float)
    y, x = np.meshgrid(np.arange(rows + 1.0), np.arange(columns + 1.0), indexing="ij")
    return np.array(first), np.array(second), offsets, np.column_stack([x.ravel(), y.ravel()])


@pytest.mark.parametrize("seed", range(20))
def test_heights_and_closures_of_any_grid(seed):
    """Law 16: slopes of true heights give them back whatever every line is off by; law 10: control adds up."""
    rng = np.random.default_rng(seed)
    rows, columns = rng.integers(2, 6, 2)
    first, second, offsets, plan = grid_of(rows, columns)
    length = STEP * np.linalg.norm(plan[second] - plan[first], axis=1)
    solved = solved_steps(first, second, length, offsets, plan)
    z = rng.standard_normal(len(plan))
    slopes = (z[second] - z[first]) / length + offsets @ rng.standard_normal(offsets.shape[1])
    off = solved.gain @ slopes - z
    design = np.column_stack([np.ones(len(plan)), plan])
    np.testing.assert_allclose(off - design @ np.linalg.lstsq(design, off, rcond=None)[0], 0.0, atol=1e-10)
    np.testing.assert_allclose(solved.closing @ slopes, 0.0, atol=1e-9)
    assert np.trace(solved.closing) == pytest.approx(solved.redundancy, abs=1e-9)


def test_feet_that_stand_together_are_one_place():
    places = np.array([[0.0, 0, 0], [0.2, 0, 0], [0.2004, 0, 0], [0.2, 0.2, 0], [0.0, 0.0004, 0]])
    number, middles = merged_places(places, 1e-3)
    assert number[1] == number[2]
    assert number[0] == number[4]
    assert len(middles) == 3
    assert middles[number[1], 0] == pytest.approx(0.2002)
