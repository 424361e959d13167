"""The settled value of a logged reading, from a fit that knows how units settle and that readings are correlated.

A reading is its settled value, a slow drift, a fast and a slow exponential left of the start, and a stationary rest:
white noise, a first-order process, or the swing of a hunting valve.  Time constants and kinds of rest are taken from
a grid and weighed by Bayes' rule (:mod:`grid`); everything else is linear and solved exactly.  The settled value is a
mixture over the grid, so what cannot be known of time constants and correlation widens it: after three minutes by
much, after twenty hardly.  A settled part, if there is one, decides by its mere weight; there is no switch between
"settled" and "extrapolated".

The value belongs to the conditions of one moment, the same for all readings of a log: drifting air is not averaged
away.  Readings are averaged in at most 48 blocks of equal length, so that a long log costs little more than reading
it.  All readings share times, hence the matrices.

Only NumPy: the libraries for change points and curve fits take SciPy, which costs 30 to 80 MB and half a second or
more to import.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, hypot, sqrt
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from service.uncertainty.series.correlation import effective_number, sample_correlations
from service.uncertainty.series.grid import (
    DRIFT,
    DRIFT_SPAN,
    LEVEL,
    MEMBER_SLOW,
    Blocks,
    Posterior,
    Prior,
    System,
    blocks,
    left_after,
    of_parts,
    posterior,
    system,
)
from service.uncertainty.series.hunting import Hunting, swing

FloatArray = NDArray[np.float64]
Steadiness = Literal["steady", "not_steady", "cannot_tell"]

#: Blocks of a reading that are fitted, at least.
FEWEST_BLOCKS = 3
#: Probability of a swing from which it counts as shown, and its least amplitude as a share of the limit of steadiness.
_SHOWN, _LEAST_SWING = 0.95, 0.3


@dataclass(frozen=True, slots=True)
class TransientPrior:
    """What is known of a reading before it is read, in its SI unit.

    ``fast_step`` and ``slow_step`` are standard deviations of what both parts have at the start, ``fast`` and
    ``slow`` their time constants [s] as median and standard deviation of the logarithm; ``drift`` is the standard
    deviation of what room and weather do to it in five minutes, ``limit`` the change in five minutes up to which it
    is steady, ``lag`` the sensor's time constant [s].
    """

    fast_step: float
    slow_step: float
    fast: tuple[float, float]
    slow: tuple[float, float]
    drift: float
    limit: float
    lag: float


@dataclass(frozen=True, slots=True, eq=False)
class Logged:
    """One reading as it came: values (N,) in SI, not-a-number where missing; ``scatter`` is the instrument's
    repeatability as a standard deviation, ``resolution`` the step of its display."""

    values: FloatArray
    scatter: float
    resolution: float
    prior: TransientPrior


@dataclass(frozen=True, slots=True)
class Drift:
    """Change in five minutes, as over the last five or as many as there are; its standard uncertainty, and what that
    amounts to."""

    change: float
    uncertainty: float
    limit: float
    grade: Steadiness


@dataclass(frozen=True, slots=True)
class Extrapolation:
    """Settled value less the level at the end of the window, with its standard uncertainty.

    ``common`` is the part of the value's uncertainty that readings that settle together have in common, with its
    sign: nobody knows the unit's slow time constant beforehand.
    """

    added: float
    uncertainty: float
    common: float


@dataclass(frozen=True, slots=True)
class SettledSeries:
    """What a logged reading settles at, in SI.

    ``uncertainty`` is the standard uncertainty of the value from noise, drift, hunting and extrapolation; the
    instrument's calibration is no part of it.  ``window`` are the first and last time used, ``at`` the moment whose
    conditions the value belongs to, ``settled_from`` the time from which what was left of the start is below the
    limit of steadiness, None where it is not shown to be at the end.  ``count`` readings from then on (all, where
    None) scatter by ``scatter`` about the fit and are worth ``effective`` independent ones.  ``settles_in`` is
    seconds from the end of the window until the start no longer matters, with a 95 % band; ``time_constant`` that of
    the slow part [s] with its standard uncertainty, None where it does not show; ``hunting`` a regular swing.
    """

    value: float
    uncertainty: float
    window: tuple[float, float]
    at: float
    settled_from: float | None
    count: int
    effective: float
    scatter: float
    drift: Drift
    extrapolation: Extrapolation
    settles_in: tuple[float, float, float]
    time_constant: tuple[float, float] | None
    hunting: Hunting | None


def moment(times: FloatArray) -> float:
    """The moment that settled values of a window belong to: the middle of its last five minutes, or of its last
    half."""
    return float(times[-1]) - min(0.5 * DRIFT_SPAN, 0.25 * float(times[-1] - times[0]))


def settle(
    times: FloatArray,
    values: FloatArray,
    *,
    scatter: float,
    resolution: float,
    start: float | None,
    prior: TransientPrior,
) -> SettledSeries | None:
    """The settled value of one reading.

    Parameters
    ----------
    times, values : FloatArray, shape (N,)
        Rising [s]; in SI, not-a-number where missing.
    scatter, resolution : float
        Of the instrument, in SI.
    start : float or None
        When the compressor started [s]; None where it is not known.
    prior : TransientPrior

    Returns
    -------
    SettledSeries or None
        None where there are too few numbers.
    """
    window = blocks(times, float(times[0]) if start is None else start, moment(times))
    return settle_all(window, [Logged(values, scatter, resolution, prior)])[0]


def settle_all(window: Blocks, readings: Sequence[Logged]) -> list[SettledSeries | None]:
    """The settled values of readings of one log, about one moment; None where one has too few numbers."""
    found: list[SettledSeries | None] = []
    systems: dict[bytes, System] = {}
    for one in readings:
        means, known = _averages(window, one.values)
        if known.sum() < FEWEST_BLOCKS:
            found.append(None)
            continue
        key = known.tobytes()
        if key not in systems:
            systems[key] = system(window, known)
        found.append(_settled(window, systems[key], known, means, one))
    return found


def _averages(window: Blocks, values: FloatArray) -> tuple[FloatArray, NDArray[np.bool_]]:
    """Means (B,) over blocks, and which have at least half their numbers."""
    there = np.isfinite(values)
    count = len(window.numbers)
    numbers = np.bincount(window.of[there], minlength=count)
    sums = np.bincount(window.of[there], values[there], count)
    return sums / np.maximum(numbers, 1), numbers >= np.maximum(0.5 * window.numbers, 1.0)


def _settled(window: Blocks, shared: System, known: NDArray[np.bool_], means: FloatArray, one: Logged) -> SettledSeries:
    prior, values = one.prior, means[known]
    middle = float(values.mean())
    noise = max(one.scatter, one.resolution / sqrt(12.0), 1e-9 * prior.limit)
    # The level is as good as unknown.
    spreads = np.array([1e3 * (np.ptp(values) + prior.limit), prior.drift, prior.fast_step, prior.slow_step])
    found = posterior(shared, values - middle, Prior(spreads, prior.fast, prior.slow, noise))
    there = np.flatnonzero(known)
    first, last = int(window.of.searchsorted(there[0])), int(window.of.searchsorted(there[-1], side="right")) - 1
    end = float(window.times[last])
    rest = of_parts(left_after(end - window.start))
    levels, level, deviation = found.of(LEVEL)
    _, left, left_deviation = found.of(rest)
    cell = found.within_cell(levels)
    left_deviation = hypot(left_deviation, cell)
    columns = found.columns(shared.design.shape[1])
    off = values - middle - shared.design @ columns
    since = None
    if abs(left) + 2.0 * left_deviation < prior.limit:
        since = _since(window, columns, prior.limit, first)
    scatter, effective = _worth(off[there >= window.of[first if since is None else since]], window.length, prior.lag)
    lagging = prior.lag / DRIFT_SPAN * prior.drift
    return SettledSeries(
        middle + level,
        hypot(deviation, cell, _rounding(one.resolution, scatter, effective), lagging),
        (float(window.times[first]), end),
        window.at,
        None if since is None else float(window.times[since]),
        int(np.isfinite(one.values[first if since is None else since : last + 1]).sum()),
        effective,
        scatter,
        _drift(window, found, end, prior.limit),
        Extrapolation(-left, left_deviation, _common(found.weights, levels, prior.slow[1])),
        _settles_in(found, rest[1][1], prior.limit) if since is None else (0.0, 0.0, 0.0),
        _time_constant(found),
        _hunting(window, found, one, middle, columns),
    )


def _drift(window: Blocks, found: Posterior, end: float, limit: float) -> Drift:
    before = max(end - DRIFT_SPAN, float(window.times[0]))
    passed = left_after(end - window.start) - left_after(before - window.start)
    # Of a shorter window what it shows, as if it had gone on for five minutes.
    _, change, deviation = found.of((*DRIFT, *of_parts(passed * DRIFT_SPAN / (end - before))))
    return Drift(change, deviation, limit, graded(change, deviation, limit))


def _since(window: Blocks, columns: FloatArray, limit: float, first: int) -> int:
    """The first time from which what is left of the start is below a limit."""
    beyond = np.flatnonzero(np.abs(window.columns[:, 2:] @ columns[2:]) > limit)
    return max(first, int(beyond[-1]) + 1 if len(beyond) else 0)


def _worth(off: FloatArray, length: float, lag: float) -> tuple[float, float]:
    """Scatter of block means about their fit, and how many independent ones they are worth."""
    correlations = sample_correlations(off, exp(-length / lag) if lag > 0.0 else 0.0)
    return float(np.sqrt(np.mean(off**2))), effective_number(correlations, len(off))


def _hunting(window: Blocks, found: Posterior, one: Logged, middle: float, columns: FloatArray) -> Hunting | None:
    """A regular swing that other kinds of rest do not explain, and that is large enough to matter."""
    if found.swings < _SHOWN:
        return None
    hunting = swing(window.times, one.values - middle - window.columns @ columns, found.period)
    least = max(_LEAST_SWING * one.prior.limit, 2.0 * one.resolution)
    return None if hunting is None or hunting.amplitude < least else hunting


def _rounding(resolution: float, scatter: float, effective: float) -> float:
    """Standard uncertainty that a display's steps leave: a scatter of half a step carries the mean over them."""
    step = resolution / sqrt(12.0)
    return step / sqrt(effective) if scatter >= 0.5 * resolution else step


def graded(change: float, uncertainty: float, limit: float) -> Steadiness:
    """Whether a drift is small, by its size and not by its significance."""
    if abs(change) + 2.0 * uncertainty < limit:
        return "steady"
    return "not_steady" if abs(change) - 2.0 * uncertainty > limit else "cannot_tell"


def _common(weights: FloatArray, levels: FloatArray, known_to: float) -> float:
    """How much of the levels' standard deviation readings that settle together have in common, with its sign.

    It comes with the slow time constant, which is the unit's: as far as that is known only beforehand
    (``known_to``, standard deviation of its logarithm), all readings err alike; as far as each reading shows it
    itself, they do not.
    """
    logs = np.log(MEMBER_SLOW)
    off = logs - weights @ logs
    spread = sqrt(float(weights @ off**2))
    if spread < 1e-9:
        return 0.0
    return float((weights * off) @ (levels - weights @ levels)) / spread * min(spread / known_to, 1.0)


def _time_constant(found: Posterior) -> tuple[float, float] | None:
    """The slow time constant [s] with its standard uncertainty, where that part shows."""
    shown = np.abs(found.coefficients[3]) > 3.0 * np.sqrt(found.covariances[3, 3])
    if float(found.weights[shown].sum()) < 0.95:
        return None
    mean = float(found.weights @ MEMBER_SLOW)
    return mean, sqrt(float(found.weights @ (MEMBER_SLOW - mean) ** 2))


#: A normal distribution in five slices: their middles and weights.  Enough for a band of minutes.
_SLICES = np.array([-1.9, -0.9, 0.0, 0.9, 1.9])
_SLICE_WEIGHTS = np.array([0.08, 0.24, 0.36, 0.24, 0.08])


def _settles_in(found: Posterior, left: float | FloatArray, limit: float) -> tuple[float, float, float]:
    """Seconds until the slow part is below the limit: median and the ends of a 95 % band."""
    kept = found.weights > 1e-4
    mean, spread = found.coefficients[3, kept], np.sqrt(found.covariances[3, 3, kept])
    size = np.abs(mean[:, None] + spread[:, None] * _SLICES) * np.asarray(left)[kept, None]
    seconds = (MEMBER_SLOW[kept, None] * np.log(np.maximum(size / limit, 1.0))).ravel()
    shares = (found.weights[kept, None] * _SLICE_WEIGHTS).ravel()
    order = np.argsort(seconds)
    reached = np.cumsum(shares[order]) / shares.sum()
    middle, low, high = (float(seconds[order][np.searchsorted(reached, share)]) for share in (0.5, 0.025, 0.97))
    return middle, low, high


__all__ = [
    "DRIFT_SPAN",
    "Blocks",
    "Drift",
    "Extrapolation",
    "Logged",
    "SettledSeries",
    "Steadiness",
    "TransientPrior",
    "blocks",
    "graded",
    "moment",
    "settle",
    "settle_all",
]
