"""The answers to a chunk of lines. A module of its own, so that what passes them on need not load what makes them."""

from __future__ import annotations

from dataclasses import dataclass, field

from service.telemetry.counts import Counts


@dataclass(frozen=True, slots=True)
class Tally:
    """The number of answers of each kind."""

    assessments: int = 0
    comparisons: int = 0
    problems: int = 0
    checks: int = 0

    def __add__(self, other: Tally) -> Tally:
        return Tally(
            self.assessments + other.assessments,
            self.comparisons + other.comparisons,
            self.problems + other.problems,
            self.checks + other.checks,
        )

    @property
    def answered(self) -> int:
        """Their sum."""
        return self.assessments + self.comparisons + self.checks + self.problems


@dataclass(frozen=True, slots=True)
class Answered:
    """The answers to a chunk, each with its line end; how many of each kind; and what else was counted."""

    content: bytes
    tally: Tally
    counts: Counts = field(default_factory=dict)
