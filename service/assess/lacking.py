"""What could not be derived, why, and what to read next.

All of it follows from which readings are given, not from their values, so it is worked out once for
each set of names and kept.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from schemas.assessments import Missing, NextReading
from service.assess.findings import LIMITED
from service.derive.derivations import QUANTITIES, UnitKind
from service.derive.resolver import effort, unlocks
from service.intake.paths import RATED, READING
from service.words import assessment as words

#: The most sets of readings that an answer proposes.
_MOST_PROPOSALS = 5


@dataclass(frozen=True, slots=True)
class Lack:
    """A quantity that could not be derived: why, and what would allow it."""

    quantity: str
    reason: str
    ways: tuple[tuple[str, ...], ...]

    def answer(self) -> Missing:
        """As an answer shows it."""
        return {
            "quantity": self.quantity,
            "reason": self.reason,
            "unlock": [{"add": list(way)} for way in self.ways],
        }


@dataclass(frozen=True, slots=True)
class Proposal:
    """Fields to add, and the quantities that they unlock."""

    add: tuple[str, ...]
    unlocks: tuple[str, ...]

    def answer(self) -> NextReading:
        """As an answer shows it."""
        return {"add": list(self.add), "unlocks": list(self.unlocks)}


@dataclass(frozen=True, slots=True)
class Lacking:
    """What a visit lacks, with the reasons by quantity, and what to add next."""

    rows: tuple[Lack, ...]
    reasons: dict[str, str]
    proposals: tuple[Proposal, ...]


@lru_cache(maxsize=256)
def lacking(unit: UnitKind, given: frozenset[str], shown: frozenset[str], derived: frozenset[str]) -> Lacking:
    """What a visit lacks.

    Parameters
    ----------
    unit
        The kind of unit.
    given
        Paths that the request gives.
    shown, derived
        Quantities that the answer shows, and all that were computed: those between the two have no
        value at these readings.
    """
    rows = []
    for name, quantity in QUANTITIES.items():
        if name in shown or not quantity.is_asked_for(unit):
            continue
        if quantity.expected_with and not any(path in given for path in quantity.expected_with):
            continue
        if name in derived:
            rows.append(Lack(name, words.UNDEFINED, ()))
        elif ways := unlocks(name, given, unit):
            rows.append(Lack(name, _reason(name, ways, given), ways))
    return Lacking(tuple(rows), {row.quantity: row.reason for row in rows}, _proposals(rows))


def proposals(of: Lacking, first: Sequence[str]) -> list[Proposal]:
    """What to add next: the entries that settle a doubt about the readings first, with what each unlocks alone."""
    settling = [Proposal((path,), tuple(row.quantity for row in of.rows if (path,) in row.ways)) for path in first]
    rest = [row for row in of.proposals if row.add not in {one.add for one in settling}]
    return [*settling, *rest][:_MOST_PROPOSALS]


def _reason(name: str, ways: tuple[tuple[str, ...], ...], given: frozenset[str]) -> str:
    reason = words.needs(ways[:2])
    if name in ("compressor_current", "compressor_apparent_power", "compressor_current_share") and (
        READING + "compressor_start_winding_current" in given and READING + "compressor_common_current" not in given
    ):
        reason += f" {words.NOT_THE_DRAW}"
    if name == "airflow_for_rated_capacity" and RATED + "cooling_capacity" in given:
        reason = f"{words.NOT_MEASURED} {reason}"
    return reason


def _proposals(rows: list[Lack]) -> tuple[Proposal, ...]:
    """At most five sets of fields, by what they unlock for their effort.

    A quantity with a limit counts ten times one without.  A set unlocks every quantity
    one of whose ways is contained in it.
    """
    ways: dict[frozenset[str], set[str]] = {}
    for row in rows:
        for way in row.ways:
            ways.setdefault(frozenset(way), set()).add(row.quantity)
    found = []
    for candidate in ways:
        within = set().union(*(names for way, names in ways.items() if way <= candidate))
        unlocked = tuple(row.quantity for row in rows if row.quantity in within)
        worth = sum(10 if name in LIMITED else 1 for name in unlocked)
        found.append((-worth / (1 + effort(candidate)), tuple(sorted(candidate)), unlocked))
    found.sort(key=lambda row: row[:2])
    chosen: list[Proposal] = []
    covered: set[str] = set()
    for _, add, unlocked in found:
        if len(chosen) < _MOST_PROPOSALS and not set(unlocked) <= covered:
            chosen.append(Proposal(add, unlocked))
            covered |= set(unlocked)
    return tuple(chosen)
