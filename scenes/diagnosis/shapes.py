"""Shapes: whether the deviations of a result bear the mark of an error. A machine of that shape looks the same.

A sound machine has form of its own, smooth and of unknown height (`plausible_form`). A mark is a suspicion only where
it makes the deviations far more likely than such form does, beyond the sizes that the layout states of all errors, and
where the size that it needs is still plausible for the device. A parabola of a long rail is no suspicion of the air.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.stats import chi2

from ..reductions.quantities.definition import Kind as NumberKind
from ..reductions.quantities.definition import Profile, Zone
from ..reductions.quantities.measured import Measured, shape_of
from ..vectors import Flags, Floats
from .diagnosis import Suspicion
from .plausible_form import falls_beyond_form, form_covariance
from .signatures import Signatures
from .suspects import KINDS, Candidate

__all__ = ["suspicions_of"]

STANDS_OUT = 0.01
MOST = 3
SHARE = 0.5
"""A mark of a whole surface must explain more than this share of the deviations to be named."""

PLAUSIBLE = 6.0
"""Standard uncertainties, three times the stated U: an error of a whole surface beyond is no plausible cause."""

SPARE = 4
"""A test needs so many deviations more than it has parameters."""

TOUCHES = 0.1
"""A wrong reading that moves a shape, beyond what is fitted, by less than this share of itself leaves no mark in it."""

ROUNDING = 1e-6
"""Marks of a whole surface smaller than this share of the error in the readings are rounding."""

SAME_PLACE = 1e-6
"""Stations nearer to each other than this [m] stand at one place."""

CONTROLLED = 0.2
"""A reading of which others see this share is judged by them."""

DEGREE = 3
"""Degree of the smooth surface that single stations are compared with."""


@dataclass(frozen=True, slots=True, eq=False)
class _Shape:
    """Deviations of a result with what they are judged by.

    Attributes
    ----------
    deviations : (k,) float
    marks : (k, Q) float
        Of all columns of the signatures.
    unseen, smooth : (k, p), (k, s) float
        What the measure does not see, and with it a smooth surface.
    form, error : (k, k) float
        Covariance of plausible form of height 1, and of the deviations of a flat machine.
    """

    measured: Measured
    zone: Zone
    deviations: Floats
    marks: Floats
    unseen: Floats
    smooth: Floats
    form: Floats
    error: Floats


def suspicions_of(measured: tuple[Measured, ...], signatures: Signatures, seen: Floats) -> tuple[Suspicion, ...]:
    """Errors whose mark the deviations of these results bear, each task for itself.

    ``seen`` (n,): share of every candidate that other readings control. Of a reading that others control they speak,
    and not the shape.
    """
    found: list[Suspicion] = []
    for each in measured:
        for zone in each.definition.values:
            if isinstance(zone, Zone) and zone.kind is NumberKind.LENGTH and zone.tells_deviations and _is_form(zone):
                found += _of_shape(_shape(each, zone, signatures), signatures, seen)
    return tuple(found)


def _is_form(zone: Zone) -> bool:
    """Whether the deviations stand at places of their own; what turns past one target has no form along places."""
    places = np.round(zone.profile.places / SAME_PLACE)
    return len(np.unique(places, axis=0)) > len(places) // 2


def _shape(measured: Measured, zone: Zone, signatures: Signatures) -> _Shape:
    deviations, jacobian = shape_of(measured.evidence, zone)
    spread, profile = measured.evidence.network.spread_of(jacobian), zone.profile
    unseen = zone.measure.unseen(len(deviations))
    surfaces = tuple(f"{_surface(measured, station)} {component}"
                     for station, component in zip(profile.stations, profile.components, strict=True))  # fmt: skip
    return _Shape(
        measured, zone, deviations, spread.gain @ signatures.columns, unseen, _smooth(profile, unseen),
        form_covariance(profile.places, surfaces), spread.covariance(),
    )  # fmt: skip


def _surface(measured: Measured, station: str) -> str:
    """Surface that a station of a shape stands on; empty where it is a point of another kind, such as an end."""
    found = measured.evidence.layout.stations.get(station)
    return "" if found is None else found.surface


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


def _of_shape(shape: _Shape, signatures: Signatures, seen: Floats) -> list[Suspicion]:
    whole = [
        i for i, each in enumerate(signatures.candidates)
        if (each.kind in KINDS and KINDS[each.kind].in_shape)
    ]  # fmt: skip
    single = [
        i for i, each in enumerate(signatures.candidates) if each.kind == "bad reading" and not seen[i] > CONTROLLED
    ]
    found = _tested(shape, signatures, whole, shape.unseen, SHARE)
    # one wrong reading leaves shadows at its neighbours: only the strongest is told
    found += sorted(_tested(shape, signatures, single, shape.smooth, 0.0), key=lambda each: -each.share)[:1]
    return sorted(found, key=lambda each: -each.share)[:MOST]


def _tested(shape: _Shape, signatures: Signatures, numbers: list[int], base: Floats, share: float) -> list[Suspicion]:
    """Suspicions among candidates; sizes are fitted beyond ``base`` and must explain more than ``share``."""
    k = len(shape.deviations)
    q, _ = np.linalg.qr(base) if base.shape[1] else (np.zeros((k, 0)), None)
    left = shape.deviations - q @ (q.T @ shape.deviations)
    total = float(left @ left)
    tried = (_fitted(shape, signatures, number, q, left, share > 0.0) for number in numbers)
    fits = [each for each in tried if each is not None and k - base.shape[1] - int(each.keep.sum()) >= SPARE]
    if not fits or total == 0.0:
        return []
    marks = [shape.marks[:, signatures.of_candidate(each.number)[each.keep]] for each in fits]
    falls = falls_beyond_form(shape.deviations, marks, shape.unseen, shape.form, shape.error)
    found = []
    for each, fall in zip(fits, falls.tolist(), strict=True):
        parameters = int(each.keep.sum())
        probability = min(1.0, len(numbers) * float(chi2.sf(fall, parameters)))
        known = signatures.candidates[each.number].stated_u
        if share > 0.0 and 0.0 < PLAUSIBLE * known < float(np.linalg.norm(each.sizes)):
            continue
        explained = 1.0 - each.rest / total
        if probability < STANDS_OUT and explained > share:
            told = np.zeros(len(each.keep))
            told[each.keep] = each.sizes
            candidate = signatures.candidates[each.number]
            found.append(_suspicion(shape, candidate, told, explained, parameters, probability))
    return found


@dataclass(frozen=True, slots=True, eq=False)
class _Fit:
    """Sizes of one candidate that fit best, which of its sizes leave a mark, and the sum of squares that is left."""

    number: int
    keep: Flags
    sizes: Floats
    rest: float


def _fitted(shape: _Shape, signatures: Signatures, number: int, q: Floats, left: Floats, whole: bool) -> _Fit | None:
    columns = signatures.of_candidate(number)
    mark = shape.marks[:, columns]
    beyond = mark - q @ (q.T @ mark)
    reach = (ROUNDING if whole else TOUCHES) * np.linalg.norm(signatures.columns[:, columns], axis=0)
    keep = np.linalg.norm(beyond, axis=0) > np.maximum(1e-3 * np.linalg.norm(mark, axis=0), reach)
    if not keep.any():
        return None
    sizes, *_ = np.linalg.lstsq(beyond[:, keep], left, rcond=None)
    rest = left - beyond[:, keep] @ sizes
    return _Fit(number, keep, np.asarray(sizes, dtype=np.float64), float(rest @ rest))


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
