"""What contributes to the uncertainty of a derived value."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from service.uncertainty.rounding import significant

FloatArray = NDArray[np.float64]

#: A share below this is not reported.
_LEAST = 5e-4


class Shares(NamedTuple):
    """The shares of variance of each quantity of a visit, by what contributes them, largest first."""

    sizes: list[list[float]]
    order: list[list[int]]
    counts: list[int]
    labels: list[str]

    def of(self, quantity: int) -> dict[str, float]:
        """Those of one quantity that are large enough to report."""
        count, sizes = self.counts[quantity], self.sizes[quantity]
        return {self.labels[label]: sizes[label] for label in self.order[quantity][:count]}


def shares_of(shares: FloatArray, labels: list[str]) -> list[Shares]:
    """The shares of visits, in three significant digits.

    Parameters
    ----------
    shares : FloatArray, shape (visits, Q, labels)
        Of each variance.
    labels : list of str
        What contributes it.
    """
    by_name = sorted(range(len(labels)), key=labels.__getitem__)
    # Equal shares in the order of their names, as a stable sort leaves them.
    own = shares[..., by_name]
    order = np.argsort(-own, axis=-1, kind="stable").tolist()
    counts = np.count_nonzero(own >= _LEAST, axis=-1).tolist()
    names = [labels[place] for place in by_name]
    return [
        Shares(sizes, places, count, names)
        for sizes, places, count in zip(significant(own, 3).tolist(), order, counts, strict=True)
    ]
