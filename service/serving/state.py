"""Whether the service is stopping, and what counts the problems that never reach the application."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any


def _uncounted(problem: Mapping[str, Any]) -> None:
    del problem


@dataclass(slots=True)
class ServiceState:
    """Shared by the server, its connections and the readiness probe.

    ``count`` is called with each problem that a connection answers itself.
    """

    draining: bool = False
    count: Callable[[Mapping[str, Any]], None] = _uncounted
