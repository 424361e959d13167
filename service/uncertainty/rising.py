"""A pressure that rises in a closed volume: by a leak, by drying, by both, or not at all.

A leak into a vacuum is a straight line, as the air outside is a thousand times denser.  Moisture and outgassing come
to an end: p = p_e - (p_e - p_0) exp(-t / tau).  With s the share of the rise that has happened by a time,

    p(t) = p_0 + R s(t),    s = f t / T + (1 - f) (1 - exp(-t / tau)) / (1 - exp(-T / tau)),

so that all four are one model: f = 1 a leak, f = 0 drying, between them both, R = 0 nothing.  Given f and tau it is
linear in p_0 and R, which are integrated in closed form; f and tau on a grid.

References
----------
Bretthorst, G. L. (1988). Bayesian Spectrum Analysis and Parameter Estimation. Springer, chapter 3.
Kass, R. E. and Raftery, A. E. (1995). Bayes factors. J. Am. Statist. Assoc. 90, 773-795.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from math import log, pi, sqrt
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from service.uncertainty.normal import cumulative

FloatArray = NDArray[np.float64]

#: Points of the grids over the leak's share and over the time constant.
_SHARES, _CONSTANTS = 41, 49
#: Points that stand for a normal distribution.
_STRATA = 101
#: Part of the largest weight below which a point of the grid is left out.
_LEAST = 1e-5
#: Standard deviation of the normal score below which a rise counts as none at all.
_NO_SIZE = 1e-12


@dataclass(frozen=True, slots=True)
class Beliefs:
    """What is assumed of a rise: probabilities beforehand, range of time constants, the largest rise, and how exactly
    a plateau is known against a saturation pressure (relative standard deviation)."""

    priors: Mapping[str, float]
    time_constants: tuple[float, float]
    largest_rise: float
    plateau_spread: float


@cache
def _strata() -> FloatArray:
    """Points that stand for equal shares of a standard normal distribution, of unit variance."""
    points = np.array([NormalDist().inv_cdf((place + 0.5) / _STRATA) for place in range(_STRATA)])
    return np.asarray(points / np.sqrt(np.mean(points**2)))


@dataclass(frozen=True, slots=True)
class Spread:
    """A mixture of many normal distributions: of weights that add up to 1, means and deviations."""

    weights: FloatArray
    means: FloatArray
    deviations: FloatArray

    def placed(self, probabilities: FloatArray) -> FloatArray:
        """Quantiles at many probabilities (N,), each component as so many points of equal weight."""
        points = (self.means[:, None] + self.deviations[:, None] * _strata()).ravel()
        weights = np.repeat(self.weights / _STRATA, _STRATA)
        order = np.argsort(points, kind="stable")
        under = np.cumsum(weights[order]) - 0.5 * weights[order]
        return np.asarray(np.interp(probabilities, under, points[order]))


@dataclass(frozen=True, slots=True)
class Rise:
    """What the readings of a rise say.

    ``probabilities`` of the explanations; ``leak`` the slope of the leak [pressure / time], if there is one;
    ``plateau`` where drying alone would end [pressure]; ``line`` the start and the rise [pressure] of the best line;
    ``curve`` those and the time constant of the drying curve in the middle of what the readings allow.
    """

    probabilities: Mapping[str, float]
    leak: Spread
    plateau: Spread
    line: tuple[float, float]
    curve: tuple[float, float, float]


def explained(
    times: FloatArray,
    pressures: FloatArray,
    deviations: FloatArray,
    saturation: float | None,
    beliefs: Beliefs,
) -> Rise:
    """Weigh the explanations of a rise.

    Parameters
    ----------
    times, pressures, deviations : FloatArray, shape (n,)
        Times from zero, pressures, and the independent standard deviation of each.
    saturation : float or None
        Pressure that drying cannot exceed; None where it is not known.
    beliefs : Beliefs
        What is assumed beforehand.

    Returns
    -------
    Rise
    """
    length = float(times[-1])
    shares = np.linspace(0.0, 1.0, _SHARES)[:, None, None]
    low, high = (log(end) for end in beliefs.time_constants)
    constants = np.exp(np.linspace(low, high, _CONSTANTS))[None, :, None]
    whole = -np.expm1(-length / constants)
    shape = shares * times / length + (1.0 - shares) * -np.expm1(-times / constants) / whole
    fit = _fitted(shape, pressures, deviations)
    ends = fit.start + fit.size * (1.0 - shares[..., 0]) / whole[..., 0]
    evidence = fit.evidence(beliefs.largest_rise)
    if saturation is not None:
        held = cumulative((log(saturation) - np.log(np.maximum(ends, 1e-9))) / beliefs.plateau_spread)
        evidence = evidence + np.where(shares[..., 0] < 1.0, np.log(np.maximum(held, 1e-300)), 0.0)
    logarithms = {
        "leak": _mean(evidence[-1]),
        "drying": _mean(evidence[0]),
        "leak_and_drying": _mean(evidence[1:-1]),
        "holds": fit.without,
    }
    top = max(logarithms.values())
    weighed = {name: beliefs.priors[name] * float(np.exp(value - top)) for name, value in logarithms.items()}
    total = sum(weighed.values())
    probabilities = {name: value / total for name, value in weighed.items()}
    likely = np.cumsum(np.exp(evidence[0] - evidence[0].max()))
    best = int(np.searchsorted(likely, 0.5 * likely[-1]))
    return Rise(
        probabilities,
        _leak(fit, evidence, shares[:, 0, 0], length, probabilities),
        _plateau(fit, evidence[0], whole[0, :, 0]),
        (float(fit.start[-1, 0]), float(fit.size[-1, 0])),
        (float(fit.start[0, best]), float(fit.size[0, best]), float(constants[0, best, 0])),
    )


@dataclass(frozen=True, slots=True)
class _Fit:
    """Least squares of p_0 + R s for every shape: start, size, its standard deviation, and chi-square; and the
    logarithm of the likelihood of no rise at all."""

    start: FloatArray
    size: FloatArray
    deviation: FloatArray
    start_deviation: FloatArray
    covariance: FloatArray
    chi_square: FloatArray
    without: float

    def evidence(self, largest: float) -> FloatArray:
        """Logarithm of the evidence of each shape, sizes from zero to the largest equally probable."""
        positive = np.maximum(cumulative(self.size / self.deviation), 1e-300)
        return np.asarray(
            -0.5 * self.chi_square + np.log(np.sqrt(2.0 * pi) * self.deviation / largest) + np.log(positive)
        )


def _fitted(shape: FloatArray, pressures: FloatArray, deviations: FloatArray) -> _Fit:
    weights = deviations**-2.0
    total = float(weights.sum())
    mean = float(weights @ pressures) / total
    away = pressures - mean
    middle = (shape @ weights) / total
    spread = (shape**2) @ weights - total * middle**2
    size = (shape @ (weights * away)) / spread
    square = float(weights @ away**2)
    return _Fit(
        mean - size * middle,
        size,
        spread**-0.5,
        np.sqrt(1.0 / total + middle**2 / spread),
        -middle / spread,
        square - size**2 * spread,
        -0.5 * square,
    )


def _mean(logarithms: FloatArray) -> float:
    """Logarithm of the mean of numbers given by their logarithms."""
    top = float(logarithms.max())
    return top + log(float(np.exp(logarithms - top).mean()))


def _normals(weights: FloatArray, means: FloatArray, deviations: FloatArray) -> Spread:
    """A mixture without the components that do not count."""
    kept = weights > _LEAST * weights.max()
    return Spread(weights[kept] / weights[kept].sum(), means[kept], np.maximum(deviations[kept], _NO_SIZE))


def _leak(
    fit: _Fit, evidence: FloatArray, shares: FloatArray, length: float, probabilities: Mapping[str, float]
) -> Spread:
    """The slope of the leak if there is one, alone or with drying."""
    inside = np.exp(evidence[1:-1] - evidence[1:-1].max())
    weights = np.concatenate(
        [(probabilities["leak_and_drying"] * inside / inside.sum()).ravel(), [probabilities["leak"]]]
    )
    scale = shares[:, None] / length
    means, deviations = fit.size * scale, fit.deviation * scale
    return _normals(
        weights,
        np.concatenate([means[1:-1].ravel(), means[-1, :1]]),
        np.concatenate([deviations[1:-1].ravel(), deviations[-1, :1]]),
    )


def _plateau(fit: _Fit, evidence: FloatArray, whole: FloatArray) -> Spread:
    """Where drying alone would end."""
    weights = np.exp(evidence - evidence.max())
    variance = fit.start_deviation[0] ** 2 + (fit.deviation[0] / whole) ** 2 + 2.0 * fit.covariance[0] / whole
    return _normals(weights, fit.start[0] + fit.size[0] / whole, np.sqrt(np.maximum(variance, 0.0)))


def comes_apart_at(
    times: FloatArray,
    rise: Rise,
    deviation_of: float,
    scatter: float,
    saturation: float | None,
    beliefs: Beliefs,
    longer: tuple[float, ...],
    named_from: float,
) -> float | None:
    """Length of a test at which a leak and drying would come apart; None where none of those tried suffices.

    Parameters
    ----------
    times : FloatArray, shape (n,)
        Times of the readings so far, from zero.
    rise : Rise
        What these say.
    deviation_of, scatter : float
        Standard deviation of a reading: a fixed part, and a share of the reading.
    longer : tuple of float
        Factors on the length so far that are tried.
    named_from : float
        Probability that decides.
    """
    length, step = float(times[-1]), float(times[-1]) / (len(times) - 1)
    for factor in longer:
        until = factor * length
        later = np.linspace(0.0, until, min(max(round(until / step) + 1, 6), 50))
        start, size, constant = rise.curve
        dried = start + size * -np.expm1(-later / constant) / -np.expm1(-length / constant)
        leaked = rise.line[0] + rise.line[1] * later / length
        found = []
        for pressures in (leaked, dried):
            spread = np.sqrt(deviation_of**2 + (scatter * pressures) ** 2)
            found.append(explained(later, pressures, spread, saturation, beliefs).probabilities)
        leaks = [one["leak"] + one["leak_and_drying"] for one in found]
        if leaks[0] >= named_from and leaks[1] <= 1.0 - named_from:
            return until
    return None


def slope_deviation(times: FloatArray, deviations: FloatArray) -> float:
    """Standard deviation of the slope of a line through readings at times with independent deviations."""
    weights = deviations**-2.0
    mean = float(weights @ times) / float(weights.sum())
    return 1.0 / sqrt(float(weights @ (times - mean) ** 2))
