"""From a solved network to what stands out in it."""

from __future__ import annotations

import numpy as np
from scipy.stats import chi2

from ..model.layout import Layout
from ..reductions.consistency import control_of
from ..reductions.network import Network
from ..reductions.quantities.definition import Linear, Zone
from ..reductions.quantities.measured import Measured, shape_of
from ..vectors import Floats
from .closures import advice_of, closures_of, setups_of
from .diagnosis import Diagnosis, Suspect, Untold
from .ranking import SEEN, Found, ranked
from .shapes import suspicions_of
from .signatures import Signatures, named_reading, signatures_of
from .suspects import KINDS, candidates

__all__ = ["diagnose"]


def diagnose(
    layout: Layout, network: Network, visit: str, measured: tuple[Measured, ...] = (), records: tuple[str, ...] = ()
) -> Diagnosis:
    """What stands out in the readings of a visit; nothing is corrected.

    Parameters
    ----------
    measured : tuple of Measured
        Results that rest on the network: their shapes are looked at, and how suspects would change them.
    records : tuple of str
        Where the record of each row stands.
    """
    signatures = signatures_of(network, candidates(layout, network.geometry), records)
    control = control_of(network)
    setups = network.geometry.rows.setups
    if control is None:
        suspicions = suspicions_of(measured, signatures, np.zeros(len(signatures.candidates)))
        return Diagnosis(
            visit, setups, (), suspicions, _untold(signatures, np.zeros(len(signatures.candidates))), (), (),
            advice_of(network, None, ()), 0, 0, 0.0, 1.0,
        )  # fmt: skip
    found, seen, tried = ranked(control, signatures, network)
    suspicions = suspicions_of(measured, signatures, seen)
    closures = closures_of(network, control)
    return Diagnosis(
        visit=visit,
        setups=setups,
        suspects=tuple(_suspect(each, signatures, network, measured, records) for each in found),
        suspicions=suspicions,
        untold=_untold(signatures, seen),
        closures=closures,
        by_setup=setups_of(network, control),
        advice=advice_of(network, control, closures),
        tried=tried,
        redundancy=control.redundancy,
        chi_square=control.chi_square,
        probability=float(chi2.sf(control.chi_square, control.redundancy)),
    )


def _untold(signatures: Signatures, seen: Floats) -> tuple[Untold, ...]:
    """Kinds of errors that the readings could not show anywhere."""
    places: dict[str, list[str]] = {}
    shown: set[str] = set()
    for candidate, share in zip(signatures.candidates, seen, strict=True):
        if share > SEEN:
            shown.add(candidate.kind)
        else:
            places.setdefault(candidate.kind, []).append(candidate.where)
    return tuple(
        Untold(kind, KINDS[kind].about.format("any of them" if kind == "bad reading" else ", ".join(names[:3])),
               tuple(names), KINDS[kind].confirm)
        for kind, names in places.items() if kind not in shown
    )  # fmt: skip


def _suspect(
    found: Found, signatures: Signatures, network: Network, measured: tuple[Measured, ...], records: tuple[str, ...]
) -> Suspect:
    others = tuple(_words(*each, signatures=signatures, network=network, records=records) for each in found.others)
    if found.exchange is not None:
        rows = found.exchange.rows[found.number]
        kind, where = found.exchange.kind, _of_rows(network, (int(rows[0]), int(rows[1])), records)
        moved = np.zeros(len(network.residual) + 1)
        np.add.at(moved, found.exchange.numbers[found.number], -found.exchange.by[found.number])
        effect, stated = moved[:-1], 0.0
    else:
        candidate = signatures.candidates[found.candidate]
        kind, where, stated = candidate.kind, candidate.where, candidate.stated_u
        effect = signatures.columns[:, signatures.of_candidate(found.candidate)] @ found.sizes
    return Suspect(
        kind=kind,
        where=where,
        about=KINDS[kind].about.format(where),
        confirm=KINDS[kind].confirm,
        sizes=tuple(float(size) for size in found.sizes),
        u=tuple(float(u) for u in found.u),
        unit=KINDS[kind].unit,
        parameters=found.parameters,
        drop=found.drop,
        probability=found.probability,
        seen=found.seen,
        stated_u=stated,
        others=others,
        changes=_changes(measured, effect),
    )


def _words(
    candidate: int, kind: str, rows: tuple[int, int], signatures: Signatures, network: Network, records: tuple[str, ...]
) -> str:
    where = signatures.candidates[candidate].where if candidate >= 0 else _of_rows(network, rows, records)
    return KINDS[kind].about.format(where)


def _of_rows(network: Network, rows: tuple[int, int], records: tuple[str, ...]) -> str:
    numbers = [int(np.nonzero(network.observations.row == row)[0][0]) for row in rows if row >= 0]
    if len(numbers) == 1:
        return named_reading(network, numbers[0], records)
    geometry = network.geometry.rows
    return " and ".join(
        geometry.stations[geometry.station[row]] + (f" ({records[row]})" if records else "") for row in rows
    )


def _changes(measured: tuple[Measured, ...], effect: Floats) -> tuple[tuple[str, str, float], ...]:
    """Change of every component if an error with this effect on the observations ``(o,)`` were taken out."""
    found = []
    for each in measured:
        network, name = each.evidence.network, each.evidence.task.name
        for asked in each.definition.values:
            if isinstance(asked, Linear):
                gain = network.spread_of(asked.functional[None, :]).gain[0]
                found.append((name, asked.name, -float(gain @ effect)))
            elif isinstance(asked, Zone):
                shape, jacobian = shape_of(each.evidence, asked)
                moved = network.spread_of(jacobian).gain @ effect
                change = asked.measure.at(shape - moved).value - asked.measure.at(shape).value
                found.append((name, asked.name, float(change)))
    return tuple(found)
