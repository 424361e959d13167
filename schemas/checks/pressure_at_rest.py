"""`POST /v1/checks/pressure-at-rest`: pressure against saturation with the unit off and settled."""

from __future__ import annotations

from typing import Any

from pydantic import Field

from schemas.assessments import number
from schemas.checks.common import CheckedUnit, CheckRequest
from schemas.quantities import (
    Model,
    Number,
    PressureReading,
    StrictBoolean,
    StrictText,
    TemperatureReading,
    Volume,
    quantity,
)


def _temperature(description: str, example: float) -> Any:  # noqa: ANN401
    return Field(default=None, description=description, examples=[example], json_schema_extra={"x-unit": "degF"})


class RestingUnit(CheckedUnit):
    """The unit at rest: its refrigerant decides the saturation pressure."""

    refrigerant: StrictText = Field(
        min_length=1,
        max_length=30,
        description="ASHRAE designation, see `GET /v1/refrigerants`.",
        examples=["R-410A"],
    )


class RestingReadings(Model):
    """What was read at rest: a pressure, and temperatures of the places that should agree."""

    pressure: quantity(PressureReading) = Field(  # type: ignore[valid-type]
        description="Pressure at the service port. At rest both sides are equal.",
        examples=[205.0],
        json_schema_extra={"x-unit": "psi gauge"},
    )
    coil_temperature: quantity(TemperatureReading) = Field(  # type: ignore[valid-type]
        description="Temperature of the outdoor coil where the liquid lies: at its lower part, out of the sun.",
        examples=[70.0],
        json_schema_extra={"x-unit": "degF"},
    )
    liquid_line_temperature: quantity(TemperatureReading) | None = _temperature(  # type: ignore[valid-type]
        "Temperature of the liquid line. It shows whether the unit has settled.", 70.5
    )
    outdoor_air_dry_bulb: quantity(TemperatureReading) | None = _temperature(  # type: ignore[valid-type]
        "Outdoor air. It shows whether the unit has settled.", 71.0
    )


class PressureAtRestRequest(CheckRequest):
    """The unit off and settled: does its pressure fit the saturation pressure at its temperature?"""

    unit: RestingUnit = Field(description="The unit: its refrigerant.", examples=[{"refrigerant": "R-410A"}])
    readings: RestingReadings = Field(
        description="The readings, all taken together.",
        examples=[{"pressure": 205.0, "coil_temperature": 70.0}],
    )
    minutes_off: Number | None = number(
        0, 100000, "min", 40.0, "Minutes that the unit has been off. Units usually take 30 minutes or more to settle."
    )
    gas_volume: quantity(Volume) | None = Field(  # type: ignore[valid-type]
        default=None,
        description="Volume of the circuit that holds gas, not liquid. With it the answer also gives an excess as a "
        "mass of air.",
        examples=[0.1],
        json_schema_extra={"x-unit": "ft3"},
    )
    sun_on_coil: StrictBoolean = Field(
        default=False, description="Whether the sun shines on the outdoor coil.", examples=[False]
    )
    crankcase_heater_on: StrictBoolean = Field(
        default=False,
        description="Whether a crankcase heater is on: it keeps the compressor warm, so liquid lies elsewhere.",
        examples=[False],
    )
