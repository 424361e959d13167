"""A series of dated values with known uncertainties: steady, drifting or stepped; robust to a bad one.

Errors are Student distributed about their stated size, so that one bad visit loses its weight instead of
bending the line; the fit is by iteratively reweighted least squares.  Shapes are compared by the Bayesian
information criterion.

References
----------
Lange, Little and Taylor (1989). Robust statistical modeling using the t distribution. J. Am. Stat. Assoc.
84, 881-896.  Schwarz, G. (1978). Estimating the dimension of a model. Ann. Statist. 6, 461-464.  Kass and
Raftery (1995). Bayes factors. J. Am. Stat. Assoc. 90, 773-795 (a difference of 6 is strong evidence).
"""

from __future__ import annotations

from dataclasses import dataclass
from math import lgamma, log, pi
from typing import Literal

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

#: Degrees of freedom of the errors; few, as a slip is far outside the rest.
FREEDOM = 3.0
#: Difference of the criterion from which a richer shape is taken.
STRONG = 6.0
#: Weight under which a value does not fit to the others.
ODD = 0.35
_ITERATIONS = 200


ShapeName = Literal["steady", "drift", "step"]


@dataclass(frozen=True, slots=True)
class Line:
    """A fit: coefficients (C,), their covariance (C, C), weights of the values (N,), log-likelihood."""

    coefficients: FloatArray
    covariance: FloatArray
    weights: FloatArray
    likelihood: float

    def criterion(self, count: int) -> float:
        """Bayesian information criterion; smaller is better."""
        return -2.0 * self.likelihood + len(self.coefficients) * log(count)


def line(design: FloatArray, values: FloatArray, deviations: FloatArray) -> Line:
    """Robust weighted least squares.

    Parameters
    ----------
    design : FloatArray, shape (N, C)
    values, deviations : FloatArray, shape (N,)
        Values and their standard uncertainties.
    """
    return lines(design, values[None], deviations[None])[0]


def lines(design: FloatArray, values: FloatArray, deviations: FloatArray) -> list[Line]:
    """Robust weighted least squares of S series (S, N) on one design (N, C)."""
    coefficients = _fitted(design, values, deviations)
    count = design.shape[1]
    scaled = (values - coefficients @ design.T) / deviations
    weights = (FREEDOM + 1.0) / (FREEDOM + scaled**2)
    # Expected information of the Student likelihood about each value is (v + 1) / (v + 3) of the normal's.
    information = _moments(design, deviations**-2.0) * (FREEDOM + 1.0) / (FREEDOM + 3.0)
    covariances = np.linalg.pinv(information)
    # Values that scatter more than stated widen it (Birge), by what is not odd.
    usual = weights > ODD
    degrees = usual.sum(axis=1) - count
    scatter = (usual * scaled**2).sum(axis=1) / np.maximum(degrees, 1)
    covariances = covariances * np.where(degrees > 0, np.maximum(1.0, scatter), 1.0)[:, None, None]
    constant = lgamma((FREEDOM + 1) / 2) - lgamma(FREEDOM / 2) - 0.5 * log(FREEDOM * pi)
    density = constant - np.log(deviations) - (FREEDOM + 1) / 2 * np.log1p(scaled**2 / FREEDOM)
    likelihoods = density.sum(axis=1).tolist()
    return [Line(coefficients[row], covariances[row], weights[row], likelihoods[row]) for row in range(len(values))]


def _fitted(design: FloatArray, values: FloatArray, deviations: FloatArray) -> FloatArray:
    """Coefficients (S, C) by iterative reweighting; each series until its own has settled."""
    # From the median outward: a start that one bad value cannot move far.
    coefficients = np.zeros((len(values), design.shape[1]))
    coefficients[:, 0] = np.median(values, axis=1)
    moving = np.arange(len(values))
    for _ in range(_ITERATIONS):
        own, spread, current = values[moving], deviations[moving], coefficients[moving]
        scaled = (own - current @ design.T) / spread
        weights = (FREEDOM + 1.0) / (FREEDOM + scaled**2) / spread**2
        right = (weights * own) @ design
        found = np.linalg.solve(_moments(design, weights), right[:, :, None])[:, :, 0]
        moved = np.abs((found - current) @ design.T / spread).max(axis=1)
        coefficients[moving] = found
        moving = moving[moved >= 1e-6]
        if not moving.size:
            break
    return coefficients


def _moments(design: FloatArray, weights: FloatArray) -> FloatArray:
    """Weighted sums of products of the design's columns, (S, C, C)."""
    return np.asarray((design.T * weights[:, None, :]) @ design)


@dataclass(frozen=True, slots=True)
class Shape:
    """What a series looks like: ``name`` steady, drift or step; the drift is fitted in any case.

    ``step`` is the position of the first value after a step, with its size and uncertainty.
    """

    name: ShapeName
    drift: Line
    chosen: Line
    step: tuple[int, float, float] | None


def shape(times: FloatArray, values: FloatArray, deviations: FloatArray) -> Shape:
    """The simplest shape that the values leave standing.

    Parameters
    ----------
    times : FloatArray, shape (N,)
        Ascending; the drift is in values for each unit of them, about their mean.
    values, deviations : FloatArray, shape (N,)
    """
    return shapes(times, values[None], deviations[None])[0]


def shapes(times: FloatArray, values: FloatArray, deviations: FloatArray) -> list[Shape]:
    """The same for S series (S, N) at the same times."""
    count = len(times)
    ones = np.ones(count)
    steady = lines(ones[:, None], values, deviations)
    drift = lines(np.stack([ones, times - times.mean()], axis=1), values, deviations)
    places = range(2, count - 1)
    steps = [lines(np.stack([ones, np.arange(count) >= place], axis=1), values, deviations) for place in places]
    return [
        _simplest(
            count,
            steady[row],
            drift[row],
            [(p, s[row]) for p, s in zip(places, steps, strict=True)],
        )
        for row in range(len(values))
    ]


def _simplest(count: int, steady: Line, drift: Line, steps: list[tuple[int, Line]]) -> Shape:
    """The simplest of the lines that stands; a richer one needs strong evidence."""
    name: ShapeName = "steady"
    chosen, step = steady, None
    score = steady.criterion(count)
    if drift.criterion(count) < score - STRONG:
        name, chosen, score = "drift", drift, drift.criterion(count)
    if steps:
        place, found = max(steps, key=lambda item: item[1].likelihood)
        # The place of the step was chosen too, which counts as one coefficient more.
        criterion = found.criterion(count) + log(count)
        better = score - STRONG if name == "steady" else score
        if criterion < better:
            name, chosen = "step", found
            deviation = float(np.sqrt(found.covariance[1, 1]))
            step = (place, float(found.coefficients[1]), deviation)
    return Shape(name, drift, chosen, step)
