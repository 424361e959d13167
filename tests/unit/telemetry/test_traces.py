"""Traces: a span for each request and one for its computing, in the caller's trace, without what was asked."""

from __future__ import annotations

import http.server
import json
import subprocess
import sys
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient
from opentelemetry.proto.collector.trace.v1.trace_service_pb2 import ExportTraceServiceRequest
from opentelemetry.sdk.trace import ReadableSpan
from opentelemetry.sdk.trace.export.in_memory_span_exporter import InMemorySpanExporter
from opentelemetry.trace import SpanKind, StatusCode
from starlette.requests import Request
from starlette.responses import PlainTextResponse
from starlette.types import Receive, Scope, Send

from service.app import create_app
from service.edge.request_ids import RequestIds
from service.edge.settings import Settings
from service.reference.versions import SERVICE_VERSION
from service.telemetry.logs import RequestLog
from service.telemetry.trace_context import TraceContext, parent_of
from service.telemetry.traces import (
    RequestTraces,
    Traces,
    TracesUnavailableError,
    computed,
    start_traces,
)

ROOT = Path(__file__).parents[3]
#: An example of the recommendation (W3C Trace Context, 3.2.3).
TRACE, PARENT = "4bf92f3577b34da6a3ce929d0e0e4736", "00f067aa0ba902b7"


@pytest.fixture
def kept() -> Iterator[tuple[Traces, InMemorySpanExporter]]:
    """Traces whose spans stay in memory."""
    exporter = InMemorySpanExporter()
    traces = start_traces(exporter)
    yield traces, exporter
    traces.close()


def attributes(span: ReadableSpan) -> dict[str, Any]:
    return dict(span.attributes or {})


class Small:
    """An application that computes, fails or answers with an error, and remembers its scope."""

    def __init__(self) -> None:
        self.trace: TraceContext | None = None
        self.headers: list[tuple[bytes, bytes]] = []

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        self.trace, self.headers = scope["trace_context"], scope["headers"]
        scope["route_template"] = "/v1/plots/{plot}"
        request = Request(scope, receive)
        await request.body()
        computed(waiting_seconds=0.25, computing_seconds=1.5, process="2")
        if "fail" in request.query_params:
            raise ValueError("SECRET")
        status = int(request.query_params.get("status", "200"))
        await PlainTextResponse("twelve bytes", status)(scope, receive, send)


def test_a_request_and_its_computing(kept: tuple[Traces, InMemorySpanExporter]) -> None:
    """Named by method and template; the computing within it, with its times."""
    traces, exporter = kept
    app = Small()
    client = TestClient(RequestIds(RequestTraces(RequestLog(app), traces)))
    response = client.post("/v1/plots/SECRET?status=201", content="seven b")
    compute, request = exporter.get_finished_spans()
    assert request.name == "POST /v1/plots/{plot}"
    assert request.kind is SpanKind.SERVER
    assert request.parent is None
    assert request.status.status_code is StatusCode.UNSET
    assert attributes(request) == {
        "http.request.method": "POST",
        "http.route": "/v1/plots/{plot}",
        "http.request.body.size": 7,
        "http.response.body.size": 12,
        "http.response.status_code": 201,
        "url.scheme": "http",
        "readings.request_id": response.headers["x-request-id"],
    }
    assert request.resource.attributes["service.name"] == "split-system-readings"
    assert request.resource.attributes["service.version"] == SERVICE_VERSION
    assert compute.name == "compute"
    assert compute.kind is SpanKind.INTERNAL
    assert compute.parent is not None
    assert request.context is not None
    assert compute.parent.span_id == request.context.span_id
    assert attributes(compute) == {
        "readings.waiting_seconds": 0.25,
        "readings.computing_seconds": 1.5,
        "readings.process": "2",
    }
    assert compute.end_time is not None
    assert compute.start_time is not None
    assert compute.end_time - compute.start_time == 1_750_000_000
    assert "SECRET" not in request.to_json() + compute.to_json()


def test_the_callers_trace_is_continued(kept: tuple[Traces, InMemorySpanExporter]) -> None:
    """Here, in the log, and in the header for the computing process; an invalid header begins a new trace."""
    traces, exporter = kept
    app = Small()
    client = TestClient(RequestTraces(RequestLog(app), traces))
    headers = {"traceparent": f"00-{TRACE}-{PARENT}-01", "tracestate": "a=b"}
    client.get("/", headers=headers)
    request = exporter.get_finished_spans()[-1]
    assert request.context is not None
    assert request.parent is not None
    assert f"{request.context.trace_id:032x}" == TRACE
    assert f"{request.parent.span_id:016x}" == PARENT
    assert request.parent.is_remote
    assert request.context.trace_state.get("a") == "b"
    own = f"{request.context.span_id:016x}"
    assert app.trace == TraceContext(TRACE, own, PARENT, sampled=True)
    assert dict(app.headers)[b"traceparent"].decode() == f"00-{TRACE}-{own}-01"
    assert dict(app.headers)[b"tracestate"] == b"a=b"
    client.get("/", headers={"traceparent": f"00-{TRACE.upper()}-{PARENT}-01", "tracestate": "a=b"})
    request = exporter.get_finished_spans()[-1]
    assert request.context is not None
    assert request.parent is None
    assert f"{request.context.trace_id:032x}" != TRACE
    assert b"tracestate" not in dict(app.headers)
    # A caller that samples none of its trace is heeded.
    exporter.clear()
    client.get("/", headers={"traceparent": f"00-{TRACE}-{PARENT}-00"})
    assert exporter.get_finished_spans() == ()
    found = parent_of(app.headers)
    assert found is not None
    assert (found.trace_id, found.sampled) == (TRACE, False)


def test_errors_have_a_type_and_no_text(kept: tuple[Traces, InMemorySpanExporter]) -> None:
    """Of the service; an error of the client is not one of the span."""
    traces, exporter = kept
    client = TestClient(RequestTraces(RequestLog(Small()), traces), raise_server_exceptions=False)
    for query, code, error in (
        ("status=422", StatusCode.UNSET, None),
        ("status=503", StatusCode.ERROR, "503"),
        ("fail=1", StatusCode.ERROR, "ValueError"),
    ):
        client.get(f"/?{query}")
        span = exporter.get_finished_spans()[-1]
        assert span.status.status_code is code
        assert span.status.description is None
        assert attributes(span).get("error.type") == error
        assert span.events == ()
        assert "SECRET" not in span.to_json()


def test_probes_and_odd_requests(kept: tuple[Traces, InMemorySpanExporter]) -> None:
    """Probes make no span; what matched nothing is named by its method, an odd method by none."""
    traces, exporter = kept
    app = create_app(Settings(batch_processes=0))
    client = TestClient(RequestTraces(RequestLog(app), traces))
    for path in ("/health/live", "/health/ready", "/metrics"):
        client.get(path)
    assert exporter.get_finished_spans() == ()
    client.get("/SECRET?SECRET=1")
    client.request("SECRET", "/v1/assessments")
    unmatched, odd = exporter.get_finished_spans()
    assert (unmatched.name, odd.name) == ("GET", "HTTP /v1/assessments")
    assert attributes(odd)["http.request.method"] == "_OTHER"
    assert "http.route" not in attributes(unmatched)
    assert "SECRET" not in unmatched.to_json() + odd.to_json()


def test_spans_go_where_the_variables_say(monkeypatch: pytest.MonkeyPatch) -> None:
    """By OTLP over HTTP, under the name that they give; what is left is sent when traces are closed."""
    received: list[tuple[str, bytes]] = []

    class Collector(http.server.BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            length = int(self.headers["Content-Length"])
            received.append((self.path, self.rfile.read(length)))
            self.send_response(200)
            self.send_header("Content-Length", "0")
            self.end_headers()

        def log_message(self, format: str, *args: Any) -> None:  # noqa: ANN401
            pass

    with http.server.HTTPServer(("127.0.0.1", 0), Collector) as server:
        threading.Thread(target=server.serve_forever, daemon=True).start()
        monkeypatch.setenv("NO_PROXY", "127.0.0.1")
        monkeypatch.setenv("OTEL_EXPORTER_OTLP_ENDPOINT", f"http://127.0.0.1:{server.server_port}")
        monkeypatch.setenv("OTEL_SERVICE_NAME", "readings-of-a-test")
        traces = start_traces()
        client = TestClient(RequestTraces(RequestLog(Small()), traces))
        client.post("/v1/plots/SECRET?SECRET=1", json={"SECRET": 123.456789})
        traces.close()
        server.shutdown()
    (path, content), *rest = received
    assert rest == []
    assert path == "/v1/traces"
    assert b"SECRET" not in content
    (group,) = ExportTraceServiceRequest.FromString(content).resource_spans
    names = {row.key: row.value.string_value for row in group.resource.attributes}
    assert names["service.name"] == "readings-of-a-test"
    (scope,) = group.scope_spans
    assert sorted(span.name for span in scope.spans) == ["POST /v1/plots/{plot}", "compute"]


def test_without_the_extra_nothing_is_lost_but_traces(monkeypatch: pytest.MonkeyPatch) -> None:
    """Asked for, it is said what to install; not asked for, nothing of the extra is imported."""
    monkeypatch.setitem(sys.modules, "opentelemetry.exporter.otlp.proto.http.trace_exporter", None)
    with pytest.raises(TracesUnavailableError, match="Install the extra `traces`"):
        start_traces()
    computed(waiting_seconds=0.0, computing_seconds=0.0, process="1")
    code = (
        "import sys, service.app, service.telemetry.logs, service.telemetry.metrics, "
        "service.telemetry.traces as traces; "
        "traces.computed(waiting_seconds=0.0, computing_seconds=0.0, process='1'); "
        "print([n for n in sys.modules if n.startswith(('opentelemetry.sdk', 'opentelemetry.exporter'))])"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, check=True, capture_output=True, text=True)
    assert json.loads(done.stdout) == []
