"""One batch from its first byte to its last: read, compute and send at once, in order, in bounded memory.

Two tasks share a queue of chunks under way.  One reads: bytes, decompressed, into lines, into chunks, each
handed to the workers as soon as one of few places is free; while none is, nothing is read.  The other
sends: it awaits the chunks in order, and frees a place when a chunk's answers have been taken.
"""

from __future__ import annotations

import asyncio
import logging
from asyncio import Future, Task
from collections.abc import Awaitable, Callable, Coroutine, Sequence
from contextlib import suppress
from typing import Any

import orjson

from schemas.batches import Detail
from service.batches.answered import Answered, Tally
from service.batches.codings import CodingError, Decoder, Encoder
from service.batches.lines import BLANK, Chunk, Chunker, Line, LineSplitter, Overlong
from service.batches.workers import Workers
from service.edge.problems import INTERNAL, field_problem, problem_body
from service.edge.strict_json import seems_cut
from service.reference.versions import SERVICE_VERSION
from service.telemetry import counts

logger = logging.getLogger(__name__)

#: Gives what arrives next, None once at the end; afterwards waits.  Raises GoneError if the client goes.
Receive = Callable[[], Coroutine[Any, Any, bytes | None]]
Send = Callable[[bytes], Coroutine[Any, Any, None]]

#: Nothing arrived for so long: what has is answered now, for clients that send line by line.
LULL_SECONDS = 0.05
#: Bytes given to the server at a time, so that a client which stops reading is noticed within a chunk.
_PIECE = 65_536


class GoneError(Exception):
    """The client has gone; nobody is left to answer."""


async def _done_within(future: Future[Any], seconds: float) -> bool:
    done, _ = await asyncio.wait({future}, timeout=seconds)
    return bool(done)


async def _ended(*tasks: Future[Any]) -> None:
    for task in tasks:
        task.cancel()
    await asyncio.gather(*tasks, return_exceptions=True)


class Batch:
    """One batch; :meth:`run` answers it.

    Parameters
    ----------
    workers : Workers
        Who computes.
    detail : {"full", "grades"}
        How much of an assessment is given.
    offset : int
        Lines passed over at the start of the input.
    decoder, encoder : Decoder, Encoder
        Content codings of the two bodies.
    line_limit : int
        Bytes that a line may have.
    stall_seconds : float
        For how long the client may neither send nor read while the batch waits for it.
    """

    def __init__(
        self,
        workers: Workers,
        *,
        detail: Detail,
        offset: int,
        decoder: Decoder,
        encoder: Encoder,
        line_limit: int,
        stall_seconds: float,
    ) -> None:
        self._workers, self._detail, self._offset = workers, detail, offset
        self._decoder, self._encoder = decoder, encoder
        self._splitter, self._chunker = LineSplitter(line_limit), Chunker(offset)
        self._stall = stall_seconds
        self._places = asyncio.Semaphore(workers.at_once)
        self._under_way: asyncio.Queue[tuple[Chunk, Task[Answered]] | None] = asyncio.Queue()
        self._waiting = 0  # chunks whose answers have not been taken
        self._next = offset  # the line after the last that was dealt with
        self._tally = Tally()
        self._problem: dict[str, Any] | None = None
        self._cut = asyncio.Event()
        self._all_received = asyncio.Event()
        self._drained = 0  # pieces of input that were dropped
        self._handed_over = False  # all lines of the input
        self._cut_line: int | None = None  # the last, where it seems to have been cut

    @property
    def chunks_under_way(self) -> int:
        """Chunks that are computed, or whose answers have not been taken."""
        return self._waiting

    def stop(self) -> None:
        """Answer what is under way and end, as the service stops."""
        self._end_early(
            "stopping", "The service stops; what was under way is answered.", "the whole input",
            "Send the input again with `offset` as `resume_offset` says.",
        )  # fmt: skip

    async def run(self, receive: Receive, send: Send) -> bool:
        """Answer the batch, its summary last.

        False where it was given up: the client has gone, or did not read for twice the time that it may.
        """
        reading = asyncio.create_task(self._read(receive))
        sending = asyncio.create_task(self._send(send))
        try:
            await asyncio.wait({reading, sending}, return_when=asyncio.FIRST_COMPLETED)
            (sending if sending.done() else reading).result()
            return True
        except (GoneError, OSError):  # a server may tell by either
            logger.info("the client of a batch has gone; it was answered up to line %d", self._next)
            return False
        finally:
            await _ended(reading, sending)
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
        # What is still sent is read and dropped: a client that sends all before it reads gets to reading.
        # After the end this waits for the client to go.
        while True:
            self._drained += 1
            if await receive() is None:
                self._all_received.set()

    async def _take(self, receive: Receive) -> None:
        """Read, and hand chunks to the workers, to the end of the input or of what can be read of it."""
        try:
            await self._take_whole(receive)
        except CodingError as error:
            await self._close_chunk()  # the lines that came whole are answered
            self._end_early(
                "invalid-coding", str(error), "a whole gzip or zstd body, or a plain one", error.hint,
                "does not fit its Content-Encoding",
            )  # fmt: skip

    async def _take_whole(self, receive: Receive) -> None:
        while True:
            arriving = asyncio.ensure_future(receive())
            try:
                if not await _done_within(arriving, LULL_SECONDS):
                    await self._close_chunk()
                    while not await _done_within(arriving, self._stall):
                        # A client may well wait for its answers before it sends more.
                        if not self._waiting:
                            self._say_stalled("sent nothing")
                data = await arriving
            finally:
                arriving.cancel()
            if data is None:
                break
            for piece in self._decoder.feed(data):
                for chunk in self._chunker.feed(self._splitter.feed(piece)):
                    await self._hand_over(chunk)
                await asyncio.sleep(0)  # others have their turn between the pieces
        self._all_received.set()
        rest = self._splitter.feed(self._decoder.end())
        last = self._splitter.end()
        for chunk in self._chunker.feed([*rest, *last]):
            await self._hand_over(chunk)
        await asyncio.to_thread(self._notice_cut, last)
        await self._close_chunk()
        self._handed_over = True

    def _notice_cut(self, last: Sequence[Line]) -> None:
        """Remember a last line that lacks both its end and a part of itself: it may have been cut."""
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
        answering = asyncio.create_task(self._workers.answer(chunk, self._detail))
        self._under_way.put_nowait((chunk, answering))

    def _say_stalled(self, did: str) -> None:
        self._end_early(
            "stalled", f"The client {did} for {self._stall:g} s.", "a client that reads while it sends",
            "Read the answer while you send, or send fewer lines at a time; then go on with `offset` as "
            "`resume_offset` says.",
        )  # fmt: skip

    def _end_early(
        self, name: str, detail: str, allowed: str, hint: str, fault: str = "was not received whole"
    ) -> None:
        if not self._handed_over:
            if self._problem is None:
                self._problem = problem_body(
                    name, detail, [field_problem("", None, allowed, fault, hint)]
                )
                counts.add_problem(self._problem, "batch")
            self._cut.set()

    def _fail(self) -> None:
        logger.exception("a batch could not go on")
        self._problem = problem_body("internal", INTERNAL.format("batch"))
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
            self._next = chunk.end
            self._waiting -= 1
            self._places.release()
        await self._deliver(send, self._summary(), last=True)
        # A connection closed over input that was not read may lose what was sent just before.
        with suppress(TimeoutError):
            await asyncio.wait_for(self._all_received.wait(), self._stall)

    async def _deliver(self, send: Send, content: bytes, *, last: bool = False) -> None:
        # Compressing is let out of the loop, which others wait for.
        data = await asyncio.to_thread(self._encoder.encode, content, last=last)
        for at in range(0, len(data), _PIECE):
            await self._patiently(send(data[at : at + _PIECE]))

    async def _patiently(self, sending: Awaitable[None]) -> None:
        """Wait for the client to read, but not for ever."""
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
            "problems": self._tally.problems,
            "notices": [] if self._problem else self._notices(number),
            "service": SERVICE_VERSION,
            "problem": self._problem,
        }
        return orjson.dumps({"summary": summary}, option=orjson.OPT_APPEND_NEWLINE)

    def _notices(self, number: int) -> list[dict[str, Any]]:
        """What is odd about a body that was received whole."""
        if self._cut_line is not None:
            return [_notice(
                "last_line_cut",
                "The last line has no line end and is not valid JSON: the input may have been cut on its way here. "
                "Compare `lines` with your own count; if some lack, send the whole input with this offset.",
                self._cut_line,
            )]  # fmt: skip
        if number == 0 or (self._offset == 0 and self._tally.answered == 0):
            return [_notice(
                "no_line",
                f"The body holds {'nothing but blank lines' if number else 'no line'}. Give one JSON object a line; "
                "see that the file was found and sent.",
            )]  # fmt: skip
        if self._offset > number:
            return [_notice(
                "offset_past_end",
                f"The offset passes over {self._offset} lines, and the body holds {number}: nothing was answered. "
                "Send the same input as before, the whole of it.",
            )]  # fmt: skip
        return []


def _notice(code: str, sentence: str, resume_offset: int | None = None) -> dict[str, Any]:
    return {"code": code, "sentence": sentence, "resume_offset": resume_offset}
