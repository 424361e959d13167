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

from schemas.batches import BatchAnswerLine, BatchLine
from schemas.examples import answer_example
from schemas.problems import FieldProblem, Problem
from service.batches.warm_up import warm_up
from service.edge import handlers
from service.edge.framework import NO_TELEMETRY_OF_ITS_OWN
from service.edge.keys import HEADER, guarded
from service.edge.limits import BodyLimits
from service.edge.request_ids import RequestIds
from service.edge.settings import Settings
from service.reference.versions import SERVICE_VERSION
from service.routes import (
    assessments,
    batches,
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

#: Docs assets come from a package, so that the pages need no other host.
_ASSETS = Path(fastapi_offline.__file__).parent / "static"

DESCRIPTION = """
Readings of a service visit on a split-system air conditioner or heat pump go in as JSON; derived
values with uncertainty bands, graded findings, cautions, and what is missing come out.

* **Numbers** are given bare, in the unit system that the request declares, or with a unit.
* **Pressures** are gauge unless said otherwise; the site's altitude or air pressure converts.
* **Bands** follow from the instruments of the kit; types bring default accuracies.
* **Grades** are conformity decisions: `conforming`, `nonconforming`, `inconclusive` (the
  instruments cannot decide) or `not_assessed`.
* **Faults** have probabilities; one is named as found only at 0.9 and more.
* **Changes** between two runs are judged in like weather: `improved`, `worsened`,
  `no_material_change` (shown) or `inconclusive` (cannot be told).
* **Errors** are problem details (RFC 9457) that name each field by JSON Pointer.
* Sets of names (derived values, limits, notices) may grow; accept the ones you do not know.

Results are calculations from readings. They never replace local code, the maker's instructions or
licensed practice.
"""

TAGS = [
    {"name": "assessments", "description": "One visit in, a graded assessment out."},
    {"name": "diagnoses", "description": "One visit in, what is most probably wrong out."},
    {
        "name": "comparisons",
        "description": "Two runs or more in, what changed out; and what could be seen.",
    },
    {
        "name": "batches",
        "description": "Many visits or comparisons in, line by line; as many answers out.",
    },
    {"name": "pictures", "description": "The same bodies, drawn; and a page to hand over."},
    {"name": "reference", "description": "The data behind the judgements, with sources."},
    {"name": "operations", "description": "For those who run the service."},
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
        license_info={"name": "No licence chosen yet", "identifier": "LicenseRef-none"},
        openapi_tags=TAGS,
        docs_url=None,
        redoc_url=None,
        lifespan=_lifespan,
        telemetry=NO_TELEMETRY_OF_ITS_OWN,
    )
    app.state.not_ready = lambda: None
    batches.keep(app, settings)
    app.state.maximum_body_bytes = settings.maximum_body_bytes
    app.state.body_limits = BodyLimits(settings.maximum_depth, settings.maximum_draws)
    handlers.install(app)
    app.include_router(assessments.router)
    app.include_router(diagnoses.router)
    app.include_router(comparisons.router)
    app.include_router(plans.router)
    app.include_router(trends.router)
    app.include_router(plots.router)
    app.include_router(reports.router)
    app.include_router(batches.router)
    app.include_router(references.router)
    app.include_router(operations.router)
    app.include_router(pages.router)
    app.mount("/docs/assets", StaticFiles(directory=_ASSETS), name="docs assets")
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
            "ApiKey": {"type": "apiKey", "in": "header", "name": HEADER,
                       "description": "Only where whoever runs the service asks for one."},
        }  # fmt: skip
        schema["security"] = [{}, {"ApiKey": []}]
        components = schema["components"]["schemas"]
        for name in ("HTTPValidationError", "ValidationError"):
            components.pop(name, None)
        for model in (FieldProblem, Problem, BatchLine, BatchAnswerLine):
            built = model.model_json_schema(ref_template="#/components/schemas/{model}")
            for name, part in built.pop("$defs", {}).items():
                components.setdefault(name, part)
            components[model.__name__] = built
        # The framework leaves every null out of an example; an answer never does.
        assessed = schema["paths"]["/v1/assessments"]["post"]["responses"]["200"]["content"]
        assessed["application/json"]["examples"]["cut"]["value"] = answer_example()
        _forbid_null_parameters(schema)
        for path, found in schema["paths"].items():
            if not guarded(path):
                for operation in found.values():
                    operation["security"] = []
        app.openapi_schema = schema
    return app.openapi_schema


def _forbid_null_parameters(schema: dict[str, Any]) -> None:
    """A parameter is given or left out; null is not to be said in an address."""
    for path in schema["paths"].values():
        for operation in path.values():
            for parameter in operation.get("parameters", ()):
                published = parameter["schema"]
                kinds = [one for one in published.get("anyOf", ()) if one != {"type": "null"}]
                if len(kinds) == 1:
                    del published["anyOf"]
                    parameter["schema"] = {**kinds[0], **published}
