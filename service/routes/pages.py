"""Pages for people: the root page and the API docs, served without any other host."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from functools import cache
from html import escape
from importlib.resources import files
from typing import Any

from fastapi import APIRouter, Request
from fastapi.openapi.docs import get_swagger_ui_html
from fastapi.responses import HTMLResponse

from schemas.examples import (
    TITLES,
    comparison_examples,
    diagnosis_examples,
    examples,
    plan_examples,
    trend_examples,
)
from service.edge.problems import ProblemError
from service.reference.versions import SERVICE_VERSION

router = APIRouter(include_in_schema=False)

_POLICY = (
    "default-src 'self'; img-src 'self' data:; style-src 'self' 'unsafe-inline'; "
    "script-src 'self' 'unsafe-inline'; base-uri 'none'; frame-ancestors 'none'; form-action 'self'"
)
_HEADERS = {"Content-Security-Policy": _POLICY, "X-Frame-Options": "DENY"}


@router.get("/docs")
async def docs(request: Request) -> HTMLResponse:
    """The API docs, ready to send an example."""
    page = get_swagger_ui_html(
        openapi_url="/openapi.json",
        title="Split-system readings: API docs",
        swagger_js_url="/docs/assets/swagger-ui-bundle.js",
        swagger_css_url="/docs/assets/swagger-ui.css",
        swagger_favicon_url="/docs/assets/favicon.png",
        swagger_ui_parameters={
            "tryItOutEnabled": True,
            "defaultModelsExpandDepth": 0,
            "displayRequestDuration": True,
        },
    )
    page.headers.update(_HEADERS)
    return page


@cache
def _root() -> str:
    template = files(__package__).joinpath("root.html").read_text("utf-8")
    options = "".join(
        f'<option value="{name}">{escape(title)}</option>' for name, title in TITLES.items()
    )
    # Inside a script element only "</" could end it early.
    bodies = json.dumps(dict(examples()), ensure_ascii=False).replace("</", "<\\/")
    return (
        template.replace("{{version}}", escape(SERVICE_VERSION))
        .replace("{{options}}", options)
        .replace("{{examples}}", bodies)
    )


@router.get("/")
async def root() -> HTMLResponse:
    """What this is, with links and an example to send."""
    return HTMLResponse(_root(), headers=_HEADERS)


@router.get("/examples/{name}.json")
async def example(name: str) -> dict[str, object]:
    """One example body, as a file to fetch."""
    if name not in TITLES:
        raise ProblemError(404, "not-found", f"No example {name[:40]!r}.")
    return dict(examples()[name])


_KINDS: Mapping[str, Callable[[], Mapping[str, Any]]] = {
    "comparisons": comparison_examples,
    "diagnoses": diagnosis_examples,
    "plans": plan_examples,
    "trends": trend_examples,
}


@router.get("/examples/{kind}/{name}.json")
async def example_of_kind(kind: str, name: str) -> dict[str, object]:
    """One example body of a comparison, a diagnosis, a plan or a series."""
    bodies = _KINDS[kind]() if kind in _KINDS else {}
    if name not in bodies:
        raise ProblemError(404, "not-found", f"No example {kind[:20]}/{name[:40]!r}.")
    return dict(bodies[name])
