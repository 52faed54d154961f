"""Spacing: the distance of two rails or surfaces at every pair of stations, less the nominal one."""

from __future__ import annotations

import numpy as np

from ...hints import listed
from ...vectors import Floats
from .definition import Definition, Kind, Linear, Profile, Unreached
from .evidence import Evidence
from .pairs import Pairs, pairs_of
from .ties import why_open

__all__ = ["differences", "paired_definition", "spacing"]

FAR_OFF = 1e-3
"""A layout whose stations stand farther than this [m] from the nominal distance gets a remark."""

ONLY_CHANGE = "only how it changes along the rails is known: "


def differences(evidence: Evidence, pairs: Pairs, direction: Floats) -> Floats:
    """Displacements ``(k, p)`` of the second surface less those of the first at each pair, along a direction."""
    second = pairs.blend @ evidence.displacements(pairs.others, direction)
    result: Floats = second - evidence.displacements(pairs.first, direction)
    return result


def spacing(evidence: Evidence) -> Definition:
    """Definition of a task about the distance of two rails."""
    pairs = pairs_of(evidence)
    a, b = evidence.task.of
    remarks = []
    off = pairs.distance - evidence.task.nominal
    if abs(off) > FAR_OFF:
        remarks.append(
            f"the layout places the stations {pairs.distance:.4g} m apart, the task states "
            f"{evidence.task.nominal:.4g} m: deviations from the layout count as deviations from the nominal distance"
        )
    return paired_definition(
        evidence, pairs, pairs.across, np.zeros(len(pairs.first)), f"nominal distance of {a} and {b}",
        f"+: {b} stands farther from {a}", "each other sideways", tuple(remarks),
    )  # fmt: skip


def paired_definition(
    evidence: Evidence, pairs: Pairs, direction: Floats, offsets: Floats, reference: str, plus: str, against: str,
    remarks: tuple[str, ...],
) -> Definition:  # fmt: skip
    """A difference at every pair, as its deviation from nominal.

    Where readings tell only how it changes along the rails, deviations count from their mean and prove no conformity.

    Parameters
    ----------
    offsets : (k,) float
        What the layout alone adds at each pair, metres.
    """
    rows = differences(evidence, pairs, direction)
    held, unreached = "", []
    if not evidence.network.reaches(rows):
        reason = why_open(evidence, rows, against)
        if len(rows) < 2 or not evidence.network.reaches(rows - rows.mean(axis=0)):
            unreached = [Unreached("", reason)]
        held, rows, offsets = f"{ONLY_CHANGE}{reason}", rows - rows.mean(axis=0), offsets - offsets.mean()
        reference = f"{reference}, about its own mean"
    if pairs.alone:
        remarks = (*remarks, f"without a partner at the same place: {listed(list(pairs.alone))}")
    limit = evidence.limit("")
    angle = limit is not None and limit.angle
    scale = 1.0 / pairs.distance if angle else 1.0
    values = () if unreached else tuple(
        Linear(name, Kind.ANGLE if angle else Kind.LENGTH, scale * float(start), scale * row, limit, plus)
        for name, start, row in zip(pairs.names, offsets, rows, strict=True)
    )  # fmt: skip
    feet = evidence.feet(pairs.second)
    shown = Profile(pairs.second, pairs.names, feet, np.broadcast_to(direction, feet.shape), np.asarray(offsets), rows)
    return Definition(
        reference, "displacements at paired stations", values, () if unreached else (shown,), tuple(unreached),
        remarks, held=held,
    )  # fmt: skip
