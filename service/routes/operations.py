"""Health, and pages about problems."""

from __future__ import annotations

from fastapi import APIRouter

from schemas.catalogues import Health
from service.edge.problems import PROBLEM_TYPES, ProblemError
from service.reference.versions import SERVICE_VERSION
from service.routes.responses import PLAIN_PROBLEMS

router = APIRouter(tags=["operations"])


@router.get(
    "/health/live",
    operation_id="healthLive",
    summary="Is the process alive?",
    responses=PLAIN_PROBLEMS,
)
async def live() -> Health:
    """Answers whenever the process does."""
    return Health(status="live", version=SERVICE_VERSION)


@router.get(
    "/health/ready",
    operation_id="healthReady",
    summary="Can it take requests?",
    responses=PLAIN_PROBLEMS,
)
async def ready() -> Health:
    """Answers once the tables are loaded, which is before the port opens."""
    return Health(status="ready", version=SERVICE_VERSION)


@router.get("/problems/{name}", include_in_schema=False)
async def problem_page(name: str) -> dict[str, str | int]:
    """What one type of problem means."""
    row = PROBLEM_TYPES.get(name)
    if row is None:
        raise ProblemError(404, "not-found", "No such type of problem.")
    return {
        "type": f"/problems/{name}",
        "title": row.title,
        "status": row.status,
        "meaning": row.meaning,
    }
