"""Answers of the reference lists: the data behind the judgements, each row with its source."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from schemas.answers import Answer, fact
from schemas.assessments import Caution, LimitBasis
from schemas.quantities import UnitSystem


class Component(Answer):
    """One component of a refrigerant."""

    designation: Annotated[str, fact("ASHRAE designation.", "R-32")]
    mass_fraction: Annotated[float, fact("Share by mass.", 0.5, "1", gt=0, le=1)]


class TemperatureRange(Answer):
    """A range of temperatures."""

    low: Annotated[float, fact("Lowest.", -60.0, "as unit")]
    high: Annotated[float, fact("Highest.", 150.0, "as unit")]
    unit: Annotated[str, fact("Unit.", "degF")]


class RefrigerantAnswer(Answer):
    """One refrigerant of the catalogue."""

    designation: Annotated[str, fact("ASHRAE designation.", "R-454B")]
    composition: Annotated[list[Component], fact("Components by mass.", [])]
    composition_source: Annotated[str, fact("Where the composition comes from.", "ASHRAE 34")]
    safety_group: Annotated[str, fact("ASHRAE 34 safety group.", "A2L")]
    safety_group_source: Annotated[str, fact("Where the group comes from.", "ASHRAE 34")]
    temperature_unit: Annotated[str, fact("Unit of temperatures.", "degF")]
    difference_unit: Annotated[str, fact("Unit of the glide.", "delta_degF")]
    critical_temperature: Annotated[float, fact("Critical temperature.", 172.9, "as temperature_unit")]
    critical_pressure: Annotated[float, fact("Critical pressure, absolute.", 769.3, "psia or kPa")]
    critical_pressure_unit: Annotated[str, fact("Unit of the critical pressure.", "psia")]
    saturation_range: Annotated[
        TemperatureRange, fact("Range of the saturation curves.", {"low": -76.0, "high": 168.0, "unit": "degF"})
    ]
    glide_at_normal_boiling_point: Annotated[
        float, fact("Dew minus bubble temperature at 101.325 kPa.", 2.2, "as difference_unit")
    ]
    model: Annotated[str, fact("Model behind the properties.", "...")]
    notes: Annotated[str, fact("What to know when using it.", "")]


class RefrigerantList(Answer):
    """The refrigerants of the catalogue."""

    rows: Annotated[list[RefrigerantAnswer], fact("All refrigerants.", [])]
    refrigerants: Annotated[list[RefrigerantAnswer], fact("The same as `rows`; use that.", [], deprecated=True)]


class SaturationRow(Answer):
    """One row of a pressure-temperature table."""

    temperature: Annotated[float, fact("Saturation temperature.", 40.0, "as unit")]
    bubble_pressure_gauge: Annotated[float, fact("Liquid just boiling, gauge.", 118.4, "as unit")]
    dew_pressure_gauge: Annotated[float, fact("Vapour just condensing, gauge.", 117.9, "as unit")]
    bubble_pressure_absolute: Annotated[float, fact("The same, absolute.", 133.1, "as unit")]
    dew_pressure_absolute: Annotated[float, fact("The same, absolute.", 132.6, "as unit")]
    bridged: Annotated[
        bool,
        Field(
            description="True where the property library has no solution and the curve bridges the gap.",
            examples=[False],
        ),
    ]


class SaturationTable(Answer):
    """A pressure-temperature table at a site's air pressure."""

    designation: Annotated[str, fact("ASHRAE designation.", "R-410A")]
    units: Annotated[UnitSystem, fact("Unit system.", "imperial")]
    temperature_unit: Annotated[str, fact("Unit of temperatures.", "degF")]
    pressure_unit: Annotated[str, fact("Unit of pressures.", "psi")]
    air_pressure: Annotated[float, fact("Air pressure to which gauge pressures refer.", 14.696, "as unit")]
    source: Annotated[str, fact("Where the properties come from.", "...")]
    rows: Annotated[list[SaturationRow], fact("Rows, coldest first.", [])]


class AccuracyRow(Answer):
    """Default accuracy of one instrument type for one class of reading, SI units."""

    measures: Annotated[str, fact("Class of reading.", "pressure")]
    unit: Annotated[str, fact("SI unit of the half-widths.", "Pa")]
    percent_of_reading: Annotated[float, fact("Limit of error, percent of reading.", 0.0, "%")]
    percent_of_span: Annotated[float, fact("Limit of error, percent of span.", 0.5, "%")]
    span: Annotated[float, fact("Full scale.", 3447378.6, "as unit")]
    fixed: Annotated[float, fact("Fixed limit of error.", 0.0, "as unit")]
    counts: Annotated[float, fact("Last-digit counts.", 0.0, "1")]
    resolution: Annotated[float, fact("Step of the display.", 689.5, "as unit")]
    placement: Annotated[float, fact("Limit of error from where and how the sensor is placed.", 0.0, "as unit")]
    repeatability: Annotated[float, fact("Standard deviation of repeats.", 2068.4, "as unit")]
    source: Annotated[str, fact("Where it comes from.", "...")]


class InstrumentTypeAnswer(Answer):
    """One instrument type."""

    type: Annotated[str, fact("Name to use in a kit.", "pressure_transducer")]
    description: Annotated[str, fact("What it is.", "...")]
    shares_calibration: Annotated[bool, fact("Whether one sensor usually makes all its readings.", False)]
    accuracies: Annotated[list[AccuracyRow], fact("Default accuracies, the main one first.", [])]
    made_for: Annotated[
        list[str],
        fact(
            "What it is made to measure: it is taken for such a reading before another instrument of the kit that "
            "could measure it too.",
            ["pressure"],
        ),
    ]


class InstrumentList(Answer):
    """All instrument types."""

    rows: Annotated[list[InstrumentTypeAnswer], fact("All instrument types.", [])]
    instruments: Annotated[list[InstrumentTypeAnswer], fact("The same as `rows`; use that.", [], deprecated=True)]


class LimitAnswer(Answer):
    """One limit, SI units. A bound that the nameplate sets is given by the name of the field."""

    id: Annotated[str, fact("Stable name.", "superheat_valve")]
    quantity: Annotated[str, fact("Derived value that it limits.", "superheat")]
    kind: Annotated[
        str,
        fact(
            "Kind of quantity. A temperature and a temperature difference are two kinds.",
            "temperature_difference",
        ),
    ]
    unit: Annotated[str, fact("SI unit.", "K")]
    lower: Annotated[float | str | None, fact("Lower bound, or the nameplate field that sets it.", 2.22, "as unit")]
    upper: Annotated[float | str | None, fact("Upper bound, or the nameplate field that sets it.", 13.9, "as unit")]
    basis: Annotated[LimitBasis, fact("What kind of limit it is.", "published_procedure")]
    source: Annotated[str, fact("The document.", "...")]
    modes: Annotated[list[str], fact("Modes in which it applies.", ["cooling"])]
    metering_devices: Annotated[list[str], fact("Metering devices that it applies to; empty for all.", [])]
    phases: Annotated[list[int], fact("Phases that it applies to; empty for all.", [])]
    capacity_controls: Annotated[
        list[str],
        fact("Capacity controls that it applies to when no stage or speed is stated; empty for all.", []),
    ]
    running: Annotated[
        list[str],
        fact(
            "How the unit must have run: `full` (single speed, high stage, rated speed), `low` (stage), `test_mode`; "
            "empty for any.",
            ["full", "low"],
        ),
    ]


class LimitList(Answer):
    """All limits."""

    rows: Annotated[list[LimitAnswer], fact("All limits.", [])]
    limits: Annotated[list[LimitAnswer], fact("The same as `rows`; use that.", [], deprecated=True)]


class CautionList(Answer):
    """All cautions."""

    rows: Annotated[list[Caution], fact("All cautions, gravest first.", [])]
    cautions: Annotated[list[Caution], fact("The same as `rows`; use that.", [], deprecated=True)]


class FaultPoint(Answer):
    """One level of a fault, and what it changes; SI units."""

    level: Annotated[float, fact("How severe the fault is.", 0.1, "as unit")]
    changes: Annotated[
        dict[str, float],
        fact(
            "Changes of the cycle model's parameters: superheat and subcooling in K, the others as natural "
            "logarithms of a ratio.",
            {"superheat_change": 4.6, "subcooling_change": -4.0},
        ),
    ]
    readings: Annotated[
        dict[str, float],
        fact(
            "Effect on the readings of a usual unit at rating conditions: temperatures in K, "
            "power, capacity and efficiency as shares.",
            {"superheat": 4.6, "subcooling": -4.0, "cooling_capacity": -0.06},
        ),
    ]


class FaultForm(Answer):
    """One form of a fault with one kind of metering device."""

    name: Annotated[str, fact("Name of the form; empty if there is only one.", "")]
    metering_devices: Annotated[list[str], fact("Metering devices that it applies to.", ["fixed_orifice"])]
    mode: Annotated[Literal["cooling", "heating"], fact("Mode in which it is the signature.", "cooling")]
    levels: Annotated[list[FaultPoint], fact("Its signature, level by level.", [])]


class FaultAnswer(Answer):
    """One hypothesis."""

    id: Annotated[str, fact("Stable name.", "low_charge")]
    text: Annotated[str, fact("In plain words.", "low on refrigerant")]
    shown: Annotated[
        Literal["cycle", "direct", "readings"],
        fact(
            "Where it shows: in the refrigerant cycle, in one derived value against its limit, or in readings "
            "that contradict each other.",
            "cycle",
        ),
    ]
    prior: Annotated[float, fact("Probability before any reading.", 0.1, "1", ge=0, le=1)]
    level_text: Annotated[str, fact("What its levels measure.", "share of the charge that is missing")]
    level_unit: Annotated[str, fact("Unit of the levels.", "1")]
    forms: Annotated[list[FaultForm], fact("Signatures by form and metering device.", [])]
    limits: Annotated[list[str], fact("Limits that show it, see `GET /v1/limits`.", [])]
    tells_apart: Annotated[str, fact("How to distinguish it from its look-alikes.", "...")]
    look_alikes: Annotated[list[str], fact("Hypotheses that the same readings may fit.", [])]
    together_with: Annotated[list[str], fact("Faults that are considered together with it.", [])]
    steps: Annotated[list[str], fact("What to do about it, in order.", ["..."])]
    source: Annotated[str, fact("Where its signature is published.", "...")]


class FaultList(Answer):
    """All hypotheses of a diagnosis."""

    rows: Annotated[list[FaultAnswer], fact("All hypotheses.", [])]
    faults: Annotated[list[FaultAnswer], fact("The same as `rows`; use that.", [], deprecated=True)]
    spread: Annotated[float, fact("How far a real unit may differ from a signature, relative.", 0.3, "1")]
    found_from: Annotated[float, fact("Probability from which a fault counts as found.", 0.9, "1")]


class PlotAnswer(Answer):
    """One picture."""

    plot: Annotated[str, fact("Its name, as in `POST /v1/plots/{plot}`.", "limits")]
    shows: Annotated[str, fact("What it shows.", "every graded value with its band against its limits")]
    bodies: Annotated[list[str], fact("Which bodies it takes.", ["the body of an assessment (`run`)"])]
    parameters: Annotated[list[str], fact("Its own parameters.", ["most"])]


class PlotList(Answer):
    """All pictures."""

    rows: Annotated[list[PlotAnswer], fact("All pictures.", [])]


class Health(Answer):
    """State of the service."""

    status: Annotated[Literal["live", "ready"], fact("The state.", "ready")]
    version: Annotated[str, fact("Version of the service.", "0.1.0")]
