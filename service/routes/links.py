"""Where an answer leads: OpenAPI links, which the docs page shows and tests follow."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

Responses = dict[int | str, dict[str, Any]]


def _links(**links: Mapping[str, Any]) -> Responses:
    return {200: {"links": links}}


def _link(operation: str, description: str, parameters: Mapping[str, str] | None = None, **rest: str) -> dict[str, Any]:
    return {
        "operationId": operation,
        "description": description,
        **({"parameters": parameters} if parameters else {}),
        **rest,
    }


def _same_body(operation: str, description: str) -> dict[str, Any]:
    return _link(operation, description, requestBody="$request.body")


_REPORT = _same_body("writeReport", "The same body as a page to hand over.")
_UNITS = {"units": "$request.query.units"}
_LISTED = {"designation": "$response.body#/rows/0/designation", **_UNITS}

FROM_VISIT = _links(report=_REPORT)
FROM_ASSESSMENT = _links(report=_REPORT, diagnosis=_same_body("diagnoseVisit", "The same visit, diagnosed."))
FROM_RUNS = _links(report=_REPORT)
FROM_REFRIGERANTS = _links(
    refrigerant=_link("getRefrigerant", "One of the list.", _LISTED),
    saturation=_link("getSaturationTable", "The table of one of the list.", _LISTED),
)
FROM_REFRIGERANT = _links(
    saturation=_link(
        "getSaturationTable",
        "Its table.",
        {"designation": "$response.body#/designation", **_UNITS},
    )
)
FROM_PLOTS = _links(plot=_link("drawPlot", "One of the list.", {"plot": "$response.body#/rows/0/plot"}))


def together(*parts: Mapping[int | str, Mapping[str, Any]]) -> Responses:
    """Documented responses of an operation, merged by status."""
    merged: Responses = {}
    for part in parts:
        for status, response in part.items():
            merged[status] = {**merged.get(status, {}), **response}
    return merged
