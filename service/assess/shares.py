"""Who brings the uncertainty of a derived value."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


class Shares:
    """Of each quantity of a visit, the share of its variance by who brings it, largest first."""

    __slots__ = ("_labels", "_shares")

    def __init__(self, shares: FloatArray, labels: list[str]) -> None:
        self._shares, self._labels = shares, labels

    def __getitem__(self, quantity: int) -> dict[str, float]:
        return _by_size(self._shares[quantity].tolist(), self._labels)


def _by_size(row: list[float], labels: list[str]) -> dict[str, float]:
    """Shares worth a word, largest first."""
    pairs = [(share, label) for share, label in zip(row, labels, strict=True) if share >= 5e-4]
    pairs.sort(key=lambda pair: (-pair[0], pair[1]))
    return {label: float(f"{share:.3g}") for share, label in pairs}
