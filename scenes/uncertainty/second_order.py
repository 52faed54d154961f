"""What the curvature of a formula adds to the variance of its result."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from ..vectors import Floats
from .propagate import Effect

__all__ = ["SecondOrder", "second_order"]

STEP = 0.125
"""Steps of differences in standard uncertainties; a power of two."""


@dataclass(frozen=True, slots=True)
class SecondOrder:
    """Terms of second order of one result.

    Attributes
    ----------
    variances : mapping of (source, source) to float
        What each pair of sources adds to the variance (a source with itself too); below zero where the slope falls off.
    shift : float
        By how much the mean of the result lies above the formula at the estimates.
    """

    variances: dict[tuple[str, str], float]
    shift: float


def second_order(
    results: Callable[[Floats], Floats], values: Floats, effects: tuple[Effect, ...], index: int = 0
) -> SecondOrder:
    """Terms of second order of result ``index`` for independent symmetric errors.

    The formula is expanded along each independent draw of the effects, so that errors which move several inputs
    together need nothing of their own. For normal errors the terms are those of the source; for others the fourth
    moment of the distribution takes the place of 3.

    Parameters
    ----------
    results : callable
        Results ``(n, p)`` of inputs ``(n, k)``.

    Source: JCGM 100:2008 (GUM), note to 5.1.2.
    """
    names, directions, fourth = _directions(effects)
    q = len(names)
    if q == 0:
        return SecondOrder({}, 0.0)
    first, second = np.triu_indices(q, 1)
    along = np.concatenate([s * np.eye(q) for s in (-2.0, -1.0, 1.0, 2.0)])
    across = np.zeros((4, len(first), q))
    pair = np.arange(len(first))
    for number, (one, other) in enumerate(((-1.0, -1.0), (-1.0, 1.0), (1.0, -1.0), (1.0, 1.0))):
        across[number, pair, first], across[number, pair, second] = one, other
    places = np.concatenate([np.zeros((1, q)), along, across.reshape(-1, q)]) * STEP
    seen = results(values + places @ directions)[:, index]
    middle, line, square = seen[0], seen[1 : 1 + 4 * q].reshape(4, q), seen[1 + 4 * q :].reshape(4, -1)
    slope = (8.0 * (line[2] - line[1]) - (line[3] - line[0])) / (12.0 * STEP)
    bend = (16.0 * (line[1] + line[2]) - (line[0] + line[3]) - 30.0 * middle) / (12.0 * STEP**2)
    third = (line[3] - line[0] - 2.0 * (line[2] - line[1])) / (2.0 * STEP**3)
    own = 0.25 * (fourth - 1.0) * bend**2 + fourth / 3.0 * slope * third
    twist = (square[0] + square[3] - square[1] - square[2]) / (4.0 * STEP**2)
    odd = line[2] - line[1]
    bend_of_second = (square[2] + square[3] - square[0] - square[1] - 2.0 * odd[first]) / (2.0 * STEP**3)
    bend_of_first = (square[1] + square[3] - square[0] - square[2] - 2.0 * odd[second]) / (2.0 * STEP**3)
    mixed = twist**2 + slope[first] * bend_of_second + slope[second] * bend_of_first
    terms: dict[tuple[str, str], float] = {}
    for i, j, part in zip([*range(q), *first], [*range(q), *second], [*own, *mixed], strict=True):
        terms[names[i], names[j]] = terms.get((names[i], names[j]), 0.0) + float(part)
    return SecondOrder(terms, float(0.5 * bend.sum()))


def _directions(effects: tuple[Effect, ...]) -> tuple[list[str], Floats, Floats]:
    """Source, change ``(q, k)`` of the inputs and fourth moment of each independent standard draw."""
    names: list[str] = []
    rows: list[Floats] = []
    fourth: list[float] = []
    for effect in effects:
        for number in np.unique(effect.group[np.flatnonzero(effect.size)]):
            names.append(effect.name)
            rows.append(np.where(effect.group == number, effect.size, 0.0))
            fourth.append(effect.distribution.fourth_moment)
    return names, np.array(rows), np.array(fourth)
