"""`POST /v1/checks/motor`: windings, insulation and capacitors, with the power off and the parts isolated."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import Field

from schemas.assessments import Label, number
from schemas.capacitors import EITHER
from schemas.checks.common import CheckRequest
from schemas.quantities import (
    CapacitanceReading,
    InsulationReading,
    Model,
    Number,
    ResistanceReading,
    StrictBoolean,
    StrictText,
    TemperatureReading,
    quantity,
)


def _ohms(example: float, description: str) -> Any:  # noqa: ANN401
    return Field(description=description, examples=[example], json_schema_extra={"x-unit": "ohm"})


class SinglePhaseWindings(Model):
    """Resistances between the three terminals of a single-phase compressor, all by one meter."""

    start_to_run: quantity(ResistanceReading) = _ohms(3.5, "Start to run: the highest of the three.")  # type: ignore[valid-type]
    common_to_start: quantity(ResistanceReading) = _ohms(3.0, "Common to start.")  # type: ignore[valid-type]
    common_to_run: quantity(ResistanceReading) = _ohms(0.5, "Common to run: the lowest of the three.")  # type: ignore[valid-type]


class ThreePhaseWindings(Model):
    """Resistances between the three terminals of a three-phase motor or an inverter's compressor, all by one meter."""

    l1_l2: quantity(ResistanceReading) = _ohms(1.02, "First to second terminal.")  # type: ignore[valid-type]
    l2_l3: quantity(ResistanceReading) = _ohms(1.01, "Second to third terminal.")  # type: ignore[valid-type]
    l3_l1: quantity(ResistanceReading) = _ohms(1.03, "Third to first terminal.")  # type: ignore[valid-type]


class Insulation(Model):
    """Insulation resistance from the windings to ground, by an insulation tester."""

    after_60_seconds: quantity(InsulationReading) = Field(  # type: ignore[valid-type]
        description="Reading after one minute.", examples=[220.0], json_schema_extra={"x-unit": "Mohm"}
    )
    after_10_seconds: quantity(InsulationReading) | None = Field(  # type: ignore[valid-type]
        default=None,
        description="Reading after ten seconds, where it was taken.",
        examples=[180.0],
        json_schema_extra={"x-unit": "Mohm"},
    )
    motor: Literal["small_hermetic", "large_hermetic"] = Field(
        default="small_hermetic",
        description="Whether this is the compressor of a small split system, or a large hermetic motor.",
        examples=["small_hermetic"],
    )
    least: quantity(InsulationReading) | None = Field(  # type: ignore[valid-type]
        default=None,
        description="Lowest insulation resistance that the maker allows. It replaces every rule of thumb.",
        examples=[1.0],
        json_schema_extra={"x-unit": "Mohm"},
    )


def _microfarads(example: float, description: str) -> Any:  # noqa: ANN401
    return Field(default=None, description=description, examples=[example], json_schema_extra={"x-unit": "uF"})


class CapacitorRead(Model):
    """A capacitor out of its circuit, discharged: its marking, and what the meter showed."""

    name: Label | None = Field(default=None, description="Which capacitor it is.", examples=["dual capacitor"])
    marking: Annotated[StrictText, *EITHER] = Field(
        description="The marking as on the can: `45/5`, `45 uF ±6%`, `45/5 MFD ±6% 440 VAC`. The larger of two "
        "sections is the compressor's (HERM). Without a marked tolerance ±6 % is used, and the answer says so.",
        examples=["45/5 MFD ±6%"],
    )
    terminals: quantity(CapacitanceReading) | None = _microfarads(  # type: ignore[valid-type]
        44.2, "One section: between its terminals."
    )
    herm_to_common: quantity(CapacitanceReading) | None = _microfarads(  # type: ignore[valid-type]
        44.2, "Two sections: from HERM to C."
    )
    fan_to_common: quantity(CapacitanceReading) | None = _microfarads(  # type: ignore[valid-type]
        4.9, "Two sections: from FAN to C."
    )
    herm_to_fan: quantity(CapacitanceReading) | None = _microfarads(  # type: ignore[valid-type]
        4.4, "Two sections: from HERM to FAN, both in series; a check of the other two."
    )


class MotorRequest(CheckRequest):
    """Readings of a motor and its capacitors with the power off, locked out, and the parts isolated."""

    rated_voltage: Number | None = number(
        100, 700, "V", 230.0, "Voltage on the motor's nameplate; used by the simple rule for insulation."
    )
    single_phase_windings: SinglePhaseWindings | None = Field(
        default=None,
        description="Windings of a single-phase compressor.",
        examples=[{"start_to_run": 3.5, "common_to_start": 3.0, "common_to_run": 0.5}],
    )
    three_phase_windings: ThreePhaseWindings | None = Field(
        default=None,
        description="Windings of a three-phase motor.",
        examples=[{"l1_l2": 1.02, "l2_l3": 1.01, "l3_l1": 1.03}],
    )
    winding_temperature: quantity(TemperatureReading) | None = Field(  # type: ignore[valid-type]
        default=None,
        description="Temperature of the windings: that of the shell after hours without power. With it the answer also "
        "gives the resistances at 77 °F (25 °C), the temperature of data sheets.",
        examples=[95.0],
        json_schema_extra={"x-unit": "degF"},
    )
    winding_to_ground: quantity(ResistanceReading) | None = Field(  # type: ignore[valid-type]
        default=None,
        description="Resistance from a terminal to clean metal of the shell, by the ohmmeter, where it shows a number.",
        examples=[{"value": 2.0, "unit": "Mohm"}],
        json_schema_extra={"x-unit": "ohm"},
    )
    winding_to_ground_over_range: StrictBoolean | None = Field(
        default=None,
        description="True where the ohmmeter shows that the resistance to ground is beyond its range (OL).",
        examples=[True],
    )
    insulation: Insulation | None = Field(
        default=None,
        description="Insulation resistance. Never test it in a vacuum or with electronics connected.",
        examples=[{"after_60_seconds": 220}],
    )
    capacitors: list[CapacitorRead] = Field(
        default_factory=list,
        max_length=6,
        description="Capacitors out of circuit.",
        examples=[[{"marking": "45/5 MFD ±6%", "herm_to_common": 44.2, "fan_to_common": 4.9}]],
    )
