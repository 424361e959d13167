"""`POST /v1/assessments`."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Body, Depends, Response

from schemas.assessments import Assessment, AssessmentRequest, AssessmentVerdicts
from schemas.details import Grades
from schemas.examples import TITLES, answer_example, examples
from service.assess.examination import examine
from service.assess.grades import without_values
from service.assess.pipeline import assess, grades
from service.edge.csv_bodies import CSV_BODY, CsvOptions, VisitRoute
from service.render.spreadsheet import of_assessment
from service.routes.counting import counted
from service.routes.forms import TableAsked, documented, sent
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
                **documented(AssessmentVerdicts, Grades, "quantity,value,unit,...")[200]["content"],
            },
            **FROM_ASSESSMENT[200],
        },
    },
    openapi_extra=CSV_BODY,
)
async def assess_visit(
    request: Annotated[AssessmentRequest, Body(openapi_examples=EXAMPLES)],
    asked: Annotated[TableAsked, Depends()],
    _: Annotated[CsvOptions, Depends()],
) -> Response:
    """Send one visit's readings; get derived values with bands, findings, cautions, and what is missing.

    Stateless: nothing is kept, and the same request always gives the same bytes.
    """
    kind = asked.kind()
    if kind == "grades":
        return sent(kind, counted(request, grades(examine(request))), {})  # without writing what is left out
    return sent(kind, counted(request, assess(request)), {"verdicts": without_values}, of_assessment)
