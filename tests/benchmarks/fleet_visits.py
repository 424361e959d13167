"""Visits as a fleet sends them: invented, of twelve shapes, sensible by themselves, repeatable.

Every visit is a unit in some state (weather, room, capacity, charge, faults of usual frequency)
that is read with the instruments of its shape; readings follow from the state, so that pressures,
temperatures, air and power of a visit belong together, and carry a little noise.  Nothing is
measured and nothing is copied: shares of shapes and faults, and ranges, are common practice without
a source.  The state is simple on purpose; who needs the truth behind readings takes
``simulated_visits``.

The first visits of a longer stream are those of a shorter one with the same seed.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from functools import partial
from itertools import islice
from typing import Any, NamedTuple

import numpy as np
import orjson
from numpy.typing import NDArray

from service.physics import moist_air
from service.physics.refrigerant import saturation_curves
from service.physics.refrigerant_enthalpy import single_phase

FloatArray = NDArray[np.float64]
State = dict[str, float]

_BLOCK = 256  # units drawn at once; a part of what a seed means
_PSI = 6894.757293168361
_TON = 12000.0  # Btu/h
_BLOWER_SHARE = 0.14  # of a unit's power
_FORGOTTEN = 0.04  # share of visits that lack one of their shape's readings
#: A blower: share of its design airflow and external static pressure [in. w.c.].
_BLOWER = ((1.09, 0.3), (1.0, 0.5), (0.9, 0.7), (0.78, 0.9), (0.62, 1.1))
_MISTAKEN = 0.03  # share of visits with one temperature grossly wrong
_MISTAKE = 8.0  # degF
_FIRST_DAY = datetime.fromisoformat("2026-05-04T08:00:00+00:00")


@dataclass(frozen=True)
class Shape:
    """One kind of visit.

    ``share`` of the fleet's visits; ``refrigerants`` of which each unit has one; ``kit`` as in a
    request; ``readings`` by name; ``describe`` adds to the body what this shape tells of the unit.
    """

    name: str
    share: float
    refrigerants: tuple[str, ...]
    metering_device: str | None
    kit: Mapping[str, Any]
    readings: tuple[str, ...]
    units: str = "imperial"
    describe: Callable[[State, dict[str, Any]], None] = field(default=lambda _state, _body: None)
    repeated: tuple[str, ...] = ()


def _kit(**types: str) -> dict[str, Any]:
    return {name: {"type": type_} for name, type_ in types.items()}


_GAUGES = ("suction_pressure", "liquid_pressure")
_LINES = ("suction_line_temperature", "liquid_line_temperature")
_SPLIT = ("return_air_dry_bulb", "return_air_wet_bulb", "supply_air_dry_bulb")
_CHARGE = (*_GAUGES, *_LINES, "outdoor_air_dry_bulb", *_SPLIT)
_CAPACITY = (
    *_CHARGE,
    "supply_air_wet_bulb",
    "discharge_line_temperature",
    "airflow",
    "outdoor_unit_power",
    "indoor_unit_power",
)
_DIGITAL = _kit(
    gauges="pressure_transducer",
    clamps="thermistor_pipe_clamp",
    air="psychrometer",
    meter="clamp_meter",
)
_COMPLETE = {
    **_DIGITAL,
    **_kit(power="power_meter", manometer="manometer", hood="airflow_hood"),
}


def _subcooling(state: State, body: dict[str, Any]) -> None:
    body["unit"]["nameplate"] = {"voltage": 230, "frequency": 60, "subcooling": state["target"]}


def _rated(state: State, body: dict[str, Any]) -> None:
    _subcooling(state, body)
    body["unit"]["rated"] = {"cooling_capacity": state["rated"], "eer": state["rated_eer"]}


def _electrical(state: State, body: dict[str, Any]) -> None:
    _subcooling(state, body)
    body["unit"]["nameplate"] |= {
        "nominal_supply_voltage": 240,
        "phases": 1,
        "compressor_rated_load_amps": state["rated_load_amps"],
        "outdoor_fan_full_load_amps": 1.4,
        "capacitors": {"compressor": {"microfarads": state["microfarads"], "tolerance_percent": 6}},
    }
    body["run"]["work"] = ["readings_only"]


def _electrical_orifice(state: State, body: dict[str, Any]) -> None:
    _electrical(state, body)
    del body["unit"]["nameplate"]["subcooling"]
    body["site"]["outdoor_unit_on_roof"] = True


def _blower(state: State, body: dict[str, Any]) -> None:
    _rated(state, body)
    design = state["rated"] / _TON * 400.0
    body["unit"]["nameplate"]["maximum_external_static_pressure"] = 0.5
    body["unit"]["indoor_unit"] = "furnace_with_coil"
    body["unit"]["blower_table"] = [
        {"external_static_pressure": pressure, "airflow": round(design * share / 5.0) * 5}
        for share, pressure in _BLOWER
    ]


def _blower_and_use(state: State, body: dict[str, Any]) -> None:
    _blower(state, body)
    body["unit"]["nameplate"]["compressor_rated_load_amps"] = state["rated_load_amps"]
    body["usage"] = {"cooling_hours": 1200, "energy_price": 0.17}


def _cleaning(state: State, body: dict[str, Any]) -> None:
    _rated(state, body)
    body["run"]["work"] = ["coil_cleaning"]


def _ductless(state: State, body: dict[str, Any]) -> None:
    body["unit"] |= {"ducted": False, "capacity_control": "variable_speed"}
    body["unit"]["nameplate"] = {"voltage": 230, "frequency": 50}


def _three_phases(state: State, body: dict[str, Any]) -> None:
    body["unit"]["rated"] = {"cooling_capacity": round(state["rated"] * 0.29307107, -1)}
    body["unit"]["nameplate"] = {
        "voltage": 460,
        "nominal_supply_voltage": 480,
        "phases": 3,
        "frequency": 60,
        "compressor_rated_load_amps": state["line_amps"],
        "subcooling": {"value": round(state["target"] / 1.8, 1), "unit": "delta_degC"},
    }
    body["run"]["work"] = ["filter_change"]


SHAPES = (
    Shape(
        "charge_check_valve",
        0.16,
        ("R-410A", "R-410A", "R-410A", "R-454B"),
        "thermostatic_expansion_valve",
        _DIGITAL,
        _CHARGE,
        describe=_subcooling,
    ),
    Shape(
        "full_check_valve",
        0.12,
        ("R-410A", "R-410A", "R-454B"),
        "thermostatic_expansion_valve",
        _DIGITAL,
        (
            *_CHARGE,
            "discharge_line_temperature",
            "condenser_leaving_air_dry_bulb",
            "supply_air_wet_bulb",
            "line_voltage",
            "compressor_common_current",
        ),
        describe=_cleaning,
    ),
    Shape(
        "charge_check_orifice",
        0.12,
        ("R-22", "R-410A", "R-407C"),
        "fixed_orifice",
        _kit(gauges="analog_gauge", thermometer="digital_thermometer", air="psychrometer"),
        _CHARGE,
    ),
    Shape(
        "electrical_orifice",
        0.08,
        ("R-22", "R-410A"),
        "fixed_orifice",
        _kit(gauges="analog_gauge", thermometer="digital_thermometer", air="psychrometer", meter="clamp_meter"),
        (
            *_CHARGE,
            "compressor_common_current",
            "compressor_start_winding_current",
            "outdoor_fan_current",
            "capacitor_voltage",
            "line_voltage",
        ),
        describe=_electrical_orifice,
    ),
    Shape(
        "electrical_valve",
        0.10,
        ("R-410A", "R-454B", "R-32"),
        "thermostatic_expansion_valve",
        {**_DIGITAL, "gauges": {"type": "pressure_transducer", "accuracy": {"percent_of_reading": 1.0}}},
        (
            *_CHARGE,
            "discharge_line_temperature",
            "compressor_start_winding_current",
            "capacitor_voltage",
            "line_voltage",
        ),
        describe=_electrical,
    ),
    Shape(
        "capacity",
        0.08,
        ("R-410A", "R-410A", "R-454B"),
        "thermostatic_expansion_valve",
        _COMPLETE,
        (
            *_CAPACITY,
            "total_external_static_pressure",
            "filter_pressure_drop",
            "coil_pressure_drop",
            "compressor_common_current",
            "line_voltage",
        ),
        describe=_blower_and_use,
    ),
    Shape(
        "air_side_alone",
        0.06,
        ("R-410A", "R-22", "R-454B"),
        "thermostatic_expansion_valve",
        _kit(air="psychrometer", power="power_meter", hood="airflow_hood"),
        ("outdoor_air_dry_bulb", *_SPLIT, "supply_air_wet_bulb", "airflow", "outdoor_unit_power", "indoor_unit_power"),
        describe=_rated,
    ),
    Shape(
        "ductless",
        0.08,
        ("R-32", "R-410A"),
        "electronic_expansion_valve",
        _kit(
            gauges="pressure_transducer", clamps="thermistor_pipe_clamp", probe="hygrometer_probe", meter="clamp_meter"
        ),
        (
            *_GAUGES,
            *_LINES,
            "outdoor_air_dry_bulb",
            "return_air_dry_bulb",
            "return_air_relative_humidity",
            "supply_air_dry_bulb",
            "supply_air_relative_humidity",
            "compressor_common_current",
            "line_voltage",
        ),
        units="metric",
        describe=_ductless,
    ),
    Shape(
        "three_phases",
        0.05,
        ("R-454B", "R-410A"),
        "electronic_expansion_valve",
        _kit(
            gauges="pressure_transducer",
            clamps="thermistor_pipe_clamp",
            probe="hygrometer_probe",
            meter="power_meter",
            manometer="manometer",
        ),
        (
            *_GAUGES,
            *_LINES,
            "discharge_line_temperature",
            "outdoor_air_dry_bulb",
            "return_air_dry_bulb",
            "return_air_relative_humidity",
            "supply_air_dry_bulb",
            "supply_air_relative_humidity",
            "compressor_line_currents",
            "line_voltages",
            "outdoor_unit_power",
            "return_static_pressure",
            "supply_static_pressure",
        ),
        units="metric",
        describe=_three_phases,
    ),
    Shape(
        "airflow_and_split",
        0.07,
        ("R-410A", "R-22"),
        None,
        _kit(air="psychrometer", manometer="manometer"),
        (
            "outdoor_air_dry_bulb",
            *_SPLIT,
            "return_static_pressure",
            "supply_static_pressure",
            "filter_pressure_drop",
            "coil_pressure_drop",
        ),
        describe=_blower,
    ),
    Shape(
        "repeated_readings",
        0.03,
        ("R-410A", "R-454B"),
        "thermostatic_expansion_valve",
        _COMPLETE,
        _CAPACITY,
        describe=_rated,
        repeated=(*_GAUGES, *_LINES, "return_air_dry_bulb", "supply_air_dry_bulb"),
    ),
    Shape(
        "quick_check",
        0.05,
        ("R-22", "R-410A"),
        "thermostatic_expansion_valve",
        _kit(gauges="analog_gauge", thermometer="digital_thermometer"),
        (
            "suction_saturation_temperature",
            "liquid_saturation_temperature",
            *_LINES,
            "outdoor_air_dry_bulb",
            "return_air_dry_bulb",
            "supply_air_dry_bulb",
        ),
        describe=_subcooling,
    ),
)

#: Faults and their shares; what remains is sound.
_FAULTS = {
    "low_charge": 0.15,
    "overcharge": 0.05,
    "fouled_condenser": 0.15,
    "low_airflow": 0.15,
    "weak_capacitor": 0.08,
}


def visits(count: int, seed: int = 1) -> Iterator[dict[str, Any]]:
    """``count`` bodies of ``POST /v1/assessments``, the same for the same seed."""
    for shape, states, generator in islice(_units(seed), count):
        yield _visit(shape, states[0], generator)


def comparisons(count: int, seed: int = 1) -> Iterator[dict[str, Any]]:
    """``count`` bodies of ``POST /v1/comparisons``: two runs of one unit, the same for one seed.

    Only shapes that read the refrigerant's pressures are compared.
    """
    compared = (unit for unit in _units(seed) if unit[0].metering_device and _GAUGES[0] in unit[0].readings)
    for shape, states, generator in islice(compared, count):
        before, after = (_visit(shape, state, generator) for state in states)
        runs = {"before": before.pop("run"), "after": after["run"]}
        work = runs["before"].pop("work", ["coil_cleaning"])
        runs["after"].pop("work", None)
        later = datetime.fromisoformat(runs["before"]["taken_at"]) + timedelta(hours=2)
        runs["after"]["taken_at"] = later.isoformat()
        yield {**before, "runs": runs, "service": {"work": work}}


def lines(count: int, seed: int = 1, *, compared: float = 0.0) -> Iterator[bytes]:
    """``count`` lines of a batch, of which the share ``compared`` asks for a comparison."""
    pairs = comparisons(count, seed + 1)
    for number, body in enumerate(visits(count, seed)):
        # Spread evenly; a little is added, as a tenth ten times is not quite one.
        if int(compared * (number + 1) + 1e-9) > int(compared * number + 1e-9):
            yield orjson.dumps({"id": f"visit-{number}", "comparison": next(pairs)})
        else:
            yield orjson.dumps({"id": f"visit-{number}", "assessment": body})


def _units(seed: int) -> Iterator[tuple[Shape, tuple[State, State], np.random.Generator]]:
    """Shape, two runs and the source of chance of one unit after another."""
    shares = np.array([shape.share for shape in SHAPES])
    block = 0
    while True:
        generator = np.random.default_rng([seed, block])
        kinds = generator.choice(len(SHAPES), _BLOCK, p=shares / shares.sum())
        fluids = [SHAPES[kind].refrigerants[int(generator.integers(len(SHAPES[kind].refrigerants)))] for kind in kinds]
        orifice = np.array([SHAPES[kind].metering_device == "fixed_orifice" for kind in kinds])
        unit = _drawn_units(generator)
        runs = [_drawn_runs(generator, unit, orifice, fluids) for _ in range(2)]
        for row, kind in enumerate(kinds):
            first, second = ({name: float(column[row]) for name, column in run.items()} for run in runs)
            # One generator a unit: what one visit draws never moves the next.
            own = np.random.default_rng([seed, block, row])
            shape = SHAPES[kind]
            first["refrigerant"] = second["refrigerant"] = shape.refrigerants.index(fluids[row])
            first["number"] = second["number"] = block * _BLOCK + row
            yield shape, (first, second), own
        block += 1


def _drawn_units(generator: np.random.Generator) -> dict[str, FloatArray]:
    """What stays with a unit: size, rating, site, faults (0 or 1)."""
    size = _BLOCK
    rated = generator.choice([24.0, 30.0, 36.0, 42.0, 48.0, 60.0], size) * 1000.0
    rated_eer = np.round(generator.uniform(9.5, 12.5, size), 1)
    power = rated / rated_eer
    faults = {name: (generator.random(size) < share).astype(float) for name, share in _FAULTS.items()}
    faults["overcharge"] *= 1.0 - faults["low_charge"]
    return {
        "rated": rated,
        "rated_eer": rated_eer,
        "target": generator.integers(7, 14, size).astype(float),
        "microfarads": generator.choice([30.0, 35.0, 40.0, 45.0, 50.0, 60.0], size),
        "rated_load_amps": np.round(1.15 * power / 230.0, 1),
        "line_amps": np.round(1.2 * power / (460.0 * np.sqrt(3.0) * 0.85), 1),
        "altitude": np.round(generator.gamma(1.0, 900.0, size).clip(0.0, 6000.0) / 10.0) * 10.0,
        **faults,
    }


def _normal(generator: np.random.Generator, middle: FloatArray | float, spread: float) -> FloatArray:
    """One number a unit, never more than 2.5 ``spread`` off."""
    return middle + spread * generator.standard_normal(_BLOCK).clip(-2.5, 2.5)


def _drawn_runs(
    generator: np.random.Generator,
    unit: Mapping[str, FloatArray],
    orifice: NDArray[np.bool_],
    fluids: list[str],
) -> dict[str, FloatArray]:
    """One run of each unit: every reading in imperial units, without noise."""
    load = _drawn_load(generator, unit)
    refrigerant = _drawn_refrigerant(generator, unit, load, orifice, fluids)
    return {**unit, **load.air, **refrigerant, **_drawn_outdoor_unit(generator, unit, load), **_static(unit, load)}


class _Load(NamedTuple):
    """What runs are made of: size of the faults (0 to 1), weather [degF], air pressure [Pa], airflow [cfm], net
    capacity [Btu/h], power [W], and what the readings of the air are."""

    severity: FloatArray
    outdoor: FloatArray
    pressure: FloatArray
    airflow: FloatArray
    capacity: FloatArray
    power: FloatArray
    air: dict[str, FloatArray]

    @property
    def warm(self) -> FloatArray:
        """How far outdoor air is above rating conditions [delta degF]."""
        return self.outdoor - 95.0


def _drawn_load(generator: np.random.Generator, unit: Mapping[str, FloatArray]) -> _Load:
    normal = partial(_normal, generator)
    low_charge, fouled, starved = unit["low_charge"], unit["fouled_condenser"], unit["low_airflow"]
    severity = generator.uniform(0.3, 1.0, _BLOCK)
    outdoor = generator.uniform(74.0, 104.0, _BLOCK)
    warm = outdoor - 95.0
    return_dry = normal(76.5, 2.4)
    humidity = generator.uniform(0.40, 0.62, _BLOCK)
    pressure = moist_air.standard_atmosphere_pressure(unit["altitude"] * 0.3048)
    airflow = 400.0 * (unit["rated"] / _TON) * normal(0.96, 0.06) * (1.0 - 0.3 * severity * starved)
    capacity = (
        unit["rated"]
        * (1.0 - 0.005 * warm)
        * normal(0.97, 0.03)
        * (1.0 - severity * (0.18 * low_charge + 0.06 * fouled + 0.10 * starved))
    )
    efficiency = (
        unit["rated_eer"]
        * (1.0 - 0.011 * warm)
        * normal(0.97, 0.03)
        * (1.0 - severity * (0.12 * low_charge + 0.16 * fouled + 0.08 * starved))
    )
    air = _air(return_dry, humidity, pressure, capacity, airflow, generator.uniform(0.84, 0.94, _BLOCK))
    return _Load(severity, outdoor, pressure, airflow, capacity, capacity / efficiency, {**air, "airflow": airflow})


def _drawn_refrigerant(
    generator: np.random.Generator,
    unit: Mapping[str, FloatArray],
    load: _Load,
    orifice: NDArray[np.bool_],
    fluids: list[str],
) -> dict[str, FloatArray]:
    """What gauges and clamps read."""
    normal = partial(_normal, generator)
    overcharge, severity, warm = unit["overcharge"], load.severity, load.warm
    lacking = severity * unit["low_charge"]
    evaporating = (
        load.air["return_air_dry_bulb"]
        - 34.0
        + normal(0.0, 2.0)
        + 0.10 * warm
        - severity * (8.0 * unit["low_charge"] + 7.0 * unit["low_airflow"])
    )
    condensing = (
        load.outdoor
        + normal(21.0, 1.5)
        - 3.0 * (unit["rated_eer"] - 11.0)
        + severity * (13.0 * unit["fouled_condenser"] + 5.0 * overcharge)
        - severity * 4.0 * unit["low_charge"]
    )
    superheat = np.where(
        orifice,
        normal(14.0, 4.0) - 0.2 * warm + 18.0 * lacking - 8.0 * severity * overcharge,
        normal(10.0, 2.0) + 14.0 * np.maximum(lacking - 0.4, 0.0),
    ).clip(2.0)
    subcooling = (unit["target"] + normal(0.0, 1.5) - 8.0 * lacking + 8.0 * severity * overcharge).clip(
        1.0, 0.75 * (condensing - load.outdoor) + 2.0
    )
    suction, liquid, discharge = np.empty(_BLOCK), np.empty(_BLOCK), np.empty(_BLOCK)
    for name in dict.fromkeys(fluids):
        rows = np.array([fluid == name for fluid in fluids])
        curves = saturation_curves(name)
        suction[rows] = curves.dew_pressure(_kelvin(evaporating[rows]))
        liquid[rows] = curves.bubble_pressure(_kelvin(condensing[rows]))
        discharge[rows] = _discharge_temperature(
            name,
            suction[rows],
            liquid[rows],
            evaporating[rows] + superheat[rows],
            condensing[rows] - subcooling[rows],
            # Gross capacity over what reaches the gas of the outdoor unit's power.
            (load.capacity * 0.29307107 / load.power + _BLOWER_SHARE)[rows] / ((1.0 - _BLOWER_SHARE) * 0.93 * 0.94),
        )
    return {
        "suction_pressure": (suction - load.pressure) / _PSI,
        "liquid_pressure": (liquid - load.pressure) / _PSI,
        "suction_saturation_temperature": evaporating,
        "liquid_saturation_temperature": condensing,
        "suction_line_temperature": evaporating + superheat,
        "liquid_line_temperature": condensing - subcooling,
        "discharge_line_temperature": discharge.clip(condensing + 25.0, condensing + 115.0),
    }


def _drawn_outdoor_unit(
    generator: np.random.Generator, unit: Mapping[str, FloatArray], load: _Load
) -> dict[str, FloatArray]:
    """The air through the outdoor unit and what the meters read."""
    normal = partial(_normal, generator)
    severity, power = load.severity, load.power
    volts = normal(236.0, 4.0)
    amps = (1.0 - _BLOWER_SHARE) * power * 0.92 / (volts * 0.94)
    across = normal(352.0, 10.0)
    weak = np.where(unit["weak_capacitor"] > 0.0, 1.0 - 0.4 * severity, normal(0.985, 0.015))
    line = (1.0 - _BLOWER_SHARE) * power / (np.sqrt(3.0) * 460.0 * 0.85)
    return {
        "outdoor_air_dry_bulb": load.outdoor,
        "condenser_leaving_air_dry_bulb": load.outdoor + normal(16.0, 1.5) + 3.0 * severity * unit["fouled_condenser"],
        "outdoor_unit_power": (1.0 - _BLOWER_SHARE) * power,
        "indoor_unit_power": _BLOWER_SHARE * power,
        "line_voltage": volts,
        "compressor_common_current": amps,
        "outdoor_fan_current": normal(1.1, 0.1),
        "compressor_start_winding_current": 2e-6 * np.pi * 60.0 * unit["microfarads"] * weak * across,
        "capacitor_voltage.compressor": across,
        "compressor_line_currents.l1": line * normal(1.0, 0.02),
        "compressor_line_currents.l2": line * normal(1.0, 0.02),
        "compressor_line_currents.l3": line * normal(1.0, 0.02),
        "line_voltages.l1_l2": normal(470.0, 4.0),
        "line_voltages.l2_l3": normal(470.0, 4.0),
        "line_voltages.l3_l1": normal(470.0, 4.0),
    }


def _static(unit: Mapping[str, FloatArray], load: _Load) -> dict[str, FloatArray]:
    """Static pressures along the blower's table, so that the ways to the airflow agree."""
    of_nominal = load.airflow / (400.0 * (unit["rated"] / _TON))
    static = np.interp(of_nominal, *np.array([*_BLOWER[::-1], (1.3, 0.1)]).T)
    return {
        "total_external_static_pressure": static,
        "return_static_pressure": -0.45 * static,
        "supply_static_pressure": 0.55 * static,
        "filter_pressure_drop": 0.25 * static,
        "coil_pressure_drop": 0.34 * static,
    }


def _discharge_temperature(
    refrigerant: str,
    suction: FloatArray,
    high: FloatArray,
    suction_line: FloatArray,
    liquid_line: FloatArray,
    performance: FloatArray,
) -> FloatArray:
    """Discharge temperature [degF] with which the refrigerant takes up what the air gives off."""
    fluid = single_phase(refrigerant)
    gas = fluid.vapour_enthalpy(suction, _kelvin(suction_line))
    effect = gas - fluid.liquid_enthalpy(high, _kelvin(liquid_line))
    sought = gas + effect / performance
    one, other = _kelvin(suction_line) + 50.0, _kelvin(suction_line) + 60.0
    short = fluid.vapour_enthalpy(high, one) - sought
    for _ in range(4):  # secant steps along a nearly straight line
        now = fluid.vapour_enthalpy(high, other) - sought
        slope = np.where(now == short, 1000.0, (now - short) / np.where(one == other, 1.0, other - one))
        one, other, short = other, other - now / slope, now
    return _fahrenheit(other)


def _air(
    return_dry: FloatArray,
    humidity: FloatArray,
    pressure: FloatArray,
    capacity: FloatArray,
    airflow: FloatArray,
    supply_humidity: FloatArray,
) -> dict[str, FloatArray]:
    """Both sides of the coil, so that air takes up just the capacity and leaves nearly saturated."""
    dry = _kelvin(return_dry)
    ratio = moist_air.humidity_ratio_from_relative_humidity(dry, humidity, pressure)
    flow = airflow * 0.3048**3 / 60.0 * moist_air.density(dry, ratio, pressure) / (1.0 + ratio)
    drop = capacity * 0.29307107 / flow  # J/kg of dry air
    # The share of sensible heat that leaves this humidity: the cooler the wetter.
    least, most = np.full_like(dry, 0.4), np.ones_like(dry)
    for _ in range(20):
        sensible = (least + most) / 2.0
        supply_dry = dry - sensible * drop / (1006.0 + 1860.0 * ratio)
        supply_ratio = ratio - (1.0 - sensible) * drop / 2.501e6
        dryer = moist_air.relative_humidity(supply_dry, supply_ratio, pressure) < supply_humidity
        least, most = np.where(dryer, sensible, least), np.where(dryer, most, sensible)
    return {
        "return_air_dry_bulb": return_dry,
        "return_air_wet_bulb": _fahrenheit(moist_air.wet_bulb(dry, ratio, pressure)),
        "return_air_relative_humidity": 100.0 * humidity,
        "supply_air_dry_bulb": _fahrenheit(supply_dry),
        "supply_air_wet_bulb": _fahrenheit(moist_air.wet_bulb(supply_dry, supply_ratio, pressure)),
        "supply_air_relative_humidity": 100.0 * moist_air.relative_humidity(supply_dry, supply_ratio, pressure),
    }


def _kelvin(fahrenheit: FloatArray) -> FloatArray:
    return (fahrenheit - 32.0) / 1.8 + 273.15


def _fahrenheit(kelvin: FloatArray) -> FloatArray:
    return (kelvin - 273.15) * 1.8 + 32.0


@dataclass(frozen=True)
class _Display:
    """How a reading is shown: step and noise [imperial], and as metric its factor, offset, step."""

    step: float
    noise: float
    factor: float
    offset: float
    metric_step: float


_TEMPERATURE = _Display(0.1, 0.3, 1.0 / 1.8, -32.0 / 1.8, 0.1)
_DISPLAYS: Mapping[str, _Display] = {
    "temperature": _TEMPERATURE,
    "bulb": _TEMPERATURE,
    "pressure": _Display(0.5, 0.4, _PSI / 1000.0, 0.0, 1.0),
    "static": _Display(0.01, 0.005, 249.08891, 0.0, 1.0),
    "humidity": _Display(0.1, 0.5, 1.0, 0.0, 0.1),
    "power": _Display(5.0, 8.0, 1.0, 0.0, 5.0),
    "airflow": _Display(5.0, 10.0, 1.699011, 0.0, 5.0),
    "voltage": _Display(0.1, 0.3, 1.0, 0.0, 0.1),
    "current": _Display(0.01, 0.02, 1.0, 0.0, 0.01),
}


def _display(name: str) -> _Display:
    if "static" in name or "pressure_drop" in name:
        return _DISPLAYS["static"]
    return next(shown for word, shown in _DISPLAYS.items() if word in name and (word != "pressure" or name in _GAUGES))


def _shown(name: str, state: State, units: str, generator: np.random.Generator, repeats: int) -> float | list[float]:
    """A reading as the display shows it."""
    display = _display(name)
    metric = units == "metric"
    step = display.metric_step if metric else display.step
    read = state[name] + display.noise * generator.standard_normal(repeats).clip(-2.5, 2.5)
    if metric:
        read = read * display.factor + display.offset
    shown = [round(float(value), 4) for value in np.round(read / step) * step]
    return shown[0] if repeats == 1 else shown


def _readings(shape: Shape, state: State, generator: np.random.Generator) -> dict[str, Any]:
    names = list(shape.readings)
    if generator.random() < _FORGOTTEN:
        del names[int(generator.integers(len(names)))]
    if generator.random() < _MISTAKEN:
        wrong = [name for name in names if _display(name) is _TEMPERATURE]
        name = wrong[int(generator.integers(len(wrong)))]
        state = {
            **state,
            name: state[name] + _MISTAKE * (1.0 if generator.random() < 0.5 else -1.0),
        }
    readings: dict[str, Any] = {}
    for name in names:
        parts = [key.partition(".")[2] for key in state if key.startswith(name + ".")]
        if parts:
            readings[name] = {part: _shown(f"{name}.{part}", state, shape.units, generator, 1) for part in parts}
            continue
        readings[name] = _shown(name, state, shape.units, generator, 3 if name in shape.repeated else 1)
    return {name: _by(_instrument(name, shape.kit), shown) for name, shown in readings.items()}


def _instrument(name: str, kit: Mapping[str, Any]) -> str | None:
    """Which instrument of the kit made a reading, where two of them could have."""
    if "_air_" in name and {"thermometer", "air"} <= kit.keys():
        return "air"
    if ("voltage" in name or "current" in name) and {"meter", "power"} <= kit.keys():
        return "meter"
    return None


def _by(instrument: str | None, shown: Any) -> Any:  # noqa: ANN401
    if instrument is None:
        return shown
    if isinstance(shown, dict):
        return {part: _by(instrument, value) for part, value in shown.items()}
    return {"values" if isinstance(shown, list) else "value": shown, "instrument": instrument}


def _visit(shape: Shape, state: State, generator: np.random.Generator) -> dict[str, Any]:
    """The body of one visit."""
    metric = shape.units == "metric"
    unit: dict[str, Any] = {"refrigerant": shape.refrigerants[int(state["refrigerant"])]}
    if shape.metering_device:
        unit["metering_device"] = shape.metering_device
    at = _FIRST_DAY + timedelta(days=int(state["number"]) % 140, minutes=120 + int(generator.integers(480)))
    body: dict[str, Any] = {
        "units": shape.units,
        "site": {"altitude": round(state["altitude"] * (0.3048 if metric else 1.0))},
        "unit": unit,
        "kit": dict(shape.kit),
        "run": {
            "taken_at": at.isoformat(),
            "minutes_running": int(generator.integers(15, 40)),
            "readings": _readings(shape, state, generator),
        },
    }
    shape.describe(state, body)
    return body
