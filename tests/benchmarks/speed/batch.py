"""Visits a second in batches on two cores, beside a floor that reads and writes the same lines."""

from __future__ import annotations

import multiprocessing
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from multiprocessing.connection import Connection
from statistics import median
from typing import Any

import orjson

from schemas.assessments import AssessmentRequest
from schemas.details import Detail
from service.assess.grades import grades_of
from service.assess.pipeline import assess
from service.batches.answers import answer_lines
from tests.benchmarks.fleet_visits import lines
from tests.benchmarks.speed.rows import Row, ratio

WORKERS = 2
CHUNKS = (1, 8, 64, 256)
TARGET = 1500.0  # visits a second on two cores, everything in full
DETAILS: tuple[Detail, ...] = ("full", "grades")

Answerer = Callable[[Sequence[bytes]], Sequence[bytes]]


def answerers() -> dict[str, Answerer]:
    """What is measured, by name; the floors answer every line with the answers to the first.

    A floor parses a line, checks it by the contract and writes an answer of the usual size.
    """
    first = orjson.loads(next(lines(1)))["assessment"]
    answer = assess(AssessmentRequest.model_validate(first))

    def floor(given: Any) -> Answerer:  # noqa: ANN401
        def answered(chunk: Sequence[bytes]) -> list[bytes]:
            found = []
            for line in chunk:
                body = orjson.loads(line)
                AssessmentRequest.model_validate(body["assessment"])
                found.append(orjson.dumps({"id": body["id"], "line": 0, "answer": given}))
            return found

        return answered

    return {
        "floor, full": floor(answer),
        "floor, grades": floor(grades_of(answer)),
        "full": lambda chunk: answer_lines(chunk, detail="full"),
        "grades": lambda chunk: answer_lines(chunk, detail="grades"),
    }


@dataclass(frozen=True)
class _Order:
    """Answer chunks of a size for a time."""

    answerer: str
    size: int
    seconds: float


def _work(pipe: Connection, seed: int) -> None:
    """A worker: for each order, visits answered a second by the clock and by processor time."""
    fleet = list(lines(1024, seed))
    known = answerers()
    for name in ("full", "grades"):
        known[name](fleet[:64])
    pipe.send(None)
    at = 0
    while (order := pipe.recv()) is not None:
        answer, start, used, done = (
            known[order.answerer],
            time.perf_counter(),
            time.process_time(),
            0,
        )
        while time.perf_counter() < start + order.seconds:
            chunk = [fleet[(at + index) % len(fleet)] for index in range(order.size)]
            answer(chunk)
            at += order.size
            done += order.size
        elapsed = time.perf_counter() - start
        pipe.send((done / elapsed, done / (time.process_time() - used)))


@contextmanager
def _workers() -> Iterator[list[Connection]]:
    context = multiprocessing.get_context("spawn")
    pipes, processes = [], []
    for number in range(WORKERS):
        ours, theirs = context.Pipe()
        process = context.Process(target=_work, args=(theirs, 1 + number), daemon=True)
        process.start()
        pipes.append(ours)
        processes.append(process)
    try:
        for pipe in pipes:
            pipe.recv()
        yield pipes
    finally:
        for pipe, process in zip(pipes, processes, strict=True):
            pipe.send(None)
            process.join(10)


def measure(*, quick: bool) -> list[Row]:
    """Throughput of both processes together, by detail and size of chunk, in turns.

    By the clock, and by processor time: what the two would answer had each a core of its own.
    """
    rounds, seconds, sizes = (2, 0.6, (1, 64)) if quick else (4, 2.0, CHUNKS)
    clock: dict[tuple[str, int], list[float]] = {}
    processor: dict[tuple[str, int], list[float]] = {}
    orders = [
        *((f"floor, {detail}", 64) for detail in DETAILS),
        *((detail, size) for detail in DETAILS for size in sizes),
    ]
    with _workers() as pipes:
        for _ in range(rounds):
            for order in orders:
                for pipe in pipes:
                    pipe.send(_Order(*order, seconds))
                rates = [pipe.recv() for pipe in pipes]
                clock.setdefault(order, []).append(sum(rate for rate, _ in rates))
                processor.setdefault(order, []).append(sum(rate for _, rate in rates))
    return [
        row
        for words, measured in (("two processes", clock), ("two whole cores", processor))
        for detail in DETAILS
        for row in _rows(words, detail, sizes, measured)
    ]


def _rows(words: str, detail: Detail, sizes: Sequence[int], measured: dict[tuple[str, int], list[float]]) -> list[Row]:
    below = measured[f"floor, {detail}", 64]
    medians = {size: median(measured[detail, size]) for size in sizes}
    best = max(sizes, key=lambda size: medians[size])
    rows = [Row("batch", f"{detail}, floor, {words}", median(below), "visits/s")]
    for size in sizes:
        found = ratio(measured[detail, size], below)
        rows.append(
            Row(
                "batch",
                f"{detail}, chunks of {size}, {words}",
                medians[size],
                "visits/s",
                found.median,
                "floor",
                found.quartiles,
                TARGET if size == best else None,
                "value",
            )
        )
    return rows
