"""`POST /v1/checks/{check}`: one operation a check, each with a body of its own, made from the table of checks."""

from __future__ import annotations

from collections.abc import Callable, Coroutine
from typing import Annotated, Any

from fastapi import APIRouter, Body, Response

from schemas.checks import CheckAnswer, CheckRequest
from schemas.examples import CHECK_TITLES, check_examples
from service.checks.registry import CHECKS, Check
from service.edge.negotiation import chosen
from service.edge.strict_json import StrictRoute
from service.render.spreadsheet import of_assessment
from service.routes.counting import counted_check
from service.routes.forms import JSON_OR_CSV, Accept, TableForm, also_csv, sent
from service.routes.links import together
from service.routes.responses import PROBLEMS

router = APIRouter(prefix="/v1", tags=["checks"], route_class=StrictRoute)

_Endpoint = Callable[..., Coroutine[Any, Any, Response]]


def examples_of(check: str) -> dict[str, Any]:
    """The examples of a check as the docs show them."""
    titles = CHECK_TITLES[check]
    return {name: {"summary": titles[name], "value": body} for name, body in check_examples(check).items()}


def _endpoint(row: Check) -> _Endpoint:
    async def answer_check(
        request: CheckRequest,
        form: TableForm = None,
        accept: Accept = None,
    ) -> Response:
        found = counted_check(request, row.answer(request))
        asked = form or chosen(accept, JSON_OR_CSV, "json")
        return sent("csv" if asked == "csv" else "full", found, {}, of_assessment)

    # The body of each check is known here only, so its annotation is set rather than written.
    answer_check.__annotations__["request"] = Annotated[row.body, Body(openapi_examples=examples_of(row.name))]
    return answer_check


for _row in CHECKS.values():
    router.add_api_route(
        f"/checks/{_row.name}",
        _endpoint(_row),
        methods=["POST"],
        operation_id=_row.operation,
        summary=_row.summary,
        description=_row.description,
        response_model=CheckAnswer,
        responses=together(
            PROBLEMS, also_csv("Derived values, each with its most pressing finding.", "quantity,value,unit,...")
        ),
    )
