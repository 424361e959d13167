"""Conformity decisions with probabilities (JCGM 106:2012).

A count of a few hundred draws on one side of a limit is a coarse probability.  Each draw is therefore
spread by a narrow kernel, and all draws are drawn together by as much, so that mean and variance stay those
of the draws.

References
----------
Jones, M. C. (1991). On correcting for variance inflation in kernel density estimation. Computational
Statistics and Data Analysis 11, 3-15.
"""

from __future__ import annotations

from math import sqrt
from typing import Literal

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

Grade = Literal["conforming", "nonconforming", "inconclusive"]

#: Probability of conformity from which a value is called conforming; its complement is the
#: probability at or below which it is called nonconforming (JCGM 106, 8.3: guarded decisions).
DECISION_PROBABILITY = 0.95

#: Standard deviation of the kernel over that of the draws.  On the examples' quantities 256 draws then err,
#: at a probability of 0.05 or 0.95, by 0.004 (root mean square), as a plain count of 1,024 does; found by trying.
_KERNEL = 0.3


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
        Strictly between 0 and 1: N draws cannot show certainty (at most Hazen's position of the last).

    Raises
    ------
    ValueError
        If a quantity has no finite draw.
    """
    finite = np.isfinite(draws)
    if not finite.all():
        if not finite.any(axis=1).all():
            raise ValueError("no finite draw to decide on")
        return [
            probabilities_within(row[known][None], lower[place, None], upper[place, None])[0]
            for place, (row, known) in enumerate(zip(draws, finite, strict=True))
        ]
    means = draws.mean(axis=1, keepdims=True)
    together = draws - means
    spread = np.sqrt(np.vecdot(together, together) / draws.shape[1])[:, None]
    together *= sqrt(1.0 - _KERNEL**2)
    together += means
    scatters = spread > 1e-12 * np.abs(means)
    reach = np.where(scatters, sqrt(5.0) * _KERNEL * spread, 1.0)
    within = _under(upper, together, reach) - _under(lower, together, reach)
    # What does not scatter at all lies within its limits, or it does not.
    nominal = means[:, 0]
    inside = np.where(scatters[:, 0], within, (nominal >= lower) & (nominal <= upper))
    least = 0.5 / (draws.shape[1] + 1.0)
    return [min(max(share, least), 1.0 - least) for share in inside.tolist()]


def _under(limits: FloatArray, draws: FloatArray, reach: FloatArray) -> FloatArray:
    """Probability of lying under each limit, each draw spread by a parabola of a half-width ``reach``."""
    steps = limits[:, None] - draws
    steps /= reach
    np.clip(steps, -1.0, 1.0, out=steps)
    return np.asarray((0.5 + steps * (0.75 - 0.25 * steps * steps)).mean(axis=1))


def matched(draws: FloatArray, centre: FloatArray, deviation: FloatArray) -> FloatArray:
    """Draws of quantities with their means and spreads brought to the exact ones.

    Parameters
    ----------
    draws : FloatArray, shape (..., N)
        Draws without the nominal values.
    centre, deviation : FloatArray, shape (...)
        Exact means and standard deviations.

    Notes
    -----
    The shape stays that of the draws.  A probability near a limit then does not hang on what a
    few hundred draws miss of the spread.  Where a draw is missing, the row stays as it is.
    """
    means = draws.mean(axis=-1)
    whole = np.isfinite(means)
    if not whole.all():
        partly = draws.copy()
        partly[whole] = matched(draws[whole], centre[whole], deviation[whole])
        return partly
    found: FloatArray = draws - means[..., None]
    spread = np.sqrt(np.vecdot(found, found) / draws.shape[-1])
    scale = np.divide(deviation, spread, out=np.ones_like(spread), where=spread > 0.0)
    found *= scale[..., None]
    found += centre[..., None]
    return found


def decide(probability: float) -> Grade:
    """The grade that a probability of conformity earns."""
    if probability >= DECISION_PROBABILITY:
        return "conforming"
    if probability <= 1.0 - DECISION_PROBABILITY:
        return "nonconforming"
    return "inconclusive"
