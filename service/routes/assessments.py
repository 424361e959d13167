"""`POST /v1/assessments`."""

from __future__ import annotations

from typing import Annotated, Any

import orjson
from fastapi import APIRouter, Body, Response

from schemas.assessments import Assessment, AssessmentRequest
from schemas.examples import TITLES, answer_example, examples
from service.assess.pipeline import assess
from service.edge.strict_json import StrictRoute
from service.routes.responses import PROBLEMS

router = APIRouter(prefix="/v1", tags=["assessments"], route_class=StrictRoute)

EXAMPLES: dict[str, Any] = {
    name: {"summary": TITLES[name], "value": body} for name, body in examples().items()
}


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
                    "examples": {"cut": {"summary": "Cut to a few rows", "value": answer_example()}}
                }
            }
        },
    },
)
async def assess_visit(
    request: Annotated[AssessmentRequest, Body(openapi_examples=EXAMPLES)],
) -> Response:
    """One visit's readings in: derived values with bands, findings, cautions, what is missing.

    Stateless: nothing is kept, and the same request always gives the same bytes.
    """
    return Response(
        orjson.dumps(assess(request)),
        media_type="application/json",
        headers={"Cache-Control": "no-store"},
    )
