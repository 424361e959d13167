"""Metrics: what the registry exposes, in which form, and that nobody can make it grow."""

from __future__ import annotations

import asyncio
import os
import platform
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import prometheus_client
import pytest
from fastapi.testclient import TestClient
from prometheus_client import CollectorRegistry
from prometheus_client.openmetrics import parser as openmetrics
from prometheus_client.parser import text_string_to_metric_families
from starlette.types import Message, Receive, Scope, Send

from schemas.examples import examples
from service.app import create_app
from service.edge.problems import PROBLEM_TYPES
from service.edge.settings import Settings
from service.reference.versions import SERVICE_VERSION
from service.telemetry import counts
from service.telemetry.metrics import (
    REFUSED,
    REPLACED,
    SECONDS,
    Metrics,
    RequestMetrics,
    create_metrics,
    exposition,
)

ROOT = Path(__file__).parents[3]


def whole() -> Metrics:
    """Metrics of which each has at least one series."""
    metrics = create_metrics(property_model="7", problem_types=PROBLEM_TYPES)
    metrics.watch_processes(lambda: {"1": os.getpid()})

    async def app(scope: Scope, receive: Receive, send: Send) -> None:
        scope["route_template"] = "/things/{thing}"
        await send({"type": "http.response.start", "status": 200, "headers": []})
        await receive()
        await send({"type": "http.response.body", "body": b"abc"})

    leave(RequestMetrics(app, metrics))
    return metrics


def leave(app: RequestMetrics) -> None:
    """A request whose client leaves before its response is whole."""

    async def receive() -> Message:
        return {"type": "http.disconnect"}

    async def send(message: Message) -> None:
        pass

    scope = {"type": "http", "method": "GET", "path": "/things/mine", "headers": []}
    asyncio.run(app(scope, receive, send))


def samples(registry: CollectorRegistry) -> dict[tuple[str, tuple[tuple[str, str], ...]], float]:
    """Every series with its value, read back from the exposition by the library's own parser."""
    text, _ = exposition(registry, None)
    return {
        (sample.name, tuple(sorted(sample.labels.items()))): sample.value
        for family in text_string_to_metric_families(text.decode())
        for sample in family.samples
    }


def value(metrics: Metrics, name: str, **labels: str) -> float:
    return samples(metrics.registry)[name, tuple(sorted(labels.items()))]


# ---------------------------------------------------------------- form


def test_the_form_is_as_asked() -> None:
    """Prometheus' own by default, OpenMetrics where it is asked for; both can be read."""
    registry = whole().registry
    no_version = "application/openmetrics-text;version=latest"
    for accept in (None, "", "*/*", "text/html", "text/plain;version=0.0.4", no_version):
        text, kind = exposition(registry, accept)
        assert kind == "text/plain; version=0.0.4; charset=utf-8"
        assert not text.endswith(b"# EOF\n")
        assert list(text_string_to_metric_families(text.decode()))
    # What Prometheus 2.42 sends.
    asked = (
        "application/openmetrics-text;version=1.0.0,application/openmetrics-text;version=0.0.1;q=0.75,"
        "text/plain;version=0.0.4;q=0.5,*/*;q=0.1"
    )
    text, kind = exposition(registry, asked)
    assert kind.startswith("application/openmetrics-text; version=1.0.0; charset=utf-8")
    assert text.endswith(b"# EOF\n")
    plain = {family.name for family in registry.collect()}
    assert {family.name for family in openmetrics.text_string_to_metric_families(text.decode())} == plain


def test_names_follow_the_conventions() -> None:
    """Prometheus, "Metric and label naming": a prefix, base units, `_total` for counters, a description each."""
    text, _ = exposition(whole().registry, None)
    families = list(text_string_to_metric_families(text.decode()))
    assert len({family.name for family in families}) == len(families)
    for family in families:
        assert re.fullmatch("(readings|process|python)_[a-z_]+[a-z]", family.name)
        assert family.documentation
        assert family.documentation.endswith(".") or family.name.startswith("python")
        for unit in (
            "milliseconds",
            "minutes",
            "kilobytes",
            "megabytes",
            "percent",
            "_ms",
            "_count",
        ):
            assert unit not in family.name
        for sample in family.samples:
            if family.type == "counter":
                assert sample.name == family.name + "_total"
            for label in sample.labels:
                assert re.fullmatch("[a-z_]+", label)
        if family.type == "gauge":
            assert not family.name.endswith("_total")
        if family.type == "histogram":
            assert family.name.endswith("_seconds")


def test_metrics_are_made_anew_each_time() -> None:
    """In a registry of their own; the library's global one holds none of them."""
    first, second = (create_metrics(property_model="1") for _ in range(2))
    first.batches_under_way.set(3)
    assert value(first, "readings_batches_under_way") == 3
    assert value(second, "readings_batches_under_way") == 0
    ours = {family.name for family in first.registry.collect() if family.name.startswith("readings")}
    theirs = {family.name for family in prometheus_client.REGISTRY.collect()}
    assert ours.isdisjoint(theirs)


def test_series_are_there_from_the_start() -> None:
    """At zero: a counter that appears with its first event hides that event from `rate`."""
    metrics = create_metrics(property_model="1", problem_types=PROBLEM_TYPES)
    found = samples(metrics.registry)
    for row in counts.COUNTED.values():
        if len(row.labels) == 1:
            ((label, words),) = row.labels.items()
            for word in words:
                assert found[f"readings_{row.name}_total", ((label, word),)] == 0
    for name in PROBLEM_TYPES:
        assert found["readings_problems_total", (("part", "request"), ("type", name))] == 0
    for reason in REFUSED:
        assert found["readings_requests_refused_total", (("reason", reason),)] == 0
    for reason in REPLACED:
        assert found["readings_computing_processes_replaced_total", (("reason", reason),)] == 0
    assert found["readings_draws_total", ()] == 0


def test_versions() -> None:
    """Of the service, of its property model, of Python."""
    metrics = create_metrics(property_model="7")
    labels = {
        "version": SERVICE_VERSION,
        "property_model": "7",
        "python": platform.python_version(),
    }
    assert value(metrics, "readings_build_info", **labels) == 1


def test_the_process_has_metrics() -> None:
    """Memory, processor time and open files, as the operating system has them."""
    metrics = create_metrics(property_model="1")
    assert value(metrics, "process_resident_memory_bytes") > 10e6
    assert value(metrics, "process_cpu_seconds_total") > 0.0
    assert value(metrics, "process_open_fds") >= 3


def test_computing_processes_have_metrics() -> None:
    """By their places; one that has ended is left out, and one that takes its place is seen."""
    metrics = create_metrics(property_model="1")
    child = subprocess.Popen(
        [sys.executable, "-c", "print('ready', flush=True); input()"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
    )
    assert child.stdout is not None
    assert child.stdout.readline() == b"ready\n"
    places = {"1": os.getpid(), "2": child.pid}
    metrics.watch_processes(lambda: places)
    name = "readings_computing_process_resident_memory_bytes"
    own = value(metrics, name, process="1")
    assert own == pytest.approx(value(metrics, "process_resident_memory_bytes"), rel=0.2)
    assert 1e6 < value(metrics, name, process="2") < own
    assert value(metrics, "readings_computing_process_cpu_seconds_total", process="1") > 0.0
    child.communicate(b"\n")
    assert (name, (("process", "2"),)) not in samples(metrics.registry)
    places["2"] = os.getpid()
    assert value(metrics, name, process="2") > 0.0


# ---------------------------------------------------------------- requests


@pytest.fixture
def measured() -> Iterator[tuple[TestClient, Metrics]]:
    """The service within its metrics."""
    metrics = create_metrics(property_model="1")
    app = create_app(Settings(batch_processes=0))
    with TestClient(RequestMetrics(app, metrics), raise_server_exceptions=False) as client:
        yield client, metrics


def test_requests_are_counted_by_template(measured: tuple[TestClient, Metrics]) -> None:
    """Whatever the paths were, with their bytes and the counts of their answers."""
    client, metrics = measured
    body = next(iter(examples().values()))
    answers = [client.post("/v1/assessments", json=body) for _ in range(3)]
    client.post("/v1/assessments", json={})
    for path in ("/a", "/b?c=d", "/e/f"):
        client.get(path)
    client.get("/v1/refrigerants/R-22?units=metric")
    client.get("/v1/refrigerants/R-32?units=metric")
    found = samples(metrics.registry)
    requests = {
        tuple(label for _, label in labels): number
        for (name, labels), number in found.items()
        if name == "readings_http_requests_total"
    }
    assert requests == {
        ("POST", "/v1/assessments", "200"): 3,
        ("POST", "/v1/assessments", "422"): 1,
        ("GET", "unmatched", "404"): 3,
        ("GET", "/v1/refrigerants/{designation}", "200"): 2,
    }
    of_assessments = {"method": "POST", "route": "/v1/assessments", "status": "200"}
    count = value(metrics, "readings_http_request_duration_seconds_count", **of_assessments)
    assert count == 3
    sent = sum(len(answer.request.content) for answer in answers) + len("{}")
    assert value(metrics, "readings_http_request_bytes_total", route="/v1/assessments") == sent
    received = value(metrics, "readings_http_response_bytes_total", route="/v1/assessments")
    assert received > sum(int(answer.headers["content-length"]) for answer in answers)
    draws = 3 * answers[0].json()["provenance"]["draws"]
    assert value(metrics, "readings_draws_total") == draws
    grades = [finding["grade"] for finding in answers[0].json()["findings"]]
    for grade in set(grades):
        told = value(metrics, "readings_findings_total", grade=grade)
        assert told == 3 * grades.count(grade)
    assert value(metrics, "readings_problems_total", type="not-found", part="request") == 3
    assert value(metrics, "readings_http_requests_in_flight") == 0


def test_durations_fall_into_buckets() -> None:
    """From a millisecond to half a minute, as their own clock has them."""
    assert (SECONDS[0], SECONDS[-1]) == (0.001, 30.0)
    assert sorted(SECONDS) == list(SECONDS)
    metrics = whole()
    labels = {"method": "GET", "route": "/things/{thing}", "status": "200"}
    name = "readings_http_request_duration_seconds"
    assert value(metrics, name + "_count", **labels) == 1
    assert value(metrics, name + "_bucket", le="+Inf", **labels) == 1
    took = value(metrics, name + "_sum", **labels)
    for bound in SECONDS:
        assert value(metrics, name + "_bucket", le=str(bound), **labels) == (took <= bound)


def test_requests_in_flight_and_those_that_are_lost() -> None:
    """One that fails, or whose client leaves before anything is sent, has no status."""
    metrics = create_metrics(property_model="1")
    seen = []

    async def failing(scope: Scope, receive: Receive, send: Send) -> None:
        seen.append(value(metrics, "readings_http_requests_in_flight"))
        await receive()
        raise OSError

    with pytest.raises(OSError):  # noqa: PT011 - raised here, without a text
        leave(RequestMetrics(failing, metrics))
    assert seen == [1]
    labels = {"method": "GET", "route": "unmatched", "status": "none"}
    assert value(metrics, "readings_http_requests_total", **labels) == 1
    assert value(metrics, "readings_http_clients_left_total", route="unmatched") == 1
    assert value(metrics, "readings_http_requests_in_flight") == 0


def test_nobody_can_make_the_registry_grow(measured: tuple[TestClient, Metrics]) -> None:
    """Not by paths, methods or names of things; an unknown word is `other`."""
    client, metrics = measured
    for method, path in (("ODD", "/"), ("get", "/"), ("GET", "/x"), ("POST", "/v1/plots/a")):
        client.request(method, path)
    before = len(samples(metrics.registry))
    for n in range(20):
        client.request(f"ODD{n}", "/")
        client.get(f"/x/{n}?{n}")
        client.post(f"/v1/plots/{n}")
    assert len(samples(metrics.registry)) == before
    for n in range(20):
        metrics.count("findings", (f"grade{n}",), 1)
    assert len(samples(metrics.registry)) == before + 1
    assert value(metrics, "readings_findings_total", grade="other") == 20


def test_what_is_sent_from_elsewhere_is_added() -> None:
    """As a computing process sends it with its answer."""
    metrics = create_metrics(property_model="1")
    sent: counts.Counts = {("findings", ("conforming",)): 4, ("draws", ()): 256}
    with metrics.counting():
        counts.add_all(sent)
        counts.add_all(sent)
    counts.add_all(sent)
    assert value(metrics, "readings_findings_total", grade="conforming") == 8
    assert value(metrics, "readings_draws_total") == 512


def exposed(registry: CollectorRegistry) -> dict[str, tuple[str, tuple[str, ...]]]:
    """Each metric that the registry exposes: its kind and its labels."""
    found: dict[str, tuple[str, tuple[str, ...]]] = {}
    for family in registry.collect():
        names: Any = {label: None for sample in family.samples for label in sample.labels}
        names.pop("le", None)
        suffix = {"counter": "_total", "info": "_info"}.get(family.type, "")
        kind = "gauge" if family.type == "info" else family.type
        found[family.name + suffix] = (kind, tuple(names))
    return found


def test_the_readme_lists_what_is_exposed() -> None:
    """Every metric with its kind, its labels and its description, and none that is not there."""
    text = (ROOT / "service" / "telemetry" / "README.md").read_text("utf-8")
    section = text.partition("\n## Metrics\n")[2].partition("\n## ")[0]
    rows = re.findall(r"^\| `([a-z_]+)` \| (\w+) \| ([^|]*) \| ([^|]+) \|$", section, re.MULTILINE)
    listed = {name: (kind, tuple(re.findall(r"`([a-z_]+)`", labels)), told) for name, kind, labels, told in rows}
    registry = whole().registry
    says = {family.name: family.documentation for family in registry.collect()}
    ours = {
        name: (*row, says[re.sub("_(total|info)$", "", name)].rstrip("."))
        for name, row in exposed(registry).items()
        if name.startswith("readings")
    }
    assert listed == {name: (kind, labels, told[0].lower() + told[1:]) for name, (kind, labels, told) in ours.items()}
