"""`POST /v1/assessments`."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Body, Depends, Response

from schemas.assessments import Assessment, AssessmentRequest
from schemas.examples import TITLES, answer_example, examples
from service.assess.pipeline import assess
from service.edge.csv_bodies import CSV_BODY, CsvOptions, VisitRoute
from service.render.spreadsheet import of_assessment
from service.routes.counting import counted
from service.routes.forms import Accept, TableForm, also_csv, answered
from service.routes.links import FROM_ASSESSMENT
from service.routes.responses import PROBLEMS

router = APIRouter(prefix="/v1", tags=["assessments"], route_class=VisitRoute)

EXAMPLES: dict[str, Any] = {name: {"summary": TITLES[name], "value": body} for name, body in examples().items()}


@router.post(
    "/assessments",
    operation_id="assessVisit",
    summary="Assess one visit",
    response_model=Assessment,
    response_description="The graded assessment.",
    responses={
        **PROBLEMS,
        200: {
            "content": {
                "application/json": {
                    "examples": {"cut": {"summary": "Shortened to a few rows", "value": answer_example()}}
                },
                **also_csv("", "quantity,value,unit,...")[200]["content"],
            },
            **FROM_ASSESSMENT[200],
        },
    },
    openapi_extra=CSV_BODY,
)
async def assess_visit(
    request: Annotated[AssessmentRequest, Body(openapi_examples=EXAMPLES)],
    _: Annotated[CsvOptions, Depends()],
    form: TableForm = None,
    accept: Accept = None,
) -> Response:
    """Send one visit's readings; get derived values with bands, findings, cautions, and what is missing.

    Stateless: nothing is kept, and the same request always gives the same bytes.
    """
    return answered(counted(request, assess(request)), form, accept, of_assessment)
