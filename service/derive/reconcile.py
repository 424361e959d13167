"""Readings and balances together: one consistent state, and which reading does not fit.

See :mod:`service.uncertainty.reconciliation` for the method.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from service.derive.derivations import QUANTITIES
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


def residual(pair: Pair, values: Values) -> FloatArray:
    """Logarithm of second over first: zero in truth."""
    return np.asarray(np.log(values[pair.second]) - np.log(values[pair.first]))


@dataclass(frozen=True, slots=True)
class _Terms:
    """What of a visit takes part: the balances, the quantities and whether their logarithm is updated."""

    pairs: tuple[Pair, ...]
    names: tuple[str, ...]
    logarithmic: tuple[bool, ...]


def _terms(values: Values, visits: int) -> list[_Terms]:
    """For each visit, by which of its values are numbers, and positive, in every draw."""
    members = {name for family in FAMILIES.values() for name in family}
    names = [name for name in values if name in members or QUANTITIES[name].reconciled]
    if not names:
        return [_Terms((), (), ())] * visits
    finite = np.stack([np.isfinite(values[name]).all(axis=-1) for name in names])
    positive = np.stack([(values[name] > 0.0).all(axis=-1) for name in names])
    rows = {name: row for row, name in enumerate(names)}
    kept: dict[bytes, _Terms] = {}
    found = []
    for place in range(visits):
        key = finite[:, place].tobytes() + positive[:, place].tobytes()
        if key not in kept:
            good = dict(zip(names, (finite & positive)[:, place].tolist(), strict=True))
            pairs: list[Pair] = []
            for family, ways in FAMILIES.items():
                present = [name for name in ways if good.get(name)]
                pairs += [Pair(family, present[0], other) for other in present[1:]]
            updated = [name for name in names if QUANTITIES[name].reconciled and finite[rows[name], place]]
            kept[key] = _Terms(tuple(pairs), tuple(updated), tuple(bool(positive[rows[n], place]) for n in updated))
        found.append(kept[key])
    return found


def reconcile(
    values: Values,
    readings: Mapping[str, FloatArray],
    inputs: Inputs,
    mask: Callable[[str], NDArray[np.bool_]],
) -> list[Outcome | None]:
    """Bring the reconciled quantities and the readings of visits to agreement; None without a balance.

    Parameters
    ----------
    values : mapping
        Draws of each derived quantity, shape (visits, N + 1).
    readings : mapping
        Draws of each reading, of the same shape.
    inputs : Inputs
        The independent variables behind them.
    mask : callable
        Which variables a quantity or reading comes from, shape (K,).

    Notes
    -----
    Positive quantities are updated in their logarithm, in which the balances are all but linear.
    """
    visits = len(inputs.scale)
    found: list[Outcome | None] = [None] * visits
    alike: dict[_Terms, list[int]] = {}
    for place, terms in enumerate(_terms(values, visits)):
        if terms.pairs:
            alike.setdefault(terms, []).append(place)
    for terms, places in alike.items():
        needed = {side for pair in terms.pairs for side in (pair.first, pair.second)}
        own_values = {name: values[name][places] for name in needed.union(terms.names)}
        # Balances, quantities and readings in one block, as all of them need their slopes.
        rows = [
            *(residual(pair, own_values) for pair in terms.pairs),
            *(
                np.log(own_values[name]) if log else own_values[name]
                for name, log in zip(terms.names, terms.logarithmic, strict=True)
            ),
            *(draws[places] for draws in readings.values()),
        ]
        block = np.stack(rows, axis=1)
        masks = [mask(pair.first) | mask(pair.second) for pair in terms.pairs]
        masks += [mask(name) for name in (*terms.names, *readings)]
        table = np.stack(masks)
        own = Inputs(inputs.basis, inputs.scale[places])
        slopes = slopes_of(block, own, table)
        for row, place in enumerate(places):
            found[place] = _outcome(terms, tuple(readings), block[row], slopes[row], own.of(row), table)
    return found


def _outcome(
    terms: _Terms,
    readings: tuple[str, ...],
    block: FloatArray,
    slopes: FloatArray,
    inputs: Inputs,
    masks: NDArray[np.bool_],
) -> Outcome | None:
    """One visit's: ``block`` (rows, N + 1) of its balances, quantities and readings, with their slopes."""
    count, names = len(terms.pairs), terms.names
    found = balances(block[:count, 0], slopes[:count], inputs.variance)
    if found is None:
        return None
    touched = np.abs(found.slopes * inputs.scale).max(axis=0) > 1e-12
    taking_part = (masks & touched).any(axis=-1)[count + len(names) :].tolist()
    used = [name for name, takes in zip(readings, taking_part, strict=True) if takes]
    widened = found.widening if found.probability < DISAGREEMENT else 1.0
    pairs = tuple([terms.pairs[position] for position in found.positions])
    if not (names or used) or widened > GROSS_DISAGREEMENT:
        return Outcome(pairs, found, {}, {}, touched, widened, applied=False)
    kept = np.array([True] * len(names) + taking_part)
    draws, own = block[count:][kept], slopes[count:][kept]
    gain = found.gain(own)
    updated = draws - gain @ block[found.positions]
    if widened > 1.0:
        # The stated accuracies of what takes part are too good by this factor.
        left = (own - gain @ found.slopes) * touched
        updated += (widened - 1.0) * ((left * inputs.scale) @ inputs.basis.draws)
    quantities = {
        name: np.exp(row) if log else row for name, log, row in zip(names, terms.logarithmic, updated, strict=False)
    }
    return Outcome(
        pairs,
        found,
        quantities,
        dict(zip(used, updated[len(names) :], strict=True)),
        touched,
        widened,
    )


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
    can_be: Callable[[str, float], bool],
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
    can_be : callable
        Whether a correction, in the unit of the reading, is one that some instrument can need.

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
        if statistic <= 0.0 or u <= 0.0 or not can_be(name, -size):
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
        alone = all(found.alike(directions[name], other) < TOLD_APART for other in others if other.any())
        answer.append(Candidate(name, statistic, -size, -deviations, known, alone))
    return answer
