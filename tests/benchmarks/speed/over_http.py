"""Single requests over HTTP, one worker, beside the floor (and an earlier revision)."""

from __future__ import annotations

from contextlib import ExitStack
from statistics import median

from tests.benchmarks.speed.rows import Row, ratio
from tests.benchmarks.speed.servers import Server, bodies, latencies, started, work_tree

CONNECTIONS = 16
TARGETS = {"assessments": 0.35}
_KINDS = {"assessments": "assessment", "comparisons": "comparison"}


def measure(*, quick: bool, against: str | None = None) -> list[Row]:
    """Throughput with sixteen connections, latency with one."""
    rounds, alone, crowd = (3, 0.5, 1.0) if quick else (6, 1.5, 3.0)
    given = bodies()
    with ExitStack() as stack:
        servers = [stack.enter_context(started(name))[0] for name in ("floor", "service")]
        if against is not None:
            tree = stack.enter_context(work_tree(against))
            servers.append(stack.enter_context(started(against, folder=tree))[0])
        rates: dict[tuple[str, str], list[float]] = {}
        waits: dict[tuple[str, str], list[float]] = {}
        for round_ in range(rounds):
            for address, body in given.items():
                for server in servers:
                    single, _ = latencies(server, address, [body], 1, alone)
                    _, rate = latencies(server, address, [body], CONNECTIONS, crowd)
                    if round_:  # the first warms up
                        waits.setdefault((address, server.name), []).extend(single)
                        rates.setdefault((address, server.name), []).append(rate)
    return [
        row
        for address in given
        for server in servers
        for row in _rows(address, server, waits, rates, against)
    ]


def _rows(
    address: str,
    server: Server,
    waits: dict[tuple[str, str], list[float]],
    rates: dict[tuple[str, str], list[float]],
    against: str | None,
) -> list[Row]:
    what, own = f"{_KINDS[address]}, {server.name}", (address, server.name)
    ordered = sorted(waits[own])
    rows = [
        Row("http", f"{what}: p50, 1 connection", 1e3 * median(ordered), "ms"),
        Row("http", f"{what}: p99, 1 connection", 1e3 * ordered[int(0.99 * len(ordered))], "ms"),
    ]
    beside = {"floor": None, "service": "floor"}.get(server.name, "service")
    if beside is None:
        return [*rows, Row("http", f"{what}: 16 connections", median(rates[own]), "requests/s")]
    found = ratio(rates[own], rates[address, beside])
    target = TARGETS.get(address) if server.name == "service" else None
    return [
        *rows,
        Row(
            "http", f"{what}: 16 connections", median(rates[own]), "requests/s", found.median, beside,
            found.quartiles, target,
        ),
    ]  # fmt: skip
