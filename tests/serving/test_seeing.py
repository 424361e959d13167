"""What an operator sees of a service: metrics and log of the front and of the processes behind it."""

from __future__ import annotations

import json
import re
import signal
from typing import Any

import pytest
from prometheus_client.parser import text_string_to_metric_families

from tests.serving.running import PATIENCE, ROOT, Running, serving

SECRET = "nobody-may-read-this"


def metric(running: Running, name: str, **labels: str) -> float:
    """The value of one series; 0 if it does not exist."""
    text = running.get("/metrics").body.decode()
    return sum(
        sample.value
        for family in text_string_to_metric_families(text)
        for sample in family.samples
        if sample.name == name and labels.items() <= sample.labels.items()
    )


@pytest.mark.slow
def test_metrics_and_log_of_the_service_itself() -> None:
    """Counts made in computing processes come to the metrics; the log has ids and nothing of a body."""
    body = json.loads((ROOT / "schemas/examples/r410a_capacity.json").read_text("utf-8"))
    body["labels"] = {"customer": SECRET}
    body["run"]["readings"]["suction_line_temperature"] = 55.50625817
    trace = "0af7651916cd43dd8448eb211c80319c"
    parent = f"traceparent: 00-{trace}-b7ad6b7169203331-01\r\nX-Request-Id: visit-77\r\n"
    with serving("service", capture=True, processes=1, batch_processes=1) as running:
        answer = running.post("/v1/assessments", json.dumps(body).encode(), parent)
        assert answer.status == 200
        assert answer.headers["x-request-id"] == "visit-77"
        refused = running.post(f"/v1/assessments?{SECRET}=1", json.dumps(body).encode())
        assert refused.status == 422
        wrong = running.post("/v1/assessments", json.dumps({SECRET: SECRET}).encode())
        assert wrong.status == 422
        assert running.get(f"/v1/{SECRET}").status == 404
        lines = json.dumps({"assessment": body}).encode() + b"\n" + SECRET.encode() + b"\n"
        batch = running.ask(
            f"POST /v1/batches HTTP/1.1\r\nContent-Type: application/x-ndjson\r\nContent-Length: {len(lines)}\r\n",
            lines,
        )
        assert batch.status == 200
        grades = re.findall(r'"grade":"(\w+)","probability', answer.body.decode())
        found = json.loads(answer.body)["findings"]
        assert len(grades) <= len(found)
        for grade in ("conforming", "nonconforming", "inconclusive", "not_assessed"):
            # The visit was assessed by itself, and as a line of the batch.
            expected = 2 * sum(row["grade"] == grade for row in found)
            assert metric(running, "readings_findings_total", grade=grade) == expected
        assert metric(running, "readings_draws_total") == 2 * 256
        assert metric(running, "readings_batch_lines_total", outcome="assessment") == 1
        assert metric(running, "readings_batch_lines_total", outcome="problem") == 1
        address = {"route": "/v1/assessments", "method": "POST"}
        assert metric(running, "readings_http_requests_total", status="200", **address) == 1
        assert metric(running, "readings_http_requests_total", status="422", **address) == 2
        assert metric(running, "readings_http_requests_total", route="unmatched", status="404") == 1
        assert metric(running, "readings_problems_total", type="invalid-request", part="request") == 2
        assert metric(running, "readings_computing_processes_alive") == 1
        assert metric(running, "readings_request_waiting_seconds_count") >= 4
        assert metric(running, "readings_computing_process_resident_memory_bytes", process="1") > 1e7
        running.process.send_signal(signal.SIGTERM)
        assert running.process.stderr is not None
        logged = running.process.stderr.read()
        assert running.process.wait(PATIENCE) == 0
    assert SECRET not in logged
    assert "50625817" not in logged
    rows: list[dict[str, Any]] = [json.loads(line) for line in logged.splitlines()]
    requests = [row for row in rows if row["event"] == "request"]
    (first,) = [row for row in requests if row.get("request_id") == "visit-77"]
    assert first["trace_id"] == trace
    assert first["parent_id"] == "b7ad6b7169203331"
    assert {row["route"] for row in requests} == {"/v1/assessments", "/v1/batches", "unmatched"}


def test_what_connections_refuse_is_counted_too() -> None:
    """A head too large, and what is not HTTP, never reach the application."""
    with serving(processes=1, maximum_head_bytes=1024) as running:
        assert running.get("/v1/echo", f"X: {'x' * 1024}\r\n").status == 431
        assert running.get("/v1/echo", f"X: {'x' * 9000}\r\n").status == 431
        with running.connect() as connection:
            connection.sendall(b"\x00\x01\x02\x03")
            assert b"400" in connection.recv(65536)
        assert metric(running, "readings_requests_refused_total", reason="too_large") == 2
        assert metric(running, "readings_problems_total", type="invalid-http") == 1


def test_processes_that_die_and_take_too_long_are_counted() -> None:
    """By reason; and what is raised in one is logged without its words."""
    with serving(processes=1, request_seconds=0.3, capture=True) as running:
        assert running.post("/v1/die").status in (500, 503)
        assert metric(running, "readings_computing_processes_replaced_total", reason="died") >= 1
        status = 0
        while status != 504:  # the new process may not be there in time, on a busy machine
            status = running.post("/v1/sleep?seconds=600").status
            assert status in (503, 504)
        assert metric(running, "readings_computing_processes_replaced_total", reason="timed_out") >= 1
        assert metric(running, "readings_requests_refused_total", reason="timed_out") >= 1
        while status != 500:
            status = running.post("/v1/raise").status
            assert status in (500, 503, 504)
        running.process.send_signal(signal.SIGTERM)
        assert running.process.stderr is not None
        logged = running.process.stderr.read()
    assert "secret-of-the-body" not in logged
    assert "ValueError" in logged


def test_metrics_on_a_port_of_their_own() -> None:
    """And then nowhere else; or none at all."""
    with serving(processes=1, metrics="false") as running:
        assert running.get("/metrics").status == 404
    with serving(processes=1, metrics_port=0) as running:
        assert running.get("/metrics").status == 404
