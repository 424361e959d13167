"""Several causes, each with a normal answer: weights, quantiles and probabilities.

References
----------
Hoeting, J. A. et al. (1999). Bayesian model averaging: a tutorial. Statistical Science 14, 382-417.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from math import erf, exp, inf, pi, sqrt
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


_NORMAL = NormalDist()
_ROOT_TWO = sqrt(2.0)
_ROOT_OF_TURN = sqrt(2.0 * pi)
#: A quantile is sought so many deviations to either side, and to this share of that range.
_REACH = 8.0
_CLOSE = 1e-8
#: Components of so little weight in all move no quantile or probability that anybody asks for.
_NO_WEIGHT = 1e-8


@dataclass(frozen=True, slots=True)
class Normals:
    """A mixture of H normal distributions of one quantity; remembers its quantiles, as sentences and numbers of an
    answer ask for the same."""

    weights: FloatArray
    means: FloatArray
    deviations: FloatArray
    _quantiles: dict[float, float] = field(default_factory=dict, init=False, repr=False, compare=False)
    _parts: list[tuple[float, float, float]] = field(default_factory=list, init=False, repr=False, compare=False)

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
        return _under(self._components(), value)

    def placed(self, probabilities: FloatArray) -> FloatArray:
        """Quantiles at many probabilities (N,), by interpolation of the distribution."""
        reach = 6.0 * self.deviations
        grid = np.linspace(float((self.means - reach).min()), float((self.means + reach).max()), 801)
        components = self._components()
        table = [_under(components, value) for value in grid.tolist()]
        return np.asarray(np.interp(probabilities, table, grid))

    def quantile(self, probability: float) -> float:
        """Value that is not exceeded with a probability."""
        if probability not in self._quantiles:
            self._quantiles[probability] = self._sought(probability)
        return self._quantiles[probability]

    def _sought(self, probability: float) -> float:
        """A quantile by Newton's method, from where one normal distribution has it.

        What is left of the range is halved where a step leads out of it: a certain part is a jump.
        """
        components = self._components()
        low = min(mean - _REACH * deviation for _, mean, deviation in components)
        high = max(mean + _REACH * deviation for _, mean, deviation in components)
        close = _CLOSE * (high - low)
        value = min(max(self.mean + self.deviation * _NORMAL.inv_cdf(probability), low), high)
        while high - low > close:
            lack = probability - _under(components, value)
            if lack > 0.0:
                low = value
            else:
                high = value
            density = _density(components, value)
            step = lack / density if density > 0.0 else inf
            if abs(step) < close:
                return value + step
            value += step
            if not low < value < high:
                value = 0.5 * (low + high)
        return 0.5 * (low + high)

    def _components(self) -> list[tuple[float, float, float]]:
        """Weight, mean and deviation of each component that counts, as plain numbers."""
        if not self._parts:
            parts = (self.weights, self.means, self.deviations)
            ranked = sorted(zip(*(part.tolist() for part in parts), strict=True), reverse=True)
            left = _NO_WEIGHT
            while (left := left - ranked[-1][0]) > 0.0:
                ranked.pop()
            self._parts.extend(ranked)
        return self._parts


def _under(components: list[tuple[float, float, float]], value: float) -> float:
    """Probability of a value under the one given.

    In plain numbers: of so few components an array operation costs more than it does.
    """
    total = 0.0
    for weight, mean, deviation in components:
        if deviation > 0.0:
            total += weight * 0.5 * (1.0 + erf((value - mean) / deviation / _ROOT_TWO))
        elif mean < value:
            total += weight
    return min(max(total, 0.0), 1.0)


def _density(components: list[tuple[float, float, float]], value: float) -> float:
    """Density at a value of the components that are not certain."""
    total = 0.0
    for weight, mean, deviation in components:
        if deviation > 0.0:
            off = (value - mean) / deviation
            total += weight * exp(-0.5 * off * off) / deviation
    return total / _ROOT_OF_TURN


def weights(
    posterior: FloatArray,
    covariance: FloatArray,
    wide: FloatArray,
    priors: Mapping[str, tuple[float, FloatArray]],
) -> dict[str, float]:
    """Probability of each cause from one fit under a wide prior, in the linear approximation.

    Parameters
    ----------
    posterior, covariance : FloatArray, shapes (C,), (C, C)
        Changes under the wide prior, whose mean is zero.
    wide : FloatArray, shape (C, C)
        Covariance of the wide prior.
    priors : mapping
        Name of each cause: its probability beforehand and its prior covariance (C, C).
    """
    precision = np.linalg.inv(covariance)
    information = precision - np.linalg.inv(wide)
    # Rounding may leave a direction that the readings say nothing about slightly negative.
    values, vectors = np.linalg.eigh(0.5 * (information + information.T))
    information = (vectors * np.maximum(values, 0.0)) @ vectors.T
    pointed = precision @ posterior
    evidence = []
    for probability, prior in priors.values():
        spread = np.linalg.inv(information + np.linalg.inv(prior))
        evidence.append(
            np.log(probability)
            + 0.5 * (np.linalg.slogdet(spread)[1] - np.linalg.slogdet(prior)[1])
            + 0.5 * float(pointed @ spread @ pointed)
        )
    return normalised(dict(zip(priors, evidence, strict=True)))


def normalised(logarithms: Mapping[str, float]) -> dict[str, float]:
    """Probabilities from their logarithms, which lack a constant."""
    top = max(logarithms.values())
    shares = {name: float(np.exp(value - top)) for name, value in logarithms.items()}
    total = sum(shares.values())
    return {name: share / total for name, share in shares.items()}
