"""A log as the whole body: CSV text to a resource that takes one visit, the rest of the visit as query parameters.

The text becomes the visit's ``run.log.csv``, so that it is read, refused and answered as in JSON; what is refused is
named where the caller gave it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Any, Literal

from fastapi import Query, Request
from pydantic import Field

from schemas.assessments import MeteringDevice
from schemas.logs import LogStart
from schemas.problems import Problem
from schemas.quantities import UnitSystem
from service.edge.problems import ProblemError, field_problem, refused_fields
from service.edge.strict_json import StrictRequest, StrictRoute, charset, media_type

CSV = "text/csv"
_IN_SCOPE = "service.csv_body"

#: Where each parameter goes in the visit.
_PLACES: Mapping[str, tuple[str, ...]] = {
    "units": ("units",),
    "refrigerant": ("unit", "refrigerant"),
    "metering_device": ("unit", "metering_device"),
    "mode": ("unit", "mode"),
    "start": ("run", "log", "start"),
}
_TEXT = ("run", "log", "csv")
_ONLY = "For a body of `text/csv` only"


@dataclass(frozen=True)
class CsvOptions:
    """What else is said about a visit whose log alone is sent; the service reads it from the query itself."""

    units: Annotated[
        UnitSystem | None,
        Query(
            description=f"{_ONLY}, and required there: unit system of numbers without a unit, and of the answer.",
            examples=["imperial"],
        ),
    ] = None
    refrigerant: Annotated[
        Annotated[str, Field(min_length=1, max_length=30)] | None,
        Query(description=f"{_ONLY}: as `unit.refrigerant`.", examples=["R-410A"]),
    ] = None
    metering_device: Annotated[
        MeteringDevice | None,
        Query(description=f"{_ONLY}: as `unit.metering_device`.", examples=["thermostatic_expansion_valve"]),
    ] = None
    mode: Annotated[
        Literal["cooling", "heating"] | None,
        Query(description=f"{_ONLY}: as `unit.mode`.", examples=["cooling"]),
    ] = None
    start: Annotated[
        LogStart | None, Query(description=f"{_ONLY}: as `run.log.start`.", examples=["compressor_on"])
    ] = None


#: The body in the documentation of an operation.
CSV_BODY: dict[str, Any] = {
    "requestBody": {
        "content": {
            CSV: {
                "schema": {
                    "type": "string",
                    # For generators of clients: passed on as it is.
                    "format": "binary",
                    "description": "The log of the visit alone: as `run.log.csv`. The rest is given as query "
                    "parameters; a kit, a site or readings taken once need the body in JSON.",
                    "examples": [
                        "seconds,suction_pressure [psi],suction_line_temperature [degF]\n0,131.0,61.2\n5,128.4,60.1\n"
                    ],
                }
            }
        }
    }
}


class VisitRoute(StrictRoute):
    """A route that takes one visit, in JSON, or its log alone as CSV text."""

    def with_body(self, request: Request) -> Request:
        """The request, prepared so that either form is read as the body of a visit."""
        if media_type(request.headers.get("content-type")) != CSV:
            _refuse_parameters_of_csv(request)
            return super().with_body(request)
        request.scope[_IN_SCOPE] = True
        headers = [(name, value) for name, value in request.scope["headers"] if name != b"content-type"]
        as_json = (b"content-type", b"application/json")
        return _CsvRequest({**request.scope, "headers": [*headers, as_json]}, request.receive, _charset(request))


class _CsvRequest(StrictRequest):
    """A request whose body is CSV text, and which the framework takes for JSON."""

    def __init__(self, scope: Any, receive: Any, encoding: str) -> None:  # noqa: ANN401
        super().__init__(scope, receive)
        self._encoding = encoding

    async def body(self) -> bytes:
        """The text as it was sent."""
        body = await super().body()
        if not body.strip():
            raise _impossible("", None, "a header row and rows of numbers", "is empty", "Send the log as the body.")
        return body

    async def json(self) -> Any:  # noqa: ANN401
        """The visit."""
        try:
            text = (await self.body()).decode(self._encoding)
        except UnicodeDecodeError as error:
            raise _impossible(
                "",
                None,
                f"text in {self._encoding}",
                f"is not text in {self._encoding} (byte {error.start})",
                "Save it as UTF-8, or name its encoding: Content-Type: text/csv; charset=...",
            ) from error
        given = self.query_params
        if "units" not in given:
            hint = "Add ?units=imperial or ?units=metric."
            raise _impossible("query/units", None, "imperial or metric", "is missing", hint)
        document: dict[str, Any] = {}
        for name, path in (*_PLACES.items(), ("", _TEXT)):
            if name == "" or name in given:
                *above, last = path
                part = document
                for step in above:
                    part = part.setdefault(step, {})
                part[last] = given[name] if name else text
        return document


#: What a text may be encoded in: what spreadsheets write.
_ENCODINGS = {"": "utf-8", "utf-8": "utf-8", "us-ascii": "utf-8", "iso-8859-1": "cp1252", "windows-1252": "cp1252"}


def _charset(request: Request) -> str:
    given = charset(request.headers.get("content-type"))
    if given not in _ENCODINGS:
        raise ProblemError(
            "unsupported-media-type",
            f"The text is sent in the encoding {given[:40]!r}.",
            [field_problem("", given, "utf-8 or windows-1252", "is not a known encoding", "Save it as UTF-8.")],
        )
    return _ENCODINGS[given]


def _impossible(where: str, value: object, allowed: str, detail: str, hint: str) -> ProblemError:
    return ProblemError(
        "cannot-be-assessed", "1 field was refused.", [field_problem(where, value, allowed, detail, hint)]
    )


def _refuse_parameters_of_csv(request: Request) -> None:
    """Parameters that only go with CSV, next to a body that says the same."""
    given = [name for name in _PLACES if name in request.query_params]
    if given:
        where = ".".join(_PLACES[given[0]])
        hint = f"Give it as {where} in the body; or send the log alone, with the header Content-Type: text/csv."
        detail = "goes with a body of text/csv only"
        raise _impossible(f"query/{given[0]}", request.query_params[given[0]], "no parameter", detail, hint)


_WHERE_GIVEN = {
    **{"".join(f"/{step}" for step in path): f"query/{name}" for name, path in _PLACES.items()},
    "".join(f"/{step}" for step in _TEXT): "",
}


def as_given(request: Request, problem: Problem) -> Problem:
    """A problem whose errors are named where the caller gave what is refused."""
    if not request.scope.get(_IN_SCOPE):
        return problem
    errors = [{**error, "pointer": _WHERE_GIVEN.get(error["pointer"], error["pointer"])} for error in problem["errors"]]
    # A parameter is refused as such and again as the part of the visit that it became.
    once = {(error["pointer"] or str(number)): error for number, error in reversed(list(enumerate(errors)))}
    kept = list(reversed(once.values()))
    return refused_fields(problem["type"].rpartition("/")[2], kept, len(kept))  # type: ignore[arg-type]
