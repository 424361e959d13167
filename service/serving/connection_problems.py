"""Problems that a connection answers itself, because no request reaches the application."""

from __future__ import annotations

from collections.abc import Mapping

import orjson
from uvicorn.protocols.http.httptools_impl import STATUS_LINE

from schemas.problems import Problem
from service.edge.problems import MEDIA_TYPE, field_problem, problem_body


def response(body: Problem, headers: Mapping[str, str]) -> bytes:
    """The whole answer of a connection, which closes after it."""
    content = orjson.dumps({**body, "instance": None})
    fields = {
        "content-type": MEDIA_TYPE,
        "content-length": str(len(content)),
        "cache-control": "no-store",
        "connection": "close",
        **headers,
    }
    head = "".join(f"{name.lower()}: {value}\r\n" for name, value in fields.items())
    return STATUS_LINE[body["status"]] + head.encode() + b"\r\n" + content


def _problem(kind: str, detail: str, allowed: str, wrong: str, hint: str) -> Problem:
    """A problem of the connection as a whole: no field and no value of the body is at fault."""
    return problem_body(kind, detail, [field_problem("", None, allowed, wrong, hint)])


def head_too_large(limit: int) -> Problem:
    """The head of a request is over its limit [bytes]."""
    return _problem(
        "head-too-large",
        f"Address and headers have more than {limit} bytes.",
        f"at most {limit} bytes",
        "is too large",
        "Send fewer or shorter headers; readings belong in the body.",
    )


def head_too_slow(seconds: float) -> Problem:
    """The head of a request did not arrive in time [s]."""
    return _problem(
        "stalled",
        f"No whole request arrived within {seconds:g} s.",
        f"a request within {seconds:g} s",
        "arrived too slowly",
        "Open a connection only when there is something to send.",
    )


def too_many(limit: int) -> Problem:
    """All connections are in use."""
    return _problem(
        "overloaded",
        f"{limit} connections are open.",
        f"at most {limit} connections",
        "arrived while all were in use",
        "Try again after a second; keep connections open and reuse them.",
    )


def not_http() -> Problem:
    """What arrived could not be parsed, such as TLS or HTTP/2."""
    return _problem(
        "invalid-http",
        "What arrived is not an HTTP/1.1 request.",
        "an HTTP/1.1 request (RFC 9112)",
        "could not be read",
        "Check that the client speaks plain HTTP here: TLS and HTTP/2 end at the gateway.",
    )
