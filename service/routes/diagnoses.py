"""`POST /v1/diagnoses`."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Body, Depends, Response

from schemas.details import DiagnosisGrades
from schemas.diagnoses import Diagnosis, DiagnosisRequest, DiagnosisVerdicts
from schemas.examples import DIAGNOSIS_TITLES, diagnosis_examples
from service.edge.csv_bodies import CSV_BODY, CsvOptions, VisitRoute
from service.faults.diagnosis import diagnose
from service.faults.grades import grades_of_diagnosis, without_assessment
from service.routes.counting import counted
from service.routes.forms import JsonAsked, documented, sent
from service.routes.links import FROM_VISIT, together
from service.routes.responses import PROBLEMS

router = APIRouter(prefix="/v1", tags=["diagnoses"], route_class=VisitRoute)

EXAMPLES: dict[str, Any] = {
    name: {"summary": DIAGNOSIS_TITLES[name], "value": body} for name, body in diagnosis_examples().items()
}


@router.post(
    "/diagnoses",
    operation_id="diagnoseVisit",
    summary="Diagnose one visit",
    response_model=Diagnosis,
    response_description="What is probably wrong, what it costs, and what to do next.",
    responses=together(PROBLEMS, documented(DiagnosisVerdicts, DiagnosisGrades), FROM_VISIT),
    openapi_extra=CSV_BODY,
)
async def diagnose_visit(
    request: Annotated[DiagnosisRequest, Body(openapi_examples=EXAMPLES)],
    asked: Annotated[JsonAsked, Depends()],
    _: Annotated[CsvOptions, Depends()],
) -> Response:
    """Send the body of an assessment, better with the unit's own baseline; get probabilities of faults.

    Every fault is weighed against a healthy unit under the same conditions, against the other faults, and against a
    wrong reading. A fault is named as found only from 0.9 up; `healthy` and `not_enough_to_tell` are answers too,
    with the reading that would settle the question.
    """
    answer = counted(request, diagnose(request))
    return sent(asked.kind(), answer, {"verdicts": without_assessment, "grades": grades_of_diagnosis})
