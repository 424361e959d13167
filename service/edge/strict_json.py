"""Reading a request body: JSON and nothing but JSON.

Python's reader takes NaN and Infinity and lets a later duplicate of a key win in silence; the
standard (RFC 8259) allows neither to pass unnoticed.  Both are refused here, as are bodies nested
deeper than any request can be.
"""

from __future__ import annotations

import codecs
import json
import math
from collections.abc import Callable, Coroutine
from email.message import Message
from typing import Any, Literal, NoReturn

from fastapi import Request, Response
from fastapi.routing import APIRoute

from service.edge.limits import MOST_DRAWS, USUAL, BodyLimits
from service.edge.problems import ProblemError, field_problem

#: What is read: the body of a request, or one line of a batch.
Part = Literal["body", "line"]

#: What a batch asks of a line.
_ONE_A_LINE = "Give one JSON object a line, the whole of it on that line, ended by \\n."


def parse(body: bytes, part: Part = "body", limits: BodyLimits = USUAL) -> Any:  # noqa: ANN401
    """A JSON document, strictly; ``part`` is what it is called in errors.

    Raises
    ------
    ProblemError
        400 with the position of the fault, or the key that stands twice.
    """
    if body.startswith(codecs.BOM_UTF8):
        raise ProblemError(
            400, "invalid-json", f"The {part} begins with a byte-order mark.",
            [field_problem("", None, "UTF-8 text without a byte-order mark", "begins with a byte-order mark",
                           "Save it as UTF-8 without a byte-order mark (in Python encoding='utf-8', not "
                           "'utf-8-sig').")],
        )  # fmt: skip
    _refuse_depth(body, part, limits.depth)
    try:
        document = json.loads(
            body.decode("utf-8"),
            object_pairs_hook=_object,
            parse_constant=_constant,
            parse_float=_float,
            parse_int=_integer,
        )
        # Half of a pair of escapes is no character: no text that holds it can be written again.
        if b"\\ud" in body.lower():
            json.dumps(document, ensure_ascii=False).encode("utf-8")
        return document
    except UnicodeEncodeError as error:
        raise ProblemError(
            400, "invalid-json", "An escape stands for half a character (a lone surrogate).",
            [field_problem("", None, "whole characters", "holds a lone surrogate",
                           "Write the character itself, or both escapes of its pair.")],
        ) from error  # fmt: skip
    except json.JSONDecodeError as error:
        raise _not_json(error, part) from error
    except UnicodeDecodeError as error:
        raise ProblemError(
            400, "invalid-json", f"The {part} is not UTF-8 (byte {error.start}).",
            [field_problem("", None, "UTF-8 text", "is not UTF-8", "Send the JSON as UTF-8.")],
        ) from error  # fmt: skip


def _not_json(error: json.JSONDecodeError, part: Part) -> ProblemError:
    """Where a document is wrong; of a line of a batch, within the line."""
    said = error.msg.removesuffix(" at")  # "Unterminated string starting at", and the place follows
    allowed, hint = (
        "a JSON document (RFC 8259)",
        "Check quotes, commas and brackets near that place.",
    )
    place = f"line {error.lineno}, column {error.colno}"
    if part == "line":
        allowed, place = "one JSON object a line", f"column {error.pos + 1} of the line"
        unended = said.startswith("Unterminated") or error.pos >= len(error.doc.rstrip())
        if unended:
            hint = f"The line ends too early. {_ONE_A_LINE} Or was the input cut there?"
        elif said == "Extra data":
            hint = (
                f"Something follows the object on its line. {_ONE_A_LINE} curl -d strips line ends: use "
                "--data-binary."
            )
    return ProblemError(
        400, "invalid-json", f"{said} at {place}.",
        [field_problem("", None, allowed, said.removesuffix(" starting"), hint)],
    )  # fmt: skip


def seems_cut(line: bytes) -> bool:
    """Whether a line is no JSON as one is none that was cut: not for what follows a whole object."""
    try:
        parse(line, "line")
    except ProblemError as error:
        cause = error.__cause__
        if isinstance(cause, json.JSONDecodeError):
            return cause.msg != "Extra data"
        return isinstance(cause, UnicodeDecodeError) and cause.reason == "unexpected end of data"
    return False


def _refuse_depth(body: bytes, part: Part, deepest: int) -> None:
    # Counting every opening bracket over-counts (text may hold some) but never under-counts, so
    # only suspicious bodies pay for the exact walk.
    if body.count(b"[") + body.count(b"{") <= deepest:
        return
    depth, inside, escaped = 0, False, False
    for byte in body:
        if inside:
            if escaped:
                escaped = False
            elif byte == 0x5C:
                escaped = True
            elif byte == 0x22:
                inside = False
        elif byte == 0x22:
            inside = True
        elif byte in b"[{":
            depth += 1
            if depth > deepest:
                raise ProblemError(
                    400, "invalid-json", f"The {part} is nested deeper than {deepest} levels.",
                    [field_problem("", None, f"at most {deepest} levels", "is nested too deep",
                                   "See the examples in /docs for the shape of a request.")],
                )  # fmt: skip
        elif byte in b"]}":
            depth -= 1


def refuse_draws(document: object, limits: BodyLimits, where: str = "") -> None:
    """Refuse a body that asks for more draws than whoever runs the service allows.

    ``where`` the body stands in the document that was sent.  What is no number, or more than the contract
    knows, is left to the contract.

    Raises
    ------
    ProblemError
        422 with the limit.
    """
    options = document.get("options") if isinstance(document, dict) else None
    draws = options.get("draws") if isinstance(options, dict) else None
    if isinstance(draws, int) and limits.draws < draws <= MOST_DRAWS:
        raise ProblemError(
            422, "invalid-request", f"This service computes with at most {limits.draws} draws.",
            [field_problem(f"{where}/options/draws", draws, f"at most {limits.draws}", "asks for too many",
                           "Leave `draws` out: 256 give bands within 3 % of their width.")],
        )  # fmt: skip


def _object(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        seen: set[str] = set()
        twice = next(key for key, _ in pairs if key in seen or seen.add(key))  # type: ignore[func-returns-value]
        raise ProblemError(
            400, "invalid-json", f"The key {twice[:80]!r} stands twice in one object.",
            [field_problem("", twice[:80], "each key once", "stands twice in one object",
                           "Keep the one you mean.")],
        )  # fmt: skip
    return found


def _refuse_number(text: str) -> NoReturn:
    raise ProblemError(
        400, "invalid-json", f"{text[:40]} is not a JSON number that can be held.",
        [field_problem("", text[:40], "a finite number", "is not a finite number",
                       "Leave a reading out if there is none.")],
    )  # fmt: skip


def _constant(text: str) -> NoReturn:
    _refuse_number(text)


def _float(text: str) -> float:
    value = float(text)
    if not math.isfinite(value):
        _refuse_number(text)
    return value


def _integer(text: str) -> int:
    # Beyond this no quantity of the contract reaches, and very long digits are costly to convert.
    if len(text) > 40:
        _refuse_number(text)
    return int(text)


class StrictRequest(Request):
    """A request whose body is read strictly, and never beyond the limit."""

    async def body(self) -> bytes:
        """The body, counted as it arrives (a chunked body states no length)."""
        if not hasattr(self, "_body"):
            limit: int = self.app.state.maximum_body_bytes
            stated = self.headers.get("content-length", "")
            if stated.isdecimal() and len(stated) < 20 and int(stated) > limit:
                refuse_size(limit)
            chunks, size = [], 0
            async for chunk in self.stream():
                size += len(chunk)
                if size > limit:
                    refuse_size(limit)
                chunks.append(chunk)
            self._body = b"".join(chunks)
        return self._body

    async def json(self) -> Any:  # noqa: ANN401
        """The parsed body."""
        limits: BodyLimits = self.app.state.body_limits
        document = parse(await self.body(), limits=limits)
        refuse_draws(document, limits)
        return document


def refuse_size(limit: int) -> NoReturn:
    """Refuse a body over the limit [bytes]."""
    raise ProblemError(
        413, "too-large", f"The body is larger than {limit} bytes.",
        [field_problem("", None, f"at most {limit} bytes", "is too large",
                       "Send fewer runs at a time, or leave parts out; whoever runs the service may allow more.")],
    )  # fmt: skip


def _refuse_media_type(request: Request) -> None:
    given = request.headers.get("content-type")
    found = media_type(given)
    if found == "application/json" or (
        found.startswith("application/") and found.endswith("+json")
    ):
        return
    raise ProblemError(
        415, "unsupported-media-type", sent_as(given),
        [field_problem("", None, "application/json", "is not sent as JSON",
                       "Send the header Content-Type: application/json.")],
    )  # fmt: skip


def sent_as(content_type: str | None) -> str:
    """How the body is sent, in words."""
    if not content_type:
        return "The body is sent without a content type."
    return f"The body is sent as {content_type[:80]!r}."


def charset(content_type: str | None) -> str:
    """The `charset` of a `Content-Type`, in lower case; empty where there is none."""
    if content_type is None:
        return ""
    message = Message()
    message["content-type"] = content_type
    return (message.get_content_charset() or "").strip()


def media_type(content_type: str | None) -> str:
    """The media type of a `Content-Type` without its parameters, in lower case; empty where there is none."""
    if content_type is None:
        return ""
    message = Message()
    message["content-type"] = content_type
    return message.get_content_type()


def _refuse_parameters(request: Request, known: list[str]) -> None:
    """A parameter that is unknown, or stands twice, would be a silent guess."""
    given = [name for name, _ in request.query_params.multi_items()]
    errors = []
    for name in dict.fromkeys(given):
        where = f"query/{name[:60]}"
        if name not in known:
            allowed = "one of " + ", ".join(known) if known else "no parameter"
            errors.append(
                field_problem(where, request.query_params[name], allowed, "is no parameter of this operation",
                              "Check the spelling, or leave it out; /docs lists the parameters.")
            )  # fmt: skip
        elif given.count(name) > 1:
            errors.append(
                field_problem(where, request.query_params[name], "each parameter once",
                              "stands twice", "Keep the one you mean.")
            )  # fmt: skip
    if errors:
        raise ProblemError(
            422, "invalid-request",
            "1 parameter was refused." if len(errors) == 1 else f"{len(errors)} parameters were refused.",
            errors[:20],
        )  # fmt: skip


class StrictRoute(APIRoute):
    """A route that reads its body with :class:`StrictRequest`, and refuses parameters it does not know."""

    def get_route_handler(self) -> Callable[[Request], Coroutine[Any, Any, Response]]:
        """Wrap FastAPI's handler."""
        inner = super().get_route_handler()
        takes_body = bool(self.methods and self.methods & {"POST", "PUT", "PATCH"})

        known = [str(field.alias) for field in self.dependant.query_params]

        async def handle(request: Request) -> Response:
            _refuse_parameters(request, known)
            return await inner(self.with_body(request) if takes_body else request)

        return handle

    def with_body(self, request: Request) -> Request:
        """The request as its body is to be read.

        Raises
        ------
        ProblemError
            415 where it is sent as something else.
        """
        _refuse_media_type(request)
        return StrictRequest(request.scope, request.receive)
