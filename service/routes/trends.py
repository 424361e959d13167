"""`POST /v1/trends`."""

from __future__ import annotations

from typing import Annotated, Any

import orjson
from fastapi import APIRouter, Body, Response

from schemas.examples import TREND_TITLES, trend_examples
from schemas.trends import Trend, TrendRequest
from service.compare.trend import trend
from service.edge.strict_json import StrictRoute
from service.routes.responses import PROBLEMS

router = APIRouter(prefix="/v1", tags=["comparisons"], route_class=StrictRoute)

EXAMPLES: dict[str, Any] = {
    name: {"summary": TREND_TITLES[name], "value": body} for name, body in trend_examples().items()
}


@router.post(
    "/trends",
    operation_id="followRuns",
    summary="Follow a unit over its runs",
    response_model=Trend,
    response_description="Drifts, steps and when a limit is reached.",
    responses=PROBLEMS,
)
async def follow_runs(
    request: Annotated[TrendRequest, Body(openapi_examples=EXAMPLES)],
) -> Response:
    """Three or more dated runs of one unit in: drift of each value in like weather, steps, crossings."""
    return Response(
        orjson.dumps(trend(request)),
        media_type="application/json",
        headers={"Cache-Control": "no-store"},
    )
