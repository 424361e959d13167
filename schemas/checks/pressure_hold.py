"""`POST /v1/checks/pressure-hold`: nitrogen under pressure, watched over time."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from schemas.checks.common import CheckRequest, minutes
from schemas.quantities import Model, Number, Pressure, PressureReading, TemperatureReading, Volume, quantity

#: Readings of a test: more add little.
MOST_READINGS = 24


class HeldPressure(Model):
    """One reading of a pressure test: pressure and gas temperature at one time."""

    minutes: Annotated[Number, minutes(60.0)]
    pressure: quantity(PressureReading) = Field(  # type: ignore[valid-type]
        description="Pressure of the nitrogen.", examples=[300.0], json_schema_extra={"x-unit": "psi gauge"}
    )
    gas_temperature: quantity(TemperatureReading) = Field(  # type: ignore[valid-type]
        description="Temperature of the gas: a probe on the pipe, insulated and out of the sun.",
        examples=[75.0],
        json_schema_extra={"x-unit": "degF"},
    )


class PressureHoldRequest(CheckRequest):
    """A pressure test with dry nitrogen: two readings or more of pressure and gas temperature over time."""

    readings: list[HeldPressure] = Field(
        min_length=2,
        max_length=MOST_READINGS,
        description="The readings in the order of time, all with the same gauge and the same probe. Start after the "
        "gas has settled: filling warms it.",
        examples=[
            [
                {"minutes": 0, "pressure": 300.0, "gas_temperature": 75.0},
                {"minutes": 60, "pressure": 296.9, "gas_temperature": 70.0},
            ]
        ],
    )
    highest_allowed_pressure: quantity(Pressure) | None = Field(  # type: ignore[valid-type]
        default=None,
        description="Highest test pressure that the nameplate or the maker allows for the side under test. Without "
        "it the pressure is not judged.",
        examples=[550.0],
        json_schema_extra={"x-unit": "psi gauge"},
    )
    volume: quantity(Volume) | None = Field(  # type: ignore[valid-type]
        default=None,
        description="Internal volume under pressure: coils and lines. With it the answer also gives the loss as a "
        "mass.",
        examples=[0.35],
        json_schema_extra={"x-unit": "ft3"},
    )
