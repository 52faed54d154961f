"""Whether set-ups can move against each other without any reading telling it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..model.layout import Layout
from ..model.survey import Setup
from ..reductions.network import unknowns_of
from ..tracing.geometry import SurveyGeometry
from ..tracing.sensitivity import channel_slopes
from ..vectors import Flags, Floats, Indices
from .plan import Plan

__all__ = ["is_loose"]

FRAME = ("tilt_x", "tilt_y", "tilt_z", "lift", "shift")
"""Unknowns of a set-up as a whole."""

DISPLACED = ("deviation", "deviation_side", "deviation_along")

RANK = 1e-3
"""Singular values below this share of the largest count as zero: beams bend in air, so that nothing moves quite
rigidly, and a displacement that a reading sees by so little is none."""


@dataclass(frozen=True, slots=True, eq=False)
class _Seen:
    """Readings of some set-ups, o of them, and how they change.

    ``of_frames`` (o, f) with the frames of the set-ups, ``of_stations`` (o, 3 n) with displacements of the stations;
    ``row`` (o,) is the row of each.
    """

    row: Indices
    of_frames: Floats
    of_stations: Floats


def is_loose(plan: Plan, setups: list[Setup], wanted: set[str]) -> bool:
    """Whether ``setups`` can move the stations ``wanted`` otherwise than as a rigid body, unseen by any reading."""
    names, rows = [setup.name for setup in setups], plan.geometry.rows
    mine = np.array([name in names for name in rows.setups], dtype=bool)[rows.setup] & np.isfinite(plan.spots.path)
    index = np.nonzero(mine)[0]
    index = index[np.all(np.isin(plan.geometry.plates.row[index], [-1, *index.tolist()]), axis=1)]
    if not len(index):
        return False
    geometry = plan.geometry.chosen(index)
    seen = _seen(plan.layout, geometry)
    free = _unseen(seen)
    judged = _rows_of(geometry, wanted)[seen.row]
    moves = (seen.of_frames @ free)[judged]
    rigid = (seen.of_stations @ _rigid(geometry))[judged]
    return _rank(np.column_stack([rigid, moves])) > _rank(rigid)


def _rows_of(geometry: SurveyGeometry, names: set[str]) -> Flags:
    wanted = np.array([name in names for name in geometry.rows.stations], dtype=bool)
    result: Flags = wanted[geometry.rows.station]
    return result


def _seen(layout: Layout, geometry: SurveyGeometry) -> _Seen:
    """Slopes of all h and v that tell something."""
    fields = (*DISPLACED, *FRAME)
    slopes = channel_slopes(geometry, fields)
    parts = [(channel, np.nonzero(geometry.reads[channel])[0]) for channel in ("h", "v")]
    row = np.concatenate([here for _, here in parts])

    def of(field: str) -> Floats:
        return np.concatenate([slopes[channel][field][here] for channel, here in parts])

    columns = [np.zeros((len(row), 0))]
    for unknown in unknowns_of(layout, geometry):
        if unknown.field in FRAME:
            part, group = np.zeros((len(row), len(unknown.keys))), unknown.group[row]
            here = np.nonzero(group >= 0)[0]
            part[here, group[here]] = of(unknown.field)[here]
            columns.append(part)
    names, number = np.unique(geometry.rows.station, return_inverse=True)
    station, each, n = number[row], np.arange(len(row)), len(names)
    of_stations = np.zeros((len(row), 3 * n))
    for axis, field in enumerate(DISPLACED):
        of_stations[each, 3 * station + axis] = of(field)
    of_frames = np.column_stack(columns)
    known = np.isfinite(np.column_stack([of_frames, of_stations])).all(axis=1)
    return _Seen(row[known], of_frames[known], of_stations[known])


def _basis(matrix: Floats) -> Floats:
    """Orthonormal columns that span those of ``matrix``."""
    u, values, _ = np.linalg.svd(matrix, full_matrices=False)
    kept: Floats = u[:, values > RANK * max(float(values.max(initial=0.0)), 1e-300)]
    return kept


def _scaled(matrix: Floats) -> Floats:
    size = np.linalg.norm(matrix, axis=0)
    kept: Floats = matrix[:, size > RANK * max(float(size.max(initial=0.0)), 1e-300)]
    result: Floats = kept / np.linalg.norm(kept, axis=0)
    return result


def _rank(matrix: Floats) -> int:
    return int(_basis(_scaled(matrix)).shape[1]) if matrix.size else 0


def _unseen(seen: _Seen) -> Floats:
    """Motions of the frames ``(f, d)`` that stations can follow so that no reading changes."""
    frames = seen.of_frames
    size = np.linalg.norm(frames, axis=0)
    scale = np.where(size > 0.0, 1.0 / np.where(size > 0.0, size, 1.0), 1.0)
    follow = _basis(seen.of_stations)
    left = frames * scale - follow @ (follow.T @ (frames * scale))
    _, values, rows = np.linalg.svd(left, full_matrices=True)
    rank = int(np.count_nonzero(values > RANK))
    result: Floats = scale[:, None] * rows[rank:].T
    return result


def _rigid(geometry: SurveyGeometry) -> Floats:
    """Displacements ``(3 n, 6)`` of the stations, each in its own axes, by which all move as one body."""
    _, first = np.unique(geometry.rows.station, return_index=True)
    foot = geometry.foot[first]
    off = foot - foot.mean(axis=0)
    axes = np.stack([geometry.normal[first], geometry.beside[first], geometry.ahead[first]], axis=1)
    turns = np.stack([np.cross(axis, off) for axis in np.eye(3)], axis=-1)
    moves = np.concatenate([np.broadcast_to(np.eye(3), (len(foot), 3, 3)), turns], axis=2)
    result: Floats = np.einsum("nij,njk->nik", axes, moves).reshape(3 * len(foot), 6)
    return result
