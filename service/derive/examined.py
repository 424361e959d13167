"""What the readings of visits amount to: everything derived from them, with its statistics.

Visits of one kind are examined together, as arrays of visits by draws; each gets the same bits as alone.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from schemas.assessments import AssessmentRequest
from service.derive.computation import Computed, VisitRows, block_inputs, compute, compute_block
from service.derive.derivations import QUANTITIES, UnitKind
from service.derive.draws import DrawnVisit
from service.derive.shares import Shares, shares_of
from service.intake.running import running
from service.intake.visit import Visit
from service.reference.units import conversion, system_unit
from service.uncertainty.propagation import Summary, summarise
from service.uncertainty.rounding import significant

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Derived:
    """A visit with all that was derived from it.

    ``doubted`` are readings (as paths) and quantities that later work leaves out, as they are not what they
    are called; none where nobody has judged that.
    """

    request: AssessmentRequest
    computed: Computed
    doubted: frozenset[str]

    @property
    def visit(self) -> DrawnVisit:
        """The visit with its draws."""
        return self.computed.visit

    @property
    def unit(self) -> UnitKind:
        """The kind of unit."""
        return self.computed.unit


@dataclass(frozen=True, slots=True)
class Examined(Derived):
    """A visit with all that was derived from it, and the statistics of that.

    ``names`` are the rows of ``summary``; ``kept`` the positions of those that an answer
    shows.  ``place`` is its own among those it was examined ``together`` with.
    """

    names: list[str]
    summary: Summary
    kept: dict[str, int]
    together: Together
    place: int

    @property
    def shares(self) -> Shares:
        """Of each derived value, who contributes its variance, in the order of ``names``."""
        return self.together.shares[self.place]

    @property
    def numbers(self) -> list[Numbers]:
        """Each derived value in the caller's unit, in the order of ``names``."""
        return self.together.numbers[self.place]


def derived_from(request: AssessmentRequest, visit: Visit) -> Derived:
    """Everything derived from a visit."""
    unit = unit_kind(request, visit)
    return Derived(request, compute(visit, visit.given, unit), frozenset())


def derived_block(requests: Sequence[AssessmentRequest], visits: Sequence[Visit]) -> list[Derived]:
    """The same for visits of one kind (:attr:`Visit.kind` and :func:`unit_kind`), as arrays of visits by
    draws."""
    computed = compute_block(visits, visits[0].given, unit_kind(requests[0], visits[0]))
    return [Derived(request, own, frozenset()) for request, own in zip(requests, computed, strict=True)]


def examined_block(derived: Sequence[Derived]) -> list[Examined]:
    """Visits of one kind with statistics, together where their balances took in the same."""
    alike: dict[object, list[int]] = {}
    for place, one in enumerate(derived):
        outcome = one.computed.outcome
        touched = None if outcome is None else outcome.touched.tobytes()
        alike.setdefault((touched, one.computed.reconciled), []).append(place)
    found: dict[int, Examined] = {}
    for places in alike.values():
        some = [derived[place] for place in places]
        found.update(zip(places, _examined(some), strict=True))
    return [found[place] for place in range(len(derived))]


def _examined(derived: Sequence[Derived]) -> list[Examined]:
    together = Together(derived)
    names, positions = together.names, together.positions
    found = []
    for place, one in enumerate(derived):
        own = together.summary.of(place)
        reliable = own.reliable.tolist()
        kept = {name: positions[name] for name in QUANTITIES if name in positions and reliable[positions[name]]}
        found.append(
            Examined(
                one.request,
                one.computed,
                one.doubted,
                names,
                own,
                kept,
                together,
                place,
            )
        )
    return found


class Together:
    """Statistics of visits of one kind whose balances took in the same, as arrays of visits by quantities.

    What not every answer needs is worked out, for all of them, when the first asks for it.
    """

    def __init__(self, derived: Sequence[Derived]) -> None:
        first = derived[0]
        self.derived = derived
        self.names = list(first.computed.shown)
        self.positions = {name: position for position, name in enumerate(self.names)}
        shown = [one.computed.shown for one in derived]
        self.stack = _stack(self.names, shown, first.visit.sample.draws + 1)
        variables = first.visit.variables
        mask = (
            np.stack([first.computed.mask(name) for name in self.names])
            if self.names
            else np.zeros((0, len(variables)), dtype=bool)
        )
        inputs = block_inputs([one.visit for one in derived])
        self.summary = summarise(self.stack, inputs, mask)

    @cached_property
    def shares(self) -> list[Shares]:
        """For each visit, the share of variance by who contributes it."""
        variables = self.derived[0].visit.variables
        labels = list(dict.fromkeys(v.owner for v in variables))
        owners = np.array([[float(v.owner == label) for label in labels] for v in variables])
        by_owner = self.summary.variance_by_variable @ owners.reshape(len(variables), len(labels))
        total = by_owner.sum(axis=-1, keepdims=True)
        shares = np.divide(by_owner, total, out=np.zeros_like(by_owner), where=total > 0)
        return shares_of(shares, labels)

    @cached_property
    def numbers(self) -> list[list[Numbers]]:
        """For each visit, its derived values in the caller's units."""
        return _numbers(self.names, self.summary, [one.visit.system for one in self.derived])


def unit_kind(request: AssessmentRequest, visit: Visit) -> UnitKind:
    """What of the unit decides which quantities and limits concern it."""
    return UnitKind(
        request.unit.mode,
        request.unit.metering_device,
        visit.phases,
        request.unit.capacity_control,
        request.unit.ducted,
        running(request),
        request.unit.circuits,
    )


def _stack(names: list[str], shown: Sequence[Mapping[str, FloatArray]], width: int) -> FloatArray:
    """Draws of the quantities of visits, shape (visits, Q, width)."""
    stack = np.empty((len(shown), len(names), width))
    blocks = {id(own.block): own for own in shown if isinstance(own, VisitRows)}
    if len(blocks) == 1 and next(iter(blocks.values())).count == len(shown):
        block = next(iter(blocks.values())).block
        for row, name in enumerate(names):
            stack[:, row] = block[name]
    else:
        for rows, own in zip(stack, shown, strict=True):
            for row, name in zip(rows, names, strict=True):
                row[:] = own[name]
    return stack


class Numbers(NamedTuple):
    """The numbers of one derived value in the caller's unit."""

    unit: str
    value: float
    standard_uncertainty: float
    low: float
    high: float


def _numbers(names: list[str], summary: Summary, systems: Sequence[str]) -> list[list[Numbers]]:
    """All numbers of all visits at once: conversion, then seven significant digits.

    Seven are far below any uncertainty and free of conversion dust.
    """
    by_system = {system: _units(tuple(names), system) for system in set(systems)}
    scale = np.array([by_system[system].scale for system in systems])
    offset = np.array([by_system[system].offset for system in systems])
    rows = np.stack(
        [
            (summary.value - offset) / scale,
            summary.standard_uncertainty / scale,
            (summary.low - offset) / scale,
            (summary.high - offset) / scale,
        ],
        axis=-1,
    )
    return [
        [
            Numbers(symbol, value, uncertainty, low, high)
            for symbol, (value, uncertainty, low, high) in zip(by_system[system].symbols, own, strict=True)
        ]
        for system, own in zip(systems, significant(rows).tolist(), strict=True)
    ]


@dataclass(frozen=True, slots=True)
class _Units:
    symbols: tuple[str, ...]
    scale: FloatArray
    offset: FloatArray


@lru_cache(maxsize=256)
def _units(names: tuple[str, ...], system: str) -> _Units:
    symbols = tuple(system_unit(QUANTITIES[name].kind, system) for name in names)
    units = [conversion(QUANTITIES[name].kind, symbol) for name, symbol in zip(names, symbols, strict=True)]
    return _Units(symbols, np.array([unit.scale for unit in units]), np.array([unit.offset for unit in units]))
