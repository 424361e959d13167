"""Pages for people: the root page and the API docs, which need no other host."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from functools import cache
from html import escape
from importlib.resources import files
from typing import Any

from fastapi import APIRouter, Request, Response
from fastapi.openapi.docs import get_swagger_ui_html
from fastapi.responses import HTMLResponse

from schemas.examples import (
    BATCH_TITLES,
    COMPARISON_TITLES,
    DIAGNOSIS_TITLES,
    PLAN_TITLES,
    TITLES,
    TREND_TITLES,
    batch_examples,
    comparison_examples,
    diagnosis_examples,
    examples,
    plan_examples,
    trend_examples,
)
from service.edge.problems import ProblemError
from service.reference.versions import SERVICE_VERSION

router = APIRouter(include_in_schema=False)

#: The docs page is generated elsewhere and contains a script.
_DOCS_POLICY = (
    "default-src 'self'; img-src 'self' data:; style-src 'self' 'unsafe-inline'; "
    "script-src 'self' 'unsafe-inline'; base-uri 'none'; frame-ancestors 'none'; form-action 'self'"
)
#: The root page runs only its own script file.  Inline styles are allowed because a report, which the page shows in
#: a frame, inherits this policy and carries its own style.
_ROOT_POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self' 'unsafe-inline'; "
    "img-src 'self' data: blob:; connect-src 'self'; base-uri 'none'; frame-ancestors 'none'; "
    "form-action 'none'"
)
#: A file of the root page opened on its own may do nothing.
_FILE_POLICY = "default-src 'none'"


def _headers(policy: str) -> dict[str, str]:
    return {"Content-Security-Policy": policy, "X-Frame-Options": "DENY"}


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
    page.headers.update(_headers(_DOCS_POLICY))
    return page


#: Groups of the list of examples: label, folder at their address, titles, bodies.
_GROUPS: tuple[tuple[str, str, Mapping[str, str], Callable[[], Mapping[str, Any]]], ...] = (
    ("Assess one visit", "", TITLES, examples),
    ("Diagnose one visit", "diagnoses/", DIAGNOSIS_TITLES, diagnosis_examples),
    ("Compare before and after", "comparisons/", COMPARISON_TITLES, comparison_examples),
    ("Plan the readings", "plans/", PLAN_TITLES, plan_examples),
    ("Follow over time", "trends/", TREND_TITLES, trend_examples),
)


def _text(name: str) -> str:
    return files(__package__).joinpath(name).read_text("utf-8")


@cache
def _root() -> str:
    options = "\n".join(
        f'<optgroup label="{escape(label)}">'
        + "".join(f'<option value="{folder}{name}">{escape(title)}</option>' for name, title in titles.items())
        + "</optgroup>"
        for label, folder, titles, _ in _GROUPS
    )
    return _text("root.html").replace("{{version}}", escape(SERVICE_VERSION)).replace("{{options}}", options)


@router.get("/")
async def root() -> HTMLResponse:
    """The root page: what this is, with links and an example to send."""
    return HTMLResponse(_root(), headers=_headers(_ROOT_POLICY))


#: Files of the root page and their media types.
_FILES: Mapping[str, str] = {"root.css": "text/css", "root.js": "text/javascript"}


@router.get("/page/{name}")
async def page_file(name: str) -> Response:
    """A file of the root page, requested again each time so that page and script match."""
    if name not in _FILES:
        raise ProblemError("not-found", f"There is no file {name[:40]!r}.")
    return Response(
        _text(name),
        media_type=_FILES[name],
        headers={"Cache-Control": "no-cache", **_headers(_FILE_POLICY)},
    )


def _readable(body: Mapping[str, Any]) -> Response:
    """An example as a person would write it; the root page shows it unchanged."""
    return Response(json.dumps(body, indent=2, ensure_ascii=False), media_type="application/json")


@router.get("/examples")
async def example_index() -> dict[str, list[dict[str, str]]]:
    """Every example: its address and what it shows."""
    return {
        "examples": [
            {"address": f"/examples/{folder}{name}.json", "group": label, "title": title}
            for label, folder, titles, _ in _GROUPS
            for name, title in titles.items()
        ]
        + [
            {"address": f"/examples/batches/{name}.ndjson", "group": "Answer many", "title": title}
            for name, title in BATCH_TITLES.items()
        ]
    }


@router.get("/examples/batches/{name}.ndjson")
async def example_batch(name: str) -> Response:
    """One example batch, as a file to fetch."""
    if name not in BATCH_TITLES:
        raise ProblemError("not-found", f"There is no example batches/{name[:40]!r}.")
    return Response(batch_examples()[name], media_type="application/x-ndjson")


@router.get("/examples/{name}.json")
async def example(name: str) -> Response:
    """One example body, as a file to fetch."""
    if name not in TITLES:
        raise ProblemError("not-found", f"There is no example {name[:40]!r}.")
    return _readable(examples()[name])


@router.get("/examples/{kind}/{name}.json")
async def example_of_kind(kind: str, name: str) -> Response:
    """One example body of a comparison, a diagnosis, a plan or a series."""
    bodies = next((load() for _, folder, _, load in _GROUPS if folder == f"{kind}/"), {})
    if name not in bodies:
        raise ProblemError("not-found", f"There is no example {kind[:20]}/{name[:40]!r}.")
    return _readable(bodies[name])
