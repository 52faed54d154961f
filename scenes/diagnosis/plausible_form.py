"""Form that a sound machine may have: smooth waves of unknown height, against which marks of errors are judged.

Deviations z of a sound machine are taken as normal with the covariance s^2 K + C: K of waves as long as those of
`drawn_truth`, each surface for itself, of unknown height s; C from the uncertainty of the readings, in which every
error has the size that the layout states. A mark must make z more likely by far than waves of any height do.
"""

from __future__ import annotations

import numpy as np
from scipy.linalg import solve_triangular

from ..uncertainty.drawn_truth import CYCLES
from ..vectors import Floats

__all__ = ["falls_beyond_form", "form_covariance"]

DIRECTIONS, LENGTHS = 60, 12
HEIGHTS = np.concatenate([[0.0], np.logspace(-2.0, 2.0, 25)])
"""Heights of the waves that are tried, as multiples of the root mean square of the deviations."""

FLOOR = 1e-3
"""Independent error that every deviation has at least, as a share of the mean standard uncertainty."""


def form_covariance(places: Floats, surfaces: tuple[str, ...]) -> Floats:
    """Covariance ``(k, k)`` of smooth waves at ``places`` (k, 3), mean variance 1; apart between surfaces."""
    number = np.arange(DIRECTIONS) + 0.5
    height, turn = 1.0 - number / DIRECTIONS, np.pi * (1.0 + np.sqrt(5.0)) * number
    flat = np.sqrt(1.0 - height**2)
    directions = np.column_stack([flat * np.cos(turn), flat * np.sin(turn), height])
    cycles = CYCLES[0] + (np.arange(LENGTHS) + 0.5) / LENGTHS * (CYCLES[1] - CYCLES[0])
    names = np.array(surfaces)
    result = np.zeros((len(places), len(places)))
    for name in dict.fromkeys(surfaces):
        mine = np.nonzero(names == name)[0]
        along = places[mine] @ directions.T
        extent = np.ptp(along, axis=0)
        per_metre = cycles / np.maximum(extent, 1e-6 * max(float(extent.max()), 1e-9))[:, None]
        turns = (2.0 * np.pi * along[..., None] * per_metre).reshape(len(mine), -1)
        size = np.tile(1.0 / (1.0 + cycles), DIRECTIONS)
        waves = np.concatenate([size * np.cos(turns), size * np.sin(turns)], axis=1)
        result[np.ix_(mine, mine)] = waves @ waves.T
    return result / max(float(np.mean(np.diag(result))), 1e-300)


def falls_beyond_form(left: Floats, marks: list[Floats], base: Floats, form: Floats, error: Floats) -> Floats:
    """Fall ``(n,)`` of twice the negative log-likelihood that each mark brings, heights of the waves free both times.

    Parameters
    ----------
    left : (k,) float
        Deviations.
    marks : list of (k, q) float
        Of n errors.
    base : (k, p) float
        Shapes that are free in any case; their span is left out.
    form, error : (k, k) float
        Covariances of the waves and of the deviations of a flat machine.
    """
    full, _ = np.linalg.qr(base, mode="complete") if base.shape[1] else (np.eye(len(left)), None)
    rest = full[:, np.linalg.matrix_rank(base) if base.shape[1] else 0 :].T
    z, seen = rest @ left, [rest @ mark for mark in marks]
    waves, sure = rest @ form @ rest.T, rest @ error @ rest.T
    sure = sure + FLOOR**2 * max(float(np.trace(sure)) / len(z), 1e-300) * np.eye(len(z))
    size = float(z @ z) / len(z)
    plain, told = np.inf, np.full(len(marks), np.inf)
    for height in HEIGHTS:
        root = np.linalg.cholesky(height**2 * size * waves + sure)
        spread = 2.0 * float(np.sum(np.log(np.diag(root))))
        white = solve_triangular(root, np.column_stack([z, *seen]), lower=True)
        alone = float(white[:, 0] @ white[:, 0])
        plain = min(plain, spread + alone)
        told = np.minimum(told, spread + alone - _explained(white, [mark.shape[1] for mark in seen]))
    return plain - told


def _explained(white: Floats, counts: list[int]) -> Floats:
    """Part ``(n,)`` of the square of the first column that each block of the others explains."""
    block = np.array(counts)
    first = 1 + np.cumsum(block) - block
    alone = white[:, first]
    found = (white[:, 0] @ alone) ** 2 / np.maximum(np.sum(alone**2, axis=0), 1e-300)
    for number in np.nonzero(block > 1)[0].tolist():
        q, _ = np.linalg.qr(white[:, first[number] : first[number] + block[number]])
        found[number] = float(np.sum((q.T @ white[:, 0]) ** 2))
    result: Floats = found
    return result
