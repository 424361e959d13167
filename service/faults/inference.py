"""Probability of each component, and what it leaves of the changes, in closed form.

Readings less what a component expects of them, d, have the density N(d; 0, S + J C J'): S is their
covariance for a healthy unit, C that of the changes about the component's own mean, J how the readings
follow the changes.  All of it follows from J' S^-1 J and J' S^-1 d (Rasmussen and Williams 2006, appendix A;
Rodgers 2000, chapter 2).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Weighed:
    """K components: logarithm of the readings' density under each, but for one constant (K,); mean (K, C)
    and covariance (K, C, C) that the readings leave of the changes."""

    evidence: FloatArray
    means: FloatArray
    covariances: FloatArray


def weigh(
    rest: FloatArray,
    offsets: FloatArray,
    spread: FloatArray,
    slopes: FloatArray,
    means: FloatArray,
    variances: FloatArray,
) -> Weighed:
    """Components weighed by the readings.

    Parameters
    ----------
    rest : FloatArray, shape (M,)
        Readings less what a healthy unit would show.
    offsets : FloatArray, shape (K, M)
        What each component would show, less what a healthy unit would.
    spread : FloatArray, shape (M, M)
        Covariance of the readings for a healthy unit.
    slopes : FloatArray, shape (M, C)
        How the readings follow the changes.
    means, variances : FloatArray, shape (K, C)
        The changes under each component, independent of each other.
    """
    inverse = np.linalg.inv(spread)
    information = slopes.T @ inverse @ slopes
    off = rest - offsets
    weighted = off @ inverse
    pointed = weighted @ slopes
    places = np.arange(means.shape[1])
    precision: FloatArray = np.repeat(information[None], len(means), axis=0)
    precision[:, places, places] += 1.0 / variances
    left = np.asarray(np.linalg.inv(precision), dtype=np.float64)
    moved = np.einsum("kij,kj->ki", left, pointed)
    _, shrunk = np.linalg.slogdet(left)
    evidence = (
        0.5 * float(rest @ inverse @ rest)
        - 0.5 * np.einsum("km,km->k", weighted, off)
        + 0.5 * np.einsum("ki,ki->k", pointed, moved)
        + 0.5 * (shrunk - np.log(variances).sum(axis=1))
    )
    return Weighed(evidence, means + moved, left)


def density_at(rest: FloatArray, spread: FloatArray) -> float:
    """Logarithm of the density, but for a constant of their number, of readings (M,) that lie this far from what
    a healthy unit would show, with this covariance (M, M)."""
    return float(-0.5 * np.linalg.slogdet(spread)[1] - 0.5 * rest @ np.linalg.solve(spread, rest))


def density(rest: FloatArray, spread: FloatArray, base: FloatArray, shift: FloatArray | float = 0.0) -> FloatArray:
    """Logarithm of the readings' density under covariances ``spread`` (..., M, M), less that under ``base``.

    ``shift`` (..., M) is by how much a known mistake has moved the readings under ``spread``.  The same
    constant is left out as in :func:`weigh`, which takes a healthy unit without any change for zero.
    """

    def of(off: FloatArray, matrix: FloatArray) -> FloatArray:
        solved = np.linalg.solve(matrix, off[..., None])[..., 0]
        return np.asarray(-0.5 * np.linalg.slogdet(matrix)[1] - 0.5 * np.einsum("...m,...m->...", off, solved))

    return of(rest + shift, spread) - of(rest, base)
