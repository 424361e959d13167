"""The settled value of a logged reading, from a fit that knows how units settle and that readings are correlated.

A reading is its settled value, a slow drift, a fast and a slow exponential left of the start, and a stationary rest:
white noise, a first-order process, or the swing of a hunting valve.  Time constants and kinds of rest are taken from
a grid and weighed by Bayes' rule; everything else is linear and solved exactly.  The settled value is a mixture over
the grid, so what cannot be known of time constants and correlation widens it: after three minutes by much, after
twenty hardly.  A settled part, if there is one, decides by its mere weight; there is no switch between "settled" and
"extrapolated".

Readings are averaged in at most 60 blocks of equal length, so the cost of a long log grows only with that of reading
it.  All readings of a log share times, hence the matrices.

Only NumPy: the libraries for change points and curve fits take SciPy, which costs 30 to 80 MB and half a second or
more to import.

References
----------
MacKay, D. J. C. (1992). Bayesian interpolation. Neural Comput. 4, 415-447 (size of noise, effective number of
parameters).  Rasmussen, C. E. and Williams, C. K. I. (2006). Gaussian Processes for Machine Learning, 2.7 (linear
part with a prior) and 4.2 (kernels).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import log, sqrt
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from service.uncertainty.series.correlation import effective_number, sample_correlations

FloatArray = NDArray[np.float64]
Steadiness = Literal["steady", "not_steady", "cannot_tell"]

#: Blocks that a window is averaged in, at most; and the fewest that are fitted.
MOST_BLOCKS, FEWEST_BLOCKS = 60, 6
#: Drift is judged over five minutes [s].
DRIFT_SPAN = 300.0
#: Grid of time constants [s].
_FAST = np.array([20.0, 40.0, 75.0, 130.0])
_SLOW = 110.0 * 1.27 ** np.arange(9)
#: Degrees of freedom that the prior size of the noise is worth.
_NOISE_WORTH = 3.0
_ROUNDS = 4


class Kernel(NamedTuple):
    """A kind of stationary rest: ``share`` white, the rest with correlation time and, where it swings, period [s]."""

    weight: float
    white: float
    time: float = 1.0
    period: float | None = None


_PERIODS = 50.0 * 1.3 ** np.arange(8)
KERNELS: tuple[Kernel, ...] = (
    Kernel(0.10, 1.0),
    Kernel(0.15, 0.1, 20.0),
    Kernel(0.10, 0.5, 60.0),
    Kernel(0.20, 0.05, 60.0),
    Kernel(0.10, 0.5, 150.0),
    Kernel(0.15, 0.05, 150.0),
    *(Kernel(0.2 / len(_PERIODS), 0.05, 1.5 * float(period), float(period)) for period in _PERIODS),
)


@dataclass(frozen=True, slots=True)
class TransientPrior:
    """What is known of a reading before it is read, in its SI unit.

    ``fast_step`` and ``slow_step`` are standard deviations of what both parts have at the start, ``fast`` and
    ``slow`` their time constants [s] as median and standard deviation of the logarithm; ``drift`` is the standard
    deviation of what room and weather do to it [1/s], ``limit`` the change in five minutes up to which it is steady,
    ``lag`` the sensor's time constant [s].
    """

    fast_step: float
    slow_step: float
    fast: tuple[float, float]
    slow: tuple[float, float]
    drift: float
    limit: float
    lag: float


@dataclass(frozen=True, slots=True)
class Logged:
    """One reading as it came: values (N,) in SI, not-a-number where missing; ``scatter`` is the instrument's
    repeatability as a standard deviation, ``resolution`` the step of its display."""

    values: FloatArray
    scatter: float
    resolution: float
    prior: TransientPrior


@dataclass(frozen=True, slots=True)
class Drift:
    """Change over the last five minutes, its standard uncertainty, and what that amounts to."""

    change: float
    uncertainty: float
    limit: float
    grade: Steadiness


@dataclass(frozen=True, slots=True)
class Extrapolation:
    """Settled value less the level at the end of the window, with its standard uncertainty.

    ``common`` is the part of the uncertainty that unknown time constants bring, with its sign: readings that settle
    together have it in common.
    """

    added: float
    uncertainty: float
    common: float


@dataclass(frozen=True, slots=True)
class SettledSeries:
    """What a logged reading settles at, in SI.

    ``uncertainty`` is the standard uncertainty of the value from noise, drift, hunting and extrapolation; the
    instrument's calibration is no part of it.  ``window`` are the first and last time used, ``at`` the time whose
    conditions the value belongs to; ``count`` readings were used, worth ``effective`` independent ones.
    ``settles_in`` is seconds from the end of the window until what is left of the start is below the limit of
    steadiness, with a 95 % band; ``time_constant`` that of the slow part with its standard uncertainty, None where
    it does not show.
    """

    value: float
    uncertainty: float
    window: tuple[float, float]
    at: float
    count: int
    effective: float
    scatter: float
    drift: Drift
    extrapolation: Extrapolation
    settles_in: tuple[float, float, float]
    time_constant: tuple[float, float] | None


@dataclass(frozen=True, slots=True, eq=False)
class Blocks:
    """A window of times in blocks of equal length.

    ``of`` (N,) is the block of each time, ``length`` that of a block [s]; ``design`` (B, C) are level, drift over
    five minutes, and the exponentials of the grid; ``inverse`` (K, B, B) the inverse kernels and ``size`` (K,) the
    logarithms of their determinants.
    """

    times: FloatArray
    of: NDArray[np.intp]
    numbers: FloatArray
    length: float
    at: float
    start: float
    design: FloatArray
    correlation: FloatArray


def blocks(times: FloatArray, start: float, at: float) -> Blocks:
    """A window in blocks.

    Parameters
    ----------
    times : FloatArray, shape (N,)
        Rising [s].
    start : float
        When what is left of a start began [s]; not after the first time.
    at : float
        The time whose conditions the settled value belongs to [s].
    """
    span = float(times[-1] - times[0])
    step = float(np.median(np.diff(times)))
    length = max(step, (span + step) / MOST_BLOCKS) * (1.0 + 1e-9)
    place = ((times - times[0]) / length).astype(np.intp)
    kept, of = np.unique(place, return_inverse=True)
    numbers = np.bincount(of, minlength=len(kept)).astype(np.float64)
    columns = np.empty((len(times), 2 + len(_FAST) + len(_SLOW)))
    columns[:, 0] = 1.0
    columns[:, 1] = (times - at) / DRIFT_SPAN
    columns[:, 2:] = _left(times - start)
    firsts = np.searchsorted(of, np.arange(len(kept)))
    design = np.add.reduceat(columns, firsts, axis=0) / numbers[:, None]
    centres = times[0] + (kept + 0.5) * length
    return Blocks(times, of, numbers, length, at, start, design, _correlations(centres))


def _left(since: FloatArray | float) -> FloatArray:
    """What the exponentials of the grid leave so long after the start; the last axis is the grid."""
    constants = np.concatenate([_FAST, _SLOW])
    return np.asarray(np.exp(-np.asarray(since)[..., None] / constants))


def _correlations(centres: FloatArray) -> FloatArray:
    """Correlation (K, B, B) of each kernel between blocks."""
    apart = np.abs(centres[:, None] - centres[None, :])
    found = np.empty((len(KERNELS), *apart.shape))
    for row, kernel in enumerate(KERNELS):
        found[row] = (1.0 - kernel.white) * np.exp(-apart / kernel.time)
        if kernel.period is not None:
            # A swing keeps its phase for some periods.
            found[row] *= np.cos(2.0 * np.pi * apart / kernel.period)
        found[row].flat[:: len(centres) + 1] = 1.0
    return found


#: Members of the grid: level, drift, one fast and one slow exponential.
_PAIRS = np.array(
    [(0, 1, 2 + fast, 2 + len(_FAST) + slow) for fast in range(len(_FAST)) for slow in range(len(_SLOW))]
)
_WIDTH = _PAIRS.shape[1]


def settle(
    times: FloatArray,
    values: FloatArray,
    *,
    scatter: float,
    resolution: float,
    start: float | None,
    prior: TransientPrior,
) -> SettledSeries | None:
    """The settled value of one reading; see :func:`settle_all`."""
    at = float(times[0] + times[-1]) / 2.0
    window = blocks(times, float(times[0]) if start is None else start, at)
    return settle_all(window, [Logged(values, scatter, resolution, prior)])[0]


def settle_all(window: Blocks, readings: Sequence[Logged]) -> list[SettledSeries | None]:
    """The settled values of readings of one log, about one moment.

    Parameters
    ----------
    window : Blocks
        Times, and the moment whose conditions the values belong to.
    readings : sequence of Logged

    Returns
    -------
    list of SettledSeries or None
        None where a reading has too few numbers in the window.
    """
    found: list[SettledSeries | None] = [None] * len(readings)
    means, known = _averages(window, readings)
    groups: dict[bytes, list[int]] = {}
    for row in range(len(readings)):
        if known[row].sum() >= FEWEST_BLOCKS:
            groups.setdefault(known[row].tobytes(), []).append(row)
    for rows in groups.values():
        part = known[rows[0]]
        for row, one in zip(rows, _fitted(window, part, means[rows][:, part], [readings[r] for r in rows]), strict=True):
            found[row] = one
    return found


def _averages(window: Blocks, readings: Sequence[Logged]) -> tuple[FloatArray, NDArray[np.bool_]]:
    """Block means (R, B) of readings, and which blocks have at least half their numbers."""
    count = len(window.numbers)
    means, known = np.zeros((len(readings), count)), np.zeros((len(readings), count), dtype=bool)
    for row, one in enumerate(readings):
        there = np.isfinite(one.values)
        if there.all():
            numbers = window.numbers
            sums = np.bincount(window.of, one.values, count)
        else:
            numbers = np.bincount(window.of[there], minlength=count).astype(np.float64)
            sums = np.bincount(window.of[there], one.values[there], count)
        known[row] = numbers >= np.maximum(0.5 * window.numbers, 1.0)
        means[row] = sums / np.maximum(numbers, 1.0)
    return means, known


class _Posterior(NamedTuple):
    """Mixture over the grid, (R, M) members: weights, coefficients (R, M, 4), covariances (R, M, 4, 4)."""

    weights: FloatArray
    coefficients: FloatArray
    covariances: FloatArray
    noise: FloatArray

    def of(self, functional: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Means and variances (R, M) of a linear functional (M, 4) of the coefficients, by member."""
        mean = np.einsum("rmp,mp->rm", self.coefficients, functional)
        variance = np.einsum("mp,rmpq,mq->rm", functional, self.covariances, functional, optimize=True)
        return mean, variance

    def mixed(self, mean: FloatArray, variance: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Mean and standard deviation (R,) over all members."""
        middle = (self.weights * mean).sum(axis=1)
        spread = (self.weights * (variance + (mean - middle[:, None]) ** 2)).sum(axis=1)
        return middle, np.sqrt(spread)


def _fitted(
    window: Blocks, part: NDArray[np.bool_], means: FloatArray, readings: Sequence[Logged]
) -> list[SettledSeries | None]:
    design = window.design[part]
    correlation = window.correlation[:, part][:, :, part]
    middles = means.mean(axis=1)
    posterior = _posterior(design, correlation, means - middles[:, None], readings)
    return _facts(window, part, means, middles, posterior, readings)


def _posterior(
    design: FloatArray, correlation: FloatArray, values: FloatArray, readings: Sequence[Logged]
) -> _Posterior:
    count, kernels, pairs = len(design), len(correlation), len(_PAIRS)
    inverse = np.linalg.inv(correlation)
    sizes = np.linalg.slogdet(correlation)[1]
    weighed = design.T @ inverse  # (K, C, B)
    grams = (weighed @ design)[:, _PAIRS[:, :, None], _PAIRS[:, None, :]]  # (K, J, P, P)
    moments = (weighed @ values.T)[:, _PAIRS, :]  # (K, J, P, R)
    squares = np.einsum("rb,kbc,rc->rk", values, inverse, values, optimize=True)[:, :, None]  # (R, K, 1)
    # The parameters' axes come first, so that each step of the solution is one sweep over all members.
    gram = np.moveaxis(grams, (2, 3), (0, 1))[:, :, None]  # (P, P, 1, K, J)
    right = np.moveaxis(moments, (2, 3), (0, 1))  # (P, R, K, J)
    precision = _precisions(readings, values)  # (P, R, 1, 1)
    expected = np.array([max(one.scatter, one.resolution / sqrt(12.0), 1e-9) ** 2 for one in readings])[:, None, None]
    noise = np.maximum(squares / count * 0.1, expected) + np.zeros((1, 1, pairs))
    for _ in range(_ROUNDS):
        covariance, determinant = _inverted(gram, precision * noise)
        coefficients = np.einsum("pqrkj,qrkj->prkj", covariance, right)
        explained = (coefficients * right).sum(axis=0)
        free = _WIDTH - noise * np.einsum("pprkj,prkj->rkj", covariance, np.broadcast_to(precision, right.shape))
        rest = squares - explained - noise * (precision * coefficients**2).sum(axis=0)
        degrees = _NOISE_WORTH + np.maximum(count - free, 1.0)
        latest, noise = noise, (_NOISE_WORTH * expected + np.maximum(rest, 0.0)) / degrees
    likelihood = -0.5 * (
        sizes[:, None]
        + (count - _WIDTH) * np.log(latest)
        + determinant
        - np.log(precision).sum(axis=0)
        + (squares - explained) / latest
        + (_NOISE_WORTH + 2.0) * np.log(latest)
        + _NOISE_WORTH * expected / latest
    )
    likelihood += np.log([kernel.weight for kernel in KERNELS])[:, None] + _time_constants(readings)[:, None, :]
    likelihood = likelihood.reshape(len(readings), kernels * pairs)
    weights = np.exp(likelihood - likelihood.max(axis=1, keepdims=True))
    weights /= weights.sum(axis=1, keepdims=True)
    # The size of the noise is itself estimated: Student's distribution has that much more variance.
    widened = latest * degrees / (degrees - 2.0)
    return _Posterior(
        weights,
        np.moveaxis(coefficients, 0, -1).reshape(len(readings), -1, _WIDTH),
        np.moveaxis(covariance * widened, (0, 1), (-2, -1)).reshape(len(readings), -1, _WIDTH, _WIDTH),
        latest.reshape(len(readings), -1),
    )


def _precisions(readings: Sequence[Logged], values: FloatArray) -> FloatArray:
    """Prior precisions (P, R, 1, 1) of level (all but unknown), drift, and both exponentials."""
    span = np.ptp(values, axis=1)
    spreads = np.array(
        [
            (1e3 * (span[row] + one.prior.limit), one.prior.drift * DRIFT_SPAN, one.prior.fast_step, one.prior.slow_step)
            for row, one in enumerate(readings)
        ]
    )
    return np.asarray(spreads.T**-2.0)[:, :, None, None]


def _time_constants(readings: Sequence[Logged]) -> FloatArray:
    """Logarithms of the prior weights (R, J) of the pairs of time constants."""
    fast, slow = np.meshgrid(np.log(_FAST), np.log(_SLOW), indexing="ij")
    rows = []
    for one in readings:
        off = ((fast - log(one.prior.fast[0])) / one.prior.fast[1]) ** 2
        off = off + ((slow - log(one.prior.slow[0])) / one.prior.slow[1]) ** 2
        weight = -0.5 * off.ravel()
        rows.append(weight - np.log(np.exp(weight).sum()))
    return np.array(rows)


def _inverted(gram: FloatArray, added: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Inverses of gram (P, P, ...) plus a diagonal (P, ...), and the logarithms of the determinants.

    By sweeps, all members at once: positive definite matrices need no pivots.
    """
    width = len(gram)
    shape = np.broadcast_shapes(gram.shape[2:], added.shape[1:])
    swept = np.empty((width, width, *shape))
    swept[:] = gram
    for row in range(width):
        swept[row, row] += added[row]
    determinant = np.zeros(shape)
    for row in range(width):
        pivot = swept[row, row].copy()
        determinant += np.log(pivot)
        line = swept[row] / pivot
        column = swept[:, row].copy()
        swept -= column[:, None] * line[None]
        swept[row] = line
        swept[:, row] = -column / pivot
        swept[row, row] = 1.0 / pivot
    return swept, determinant


def _facts(
    window: Blocks,
    part: NDArray[np.bool_],
    means: FloatArray,
    middles: FloatArray,
    posterior: _Posterior,
    readings: Sequence[Logged],
) -> list[SettledSeries | None]:
    kernels, pairs = len(KERNELS), len(_PAIRS)
    there = np.flatnonzero(part)
    first, last = window.of.searchsorted(there[0]), window.of.searchsorted(there[-1], side="right") - 1
    begin, end = float(window.times[first]), float(window.times[last])
    chosen = np.tile(_PAIRS, (kernels, 1))
    level = np.zeros((len(chosen), _WIDTH))
    level[:, 0] = 1.0
    rest = np.zeros_like(level)
    rest[:, 2:] = np.concatenate([[0.0, 0.0], _left(end - window.start)])[chosen[:, 2:]]
    earlier = np.concatenate([[0.0, 0.0], _left(max(end - DRIFT_SPAN, window.start) - window.start)])[chosen[:, 2:]]
    change = np.zeros_like(level)
    change[:, 1] = 1.0
    change[:, 2:] = rest[:, 2:] - earlier
    values, deviations = posterior.mixed(*(of_level := posterior.of(level)))
    left, left_deviations = posterior.mixed(*posterior.of(-rest))
    changes, change_deviations = posterior.mixed(*posterior.of(change))
    common = _common(posterior.weights, of_level[0], pairs)
    slow = _SLOW[np.tile(np.arange(pairs) % len(_SLOW), kernels)]
    found: list[SettledSeries | None] = []
    fitted = np.einsum("rmp,bmp->rbm", posterior.coefficients, window.design[part][:, chosen], optimize=True)
    residuals = means - middles[:, None] - np.einsum("rbm,rm->rb", fitted, posterior.weights)
    for row, one in enumerate(readings):
        count = int(np.isfinite(one.values[first : last + 1]).sum())
        apart = np.full(len(part), np.nan)
        apart[part] = residuals[row]
        least = float(np.exp(-window.length / one.prior.lag)) if one.prior.lag > 0.0 else 0.0
        effective = effective_number(sample_correlations(apart, least), len(there))
        scatter = float(np.sqrt(np.mean(residuals[row] ** 2)))
        uncertainty = sqrt(
            float(deviations[row]) ** 2 + _rounding(one, scatter, effective) ** 2 + (one.prior.lag * one.prior.drift) ** 2
        )
        drift = float(changes[row]), float(change_deviations[row])
        constant = _time_constant(posterior, row, slow)
        found.append(
            SettledSeries(
                float(middles[row] + values[row]),
                uncertainty,
                (begin, end),
                window.at,
                count,
                effective,
                scatter,
                Drift(*drift, one.prior.limit, graded(*drift, one.prior.limit)),
                Extrapolation(float(left[row]), float(left_deviations[row]), float(common[row])),
                _settles_in(posterior, row, rest[:, 3], slow, one.prior.limit),
                constant,
            )
        )
    return found


def _rounding(one: Logged, scatter: float, effective: float) -> float:
    """Standard uncertainty that a display's steps leave: a scatter of half a step carries the mean over them."""
    step = one.resolution / sqrt(12.0)
    return step / sqrt(effective) if scatter >= 0.5 * one.resolution else step


def graded(change: float, uncertainty: float, limit: float) -> Steadiness:
    """Whether a drift is small, by its size and not by its significance."""
    if abs(change) + 2.0 * uncertainty < limit:
        return "steady"
    return "not_steady" if abs(change) - 2.0 * uncertainty > limit else "cannot_tell"


def _common(weights: FloatArray, levels: FloatArray, pairs: int) -> FloatArray:
    """How much of the levels' standard deviation (R,) comes with the slow time constant, with its sign."""
    logs = np.tile(np.log(_SLOW)[np.arange(pairs) % len(_SLOW)], levels.shape[1] // pairs)
    middle, mean = (weights * logs).sum(axis=1), (weights * levels).sum(axis=1)
    across = (weights * (logs - middle[:, None]) * (levels - mean[:, None])).sum(axis=1)
    spread = np.sqrt((weights * (logs - middle[:, None]) ** 2).sum(axis=1))
    return np.asarray(across / np.maximum(spread, 1e-9))


def _time_constant(posterior: _Posterior, row: int, slow: FloatArray) -> tuple[float, float] | None:
    """The slow time constant [s] with its standard uncertainty, where that part shows."""
    weights = posterior.weights[row]
    size = posterior.coefficients[row, :, 3]
    shows = float((weights * (np.abs(size) > 3.0 * np.sqrt(posterior.covariances[row, :, 3, 3]))).sum())
    if shows < 0.95:
        return None
    mean = float((weights * slow).sum())
    return mean, sqrt(float((weights * (slow - mean) ** 2).sum()))


#: Mid-points of five equal slices of a normal distribution: enough for a band of minutes.
_SLICES = np.array([-1.9, -0.9, 0.0, 0.9, 1.9])
_SLICE_WEIGHTS = np.array([0.08, 0.24, 0.36, 0.24, 0.08])


def _settles_in(
    posterior: _Posterior, row: int, left: FloatArray, slow: FloatArray, limit: float
) -> tuple[float, float, float]:
    """Seconds until the slow part is below the limit: median and the ends of a 95 % band."""
    weights = posterior.weights[row]
    kept = weights > 1e-4
    mean, spread = posterior.coefficients[row, kept, 3], np.sqrt(posterior.covariances[row, kept, 3, 3])
    size = np.abs(mean[:, None] + spread[:, None] * _SLICES) * left[kept, None]
    seconds = (slow[kept, None] * np.log(np.maximum(size / limit, 1.0))).ravel()
    shares = (weights[kept, None] * _SLICE_WEIGHTS).ravel()
    order = np.argsort(seconds)
    reached = np.cumsum(shares[order]) / shares.sum()
    middle, low, high = (float(seconds[order][np.searchsorted(reached, share)]) for share in (0.5, 0.025, 0.97))
    return middle, low, high
