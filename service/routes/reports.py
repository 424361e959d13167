"""`POST /v1/reports`."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Body, Depends, Query, Response

from schemas.pictures import AnyBody, Audience
from service.edge.csv_bodies import CSV_BODY, CsvOptions, VisitRoute
from service.render.report import page
from service.routes.counting import count_draws
from service.routes.plots import EXAMPLES
from service.routes.responses import PROBLEMS

router = APIRouter(prefix="/v1", tags=["pictures"], route_class=VisitRoute)

#: The page runs no script and contacts no host; it may style itself.
PAGE_POLICY = (
    "default-src 'none'; style-src 'unsafe-inline'; img-src data:; base-uri 'none'; form-action 'none'; "
    "frame-ancestors 'self'"
)


@router.post(
    "/reports",
    operation_id="writeReport",
    summary="A page to hand over",
    response_class=Response,
    responses={
        **PROBLEMS,
        200: {
            "description": "The page.",
            "content": {"text/html": {"schema": {"type": "string", "examples": ["<!doctype html>..."]}}},
        },
    },
    openapi_extra=CSV_BODY,
)
async def write_report(
    request: Annotated[AnyBody, Body(openapi_examples=EXAMPLES)],
    _: Annotated[CsvOptions, Depends()],
    audience: Annotated[
        Audience,
        Query(
            description="`technician`: everything, with readings, values and instruments. `customer`: "
            "what was found and what it is worth, in plain words.",
            examples=["technician"],
        ),
    ] = "technician",
) -> Response:
    """The body of an assessment, a diagnosis, a comparison or a series as one page of HTML.

    It needs nothing else (no script, no other file, no other host), follows light and dark settings, and prints on
    one or two sheets: three plain sentences, the verdict with its certainty, the pictures that matter, what is
    outside its limits, what could not be decided and why, cautions, readings and values with their bands,
    instruments, method and sources.
    """
    content = page(request, audience)
    count_draws(request)
    return Response(
        content,
        media_type="text/html; charset=utf-8",
        headers={"Cache-Control": "no-store", "Content-Security-Policy": PAGE_POLICY},
    )
