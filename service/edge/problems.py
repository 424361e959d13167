"""Problems (RFC 9457): their types, the error that carries one, and its body as JSON.

``handlers.py`` turns errors into responses; ``refused_fields.py`` words what a request's validation found.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import islice
from types import MappingProxyType
from typing import Any, NoReturn

from starlette.exceptions import HTTPException

from schemas.problems import FieldProblem, Problem
from service.edge.near_names import meant_by
from service.intake.refusals import Refusal, RefusedError

MEDIA_TYPE = "application/problem+json"


@dataclass(frozen=True, slots=True)
class ProblemType:
    """One type of problem, served at ``/problems/{name}``.

    ``action`` is what the caller can do about it.
    """

    status: int
    title: str
    meaning: str
    action: str


PROBLEM_TYPES: Mapping[str, ProblemType] = MappingProxyType(
    {
        "invalid-json": ProblemType(
            400,
            "Body is not valid JSON",
            "The body could not be read as JSON (RFC 8259), a key appears twice, a number is not finite, or "
            "the nesting is too deep.",
            "Correct the JSON at the place that `detail` names.",
        ),
        "invalid-coding": ProblemType(
            400,
            "Body cannot be decompressed",
            "The body does not match its Content-Encoding, ends too early, or, of a batch, expands to almost nothing "
            "but blank lines.",
            "Compress the body again, or send it plain and without Content-Encoding.",
        ),
        "invalid-http": ProblemType(
            400,
            "Request is not HTTP",
            "What arrived could not be read as an HTTP/1.1 request. The connection was closed.",
            "Use a client that speaks plain HTTP/1.1 here; TLS and HTTP/2 end at the gateway.",
        ),
        "unauthorised": ProblemType(
            401,
            "Key is missing or unknown",
            "The operator requires a key in the header X-API-Key.",
            "Send the key that the operator gave you.",
        ),
        "not-found": ProblemType(
            404,
            "Not found",
            "Nothing exists at this address, or the name in it is unknown.",
            "Check the address; /docs lists them all.",
        ),
        "method-not-allowed": ProblemType(
            405,
            "Method not allowed",
            "The address exists, but not for this method.",
            "Use a method that the header Allow lists; readings are sent by POST.",
        ),
        "stalled": ProblemType(
            408,
            "Client stalled",
            "The request did not arrive in time, or the client of a batch neither sent lines nor read answers for "
            "too long.",
            "Send the request in one go. In a batch, read while you send.",
        ),
        "too-large": ProblemType(
            413,
            "Body too large",
            "The body, or one line of a batch, is larger than this service accepts.",
            "Send fewer runs at a time, or use a batch with one visit a line.",
        ),
        "unsupported-media-type": ProblemType(
            415,
            "Unsupported media type",
            "The body must be sent as application/json, or as text/csv if it is the log of one visit; a batch as "
            "application/x-ndjson; plain or compressed with gzip or zstd.",
            "Send the right Content-Type, and no other Content-Encoding.",
        ),
        "invalid-request": ProblemType(
            422,
            "Invalid request",
            "A field has the wrong type, an unknown name or unit, or a value outside its range.",
            "Correct each field that `errors` names.",
        ),
        "cannot-be-assessed": ProblemType(
            422,
            "Request cannot be assessed as given",
            "The request is well formed, but a reading is impossible, a name is unknown, or an instrument is "
            "ambiguous.",
            "Correct each field that `errors` names.",
        ),
        "head-too-large": ProblemType(
            431,
            "Head of the request too large",
            "The address and the headers together are larger than this service accepts.",
            "Send fewer or shorter headers; readings belong in the body.",
        ),
        "internal": ProblemType(
            500,
            "Internal error",
            "The service has a fault. The request id finds it in the log.",
            "Send the request once more. If it fails again, report its `instance` to the operator.",
        ),
        "overloaded": ProblemType(
            503,
            "Service is busy",
            "The service already handles as many requests, batches or connections as it accepts at once, or the "
            "request waited too long for its turn. Nothing was computed.",
            "Send it again after the seconds in Retry-After; continue a batch from `resume_offset`.",
        ),
        "stopping": ProblemType(
            503,
            "Service is stopping",
            "The service is shutting down. It accepts no more requests, and a batch under way ends early.",
            "Send it again after the seconds in Retry-After; continue a batch from `resume_offset`.",
        ),
        "timed-out": ProblemType(
            504,
            "Computation took too long",
            "The request was not answered within its time limit and was abandoned.",
            "Ask for fewer draws or runs.",
        ),
    }
)


class ProblemError(HTTPException):
    """An error that is a problem of a known type; the type sets its status."""

    def __init__(
        self,
        name: str,
        detail: str,
        errors: Sequence[FieldProblem] = (),
        headers: Mapping[str, str] | None = None,
    ) -> None:
        super().__init__(PROBLEM_TYPES[name].status, detail, headers)
        self.name = name
        self.errors = list(errors)

    @property
    def body(self) -> Problem:
        """The problem, without the request in which it occurred."""
        return problem_body(self.name, str(self.detail), self.errors)


def problem_body(name: str, detail: str, errors: Sequence[FieldProblem] = ()) -> Problem:
    """A problem, without the request in which it occurred."""
    type_ = PROBLEM_TYPES[name]
    return {
        "type": f"/problems/{name}",
        "title": type_.title,
        "status": type_.status,
        "detail": detail,
        "errors": list(errors),
    }


#: Characters of a pointer, and of a text value, that an error repeats.
_LONGEST_POINTER, _LONGEST_VALUE = 300, 80


def field_problem(pointer: str, value: object, allowed: str, detail: str, hint: str) -> FieldProblem:
    """One entry of ``errors``."""
    return {
        # A name of thousands of characters helps nobody find it.
        "pointer": _shortened(pointer, _LONGEST_POINTER),
        "value": _shown(value),
        "allowed": allowed,
        "detail": detail,
        "hint": hint,
    }


def _shown(value: object) -> Any:  # noqa: ANN401
    if value is None or isinstance(value, bool | float):
        return value
    if isinstance(value, int):
        # Readers that hold numbers as doubles would change it, so its digits are given as text.
        return value if abs(value) < 2**53 else str(value)
    if isinstance(value, str):
        return _shortened(value, _LONGEST_VALUE)
    return f"({'an object' if isinstance(value, Mapping) else 'a list'})"


def _shortened(text: str, most: int) -> str:
    return text if len(text) <= most else text[: most - 3] + "..."


#: Errors that one problem lists at most.
_MOST_ERRORS = 50


def refused_fields(name: str, errors: Iterable[FieldProblem], number: int) -> Problem:
    """The problem of so many refused fields; it lists the first of them."""
    detail = "1 field was refused." if number == 1 else f"{number} fields were refused."
    return problem_body(name, detail, list(islice(errors, _MOST_ERRORS)))


def cannot_be_assessed(error: RefusedError) -> Problem:
    """The problem of a well-formed request that is still refused."""
    errors = [field_problem(row.pointer, row.value, row.allowed, row.detail, _hint(row)) for row in error.refusals]
    return refused_fields("cannot-be-assessed", errors, len(errors))


def _hint(row: Refusal) -> str:
    meant = meant_by(("run", "readings", row.unknown), None) if row.unknown else None
    return meant or row.hint


def internal(what: str) -> ProblemError:
    """A fault of the service in answering a `request`, a `line` or a `batch`."""
    return ProblemError("internal", f"The service failed on this {what}. It kept no data.")


def late_body(seconds: float) -> ProblemError:
    """The body of a request did not arrive in time [s]."""
    return ProblemError(
        "stalled",
        f"The body did not arrive within {seconds:g} s.",
        [
            field_problem(
                "",
                None,
                f"a whole body within {seconds:g} s",
                "arrived too slowly",
                "Send it again in one go; check that Content-Length is its true length.",
            )
        ],
        {"Connection": "close"},
    )


def took_too_long(seconds: float) -> ProblemError:
    """A request was computed longer than it may [s]."""
    return ProblemError(
        "timed-out",
        f"The request took longer than {seconds:g} s and was abandoned.",
        [
            field_problem(
                "",
                None,
                f"a request that takes at most {seconds:g} s",
                "takes too long",
                "Ask for fewer draws or runs; nothing else is wrong with it.",
            )
        ],
    )


#: Seconds after which a refused client may try again.
RETRY_AFTER = {"Retry-After": "1"}


def refuse_full(what: str) -> NoReturn:
    """Refuse work while all places are taken."""
    raise ProblemError(
        "overloaded",
        f"This service already handles as many {what} as it accepts at once.",
        [
            field_problem(
                "",
                None,
                "a free place",
                "arrived while all places were taken",
                "Send it again after 1 s, and wait longer after each refusal.",
            )
        ],
        RETRY_AFTER,
    )
