"""Problem responses as the schema documents them."""

from __future__ import annotations

from typing import Any

from schemas.problems import Problem

_DESCRIPTIONS = {
    400: "The body is not strict JSON, or does not match its compression.",
    401: "A key is required, and it is missing or unknown.",
    404: "There is nothing at this address, or the name is unknown.",
    408: "The body did not arrive in time.",
    413: "The body is too large.",
    415: "The body is not sent as JSON, or its compression is not accepted.",
    422: "A field was refused; `errors` names each.",
    503: "The service is busy or stopping; `Retry-After` says when to try again.",
    504: "The computation took too long.",
}


def _response(status: int) -> dict[str, Any]:
    found: dict[str, Any] = {
        "description": _DESCRIPTIONS[status],
        "content": {"application/problem+json": {"schema": {"$ref": "#/components/schemas/Problem"}}},
    }
    if status == 503:
        found["headers"] = {
            "Retry-After": {
                "description": "Seconds after which to send the request again.",
                "schema": {"type": "integer", "minimum": 0, "examples": [1], "x-unit": "s"},
            }
        }
    return found


#: For operations with a body. The application adds Problem itself to the components.
PROBLEMS: dict[int | str, dict[str, Any]] = {s: _response(s) for s in (400, 401, 408, 413, 415, 422, 503, 504)}
#: For operations with parameters only.
PARAMETER_PROBLEMS: dict[int | str, dict[str, Any]] = {s: _response(s) for s in (401, 422, 503, 504)}
#: For operations without parameters: a client error is still a problem.
PLAIN_PROBLEMS: dict[int | str, dict[str, Any]] = {"4XX": {**_response(404), "description": "Any client error."}}
#: For the reference lists.
LIST_PROBLEMS: dict[int | str, dict[str, Any]] = PLAIN_PROBLEMS | {s: _response(s) for s in (503, 504)}
#: For operations that name something that may not exist.
NAMED_PROBLEMS: dict[int | str, dict[str, Any]] = {s: _response(s) for s in (401, 404, 422, 503, 504)}

__all__ = [
    "LIST_PROBLEMS",
    "NAMED_PROBLEMS",
    "PARAMETER_PROBLEMS",
    "PLAIN_PROBLEMS",
    "PROBLEMS",
    "Problem",
]
