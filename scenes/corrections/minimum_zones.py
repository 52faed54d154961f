"""Minimum zones of many sets of deviations over the same stations at once."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import qr
from scipy.optimize import linprog

from ..vectors import Floats

__all__ = ["minimum_zones"]

NUDGE = 1e-7  # relative shift of the places: no ties on regular grids, so the exchange cannot cycle
CLOSE = 1e-9  # relative gap between the two bounds at which a set counts as solved
MOST_EXCHANGES = 100


def minimum_zones(basis: Floats, deviations: Floats) -> tuple[Floats, Floats]:
    """Half-widths of the minimum zones and the deviations counted from the middle of each zone.

    Dual exchange: a set of ``p + 1`` contacts is held for each row, and the station that stands out most enters it in
    place of the one that the ratio test names, until none stands out. Widths are along z, right to about
    1e-7 of the deviations (a picometre in ten micrometres).

    Parameters
    ----------
    basis : (n, p) float
        Values at the stations of the functions that cost nothing: 1, x, y for flatness; 1 for level.
    deviations : (k, n) float
        One set of deviations per row, metres.

    Returns
    -------
    half_width : (k,) float
    about_zone : (k, n) float
    """
    n, p = basis.shape
    q, _ = np.linalg.qr(basis)
    detrended = deviations - (deviations @ q) @ q.T
    if n <= p:
        return np.zeros(len(deviations)), np.zeros_like(detrended)
    size = np.abs(detrended).max(axis=1, initial=0.0)
    scaled = detrended / np.where(size > 0.0, size, 1.0)[:, None]
    rows = q * np.sqrt(n)
    nudged = rows + NUDGE * np.random.default_rng(0).uniform(-1.0, 1.0, rows.shape)
    fitted = _exchange(nudged, scaled) @ rows.T
    rest = scaled - fitted
    high, low = rest.max(axis=1), rest.min(axis=1)
    about = (rest - ((high + low) / 2.0)[:, None]) * size[:, None]
    return (high - low) / 2.0 * size, about


def _exchange(rows: Floats, values: Floats) -> Floats:
    """Coefficients ``(k, p)`` of the best fit to each row of ``values`` in the sense of the largest residual."""
    p = rows.shape[1]
    contacts, signs, inverse = _start(rows, values)
    coefficients = np.zeros((len(values), p))
    open_rows = np.arange(len(values))
    for _ in range(MOST_EXCHANGES):
        held = np.take_along_axis(values, contacts, axis=1) * signs
        solution = np.einsum("kij,kj->ki", inverse, held)
        rest = values - solution[:, :p] @ rows.T
        worst = np.abs(rest).argmax(axis=1)
        k = np.arange(len(values))
        out = rest[k, worst]
        going = np.abs(out) > solution[:, p] + CLOSE
        coefficients[open_rows[~going]] = solution[~going, :p]
        if not going.any():
            return coefficients
        values, contacts, signs, inverse = values[going], contacts[going], signs[going], inverse[going]
        open_rows, worst, side = open_rows[going], worst[going], np.sign(out[going])
        _enter(rows, contacts, signs, inverse, worst, side)
    coefficients[open_rows] = [_by_programme(rows, left) for left in values]
    return coefficients


def _by_programme(rows: Floats, values: Floats) -> Floats:
    """The same coefficients ``(p,)`` for one set by linear programming, where rounding keeps the exchange going."""
    n, p = rows.shape
    ones = np.ones((n, 1))
    sides = np.block([[-rows, -ones], [rows, -ones]])
    cost = np.append(np.zeros(p), 1.0)
    answer = linprog(cost, A_ub=sides, b_ub=np.concatenate([-values, values]), bounds=[(None, None)] * (p + 1))
    if answer.x is None:
        raise RuntimeError(f"the minimum zone of a set over {n} stations was not found: {answer.message}")
    return np.asarray(answer.x[:p], dtype=np.float64)


def _start(rows: Floats, values: Floats) -> tuple[NDArray[np.intp], Floats, Floats]:
    """First contacts, their signs and the inverse of their system: stations far apart, the same for every set."""
    p = rows.shape[1]
    order = qr(rows.T, pivoting=True, mode="economic")[2]
    first = order[: p + 1]
    weights = np.linalg.svd(rows[first].T)[2][-1]
    turned = (values[:, first] @ weights < 0.0).astype(np.intp)
    sides = np.where(weights < 0.0, -1.0, 1.0) * np.array([[1.0], [-1.0]])
    system = np.concatenate([sides[:, :, None] * rows[first], np.ones((2, p + 1, 1))], axis=2)
    return np.tile(first, (len(values), 1)), sides[turned], np.linalg.inv(system)[turned]


def _enter(
    rows: Floats,
    contacts: NDArray[np.intp],
    signs: Floats,
    inverse: Floats,
    worst: NDArray[np.intp],
    side: Floats,
) -> None:
    """Put the station ``worst`` among the contacts of each set, in place, by a rank-one update of the inverse."""
    p = rows.shape[1]
    k = np.arange(len(worst))
    entering = np.concatenate([side[:, None] * rows[worst], np.ones((len(worst), 1))], axis=1)
    share = np.einsum("ki,kij->kj", entering, inverse)
    ratio = np.where(share > 1e-12, inverse[:, p, :] / np.where(share > 1e-12, share, 1.0), np.inf)
    leaving = ratio.argmin(axis=1)
    pivot = share[k, leaving]
    change = share.copy()
    change[k, leaving] -= 1.0
    column = inverse[k, :, leaving] / pivot[:, None]
    inverse -= column[:, :, None] * change[:, None, :]
    contacts[k, leaving] = worst
    signs[k, leaving] = side
