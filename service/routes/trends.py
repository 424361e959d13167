"""`POST /v1/trends`."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Body, Response

from schemas.examples import TREND_TITLES, trend_examples
from schemas.trends import Trend, TrendRequest
from service.compare.trend import trend
from service.edge.strict_json import StrictRoute
from service.render.spreadsheet import of_trend
from service.routes.counting import counted
from service.routes.forms import Accept, TableForm, also_csv, answered
from service.routes.links import FROM_RUNS, together
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
    responses=together(
        PROBLEMS,
        also_csv("Drifts, steps and when a limit is reached.", "quantity,unit,taken_at,..."),
        FROM_RUNS,
    ),
)
async def follow_runs(
    request: Annotated[TrendRequest, Body(openapi_examples=EXAMPLES)],
    form: TableForm = None,
    accept: Accept = None,
) -> Response:
    """Send three or more dated runs of one unit; get each value's drift under the same conditions, steps, crossings."""
    return answered(counted(request, trend(request)), form, accept, of_trend)
