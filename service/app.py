"""create_app(): the table of contents; the only file that knows every room."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any

import fastapi_offline
from fastapi import FastAPI
from fastapi.openapi.utils import get_openapi
from fastapi.staticfiles import StaticFiles
from pydantic import TypeAdapter

from schemas.assessments import AssessmentVerdicts
from schemas.batches import BatchAnswerLine, BatchLine
from schemas.comparisons import ComparisonVerdicts
from schemas.details import DiagnosisGrades, Grades, TrendGrades, Verdicts
from schemas.diagnoses import DiagnosisVerdicts
from schemas.examples import answer_example
from schemas.problems import FieldProblem, Problem
from schemas.trends import TrendVerdicts
from service.batches.warm_up import warm_up
from service.edge import handlers
from service.edge.addresses import TrailingSlashes
from service.edge.body_limits import BodyLimits
from service.edge.compression import Compression
from service.edge.framework import NO_TELEMETRY_OF_ITS_OWN
from service.edge.keys import HEADER, guarded
from service.edge.request_ids import RequestIds
from service.edge.samples import add_samples
from service.edge.settings import Settings
from service.reference.versions import SERVICE_VERSION
from service.routes import (
    assessments,
    batches,
    checks,
    comparisons,
    diagnoses,
    operations,
    pages,
    plans,
    plots,
    references,
    reports,
    trends,
)

#: The assets of the docs page come from a package, so that the page needs no other host.
_ASSETS = Path(fastapi_offline.__file__).parent / "static"

#: Forms of answers that only their media types name.
_CUT_DOWN = (
    AssessmentVerdicts,
    ComparisonVerdicts,
    DiagnosisVerdicts,
    TrendVerdicts,
    Grades,
    Verdicts,
    DiagnosisGrades,
    TrendGrades,
)

DESCRIPTION = """
Send the readings of a service visit on a split-system air conditioner or heat pump as JSON; get derived values
with uncertainty bands, graded findings, cautions, and what is missing.

* **Numbers** are bare, in the unit system that the request declares, or have a unit of their own.
* **Pressures** are gauge unless stated otherwise; the site's altitude or air pressure converts them.
* **Bands** follow from the instruments of the kit; each type has a default accuracy.
* **Grades** are conformity decisions: `conforming`, `nonconforming`, `inconclusive` (the
  instruments cannot decide) or `not_assessed`.
* **Faults** have probabilities; one is named as found only from 0.9 up.
* **Changes** between two runs are judged under the same conditions: `improved`, `worsened`,
  `no_material_change` (shown) or `inconclusive` (the instruments cannot tell).
* **Errors** are problem details (RFC 9457) that name each field by JSON Pointer.
* **Size**: a body may be compressed (`Content-Encoding: gzip` or `zstd`), and so may an answer
  (`Accept-Encoding`); `detail` says how much of an answer is given.
* Sets of names (derived values, limits, notices) may grow; accept names that you do not know.

Results are calculations from readings. They never replace local code, the maker's instructions or
licensed practice.
"""

TAGS = [
    {"name": "assessments", "description": "Assess one visit."},
    {"name": "diagnoses", "description": "Find what is probably wrong."},
    {
        "name": "comparisons",
        "description": "Find what changed between two runs or more, and plan what readings can show.",
    },
    {
        "name": "checks",
        "description": "Tests with the unit off, and other work that is arithmetic with uncertainty: pressure, vacuum, "
        "leaks.",
    },
    {
        "name": "batches",
        "description": "Answer many visits, comparisons or checks, line by line.",
    },
    {"name": "pictures", "description": "Draw the same bodies, or write a page to hand over."},
    {"name": "reference", "description": "Look up the data behind the judgments, with sources."},
    {"name": "operations", "description": "For operators."},
]


def create_app(settings: Settings | None = None) -> FastAPI:
    """The application, tables loaded."""
    settings = settings or Settings()
    warm_up()
    app = FastAPI(
        title="Split-system readings",
        version=SERVICE_VERSION,
        summary="Service readings in, graded findings with uncertainty bands out",
        description=DESCRIPTION,
        license_info={"name": "No licence has been chosen yet"},  # with an identifier it would be shown as a link
        openapi_tags=TAGS,
        docs_url=None,
        redoc_url=None,
        redirect_slashes=False,
        lifespan=_lifespan,
        telemetry=NO_TELEMETRY_OF_ITS_OWN,
    )
    app.state.not_ready = lambda: None
    operations.keep(app, settings)
    batches.keep(app, settings)
    app.state.maximum_body_bytes = settings.maximum_body_bytes
    app.state.body_limits = BodyLimits(settings.maximum_depth, settings.maximum_draws)
    handlers.install(app)
    app.include_router(assessments.router)
    app.include_router(diagnoses.router)
    app.include_router(comparisons.router)
    app.include_router(plans.router)
    app.include_router(trends.router)
    app.include_router(checks.router)
    app.include_router(plots.router)
    app.include_router(reports.router)
    app.include_router(batches.router)
    app.include_router(references.router)
    app.include_router(operations.router)
    app.include_router(pages.router)
    app.mount("/docs/assets", StaticFiles(directory=_ASSETS), name="docs assets")
    app.add_middleware(Compression)
    app.add_middleware(TrailingSlashes)
    app.add_middleware(RequestIds)
    app.openapi = lambda: _openapi(app)  # type: ignore[method-assign]
    return app


@asynccontextmanager
async def _lifespan(app: FastAPI) -> AsyncIterator[None]:
    yield
    await asyncio.to_thread(app.state.workers.close)


def _openapi(app: FastAPI) -> dict[str, Any]:
    if app.openapi_schema is None:
        schema = get_openapi(
            title=app.title,
            version=app.version,
            openapi_version="3.1.0",
            summary=app.summary,
            description=app.description,
            routes=app.routes,
            tags=app.openapi_tags,
            license_info=app.license_info,
            servers=[{"url": "/", "description": "The service that serves this document."}],
        )
        schema["components"]["securitySchemes"] = {
            "ApiKey": {
                "type": "apiKey",
                "in": "header",
                "name": HEADER,
                "description": "Needed only if the operator requires a key.",
            },
        }
        schema["security"] = [{}, {"ApiKey": []}]
        components = schema["components"]["schemas"]
        for name in ("HTTPValidationError", "ValidationError"):
            components.pop(name, None)
        for model in (FieldProblem, Problem, BatchLine, BatchAnswerLine, *_CUT_DOWN):
            built = TypeAdapter[Any](model).json_schema(ref_template="#/components/schemas/{model}")
            for name, part in built.pop("$defs", {}).items():
                components.setdefault(name, part)
            components[model.__name__] = built
        # The framework drops every null from an example; an answer never does.
        assessed = schema["paths"]["/v1/assessments"]["post"]["responses"]["200"]["content"]
        assessed["application/json"]["examples"]["cut"]["value"] = answer_example()
        add_samples(schema)
        _forbid_null_parameters(schema)
        for path, found in schema["paths"].items():
            if not guarded(path):
                for operation in found.values():
                    operation["security"] = []
        app.openapi_schema = schema
    return app.openapi_schema


def _forbid_null_parameters(schema: dict[str, Any]) -> None:
    """Publish that a parameter may be left out but not null, which no address can express."""
    for path in schema["paths"].values():
        for operation in path.values():
            for parameter in operation.get("parameters", ()):
                published = parameter["schema"]
                kinds = [one for one in published.get("anyOf", ()) if one != {"type": "null"}]
                if len(kinds) == 1:
                    del published["anyOf"]
                    parameter["schema"] = {**kinds[0], **published}
