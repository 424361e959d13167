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
from service.assess.paths import ASSUMED, PHASES, READING
from service.reference.assumptions import ASSUMPTIONS

#: What needs not be asked for: assumptions, and the map that goes with the kind of unit.
TAKEN: frozenset[str] = frozenset(ASSUMED + name for name in ASSUMPTIONS)

#: Ways that are kept on the way up: of a deep quantity there are hundreds.
_KEPT = 12

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
    known = set(given | TAKEN)
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
    return tuple(tuple(sorted(way)) for way in _ways(quantity, given, unit)[:_MAXIMUM_WAYS])


def _cheapest(ways: set[frozenset[str]]) -> tuple[frozenset[str], ...]:
    minimal = [way for way in ways if not any(other < way for other in ways)]
    return tuple(sorted(minimal, key=lambda w: (effort(w), len(w), sorted(w)))[:_KEPT])


@lru_cache(maxsize=65536)
def _ways(quantity: str, given: frozenset[str], unit: UnitKind) -> tuple[frozenset[str], ...]:
    if not QUANTITIES[quantity].concerns(unit):
        return ()
    found: set[frozenset[str]] = set()
    for row in ALTERNATIVES[quantity]:
        partial: set[frozenset[str]] = {frozenset()}
        for need in row.needs:
            if need in given or need in TAKEN:
                continue
            options = (
                _ways(need, given, unit) if need in ALTERNATIVES else (frozenset({_asked(need)}),)
            )
            partial = set(_cheapest({one | other for one in partial for other in options}))
        found |= partial
    return _cheapest(found)


def _asked(path: str) -> str:
    """The path that a caller can add, for a leaf that the intake prepares from it."""
    return {
        "site.pressure": "site.altitude",
        "refrigerant.model": "unit.refrigerant",
        PHASES: "unit.refrigerant",
        "run.airflow_measured_at_supply": "run.airflow_measured_at",
        "unit.coil_is_external": "unit.indoor_unit",
        "unit.filter_is_external": "unit.indoor_unit",
    }.get(path, path)
