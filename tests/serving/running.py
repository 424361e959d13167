"""A service in a process of its own, and clients that send bytes."""

from __future__ import annotations

import contextlib
import json
import os
import re
import socket
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parents[2]
#: For how long an answer is awaited before a test has failed [s]; no test measures by it.
PATIENCE = 120.0


@dataclass(frozen=True)
class Running:
    """A service that is ready."""

    port: int
    process: subprocess.Popen[str]

    @property
    def address(self) -> str:
        """Where it answers."""
        return f"http://127.0.0.1:{self.port}"

    def connect(self) -> socket.socket:
        """A connection to it."""
        connection = socket.create_connection(("127.0.0.1", self.port), PATIENCE)
        connection.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        return connection

    def ask(self, head: str, body: bytes = b"") -> Answer:
        """One request on a connection of its own."""
        with self.connect() as connection:
            return ask(connection, head, body)

    def post(self, address: str, body: bytes = b"{}", headers: str = "") -> Answer:
        """The same by POST, as JSON."""
        return self.ask(
            f"POST {address} HTTP/1.1\r\nContent-Type: application/json\r\nContent-Length: {len(body)}\r\n{headers}",
            body,
        )

    def get(self, address: str, headers: str = "") -> Answer:
        """The same by GET."""
        return self.ask(f"GET {address} HTTP/1.1\r\n{headers}")


@dataclass(frozen=True)
class Answer:
    """An answer, read whole."""

    status: int
    headers: dict[str, str]
    body: bytes

    @property
    def problem(self) -> str:
        """The name of the problem that it is."""
        assert self.headers["content-type"] == "application/problem+json"
        found: dict[str, Any] = json.loads(self.body)
        assert found["status"] == self.status
        return str(found["type"]).removeprefix("/problems/")


def ask(connection: socket.socket, head: str, body: bytes = b"") -> Answer:
    """Send a request, read its answer."""
    connection.sendall(f"{head.rstrip()}\r\nHost: here\r\n\r\n".encode() + body)
    return answer(connection)


def answer(connection: socket.socket) -> Answer:
    """The next answer on a connection."""
    received = b""
    while b"\r\n\r\n" not in received:
        received += _more(connection)
    head, _, body = received.partition(b"\r\n\r\n")
    first, *rest = head.decode().split("\r\n")
    headers = {name.lower(): value for name, value in (row.split(": ", 1) for row in rest)}
    if headers.get("transfer-encoding") == "chunked":
        while not body.endswith(b"0\r\n\r\n"):
            body += _more(connection)
        return Answer(int(first.split(" ")[1]), headers, body)
    while len(body) < int(headers["content-length"]):
        body += _more(connection)
    return Answer(int(first.split(" ")[1]), headers, body)


def _more(connection: socket.socket) -> bytes:
    piece = connection.recv(65536)
    if not piece:
        raise ConnectionError("closed before the answer was whole")
    return piece


def closed(connection: socket.socket) -> bool:
    """Whether the service closes, sending nothing more."""
    with contextlib.suppress(ConnectionResetError):
        return connection.recv(1) == b""
    return True


@contextlib.contextmanager
def serving(module: str = "tests.serving.stand_in", *, capture: bool = False, **settings: object) -> Iterator[Running]:
    """A service with these settings; its log is kept where it is captured."""
    environment = {f"SERVICE_{name.upper()}": str(value) for name, value in settings.items()}
    arguments = ["--quiet"] if module == "service" else []
    process = subprocess.Popen(
        [sys.executable, "-m", module, *arguments],
        cwd=ROOT,
        env={**os.environ, "SERVICE_PORT": "0", **environment},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE if capture else None,
        text=True,
    )
    try:
        assert process.stdout is not None
        said = process.stdout.readline()
        found = re.match(r"Ready at http://127\.0\.0\.1:(\d+) ", said)
        assert found, said
        yield Running(int(found[1]), process)
    finally:
        process.kill()
        process.wait(PATIENCE)
        for stream in filter(None, (process.stdout, process.stderr)):
            stream.close()
