"""`POST /v1/checks/leak-rate`: refrigerant added over time, as an annual rate."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from schemas.assessments import number
from schemas.checks.common import CheckedUnit, CheckRequest
from schemas.quantities import Mass, MassReading, Model, Number, StrictText, quantity

#: Additions of a record.
MOST_ADDITIONS = 24


class LeakingUnit(CheckedUnit):
    """The unit and its full charge."""

    refrigerant: StrictText | None = Field(
        default=None,
        min_length=1,
        max_length=30,
        description="ASHRAE designation, see `GET /v1/refrigerants`. With it the answer also gives the loss as CO2 "
        "equivalent.",
        examples=["R-410A"],
    )
    full_charge: quantity(Mass) = Field(  # type: ignore[valid-type]
        description="Full charge of the circuit, from the nameplate and the line set.",
        examples=[8.5],
        json_schema_extra={"x-unit": "lb"},
    )
    full_charge_uncertainty_percent: Number | None = number(
        0,
        25,
        "%",
        5.0,
        "How well the full charge is known, as a standard uncertainty. Default: 5 %, and the answer says so.",
    )


class Addition(Model):
    """Refrigerant added once."""

    mass: quantity(MassReading) = Field(  # type: ignore[valid-type]
        description="Mass added, as weighed.", examples=[2.0], json_schema_extra={"x-unit": "lb"}
    )
    days_ago: Annotated[
        Number,
        Field(
            ge=0,
            le=36500,
            description="Days before the last addition; 0 for the last one.",
            examples=[0],
            json_schema_extra={"x-unit": "d"},
        ),
    ]


class LeakRateRequest(CheckRequest):
    """Refrigerant added over time, as an annual leak rate by both published methods."""

    unit: LeakingUnit = Field(
        description="The unit: its full charge, and its refrigerant.",
        examples=[{"refrigerant": "R-410A", "full_charge": 8.5}],
    )
    additions: list[Addition] = Field(
        min_length=1,
        max_length=MOST_ADDITIONS,
        description="Refrigerant added, the last addition first (`days_ago` 0).",
        examples=[[{"mass": 2.0, "days_ago": 0}]],
    )
    days_since_previous_addition: Number | None = number(
        1,
        36500,
        "d",
        90.0,
        "Days between the last addition and the one before it, or since the circuit was last known to be full. "
        "Default: from `additions` if there are two or more.",
    )
    days_since_repair: Number | None = number(
        1,
        36500,
        "d",
        200.0,
        "Days since the last successful repair. The rolling method counts additions since then if it is less than a "
        "year ago.",
    )
