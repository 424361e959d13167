"""A computing process: the whole application, called without a network.

Imports nothing heavy, because a process is set up before it loads the rest.
"""

from __future__ import annotations

import asyncio
import logging
import pickle
import socket
import struct
import time
from collections.abc import Callable
from contextlib import suppress
from functools import partial
from typing import TYPE_CHECKING

from service.batches.workers import prepare_process
from service.serving.messages import Forwarded, Reply
from service.telemetry.counts import collected
from service.telemetry.logs import bound_from_headers, configure

if TYPE_CHECKING:
    from starlette.types import ASGIApp, Message, Scope

    from service.edge.settings import Settings


logger = logging.getLogger(__name__)

#: The length of a message, as written before it.
LENGTH = struct.Struct("!Q")


def configure_log(settings: Settings) -> None:
    """Set up the log of a process as the settings say."""
    configure(settings.log_level, settings.log_form, exception_texts=settings.log_exception_texts)


class _Application:
    """The application of this process and the loop in which it runs."""

    def __init__(self, application: ASGIApp) -> None:
        self._application = application
        self._loop = asyncio.new_event_loop()

    def answer(self, request: Forwarded) -> Reply:
        """Compute one answer."""
        begun = time.perf_counter()
        scope: Scope = {
            "type": "http",
            "asgi": {"version": "3.0", "spec_version": "2.3"},
            "http_version": "1.1",
            "method": request.method,
            "scheme": "http",
            "path": request.path,
            "raw_path": request.raw_path,
            "query_string": request.query,
            "root_path": "",
            "headers": request.headers,
            "client": None,
            "server": None,
            "state": {},
        }
        arriving: list[Message] = [{"type": "http.request", "body": request.body, "more_body": False}]
        head: Message = {}
        pieces: list[bytes] = []

        async def receive() -> Message:
            return arriving.pop() if arriving else {"type": "http.disconnect"}

        async def send(message: Message) -> None:
            if message["type"] == "http.response.start":
                head.update(message)
            else:
                pieces.append(message.get("body", b""))

        with bound_from_headers(request.headers), collected() as counts:
            self._loop.run_until_complete(self._application(scope, receive, send))
        return Reply(
            head["status"],
            list(head["headers"]),
            b"".join(pieces),
            time.perf_counter() - begun,
            counts,
        )


_application: _Application | None = None


def set_up(settings: Settings) -> None:
    """Make a new process ready to compute, and make sure that it ends with its parent."""
    prepare_process(partial(_load, settings))


def set_up_for_batches(settings: Settings) -> None:
    """The same for a process that computes chunks of batches."""
    prepare_process(partial(_load_for_batches, settings))


def _load_for_batches(settings: Settings) -> None:
    from service.batches.warm_up import warm_up  # noqa: PLC0415

    configure_log(settings)
    warm_up()


def _load(settings: Settings) -> None:
    global _application  # noqa: PLW0603 - a process has one
    from service.app import create_app  # noqa: PLC0415

    configure_log(settings)
    _application = _Application(create_app(settings))


def serve(line: socket.socket, set_up: Callable[[], None], compute: Callable[[Forwarded], Reply]) -> None:
    """The life of a process: set up, report that it is ready, then answer one request after another."""
    set_up()
    # A broken connection means that nobody listens any more.
    with suppress(ConnectionError), line:
        line.sendall(packed(None))
        with line.makefile("rb") as stream:
            while head := stream.read(LENGTH.size):
                request = pickle.loads(stream.read(*LENGTH.unpack(head)))
                line.sendall(packed(_computed(compute, request)))


def _computed(compute: Callable[[Forwarded], Reply], request: Forwarded) -> Reply | None:
    try:
        return compute(request)
    except Exception:
        logger.exception("unhandled error in a computing process")
        return None


def packed(message: Forwarded | Reply | None) -> bytes:
    """A message, its length first."""
    data = pickle.dumps(message, pickle.HIGHEST_PROTOCOL)
    return LENGTH.pack(len(data)) + data


def answer(request: Forwarded) -> Reply:
    """The answer to one request."""
    if _application is None:
        raise RuntimeError("the process was not set up")
    return _application.answer(request)
