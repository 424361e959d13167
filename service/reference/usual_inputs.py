"""Where the numbers that people give to a check usually lie, and the units that they confuse.  The one place to touch.

A number that names no unit, lies outside its range here, and inside it in another unit, is a question: what depends on
it is not judged until the caller states the unit.  A number with its unit is believed.  All ranges are common practice
(source ``usual_inputs``): wide enough for the work in a hot or cold season, narrow enough that another unit shows.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from service.reference.line_contents import OUNCE, POUND
from service.reference.units import Conversion, conversion
from service.reference.vacuum import MICRON

_PSI = 6894.757293168361
_CFM = 0.3048**3 / 60.0
_DEGF = 5.0 / 9.0
_INCH_OF_WATER = 249.08891

#: Units that people use, but the contract does not take: how each becomes SI.
OTHER_UNITS: Mapping[tuple[str, str], Conversion] = MappingProxyType(
    {
        # Inches of mercury below the air, as a compound gauge shows a vacuum.
        ("vacuum", "inHg"): Conversion(-3386.389, 101_325.0),
        ("vacuum", "Torr"): Conversion(1000.0 * MICRON, 0.0),
        ("vacuum", "kPa"): Conversion(1000.0, 0.0),
        ("resistance", "mohm"): Conversion(1e-3, 0.0),
        ("airflow", "m3/min"): Conversion(1.0 / 60.0, 0.0),
        ("static_pressure", "mmH2O"): Conversion(9.80665, 0.0),
    }
)


@dataclass(frozen=True, slots=True)
class UsualRow:
    """Where a number usually lies [SI], what a sentence calls it, and the units in which it may have been meant."""

    check: str
    name: str
    label: str
    kind: str
    low: float
    high: float
    meant: tuple[str, ...]
    source: str = "usual_inputs"


def _fahrenheit(value: float) -> float:
    return (value - 32.0) * _DEGF + 273.15


_DEGREES = ("degC", "degF")
_DIFFERENCES = ("delta_degC", "delta_degF")
_MASSES = ("oz", "lb", "kg", "g")
_PRESSURES = ("psi", "bar", "kPa", "MPa")


def _warmth(check: str, name: str, label: str, low: float, high: float) -> UsualRow:
    return UsualRow(check, name, label, "temperature", _fahrenheit(low), _fahrenheit(high), _DEGREES)


_ROWS = (
    UsualRow(
        "pressure-hold", "readings.pressure", "The pressure", "pressure", 100 * _PSI, 700 * _PSI, ("psi", "bar", "kPa")
    ),
    UsualRow(
        "pressure-hold",
        "highest_allowed_pressure",
        "The highest allowed pressure",
        "pressure",
        100 * _PSI,
        900 * _PSI,
        _PRESSURES,
    ),
    _warmth("pressure-hold", "readings.gas_temperature", "The gas temperature", 41, 125),
    UsualRow(
        "vacuum-rise",
        "readings.pressure",
        "The vacuum at the start",
        "vacuum",
        31 * MICRON,
        2000 * MICRON,
        ("umHg", "mbar", "inHg", "Torr", "kPa"),
    ),
    _warmth("vacuum-rise", "coldest_temperature", "The coldest temperature", 33, 115),
    UsualRow(
        "charge-by-weight",
        "nameplate_charge",
        "The charge on the nameplate",
        "mass",
        1.0 * POUND,
        40.0 * POUND,
        _MASSES,
    ),
    UsualRow(
        "charge-by-weight",
        "factory_allowance",
        "The factory allowance for lines",
        "mass",
        0.0,
        2.5 * POUND,
        _MASSES,
    ),
    UsualRow("charge-by-weight", "accessories.charge", "The charge of an accessory", "mass", 0.0, 2.5 * POUND, _MASSES),
    UsualRow(
        "charge-by-weight",
        "lines.allowance",
        "The charge for each length of line",
        "mass_per_length",
        0.1 * OUNCE / 0.3048,
        3.0 * OUNCE / 0.3048,
        ("oz/ft", "g/m"),
    ),
    UsualRow(
        "charge-by-weight",
        "recovered.final_pressure",
        "The pressure at the end of the recovery",
        "pressure",
        -101_325.0,
        30.0 * _PSI,
        ("psi", "kPa"),
    ),
    UsualRow("charge-by-weight", "room.floor_area", "The floor area", "area", 4.0, 150.0, ("m2", "ft2")),
    UsualRow("motor", "single_phase_windings", "Each winding", "resistance", 0.05, 200.0, ("mohm", "kohm")),
    UsualRow("motor", "three_phase_windings", "Each winding", "resistance", 0.0, 200.0, ("mohm",)),
    UsualRow(
        "motor", "winding_to_ground", "The resistance to ground", "resistance", 1000.0, 1e9, ("Mohm", "kohm", "ohm")
    ),
    _warmth("motor", "winding_temperature", "The temperature of the windings", 41, 200),
    _warmth("air-delivery", "room.dry_bulb", "The room's dry bulb", 50, 100),
    _warmth("air-delivery", "room.wet_bulb", "The room's wet bulb", 41, 85),
    _warmth("air-delivery", "equipment.entering.dry_bulb", "The entering dry bulb", 50, 105),
    _warmth("air-delivery", "equipment.leaving.dry_bulb", "The leaving dry bulb", 41, 170),
    _warmth("air-delivery", "equipment.entering.wet_bulb", "The entering wet bulb", 41, 85),
    _warmth("air-delivery", "equipment.leaving.wet_bulb", "The leaving wet bulb", 41, 110),
    _warmth("air-delivery", "registers.dry_bulb", "A register's dry bulb", 41, 160),
    _warmth("air-delivery", "registers.wet_bulb", "A register's wet bulb", 41, 110),
    _warmth("air-delivery", "furnace.entering", "The air that enters the furnace", 45, 95),
    _warmth("air-delivery", "furnace.leaving", "The air that leaves the furnace", 52, 200),
    UsualRow(
        "air-delivery",
        "furnace.lowest_rise",
        "The lowest rise on the nameplate",
        "temperature_difference",
        15 * _DEGF,
        65 * _DEGF,
        _DIFFERENCES,
    ),
    UsualRow(
        "air-delivery",
        "furnace.highest_rise",
        "The highest rise on the nameplate",
        "temperature_difference",
        41 * _DEGF,
        110 * _DEGF,
        _DIFFERENCES,
    ),
    UsualRow(
        "air-delivery",
        "equipment.airflow",
        "The blower's airflow",
        "airflow",
        150 * _CFM,
        4000 * _CFM,
        ("cfm", "m3/h", "L/s", "m3/s", "m3/min"),
    ),
    UsualRow(
        "air-delivery",
        "equipment.fan_power",
        "The blower's power",
        "power",
        20.0,
        3000.0,
        ("W", "kW"),
    ),
    UsualRow(
        "air-delivery",
        "filter.pressure_drop",
        "The filter's pressure drop",
        "static_pressure",
        0.02 * _INCH_OF_WATER,
        1.5 * _INCH_OF_WATER,
        ("inH2O", "Pa", "mmH2O"),
    ),
    UsualRow(
        "air-delivery",
        "filter.rated_external_static_pressure",
        "The rated external static pressure",
        "static_pressure",
        0.08 * _INCH_OF_WATER,
        2.0 * _INCH_OF_WATER,
        ("inH2O", "Pa", "mmH2O"),
    ),
    UsualRow("air-delivery", "filter.face_area", "The filter's face area", "area", 0.09, 1.5, ("m2", "ft2", "in2")),
    UsualRow(
        "leak-rate", "unit.full_charge", "The full charge", "mass", 1.0 * POUND, 60.0 * POUND, ("oz", "lb", "kg", "g")
    ),
)

USUAL_INPUTS: Mapping[tuple[str, str], UsualRow] = MappingProxyType({(row.check, row.name): row for row in _ROWS})


def in_unit(kind: str, symbol: str) -> Conversion:
    """How a number in a unit becomes SI, also in a unit that the contract does not take."""
    other = OTHER_UNITS.get((kind, symbol))
    return conversion(kind, symbol) if other is None else other


def meant_unit(row: UsualRow, number: float, taken: str) -> str | None:
    """The unit in which an unusual number would be usual; None where it is usual as taken, or in no unit.

    Parameters
    ----------
    row
        Where it usually lies.
    number : float
        The number as it was given.
    taken : str
        The unit in which it was taken.
    """

    def usual(symbol: str) -> bool:
        return row.low <= in_unit(row.kind, symbol).to_si(number) <= row.high

    if usual(taken):
        return None
    return next((symbol for symbol in row.meant if symbol != taken and usual(symbol)), None)
