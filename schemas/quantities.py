"""Numbers, units and the shapes in which a reading may be given."""

from __future__ import annotations

from functools import cache
from math import floor, log10
from typing import Annotated, Any, Literal

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Discriminator,
    Field,
    GetJsonSchemaHandler,
    Strict,
    Tag,
    create_model,
)
from pydantic_core import CoreSchema
from typing_extensions import TypeAliasType

# Sets of words that stand in several places, or beside null, have a name in the contract too: clients
# that are generated from it would make up names such as `PressureReadingUnitType0` otherwise.

UnitSystem = TypeAliasType(
    "UnitSystem", Annotated[Literal["imperial", "metric"], Field(description="A system of units.")]
)
TemperatureUnit = TypeAliasType(
    "TemperatureUnit",
    Annotated[Literal["degF", "degC", "K"], Field(description="Unit of a temperature.")],
)
TemperatureDifferenceUnit = TypeAliasType(
    "TemperatureDifferenceUnit",
    Annotated[
        Literal["delta_degF", "delta_degC", "K"],
        Field(description="Unit of a difference of temperatures."),
    ],
)
PressureUnit = TypeAliasType(
    "PressureUnit",
    Annotated[
        Literal["psi", "psig", "psia", "kPa", "bar", "MPa", "inHg", "Pa"],
        Field(description="Unit of a refrigerant pressure."),
    ],
)
PressureReference = TypeAliasType(
    "PressureReference",
    Annotated[Literal["gauge", "absolute"], Field(description="What the zero of a pressure means.")],
)
AbsolutePressureUnit = TypeAliasType(
    "AbsolutePressureUnit",
    Annotated[
        Literal["psia", "psi", "kPa", "bar", "inHg", "Pa"],
        Field(description="Unit of an absolute pressure of the air."),
    ],
)
StaticPressureUnit = TypeAliasType(
    "StaticPressureUnit",
    Annotated[Literal["inH2O", "Pa", "kPa"], Field(description="Unit of a small air pressure.")],
)
PowerUnit = TypeAliasType("PowerUnit", Annotated[Literal["W", "kW"], Field(description="Unit of an electric power.")])
AirflowUnit = TypeAliasType(
    "AirflowUnit",
    Annotated[Literal["cfm", "m3/h", "m3/s", "L/s"], Field(description="Unit of a volume flow of air.")],
)
MassFlowUnit = TypeAliasType(
    "MassFlowUnit",
    Annotated[Literal["lb/h", "kg/h", "kg/s"], Field(description="Unit of a mass flow.")],
)
HeatFlowUnit = TypeAliasType(
    "HeatFlowUnit",
    Annotated[Literal["Btu/h", "W", "kW"], Field(description="Unit of a heat flow.")],
)
AltitudeUnit = TypeAliasType(
    "AltitudeUnit",
    Annotated[Literal["ft", "m"], Field(description="Unit of a height over sea level.")],
)
LengthUnit = TypeAliasType("LengthUnit", Annotated[Literal["ft", "m"], Field(description="Unit of a length.")])
VacuumUnit = TypeAliasType(
    "VacuumUnit",
    Annotated[
        Literal["umHg", "Pa", "mbar"],
        Field(description="Unit of a vacuum, absolute: micrometres of mercury (microns), pascals or millibars."),
    ],
)
MassUnit = TypeAliasType("MassUnit", Annotated[Literal["lb", "oz", "kg", "g"], Field(description="Unit of a mass.")])
VolumeUnit = TypeAliasType(
    "VolumeUnit", Annotated[Literal["ft3", "in3", "m3", "L"], Field(description="Unit of a volume.")]
)
AreaUnit = TypeAliasType("AreaUnit", Annotated[Literal["ft2", "in2", "m2"], Field(description="Unit of an area.")])
MassPerLengthUnit = TypeAliasType(
    "MassPerLengthUnit", Annotated[Literal["oz/ft", "g/m"], Field(description="Unit of a mass for each length.")]
)
ResistanceUnit = TypeAliasType(
    "ResistanceUnit",
    Annotated[Literal["ohm", "kohm", "Mohm"], Field(description="Unit of an electrical resistance.")],
)
ThermalResistanceUnit = TypeAliasType(
    "ThermalResistanceUnit",
    Annotated[
        Literal["h ft2 degF/Btu", "m2 K/W"],
        Field(description="Unit of a thermal resistance; the first is that of R-6."),
    ],
)

#: A JSON number; never a boolean, a string, NaN or an infinity.
Number = Annotated[float, Strict(), Field(allow_inf_nan=False)]
StrictText = Annotated[str, Strict()]


def _whole(value: object) -> object:
    """JSON has one kind of number: 17.0 is as whole as 17, and some languages write it so."""
    return int(value) if isinstance(value, float) and value.is_integer() else value


StrictInteger = Annotated[int, Strict()]
#: For a whole number that may be written 17.0; after its bounds, or they are published under odd names.
WHOLE = BeforeValidator(_whole)
StrictBoolean = Annotated[bool, Strict()]


def without_default(published: dict[str, Any]) -> None:
    """Leave ``"default": null`` out of a published field, as the framework does of the models it publishes.

    Some generators of clients take a field with a default for one that is always there.
    """
    published.pop("default", None)


class Model(BaseModel):
    """Base of every request body: unknown fields are refused."""

    model_config = ConfigDict(extra="forbid", populate_by_name=True)


#: What begins the name of an instrument that the service assumed, in answers.
ASSUMED_PREFIX = "assumed:"


def _own_name(value: str) -> str:
    if value.lower().startswith(ASSUMED_PREFIX):
        raise ValueError(f'a name that does not begin with "{ASSUMED_PREFIX}"')
    return value


InstrumentName = Annotated[
    StrictText,
    Field(
        min_length=1,
        max_length=60,
        pattern=r"^[^\x00-\x1f\x7f]+$",
        description="Name of an instrument of the kit; not one that begins with `assumed:`.",
        json_schema_extra={"x-unit": "none"},
        examples=["gauges"],
    ),
    AfterValidator(_own_name),  # last: a pattern that stands after a function is not published
]


def _value(low: float, high: float, example: float, unit: str) -> Any:  # noqa: ANN401
    """A value whose bounds are the envelope over every accepted unit; see ``x-range`` of a field."""
    return Field(
        ge=low,
        le=high,
        description="The number shown, in `unit`, or in the declared unit system where `unit` is left out.",
        json_schema_extra={"x-unit": unit},
        examples=[example],
    )


def _unit(default: str) -> Any:  # noqa: ANN401
    return Field(
        default=None,
        description=f"The unit. Default: the declared unit system ({default}).",
        examples=[default.split(" ", maxsplit=1)[0]],
    )


class _WithInstrument(Model):
    instrument: InstrumentName | None = Field(
        default=None,
        description="The instrument of the kit that made this reading. Default: the one "
        "instrument of the kit that can make it, else the assumed type for such a reading.",
        examples=["gauges"],
    )


class TemperatureReading(_WithInstrument):
    """A temperature (not a difference)."""

    value: Annotated[Number, _value(-150.0, 700.0, 55.5, "degF, degC or K")]
    unit: TemperatureUnit | None = _unit("degF in imperial, degC in metric")


class PressureReading(_WithInstrument):
    """A refrigerant pressure, gauge unless stated otherwise."""

    value: Annotated[Number, _value(-110000.0, 7.0e6, 124.0, "psi, kPa, bar, MPa, inHg or Pa")]
    unit: PressureUnit | None = _unit("psi in imperial, kPa in metric")
    reference: PressureReference | None = Field(
        default=None,
        description="What zero means. Default: gauge, the default of the trade (`psia` says "
        "absolute by itself). A vacuum is a negative gauge pressure.",
        examples=["gauge"],
    )


class AbsolutePressureReading(_WithInstrument):
    """An absolute pressure of the air (a barometer)."""

    value: Annotated[Number, _value(0.0, 120000.0, 14.2, "psia, kPa, bar, inHg or Pa")]
    unit: AbsolutePressureUnit | None = _unit("psia in imperial, kPa in metric")


class StaticPressureReading(_WithInstrument):
    """A small air pressure against the room."""

    value: Annotated[Number, _value(-2500.0, 2500.0, 0.31, "inH2O, Pa or kPa")]
    unit: StaticPressureUnit | None = _unit("inH2O in imperial, Pa in metric")


class CurrentReading(_WithInstrument):
    """An alternating current, root mean square."""

    value: Annotated[Number, _value(0.0, 1000.0, 5.6, "A")]
    unit: Literal["A"] | None = _unit("A in both")


class VoltageReading(_WithInstrument):
    """An alternating voltage, root mean square."""

    value: Annotated[Number, _value(0.0, 1000.0, 238.0, "V")]
    unit: Literal["V"] | None = _unit("V in both")


class PowerReading(_WithInstrument):
    """An active power."""

    value: Annotated[Number, _value(0.0, 200000.0, 2650.0, "W or kW")]
    unit: PowerUnit | None = _unit("W in both")


class RatioReading(_WithInstrument):
    """A number without a unit."""

    value: Annotated[Number, _value(0.0, 1.0, 0.92, "1")]
    unit: Literal["1"] | None = _unit("1 in both")


class FractionReading(_WithInstrument):
    """A percentage."""

    value: Annotated[Number, _value(0.0, 100.0, 52.0, "%")]
    unit: Literal["%"] | None = _unit("% in both")


class AirflowReading(_WithInstrument):
    """A volume flow of air."""

    value: Annotated[Number, _value(0.0, 40000.0, 1180.0, "cfm, m3/h, m3/s or L/s")]
    unit: AirflowUnit | None = _unit("cfm in imperial, m3/h in metric")


class CondensateReading(_WithInstrument):
    """Condensate caught over time."""

    value: Annotated[Number, _value(0.0, 500.0, 6.5, "lb/h, kg/h or kg/s")]
    unit: MassFlowUnit | None = _unit("lb/h in imperial, kg/h in metric")


class HeatFlowReading(_WithInstrument):
    """A heat flow, e.g. a clocked gas input."""

    value: Annotated[Number, _value(0.0, 2.0e6, 80000.0, "Btu/h, W or kW")]
    unit: HeatFlowUnit | None = _unit("Btu/h in imperial, W in metric")


class VacuumReading(_WithInstrument):
    """An absolute pressure close to zero, as a vacuum gauge shows it."""

    value: Annotated[Number, _value(0.0, 110000.0, 480.0, "umHg, Pa or mbar")]
    unit: VacuumUnit | None = _unit("umHg in imperial, Pa in metric")


class MassReading(_WithInstrument):
    """A mass, as a scale shows it."""

    value: Annotated[Number, _value(0.0, 500000.0, 1.5, "lb, oz, kg or g")]
    unit: MassUnit | None = _unit("lb in imperial, kg in metric")


class Mass(Model):
    """A mass from a nameplate or a record."""

    value: Annotated[Number, _value(0.0, 500000.0, 8.5, "lb, oz, kg or g")]
    unit: MassUnit | None = _unit("lb in imperial, kg in metric")


class Volume(Model):
    """A volume."""

    value: Annotated[Number, _value(0.0, 1.0e6, 0.35, "ft3, in3, m3 or L")]
    unit: VolumeUnit | None = _unit("ft3 in imperial, L in metric")


class ResistanceReading(_WithInstrument):
    """An electrical resistance."""

    value: Annotated[Number, _value(0.0, 1.0e8, 3.0, "ohm, kohm or Mohm")]
    unit: ResistanceUnit | None = _unit("ohm in both")


class InsulationReading(_WithInstrument):
    """An insulation resistance."""

    value: Annotated[Number, _value(0.0, 1.0e8, 220.0, "Mohm, kohm or ohm")]
    unit: ResistanceUnit | None = _unit("Mohm in both")


class CapacitanceReading(_WithInstrument):
    """A capacitance by a meter."""

    value: Annotated[Number, _value(0.0, 2000.0, 44.2, "uF")]
    unit: Literal["uF"] | None = _unit("uF in both")


class MassPerLength(Model):
    """A mass for each length of line."""

    value: Annotated[Number, _value(0.0, 1000.0, 0.6, "oz/ft or g/m")]
    unit: MassPerLengthUnit | None = _unit("oz/ft in imperial, g/m in metric")


class Area(Model):
    """An area."""

    value: Annotated[Number, _value(0.0, 1.0e6, 200.0, "ft2, in2 or m2")]
    unit: AreaUnit | None = _unit("ft2 in imperial, m2 in metric")


class ThermalResistance(Model):
    """A thermal resistance of insulation."""

    value: Annotated[Number, _value(0.0, 60.0, 6.0, "h ft2 degF/Btu or m2 K/W")]
    unit: ThermalResistanceUnit | None = Field(
        default=None,
        description="The unit. Default: the declared unit system (h ft2 degF/Btu in imperial, m2 K/W in metric).",
        examples=["h ft2 degF/Btu"],
    )


class Airflow(Model):
    """A volume flow of air from a rating."""

    value: Annotated[Number, _value(0.0, 40000.0, 1200.0, "cfm, m3/h, m3/s or L/s")]
    unit: AirflowUnit | None = _unit("cfm in imperial, m3/h in metric")


class Temperature(Model):
    """A temperature from a data sheet."""

    value: Annotated[Number, _value(-150.0, 700.0, 65.0, "degF, degC or K")]
    unit: TemperatureUnit | None = _unit("degF in imperial, degC in metric")


class TemperatureDifference(Model):
    """A difference of temperatures: 10 delta_degF are 5.6 K."""

    value: Annotated[Number, _value(-100.0, 200.0, 9.0, "delta_degF, delta_degC or K")]
    unit: TemperatureDifferenceUnit | None = _unit("delta_degF in imperial, delta_degC in metric")


class HeatFlow(Model):
    """A rated capacity."""

    value: Annotated[Number, _value(0.0, 2.0e6, 36000.0, "Btu/h, W or kW")]
    unit: HeatFlowUnit | None = _unit("Btu/h in imperial, W in metric")


class Pressure(Model):
    """A refrigerant pressure from a data sheet, gauge unless stated otherwise."""

    value: Annotated[Number, _value(-110000.0, 7.0e6, 310.0, "psi, kPa, bar, MPa, inHg or Pa")]
    unit: PressureUnit | None = _unit("psi in imperial, kPa in metric")
    reference: PressureReference | None = Field(
        default=None,
        description="What zero means. Default: gauge (`psia` already means absolute).",
        examples=["gauge"],
    )


class Power(Model):
    """An electric power from a data sheet."""

    value: Annotated[Number, _value(0.0, 200000.0, 2250.0, "W or kW")]
    unit: PowerUnit | None = _unit("W in both")


class Altitude(Model):
    """Height over sea level."""

    value: Annotated[Number, _value(-1500.0, 20000.0, 980.0, "ft or m")]
    unit: AltitudeUnit | None = _unit("ft in imperial, m in metric")


class Length(Model):
    """A length."""

    value: Annotated[Number, _value(0.0, 1000.0, 50.0, "ft or m")]
    unit: LengthUnit | None = _unit("ft in imperial, m in metric")


class Lift(Model):
    """A difference of heights."""

    value: Annotated[Number, _value(-500.0, 500.0, 10.0, "ft or m")]
    unit: LengthUnit | None = _unit("ft in imperial, m in metric")


class StaticPressure(Model):
    """A small air pressure from a nameplate."""

    value: Annotated[Number, _value(0.0, 2500.0, 0.5, "inH2O, Pa or kPa")]
    unit: StaticPressureUnit | None = _unit("inH2O in imperial, Pa in metric")


#: How many repeats of one reading may be given.
FEWEST_REPEATS, MOST_REPEATS = 2, 100

BARE, WITH_UNIT = "bare number", "number with unit"
BARE_REPEATS, REPEATS_WITH_UNIT = "bare repeats", "repeats with unit"

#: Type of the error of a reading that is given once and as repeats at the same time.
VALUE_AND_VALUES = "value_and_values"


def _which(value: object) -> str:
    return WITH_UNIT if isinstance(value, dict | BaseModel) else BARE


def _which_of_reading(value: object) -> str | None:
    """The branch that the caller meant; None where `value` and `values` contradict each other."""
    if isinstance(value, float | int):  # first, as most readings are bare numbers
        return BARE
    if isinstance(value, dict):
        if "values" not in value:
            return WITH_UNIT
        return None if "value" in value else REPEATS_WITH_UNIT
    if isinstance(value, list):
        return BARE_REPEATS
    if isinstance(value, BaseModel):
        return REPEATS_WITH_UNIT if "values" in type(value).model_fields else WITH_UNIT
    return BARE


class AnyOf:
    """Branches that exclude each other anyway, published as `anyOf`.

    `oneOf` says no more, and has tools work out what each branch is without all the others, which
    some that generate requests give up on.
    """

    def __get_pydantic_json_schema__(self, core_schema: CoreSchema, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        """Rename the keyword."""
        published = handler(core_schema)
        published["anyOf"] = published.pop("oneOf")
        return published


class ByName:
    """An object whose names have a pattern, published so that others are forbidden.

    Published as `patternProperties` alone it would say nothing of a name that does not match, and so
    allow it.
    """

    def __get_pydantic_json_schema__(self, core_schema: CoreSchema, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        """The pattern moves to the names."""
        published = handler(core_schema)
        ((pattern, value),) = published.pop("patternProperties").items()
        published["additionalProperties"] = value
        published.setdefault("propertyNames", {})["pattern"] = pattern
        return published


def _number(shape: type[Model]) -> Any:  # noqa: ANN401
    """A bare number with the bounds of ``shape.value``."""
    bounds = shape.model_fields["value"]
    return Annotated[Number, *bounds.metadata, bounds]


def quantity(shape: type[Model]) -> Any:  # noqa: ANN401
    """A field type that takes a bare number or the given shape, and keeps either as given.

    Bare numbers keep the bounds of ``shape.value``; the discriminator keeps validation errors to
    the branch that the caller meant.
    """
    return Annotated[
        Annotated[_number(shape), Tag(BARE)] | Annotated[shape, Tag(WITH_UNIT)],
        Discriminator(_which),
    ]


@cache
def reading(shape: type[Model]) -> Any:  # noqa: ANN401
    """A field type that takes what :func:`quantity` takes, or a list of repeats in place of a number."""
    return Annotated[
        Annotated[_number(shape), Tag(BARE)]
        | Annotated[shape, Tag(WITH_UNIT)]
        | Annotated[_repeats(shape), Tag(BARE_REPEATS)]
        | Annotated[_with_repeats(shape), Tag(REPEATS_WITH_UNIT)],
        Discriminator(
            _which_of_reading,
            custom_error_type=VALUE_AND_VALUES,
            custom_error_message="A reading has either value or values",
        ),
        AnyOf(),
    ]


def _repeats(shape: type[Model]) -> Any:  # noqa: ANN401
    """A list of repeats, each within the bounds of ``shape.value``."""
    bounds = shape.model_fields["value"]
    extra: Any = bounds.json_schema_extra
    return Annotated[
        list[Annotated[Number, *bounds.metadata]],
        Field(
            min_length=FEWEST_REPEATS,
            max_length=MOST_REPEATS,
            description="Repeated readings within one run by the same instrument, each as shown. Their mean is used.",
            json_schema_extra={"x-unit": extra["x-unit"]},
            examples=[_example_of_repeats((bounds.examples or [0.0])[0])],
        ),
    ]


def _example_of_repeats(example: float) -> list[float]:
    """Three repeats that differ in their third digit."""
    step = 10.0 ** (floor(log10(example)) - 2)
    return [example, *(float(f"{example + change:.6g}") for change in (step, -step))]


def _with_repeats(shape: type[Model]) -> type[Model]:
    """The shape with `values` in place of `value`."""
    fields: dict[str, Any] = {
        name: (field.annotation, field)
        for name, field in shape.model_fields.items()
        if name not in {"value", "instrument"}
    }
    return create_model(
        shape.__name__.removesuffix("Reading") + "Repeats",
        __base__=_WithInstrument,
        __doc__=f"Repeated readings within one run by the same instrument. {shape.__doc__}",
        values=(_repeats(shape), ...),
        **fields,
    )


#: Marks that appear in a validation error's location and are no part of the caller's document.
REPEAT_TAGS = frozenset({BARE_REPEATS, REPEATS_WITH_UNIT})
LOCATION_TAGS = frozenset({BARE, WITH_UNIT}) | REPEAT_TAGS

__all__ = [
    "ASSUMED_PREFIX",
    "FEWEST_REPEATS",
    "LOCATION_TAGS",
    "MOST_REPEATS",
    "REPEAT_TAGS",
    "VALUE_AND_VALUES",
    "WHOLE",
    "AbsolutePressureReading",
    "Airflow",
    "AirflowReading",
    "Altitude",
    "AnyOf",
    "Area",
    "ByName",
    "CapacitanceReading",
    "CondensateReading",
    "CurrentReading",
    "FractionReading",
    "HeatFlow",
    "HeatFlowReading",
    "InstrumentName",
    "InsulationReading",
    "Mass",
    "MassFlowUnit",
    "MassPerLength",
    "MassReading",
    "Model",
    "Number",
    "Power",
    "PowerReading",
    "Pressure",
    "PressureReading",
    "RatioReading",
    "ResistanceReading",
    "StaticPressure",
    "StaticPressureReading",
    "StrictBoolean",
    "StrictInteger",
    "StrictText",
    "Temperature",
    "TemperatureDifference",
    "TemperatureReading",
    "ThermalResistance",
    "UnitSystem",
    "VacuumReading",
    "VoltageReading",
    "Volume",
    "quantity",
    "reading",
    "without_default",
]
