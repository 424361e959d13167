"""`POST /v1/plans`."""

from __future__ import annotations

from typing import Annotated, Any

import orjson
from fastapi import APIRouter, Body, Response

from schemas.examples import PLAN_TITLES, plan_examples
from schemas.plans import Plan, PlanRequest
from service.compare.plan import plan
from service.edge.strict_json import StrictRoute
from service.routes.responses import PROBLEMS

router = APIRouter(prefix="/v1", tags=["comparisons"], route_class=StrictRoute)

EXAMPLES: dict[str, Any] = {
    name: {"summary": PLAN_TITLES[name], "value": body} for name, body in plan_examples().items()
}


@router.post(
    "/plans",
    operation_id="planReadings",
    summary="Plan a comparison",
    response_model=Plan,
    response_description="What the intended readings could show.",
    responses=PROBLEMS,
)
async def plan_readings(
    request: Annotated[PlanRequest, Body(openapi_examples=EXAMPLES)],
) -> Response:
    """Send the kit and the intended readings; get the smallest change that would show, what limits it, what would help.

    Nothing has been read yet: the unit model estimates the readings, and the kit their errors.
    """
    return Response(
        orjson.dumps(plan(request)),
        media_type="application/json",
        headers={"Cache-Control": "no-store"},
    )
