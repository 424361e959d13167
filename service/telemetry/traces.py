"""Traces by OpenTelemetry, if switched on: a span for each request, and one for its computation.

Off unless :func:`start_traces` is called (setting ``SERVICE_TRACES``).  OpenTelemetry's own variables say where
spans go, which are sampled, and under which name: ``OTEL_EXPORTER_OTLP_ENDPOINT``, ``OTEL_EXPORTER_OTLP_HEADERS``,
``OTEL_TRACES_SAMPLER``, ``OTEL_SERVICE_NAME``, ``OTEL_RESOURCE_ATTRIBUTES``.
The packages that record and send spans are an extra (``traces``), imported only when needed; OpenTelemetry's
interface comes with the framework.

A span holds the method, the route's template, sizes and the status: no path, no query, nothing of a body, and
only the type of an exception.
"""

from __future__ import annotations

from collections.abc import Callable
from contextvars import ContextVar
from time import time_ns
from typing import TYPE_CHECKING

from opentelemetry.context import Context
from opentelemetry.trace import (
    Span,
    SpanKind,
    Status,
    StatusCode,
    Tracer,
    format_span_id,
    format_trace_id,
    set_span_in_context,
)
from opentelemetry.trace.propagation.tracecontext import TraceContextTextMapPropagator
from starlette.types import ASGIApp, Receive, Scope, Send

from service.reference.versions import SERVICE_VERSION
from service.telemetry.exchanges import OTHER_METHOD, PROBES, UNMATCHED, Exchange, watched
from service.telemetry.trace_context import (
    TRACEPARENT,
    TRACESTATE,
    Headers,
    TraceContext,
    parent_of,
    passed_on,
)

if TYPE_CHECKING:
    from opentelemetry.sdk.trace import TracerProvider
    from opentelemetry.sdk.trace.export import SpanExporter

#: The name of the service if OpenTelemetry's variables give none.
SERVICE_NAME = "split-system-readings"

#: Records a span within the current request; None outside of requests, or without traces.
_COMPUTED: ContextVar[Callable[[float, float, str], None] | None] = ContextVar("service.traces", default=None)


class TracesUnavailableError(RuntimeError):
    """Traces are switched on, but their packages are not installed."""


class Traces:
    """Records spans and exports them in the background; :meth:`close` sends what is left."""

    def __init__(self, provider: TracerProvider) -> None:
        self._provider = provider
        self.tracer: Tracer = provider.get_tracer("service", SERVICE_VERSION)

    def close(self) -> None:
        """Send what is left and stop, which may take as long as the exporter's time limit."""
        self._provider.shutdown()


def start_traces(exporter: SpanExporter | None = None) -> Traces:
    """Begin to record spans.

    Parameters
    ----------
    exporter : SpanExporter, optional
        Where they go, each as soon as it ends; if left out, by OTLP over HTTP as OpenTelemetry's variables say.

    Raises
    ------
    TracesUnavailableError
        If OpenTelemetry's packages are not installed.
    """
    try:
        from opentelemetry.exporter.otlp.proto.http.trace_exporter import (  # noqa: PLC0415
            OTLPSpanExporter,
        )
        from opentelemetry.sdk.resources import (  # noqa: PLC0415
            OTELResourceDetector,
            Resource,
        )
        from opentelemetry.sdk.trace import TracerProvider  # noqa: PLC0415
        from opentelemetry.sdk.trace.export import (  # noqa: PLC0415
            BatchSpanProcessor,
            SimpleSpanProcessor,
        )
    except ImportError as error:
        raise TracesUnavailableError(
            f"SERVICE_TRACES switches traces on, but {error.name or 'OpenTelemetry'} is not installed. Install the "
            "extra `traces` (opentelemetry-sdk, opentelemetry-exporter-otlp-proto-http), or leave SERVICE_TRACES out."
        ) from error
    usual = Resource.create({"service.name": SERVICE_NAME, "service.version": SERVICE_VERSION})
    provider = TracerProvider(resource=usual.merge(OTELResourceDetector().detect()))
    provider.add_span_processor(
        BatchSpanProcessor(OTLPSpanExporter()) if exporter is None else SimpleSpanProcessor(exporter)
    )
    return Traces(provider)


def computed(*, waiting_seconds: float, computing_seconds: float, process: str) -> None:
    """Record that a process has just computed the current request; without traces, do nothing.

    Parameters
    ----------
    waiting_seconds : float
        How long the request waited for it.
    computing_seconds : float
        How long it computed.
    process : str
        Which process, by its place.
    """
    record = _COMPUTED.get()
    if record is not None:
        record(waiting_seconds, computing_seconds, process)


class RequestTraces:
    """Pure ASGI: a span for each request except probes.

    It wraps :class:`service.telemetry.logs.RequestLog`, which takes trace and span from here.
    """

    def __init__(self, app: ASGIApp, traces: Traces) -> None:
        self.app, self.traces = app, traces

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Wrap one request."""
        if scope["type"] != "http" or scope["path"] in PROBES:
            await self.app(scope, receive, send)
            return
        span = self.traces.tracer.start_span("HTTP", _parent(scope["headers"]), SpanKind.SERVER)
        scope["trace_context"] = trace = _place(span, scope["headers"])
        scope["headers"] = passed_on(scope["headers"], trace)
        with watched(scope, receive, send) as (exchange, receive_on, send_on):
            token = _COMPUTED.set(self._recorder(span))
            failed: str | None = None
            try:
                await self.app(scope, receive_on, send_on)
            except BaseException as error:
                failed = type(error).__name__
                raise
            finally:
                _COMPUTED.reset(token)
                _end(span, scope, exchange, failed)

    def _recorder(self, span: Span) -> Callable[[float, float, str], None]:
        within = set_span_in_context(span)

        def record(waiting: float, computing: float, process: str) -> None:
            now = time_ns()
            child = self.traces.tracer.start_span(
                "compute",
                within,
                attributes={
                    "readings.waiting_seconds": waiting,
                    "readings.computing_seconds": computing,
                    "readings.process": process,
                },
                start_time=now - round((waiting + computing) * 1e9),
            )
            child.end(now)

        return record


def _parent(headers: Headers) -> Context:
    """The caller's span, if its header is valid."""
    headers = list(headers)
    if parent_of(headers) is None:
        return Context()
    carrier = {
        name.lower().decode("latin-1"): value.decode("latin-1")
        for name, value in headers
        if name.lower() in (TRACEPARENT, TRACESTATE)
    }
    return TraceContextTextMapPropagator().extract(carrier, Context())


def _place(span: Span, headers: Headers) -> TraceContext:
    own, parent = span.get_span_context(), parent_of(headers)
    return TraceContext(
        format_trace_id(own.trace_id),
        format_span_id(own.span_id),
        None if parent is None else parent.span_id,
        own.trace_flags.sampled,
    )


def _end(span: Span, scope: Scope, exchange: Exchange, failed: str | None) -> None:
    """Name the span by what is known now, following OpenTelemetry's conventions for HTTP."""
    route, status, method = exchange.route, exchange.status, exchange.method
    name = "HTTP" if method == OTHER_METHOD else method
    span.update_name(name if route == UNMATCHED else f"{name} {route}")
    span.set_attribute("http.request.method", "_OTHER" if method == OTHER_METHOD else method)
    span.set_attribute("http.request.body.size", exchange.bytes_in)
    span.set_attribute("http.response.body.size", exchange.bytes_out)
    span.set_attribute("url.scheme", str(scope.get("scheme", "http")))
    if route != UNMATCHED:
        span.set_attribute("http.route", route)
    if status is not None:
        span.set_attribute("http.response.status_code", status)
    if exchange.client_left:
        span.set_attribute("readings.client_left", True)
    if "request_id" in scope:
        span.set_attribute("readings.request_id", scope["request_id"])
    if failed is not None or (status is not None and status >= 500):
        span.set_attribute("error.type", failed or str(status))
        span.set_status(Status(StatusCode.ERROR))
    span.end()
