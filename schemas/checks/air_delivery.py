"""`POST /v1/checks/air-delivery`: how much of what the equipment makes the ducts deliver."""

from __future__ import annotations

from typing import Any, Literal

from pydantic import Field

from schemas.assessments import Label, MeteringDevice, number
from schemas.checks.common import CheckedUnit, CheckRequest
from schemas.quantities import (
    Airflow,
    AirflowReading,
    Area,
    FractionReading,
    HeatFlow,
    Model,
    Number,
    PowerReading,
    StaticPressure,
    StaticPressureReading,
    Temperature,
    TemperatureDifference,
    TemperatureReading,
    ThermalResistance,
    quantity,
)

#: Registers of one answer: more than a house has.
MOST_REGISTERS = 14


def _dry(example: float, description: str) -> Any:  # noqa: ANN401
    return Field(description=description, examples=[example], json_schema_extra={"x-unit": "degF"})


def _humidity(example: float) -> Any:  # noqa: ANN401
    return Field(
        default=None,
        description="Relative humidity, or give `wet_bulb`. Without either only sensible heat is counted.",
        examples=[example],
        json_schema_extra={"x-unit": "%"},
    )


def _wet(example: float) -> Any:  # noqa: ANN401
    return Field(
        default=None,
        description="Wet bulb, or give `relative_humidity`.",
        examples=[example],
        json_schema_extra={"x-unit": "degF"},
    )


class Air(Model):
    """Air at one place."""

    dry_bulb: quantity(TemperatureReading) = _dry(75.0, "Dry bulb.")  # type: ignore[valid-type]
    wet_bulb: quantity(TemperatureReading) | None = _wet(63.0)  # type: ignore[valid-type]
    relative_humidity: quantity(FractionReading) | None = _humidity(51.0)  # type: ignore[valid-type]


class Register(Air):
    """A supply register: its airflow and its air."""

    name: Label | None = Field(default=None, description="Which register it is.", examples=["bedroom, north"])
    airflow: quantity(AirflowReading) = Field(  # type: ignore[valid-type]
        description="Airflow out of the register, by a hood.", examples=[95.0], json_schema_extra={"x-unit": "cfm"}
    )


class Equipment(Model):
    """The equipment: its airflow and its air, or the capacity it is known to have."""

    airflow: quantity(AirflowReading) | None = Field(  # type: ignore[valid-type]
        default=None,
        description="Airflow through the blower.",
        examples=[1180.0],
        json_schema_extra={"x-unit": "cfm"},
    )
    entering: Air | None = Field(
        default=None, description="Air that enters the equipment.", examples=[{"dry_bulb": 77, "wet_bulb": 64}]
    )
    leaving: Air | None = Field(
        default=None, description="Air that leaves the equipment.", examples=[{"dry_bulb": 57, "wet_bulb": 55}]
    )
    capacity: quantity(HeatFlow) | None = Field(  # type: ignore[valid-type]
        default=None,
        description="Capacity where the air at the equipment was not read: from an assessment at the same time, or the "
        "rating. Total heat in cooling.",
        examples=[33000.0],
        json_schema_extra={"x-unit": "Btu/h"},
    )
    capacity_uncertainty_percent: Number | None = number(
        0, 100, "%", 8.0, "By how much `capacity` may be off, either way (95 %). Default: 10 %.", above=True
    )
    fan_power: quantity(PowerReading) | None = Field(  # type: ignore[valid-type]
        default=None,
        description="Power of the blower.",
        examples=[480.0],
        json_schema_extra={"x-unit": "W"},
    )


class DuctTest(Model):
    """A test of duct leakage with a calibrated fan."""

    leakage: quantity(AirflowReading) = Field(  # type: ignore[valid-type]
        description="Airflow that keeps the ducts at the test pressure.",
        examples=[60.0],
        json_schema_extra={"x-unit": "cfm"},
    )
    pressure: quantity(StaticPressure) | None = Field(  # type: ignore[valid-type]
        default=None,
        description="Pressure of the test. Default: 25 Pa (0.1 in. w.c.). Leakage at another pressure is converted to "
        "it.",
        examples=[0.1],
        json_schema_extra={"x-unit": "inH2O"},
    )
    design_airflow: quantity(Airflow) | None = Field(  # type: ignore[valid-type]
        default=None,
        description="Airflow with which the leakage is compared, if it is not the blower's: 400 cfm per ton of "
        "nominal capacity in several rules.",
        examples=[1200.0],
        json_schema_extra={"x-unit": "cfm"},
    )


class DuctRun(Model):
    """All supply, or all return ducts outside the rooms."""

    surface: quantity(Area) = Field(  # type: ignore[valid-type]
        description="Outer surface of these ducts.", examples=[300.0], json_schema_extra={"x-unit": "ft2"}
    )
    insulation: quantity(ThermalResistance) = Field(  # type: ignore[valid-type]
        description="Thermal resistance as printed on the insulation (R-6); 0 for bare metal.",
        examples=[6.0],
        json_schema_extra={"x-unit": "h ft2 degF/Btu"},
    )
    leakage_to_outside: quantity(Airflow) = Field(  # type: ignore[valid-type]
        description="Air that these ducts lose to the outside, or draw in from there, while the blower runs.",
        examples=[60.0],
        json_schema_extra={"x-unit": "cfm"},
    )
    zone_temperature: quantity(Temperature) = Field(  # type: ignore[valid-type]
        description="Temperature of the space around these ducts.",
        examples=[120.0],
        json_schema_extra={"x-unit": "degF"},
    )
    zone_relative_humidity: Number | None = number(
        0, 100, "%", 25.0, "Relative humidity of that space; needed for the return ducts in cooling."
    )


_DUCTS = {
    "supply_side": {"surface": 300, "insulation": 6, "leakage_to_outside": 90, "zone_temperature": 120},
    "return_side": {"surface": 100, "insulation": 6, "leakage_to_outside": 40, "zone_temperature": 120},
}


class Ducts(Model):
    """Ducts outside the rooms, for the delivery effectiveness of ANSI/ASHRAE Standard 152."""

    supply_side: DuctRun = Field(description="The supply ducts.", examples=[_DUCTS["supply_side"]])
    return_side: DuctRun = Field(description="The return ducts.", examples=[_DUCTS["return_side"]])


class Filter(Model):
    """The filter and its share of the static pressure."""

    pressure_drop: quantity(StaticPressureReading) = Field(  # type: ignore[valid-type]
        description="Pressure drop across the filter.", examples=[0.26], json_schema_extra={"x-unit": "inH2O"}
    )
    rated_external_static_pressure: quantity(StaticPressure) = Field(  # type: ignore[valid-type]
        description="Rated external static pressure on the nameplate.",
        examples=[0.5],
        json_schema_extra={"x-unit": "inH2O"},
    )
    face_area: quantity(Area) | None = Field(  # type: ignore[valid-type]
        default=None,
        description="Face area of the filter, all panels together.",
        examples=[2.78],
        json_schema_extra={"x-unit": "ft2"},
    )


class FurnaceRise(Model):
    """The temperature rise of a furnace against its nameplate."""

    entering: quantity(TemperatureReading) = _dry(68.0, "Air that enters the furnace.")  # type: ignore[valid-type]
    leaving: quantity(TemperatureReading) = _dry(  # type: ignore[valid-type]
        122.0, "Air that leaves it, out of sight of the burners."
    )
    lowest_rise: quantity(TemperatureDifference) = Field(  # type: ignore[valid-type]
        description="Lowest temperature rise on the nameplate.",
        examples=[40.0],
        json_schema_extra={"x-unit": "delta_degF"},
    )
    highest_rise: quantity(TemperatureDifference) = Field(  # type: ignore[valid-type]
        description="Highest temperature rise on the nameplate.",
        examples=[70.0],
        json_schema_extra={"x-unit": "delta_degF"},
    )


class AiredUnit(CheckedUnit):
    """The unit, as far as this check needs it."""

    metering_device: MeteringDevice | None = Field(
        default=None,
        description="Kind of metering device: it decides how much efficiency a low airflow costs.",
        examples=["thermostatic_expansion_valve"],
    )


class AirDeliveryRequest(CheckRequest):
    """Readings at registers, ducts, blower and filter. Everything is optional: what is given is judged."""

    unit: AiredUnit = Field(
        default_factory=AiredUnit,
        description="The unit, as far as this check needs it.",
        examples=[{"metering_device": "thermostatic_expansion_valve"}],
    )
    mode: Literal["cooling", "heating"] = Field(description="What the unit is doing.", examples=["cooling"])
    room: Air | None = Field(
        default=None,
        description="Room air, which the delivered air replaces. Needed with `registers` and `ducts`.",
        examples=[{"dry_bulb": 75, "relative_humidity": 50}],
    )
    registers: list[Register] = Field(
        default_factory=list,
        max_length=MOST_REGISTERS,
        description="All supply registers.",
        examples=[[{"airflow": 95, "dry_bulb": 59.5, "relative_humidity": 88}]],
    )
    equipment: Equipment | None = Field(
        default=None, description="The equipment.", examples=[{"airflow": 1180, "fan_power": 480}]
    )
    duct_test: DuctTest | None = Field(default=None, description="A test of duct leakage.", examples=[{"leakage": 60}])
    ducts: Ducts | None = Field(default=None, description="Ducts outside the rooms.", examples=[_DUCTS])
    filter: Filter | None = Field(
        default=None,
        description="The filter.",
        examples=[{"pressure_drop": 0.26, "rated_external_static_pressure": 0.5}],
    )
    furnace: FurnaceRise | None = Field(
        default=None,
        description="The temperature rise of a furnace.",
        examples=[{"entering": 68, "leaving": 122, "lowest_rise": 40, "highest_rise": 70}],
    )
