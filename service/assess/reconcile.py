"""Readings and balances together: one consistent state, and which reading does not fit.

See :mod:`service.uncertainty.reconciliation` for the method.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from service.assess.derivations import QUANTITIES
from service.reference.balances import (
    COMMON_MISTAKES,
    DISAGREEMENT,
    FAMILIES,
    GROSS_DISAGREEMENT,
    TOLD_APART,
)
from service.uncertainty.propagation import Inputs, slopes_of
from service.uncertainty.reconciliation import Balances, balances

FloatArray = NDArray[np.float64]
Values = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Pair:
    """Two independent ways to one quantity."""

    quantity: str
    first: str
    second: str


@dataclass(frozen=True, slots=True)
class Outcome:
    """What the balances made of the derived values.

    ``values`` holds the reconciled quantities' draws, ``touched`` the positions of the variables that
    take part in any balance.  Where the disagreement is gross nothing is ``applied``: all stays as read.
    """

    pairs: tuple[Pair, ...]
    balances: Balances
    values: dict[str, FloatArray]
    readings: dict[str, FloatArray]
    touched: NDArray[np.bool_]
    widened: float
    applied: bool = True

    @property
    def consistent(self) -> bool:
        """Whether the disagreement can be chance."""
        return self.balances.probability >= DISAGREEMENT


def pairs_of(values: Values) -> list[Pair]:
    """The balances that these values allow."""
    found = []
    for family, members in FAMILIES.items():
        present = [
            name
            for name in members
            if name in values and np.isfinite(values[name]).all() and (values[name] > 0.0).all()
        ]
        found += [Pair(family, present[0], other) for other in present[1:]]
    return found


def residual(pair: Pair, values: Values) -> FloatArray:
    """Logarithm of second over first: zero in truth."""
    return np.asarray(np.log(values[pair.second]) - np.log(values[pair.first]))


def reconcile(
    values: Values,
    readings: Mapping[str, FloatArray],
    inputs: Inputs,
    mask: Callable[[str], NDArray[np.bool_]],
) -> Outcome | None:
    """Bring the reconciled quantities and the readings to agreement; None without a balance.

    Parameters
    ----------
    values : mapping
        Draws of each derived quantity, shape (N + 1,).
    readings : mapping
        Draws of each reading.
    inputs : Inputs
        The independent variables behind them.
    mask : callable
        Which variables a quantity or reading comes from, shape (K,).

    Notes
    -----
    Positive quantities are updated in their logarithm, in which the balances are all but linear.
    """
    pairs = pairs_of(values)
    if not pairs:
        return None
    names = [
        name
        for name, value in values.items()
        if QUANTITIES[name].reconciled and np.isfinite(value).all()
    ]
    logarithmic = [bool((values[name] > 0.0).all()) for name in names]
    # Balances, quantities and readings in one block, as all of them need their slopes.
    block = np.stack(
        [
            *(residual(pair, values) for pair in pairs),
            *(
                np.log(values[name]) if log else values[name]
                for name, log in zip(names, logarithmic, strict=True)
            ),
            *readings.values(),
        ]
    )
    masks = [mask(pair.first) | mask(pair.second) for pair in pairs]
    masks += [mask(name) for name in (*names, *readings)]
    slopes = slopes_of(block, inputs, np.stack(masks))
    count = len(pairs)
    found = balances(block[:count, 0], slopes[:count], inputs.variance)
    if found is None:
        return None
    touched = np.abs(found.slopes * np.sqrt(inputs.variance)).max(axis=0) > 1e-12
    used = [name for name in readings if (mask(name) & touched).any()]
    widened = found.widening if found.probability < DISAGREEMENT else 1.0
    pairs = [pairs[position] for position in found.positions]
    if not (names or used) or widened > GROSS_DISAGREEMENT:
        return Outcome(tuple(pairs), found, {}, {}, touched, widened, applied=False)
    kept = np.array([True] * len(names) + [name in used for name in readings])
    draws, own = block[count:][kept], slopes[count:][kept]
    gain = found.gain(own)
    updated = draws - gain @ block[found.positions]
    if widened > 1.0:
        # The stated accuracies of what takes part are too good by this factor.
        left = (own - gain @ found.slopes) * touched
        updated[:, 1:] += (widened - 1.0) * (left @ inputs.draws)
    quantities = {
        name: np.exp(row) if log else row
        for name, log, row in zip(names, logarithmic, updated, strict=False)
    }
    return Outcome(
        tuple(pairs), found, quantities, dict(zip(used, updated[len(names) :], strict=True)), touched,
        widened,
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Candidate:
    """An error in one reading or assumption that would explain the balances."""

    name: str
    statistic: float
    size: float
    deviations: float
    known: str
    told_apart: bool


def candidates(
    outcome: Outcome,
    directions: Mapping[str, FloatArray],
    uncertainties: Mapping[str, float],
    kinds: Mapping[str, str],
) -> list[Candidate]:
    """Which single error explains most of the disagreement, likeliest first.

    Parameters
    ----------
    outcome : Outcome
        Of balances that disagree.
    directions : mapping
        Change of each balance for a unit of error in a reading, shape (M,).
    uncertainties : mapping
        Standard uncertainty of each reading, in the same unit.
    kinds : mapping
        The name under which its usual mistakes are listed.

    Notes
    -----
    Where several explain it equally well (as always with one balance), those come first whose error
    would have the sign of a known mistake, then those that need the smallest error for their accuracy.
    """
    found = outcome.balances
    rows = []
    for name, direction in directions.items():
        statistic, size = found.likelihood_ratio(direction)
        u = uncertainties[name]
        if statistic <= 0.0 or u <= 0.0:
            continue
        low, high = COMMON_MISTAKES.get(kinds[name], ("", ""))
        rows.append((name, statistic, size, size / u, high if size > 0.0 else low))
    best = max((row[1] for row in rows), default=0.0)
    if best <= 0.0:
        return []
    leaders = [row for row in rows if row[1] > 0.5 * best]
    leaders.sort(key=lambda row: (-round(row[1] / best, 2), not row[4], abs(row[3])))
    answer = []
    for name, statistic, size, deviations, known in leaders[:4]:
        others = (d for other, d in directions.items() if other != name)
        alone = all(
            found.alike(directions[name], other) < TOLD_APART for other in others if other.any()
        )
        answer.append(Candidate(name, statistic, -size, -deviations, known, alone))
    return answer
