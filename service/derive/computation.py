"""From leaves to derived draws: run the plan, then reconcile it with the balances."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from service.derive.derivations import QUANTITIES, Derivation, UnitKind
from service.derive.draws import DrawnVisit, draw
from service.derive.reconcile import Outcome, reconcile
from service.derive.resolver import plan
from service.intake.paths import ASSUMED, READING
from service.intake.visit import KIND_OF_UNIT, BlowerTable, Visit
from service.physics.refrigerant_enthalpy import Vapour
from service.uncertainty.propagation import Inputs

FloatArray = NDArray[np.float64]


def run_plan(leaves: Mapping[str, Any], steps: tuple[Derivation, ...], shape: tuple[int, ...]) -> dict[str, Any]:
    """Run the derivations: draws of each quantity, of the shape given, along the last axis nominal first.

    An internal quantity may hold something else, whose parts have that shape.
    """
    known: dict[str, Any] = dict(leaves)
    values: dict[str, Any] = {}
    # A quotient by almost zero overflows; infinite values are dropped as not known.
    with np.errstate(over="ignore"):
        for step in steps:
            value = step.compute(*[known[need] for need in step.needs])
            if not QUANTITIES[step.quantity].internal:
                value = np.asarray(value, dtype=np.float64)
                if value.shape != shape:
                    value = np.ascontiguousarray(np.broadcast_to(value, shape))
            known[step.quantity] = values[step.quantity] = value
    return values


@dataclass(frozen=True, slots=True)
class Dependence:
    """Which leaves each quantity of a plan comes from: as names, and as a matrix (Q, leaves)."""

    depends: Mapping[str, tuple[str, ...]]
    leaves: tuple[str, ...]
    matrix: FloatArray
    rows: Mapping[str, int]


@lru_cache(maxsize=256)
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
    """Everything derived from a visit; ``visit`` is that visit with its draws and assumptions.

    ``as_read`` holds each quantity by its most trusted way alone, ``shown`` those that the answer
    shows, reconciled where the balances say something about them: about those ``concerned``.
    """

    visit: DrawnVisit
    given: frozenset[str]
    unit: UnitKind
    steps: tuple[Derivation, ...]
    dependence: Dependence
    as_read: Mapping[str, Any]
    shown: Mapping[str, FloatArray]
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

    def follow_from(self, readings: Collection[str]) -> frozenset[str]:
        """The quantities that depend on any of some readings."""
        leaves = {READING + name for name in readings}
        return frozenset(name for name, own in self.dependence.depends.items() if not leaves.isdisjoint(own))

    def doubted_with(self, readings: Collection[str]) -> frozenset[str]:
        """Readings, as paths, and the quantities that depend on them: none of them is what it is called."""
        return self.follow_from(readings) | {READING + name for name in readings} if readings else frozenset()

    def leaves_of_balances(self, outcome: Outcome) -> tuple[str, ...]:
        """The leaves behind the balances, each once."""
        sides = (side for pair in outcome.pairs for side in (pair.first, pair.second))
        leaves = (leaf for side in sides for leaf in self.dependence.depends[side])
        return tuple(dict.fromkeys(leaves))


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


def compute(visit: Visit, given: frozenset[str], unit: UnitKind) -> Computed:
    """Draw the visit with the assumptions that the plan uses, derive all that ``given`` allows, and
    reconcile it."""
    return compute_block([visit], given, unit)[0]


@dataclass(frozen=True, slots=True, eq=False)
class _Frame:
    """What visits of one kind share: which variables each quantity and each reading comes from."""

    masks: Mapping[str, NDArray[np.bool_]]
    read: tuple[str, ...]


@lru_cache(maxsize=256)
def _frame(
    steps: tuple[Derivation, ...],
    given: frozenset[str],
    positions: tuple[tuple[int, ...], ...],
    variables: int,
) -> _Frame:
    """``positions`` are those of the variables of each leaf of the plan's dependence."""
    on = dependence(steps)
    used = np.zeros((len(on.leaves), variables))
    for row, places in zip(used, positions, strict=True):
        row[list(places)] = 1.0
    table = on.matrix @ used > 0.0
    masks: dict[str, NDArray[np.bool_]] = {name: table[row] for name, row in on.rows.items()}
    read = tuple(leaf for leaf in on.leaves if leaf.startswith(READING) and leaf in given)
    for leaf in read:
        masks[leaf] = used[on.leaves.index(leaf)] > 0.0
    return _Frame(masks, read)


def compute_block(visits: Sequence[Visit], given: frozenset[str], unit: UnitKind) -> list[Computed]:
    """The same for visits of one kind (:attr:`Visit.kind`), as arrays of shape (visits, N + 1).

    Each gets the same bits as it would alone.
    """
    count = len(visits)
    steps = plan(given, unit)
    on = dependence(steps)
    assumed = [leaf for leaf in on.leaves if leaf.startswith(ASSUMED) and leaf not in visits[0].uncertain]
    drawn = draw(visits, assumed)
    first = drawn.visits[0]
    names = (*given, *(leaf for leaf in on.leaves if leaf not in given))
    leaves = _stacked(drawn.visits, names, drawn.rows)
    shape = (count, first.sample.draws + 1)
    values = run_plan(leaves, steps, shape)
    frame = _frame(
        steps,
        given,
        tuple([first.leaf_variables.get(leaf, ()) for leaf in on.leaves]),
        len(first.variables),
    )
    masks = frame.masks
    arrays = {name: value for name, value in values.items() if isinstance(value, np.ndarray) and value.shape == shape}
    read = {leaf: leaves[leaf] for leaf in frame.read}
    inputs = block_inputs(drawn.visits)
    outcomes = reconcile(arrays, read, inputs, masks.__getitem__)
    shown = {name: value for name, value in values.items() if not QUANTITIES[name].internal}
    if any(outcome is not None and outcome.applied for outcome in outcomes):
        shown |= _followed(leaves, steps, values, outcomes)
    return [
        Computed(
            visit,
            given,
            unit,
            steps,
            on,
            VisitRows(values, count, place),
            VisitRows(shown, count, place),
            outcome,
            masks,
            _concerned(masks, outcome),
        )
        for place, (visit, outcome) in enumerate(zip(drawn.visits, outcomes, strict=True))
    ]


class VisitRows(Mapping[str, Any]):
    """One visit's rows of a block of arrays (visits, N + 1), cut when they are first asked for."""

    __slots__ = ("_cut", "block", "count", "place")

    def __init__(self, block: Mapping[str, Any], count: int, place: int) -> None:
        self.block, self.count, self.place = block, count, place
        self._cut: dict[str, Any] = {}

    def __getitem__(self, name: str) -> Any:  # noqa: ANN401
        try:
            return self._cut[name]
        except KeyError:
            found = self._cut[name] = _part(self.block[name], self.count, self.place)
            return found

    def __contains__(self, name: object) -> bool:
        return name in self.block

    def __iter__(self) -> Iterator[str]:
        return iter(self.block)

    def __len__(self) -> int:
        return len(self.block)


def block_inputs(visits: Sequence[DrawnVisit]) -> Inputs:
    """The variables of visits of one kind."""
    return Inputs(visits[0].inputs.basis, np.stack([visit.inputs.scale for visit in visits]))


def _stacked(visits: Sequence[Visit], names: Iterable[str], drawn: Mapping[str, FloatArray]) -> dict[str, Any]:
    """The leaves of visits of one kind: draws (visits, N + 1), of assumptions (1, N + 1), numbers
    (visits, 1), else what they share."""
    first = visits[0].constants
    stacks: dict[str, Any] = {}
    for name in names:
        if name in drawn:
            stacks[name] = drawn[name]
            continue
        value = first.get(name)
        if name in KIND_OF_UNIT or not isinstance(value, float | tuple):
            if value is not None:
                stacks[name] = value
        else:
            stacks[name] = _stack([visit.constants[name] for visit in visits])
    return stacks


def _stack(values: list[Any]) -> Any:  # noqa: ANN401
    """A leaf of several visits: a number (visits, 1), a table's columns (visits, rows), a tuple of numbers."""
    first = values[0]
    if isinstance(first, float):
        return np.array(values)[:, None]
    if isinstance(first, BlowerTable):
        return BlowerTable(*(np.array(column) for column in zip(*values, strict=True)))
    return tuple([_stack(list(column)) for column in zip(*values, strict=True)])


def _part(value: Any, count: int, places: int | list[int]) -> Any:  # noqa: ANN401
    """One visit's part, or some visits', of something made of arrays of shape (count, ...)."""
    if isinstance(value, np.ndarray):
        if value.ndim == 2 and len(value) == 1 and isinstance(places, int):
            places = 0
        elif value.ndim < 2 or len(value) != count:
            return value
        return value[places, 0] if isinstance(places, int) and value.shape[1] == 1 else value[places]
    if isinstance(value, tuple):
        return tuple([_part(part, count, places) for part in value])
    if isinstance(value, Vapour):
        parts = (value.enthalpy, value.entropy, value.density)
        return Vapour(*[_part(part, count, places) for part in parts])
    return value


def _followed(
    leaves: Mapping[str, Any],
    steps: tuple[Derivation, ...],
    values: Mapping[str, Any],
    outcomes: Sequence[Outcome | None],
) -> dict[str, FloatArray]:
    """The reconciled quantities, with what follows from them computed again so that sums add up.

    Of all visits, as read where nothing was reconciled.
    """
    count = len(outcomes)
    alike: dict[tuple[str, ...], list[int]] = {}
    for place, outcome in enumerate(outcomes):
        if outcome is not None and outcome.applied:
            alike.setdefault(tuple(outcome.values), []).append(place)
    follow = [step for step in steps if QUANTITIES[step.quantity].follows]
    found: dict[str, FloatArray] = {}
    for names, places in alike.items():
        applied = [outcome for outcome in (outcomes[place] for place in places) if outcome]
        followed = {name: np.stack([one.values[name] for one in applied]) for name in names}
        known = {
            need: _part(values.get(need, leaves.get(need)), count, places) for step in follow for need in step.needs
        } | followed
        for step in follow:
            value = np.asarray(step.compute(*(known[need] for need in step.needs)))
            known[step.quantity] = followed[step.quantity] = value
        for name, own in followed.items():
            if name not in found:
                found[name] = np.array(values[name])
            found[name][places] = own
    return found
