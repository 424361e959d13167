"""A sample of the problem of each status, made by what answers it, for the docs."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

from pydantic import ValidationError

from schemas.assessments import AssessmentRequest
from schemas.problems import Problem
from service.edge.handlers import not_found
from service.edge.keys import unknown_key
from service.edge.problems import ProblemError, late_body, refuse_full, took_too_long
from service.edge.refused_fields import invalid_request, refused_field
from service.edge.settings import Settings
from service.edge.strict_json import parse, refuse_media_type, refuse_size

#: What a sample says of the request that it answers.
_INSTANCE = "urn:request:7d1f0c1e5b8a4c0f9d3e2a6b8c4d5e6f"


def samples() -> dict[int, dict[str, Any]]:
    """By status."""
    usual = Settings.model_construct()
    found = {
        400: _raised(lambda: parse(b'{"units": imperial}')),
        401: unknown_key(),
        404: not_found("/v1/assesments"),
        408: late_body(usual.body_seconds).body,
        413: _raised(lambda: refuse_size(usual.maximum_body_bytes)),
        415: _raised(lambda: refuse_media_type("text/plain")),
        422: _invalid({"units": "imperial", "run": {"readings": {"low_side_pressure": 118}}}),
        503: _raised(lambda: refuse_full("requests")),
        504: took_too_long(usual.request_seconds).body,
    }
    return {status: {**problem, "instance": _INSTANCE} for status, problem in found.items()}


def add_samples(schema: dict[str, Any]) -> None:
    """Give each documented problem of a contract the sample of its status; "4XX" that of 404."""
    known = samples()
    for status, content in _problems(schema):
        number = 404 if status == "4XX" else int(status)
        if number in known:
            content["example"] = known[number]


def _problems(schema: dict[str, Any]) -> Iterator[tuple[str, dict[str, Any]]]:
    for operations in schema["paths"].values():
        for operation in operations.values():
            for status, response in operation["responses"].items():
                content = response.get("content", {}).get("application/problem+json")
                if content is not None:
                    yield status, content


def _raised(refuse: Callable[[], object]) -> Problem:
    try:
        refuse()
    except ProblemError as error:
        return error.body
    raise AssertionError("the sample is no problem")


def _invalid(document: Any) -> Problem:  # noqa: ANN401
    try:
        AssessmentRequest.model_validate(document)
    except ValidationError as error:
        rows = [{**row, "loc": ("body", *row["loc"])} for row in error.errors()]
        return invalid_request(rows, lambda row: refused_field(row, AssessmentRequest))
    raise AssertionError("the sample is no problem")
