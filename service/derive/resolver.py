"""Which derivations the given readings allow, and what would unlock the rest.

The order is worked out once for each set of given names and kept: the graph is static, so a
request pays only for a look-up.  (General dataflow libraries were weighed; they schedule tasks
that take milliseconds, while these take microseconds, so the standard library's topological
sorter is used.)
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from functools import lru_cache
from graphlib import TopologicalSorter

from schemas.readings import READINGS
from service.derive.derivations import DERIVATIONS, QUANTITIES, Derivation, UnitKind
from service.intake.paths import (
    ASSUMED,
    AUXILIARY_OFF,
    NAMEPLATE,
    PHASES,
    RATED,
    READING,
    SEASON_CAPACITY,
    SEASON_HEATING_CAPACITY,
    SEASON_HEATING_EFFICIENCY,
    TABLE,
)
from service.reference.assumptions import ASSUMPTIONS

#: What needs not be asked for: assumptions, and the map that goes with the kind of unit.
TAKEN: frozenset[str] = frozenset(ASSUMED + name for name in ASSUMPTIONS)

#: Beginnings of what a caller is never asked for, though it is used where it was given.
_UNASKED = (TABLE,)

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


@lru_cache(maxsize=1024)
def plan(given: frozenset[str], unit: UnitKind) -> tuple[Derivation, ...]:
    """The derivations to run, in order, for a set of given paths and a kind of unit.

    Each quantity takes the first of its alternatives whose needs are all available.
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
    return sum(READINGS[path.removeprefix(READING)].effort if path.startswith(READING) else 0 for path in paths)


def unlocks(quantity: str, given: frozenset[str], unit: UnitKind) -> tuple[tuple[str, ...], ...]:
    """Sets of paths to add so that the quantity can be derived, cheapest first.

    A reading costs its ``effort``; a nameplate value costs nothing, as it can be read off the
    unit.  What is given, such as auxiliary heat stated as on, is not asked for again.
    """
    ways = [_paths_of(way) for way in _ways_beside(quantity, _known_of(given), unit)[:_MAXIMUM_WAYS]]
    if unit.running == "low":  # its target has a field of its own
        ways = [tuple(_TARGET_IN_LOW_STAGE if path == _TARGET else path for path in way) for way in ways]
    return tuple(way for way in ways if given.isdisjoint(way))


_TARGET, _TARGET_IN_LOW_STAGE = NAMEPLATE + "subcooling", NAMEPLATE + "low_stage.subcooling"


def _asked(path: str) -> str:
    """The path that a caller can add, for a leaf that the intake prepares from it."""
    return {
        "site.pressure": "site.altitude",
        "refrigerant.model": "unit.refrigerant",
        PHASES: "unit.refrigerant",
        SEASON_CAPACITY: RATED + "cooling_capacity",
        SEASON_HEATING_CAPACITY: RATED + "heating_capacity",
        SEASON_HEATING_EFFICIENCY: RATED + "heating_cop",
        "run.airflow_measured_at_supply": "run.airflow_measured_at",
        AUXILIARY_OFF: "run.auxiliary_heat_on",
        "unit.coil_is_external": "unit.indoor_unit",
        "unit.filter_is_external": "unit.indoor_unit",
    }.get(path, path)


# A set of names is a whole number here, one bit for each: there are many to unite and to compare.

#: Bit of each need; of those given only the ones that a quantity can come from matter to it.
_NEED_BITS: Mapping[str, int] = {
    need: 1 << place for place, need in enumerate(sorted({need for row in DERIVATIONS for need in row.needs}))
}


def _reached() -> dict[str, int]:
    """All needs that each quantity can come from, at any depth."""
    found: dict[str, int] = {}
    for name in ORDER:
        found[name] = 0
        for row in ALTERNATIVES[name]:
            for need in row.needs:
                found[name] |= _NEED_BITS[need] | found.get(need, 0)
    return found


_REACHED: Mapping[str, int] = _reached()

#: Paths that a caller can add.  The first has the highest bit, so that of equally large sets the one
#: whose paths come first is the larger number.
_PATHS: tuple[str, ...] = tuple(
    sorted({_asked(need) for need in _NEED_BITS if need not in ALTERNATIVES and need not in TAKEN})
)
_PATH_BITS: Mapping[str, int] = {path: 1 << place for place, path in enumerate(reversed(_PATHS))}


@lru_cache(maxsize=1024)
def _known_of(given: frozenset[str]) -> int:
    """The needs among the given names, and those that need not be asked for."""
    return sum(bit for need, bit in _NEED_BITS.items() if need in given or need in TAKEN)


@lru_cache(maxsize=2048)
def _paths_of(way: int) -> tuple[str, ...]:
    return tuple(path for path in _PATHS if _PATH_BITS[path] & way)


@lru_cache(maxsize=2048)
def _cost(way: int) -> tuple[int, int, int]:
    """Sorts ways: by effort, then by number of paths, then by their names."""
    return effort(frozenset(_paths_of(way))), way.bit_count(), -way


def _cheapest(ways: set[int]) -> tuple[int, ...]:
    """The cheapest ways that hold no other: one within another costs less, so it comes first."""
    if len(ways) == 1:
        return tuple(ways)
    kept: list[int] = []
    for way in sorted(ways, key=_cost):
        for other in kept:
            if not other & ~way:
                break
        else:
            kept.append(way)
            if len(kept) == _KEPT:
                break
    return tuple(kept)


def _ways_beside(quantity: str, known: int, unit: UnitKind) -> tuple[int, ...]:
    """Ways to a quantity, given all that is known."""
    return _ways(quantity, known & _REACHED[quantity], unit)


@lru_cache(maxsize=2048)
def _ways(quantity: str, known: int, unit: UnitKind) -> tuple[int, ...]:
    if not QUANTITIES[quantity].concerns(unit):
        return ()
    found: set[int] = set()
    for row in ALTERNATIVES[quantity]:
        if any(need.startswith(_UNASKED) and not _NEED_BITS[need] & known for need in row.needs):
            continue
        partial: tuple[int, ...] = (0,)
        for need in row.needs:
            if _NEED_BITS[need] & known:
                continue
            options = _ways_beside(need, known, unit) if need in ALTERNATIVES else (_PATH_BITS[_asked(need)],)
            partial = _cheapest({one | other for one in partial for other in options})
        found.update(partial)
    return _cheapest(found)
