"""The service under twice the load that it can bear, for a while.

``python -m tests.benchmarks.soak [--seconds 600] [--processes 2] [--times 2.0]``

First the sustainable load is measured: a few clients that each send their next request when the last is
answered.  Then requests are sent at so many times that rate whatever is answered, with slow clients, ones that
leave, and ones that open a connection and say nothing beside them, and with batches of every kind of line, one
after the other (``--batches`` at once).  A request that finds all places taken is to be refused at once (503), so
that those which are taken are answered in bounded time; each line of a batch is to get its answer, the same each
time; memory is to be flat; nothing else is to fail; and health is to answer throughout.

Everything goes to a service of its own on the loopback interface, and ends by itself.
"""

from __future__ import annotations

import argparse
import asyncio
import contextlib
import itertools
import json
import re
import sys
import time
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from schemas.checks import CHECKS
from schemas.examples import check_examples, comparison_examples, diagnosis_examples, examples, trend_examples
from tests.serving.running import Running, serving

_EXAMPLES = Path(__file__).parents[2] / "schemas" / "examples"
_MEMORY = re.compile(rb"^[a-z_]*resident_memory_bytes(?:{[^}]*})? (\S+)$", re.MULTILINE)
#: Connections over which requests go; one more is opened for none of them.
_CONNECTIONS = 200
#: Seconds between two looks at memory and health.
_LOOK_SECONDS = 1.0


def _request(address: str, body: bytes, kind: str = "application/json") -> bytes:
    head = f"POST {address} HTTP/1.1\r\nHost: here\r\nContent-Type: {kind}\r\nContent-Length: {len(body)}\r\n\r\n"
    return head.encode() + body


def requests() -> list[bytes]:
    """A mix: mostly assessments, some comparisons and pictures, one that is refused."""
    assessments = [_request("/v1/assessments", path.read_bytes()) for path in sorted(_EXAMPLES.glob("r*.json"))]
    capacity = (_EXAMPLES / "r410a_capacity.json").read_bytes()
    comparison = (_EXAMPLES / "comparisons" / "coil_cleaned.json").read_bytes()
    return [
        *assessments,
        *assessments,
        *assessments,
        _request("/v1/comparisons", comparison),
        _request("/v1/plots/limits", capacity),
        _request("/v1/assessments", b'{"units": "imperial"}'),
    ]


def batch() -> bytes:
    """A batch of every kind of line: visits, comparisons, diagnoses, trends and checks, one after the other."""
    kinds: list[list[dict[str, object]]] = [
        [{"assessment": body} for body in examples().values()],
        [{"comparison": body} for body in comparison_examples().values()],
        [{"diagnosis": body} for body in diagnosis_examples().values()],
        [{"trend": body} for body in trend_examples().values()],
        [{"check": {name: body}} for name in CHECKS for body in check_examples(name).values()],
    ]
    mixed = [line for row in itertools.zip_longest(*kinds) for line in row if line is not None]
    return b"".join(json.dumps({"id": number, **line}).encode() + b"\n" for number, line in enumerate(mixed))


@dataclass
class Seen:
    """What came of the requests."""

    statuses: Counter[str] = field(default_factory=Counter)
    answered: list[float] = field(default_factory=list)
    refused: list[float] = field(default_factory=list)
    health: list[float] = field(default_factory=list)
    memory: list[tuple[float, float]] = field(default_factory=list)
    batches: list[float] = field(default_factory=list)
    lines: set[bytes] = field(default_factory=set)

    def note(self, status: str, seconds: float) -> None:
        """One answer."""
        self.statuses[status] += 1
        (self.refused if status == "503" else self.answered).append(seconds)


class _Connection:
    """A connection that is opened again where the service closed it."""

    def __init__(self, port: int) -> None:
        self._port = port
        self._line: tuple[asyncio.StreamReader, asyncio.StreamWriter] | None = None

    async def ask(self, request: bytes) -> tuple[str, bytes]:
        """Status and body."""
        # One that was idle for long has been closed; its end has come in by now.
        if self._line is None or self._line[0].at_eof():
            self.close()
            self._line = await asyncio.open_connection("127.0.0.1", self._port)
        reader, writer = self._line
        try:
            writer.write(request)
            head = (await reader.readuntil(b"\r\n\r\n")).lower()
            length = re.search(rb"content-length: (\d+)", head)
            body = await reader.readexactly(int(length[1]) if length else 0)
        except (OSError, asyncio.IncompleteReadError):
            self._line = None
            raise
        if b"connection: close" in head:
            writer.close()
            self._line = None
        return head.split(b" ", 2)[1].decode(), body

    def close(self) -> None:
        """Let go of it."""
        if self._line is not None:
            self._line[1].close()


async def _sustained(port: int, bodies: Sequence[bytes], seconds: float, clients: int) -> float:
    """Requests a second that so many clients have answered, one after the other."""
    answered = 0
    end = time.perf_counter() + seconds

    async def client(number: int) -> None:
        nonlocal answered
        connection = _Connection(port)
        for body in itertools.islice(itertools.cycle(bodies), number, None):
            if time.perf_counter() > end:
                break
            await connection.ask(body)
            answered += 1
        connection.close()

    await asyncio.gather(*(client(n) for n in range(clients)))
    return answered / seconds


@dataclass(frozen=True)
class Load:
    """What is sent: requests at a rate for some seconds, and so many batches at once."""

    bodies: Sequence[bytes]
    rate: float
    seconds: float
    batches: int


async def _driven(running: Running, load: Load, seen: Seen) -> None:
    """Requests at a rate, whatever is answered."""
    bodies, rate, seconds = load.bodies, load.rate, load.seconds
    free: asyncio.Queue[_Connection] = asyncio.Queue()
    for _ in range(_CONNECTIONS):
        free.put_nowait(_Connection(running.port))
    under_way: set[asyncio.Task[None]] = set()
    beside = [
        asyncio.create_task(_watch(running.port, seen)),
        asyncio.create_task(_nuisances(running.port, bodies[0], seen)),
        *(asyncio.create_task(_batches(running.port, batch(), seen)) for _ in range(load.batches)),
    ]

    async def one(connection: _Connection, body: bytes) -> None:
        begun = time.perf_counter()
        try:
            status, _ = await connection.ask(body)
            seen.note(status, time.perf_counter() - begun)
        except (OSError, asyncio.IncompleteReadError) as error:
            seen.statuses[f"failed: {type(error).__name__}"] += 1
        free.put_nowait(connection)

    start = time.perf_counter()
    for number, body in enumerate(itertools.cycle(bodies)):
        due = start + number / rate
        if due > start + seconds:
            break
        await asyncio.sleep(max(0.0, due - time.perf_counter()))
        if free.empty():
            seen.statuses["not sent: all connections waited"] += 1
            continue
        task = asyncio.create_task(one(free.get_nowait(), body))
        under_way.add(task)
        task.add_done_callback(under_way.discard)
    await asyncio.gather(*under_way)
    for task in beside:
        task.cancel()
    await asyncio.gather(*beside, return_exceptions=True)
    while not free.empty():
        free.get_nowait().close()


async def _watch(port: int, seen: Seen) -> None:
    """Health and memory, each second."""
    begun = time.perf_counter()
    probe = _Connection(port)
    while True:
        asked = time.perf_counter()
        for address in ("/health/live", "/health/ready"):
            status, _ = await probe.ask(f"GET {address} HTTP/1.1\r\nHost: here\r\n\r\n".encode())
            if status != "200":
                seen.statuses[f"failed: {address} {status}"] += 1
        seen.health.append((time.perf_counter() - asked) / 2)
        _, told = await probe.ask(b"GET /metrics HTTP/1.1\r\nHost: here\r\n\r\n")
        memory = sum(map(float, _MEMORY.findall(told)))
        seen.memory.append((time.perf_counter() - begun, memory / 1e6))
        await asyncio.sleep(_LOOK_SECONDS)


async def _batches(port: int, body: bytes, seen: Seen) -> None:
    """The same batch again and again: whole, without a problem, and with the same answers each time."""
    while True:
        begun = time.perf_counter()
        try:
            reader, writer = await asyncio.open_connection("127.0.0.1", port)
            head = f"POST /v1/batches HTTP/1.1\r\nHost: here\r\nConnection: close\r\nContent-Length: {len(body)}\r\n"
            writer.write(f"{head}Content-Type: application/x-ndjson\r\n\r\n".encode() + body)
            told = await reader.read()
            writer.close()
        except OSError as error:
            seen.statuses[f"failed: batch {type(error).__name__}"] += 1
            continue
        if b" 503 " in told[:20]:
            seen.statuses["batches refused"] += 1
            await asyncio.sleep(1.0)
            continue
        # Of the body in chunks, the lines of JSON.
        lines = [line for line in told.split(b"\r\n\r\n", 1)[-1].splitlines() if line.startswith(b"{")]
        *answers, last = lines or [b"{}"]
        whole = b'"complete":true' in last and len(answers) == body.count(b"\n")
        if not whole or any(b'"problem"' in line for line in answers):
            seen.statuses["failed: batch not whole"] += 1
        seen.batches.append(time.perf_counter() - begun)
        seen.lines.update(answers)


async def _nuisances(port: int, request: bytes, seen: Seen) -> None:
    """Clients that say nothing, send slowly, leave before they are answered, or never read."""
    kept: list[asyncio.StreamWriter] = []
    for number in itertools.count():
        with contextlib.suppress(OSError):
            _, writer = await asyncio.open_connection("127.0.0.1", port)
            match number % 4:
                case 1:
                    writer.write(request[: len(request) // 2])
                case 2:
                    writer.write(request)
                    await writer.drain()
                    writer.transport.abort()
                case 3:
                    writer.write(request * 3)
            seen.statuses["nuisances"] += 1
            kept.append(writer)
        if len(kept) > 60:
            kept.pop(0).transport.abort()
        await asyncio.sleep(0.25)


def _shown(seen: Seen, rate: float, seconds: float) -> Iterator[str]:
    def quantiles(values: Sequence[float]) -> str:
        if not values:
            return "none"
        found = np.quantile(values, [0.5, 0.99, 1.0]) * 1000.0
        return "p50 {:.0f}, p99 {:.0f}, longest {:.0f} ms".format(*found)

    yield f"sent at {rate:.1f} requests/s for {seconds:.0f} s: {dict(sorted(seen.statuses.items()))}"
    yield f"answered ({len(seen.answered) / seconds:.1f}/s): {quantiles(seen.answered)}"
    yield f"refused for want of room ({len(seen.refused) / seconds:.1f}/s): {quantiles(seen.refused)}"
    yield f"health: {quantiles(seen.health)}"
    yield f"batches ({len(seen.batches)}): {quantiles(seen.batches)}; {len(seen.lines)} different answers"
    if not seen.memory:
        yield "memory: not told"
        return
    times, memory = np.array(seen.memory).T
    settled = times > times[-1] / 5
    slope = np.polyfit(times[settled], memory[settled], 1)[0] * 60.0
    yield (
        f"memory: {memory[0]:.0f} MB at first, {memory[settled].min():.0f} to {memory[settled].max():.0f} MB "
        f"after a fifth of the time, {slope:+.2f} MB a minute from there"
    )


def main(arguments: Sequence[str] | None = None) -> int:
    """Run it; 1 where something failed."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n", maxsplit=1)[0])
    parser.add_argument("--seconds", type=float, default=600.0)
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--times", type=float, default=2.0)
    parser.add_argument("--batches", type=int, default=2, help="batches at once")
    parser.add_argument("--measure", type=float, default=20.0, help="seconds to measure what it bears")
    given = parser.parse_args(arguments)
    bodies, seen = requests(), Seen()
    with serving("service", processes=given.processes, batch_processes=given.processes, log_level="error") as running:
        asyncio.run(_sustained(running.port, bodies, given.measure / 4, 4))
        borne = asyncio.run(_sustained(running.port, bodies, given.measure, 2 * given.processes))
        print(f"borne: {borne:.1f} requests/s", flush=True)
        rate = given.times * borne
        asyncio.run(_driven(running, Load(bodies, rate, given.seconds, given.batches), seen))
        print(*_shown(seen, rate, given.seconds), sep="\n")
        print(json.dumps({"still_ready": running.get("/health/ready").status == 200}))
    wrong = [name for name in seen.statuses if name.startswith(("failed", "5")) and name != "503"]
    # Each line has one answer, however often it was asked.
    changed = len(seen.lines) > batch().count(b"\n")
    return 1 if wrong or changed or (given.batches and not seen.batches) else 0


if __name__ == "__main__":
    sys.exit(main())
