"""Whether the service was told to stop."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(slots=True)
class State:
    """Shared by the server, its connections and the readiness probe."""

    draining: bool = False
