"""Several causes, each with a normal answer: evidence, weights, quantiles and probabilities.

A linear-normal posterior under one wide prior is turned into the posterior under each cause's own prior
in closed form, so the readings are fitted once.

References
----------
Hoeting, J. A. et al. (1999). Bayesian model averaging: a tutorial. Statistical Science 14, 382-417.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import erf, sqrt

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Normals:
    """A mixture of H normal distributions of one quantity."""

    weights: FloatArray
    means: FloatArray
    deviations: FloatArray

    @property
    def mean(self) -> float:
        """Expectation."""
        return float(self.weights @ self.means)

    @property
    def deviation(self) -> float:
        """Standard deviation."""
        second = self.weights @ (self.deviations**2 + self.means**2)
        return sqrt(max(float(second) - self.mean**2, 0.0))

    def under(self, value: float) -> float:
        """Probability of a value under the one given."""
        total = 0.0
        for weight, mean, deviation in zip(
            self.weights, self.means, self.deviations, strict=True
        ):
            if deviation > 0.0:
                share = 0.5 * (1.0 + erf((value - mean) / (deviation * sqrt(2.0))))
            else:
                share = float(mean < value)
            total += float(weight) * share
        return min(max(total, 0.0), 1.0)

    def quantile(self, probability: float) -> float:
        """Value that is not exceeded with a probability; by bisection."""
        reach = 8.0 * self.deviations
        low, high = float((self.means - reach).min()), float((self.means + reach).max())
        for _ in range(60):
            middle = 0.5 * (low + high)
            if self.under(middle) < probability:
                low = middle
            else:
                high = middle
        return 0.5 * (low + high)


@dataclass(frozen=True, slots=True)
class Averaged:
    """Posterior of P parameters as a mixture over causes.

    ``weights`` (H,) by cause; ``centre`` (P,) and ``covariance`` (P, P) of the wide fit; ``pull`` (P, C)
    regression of all parameters on the C changes; ``shifts`` (H, C) of their means from the wide fit's;
    ``spreads`` (H, C, C) their covariances.
    """

    names: tuple[str, ...]
    weights: FloatArray
    rest: FloatArray
    pull: FloatArray
    shifts: FloatArray
    spreads: FloatArray

    def of(self, value: float, gradient: FloatArray) -> Normals:
        """Distribution of a quantity that is linear about the wide fit."""
        along = gradient @ self.pull
        base = float(gradient @ self.rest @ gradient)
        own = np.einsum("c,hcd,d->h", along, self.spreads, along)
        return Normals(
            self.weights, value + self.shifts @ along, np.sqrt(np.maximum(base + own, 0.0))
        )


def average(
    parameters: FloatArray,
    covariance: FloatArray,
    places: list[int],
    wide: FloatArray,
    priors: Mapping[str, tuple[float, FloatArray]],
) -> Averaged:
    """Posterior under several causes from that under one wide prior.

    Parameters
    ----------
    parameters, covariance : FloatArray, shapes (P,), (P, P)
        Posterior under the wide prior.
    places : list of int
        Positions of the C changes among the parameters; their prior means are zero.
    wide : FloatArray, shape (C,)
        Their prior variances in the wide fit.
    priors : mapping
        Name of each cause: its probability beforehand and the prior variances (C,) under it.
    """
    own = covariance[np.ix_(places, places)]
    precision = np.linalg.inv(own)
    information = precision - np.diag(1.0 / wide)
    # Rounding may leave a direction that the readings say nothing about slightly negative.
    values, vectors = np.linalg.eigh(0.5 * (information + information.T))
    information = (vectors * np.maximum(values, 0.0)) @ vectors.T
    mean = parameters[places]
    pointed = precision @ mean
    pull = covariance[:, places] @ precision
    evidence, shifts, spreads = [], [], []
    for probability, variances in priors.values():
        spread = np.linalg.inv(information + np.diag(1.0 / variances))
        _, log_spread = np.linalg.slogdet(spread)
        evidence.append(
            np.log(probability)
            + 0.5 * (log_spread - np.log(variances).sum() + pointed @ spread @ pointed)
        )
        shifts.append(spread @ pointed - mean)
        spreads.append(spread)
    weights = np.exp(np.array(evidence) - max(evidence))
    rest = covariance - pull @ covariance[places]
    return Averaged(
        tuple(priors),
        weights / weights.sum(),
        0.5 * (rest + rest.T),
        pull,
        np.array(shifts),
        np.array(spreads),
    )
