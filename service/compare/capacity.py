"""Whether runs were made at one capacity, and signs that the stage changed between two runs."""

from __future__ import annotations

from dataclasses import replace
from math import log

from service.compare.quantities import AsRead
from service.derive.derivations import UnitKind
from service.derive.examined import Derived
from service.reference.capacity_control import (
    OTHER_CAPACITY,
    SAME_SPEED,
    STAGE_CHANGE,
    Unsettled,
)


def unsettled_between(*runs: Derived) -> Unsettled | None:
    """What keeps runs from being compared by capacity; None where they ran at one capacity."""
    first = runs[0]
    for run in runs:
        if run.unit.unsettled is not None:
            return run.unit.unsettled
    if all(_alike(first, run) for run in runs[1:]):
        return None
    return OTHER_CAPACITY[first.unit.control]


def unit_of(first: Derived, unsettled: Unsettled | None) -> UnitKind:
    """The kind of unit that a comparison is about: one whose capacity is not known where that differs."""
    return first.unit if unsettled is None else replace(first.unit, running="unknown")


def _alike(first: Derived, second: Derived) -> bool:
    if first.unit.running != second.unit.running:
        return False
    one, other = first.request.run.speed_percent, second.request.run.speed_percent
    if first.unit.running == "test_mode" or one is None or other is None:
        return True
    return bool(abs(one - other) <= SAME_SPEED)


def stage_changed(unit: UnitKind, read: AsRead) -> bool:
    """Whether power and capacity moved in step, as between the stages of a two-stage unit."""
    if unit.control != "two_stage":
        return False
    moved = []
    for names, usual, tolerance in STAGE_CHANGE:
        place = next((read.names.index(name) for name in names if name in read.names), None)
        if place is None or not min(read.before[place], read.after[place]) > 0.0:
            return False
        change = log(read.after[place] / read.before[place])
        if abs(abs(change) + log(usual)) > tolerance:
            return False
        moved.append(change > 0.0)
    return len(set(moved)) == 1
