"""The deterministic sample behind every band.

One scrambled Sobol' sequence with a fixed seed serves every request, so the same request always
gives the same answer.  Each point is followed by its mirror image (every error with the other sign): the
draws of a symmetric error then have exactly no mean and no skewness, and what is linear in the errors and
what is even in them never mix, so that slopes are free of the curvature.  The first 2^m points are a
balanced net of their own, so fewer draws (twice as many as points) are a prefix of more.  Each error term
owns a dimension for good (see :mod:`service.uncertainty.error_terms`): what one reading draws never depends
on which other readings are present.

References
----------
Owen, A. B. (1998). Scrambling Sobol' and Niederreiter-Xing points. J. Complexity 14, 466-489.
Hammersley, J. M. and Morton, K. W. (1956). A new Monte Carlo technique: antithetic variates.
Math. Proc. Camb. Phil. Soc. 52, 449-475.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from importlib.metadata import version
from itertools import pairwise

import numpy as np

from service.reference.prepared import prepared_arrays
from service.uncertainty.error_terms import BLOCKS, DIMENSIONS

#: Draws where a request does not ask for more.  The tests hold them to a sample a thousand times as large.
DEFAULT_DRAWS = 256
MAXIMUM_DRAWS = 4096
_SEED = 20_260_714


@dataclass(frozen=True, slots=True)
class Sample:
    """Rows are error dimensions, columns are draws; column 0 is the nominal (no error at all).

    ``rectangular`` runs over -1 ... 1 (scale it by a half-width), ``normal`` has unit variance
    (scale it by a standard deviation).
    """

    rectangular: np.ndarray
    normal: np.ndarray

    @property
    def draws(self) -> int:
        """Number of draws, the nominal column not counted."""
        return int(self.rectangular.shape[1]) - 1


#: Rows of scores: more than there are readings and changes.
_SCORES = 96

#: Tables are kept in two sizes, so that the default does not pay for the largest.
_KEPT = (DEFAULT_DRAWS, MAXIMUM_DRAWS)


def _generate(draws: int) -> dict[str, np.ndarray]:
    from scipy.special import ndtri  # noqa: PLC0415 - a second that only the first start pays
    from scipy.stats import qmc  # noqa: PLC0415

    blocks = []
    for place, (start, end) in enumerate(pairwise((0, *BLOCKS))):
        engine = qmc.Sobol(end, scramble=True, bits=30, seed=_SEED + place)
        blocks.append(engine.random(draws // 2).T[start:])
    # Centre each point in its cell of the 2^-30 grid, so that ndtri never meets 0 or 1.
    uniform = np.concatenate(blocks) + 2.0**-31
    return {"rectangular": _mirrored(2.0 * uniform - 1.0), "normal": _mirrored(ndtri(uniform))}


def _mirrored(points: np.ndarray) -> np.ndarray:
    """The nominal, then each point followed by its mirror image."""
    table = np.zeros((len(points), 2 * points.shape[1] + 1))
    table[:, 1::2] = points
    table[:, 2::2] = -points
    return table


@cache
def _kept(draws: int) -> Sample:
    fingerprint = f"sobol-{version('scipy')}-{DIMENSIONS}-{draws}-{_SEED}-5"
    tables = prepared_arrays("sample", fingerprint, lambda: _generate(draws))
    return Sample(tables["rectangular"], tables["normal"])


@cache
def normal_scores() -> np.ndarray:
    """Independent standard normal scores, shape (96, ``MAXIMUM_DRAWS``), no point the mirror of another.

    For statistics that are even, to which a mirrored point adds nothing: points of one half of the
    dimensions, then of the other.
    """
    points = sample(MAXIMUM_DRAWS).normal[: 2 * _SCORES, 1::2]
    return np.hstack([points[:_SCORES], points[_SCORES:]])


@cache
def sample(draws: int) -> Sample:
    """The first ``draws`` points.

    Parameters
    ----------
    draws : int
        A power of two from 2 to 4,096.

    Raises
    ------
    ValueError
        For any other number, for which the sequence would not be balanced.
    """
    if draws < 2 or draws > MAXIMUM_DRAWS or draws & (draws - 1):
        raise ValueError(f"draws must be a power of two from 2 to {MAXIMUM_DRAWS}, not {draws}")
    full = _kept(next(size for size in _KEPT if size >= draws))
    if full.draws == draws:
        return full
    return Sample(
        np.ascontiguousarray(full.rectangular[:, : draws + 1]),
        np.ascontiguousarray(full.normal[:, : draws + 1]),
    )
