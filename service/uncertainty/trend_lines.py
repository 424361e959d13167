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
    # From the median outward: a start that one bad value cannot move far.
    start = np.zeros(design.shape[1])
    start[0] = float(np.median(values))
    coefficients = start
    weights = np.ones_like(values)
    for _ in range(_ITERATIONS):
        scaled = (values - design @ coefficients) / deviations
        weights = (FREEDOM + 1.0) / (FREEDOM + scaled**2)
        root = np.sqrt(weights) / deviations
        found = np.linalg.lstsq(design * root[:, None], values * root, rcond=None)[0]
        moved = float(np.abs(design @ (found - coefficients) / deviations).max())
        coefficients = np.asarray(found, dtype=np.float64)
        if moved < 1e-6:
            break
    scaled = (values - design @ coefficients) / deviations
    weights = (FREEDOM + 1.0) / (FREEDOM + scaled**2)
    # Expected information of the Student likelihood about each value is (v + 1) / (v + 3) of the normal's.
    information = (design / deviations[:, None] ** 2).T @ design * (FREEDOM + 1.0) / (FREEDOM + 3.0)
    covariance = np.linalg.pinv(information)
    # Values that scatter more than stated widen it (Birge), by what is not odd.
    usual = weights > ODD
    degrees = int(usual.sum()) - design.shape[1]
    if degrees > 0:
        covariance = covariance * max(1.0, float((scaled[usual] ** 2).sum()) / degrees)
    constant = lgamma((FREEDOM + 1) / 2) - lgamma(FREEDOM / 2) - 0.5 * log(FREEDOM * pi)
    density = constant - np.log(deviations) - (FREEDOM + 1) / 2 * np.log1p(scaled**2 / FREEDOM)
    return Line(coefficients, np.asarray(covariance), weights, float(density.sum()))


@dataclass(frozen=True, slots=True)
class Shape:
    """What a series looks like: ``name`` steady, drift or step; the drift is fitted in any case.

    ``step`` is the position of the first value after a step, with its size and uncertainty.
    """

    name: str
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
    count = len(values)
    ones = np.ones(count)
    steady = line(ones[:, None], values, deviations)
    drift = line(np.stack([ones, times - times.mean()], axis=1), values, deviations)
    best_step: tuple[int, Line] | None = None
    for place in range(2, count - 1):
        after = (np.arange(count) >= place).astype(float)
        found = line(np.stack([ones, after], axis=1), values, deviations)
        if best_step is None or found.likelihood > best_step[1].likelihood:
            best_step = (place, found)
    name, chosen, step = "steady", steady, None
    score = steady.criterion(count)
    if drift.criterion(count) < score - STRONG:
        name, chosen, score = "drift", drift, drift.criterion(count)
    if best_step is not None:
        place, found = best_step
        # The place of the step was chosen too, which counts as one coefficient more.
        criterion = found.criterion(count) + log(count)
        better = score - STRONG if name == "steady" else score
        if criterion < better:
            name, chosen = "step", found
            deviation = float(np.sqrt(found.covariance[1, 1]))
            step = (place, float(found.coefficients[1]), deviation)
    return Shape(name, drift, chosen, step)
