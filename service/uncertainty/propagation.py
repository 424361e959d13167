"""Draws of readings, bands of results, and who brought the uncertainty.

Propagation of distributions after JCGM 101:2008, with a low-discrepancy sample in place of a
pseudo-random one.  The draws axis is the last; its element 0 is the nominal value.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from service.uncertainty.error_terms import ErrorTerm
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
class Summary:
    """Statistics of a stack of Q quantities over the draws; every array has shape (Q,).

    ``reliable`` is false where the nominal value or more than one draw in twenty is not a number.
    """

    value: FloatArray
    standard_uncertainty: FloatArray
    low: FloatArray
    high: FloatArray
    reliable: NDArray[np.bool_]


def summarise(stack: FloatArray, coverage: float = COVERAGE) -> Summary:
    """Value, standard uncertainty and probabilistically symmetric band of each row.

    Parameters
    ----------
    stack : FloatArray, shape (Q, N + 1)
        Draws, the nominal in column 0.
    coverage : float
        Probability content of the band.

    Notes
    -----
    The ends are quantiles at plotting positions (i - 1/2) / N, interpolated (JCGM 101, 7.7 gives
    the symmetric interval; Hazen's positions are unbiased for a stratified sample).  Draws that
    are not numbers are left out; a row with many of them is marked unreliable.
    """
    draws = stack[:, 1:]
    count = draws.shape[1]
    ordered = np.sort(draws, axis=1)  # not-a-number sorts to the end
    finite = np.isfinite(ordered[:, -1])
    if finite.all():
        low, high = _ends(ordered, coverage)
        spread = draws.std(axis=1)
        reliable = np.isfinite(stack[:, 0])
    else:
        numbers = np.isfinite(draws).sum(axis=1)
        low, high, spread = (np.full(len(draws), np.nan) for _ in range(3))
        for row, n in enumerate(numbers):
            if n:
                ends = _ends(ordered[row : row + 1, :n], coverage)
                low[row], high[row] = ends[0][0], ends[1][0]
                spread[row] = ordered[row, :n].std()
        reliable = np.isfinite(stack[:, 0]) & (numbers >= 0.95 * count)
    return Summary(stack[:, 0], spread, low, high, reliable)


def _ends(ordered: FloatArray, coverage: float) -> tuple[FloatArray, FloatArray]:
    count = ordered.shape[1]
    tail = (1.0 - coverage) / 2.0
    position = min(max(tail * count - 0.5, 0.0), count - 1.0)
    below = int(position)
    above = min(below + 1, count - 1)
    weight = position - below
    low = (1.0 - weight) * ordered[:, below] + weight * ordered[:, above]
    high = (1.0 - weight) * ordered[:, count - 1 - below] + weight * ordered[:, count - 1 - above]
    return low, high


def variance_shares(
    stack: FloatArray, terms: FloatArray, owners: NDArray[np.bool_], mask: NDArray[np.bool_]
) -> FloatArray:
    """Share of each quantity's variance that each owner brings.

    Parameters
    ----------
    stack : FloatArray, shape (Q, N + 1)
        Draws of the quantities.
    terms : FloatArray, shape (K, N + 1)
        Errors of the independent terms.
    owners : bool array, shape (K, I)
        Which owner (instrument) each term belongs to.
    mask : bool array, shape (Q, K)
        Which terms a quantity depends on; a term outside it has exactly no share.

    Returns
    -------
    FloatArray, shape (Q, I)
        Shares; each row adds up to 1, or is zero where the quantity has no uncertainty.

    Notes
    -----
    The terms are independent, so the regression slope of a quantity on a term is their covariance
    over the term's variance, and the share is slope² times variance (the first-order index; see
    Saltelli et al., Global Sensitivity Analysis, 2008, section 1.2).
    """
    inputs = terms[:, 1:]
    outputs = stack[:, 1:]
    covariance = (np.nan_to_num(outputs - outputs.mean(axis=1, keepdims=True))) @ inputs.T
    variance = np.einsum("kn,kn->k", inputs, inputs)
    squared = np.where(mask, covariance**2, 0.0) / np.where(variance > 0, variance, 1.0)
    shares: FloatArray = squared @ owners
    total = shares.sum(axis=1, keepdims=True)
    fractions: FloatArray = np.divide(shares, total, out=np.zeros_like(shares), where=total > 0)
    return fractions
