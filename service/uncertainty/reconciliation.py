"""Data reconciliation: quantities brought to agreement with balances that must be zero in truth.

The errors are linear in the independent variables behind them, so the covariance of anything follows
from its slopes; conditioning on the balances is one linear update (weighted least squares with the
structured covariance).  Applied to each draw it gives draws of the reconciled quantity.

References
----------
Narasimhan, S. and Jordache, C. (2000). Data Reconciliation and Gross Error Detection, chapters 3 and 7
(linear steady-state reconciliation; global test; generalised likelihood ratio).
Birge, R. T. (1932). The calculation of errors by the method of least squares. Phys. Rev. 40, 207.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import erfc, exp, pi, sqrt

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

#: Share of a balance's variance under which it repeats what others already say.
_REDUNDANT = 1e-9


def chi_square_tail(statistic: float, degrees: int) -> float:
    """Probability that chi-square exceeds the statistic (closed forms, Abramowitz and Stegun 26.4)."""
    if degrees <= 0:
        return 1.0
    half = statistic / 2.0
    if degrees % 2 == 0:
        term = total = exp(-half)
        for k in range(1, degrees // 2):
            term *= half / k
            total += term
        return min(total, 1.0)
    total = erfc(sqrt(half))
    term = 2.0 * exp(-half) * sqrt(half / pi)
    for k in range(degrees // 2):
        total += term
        term *= half / (k + 1.5)
    return min(total, 1.0)


@dataclass(frozen=True, slots=True)
class Balances:
    """M balances, linear in K independent variables of given variances.

    ``positions`` (M,) are their places among those given, ``residual`` (M,) their nominal values,
    ``slopes`` (M, K), ``covariance`` (M, M) and its ``inverse``; ``statistic`` is chi-square of all
    together.
    """

    positions: list[int]
    residual: FloatArray
    slopes: FloatArray
    variances: FloatArray
    covariance: FloatArray
    inverse: FloatArray
    statistic: float

    @property
    def degrees(self) -> int:
        """Number of independent balances."""
        return int(self.residual.size)

    @property
    def probability(self) -> float:
        """Probability of a statistic this large if the stated accuracies hold."""
        return chi_square_tail(self.statistic, self.degrees)

    @property
    def widening(self) -> float:
        """Birge ratio: factor on the stated uncertainties that would explain the disagreement."""
        return max(1.0, sqrt(self.statistic / self.degrees)) if self.degrees else 1.0

    def gain(self, slopes: FloatArray) -> FloatArray:
        """Update of quantities (Q, K) for each unit of each balance, shape (Q, M)."""
        gain: FloatArray = (slopes * self.variances) @ self.slopes.T @ self.inverse
        return gain

    def likelihood_ratio(self, direction: FloatArray) -> tuple[float, float]:
        """Fall of the statistic, and size of the error, if one error moved the balances.

        Parameters
        ----------
        direction : FloatArray, shape (M,)
            Change of each balance for a unit of the error.

        Returns
        -------
        (float, float)
            T = (d' V^-1 r)^2 / (d' V^-1 d) and the most likely error; zeros where it moves nothing.
        """
        weighted = self.inverse @ direction
        information = float(direction @ weighted)
        if information <= 0.0:
            return 0.0, 0.0
        size = float(weighted @ self.residual) / information
        return size**2 * information, size

    def alike(self, one: FloatArray, other: FloatArray) -> float:
        """Cosine between two directions in the metric of the balances: 1 cannot be told apart."""
        both = float(one @ self.inverse @ other)
        scale = sqrt(float(one @ self.inverse @ one) * float(other @ self.inverse @ other))
        return abs(both) / scale if scale > 0.0 else 0.0


def balances(residual: FloatArray, slopes: FloatArray, variances: FloatArray) -> Balances | None:
    """Balances from their nominal values and slopes; None where none of them can fail.

    Balances that are certain, or that follow from those before them, are left out: see ``positions``.
    """
    keep = _kept(slopes, variances)
    if not keep:
        return None
    residual, slopes = residual[keep], slopes[keep]
    covariance = (slopes * variances) @ slopes.T
    inverse: FloatArray = np.asarray(np.linalg.inv(covariance), dtype=np.float64)
    statistic = float(residual @ inverse @ residual)
    return Balances(keep, residual, slopes, variances, covariance, inverse, statistic)


def _kept(slopes: FloatArray, variances: FloatArray) -> list[int]:
    """Positions of the balances that add something to those before them."""
    keep: list[int] = []
    scaled = slopes * np.sqrt(variances)
    for row in range(len(slopes)):
        total = float(scaled[row] @ scaled[row])
        if total <= 1e-18:
            continue
        rest = scaled[row]
        if keep:
            base = scaled[keep]
            rest = rest - np.linalg.lstsq(base.T, rest, rcond=None)[0] @ base
        if float(rest @ rest) > _REDUNDANT * total:
            keep.append(row)
    return keep
