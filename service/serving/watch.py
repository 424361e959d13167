"""Metrics of a service, fed by its processes and connections."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from service.edge.problems import PROBLEM_TYPES
from service.reference.versions import COOLPROP_VERSION
from service.serving.state import ServiceState
from service.telemetry.counts import PROBLEMS
from service.telemetry.metrics import Metrics, create_metrics


class Watch:
    """Counts the events of processes and connections."""

    def __init__(self, metrics: Metrics) -> None:
        self.metrics = metrics

    def replaced(self, reason: str) -> None:
        """A process ended, and another takes its place."""
        self.metrics.processes_replaced.labels(reason).inc()

    def count(self, problem: Mapping[str, Any]) -> None:
        """A connection answered with a problem of its own."""
        kind = str(problem["type"]).rpartition("/")[2]
        self.metrics.count(PROBLEMS.name, (kind, "request"), 1)


def watching(state: ServiceState) -> Watch:
    """Metrics at zero that count whatever connections refuse."""
    watch = Watch(create_metrics(property_model=f"CoolProp {COOLPROP_VERSION}", problem_types=PROBLEM_TYPES))
    state.count = watch.count
    return watch
