"""Draws of readings, bands of results, and who brought the uncertainty.

Propagation of distributions after JCGM 101:2008, with a low-discrepancy sample in place of a
pseudo-random one.  The draws axis is the last; its element 0 is the nominal value.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from service.uncertainty.coverage_factor import coverage_factor
from service.uncertainty.error_terms import Distribution, ErrorTerm
from service.uncertainty.low_discrepancy import Sample

FloatArray = NDArray[np.float64]

COVERAGE = 0.95


def error_rows(terms: Sequence[ErrorTerm], sample: Sample) -> FloatArray:
    """Each term's error over the draws.

    Parameters
    ----------
    terms : sequence of ErrorTerm
        The k independent terms.
    sample : Sample
        The sample of N draws.

    Returns
    -------
    FloatArray, shape (k, N + 1)
        Errors in the unit of the terms; column 0 is zero.
    """
    rows = np.empty((len(terms), sample.draws + 1))
    for row, term in zip(rows, terms, strict=True):
        table = sample.normal if term.distribution == "normal" else sample.rectangular
        np.multiply(table[term.dimension], term.scale, out=row)
    return rows


@dataclass(frozen=True, slots=True)
class Variables:
    """The K independent random variables behind a stack of quantities, each of unit scale.

    Readings of one sensor share a variable.  ``rows`` are the draws (K, N + 1), ``variance`` the
    exact variances (K,), ``rectangular`` which of them are (the others are normal).
    """

    rows: FloatArray
    variance: FloatArray
    rectangular: NDArray[np.bool_]


def gather(variables: Sequence[tuple[int, Distribution]], sample: Sample) -> Variables:
    """Variables, each a dimension of the sample and its distribution, as arrays."""
    rectangular = np.array([distribution == "rectangular" for _, distribution in variables])
    rows = np.empty((len(variables), sample.draws + 1))
    for row, (dimension, distribution) in zip(rows, variables, strict=True):
        row[:] = (sample.normal if distribution == "normal" else sample.rectangular)[dimension]
    return Variables(rows, np.where(rectangular, 1.0 / 3.0, 1.0), rectangular)


@dataclass(frozen=True, slots=True)
class Summary:
    """Statistics of a stack of Q quantities over the draws.

    ``variance_by_variable`` has shape (Q, K), the others (Q,).  ``reliable`` is false where the nominal
    value or more than one draw in twenty is not a number.
    """

    value: FloatArray
    standard_uncertainty: FloatArray
    low: FloatArray
    high: FloatArray
    reliable: NDArray[np.bool_]
    variance_by_variable: FloatArray


def summarise(
    stack: FloatArray, variables: Variables | None = None, mask: NDArray[np.bool_] | None = None
) -> Summary:
    """Value, standard uncertainty, 95 % band and variance by variable of each quantity.

    Parameters
    ----------
    stack : FloatArray, shape (Q, N + 1)
        Draws, the nominal in column 0.
    variables : Variables, optional
        What the draws were made from.  Without them the draws speak for themselves.
    mask : bool array, shape (Q, K), optional
        Which variables a quantity depends on; one outside it has exactly no share.

    Notes
    -----
    Quantiles of a thousand draws are themselves uncertain by about 2 % of the band.  The linear part
    of each quantity is known exactly, though: its slopes follow from the draws by least squares, its
    variance and 95 % quantile from the variables in closed form.  It serves as control variate: what the
    draws miss on the linear part is taken off the quantity (Glasserman, Monte Carlo Methods in
    Financial Engineering, 2004, 4.1 and 9.3.3 for quantiles).  A non-linear quantity keeps its own
    shape; a linear one is all but exact.
    """
    draws = stack[:, 1:]
    finite = np.isfinite(draws)
    whole = bool(finite.all())
    numbers = finite.sum(axis=1)
    reliable = np.isfinite(stack[:, 0]) & (numbers >= 0.95 * draws.shape[1])
    if not whole:
        # A missing draw takes the nominal value: it is rare where the row is reliable at all.
        draws = np.where(finite, draws, np.where(reliable, stack[:, 0], 0.0)[:, None])
    low, high = _ends(np.sort(draws, axis=1))
    spread = draws.var(axis=1)
    if variables is None or mask is None or not mask.any():
        none = np.zeros((len(stack), 0 if variables is None else len(variables.variance)))
        return Summary(stack[:, 0], np.sqrt(spread), low, high, reliable, none)
    slopes = np.where(mask, _slopes(draws, variables.rows[:, 1:]), 0.0)
    linear = slopes @ variables.rows[:, 1:]
    by_variable = slopes**2 * variables.variance
    exact = by_variable.sum(axis=1)
    shares = np.divide(
        by_variable, exact[:, None], out=np.zeros_like(by_variable), where=exact[:, None] > 0
    )
    half = coverage_factor(shares, variables.rectangular) * np.sqrt(exact)
    drawn_low, drawn_high = _ends(np.sort(linear, axis=1))
    corrected = np.maximum(spread - linear.var(axis=1), 0.0) + exact
    return Summary(
        stack[:, 0],
        np.sqrt(corrected),
        low - (drawn_low + half),
        high - (drawn_high - half),
        reliable,
        by_variable,
    )


def _slopes(outputs: FloatArray, inputs: FloatArray) -> FloatArray:
    """Least-squares slopes (Q, K) of outputs (Q, N) on inputs (K, N), means taken off."""
    x = inputs - inputs.mean(axis=1, keepdims=True)
    scale = np.sqrt(np.einsum("kn,kn->k", x, x))
    x = x / scale[:, None]
    solved: FloatArray = np.linalg.solve(x @ x.T, x @ outputs.T).T / scale
    return solved


def _ends(ordered: FloatArray, coverage: float = COVERAGE) -> tuple[FloatArray, FloatArray]:
    """Ends of the probabilistically symmetric interval, at plotting positions (i - 1/2) / N."""
    count = ordered.shape[1]
    tail = (1.0 - coverage) / 2.0
    position = min(max(tail * count - 0.5, 0.0), count - 1.0)
    below = int(position)
    above = min(below + 1, count - 1)
    weight = position - below
    low = (1.0 - weight) * ordered[:, below] + weight * ordered[:, above]
    high = (1.0 - weight) * ordered[:, count - 1 - below] + weight * ordered[:, count - 1 - above]
    return low, high
