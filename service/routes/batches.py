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

from schemas.details import Detail
from schemas.examples import BATCH_TITLES, batch_answer_example, batch_examples
from service.batches.places import find_place
from service.batches.stream import Batch, BatchOptions, GoneError
from service.batches.workers import Workers, processors
from service.edge.body_limits import BodyLimits
from service.edge.codings import CODINGS, IDENTITY, coding_of
from service.edge.framework import CLIENT_LEFT
from service.edge.keys import caller
from service.edge.negotiation import chosen_coding
from service.edge.problems import ProblemError, field_problem, refuse_full
from service.edge.refused_fields import LARGEST_OFFSET
from service.edge.settings import Settings
from service.edge.strict_json import StrictRoute, charset, media_type, sent_as
from service.routes.responses import PROBLEMS

LINES = "application/x-ndjson"
#: Media types of the body, the preferred first.
_ACCEPTED = (
    LINES,
    "application/ndjson",
    "application/jsonl",
    "application/x-jsonlines",
    "application/json-lines",
)
#: UTF-8, or a part of it.
_CHARSETS = ("", "utf-8", "utf8", "us-ascii", "ascii")


class LinesRoute(StrictRoute):
    """A route whose body is read line by line, never in full."""

    def with_body(self, request: Request) -> Request:
        """Check how the body is sent; reading it comes later."""
        given = request.headers.get("content-type")
        if media_type(given) not in _ACCEPTED:
            raise ProblemError(
                "unsupported-media-type",
                sent_as(given),
                [
                    field_problem(
                        "",
                        None,
                        " or ".join(_ACCEPTED),
                        "is not sent as lines of JSON",
                        f"Send one JSON object a line, with the header Content-Type: {LINES}.",
                    )
                ],
            )
        if charset(given) not in _CHARSETS:
            raise ProblemError(
                "unsupported-media-type",
                sent_as(given),
                [
                    field_problem(
                        "",
                        charset(given),
                        "UTF-8",
                        "is not an accepted charset",
                        "Write the lines as UTF-8, and leave charset out or give charset=utf-8.",
                    )
                ],
            )
        coding_of(request.headers.get("content-encoding"))
        return request


class LinesResponse(StreamingResponse):
    """Lines of JSON."""

    media_type = LINES


class _Body:
    """The body of a request; the first piece is requested at once."""

    def __init__(self, receive: Receive) -> None:
        self._receive = receive
        self._first: asyncio.Future[Message] | None = asyncio.ensure_future(receive())
        self._ended = self._end_given = False

    async def piece(self) -> bytes | None:
        """What arrives next, and None once at the end; then nothing until the client leaves."""
        if self._ended and not self._end_given:
            self._end_given = True
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
        """Request no more."""
        if self._first is not None:
            self._first.cancel()


class _Answer(LinesResponse):
    """The answer to a batch: it receives the body of the request while it sends its own."""

    def __init__(self, batch: Batch, running: set[Batch], coding: str) -> None:
        headers = {"Cache-Control": "no-store", "Vary": "Accept-Encoding"}
        if coding != IDENTITY:
            headers["Content-Encoding"] = coding
        super().__init__((), headers=headers)
        self._batch, self._running = batch, running

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Send head, lines and end."""
        self._running.add(self._batch)  # before the first await, because others count it
        body = _Body(receive)
        try:
            whole = await self._run(scope, body, send)
        finally:
            body.close()
            self._running.discard(self._batch)
        if whole:
            await send({"type": "http.response.body", "body": b"", "more_body": False})

    async def _run(self, scope: Scope, body: _Body, send: Send) -> bool:
        # The body was requested before the head is sent, so that a client that waits for "100 Continue" begins.
        await asyncio.sleep(0)
        await send({"type": "http.response.start", "status": self.status_code, "headers": self.raw_headers})

        async def part(content: bytes) -> None:
            await send({"type": "http.response.body", "body": content, "more_body": True})

        return await self._batch.run(body.piece, part, lambda: CLIENT_LEFT in scope)


def _plain(value: Any) -> Any:  # noqa: ANN401
    """Refuse a number of lines in another form than plain digits: 1.0 and 1_000 would pass otherwise."""
    if isinstance(value, str) and not re.fullmatch(r"[+-]?[0-9]+", value, re.ASCII):
        raise PydanticKnownError("int_parsing")
    return value


router = APIRouter(prefix="/v1", tags=["batches"], route_class=LinesRoute)


def keep(app: FastAPI, settings: Settings, **of_workers: Any) -> None:  # noqa: ANN401
    """Give an application the state that batches need."""
    processes = settings.batch_processes
    limits = BodyLimits(settings.maximum_depth, settings.maximum_draws)
    count = processors() if processes is None else processes
    app.state.workers = Workers(count, limits, **of_workers)
    app.state.batches = set()
    app.state.maximum_batches = settings.maximum_batches
    app.state.batch_idle_seconds = settings.batch_idle_seconds
    app.state.maximum_line_bytes = settings.maximum_line_bytes
    app.state.batch_stall_seconds = settings.batch_stall_seconds


_DESCRIPTION = """\
Send visits, comparisons, series and checks, one JSON object a line; each line is answered in the same order, as soon
as its answer is ready. The body may have any length: the service does not keep it.

* A line is `{"id": ..., "assessment": {body of POST /v1/assessments}}`, the same with a `comparison`, a `diagnosis` or
  a `trend` and the body of its single request, or
  `{"id": ..., "check": {"leak-rate": {body of POST /v1/checks/leak-rate}}}`; its answer is `{"id", "line", ...}`
  with the `assessment`, `comparison`, `diagnosis`, `trend` or `check` of the single request, or the `problem`. With
  `detail=grades` that is the `grades` of an assessment, the `verdicts` of a comparison, `diagnosis_grades` or
  `trend_grades`; with `detail=verdicts` it is `assessment_verdicts`, `comparison_verdicts` and so on; a check is
  always answered in full. A line that cannot be answered gets its problem, and the
  batch continues. Blank lines get no answer but count as lines.
* The last line is `{"summary": ...}`. An answer without a summary was cut on its way: send the same input with
  `offset` = the last `line` received + 1. A summary with `complete: false` says why, and where to resume
  (`resume_offset`).
* A line may have 262,144 bytes (256 KB; the operator may set another limit); a longer one gets a problem. The whole
  has no limit.
* `complete` refers to what arrived. Compare `lines` with your own count: an input that is cut between two lines
  looks like a shorter one. If the last line lacks its end and is not JSON, `cut_suspected` is true.
* Lines are UTF-8, each a whole object ended by `\\n`. A byte-order mark at the start is ignored.
* The body may be compressed (`Content-Encoding: gzip` or `zstd`), and so may the answer (`Accept-Encoding`).
* **Read the answer while you send.** The service accepts no more than it can answer, so a client that sends
  everything before it reads soon blocks. After some time without progress the batch ends with a summary that says
  where to resume. With such a client, send parts of some hundred lines.
* When all places for batches are taken, one whose client neither sends whole lines nor reads makes room for the next;
  otherwise the latest batch of the caller (key or address) with the most, if another caller asks for one. It ends
  with a summary that says where to resume.

The schema describes the content of the text as a list; in the text each item is on a line of its own.
"""


def _text_of(line: str) -> dict[str, Any]:
    """A text, each line of which is a JSON object of that component."""
    items = {"$ref": f"#/components/schemas/{line}"}
    return {
        "type": "string",
        "contentMediaType": LINES,
        "contentSchema": {"type": "array", "items": items},
    }


#: Shown once, with the preferred media type.
_EXAMPLES = {name: {"summary": BATCH_TITLES[name], "value": text} for name, text in batch_examples().items()}


@router.post(
    "/batches",
    operation_id="answerBatch",
    summary="Answer many visits",
    description=_DESCRIPTION,
    response_class=LinesResponse,
    response_model=None,
    response_description="A line for each line, and a summary.",
    responses={
        415: PROBLEMS[415] | {"description": "The body is not lines of JSON, or its compression is not accepted."},
        422: PROBLEMS[422],
        401: PROBLEMS[401],
        503: PROBLEMS[503],
        200: {"content": {LINES: {"schema": _text_of("BatchAnswerLine"), "example": batch_answer_example()}}},
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
                for kind in _ACCEPTED
            },
        }
    },
)
async def answer_batch(
    request: Request,
    detail: Annotated[
        Detail,
        Query(
            description="`grades` reduces assessments (`grades`), comparisons (`verdicts`), diagnoses "
            "(`diagnosis_grades`) and series (`trend_grades`) to numbers, grades and names; `verdicts` keeps what was "
            "judged, with its sentences (`assessment_verdicts`, `comparison_verdicts` ...).",
            examples=["grades"],
        ),
    ] = "full",
    offset: Annotated[
        int,
        Field(ge=0, le=LARGEST_OFFSET),
        BeforeValidator(_plain),
        Query(
            description="Lines at the start of the body to skip unread, to resume a batch that "
            "was cut; a whole number in plain digits. Lines keep their numbers.",
            examples=[0],
            json_schema_extra={"x-unit": "1"},
        ),
    ] = 0,
) -> _Answer:
    """Answer many visits."""
    state: Any = request.app.state
    asking = caller(request.scope)
    if not find_place(state.batches, state.maximum_batches, state.batch_idle_seconds, asking):
        refuse_full("batches")
    options = BatchOptions(
        detail=detail,
        offset=offset,
        input_coding=coding_of(request.headers.get("content-encoding")),
        output_coding=chosen_coding(request.headers.get("accept-encoding"), CODINGS, default=IDENTITY),
        line_limit=state.maximum_line_bytes,
        stall_seconds=state.batch_stall_seconds,
        caller=asking,
    )
    return _Answer(Batch(state.workers, options), state.batches, options.output_coding)
