"""Conformity decisions with probabilities (JCGM 106:2012).

A count of a few hundred draws on one side of a limit is a coarse probability.  Each draw is therefore
spread by a narrow kernel, and all draws are drawn together by as much, so that mean and variance stay those
of the draws.  The price is paid by the steep tail of a strongly skewed quantity: of exp(z / 2), z normal, the
probability 0.05 is told as 0.07, and that of a value at which draws pile up as half of its pile.

References
----------
Silverman, B. W. (1986). Density Estimation for Statistics and Data Analysis. Chapman and Hall.
Jones, M. C. (1991). On correcting for variance inflation in kernel density estimation. Computational
Statistics and Data Analysis 11, 3-15.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from service.uncertainty.low_discrepancy import DEFAULT_DRAWS

FloatArray = NDArray[np.float64]

Grade = Literal["conforming", "nonconforming", "inconclusive"]

#: Probability of conformity from which a value is called conforming; its complement is the
#: probability at or below which it is called nonconforming (JCGM 106, 8.3: guarded decisions).
DECISION_PROBABILITY = 0.95

#: Standard deviation of the kernel over the spread of the draws, at the usual number of them; it narrows with
#: the fifth root of their number (Silverman 1986, 3.4).  On the examples' quantities 256 draws then err, at a
#: probability of 0.05 or 0.95, by 0.004 (root mean square), as a plain count of 1,024 does; found by trying.
_KERNEL = 0.3
#: Distance of the quartiles of a normal distribution in standard deviations: of a skewed one, whose outliers
#: widen the standard deviation, the middle half sets the width (Silverman 1986, 3.4.1).
_QUARTILES = 1.349


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
        Strictly between 0 and 1: N draws cannot show certainty (half a draw is added on either side).

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
    spread = _Spread.of(draws)
    inside = spread.under(upper) - spread.under(lower)
    # What does not scatter at all lies within its limits, or it does not.
    still = spread.most == spread.least
    inside[still] = ((draws[:, 0] >= lower) & (draws[:, 0] <= upper))[still]
    edge = 0.5 / (draws.shape[1] + 1.0)
    return [min(max(share, edge), 1.0 - edge) for share in inside.tolist()]


@dataclass(frozen=True, slots=True)
class _Spread:
    """Draws (Q, N), and per row what both of its limits ask of them."""

    draws: FloatArray
    means: FloatArray
    away: FloatArray
    deviation: FloatArray
    least: FloatArray
    most: FloatArray

    @classmethod
    def of(cls, draws: FloatArray) -> _Spread:
        means = draws.mean(axis=1)
        away = draws - means[:, None]
        deviation = np.sqrt(np.vecdot(away, away) / draws.shape[1])
        return cls(draws, means, away, deviation, draws.min(axis=1), draws.max(axis=1))

    def under(self, limits: FloatArray) -> FloatArray:
        """Probability of lying under each limit, the draws spread by the kernel, a parabola."""
        # Further than this from all draws, no kernel reaches.
        widest = sqrt(5.0) * _KERNEL * self.deviation
        found = np.where(limits >= self.most + widest, 1.0, 0.0)
        within_reach = (limits > self.least - widest) & (found == 0.0) & (self.deviation > 0.0)
        near = np.flatnonzero(within_reach)
        if not near.size:
            return found
        deviation = self.deviation[near]
        width = _width(self.draws[near], deviation)
        together = self.away[near] * np.sqrt(1.0 - (width / deviation) ** 2)[:, None]
        steps = (limits[near] - self.means[near])[:, None] - together
        steps /= np.maximum(sqrt(5.0) * width, 1e-9 * deviation)[:, None]
        np.clip(steps, -1.0, 1.0, out=steps)
        found[near] = (0.5 + steps * (0.75 - 0.25 * steps * steps)).mean(axis=1)
        return found


def _width(draws: FloatArray, spread: FloatArray) -> FloatArray:
    """Standard deviation of the kernel for each row of draws."""
    count = draws.shape[1]
    first, third = count // 4, count - 1 - count // 4
    parted = np.partition(draws, [first, third], axis=1)
    middle = (parted[:, third] - parted[:, first]) / _QUARTILES
    return np.asarray(_KERNEL * (DEFAULT_DRAWS / count) ** 0.2 * np.minimum(spread, middle))


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
    scatters = spread > 1e-12 * np.abs(means)
    scale = np.divide(deviation, spread, out=np.ones_like(spread), where=scatters)
    found *= scale[..., None]
    found += centre[..., None]
    # What does not scatter keeps the value that it has, to the last bit: it may lie on its limit.
    return np.where(scatters[..., None], found, draws)


def decide(probability: float) -> Grade:
    """The grade that a probability of conformity earns."""
    if probability >= DECISION_PROBABILITY:
        return "conforming"
    if probability <= 1.0 - DECISION_PROBABILITY:
        return "nonconforming"
    return "inconclusive"
