"""Batches run without a server: what arrives is given, what is sent is kept."""

from __future__ import annotations

import asyncio
import json
from collections.abc import Iterable
from typing import Any

from service.batches.answered import Answered, Tally
from service.batches.lines import BLANK, Chunk, Line
from service.batches.stream import Batch, BatchOptions
from service.batches.workers import Workers
from service.edge.codings import IDENTITY


def shown(line: Line, number: int) -> bytes:
    """What :class:`Echo` makes of a line: nothing but what it was."""
    text = line.decode("utf-8", "replace") if isinstance(line, bytes) else None
    return json.dumps({"id": text, "line": number, "assessment": {}}).encode() + b"\n"


class Echo(Workers):
    """Answers at once, each line by itself."""

    async def answer(self, chunk: Chunk, detail: str) -> Answered:
        lines = [(n, line) for n, line in enumerate(chunk.lines, chunk.first) if line != BLANK]
        return Answered(b"".join(shown(line, n) for n, line in lines), Tally(assessments=len(lines)))


def batch(workers: Workers | None = None, **changes: Any) -> Batch:  # noqa: ANN401
    """A batch with usual settings."""
    usual: dict[str, Any] = {
        "detail": "full",
        "offset": 0,
        "input_coding": IDENTITY,
        "output_coding": IDENTITY,
        "line_limit": 262_144,
        "stall_seconds": 600.0,
    }
    return Batch(workers or Echo(0), BatchOptions(**{**usual, **changes}))


class Client:
    """Sends pieces, keeps what it is sent."""

    def __init__(self, pieces: Iterable[bytes]) -> None:
        self.pieces = iter(pieces)
        self.pulled = 0
        self.kept: list[bytes] = []
        self.sent_all = asyncio.Event()

    async def receive(self) -> bytes | None:
        if self.sent_all.is_set():
            await asyncio.Event().wait()
        piece = next(self.pieces, None)
        if piece is None:
            self.sent_all.set()
        else:
            self.pulled += 1
        return piece

    async def send(self, content: bytes) -> None:
        self.kept.append(content)

    @property
    def answer(self) -> bytes:
        """All that it was sent."""
        return b"".join(self.kept)


def answer_to(pieces: Iterable[bytes], workers: Workers | None = None, **changes: Any) -> bytes:  # noqa: ANN401
    """The whole answer to a body in pieces."""

    async def run() -> bytes:
        client = Client(pieces)
        assert await batch(workers, **changes).run(client.receive, client.send)
        return client.answer

    return asyncio.run(run())


def parsed(answer: bytes) -> tuple[list[dict[str, Any]], dict[str, Any]]:
    """The lines of an answer, and its summary."""
    *lines, last = [json.loads(line) for line in answer.splitlines()]
    return lines, last["summary"]
