"""Units the service speaks, defined once and converted by affine coefficients.

The definitions are Pint expressions.  Pint is asked once, when the coefficients are prepared, so
no request pays for a units library: at run time a conversion is ``si = scale * value + offset``.

A temperature and a temperature difference are different kinds: 10 °F as a difference is 5.6 K.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from importlib.metadata import version
from types import MappingProxyType
from typing import Any

import numpy as np

from service.reference.air import DRY_AIR_HEAT
from service.reference.prepared import prepared_arrays

#: The unit with which one of temperature is mistaken.
OTHER_TEMPERATURE: Mapping[str, str] = MappingProxyType({"degF": "degC", "degC": "degF"})


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of quantity.

    ``si``, ``imperial`` and ``metric`` are unit symbols; ``units`` maps every accepted symbol to
    the Pint expression that defines it; ``decimals`` are used in sentences only, per unit symbol
    where the default of one decimal would mislead.  ``zeros`` holds, for a scale with a zero of its
    own that no unit definition knows, the SI value at that zero.
    """

    si: str
    imperial: str
    metric: str
    units: Mapping[str, str]
    decimals: Mapping[str, int] = field(default_factory=dict)
    zeros: Mapping[str, float] = field(default_factory=dict)


_PRESSURES = {
    "psi": "psi",
    "kPa": "kPa",
    "bar": "bar",
    "MPa": "MPa",
    "inHg": "inHg",
    "Pa": "Pa",
}

_ENTHALPIES = {"Btu/lb": "Btu_it/pound", "kJ/kg": "kJ/kg", "J/kg": "J/kg"}

KINDS: Mapping[str, Kind] = MappingProxyType(
    {
        "temperature": Kind("K", "degF", "degC", {"degF": "degF", "degC": "degC", "K": "kelvin"}),
        "temperature_difference": Kind(
            "K",
            "delta_degF",
            "delta_degC",
            {"delta_degF": "delta_degF", "delta_degC": "delta_degC", "K": "kelvin"},
        ),
        # The reference (gauge or absolute) is carried beside the unit; psig and psia say both.
        "pressure": Kind(
            "Pa",
            "psi",
            "kPa",
            {**_PRESSURES, "psig": "psi", "psia": "psi"},
            MappingProxyType({"kPa": 0}),
        ),
        "absolute_pressure": Kind(
            "Pa",
            "psia",
            "kPa",
            {**_PRESSURES, "psia": "psi"},
            MappingProxyType({"kPa": 0}),
        ),
        "static_pressure": Kind(
            "Pa",
            "inH2O",
            "Pa",
            {"inH2O": "inH2O", "Pa": "Pa", "kPa": "kPa"},
            MappingProxyType({"inH2O": 2, "Pa": 0}),
        ),
        "airflow": Kind(
            "m3/s",
            "cfm",
            "m3/h",
            {
                "cfm": "foot**3/minute",
                "m3/h": "meter**3/hour",
                "m3/s": "meter**3/second",
                "L/s": "liter/second",
            },
            MappingProxyType({"cfm": 0, "m3/h": 0}),
        ),
        "current": Kind("A", "A", "A", {"A": "ampere"}, MappingProxyType({"A": 2})),
        "voltage": Kind("V", "V", "V", {"V": "volt"}),
        "power": Kind(
            "W",
            "W",
            "W",
            {"W": "watt", "kW": "kilowatt"},
            MappingProxyType({"W": 0}),
        ),
        "apparent_power": Kind("VA", "VA", "VA", {"VA": "watt"}, MappingProxyType({"VA": 0})),
        "heat_flow": Kind(
            "W",
            "Btu/h",
            "W",
            {"Btu/h": "Btu_it/hour", "W": "watt", "kW": "kilowatt"},
            MappingProxyType({"Btu/h": 0, "W": 0}),
        ),
        "capacitance": Kind("F", "uF", "uF", {"uF": "microfarad"}, MappingProxyType({"uF": 2})),
        "frequency": Kind("Hz", "Hz", "Hz", {"Hz": "hertz"}),
        "altitude": Kind("m", "ft", "m", {"ft": "foot", "m": "meter"}, MappingProxyType({"ft": 0, "m": 0})),
        "length": Kind("m", "ft", "m", {"ft": "foot", "m": "meter"}, MappingProxyType({"ft": 0, "m": 1})),
        "condensate_rate": Kind(
            "kg/s",
            "lb/h",
            "kg/h",
            {"lb/h": "pound/hour", "kg/h": "kilogram/hour", "kg/s": "kilogram/second"},
        ),
        "fraction": Kind("1", "%", "%", {"%": "percent"}),
        "ratio": Kind("1", "1", "1", {"1": "dimensionless"}, MappingProxyType({"1": 2})),
        "duration": Kind("s", "min", "min", {"min": "minute"}, MappingProxyType({"min": 0})),
        "specific_enthalpy": Kind(
            "J/kg",
            "Btu/lb",
            "kJ/kg",
            _ENTHALPIES,
            # Moist air in Btu/lb counts from dry air at 0 °F, in kJ/kg from dry air at 0 °C
            # (ASHRAE Fundamentals 2017 ch. 1, equation 30 in either unit system).
            zeros=MappingProxyType({"Btu/lb": -DRY_AIR_HEAT * 32.0 / 1.8}),
        ),
        "specific_enthalpy_difference": Kind("J/kg", "Btu/lb", "kJ/kg", _ENTHALPIES),
        "mass_flow": Kind(
            "kg/s",
            "lb/h",
            "kg/h",
            {"lb/h": "pound/hour", "kg/h": "kilogram/hour", "kg/s": "kilogram/second"},
        ),
        "airflow_for_capacity": Kind(
            "m3/J",
            "cfm/ton",
            "m3/h/kW",
            {
                "cfm/ton": "foot**3/minute/refrigeration_ton",
                "m3/h/kW": "meter**3/hour/kilowatt",
                "m3/J": "meter**3/joule",
            },
            MappingProxyType({"cfm/ton": 0, "m3/h/kW": 0}),
        ),
        "efficiency": Kind(
            "1",
            "Btu/(W h)",
            "W/W",
            {"Btu/(W h)": "Btu_it/(watt*hour)", "W/W": "dimensionless"},
            MappingProxyType({"W/W": 2}),
        ),
        "energy": Kind("J", "kWh", "kWh", {"kWh": "kilowatt*hour"}, MappingProxyType({"kWh": 0})),
        "money": Kind(
            "1",
            "currency",
            "currency",
            {"currency": "dimensionless"},
            MappingProxyType({"currency": 0}),
        ),
        "humidity_ratio": Kind(
            "kg/kg",
            "gr/lb",
            "g/kg",
            {"gr/lb": "grain/pound", "g/kg": "gram/kilogram", "kg/kg": "dimensionless"},
        ),
        # A vacuum is absolute: the micrometre of mercury (micron) counts from zero.
        "vacuum": Kind(
            "Pa",
            "umHg",
            "Pa",
            {"umHg": "umHg", "Pa": "Pa", "mbar": "mbar"},
            MappingProxyType({"umHg": 0, "Pa": 1, "mbar": 3}),
        ),
        "vacuum_rate": Kind(
            "Pa/s",
            "umHg/min",
            "Pa/min",
            {"umHg/min": "umHg/minute", "Pa/min": "Pa/minute"},
            MappingProxyType({"umHg/min": 1, "Pa/min": 2}),
        ),
        "pressure_difference": Kind("Pa", "psi", "kPa", {"psi": "psi", "kPa": "kPa", "bar": "bar", "Pa": "Pa"}),
        "pressure_rate": Kind(
            "Pa/s",
            "psi/h",
            "kPa/h",
            {"psi/h": "psi/hour", "kPa/h": "kPa/hour"},
            MappingProxyType({"psi/h": 3, "kPa/h": 2}),
        ),
        "mass": Kind(
            "kg",
            "lb",
            "kg",
            {"lb": "pound", "oz": "ounce", "kg": "kilogram", "g": "gram"},
            MappingProxyType({"lb": 2, "kg": 2}),
        ),
        # Of gas in a circuit, which weighs little.
        "gas_mass": Kind("kg", "oz", "g", {"oz": "ounce", "g": "gram"}, MappingProxyType({"oz": 3, "g": 2})),
        "gas_mass_rate": Kind(
            "kg/s",
            "oz/d",
            "g/d",
            {"oz/d": "ounce/day", "g/d": "gram/day"},
            MappingProxyType({"oz/d": 2, "g/d": 2}),
        ),
        "gas_flow": Kind("Pa*m3/s", "Pa m3/s", "Pa m3/s", {"Pa m3/s": "Pa*meter**3/second"}),
        "volume": Kind(
            "m3",
            "ft3",
            "L",
            {"ft3": "foot**3", "in3": "inch**3", "m3": "meter**3", "L": "liter"},
            MappingProxyType({"ft3": 3, "L": 2}),
        ),
        # An airflow by a calibrated fan, which no hood measures.
        "duct_leakage": Kind(
            "m3/s",
            "cfm",
            "m3/h",
            {"cfm": "foot**3/minute", "m3/h": "meter**3/hour", "m3/s": "meter**3/second", "L/s": "liter/second"},
            MappingProxyType({"cfm": 0, "m3/h": 0}),
        ),
        # Of refrigerant in lines and hoses, where pounds are too coarse.
        "small_mass": Kind("kg", "oz", "g", {"oz": "ounce", "g": "gram"}, MappingProxyType({"g": 0})),
        "mass_per_length": Kind(
            "kg/m",
            "oz/ft",
            "g/m",
            {"oz/ft": "ounce/foot", "g/m": "gram/meter"},
            MappingProxyType({"oz/ft": 2}),
        ),
        "area": Kind("m2", "ft2", "m2", {"ft2": "foot**2", "in2": "inch**2", "m2": "meter**2"}),
        "velocity": Kind(
            "m/s",
            "ft/min",
            "m/s",
            {"ft/min": "foot/minute", "m/s": "meter/second"},
            MappingProxyType({"ft/min": 0, "m/s": 2}),
        ),
        "resistance": Kind(
            "ohm",
            "ohm",
            "ohm",
            {"ohm": "ohm", "kohm": "kiloohm", "Mohm": "megaohm"},
            MappingProxyType({"ohm": 2}),
        ),
        "insulation_resistance": Kind(
            "ohm",
            "Mohm",
            "Mohm",
            {"Mohm": "megaohm", "kohm": "kiloohm", "ohm": "ohm"},
        ),
        "thermal_resistance": Kind(
            "m2*K/W",
            "h ft2 degF/Btu",
            "m2 K/W",
            {"h ft2 degF/Btu": "hour*foot**2*delta_degF/Btu_it", "m2 K/W": "meter**2*kelvin/watt"},
            MappingProxyType({"m2 K/W": 2}),
        ),
        "power_for_airflow": Kind(
            "J/m3",
            "W/cfm",
            "W/(L/s)",
            {"W/cfm": "watt*minute/foot**3", "W/(L/s)": "watt*second/liter"},
            MappingProxyType({"W/cfm": 3, "W/(L/s)": 2}),
        ),
        "annual_rate": Kind("1", "%/a", "%/a", {"%/a": "percent"}),
        "annual_mass": Kind("kg", "lb/a", "kg/a", {"lb/a": "pound", "kg/a": "kilogram"}, MappingProxyType({})),
    }
)


@dataclass(frozen=True, slots=True)
class Conversion:
    """``si = scale * value + offset``; the inverse divides."""

    scale: float
    offset: float

    def to_si(self, value: float) -> float:
        """Value in the named unit to SI."""
        return self.scale * value + self.offset

    def from_si(self, value: float) -> float:
        """SI value to the named unit."""
        return (value - self.offset) / self.scale


def _fingerprint() -> str:
    text = repr([(name, kind.si, sorted(kind.units.items())) for name, kind in KINDS.items()])
    return hashlib.sha256(f"2|{version('pint')}|{text}".encode()).hexdigest()[:16]


#: SI symbols of this table that are not Pint expressions.
_SI_EXPRESSIONS = {
    "1": "dimensionless",
    "kg/kg": "dimensionless",
    "VA": "watt",
    "m3/s": "meter**3/second",
    "m3/J": "meter**3/joule",
    "m3": "meter**3",
    "m2": "meter**2",
    "m2*K/W": "meter**2*kelvin/watt",
    "J/m3": "joule/meter**3",
    "Pa*m3/s": "Pa*meter**3/second",
    "Pa/s": "Pa/second",
    "kg/s": "kilogram/second",
}


def _ask_pint() -> dict[str, np.ndarray]:
    import pint  # noqa: PLC0415 - half a second that only the first start pays

    registry: Any = pint.UnitRegistry()
    rows = []
    for kind in KINDS.values():
        base = registry.parse_units(_SI_EXPRESSIONS.get(kind.si, kind.si))
        for expression in kind.units.values():
            unit = registry.parse_units(expression)
            # Far ends, so that the difference keeps all its digits beside the offset.
            ends = [registry.Quantity(x, unit).to(base).magnitude for x in (-1e6, 0.0, 1e6)]
            rows.append(((ends[2] - ends[0]) / 2e6, ends[1]))
    return {"affine": np.asarray(rows, dtype=np.float64)}


def _with_zero(kind: Kind, symbol: str, scale: float, offset: float) -> Conversion:
    return Conversion(scale, kind.zeros.get(symbol, offset))


@cache
def conversions() -> Mapping[str, Mapping[str, Conversion]]:
    """All conversions: kind, then unit symbol."""
    rows = iter(prepared_arrays("units", _fingerprint(), _ask_pint)["affine"].tolist())
    return MappingProxyType(
        {
            name: MappingProxyType({symbol: _with_zero(kind, symbol, *next(rows)) for symbol in kind.units})
            for name, kind in KINDS.items()
        }
    )


def conversion(kind: str, symbol: str) -> Conversion:
    """The conversion of one unit symbol of one kind.

    Raises
    ------
    KeyError
        If the kind does not know the symbol.
    """
    return conversions()[kind][symbol]


def system_unit(kind: str, system: str) -> str:
    """The unit symbol in which a unit system writes this kind."""
    row = KINDS[kind]
    return row.imperial if system == "imperial" else row.metric


def in_system(kind: str, value: float, system: str) -> float:
    """A value in SI in the unit that a unit system writes its kind in."""
    return conversion(kind, system_unit(kind, system)).from_si(value)
