"""Readings that follow each other closely are not independent: how many independent ones they are worth.

The mean of n readings with autocorrelations rho_k is as good as that of n / (1 + 2 sum (1 - k/n) rho_k) independent
ones.

References
----------
Bayley, G. V. and Hammersley, J. M. (1946). The "effective" number of independent observations in an autocorrelated
time series. Suppl. J. R. Stat. Soc. 8, 184-197.  Zieba, A. and Ramza, P. (2011). Standard deviation of the mean of
autocorrelated observations estimated with the use of the autocorrelation function estimated from the data. Metrol.
Meas. Syst. 18, 529-542 (sample autocorrelations up to the first that is negative).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


def effective_number(correlations: FloatArray, count: int) -> float:
    """Number of independent readings that ``count`` correlated ones are worth.

    Parameters
    ----------
    correlations : FloatArray, shape (L,)
        Autocorrelations of lags 1 to L, at most count - 1 [1]; those beyond are taken as zero.
    count : int

    Returns
    -------
    float
        1 to ``count``, by the exact sum.
    """
    lags = np.arange(1, len(correlations) + 1)
    total = 1.0 + 2.0 * float(np.sum((1.0 - lags / count) * correlations))
    return float(np.clip(count / max(total, 1e-12), 1.0, count))


def decaying(first: float, count: int) -> FloatArray:
    """Autocorrelations of lags 1 to count - 1 of a first-order process whose first one is ``first``."""
    return np.asarray(first ** np.arange(1, count), dtype=np.float64)


def sample_correlations(rest: FloatArray, least: float = 0.0) -> FloatArray:
    """Autocorrelations of a series about zero, up to the first that is negative.

    Parameters
    ----------
    rest : FloatArray, shape (N,)
        Evenly spaced residuals; not-a-number where one is missing.
    least : float
        First autocorrelation that the sensor's own time constant gives: those found are never below its decay, as a
        short series underestimates them.

    Returns
    -------
    FloatArray, shape (L,)
        Of lags 1 to L.
    """
    count = len(rest)
    known = np.isfinite(rest)
    filled = np.where(known, rest, 0.0)
    products = np.correlate(filled, filled, "full")[count - 1 :]
    numbers = np.correlate(known.astype(np.float64), known, "full")[count - 1 :]
    if products[0] <= 0.0:
        return decaying(least, count)
    found = (products / np.maximum(numbers, 1.0)) / (products[0] / max(numbers[0], 1.0))
    found = np.where(numbers < 0.5, 0.0, found)[1:]
    negative = np.flatnonzero(found < 0.0)
    found[negative[0] if len(negative) else len(found) :] = 0.0
    return np.asarray(np.minimum(np.maximum(found, decaying(least, count)), 1.0))
