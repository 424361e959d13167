"""`POST /v1/assessments`: one visit's readings in, a graded assessment out."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated, Any, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field

from schemas.quantities import (
    AbsolutePressureReading,
    Altitude,
    HeatFlow,
    InstrumentName,
    Model,
    Number,
    PressureReading,
    StaticPressure,
    StrictBoolean,
    StrictText,
    TemperatureDifference,
    UnitSystem,
    quantity,
)
from schemas.readings import Readings

# ---------------------------------------------------------------- request

InstrumentTypeName = Literal[
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
]

MeteringDevice = Literal[
    "thermostatic_expansion_valve",
    "electronic_expansion_valve",
    "fixed_orifice",
    "capillary_tube",
]

Work = Literal[
    "readings_only",
    "coil_cleaning",
    "refrigerant_circuit_opening",
    "charge_adjustment",
    "capacitor_replacement",
    "electrical_repair",
    "filter_change",
]

AccuracyUnit = Literal[
    "delta_degF", "delta_degC", "K", "psi", "kPa", "bar", "MPa", "inHg", "Pa", "inH2O",
    "A", "V", "W", "kW", "%", "cfm", "m3/h", "m3/s", "L/s", "1", "lb/h", "kg/h", "kg/s",
]  # fmt: skip


def _instant(value: object) -> object:
    if isinstance(value, str | datetime) or value is None:
        return value
    raise ValueError("an ISO 8601 date and time in a string is expected")


Instant = Annotated[datetime, BeforeValidator(_instant)]


def number(
    low: float, high: float, unit: str, example: float, description: str, *, above: bool = False
) -> Any:  # noqa: ANN401
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
    """What an instrument's data sheet states; the parts add up to a limit of error."""

    percent_of_reading: Number | None = number(0, 50, "%", 1.0, "Percent of the number shown.")
    percent_of_span: Number | None = number(0, 50, "%", 0.5, "Percent of `span`.")
    span: Number | None = number(
        0, 1e7, "unit", 500.0, "Full scale, in `unit`; needed with `percent_of_span`.", above=True
    )
    fixed: Number | None = number(0, 1e6, "unit", 0.9, "A fixed limit of error, in `unit`.")
    counts: Number | None = number(
        0, 1000, "1", 3.0, "Last-digit counts; multiplied by `resolution`."
    )
    resolution: Number | None = number(
        0, 1e6, "unit", 0.1, "Step of the display, in `unit`; left out: the type's default."
    )
    unit: AccuracyUnit | None = Field(
        default=None,
        description="Unit of span, fixed and resolution. Left out: the declared unit system's "
        "unit for what the instrument measures (a difference for temperatures).",
        examples=["psi"],
    )
    coverage: Literal["limits", "two_standard_deviations", "one_standard_deviation"] = Field(
        default="limits",
        description="What the stated accuracy means: limits never exceeded (a rectangular "
        "distribution, JCGM 100 4.3.7), two standard deviations (about 95 %, normal) or one.",
        examples=["limits"],
    )


class Instrument(Model):
    """One instrument of the kit. Its type brings default accuracies; state your own if known."""

    type: InstrumentTypeName = Field(
        description="Type of instrument, see `GET /v1/instruments`.",
        examples=["pressure_transducer"],
    )
    accuracy: Accuracy | None = Field(
        default=None,
        description="Own accuracy for what this type mainly measures (the first of its list in "
        "`GET /v1/instruments`). Replaces the type's calibration accuracy.",
        examples=[{"percent_of_reading": 1.0}],
    )
    accuracies: dict[StrictText, Accuracy] | None = Field(
        default=None,
        max_length=10,
        description="Own accuracy for each class of reading, by name (`voltage`, `current` ...).",
        examples=[{"voltage": {"percent_of_reading": 1.0, "counts": 3, "resolution": 0.1}}],
    )
    repeatability: Number | None = number(
        0, 1e6, "unit", 0.2, "Standard deviation of repeated readings, in the accuracy's unit."
    )
    shares_calibration: StrictBoolean | None = Field(
        default=None,
        description="True: one sensor made all its readings, so they share one calibration "
        "error. False: a sensor for each reading. Left out: as usual for the type.",
        examples=[True],
    )
    open_to_air_reading: quantity(PressureReading) | None = Field(  # type: ignore[valid-type]
        default=None,
        description="What the gauge shows when open to the air, before it is connected: tells "
        "whether it was zeroed.",
        examples=[0.0],
        json_schema_extra={"x-unit": "psi gauge"},
    )


class Capacitor(Model):
    """A run capacitor's marking."""

    microfarads: Number = Field(
        gt=0, le=500, description="Rated capacitance.", examples=[45.0],
        json_schema_extra={"x-unit": "uF"},
    )  # fmt: skip
    tolerance_percent: Number | None = number(
        0, 50, "%", 6.0, "Marked tolerance, either way. Left out: ±6 %, and the answer says so.",
        above=True,
    )  # fmt: skip


class Capacitors(Model):
    """Run capacitors by the motor that they serve."""

    compressor: Capacitor | None = Field(
        default=None, description="Compressor run capacitor.", examples=[{"microfarads": 45}]
    )
    outdoor_fan: Capacitor | None = Field(
        default=None, description="Outdoor fan run capacitor.", examples=[{"microfarads": 5}]
    )
    indoor_blower: Capacitor | None = Field(
        default=None, description="Indoor blower run capacitor.", examples=[{"microfarads": 10}]
    )


class Nameplate(Model):
    """What the unit's nameplate says."""

    voltage: Number | None = number(
        100, 600, "V", 230.0, "Rated voltage (230 for a 208/230 V unit on 240 V supply)."
    )
    nominal_supply_voltage: Number | None = number(
        100,
        600,
        "V",
        240.0,
        "Nominal voltage of the building's supply system (208 or 240 for a 208/230 V unit); needed "
        "to judge the supply by ANSI C84.1, which is for 60 Hz systems.",
    )
    lowest_voltage: Number | None = number(
        80,
        600,
        "V",
        207.0,
        "Lowest voltage that the nameplate allows (197 on many 208/230 V units). Left out: 90 % of "
        "`voltage`.",
    )
    highest_voltage: Number | None = number(
        80,
        660,
        "V",
        253.0,
        "Highest voltage that the nameplate allows. Left out: 110 % of `voltage`.",
    )
    phases: Literal[1, 3] | None = Field(
        default=None,
        description="Number of phases. Left out: three where three-phase readings are given, else "
        "one.",
        examples=[1],
    )
    frequency: Literal[50, 60] | None = Field(
        default=None,
        description="Supply frequency; needed for capacitors.",
        examples=[60],
        json_schema_extra={"x-unit": "Hz"},
    )
    compressor_rated_load_amps: Number | None = number(
        0, 400, "A", 16.2, "Compressor rated-load amps (RLA).", above=True
    )
    outdoor_fan_full_load_amps: Number | None = number(
        0, 100, "A", 1.2, "Outdoor fan full-load amps (FLA).", above=True
    )
    indoor_blower_full_load_amps: Number | None = number(
        0, 100, "A", 4.3, "Indoor blower full-load amps (FLA).", above=True
    )
    subcooling: quantity(TemperatureDifference) | None = Field(  # type: ignore[valid-type]
        default=None,
        description="Target subcooling. A bare number is in the declared unit system.",
        examples=[9.0],
        json_schema_extra={"x-unit": "delta_degF"},
    )
    maximum_external_static_pressure: quantity(StaticPressure) | None = Field(  # type: ignore[valid-type]
        default=None,
        description="Rated external static pressure of the indoor unit.",
        examples=[0.5],
        json_schema_extra={"x-unit": "inH2O"},
    )
    capacitors: Capacitors | None = Field(
        default=None,
        description="Run capacitors.",
        examples=[{"compressor": {"microfarads": 45, "tolerance_percent": 6}}],
    )


class Rated(Model):
    """Rated performance."""

    cooling_capacity: quantity(HeatFlow) | None = Field(  # type: ignore[valid-type]
        default=None,
        description="Rated cooling capacity.",
        examples=[36000.0],
        json_schema_extra={"x-unit": "Btu/h"},
    )
    eer: Number | None = number(
        2, 30, "Btu/(W h)", 11.4, "Rated energy-efficiency ratio at 95 °F outdoors."
    )


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
        description="Decides which charge target applies.",
        examples=["thermostatic_expansion_valve"],
    )
    ducted: StrictBoolean = Field(
        default=True,
        description="False for a ductless unit: the target temperature split is for ducted ones.",
        examples=[True],
    )
    capacity_control: Literal["single_speed", "two_stage", "variable_speed"] = Field(
        default="single_speed",
        description="Variable-speed units choose their own split and, at part speed, their own "
        "superheat and subcooling; targets for a fixed speed are not applied to them.",
        examples=["single_speed"],
    )
    mode: Literal["cooling", "heating"] = Field(
        default="cooling",
        description="Mode during the run. Charge and split targets are for cooling.",
        examples=["cooling"],
    )
    rated: Rated | None = Field(
        default=None, description="Rated performance.", examples=[{"cooling_capacity": 36000.0}]
    )
    nameplate: Nameplate | None = Field(
        default=None, description="Nameplate data.", examples=[{"voltage": 230, "frequency": 60}]
    )


class Site(Model):
    """Where the unit stands."""

    altitude: quantity(Altitude) | None = Field(  # type: ignore[valid-type]
        default=None,
        description="Height over sea level; sets the air pressure. Left out: sea level, and the "
        "answer says so.",
        examples=[980.0],
        json_schema_extra={"x-unit": "ft"},
    )
    barometric_pressure: quantity(AbsolutePressureReading) | None = Field(  # type: ignore[valid-type]
        default=None,
        description="Measured air pressure at the site (not reduced to sea level); used in place "
        "of the altitude.",
        examples=[14.2],
        json_schema_extra={"x-unit": "psia"},
    )
    outdoor_unit_on_roof: StrictBoolean = Field(
        default=False, description="Raises the caution on work at height.", examples=[False]
    )


class Run(Model):
    """One run of readings."""

    taken_at: Instant | None = Field(
        default=None,
        description="When the readings were taken, ISO 8601.",
        examples=["2026-07-14T14:05:00-05:00"],
    )
    minutes_running: Number | None = number(
        0, 100000, "min", 20.0, "Minutes the unit had run, without a stop, before the readings."
    )
    work: list[Work] = Field(
        default_factory=list,
        max_length=10,
        description="Work done or planned at this visit; raises the cautions that go with it.",
        examples=[["coil_cleaning"]],
    )
    readings: Readings = Field(
        description="The readings; every one may be left out.",
        examples=[{"suction_pressure": 124.0, "suction_line_temperature": 55.5}],
    )


class Options(Model):
    """How to compute."""

    draws: Literal[256, 512, 1024, 2048, 4096] = Field(
        default=1024,
        description="Number of draws of the low-discrepancy sample behind every band.",
        examples=[1024],
        json_schema_extra={"x-unit": "1"},
    )


class AssessmentRequest(Model):
    """One visit: the unit, the instruments, the site, one run of readings."""

    units: UnitSystem = Field(
        description="Unit system of bare numbers and of the answer. There is no default.",
        examples=["imperial"],
    )
    unit: Unit = Field(
        default_factory=Unit,
        description="The split system.",
        examples=[{"refrigerant": "R-410A", "metering_device": "thermostatic_expansion_valve"}],
    )
    site: Site = Field(
        default_factory=Site, description="Where the unit stands.", examples=[{"altitude": 980}]
    )
    kit: dict[InstrumentName, Instrument] = Field(
        default_factory=dict,
        max_length=16,
        description="The instruments, by a name of your own.",
        examples=[{"gauges": {"type": "pressure_transducer"}}],
    )
    run: Run = Field(description="One run of readings.", examples=[{"readings": {}}])
    options: Options = Field(
        default_factory=Options, description="How to compute.", examples=[{"draws": 1024}]
    )


# ---------------------------------------------------------------- answer


class Answer(BaseModel):
    """Base of every answer. Codes and names may grow: accept the ones you do not know."""

    model_config = ConfigDict(extra="forbid")


def fact(description: str, example: Any, unit: str | None = None, **bounds: Any) -> Any:  # noqa: ANN401
    """A required field of an answer."""
    extra: Any = {"x-unit": unit} if unit else None
    return Field(description=description, examples=[example], json_schema_extra=extra, **bounds)


class Band(Answer):
    """The interval that holds the true value with the stated probability."""

    low: float = fact("Lower end.", 11.2, "as value")
    high: float = fact("Upper end.", 14.8, "as value")
    coverage: float = fact("Probability that the band holds the true value.", 0.95, "1", ge=0, le=1)


class DerivedValue(Answer):
    """One derived quantity."""

    value: float = fact("Best estimate, in `unit`.", 13.0, "as unit")
    unit: str = fact("Unit of value, uncertainty and band.", "delta_degF")
    standard_uncertainty: float = fact("Standard uncertainty (JCGM 100).", 0.9, "as unit", ge=0)
    band: Band = fact("95 % band.", {"low": 11.2, "high": 14.8, "coverage": 0.95})
    from_: list[str] = Field(
        alias="from",
        description="Readings and request fields that it was computed from.",
        examples=[["suction_pressure", "suction_line_temperature"]],
    )
    variance_shares: dict[str, float] = fact(
        "Share of the variance that each instrument brings, largest first; they add up to 1.",
        {"gauges": 0.2, "clamps": 0.8},
        "1",
    )
    method: str = fact("How it was computed.", "suction line minus dew temperature")
    source: str = fact("Where the method comes from.", "Definition of the quantity")


class Limit(Answer):
    """A limit with its source, in the caller's units."""

    id: str = fact("Stable name, see `GET /v1/limits`.", "subcooling_nameplate")
    lower: float | None = fact("Lower limit, null for none.", 6.0, "as unit")
    upper: float | None = fact("Upper limit, null for none.", 12.0, "as unit")
    unit: str = fact("Unit of the limits.", "delta_degF")
    basis: Literal["published_procedure", "standard", "nameplate", "common_practice"] = fact(
        "What kind of limit it is.", "nameplate"
    )
    source: str = fact("The document.", "2008 Residential Appendices, RA3")


Grade = Literal["conforming", "nonconforming", "inconclusive", "not_assessed"]
Priority = Literal["safety", "act", "look_closer", "better_instrument", "none"]


class Finding(Answer):
    """One quantity against one limit (a conformity decision, JCGM 106)."""

    quantity: str = fact("Name of the derived value.", "subcooling")
    grade: Grade = fact("The decision.", "inconclusive")
    probability_conforming: float | None = fact(
        "Probability that the true value lies within the limit; null where not assessed.",
        0.81,
        "1",
    )
    limit: Limit | None = fact("The limit; null where none could be set.", None)
    priority: Priority = fact(
        "What it asks for, in order: safety, act, look_closer, better_instrument (on target, but the "
        "instruments cannot confirm it), none.",
        "none",
    )
    sentence: str = fact("The finding in plain words.", "Subcooling is 9.8 °F ...")


class Notice(Answer):
    """Something about the readings that the reader must know."""

    code: str = fact("Stable name.", "steady_state_not_shown")
    weight: Literal["note", "reservation", "disqualifying"] = fact(
        "note: for information. reservation: improbable or unproven. disqualifying: the findings "
        "named in the sentence are not assessed.",
        "reservation",
    )
    readings: list[str] = fact("The readings concerned.", ["minutes_running"])
    sentence: str = fact("The notice in plain words.", "...")
    source: str = fact("Where the check comes from.", "...")


class Usability(Answer):
    """Whether the reading set can be used."""

    grade: Literal["usable", "usable_with_reservations", "not_usable"] = fact(
        "`not_usable`: some limits were not applied; the notices say why.", "usable"
    )
    notices: list[Notice] = fact("What was noticed, weightiest first.", [])


class Caution(Answer):
    """A safety caution. It never replaces local code, the maker's instructions or training."""

    id: str = fact("Stable name, see `GET /v1/cautions`.", "stored_charge")
    signal_word: Literal["danger", "warning", "caution", "notice"] = fact(
        "Signal word in the sense of ANSI Z535.6.", "danger"
    )
    condition: str = fact("What raised it.", "A capacitor reading was given.")
    text: str = fact("The hazard and how to avoid it.", "...")
    deferral: str = fact("Whose word is final.", "...")
    source: str = fact("Where it comes from.", "...")


class Unlock(Answer):
    """Fields that would make a missing value derivable."""

    add: list[str] = fact("Request fields to add, all of them.", ["run.readings.suction_pressure"])


class Missing(Answer):
    """A quantity that could not be derived."""

    quantity: str = fact("Name of the derived value.", "subcooling")
    reason: str = fact("Why.", "...")
    unlock: list[Unlock] = fact("Ways to get it, cheapest first.", [])


class NextReading(Answer):
    """Fields to add, and all that they would unlock."""

    add: list[str] = fact("Request fields to add, all of them.", ["run.readings.liquid_pressure"])
    unlocks: list[str] = fact("Derived values that become available.", ["subcooling"])


class InstrumentUsed(Answer):
    """The instrument behind a reading, and what it is worth there."""

    instrument: str = fact("Name in the kit, or `assumed:` and a type.", "gauges")
    type: str = fact("Instrument type.", "pressure_transducer")
    standard_uncertainty: float = fact("Standard uncertainty of the reading.", 1.2, "as unit", ge=0)
    unit: str = fact("Unit of the uncertainty.", "psi")
    source: str = fact("Where its accuracy comes from.", "stated in the request")


class Provenance(Answer):
    """What computed this answer. The same request gives the same bytes."""

    service: str = fact("Version of the service.", "0.1.0")
    refrigerant_model: str | None = fact("Model behind the refrigerant.", "CoolProp 8.0.0, ...")
    draws: int = fact("Draws behind every band.", 1024, "1", ge=1)
    method: str = fact("How bands are made.", "JCGM 101 propagation ...")


class Assessment(Answer):
    """The graded assessment of one visit."""

    units: UnitSystem = fact("Unit system of this answer.", "imperial")
    usability: Usability = fact(
        "Whether the reading set can be used.", {"grade": "usable", "notices": []}
    )
    derived: dict[str, DerivedValue] = fact("Derived values by name.", {})
    findings: list[Finding] = fact("Findings, most pressing first.", [])
    cautions: list[Caution] = fact("Cautions, gravest first; always at least one.", [])
    missing: list[Missing] = fact("What could not be derived, and what would unlock it.", [])
    next_readings: list[NextReading] = fact(
        "What to add next: the fields that unlock most for the least effort, five at the most.", []
    )
    instruments: dict[str, InstrumentUsed] = fact("The instrument behind each reading.", {})
    provenance: Provenance = fact(
        "What computed this answer.",
        {
            "service": "0.1.0",
            "refrigerant_model": "CoolProp 8.0.0",
            "draws": 1024,
            "method": "JCGM 101 propagation",
        },
    )
