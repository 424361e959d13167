"""`POST /v1/checks/charge-by-weight`: the charge of a unit with its lines as installed."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field
from typing_extensions import TypeAliasType

from schemas.assessments import Label
from schemas.checks.common import CheckedUnit, CheckRequest
from schemas.quantities import (
    Area,
    HeatFlow,
    Length,
    Lift,
    Mass,
    MassPerLength,
    MassReading,
    Model,
    Pressure,
    StrictBoolean,
    TemperatureReading,
    quantity,
)

TubeSize = TypeAliasType(
    "TubeSize",
    Annotated[
        Literal["1/4", "5/16", "3/8", "1/2", "5/8", "3/4", "7/8", "1-1/8"],
        Field(description="Outside diameter of a copper line in inches, as the trade calls it."),
    ],
)


class ChargedLines(Model):
    """The refrigerant lines as installed."""

    length: quantity(Length) = Field(  # type: ignore[valid-type]
        description="Length of the lines, one way.", examples=[40.0], json_schema_extra={"x-unit": "ft"}
    )
    length_uncertainty: quantity(Length) | None = Field(  # type: ignore[valid-type]
        default=None,
        description="By how much the length may be off, either way. Default: 2 ft (0.6 m).",
        examples=[1.0],
        json_schema_extra={"x-unit": "ft"},
    )
    liquid_line: TubeSize | None = Field(
        default=None,
        description="Size of the liquid line. Needed where `allowance` is not given.",
        examples=["3/8"],
    )
    vapour_line: TubeSize | None = Field(
        default=None,
        description="Size of the vapour line. Default: any usual one, from 5/8 to 7/8 in., which widens the band.",
        examples=["3/4"],
    )
    allowance: quantity(MassPerLength) | None = Field(  # type: ignore[valid-type]
        default=None,
        description="Charge per length of line from the unit's own manual, for this liquid line. Default: the "
        "content of the lines, computed from `liquid_line`, `vapour_line` and `unit.refrigerant`.",
        examples=[0.6],
        json_schema_extra={"x-unit": "oz/ft"},
    )
    lift: quantity(Lift) | None = Field(  # type: ignore[valid-type]
        default=None,
        description="Height of the indoor unit above the outdoor unit; negative where it is lower. It does not change "
        "the charge, but a long or high line set needs more than extra charge, and the answer says so.",
        examples=[10.0],
        json_schema_extra={"x-unit": "ft"},
    )
    longest: quantity(Length) | None = Field(  # type: ignore[valid-type]
        default=None,
        description="Length from which the maker's long-line guide applies. Default: 50 ft, common practice.",
        examples=[80.0],
        json_schema_extra={"x-unit": "ft"},
    )


class Accessory(Model):
    """A part that holds refrigerant and was added to the unit."""

    name: Label = Field(description="What it is.", examples=["filter-drier"])
    charge: quantity(Mass) = Field(  # type: ignore[valid-type]
        description="What its data sheet adds to the charge.",
        examples=[{"value": 6, "unit": "oz"}],
        json_schema_extra={"x-unit": "lb"},
    )


class Recovered(Model):
    """What was recovered from the unit before the work."""

    mass: quantity(MassReading) = Field(  # type: ignore[valid-type]
        description="Mass recovered, by the scale.",
        examples=[{"value": 96, "unit": "oz"}],
        json_schema_extra={"x-unit": "lb"},
    )
    final_pressure: quantity(Pressure) | None = Field(  # type: ignore[valid-type]
        default=None,
        description="Pressure at which the recovery ended and held. The vapour left at this pressure is added to what "
        "was recovered. Default: 0 psi gauge.",
        examples=[{"value": -10, "unit": "inHg"}],
        json_schema_extra={"x-unit": "psi gauge"},
    )
    temperature: quantity(TemperatureReading) | None = Field(  # type: ignore[valid-type]
        default=None,
        description="Temperature of the circuit at the end of the recovery. Default: about 75 °F (24 °C).",
        examples=[80.0],
        json_schema_extra={"x-unit": "degF"},
    )


class Room(Model):
    """A room that a flammable refrigerant could leak into, for the arithmetic of a published formula."""

    floor_area: quantity(Area) = Field(  # type: ignore[valid-type]
        description="Floor area of the smallest room concerned.",
        examples=[200.0],
        json_schema_extra={"x-unit": "ft2"},
    )
    installation: Literal["floor", "window", "wall", "ceiling"] = Field(
        description="How the indoor unit is installed, which sets the release height of the formula: 0.6, 1.0, 1.8 "
        "and 2.2 m.",
        examples=["wall"],
    )


class ChargedUnit(CheckedUnit):
    """The unit, as far as this check needs it."""

    rated_cooling_capacity: quantity(HeatFlow) | None = Field(  # type: ignore[valid-type]
        default=None,
        description="Rated cooling capacity. With it a charge that is unusual for such a unit is questioned.",
        examples=[36000.0],
        json_schema_extra={"x-unit": "Btu/h"},
    )


class ChargeByWeightRequest(CheckRequest):
    """The charge from the nameplate, corrected for the lines and accessories as installed."""

    unit: ChargedUnit = Field(
        default_factory=ChargedUnit,
        description="The unit, as far as this check needs it.",
        examples=[{"refrigerant": "R-410A"}],
    )
    nameplate_charge: quantity(Mass) = Field(  # type: ignore[valid-type]
        description="Factory charge on the nameplate.",
        examples=[{"value": 104, "unit": "oz"}],
        json_schema_extra={"x-unit": "lb"},
    )
    factory_allowance: quantity(Mass) | None = Field(  # type: ignore[valid-type]
        default=None,
        description="Mass for lines that the factory charge already includes, as the nameplate or the manual states "
        "it; 0 if it includes none. The service never guesses it or computes it from a length. Without it the answer "
        "gives what the lines hold, but no charge.",
        examples=[{"value": 9, "unit": "oz"}],
        json_schema_extra={"x-unit": "lb"},
    )
    lines: ChargedLines = Field(
        description="The refrigerant lines as installed.", examples=[{"length": 40, "liquid_line": "3/8"}]
    )
    accessories: list[Accessory] = Field(
        default_factory=list,
        max_length=8,
        description="Parts added to the unit that hold refrigerant, each with its own data.",
        examples=[[{"name": "filter-drier", "charge": {"value": 6, "unit": "oz"}}]],
    )
    removal_allowed: StrictBoolean | None = Field(
        default=None,
        description="Whether the manual allows charge to be removed for short lines. Many makers forbid it.",
        examples=[False],
    )
    recovered: Recovered | None = Field(
        default=None,
        description="What was recovered. It shows how much was missing.",
        examples=[{"mass": {"value": 96, "unit": "oz"}}],
    )
    weighed_in: quantity(MassReading) | None = Field(  # type: ignore[valid-type]
        default=None,
        description="Mass weighed into the evacuated circuit, by the scale. It is compared with the charge.",
        examples=[{"value": 119, "unit": "oz"}],
        json_schema_extra={"x-unit": "lb"},
    )
    room: Room | None = Field(
        default=None,
        description="With a flammable refrigerant: a room, for the arithmetic of the published formulas. The answer "
        "is never a permission; the unit's label, its manual and the local code decide.",
        examples=[{"floor_area": 200, "installation": "wall"}],
    )
