"""A regular swing in what a fit leaves, as an expansion valve makes that hunts."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from service.reference.steadiness import WHOLE_PERIODS

FloatArray = NDArray[np.float64]

#: How far about a rough period the best one is looked for [1].
_ABOUT = np.geomspace(1.0 / 1.45, 1.45, 31)
#: Numbers that three periods must have, at least.
_FEWEST = 12


@dataclass(frozen=True, slots=True)
class Hunting:
    """A swing: half the distance from low to high in the unit of the reading, and from high to high [s]."""

    amplitude: float
    period: float


def swing(times: FloatArray, rest: FloatArray, about: float) -> Hunting | None:
    """The strongest regular swing of about a period.

    Parameters
    ----------
    times, rest : FloatArray, shape (N,)
        [s], and what a fit of level, drift and settling leaves; not-a-number where missing.
    about : float
        Roughly its period [s].

    Returns
    -------
    Hunting or None
        None where not even three of its periods fit in.
    """
    there = np.isfinite(rest)
    since, left = times[there] - times[there][0], rest[there]
    periods = about * _ABOUT
    amplitudes = [
        _over_whole(since, left, float(period)) if WHOLE_PERIODS * period <= since[-1] else 0.0 for period in periods
    ]
    best = int(np.argmax(amplitudes))
    if best == len(periods) - 1 or amplitudes[best + 1] == 0.0:
        return None
    return Hunting(amplitudes[best], float(periods[best]))


def _over_whole(since: FloatArray, left: FloatArray, period: float) -> float:
    """Amplitude of a swing of a period: root mean square over stretches of three whole periods, where sine, cosine and
    mean do not mix.  A valve does not keep its phase for longer."""
    level = np.exp(2j * np.pi * since / period)
    wave = level * left
    edges = np.searchsorted(since, WHOLE_PERIODS * period * np.arange(int(since[-1] / (WHOLE_PERIODS * period)) + 1))
    squares = []
    for begin, end in pairwise(edges.tolist()):
        if end - begin < _FEWEST:
            continue  # a gap
        mean = left[begin:end].mean()
        squares.append(abs(2.0 * (wave[begin:end].sum() - mean * level[begin:end].sum()) / (end - begin)) ** 2)
    return float(np.sqrt(np.mean(squares))) if squares else 0.0
