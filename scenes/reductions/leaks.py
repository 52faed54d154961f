"""Leaks: what directions that count as open do to observations all the same."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..vectors import Floats

__all__ = ["Leaks"]


@dataclass(frozen=True, slots=True, eq=False)
class Leaks:
    """Observations move a little, by glass and slopes of second order, along directions that count as open.

    The solution meets the datum M x = 0. With E, the effect of the open directions on whitened observations, the design
    of such solutions is J - E M; the normal matrix of J is known, and that of this one follows by Woodbury's identity.

    Attributes
    ----------
    effect : (o, d) float
        E.
    of_effect, of_open : (d, nB + r) float
        Inverse normal matrix times J^T E and times M^T.
    middle : (2 d, 2 d) float
    right, right_known : (2 d, o) and (2 d, k) float
    """

    effect: Floats
    of_effect: Floats
    of_open: Floats
    middle: Floats
    right: Floats
    right_known: Floats

    def mended_solution(self, inner: Floats, white: Floats, known: Floats) -> Floats:
        """The solution ``(nB + r,)`` that meets the datum."""
        both = np.concatenate([self.of_effect, self.of_open])
        result: Floats = inner - (self.effect.T @ white) @ self.of_open
        result -= (self.middle @ (self.right @ white + self.right_known @ known)) @ both
        return result

    def mended_gain(self, inner: Floats, rows: Floats, known: Floats) -> tuple[Floats, Floats]:
        """The gain of functionals ``(k, nB + r)`` of that solution."""
        on_open = inner @ self.of_open.T
        both = np.concatenate([inner @ self.of_effect.T, on_open], axis=1) @ self.middle
        return rows - on_open @ self.effect.T - both @ self.right, known - both @ self.right_known
