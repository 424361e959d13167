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

Grade = Literal["conforming", "nonconforming", "inconclusive"]

#: Probability of conformity from which a value is called conforming; its complement is the
#: probability at or below which it is called nonconforming (JCGM 106, 8.3: guarded decisions).
DECISION_PROBABILITY = 0.95

#: Standard deviation of the kernel over that of the draws.  On the examples' quantities 256 draws then err,
#: at a probability of 0.05 or 0.95, by 0.004 (root mean square), as a plain count of 1,024 does; found by trying.
_KERNEL = 0.3


def probability_within(
    draws: NDArray[np.float64], lower: float | None, upper: float | None
) -> float:
    """Probability that the true value lies within the limits (JCGM 106, 7).

    Parameters
    ----------
    draws : FloatArray, shape (N,)
        Draws of the quantity, without the nominal value; not-a-number counts as outside neither
        way and is left out.
    lower, upper : float or None
        Limits; None for none.

    Returns
    -------
    float
        Strictly between 0 and 1: N draws cannot show certainty (at most Hazen's position of the last).
    """
    finite = draws[np.isfinite(draws)]
    if finite.size == 0:
        raise ValueError("no finite draw to decide on")
    mean = finite.mean()
    away = finite - mean
    spread = np.sqrt(away @ away / finite.size)
    drawn_together = mean + away * np.sqrt(1.0 - _KERNEL**2)
    width = _KERNEL * spread
    above = 0.0 if lower is None else _under(lower, drawn_together, width)
    below = 1.0 if upper is None else _under(upper, drawn_together, width)
    least = 0.5 / (finite.size + 1.0)
    return float(min(max(below - above, least), 1.0 - least))


def _under(limit: float, draws: NDArray[np.float64], width: float) -> float:
    """Probability of lying under a limit, each draw spread by a parabola of a standard deviation."""
    if width <= 1e-12 * abs(limit) or width == 0.0:
        return float(np.count_nonzero(draws <= limit)) / draws.size
    steps = np.clip((limit - draws) * (1.0 / (sqrt(5.0) * width)), -1.0, 1.0)
    return float((0.5 + steps * (0.75 - 0.25 * steps * steps)).mean())


def decide(probability: float) -> Grade:
    """The grade that a probability of conformity earns."""
    if probability >= DECISION_PROBABILITY:
        return "conforming"
    if probability <= 1.0 - DECISION_PROBABILITY:
        return "nonconforming"
    return "inconclusive"
