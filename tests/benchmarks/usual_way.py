"""The derived values of a visit as a competent engineer computes them with general libraries.

CoolProp's ``PropsSI`` for the refrigerant, PsychroLib for the air, and a general uncertainty library:
nothing of the service computes anything here, so the two check each other
(``tests/published/test_usual_way.py``) and can be timed side by side (``speed``).

What is known of instruments (the accuracies of ``GET /v1/instruments``) and what is taken for
granted is the same on both sides; it is data, and read from where the service keeps it.

Three sets of tools do the same work:

* ``Linear``: propagation of first order with numerical derivatives (``uncertainties.wrap``), the
  usual way;
* ``LinearReused``: the same by one ``AbstractState`` that is kept, as a careful user would;
* ``MonteCarlo``: propagation of distributions, ``PropsSI`` on arrays of draws.

Visits are of the kind of ``r410a_capacity``: imperial, gauges, clamps, psychrometer, meters, hood and
manometer, one phase, a blower table.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from functools import cache
from math import sqrt
from typing import Any, NamedTuple, Protocol

import numpy as np
import psychrolib
from CoolProp import CoolProp as cp  # noqa: N813
from CoolProp.CoolProp import PropsSI
from uncertainties import ufloat, wrap

from schemas.examples import examples
from schemas.readings import READINGS
from service.reference.assumptions import ASSUMPTIONS
from service.reference.instruments import INSTRUMENT_TYPES
from service.reference.placements import PLACEMENTS, SPOTS
from service.reference.refrigerants import REFRIGERANTS
from service.reference.site import WEATHER_PRESSURE_DEVIATION

psychrolib.SetUnitSystem(psychrolib.SI)

#: What behaves like a number: a float, a number with an uncertainty, an array of draws.
Quantity = Any

FLUID = "R410A"
ZERO_CELSIUS = 273.15
PSI = 6894.757293168361
INCH_OF_WATER = 249.08891
CFM = 0.3048**3 / 60.0
BTU_PER_HOUR = 1055.05585262 / 3600.0
TON = 12000.0 * BTU_PER_HOUR
STANDARD_AIR_DENSITY = 1.2014


class Tools(Protocol):
    """Errors and property calls; the formulas below do not know which kind they work with."""

    def error(self, distribution: str, scale: float) -> Quantity:
        """An error about zero: a half-width if rectangular, else a standard deviation."""

    def refrigerant(self, output: str, first: str, one: Quantity, second: str, other: Quantity) -> Quantity:
        """A property as ``PropsSI`` names it."""

    def call(self, function: Callable[..., float], *arguments: Quantity) -> Quantity:
        """A function of plain numbers."""


class Linear:
    """First-order propagation around ``PropsSI``."""

    def error(self, distribution: str, scale: float) -> Quantity:
        return ufloat(0.0, scale / sqrt(3.0) if distribution == "rectangular" else scale)

    def refrigerant(self, output: str, first: str, one: Quantity, second: str, other: Quantity) -> Quantity:
        return _wrapped_property(output, first, second)(one, other)

    def call(self, function: Callable[..., float], *arguments: Quantity) -> Quantity:
        return _wrapped(function)(*arguments)


_wrapped = cache(wrap)


@cache
def _wrapped_property(output: str, first: str, second: str) -> Callable[..., Quantity]:
    made: Callable[..., Quantity] = wrap(lambda one, other: PropsSI(output, first, one, second, other, FLUID))
    return made


class LinearReused(Linear):
    """First-order propagation around one state object that is kept."""

    def refrigerant(self, output: str, first: str, one: Quantity, second: str, other: Quantity) -> Quantity:
        return _reused_property(output, first, second)(one, other)


_INPUTS = {
    ("P", "Q"): cp.PQ_INPUTS,
    ("P", "T"): cp.PT_INPUTS,
    ("P", "S"): cp.PSmass_INPUTS,
}


@cache
def _reused_property(output: str, first: str, second: str) -> Callable[..., Quantity]:
    state = cp.AbstractState("HEOS", FLUID)
    inputs = _INPUTS[first, second]
    read = {"T": state.T, "H": state.hmass, "S": state.smass}[output]

    def value(one: float, other: float) -> float:
        state.update(inputs, one, other)
        return float(read())

    made: Callable[..., Quantity] = wrap(value)
    return made


class MonteCarlo:
    """Propagation of distributions: arrays of draws, the nominal value first."""

    def __init__(self, draws: int = 1024, seed: int = 1) -> None:
        self.draws = draws
        self.generator = np.random.default_rng(seed)

    def error(self, distribution: str, scale: float) -> Quantity:
        if distribution == "rectangular":
            draws = self.generator.uniform(-scale, scale, self.draws)
        else:
            draws = scale * self.generator.standard_normal(self.draws)
        return np.concatenate(([0.0], draws))

    def refrigerant(self, output: str, first: str, one: Quantity, second: str, other: Quantity) -> Quantity:
        one, other = np.broadcast_arrays(one, other)
        return PropsSI(output, first, one.copy(), second, other.copy(), FLUID)

    def call(self, function: Callable[..., float], *arguments: Quantity) -> Quantity:
        return _over_arrays(function)(*arguments)


@cache
def _over_arrays(function: Callable[..., float]) -> Callable[..., Quantity]:
    def value(*arguments: float) -> float:
        try:
            return function(*arguments)
        except ValueError:  # an error may bring a wet bulb over its dry bulb
            return np.nan

    return lambda *arguments: np.array([value(*row) for row in zip(*np.broadcast_arrays(*arguments), strict=True)])


def _to_si(kind: str, shown: float) -> float:
    """Imperial to SI, a temperature to °C."""
    if kind == "temperature":
        return (shown - 32.0) / 1.8
    factors = {"pressure": PSI, "static_pressure": INCH_OF_WATER, "airflow": CFM}
    return shown * factors.get(kind, 1.0)


def readings_of(body: Mapping[str, Any], tools: Tools) -> dict[str, Quantity]:
    """Readings in SI (°C) with the errors of the instruments that made them.

    An instrument that reads several places carries one calibration error to all of them; clamps and
    gauges have a sensor for each.
    """
    able = {
        measured: (name, INSTRUMENT_TYPES[row["type"]])
        for name, row in reversed(body["kit"].items())
        for measured in INSTRUMENT_TYPES[row["type"]].accuracies
    }
    shared: dict[tuple[str, str], Quantity] = {}
    readings = {}
    taken = {}
    for reading, given in body["run"]["readings"].items():
        spec = READINGS[reading]
        shown = given["value"] if isinstance(given, Mapping) else given
        name, type_ = able[spec.measured_as]
        accuracy = type_.accuracy(spec.measured_as, reading)
        value = taken[reading] = _to_si(spec.kind, shown)
        limit = (
            accuracy.fixed
            + accuracy.percent_of_span / 100.0 * accuracy.span
            + accuracy.counts * accuracy.resolution
            + accuracy.percent_of_reading / 100.0 * abs(value)
        )
        if type_.shares_calibration:
            sensor = (name, spec.measured_as)
            if sensor not in shared:
                shared[sensor] = tools.error("rectangular", 1.0)
            calibration = limit * shared[sensor]
        else:
            calibration = tools.error("rectangular", limit)
        readings[reading] = value + calibration
        for distribution, scale in (
            ("rectangular", accuracy.placement),
            ("normal", accuracy.repeatability),
            ("rectangular", accuracy.resolution / 2.0),
        ):
            if scale:
                readings[reading] += tools.error(distribution, scale)
    # Where a probe sits: a share of the difference to what is around, one share for each spot.
    shares: dict[str, Quantity] = {}
    for row in PLACEMENTS:
        if row.reading not in taken:
            continue
        if row.spot not in shares:
            spot = SPOTS[row.spot]
            shares[row.spot] = tools.error(spot.distribution, spot.share)
        around = taken[row.around] - taken[row.reading] if row.around in taken else row.usual
        readings[row.reading] += shares[row.spot] * around
    return readings


def derived(body: Mapping[str, Any], tools: Tools) -> dict[str, Quantity]:
    """Values by the service's names, SI, temperatures in °C."""
    read = readings_of(body, tools)
    metres = body["site"]["altitude"] * 0.3048
    atmosphere = psychrolib.GetStandardAtmPressure(metres) + tools.error("normal", WEATHER_PRESSURE_DEVIATION)
    gas, refrigerant = _refrigerant_side(body["unit"], tools, read, atmosphere)
    air = _air_side(body["unit"], tools, read, atmosphere)
    electrical = _electrical_side(body["unit"]["nameplate"], tools, read, gas)
    net = air["cooling_capacity_air_side"]
    return {
        **refrigerant,
        **air,
        **electrical,
        "evaporating_temperature_under_return_air": read["return_air_dry_bulb"]
        - refrigerant["evaporating_temperature"],
        # The service brings these to agreement with its balances; here they are as read.
        "airflow": read["airflow"],
        "cooling_capacity": net,
        "latent_capacity": net - air["sensible_capacity"],
        "refrigerant_mass_flow": electrical["refrigerant_mass_flow_from_energy_balance"],
        "eer": net / electrical["total_power"],
    }


def _assumed(tools: Tools, name: str) -> Quantity:
    row = ASSUMPTIONS[name]
    return row.value + tools.error(row.distribution, row.spread)


class Gas(NamedTuple):
    """Enthalpies [J/kg] of the gas at the compressor and behind it, and what evaporation takes up."""

    cold: Quantity
    hot: Quantity
    effect: Quantity


def _refrigerant_side(
    unit: Mapping[str, Any], tools: Tools, read: Mapping[str, Quantity], atmosphere: Quantity
) -> tuple[Gas, dict[str, Quantity]]:
    model = tools.error("normal", REFRIGERANTS[unit["refrigerant"]].model_uncertainty)
    low, high = read["suction_pressure"] + atmosphere, read["liquid_pressure"] + atmosphere
    suction, liquid = read["suction_line_temperature"], read["liquid_line_temperature"]
    discharge, outdoor = read["discharge_line_temperature"], read["outdoor_air_dry_bulb"]

    def saturation(pressure: Quantity, quality: float) -> Quantity:
        return tools.refrigerant("T", "P", pressure, "Q", quality) - ZERO_CELSIUS + model

    low_dew, low_bubble = saturation(low, 1.0), saturation(low, 0.0)
    high_dew, high_bubble = saturation(high, 1.0), saturation(high, 0.0)
    evaporating, condensing = 0.5 * (low_dew + low_bubble), 0.5 * (high_dew + high_bubble)

    def at(output: str, pressure: Quantity, celsius: Quantity) -> Quantity:
        return tools.refrigerant(output, "P", pressure, "T", celsius + ZERO_CELSIUS)

    cold, entropy = at("H", low, suction), at("S", low, suction)
    gas = Gas(cold, at("H", high, discharge), cold - at("H", high, liquid))
    ideal = tools.refrigerant("H", "P", high, "S", entropy)
    return gas, {
        "suction_pressure_absolute": low,
        "high_side_pressure_absolute": high,
        "suction_saturation_temperature": low_dew,
        "liquid_saturation_temperature": high_bubble,
        "evaporating_temperature": evaporating,
        "condensing_temperature": condensing,
        "superheat": suction - low_dew,
        "subcooling": high_bubble - liquid,
        "subcooling_deviation": high_bubble - liquid - unit["nameplate"]["subcooling"] / 1.8,
        "condensing_temperature_over_ambient": condensing - outdoor,
        "liquid_line_temperature_over_ambient": liquid - outdoor,
        "compression_ratio": high / low,
        "discharge_superheat": discharge - high_dew,
        "discharge_temperature": discharge,
        "refrigerating_effect": gas.effect,
        "compressor_isentropic_efficiency": (ideal - gas.cold) / (gas.hot - gas.cold),
    }


def _air_side(
    unit: Mapping[str, Any], tools: Tools, read: Mapping[str, Quantity], atmosphere: Quantity
) -> dict[str, Quantity]:
    dry, wet = read["return_air_dry_bulb"], read["return_air_wet_bulb"]
    cold, cold_wet = read["supply_air_dry_bulb"], read["supply_air_wet_bulb"]

    def humidity_ratio(dry: Quantity, wet: Quantity) -> Quantity:
        return tools.call(psychrolib.GetHumRatioFromTWetBulb, dry, wet, atmosphere)

    ratio, cold_ratio = humidity_ratio(dry, wet), humidity_ratio(cold, cold_wet)
    enthalpy = tools.call(psychrolib.GetMoistAirEnthalpy, dry, ratio)
    cold_enthalpy = tools.call(psychrolib.GetMoistAirEnthalpy, cold, cold_ratio)
    volume = tools.call(psychrolib.GetMoistAirVolume, dry, ratio, atmosphere)
    density = tools.call(psychrolib.GetMoistAirDensity, dry, ratio, atmosphere)
    static = read["total_external_static_pressure"]
    rated_static = unit["nameplate"]["maximum_external_static_pressure"] * INCH_OF_WATER
    table = _blower(tuple(tuple(row.values()) for row in unit["blower_table"]))
    air = read["airflow"] / volume
    return {
        "return_air_humidity_ratio": ratio,
        "return_air_relative_humidity": tools.call(psychrolib.GetRelHumFromHumRatio, dry, ratio, atmosphere),
        "return_air_dew_point": tools.call(psychrolib.GetTDewPointFromHumRatio, dry, ratio, atmosphere),
        "return_air_enthalpy": enthalpy,
        "supply_air_humidity_ratio": cold_ratio,
        "supply_air_relative_humidity": tools.call(psychrolib.GetRelHumFromHumRatio, cold, cold_ratio, atmosphere),
        "supply_air_dew_point": tools.call(psychrolib.GetTDewPointFromHumRatio, cold, cold_ratio, atmosphere),
        "supply_air_enthalpy": cold_enthalpy,
        "air_enthalpy_drop": enthalpy - cold_enthalpy,
        "temperature_split": dry - cold,
        "total_external_static_pressure": static,
        "filter_share_of_static_pressure": read["filter_pressure_drop"] / rated_static,
        "coil_share_of_static_pressure": read["coil_pressure_drop"] / rated_static,
        "airflow_measured": read["airflow"],
        "airflow_from_blower_table": _assumed(tools, "blower_table")
        * tools.call(table, static * STANDARD_AIR_DENSITY / density),
        "cooling_capacity_air_side": air * (enthalpy - cold_enthalpy),
        "sensible_capacity": air * (1006.0 + 1860.0 * cold_ratio) * (dry - cold),
    }


def _electrical_side(
    nameplate: Mapping[str, Any], tools: Tools, read: Mapping[str, Quantity], gas: Gas
) -> dict[str, Quantity]:
    """What meters read, and the refrigerant that the compressor's power drives round."""
    volts, amps = read["line_voltage"], read["compressor_common_current"]
    power, blower = read["outdoor_unit_power"], read["indoor_unit_power"]
    compressor = power * (1.0 - _assumed(tools, "outdoor_fan_power_share"))
    flow = compressor * (1.0 - _assumed(tools, "compressor_heat_loss")) / (gas.hot - gas.cold)
    return {
        "refrigerant_mass_flow_from_energy_balance": flow,
        "cooling_capacity_refrigerant_side": flow * gas.effect - blower,
        "supply_voltage": volts,
        "supply_voltage_deviation": volts / nameplate["voltage"] - 1.0,
        "compressor_current": amps,
        "compressor_apparent_power": volts * amps,
        "compressor_current_share": amps / nameplate["compressor_rated_load_amps"],
        "outdoor_unit_power_from_volts_and_amps": volts
        * amps
        * (1.0 + _assumed(tools, "outdoor_fan_share"))
        * _assumed(tools, "power_factor_single_phase"),
        "outdoor_unit_power": power,
        "total_power": power + blower,
    }


@cache
def _blower(points: tuple[tuple[float, ...], ...]) -> Callable[[float], float]:
    """Airflow [m3/s] over external static pressure [Pa], straight lines between the points."""
    pressures = [INCH_OF_WATER * pressure for pressure, _ in points]
    airflows = [CFM * flow for _, flow in points]
    return lambda pressure: float(np.interp(pressure, pressures, airflows))


def within_reach(bodies: Iterable[Mapping[str, Any]]) -> Iterator[Mapping[str, Any]]:
    """Those bodies that have all that ``derived`` needs, in a state that the libraries accept."""
    example = examples()["r410a_capacity"]["run"]["readings"]
    for body in bodies:
        readings = body["run"]["readings"]
        if body["unit"]["refrigerant"] != "R-410A" or readings.keys() != example.keys():
            continue
        if all(
            readings[f"{side}_air_wet_bulb"] < readings[f"{side}_air_dry_bulb"] - 0.5 for side in ("return", "supply")
        ):
            yield body


#: From SI (°C) to a unit of an imperial answer: factor and offset.
SHOWN: Mapping[str, tuple[float, float]] = {
    "degF": (1.8, 32.0),
    "delta_degF": (1.8, 0.0),
    "psia": (1.0 / PSI, 0.0),
    "inH2O": (1.0 / INCH_OF_WATER, 0.0),
    "cfm": (1.0 / CFM, 0.0),
    "Btu/h": (1.0 / BTU_PER_HOUR, 0.0),
    "Btu/lb": (1.0 / 2326.0, 0.0),
    "gr/lb": (7000.0, 0.0),
    "lb/h": (3600.0 / 0.45359237, 0.0),
    "Btu/(W h)": (1.0 / BTU_PER_HOUR, 0.0),
    "%": (100.0, 0.0),
    "W": (1.0, 0.0),
    "VA": (1.0, 0.0),
    "V": (1.0, 0.0),
    "A": (1.0, 0.0),
    "1": (1.0, 0.0),
}


#: Enthalpies of air are counted from 0 °F in imperial units.
_IMPERIAL_ZERO = psychrolib.GetMoistAirEnthalpy(-32.0 / 1.8, 0.0)


def shown(name: str, quantity: Quantity, unit: str) -> tuple[float, float]:
    """Value and standard uncertainty in a unit of the answer."""
    factor, offset = SHOWN[unit]
    if name.endswith("_air_enthalpy"):
        offset = -factor * _IMPERIAL_ZERO
    if isinstance(quantity, np.ndarray):
        value, deviation = float(quantity[0]), float(np.nanstd(quantity[1:], ddof=1))
    else:
        value, deviation = quantity.nominal_value, quantity.std_dev
    return factor * value + offset, factor * deviation


class Difference(NamedTuple):
    """One value here beside the service's.

    ``value`` in standard uncertainties; ``uncertainty`` as a ratio, ours of here over the service's.  Of a
    value that the service reconciles only its band as read is at hand: ``uncertainty`` is then 1.96
    standard uncertainties over half that band.
    """

    name: str
    value: float
    uncertainty: float
    as_read: bool


def differences(values: Mapping[str, Quantity], answer: Mapping[str, Any]) -> list[Difference]:
    """How far the values lie from those of an assessment of the same visit."""
    reconciled = answer["reconciliation"]["quantities"]
    rows = []
    for name, quantity in values.items():
        given = answer["derived"].get(name)
        if given is None:
            continue
        value, deviation = shown(name, quantity, given["unit"])
        as_read = name in reconciled
        if as_read:
            theirs = reconciled[name]["as_read"]
            spread = (theirs["band"]["high"] - theirs["band"]["low"]) / 2.0 / 1.96
        else:
            theirs, spread = given, given["standard_uncertainty"]
        rows.append(Difference(name, (value - theirs["value"]) / spread, deviation / spread, as_read))
    return rows
