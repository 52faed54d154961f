"""Shapes: whether the deviations of a result bear the mark of an error. A machine of that shape looks the same.

A mark of a whole surface is compared with what a plane or line leaves; a single station, with a smooth surface through
all of them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.stats import f as fisher

from ..reductions.quantities.definition import Kind as NumberKind
from ..reductions.quantities.definition import Profile, Zone
from ..reductions.quantities.measured import Measured, shape_of
from ..vectors import Floats
from .diagnosis import Suspicion
from .signatures import Signatures
from .suspects import KINDS, Candidate

__all__ = ["suspicions_of"]

STANDS_OUT = 0.01
MOST = 3
SHARE = 0.5
"""A mark of a whole surface must explain more than this share of the deviations to be named."""

PLAUSIBLE = 10.0
"""An error of a whole surface that would have to be so many times as large as stated is no suspicion."""

SPARE = 4
"""A test needs so many deviations more than it has parameters."""

TOUCHES = 0.1
"""A wrong reading that moves a shape, beyond what is fitted, by less than this share of itself leaves no mark in it."""

ROUNDING = 1e-6
"""Marks of a whole surface smaller than this share of the error in the readings are rounding."""

DEGREE = 3
"""Degree of the smooth surface that single stations are compared with."""


@dataclass(frozen=True, slots=True, eq=False)
class _Shape:
    """Deviations ``(k,)`` of a result, marks of all candidates in them ``(k, Q)``, and a smooth surface ``(k, s)``."""

    measured: Measured
    zone: Zone
    deviations: Floats
    marks: Floats
    smooth: Floats


def suspicions_of(measured: tuple[Measured, ...], signatures: Signatures) -> tuple[Suspicion, ...]:
    """Errors whose mark the deviations of these results bear, each task for itself."""
    found: list[Suspicion] = []
    for each in measured:
        for zone in each.definition.values:
            if isinstance(zone, Zone) and zone.kind is NumberKind.LENGTH and zone.tells_deviations:
                found += _of_shape(_shape(each, zone, signatures), signatures)
    return tuple(found)


def _shape(measured: Measured, zone: Zone, signatures: Signatures) -> _Shape:
    deviations, jacobian = shape_of(measured.evidence, zone)
    marks = measured.evidence.network.spread_of(jacobian).gain @ signatures.columns
    return _Shape(measured, zone, deviations, marks, _smooth(zone.profile, zone.measure.unseen(len(deviations))))


def _smooth(profile: Profile, unseen: Floats) -> Floats:
    """Polynomials of the places, as many as leave enough deviations to spare, with what the measure does not see."""
    places = profile.places - profile.places.mean(axis=0)
    _, size, rows = np.linalg.svd(places, full_matrices=False)
    flat = places @ rows[size > 1e-6 * max(float(size[0]), 1e-300)][:2].T
    flat = flat / max(float(np.abs(flat).max(initial=0.0)), 1e-300)
    terms, columns = [unseen], unseen.shape[1]
    for degree in range(2, DEGREE + 1):
        powers = [flat[:, 0] ** degree] if flat.shape[1] < 2 else [
            flat[:, 0] ** (degree - j) * flat[:, 1] ** j for j in range(degree + 1)
        ]  # fmt: skip
        if columns + len(powers) + SPARE > len(flat) // 2:
            break
        terms.append(np.column_stack(powers))
        columns += len(powers)
    return np.concatenate(terms, axis=1)


def _of_shape(shape: _Shape, signatures: Signatures) -> list[Suspicion]:
    whole = [
        i for i, each in enumerate(signatures.candidates)
        if (each.kind in KINDS and KINDS[each.kind].in_shape)
    ]  # fmt: skip
    single = [i for i, each in enumerate(signatures.candidates) if each.kind == "bad reading"]
    unseen = shape.zone.measure.unseen(len(shape.deviations))
    found = _tested(shape, signatures, whole, unseen, SHARE) + _tested(shape, signatures, single, shape.smooth, 0.0)
    return sorted(found, key=lambda each: -each.share)[:MOST]


def _tested(shape: _Shape, signatures: Signatures, numbers: list[int], base: Floats, share: float) -> list[Suspicion]:
    if not numbers:
        return []
    k = len(shape.deviations)
    q, _ = np.linalg.qr(base) if base.shape[1] else (np.zeros((k, 0)), None)
    left = shape.deviations - q @ (q.T @ shape.deviations)
    total = float(left @ left)
    found = []
    for number in numbers:
        columns = signatures.of_candidate(number)
        mark = shape.marks[:, columns]
        beyond = mark - q @ (q.T @ mark)
        size = np.linalg.norm(mark, axis=0)
        reach = (ROUNDING if share > 0.0 else TOUCHES) * np.linalg.norm(signatures.columns[:, columns], axis=0)
        keep = np.linalg.norm(beyond, axis=0) > np.maximum(1e-3 * size, reach)
        spare = k - base.shape[1] - int(keep.sum())
        if not keep.any() or spare < SPARE or total == 0.0:
            continue
        sizes, *_ = np.linalg.lstsq(beyond[:, keep], left, rcond=None)
        rest = left - beyond[:, keep] @ sizes
        explained = 1.0 - float(rest @ rest) / total
        parameters = int(keep.sum())
        ratio = (explained / parameters) / max((1.0 - explained) / spare, 1e-300)
        probability = min(1.0, len(numbers) * float(fisher.sf(ratio, parameters, spare)))
        known = signatures.candidates[number].stated_u
        if share > 0.0 and 0.0 < PLAUSIBLE * known < float(np.linalg.norm(sizes)):
            continue
        if probability < STANDS_OUT and explained > share:
            told = np.zeros(len(columns))
            told[keep] = sizes
            found.append(_suspicion(shape, signatures.candidates[number], told, explained, parameters, probability))
    return found


def _suspicion(
    shape: _Shape, candidate: Candidate, sizes: Floats, share: float, parameters: int, probability: float
) -> Suspicion:
    kind = KINDS[candidate.kind]
    return Suspicion(
        task=shape.measured.evidence.task.name,
        component=shape.zone.name,
        kind=candidate.kind,
        where=candidate.where,
        about=kind.about.format(candidate.where),
        confirm=kind.confirm,
        unit=kind.unit,
        sizes=tuple(float(size) for size in sizes),
        share=share,
        parameters=parameters,
        probability=probability,
        stated_u=candidate.stated_u,
    )
