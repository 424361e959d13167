"""One connection: what it may send, and how long it may take.

The server's own protocol bounds neither the head of a request nor the time that it takes, nor how many
requests wait behind one another, and keeps a connection that never asks anything.
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

#: Requests that may wait on one connection behind the one that is answered.
_MOST_WAITING = 32


class _TooManyWaitingError(Exception):
    """More requests came in one pipe than may wait in it."""


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
        self._head_bytes = 0  # that came since the last piece of a body
        self._received = 0
        self._moved = (
            0,
            0,
        )  # what came, and what waited to be read, when the reader was last looked at
        self._in_head = True
        self._ending = False  # what else arrives is not read
        self._given_up = False
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
        """Close a connection that asks nothing, the one that was opened first.

        Also one that was closed already, and waits for its last answer to be read.
        """
        useless = [
            one for one in self.connections
            if isinstance(one, _Connection) and one is not self and not one._given_up
            and (one.idle or one.transport.is_closing())
        ]  # fmt: skip
        oldest = min(useless, key=lambda one: one.opened, default=None)
        if oldest is not None:
            oldest._given_up = True
            oldest.transport.abort()
        return oldest is not None

    @property
    def opened(self) -> float:
        """When it was last waited for a request, by the loop's clock."""
        return self._since

    @property
    def idle(self) -> bool:
        """Whether nothing that it asked is under way."""
        return self.cycle is None or self.cycle.response_complete

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
        self._received += len(data)
        if self._ending or self.transport.is_closing():
            return
        self._head_bytes += len(data)
        super().data_received(data)
        if self._ending or self.transport.is_closing():
            return
        limit = self.settings.maximum_head_bytes
        if self._head_bytes > limit:  # of a head, or of what follows a body in chunks
            self._refuse(_head_too_large(limit))
        elif self.idle and self.timeout_keep_alive_task is None:
            self._expect_head()

    def on_message_begin(self) -> None:
        if len(self.pipeline) >= _MOST_WAITING:
            raise _TooManyWaitingError
        super().on_message_begin()
        self._in_head = True

    def on_header(self, name: bytes, value: bytes) -> None:
        # Fields after a body in chunks are dropped: they must not pass for those of the head (RFC 9110, 6.5.1).
        if self._in_head:
            super().on_header(name, value)

    def on_body(self, body: bytes) -> None:
        self._head_bytes = 0
        super().on_body(body)

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
        self._head_bytes = 0

    def send_400_response(self, msg: str) -> None:
        """Not HTTP: told as a problem."""
        del msg
        self._refuse(_not_http())

    def _unsupported_upgrade_warning(self) -> None:
        """Nothing is told: many clients offer HTTP/2 by every request, and are answered as they asked."""

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
        """Answer outside of any request, and close.

        An answer that is due before is neither overtaken nor written into: requests that came whole are
        answered first, and then the connection is closed; one that broke off while it is answered is cut.
        """
        self._ending = True
        under_way = [one for one in self._cycles if not one.response_complete]
        whole = [one for one in under_way if not one.more_body]
        if whole:
            self._cycles = whole
            self.cycle = whole[-1]
            self.cycle.keep_alive = False
            if self.pipeline and self.pipeline[0][0].more_body:
                self.pipeline.popleft()
            return
        if under_way and under_way[0].response_started:
            self.transport.close()
            return
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

    def _movement(self) -> tuple[int, int]:
        return self._received, self.transport.get_write_buffer_size()

    def _watch_reader(self) -> None:
        self._moved = self._movement()
        self._write_timer = self.loop.call_later(
            2 * self.settings.batch_stall_seconds, self._reader_is_late
        )

    def resume_writing(self) -> None:
        super().resume_writing()
        if self._write_timer is not None:
            self._write_timer.cancel()
            self._write_timer = None

    def _reader_is_late(self) -> None:
        self._write_timer = None
        # A batch may well be sent whole before its answer is read.
        if not self.idle and self._moved != self._movement():
            self._watch_reader()
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
