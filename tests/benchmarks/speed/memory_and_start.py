"""Resident memory of a worker, and how long it takes to be ready, beside the floor."""

from __future__ import annotations

import tempfile
from contextlib import ExitStack
from itertools import islice
from statistics import median

import orjson

from service.reference.prepared import ENVIRONMENT_VARIABLE
from tests.benchmarks.fleet_visits import comparisons, visits
from tests.benchmarks.speed.rows import Row, ratio
from tests.benchmarks.speed.servers import Server, bodies, latencies, started

LARGEST = 200.0  # MB resident for each worker
LONGEST = 2.0  # s from start to ready, tables at hand


def measure_memory(*, quick: bool) -> list[Row]:
    """Memory when ready, after one request of each kind, and after a load of varied visits."""
    seconds = 3.0 if quick else 15.0
    load = {
        "assessments": [orjson.dumps(body) for body in visits(400, seed=5)],
        "comparisons": [orjson.dumps(body) for body in islice(comparisons(40, seed=5), 40)],
    }
    seen: dict[str, list[tuple[float, float, float]]] = {}

    def note(server: Server) -> None:
        seen.setdefault(server.name, []).append((server.resident, server.largest, server.together))

    with ExitStack() as stack:
        for name in ("floor", "service"):
            one_process = {"SERVICE_PROCESSES": "1"}
            server, _ = stack.enter_context(started(name, environment=one_process))
            note(server)
            for address, body in bodies().items():
                latencies(server, address, [body], 1, 0.0001)
            note(server)
            for address, varied in load.items():
                latencies(server, address, varied, 16, seconds)
            note(server)
    moments = ("ready", "after one request of each kind", "after a load of varied visits")
    rows = []
    for moment, (front, largest, together), (_, floor, _) in zip(moments, seen["service"], seen["floor"], strict=True):
        rows += [
            Row("memory", f"front, {moment}", front, "MB resident", front / floor, "floor"),
            Row(
                "memory",
                f"one computing process, {moment}",
                largest,
                "MB resident",
                largest / floor,
                "floor",
                target=LARGEST,
                target_of="value",
                at_most=True,
            ),
            Row(
                "memory",
                f"front and one process together, {moment}",
                together,
                "MB resident",
                together / floor,
                "floor",
            ),
        ]
    return rows


def measure_start(*, quick: bool) -> list[Row]:
    """Time to ready with the prepared tables at hand, and (not when quick) the first time without."""
    times: dict[str, list[float]] = {"floor": [], "service": []}
    processor: dict[str, list[float]] = {"floor": [], "service": []}
    for round_ in range(3 if quick else 6):
        for name, taken in times.items():
            with started(name) as (server, seconds):
                if round_:  # the first brings the files into memory
                    taken.append(seconds)
                    processor[name].append(server.spent)
    found = ratio(times["service"], times["floor"])
    work = ratio(processor["service"], processor["floor"])
    rows = [
        Row(
            "start",
            "start to ready, tables at hand",
            median(times["service"]),
            "s",
            found.median,
            "floor",
            found.quartiles,
            LONGEST,
            "value",
            at_most=True,
        ),
        Row(
            "start",
            "processor time to ready, tables at hand",
            median(processor["service"]),
            "s",
            work.median,
            "floor",
            work.quartiles,
            LONGEST,
            "value",
            at_most=True,
        ),
    ]
    if not quick:
        with (
            tempfile.TemporaryDirectory() as empty,
            started("service", environment={ENVIRONMENT_VARIABLE: empty}) as (_, seconds),
        ):
            rows.append(
                Row(
                    "start",
                    "start to ready, tables made",
                    seconds,
                    "s",
                    seconds / median(times["service"]),
                    "tables at hand",
                )
            )
    return rows
