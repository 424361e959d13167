"""Answers for operations that the contract names and the service does not give yet.

Used only while the service's own description lacks ``/v1/reports``; goes with its arrival.
"""

from __future__ import annotations

import json
import urllib.request
from functools import cache

from playwright.sync_api import Page, Route

_REPORT = """<!doctype html><html lang="en"><head><meta charset="utf-8"><title>Report</title>
<style>:root{color-scheme:light dark}body{font:1rem/1.5 sans-serif;min-height:60rem}</style></head>
<body><h1>Report</h1></body></html>"""
_PICTURE = """<svg xmlns="http://www.w3.org/2000/svg" class="picture" viewBox="0 0 480 200" width="480"
height="200"><title>A picture</title><desc>What it shows.</desc><path d="M0 0L480 200"/></svg>"""
_PROBLEM = {
    "type": "/problems/cannot-be-assessed",
    "title": "Request cannot be assessed as given",
    "status": 422,
    "detail": "1 field was refused.",
    "errors": [
        {
            "pointer": "/run/readings",
            "value": None,
            "allowed": "states of return and supply air",
            "detail": "lacks the state of the air",
            "hint": "Add the wet bulb of the return air.",
        }
    ],
}


@cache
def _writes_reports(base: str) -> bool:
    with urllib.request.urlopen(f"{base}/openapi.json", timeout=60) as response:
        return "/v1/reports" in json.load(response)["paths"]


def stand_in(page: Page, base: str) -> None:
    """Answer in the service's place where it cannot yet."""
    if _writes_reports(base):
        return

    def draw(route: Route) -> None:
        if "/limits" in route.request.url:
            route.fallback()
        elif "/air_process" in route.request.url and "wet_bulb" not in (
            route.request.post_data or ""
        ):
            route.fulfill(
                status=422, content_type="application/problem+json", body=json.dumps(_PROBLEM)
            )
        else:
            route.fulfill(content_type="image/svg+xml", body=_PICTURE)

    page.route("**/v1/plots/*", draw)
    page.route("**/v1/reports*", lambda r: r.fulfill(content_type="text/html", body=_REPORT))
