"""The unit's rated performance, tables and maps, and what a request says beside its readings."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from service.intake.entry import Entry, display
from service.intake.paths import (
    AUXILIARY_OFF,
    DESIGN_LOAD,
    DUCTLESS,
    EFFICIENCIES,
    LINE_SET,
    RATED,
    USAGE,
)
from service.intake.paths import HEATING_MAP as HEATING_MAP_LEAF
from service.intake.refusals import Refusal, pointer
from service.intake.visit import BlowerTable
from service.physics.compressor import ten_coefficients
from service.reference.conditions import RATED_AIRFLOW_RANGE, RATED_CAPACITY_RANGE, ZERO_LOAD
from service.reference.performance_maps import HEATING_MAP, PERFORMANCE_MAPS
from service.reference.units import conversion

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class CompressorTable:
    """A compressor's map, asked in SI."""

    coefficients: tuple[float, ...]
    scale: float
    temperature_unit: str
    superheat: float | None
    temperature: float | None

    def mass_flow(self, evaporating: FloatArray, condensing: FloatArray) -> FloatArray:
        """Mass flow [kg/s] at suction and discharge dew temperatures [K]."""
        unit = conversion("temperature", self.temperature_unit)
        suction, discharge = ((value - unit.offset) / unit.scale for value in (evaporating, condensing))
        return self.scale * ten_coefficients(self.coefficients, suction, discharge)

    def suction_temperature(self, evaporating: FloatArray) -> FloatArray:
        """Temperature [K] of the suction gas for which the map holds."""
        if self.superheat is not None:
            return evaporating + self.superheat
        return np.full_like(evaporating, self.temperature)


def take_performance(entry: Entry) -> None:
    """Rated performance, maps and tables of the unit, and what the run says beside readings."""
    _ratings(entry)
    _heating(entry)
    _duct_and_lines(entry)
    _pressure_drops(entry)
    _blower_table(entry)
    _compressor_map(entry)
    _beside_readings(entry)


def _ratings(entry: Entry) -> None:
    rated = entry.request.unit.rated
    if rated is None:
        return
    for name, kind, limits in (
        ("cooling_capacity", "heat_flow", RATED_CAPACITY_RANGE),
        ("airflow", "airflow", RATED_AIRFLOW_RANGE),
        ("heating_capacity", "heat_flow", RATED_CAPACITY_RANGE),
        ("heating_capacity_low", "heat_flow", RATED_CAPACITY_RANGE),
    ):
        _rating(entry, name, getattr(rated, name), kind, limits)
    scale = conversion("efficiency", "Btu/(W h)").scale
    for name in EFFICIENCIES:
        given = getattr(rated, name)
        if given is not None:
            entry.constant(RATED + name, given * scale)
    for name in ("heating_cop", "heating_cop_low"):
        given = getattr(rated, name)
        if given is not None:
            entry.constant(RATED + name, float(given))


def _heating(entry: Entry) -> None:
    """Auxiliary heat as stated or shown, and what the building needs in winter."""
    unit, run = entry.request.unit, entry.request.run
    if unit.mode != "heating":
        return
    entry.constant(HEATING_MAP_LEAF, HEATING_MAP, "unit.capacity_control")
    readings = run.readings
    shown = [getattr(readings, name) for name in ("auxiliary_heat_power", "auxiliary_heat_current")]
    if not run.auxiliary_heat_on and all(given is None for given in shown):
        stated = run.auxiliary_heat_on is False
        entry.constant(AUXILIARY_OFF, 0.0, "run.auxiliary_heat_on" if stated else "assumed: auxiliary heat off")
    load = unit.design_load
    if load is None:
        return
    entry.plain(DESIGN_LOAD + "heat_loss", load.heat_loss, "heat_flow")
    entry.plain(DESIGN_LOAD + "outdoor_air_dry_bulb", load.outdoor_air_dry_bulb, "temperature")
    zero = load.zero_load_temperature
    value = ZERO_LOAD if zero is None else entry.to_si(zero, "temperature")
    shown_as = "assumed: no heat needed above 65 °F" if zero is None else DESIGN_LOAD + "zero_load_temperature"
    entry.constant(DESIGN_LOAD + "zero_load_temperature", value, shown_as)
    if not entry.constants[DESIGN_LOAD + "outdoor_air_dry_bulb"] < value:
        entry.refusals.append(
            Refusal(
                pointer("unit", "design_load", "outdoor_air_dry_bulb"),
                display(load.outdoor_air_dry_bulb),
                "below the temperature at which the building needs no heat",
                "is not below the temperature at which the building needs no heat",
                "Check both temperatures and their units.",
            )
        )


def _duct_and_lines(entry: Entry) -> None:
    """Whether the unit has ducts, its line set, and the map of how its performance follows the weather."""
    unit = entry.request.unit
    if not unit.ducted:
        entry.constant(DUCTLESS, True, "unit.ducted")
    if unit.line_set is not None:
        entry.plain(LINE_SET + "length", unit.line_set.length, "length")
        if unit.line_set.insulated is not None:
            entry.constant(LINE_SET + "insulated", unit.line_set.insulated)
    if unit.capacity_control in PERFORMANCE_MAPS:
        entry.constant(
            "unit.performance_map",
            PERFORMANCE_MAPS[unit.capacity_control],
            "unit.capacity_control",
        )


def _pressure_drops(entry: Entry) -> None:
    """Rated pressure drop and airflow of coil and filter; which of them is outside the indoor unit."""
    unit = entry.request.unit
    for part in ("coil", "filter"):
        point = getattr(unit, f"{part}_pressure_drop_rating")
        path = f"unit.{part}_pressure_drop_rating"
        if point is not None:
            pair = (
                entry.to_si(point.pressure_drop, "static_pressure"),
                entry.to_si(point.airflow, "airflow"),
            )
            if entry.all_positive(pair, path):
                entry.constant(path, pair)
    if unit.indoor_unit == "furnace_with_coil":
        entry.constant("unit.coil_is_external", True, "unit.indoor_unit")
    if unit.indoor_unit is not None:
        entry.constant("unit.filter_is_external", True, "unit.indoor_unit")
    if unit.furnace_efficiency is not None:
        entry.constant("unit.furnace_efficiency", unit.furnace_efficiency)


def _beside_readings(entry: Entry) -> None:
    """How the run was made, and what cooling costs."""
    run, usage = entry.request.run, entry.request.usage
    if run.airflow_measured_at == "supply":
        entry.constant("run.airflow_measured_at_supply", True, "run.airflow_measured_at")
    if run.heat_test_at_cooling_speed:
        entry.constant("run.heat_test_at_cooling_speed", True)
    if usage.cooling_hours is not None:
        entry.constant(USAGE + "cooling_hours", usage.cooling_hours * 3600.0)
    if usage.energy_price is not None:
        entry.constant(USAGE + "energy_price", usage.energy_price / 3.6e6)


def _rating(entry: Entry, name: str, given: Any, kind: str, limits: tuple[float, float]) -> None:  # noqa: ANN401
    if given is None:
        return
    value = entry.to_si(given, kind)
    if entry.inside(value, limits, kind, pointer("unit", "rated", name), given):
        entry.constant(RATED + name, value)


def _blower_table(entry: Entry) -> None:
    rows = entry.request.unit.blower_table
    if rows is None:
        return
    pressures = [entry.to_si(row.external_static_pressure, "static_pressure") for row in rows]
    airflows = [entry.to_si(row.airflow, "airflow") for row in rows]
    if any(after <= before for before, after in pairwise(pressures)):
        entry.refusals.append(
            Refusal(
                pointer("unit", "blower_table"),
                None,
                "rows in ascending order of static pressure",
                "is not in ascending order of static pressure",
                "Sort the rows, and give each pressure once.",
            )
        )
    elif entry.all_positive(tuple(airflows), "unit.blower_table"):
        entry.constant("unit.blower_table", BlowerTable(tuple(pressures), tuple(airflows)))


def _compressor_map(entry: Entry) -> None:
    given = entry.request.unit.compressor_map
    if given is None:
        return
    if (given.suction_superheat is None) == (given.suction_temperature is None):
        entry.refusals.append(
            Refusal(
                pointer("unit", "compressor_map"),
                None,
                "one of suction_superheat and suction_temperature",
                "must state the suction gas of the map in exactly one way",
                "Give the one that the compressor's data sheet states.",
            )
        )
        return
    superheat, temperature = (
        None if value is None else entry.to_si(value, kind)
        for value, kind in (
            (given.suction_superheat, "temperature_difference"),
            (given.suction_temperature, "temperature"),
        )
    )
    entry.constant(
        "unit.compressor_map",
        CompressorTable(
            tuple(given.mass_flow),
            conversion("mass_flow", given.mass_flow_unit).scale,
            given.temperature_unit,
            superheat,
            temperature,
        ),
    )
