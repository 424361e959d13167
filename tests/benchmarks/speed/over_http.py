"""Single requests over HTTP, one worker, beside the floor (and an earlier revision)."""

from __future__ import annotations

from contextlib import ExitStack
from statistics import median

from tests.benchmarks.speed.rows import Row, ratio
from tests.benchmarks.speed.servers import Server, bodies, latencies, started, work_tree

CONNECTIONS = 16
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
        spent: dict[tuple[str, str], list[float]] = {}
        for round_ in range(rounds):
            for address, body in given.items():
                for server in servers:
                    single, _ = latencies(server, address, [body], 1, alone)
                    before = server.spent
                    answered, rate = latencies(server, address, [body], CONNECTIONS, crowd)
                    each = (server.spent - before) / len(answered)
                    if round_:  # the first warms up
                        waits.setdefault((address, server.name), []).extend(single)
                        rates.setdefault((address, server.name), []).append(rate)
                        spent.setdefault((address, server.name), []).append(each)
    return [row for address in given for server in servers for row in _rows(address, server, waits, rates, spent)]


def _rows(
    address: str,
    server: Server,
    waits: dict[tuple[str, str], list[float]],
    rates: dict[tuple[str, str], list[float]],
    spent: dict[tuple[str, str], list[float]],
) -> list[Row]:
    what, own = f"{_KINDS[address]}, {server.name}", (address, server.name)
    ordered = sorted(waits[own])
    rows = [
        Row("http", f"{what}: p50, 1 connection", 1e3 * median(ordered), "ms"),
        Row("http", f"{what}: p99, 1 connection", 1e3 * ordered[int(0.99 * len(ordered))], "ms"),
    ]
    beside = {"floor": None, "service": "floor"}.get(server.name, "service")
    throughput = f"{what}: 16 connections"
    processor = f"{what}: processor time of a request"
    if beside is None:
        return [
            *rows,
            Row("http", throughput, median(rates[own]), "requests/s"),
            Row("http", processor, 1e3 * median(spent[own]), "ms"),
        ]
    found = ratio(rates[own], rates[address, beside])
    # The other way round, so that both ratios mean the same where the worker is the limit.
    work = ratio(spent[address, beside], spent[own])
    return [
        *rows,
        Row("http", throughput, median(rates[own]), "requests/s", found.median, beside, found.quartiles),
        Row(
            "http",
            processor,
            1e3 * median(spent[own]),
            "ms",
            work.median,
            f"{beside}'s over it",
            work.quartiles,
        ),
    ]
