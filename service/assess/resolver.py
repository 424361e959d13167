"""Which derivations the given readings allow, and what would unlock the rest.

The order is worked out once for each set of given names and kept: the graph is static, so a
request pays only for a look-up.  (General dataflow libraries were weighed; they schedule tasks
that take milliseconds, while these take microseconds, so the standard library's topological
sorter is used.)
"""

from __future__ import annotations

from collections import defaultdict
from functools import lru_cache
from graphlib import TopologicalSorter

from schemas.readings import READINGS
from service.assess.derivations import DERIVATIONS, QUANTITIES, Derivation, UnitKind
from service.assess.paths import READING

#: More ways than this to unlock one quantity are not worth reading.
_MAXIMUM_WAYS = 3


def _alternatives() -> dict[str, tuple[Derivation, ...]]:
    rows: dict[str, list[Derivation]] = defaultdict(list)
    for row in DERIVATIONS:
        rows[row.quantity].append(row)
    return {name: tuple(ways) for name, ways in rows.items()}


ALTERNATIVES = _alternatives()

#: Quantities in an order in which everything needed comes first.
ORDER: tuple[str, ...] = tuple(
    name
    for name in TopologicalSorter(
        {name: {n for row in ways for n in row.needs} for name, ways in ALTERNATIVES.items()}
    ).static_order()
    if name in ALTERNATIVES
)


@lru_cache(maxsize=4096)
def plan(given: frozenset[str], unit: UnitKind) -> tuple[Derivation, ...]:
    """The derivations to run, in order, for a set of given paths and a kind of unit.

    Each quantity takes the first of its alternatives whose needs are all at hand.
    """
    known = set(given)
    steps = []
    for name in ORDER:
        if not QUANTITIES[name].concerns(unit):
            continue
        for row in ALTERNATIVES[name]:
            if all(need in known for need in row.needs):
                steps.append(row)
                known.add(name)
                break
    return tuple(steps)


def effort(paths: frozenset[str]) -> int:
    """What it takes to add the fields: readings by their effort, a nameplate value nothing."""
    return sum(
        READINGS[path.removeprefix(READING)].effort if path.startswith(READING) else 0
        for path in paths
    )


@lru_cache(maxsize=8192)
def unlocks(quantity: str, given: frozenset[str], unit: UnitKind) -> tuple[tuple[str, ...], ...]:
    """Sets of paths to add so that the quantity can be derived, cheapest first.

    A reading costs its ``effort``; a nameplate value costs nothing, as it can be read off the
    unit.
    """
    ways = _ways(quantity, given, unit)
    minimal = [way for way in ways if not any(other < way for other in ways)]
    return tuple(
        tuple(sorted(way))
        for way in sorted(minimal, key=lambda w: (effort(w), len(w), sorted(w)))[:_MAXIMUM_WAYS]
    )


def _ways(quantity: str, given: frozenset[str], unit: UnitKind) -> set[frozenset[str]]:
    if not QUANTITIES[quantity].concerns(unit):
        return set()
    found: set[frozenset[str]] = set()
    for row in ALTERNATIVES[quantity]:
        partial: set[frozenset[str]] = {frozenset()}
        for need in row.needs:
            if need in given:
                continue
            options = (
                _ways(need, given, unit) if need in ALTERNATIVES else {frozenset({_asked(need)})}
            )
            partial = {one | other for one in partial for other in options}
        found |= partial
    return found


def _asked(path: str) -> str:
    """The path that a caller can add, for a leaf that the intake prepares from it."""
    return {
        "site.pressure": "site.altitude",
        "refrigerant.model": "unit.refrigerant",
    }.get(path, path)
