"""The server: ready, serving, and an orderly stop."""

from __future__ import annotations

import asyncio
import os
import signal
import socket
from collections.abc import Callable
from contextlib import suppress
from types import FrameType

import uvicorn

from service.edge.settings import Settings
from service.serving.front import Front
from service.serving.protocol import protocol_class
from service.serving.state import ServiceState

#: Turns of the loop in which waiting connections are accepted.
_TURNS = 5


class Server(uvicorn.Server):
    """Uvicorn's server with limits on connections and an orderly stop.

    After a stop signal (SIGTERM, SIGINT) it still answers for a while, but readiness fails, and every answer says
    ``Connection: close``.  Then it accepts nothing more, ends batches with a line that says where to resume,
    finishes what is under way, and exits with status 0.
    """

    def __init__(self, front: Front, settings: Settings, state: ServiceState, ready: Callable[[str], None]) -> None:
        super().__init__(
            uvicorn.Config(
                front.application,
                host=settings.host,
                port=settings.port,
                http=protocol_class(settings, state),
                ws="none",
                log_config=None,
                access_log=False,
                server_header=False,
                timeout_graceful_shutdown=settings.stop_seconds,  # type: ignore[arg-type]
            )
        )
        self._settings, self._state, self._ready = settings, state, ready
        self._batches = front.batches

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        """Open the port and report it."""
        await super().startup(sockets)
        if self.started:
            host, port = self.servers[0].sockets[0].getsockname()[:2]
            self._ready(f"http://{'127.0.0.1' if host == '0.0.0.0' else host}:{port}")

    def handle_exit(self, sig: int, frame: FrameType | None) -> None:
        """Begin to stop; a second Ctrl+C ends the service at once."""
        if self.should_exit and sig == signal.SIGINT:
            self.force_exit = True
        # The signal is not recorded: the server would raise it again at the end, and the exit status must be 0.
        self.should_exit = True

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        """Close connections with their answers, accept nothing more, finish."""
        self._state.draining = True
        for connection in list(self.server_state.connections):
            if connection.cycle is not None:  # type: ignore[union-attr]
                connection.cycle.keep_alive = False  # type: ignore[union-attr]
        if not self.force_exit:
            await asyncio.sleep(self._settings.drain_seconds)
        # Connections still in the system's queue would be reset when the port closes, so the queue is made as
        # short as possible and emptied first.
        for server in self.servers:
            for listening in server.sockets:
                with suppress(OSError), socket.socket(fileno=os.dup(listening.fileno())) as copy:
                    copy.listen(0)
        for _ in range(_TURNS):
            await asyncio.sleep(0)
        for batch in self._batches:
            batch.stop()
        await super().shutdown(sockets)
