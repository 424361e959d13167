"""A logged reading as a mixture of linear models: the grid of time constants and kinds of rest, and its posterior.

References
----------
MacKay, D. J. C. (1992). Bayesian interpolation. Neural Comput. 4, 415-447 (size of noise, effective number of
parameters).  Rasmussen, C. E. and Williams, C. K. I. (2006). Gaussian Processes for Machine Learning, 2.7 (linear
part with a prior) and 4.2 (kernels).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from math import log, sqrt
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from service.reference.steadiness import HUNTING_PERIODS

FloatArray = NDArray[np.float64]

#: Blocks that a window is averaged in, at most.
MOST_BLOCKS = 48
#: Drift is judged over five minutes [s].
DRIFT_SPAN = 300.0
#: Grid of time constants [s]: the fast ones take the sensor's lag too, the slow ones only what is slow.
FAST = np.array([25.0, 45.0, 75.0, 115.0, 170.0])
SLOW = 150.0 * 1.27 ** np.arange(7)
#: Degrees of freedom that the prior size of the noise is worth.
_NOISE_WORTH = 3.0
_ROUNDS = 3


class Kernel(NamedTuple):
    """A kind of stationary rest and its prior weight: a ``white`` share, the rest with a correlation time and, where
    it swings, a period [s]."""

    weight: float
    white: float
    time: float = 1.0
    period: float | None = None


_PERIODS = tuple(np.geomspace(*HUNTING_PERIODS, 8).tolist())
KERNELS: tuple[Kernel, ...] = (
    Kernel(0.15, 1.0),
    Kernel(0.17, 0.1, 20.0),
    Kernel(0.08, 0.5, 60.0),
    Kernel(0.16, 0.05, 60.0),
    Kernel(0.08, 0.5, 150.0),
    Kernel(0.12, 0.05, 150.0),
    Kernel(0.04, 0.5, 400.0),
    Kernel(0.04, 0.05, 400.0),
    # A hunting valve: its swing keeps its phase for a period or two.
    *(Kernel(0.16 / len(_PERIODS), 0.05, 1.5 * period, period) for period in _PERIODS),
)

#: Columns of the design in each member: level, drift, one fast and one slow exponential.
_PAIRS = np.array([(0, 1, 2 + fast, 2 + len(FAST) + slow) for fast in range(len(FAST)) for slow in range(len(SLOW))])
_WIDTH = _PAIRS.shape[1]
#: Of every member (each pair of each kernel): its columns of the design, its slow time constant [s].
_MEMBERS = np.tile(_PAIRS, (len(KERNELS), 1))
MEMBER_SLOW = SLOW[_MEMBERS[:, 3] - 2 - len(FAST)]
_SWINGING = np.repeat([kernel.period is not None for kernel in KERNELS], len(_PAIRS))
_LOG_PERIODS = np.repeat(np.log(_PERIODS), len(_PAIRS))
_KERNEL_WEIGHTS = np.log([kernel.weight for kernel in KERNELS])[:, None]


@dataclass(frozen=True, slots=True)
class Prior:
    """What is known of a reading before it is read, in its SI unit.

    ``spreads`` (P,) are the prior standard deviations of level, drift over five minutes, and what the fast and the
    slow part have at the start; ``fast`` and ``slow`` their time constants [s] as median and standard deviation of
    the logarithm; ``noise`` is the expected size of the rest.
    """

    spreads: FloatArray
    fast: tuple[float, float]
    slow: tuple[float, float]
    noise: float


@dataclass(frozen=True, slots=True, eq=False)
class Blocks:
    """A window of N times in B blocks of equal length.

    ``of`` (N,) is the block of each time and ``numbers`` (B,) how many it has, ``length`` that of a block [s],
    ``at`` the moment whose conditions the settled value belongs to, ``start`` when what is left of a start began.
    ``columns`` (N, C) are level, drift over five minutes and the exponentials of the grid, ``design`` (B, C) their
    means over blocks, ``correlation`` (K, B, B) that of each kernel.
    """

    times: FloatArray
    of: NDArray[np.intp]
    numbers: FloatArray
    length: float
    at: float
    start: float
    columns: FloatArray
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
        The moment whose conditions the settled value belongs to [s].
    """
    span = float(times[-1] - times[0])
    step = float(np.median(np.diff(times)))
    length = max(step, (span + step) / MOST_BLOCKS) * (1.0 + 1e-9)
    kept, of = np.unique(((times - times[0]) / length).astype(np.intp), return_inverse=True)
    numbers = np.bincount(of, minlength=len(kept)).astype(np.float64)
    columns = np.empty((len(times), 2 + len(FAST) + len(SLOW)))
    columns[:, 0] = 1.0
    columns[:, 1] = (times - at) / DRIFT_SPAN
    columns[:, 2:] = left_after(times - start)
    firsts = np.searchsorted(of, np.arange(len(kept)))
    design = np.add.reduceat(columns, firsts, axis=0) / numbers[:, None]
    centres = times[0] + (kept + 0.5) * length
    return Blocks(times, of, numbers, length, at, start, columns, design, _correlations(centres))


def left_after(since: FloatArray | float) -> FloatArray:
    """What the exponentials of the grid leave so long after the start; the last axis is the grid."""
    return np.asarray(np.exp(-np.asarray(since)[..., None] / np.concatenate([FAST, SLOW])))


def _correlations(centres: FloatArray) -> FloatArray:
    apart = np.abs(centres[:, None] - centres[None, :])
    found = np.empty((len(KERNELS), *apart.shape))
    for row, kernel in enumerate(KERNELS):
        found[row] = (1.0 - kernel.white) * np.exp(-apart / kernel.time)
        if kernel.period is not None:
            found[row] *= np.cos(2.0 * np.pi * apart / kernel.period)
        np.fill_diagonal(found[row], 1.0)
    return found


@dataclass(frozen=True, slots=True, eq=False)
class System:
    """What the fits of all readings with the same blocks share: the design (B, C), inverse kernels (K, B, B), the
    logarithms of their determinants (K,), and normal matrices (P, P, K, J) of every member."""

    design: FloatArray
    inverse: FloatArray
    sizes: FloatArray
    weighed: FloatArray
    gram: FloatArray


def system(window: Blocks, part: NDArray[np.bool_]) -> System:
    """Of the blocks (B,) that are known."""
    design = window.design[part]
    correlation = window.correlation[:, part][:, :, part]
    inverse = np.asarray(np.linalg.inv(correlation), dtype=np.float64)
    weighed = design.T @ inverse
    gram = (weighed @ design)[:, _PAIRS[:, :, None], _PAIRS[:, None, :]]
    sizes = np.asarray(np.linalg.slogdet(correlation)[1], dtype=np.float64)
    return System(design, inverse, sizes, weighed, np.moveaxis(gram, (2, 3), (0, 1)).copy())


#: Coefficients by their places, each with a weight, the same or its own (M,) for every member.
Functional = tuple[tuple[int, float | FloatArray], ...]


@dataclass(frozen=True, slots=True, eq=False)
class Posterior:
    """Mixture of M members: ``weights`` (M,), ``coefficients`` (P, M), ``covariances`` (P, P, M)."""

    weights: FloatArray
    coefficients: FloatArray
    covariances: FloatArray

    def of(self, functional: Functional) -> tuple[FloatArray, float, float]:
        """A linear functional of the coefficients: its means (M,) by member, mean and standard deviation."""
        means: FloatArray = sum(weight * self.coefficients[row] for row, weight in functional)
        spread = (means - self.weights @ means) ** 2
        for row, weight in functional:
            for other, beside in functional:
                spread += weight * beside * self.covariances[row, other]
        return means, float(self.weights @ means), sqrt(float(self.weights @ spread))

    def within_cell(self, means: FloatArray) -> float:
        """Standard deviation of a functional with means (M,) because time constants lie anywhere between those of the
        grid: its slope along the slow one, where the best member is, over an even spread."""
        best = int(np.argmax(self.weights))
        along = best % len(SLOW)
        low, high = max(along - 1, 0), min(along + 1, len(SLOW) - 1)
        rise = float(means[best - along + high] - means[best - along + low])
        return abs(rise) / (high - low) / sqrt(12.0)

    def columns(self, count: int) -> FloatArray:
        """Mean coefficient (C,) of each column of the design, over all members."""
        shares = (self.weights * self.coefficients).ravel()
        return np.bincount(_MEMBERS.T.ravel(), shares, count).astype(np.float64)

    @property
    def swings(self) -> float:
        """Probability that the rest has a period."""
        return float(self.weights[_SWINGING].sum())

    @property
    def period(self) -> float:
        """Roughly that period [s]."""
        weights = self.weights[_SWINGING]
        return float(np.exp(weights @ _LOG_PERIODS / weights.sum()))


#: The level, and the drift in five minutes.
LEVEL: Functional = ((0, 1.0),)
DRIFT: Functional = ((1, 1.0),)


def of_parts(left: FloatArray) -> Functional:
    """Both exponentials, weighed by what those of the grid (E,) have left."""
    return (2, left[_MEMBERS[:, 2] - 2]), (3, left[_MEMBERS[:, 3] - 2])


def posterior(shared: System, values: FloatArray, prior: Prior) -> Posterior:
    """The mixture that values (B,) about their mean leave of a prior."""
    count, squares = len(values), shared.inverse @ values @ values
    right = np.moveaxis((shared.weighed @ values)[:, _PAIRS], 2, 0)  # (P, K, J)
    squares = squares[:, None]
    precision = prior.spreads**-2.0
    expected = prior.noise**2
    noise = np.maximum(0.1 * squares / count, expected) + np.zeros(right.shape[1:])
    for _ in range(_ROUNDS):
        covariance, determinant = _inverted(shared.gram, precision[:, None, None] * noise)
        coefficients = np.einsum("pqkj,qkj->pkj", covariance, right)
        explained = np.einsum("pkj,pkj->kj", coefficients, right)
        bound = np.einsum("ppkj,p->kj", covariance, precision)
        degrees = _NOISE_WORTH + np.maximum(count - _WIDTH + noise * bound, 1.0)
        rest = squares - explained - noise * np.einsum("p,pkj,pkj->kj", precision, coefficients, coefficients)
        latest, noise = noise, (_NOISE_WORTH * expected + np.maximum(rest, 0.0)) / degrees
    likelihood = (
        _KERNEL_WEIGHTS
        + _time_constants(prior.fast, prior.slow)
        - 0.5
        * (
            shared.sizes[:, None]
            + (count - _WIDTH + _NOISE_WORTH + 2.0) * np.log(latest)
            + determinant
            + (squares - explained + _NOISE_WORTH * expected) / latest
        )
    ).ravel()
    weights = np.exp(likelihood - likelihood.max())
    # The size of the noise is itself estimated: Student's distribution has that much more variance.
    covariance *= latest * degrees / (degrees - 2.0)
    return Posterior(weights / weights.sum(), coefficients.reshape(_WIDTH, -1), covariance.reshape(_WIDTH, _WIDTH, -1))


@cache
def _time_constants(fast: tuple[float, float], slow: tuple[float, float]) -> FloatArray:
    """Logarithms of the prior weights (J,) of the pairs of time constants."""
    parts = []
    for grid, (median, spread) in ((FAST, fast), (SLOW, slow)):
        weights = np.exp(-0.5 * ((np.log(grid) - log(median)) / spread) ** 2)
        parts.append(np.log(weights / weights.sum()))
    return np.asarray((parts[0][:, None] + parts[1][None, :]).ravel())


def _inverted(gram: FloatArray, added: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Inverses of matrices (P, P, ...) plus diagonals (P, ...), and the logarithms of their determinants.

    By sweeps, all members at once: positive definite matrices need no pivots.
    """
    swept = gram.copy()
    for row in range(len(gram)):
        swept[row, row] += added[row]
    determinant = np.ones(gram.shape[2:])
    for row in range(len(gram)):
        pivot = swept[row, row].copy()
        determinant *= pivot
        line, column = swept[row] / pivot, swept[:, row].copy()
        swept -= column[:, None] * line[None]
        swept[row] = line
        swept[:, row] = -column / pivot
        swept[row, row] = 1.0 / pivot
    return swept, np.log(determinant)
