"""`POST /v1/batches`."""

from __future__ import annotations

import asyncio
import re
from typing import Annotated, Any

from fastapi import APIRouter, FastAPI, Query, Request
from fastapi.responses import StreamingResponse
from pydantic import BeforeValidator, Field
from pydantic_core import PydanticKnownError
from starlette.types import Message, Receive, Scope, Send

from schemas.batches import Detail
from schemas.examples import BATCH_TITLES, batch_answer_example, batch_examples
from service.batches.codings import CODINGS, IDENTITY, Decoder, Encoder
from service.batches.stream import Batch, GoneError
from service.batches.workers import Workers, processors
from service.edge.limits import BodyLimits
from service.edge.negotiation import chosen_coding
from service.edge.problems import LARGEST_OFFSET, ProblemError, field_problem, refuse_full
from service.edge.settings import Settings
from service.edge.strict_json import StrictRoute, charset, media_type, sent_as
from service.routes.responses import PROBLEMS

LINES = "application/x-ndjson"
#: Other names of the same follow.
_TAKEN = (
    LINES,
    "application/ndjson",
    "application/jsonl",
    "application/x-jsonlines",
    "application/json-lines",
)
#: UTF-8, or a part of it.
_CHARSETS = ("", "utf-8", "utf8", "us-ascii", "ascii")
#: RFC 9110, 8.4.1.3: `x-gzip` means `gzip`.
_CODINGS = {**{coding: coding for coding in (*CODINGS, IDENTITY)}, "x-gzip": "gzip", "": IDENTITY}


def _coding(request: Request) -> str | None:
    """The coding of the body; None where it is none that is taken."""
    return _CODINGS.get(request.headers.get("content-encoding", "").strip().lower())


class LinesRoute(StrictRoute):
    """A route whose body is read line by line, never as a whole."""

    def with_body(self, request: Request) -> Request:
        """Check how the body is sent; it is read later."""
        given = request.headers.get("content-type")
        if media_type(given) not in _TAKEN:
            raise ProblemError(
                415, "unsupported-media-type", sent_as(given),
                [field_problem("", None, " or ".join(_TAKEN), "is not sent as lines of JSON",
                               f"Send one JSON object a line, with the header Content-Type: {LINES}.")],
            )  # fmt: skip
        if charset(given) not in _CHARSETS:
            raise ProblemError(
                415, "unsupported-media-type", sent_as(given),
                [field_problem("", charset(given), "UTF-8", "is not a charset that is taken",
                               "Write the lines as UTF-8, and leave charset out or say charset=utf-8.")],
            )  # fmt: skip
        if _coding(request) is None:
            coding = request.headers.get("content-encoding", "")[:80]
            raise ProblemError(
                415, "unsupported-media-type", f"The body is compressed as {coding!r}.",
                [field_problem("", None, "gzip, zstd or no Content-Encoding", "is not a coding that is taken",
                               "Compress the body as gzip or zstd, once, or send it plain.")],
            )  # fmt: skip
        return request


class LinesResponse(StreamingResponse):
    """Lines of JSON."""

    media_type = LINES


class _Body:
    """The body of a request; it is asked for as soon as this is made."""

    def __init__(self, receive: Receive) -> None:
        self._receive = receive
        self._first: asyncio.Future[Message] | None = asyncio.ensure_future(receive())
        self._ended = self._told = False

    async def piece(self) -> bytes | None:
        """What arrives next, None once at the end; afterwards nothing, until the client goes."""
        if self._ended and not self._told:
            self._told = True
            return None
        while True:
            first, self._first = self._first, None
            message = await (first or self._receive())
            if message["type"] == "http.disconnect":
                raise GoneError
            if not self._ended:
                self._ended = not message.get("more_body", False)
                return bytes(message.get("body", b""))

    def close(self) -> None:
        """Ask no more."""
        if self._first is not None:
            self._first.cancel()


class _Answer(LinesResponse):
    """The answer to a batch: it takes the body of the request while it sends its own."""

    def __init__(self, batch: Batch, running: set[Batch], coding: str) -> None:
        headers = {"Cache-Control": "no-store", "Vary": "Accept-Encoding"}
        if coding != IDENTITY:
            headers["Content-Encoding"] = coding
        super().__init__((), headers=headers)
        self._batch, self._running = batch, running

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Send head, lines and end."""
        self._running.add(self._batch)  # before anything is waited for: others count it
        body = _Body(receive)
        try:
            whole = await self._run(body, send)
        finally:
            body.close()
            self._running.discard(self._batch)
        if whole:
            await send({"type": "http.response.body", "body": b"", "more_body": False})

    async def _run(self, body: _Body, send: Send) -> bool:
        # The body was asked for before the head is sent: a client that waits for "100 Continue" begins.
        await asyncio.sleep(0)
        await send(
            {"type": "http.response.start", "status": self.status_code, "headers": self.raw_headers}
        )

        async def part(content: bytes) -> None:
            await send({"type": "http.response.body", "body": content, "more_body": True})

        return await self._batch.run(body.piece, part)


def _plain(value: Any) -> Any:  # noqa: ANN401
    """A number of lines as it is written: 1.0 or 1_000 would be read as one otherwise."""
    if isinstance(value, str) and not re.fullmatch(r"[+-]?[0-9]+", value, re.ASCII):
        raise PydanticKnownError("int_parsing")
    return value


router = APIRouter(prefix="/v1", tags=["batches"], route_class=LinesRoute)


def keep(app: FastAPI, settings: Settings, **of_workers: Any) -> None:  # noqa: ANN401
    """Give an application what the batches ask of it."""
    processes = settings.batch_processes
    limits = BodyLimits(settings.maximum_depth, settings.maximum_draws)
    count = processors() if processes is None else processes
    app.state.workers = Workers(count, limits, **of_workers)
    app.state.batches = set()
    app.state.maximum_batches = settings.maximum_batches
    app.state.maximum_line_bytes = settings.maximum_line_bytes
    app.state.batch_stall_seconds = settings.batch_stall_seconds


_DESCRIPTION = """\
Visits and comparisons in, one JSON object a line; as many answers out, in the same order, each as soon as it
is ready. The body may be of any length: nothing is kept of it.

* A line is `{"id": ..., "assessment": {body of POST /v1/assessments}}` or
  `{"id": ..., "comparison": {body of POST /v1/comparisons}}`; its answer is `{"id", "line", ...}` with the
  `assessment` or `comparison` of the single request (with `detail=grades` `grades` or `verdicts`, a cut of it), or
  the `problem`. A line that cannot be answered gets its problem, and the rest go on. Blank lines get no answer and
  count as lines.
* The last line is `{"summary": ...}`. An answer without it was cut on its way: send the same input with `offset`
  = the last `line` received + 1. One with `complete: false` says where to go on (`resume_offset`), and why.
* A line may have 262,144 bytes (256 KB; whoever runs the service may set another limit); a longer one gets a
  problem. The whole has no limit.
* `complete` is of what arrived. Compare `lines` with your own count: an input that is cut between two lines looks
  like a shorter one. Where the last line lacks its end and is no JSON, `cut_suspected` is true.
* Lines are UTF-8, each a whole object ended by `\\n`. A byte-order mark at the start is passed over.
* The body may be compressed (`Content-Encoding: gzip` or `zstd`), the answer too (`Accept-Encoding`).
* **Read the answer while you send.** The service takes no more than it can give back; a client that sends all
  before it reads is soon held up. It is then told to go on later, after some time without progress. Such a client
  sends parts of some hundred lines, or the whole again with `offset`.

The schema describes the content of the text as a list; in the text each item stands on a line of its own.
"""


def _text_of(line: str) -> dict[str, Any]:
    """A text whose lines are each a JSON object of that component."""
    items = {"$ref": f"#/components/schemas/{line}"}
    return {
        "type": "string",
        "contentMediaType": LINES,
        "contentSchema": {"type": "array", "items": items},
    }


#: Shown once, with the preferred name of the media type.
_EXAMPLES = {
    name: {"summary": BATCH_TITLES[name], "value": text} for name, text in batch_examples().items()
}


@router.post(
    "/batches",
    operation_id="answerBatch",
    summary="Answer many visits",
    description=_DESCRIPTION,
    response_class=LinesResponse,
    response_model=None,
    response_description="A line for each line, and a summary.",
    responses={
        415: PROBLEMS[415]
        | {
            "description": "The body is not lines of JSON, or compressed in a way that is not taken."
        },
        422: PROBLEMS[422],
        401: PROBLEMS[401],
        503: PROBLEMS[503],
        200: {
            "content": {
                LINES: {"schema": _text_of("BatchAnswerLine"), "example": batch_answer_example()}
            }
        },
    },
    openapi_extra={
        "requestBody": {
            "required": True,
            "description": "JSON objects, one a line (UTF-8).",
            "content": {
                kind: {
                    "schema": _text_of("BatchLine"),
                    **({"examples": _EXAMPLES} if kind == LINES else {}),
                }
                for kind in _TAKEN
            },
        }
    },
)
async def answer_batch(
    request: Request,
    detail: Annotated[
        Detail,
        Query(description="`grades` cuts assessments (`grades`) and comparisons (`verdicts`) to numbers, "
              "grades and names.", examples=["grades"]),
    ] = "full",
    offset: Annotated[
        int,
        Field(ge=0, le=LARGEST_OFFSET),
        BeforeValidator(_plain),
        Query(description="Lines at the start of the body that are passed over unread, to "
              "go on with a batch that was cut; a whole number in plain digits. Lines keep their numbers.",
              examples=[0], json_schema_extra={"x-unit": "1"}),
    ] = 0,
) -> _Answer:  # fmt: skip
    """Answer many visits."""
    state: Any = request.app.state
    if len(state.batches) >= state.maximum_batches:
        refuse_full("batches")
    coding = chosen_coding(request.headers.get("accept-encoding"), CODINGS, IDENTITY)
    batch = Batch(
        state.workers,
        detail=detail,
        offset=offset,
        decoder=Decoder(_coding(request) or IDENTITY),
        encoder=Encoder(coding),
        line_limit=state.maximum_line_bytes,
        stall_seconds=state.batch_stall_seconds,
    )
    return _Answer(batch, state.batches, coding)
