"""One connection: what it may send, how long it may take, and how it ends.

The server's own protocol bounds neither the head of a request nor the time that it takes, nor how many requests
wait behind one another; it keeps a connection that never asks for anything, and closes one so that an early answer
may be lost.
"""

from __future__ import annotations

import asyncio
import math
from typing import Any, cast

from uvicorn.protocols.http.httptools_impl import HttpToolsProtocol, RequestResponseCycle

from schemas.problems import Problem
from service.edge.framework import CLIENT_LEFT
from service.edge.problems import RETRY_AFTER
from service.edge.settings import Settings
from service.serving import connection_problems as problems
from service.serving.state import ServiceState

#: Requests that may wait on one connection behind the one being answered.
_MOST_WAITING = 32
#: What is still read of a body after an early answer, so that the answer is not lost to a reset (RFC 9112, 9.6).
_DRAIN_BYTES, _DRAIN_SECONDS = 32 << 20, 5.0


class _RefusedError(Exception):
    """Ends the parsing of what arrived."""


def protocol_class(settings: Settings, state: ServiceState) -> type[HttpToolsProtocol]:
    """The protocol with these limits."""
    return type("Connection", (_Connection,), {"settings": settings, "state": state})


class _LateClose:
    """The transport as a request sees it: closing waits for what the client still sends."""

    def __init__(self, connection: _Connection) -> None:
        self._connection = connection

    def __getattr__(self, name: str) -> Any:  # noqa: ANN401
        return getattr(self._connection.transport, name)

    def close(self) -> None:
        self._connection.close_after_answer()


class _Connection(HttpToolsProtocol):
    settings: Settings
    state: ServiceState

    def __init__(self, *arguments: Any, **named: Any) -> None:  # noqa: ANN401
        super().__init__(*arguments, **named)
        self.waiting_since = 0.0  # by the loop's clock; it makes room by its age
        self._timer: asyncio.TimerHandle | None = None  # for a head, or for what is discarded at the end
        self._write_timer: asyncio.TimerHandle | None = None
        self._head_bytes = 0  # since the last piece of a body
        self._received = 0
        self._moved = (
            0,
            0,
        )  # bytes received and bytes not yet read, at the last look at the reader
        self._in_head = True
        self._ending = False  # whatever else arrives is discarded
        self._read_to = math.inf  # bytes received, until which it is
        self._given_up = False
        self._refusal: Problem | None = None  # of what is being parsed
        self._cycles: list[RequestResponseCycle] = []

    # ------------------------------------------------------------ coming and going

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        super().connection_made(transport)
        most = self.settings.maximum_connections
        if len(self.connections) > most and not self._make_room():
            self._refuse(problems.too_many(most), RETRY_AFTER)
            return
        self._expect_head()

    def _make_room(self) -> bool:
        """Close the connection that has asked for nothing the longest.

        That includes one that is closing already and waits for its last answer to be read.
        """
        useless = [
            one
            for one in self.connections
            if isinstance(one, _Connection)
            and one is not self
            and not one._given_up
            and (one.idle or one.transport.is_closing())
        ]
        oldest = min(useless, key=lambda one: one.waiting_since, default=None)
        if oldest is not None:
            oldest._given_up = True
            oldest.transport.abort()
        return oldest is not None

    @property
    def idle(self) -> bool:
        """Whether no request of its own is under way."""
        return self.cycle is None or self.cycle.response_complete

    def connection_lost(self, exc: Exception | None) -> None:
        self._expect_nothing()
        if self._write_timer is not None:
            self._write_timer.cancel()
        # The server informs the last request only; those before it in the same pipe are under way too.
        for cycle in self._cycles:
            if not cycle.response_complete:
                cycle.disconnected = True
                cast(dict[str, Any], cycle.scope)[CLIENT_LEFT] = True
            cycle.message_event.set()
        self._cycles.clear()
        super().connection_lost(exc)

    def close_after_answer(self) -> None:
        """Close once the answer is sent; if the client is still sending, let it finish, within bounds."""
        if not self._ending and not (self.cycle is not None and self.cycle.more_body):
            self.transport.close()
            return
        self._ending = True
        self._expect_nothing()
        self._read_to = self._received + _DRAIN_BYTES
        self._timer = self.loop.call_later(_DRAIN_SECONDS, self.transport.close)
        self.transport.write_eof()
        self.flow.resume_reading()

    # ------------------------------------------------------------ the head

    def data_received(self, data: bytes) -> None:
        self._received += len(data)
        if self._received > self._read_to:
            self.transport.close()
        if self._ending or self.transport.is_closing():
            return
        self._head_bytes += len(data)
        super().data_received(data)
        if self._ending or self.transport.is_closing():
            return
        limit = self.settings.maximum_head_bytes
        if self._head_bytes > limit:  # of a head, or of the fields after a body in chunks
            self._refuse(problems.head_too_large(limit))
        elif self.idle and self.timeout_keep_alive_task is None:
            self._expect_head()

    def on_message_begin(self) -> None:
        if len(self.pipeline) >= _MOST_WAITING:
            raise _RefusedError
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
        limit = self.settings.maximum_head_bytes
        if len(self.url) + sum(len(name) + len(value) + 4 for name, value in self.headers) > limit:
            self._refusal = problems.head_too_large(limit)
            raise _RefusedError
        super().on_headers_complete()
        self.cycle.transport = cast(asyncio.Transport, _LateClose(self))
        self._cycles = [one for one in self._cycles if not one.response_complete] + [self.cycle]
        if self.state.draining:
            self.cycle.keep_alive = False

    def on_message_complete(self) -> None:
        super().on_message_complete()
        self._head_bytes = 0

    def send_400_response(self, msg: str) -> None:
        """What arrived could not be parsed, or parsing was ended: answer with a problem."""
        del msg
        self._refuse(self._refusal or problems.not_http())

    def _unsupported_upgrade_warning(self) -> None:
        """Log nothing: many clients offer HTTP/2 with every request, and are answered in HTTP/1.1."""

    def _expect_head(self) -> None:
        if self._timer is None:
            self.waiting_since = self.loop.time()
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
            self._refuse(problems.head_too_slow(self.settings.head_seconds))
        else:
            self.transport.close()  # it never asked for anything

    def _refuse(self, body: Problem, headers: dict[str, str] | None = None) -> None:
        """Answer outside of any request, and close.

        An answer that is due is neither overtaken nor written into: requests that arrived whole are answered
        first, then the connection is closed; one that broke off while it is being answered is cut.
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
        elif under_way and under_way[0].response_started:
            self.transport.close()
        else:
            self.state.count(body)
            self.transport.write(problems.response(body, headers or {}))
            self.close_after_answer()

    # ------------------------------------------------------------ a client that does not read

    def pause_writing(self) -> None:
        super().pause_writing()
        self._watch_reader()

    def _movement(self) -> tuple[int, int]:
        return self._received, self.transport.get_write_buffer_size()

    def _watch_reader(self) -> None:
        self._moved = self._movement()
        self._write_timer = self.loop.call_later(2 * self.settings.batch_stall_seconds, self._reader_is_late)

    def resume_writing(self) -> None:
        super().resume_writing()
        if self._write_timer is not None:
            self._write_timer.cancel()
            self._write_timer = None

    def _reader_is_late(self) -> None:
        self._write_timer = None
        # A client may send a whole batch before it reads the answer.
        if not self.idle and self._moved != self._movement():
            self._watch_reader()
        else:
            self.transport.abort()
