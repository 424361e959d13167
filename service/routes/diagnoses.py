"""`POST /v1/diagnoses`."""

from __future__ import annotations

from typing import Annotated, Any

import orjson
from fastapi import APIRouter, Body, Depends, Response

from schemas.diagnoses import Diagnosis, DiagnosisRequest
from schemas.examples import DIAGNOSIS_TITLES, diagnosis_examples
from service.edge.csv_bodies import CSV_BODY, CsvOptions, VisitRoute
from service.faults.diagnosis import diagnose
from service.routes.counting import counted
from service.routes.links import FROM_VISIT
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
    responses={**PROBLEMS, **FROM_VISIT},
    openapi_extra=CSV_BODY,
)
async def diagnose_visit(
    request: Annotated[DiagnosisRequest, Body(openapi_examples=EXAMPLES)],
    _: Annotated[CsvOptions, Depends()],
) -> Response:
    """Send the body of an assessment, better with the unit's own baseline; get probabilities of faults.

    Every fault is weighed against a healthy unit under the same conditions, against the other faults, and against a
    wrong reading. A fault is named as found only from 0.9 up; `healthy` and `not_enough_to_tell` are answers too,
    with the reading that would settle the question.
    """
    return Response(
        orjson.dumps(counted(request, diagnose(request))),
        media_type="application/json",
        headers={"Cache-Control": "no-store"},
    )
