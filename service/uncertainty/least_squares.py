"""One likelihood over all readings: Gauss-Newton with priors, and what its result says.

Readings z = g(u) + e with e ~ N(0, S); parameters u with prior N(u0, P).

References
----------
Rodgers, C. D. (2000). Inverse Methods for Atmospheric Sounding, chapter 5 (optimal estimation by
Gauss-Newton).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from service.uncertainty.asking import Asking

FloatArray = NDArray[np.float64]
#: Readings (M,) and their Jacobian (M, P).
Predicted = tuple[FloatArray, FloatArray]


@dataclass(frozen=True, slots=True)
class Prior:
    """Means (P,) and covariance (P, P) of the parameters."""

    mean: FloatArray
    covariance: FloatArray


@dataclass(frozen=True, slots=True)
class Fit:
    """Most probable parameters (P,), their covariance (P, P), and the model there.

    ``evidence`` is the logarithm of the readings' probability under the prior (Laplace), but for a
    constant.
    """

    parameters: FloatArray
    covariance: FloatArray
    predicted: FloatArray
    jacobian: FloatArray
    evidence: float
    converged: bool


#: Largest step, in spreads of the priors; how often it is cut; gain in misfit that is not worth more.
_LARGEST_STEP = 3.0
_HALVINGS = 6
_ENOUGH = 5e-3


def fit(
    model: Callable[[FloatArray], Asking[Predicted]],
    readings: FloatArray,
    errors: FloatArray,
    prior: Prior,
    *,
    start: FloatArray | None = None,
    there: Predicted | None = None,
    iterations: int = 20,
) -> Asking[Fit | None]:
    """The most probable parameters; None where the model has no value on the way.

    Parameters
    ----------
    model : callable
        Predicted readings and Jacobian at parameters (P,), as work that asks, so that many fits can be answered at
        once.
    readings : FloatArray, shape (M,)
    errors : FloatArray, shape (M, M)
        Covariance of the readings' errors.
    prior : Prior
    start : FloatArray, shape (P,), optional
        Where to begin; the prior's mean where left out.
    there : (FloatArray, FloatArray), optional
        What the model predicts at the start, where that is known.
    """
    spread = np.sqrt(np.diagonal(prior.covariance))
    weight = _inverse(prior.covariance)
    inverse = np.linalg.inv(errors)

    def misfit(parameters: FloatArray, predicted: FloatArray) -> float:
        rest = readings - predicted
        off = parameters - prior.mean
        return float(rest @ inverse @ rest + off @ weight @ off)

    current = (prior.mean if start is None else start).copy()
    predicted, jacobian = (yield from model(current)) if there is None else there
    if not (np.isfinite(predicted).all() and np.isfinite(jacobian).all()):
        return None
    cost = misfit(current, predicted)
    converged = False
    for _ in range(iterations):
        gain = _gain(jacobian, errors, prior.covariance)
        wanted = prior.mean + gain @ (readings - predicted + jacobian @ (current - prior.mean))
        step = wanted - current
        size = float(np.abs(step / spread).max())
        # A bounded step keeps the model inside its tables; half of it, where the whole is no gain.
        share = min(1.0, _LARGEST_STEP / max(size, 1e-12))
        for _ in range(_HALVINGS):
            trial = current + share * step
            trial_predicted, trial_jacobian = yield from model(trial)
            sound = bool(np.isfinite(trial_predicted).all() and np.isfinite(trial_jacobian).all())
            trial_cost = misfit(trial, trial_predicted) if sound else np.inf
            if trial_cost <= cost + _ENOUGH:
                break
            share *= 0.4
        else:
            break
        gained = cost - trial_cost
        current, predicted, jacobian, cost = trial, trial_predicted, trial_jacobian, trial_cost
        if share == 1.0 and (size < 1e-3 or abs(gained) < _ENOUGH):
            converged = True
            break
    covariance = covariance_left(jacobian, errors, prior.covariance)
    _, size = np.linalg.slogdet(jacobian @ prior.covariance @ jacobian.T + errors)
    evidence = -0.5 * (cost + float(size))
    return Fit(current, covariance, predicted, jacobian, evidence, converged)


def _inverse(covariance: FloatArray) -> FloatArray:
    """The inverse of a covariance (P, P), which is mostly diagonal."""
    own = np.diagonal(covariance)
    if np.count_nonzero(covariance) == np.count_nonzero(own) == len(own):
        return np.diag(1.0 / own)
    return np.asarray(np.linalg.inv(covariance), dtype=np.float64)


def _gain(jacobian: FloatArray, errors: FloatArray, prior: FloatArray) -> FloatArray:
    """Gain (P, M) of the linear problem."""
    spread = jacobian @ prior
    return np.asarray(np.linalg.solve(spread @ jacobian.T + errors, spread).T)


def covariance_left(jacobian: FloatArray, errors: FloatArray, prior: FloatArray) -> FloatArray:
    """Covariance (P, P) that readings leave of parameters, for one linear problem.

    Parameters
    ----------
    jacobian : FloatArray, shape (M, P)
    errors : FloatArray, shape (M, M)
    prior : FloatArray, shape (P, P)
    """
    gain = _gain(jacobian, errors, prior)
    rest = np.eye(len(prior)) - gain @ jacobian
    # Joseph's form stays symmetric and positive whatever the rounding.
    covariance = rest @ prior @ rest.T + gain @ errors @ gain.T
    return np.asarray(0.5 * (covariance + covariance.T))
