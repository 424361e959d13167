"""Every error of the application as a problem response."""

from __future__ import annotations

import logging
from collections.abc import Mapping
from functools import partial
from http import HTTPStatus
from typing import Any

import orjson
from fastapi import FastAPI, Request, Response
from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException

from schemas.problems import FieldProblem, Problem
from service.edge.addresses import near_address
from service.edge.csv_bodies import as_given
from service.edge.problems import (
    MEDIA_TYPE,
    PROBLEM_TYPES,
    ProblemError,
    cannot_be_assessed,
    field_problem,
    internal,
    problem_body,
)
from service.edge.refused_fields import invalid_request, refused_field
from service.intake.refusals import RefusedError
from service.telemetry.counts import add_problem

logger = logging.getLogger(__name__)

#: The type of problem for a status that the framework chose: the first of the table with that status.
_BY_STATUS = {row.status: name for name, row in reversed(tuple(PROBLEM_TYPES.items()))}


def install(app: FastAPI) -> None:
    """Turn every error of the application into a problem."""
    app.add_exception_handler(RequestValidationError, _invalid)
    app.add_exception_handler(RefusedError, _refused)
    app.add_exception_handler(HTTPException, _http)
    app.add_exception_handler(Exception, _internal)


def response(request: Request, body: Mapping[str, Any], headers: Mapping[str, str] | None = None) -> Response:
    """A problem as a response, counted."""
    add_problem(body, "request")
    request_id = request.scope.get("request_id")
    instance = f"urn:request:{request_id}" if request_id else None
    return Response(
        orjson.dumps({**body, "instance": instance}),
        status_code=body["status"],
        media_type=MEDIA_TYPE,
        headers={"Cache-Control": "no-store", **(headers or {})},
    )


async def _invalid(request: Request, error: Exception) -> Response:
    assert isinstance(error, RequestValidationError)
    # The kind of body that the operation takes knows which fields could be meant.
    body = getattr(request.scope.get("route"), "body_field", None)
    model = None if body is None else body.field_info.annotation
    return response(request, as_given(request, invalid_request(error.errors(), partial(refused_field, model=model))))


async def _refused(request: Request, error: Exception) -> Response:
    assert isinstance(error, RefusedError)
    return response(request, as_given(request, cannot_be_assessed(error)))


async def _http(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    body = error.body if isinstance(error, ProblemError) else _of_framework(request, error)
    return response(request, body, error.headers)


async def _internal(request: Request, error: Exception) -> Response:
    logger.error("unhandled error in %s", request.scope.get("request_id"), exc_info=error)
    # This answer is made outside the middleware that adds the id to all others.
    headers = {
        "X-Request-Id": request.scope.get("request_id", ""),
        "X-Content-Type-Options": "nosniff",
    }
    return response(request, internal("request").body, headers)


def _of_framework(request: Request, error: HTTPException) -> Problem:
    """The problem of an error that the framework raised."""
    usual = "internal" if error.status_code >= 500 else "invalid-request"
    name = _BY_STATUS.get(error.status_code, usual)
    match name:
        case "not-found":
            return not_found(request.url.path)
        case "method-not-allowed":
            return _not_allowed(request.method, (error.headers or {}).get("Allow", ""))
    return problem_body(name, HTTPStatus(error.status_code).phrase)


def not_found(path: str) -> Problem:
    """There is nothing at this address."""
    near = near_address(path)
    meant = "" if near is None else f" Did you mean {near}?"
    return problem_body("not-found", f"There is nothing at {path[:200]}.{meant} /docs lists every address.")


def _not_allowed(method: str, allow: str) -> Problem:
    errors: list[FieldProblem] = []
    if method == "PUT" and "POST" in allow:
        hint = "Send it by POST; `curl -T` needs `-X POST` for that."
        errors = [field_problem("", "PUT", allow, "is not available here", hint)]
    detail = f"{method} is not available here; use {allow or 'another method'}."
    return problem_body("method-not-allowed", detail, errors)
