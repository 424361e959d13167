"""Several causes, each with a normal answer: weights, quantiles and probabilities.

References
----------
Hoeting, J. A. et al. (1999). Bayesian model averaging: a tutorial. Statistical Science 14, 382-417.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from math import erf, pi, sqrt
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from service.uncertainty.normal import cumulative

FloatArray = NDArray[np.float64]


_NORMAL = NormalDist()
_ROOT_TWO = sqrt(2.0)
_ROOT_OF_TURN = sqrt(2.0 * pi)
#: A quantile is sought so many deviations to either side, and to this share of that range.
_REACH = 8.0
_CLOSE = 1e-8
#: Components of so little weight in all move no quantile or probability that anybody asks for.
_NO_WEIGHT = 1e-8
#: Up to so many components, plain numbers are quicker than arrays.
_FEW = 16


#: The least deviation, so that a part that is certain is a jump and not a division by zero.
_CERTAIN = 1e-300


@dataclass(frozen=True, slots=True)
class Normals:
    """A mixture of H normal distributions of one quantity; remembers its quantiles, as sentences and numbers of an
    answer ask for the same."""

    weights: FloatArray
    means: FloatArray
    deviations: FloatArray
    _quantiles: dict[float, float] = field(default_factory=dict, init=False, repr=False, compare=False)

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
        if len(self.weights) > _FEW:
            total = float(self.weights @ cumulative((value - self.means) / np.maximum(self.deviations, _CERTAIN)))
        else:
            # In plain numbers: of so few an array operation costs more than it does.
            parts = (part.tolist() for part in (self.weights, self.means, self.deviations))
            for weight, mean, deviation in zip(*parts, strict=True):
                if deviation > 0.0:
                    total += weight * 0.5 * (1.0 + erf((value - mean) / deviation / _ROOT_TWO))
                elif mean < value:
                    total += weight
        return min(max(total, 0.0), 1.0)

    def placed(self, probabilities: FloatArray) -> FloatArray:
        """Quantiles at many probabilities (N,), by interpolation of the distribution."""
        reach = 6.0 * self.deviations
        grid = np.linspace(float((self.means - reach).min()), float((self.means + reach).max()), 801)
        off = (grid - self.means[:, None]) / np.maximum(self.deviations, _CERTAIN)[:, None]
        return np.asarray(np.interp(probabilities, self.weights @ cumulative(off), grid))

    def quantile(self, probability: float) -> float:
        """Value that is not exceeded with a probability."""
        if len(self.weights) == 1:
            return float(self.means[0] + self.deviations[0] * _NORMAL.inv_cdf(probability))
        if probability not in self._quantiles:
            find_quantiles([self], [probability])
        return self._quantiles[probability]


def find_quantiles(mixtures: Iterable[Normals | None], probabilities: Sequence[float]) -> None:
    """Quantiles of many mixtures at once, each remembered by its own: what they ask of arrays is asked once.

    By Newton's method, from where one normal distribution has them.  What is left of the range is halved where a
    step leads out of it: a certain part is a jump.
    """
    asked = [
        (one, p)
        for one in mixtures
        if one is not None and len(one.weights) > 1
        for p in probabilities
        if p not in one._quantiles
    ]
    if not asked:
        return
    parts = {id(one): _that_count(one) for one, _ in asked}
    weights, means, deviations = (np.concatenate([parts[id(one)][part] for one, _ in asked]) for part in range(3))
    lengths = [len(parts[id(one)][0]) for one, _ in asked]
    of = np.repeat(np.arange(len(asked)), lengths)
    first = np.cumsum([0, *lengths[:-1]])
    heights = weights / deviations / _ROOT_OF_TURN
    low = np.minimum.reduceat(means - _REACH * deviations, first)
    high = np.maximum.reduceat(means + _REACH * deviations, first)
    close = _CLOSE * (high - low)
    wanted = np.array([p for _, p in asked])
    begin = [one.mean + one.deviation * _NORMAL.inv_cdf(p) for one, p in asked]
    value = np.minimum(np.maximum(begin, low), high)
    left = high - low > close
    while left.any():
        off = (value[of] - means) / deviations
        lack = wanted - np.add.reduceat(weights * cumulative(off), first)
        density = np.add.reduceat(heights * np.exp(-0.5 * off * off), first)
        above = lack > 0.0
        low, high = np.where(left & above, value, low), np.where(left & ~above, value, high)
        step = lack / np.maximum(density, _CERTAIN)
        near = np.abs(step) < close
        moved = value + step
        inside = near | ((low < moved) & (moved < high))
        value = np.where(left, np.where(inside, moved, 0.5 * (low + high)), value)
        left &= ~near & (high - low > close)
    for (one, p), found in zip(asked, value.tolist(), strict=True):
        one._quantiles[p] = found


def _that_count(mixture: Normals) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Weights, means and deviations of the components that count."""
    rising = np.argsort(mixture.weights, kind="stable")
    kept = rising[np.searchsorted(np.cumsum(mixture.weights[rising]), _NO_WEIGHT) :]
    return mixture.weights[kept], mixture.means[kept], np.maximum(mixture.deviations[kept], _CERTAIN)


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
