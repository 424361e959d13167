"""Health, and pages about problems."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime, timedelta

from fastapi import APIRouter, FastAPI, Request, Response

from schemas.catalogues import Health
from service.edge.deprecations import ADDRESS, DEPRECATIONS
from service.edge.problems import PROBLEM_TYPES, RETRY_AFTER, ProblemError, field_problem
from service.edge.settings import Settings
from service.reference.versions import SERVICE_VERSION
from service.routes.responses import PLAIN_PROBLEMS, PROBLEMS

STOPPING, NO_PROCESS = "stopping", "no_process"
#: Why the service is not ready, in words.
NOT_READY: Mapping[str, str] = {
    STOPPING: "The service is stopping.",
    NO_PROCESS: "No computing process is available; new ones are starting.",
}

router = APIRouter(tags=["operations"])

#: RFC 9116, 2.5.5: less than a year. A service is started again more often.
_SECURITY_DAYS = 180


def keep(app: FastAPI, settings: Settings) -> None:
    """Give an application the state that these pages need."""
    expires = datetime.now(UTC).replace(microsecond=0) + timedelta(days=_SECURITY_DAYS)
    lines = [f"Contact: {one}" for one in settings.security_contact.split(",") if one]
    app.state.security = "\n".join((*lines, f"Expires: {expires.isoformat()}", "")) if lines else None


@router.get("/.well-known/security.txt", include_in_schema=False)
async def security(request: Request) -> Response:
    """Where to report a vulnerability (RFC 9116), if the operator has said so."""
    text: str | None = request.app.state.security
    if text is None:
        raise ProblemError("not-found", "The operator has not said where to report a vulnerability.")
    return Response(text, media_type="text/plain; charset=utf-8")


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
    summary="Can it accept requests?",
    responses=PLAIN_PROBLEMS | {503: PROBLEMS[503]},
)
async def ready(request: Request) -> Health:
    """Ready once the tables are loaded, which is before the port opens, until a stop signal."""
    reason: str | None = request.app.state.not_ready()
    if reason is not None:
        raise ProblemError(
            "stopping" if reason == STOPPING else "overloaded",
            NOT_READY[reason],
            [
                field_problem(
                    "", None, "a service that is ready", "is not ready", "Ask another instance, or try again later."
                )
            ],
            RETRY_AFTER,
        )
    return Health(status="ready", version=SERVICE_VERSION)


@router.get(ADDRESS, include_in_schema=False)
async def deprecations() -> dict[str, list[dict[str, str]]]:
    """What the next major version will not have, and what to use in its place."""
    return {
        "rows": [
            {"what": row.what, "instead": row.instead, "since": row.since.isoformat()} for row in DEPRECATIONS.values()
        ]
    }


@router.get("/problems/{name}", include_in_schema=False)
async def problem_page(name: str) -> dict[str, str | int]:
    """What one type of problem means, and what to do."""
    row = PROBLEM_TYPES.get(name)
    if row is None:
        raise ProblemError("not-found", f"There is no type of problem {name[:40]!r}.")
    return {
        "type": f"/problems/{name}",
        "title": row.title,
        "status": row.status,
        "meaning": row.meaning,
        "action": row.action,
    }
