"""Every error as RFC 9457 problem details.

The types of problem::

    invalid-json            400   not JSON, a key twice, NaN, too deep
    invalid-coding          400   a batch that cannot be decompressed
    invalid-http            400   not a request of HTTP at all
    unauthorised            401   no key, or none that is known
    not-found               404   no such address
    method-not-allowed      405   the address exists, the method does not
    stalled                 408   a client that sends too slowly; a batch whose client neither sends nor reads
    too-large               413   body, or line of a batch, over the limit
    unsupported-media-type  415   not sent as JSON (a batch: as lines of it)
    invalid-request         422   a field of the wrong type, name, unit or size
    cannot-be-assessed      422   well formed, but impossible, unknown or ambiguous
    head-too-large          431   the headers are over the limit
    internal                500   our fault; no detail leaves the service
    overloaded              503   as much under way as is taken at once
    stopping                503   told to stop: a batch cut, or no longer ready
    timed-out               504   computing took too long
"""

from __future__ import annotations

import logging
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache, partial
from http import HTTPStatus
from types import MappingProxyType
from typing import Any, NoReturn

import orjson
from fastapi import FastAPI, Request, Response
from fastapi.exceptions import RequestValidationError
from pydantic import TypeAdapter
from rapidfuzz import process
from starlette.exceptions import HTTPException

from schemas.assessments import AssessmentRequest
from schemas.batches import BARE_BODY, ID_RANGE, NO_ID, NOT_ONE_BODY, OTHER_BODY, BatchLine
from schemas.pictures import BODY_TAGS, NO_KIND
from schemas.quantities import (
    FEWEST_REPEATS,
    LOCATION_TAGS,
    MOST_REPEATS,
    REPEAT_TAGS,
    VALUE_AND_VALUES,
)
from schemas.readings import IMPERIAL_UNITS, READINGS
from service.assess.refusals import RefusedError
from service.reference.units import KINDS
from service.telemetry.counts import add_problem

logger = logging.getLogger(__name__)

MEDIA_TYPE = "application/problem+json"


@dataclass(frozen=True, slots=True)
class ProblemType:
    """One type of problem, served at ``/problems/{name}``."""

    title: str
    status: int
    meaning: str


PROBLEM_TYPES: Mapping[str, ProblemType] = MappingProxyType(
    {
        "invalid-json": ProblemType(
            "Body is not valid JSON", 400,
            "The body could not be read as JSON (RFC 8259), or a key stands twice, or a number is "
            "not finite.",
        ),
        "invalid-coding": ProblemType(
            "Body cannot be decompressed", 400,
            "The body of a batch is not, or not wholly, what its Content-Encoding says; or it is compressed "
            "and none says so.",
        ),
        "invalid-http": ProblemType(
            "Request is not HTTP", 400, "What arrived could not be read as a request of HTTP/1.1; it was closed.",
        ),
        "unauthorised": ProblemType(
            "Key is missing or not known", 401,
            "Whoever runs the service asks for a key in the header X-API-Key.",
        ),
        "not-found": ProblemType("Not found", 404, "Nothing lives at this address, or no such thing is known."),
        "method-not-allowed": ProblemType(
            "Method not allowed", 405, "The address exists, but not for this method; see Allow.",
        ),
        "stalled": ProblemType(
            "Client stalled", 408,
            "The request did not arrive within the time that it may take; or for too long the client of a "
            "batch neither sent lines nor read answers.",
        ),
        "too-large": ProblemType(
            "Body too large", 413, "The body, or one line of a batch, is larger than this service accepts.",
        ),
        "unsupported-media-type": ProblemType(
            "Unsupported media type", 415,
            "The body must be sent as application/json; a batch as application/x-ndjson, plain or as "
            "gzip or zstd.",
        ),
        "invalid-request": ProblemType(
            "Invalid request", 422,
            "A field has the wrong type, an unknown name or unit, or a value outside its range. "
            "Each is named in `errors`.",
        ),
        "cannot-be-assessed": ProblemType(
            "Request cannot be assessed as given", 422,
            "The request is well formed, but a reading is impossible, a name unknown, or an instrument "
            "ambiguous. "
            "Each is named in `errors`.",
        ),
        "head-too-large": ProblemType(
            "Head of the request too large", 431,
            "The address and the headers together are larger than this service accepts.",
        ),
        "internal": ProblemType(
            "Internal error", 500, "A fault of the service. The request id finds it in the log.",
        ),
        "overloaded": ProblemType(
            "Too much under way", 503,
            "As much is under way as this service takes at once, or it waited too long for its turn. Nothing was "
            "computed; send it again after the seconds that Retry-After says.",
        ),
        "stopping": ProblemType(
            "Service is stopping", 503,
            "The service was told to stop: it takes no more, and a batch that it answered ends early. Send the rest "
            "again.",
        ),
        "timed-out": ProblemType(
            "Computing took too long", 504,
            "The request was not answered within the time that it may take, and was given up.",
        ),
    }
)  # fmt: skip

_BY_STATUS = {
    404: "not-found",
    405: "method-not-allowed",
    413: "too-large",
    415: "unsupported-media-type",
}


class ProblemError(HTTPException):
    """An error that knows its type of problem."""

    def __init__(
        self,
        status: int,
        name: str,
        detail: str,
        errors: Sequence[dict[str, Any]] = (),
        headers: Mapping[str, str] | None = None,
    ) -> None:
        super().__init__(status_code=status, detail=detail, headers=headers)
        self.name = name
        self.errors = list(errors)


#: Characters of a pointer that are told.
_LONGEST = 300


def field_problem(
    pointer: str, value: object, allowed: str, detail: str, hint: str
) -> dict[str, Any]:
    """One entry of ``errors``."""
    return {
        # A name of thousands of characters helps nobody find it.
        "pointer": pointer if len(pointer) <= _LONGEST else pointer[:_LONGEST] + "...",
        "value": _shortened(value),
        "allowed": allowed,
        "detail": detail,
        "hint": hint,
    }


def _shortened(value: object) -> Any:  # noqa: ANN401
    if value is None or isinstance(value, bool | float):
        return value
    if isinstance(value, int):
        # Readers that hold numbers as doubles would change it: its digits, as they were given.
        return value if abs(value) < 2**53 else str(value)
    if isinstance(value, str):
        return value if len(value) <= 80 else value[:77] + "..."
    return f"({'an object' if isinstance(value, Mapping) else 'a list'})"


def problem_body(
    name: str, detail: str, errors: Sequence[dict[str, Any]] = (), status: int | None = None
) -> dict[str, Any]:
    """A problem without the request that it happened in."""
    type_ = PROBLEM_TYPES[name]
    return {
        "type": f"/problems/{name}",
        "title": type_.title,
        "status": status or type_.status,
        "detail": detail,
        "errors": list(errors),
    }


def response(
    request: Request, body: Mapping[str, Any], headers: Mapping[str, str] | None = None
) -> Response:
    """A problem as a response."""
    add_problem(body, "request")
    request_id = request.scope.get("request_id")
    instance = f"urn:request:{request_id}" if request_id else None
    return Response(
        orjson.dumps({**body, "instance": instance}),
        status_code=body["status"],
        media_type=MEDIA_TYPE,
        headers={"Cache-Control": "no-store", **(headers or {})},
    )


#: Seconds after which a client that was sent away may come again.
_RETRY_SECONDS = 1


def refuse_full(what: str) -> NoReturn:
    """Send a client away for a while."""
    raise ProblemError(
        503, "overloaded", f"As many {what} are under way as this service takes at once.",
        [field_problem("", None, f"{what} as there is room for", "came while all places were taken",
                       f"Send it again after {_RETRY_SECONDS} s, and wait longer each time that it is refused.")],
        {"Retry-After": str(_RETRY_SECONDS)},
    )  # fmt: skip


# ---------------------------------------------------------------- pydantic's errors, reworded


_TAGS = LOCATION_TAGS | BODY_TAGS


def _pointer(location: Sequence[object]) -> str:
    head, *rest = location
    if head != "body":
        return "/".join(str(part) for part in location)
    return "".join(
        "/" + str(part).replace("~", "~0").replace("/", "~1")
        for part in rest
        if part not in _TAGS and part != "[key]"
    )


_REPEATS = f"{FEWEST_REPEATS} to {MOST_REPEATS} repeats"


def _allowed_of_repeats(kind: str) -> tuple[str, str, str] | None:
    """The same for a list of repeats, where it differs."""
    match kind:
        case "too_short":
            return _REPEATS, "holds too few", "Give a single reading as a plain number."
        case "too_long":
            return _REPEATS, "holds too many", "Leave some out, or give their mean."
        case "list_type":
            return (
                f"a list of {_REPEATS}",
                "is not a list",
                "Give a list of numbers, or a single number as `value`.",
            )
        case "float_type" | "float_parsing":
            return (
                "a number",
                "is not a number",
                "Each repeat is a JSON number (no quotes); leave out what was not read.",
            )
        case _:
            return None


_A_KIND = {"assessment": "an assessment", "comparison": "a comparison"}


def _allowed(error: Mapping[str, Any]) -> tuple[str, str, str]:
    """Allowed range, what is wrong, and what to do, for one of pydantic's errors."""
    kind, context = str(error["type"]), error.get("ctx") or {}
    if not REPEAT_TAGS.isdisjoint(error["loc"]):
        found = _allowed_of_repeats(kind)
        if found is not None:
            return found
    match kind:
        case _ if kind == NO_KIND:
            return (
                "run (one visit), or runs with before and after (a comparison), or runs as a list (a series)",
                "holds not exactly one of run and runs",
                "Give the body of an assessment, a diagnosis, a comparison or a series; a plan has no picture.",
            )
        case _ if kind == NOT_ONE_BODY:
            return (
                "one of assessment and comparison",
                "holds not exactly one of assessment and comparison",
                'Give {"assessment": {...}} with the body of POST /v1/assessments, or {"comparison": {...}} with '
                "that of POST /v1/comparisons; each on a line of its own.",
            )
        case _ if kind == BARE_BODY:
            body = context["kind"]
            return (
                "one of assessment and comparison, beside id",
                f"is the body of {_A_KIND[body]} without its envelope",
                f'Wrap it: {{"{body}": {{...}}}}, with your own "id" beside "{body}" if you like.',
            )
        case _ if kind == OTHER_BODY:
            return (
                "one of assessment and comparison",
                f"is {context['kind']}, which no batch takes",
                f"Send it to POST {context['address']}; or have its visit assessed: "
                '{"assessment": {...}} with the body of POST /v1/assessments.',
            )
        case _ if kind == NO_ID:
            return ID_RANGE, "is no id", "Give your own short key of the line, or leave it out."
        case "missing":
            return "a value", "is missing", "Add the field."
        case "extra_forbidden":
            return (
                "a field of the schema",
                "is not a field of the schema",
                "Check the spelling; /docs lists every field.",
            )
        case "literal_error":
            return (
                str(context.get("expected")),
                "is not one of the allowed values",
                ("Use one of the allowed values, spelt as shown."),
            )
        case "less_than_equal" | "less_than" | "greater_than_equal" | "greater_than":
            word = {
                "less_than_equal": "at most",
                "less_than": "less than",
                "greater_than_equal": "at least",
                "greater_than": "more than",
            }[kind]
            limit = next(iter(context.values()))
            shown = str(limit) if isinstance(limit, int) else f"{limit:g}"
            return f"{word} {shown}", "is out of range", "Check the number and its unit."
        case "too_short" if "min_length" in context:
            return (
                f"{context['min_length']} or more; {context.get('actual_length', 'fewer')} given",
                "holds too few",
                "Add what is missing.",
            )
        case "too_long" if "max_length" in context:
            return (
                f"at most {context['max_length']}; {context.get('actual_length', 'more')} given",
                "holds too many",
                "Send the rest in another request.",
            )
        case _ if kind.startswith("datetime") or kind.startswith("timezone"):
            return (
                "a date and time with its offset from UTC",
                "is no date and time",
                "Give it like 2026-07-14T14:05:00-05:00.",
            )
        case "finite_number":
            return "a finite number", "is not finite", "Leave a reading out if there is none."
        case "int_type" | "int_parsing" | "int_from_float":
            return "a whole number", "is not a whole number", "Give a whole number, without quotes."
        case "float_type" | "float_parsing":
            return (
                "a number",
                "is not a number",
                ('Give a JSON number (no quotes), or {"value": ..., "unit": ...} for a reading.'),
            )
        case _ if kind == VALUE_AND_VALUES:
            return (
                "either value or values",
                "has both value and values",
                f"Give one number as `value`, or {_REPEATS} as `values`.",
            )
        case "bool_type":
            return "true or false", "is not true or false", "Give true or false, without quotes."
        case "string_type":
            return "text", "is not text", "Give a JSON string."
        case "model_attributes_type" | "model_type" | "dict_type":
            return "an object", "is not an object", "Give a JSON object, {...}."
        case "list_type":
            return "a list", "is not a list", "Give a JSON list, [...]."
        case "string_too_long" | "too_long":
            limit = context.get("max_length")
            return f"a length of at most {limit}", "is too long", "Shorten it."
        case "string_too_short" | "too_short":
            return (
                f"a length of at least {context.get('min_length')}",
                "is too short",
                "Fill it in.",
            )
        case "string_pattern_mismatch":
            return "printable text", "holds a character that is not allowed", "Use plain text."
        case _:
            message = str(error.get("msg", "is not valid")).removeprefix("Value error, ")
            return message, "is not valid", "See the field in /docs."


#: What the trade calls things that the contract spells out.
_TRADE_WORDS = {
    "txv": "thermostatic_expansion_valve",
    "tev": "thermostatic_expansion_valve",
    "eev": "electronic_expansion_valve",
    "exv": "electronic_expansion_valve",
    "piston": "fixed_orifice",
    "orifice": "fixed_orifice",
    "cap tube": "capillary_tube",
    "°f": "degF",
    "f": "degF",
    "°c": "degC",
    "c": "degC",
}


@cache
def _field_names() -> tuple[str, ...]:
    """Every field name of the request."""
    models = AssessmentRequest.model_json_schema()
    parts = [models, *models["$defs"].values()]
    return tuple(sorted({name for part in parts for name in part.get("properties", {})}))


@cache
def _published(model: Any) -> Mapping[str, Any]:  # noqa: ANN401
    """The schema of a body."""
    return TypeAdapter(model).json_schema()


def _objects(part: Mapping[str, Any], definitions: Mapping[str, Any]) -> Iterator[Any]:
    """Every object that a part of a schema may be, or hold as a member of a list or a table."""
    if "$ref" in part:
        yield from _objects(definitions[part["$ref"].rsplit("/", 1)[1]], definitions)
    if "properties" in part:
        yield part
    for branch in (*part.get("anyOf", ()), *part.get("oneOf", ()), *part.get("allOf", ())):
        yield from _objects(branch, definitions)
    for within in (part.get("items"), part.get("additionalProperties")):
        if isinstance(within, Mapping):
            yield from _objects(within, definitions)


def _names_at(model: Any, location: Sequence[object]) -> list[str]:  # noqa: ANN401
    """The fields that a body of that kind may have at a place."""
    schema = _published(model)
    definitions = schema.get("$defs", {})
    found = list(_objects(schema, definitions))
    for part in location:
        # What is no field is the place in a list, the key in a table, or the name of a branch.
        deeper = [one for part_ in found if part in part_["properties"]
                  for one in _objects(part_["properties"][part], definitions)]  # fmt: skip
        found = deeper or found
    return sorted({name for one in found for name in one["properties"]})


def _near_field(location: Sequence[object], model: Any) -> str | None:  # noqa: ANN401
    """The field that could be meant: one of those that the place has, else one of any other place."""
    *above, last = location
    name = str(last)
    here = [] if model is None else _names_at(model, above[1:])
    elsewhere = [] if name in _field_names() or model is BatchLine else _field_names()
    for names in (here, elsewhere):
        others = [other for other in names if other != name]
        found = process.extractOne(name[:80], others, score_cutoff=75)
        if found is not None:
            return str(found[0])
    return None


def _near_value(given: object, expected: str) -> str | None:
    values = re.findall(r"'([^']+)'", expected)
    if not isinstance(given, str) or not values:
        return None
    word = _TRADE_WORDS.get(given.strip().lower(), given.strip().lower())
    by_lower = {value.lower(): value for value in values}
    found = process.extractOne(word.lower(), list(by_lower), score_cutoff=75)
    return None if found is None else by_lower[str(found[0])]


def _other_kind(given: object) -> str | None:
    """What a unit that does not belong here measures; None where the service knows no such unit."""
    for name, kind in KINDS.items():
        if isinstance(given, str) and given in kind.units and name in _MEASURED:
            return _MEASURED[name]
    return None


#: What the kinds of readings are called in an error.
_MEASURED = {
    "temperature": "temperature",
    "temperature_difference": "temperature difference",
    "pressure": "pressure",
    "current": "current",
    "voltage": "voltage",
    "power": "power",
    "airflow": "airflow",
}


#: What may follow a reading's name in a pointer to one of its numbers.
_WITHIN_READING = re.compile(r"(/value|(/values)?/\d+)$")


def _possible_range(where: str) -> str | None:
    """The range of a reading, for numbers beyond any unit's envelope."""
    name = _WITHIN_READING.sub("", where.removeprefix("/run/readings/")).replace("/", ".")
    spec = READINGS.get(name)
    if spec is None:
        return None
    low, high = spec.imperial
    return f"{low:g} to {high:g} {IMPERIAL_UNITS[spec.kind]}, or the same in another unit"


_UNITS_HINT = (
    'Say which units bare numbers are in: "units": "imperial" or "units": "metric". There is no '
    "default."
)


#: The largest `offset` of a batch.
LARGEST_OFFSET = 2**53 - 1


def refused_field(error: Mapping[str, Any], model: Any = None) -> dict[str, Any]:  # noqa: ANN401
    """One of pydantic's errors, reworded; ``model`` is the kind of body it was found in, where known."""
    where = _pointer(error["loc"])
    allowed, detail, hint = _allowed(error)
    if where == "/units" and error["type"] != "extra_forbidden":
        allowed, hint = "imperial or metric", _UNITS_HINT
    if where == "query/units":
        allowed, hint = "imperial or metric", "Add ?units=imperial or ?units=metric."
    near = None
    if error["type"] == "extra_forbidden":
        near = _near_field(error["loc"], model)
    elif error["type"] == "literal_error":
        other = _other_kind(error.get("input")) if where.endswith("/unit") else None
        if other is not None:
            hint = f"{error.get('input')} is a unit of {other}: check the reading's field and its unit."
        else:
            near = _near_value(error.get("input"), str((error.get("ctx") or {}).get("expected")))
    elif error["type"] in ("less_than_equal", "greater_than_equal"):
        allowed = _possible_range(where) or allowed
    elif (
        error["type"] == "float_type"
        and isinstance(error.get("input"), list)
        and where.startswith("/run/readings/")
    ):
        hint = f"Give {_REPEATS} as `values` in place of `value`."
    if near is not None:
        hint = f"Did you mean {near}? {hint}"
    if where == "" and error["type"] == "missing":
        return field_problem("", None, "a JSON object", "is empty", "Send a request body.")
    if where.startswith("query/") and error["type"] in ("int_parsing", "float_parsing"):
        hint = "Give a plain number."
    if where == "query/offset":
        allowed = f"a whole number from 0 to {LARGEST_OFFSET}"
        hint = "Give the last `line` received + 1, or the `resume_offset` of the summary, in plain digits."
    value = None if error["type"] == "missing" else error.get("input")
    return field_problem(where, value, allowed, detail, hint)


def _count(errors: Sequence[object]) -> str:
    return "1 field was refused." if len(errors) == 1 else f"{len(errors)} fields were refused."


#: Errors that one problem lists at the most.
_MOST = 50


def invalid_request(
    rows: Sequence[Mapping[str, Any]],
    field: Callable[[Mapping[str, Any]], dict[str, Any]] = refused_field,
) -> dict[str, Any]:
    """The problem of pydantic's errors, each reworded by ``field``."""
    return problem_body("invalid-request", _count(rows), [field(row) for row in rows[:_MOST]])


def cannot_be_assessed(error: RefusedError) -> dict[str, Any]:
    """The problem of a request that is well formed and still refused."""
    errors = [
        field_problem(row.pointer, row.value, row.allowed, row.detail, row.hint)
        for row in error.refusals
    ]
    return problem_body("cannot-be-assessed", _count(errors), errors)


def of_problem_error(error: ProblemError) -> dict[str, Any]:
    """The problem that an error knows."""
    return problem_body(error.name, str(error.detail), error.errors, error.status_code)


#: What is told of a fault of the service.
INTERNAL = "The service failed on this {}. Nothing of it was kept."


def install(app: FastAPI) -> None:
    """Turn every error of the application into a problem."""

    @app.exception_handler(RequestValidationError)
    async def invalid(request: Request, error: RequestValidationError) -> Response:
        # The kind of body that the operation takes knows which fields could be meant.
        body = getattr(request.scope.get("route"), "body_field", None)
        model = None if body is None else body.field_info.annotation
        told = partial(refused_field, model=model)
        return response(request, invalid_request(error.errors(), told))

    @app.exception_handler(RefusedError)
    async def refused(request: Request, error: RefusedError) -> Response:
        return response(request, cannot_be_assessed(error))

    @app.exception_handler(HTTPException)
    async def http(request: Request, error: HTTPException) -> Response:
        if isinstance(error, ProblemError):
            return response(request, of_problem_error(error), error.headers)
        name = _BY_STATUS.get(error.status_code, "invalid-request")
        if error.status_code >= 500:
            name = "internal"
        allow = (error.headers or {}).get("Allow") or (error.headers or {}).get("allow") or ""
        detail = {
            "not-found": f"Nothing lives at {request.url.path[:200]}; /docs lists what does.",
            "method-not-allowed": f"{request.method} is not offered here; use {allow or 'another method'}.",
            "too-large": "The body is larger than this service accepts.",
        }.get(name, HTTPStatus(error.status_code).phrase)
        errors = []
        if name == "method-not-allowed" and request.method == "PUT" and "POST" in allow:
            hint = "Send it by POST; `curl -T` needs `-X POST` to do so."
            errors = [field_problem("", "PUT", allow, "is not offered here", hint)]
        body = problem_body(name, detail, errors, error.status_code)
        return response(request, body, error.headers)

    @app.exception_handler(Exception)
    async def internal(request: Request, error: Exception) -> Response:
        logger.error("unhandled error in %s", request.scope.get("request_id"), exc_info=error)
        # This answer is made outside the middleware that adds the id to all others.
        return response(
            request,
            problem_body("internal", INTERNAL.format("request")),
            {
                "X-Request-Id": request.scope.get("request_id", ""),
                "X-Content-Type-Options": "nosniff",
            },
        )
