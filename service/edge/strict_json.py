"""Reading a request body: JSON and nothing but JSON.

Python's reader accepts NaN and Infinity, and silently lets a later duplicate of a key win; RFC 8259 has no
NaN, and calls duplicate keys unpredictable.  Both are refused here, as are bodies nested deeper than any
request can be.
"""

from __future__ import annotations

import codecs
import json
import math
import re
from collections.abc import Callable, Coroutine
from email.message import Message
from typing import Any, Literal, NoReturn

from fastapi import Request, Response, params
from fastapi.dependencies.utils import get_flat_params
from fastapi.routing import APIRoute

from service.edge.body_limits import MOST_DRAWS, USUAL, BodyLimits
from service.edge.codings import coding_of, decoded
from service.edge.problems import ProblemError, field_problem

#: What is read: the body of a request, or one line of a batch.
Part = Literal["body", "line"]

#: What a line of a batch must be.
_ONE_A_LINE = "Give one whole JSON object a line, ended by \\n."


def parse(body: bytes, part: Part = "body", limits: BodyLimits = USUAL) -> Any:  # noqa: ANN401
    """A JSON document, read strictly; ``part`` is its name in errors.

    Raises
    ------
    ProblemError
        `invalid-json`, with the position of the fault, or the key that appears twice.
    """
    if body.startswith(codecs.BOM_UTF8):
        raise ProblemError(
            "invalid-json",
            f"The {part} begins with a byte-order mark.",
            [
                field_problem(
                    "",
                    None,
                    "UTF-8 text without a byte-order mark",
                    "begins with a byte-order mark",
                    "Save it as UTF-8 without a byte-order mark (in Python encoding='utf-8', not 'utf-8-sig').",
                )
            ],
        )
    _refuse_depth(body, part, limits.depth)
    try:
        document = json.loads(
            body.decode("utf-8"),
            object_pairs_hook=_object,
            parse_constant=_constant,
            parse_float=_float,
            parse_int=_integer,
        )
        # Half of a pair of escapes is not a character: text that holds it cannot be written again.
        if b"\\ud" in body.lower():
            json.dumps(document, ensure_ascii=False).encode("utf-8")
        return document
    except UnicodeEncodeError as error:
        raise ProblemError(
            "invalid-json",
            "An escape is half a character (a lone surrogate).",
            [
                field_problem(
                    "",
                    None,
                    "whole characters",
                    "holds a lone surrogate",
                    "Write the character itself, or both escapes of its pair.",
                )
            ],
        ) from error
    except json.JSONDecodeError as error:
        raise _not_json(error, part) from error
    except UnicodeDecodeError as error:
        raise ProblemError(
            "invalid-json",
            f"The {part} is not UTF-8 (byte {error.start}).",
            [field_problem("", None, "UTF-8 text", "is not UTF-8", "Send the JSON as UTF-8.")],
        ) from error


def _not_json(error: json.JSONDecodeError, part: Part) -> ProblemError:
    """Where a document is wrong; for a line of a batch, the place within the line."""
    said = error.msg.removesuffix(" at")  # "Unterminated string starting at": the place follows
    allowed, hint = (
        "a JSON document (RFC 8259)",
        "Check the quotes, commas and brackets near that place.",
    )
    place = f"line {error.lineno}, column {error.colno}"
    if part == "line":
        allowed, place = "one JSON object a line", f"column {error.pos + 1} of the line"
        unended = said.startswith("Unterminated") or error.pos >= len(error.doc.rstrip())
        if unended:
            hint = f"The line ends too early. {_ONE_A_LINE} The input may have been cut there."
        elif said == "Extra data":
            hint = (
                f"Something follows the object on its line. {_ONE_A_LINE} curl -d strips line ends: use --data-binary."
            )
    return ProblemError(
        "invalid-json",
        f"{said} at {place}.",
        [field_problem("", None, allowed, said.removesuffix(" starting"), hint)],
    )


def seems_cut(line: bytes) -> bool:
    """Whether a line fails as JSON in the way that a line cut short does."""
    try:
        parse(line, "line")
    except ProblemError as error:
        cause = error.__cause__
        if isinstance(cause, json.JSONDecodeError):
            return cause.msg != "Extra data"
        return isinstance(cause, UnicodeDecodeError) and cause.reason == "unexpected end of data"
    return False


#: A JSON text, to its end or to where it breaks off; or a bracket.
_TEXT_OR_BRACKET = re.compile(rb'"(?:[^"\\]|\\.)*+(?:"|\\?\Z)|[\[{\]}]', re.DOTALL)


def _refuse_depth(body: bytes, part: Part, deepest: int) -> None:
    # Counting every opening bracket over-counts (text may hold some) but never under-counts, so
    # only suspicious bodies pay for the exact walk.
    if body.count(b"[") + body.count(b"{") <= deepest:
        return
    depth = 0
    for found in _TEXT_OR_BRACKET.finditer(body):
        if found[0] in (b"[", b"{"):
            depth += 1
        elif found[0] in (b"]", b"}"):
            depth -= 1
        if depth > deepest:
            raise ProblemError(
                "invalid-json",
                f"The {part} is nested deeper than {deepest} levels.",
                [
                    field_problem(
                        "",
                        None,
                        f"at most {deepest} levels",
                        "is nested too deep",
                        "See the examples in /docs for the shape of a request.",
                    )
                ],
            )


def refuse_draws(document: object, limits: BodyLimits, where: str = "") -> None:
    """Refuse a body that asks for more draws than the operator allows.

    ``where`` is the body's place in the document that was sent.  A value that is not a number, or is more than
    the contract allows, is left to the contract.

    Raises
    ------
    ProblemError
        `invalid-request`, with the limit.
    """
    options = document.get("options") if isinstance(document, dict) else None
    draws = options.get("draws") if isinstance(options, dict) else None
    if isinstance(draws, int) and limits.draws < draws <= MOST_DRAWS:
        raise ProblemError(
            "invalid-request",
            f"This service computes with at most {limits.draws} draws.",
            [
                field_problem(
                    f"{where}/options/draws",
                    draws,
                    f"at most {limits.draws}",
                    "asks for too many",
                    "Leave `draws` out: 256 give bands within 3 % of their width.",
                )
            ],
        )


def _object(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        seen: set[str] = set()
        twice = next(key for key, _ in pairs if key in seen or seen.add(key))  # type: ignore[func-returns-value]
        raise ProblemError(
            "invalid-json",
            f"The key {twice[:80]!r} appears twice in one object.",
            [field_problem("", twice[:80], "each key once", "appears twice in one object", "Keep the one you mean.")],
        )
    return found


def _refuse_number(text: str) -> NoReturn:
    raise ProblemError(
        "invalid-json",
        f"{text[:40]} is not a finite JSON number that this service can read.",
        [
            field_problem(
                "", text[:40], "a finite number", "is not a finite number", "Leave out a reading that you do not have."
            )
        ],
    )


def _constant(text: str) -> NoReturn:
    _refuse_number(text)


def _float(text: str) -> float:
    value = float(text)
    if not math.isfinite(value):
        _refuse_number(text)
    return value


def _integer(text: str) -> int:
    # No quantity of the contract is as large, and a long run of digits is costly to convert.
    if len(text) > 40:
        _refuse_number(text)
    return int(text)


class StrictRequest(Request):
    """A request whose body is read strictly, and no further than the limit, as sent and as decompressed."""

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
            content = decoded(b"".join(chunks), coding_of(self.headers.get("content-encoding")), limit)
            if content is None:
                refuse_size(limit)
            self._body = content
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
        "too-large",
        f"The body is larger than {limit} bytes.",
        [
            field_problem(
                "",
                None,
                f"at most {limit} bytes",
                "is too large",
                "Send fewer runs at a time, or leave parts out; the operator can raise the limit.",
            )
        ],
    )


def refuse_media_type(given: str | None) -> None:
    """Refuse a body whose `Content-Type` is not JSON."""
    found = media_type(given)
    if found == "application/json" or (found.startswith("application/") and found.endswith("+json")):
        return
    raise ProblemError(
        "unsupported-media-type",
        sent_as(given),
        [
            field_problem(
                "", None, "application/json", "is not sent as JSON", "Send the header Content-Type: application/json."
            )
        ],
    )


def sent_as(content_type: str | None) -> str:
    """How the body is sent, in words."""
    if not content_type:
        return "The body is sent without a content type."
    return f"The body is sent as {content_type[:80]!r}."


def charset(content_type: str | None) -> str:
    """The `charset` of a `Content-Type`, in lower case; empty if there is none."""
    if content_type is None:
        return ""
    message = Message()
    message["content-type"] = content_type
    return (message.get_content_charset() or "").strip()


def media_type(content_type: str | None) -> str:
    """The media type of a `Content-Type` without its parameters, in lower case; empty if there is none."""
    if content_type is None:
        return ""
    message = Message()
    message["content-type"] = content_type
    return message.get_content_type()


def _refuse_parameters(request: Request, known: list[str]) -> None:
    """Refuse a parameter that is unknown or appears twice: to ignore it would be a silent guess."""
    given = [name for name, _ in request.query_params.multi_items()]
    errors = []
    for name in dict.fromkeys(given):
        where = f"query/{name[:60]}"
        if name not in known:
            allowed = "one of " + ", ".join(known) if known else "no parameter"
            errors.append(
                field_problem(
                    where,
                    request.query_params[name],
                    allowed,
                    "is not a parameter of this operation",
                    "Check the spelling, or leave it out; /docs lists the parameters.",
                )
            )
        elif given.count(name) > 1:
            errors.append(
                field_problem(
                    where, request.query_params[name], "each parameter once", "appears twice", "Keep the one you mean."
                )
            )
    if errors:
        raise ProblemError(
            "invalid-request",
            "1 parameter was refused." if len(errors) == 1 else f"{len(errors)} parameters were refused.",
            errors[:20],
        )


class StrictRoute(APIRoute):
    """A route that reads its body with :class:`StrictRequest` and refuses parameters it does not know."""

    def get_route_handler(self) -> Callable[[Request], Coroutine[Any, Any, Response]]:
        """Wrap FastAPI's handler."""
        inner = super().get_route_handler()
        takes_body = bool(self.methods and self.methods & {"POST", "PUT", "PATCH"})

        known = [
            str(field.alias) for field in get_flat_params(self.dependant) if isinstance(field.field_info, params.Query)
        ]

        async def handle(request: Request) -> Response:
            _refuse_parameters(request, known)
            return await inner(self.with_body(request) if takes_body else request)

        return handle

    def with_body(self, request: Request) -> Request:
        """The request, prepared so that its body is read as this route reads it.

        Raises
        ------
        ProblemError
            `unsupported-media-type`, if the body is sent as something else, or compressed in another way.
        """
        refuse_media_type(request.headers.get("content-type"))
        coding_of(request.headers.get("content-encoding"))
        return StrictRequest(request.scope, request.receive)
