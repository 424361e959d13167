"""Servers as processes of their own, and a client that sends requests back to back."""

from __future__ import annotations

import asyncio
import os
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import orjson

from schemas.assessments import AssessmentRequest
from schemas.comparisons import ComparisonRequest
from schemas.examples import comparison_examples, examples
from service.assess.pipeline import assess
from service.compare.comparison import compare

ROOT = Path(__file__).parents[3]
ASSESSED = "r410a_capacity"
COMPARED = "coil_cleaned"


@dataclass(frozen=True)
class Server:
    """One process that serves."""

    name: str
    port: int
    process: subprocess.Popen[bytes]

    @property
    def all(self) -> list[int]:
        """Numbers of the process that listens and of those that it started."""
        return [self.process.pid, *descendants(self.process.pid)]

    @property
    def resident(self) -> float:
        """Resident memory of the process that listens [MB]; not-a-number where the system does not tell."""
        return resident(self.process.pid)

    @property
    def largest(self) -> float:
        """Resident memory of the largest of all [MB]."""
        return max(map(resident, self.all))

    @property
    def together(self) -> float:
        """Resident memory of all together [MB]; what they share counts for each."""
        return sum(map(resident, self.all))

    @property
    def spent(self) -> float:
        """Processor time that all have used [s], by Linux; not-a-number elsewhere."""
        return sum(map(_spent, self.all))


def _spent(process: int) -> float:
    try:
        fields = Path(f"/proc/{process}/stat").read_text("ascii").rpartition(")")[2].split()
    except OSError:
        return float("nan")
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def resident(process: int) -> float:
    """Resident memory of a process [MB], by Linux; not-a-number elsewhere."""
    try:
        status = Path(f"/proc/{process}/status").read_text("ascii")
    except OSError:
        return float("nan")
    found = [line.split()[1] for line in status.splitlines() if line.startswith("VmRSS")]
    return int(found[0]) / 1000.0 if found else float("nan")


def descendants(process: int) -> list[int]:
    """Processes that a process started, and those that they started."""
    found = []
    try:
        tasks = list(Path(f"/proc/{process}/task").iterdir())
    except OSError:
        return []
    for task in tasks:
        for child in map(int, (task / "children").read_text("ascii").split()):
            found += [child, *descendants(child)]
    return found


def bodies() -> dict[str, bytes]:
    """Bodies by the last part of their address."""
    return {
        "assessments": orjson.dumps(examples()[ASSESSED]),
        "comparisons": orjson.dumps(comparison_examples()[COMPARED]),
    }


def _answers() -> bytes:
    given = {name: orjson.loads(body) for name, body in bodies().items()}
    return orjson.dumps(
        {
            "assessments": assess(AssessmentRequest.model_validate(given["assessments"])),
            "comparisons": compare(ComparisonRequest.model_validate(given["comparisons"])),
        }
    )


def free_port() -> int:
    """A port that nobody listens on at present."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def _is_ready(port: int) -> bool:
    try:
        with socket.create_connection(("127.0.0.1", port), timeout=5) as connection:
            connection.sendall(b"GET /health/ready HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n")
            return b" 200 " in connection.recv(64)
    except OSError:
        return False


@contextmanager
def started(
    name: str,
    *,
    folder: Path = ROOT,
    environment: Mapping[str, str] | None = None,
    limit: float = 300.0,
) -> Iterator[tuple[Server, float]]:
    """A server, and the time [s] from its start until it said that it is ready.

    ``name`` is ``floor``, or anything else for the service of the tree at ``folder``.

    Raises
    ------
    RuntimeError
        If it is not ready in ``limit`` seconds.
    """
    port = free_port()
    with tempfile.TemporaryDirectory() as kept:
        arguments = ["service", "--quiet", "--port", str(port)]
        if name == "floor":
            answers = Path(kept) / "answers.json"
            answers.write_bytes(_answers())
            arguments = ["tests.benchmarks.speed.floor", str(port), str(answers)]
        start = time.perf_counter()
        process = subprocess.Popen(
            [sys.executable, "-m", *arguments],
            cwd=folder,
            env={**os.environ, "PYTHONPATH": str(folder), **(environment or {})},
            stdout=subprocess.DEVNULL,
        )
        try:
            while not _is_ready(port):
                if process.poll() is not None or time.perf_counter() - start > limit:
                    raise RuntimeError(f"{name} did not start")
                time.sleep(0.005)
            yield Server(name, port, process), time.perf_counter() - start
        finally:
            process.terminate()
            process.wait(10)


@contextmanager
def work_tree(revision: str) -> Iterator[Path]:
    """A work tree of an earlier revision, removed afterwards."""
    with tempfile.TemporaryDirectory() as folder:
        tree = Path(folder) / "earlier"
        subprocess.run(
            ["git", "-C", ROOT, "worktree", "add", "--detach", tree, revision],
            check=True,
            capture_output=True,
        )
        try:
            yield tree
        finally:
            subprocess.run(
                ["git", "-C", ROOT, "worktree", "remove", "--force", tree],
                check=False,
                capture_output=True,
            )


def latencies(
    server: Server, address: str, given: Sequence[bytes], connections: int, seconds: float
) -> tuple[list[float], float]:
    """Latencies [s] of requests sent back to back on each connection, and requests a second.

    The bodies are sent in turn.  No request begins after ``seconds``; those under way are awaited.
    """
    requests = [
        b"POST /v1/%s HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\n"
        b"Content-Length: %d\r\n\r\n" % (address.encode(), len(body)) + body
        for body in given
    ]
    return asyncio.run(_load(server.port, requests, connections, seconds))


async def _load(port: int, requests: Sequence[bytes], connections: int, seconds: float) -> tuple[list[float], float]:
    taken: list[float] = []
    start = time.perf_counter()

    async def one(number: int) -> None:
        reader, writer = await asyncio.open_connection("127.0.0.1", port)
        while time.perf_counter() < start + seconds:
            begun = time.perf_counter()
            writer.write(requests[number % len(requests)])
            await _answer(reader)
            taken.append(time.perf_counter() - begun)
            number += connections
        writer.close()

    await asyncio.gather(*(one(number) for number in range(connections)))
    return taken, len(taken) / (time.perf_counter() - start)


async def _answer(reader: asyncio.StreamReader) -> None:
    head = await reader.readuntil(b"\r\n\r\n")
    if b" 200 " not in head.split(b"\r\n", 1)[0]:
        raise RuntimeError(head.decode())
    length = next(
        int(line.split(b":")[1]) for line in head.lower().split(b"\r\n") if line.startswith(b"content-length")
    )
    await reader.readexactly(length)
