"""Stations that would tie two set-ups to each other, tried by tracing."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ..errors import GeometryError
from ..model.layout import Layout
from ..model.survey import Setup
from ..tracing.places import station_places
from ..vectors import Floats
from .faults import any_fault
from .looseness import is_loose
from .plan import Plan, traced_plan
from .saying import counted

__all__ = ["tying_words"]


def tying_words(plan: Plan, one: Setup, two: Setup, needed: str) -> str:
    """Stations that tie the two set-ups if the second reads them as well, tried by tracing; else in general."""
    for reader, other in ((two, one), (one, two)):
        names = _readable(plan, reader, other)
        for chosen in _choices(plan.layout, names):
            changed = replace(reader, reads=(*reader.reads, *chosen))
            layout = replace(plan.layout, setups={other.name: other, reader.name: changed})
            try:
                trial = traced_plan(layout)
            except GeometryError:
                continue
            if not is_loose(trial, [other, changed], set(one.reads) | set(two.reads)):
                return f"read {counted(chosen)} from {reader.name} as well"
    return f"read {needed} from both"


def _readable(plan: Plan, reader: Setup, other: Setup) -> tuple[str, ...]:
    """Stations of ``other`` that ``reader`` would see without a fault if it read them too."""
    more = tuple(name for name in other.reads if name not in reader.reads)
    if not more or reader.prism is not None:
        return ()
    layout = replace(plan.layout, setups={reader.name: replace(reader, reads=(*reader.reads, *more))})
    try:
        trial = traced_plan(layout)
    except GeometryError:
        return ()
    rows, bad = trial.geometry.rows, any_fault(trial)
    faulty = {rows.stations[rows.station[row]] for row in np.nonzero(bad)[0].tolist()}
    return tuple(name for name in more if name not in faulty)


def _choices(layout: Layout, names: tuple[str, ...]) -> list[tuple[str, ...]]:
    """One, two and three of the stations, those farthest apart first."""
    if not names:
        return []
    foot = station_places(layout, names)[0]
    chosen = [int(np.argmax(np.linalg.norm(foot - foot.mean(axis=0), axis=1)))]
    while len(chosen) < min(3, len(names)):
        chosen.append(int(np.argmax(_off_span(foot, chosen))))
    return [tuple(names[i] for i in chosen[:count]) for count in range(1, len(chosen) + 1)]


def _off_span(foot: Floats, chosen: list[int]) -> Floats:
    """Distance of all places from the point or the line through those chosen."""
    off = foot - foot[chosen[0]]
    if len(chosen) > 1:
        along = foot[chosen[1]] - foot[chosen[0]]
        along = along / max(float(np.linalg.norm(along)), 1e-300)
        off = off - (off @ along)[:, None] * along
    result: Floats = np.linalg.norm(off, axis=1)
    return result
