"""One batch from its first byte to its last: read, compute and send at once, in order, in bounded memory.

Two tasks share a queue of chunks under way.  One reads: bytes, decompressed, into lines, into chunks, each
handed to the workers as soon as one of a few places is free; until then nothing is read.  The other sends: it
awaits the chunks in order, and frees a place once the client has taken a chunk's answers.
"""

from __future__ import annotations

import asyncio
import logging
from asyncio import Future, Task
from collections.abc import Awaitable, Callable, Coroutine, Sequence
from contextlib import suppress
from dataclasses import dataclass
from time import monotonic
from typing import Any

import orjson

from schemas.details import Detail
from schemas.problems import Problem
from service.batches.answered import Answered, Tally
from service.batches.lines import BLANK, Chunk, Chunker, Line, LineSplitter, Overlong
from service.batches.notices import notices
from service.batches.workers import Workers
from service.edge.codings import CodingError, Decoder, Encoder
from service.edge.problems import field_problem, internal, problem_body
from service.edge.strict_json import seems_cut
from service.reference.versions import SERVICE_VERSION
from service.telemetry import counts

logger = logging.getLogger(__name__)

#: Gives what arrives next, and None once at the end; then waits.  Raises GoneError when the client leaves.
Receive = Callable[[], Coroutine[Any, Any, bytes | None]]
Send = Callable[[bytes], Coroutine[Any, Any, None]]

#: After so long without input, what has arrived is answered: for clients that send line by line.
LULL_SECONDS = 0.05
#: Bytes handed to the server at a time, so that a client that stops reading is noticed within a chunk.
_PIECE = 65_536
#: Content that holds no line to answer is decompressed up to this many bytes, and so many more for each byte
#: received.  Nothing but a body made to expand exceeds both: gzip reaches 1032, readings of real units 20.
QUIET_BYTES, QUIET_BYTES_PER_BYTE = 64 << 20, 100


#: How a client continues a batch that ended early.
_RESUME = "Send the input again with `offset` set to `resume_offset`."


class GoneError(Exception):
    """The client has left, so there is nobody to answer."""


async def _done_within(future: Future[Any], seconds: float) -> bool:
    done, _ = await asyncio.wait({future}, timeout=seconds)
    return bool(done)


async def _ended(*tasks: Future[Any]) -> None:
    for task in tasks:
        task.cancel()
    await asyncio.gather(*tasks, return_exceptions=True)


def _never() -> bool:
    return False


@dataclass(frozen=True, slots=True)
class BatchOptions:
    """How a batch is to be answered.

    Attributes
    ----------
    detail : {"full", "grades"}
        How much of each answer is given.
    offset : int
        Lines skipped at the start of the input.
    input_coding, output_coding : str
        Content codings of the two bodies.
    line_limit : int
        Bytes that a line may have.
    stall_seconds : float
        How long the client may neither send nor read while the batch waits for it.
    caller : str
        Who sent it; places are shared between callers.
    """

    detail: Detail
    offset: int
    input_coding: str
    output_coding: str
    line_limit: int
    stall_seconds: float
    caller: str = ""


class Batch:
    """One batch; :meth:`run` answers it with the help of ``workers``."""

    def __init__(self, workers: Workers, options: BatchOptions) -> None:
        self._workers, self._detail, self._offset = workers, options.detail, options.offset
        self._decoder, self._encoder = Decoder(options.input_coding), Encoder(options.output_coding)
        self._splitter = LineSplitter(options.line_limit)
        self._chunker = Chunker(options.offset)
        self._stall = options.stall_seconds
        self.caller, self.begun = options.caller, monotonic()
        self._received = 0  # bytes, as they arrived
        self._quiet = 0  # bytes of content since the last line to answer
        self._computing = 0  # chunks
        # When a line to answer last arrived, or answers were last computed or taken.
        self._active = monotonic()
        self._gone: Callable[[], bool] = _never
        self._places = asyncio.Semaphore(workers.at_once)
        self._under_way: asyncio.Queue[tuple[Chunk, Task[Answered]] | None] = asyncio.Queue()
        self._waiting = 0  # chunks whose answers have not been taken
        self._next = options.offset  # the line after the last one dealt with
        self._tally = Tally()
        self._problem: Problem | None = None
        self._cut = asyncio.Event()
        self._given_up = asyncio.Event()
        self._all_received = asyncio.Event()
        self._drained = 0  # pieces of input that were discarded
        self._handed_over = False  # all lines of the input
        self._cut_line: int | None = None  # the last, if it seems to be cut

    @property
    def chunks_under_way(self) -> int:
        """Chunks being computed, and those whose answers have not been taken."""
        return self._waiting

    @property
    def holds_place(self) -> bool:
        """Whether it counts among the batches that run; one that ended early and was read does not."""
        return not self._cut.is_set() or self._waiting > 0

    @property
    def idle_seconds(self) -> float:
        """How long it has waited for its client to send a whole line or to read; 0 while it computes."""
        return 0.0 if self._computing else monotonic() - self._active

    def make_room(self) -> None:
        """End for another batch that needs the place: with a summary, unless the client does not read."""
        if self._waiting or self._handed_over:
            self._given_up.set()
        self._end_early(
            "overloaded",
            "Another batch needed the place while this one waited for its client.",
            "a client that keeps sending lines and reading answers",
            _RESUME,
        )

    @property
    def ending(self) -> bool:
        """Whether its end is near: it was cut short, or all its lines have arrived."""
        return self._cut.is_set() or self._handed_over

    def give_way(self) -> None:
        """End for the batch of another caller: what is under way is answered, then the summary."""
        self._end_early(
            "overloaded",
            "Another caller needed a place, and this one holds more of them.",
            "no more batches at once than the others have",
            _RESUME,
        )

    def stop(self) -> None:
        """Answer what is under way and end, because the service stops."""
        self._end_early(
            "stopping",
            "The service is stopping; what was under way is answered.",
            "the whole input",
            _RESUME,
        )

    async def run(self, receive: Receive, send: Send, gone: Callable[[], bool] = _never) -> bool:
        """Answer the batch, its summary last.

        ``gone`` says whether the client has left, without waiting for what it sends.  The result is False if
        the batch was given up: the client left, or did not read for twice the time that it may take.
        """
        self._gone = gone
        reading = asyncio.create_task(self._read(receive))
        sending = asyncio.create_task(self._send(send))
        given_up = asyncio.create_task(self._given_up.wait())
        tasks = (reading, sending, given_up)
        try:
            await asyncio.wait(tasks, return_when=asyncio.FIRST_COMPLETED)
            next(task for task in (sending, reading, given_up) if task.done()).result()
            return sending.done() or not given_up.done()
        except (GoneError, OSError):  # a server may raise either
            logger.info("the client of a batch left; its answers end before line %d", self._next)
            return False
        finally:
            await _ended(*tasks)
            while not self._under_way.empty():
                entry = self._under_way.get_nowait()
                if entry is not None:
                    await _ended(entry[1])

    # ------------------------------------------------------------ in

    async def _read(self, receive: Receive) -> None:
        taking = asyncio.create_task(self._take(receive))
        cut = asyncio.create_task(self._cut.wait())
        try:
            await asyncio.wait({taking, cut}, return_when=asyncio.FIRST_COMPLETED)
            if taking.done():
                taking.result()
        except GoneError:
            raise
        except Exception:
            self._fail()
        finally:
            await _ended(taking, cut)
        self._under_way.put_nowait(None)
        # What is still sent is read and discarded, so that a client that sends everything first gets to reading.
        # After the end of the input this waits for the client to leave.
        while True:
            self._drained += 1
            if await receive() is None:
                self._all_received.set()

    async def _take(self, receive: Receive) -> None:
        """Read, and hand chunks to the workers, to the end of the input or as far as it can be read."""
        try:
            await self._take_whole(receive)
        except CodingError as error:
            await self._close_chunk()  # the lines that arrived whole are answered
            self._end_early(
                "invalid-coding",
                str(error),
                "a whole gzip or zstd body, or a plain one",
                error.hint,
                "was not decompressed to its end",
            )

    async def _take_whole(self, receive: Receive) -> None:
        while True:
            arriving = asyncio.ensure_future(receive())
            try:
                if not await _done_within(arriving, LULL_SECONDS):
                    await self._close_chunk()
                    while not await _done_within(arriving, self._stall):
                        # A client may wait for its answers before it sends more.
                        if not self._waiting:
                            self._say_stalled("sent nothing")
                data = await arriving
            finally:
                arriving.cancel()
            if data is None:
                break
            await self._take_content(data)
        self._all_received.set()
        rest = self._splitter.feed(self._decoder.end())
        last = self._splitter.end()
        for chunk in self._chunker.feed([*rest, *last]):
            await self._hand_over(chunk)
        await asyncio.to_thread(self._notice_cut, last)
        await self._close_chunk()
        self._handed_over = True

    async def _take_content(self, data: bytes) -> None:
        """Decompress what arrived, and hand over the chunks that it closes."""
        self._received += len(data)
        for piece in self._decoder.feed(data):
            before = self._chunker.answerable
            for chunk in self._chunker.feed(self._splitter.feed(piece)):
                await self._hand_over(chunk)
            self._watch_content(len(piece), some=self._chunker.answerable > before)
            if self._gone():
                raise GoneError
            await asyncio.sleep(0)  # others get their turn between the pieces

    def _watch_content(self, size: int, *, some: bool) -> None:
        """Bound what is decompressed for nothing; ``some`` says whether a piece held a line to answer."""
        if some:
            self._quiet, self._active = 0, monotonic()
            return
        self._quiet += size
        if self._quiet > QUIET_BYTES + QUIET_BYTES_PER_BYTE * self._received:
            raise CodingError(
                f"The body expands to {self._quiet >> 20} MB without a line to answer.",
                "Leave out blank lines. If `offset` skips many lines, send the body plain.",
            )

    def _notice_cut(self, last: Sequence[Line]) -> None:
        """Remember a last line that lacks both its end and a part of its JSON: it may have been cut."""
        number = self._chunker.number - 1
        for line in last:
            if number < self._offset or isinstance(line, Overlong):
                continue
            if line != BLANK and seems_cut(line):
                self._cut_line = number

    async def _close_chunk(self) -> None:
        for chunk in self._chunker.close():
            await self._hand_over(chunk)

    async def _hand_over(self, chunk: Chunk) -> None:
        await self._places.acquire()
        self._waiting += 1
        self._computing += 1
        answering = asyncio.create_task(self._workers.answer(chunk, self._detail))
        answering.add_done_callback(self._computed)
        self._under_way.put_nowait((chunk, answering))

    def _computed(self, _: Task[Answered]) -> None:
        self._computing -= 1
        self._active = monotonic()

    def _say_stalled(self, did: str) -> None:
        self._end_early(
            "stalled",
            f"The client {did} for {self._stall:g} s.",
            "a client that reads while it sends",
            f"Read the answer while you send, or send fewer lines at a time. {_RESUME}",
        )

    def _end_early(
        self,
        name: str,
        detail: str,
        allowed: str,
        hint: str,
        fault: str = "was not received in full",
    ) -> None:
        if not self._handed_over:
            if self._problem is None:
                self._problem = problem_body(name, detail, [field_problem("", None, allowed, fault, hint)])
                counts.add_problem(self._problem, "batch")
            self._cut.set()

    def _fail(self) -> None:
        logger.exception("a batch failed")
        self._problem = internal("batch").body
        counts.add_problem(self._problem, "batch")
        self._cut.set()

    # ------------------------------------------------------------ out

    async def _send(self, send: Send) -> None:
        while (entry := await self._under_way.get()) is not None:
            chunk, answering = entry
            try:
                answered = await answering
            except Exception:
                self._fail()
                break
            finally:
                answering.cancel()
            await self._deliver(send, answered.content)
            self._tally += answered.tally
            counts.add_all(answered.counts)
            self._next, self._active = chunk.end, monotonic()
            self._waiting -= 1
            self._places.release()
        await self._deliver(send, self._summary(), last=True)
        # Closing a connection with unread input may lose what was sent just before.
        with suppress(TimeoutError):
            await asyncio.wait_for(self._all_received.wait(), self._stall)

    async def _deliver(self, send: Send, content: bytes, *, last: bool = False) -> None:
        # Compression runs outside the loop, which serves others.
        data = await asyncio.to_thread(self._encoder.encode, content, last=last)
        for at in range(0, len(data), _PIECE):
            await self._patiently(send(data[at : at + _PIECE]))
            self._active = monotonic()

    async def _patiently(self, sending: Awaitable[None]) -> None:
        """Wait for the client to read, but not forever."""
        task = asyncio.ensure_future(sending)
        drained = None
        try:
            while not await _done_within(task, self._stall):
                if drained == self._drained:
                    raise GoneError
                self._say_stalled("read nothing")
                drained = self._drained
            await task
        finally:
            task.cancel()

    def _summary(self) -> bytes:
        number = self._chunker.number
        reached = number if self._problem is None else self._next
        summary = {
            "complete": self._problem is None,
            "cut_suspected": self._problem is None and self._cut_line is not None,
            "resume_offset": None if self._problem is None else self._next,
            "lines": number,
            "skipped": min(self._offset, number),
            "blank": max(0, reached - self._offset - self._tally.answered),
            "answered": self._tally.answered,
            "assessments": self._tally.assessments,
            "comparisons": self._tally.comparisons,
            "diagnoses": self._tally.diagnoses,
            "trends": self._tally.trends,
            "checks": self._tally.checks,
            "problems": self._tally.problems,
            "notices": [] if self._problem else notices(number, self._tally.answered, self._offset, self._cut_line),
            "service": SERVICE_VERSION,
            "problem": self._problem,
        }
        return orjson.dumps({"summary": summary}, option=orjson.OPT_APPEND_NEWLINE)
