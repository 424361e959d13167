"""Computing processes, each with one request at a time.

A process that dies over a request, or takes too long, is replaced without harm to the others: each is a pool of
one.  An answer depends on its request alone, so a request whose process died is computed once more.
"""

from __future__ import annotations

import asyncio
import atexit
import logging
import multiprocessing
import pickle
import socket
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from functools import partial
from typing import Protocol

from service.serving import process
from service.serving.messages import Forwarded, Reply

logger = logging.getLogger(__name__)

#: How often one request may bring its process down.
_TRIES = 2
#: Pause before starting a process again after a failure [s].
_PAUSE_SECONDS = 1.0


class WaitedTooLongError(Exception):
    """No process was free in time, so nothing was computed."""


class TookTooLongError(Exception):
    """Computing took too long and was stopped."""


class DiedError(Exception):
    """The processes that computed the request died."""


class RaisedError(Exception):
    """Computing raised an exception; the process logged it."""


class EndedError(Exception):
    """A process ended."""


@dataclass(frozen=True, slots=True)
class Computed:
    """An answer, how long its request waited [s], and the place of the process that computed it."""

    reply: Reply
    waited: float
    place: str


class Watch(Protocol):
    """What is informed about the processes."""

    def replaced(self, reason: str) -> None:
        """One ended (``"died"`` or ``"timed_out"``), and another takes its place."""


class Unwatched:
    """Watches nothing."""

    def replaced(self, reason: str) -> None:
        """Do nothing."""


class _Seat:
    """One process, and the connection to it."""

    def __init__(self, set_up: Callable[[], None], compute: Callable[[Forwarded], Reply], place: int) -> None:
        self.place = place
        self._ours, theirs = socket.socketpair()
        # Spawned, because a fork of a serving process would inherit its connections.
        context = multiprocessing.get_context("spawn")
        self._process = context.Process(target=process.serve, args=(theirs, set_up, compute), daemon=True)
        self._process.start()
        theirs.close()
        self._line: tuple[asyncio.StreamReader, asyncio.StreamWriter] | None = None

    @property
    def number(self) -> int:
        """Its process id."""
        return self._process.pid or 0

    @property
    def sentinel(self) -> int:
        """A file descriptor that becomes readable when it ends."""
        return self._process.sentinel

    async def ready(self) -> None:
        """Wait until it can compute."""
        self._line = await asyncio.open_unix_connection(sock=self._ours)
        await self._heard()

    async def compute(self, request: Forwarded) -> Reply:
        """One answer."""
        assert self._line is not None
        writer = self._line[1]
        try:
            writer.write(process.packed(request))
            await writer.drain()
        except ConnectionError:
            raise EndedError from None
        found = await self._heard()
        if not isinstance(found, Reply):
            raise RaisedError
        return found

    async def _heard(self) -> object:
        assert self._line is not None
        reader = self._line[0]
        try:
            (length,) = process.LENGTH.unpack(await reader.readexactly(process.LENGTH.size))
            return pickle.loads(await reader.readexactly(length))
        except (asyncio.IncompleteReadError, ConnectionError):
            raise EndedError from None

    def end(self) -> None:
        """End it at once."""
        self._process.kill()
        if self._line is None:
            self._ours.close()
        else:
            self._line[1].close()


class Processes:
    """A number of computing processes, started by :meth:`start`.

    Each is set up by ``set_up`` and answers by ``compute``; both must be importable functions.
    """

    def __init__(
        self,
        count: int,
        set_up: Callable[[], None],
        compute: Callable[[Forwarded], Reply],
    ) -> None:
        self.count = count
        self._new: Callable[[int], _Seat] = partial(_Seat, set_up, compute)
        self._first: _Seat | None = None
        self.watch: Watch = Unwatched()
        self._idle: asyncio.Queue[_Seat] = asyncio.Queue()
        self._seats: set[_Seat] = set()
        self._loading: set[_Seat] = set()
        self._starting: set[asyncio.Task[None]] = set()
        self._computing: set[asyncio.Task[Reply]] = set()
        self._closed = False
        self.busy = self.waiting = 0

    @property
    def alive(self) -> int:
        """Processes that compute or are ready to."""
        return len(self._seats)

    def numbered(self) -> dict[str, int]:
        """Their process ids, by place (`1`, `2`, ...)."""
        return {str(seat.place): seat.number for seat in sorted(self._seats, key=lambda seat: seat.place)}

    def start_first(self) -> None:
        """Let the first begin to load while the caller loads too."""
        self._first = self._new(1)
        # However this process ends: its children ignore other signals.
        atexit.register(self.close)

    async def start(self) -> None:
        """Start all; returns as soon as the first can compute.

        The first makes the tables if there are none yet; the others then find them.
        """
        await self._start(1)
        for place in range(2, self.count + 1):
            self._begin(place)

    async def answer(self, request: Forwarded, seconds: float) -> Computed:
        """The answer to a request, within so many seconds.

        Raises
        ------
        WaitedTooLongError, TookTooLongError, DiedError, RaisedError
        """
        begun = time.monotonic()
        for _ in range(_TRIES):
            seat = await self._free(begun + seconds - time.monotonic())
            waited = time.monotonic() - begun
            computing = asyncio.create_task(self._compute(seat, request, begun + seconds - time.monotonic()))
            self._computing.add(computing)
            computing.add_done_callback(self._computing.discard)
            try:
                # The client may leave.  The process carries on, because replacing it would cost far more.
                return Computed(await asyncio.shield(computing), waited, str(seat.place))
            except EndedError:
                logger.warning("a computing process died while computing a request")
        raise DiedError

    def close(self) -> None:
        """End all processes; what they compute is lost."""
        self._closed = True
        for task in (*self._starting, *self._computing):
            task.cancel()
        for seat in self._seats:
            with suppress(RuntimeError):  # no loop is running any more
                asyncio.get_running_loop().remove_reader(seat.sentinel)
        for seat in (*self._seats, *self._loading, *filter(None, [self._first])):
            seat.end()
        self._seats.clear()
        self._loading.clear()

    async def _free(self, seconds: float) -> _Seat:
        self.waiting += 1
        try:
            async with asyncio.timeout(max(0.0, seconds)):
                # A process that ended while idle has been replaced.
                while (seat := await self._idle.get()) not in self._seats:
                    pass
            return seat
        except TimeoutError:
            raise WaitedTooLongError from None
        finally:
            self.waiting -= 1

    async def _compute(self, seat: _Seat, request: Forwarded, seconds: float) -> Reply:
        reason: str | None = "died"
        self.busy += 1
        try:
            async with asyncio.timeout(max(0.0, seconds)):
                reply = await seat.compute(request)
            reason = None
        except TimeoutError:
            reason = "timed_out"
            raise TookTooLongError from None
        except RaisedError:
            reason = None  # the process is intact
            raise
        finally:
            self.busy -= 1
            if reason is not None:
                self._replace(seat, reason)
            elif seat in self._seats:
                self._idle.put_nowait(seat)
        return reply

    def _replace(self, seat: _Seat, reason: str) -> None:
        if seat not in self._seats:
            return
        self._seats.discard(seat)
        asyncio.get_running_loop().remove_reader(seat.sentinel)
        seat.end()
        if not self._closed:
            self.watch.replaced(reason)
            self._begin(seat.place)

    def _begin(self, place: int) -> None:
        task = asyncio.create_task(self._start_surely(place))
        self._starting.add(task)
        task.add_done_callback(self._starting.discard)

    async def _start_surely(self, place: int) -> None:
        while not self._closed:
            try:
                await self._start(place)
                return
            except (EndedError, OSError):
                logger.error("a computing process could not be started")
                await asyncio.sleep(_PAUSE_SECONDS)

    async def _start(self, place: int) -> None:
        first, self._first = self._first, None
        seat = first or self._new(place)
        self._loading.add(seat)
        try:
            await seat.ready()
        except BaseException:
            seat.end()
            raise
        finally:
            self._loading.discard(seat)
        self._seats.add(seat)
        self._idle.put_nowait(seat)
        # Its end is noticed at once, whether it computes or not.
        asyncio.get_running_loop().add_reader(seat.sentinel, self._replace, seat, "died")
