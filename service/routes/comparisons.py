"""`POST /v1/comparisons`."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Body, Depends, Response

from schemas.comparisons import Comparison, ComparisonRequest, ComparisonVerdicts
from schemas.details import Verdicts
from schemas.examples import COMPARISON_TITLES, comparison_examples
from service.compare.comparison import compare
from service.compare.verdicts import verdicts_of, without_assessments
from service.edge.strict_json import StrictRoute
from service.render.spreadsheet import of_comparison
from service.routes.counting import counted
from service.routes.forms import TableAsked, documented, sent
from service.routes.links import FROM_RUNS, together
from service.routes.responses import PROBLEMS

router = APIRouter(prefix="/v1", tags=["comparisons"], route_class=StrictRoute)

EXAMPLES: dict[str, Any] = {
    name: {"summary": COMPARISON_TITLES[name], "value": body} for name, body in comparison_examples().items()
}


@router.post(
    "/comparisons",
    operation_id="compareRuns",
    summary="Compare two runs",
    response_model=Comparison,
    responses=together(
        PROBLEMS,
        {200: {"description": "What changed, and what it is worth."}},
        documented(ComparisonVerdicts, Verdicts, "quantity,unit,before,after,..."),
        FROM_RUNS,
    ),
)
async def compare_runs(
    request: Annotated[ComparisonRequest, Body(openapi_examples=EXAMPLES)],
    asked: Annotated[TableAsked, Depends()],
) -> Response:
    """Send two runs of one unit; get what changed, as read and under the same conditions, with verdicts and worth.

    A verdict of change requires that one test over all readings and the direction both hold at 95 %;
    `no_material_change` must be shown too. Otherwise the answer is `inconclusive` and says how small a change these
    instruments would have shown.
    """
    answer = counted(request, compare(request))
    deprecated = "payback_band" if answer["worth"]["payback_band"] is not None else None
    return sent(
        asked.kind(), answer, {"verdicts": without_assessments, "grades": verdicts_of}, of_comparison, deprecated
    )
