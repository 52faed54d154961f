"""Form values of many Monte Carlo trials over one fixed layout of stations, for every reference.

Trials differ in heights only, so everything that depends on the layout is done once. Heights come station-major,
(n, t): a row holds one station in all trials, and a block of trials stays in the cache.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

import numpy as np
import numpy.typing as npt

from scenes.errors import GeometryError
from scenes.reductions.fitted_references import in_range, of_datum, orthonormal_shapes, widest_triangle
from scenes.reductions.reference import Reference
from scenes.reductions.spans import COLLINEAR, FloatArray, coordinates_of, corners_of
from scenes.reductions.zones_of_trials import Layout, minimum_zone_of_block

__all__ = ["form_of_trials", "zone_deviations_of_trials"]

BLOCK = 4000
"""Trials worked on side by side: 50 stations of them take 1.6 MB."""

ROUNDS = 30


def form_of_trials(
    stations: FloatArray, heights: FloatArray, reference: Reference, datum: npt.ArrayLike | None
) -> FloatArray:
    """Return the form value (t,) of each trial.

    Parameters
    ----------
    stations : (n, 2) or (n, 1) float
        Plan of a surface or positions of a profile.
    heights : (n, t) float
    reference : Reference
    datum : (3,) or (2,) int, optional

    Raises
    ------
    GeometryError
        When the stations span no plane or line, a height is not finite, or the datum does not fit.
    """
    if heights.ndim != 2 or heights.shape[0] != len(stations):
        raise GeometryError(
            f"Heights of trials come as one row per station ({len(stations)}) and one column per trial; found an array "
            f"of shape {heights.shape}."
        )
    orthonormal_shapes(stations)  # refuses stations that span nothing
    layout = layout_of(stations)
    if reference is Reference.MINIMUM_ZONE:
        return over_blocks(layout, heights, minimum_zone_of_block)
    if reference is Reference.LEAST_SQUARES:
        return over_blocks(layout, heights, least_squares_of_block)
    return over_blocks(layout, heights, partial(through_datum_of_block, slopes_through(layout, datum)))


def zone_deviations_of_trials(stations: FloatArray, heights: FloatArray) -> FloatArray:
    """Return the orthogonal deviations (n, t) of each trial from the middle of its minimum zone, + = high.

    Arguments and errors are those of ``form_of_trials``.
    """
    form_of_trials(stations, heights[:, :0], Reference.MINIMUM_ZONE, None)  # refuses stations that span nothing
    layout = layout_of(stations)
    slopes = [np.empty((layout.plan.shape[1], 0))]

    def of_block(layout: Layout, block: FloatArray, scratch: FloatArray) -> FloatArray:
        slopes.append(np.empty((layout.plan.shape[1], block.shape[1])))
        return minimum_zone_of_block(layout, block, scratch, slopes[-1])

    over_blocks(layout, heights, of_block)
    every = np.hstack(slopes)
    rest = (heights - layout.plan @ every * layout.size) / np.sqrt(1.0 + np.sum(every**2, axis=0))
    return np.asarray(rest - (rest.max(axis=0) + rest.min(axis=0)) / 2.0)


def layout_of(stations: FloatArray) -> Layout:
    """Return the layout of stations (n, d) that are known to span a line or plane."""
    rows = stations - stations.mean(axis=0)
    size = float(np.abs(rows).max())
    rows /= size
    if rows.shape[1] == 2:
        rows = rows @ np.linalg.eigh(rows.T @ rows)[1][:, ::-1]
    corners, _, breadth = corners_of(coordinates_of(rows))
    return Layout(rows, size, corners, breadth)


def over_blocks(
    layout: Layout, heights: FloatArray, of_block: Callable[[Layout, FloatArray, FloatArray], FloatArray]
) -> FloatArray:
    """Return the value (t,) of each trial in heights (n, t), worked out block by block.

    ``of_block`` gets heights of mean zero in units of the layout, which it may overwrite, and scratch of that shape.
    Both are asked for once: new memory for every block costs more than the arithmetic.
    """
    stations, trials = heights.shape
    values = np.empty(trials)
    memory = np.empty((2, stations * min(trials, BLOCK)))
    for at in range(0, trials, BLOCK):
        part = heights[:, at : at + BLOCK]
        block, scratch = (row[: part.size].reshape(part.shape) for row in memory)
        np.divide(part, layout.size, out=block)
        middle = block.sum(axis=0) / stations
        if not np.isfinite(middle).all():
            station, trial = np.argwhere(~np.isfinite(part))[0]
            raise GeometryError(
                f"The height of station {station} in trial {at + trial} is not a finite number, so the trial has no "
                "form value."
            )
        block -= middle
        values[at : at + BLOCK] = of_block(layout, block, scratch)
    values *= layout.size
    return values


def least_squares_of_block(layout: Layout, heights: FloatArray, scratch: FloatArray) -> FloatArray:
    """Return the extents (t,) over the planes or lines of least squared orthogonal distance.

    In principal axes each slope is (moment with the heights) / (moment of the plan - squares left over). The squares
    left over answer to the slopes in second order only, so a few rounds settle them.
    """
    cross = layout.plan.T @ heights
    stiff = np.sum(layout.plan**2, axis=0)[:, None]
    squares = np.einsum("ij,ij->j", heights, heights)
    slopes = cross / stiff
    for _ in range(ROUNDS):
        before = slopes
        left = squares - np.sum(cross * slopes, axis=0)
        slopes = cross / (stiff - np.clip(left, 0.0, 0.5 * stiff.min()))
        if np.all(np.abs(slopes - before) <= np.finfo(float).eps * np.abs(slopes)):
            break
    return extent_over(layout, heights, slopes, scratch)


def extent_over(layout: Layout, heights: FloatArray, slopes: FloatArray, scratch: FloatArray) -> FloatArray:
    """Return the orthogonal distance (t,) from highest to lowest of heights (n, t) over planes of slopes (d, t)."""
    np.matmul(layout.plan, slopes, out=scratch)
    np.subtract(heights, scratch, out=scratch)
    return np.asarray((scratch.max(axis=0) - scratch.min(axis=0)) / np.sqrt(1.0 + np.sum(slopes**2, axis=0)))


def slopes_through(layout: Layout, datum: npt.ArrayLike | None) -> FloatArray:
    """Return the matrix (d, n) that turns heights into slopes of the line or plane through the datum stations.

    Raises
    ------
    GeometryError
        When the datum stations span no line or plane.
    """
    d = layout.plan.shape[1]
    chosen = default_datum(layout) if datum is None else in_range(of_datum(datum, d + 1), len(layout.plan))[:, None]
    corner = np.array([layout.plan[group].mean(axis=0) for group in chosen])
    _, length, breadth = corners_of(coordinates_of(corner))
    if breadth <= COLLINEAR * length or length == 0.0:
        raise GeometryError("The datum stations lie on one line in plan, or at one position: they hold no reference.")
    answer = np.linalg.inv(np.column_stack((np.ones(d + 1), corner)))
    slopes = np.zeros((d, len(layout.plan)))
    for group, column in zip(chosen, answer[1:].T, strict=True):
        slopes[:, group] += column[:, None] / len(group)
    return slopes


def default_datum(layout: Layout) -> list[npt.NDArray[np.intp]]:
    """Return the stations of the largest triangle, or all stations at either end of a line."""
    if layout.plan.shape[1] == 2:
        return [np.array([corner]) for corner in widest_triangle(layout.plan)]
    place = layout.plan[:, 0]
    return [np.flatnonzero(place == place.min()), np.flatnonzero(place == place.max())]


def through_datum_of_block(
    slopes_from_heights: FloatArray, layout: Layout, heights: FloatArray, scratch: FloatArray
) -> FloatArray:
    """Return the extents (t,) over the lines or planes whose slopes follow from the heights."""
    return extent_over(layout, heights, slopes_from_heights @ heights, scratch)
