"""`POST /v1/checks/{check}`: one operation a check, each with a body of its own, made from the table of checks."""

from __future__ import annotations

from collections.abc import Callable, Coroutine, Mapping
from typing import Annotated, Any, Literal

import orjson
from fastapi import APIRouter, Body, Query, Response
from pydantic import Field
from typing_extensions import TypeAliasType

from schemas.checks import CheckAnswer, CheckRequest
from schemas.examples import CHECK_TITLES, check_examples
from service.checks.registry import CHECKS, Check
from service.edge.negotiation import chosen
from service.edge.strict_json import StrictRoute
from service.render.check_pictures import CHECK_PICTURES
from service.render.check_report import check_page
from service.render.raster import png
from service.render.spreadsheet import of_assessment
from service.routes.counting import count_check, counted_check
from service.routes.forms import MEDIA_TYPES, Accept
from service.routes.plots import PICTURE_POLICY
from service.routes.reports import PAGE_POLICY
from service.routes.responses import PROBLEMS

router = APIRouter(prefix="/v1", tags=["checks"], route_class=StrictRoute)

_Endpoint = Callable[..., Coroutine[Any, Any, Response]]

PageFormat = TypeAliasType(
    "PageFormat", Annotated[Literal["json", "csv", "html"], Field(description="Form of an answer.")]
)
CheckFormat = TypeAliasType(
    "CheckFormat", Annotated[Literal["json", "csv", "html", "svg", "png"], Field(description="Form of an answer.")]
)
_FORM = Query(
    alias="format",
    description="Form of the answer; if left out, as `Accept` says, JSON by default. `html` is a page to hand over.",
    examples=["json"],
)
PageForm = Annotated[PageFormat | None, _FORM]
CheckForm = Annotated[CheckFormat | None, _FORM]

_TYPES: Mapping[str, str] = {**MEDIA_TYPES, "html": "text/html; charset=utf-8"}
_USUAL = {"Cache-Control": "no-store", "Vary": "Accept"}
_HEADERS: Mapping[str, dict[str, str]] = {
    "json": _USUAL,
    "csv": _USUAL,
    "html": {**_USUAL, "Content-Security-Policy": PAGE_POLICY},
    "svg": {**_USUAL, "Content-Security-Policy": PICTURE_POLICY},
    "png": _USUAL,
}


def examples_of(check: str) -> dict[str, Any]:
    """The examples of a check as the docs show them."""
    titles = CHECK_TITLES[check]
    return {name: {"summary": titles[name], "value": body} for name, body in check_examples(check).items()}


def _endpoint(row: Check) -> _Endpoint:
    async def answer_check(
        request: CheckRequest,
        form: CheckForm = None,
        accept: Accept = None,
    ) -> Response:
        kind = form or chosen(accept, kinds, "json")
        if kind in {"svg", "png"}:
            content = _drawn(row.name, request, kind)
            count_check(request)
        else:
            content = _written(counted_check(request, row.answer(request)), request, kind)
        return Response(content, media_type=_TYPES[kind], headers=_HEADERS[kind])

    kinds = {_TYPES[kind].partition(";")[0]: kind for kind in forms_of(row.name)}
    # The body of each check and its forms are known here only, so their annotations are set rather than written.
    answer_check.__annotations__["request"] = Annotated[row.body, Body(openapi_examples=examples_of(row.name))]
    if row.name not in CHECK_PICTURES:
        answer_check.__annotations__["form"] = PageForm
    return answer_check


def forms_of(check: str) -> tuple[str, ...]:
    """The forms in which a check is answered: a picture only where it has one."""
    return ("json", "csv", "html", *(("svg", "png") if check in CHECK_PICTURES else ()))


def _drawn(name: str, request: CheckRequest, kind: str) -> bytes:
    drawing = CHECK_PICTURES[name](request)
    return png(drawing, "auto", 960) if kind == "png" else drawing.svg().encode()


def _written(answer: CheckAnswer, request: CheckRequest, kind: str) -> bytes:
    if kind == "html":
        return check_page(request, answer).encode()
    return of_assessment(answer).encode() if kind == "csv" else orjson.dumps(answer)


def _responses(check: str) -> dict[int | str, dict[str, Any]]:
    """The documented forms of the answer to a check."""
    examples = {"csv": "quantity,value,unit,...", "html": "<!doctype html>...", "svg": "<svg ...>...</svg>"}
    content: dict[str, Any] = {
        _TYPES[kind].partition(";")[0]: {"schema": {"type": "string", "examples": [examples[kind]]}}
        for kind in forms_of(check)
        if kind in examples
    }
    if check in CHECK_PICTURES:
        content["image/png"] = {"schema": {"type": "string", "format": "binary", "contentMediaType": "image/png"}}
    return {
        **PROBLEMS,
        200: {
            "description": "The answer; as CSV its derived values; as a page to hand over; as a picture.",
            "content": content,
        },
    }


for _row in CHECKS.values():
    router.add_api_route(
        f"/checks/{_row.name}",
        _endpoint(_row),
        methods=["POST"],
        operation_id=_row.operation,
        summary=_row.summary,
        description=_row.description,
        response_model=CheckAnswer,
        responses=_responses(_row.name),
    )
