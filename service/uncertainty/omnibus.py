"""One test of "did anything change at all", over many correlated changes.

Whitened, the readings of two visits of an unchanged unit are standard normal about what the model
expects.  The statistic is the probability of the readings under the changes that may occur, each with its
weight, over that under no change; no test is more powerful on average over those changes (Neyman and
Pearson).  Its distribution under no change is had by evaluating it on a balanced sample of standard normal
scores, so the level holds whatever the changes that were thought of.

References
----------
Lehmann, E. L. and Romano, J. P. (2005). Testing Statistical Hypotheses, 3.2 and 3.8 (average power, least
favourable mixtures).  Good, I. J. (1992). The Bayes/non-Bayes compromise. J. Am. Stat. Assoc. 87, 597-606.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

#: Variance beside the scores' own from which a change shows along an axis at all.
_LEAST = 1e-6


@dataclass(frozen=True, slots=True)
class Directions:
    """Scores (D,), standard normal where nothing changed, and what each kind of change adds.

    ``changes`` are weights and covariances (D, D) that a kind of change adds to the scores' own.
    """

    scores: FloatArray
    changes: tuple[tuple[float, FloatArray], ...]

    def beside(self, other: Directions) -> Directions:
        """These directions and others that are independent of them."""
        mine, theirs = len(self.scores), len(other.scores)
        grown = [(weight, np.pad(added, ((0, theirs), (0, theirs)))) for weight, added in self.changes] + [
            (weight, np.pad(added, ((mine, 0), (mine, 0)))) for weight, added in other.changes
        ]
        return Directions(np.concatenate([self.scores, other.scores]), tuple(grown))


def directions(
    residual: FloatArray,
    unchanged: FloatArray,
    jacobian: FloatArray,
    changes: Sequence[tuple[float, FloatArray]],
) -> Directions:
    """Directions in which readings tell of changes.

    Parameters
    ----------
    residual : FloatArray, shape (M,)
        Readings less what is expected of an unchanged unit.
    unchanged : FloatArray, shape (M, M)
        Covariance of that residual where nothing changed.
    jacobian : FloatArray, shape (M, C)
        How the readings follow the changes.
    changes : sequence of (float, FloatArray of shape (C, C))
        Weight and covariance of each kind of change.
    """
    lower = np.linalg.cholesky(unchanged)
    slopes = np.linalg.solve(lower, jacobian)
    seen = [(weight, slopes @ added @ slopes.T) for weight, added in changes]
    axes = _axes(sum(weight * one for weight, one in seen))
    scores = axes.T @ np.linalg.solve(lower, residual)
    turned = np.where(scores < 0.0, -1.0, 1.0)
    axes = axes * turned
    return Directions(scores * turned, tuple((w, axes.T @ one @ axes) for w, one in seen))


def _axes(variance: FloatArray | int) -> FloatArray:
    """Axes (M, D) along which changes show, the most telling first.

    A sample of scores is balanced along its axes, so what it says hangs a little on them.  They are fixed by
    the changes and the scores themselves, not by how an elimination turns where a column is all but empty.
    """
    values, vectors = np.linalg.eigh(np.atleast_2d(variance))
    return np.asarray(vectors[:, ::-1][:, values[::-1] > _LEAST])


def probability(told: Directions, normal: FloatArray) -> float:
    """Probability, where nothing changed, of readings that speak as much for a change.

    Parameters
    ----------
    told : Directions
    normal : FloatArray, shape (at least D, N)
        A balanced sample of independent standard normal scores.
    """
    count = len(told.scores)
    if count == 0 or not told.changes:
        return 1.0
    sample = np.concatenate([told.scores[:, None], normal[:count]], axis=1)
    terms = []
    for weight, added in told.changes:
        values, vectors = np.linalg.eigh(added)
        values = np.maximum(values, 0.0)
        shrunk = vectors * (values / (1.0 + values))
        form = np.einsum("in,in->n", sample, shrunk @ (vectors.T @ sample))
        terms.append(np.log(weight) + 0.5 * (form - np.log1p(values).sum()))
    evidence = np.logaddexp.reduce(np.stack(terms), axis=0)
    drawn = evidence[1:]
    # One is added on both sides, so that no sample however lucky makes the impossible certain.
    return float((1 + np.count_nonzero(drawn >= evidence[0])) / (1 + len(drawn)))
