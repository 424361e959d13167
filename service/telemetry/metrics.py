"""Metrics for Prometheus: one registry, made by :func:`create_metrics`, held by the process that serves.

Names follow Prometheus' conventions (base units, `_total`).  The number of label values is bounded: route
templates, methods, statuses, and words of the contract.
"""

from __future__ import annotations

import platform
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import AbstractContextManager
from functools import partial

from prometheus_client import (
    CollectorRegistry,
    Counter,
    Gauge,
    Histogram,
    Info,
    PlatformCollector,
    ProcessCollector,
    disable_created_metrics,
)
from prometheus_client.core import CounterMetricFamily, GaugeMetricFamily, Metric
from prometheus_client.exposition import choose_encoder
from prometheus_client.registry import Collector
from starlette.types import ASGIApp, Receive, Scope, Send

from service.reference.versions import SERVICE_VERSION
from service.telemetry.counts import COUNTED, PROBLEMS, counted_by
from service.telemetry.exchanges import watched

#: From a cached page to the longest request allowed.
SECONDS = (
    0.001,
    0.0025,
    0.005,
    0.01,
    0.025,
    0.05,
    0.1,
    0.25,
    0.5,
    1.0,
    2.5,
    5.0,
    10.0,
    30.0,
)

#: Why a request was not computed, or not to its end, by the type of its problem.
_REFUSED_BY: Mapping[str, str] = {
    "overloaded": "full",
    "too-large": "too_large",
    "head-too-large": "too_large",
    "stalled": "slow_client",
    "timed-out": "timed_out",
    "unauthorised": "unauthorised",
}
REFUSED = tuple(dict.fromkeys(_REFUSED_BY.values()))
#: Why a computing process was replaced.
REPLACED = ("died", "timed_out")

_OTHER = "other"


class Metrics:
    """All metrics of one process that serves; every attribute is one, and every name begins with `readings_`.

    Parameters
    ----------
    registry : CollectorRegistry
        Where they are registered.
    property_model : str
        The library of refrigerant properties, with its version.
    problem_types : iterable of str
        All types of problem, so that each appears from the start, at zero.
    """

    def __init__(self, registry: CollectorRegistry, property_model: str, problem_types: Iterable[str]) -> None:
        self.registry = registry
        self._requests(registry)
        self._answers(registry, problem_types)
        self._serving(registry)
        build = Info(
            "readings_build",
            "Versions of the service, of its property model and of Python.",
            registry=registry,
        )
        build.info(
            {
                "version": SERVICE_VERSION,
                "property_model": property_model,
                "python": platform.python_version(),
            }
        )
        ProcessCollector(registry=registry)
        PlatformCollector(registry=registry)

    def _requests(self, registry: CollectorRegistry) -> None:
        of_request = ("method", "route", "status")
        self.requests = Counter(
            "readings_http_requests_total",
            "Requests answered, by route template.",
            of_request,
            registry=registry,
        )
        self.request_duration = Histogram(
            "readings_http_request_duration_seconds",
            "Time from a request's arrival to the last byte of its response.",
            of_request,
            buckets=SECONDS,
            registry=registry,
        )
        self.requests_in_flight = Gauge(
            "readings_http_requests_in_flight",
            "Requests being answered.",
            registry=registry,
        )
        self.request_bytes = Counter(
            "readings_http_request_bytes_total",
            "Bytes of request bodies read.",
            ("route",),
            registry=registry,
        )
        self.response_bytes = Counter(
            "readings_http_response_bytes_total",
            "Bytes of response bodies sent.",
            ("route",),
            registry=registry,
        )
        self.clients_left = Counter(
            "readings_http_clients_left_total",
            "Requests whose client left before its response was complete.",
            ("route",),
            registry=registry,
        )

    def _answers(self, registry: CollectorRegistry, problem_types: Iterable[str]) -> None:
        self._counters = {
            name: Counter(f"readings_{name}_total", row.description, tuple(row.labels), registry=registry)
            for name, row in COUNTED.items()
        }
        # A counter that appears with its first event hides that event from `rate`, so all appear from the start.
        for name, row in COUNTED.items():
            if len(row.labels) == 1:
                for value in next(iter(row.labels.values())):
                    self._counters[name].labels(value)
        for type_ in problem_types:
            self._counters[PROBLEMS.name].labels(type_, "request")

    def _serving(self, registry: CollectorRegistry) -> None:
        def gauge(name: str, description: str) -> Gauge:
            return Gauge(f"readings_{name}", description, registry=registry)

        self.batches_under_way = gauge("batches_under_way", "Batches being answered.")
        self.batch_chunks_under_way = gauge(
            "batch_chunks_under_way",
            "Chunks of batches being computed, or whose answers have not been taken.",
        )
        self.processes_alive = gauge("computing_processes_alive", "Processes that can compute requests.")
        self.processes_busy = gauge("computing_processes_busy", "Processes computing a request.")
        self.requests_waiting = gauge("requests_waiting", "Requests waiting for a process.")
        self.waiting = Histogram(
            "readings_request_waiting_seconds",
            "Time that requests waited for a process.",
            buckets=SECONDS,
            registry=registry,
        )
        self.computing = Histogram(
            "readings_request_computing_seconds",
            "Time that a process took to compute a request.",
            buckets=SECONDS,
            registry=registry,
        )
        self.requests_refused = Counter(
            "readings_requests_refused_total",
            "Requests not computed, or not to their end, by reason.",
            ("reason",),
            registry=registry,
        )
        self.processes_replaced = Counter(
            "readings_computing_processes_replaced_total",
            "Computing processes that ended and were replaced, by reason.",
            ("reason",),
            registry=registry,
        )
        for reason in REFUSED:
            self.requests_refused.labels(reason)
        for reason in REPLACED:
            self.processes_replaced.labels(reason)

    def count(self, name: str, values: tuple[str, ...], number: float) -> None:
        """Add what :mod:`service.telemetry.counts` counted; this is its sink."""
        row = COUNTED[name]
        known = (
            value if not allowed or value in allowed else _OTHER
            for value, allowed in zip(values, row.labels.values(), strict=True)
        )
        if name == PROBLEMS.name and values[0] in _REFUSED_BY and values[1] == "request":
            self.requests_refused.labels(_REFUSED_BY[values[0]]).inc(number)
        counter = self._counters[name]
        (counter.labels(*known) if values else counter).inc(number)

    def counting(self) -> AbstractContextManager[None]:
        """Within, whatever is counted is added here."""
        return counted_by(self.count)

    def watch_processes(self, numbered: Callable[[], Mapping[str, int]]) -> None:
        """Include memory and processor time of computing processes.

        ``numbered`` gives the process id of each place (`1`, `2`, ...) whenever the metrics are read.
        """
        self.registry.register(_Processes(numbered))


def create_metrics(*, property_model: str, problem_types: Iterable[str] = ()) -> Metrics:
    """Metrics in a registry of their own, all at zero."""
    disable_created_metrics()  # the time at which each series began: nobody asks, and it doubles the series
    return Metrics(CollectorRegistry(), property_model, problem_types)


def exposition(registry: CollectorRegistry, accept: str | None) -> tuple[bytes, str]:
    """The metrics as text, and its media type: Prometheus' own form, or OpenMetrics on request."""
    try:
        encoder, media_type = choose_encoder(accept or "")
    except (TypeError, ValueError):  # it fails on a malformed version
        encoder, media_type = choose_encoder("")
    return encoder(registry), media_type


class _Processes(Collector):
    """Memory and processor time of computing processes, by place, read on demand."""

    def __init__(self, numbered: Callable[[], Mapping[str, int]]) -> None:
        self._numbered = numbered

    def collect(self) -> Iterator[Metric]:
        memory = GaugeMetricFamily(
            "readings_computing_process_resident_memory_bytes",
            "Resident memory of a computing process, by its place.",
            labels=["process"],
        )
        spent = CounterMetricFamily(
            "readings_computing_process_cpu_seconds_total",
            "Processor time of a computing process, by its place; starts at zero when it is replaced.",
            labels=["process"],
        )
        for place, process in self._numbered().items():
            of_process = ProcessCollector(pid=partial(int, process), registry=None)
            found = {sample.name: sample.value for family in of_process.collect() for sample in family.samples}
            if found:  # it may have ended in the meantime
                memory.add_metric([place], found["process_resident_memory_bytes"])
                spent.add_metric([place], found["process_cpu_seconds_total"])
        yield memory
        yield spent

    def describe(self) -> list[Metric]:
        # Called at registration, before there are any processes.
        return []


class RequestMetrics:
    """Pure ASGI: counts each request, and whatever is counted of its answer.

    It wraps the whole application, as :class:`service.telemetry.logs.RequestLog` does.
    """

    def __init__(self, app: ASGIApp, metrics: Metrics) -> None:
        self.app, self.metrics = app, metrics

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Wrap one request."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        metrics = self.metrics
        with (
            watched(scope, receive, send) as (exchange, receive_on, send_on),
            metrics.requests_in_flight.track_inprogress(),
        ):
            try:
                with metrics.counting():
                    await self.app(scope, receive_on, send_on)
            finally:
                route = exchange.route
                # None if the client left, or the application failed, before the response began.
                labels = (exchange.method, route, str(exchange.status or "none"))
                metrics.requests.labels(*labels).inc()
                metrics.request_duration.labels(*labels).observe(exchange.seconds)
                metrics.request_bytes.labels(route).inc(exchange.bytes_in)
                metrics.response_bytes.labels(route).inc(exchange.bytes_out)
                if exchange.client_left:
                    metrics.clients_left.labels(route).inc()
