"""Degrees of freedom of combined uncertainties and the coverage factors that follow from them.

Source: JCGM 100:2008 (GUM), annex G.4 (Welch-Satterthwaite formula G.2b, table G.2), from memory.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import ndtri, stdtrit

from ..vectors import Floats

__all__ = ["coverage_factor", "effective_dof"]


def effective_dof(variances: Floats, dof: Floats) -> Floats:
    """Effective degrees of freedom ``(n,)`` of n results; infinite where nothing estimated contributes.

    Parameters
    ----------
    variances : (q, n) float
        Contribution of each of q independent effects to the variance of each result.
    dof : (q,) float
        Degrees of freedom of the standard uncertainty of each effect; may be infinite.

    Source: JCGM 100:2008, formula (G.2b).
    """
    total = np.sum(variances, axis=0)
    share = np.divide(variances, total, out=np.zeros(np.shape(variances)), where=total > 0.0)
    doubt = np.sum(share**2 / np.asarray(dof)[:, None], axis=0)
    result: Floats = np.divide(1.0, doubt, out=np.full(doubt.shape, np.inf), where=doubt > 0.0)
    return result


def coverage_factor(probability: float, dof: ArrayLike = np.inf) -> Floats:
    """Half-widths of the interval that holds ``probability``, in standard uncertainties, for each ``dof``.

    Degrees of freedom above 1 are cut down to whole ones, the safer of the two ways that the source leaves open.

    Source: JCGM 100:2008, G.4.1 with its note 1 and G.6.4.
    """
    if not 0.0 < probability < 1.0:
        raise ValueError(f"a coverage probability lies between 0 and 1, unlike {probability}")
    given = np.asarray(dof, dtype=np.float64)
    if not np.all(given > 0.0):
        raise ValueError("degrees of freedom are above 0")
    # Sums of rounded shares may leave a whole number a hair short of itself.
    whole = np.where(given > 1.0, np.floor(given * (1.0 + ROUNDING)), given)
    level = 0.5 * (1.0 + probability)
    finite = np.isfinite(whole)
    result: Floats = np.where(finite, stdtrit(np.where(finite, whole, 1.0), level), ndtri(level))
    return result


ROUNDING = 1e-9
"""Relative; far above float64 rounding of sums, far below anything that degrees of freedom mean."""
