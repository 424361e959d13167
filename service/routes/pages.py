"""Pages for people: the worksheet, the JSON page, lists to read, and the API docs.  None needs another host."""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Callable, Mapping
from functools import cache
from html import escape
from importlib.resources import files
from typing import Annotated, Any

import orjson
from fastapi import APIRouter, Query, Request, Response
from fastapi.openapi.docs import get_swagger_ui_html
from fastapi.responses import HTMLResponse

from schemas.examples import (
    BATCH_TITLES,
    CHECK_TITLES,
    COMPARISON_TITLES,
    DIAGNOSIS_TITLES,
    PLAN_TITLES,
    TITLES,
    TREND_TITLES,
    batch_examples,
    check_examples,
    comparison_examples,
    diagnosis_examples,
    examples,
    plan_examples,
    trend_examples,
)
from schemas.quantities import UnitSystem
from service.edge.problems import ProblemError
from service.reference.versions import SERVICE_VERSION
from service.routes import lists, worksheet

router = APIRouter(include_in_schema=False)

Units = Annotated[UnitSystem, Query()]
Altitude = Annotated[float, Query(ge=-1400, le=18000, allow_inf_nan=False)]

#: The docs page is generated elsewhere and contains a script.
_DOCS_POLICY = (
    "default-src 'self'; img-src 'self' data:; style-src 'self' 'unsafe-inline'; "
    "script-src 'self' 'unsafe-inline'; base-uri 'none'; frame-ancestors 'none'; form-action 'self'"
)
#: The worksheet and the JSON page run only their own scripts.  Inline styles are allowed because a report, which
#: they show in a frame, inherits this policy and carries its own style.
_PAGE_POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self' 'unsafe-inline'; "
    "img-src 'self' data: blob:; connect-src 'self'; worker-src 'self'; base-uri 'none'; frame-ancestors 'none'; "
    "form-action 'none'"
)
#: A list to read runs no script.
_LIST_POLICY = (
    "default-src 'none'; style-src 'self'; img-src data:; base-uri 'none'; frame-ancestors 'none'; form-action 'self'"
)
#: A file of a page opened on its own may do nothing; the worker that keeps the worksheet for later fetches its files.
_FILE_POLICY = "default-src 'none'"
_WORKER_POLICY = "default-src 'none'; connect-src 'self'"


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


_FOLDER = files(__package__) / "page"
#: Endings of the files of the pages, and their media types.
_TYPES: Mapping[str, str] = {"css": "text/css", "js": "text/javascript"}
#: What the worksheet loads; the JSON page has a style and a script of its own besides.
_OF_JSON = ("json.css", "json.js")
_WORKER = "worker.js"
_NAVIGATION = """<nav aria-label="Pages">
<ul>
<li><a href="/">Worksheet</a></li>
<li><a href="/refrigerants">Refrigerants</a></li>
<li><a href="/instruments">Instruments</a></li>
<li><a href="/limits">Limits</a></li>
<li><a href="/faults">Faults</a></li>
<li><a href="/cautions">Cautions</a></li>
<li><a href="/json">JSON</a></li>
<li><a href="/docs">API docs</a></li>
</ul>
</nav>"""


def _text(name: str) -> str:
    return _FOLDER.joinpath(name).read_text("utf-8")


@cache
def _page_files() -> Mapping[str, bytes]:
    """Styles and scripts by name."""
    found = {one.name: one for one in _FOLDER.iterdir()}
    return {name: _light(name).encode() for name in sorted(found) if name.rpartition(".")[2] in _TYPES}


#: Whole lines of a script that are comments or blank, and the indentation of the rest.
_COMMENTS = re.compile(r"^[ \t]*(?://[^\n]*|/\*\*.*?\*/[ \t]*)?\n", re.MULTILINE | re.DOTALL)
_INDENTATION = re.compile(r"^[ \t]+", re.MULTILINE)


def _light(name: str) -> str:
    """A file as it is sent: a script without comment lines and indentation, a tenth of what a phone would load."""
    text = _text(name)
    return _INDENTATION.sub("", _COMMENTS.sub("", text)) if name.endswith(".js") else text


@cache
def _worksheet_files() -> tuple[str, ...]:
    """Addresses of what the worksheet loads beside the page itself."""
    return tuple(f"/page/{name}" for name in _page_files() if name not in (*_OF_JSON, _WORKER))


@cache
def _html(name: str) -> str:
    options = "\n".join(
        f'<optgroup label="{escape(label)}">'
        + "".join(f'<option value="{folder}{name}">{escape(title)}</option>' for name, title in titles.items())
        + "</optgroup>"
        for label, folder, titles, _ in _GROUPS
    )
    # Every module is asked for at once, not one after the other as each names the next.
    modules = "\n".join(f'<link rel="modulepreload" href="{one}">' for one in _worksheet_files() if one.endswith(".js"))
    words = {"version": escape(SERVICE_VERSION), "options": options, "modules": modules, "navigation": _NAVIGATION}
    text = _text(name)
    for word, value in words.items():
        text = text.replace(f"{{{{{word}}}}}", value)
    return text


@router.get("/")
async def worksheet_page() -> HTMLResponse:
    """The worksheet: a form for the readings of a visit, and what they show."""
    return HTMLResponse(_html("worksheet.html"), headers=_headers(_PAGE_POLICY))


@router.get("/json")
async def json_page() -> HTMLResponse:
    """The same for requests as JSON, with an example to send."""
    return HTMLResponse(_html("json.html"), headers=_headers(_PAGE_POLICY))


def _kept(request: Request, body: bytes, media_type: str, headers: Mapping[str, str]) -> Response:
    """A file that the browser asks about again each time, so that the files of a page match."""
    tag = f'"{hashlib.sha256(body).hexdigest()[:24]}"'
    all_headers = {"Cache-Control": "no-cache", "ETag": tag, **headers}
    if tag in (request.headers.get("if-none-match") or ""):
        return Response(status_code=304, headers=all_headers)
    return Response(body, media_type=media_type, headers=all_headers)


@router.get("/page/fields.json")
async def page_fields(request: Request) -> Response:
    """What the worksheet asks for, made from the contract."""
    return _kept(request, worksheet.description(), "application/json", _headers(_FILE_POLICY))


@router.get("/page/files.json")
async def page_list(request: Request) -> Response:
    """What the worksheet loads, for the worker that keeps it for when there is no signal."""
    return _kept(request, orjson.dumps(_worksheet_files()), "application/json", _headers(_FILE_POLICY))


@router.get("/page/{name}")
async def page_file(request: Request, name: str) -> Response:
    """A style or script of a page."""
    found = _page_files().get(name)
    if found is None:
        raise ProblemError("not-found", f"There is no file {name[:40]!r}.")
    headers = _headers(_WORKER_POLICY if name == _WORKER else _FILE_POLICY)
    if name == _WORKER:
        headers["Service-Worker-Allowed"] = "/"
    return _kept(request, found, _TYPES[name.rpartition(".")[2]], headers)


def _add_list(name: str) -> None:
    """A list of the service as a page to read."""

    async def list_page(units: Units = "imperial") -> HTMLResponse:
        return HTMLResponse(lists.page(name, units, _NAVIGATION), headers=_headers(_LIST_POLICY))

    router.add_api_route(f"/{name}", list_page, methods=["GET"], name=f"{name} to read")


for _name in lists.NAMES:
    _add_list(_name)


@router.get("/refrigerants/{designation}")
async def table_page(designation: str, units: Units = "imperial", altitude: Altitude = 0.0) -> HTMLResponse:
    """The pressure-temperature table of a refrigerant."""
    found = lists.table(designation, units, altitude, _NAVIGATION)
    if found is None:
        raise ProblemError("not-found", f"The catalogue has no refrigerant {designation[:30]!r}.")
    return HTMLResponse(found, headers=_headers(_LIST_POLICY))


def _readable(body: Mapping[str, Any]) -> Response:
    """An example as a person would write it; the JSON page shows it unchanged."""
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
            {"address": f"/examples/checks/{check}/{name}.json", "group": "Check with the unit off", "title": title}
            for check, titles in CHECK_TITLES.items()
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


@router.get("/examples/checks/{check}/{name}.json")
async def example_of_check(check: str, name: str) -> Response:
    """One example body of a check, as a file to fetch."""
    if name not in CHECK_TITLES.get(check, {}):
        raise ProblemError("not-found", f"There is no example checks/{check[:20]}/{name[:40]!r}.")
    return _readable(check_examples(check)[name])


@router.get("/examples/{kind}/{name}.json")
async def example_of_kind(kind: str, name: str) -> Response:
    """One example body of a comparison, a diagnosis, a plan or a series."""
    bodies = next((load() for _, folder, _, load in _GROUPS if folder == f"{kind}/"), {})
    if name not in bodies:
        raise ProblemError("not-found", f"There is no example {kind[:20]}/{name[:40]!r}.")
    return _readable(bodies[name])
