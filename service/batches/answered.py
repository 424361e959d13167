"""The answers to a chunk of lines. A module of its own, so that what passes them on need not load what makes them."""

from __future__ import annotations

from dataclasses import dataclass, field, fields
from operator import add

from service.telemetry.counts import Counts


@dataclass(frozen=True, slots=True)
class Tally:
    """The number of answers of each kind."""

    assessments: int = 0
    comparisons: int = 0
    diagnoses: int = 0
    trends: int = 0
    checks: int = 0
    problems: int = 0

    def __add__(self, other: Tally) -> Tally:
        return Tally(*map(add, self._numbers, other._numbers))

    @property
    def answered(self) -> int:
        """Their sum."""
        return sum(self._numbers)

    @property
    def _numbers(self) -> list[int]:
        return [getattr(self, one.name) for one in fields(self)]


@dataclass(frozen=True, slots=True)
class Answered:
    """The answers to a chunk, each with its line end; how many of each kind; and what else was counted."""

    content: bytes
    tally: Tally
    counts: Counts = field(default_factory=dict)
