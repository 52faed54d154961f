"""Joint errors: the observations of several visits together, with the errors that the visits share."""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass

import numpy as np

from ..model.layout import Layout
from ..reductions.network import LEFT_OPEN, OPEN_SIZE, Network
from ..reductions.unknowns import slopes_of
from ..tracing.sensitivity import channel_slopes
from ..uncertainty.propagate import NEGLIGIBLE, Effect, Spread
from ..uncertainty.sources import Source, source_fields
from ..vectors import Floats, Indices
from .persistent import identities_of, is_anew

__all__ = ["Joint", "Visited", "joint_of"]


@dataclass(frozen=True, slots=True, eq=False)
class Visited:
    """One visit: its layout and network, and what was changed or certified anew since the visit before."""

    layout: Layout
    network: Network
    anew: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Joint:
    """Errors of the observations of n visits, one behind the other.

    Attributes
    ----------
    visits : tuple of Visited
    effects : tuple of Effect
        On all observations; errors of things that persist have one draw for all visits.
    common : tuple of str
        Names of the sources of which some draw acts on more than one visit.
    priors : tuple of tuple
        Per visit and known value of a nuisance, by what it is known again.
    """

    visits: tuple[Visited, ...]
    effects: tuple[Effect, ...]
    common: tuple[str, ...]
    priors: tuple[tuple[Hashable, ...], ...]

    def spread(self, functionals: Sequence[Floats]) -> Spread:
        """Spread of the sum over the visits of ``functional @ unknowns``; one ``(k, p)`` per visit."""
        parts = [
            visit.network.solved.gain(functional) for visit, functional in zip(self.visits, functionals, strict=True)
        ]
        others: dict[str, list[Floats]] = {}
        shared: dict[tuple[str, Hashable], Floats] = {}
        for number, (visit, functional) in enumerate(zip(self.visits, functionals, strict=True)):
            network, known = visit.network, parts[number][1]
            for name, columns in network.assumed.errors_of(functional).items():
                others.setdefault(name, []).append(columns)
            left = OPEN_SIZE * ((functional * network.scale) @ network.open_directions)
            if np.any(np.abs(left) > NEGLIGIBLE):
                others.setdefault(LEFT_OPEN, []).append(left)
            for k, prior in enumerate(network.priors):
                key = (prior.source, self.priors[number][k])
                shared[key] = shared.get(key, np.zeros(len(functional))) + known[:, k]
        for (name, _), column in shared.items():
            others.setdefault(name, []).append(column[:, None])
        told = {name: np.concatenate(columns, axis=1) for name, columns in others.items()}
        return Spread(np.concatenate([gain for gain, _ in parts], axis=1), self.effects, told)


@dataclass(slots=True)
class _Gathered:
    """One source over all visits, while it is put together."""

    source: Source
    size: Floats
    group: Indices


def joint_of(visits: Sequence[Visited]) -> Joint:
    """Errors of several visits, in the order of time, together."""
    counts = [len(visit.network.residual) for visit in visits]
    first = np.concatenate([[0], np.cumsum(counts)])
    gathered: dict[tuple[str, str, str], _Gathered] = {}
    numbers: dict[Hashable, int] = {}
    met: dict[str, dict[int, set[int]]] = {}
    for v, visit in enumerate(visits):
        network, of = visit.network, visit.network.observations
        slopes = channel_slopes(network.geometry, source_fields(network.sources), network.state)
        repeats: dict[tuple[str, str], int] = {}
        for source in network.sources:
            size = slopes_of(slopes, source.field, of) * source.u[of.row]
            if not np.any(size != 0.0):
                continue
            again = repeats.get((source.name, source.field), 0)
            repeats[source.name, source.field] = again + 1
            slot = gathered.setdefault((source.name, source.field, f"{source.shared} {again}"), _Gathered(
                source, np.zeros(int(first[-1])), np.full(int(first[-1]), -1, dtype=np.int64)
            ))  # fmt: skip
            here = slice(int(first[v]), int(first[v + 1]))
            slot.size[here] = size
            draws = _draws(source, visits, v)
            found = [numbers.setdefault((source.name, source.field, again, draw), len(numbers)) for draw in draws]
            slot.group[here] = np.array(found, dtype=np.int64)[of.row]
            for number in set(slot.group[here][size != 0.0].tolist()):
                met.setdefault(source.name, {}).setdefault(number, set()).add(v)
    effects = tuple(_effect(each) for each in gathered.values())
    common = tuple(name for name, groups in met.items() if any(len(found) > 1 for found in groups.values()))
    priors = tuple(
        tuple((prior.field, prior.key, prior.u, _generation(("base", *prior.key), visits, v)) for prior in
              visit.network.priors)
        for v, visit in enumerate(visits)
    )  # fmt: skip
    return Joint(tuple(visits), effects, common, priors)


def _generation(identity: tuple[Hashable, ...], visits: Sequence[Visited], v: int) -> int:
    """How often an error was drawn anew up to a visit; what changed before the first visit does not count."""
    return sum(is_anew(identity, visit.anew) for visit in visits[1 : v + 1])


def _draws(source: Source, visits: Sequence[Visited], v: int) -> list[Hashable]:
    """By what the draw of each row of a visit is told from others, over all visits."""
    visit = visits[v]
    identities = identities_of(source, visit.layout, visit.network.geometry)
    own: list[Hashable] = [("own", v, group) for group in source.group.tolist()]
    if identities is None:
        return own
    return [
        (identity, _generation(identity, visits, v)) if identity else alone
        for identity, alone in zip(identities, own, strict=True)
    ]


def _effect(each: _Gathered) -> Effect:
    """The effect on all observations; those that do not feel it share nothing."""
    felt = np.nonzero(each.size)[0]
    groups, shared = np.unique(each.group[felt], return_inverse=True)
    number = len(groups) + np.arange(len(each.size))
    number[felt] = shared
    source = each.source
    return Effect(source.name, each.size, number, len(groups) + len(each.size), source.origin)
