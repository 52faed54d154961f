"""Spacing: the distance of two rails or surfaces at every pair of stations, less the nominal one.

Light tells how the distance changes along rails that are read from two lines; how far apart these lines stand it does
not. Distances by tape at some pairs do: they add their mean and its uncertainty to all of them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ...hints import listed
from ...units import show
from ...vectors import Floats
from .definition import Definition, Kind, Linear, Profile, Unreached
from .evidence import Evidence
from .pairs import Pairs, pairs_of
from .ties import open_shapes, why_open

__all__ = ["differences", "paired_definition", "spacing"]

FAR_OFF = 1e-3
"""A layout whose stations stand farther than this [m] from the nominal distance gets a remark."""

TAPE = "tape the distance at two pairs far apart and write it to the task, such as tape: {A1: 4.0012 m, A9: 4.0008 m}"

ONLY_CHANGE = "only how it changes along the rails is known: "


@dataclass(frozen=True, slots=True, eq=False)
class _Held:
    """Differences and offsets held by tapes, the error of the tape at each pair, metres, and a remark."""

    rows: Floats
    offsets: Floats
    u: Floats
    remark: str


def _with_tape(evidence: Evidence, pairs: Pairs, rows: Floats, offsets: Floats, taped: dict[int, float]) -> _Held:
    """What light leaves open of the differences, such as a distance and a slope, laid through the taped ones.

    Where light tells the distance itself, the tape is compared with it and takes no part.
    """
    chosen, told = list(taped), np.array(list(taped.values()))
    names, known_to = listed([pairs.names[i] for i in chosen]), evidence.task.tape_known_to
    shapes = open_shapes(evidence, rows)
    if not shapes.shape[1]:
        mean = rows[chosen].mean(axis=0)
        off = float((offsets[chosen] - told).mean() + mean @ evidence.network.values)
        u = float(evidence.network.spread_of(mean[None, :]).standard_uncertainty()[0])
        unit = evidence.layout.units.deviation
        remark = (
            f"the distance by light is {show(off, unit, sign=True)} larger than by tape at {names}, where "
            f"{show(float(np.hypot(u, known_to / np.sqrt(len(chosen)))), unit)} are expected (one standard "
            "uncertainty); the tape is not used"
        )
        return _Held(rows, offsets, np.zeros(len(rows)), remark)
    share = shapes @ np.linalg.pinv(shapes[chosen])
    return _Held(
        rows - share @ rows[chosen], offsets - share @ (offsets[chosen] - told),
        known_to * np.linalg.norm(share, axis=1), f"how far apart they stand is known by tape at {names}",
    )  # fmt: skip


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
        f"+: {b} stands farther from {a}", "each other sideways", tuple(remarks), _taped(evidence, pairs),
    )  # fmt: skip


def _taped(evidence: Evidence, pairs: Pairs) -> dict[int, float]:
    """Pairs that were taped, and by how much each distance differs from the nominal one, metres."""
    task = evidence.task
    told = task.tape.get(evidence.visit, task.tape.get("", {}))
    if evidence.visit == "plan" and task.tape:
        told = next(iter(task.tape.values()))
    return {i: told[name] - task.nominal for i, name in enumerate(pairs.first) if name in told}


def paired_definition(
    evidence: Evidence, pairs: Pairs, direction: Floats, offsets: Floats, reference: str, plus: str, against: str,
    remarks: tuple[str, ...], taped: dict[int, float] | None = None,
) -> Definition:  # fmt: skip
    """A difference at every pair, as its deviation from nominal.

    Where readings tell only how it changes along the rails, deviations count from their mean and prove no conformity.

    Parameters
    ----------
    offsets : (k,) float
        What the layout alone adds at each pair, metres.
    taped : {pair: difference}, optional
        What is known of some pairs without light, metres; None for quantities that know no such thing.
    """
    rows = differences(evidence, pairs, direction)
    held, unreached, by_tape = "", [], np.zeros(len(rows))
    if taped:
        found = _with_tape(evidence, pairs, rows, offsets, taped)
        rows, offsets, by_tape, remarks = found.rows, found.offsets, found.u, (*remarks, found.remark)
    if not evidence.network.reaches(rows):
        reason = why_open(evidence, rows, against) + (f"; or {TAPE}" if taped is not None else "")
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
        Linear(name, Kind.ANGLE if angle else Kind.LENGTH, scale * float(start), scale * row, limit, plus,
               (("tape", scale * float(u)),) if u > 0.0 else ())
        for name, start, row, u in zip(pairs.names, offsets, rows, by_tape, strict=True)
    )  # fmt: skip
    feet = evidence.feet(pairs.second)
    shown = Profile(pairs.second, pairs.names, feet, np.broadcast_to(direction, feet.shape), np.asarray(offsets), rows)
    return Definition(
        reference, "displacements at paired stations", values, () if unreached else (shown,), tuple(unreached),
        remarks, held=held,
    )  # fmt: skip
