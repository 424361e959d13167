"""The forms of an answer: JSON, in full or cut down, or CSV for spreadsheets."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Annotated, Any, Literal, TypeVar

import orjson
from fastapi import Header, Query, Response
from pydantic import Field
from typing_extensions import TypeAliasType

from schemas.answers import Answer
from schemas.details import Detail
from service.edge.deprecations import deprecation_headers
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
#: How much of an answer; a parameter can be left out but not null.
AskedDetail = Annotated[
    Detail | None,
    Query(
        description="How much of the answer: `full`; `verdicts`, what was judged, with its sentences, without the "
        "values behind it or the assessments inside; `grades`, numbers, grades and names alone. If left out, as "
        "`Accept` says, `full` by default. It applies to JSON; a table is always whole.",
        examples=["verdicts"],
    ),
]
#: Media types of answers that are cut down.
VERDICTS_TYPE = "application/vnd.split-system-readings.verdicts+json"
GRADES_TYPE = "application/vnd.split-system-readings.grades+json"
_OF_DETAIL: Mapping[Detail, str] = {"full": "application/json", "verdicts": VERDICTS_TYPE, "grades": GRADES_TYPE}

AnyAnswer = TypeVar("AnyAnswer", bound=Mapping[str, Any])


def documented(verdicts: type[Answer], grades: type[Answer], csv: str | None = None) -> dict[int | str, dict[str, Any]]:
    """The documented forms of an operation's answer besides the full one; ``csv`` is an example of its table."""
    content: dict[str, Any] = {
        VERDICTS_TYPE: {"schema": {"$ref": f"#/components/schemas/{verdicts.__name__}"}},
        GRADES_TYPE: {"schema": {"$ref": f"#/components/schemas/{grades.__name__}"}},
    }
    if csv is not None:
        content |= _csv(csv)
    return {200: {"content": content}}


def also_csv(description: str, example: str) -> dict[int | str, dict[str, Any]]:
    """The documented response of an operation that also offers CSV."""
    return {200: {"description": description, "content": _csv(example)}}


def _csv(example: str) -> dict[str, Any]:
    return {"text/csv": {"schema": {"type": "string", "examples": [example]}}}


@dataclass(frozen=True)
class TableAsked:
    """The form that a request asks of an answer which has a table too."""

    form: TableForm = None
    detail: AskedDetail = None
    accept: Accept = None

    def kind(self) -> Detail | Literal["csv"]:
        """The form by its name; a table is always whole."""
        if self.form == "csv":
            return "csv"
        if self.detail is not None:
            return self.detail
        offered: dict[str, Detail | Literal["csv"]] = {media: detail for detail, media in _OF_DETAIL.items()}
        if self.form is None:
            offered["text/csv"] = "csv"
        return chosen(self.accept, offered, "full")


@dataclass(frozen=True)
class JsonAsked:
    """The form that a request asks of an answer which is JSON only."""

    detail: AskedDetail = None
    accept: Accept = None

    def kind(self) -> Detail:
        """The form by its name."""
        return self.detail or chosen(self.accept, {media: detail for detail, media in _OF_DETAIL.items()}, "full")


def sent(
    kind: Detail | Literal["csv"],
    answer: AnyAnswer,
    cuts: Mapping[Detail, Callable[[AnyAnswer], Mapping[str, Any]]],
    as_csv: Callable[[AnyAnswer], str] | None = None,
    deprecated: str | None = None,
) -> Response:
    """An answer in the requested form, which nothing on its way may keep.

    ``cuts`` makes each form that is cut down; ``deprecated`` is the row of what the answer holds only for older
    clients.
    """
    if kind == "csv":
        assert as_csv is not None
        content, media_type = as_csv(answer).encode(), MEDIA_TYPES["csv"]
    else:
        cut = cuts.get(kind)
        content, media_type = orjson.dumps(answer if cut is None else cut(answer)), _OF_DETAIL[kind]
    headers = {"Cache-Control": "no-store", "Vary": "Accept"}
    if deprecated is not None:
        headers |= deprecation_headers(deprecated)
    return Response(content, media_type=media_type, headers=headers)
