"""Conformity decisions with probabilities (JCGM 106:2012)."""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import NDArray

Grade = Literal["conforming", "nonconforming", "inconclusive"]

#: Probability of conformity from which a value is called conforming; its complement is the
#: probability at or below which it is called nonconforming (JCGM 106, 8.3: guarded decisions).
DECISION_PROBABILITY = 0.95


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
        Strictly between 0 and 1: N draws cannot show certainty (Hazen's position).
    """
    finite = draws[np.isfinite(draws)]
    if finite.size == 0:
        raise ValueError("no finite draw to decide on")
    inside = np.ones(finite.shape, dtype=bool)
    if lower is not None:
        inside &= finite >= lower
    if upper is not None:
        inside &= finite <= upper
    return (float(np.count_nonzero(inside)) + 0.5) / (finite.size + 1.0)


def decide(probability: float) -> Grade:
    """The grade that a probability of conformity earns."""
    if probability >= DECISION_PROBABILITY:
        return "conforming"
    if probability <= 1.0 - DECISION_PROBABILITY:
        return "nonconforming"
    return "inconclusive"
