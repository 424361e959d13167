"""Conformity decisions with probabilities (JCGM 106:2012)."""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

Grade = Literal["conforming", "nonconforming", "inconclusive"]

#: Probability of conformity from which a value is called conforming; its complement is the
#: probability at or below which it is called nonconforming (JCGM 106, 8.3: guarded decisions).
DECISION_PROBABILITY = 0.95


def probabilities_within(draws: FloatArray, lower: FloatArray, upper: FloatArray) -> list[float]:
    """Probability that the true value of each quantity lies within its limits (JCGM 106, 7).

    Parameters
    ----------
    draws : FloatArray, shape (Q, N)
        Draws of the quantities, without the nominal values; one that is not a finite number counts as
        outside neither way and is left out.
    lower, upper : FloatArray, shape (Q,)
        Limits; infinite for none.

    Returns
    -------
    list of float
        Strictly between 0 and 1: N draws cannot show certainty (Hazen's position).

    Raises
    ------
    ValueError
        If a quantity has no finite draw.
    """
    inside = draws >= lower[:, None]
    inside &= draws <= upper[:, None]
    known = [draws.shape[1]] * len(draws)
    finite = np.isfinite(draws)
    if not finite.all():
        inside &= finite
        known = [int(np.count_nonzero(row)) for row in finite]
        if not all(known):
            raise ValueError("no finite draw to decide on")
    return [
        # Row by row: counting along an axis would first make integers of all.
        (int(np.count_nonzero(row)) + 0.5) / (count + 1.0)
        for row, count in zip(inside, known, strict=True)
    ]


def matched(draws: FloatArray, centre: FloatArray, deviation: FloatArray) -> FloatArray:
    """Draws of quantities with their means and spreads brought to the exact ones.

    Parameters
    ----------
    draws : FloatArray, shape (Q, N)
        Draws without the nominal values.
    centre, deviation : FloatArray, shape (Q,)
        Exact means and standard deviations.

    Notes
    -----
    The shape stays that of the draws.  A probability near a limit then does not hang on what a
    thousand draws miss of the spread.  Where a draw is missing, the row stays as it is.
    """
    means = draws.mean(axis=1)
    whole = np.isfinite(means)
    if not whole.all():
        partly = draws.copy()
        partly[whole] = matched(draws[whole], centre[whole], deviation[whole])
        return partly
    found: FloatArray = draws - means[:, None]
    spread = np.sqrt(np.vecdot(found, found) / draws.shape[1])
    scale = np.divide(deviation, spread, out=np.ones_like(spread), where=spread > 0.0)
    found *= scale[:, None]
    found += centre[:, None]
    return found


def decide(probability: float) -> Grade:
    """The grade that a probability of conformity earns."""
    if probability >= DECISION_PROBABILITY:
        return "conforming"
    if probability <= 1.0 - DECISION_PROBABILITY:
        return "nonconforming"
    return "inconclusive"
