"""Quantiles of draws as weighted means of the ordered draws.

One order statistic of a few hundred draws is a poor quantile.  The estimator of Harrell and Davis is the
mean of all of them, each weighted by how probably it is the one sought.

References
----------
Harrell, F. E. and Davis, C. E. (1982). A new distribution-free quantile estimator. Biometrika 69, 635-640.
"""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

#: Points of Gauss and Legendre in each cell: the density is a polynomial-like hump over several cells.
_NODES = 8


@cache
def quantile_weights(count: int, probability: float) -> FloatArray:
    """Weights (N,) of the N ordered draws in the quantile at a probability.

    The weight of draw i is the probability of the interval (i - 1)/N ... i/N under a beta distribution with
    parameters (N + 1) p and (N + 1)(1 - p).
    """
    first, second = (count + 1) * probability, (count + 1) * (1.0 - probability)
    nodes, node_weights = np.polynomial.legendre.leggauss(_NODES)
    places = (np.arange(count)[:, None] + 0.5 * (nodes + 1.0)) / count
    logarithm = (first - 1.0) * np.log(places) + (second - 1.0) * np.log1p(-places)
    weights = np.exp(logarithm - logarithm.max()) @ node_weights
    return np.asarray(weights / weights.sum())


def ends(draws: FloatArray, coverage: float) -> tuple[FloatArray, FloatArray]:
    """Ends of the probabilistically symmetric interval.

    Parameters
    ----------
    draws : FloatArray, shape (..., N)
        All of them numbers.
    coverage : float
        Probability inside.

    Returns
    -------
    (FloatArray, FloatArray), each of shape (...)
    """
    weights = quantile_weights(draws.shape[-1], (1.0 - coverage) / 2.0)
    ordered = np.sort(draws, axis=-1)
    return ordered @ weights, ordered @ weights[::-1]
