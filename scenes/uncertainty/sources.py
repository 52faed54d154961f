"""Named error sources of a survey: which part of the state each one moves, how far, and for which readings together."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from ..model.layout import Layout
from ..tracing.geometry import SurveyGeometry
from ..tracing.spots import spots
from ..tracing.state import RowState, changed
from ..vectors import Floats, Indices, frozen
from .distributions import NORMAL, Distribution

__all__ = ["TURBULENCE_EXPONENT", "Source", "drawn_state", "source_fields", "sources_of"]

TURBULENCE_EXPONENT = 1.5
"""Scatter of a beam in moving air grows with its length to this power."""


@dataclass(frozen=True, slots=True, eq=False)
class Source:
    """One error source.

    Attributes
    ----------
    name : str
        In words, as it stands in a budget.
    field : str
        Field of ``RowState`` that it moves.
    group : (m,) int
        Rows with the same number share one value of the error.
    u : (m,) float
        Standard uncertainty of that field, in its SI unit.
    shared : str
        What the rows of a group have in common: ``reading``, ``seating``, ``target``, ``set-up`` ...
    origin : str
        Where the standard uncertainty comes from.
    distribution : Distribution
        Of the error, in standard uncertainties.
    """

    name: str
    field: str
    group: Indices
    u: Floats
    shared: str
    origin: str
    distribution: Distribution = NORMAL


def _numbered(keys: Iterable[object]) -> Indices:
    """Group number of each row: the same key, the same number."""
    listed = list(keys)
    order = {key: number for number, key in enumerate(dict.fromkeys(listed))}
    return np.array([order[key] for key in listed], dtype=np.int64)


def _origin(things: Iterable[object], field: str) -> str:
    """Where the field of these devices or mounts comes from, in words."""
    said = dict.fromkeys(getattr(thing, "origins", {}).get(field, "layout") for thing in things)
    return "; ".join(said)


def sources_of(layout: Layout, geometry: SurveyGeometry, off_centre: Floats | None = None) -> tuple[Source, ...]:
    """Every error source that acts on the rows of ``geometry``, those of size zero left out.

    Parameters
    ----------
    off_centre : (m,) float, optional
        How far each spot stands from the centre of its detector, metres; planned: as near as the crew brings it.
    """
    rows = geometry.rows
    m = len(rows)
    seen = spots(geometry)
    stations = [layout.stations[rows.stations[i]] for i in rows.station]
    setups = [layout.setups[rows.setups[i]] for i in rows.setup]
    targets = [layout.targets[station.target] for station in stations]
    mounts = [station.mount for station in stations]
    emitters = [layout.emitters[setup.emitter] for setup in setups]
    bases = [layout.bases[setup.base] for setup in setups]
    each = np.arange(m, dtype=np.int64)
    if off_centre is None:
        within = np.array([setup.centred_within for setup in setups])
        off_centre = np.hypot(np.maximum(np.abs(np.nan_to_num(seen.v)), within), within)
    by_target = _numbered(target.name for target in targets)
    carrier = _numbered(
        (target.name, mount.kind, round(mount.height + float(offset), 9))
        for target, mount, offset in zip(targets, mounts, rows.mount_offset, strict=True)
    )
    moving_air = np.array([emitter.turbulence for emitter in emitters]) * seen.path**TURBULENCE_EXPONENT

    def row_values(things: list[object], field: str) -> Floats:
        return np.array([getattr(thing, field) for thing in things], dtype=np.float64)

    table = [
        ("detector resolution", "noise_v", each, row_values([*targets], "resolution"), "reading",
         _origin(targets, "resolution")),
        ("moving air", "turbulence", each, moving_air, "reading", _origin(emitters, "turbulence")),
        ("bearing of the base", "elevation", rows.seat, row_values([*bases], "wobble"), "seating",
         _origin(bases, "wobble")),
        ("seating of the mount", "mount", rows.seat, row_values([*mounts], "repeatability"), "seating",
         _origin(mounts, "repeatability")),
        ("roll of the target", "roll", rows.seat, row_values([*targets], "roll"), "seating", _origin(targets, "roll")),
        ("height of the mount", "mount", carrier, row_values([*mounts], "height_known_to"), "mount",
         _origin(mounts, "height_known_to")),
        ("zero of the detector", "zero_v", by_target, row_values([*targets], "zero_known_to"), "target",
         _origin(targets, "zero_known_to")),
        ("linearity of the detector", "noise_v", rows.seat, row_values([*targets], "linearity") * off_centre, "seating",
         _origin(targets, "linearity")),
        ("beam not square to the base axis", "cone", _numbered(base.name for base in bases),
         row_values([*bases], "cone_known_to"), "base", _origin(bases, "cone_known_to")),
        ("drift of the emitter", "drift", rows.setup, row_values([*emitters], "drift"), "set-up",
         _origin(emitters, "drift")),
        ("temperature gradient", "gradient", np.zeros(m, dtype=np.int64), np.full(m, layout.air.gradient_known_to),
         "survey", layout.air.origins.get("gradient_known_to", "layout")),
    ]  # fmt: skip
    return tuple(
        Source(name, field, group, frozen(np.nan_to_num(u)), shared, origin)
        for name, field, group, u, shared, origin in table
        if np.any(u > 0.0)
    )


def source_fields(sources: tuple[Source, ...]) -> tuple[str, ...]:
    """Fields of the state that any of the sources moves."""
    return tuple(dict.fromkeys(source.field for source in sources))


def drawn_state(state: RowState, sources: tuple[Source, ...], rng: np.random.Generator, trials: int) -> RowState:
    """``state`` with one draw of every source for each of ``trials`` trials (leading axis)."""
    for source in sources:
        groups = int(source.group.max()) + 1
        draw = source.distribution.draw(rng, (trials, groups))[:, source.group]
        state = changed(state, source.field, draw * source.u)
    return state
