"""The errors of a network: which sources act on its observations, and how these are weighed against each other."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ..model.layout import Layout
from ..model.survey import LevelBy, Method
from ..tracing.geometry import SurveyGeometry
from ..uncertainty.propagate import Effect
from ..uncertainty.sources import Source
from ..vectors import Flags, Floats, Indices, frozen
from .unknowns import Observations, Unknown, slopes_of

__all__ = ["PLACED", "acting_sources", "effects_on", "weighed"]

PLACED_WITHIN = 1e-3
"""Standard uncertainty [m] of the place of a station in directions that its readings hardly see: a target is set on a
mark by eye. Common practice."""

PLACED = "place of the station on its mark"


def effects_on(
    sources: tuple[Source, ...], slopes: dict[str, dict[str, Floats]], of: Observations
) -> tuple[Effect, ...]:
    """Effects of the sources on the observations; those that reach none of them are left out."""
    found = []
    for source in sources:
        size = slopes_of(slopes, source.field, of) * source.u[of.row]
        if np.any(size != 0.0):
            felt = np.nonzero(size)[0]
            groups, shared = np.unique(source.group[of.row[felt]], return_inverse=True)
            number = len(groups) + np.arange(len(size))  # those that do not feel it share nothing
            number[felt] = shared
            found.append(Effect(source.name, size, number, len(groups) + len(size), source.origin))
    return tuple(found)


def acting_sources(
    layout: Layout, geometry: SurveyGeometry, sources: tuple[Source, ...], asked: tuple[Unknown, ...],
    kept: tuple[Unknown, ...],
) -> tuple[Source, ...]:  # fmt: skip
    """The sources of a survey as they act on a network with the unknowns ``kept`` of those ``asked``."""
    return (*_sources_of_frames(layout, geometry, sources), *_placed(asked, kept, geometry.rows.station))


def _sources_of_frames(layout: Layout, geometry: SurveyGeometry, sources: tuple[Source, ...]) -> tuple[Source, ...]:
    """The sources without those that only say how a beam lies in its housing where no reversal shows the housing.

    The frame of such a line is unknown and is that of its beam; but a vial on the housing levels the housing, so that
    the rise of the beam against it stays an error.
    """
    rows = geometry.rows
    setups = [layout.setups[rows.setups[i]] for i in rows.setup]
    beam = np.array([each.method is Method.LINE and not each.reversed for each in setups], dtype=bool)
    if not beam.any():
        return sources
    by_vial = np.array([each.level_by is LevelBy.VIAL for each in setups], dtype=bool)
    free = {field: beam & ~by_vial if field == "cone" else beam for field in IN_HOUSING}
    return tuple(
        replace(source, u=np.where(free[source.field], 0.0, source.u)) if source.field in free else source
        for source in sources
    )


def _turned_about(layout: Layout, geometry: SurveyGeometry) -> dict[str, Flags]:
    """Rows ``(m,)`` in which a whole reversal takes out the errors of a field: no weight may lean on what is stated."""
    rows = geometry.rows
    setups = [layout.setups[rows.setups[i]] for i in rows.setup]
    places = np.stack([rows.setup, rows.station, rows.stop], axis=1)
    sides = {tuple(place): set() for place in places.tolist()}  # type: dict[tuple[int, ...], set[int]]
    clocks: dict[tuple[int, ...], list[complex]] = {}
    for place, side, clock in zip(places.tolist(), rows.side.tolist(), rows.clock.tolist(), strict=True):
        sides[tuple(place)].add(side)
        clocks.setdefault(tuple(place), []).append(complex(np.cos(clock), np.sin(clock)))
    halves = {setup for (setup, _, _), found in sides.items() if len(found) < 2}
    whole = np.array([each.reversed for each in setups], dtype=bool) & ~np.isin(rows.setup, sorted(halves))
    round_ = np.array([abs(np.mean(clocks[tuple(place)])) < ALL_ROUND for place in places.tolist()], dtype=bool)
    prism = rows.stop >= 0
    by_field = {"mirror": whole & prism, "pyramid": whole & prism, "eccentric_h": round_, "eccentric_v": round_}
    line = np.array([each.method is Method.LINE for each in setups], dtype=bool)
    return {**by_field, **dict.fromkeys(IN_HOUSING, whole & line)}


def weighed(layout: Layout, geometry: SurveyGeometry, sources: tuple[Source, ...]) -> tuple[Source, ...]:
    """The sources as they count in the weights: what reversals take out is as good as unknown."""
    turned = _turned_about(layout, geometry)
    return tuple(
        replace(source, u=np.where(turned[source.field], UNKNOWN * source.u, source.u))
        if source.field in turned and turned[source.field].any() else source
        for source in sources
    )  # fmt: skip


ALL_ROUND = 1e-6
"""Clock positions whose mean direction is below this go all round."""

UNKNOWN = 30.0
"""Errors that a reversal takes out weigh as if they were so many times as large as stated."""

IN_HOUSING = ("cone", "cone_side", "offset_y", "offset_z")


def _placed(asked: tuple[Unknown, ...], kept: tuple[Unknown, ...], station: Indices) -> tuple[Source, ...]:
    """Sources for the deviations that are no unknowns although their stations are measured."""
    found = []
    for unknown in asked:
        if not unknown.field.startswith("deviation"):
            continue
        group = next((each.group for each in kept if each.field == unknown.field), np.full(len(station), -1))
        u = np.where((unknown.group >= 0) & (group < 0), PLACED_WITHIN, 0.0)
        if u.any():
            found.append(Source(PLACED, unknown.field, station, frozen(u), "station", "common practice"))
    return tuple(found)
