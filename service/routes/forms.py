"""The forms of an answer: JSON, or CSV for spreadsheets."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Annotated, Any, Literal, TypeVar

import orjson
from fastapi import Header, Query, Response
from pydantic import Field
from typing_extensions import TypeAliasType

from schemas.answers import Answer
from service.edge.negotiation import chosen

JSON_OR_CSV: Mapping[str, str] = {"application/json": "json", "text/csv": "csv"}
MEDIA_TYPES: Mapping[str, str] = {
    "json": "application/json",
    "csv": "text/csv; charset=utf-8",
    "svg": "image/svg+xml",
    "png": "image/png",
}

TableFormat = TypeAliasType("TableFormat", Annotated[Literal["json", "csv"], Field(description="Form of a table.")])
#: A parameter can be left out but not null; the schema says so.
TableForm = Annotated[
    TableFormat | None,
    Query(
        alias="format",
        description="Form of the answer; if left out, as `Accept` says, JSON by default.",
        examples=["csv"],
    ),
]
Accept = Annotated[str | None, Header(include_in_schema=False)]


AnyAnswer = TypeVar("AnyAnswer", bound=Answer)


def also_csv(description: str, example: str) -> dict[int | str, dict[str, Any]]:
    """The documented response of an operation that also offers CSV."""
    schema = {"type": "string", "examples": [example]}
    return {200: {"description": description, "content": {"text/csv": {"schema": schema}}}}


def answered(
    answer: AnyAnswer,
    form: str | None,
    accept: str | None,
    as_csv: Callable[[AnyAnswer], str],
) -> Response:
    """An answer in the requested form, which nothing on its way may keep."""
    kind = form or chosen(accept, JSON_OR_CSV, "json")
    content = as_csv(answer).encode() if kind == "csv" else orjson.dumps(answer)
    return Response(
        content,
        media_type=MEDIA_TYPES[kind],
        headers={"Cache-Control": "no-store", "Vary": "Accept"},
    )
