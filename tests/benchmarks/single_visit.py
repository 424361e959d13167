"""Latency and throughput of one assessment over HTTP, beside an endpoint that computes nothing.

``python -m tests.benchmarks.single_visit [seconds] [--against REVISION]``

Both run in one process each, one worker, on loopback; a client with one connection measures
latency, then one with sixteen measures throughput, in turns, for a bounded time.  The floor takes
the same request model and returns the same answer's bytes parsed beforehand.  With ``--against`` the
service of an earlier revision is served too, from a work tree of its own, and asked the same.
"""

from __future__ import annotations

import argparse
import asyncio
import multiprocessing
import os
import socket
import statistics
import subprocess
import sys
import tempfile
import time
from multiprocessing.process import BaseProcess
from pathlib import Path
from typing import Annotated, Any

import orjson
import uvicorn
from fastapi import Body, FastAPI, Response

from schemas.assessments import Assessment, AssessmentRequest
from schemas.examples import examples
from service.app import create_app
from service.assess.pipeline import assess

NAME = next(iter(examples()))
BODY = orjson.dumps(examples()[NAME])


def floor_app() -> FastAPI:
    """The same request and answer, nothing in between."""
    app = FastAPI()
    fixed: dict[str, Any] = assess(AssessmentRequest.model_validate(examples()[NAME]))

    @app.post("/v1/assessments", response_model=Assessment)
    async def answer(request: Annotated[AssessmentRequest, Body()]) -> Response:
        return Response(orjson.dumps(fixed), media_type="application/json")

    return app


def serve(kind: str, port: int) -> None:
    app = create_app() if kind == "service" else floor_app()
    uvicorn.run(app, host="127.0.0.1", port=port, log_level="error", access_log=False)


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


async def ask(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
    writer.write(
        b"POST /v1/assessments HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\n"
        b"Content-Length: %d\r\n\r\n" % len(BODY) + BODY
    )
    head = await reader.readuntil(b"\r\n\r\n")
    if b" 200 " not in head.split(b"\r\n", 1)[0]:
        raise RuntimeError(head.decode())
    length = next(
        int(line.split(b":")[1])
        for line in head.lower().split(b"\r\n")
        if line.startswith(b"content-length")
    )
    await reader.readexactly(length)


async def load(port: int, connections: int, seconds: float) -> list[float]:
    """Latencies of requests sent back to back on each connection."""
    end = time.perf_counter() + seconds
    taken: list[float] = []

    async def one() -> None:
        reader, writer = await asyncio.open_connection("127.0.0.1", port)
        while time.perf_counter() < end:
            start = time.perf_counter()
            await ask(reader, writer)
            taken.append(time.perf_counter() - start)
        writer.close()

    await asyncio.gather(*(one() for _ in range(connections)))
    return taken


def wait_for(port: int, kind: str) -> None:
    for _ in range(600):
        try:
            socket.create_connection(("127.0.0.1", port), timeout=1).close()
        except OSError:
            time.sleep(0.1)
        else:
            return
    raise RuntimeError(f"{kind} did not start")


def start(kind: str) -> tuple[BaseProcess, int]:
    port = free_port()
    process = multiprocessing.get_context("spawn").Process(target=serve, args=(kind, port))
    process.start()
    wait_for(port, kind)
    return process, port


def start_earlier(revision: str, folder: Path) -> tuple[subprocess.Popen[bytes], int]:
    """The service of an earlier revision, from a work tree."""
    root = Path(__file__).parents[2]
    subprocess.run(
        ["git", "-C", root, "worktree", "add", "--detach", folder, revision],
        check=True, capture_output=True,
    )  # fmt: skip
    port = free_port()
    environment = {**os.environ, "SERVICE_PORT": str(port), "PYTHONPATH": str(folder)}
    process = subprocess.Popen([sys.executable, "-m", "service"], cwd=folder, env=environment)
    wait_for(port, revision)
    return process, port


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("seconds", nargs="?", type=float, default=4.0)
    parser.add_argument("--against", metavar="REVISION")
    arguments = parser.parse_args()
    seconds = arguments.seconds
    root = Path(__file__).parents[2]
    with tempfile.TemporaryDirectory() as folder:
        earlier = Path(folder) / "earlier"
        servers: dict[str, tuple[BaseProcess | subprocess.Popen[bytes], int]] = {
            kind: start(kind) for kind in ("floor", "service")
        }
        if arguments.against:
            servers["earlier"] = start_earlier(arguments.against, earlier)
        try:
            latency: dict[str, list[float]] = {kind: [] for kind in servers}
            rate: dict[str, list[float]] = {kind: [] for kind in servers}
            for round_ in range(4):
                for kind, (_, port) in servers.items():
                    alone = asyncio.run(load(port, 1, seconds / 2))
                    crowd = asyncio.run(load(port, 16, seconds))
                    if round_:  # the first round warms up
                        latency[kind] += alone
                        rate[kind].append(len(crowd) / seconds)
        finally:
            for process, _ in servers.values():
                process.terminate()
                if isinstance(process, subprocess.Popen):
                    process.wait(10)
                else:
                    process.join(5)
            if arguments.against:
                subprocess.run(
                    ["git", "-C", root, "worktree", "remove", "--force", earlier],
                    check=False,
                )
    for kind in servers:
        ordered = sorted(latency[kind])
        print(
            f"{kind:8} median {statistics.median(ordered) * 1e3:6.2f} ms   "
            f"p99 {ordered[int(0.99 * len(ordered))] * 1e3:6.2f} ms   "
            f"{statistics.median(rate[kind]):7.0f} requests/s with 16 connections"
        )
    ratio = statistics.median(rate["service"]) / statistics.median(rate["floor"])
    print(f"service / floor: {ratio:.2f}")
    if arguments.against:
        ratio = statistics.median(rate["service"]) / statistics.median(rate["earlier"])
        print(f"service / {arguments.against}: {ratio:.2f}")


if __name__ == "__main__":
    main()
