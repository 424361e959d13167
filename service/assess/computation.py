"""From leaves to derived draws: run the plan, then bring it to agreement with the balances."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from service.assess.derivations import QUANTITIES, Derivation, UnitKind
from service.assess.intake import Visit, assume
from service.assess.paths import ASSUMED, READING
from service.assess.reconcile import Outcome, reconcile
from service.assess.resolver import plan

FloatArray = NDArray[np.float64]


def derive(leaves: Mapping[str, Any], steps: tuple[Derivation, ...], width: int) -> dict[str, Any]:
    """Run the derivations: draws of each quantity, shape (width,), nominal first.

    An internal quantity may hold something else, whose parts have that shape.
    """
    known: dict[str, Any] = dict(leaves)
    values: dict[str, Any] = {}
    # A quotient by next to nothing overflows; what is infinite is dropped as not known.
    with np.errstate(over="ignore"):
        for step in steps:
            value = step.compute(*(known[need] for need in step.needs))
            if not QUANTITIES[step.quantity].internal:
                value = np.asarray(value, dtype=np.float64)
                if value.ndim == 0:
                    value = np.full(width, float(value))
            known[step.quantity] = values[step.quantity] = value
    return values


@dataclass(frozen=True, slots=True)
class Dependence:
    """Which leaves each quantity of a plan comes from: as names, and as a matrix (Q, leaves)."""

    depends: Mapping[str, tuple[str, ...]]
    leaves: tuple[str, ...]
    matrix: FloatArray
    rows: Mapping[str, int]


@lru_cache(maxsize=1024)
def dependence(steps: tuple[Derivation, ...]) -> Dependence:
    """Worked out once for each plan."""
    found: dict[str, tuple[str, ...]] = {}
    for step in steps:
        names = (leaf for need in step.needs for leaf in found.get(need, (need,)))
        found[step.quantity] = tuple(dict.fromkeys(names))
    leaves = tuple(dict.fromkeys(leaf for names in found.values() for leaf in names))
    matrix = np.array([[float(leaf in names) for leaf in leaves] for names in found.values()])
    return Dependence(
        found,
        leaves,
        matrix.reshape(len(found), len(leaves)),
        {name: position for position, name in enumerate(found)},
    )


@dataclass(frozen=True, slots=True)
class Computed:
    """Everything derived from a visit.

    ``as_read`` holds each quantity by its most trusted way alone, ``shown`` those that the answer
    shows, reconciled where the balances say something about them: about those ``concerned``.
    """

    given: frozenset[str]
    unit: UnitKind
    steps: tuple[Derivation, ...]
    dependence: Dependence
    as_read: dict[str, Any]
    shown: dict[str, FloatArray]
    outcome: Outcome | None
    masks: Mapping[str, NDArray[np.bool_]]
    concerned: frozenset[str]

    def mask(self, name: str) -> NDArray[np.bool_]:
        """Which variables a shown quantity depends on."""
        own = self.masks[name]
        if self.outcome is not None and name in self.reconciled:
            return own | self.outcome.touched
        return own

    @property
    def reconciled(self) -> frozenset[str]:
        """The quantities that the balances changed."""
        applied = self.outcome is not None and self.outcome.applied
        return self.concerned if applied else frozenset()

    def leaves_of_balances(self, outcome: Outcome) -> tuple[str, ...]:
        """The leaves behind the balances, each once."""
        sides = (side for pair in outcome.pairs for side in (pair.first, pair.second))
        leaves = (leaf for side in sides for leaf in self.dependence.depends[side])
        return tuple(dict.fromkeys(leaves))

    def sources(self) -> Mapping[str, tuple[str, ...]]:
        """The leaves that each quantity comes from, by the balances too."""
        depends, outcome = self.dependence.depends, self.outcome
        if outcome is None or not self.reconciled:
            return depends
        shared = self.leaves_of_balances(outcome)
        return {
            name: tuple(dict.fromkeys((*own, *shared))) if name in self.reconciled else own
            for name, own in depends.items()
        }


def _concerned(masks: Mapping[str, NDArray[np.bool_]], outcome: Outcome | None) -> frozenset[str]:
    """Quantities that the balances say something about."""
    if outcome is None:
        return frozenset()
    return frozenset(
        name
        for name, mask in masks.items()
        if name in QUANTITIES
        and (QUANTITIES[name].reconciled or QUANTITIES[name].follows)
        and (mask & outcome.touched).any()
    )


def _followed(
    visit: Visit, steps: tuple[Derivation, ...], values: Mapping[str, Any], outcome: Outcome
) -> dict[str, FloatArray]:
    """The reconciled quantities, and what follows from them computed anew, so that sums add up."""
    known = {**visit.leaves, **values, **outcome.values}
    followed = dict(outcome.values)
    for step in steps:
        if QUANTITIES[step.quantity].follows:
            value = step.compute(*(known[need] for need in step.needs))
            known[step.quantity] = followed[step.quantity] = np.asarray(value)
    return followed


def compute(visit: Visit, given: frozenset[str], unit: UnitKind) -> Computed:
    """Derive all that ``given`` allows, and reconcile it.

    Draws the assumptions that the plan uses into the visit.
    """
    steps = plan(given, unit)
    on = dependence(steps)
    assume(
        visit,
        [leaf for leaf in on.leaves if leaf.startswith(ASSUMED) and leaf not in visit.leaves],
    )
    values = derive(visit.leaves, steps, visit.sample.draws + 1)
    used = np.zeros((len(on.leaves), len(visit.variables)))
    for row, leaf in zip(used, on.leaves, strict=True):
        row[list(visit.leaf_variables.get(leaf, ()))] = 1.0
    table = on.matrix @ used > 0.0
    masks: dict[str, NDArray[np.bool_]] = {name: table[row] for name, row in on.rows.items()}
    read = {}
    for leaf in on.leaves:
        if leaf.startswith(READING) and leaf in given:
            mask = np.zeros(len(visit.variables), dtype=bool)
            mask[list(visit.leaf_variables[leaf])] = True
            masks[leaf] = mask
            read[leaf] = visit.leaves[leaf]
    arrays = {
        name: value
        for name, value in values.items()
        if isinstance(value, np.ndarray) and value.ndim == 1
    }
    outcome = reconcile(arrays, read, visit.inputs, masks.__getitem__)
    shown = {name: value for name, value in values.items() if not QUANTITIES[name].internal}
    if outcome is not None and outcome.applied:
        shown.update(_followed(visit, steps, values, outcome))
    concerned = _concerned(masks, outcome)
    return Computed(given, unit, steps, on, values, shown, outcome, masks, concerned)
