"""What a report holds: texts and tables, before anything is laid out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from schemas.pictures import Audience
from service.render.drawing import Drawing
from service.render.summary import Summary


@dataclass(frozen=True, slots=True)
class Table:
    """A table: its heads and rows of texts.

    ``order`` names the rows from the one that matters most (empty: as they stand); ``left_out`` counts
    those that were left out for want of room.
    """

    heads: tuple[str, ...]
    rows: Sequence[tuple[str, ...]]
    order: Sequence[int] = ()
    left_out: int = 0


@dataclass(frozen=True, slots=True)
class Report:
    """All that the page shows; pictures in two columns; ``which`` run the limits are about.

    ``information`` decides nothing and is in doubt about nothing.
    """

    title: str
    audience: Audience
    facts: Sequence[tuple[str, str]]
    summary: Summary
    pictures: tuple[Sequence[Drawing], Sequence[Drawing]]
    which: str
    outside: Sequence[str]
    inside: str
    notices: Sequence[str]
    undecided: Sequence[str]
    cautions: Sequence[tuple[str, str]]
    readings: Table
    values: Table
    instruments: Sequence[str]
    method: Sequence[str]
    sources: Sequence[str]
    information: Sequence[str] = ()
