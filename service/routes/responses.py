"""Problem responses as the schema documents them."""

from __future__ import annotations

from typing import Any

from schemas.problems import Problem

_DESCRIPTIONS = {
    400: "The body is not strict JSON.",
    404: "Nothing lives at this address.",
    413: "The body is too large.",
    415: "The body is not sent as JSON.",
    422: "A field was refused; `errors` names each.",
}


def _response(status: int) -> dict[str, Any]:
    return {
        "description": _DESCRIPTIONS[status],
        "content": {
            "application/problem+json": {"schema": {"$ref": "#/components/schemas/Problem"}}
        },
    }


#: For operations with a body. Problem itself is added to the components by the application.
PROBLEMS: dict[int | str, dict[str, Any]] = {s: _response(s) for s in (400, 413, 415, 422)}
#: For operations that take parameters only.
PARAMETER_PROBLEMS: dict[int | str, dict[str, Any]] = {422: _response(422)}
#: For operations that take nothing: a client error is still a problem.
PLAIN_PROBLEMS: dict[int | str, dict[str, Any]] = {
    "4XX": {**_response(404), "description": "Any client error."}
}
#: For operations that name something that may not exist.
NAMED_PROBLEMS: dict[int | str, dict[str, Any]] = {s: _response(s) for s in (404, 422)}

__all__ = ["NAMED_PROBLEMS", "PARAMETER_PROBLEMS", "PLAIN_PROBLEMS", "PROBLEMS", "Problem"]
