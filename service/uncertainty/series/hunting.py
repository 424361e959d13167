"""A regular swing in what a fit leaves, as an expansion valve makes that hunts."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

#: Periods that are looked for [s], and how many whole ones must be seen.
SHORTEST, LONGEST, WHOLE = 40.0, 360.0, 3
_PERIODS = np.geomspace(SHORTEST, LONGEST, 72)


@dataclass(frozen=True, slots=True)
class Hunting:
    """A swing: half the distance from low to high in the unit of the reading, and from high to high [s]."""

    amplitude: float
    period: float


def swing(times: FloatArray, rest: FloatArray) -> Hunting | None:
    """The strongest regular swing over whole periods.

    Parameters
    ----------
    times, rest : FloatArray, shape (N,)
        [s], and what a fit of level, drift and settling leaves; not-a-number where missing.

    Returns
    -------
    Hunting or None
        None where fewer than three periods of any swing fit in.
    """
    there = np.isfinite(rest)
    since, left = times[there] - times[there][0], rest[there]
    span = float(since[-1])
    periods = _PERIODS[span >= _PERIODS * WHOLE]
    if not len(periods):
        return None
    amplitudes = [_over_whole(since, left, float(period), WHOLE) for period in periods]
    best = int(np.argmax(amplitudes))
    return Hunting(amplitudes[best], float(periods[best]))


def _over_whole(since: FloatArray, left: FloatArray, period: float, whole: int) -> float:
    """Amplitude of a swing of a period: root mean square over stretches of so many whole periods, where sine, cosine
    and mean do not mix.  A valve does not keep its phase for longer."""
    wave = np.exp(2j * np.pi * since / period) * left
    level = np.exp(2j * np.pi * since / period)
    edges = np.searchsorted(since, whole * period * np.arange(int(since[-1] / (whole * period)) + 1))
    squares = []
    for begin, end in pairwise(edges.tolist()):
        mean = left[begin:end].mean()
        squares.append(abs(2.0 * (wave[begin:end].sum() - mean * level[begin:end].sum()) / (end - begin)) ** 2)
    return float(np.sqrt(np.mean(squares)))
