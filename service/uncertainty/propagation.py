"""Draws of readings, bands of results, and who brought the uncertainty.

Propagation of distributions after JCGM 101:2008, with a low-discrepancy sample in place of a
pseudo-random one.  The draws axis is the last; its element 0 is the nominal value.  Axes before those
named stand for visits: one function serves one visit or a block of visits of one kind, and gives each the
same bits either way.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from math import sqrt
from threading import Lock

import numpy as np
from cachetools import LRUCache, cached
from numpy.typing import NDArray

from service.uncertainty.coverage_factor import KURTOSIS, SIXTH, coverage_factor
from service.uncertainty.error_terms import Distribution, ErrorTerm
from service.uncertainty.low_discrepancy import sample
from service.uncertainty.quantiles import ends

FloatArray = NDArray[np.float64]

COVERAGE = 0.95

#: Share of variance that the linear part may leave unexplained before the shape of the draws is
#: asked for the band's ends: a tenth of a thousandth moves them by at most half a percent of it.
_LINEAR_ENOUGH = 1e-4

#: Digits to which the shares of terms in a variable are kept: far below anything that is known of them,
#: and free of the last bits in which equal instruments differ at different readings.
_SHARE_DIGITS = 12

#: What a variable is made of: dimension, distribution and scale of each term, of unit variance in all.
Mix = tuple[tuple[int, Distribution, float], ...]


@dataclass(frozen=True, slots=True)
class Variable:
    """One independent random variable: the sum of error terms that always act together.

    Of ``scale`` as its standard deviation and ``mix`` as its shape.  ``key`` is the same for one error that
    acts at several visits (a sensor's calibration, an assumption about the unit), None for one that is
    new at each.
    """

    mix: Mix
    scale: float
    owner: str
    key: int | None = None

    @property
    def variance(self) -> float:
        """Variance, in the square of the unit."""
        return self.scale**2


def variable(terms: Sequence[ErrorTerm], owner: str, key: int | None = None) -> Variable:
    """The sum of independent terms as one variable.

    Parameters
    ----------
    terms : sequence of ErrorTerm
        Independent terms, in one unit.
    owner : str
        The instrument that brings them.
    key : int, optional
        What the error is called at every visit that it acts on.
    """
    scale = sqrt(sum(term.variance for term in terms))
    if scale == 0.0:
        return Variable((), 0.0, owner, key)
    mix = tuple([(t.dimension, t.distribution, round(t.scale / scale, _SHARE_DIGITS)) for t in terms])
    return Variable(mix, scale, owner, key)


@dataclass(frozen=True, slots=True, eq=False)
class Basis:
    """Draws of K independent variables of unit variance, with what every regression on them needs.

    ``draws`` (K, N + 1), the nominal zero first; ``halves`` (K, N / 2) one of each mirrored pair;
    ``deviation`` (K,) the standard deviation of the draws, 1 where there is no ``extent``: a perfect
    instrument has no slope, its deviation only must not be zero.  ``correlation`` (K, K) is that of the
    draws.  ``fourth`` and ``sixth`` (K,) are exact cumulants of those orders; odd ones are zero, as every
    term is symmetric.
    """

    draws: FloatArray
    halves: FloatArray
    correlation: FloatArray
    deviation: FloatArray
    extent: NDArray[np.bool_]
    fourth: FloatArray
    sixth: FloatArray
    _solvers: dict[bytes, tuple[_Solver, ...]] = field(default_factory=dict)

    @property
    def count(self) -> int:
        """Number of variables."""
        return len(self.draws)

    @property
    def size(self) -> int:
        """Bytes that it takes, with the solvers that come to it: of some twenty inverses of a third of the
        variables each."""
        solvers = _SOLVERS_KEPT * 3 * self.count**2 * 8
        return self.draws.nbytes + self.halves.nbytes + self.correlation.nbytes + solvers

    def solvers(self, mask: NDArray[np.bool_]) -> tuple[_Solver, ...]:
        """What solves for the slopes of quantities that depend on these variables, shape (Q, K)."""
        key = np.ascontiguousarray(mask).tobytes()
        found = self._solvers.get(key)
        if found is None:
            if len(self._solvers) >= _SOLVERS_KEPT:
                self._solvers.clear()
            found = self._solvers[key] = _solved(self, mask & self.extent)
        return found


#: Masks whose solvers a basis keeps: visits of one kind have few.
_SOLVERS_KEPT = 8
#: Bytes of bases that are kept.  By bytes, as a caller chooses readings, accuracies and draws.
_KEPT_BYTES = 48 * 2**20


@cached(LRUCache(_KEPT_BYTES, getsizeof=lambda found: found.size), lock=Lock())
def basis(mixes: tuple[Mix, ...], count: int) -> Basis:
    """The basis of variables of these shapes with so many draws; kept, as fleets repeat their kits."""
    tables = sample(count)
    draws = np.zeros((len(mixes), count + 1))
    fourth, sixth = np.zeros((2, len(mixes)))
    for row, mix in enumerate(mixes):
        for dimension, distribution, share in mix:
            if distribution == "normal":
                draws[row] += share * tables.normal[dimension]
            else:
                draws[row] += share * tables.rectangular[dimension]
                part = share**2 / 3.0
                fourth[row] += KURTOSIS * part**2
                sixth[row] += SIXTH * part**3
    halves = np.ascontiguousarray(draws[:, 1::2])
    covariance = halves @ halves.T * (2.0 / count)
    deviation = np.sqrt(np.diagonal(covariance))
    extent = deviation > 0.0
    scale = np.where(extent, deviation, 1.0)
    return Basis(draws, halves, covariance / np.outer(scale, scale), scale, extent, fourth, sixth)


@dataclass(frozen=True, slots=True)
class Inputs:
    """K independent variables behind the draws of visits: a basis, and the ``scale`` (..., K) of each."""

    basis: Basis
    scale: FloatArray

    @property
    def variance(self) -> FloatArray:
        """Variances (..., K)."""
        return np.asarray(self.scale**2)

    def of(self, visit: int) -> Inputs:
        """Those of one visit of a block."""
        return Inputs(self.basis, self.scale[visit])


def gathered(variables: Iterable[Variable], count: int) -> Inputs:
    """The variables of one visit, with so many draws."""
    rows = list(variables)
    return Inputs(basis(tuple([one.mix for one in rows]), count), np.array([one.scale for one in rows]))


@dataclass(frozen=True, slots=True)
class Summary:
    """Statistics of a stack of Q quantities over the draws.

    ``variance_by_variable`` and ``slopes`` on the variables have shape (..., Q, K), the others (..., Q).
    ``reliable`` is false where the nominal value or more than one draw in twenty is not a number.
    """

    value: FloatArray
    standard_uncertainty: FloatArray
    low: FloatArray
    high: FloatArray
    reliable: NDArray[np.bool_]
    variance_by_variable: FloatArray
    centre: FloatArray
    slopes: FloatArray

    def of(self, visit: int) -> Summary:
        """Those of one visit of a block."""
        return Summary(
            self.value[visit],
            self.standard_uncertainty[visit],
            self.low[visit],
            self.high[visit],
            self.reliable[visit],
            self.variance_by_variable[visit],
            self.centre[visit],
            self.slopes[visit],
        )


def summarise(stack: FloatArray, inputs: Inputs, mask: NDArray[np.bool_]) -> Summary:
    """Value, standard uncertainty, 95 % band and variance by variable of each quantity.

    Parameters
    ----------
    stack : FloatArray, shape (..., Q, N + 1)
        Draws, the nominal in column 0.
    inputs : Inputs
        The K independent variables that the draws were made from.
    mask : bool array, shape (Q, K)
        Which variables a quantity depends on; one outside it has exactly no share.

    Notes
    -----
    Quantiles of a few hundred draws are themselves uncertain by some 3 % of the band.  The linear part
    of each quantity is known exactly, though: its slopes follow from the draws by least squares, its
    variance and 95 % quantile from the variables in closed form.  It serves as control variate: what
    the draws miss on the linear part is taken off the quantity (Glasserman, Monte Carlo Methods in
    Financial Engineering, 2004, 4.1 and 9.3.3 for quantiles).  A non-linear quantity keeps its own
    shape; a linear one is all but exact, and needs no quantile of the draws at all.
    """
    value, draws = stack[..., 0], stack[..., 1:]
    reliable = np.isfinite(value)
    means = draws.mean(axis=-1)
    if not np.isfinite(means).all():
        finite = np.isfinite(draws)
        reliable &= finite.sum(axis=-1) >= 0.95 * draws.shape[-1]
        # A missing draw takes the nominal value: it is rare where the row is reliable at all.
        draws = np.where(finite, draws, np.where(reliable, value, 0.0)[..., None])
        means = draws.mean(axis=-1)
    centred = draws - means[..., None]
    spread = _square_mean(centred)
    base = inputs.basis
    if not base.count:
        none = np.zeros((*value.shape, 0))
        return Summary(value, np.sqrt(spread), *ends(draws, COVERAGE), reliable, none, means, none)
    slopes, drawn = _slopes(draws, base, mask)
    by_variable = slopes**2
    exact = by_variable.sum(axis=-1)
    residual = np.maximum(spread - drawn, 0.0)
    uncertainty = np.sqrt(residual + exact)
    half = _half_width(by_variable, exact, base)
    low, high = means - half, means + half
    curved = residual > _LINEAR_ENOUGH * exact
    _bend(low, high, half, curved, draws, slopes, base)
    # A largest deviation, say, is at its least in the nominal value: no draw need come as low.
    low, high = np.minimum(low, value), np.maximum(high, value)
    scale = np.where(inputs.scale > 0.0, inputs.scale, 1.0)
    return Summary(value, uncertainty, low, high, reliable, by_variable, means, slopes / scale[..., None, :])


def _square_mean(centred: FloatArray) -> FloatArray:
    """Mean squares along the last axis, row by row whatever the number of rows."""
    rows = centred.reshape(-1, centred.shape[-1])
    return np.asarray(np.einsum("qn,qn->q", rows, rows).reshape(centred.shape[:-1]) / centred.shape[-1])


def _bend(
    low: FloatArray,
    high: FloatArray,
    half: FloatArray,
    curved: NDArray[np.bool_],
    draws: FloatArray,
    slopes: FloatArray,
    base: Basis,
) -> None:
    """Ends of the curved quantities, in place: those of the draws, less what these miss on the linear part.

    A visit at a time, so that no visit's last bits hang on what stands beside it.
    """
    for place in np.ndindex(*curved.shape[:-1]):
        rows = np.flatnonzero(curved[place])
        if not rows.size:
            continue
        own = ends(draws[place][rows], COVERAGE)
        linear = ends(slopes[place][rows] @ base.draws[:, 1:], COVERAGE)
        low[place][rows] = own[0] - linear[0] - half[place][rows]
        high[place][rows] = own[1] - linear[1] + half[place][rows]


def slopes_of(stack: FloatArray, inputs: Inputs, mask: NDArray[np.bool_]) -> FloatArray:
    """Least-squares slopes of quantities on the variables behind them.

    Parameters
    ----------
    stack : FloatArray, shape (..., Q, N + 1)
        Draws, all of them numbers.
    inputs : Inputs
        The K variables.
    mask : bool array, shape (Q, K)
        Which variables a quantity depends on.

    Returns
    -------
    FloatArray, shape (..., Q, K)
    """
    scale = np.where(inputs.scale > 0.0, inputs.scale, 1.0)
    return _slopes(stack[..., 1:], inputs.basis, mask)[0] / scale[..., None, :]


@dataclass(frozen=True, slots=True)
class _Solver:
    """Quantities that depend on the same variables: their rows, the variables, and the inverse of the
    correlation of these."""

    rows: NDArray[np.intp]
    own: NDArray[np.intp]
    inverse: FloatArray


def _solved(base: Basis, used: NDArray[np.bool_]) -> tuple[_Solver, ...]:
    by_own: dict[bytes, list[int]] = {}
    for row in range(len(used)):
        by_own.setdefault(used[row].tobytes(), []).append(row)
    found = []
    for rows in by_own.values():
        own = np.flatnonzero(used[rows[0]])
        if own.size:
            inverse = np.linalg.inv(base.correlation[np.ix_(own, own)])
            found.append(_Solver(np.array(rows), own, np.asarray(inverse, dtype=np.float64)))
    return tuple(found)


def _slopes(draws: FloatArray, base: Basis, mask: NDArray[np.bool_]) -> tuple[FloatArray, FloatArray]:
    """Least-squares slopes (..., Q, K) of outputs (..., Q, N) on variables of unit variance, and the
    variance (..., Q) of the draws that they explain.

    Each quantity is solved on its own variables alone, so that its numbers do not feel a variable
    that it does not depend on.  What is even in the errors drops out of the difference of mirrored draws.
    """
    odd = draws[..., 0::2] - draws[..., 1::2]
    right = odd @ base.halves.T / (draws.shape[-1] * base.deviation)
    solved = np.zeros_like(right)
    explained = np.zeros(right.shape[:-1])
    for solver in base.solvers(mask):
        places = (..., solver.rows[:, None], solver.own)
        # In one layout for any number of visits, on which the last bits of a product hang.
        part = np.ascontiguousarray(right[places])
        slopes = part @ solver.inverse
        solved[places] = slopes
        explained[..., solver.rows] = (slopes * part).sum(axis=-1)
    return solved / base.deviation, explained


def _half_width(by_variable: FloatArray, exact: FloatArray, base: Basis) -> FloatArray:
    """Half-width of the 95 % interval of the linear parts, from their exact cumulants."""
    positive = np.where(exact > 0.0, exact, 1.0)
    squared = by_variable**2
    kurtosis = squared @ base.fourth / positive**2
    sixth = (squared * by_variable) @ base.sixth / positive**3
    half: FloatArray = coverage_factor(kurtosis, sixth) * np.sqrt(exact)
    return half
