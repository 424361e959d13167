"""`POST /v1/checks/vacuum-rise`: a vacuum that is isolated from the pump and watched."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from schemas.checks.common import CheckRequest, minutes
from schemas.quantities import Model, Number, TemperatureReading, VacuumReading, Volume, quantity

#: Readings of a test: more add little.
MOST_READINGS = 50


class VacuumAtTime(Model):
    """One reading of a vacuum after it was isolated."""

    minutes: Annotated[Number, minutes(10.0, "Minutes since the pump was isolated.")]
    pressure: quantity(VacuumReading) = Field(  # type: ignore[valid-type]
        description="Absolute pressure at the system, not at the pump.",
        examples=[480.0],
        json_schema_extra={"x-unit": "umHg"},
    )


class VacuumRiseRequest(CheckRequest):
    """A standing vacuum: pressures over time after the pump was isolated."""

    readings: list[VacuumAtTime] = Field(
        min_length=2,
        max_length=MOST_READINGS,
        description="The readings in the order of time, all with the same gauge. Five or more, evenly spaced, are "
        "needed to see the shape of the rise.",
        examples=[[{"minutes": 0, "pressure": 300}, {"minutes": 10, "pressure": 420}]],
    )
    coldest_temperature: quantity(TemperatureReading) | None = Field(  # type: ignore[valid-type]
        default=None,
        description="Temperature of the coldest part of the circuit. Water boils off at its saturation pressure there, "
        "so drying can raise the pressure no further.",
        examples=[70.0],
        json_schema_extra={"x-unit": "degF"},
    )
    volume: quantity(Volume) | None = Field(  # type: ignore[valid-type]
        default=None,
        description="Internal volume under vacuum: coils and lines. With it the answer also gives a leak as a flow of "
        "gas.",
        examples=[0.35],
        json_schema_extra={"x-unit": "ft3"},
    )
