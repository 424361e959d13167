"""One connection: what it may send, and how long it may take.

The server's own protocol bounds neither the head of a request nor the time that it takes, and keeps a
connection that never asks anything.
"""

from __future__ import annotations

import asyncio
from typing import Any, cast

import orjson
from starlette.types import Receive, Scope, Send
from uvicorn.protocols.http.httptools_impl import (
    STATUS_LINE,
    HttpToolsProtocol,
    RequestResponseCycle,
)

from service.edge.problems import MEDIA_TYPE, field_problem, problem_body
from service.edge.settings import Settings
from service.serving.state import State


def _head_too_large(limit: int) -> dict[str, Any]:
    return problem_body(
        "head-too-large", f"Address and headers have more than {limit} bytes.",
        [field_problem("", None, f"at most {limit} bytes", "is too large",
                       "Send fewer or shorter headers; readings belong in the body.")],
    )  # fmt: skip


def _head_too_slow(seconds: float) -> dict[str, Any]:
    return problem_body(
        "stalled", f"No whole request arrived within {seconds:g} s.",
        [field_problem("", None, f"a request within {seconds:g} s", "arrived too slowly",
                       "Open a connection when there is something to ask.")],
    )  # fmt: skip


def _too_many(limit: int) -> dict[str, Any]:
    return problem_body(
        "overloaded", f"{limit} connections are open.",
        [field_problem("", None, f"at most {limit} connections", "came while all were in use",
                       "Try again after a second; keep connections open and use them again.")],
    )  # fmt: skip


def _not_http() -> dict[str, Any]:
    return problem_body(
        "invalid-http", "What arrived is no request of HTTP/1.1.",
        [field_problem("", None, "a request of HTTP/1.1 (RFC 9112)", "could not be read",
                       "See that the client speaks plain HTTP here: TLS and HTTP/2 end at the gateway.")],
    )  # fmt: skip


def protocol_class(settings: Settings, state: State) -> type[HttpToolsProtocol]:
    """The protocol with these limits."""
    return type("Connection", (_Connection,), {"settings": settings, "state": state})


class _Connection(HttpToolsProtocol):
    settings: Settings
    state: State

    def __init__(self, *arguments: Any, **named: Any) -> None:  # noqa: ANN401
        super().__init__(*arguments, **named)
        self._timer: asyncio.TimerHandle | None = None
        self._write_timer: asyncio.TimerHandle | None = None
        self._head_bytes = 0
        self._in_head = True
        self._since = 0.0
        self._cycles: list[RequestResponseCycle] = []

    # ------------------------------------------------------------ coming and going

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        super().connection_made(transport)
        if len(self.connections) > self.settings.maximum_connections and not self._make_room():
            self._refuse(_too_many(self.settings.maximum_connections), b"retry-after: 1\r\n")
            return
        self._expect_head()

    def _make_room(self) -> bool:
        """Close a connection that asks nothing, the one that was opened first."""
        idle = [one for one in self.connections if isinstance(one, _Connection) and one.idle]
        oldest = min(
            (one for one in idle if one is not self), key=lambda one: one.opened, default=None
        )
        if oldest is not None:
            oldest.transport.abort()
        return oldest is not None

    @property
    def opened(self) -> float:
        """When it was last waited for a request, by the loop's clock."""
        return self._since

    @property
    def idle(self) -> bool:
        """Whether nothing that it asked is under way."""
        return not self.transport.is_closing() and (
            self.cycle is None or self.cycle.response_complete
        )

    def connection_lost(self, exc: Exception | None) -> None:
        self._expect_nothing()
        if self._write_timer is not None:
            self._write_timer.cancel()
        # The server tells the last request alone; those before it in the same pipe are under way too.
        for cycle in self._cycles:
            if not cycle.response_complete:
                cycle.disconnected = True
            cycle.message_event.set()
        self._cycles.clear()
        super().connection_lost(exc)

    # ------------------------------------------------------------ the head

    def data_received(self, data: bytes) -> None:
        if self.transport.is_closing():
            return
        if self._in_head:
            self._head_bytes += len(data)
        super().data_received(data)
        if self.transport is None or self.transport.is_closing():
            return
        limit = self.settings.maximum_head_bytes
        if self._in_head and self._head_bytes > limit:
            self._refuse(_head_too_large(limit))
        elif self.idle and self.timeout_keep_alive_task is None:
            self._expect_head()

    def on_message_begin(self) -> None:
        super().on_message_begin()
        self._in_head = True

    def on_headers_complete(self) -> None:
        self._in_head = False
        self._head_bytes = 0
        self._expect_nothing()
        length = len(self.url) + sum(len(name) + len(value) + 4 for name, value in self.headers)
        application = self.app
        if length > self.settings.maximum_head_bytes:
            too_large = _head_too_large(self.settings.maximum_head_bytes)
            self.state.count(too_large)
            self.app = cast(Any, _refusing(too_large))
        super().on_headers_complete()
        self.app = application
        if self.cycle is not None:
            self._cycles = [one for one in self._cycles if not one.response_complete] + [self.cycle]
        if self.state.draining and self.cycle is not None:
            self.cycle.keep_alive = False

    def on_message_complete(self) -> None:
        super().on_message_complete()
        self._in_head = True
        self._head_bytes = 0

    def send_400_response(self, msg: str) -> None:
        """Not HTTP: told as a problem."""
        del msg
        self._refuse(_not_http())

    def _expect_head(self) -> None:
        if self._timer is None:
            self._since = self.loop.time()
            self._timer = self.loop.call_later(self.settings.head_seconds, self._head_is_late)

    def _expect_nothing(self) -> None:
        if self._timer is not None:
            self._timer.cancel()
            self._timer = None

    def _head_is_late(self) -> None:
        self._timer = None
        if self.transport.is_closing() or not self.idle:
            return
        if self._head_bytes:
            self._refuse(_head_too_slow(self.settings.head_seconds))
        else:
            self.transport.close()  # it never asked anything

    def _refuse(self, body: dict[str, Any], headers: bytes = b"") -> None:
        """Answer outside of any request, and close."""
        self.state.count(body)
        content = orjson.dumps({**body, "instance": None})
        self.transport.write(
            STATUS_LINE[body["status"]]
            + b"content-type: %b\r\ncontent-length: %d\r\n" % (MEDIA_TYPE.encode(), len(content))
            + headers
            + b"cache-control: no-store\r\nconnection: close\r\n\r\n"
            + content
        )
        self.transport.close()

    # ------------------------------------------------------------ a client that does not read

    def pause_writing(self) -> None:
        super().pause_writing()
        self._watch_reader()

    def _watch_reader(self) -> None:
        self._write_timer = self.loop.call_later(
            2 * self.settings.batch_stall_seconds, self._reader_is_late
        )

    def resume_writing(self) -> None:
        super().resume_writing()
        if self._write_timer is not None:
            self._write_timer.cancel()
            self._write_timer = None

    def _reader_is_late(self) -> None:
        if self.cycle is not None and not self.cycle.response_complete:
            self._watch_reader()  # a batch, which looks after that itself
        else:
            self.transport.abort()


def _refusing(body: dict[str, Any]) -> Any:  # noqa: ANN401
    """An application that answers every request by one problem, and closes."""
    content = orjson.dumps({**body, "instance": None})
    headers = [
        (b"content-type", MEDIA_TYPE.encode()),
        (b"content-length", str(len(content)).encode()),
        (b"cache-control", b"no-store"),
        (b"connection", b"close"),
    ]

    async def application(scope: Scope, receive: Receive, send: Send) -> None:
        del scope, receive
        await send({"type": "http.response.start", "status": body["status"], "headers": headers})
        await send({"type": "http.response.body", "body": content})

    return application
