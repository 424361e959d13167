"""Requests handed to the computing processes, no more than can be answered in time."""

from __future__ import annotations

import asyncio
import json
from pathlib import Path
from typing import Any

from starlette.routing import compile_path
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from service.edge.problems import (
    RETRY_AFTER,
    ProblemError,
    field_problem,
    internal,
    late_body,
    refuse_full,
    took_too_long,
)
from service.edge.settings import Settings
from service.edge.strict_json import refuse_size
from service.serving.messages import Forwarded, Reply
from service.serving.pool import (
    Computed,
    DiedError,
    Processes,
    RaisedError,
    TookTooLongError,
    WaitedTooLongError,
)
from service.telemetry import counts
from service.telemetry.exchanges import UNMATCHED
from service.telemetry.metrics import Metrics
from service.telemetry.traces import computed

#: The contract, as committed.
OPENAPI = Path(__file__).parents[2] / "schemas" / "openapi.json"
#: Requests for each process, one of them computed and the rest waiting: at about 15 ms each, the last waits a
#: quarter of a second.
_PLACES_OF_A_PROCESS = 16


class ClientLeftError(Exception):
    """The client has left, so there is nobody to answer."""


class Routes:
    """Pure ASGI: names the contract's address that a request is for, whoever answers or refuses it."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app
        paths = json.loads(OPENAPI.read_bytes())["paths"]
        self._templates = [(compile_path(path)[0], path) for path in paths if path.startswith("/v1")]

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Wrap one request."""
        if scope["type"] == "http" and scope["path"].startswith("/v1"):
            scope["route_template"] = next(
                (path for form, path in self._templates if form.match(scope["path"])), UNMATCHED
            )
        await self.app(scope, receive, send)


class Forward:
    """ASGI: one request received in full, computed elsewhere, answered."""

    def __init__(self, processes: Processes, settings: Settings, metrics: Metrics | None = None) -> None:
        self._processes, self._settings, self._metrics = processes, settings, metrics
        self._most = settings.maximum_requests or _PLACES_OF_A_PROCESS * processes.count
        self.under_way = 0

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        self._refuse_more()
        try:
            reply = await self._reply(scope, receive)
        except ClientLeftError:
            return
        except asyncio.CancelledError:  # the service stops, and its time for finishing is over
            raise ProblemError(
                "stopping",
                "The service is stopping, and the request was not answered in time.",
                [
                    field_problem(
                        "",
                        None,
                        "a running service",
                        "arrived too late",
                        "Send it again; another instance, or the next, answers it.",
                    )
                ],
                {"Connection": "close", **RETRY_AFTER},
            ) from None
        await send({"type": "http.response.start", "status": reply.status, "headers": reply.headers})
        await send({"type": "http.response.body", "body": reply.body})

    async def _reply(self, scope: Scope, receive: Receive) -> Reply:
        body = await self._body(scope, receive)
        self._refuse_more()
        self.under_way += 1
        try:
            found = await self._answer(_forwarded(scope, body), receive)
        finally:
            self.under_way -= 1
        counts.add_all(found.reply.counts)
        computed(waiting_seconds=found.waited, computing_seconds=found.reply.seconds, process=found.place)
        if self._metrics is not None:
            self._metrics.waiting.observe(found.waited)
            self._metrics.computing.observe(found.reply.seconds)
        return found.reply

    def _refuse_more(self) -> None:
        if self.under_way >= self._most:
            refuse_full("requests")

    async def _body(self, scope: Scope, receive: Receive) -> bytes:
        limit, seconds = self._settings.maximum_body_bytes, self._settings.body_seconds
        stated = next((value for name, value in scope["headers"] if name == b"content-length"), b"0")
        if stated.isdigit() and (len(stated) >= 20 or int(stated) > limit):
            refuse_size(limit)
        try:
            async with asyncio.timeout(seconds):
                return await _received(receive, limit)
        except TimeoutError:
            raise late_body(seconds) from None

    async def _answer(self, request: Forwarded, receive: Receive) -> Computed:
        """The answer, unless the client leaves before its turn."""
        seconds = self._settings.request_seconds
        answering = asyncio.create_task(self._processes.answer(request, seconds))
        leaving = asyncio.create_task(_left(receive))
        try:
            await asyncio.wait({answering, leaving}, return_when=asyncio.FIRST_COMPLETED)
            if not answering.done():
                raise ClientLeftError
            return answering.result()
        except WaitedTooLongError:
            raise ProblemError(
                "overloaded",
                f"The request waited {seconds:g} s for its turn and was abandoned.",
                [
                    field_problem(
                        "",
                        None,
                        f"a turn within {seconds:g} s",
                        "waited too long",
                        "Send it again later; nothing was computed.",
                    )
                ],
                RETRY_AFTER,
            ) from None
        except TookTooLongError:
            raise took_too_long(seconds) from None
        except (DiedError, RaisedError):
            raise internal("request") from None
        finally:
            leaving.cancel()
            answering.cancel()


async def _received(receive: Receive, limit: int) -> bytes:
    pieces, size = [], 0
    while True:
        message = await receive()
        if message["type"] == "http.disconnect":
            raise ClientLeftError
        piece: bytes = message.get("body", b"")
        size += len(piece)
        if size > limit:
            refuse_size(limit)
        pieces.append(piece)
        if not message.get("more_body", False):
            return b"".join(pieces)


async def _left(receive: Receive) -> None:
    message: Message = {"type": ""}
    while message["type"] != "http.disconnect":
        message = await receive()


def _forwarded(scope: Scope, body: bytes) -> Forwarded:
    request_id: Any = scope.get("request_id", "")
    headers = [row for row in scope["headers"] if row[0] != b"x-request-id"]
    return Forwarded(
        scope["method"],
        scope["path"],
        scope.get("raw_path") or scope["path"].encode(),
        scope["query_string"],
        [*headers, (b"x-request-id", request_id.encode())],
        body,
    )
