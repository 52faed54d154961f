"""Which of many sets of lifts come within a value: contacts found for one set prove others to be too uneven.

The contacts that hold the zone of one set, with their weights, make a lower bound of the zone of every set: a weighted
sum of deviations that no plane can change. The bounds of all contacts found so far are one product of matrices for
thousands of sets; a zone is worked out only where they leave it open, it starts from the contacts of the highest
bound, and it is left as soon as it is known to be too wide.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..reductions.form_of_trials import layout_of
from ..reductions.zone_exchange import WEIGHT_NOISE
from ..reductions.zones_of_trials import Exchange, Layout
from ..vectors import Floats
from .lift_problem import LiftProblem

__all__ = ["ZoneCuts"]

EXCHANGES = 100  # a zone takes ten or so; what is not closed by then is worked out singly
NUDGED = 1e-6  # share by which the nudge of an exchange may lift a bound; far below a nanometre


@dataclass(slots=True, eq=False)
class ZoneCuts:
    """Lower bounds of the value of a problem, more of them with every set of lifts looked at.

    Attributes
    ----------
    rest, moves : (n,) and (n, m) float
        Deviations [m] and rise of the stations per lift, less the planes nearest to them.
    layout : Layout or None
        Stations as the exchange wants them; None: the value needs no exchange.
    floors, slopes : (c,) and (c, m) float
        The value of lifts is at least ``floors + slopes @ lifts`` in each row, metres.
    starts : Exchange or None
        Contacts of those rows that have some, one column each, over no heights.
    with_contacts : (s,) int
        Rows of the columns of ``starts``.
    known : set of bytes
        Contacts that are in ``starts`` already.
    """

    problem: LiftProblem
    rest: Floats
    moves: Floats
    layout: Layout | None
    floors: Floats
    slopes: Floats
    starts: Exchange | None
    with_contacts: Floats
    known: set[bytes]

    @classmethod
    def begin(cls, problem: LiftProblem) -> ZoneCuts:
        """Return the bounds before any set of lifts was looked at: zero alone."""
        q, _ = np.linalg.qr(problem.basis)
        rest, moves = (part - q @ (q.T @ part) for part in (problem.deviations, problem.matrix))
        m = problem.matrix.shape[1]
        cuts = cls(problem, rest, moves, None, np.zeros(1), np.zeros((1, m)), None, np.zeros(0), set())
        if problem.goal == "minimax" and problem.basis.shape[1] > 1:
            cuts.layout = layout_of(problem.basis[:, 1:])
            cuts._learn(Exchange.begin(cuts.layout, rest[:, None] / cuts.layout.size))
        return cuts

    def add(self, floors: Floats, slopes: Floats) -> None:
        """Take over bounds ``floors`` ``(k,)`` with ``slopes`` ``(k, m)`` that come from elsewhere."""
        self.floors = np.concatenate([self.floors, floors])
        self.slopes = np.concatenate([self.slopes, slopes])

    def floors_of(self, lifts: Floats, since: int = 0) -> Floats:
        """What the value of each row of ``lifts`` ``(k, m)`` cannot be below, metres; from bound ``since`` on.

        The value itself where it needs no exchange.
        """
        if self.layout is None:
            return self._plain_values(lifts)
        return np.asarray((self.slopes[since:] @ lifts.T + self.floors[since:, None]).max(axis=0, initial=0.0))

    def values_within(self, lifts: Floats, enough: float) -> Floats:
        """Values ``(k,)`` of the rows of ``lifts`` ``(k, m)``, metres; infinite where they are above ``enough`` [m]."""
        if self.layout is None or len(lifts) == 0:
            values = self._plain_values(lifts)
            return np.where(values <= enough, values, np.inf)
        state = self._start(lifts)
        limit = enough * (1.0 + NUDGED) / self.layout.size
        d, scratch = self.layout.plan.shape[1], np.empty(state.heights.size)
        for _ in range(EXCHANGES):
            open_ = state.step(self.layout, scratch)
            inside = state.offsets[d] + state.offsets[d + 1] <= limit
            if not (open_ & inside).any():
                break
        self._learn(state)
        values = np.full(len(lifts), np.inf)
        near = np.flatnonzero(inside)
        if near.size:
            widths, _, single = state.only(near).widths(self.layout)
            widths *= self.layout.size
            single |= open_[near]
            if single.any():
                widths[single] = self.problem.values(lifts[near[single]])
            values[near] = np.where(widths <= enough, widths, np.inf)
        return values

    def _plain_values(self, lifts: Floats) -> Floats:
        """Range, or root mean square, of the deviations less the planes nearest to them, ``(k,)``."""
        rest = self.rest + lifts @ self.moves.T
        return np.asarray(np.ptp(rest, axis=1) if self.problem.goal == "minimax" else np.sqrt(np.mean(rest**2, axis=1)))

    def _start(self, lifts: Floats) -> Exchange:
        """Exchanges of the zones of ``lifts``, each from the contacts that say most about it."""
        assert self.layout is not None
        assert self.starts is not None
        held = self.with_contacts.astype(np.intp)
        best = (self.slopes[held] @ lifts.T + self.floors[held][:, None]).argmax(axis=0)
        heights = np.ascontiguousarray(self.rest[:, None] + self.moves @ lifts.T) / self.layout.size
        state = self.starts.only(best)
        touched = state.sides * np.take_along_axis(heights, state.members, axis=0)
        return Exchange(
            heights, state.members, state.sides, state.inverse, state.weights,
            np.einsum("ijk,jk->ik", state.inverse, touched), 4.0 * np.finfo(float).eps * np.ptp(heights, axis=0),
        )  # fmt: skip

    def _learn(self, state: Exchange) -> None:
        """Take the contacts of exchanges as bounds, where they are new and no weight is negative."""
        assert self.layout is not None
        d = self.layout.plan.shape[1]
        weights = state.inverse[d] + state.inverse[d + 1]
        keys = np.sort(2 * state.members + (state.sides > 0.0), axis=0).T
        new = []
        for column in np.flatnonzero(weights.min(axis=0) >= -WEIGHT_NOISE):
            key = keys[column].tobytes()
            if key not in self.known:
                self.known.add(key)
                new.append(column)
        if not new:
            return
        some = state.only(np.array(new))
        some.heights = np.zeros((0, len(new)))
        signed = some.sides * weights[:, new]
        self.with_contacts = np.append(self.with_contacts, len(self.floors) + np.arange(len(new)))
        self.add(
            np.sum(signed * self.rest[some.members], axis=0),
            np.einsum("ij,ijf->jf", signed, self.moves[some.members]),
        )
        self.starts = some if self.starts is None else _joined(self.starts, some)


def _joined(first: Exchange, second: Exchange) -> Exchange:
    """The trials of both, side by side."""
    return Exchange(*(
        np.concatenate([getattr(first, name), getattr(second, name)], axis=-1)
        for name in ("heights", "members", "sides", "inverse", "weights", "offsets", "slack")
    ))  # fmt: skip
