"""`POST /v1/trends`."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Body, Depends, Response

from schemas.details import TrendGrades
from schemas.examples import TREND_TITLES, trend_examples
from schemas.trends import Trend, TrendRequest, TrendVerdicts
from service.compare.trend import trend
from service.compare.verdicts import drifts_of, grades_of_trend
from service.edge.strict_json import StrictRoute
from service.render.spreadsheet import of_trend
from service.routes.counting import counted
from service.routes.forms import TableAsked, documented, sent
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
        {200: {"description": "Drifts, steps and when a limit is reached."}},
        documented(TrendVerdicts, TrendGrades, "quantity,unit,taken_at,..."),
        FROM_RUNS,
    ),
)
async def follow_runs(
    request: Annotated[TrendRequest, Body(openapi_examples=EXAMPLES)],
    asked: Annotated[TableAsked, Depends()],
) -> Response:
    """Send three or more dated runs of one unit; get each value's drift under the same conditions, steps, crossings."""
    answer = counted(request, trend(request))
    crosses = any(row["crossing"] is not None for row in answer["quantities"].values())
    deprecated = "crossing_dates" if crosses else None
    return sent(asked.kind(), answer, {"verdicts": drifts_of, "grades": grades_of_trend}, of_trend, deprecated)
