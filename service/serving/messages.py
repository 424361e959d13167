"""What the front sends to a computing process, and what it gets back."""

from __future__ import annotations

from dataclasses import dataclass, field

from service.telemetry.counts import Counts

Headers = list[tuple[bytes, bytes]]


@dataclass(frozen=True, slots=True)
class Forwarded:
    """One request, received in full."""

    method: str
    path: str
    raw_path: bytes
    query: bytes
    headers: Headers
    body: bytes


@dataclass(frozen=True, slots=True)
class Reply:
    """Its answer, the time that computing took [s], and what was counted."""

    status: int
    headers: Headers
    body: bytes
    seconds: float
    counts: Counts = field(default_factory=dict)
