"""`POST /v1/assessments`: one visit's readings in, a graded assessment out."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field
from typing_extensions import TypeAliasType, TypedDict

from schemas.answers import Answer, fact
from schemas.capacitors import ONE_PART, TWO_PARTS
from schemas.draws import Draws
from schemas.logs import Log, LogAnswer
from schemas.quantities import (
    AbsolutePressureReading,
    Airflow,
    Altitude,
    ByName,
    HeatFlow,
    InstrumentName,
    Length,
    Lift,
    MassFlowUnit,
    Model,
    Number,
    Power,
    Pressure,
    PressureReading,
    StaticPressure,
    StrictBoolean,
    StrictText,
    Temperature,
    TemperatureDifference,
    UnitSystem,
    quantity,
)
from schemas.readings import Readings

# ---------------------------------------------------------------- request

InstrumentTypeName = TypeAliasType(
    "InstrumentTypeName",
    Annotated[
        Literal[
            "pressure_transducer",
            "analog_gauge",
            "thermistor_pipe_clamp",
            "thermocouple_pipe_clamp",
            "digital_thermometer",
            "psychrometer",
            "hygrometer_probe",
            "clamp_meter",
            "multimeter",
            "power_meter",
            "manometer",
            "airflow_hood",
            "barometer",
            "measuring_vessel",
            "gas_meter_and_clock",
            "vacuum_gauge",
            "refrigerant_scale",
            "insulation_tester",
            "capacitance_meter",
            "duct_tester",
            "four_wire_ohmmeter",
        ],
        Field(description="Type of an instrument, see `GET /v1/instruments`."),
    ],
)

MeteringDevice = TypeAliasType(
    "MeteringDevice",
    Annotated[
        Literal[
            "thermostatic_expansion_valve",
            "electronic_expansion_valve",
            "fixed_orifice",
            "capillary_tube",
        ],
        Field(description="Kind of metering device."),
    ],
)

Work = TypeAliasType(
    "Work",
    Annotated[
        Literal[
            "readings_only",
            "coil_cleaning",
            "refrigerant_circuit_opening",
            "charge_adjustment",
            "capacitor_replacement",
            "electrical_repair",
            "filter_change",
            "brazing",
            "pressure_testing",
            "evacuation",
            "recovery",
            "gas_heat",
        ],
        Field(description="Work at a visit."),
    ],
)

AccuracyUnit = TypeAliasType(
    "AccuracyUnit",
    Annotated[
        Literal[
            "delta_degF",
            "delta_degC",
            "K",
            "psi",
            "kPa",
            "bar",
            "MPa",
            "inHg",
            "Pa",
            "inH2O",
            "A",
            "V",
            "W",
            "kW",
            "%",
            "cfm",
            "m3/h",
            "m3/s",
            "L/s",
            "1",
            "lb/h",
            "kg/h",
            "kg/s",
            "Btu/h",
            "umHg",
            "mbar",
            "lb",
            "oz",
            "kg",
            "g",
            "ohm",
            "kohm",
            "Mohm",
            "uF",
        ],
        Field(description="Unit of an accuracy; a difference for temperatures."),
    ],
)


def _instant(value: object) -> object:
    # A number in quotes would be read as seconds since 1970.
    if isinstance(value, datetime) or value is None or (isinstance(value, str) and "-" in value[1:]):
        return value
    raise ValueError("an ISO 8601 date and time in a string is expected")


Instant = Annotated[datetime, BeforeValidator(_instant)]


def number(low: float, high: float, unit: str, example: float, description: str, *, above: bool = False) -> Any:  # noqa: ANN401
    """An optional number field with bounds, unit and example."""
    bounds: dict[str, Any] = {"gt": low} if above else {"ge": low}
    return Field(
        default=None,
        le=high,
        description=description,
        examples=[example],
        json_schema_extra={"x-unit": unit},
        **bounds,
    )


class Accuracy(Model):
    """What an instrument's data sheet states. The parts add up to a limit of error."""

    percent_of_reading: Number | None = number(0, 50, "%", 1.0, "Percent of the number shown.")
    percent_of_span: Number | None = number(0, 50, "%", 0.5, "Percent of `span`.")
    span: Number | None = number(
        0, 1e7, "unit", 500.0, "Full scale, in `unit`; needed with `percent_of_span`.", above=True
    )
    fixed: Number | None = number(0, 1e6, "unit", 0.9, "A fixed limit of error, in `unit`.")
    counts: Number | None = number(0, 1000, "1", 3.0, "Last-digit counts; multiplied by `resolution`.")
    resolution: Number | None = number(
        0, 1e6, "unit", 0.1, "Step of the display, in `unit`. Default: that of the type."
    )
    unit: AccuracyUnit | None = Field(
        default=None,
        description="Unit of span, fixed and resolution. Default: the unit of the declared unit system "
        "for what the instrument measures (a difference for temperatures).",
        examples=["psi"],
    )
    coverage: Literal["limits", "two_standard_deviations", "one_standard_deviation"] = Field(
        default="limits",
        description="What the stated accuracy means: limits that are never exceeded (a rectangular "
        "distribution, JCGM 100 4.3.7), two standard deviations (about 95 %, normal), or one.",
        examples=["limits"],
    )


AccuracyByClass = TypeAliasType(
    "AccuracyByClass",
    Annotated[
        dict[Annotated[StrictText, Field(max_length=60)], Accuracy],
        Field(max_length=10, description="An accuracy for each class of reading, by name."),
    ],
)


class Instrument(Model):
    """One instrument of the kit. Its type has default accuracies; state your own if you know them."""

    type: InstrumentTypeName = Field(
        description="Type of instrument, see `GET /v1/instruments`.",
        examples=["pressure_transducer"],
    )
    accuracy: Accuracy | None = Field(
        default=None,
        description="Your own accuracy for what this type mainly measures (the first in its list at "
        "`GET /v1/instruments`). It replaces the calibration accuracy of the type.",
        examples=[{"percent_of_reading": 1.0}],
    )
    accuracies: AccuracyByClass | None = Field(
        default=None,
        description="Your own accuracy for each class of reading, by name (`voltage`, `current` ...).",
        examples=[{"voltage": {"percent_of_reading": 1.0, "counts": 3, "resolution": 0.1}}],
    )
    repeatability: Number | None = number(
        0, 1e6, "unit", 0.2, "Standard deviation of repeated readings, in the accuracy's unit."
    )
    shares_calibration: StrictBoolean | None = Field(
        default=None,
        description="True: one sensor takes all its readings, so they share one calibration "
        "error. False: each reading has its own sensor. Default: as usual for the type.",
        examples=[True],
    )
    open_to_air_reading: quantity(PressureReading) | None = Field(  # type: ignore[valid-type]
        default=None,
        description="What the gauge shows when open to the air, before it is connected. It shows "
        "whether the gauge was zeroed.",
        examples=[0.0],
        json_schema_extra={"x-unit": "psi gauge"},
    )


class Capacitor(Model):
    """A run capacitor's marking."""

    microfarads: Number = Field(
        ge=0.1,
        le=500,
        description="Rated capacitance.",
        examples=[45.0],
        json_schema_extra={"x-unit": "uF"},
    )
    tolerance_percent: Number | None = number(
        0,
        50,
        "%",
        6.0,
        "Marked tolerance, either way. Default: ±6 %, and the answer says so.",
        above=True,
    )


class Capacitors(Model):
    """Run capacitors, by motor."""

    compressor: Annotated[Capacitor, *ONE_PART] | None = Field(
        default=None, description="Compressor run capacitor.", examples=[{"microfarads": 45}]
    )
    outdoor_fan: Annotated[Capacitor, *ONE_PART] | None = Field(
        default=None, description="Outdoor fan run capacitor.", examples=[{"microfarads": 5}]
    )
    indoor_blower: Annotated[Capacitor, *ONE_PART] | None = Field(
        default=None, description="Indoor blower run capacitor.", examples=[{"microfarads": 10}]
    )


Phases = TypeAliasType("Phases", Annotated[Literal[1, 3], Field(description="Number of phases.")])
SupplyFrequency = TypeAliasType(
    "SupplyFrequency", Annotated[Literal[50, 60], Field(description="Supply frequency in Hz.")]
)


class LowStageNameplate(Model):
    """What the maker states for the low stage of a two-stage unit."""

    subcooling: quantity(TemperatureDifference) | None = Field(  # type: ignore[valid-type]
        default=None,
        description="Target subcooling in low stage. Without it subcooling is not judged in low stage, as "
        "the nameplate's target is for full stage.",
        examples=[7.0],
        json_schema_extra={"x-unit": "delta_degF"},
    )


class Nameplate(Model):
    """What the unit's nameplate says."""

    voltage: Number | None = number(100, 600, "V", 230.0, "Rated voltage (230 for a 208/230 V unit on a 240 V supply).")
    nominal_supply_voltage: Number | None = number(
        100,
        600,
        "V",
        240.0,
        "Nominal voltage of the building's supply system (208 or 240 for a 208/230 V unit). Needed "
        "to judge the supply by ANSI C84.1, which applies to 60 Hz systems.",
    )
    lowest_voltage: Number | None = number(
        80,
        600,
        "V",
        207.0,
        "Lowest voltage that the nameplate allows (197 on many 208/230 V units). Default: 90 % of "
        "`voltage`, or 197 V where `voltage` is 230 on a 208 V supply; the answer says so.",
    )
    highest_voltage: Number | None = number(
        80,
        660,
        "V",
        253.0,
        "Highest voltage that the nameplate allows. Default: 110 % of `voltage`.",
    )
    phases: Phases | None = Field(
        default=None,
        description="Number of phases. Default: three where three-phase readings are given, else one.",
        examples=[1],
    )
    frequency: SupplyFrequency | None = Field(
        default=None,
        description="Supply frequency; needed for capacitors.",
        examples=[60],
        json_schema_extra={"x-unit": "Hz"},
    )
    compressor_rated_load_amps: Number | None = number(0.1, 400, "A", 16.2, "Compressor rated-load amps (RLA).")
    outdoor_fan_full_load_amps: Number | None = number(0.01, 100, "A", 1.2, "Outdoor fan full-load amps (FLA).")
    indoor_blower_full_load_amps: Number | None = number(0.01, 100, "A", 4.3, "Indoor blower full-load amps (FLA).")
    subcooling: quantity(TemperatureDifference) | None = Field(  # type: ignore[valid-type]
        default=None,
        description="Target subcooling. A bare number is in the declared unit system.",
        examples=[9.0],
        json_schema_extra={"x-unit": "delta_degF"},
    )
    low_stage: LowStageNameplate | None = Field(
        default=None,
        description="What the maker states for the low stage of a two-stage unit.",
        examples=[{"subcooling": 7.0}],
    )
    maximum_external_static_pressure: quantity(StaticPressure) | None = Field(  # type: ignore[valid-type]
        default=None,
        description="Rated external static pressure of the indoor unit.",
        examples=[0.5],
        json_schema_extra={"x-unit": "inH2O"},
    )
    capacitors: Annotated[Capacitors, *TWO_PARTS] | None = Field(
        default=None,
        description="Run capacitors by motor, or the marking of a two-section capacitor as it is on the can.",
        examples=[{"compressor": {"microfarads": 45, "tolerance_percent": 6}}],
    )


class LowStageRating(Model):
    """Rated performance of a two-stage unit in low stage, at the rating conditions of its full stage."""

    cooling_capacity: quantity(HeatFlow) | None = Field(  # type: ignore[valid-type]
        default=None,
        description="Cooling capacity in low stage, at 95 °F outdoors. Default: 0.728 of the full capacity, with "
        "the spread of such units.",
        examples=[26200.0],
        json_schema_extra={"x-unit": "Btu/h"},
    )
    eer: Number | None = number(
        2,
        30,
        "Btu/(W h)",
        13.1,
        "EER in low stage, at 95 °F outdoors, in Btu/(W h) in either unit system. Default: the full stage's EER "
        "divided by 0.869, with the spread of such units.",
    )
    heating_capacity: quantity(HeatFlow) | None = Field(  # type: ignore[valid-type]
        default=None,
        description="Heating capacity in low stage, at 47 °F outdoors. Default: 0.712 of the full capacity, with "
        "the spread of such units.",
        examples=[25600.0],
        json_schema_extra={"x-unit": "Btu/h"},
    )
    heating_cop: Number | None = number(
        1,
        7,
        "1",
        4.1,
        "Coefficient of performance (COP) in heating in low stage, at 47 °F outdoors. Default: the full stage's "
        "COP divided by 0.850, with the spread of such units.",
    )
    airflow: quantity(Airflow) | None = Field(  # type: ignore[valid-type]
        default=None,
        description="Rated indoor airflow in low stage. Without it the airflow per ton is judged, not the airflow "
        "against its rating.",
        examples=[880.0],
        json_schema_extra={"x-unit": "cfm"},
    )


class Rated(Model):
    """Rated performance, in full stage or at full speed."""

    cooling_capacity: quantity(HeatFlow) | None = Field(  # type: ignore[valid-type]
        default=None,
        description="Rated cooling capacity.",
        examples=[36000.0],
        json_schema_extra={"x-unit": "Btu/h"},
    )
    eer: Number | None = number(
        2,
        30,
        "Btu/(W h)",
        11.4,
        "Rated energy efficiency ratio (EER) at 95 °F outdoors, not SEER. In Btu/(W h) in either unit "
        "system. The most useful of the four efficiencies.",
    )
    eer2: Number | None = number(
        2,
        30,
        "Btu/(W h)",
        10.9,
        "Rated EER2, at 95 °F outdoors and the higher static pressure of the test procedure since 2023. "
        "In Btu/(W h) in either unit system. Without `eer` it sets the efficiency expected of a healthy "
        "unit, but gives no share of the rating.",
    )
    seer: Number | None = number(
        4,
        45,
        "Btu/(W h)",
        13.0,
        "Rated seasonal efficiency (SEER). In Btu/(W h) in either unit system. Without `eer` and `eer2` it "
        "sets, with more uncertainty, the efficiency and condensing temperature expected of a healthy "
        "single-speed unit, but gives no share of the rating.",
    )
    seer2: Number | None = number(
        4,
        45,
        "Btu/(W h)",
        12.4,
        "Rated SEER2, by the test procedure since 2023. In Btu/(W h) in either unit system. Used like "
        "`seer` where that is not given.",
    )
    airflow: quantity(Airflow) | None = Field(  # type: ignore[valid-type]
        default=None,
        description="Rated indoor airflow. Default: 400 cfm per ton of rated capacity.",
        examples=[1200.0],
        json_schema_extra={"x-unit": "cfm"},
    )
    heating_capacity: quantity(HeatFlow) | None = Field(  # type: ignore[valid-type]
        default=None,
        description="Rated heating capacity at 47 °F outdoors (43 °F wet bulb) and 70 °F indoors, without auxiliary "
        "heat.",
        examples=[35000.0],
        json_schema_extra={"x-unit": "Btu/h"},
    )
    heating_cop: Number | None = number(
        1,
        7,
        "1",
        3.6,
        "Rated coefficient of performance (COP) in heating at 47 °F outdoors and 70 °F indoors, not HSPF.",
    )
    heating_capacity_low: quantity(HeatFlow) | None = Field(  # type: ignore[valid-type]
        default=None,
        description="Rated heating capacity at 17 °F outdoors (15 °F wet bulb) and 70 °F indoors. With "
        "`heating_capacity` it replaces the usual fall of capacity with outdoor temperature with this unit's own.",
        examples=[22000.0],
        json_schema_extra={"x-unit": "Btu/h"},
    )
    heating_cop_low: Number | None = number(
        0.5, 5, "1", 2.5, "Rated coefficient of performance (COP) in heating at 17 °F outdoors and 70 °F indoors."
    )
    hspf: Number | None = number(
        3,
        20,
        "Btu/(W h)",
        8.8,
        "Rated heating seasonal performance factor (HSPF). In Btu/(W h) in either unit system. It includes defrost "
        "and auxiliary heat, so no single run is graded by it. A diagnosis estimates the coefficient of performance of "
        "a single-speed unit from it where `heating_cop` is not given; the energy of a season follows from it.",
    )
    hspf2: Number | None = number(
        3,
        20,
        "Btu/(W h)",
        7.5,
        "Rated HSPF2, by the test procedure since 2023. In Btu/(W h) in either unit system. Used like `hspf`.",
    )
    low_stage: LowStageRating | None = Field(
        default=None,
        description="Rated performance in low stage; for a two-stage unit only.",
        examples=[{"cooling_capacity": 26200.0}],
    )


class RatedPoint(Model):
    """Airflow and pressure drop at one rated point, for standard air."""

    airflow: quantity(Airflow) = Field(  # type: ignore[valid-type]
        description="Airflow.", examples=[1200.0], json_schema_extra={"x-unit": "cfm"}
    )
    pressure_drop: quantity(StaticPressure) = Field(  # type: ignore[valid-type]
        description="Pressure drop at that airflow (clean; wet for a coil).",
        examples=[0.22],
        json_schema_extra={"x-unit": "inH2O"},
    )


class BlowerPoint(Model):
    """One row of a blower table, for standard air."""

    external_static_pressure: quantity(StaticPressure) = Field(  # type: ignore[valid-type]
        description="External static pressure.",
        examples=[0.5],
        json_schema_extra={"x-unit": "inH2O"},
    )
    airflow: quantity(Airflow) = Field(  # type: ignore[valid-type]
        description="Airflow at the speed tap in use.",
        examples=[1210.0],
        json_schema_extra={"x-unit": "cfm"},
    )


class LineSet(Model):
    """The refrigerant lines between the indoor and the outdoor unit."""

    length: quantity(Length) | None = Field(  # type: ignore[valid-type]
        default=None,
        description="Length of the lines, one way. The suction gas gains heat and loses pressure along "
        "them, so with longer lines a healthy unit shows more superheat at the outdoor unit. A diagnosis "
        "allows for this with an expansion valve; the target of a fixed device already applies at the "
        "outdoor unit. Default: 25 ft. The loss of capacity along long lines is not computed.",
        examples=[50.0],
        json_schema_extra={"x-unit": "ft"},
    )
    lift: quantity(Lift) | None = Field(  # type: ignore[valid-type]
        default=None,
        description="Height of the indoor unit above the outdoor unit; negative where it is lower. For "
        "the record only: its effect on the suction pressure is within the error of a gauge, so nothing "
        "is computed from it.",
        examples=[10.0],
        json_schema_extra={"x-unit": "ft"},
    )
    insulated: StrictBoolean | None = Field(
        default=None,
        description="Whether the suction line is insulated over its whole length. Default: it is.",
        examples=[True],
    )


class CompressorMap(Model):
    """Mass flow of the compressor as AHRI 540 or EN 12900 give it: ten coefficients C1 to C10.

    C1 + C2 S + C3 D + C4 S² + C5 S D + C6 D² + C7 S³ + C8 D S² + C9 S D² + C10 D³ with S and D the
    suction and discharge dew temperatures.
    """

    mass_flow: list[Number] = Field(
        min_length=10,
        max_length=10,
        description="C1 to C10.",
        examples=[[137.0, 2.7, -0.55, 0.02, 0.004, 0.002, 0.0, 0.0, 0.0, 0.0]],
        json_schema_extra={"x-unit": "mass_flow_unit"},
    )
    mass_flow_unit: MassFlowUnit = Field(description="Unit of the mass flow.", examples=["lb/h"])
    temperature_unit: Literal["degF", "degC"] = Field(description="Unit of the two temperatures.", examples=["degF"])
    suction_superheat: quantity(TemperatureDifference) | None = Field(  # type: ignore[valid-type]
        default=None,
        description="Superheat at the compressor for which the map holds. Give this or `suction_temperature`.",
        examples=[20.0],
        json_schema_extra={"x-unit": "delta_degF"},
    )
    suction_temperature: quantity(Temperature) | None = Field(  # type: ignore[valid-type]
        default=None,
        description="Constant return gas temperature for which the map holds.",
        examples=[65.0],
        json_schema_extra={"x-unit": "degF"},
    )


Stage = TypeAliasType("Stage", Annotated[Literal["low", "high"], Field(description="Stage of a two-stage unit.")])


ModeOfRow = TypeAliasType(
    "ModeOfRow", Annotated[Literal["cooling", "heating"], Field(description="Mode that a row of a table is for.")]
)


class PerformanceRow(Model):
    """One row of the maker's performance or charging table: conditions, and what the unit does there.

    Only the outdoor air and at least one output are needed.
    """

    mode: ModeOfRow | None = Field(
        default=None, description="Mode of the row. Default: `unit.mode`.", examples=["heating"]
    )
    stage: Stage | None = Field(
        default=None,
        description="Stage of the row, for a two-stage unit. Default: the row holds for the stage that ran.",
        examples=["high"],
    )
    outdoor_air_dry_bulb: quantity(Temperature) = Field(  # type: ignore[valid-type]
        description="Air entering the outdoor coil.", examples=[47.0], json_schema_extra={"x-unit": "degF"}
    )
    return_air_dry_bulb: quantity(Temperature) | None = Field(  # type: ignore[valid-type]
        default=None,
        description="Return air, dry bulb. Default: the row holds at any dry bulb.",
        examples=[70.0],
        json_schema_extra={"x-unit": "degF"},
    )
    return_air_wet_bulb: quantity(Temperature) | None = Field(  # type: ignore[valid-type]
        default=None,
        description="Return air, wet bulb (cooling). Default: the row holds at any wet bulb.",
        examples=[67.0],
        json_schema_extra={"x-unit": "degF"},
    )
    airflow: quantity(Airflow) | None = Field(  # type: ignore[valid-type]
        default=None,
        description="Indoor airflow. Default: the row holds at any airflow.",
        examples=[1050.0],
        json_schema_extra={"x-unit": "cfm"},
    )
    capacity: quantity(HeatFlow) | None = Field(  # type: ignore[valid-type]
        default=None,
        description="Net capacity: total cooling capacity, or heating capacity without auxiliary heat.",
        examples=[29000.0],
        json_schema_extra={"x-unit": "Btu/h"},
    )
    power: quantity(Power) | None = Field(  # type: ignore[valid-type]
        default=None,
        description="Total power: outdoor and indoor unit, without auxiliary heat.",
        examples=[2250.0],
        json_schema_extra={"x-unit": "W"},
    )
    suction_pressure: quantity(Pressure) | None = Field(  # type: ignore[valid-type]
        default=None,
        description="Suction pressure.",
        examples=[99.0],
        json_schema_extra={"x-unit": "psi gauge"},
    )
    liquid_pressure: quantity(Pressure) | None = Field(  # type: ignore[valid-type]
        default=None,
        description="Liquid pressure.",
        examples=[310.0],
        json_schema_extra={"x-unit": "psi gauge"},
    )
    subcooling: quantity(TemperatureDifference) | None = Field(  # type: ignore[valid-type]
        default=None,
        description="Subcooling.",
        examples=[13.0],
        json_schema_extra={"x-unit": "delta_degF"},
    )
    discharge_line_temperature: quantity(Temperature) | None = Field(  # type: ignore[valid-type]
        default=None,
        description="Discharge line.",
        examples=[150.0],
        json_schema_extra={"x-unit": "degF"},
    )


class DesignLoad(Model):
    """The building's heat loss in winter, for the balance point and the auxiliary heat needed."""

    heat_loss: quantity(HeatFlow) = Field(  # type: ignore[valid-type]
        description="Heat loss of the building at the design outdoor temperature.",
        examples=[30000.0],
        json_schema_extra={"x-unit": "Btu/h"},
    )
    outdoor_air_dry_bulb: quantity(Temperature) = Field(  # type: ignore[valid-type]
        description="Design outdoor temperature at which `heat_loss` holds.",
        examples=[10.0],
        json_schema_extra={"x-unit": "degF"},
    )
    zero_load_temperature: quantity(Temperature) | None = Field(  # type: ignore[valid-type]
        default=None,
        description="Outdoor temperature at which the building needs no heat. Default: 65 °F, and the answer says so.",
        examples=[65.0],
        json_schema_extra={"x-unit": "degF"},
    )


IndoorUnit = TypeAliasType(
    "IndoorUnit",
    Annotated[Literal["furnace_with_coil", "air_handler"], Field(description="Kind of indoor unit.")],
)


Circuits = TypeAliasType("Circuits", Annotated[Literal[1, 2], Field(description="Number of refrigerant circuits.")])


class Unit(Model):
    """The split system."""

    refrigerant: StrictText | None = Field(
        default=None,
        min_length=1,
        max_length=30,
        description="ASHRAE designation, see `GET /v1/refrigerants`.",
        examples=["R-410A"],
    )
    metering_device: MeteringDevice | None = Field(
        default=None,
        description="The metering device. It decides which charge target applies.",
        examples=["thermostatic_expansion_valve"],
    )
    ducted: StrictBoolean = Field(
        default=True,
        description="False for a ductless unit. The target temperature split applies to ducted units.",
        examples=[True],
    )
    capacity_control: Literal["single_speed", "two_stage", "variable_speed"] = Field(
        default="single_speed",
        description="How the unit sets its capacity. A rating and its targets hold for full capacity: state "
        "`run.stage` of a two-stage unit, and run a variable-speed unit in the maker's test mode "
        "(`run.test_mode`) or at full speed (`run.speed_percent`). If neither is stated, nothing is compared "
        "with a rating.",
        examples=["single_speed"],
    )
    mode: Literal["cooling", "heating"] = Field(
        default="cooling",
        description="Mode during the run. Charge and split targets are for cooling. In heating, readings keep their "
        "places on the unit; see each reading.",
        examples=["cooling"],
    )
    circuits: Circuits = Field(
        default=1,
        description="Refrigerant circuits that share the indoor coil's air. One circuit is assessed at a time: "
        "give the readings of one circuit. With 2, the air, the rating and the power of the whole unit are not "
        "applied to that circuit.",
        examples=[1],
        json_schema_extra={"x-unit": "1"},
    )
    rated: Rated | None = Field(
        default=None, description="Rated performance.", examples=[{"cooling_capacity": 36000.0}]
    )
    nameplate: Nameplate | None = Field(
        default=None, description="Nameplate data.", examples=[{"voltage": 230, "frequency": 60}]
    )
    blower_table: list[BlowerPoint] | None = Field(
        default=None,
        min_length=2,
        max_length=40,
        description="Airflow against external static pressure at the blower speed in use, from the "
        "maker's data. Pressures in ascending order.",
        examples=[
            [
                {"external_static_pressure": 0.3, "airflow": 1310},
                {"external_static_pressure": 0.5, "airflow": 1210},
                {"external_static_pressure": 0.8, "airflow": 1030},
            ]
        ],
    )
    coil_pressure_drop_rating: RatedPoint | None = Field(
        default=None,
        description="A rated point of the indoor coil, wet.",
        examples=[{"airflow": 1200, "pressure_drop": 0.22}],
    )
    filter_pressure_drop_rating: RatedPoint | None = Field(
        default=None,
        description="A rated point of the clean filter.",
        examples=[{"airflow": 1200, "pressure_drop": 0.12}],
    )
    indoor_unit: IndoorUnit | None = Field(
        default=None,
        description="Kind of indoor unit. The pressure drop of a coil on a furnace is part of the external "
        "static pressure; that of a coil inside an air handler is not.",
        examples=["furnace_with_coil"],
    )
    line_set: LineSet | None = Field(
        default=None,
        description="The refrigerant lines between the indoor and the outdoor unit.",
        examples=[{"length": 50, "lift": 10, "insulated": True}],
    )
    compressor_map: CompressorMap | None = Field(
        default=None,
        description="The compressor's map, if you have it.",
        examples=[
            {
                "mass_flow": [137.0, 2.7, -0.55, 0.02, 0.004, 0.002, 0.0, 0.0, 0.0, 0.0],
                "mass_flow_unit": "lb/h",
                "temperature_unit": "degF",
                "suction_superheat": 20.0,
            }
        ],
    )
    furnace_efficiency: Number | None = number(
        0.4, 1.0, "1", 0.8, "Steady-state efficiency of the furnace, for the heat test."
    )
    performance_table: list[PerformanceRow] | None = Field(
        default=None,
        min_length=1,
        max_length=400,
        description="The maker's performance or charging table for this unit, in either mode, in any order. Where the "
        "conditions of the run lie within it, it replaces the values usual for such units.",
        examples=[
            [
                {"mode": "heating", "outdoor_air_dry_bulb": 47, "capacity": 29000, "power": 2250},
                {"mode": "heating", "outdoor_air_dry_bulb": 17, "capacity": 18200, "power": 2080},
            ]
        ],
    )
    design_load: DesignLoad | None = Field(
        default=None,
        description="The building's heat loss in winter, for the balance point in heating.",
        examples=[{"heat_loss": 30000, "outdoor_air_dry_bulb": 10}],
    )


class Site(Model):
    """Where the unit is."""

    altitude: quantity(Altitude) | None = Field(  # type: ignore[valid-type]
        default=None,
        description="Height above sea level, which sets the air pressure. Default: sea level, and the answer says so.",
        examples=[980.0],
        json_schema_extra={"x-unit": "ft"},
    )
    barometric_pressure: quantity(AbsolutePressureReading) | None = Field(  # type: ignore[valid-type]
        default=None,
        description="Measured air pressure at the site (not reduced to sea level). Used instead of the altitude.",
        examples=[14.2],
        json_schema_extra={"x-unit": "psia"},
    )
    outdoor_unit_on_roof: StrictBoolean = Field(
        default=False, description="Raises the caution on work at height.", examples=[False]
    )


class CapacityOfRun(Model):
    """The capacity at which the unit runs."""

    stage: Stage | None = Field(
        default=None,
        description="Stage that ran; for a two-stage unit only. Without it, nothing is compared with the rating.",
        examples=["high"],
    )
    speed_percent: Number | None = number(
        0,
        150,
        "%",
        100.0,
        "Compressor speed that the unit displays, in percent of its rated speed; for a variable-speed unit only. "
        "From 95 to 105 the rating applies.",
        above=True,
    )
    test_mode: StrictBoolean = Field(
        default=False,
        description="True if the maker's charging or test mode held the speed; for a variable-speed unit only. "
        "Subcooling is then judged against the nameplate's target.",
        examples=[True],
    )


class Run(CapacityOfRun):
    """One run of readings."""

    taken_at: Instant | None = Field(
        default=None,
        description="When the readings were taken, ISO 8601.",
        examples=["2026-07-14T14:05:00-05:00"],
    )
    minutes_running: Number | None = number(
        0, 100000, "min", 20.0, "Minutes that the unit had run without a stop before the readings."
    )
    minutes_since_defrost: Number | None = number(
        0,
        100000,
        "min",
        20.0,
        "Heating: minutes since the last defrost ended. Readings within five minutes are not usable; from 15 minutes "
        "the defrost no longer matters.",
    )
    defrosting: StrictBoolean | None = Field(
        default=None,
        description="Heating: true if the unit was defrosting during the readings, which are then not usable.",
        examples=[False],
    )
    frost_on_outdoor_coil: StrictBoolean | None = Field(
        default=None,
        description="Heating: true if the outdoor coil was covered with frost or ice.",
        examples=[False],
    )
    auxiliary_heat_on: StrictBoolean | None = Field(
        default=None,
        description="Heating: whether auxiliary heat (electric strips, a furnace) ran during the readings. Default: as "
        "`auxiliary_heat_power` or `auxiliary_heat_current` shows, else off. If it is on and its power is not "
        "known, the air side gives neither capacity nor COP of the heat pump; the refrigerant side still may.",
        examples=[False],
    )
    work: list[Work] = Field(
        default_factory=list,
        max_length=10,
        description="Work done or planned at this visit. It raises the matching cautions.",
        examples=[["coil_cleaning"]],
    )
    airflow_measured_at: Literal["return", "supply"] = Field(
        default="return",
        description="Where `airflow` and its temperature were taken.",
        examples=["return"],
    )
    heat_test_at_cooling_speed: StrictBoolean = Field(
        default=False,
        description="True if the blower ran at its cooling speed in the heat test. Otherwise the airflow "
        "of that test is shown, but not used for cooling.",
        examples=[False],
    )
    log: Log | None = Field(
        default=None,
        description="Readings as a logger took them over time. Readings taken once go under `readings`.",
        examples=[
            {
                "start": "compressor_on",
                "seconds": [0, 300, 600, 900],
                "readings": {"suction_pressure": {"values": [131.0, 126.4, 124.3, 124.1], "unit": "psi"}},
            }
        ],
    )
    readings: Readings = Field(
        default_factory=Readings,
        description="The readings. All of them are optional. Leave the object out only where `log` is given.",
        examples=[{"suction_pressure": 124.0, "suction_line_temperature": 55.5}],
    )


class Usage(Model):
    """How much the unit runs and what energy costs, for estimates of energy and money."""

    cooling_hours: Number | None = number(
        0, 8760, "h", 1200.0, "Equivalent full-load cooling hours in a year.", above=True
    )
    heating_hours: Number | None = number(
        0,
        8760,
        "h",
        1500.0,
        "Equivalent full-load heating hours in a year, at the rated capacity at 47 °F.",
        above=True,
    )
    energy_price: Number | None = number(
        0, 1e6, "currency/kWh", 0.17, "Price of a kilowatt-hour, in your own currency."
    )


class Options(Model):
    """Options of the computation."""

    draws: Draws = Field(
        default=256,
        description="Number of draws of the low-discrepancy sample behind every band: points and their "
        "mirror images. More draws sharpen the ends of the bands of strongly non-linear quantities.",
        examples=[256],
        json_schema_extra={"x-unit": "1"},
    )


Label = Annotated[StrictText, Field(min_length=1, max_length=80, pattern=r"^[^\x00-\x1f\x7f]+$")]


def label(description: str, example: str) -> Any:  # noqa: ANN401
    """An optional text that a page shows as given."""
    return Field(default=None, description=description, examples=[example])


class Labels(Model):
    """Labels for a report: who and what it is about. Shown as given; nothing is computed from them or
    stored."""

    visit: Label | None = label("The visit or work order.", "Work order 1042")
    unit: Label | None = label("The unit: its tag, model or serial number.", "Unit 2, north roof")
    site: Label | None = label("Where the unit is.", "Corner shop, rear yard")
    customer: Label | None = label("Who the report is for.", "The shop's owner")
    technician: Label | None = label("Who took the readings.", "Technician 7")
    company: Label | None = label("The service company.", "An invented service company")


Kit = TypeAliasType(
    "Kit",
    Annotated[
        dict[InstrumentName, Instrument],
        Field(
            max_length=16,
            description="Instruments, each under a name of your own. Their order has no effect.",
        ),
        ByName(),
    ],
)


class UnitRequest(Model):
    """What every request says about the unit, the site and the instruments."""

    units: UnitSystem = Field(
        description="Unit system of bare numbers and of the answer. There is no default.",
        examples=["imperial"],
    )
    unit: Unit = Field(
        default_factory=Unit,
        description="The split system.",
        examples=[{"refrigerant": "R-410A", "metering_device": "thermostatic_expansion_valve"}],
    )
    site: Site = Field(default_factory=Site, description="Where the unit is.", examples=[{"altitude": 980}])
    kit: Kit = Field(
        default_factory=dict,
        description="The instruments, each under a name of your own. An instrument used in several runs "
        "has the same calibration error in all of them, and that error cancels in a change. A reading whose "
        "instrument is not in the kit counts as taken with a different one each time.",
        examples=[{"gauges": {"type": "pressure_transducer"}}],
    )
    labels: Labels | None = Field(
        default=None,
        description="Texts that a report shows: whose unit it is, and who took the readings.",
        examples=[{"visit": "Work order 1042", "unit": "Unit 2, north roof"}],
    )


class AssessmentRequest(UnitRequest):
    """One visit: the unit, the instruments, the site, one run of readings."""

    run: Run = Field(description="One run of readings.", examples=[{"readings": {}}])
    usage: Usage = Field(
        default_factory=Usage,
        description="Hours and price, for estimates of energy and money.",
        examples=[{"cooling_hours": 1200, "energy_price": 0.17}],
    )
    options: Options = Field(
        default_factory=Options,
        description="Options of the computation.",
        examples=[{"draws": 256}],
    )


# ---------------------------------------------------------------- answer


class Band(Answer):
    """The interval that holds the true value with the stated probability."""

    low: Annotated[float, fact("Lower end.", 11.2, "as value")]
    high: Annotated[float, fact("Upper end.", 14.8, "as value")]
    coverage: Annotated[float, fact("Probability that the band holds the true value.", 0.95, "1", ge=0, le=1)]


class _Estimated(Answer):
    value: Annotated[float, fact("Best estimate, in `unit`.", 13.0, "as unit")]
    unit: Annotated[str, fact("Unit of value, uncertainty and band.", "delta_degF")]
    standard_uncertainty: Annotated[float, fact("Standard uncertainty (JCGM 100).", 0.9, "as unit", ge=0)]
    band: Annotated[Band, fact("95 % band.", {"low": 11.2, "high": 14.8, "coverage": 0.95})]


# A class cannot have a field `from`: it is a keyword.
_From = TypedDict(
    "_From",
    {
        "from": Annotated[
            list[str],
            fact(
                "Readings and request fields that it was computed from.",
                ["suction_pressure", "suction_line_temperature"],
            ),
        ]
    },
)


class DerivedValue(_Estimated, _From):
    """One derived quantity."""

    variance_shares: Annotated[
        dict[str, float],
        fact(
            "Share of the variance that each instrument contributes, largest first. They add up to 1. `settling` is "
            "what the start may have left in the readings.",
            {"gauges": 0.2, "clamps": 0.8},
            "1",
        ),
    ]
    method: Annotated[str, fact("How it was computed.", "suction line minus dew temperature")]
    source: Annotated[str, fact("Where the method comes from.", "Definition of the quantity")]


LimitBasis = TypeAliasType(
    "LimitBasis",
    Annotated[
        Literal["published_procedure", "standard", "nameplate", "common_practice"],
        Field(description="What kind of limit it is."),
    ],
)


class Limit(Answer):
    """A limit with its source, in the caller's units."""

    id: Annotated[str, fact("Stable name, see `GET /v1/limits`.", "subcooling_nameplate")]
    lower: Annotated[float | None, fact("Lower limit, null for none.", 6.0, "as unit")]
    upper: Annotated[float | None, fact("Upper limit, null for none.", 12.0, "as unit")]
    unit: Annotated[str, fact("Unit of the limits.", "delta_degF")]
    basis: Annotated[LimitBasis, fact("What kind of limit it is.", "nameplate")]
    source: Annotated[str, fact("The document.", "2008 Residential Appendices, RA3")]


Grade = TypeAliasType(
    "Grade",
    Annotated[
        Literal["conforming", "nonconforming", "inconclusive", "not_assessed"],
        Field(description="Outcome of a conformity decision (JCGM 106)."),
    ],
)
Priority = TypeAliasType(
    "Priority",
    Annotated[
        Literal["safety", "act", "look_closer", "better_instrument", "none"],
        Field(description="What a finding calls for."),
    ],
)


class Finding(Answer):
    """One quantity against one limit (a conformity decision, JCGM 106)."""

    quantity: Annotated[str, fact("Name of the derived value.", "subcooling")]
    grade: Annotated[Grade, fact("The decision.", "inconclusive")]
    probability_conforming: Annotated[
        float | None,
        fact(
            "Probability that the true value is within the limit; null where not assessed.",
            0.81,
            "1",
        ),
    ]
    limit: Annotated[Limit | None, fact("The limit; null where none could be set.", None)]
    priority: Annotated[
        Priority,
        fact(
            "What the finding calls for, most pressing first: safety, act, look_closer, better_instrument (on "
            "target, but the instruments cannot confirm it), none.",
            "none",
        ),
    ]
    condition_not_met: Annotated[
        str | None,
        fact(
            "What the limit's published procedure asks for and was not done, in words, such as the minutes of running; "
            "null where nothing is known to be missing. The grade holds for the band as it is; on its own it is no "
            "reason to act.",
            None,
        ),
    ]
    sentence: Annotated[str, fact("The finding in plain words.", "Subcooling is 9.8 °F ...")]


class Notice(Answer):
    """Something that the reader must know about the readings."""

    code: Annotated[str, fact("Stable name.", "steady_state_not_shown")]
    weight: Annotated[
        Literal["note", "reservation", "disqualifying"],
        fact(
            "note: for information. reservation: the readings are improbable or unproven. disqualifying: the "
            "findings named in the sentence are not assessed.",
            "reservation",
        ),
    ]
    readings: Annotated[list[str], fact("The readings concerned.", ["minutes_running"])]
    sentence: Annotated[str, fact("The notice in plain words.", "...")]
    source: Annotated[str, fact("Where the check comes from.", "...")]


UsabilityGrade = TypeAliasType(
    "UsabilityGrade",
    Annotated[
        Literal["usable", "usable_with_reservations", "not_usable"],
        Field(description="Whether a reading set can be used."),
    ],
)


class SettlesIn(Answer):
    """When the readings of a growing log will have settled."""

    seconds: Annotated[float, fact("Seconds after the last row; 0 where they have settled.", 180.0, "s", ge=0)]
    band: Annotated[Band, fact("95 % band, in seconds.", {"low": 90.0, "high": 420.0, "coverage": 0.95})]
    sentence: Annotated[str, fact("The same in plain words.", "Keep the unit running for about 3 more minutes.")]


class Usability(Answer):
    """Whether the reading set can be used."""

    grade: Annotated[UsabilityGrade, fact("`not_usable`: some limits were not applied; the notices say why.", "usable")]
    notices: Annotated[list[Notice], fact("What was noticed, weightiest first.", [])]
    settles_in: Annotated[
        SettlesIn | None,
        fact("When the readings of a log will have settled; null without a log, or where that is not known.", None),
    ]


class Caution(Answer):
    """A safety caution. It never replaces local code, the maker's instructions or training."""

    id: Annotated[str, fact("Stable name, see `GET /v1/cautions`.", "stored_charge")]
    signal_word: Annotated[
        Literal["danger", "warning", "caution", "notice"], fact("Signal word in the sense of ANSI Z535.6.", "danger")
    ]
    condition: Annotated[str, fact("What raised it.", "A capacitor reading was given.")]
    text: Annotated[str, fact("The hazard and how to avoid it.", "...")]
    deferral: Annotated[str, fact("Which rules come first.", "...")]
    source: Annotated[str, fact("Where it comes from.", "...")]


class Unlock(Answer):
    """Fields that would make a missing value derivable."""

    add: Annotated[list[str], fact("Request fields to add, all of them.", ["run.readings.suction_pressure"])]


class Missing(Answer):
    """A quantity that could not be derived."""

    quantity: Annotated[str, fact("Name of the derived value.", "subcooling")]
    reason: Annotated[str, fact("Why.", "...")]
    unlock: Annotated[list[Unlock], fact("Ways to get it, cheapest first.", [])]


class NextReading(Answer):
    """Fields to add, and everything that they would unlock."""

    add: Annotated[list[str], fact("Request fields to add, all of them.", ["run.readings.liquid_pressure"])]
    unlocks: Annotated[
        list[str],
        fact(
            "Derived values that become available; none where the entry only settles a doubt that a notice reports.",
            ["subcooling"],
        ),
    ]


class Estimate(Answer):
    """A value and its band."""

    value: Annotated[float, fact("Best estimate, in the unit next to it.", 35200.0, "as unit")]
    band: Annotated[Band, fact("95 % band.", {"low": 32100.0, "high": 38300.0, "coverage": 0.95})]


class Balance(Answer):
    """Two independent ways to one quantity."""

    quantity: Annotated[str, fact("The quantity that both give.", "cooling_capacity")]
    first: Annotated[str, fact("One way.", "cooling_capacity_air_side")]
    second: Annotated[str, fact("The other way.", "cooling_capacity_refrigerant_side")]
    difference_percent: Annotated[float, fact("Second divided by first, minus one.", -6.1, "%")]
    standard_uncertainty_percent: Annotated[float, fact("Standard uncertainty of that difference.", 8.4, "%", ge=0)]
    probability: Annotated[
        float,
        fact(
            "Probability of a difference at least this large from the stated accuracies alone.",
            0.47,
            "1",
            ge=0,
            le=1,
        ),
    ]


class Suspect(Answer):
    """A reading, or an assumption, that would explain the disagreement if it were wrong."""

    name: Annotated[str, fact("The reading, or `assumption: ...`.", "supply_air_wet_bulb")]
    correction: Annotated[float, fact("What would have to be added to the reading.", -2.1, "as unit")]
    unit: Annotated[str, fact("Unit of the correction.", "delta_degF")]
    deviations: Annotated[
        float, fact("That correction divided by the reading's stated standard uncertainty.", -3.2, "1")
    ]
    statistic: Annotated[
        float,
        fact(
            "Fall of the test statistic if this reading alone were wrong (generalised likelihood ratio).",
            11.8,
            "1",
            ge=0,
        ),
    ]
    tells_apart: Annotated[bool, fact("False where another candidate explains the balances equally well.", True)]
    sentence: Annotated[str, fact("In plain words.", "...")]


class ReconciledQuantity(Answer):
    """One quantity as read, reconciled with all readings, and without the prime suspect."""

    unit: Annotated[str, fact("Unit of all values.", "Btu/h")]
    as_read: Annotated[
        Estimate,
        fact(
            "From its most trusted way alone.",
            {"value": 1.0, "band": {"low": 0.9, "high": 1.1, "coverage": 0.95}},
        ),
    ]
    reconciled: Annotated[
        Estimate,
        fact(
            "Reconciled with every balance; the same number as under `derived`.",
            {"value": 1.0, "band": {"low": 0.9, "high": 1.1, "coverage": 0.95}},
        ),
    ]
    without_suspect: Annotated[
        Estimate | None,
        fact(
            "Computed again without the prime suspect; null where there is none, or where it is needed.",
            {"value": 1.0, "band": {"low": 0.9, "high": 1.1, "coverage": 0.95}},
        ),
    ]


class ReconciledReading(Answer):
    """A reading as given, and as reconciled with the balances."""

    unit: Annotated[str, fact("Unit of both values.", "degF")]
    as_read: Annotated[float, fact("As given.", 55.5, "as unit")]
    reconciled: Annotated[
        Estimate,
        fact(
            "Reconciled with the balances.",
            {"value": 1.0, "band": {"low": 0.9, "high": 1.1, "coverage": 0.95}},
        ),
    ]


class Reconciliation(Answer):
    """Whether independent ways to the same quantities agree within the instruments' accuracies.

    Least squares with the errors' structure (data reconciliation); a chi-square test of all balances
    together; where it fails, the bands of what takes part are widened by `widened_by`, and beyond a
    factor of 5 nothing is reconciled.
    """

    verdict: Annotated[
        Literal["consistent", "inconsistent", "not_testable"],
        fact("`not_testable`: no quantity can be derived in two independent ways.", "consistent"),
    ]
    balances: Annotated[list[Balance], fact("The balances.", [])]
    statistic: Annotated[float | None, fact("Chi-square of all balances together.", 2.1, "1")]
    degrees_of_freedom: Annotated[int, fact("Number of independent balances.", 3, "1", ge=0)]
    probability: Annotated[float | None, fact("Probability of a statistic this large by chance.", 0.55, "1")]
    widened_by: Annotated[float, fact("Factor on the uncertainty of the values that disagree.", 1.0, "1", ge=1)]
    suspects: Annotated[list[Suspect], fact("What may be wrong, likeliest first.", [])]
    quantities: Annotated[dict[str, ReconciledQuantity], fact("Quantities before and after.", {})]
    readings: Annotated[dict[str, ReconciledReading], fact("Readings before and after.", {})]
    sentence: Annotated[str, fact("The outcome in plain words.", "...")]


class InstrumentUsed(Answer):
    """The instrument behind a reading, and the uncertainty that it gives the reading."""

    instrument: Annotated[str, fact("Name in the kit, or `assumed:` and a type.", "gauges")]
    type: Annotated[str, fact("Instrument type.", "pressure_transducer")]
    standard_uncertainty: Annotated[float, fact("Standard uncertainty of the reading.", 1.2, "as unit", ge=0)]
    unit: Annotated[str, fact("Unit of the uncertainty.", "psi")]
    source: Annotated[str, fact("Where its accuracy comes from.", "stated in the request")]


class Provenance(Answer):
    """What computed this answer. The same request gives the same bytes."""

    service: Annotated[str, fact("Version of the service.", "0.1.0")]
    refrigerant_model: Annotated[str | None, fact("Model behind the refrigerant.", "CoolProp 8.0.0, ...")]
    draws: Annotated[int, fact("Number of draws behind every band.", 256, "1", ge=1)]
    method: Annotated[str, fact("How bands are made.", "JCGM 101 propagation ...")]


class AssessmentVerdicts(Answer):
    """What was judged of a visit, with its sentences, without the values behind it: `detail=verdicts`."""

    units: Annotated[UnitSystem, fact("Unit system of this answer.", "imperial")]
    usability: Annotated[Usability, fact("Whether the reading set can be used.", {"grade": "usable", "notices": []})]
    findings: Annotated[list[Finding], fact("Findings, most pressing first.", [])]
    cautions: Annotated[list[Caution], fact("Cautions, gravest first; always at least one.", [])]
    next_readings: Annotated[
        list[NextReading],
        fact(
            "What to add next: at most five sets of fields, those that unlock most for the least effort first.",
            [],
        ),
    ]
    provenance: Annotated[
        Provenance,
        fact(
            "What computed this answer.",
            {
                "service": "0.1.0",
                "refrigerant_model": "CoolProp 8.0.0",
                "draws": 256,
                "method": "JCGM 101 propagation",
            },
        ),
    ]


class Assessment(AssessmentVerdicts):
    """The graded assessment of one visit."""

    derived: Annotated[dict[str, DerivedValue], fact("Derived values by name.", {})]
    reconciliation: Annotated[
        Reconciliation,
        fact(
            "Whether the readings agree with each other.",
            {
                "verdict": "not_testable",
                "balances": [],
                "statistic": None,
                "degrees_of_freedom": 0,
                "probability": None,
                "widened_by": 1.0,
                "suspects": [],
                "quantities": {},
                "readings": {},
                "sentence": "...",
            },
        ),
    ]
    missing: Annotated[list[Missing], fact("What could not be derived, and what would unlock it.", [])]
    log: Annotated[LogAnswer | None, fact("What the log of the run says; null where none was given.", None)]
    instruments: Annotated[dict[str, InstrumentUsed], fact("The instrument behind each reading.", {})]
