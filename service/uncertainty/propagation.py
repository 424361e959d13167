"""Draws of readings, bands of results, and who brought the uncertainty.

Propagation of distributions after JCGM 101:2008, with a low-discrepancy sample in place of a
pseudo-random one.  The draws axis is the last; its element 0 is the nominal value.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from service.uncertainty.coverage_factor import KURTOSIS, SIXTH, coverage_factor
from service.uncertainty.error_terms import ErrorTerm
from service.uncertainty.low_discrepancy import Sample

FloatArray = NDArray[np.float64]

COVERAGE = 0.95

#: Share of variance that the linear part may leave unexplained before the shape of the draws is
#: asked for the band's ends: a tenth of a thousandth moves them by at most half a percent of it.
_LINEAR_ENOUGH = 1e-4


@dataclass(frozen=True, slots=True)
class Variable:
    """One independent random variable: the sum of error terms that always act together.

    ``draws`` (N + 1,) has the nominal zero first.  ``fourth`` and ``sixth`` are the cumulants of
    those orders; odd ones are zero, as every term is symmetric.  ``key`` is the same for one error that
    acts at several visits (a sensor's calibration, an assumption about the unit), None for one that is
    new at each.
    """

    draws: FloatArray
    variance: float
    fourth: float
    sixth: float
    owner: str
    key: int | None = None


def variable(
    terms: Sequence[ErrorTerm], sample: Sample, owner: str, key: int | None = None
) -> Variable:
    """The sum of independent terms as one variable.

    Parameters
    ----------
    terms : sequence of ErrorTerm
        Independent terms, in one unit.
    sample : Sample
        The sample of N draws.
    owner : str
        The instrument that brings them.
    key : int, optional
        What the error is called at every visit that it acts on.
    """
    draws: FloatArray | None = None
    variance = fourth = sixth = 0.0
    for term in terms:
        table = sample.normal if term.distribution == "normal" else sample.rectangular
        own = table[term.dimension] * term.scale
        draws = own if draws is None else np.add(draws, own, out=draws)
        part = term.variance
        variance += part
        if term.distribution == "rectangular":
            fourth += KURTOSIS * part**2
            sixth += SIXTH * part**3
    if draws is None:
        draws = np.zeros(sample.draws + 1)
    return Variable(draws, variance, fourth, sixth, owner, key)


@dataclass(frozen=True, slots=True)
class Inputs:
    """K independent variables as arrays, with what every regression on them needs.

    ``draws`` (K, N) without the nominal, ``correlation`` (K, K) of the draws, ``scale`` (K,) their
    standard deviations, 1 where there is no ``extent`` (K,): a perfect instrument has no slope, its
    scale only must not be zero.  ``variance``, ``fourth`` and ``sixth`` (K,) are exact cumulants.
    """

    draws: FloatArray
    means: FloatArray
    correlation: FloatArray
    scale: FloatArray
    extent: NDArray[np.bool_]
    variance: FloatArray
    fourth: FloatArray
    sixth: FloatArray

    @property
    def count(self) -> int:
        """Number of variables."""
        return len(self.variance)


def gathered(variables: Sequence[Variable]) -> Inputs:
    """Variables as arrays."""
    variance, fourth, sixth = (
        np.array([getattr(one, name) for one in variables])
        for name in ("variance", "fourth", "sixth")
    )
    if not variables:
        none = np.zeros((0, 0))
        return Inputs(none, variance, none, variance, variance > 0.0, variance, fourth, sixth)
    draws = np.stack([one.draws for one in variables])[:, 1:]
    means = draws.mean(axis=1)
    covariance = draws @ draws.T / draws.shape[1] - np.outer(means, means)
    deviation = np.sqrt(np.diagonal(covariance))
    scale = np.where(deviation > 0.0, deviation, 1.0)
    correlation = covariance / np.outer(scale, scale)
    return Inputs(draws, means, correlation, scale, deviation > 0.0, variance, fourth, sixth)


@dataclass(frozen=True, slots=True)
class Summary:
    """Statistics of a stack of Q quantities over the draws.

    ``variance_by_variable`` and ``slopes`` on the variables have shape (Q, K), the others (Q,).
    ``reliable`` is false where the nominal value or more than one draw in twenty is not a number.
    """

    value: FloatArray
    standard_uncertainty: FloatArray
    low: FloatArray
    high: FloatArray
    reliable: NDArray[np.bool_]
    variance_by_variable: FloatArray
    centre: FloatArray
    slopes: FloatArray

    def matched(self, row: int, draws: FloatArray) -> FloatArray:
        """Draws of one quantity with their mean and spread brought to the exact ones.

        Parameters
        ----------
        row : int
            Which quantity.
        draws : FloatArray, shape (N + 1,)
            Its draws; the nominal stays as it is.

        Notes
        -----
        The shape stays that of the draws.  A probability near a limit then does not hang on what a
        thousand draws miss of the spread.
        """
        body = draws[1:]
        mean = body.mean()
        if not np.isfinite(mean):  # a draw is missing; its shape is asked for as it is
            return draws
        centred = body - mean
        spread = np.sqrt(centred @ centred / centred.size)
        scale = self.standard_uncertainty[row] / spread if spread > 0.0 else 1.0
        return np.concatenate([draws[:1], self.centre[row] + centred * scale])


def summarise(stack: FloatArray, inputs: Inputs, mask: NDArray[np.bool_]) -> Summary:
    """Value, standard uncertainty, 95 % band and variance by variable of each quantity.

    Parameters
    ----------
    stack : FloatArray, shape (Q, N + 1)
        Draws, the nominal in column 0.
    inputs : Inputs
        The K independent variables that the draws were made from.
    mask : bool array, shape (Q, K)
        Which variables a quantity depends on; one outside it has exactly no share.

    Notes
    -----
    Quantiles of a thousand draws are themselves uncertain by about 2 % of the band.  The linear part
    of each quantity is known exactly, though: its slopes follow from the draws by least squares, its
    variance and 95 % quantile from the variables in closed form.  It serves as control variate: what
    the draws miss on the linear part is taken off the quantity (Glasserman, Monte Carlo Methods in
    Financial Engineering, 2004, 4.1 and 9.3.3 for quantiles).  A non-linear quantity keeps its own
    shape; a linear one is all but exact, and needs no quantile of the draws at all.
    """
    draws = stack[:, 1:]
    reliable = np.isfinite(stack[:, 0])
    means = draws.mean(axis=1)
    if not np.isfinite(means).all():
        finite = np.isfinite(draws)
        reliable &= finite.sum(axis=1) >= 0.95 * draws.shape[1]
        # A missing draw takes the nominal value: it is rare where the row is reliable at all.
        draws = np.where(finite, draws, np.where(reliable, stack[:, 0], 0.0)[:, None])
        means = draws.mean(axis=1)
    centred = draws - means[:, None]
    spread = np.einsum("qn,qn->q", centred, centred) / draws.shape[1]
    if not inputs.count:
        none = np.zeros((len(stack), 0))
        return Summary(stack[:, 0], np.sqrt(spread), *_ends(draws), reliable, none, means, none)
    slopes, drawn = _slopes(centred, inputs, mask)
    by_variable = slopes**2 * inputs.variance
    exact = by_variable.sum(axis=1)
    residual = np.maximum(spread - drawn, 0.0)
    uncertainty = np.sqrt(residual + exact)
    half = _half_width(slopes, exact, inputs)
    centre = means - slopes @ inputs.means
    low, high = centre - half, centre + half
    curved = residual > _LINEAR_ENOUGH * exact
    if curved.any():
        own = _ends(draws[curved])
        linear = _ends(slopes[curved] @ inputs.draws)
        low[curved] = own[0] - linear[0] - half[curved]
        high[curved] = own[1] - linear[1] + half[curved]
    return Summary(stack[:, 0], uncertainty, low, high, reliable, by_variable, centre, slopes)


def slopes_of(stack: FloatArray, inputs: Inputs, mask: NDArray[np.bool_]) -> FloatArray:
    """Least-squares slopes of quantities on the variables behind them.

    Parameters
    ----------
    stack : FloatArray, shape (Q, N + 1)
        Draws, all of them numbers.
    inputs : Inputs
        The K variables.
    mask : bool array, shape (Q, K)
        Which variables a quantity depends on.

    Returns
    -------
    FloatArray, shape (Q, K)
    """
    draws = stack[:, 1:]
    return _slopes(draws - draws.mean(axis=1, keepdims=True), inputs, mask)[0]


def _slopes(
    centred: FloatArray, inputs: Inputs, mask: NDArray[np.bool_]
) -> tuple[FloatArray, FloatArray]:
    """Least-squares slopes (Q, K) of centred outputs (Q, N) on inputs, and the variance (Q,) of the
    draws that they explain.

    Each quantity is solved on its own variables alone, so that its numbers do not feel a variable
    that it does not depend on; those of equally many variables are solved together.
    """
    used = mask & inputs.extent
    counts = used.sum(axis=1)
    right = np.where(used, centred @ inputs.draws.T / centred.shape[1] / inputs.scale, 0.0)
    solved = np.zeros_like(right)
    for count in np.unique(counts).tolist():
        rows = np.flatnonzero(counts == count)
        own = np.nonzero(used[rows])[1].reshape(len(rows), count)
        left = inputs.correlation[own[:, :, None], own[:, None, :]]
        places = rows[:, None], own
        solved[places] = np.linalg.solve(left, right[places][:, :, None])[:, :, 0]
    return solved / inputs.scale, np.einsum("qk,qk->q", solved, right)


def _half_width(slopes: FloatArray, exact: FloatArray, inputs: Inputs) -> FloatArray:
    """Half-width of the 95 % interval of the linear parts, from their exact cumulants."""
    squared = slopes**2
    positive = np.where(exact > 0.0, exact, 1.0)
    kurtosis = squared**2 @ inputs.fourth / positive**2
    sixth = squared**3 @ inputs.sixth / positive**3
    half: FloatArray = coverage_factor(kurtosis, sixth) * np.sqrt(exact)
    return half


def _ends(draws: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Ends of the probabilistically symmetric interval, at plotting positions (i - 1/2) / N."""
    count = draws.shape[1]
    position = min(max((1.0 - COVERAGE) / 2.0 * count - 0.5, 0.0), count - 1.0)
    below = int(position)
    above = min(below + 1, count - 1)
    weight = position - below
    last = count - 1
    ordered = np.sort(draws, axis=1)  # quicker than four partitions of a thousand draws
    low = (1.0 - weight) * ordered[:, below] + weight * ordered[:, above]
    high = (1.0 - weight) * ordered[:, last - below] + weight * ordered[:, last - above]
    return low, high
