"""The reference lists: refrigerants, instruments, limits, cautions, faults."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated

import orjson
from fastapi import APIRouter, Depends, Path, Query, Request, Response
from pydantic import Field

from schemas.catalogues import (
    CautionList,
    FaultList,
    InstrumentList,
    LimitList,
    PlotList,
    RefrigerantAnswer,
    RefrigerantList,
    SaturationTable,
)
from schemas.quantities import UnitSystem
from service.assess import catalogues
from service.checks import catalogue as check_catalogue
from service.edge.deprecations import deprecation_headers
from service.edge.negotiation import chosen
from service.edge.problems import ProblemError, field_problem
from service.edge.strict_json import StrictRoute
from service.faults.catalogue import faults
from service.reference.refrigerants import (
    REFRIGERANTS,
    designation_of,
    near_designations,
    reason_not_carried,
)
from service.render.pictures import plots
from service.render.spreadsheet import of_saturation
from service.routes.forms import JSON_OR_CSV, MEDIA_TYPES, Accept, TableForm, also_csv
from service.routes.links import FROM_PLOTS, FROM_REFRIGERANT, FROM_REFRIGERANTS
from service.routes.responses import LIST_PROBLEMS, NAMED_PROBLEMS, PARAMETER_PROBLEMS

router = APIRouter(prefix="/v1", tags=["reference"], route_class=StrictRoute)

Units = Annotated[UnitSystem, Query(description="Unit system of the answer.", examples=["imperial"])]
Designation = Annotated[
    str,
    Path(description="ASHRAE designation, such as `R-410A`.", examples=["R-410A"], max_length=30),
]


#: First or last temperature of a table.
_TableEnd = Annotated[float, Field(ge=-100, le=200, allow_inf_nan=False)]


def _listed(
    request: Request, body: bytes, media_type: str = "application/json", more: Mapping[str, str] | None = None
) -> Response:
    """A reference answer, which a client may keep and check again by its tag."""
    tag = f'"{hashlib.sha256(body).hexdigest()[:24]}"'
    headers = {"ETag": tag, "Cache-Control": "public, max-age=3600", "Vary": "Accept", **(more or {})}
    if tag in (request.headers.get("if-none-match") or ""):
        return Response(status_code=304, headers=headers)
    return Response(body, media_type=media_type, headers=headers)


def _json(request: Request, answer: Mapping[str, object], deprecated: str | None = None) -> Response:
    """As JSON; ``deprecated`` is the row of what it holds only for older clients."""
    return _listed(request, orjson.dumps(answer), more=deprecation_headers(deprecated) if deprecated else None)


def _known(text: str) -> str:
    designation = designation_of(text)
    if designation is None:
        near = ", ".join(near_designations(text))
        known = reason_not_carried(text)
        raise ProblemError(
            "not-found",
            f"The catalogue has no refrigerant {text[:30]!r}.",
            [
                field_problem(
                    "path/designation",
                    text,
                    "one of " + ", ".join(REFRIGERANTS),
                    f"is not supported: {known}" if known else "is not in the catalogue",
                    f"Did you mean {near}?" if near else "GET /v1/refrigerants lists them all.",
                )
            ],
        )
    return designation


@router.get(
    "/refrigerants",
    operation_id="listRefrigerants",
    summary="All refrigerants",
    response_model=RefrigerantList,
    responses={**PARAMETER_PROBLEMS, **FROM_REFRIGERANTS},
)
async def list_refrigerants(request: Request, units: Units) -> Response:
    """Composition, safety group, critical point and range of every refrigerant."""
    return _json(request, catalogues.refrigerants(units), "refrigerants_key")


@router.get(
    "/refrigerants/{designation}",
    operation_id="getRefrigerant",
    summary="One refrigerant",
    response_model=RefrigerantAnswer,
    responses={**NAMED_PROBLEMS, **FROM_REFRIGERANT},
)
async def get_refrigerant(request: Request, designation: Designation, units: Units) -> Response:
    """Composition, safety group, critical point and range of one refrigerant."""
    row = REFRIGERANTS[_known(designation)]
    return _json(request, catalogues.refrigerant_answer(row, units))


@dataclass(frozen=True)
class TableOptions:
    """Which rows of a pressure-temperature table, where the site is, and in which form."""

    low: Annotated[
        _TableEnd | None,
        Query(
            alias="from",
            description="Coldest row; if left out, the lowest temperature of the curves.",
            examples=[-40],
        ),
    ] = None
    high: Annotated[
        _TableEnd | None,
        Query(
            alias="to",
            description="Hottest row; if left out, the highest temperature of the curves.",
            examples=[150],
        ),
    ] = None
    step: Annotated[
        float,
        Query(ge=0.1, le=50, allow_inf_nan=False, description="Step between rows.", examples=[1]),
    ] = 1.0
    altitude: Annotated[
        float,
        Query(
            ge=-1400,
            le=18000,
            allow_inf_nan=False,
            description="Height of the site above sea level, in ft or m.",
            examples=[980],
        ),
    ] = 0.0
    form: TableForm = None
    accept: Accept = None


@router.get(
    "/refrigerants/{designation}/saturation",
    operation_id="getSaturationTable",
    summary="Pressure-temperature table",
    response_model=SaturationTable,
    responses={**NAMED_PROBLEMS, **also_csv("The table.", "temperature [degF],...")},
)
async def get_saturation_table(
    request: Request,
    designation: Designation,
    units: Units,
    options: Annotated[TableOptions, Depends()],
) -> Response:
    """Bubble and dew pressure, gauge at the site's altitude and absolute, as JSON or CSV."""
    name = _known(designation)
    table = catalogues.saturation_table(name, units, options.low, options.high, options.step, options.altitude)
    if (options.form or chosen(options.accept, JSON_OR_CSV, "json")) == "csv":
        return _listed(request, of_saturation(table).encode(), MEDIA_TYPES["csv"])
    return _json(request, table)


@router.get(
    "/instruments",
    operation_id="listInstruments",
    summary="All instrument types",
    response_model=InstrumentList,
    responses=LIST_PROBLEMS,
)
async def list_instruments(request: Request) -> Response:
    """Instrument types with default accuracies in SI units, each with its source."""
    return _json(request, catalogues.instruments(), "instruments_key")


@router.get(
    "/limits",
    operation_id="listLimits",
    summary="All limits",
    response_model=LimitList,
    responses=LIST_PROBLEMS,
)
async def list_limits(request: Request) -> Response:
    """Every limit that a finding may use, in SI units, with its source."""
    return _json(request, check_catalogue.limits(), "limits_key")


@router.get(
    "/cautions",
    operation_id="listCautions",
    summary="All cautions",
    response_model=CautionList,
    responses=LIST_PROBLEMS,
)
async def list_cautions(request: Request) -> Response:
    """Every caution that an answer may carry, with its trigger and its source."""
    return _json(request, catalogues.cautions(), "cautions_key")


@router.get(
    "/faults",
    operation_id="listFaults",
    summary="All hypotheses of a diagnosis",
    response_model=FaultList,
    responses=LIST_PROBLEMS,
)
async def list_faults(request: Request) -> Response:
    """Every hypothesis: its signature by metering device, its prior, what distinguishes it, its source."""
    return _json(request, faults(), "faults_key")


@router.get(
    "/plots",
    operation_id="listPlots",
    summary="All pictures",
    response_model=PlotList,
    responses={**LIST_PROBLEMS, **FROM_PLOTS},
)
async def list_plots(request: Request) -> Response:
    """Every picture of `POST /v1/plots/{plot}`: what it shows, and for which bodies."""
    return _json(request, plots())
