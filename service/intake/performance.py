"""The unit's rated performance, tables and maps, and what a request says beside its readings."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from schemas.assessments import LowStageRating, Rated
from service.intake.entry import Entry, display
from service.intake.paths import (
    AUXILIARY_OFF,
    DESIGN_LOAD,
    DUCTLESS,
    EFFICIENCIES,
    LINE_SET,
    RATED,
    SEASON_CAPACITY,
    SEASON_HEATING_CAPACITY,
    SEASON_HEATING_EFFICIENCY,
    SHARE_OF_FULL,
    USAGE,
)
from service.intake.paths import HEATING_MAP as HEATING_MAP_LEAF
from service.intake.refusals import Refusal, pointer
from service.intake.visit import BlowerTable
from service.physics.compressor import ten_coefficients
from service.reference.assumptions import ASSUMPTIONS
from service.reference.capacity_control import (
    CAPACITY_OF_SPEED,
    EFFICIENCY_OF_SHARE,
    LOW_STAGE_RATIO,
    PART_SPEED_RATIO,
    RATED_SPEED,
)
from service.reference.conditions import (
    NO_AUXILIARY,
    NO_CURRENT,
    RATED_AIRFLOW_RANGE,
    RATED_CAPACITY_RANGE,
    ZERO_LOAD,
)
from service.reference.performance_maps import HEATING_MAP, PERFORMANCE_MAPS
from service.reference.ratings import COP_OF_HSPF, HSPF_RATINGS
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
    """Ratings at the capacity at which the unit ran, and the full one."""
    rated = entry.request.unit.rated
    if rated is None or entry.request.unit.circuits > 1:  # a rating is of the whole unit
        return
    full = _of_full_capacity(entry, rated)
    low = {} if rated.low_stage is None else _of_low_stage(entry, rated.low_stage, full)
    if "cooling_capacity" in full:
        entry.constant(SEASON_CAPACITY, full["cooling_capacity"], RATED + "cooling_capacity")
    _heating_season(entry, full)
    if entry.running == "low":
        _at_low_stage(entry, full, low)
    elif entry.request.run.speed_percent is not None and entry.running != "unknown":
        _at_speed(entry, full, entry.request.run.speed_percent / 100.0)
    else:
        for name, value in full.items():
            entry.constant(RATED + name, value)


def _heating_season(entry: Entry, full: Mapping[str, float]) -> None:
    """What the energy of a heating season is estimated from: by the seasonal rating, else by that at 47 °F."""
    scale = conversion("efficiency", "Btu/(W h)").scale
    if "heating_capacity" in full:
        entry.constant(SEASON_HEATING_CAPACITY, full["heating_capacity"], RATED + "heating_capacity")
    for name in HSPF_RATINGS:
        if name in full:
            entry.constant(SEASON_HEATING_EFFICIENCY, full[name], RATED + name)
            return
    if "heating_cop" in full:
        first, slope = COP_OF_HSPF
        entry.constant(SEASON_HEATING_EFFICIENCY, scale * (full["heating_cop"] - first) / slope, RATED + "heating_cop")


def _of_full_capacity(entry: Entry, rated: Rated) -> dict[str, float]:
    """The ratings of the full capacity, in SI."""
    found = _numbers(entry, rated, ("unit", "rated"))
    scale = conversion("efficiency", "Btu/(W h)").scale
    found |= {n: value * scale for n in EFFICIENCIES if (value := getattr(rated, n)) is not None}
    return found | {n: value for n in ("heating_cop", "heating_cop_low") if (value := getattr(rated, n)) is not None}


def _of_low_stage(entry: Entry, rated: LowStageRating, full: Mapping[str, float]) -> dict[str, float]:
    """The ratings of low stage, in SI; refused where they are not below the full ones."""
    found = _numbers(entry, rated, ("unit", "rated", "low_stage"))
    for name, value in found.items():
        if value >= full.get(name, np.inf) * (1.0 + _ALIKE):
            entry.refusals.append(
                Refusal(
                    pointer("unit", "rated", "low_stage", name),
                    display(getattr(rated, name)),
                    f"below unit.rated.{name}",
                    "is not below that of full stage",
                    "Were the two exchanged? Give the rating of the low stage here.",
                )
            )
    if rated.eer is not None:
        found["eer"] = rated.eer * conversion("efficiency", "Btu/(W h)").scale
    if rated.heating_cop is not None:
        found["heating_cop"] = rated.heating_cop
    return found


#: How much above the full airflow a rounded one of low stage may be [1].
_ALIKE = 1e-6


def _numbers(entry: Entry, rated: Rated | LowStageRating, where: tuple[str, ...]) -> dict[str, float]:
    """Capacities [W] and airflow [m3/s] within their ranges."""
    found = {}
    for name, kind, limits in (
        ("cooling_capacity", "heat_flow", RATED_CAPACITY_RANGE),
        ("airflow", "airflow", RATED_AIRFLOW_RANGE),
        ("heating_capacity", "heat_flow", RATED_CAPACITY_RANGE),
        ("heating_capacity_low", "heat_flow", RATED_CAPACITY_RANGE),
    ):
        given = getattr(rated, name, None)
        if given is None:
            continue
        value = entry.to_si(given, kind)
        if entry.inside(value, limits, kind, pointer(*where, name), given):
            found[name] = value
    _falls_in_the_cold(entry, rated, where, found)
    return found


def _falls_in_the_cold(
    entry: Entry, rated: Rated | LowStageRating, where: tuple[str, ...], capacities: Mapping[str, float]
) -> None:
    """Refuse a rating at 17 °F that is above the one at 47 °F: no unit heats better in the cold."""
    efficiencies = getattr(rated, "heating_cop", None), getattr(rated, "heating_cop_low", None)
    for name, warm, cold in (
        ("heating_capacity", capacities.get("heating_capacity"), capacities.get("heating_capacity_low")),
        ("heating_cop", *efficiencies),
    ):
        if warm is not None and cold is not None and cold > warm:
            entry.refusals.append(
                Refusal(
                    pointer(*where, f"{name}_low"),
                    display(getattr(rated, f"{name}_low")),
                    f"at most `{name}`",
                    "is above the rating at 47 °F (8.3 °C)",
                    "Were the two exchanged? This one is at 17 °F (−8.3 °C).",
                )
            )


def _at_low_stage(entry: Entry, full: Mapping[str, float], low: Mapping[str, float]) -> None:
    """The stage's own ratings; else the full ones times the ratios of published units."""
    own = RATED + "low_stage."
    for name, value in low.items():
        entry.constant(RATED + name, value, own + name)
    for name, assumption in LOW_STAGE_RATIO.items():
        if name in full and name not in low and not ("eer" in low and name == "eer2"):
            entry.leaves.scaled(RATED + name, full[name], assumption, (RATED + name, "run.stage"))
    share = ASSUMPTIONS["low_stage_capacity"].value
    if "cooling_capacity" in low and "cooling_capacity" in full:
        share = low["cooling_capacity"] / full["cooling_capacity"]
    entry.constant(SHARE_OF_FULL, share, "run.stage")


def _at_speed(entry: Entry, full: Mapping[str, float], speed: float) -> None:
    """The ratings at a speed, each with a spread: capacity about in proportion, efficiency better the slower."""
    share = speed**CAPACITY_OF_SPEED
    entry.constant(SHARE_OF_FULL, share, "run.speed_percent")
    for name, assumption in PART_SPEED_RATIO.items():
        if name in full:
            ratio = share if "capacity" in name else share**EFFICIENCY_OF_SHARE
            entry.leaves.scaled(RATED + name, full[name] * ratio, assumption, (RATED + name, "run.speed_percent"))
    if RATED_SPEED[0] <= 100.0 * speed <= RATED_SPEED[1] and "airflow" in full:
        entry.constant(RATED + "airflow", full["airflow"])


def take_auxiliary_heat(entry: Entry) -> None:
    """Whether auxiliary heat was off, as stated or assumed; refused where a reading contradicts it."""
    stated = entry.request.run.auxiliary_heat_on
    shown = {
        name: value > least
        for name, least in (("auxiliary_heat_power", NO_AUXILIARY), ("auxiliary_heat_current", NO_CURRENT))
        if (value := entry.readings.get(name)) is not None
    }
    if stated is not None and any(on is not stated for on in shown.values()):
        name = next(name for name, on in shown.items() if on is not stated)
        entry.refusals.append(
            Refusal(
                pointer("run", "auxiliary_heat_on"),
                stated,
                "what the reading shows, or no value",
                f"contradicts {name}, which shows auxiliary heat {'off' if stated else 'on'}",
                "Correct one of the two.",
            )
        )
    if entry.request.unit.mode == "heating" and not stated and not shown:
        off = "run.auxiliary_heat_on" if stated is False else "assumed: auxiliary heat off"
        entry.constant(AUXILIARY_OFF, 0.0, off)
    if stated:
        entry.constant("run.auxiliary_heat_on", stated)


def _heating(entry: Entry) -> None:
    """How heating follows the weather, and what the building needs in winter."""
    unit = entry.request.unit
    if unit.mode != "heating":
        return
    entry.constant(HEATING_MAP_LEAF, HEATING_MAP, "unit.capacity_control")
    load = unit.design_load
    if load is None:
        return
    value = entry.to_si(load.heat_loss, "heat_flow")
    entry.inside(value, RATED_CAPACITY_RANGE, "heat_flow", pointer("unit", "design_load", "heat_loss"), load.heat_loss)
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
    """How the run was made, how much the unit runs, and what energy costs."""
    run, usage = entry.request.run, entry.request.usage
    if run.airflow_measured_at == "supply":
        entry.constant("run.airflow_measured_at_supply", True, "run.airflow_measured_at")
    if run.heat_test_at_cooling_speed:
        entry.constant("run.heat_test_at_cooling_speed", True)
    if usage.cooling_hours is not None:
        entry.constant(USAGE + "cooling_hours", usage.cooling_hours * 3600.0)
    if usage.heating_hours is not None:
        entry.constant(USAGE + "heating_hours", usage.heating_hours * 3600.0)
    if usage.energy_price is not None:
        entry.constant(USAGE + "energy_price", usage.energy_price / 3.6e6)


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
