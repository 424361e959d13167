"""Numbers as an answer shows them."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


def significant(values: FloatArray, digits: int = 7) -> FloatArray:
    """Values rounded to significant digits; zeros and what is not a number stay."""
    size = np.abs(values)
    usual = np.isfinite(size) & (size > 0.0)
    # Two factors, as a tiny value's power of ten would overflow; the smallest numbers there are count as zero.
    power = np.minimum(digits - 1 - np.floor(np.log10(np.where(usual, size, 1.0))), 308.0)
    up, down = 10.0 ** np.maximum(power, 0.0), 10.0 ** np.maximum(-power, 0.0)
    rounded: FloatArray = np.where(usual, np.round(values * up / down) * down / up, values)
    return rounded
