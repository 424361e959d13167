"""Heating: the cycle as the technician reads it, capacity and efficiency, ratings, defrost, balance point."""

from __future__ import annotations

from functools import partial

import numpy as np

from service.derive.derivations.airflow import NOMINAL_AIRFLOW
from service.derive.derivations.capacity import liquid_alone, suction_gas
from service.derive.derivations.registry import HEATING, FloatArray, derive, over, quantity, same
from service.derive.derivations.table import printed
from service.intake.paths import (
    ASSUMED,
    AUXILIARY_OFF,
    DESIGN_LOAD,
    HEATING_MAP,
    PHASES,
    RATED,
    READING,
    SEASON_HEATING_CAPACITY,
    SEASON_HEATING_EFFICIENCY,
    TABLE,
    USAGE,
)
from service.intake.performance_table import TableColumn
from service.physics import heating
from service.physics.refrigerant_enthalpy import SinglePhase
from service.reference import performance_maps as maps
from service.reference.air import DRY_AIR_HEAT, HEATED_MOISTURE_HEAT
from service.reference.assumptions import HEATING_SLOPES
from service.reference.balances import FAMILIES
from service.reference.capacity_control import FIXED_CAPACITY, RATED_RUNNING
from service.reference.conditions import EDGE, MOST_OF_IDEAL, ZERO_LOAD
from service.reference.performance_maps import PerformanceMap

R = READING

# ---------------------------------------------------------------- the cycle


def _difference(name: str, label: str, upper: str, lower: str, method: str, *, expected: str = "") -> None:
    quantity(name, label, "temperature_difference", modes=HEATING, expected_with=(expected,) if expected else ())
    derive(name, (upper, lower), np.subtract, method)


_difference(
    "condensing_temperature_over_return_air",
    "Condensing temperature above return air",
    "condensing_temperature",
    R + "return_air_dry_bulb",
    "condensing temperature minus return air",
)
_difference(
    "evaporating_temperature_under_outdoor_air",
    "Evaporating temperature below outdoor air",
    R + "outdoor_air_dry_bulb",
    "evaporating_temperature",
    "outdoor air minus evaporating temperature",
)
quantity("vapour_line_temperature", "Vapour line temperature", "temperature", modes=HEATING, optional=True)
derive("vapour_line_temperature", (R + "vapour_line_temperature",), same, "as read")
_difference(
    "vapour_line_temperature_over_outdoor_air",
    "Vapour line above outdoor air",
    R + "vapour_line_temperature",
    R + "outdoor_air_dry_bulb",
    "vapour line minus outdoor air",
    expected=R + "vapour_line_temperature",
)
_difference(
    "outdoor_coil_air_temperature_drop",
    "Air temperature drop across the outdoor coil",
    R + "outdoor_air_dry_bulb",
    R + "outdoor_coil_leaving_air_dry_bulb",
    "outdoor air minus air leaving the outdoor unit",
    expected=R + "outdoor_coil_leaving_air_dry_bulb",
)
derive(
    "outdoor_coil_air_temperature_drop",
    (R + "outdoor_air_dry_bulb", R + "condenser_leaving_air_dry_bulb"),
    np.subtract,
    "outdoor air minus air leaving the outdoor unit",
)

quantity(
    "condensing_temperature_over_return_air_at_rated_airflow",
    "Condensing temperature above return air, at rated airflow",
    "temperature_difference",
    modes=HEATING,
    optional=True,
)
for _rated, _scale in ((RATED + "airflow", 1.0), (RATED + "cooling_capacity", NOMINAL_AIRFLOW)):
    derive(
        "condensing_temperature_over_return_air_at_rated_airflow",
        ("condensing_temperature_over_return_air", "measured_airflow", _rated),
        partial(
            lambda over_return, flow, rated, scale: heating.at_rated_airflow(over_return, flow, rated * scale),
            scale=_scale,
        ),
        "brought from the measured to the rated airflow",
        "condensing_over_return",
    )
derive(
    "condensing_temperature_over_return_air_at_rated_airflow",
    ("condensing_temperature_over_return_air",),
    same,
    "as found: the airflow, or its rating, is not known",
    "condensing_over_return",
)

# ---------------------------------------------------------------- reversing valve

_AHEAD, _AFTER = (
    R + "evaporator_outlet_temperature",
    (R + "compressor_inlet_temperature", R + "suction_line_temperature"),
)
quantity(
    "reversing_valve_temperature_rise",
    "Temperature rise of the suction gas in the reversing valve",
    "temperature_difference",
    modes=HEATING,
    expected_with=(_AHEAD,),
)
quantity(
    "reversing_valve_leak_share",
    "Hot gas in the suction gas after the reversing valve (at most)",
    "fraction",
    modes=HEATING,
    expected_with=(_AHEAD,),
)


def _leak(
    phases: SinglePhase, pressure: FloatArray, ahead: FloatArray, after: FloatArray, discharge: FloatArray
) -> FloatArray:
    """Share of hot gas; none where the suction gas ahead of the valve is not shown to be dry."""
    before = suction_gas(phases, pressure, ahead).enthalpy
    return heating.leak_share(phases.vapour_enthalpy(pressure, after), before, discharge)


for _line in _AFTER:
    derive(
        "reversing_valve_temperature_rise",
        (_line, _AHEAD),
        np.subtract,
        "suction line after the reversing valve minus ahead of it",
    )
    derive(
        "reversing_valve_leak_share",
        (PHASES, "suction_pressure_absolute", _AHEAD, _line, "discharge_enthalpy"),
        _leak,
        "energy balance of the mixing; heat conducted through the valve counts too",
        "energy_balance",
    )

# ---------------------------------------------------------------- capacity

quantity("heating_air_temperature_rise", "Air temperature rise", "temperature_difference", modes=HEATING)
derive(
    "heating_air_temperature_rise",
    (R + "supply_air_dry_bulb", R + "return_air_dry_bulb"),
    np.subtract,
    "supply minus return dry bulb",
)

quantity(
    "auxiliary_heat_power",
    "Auxiliary heat",
    "power",
    modes=HEATING,
    optional=True,
)
derive("auxiliary_heat_power", (R + "auxiliary_heat_power",), same, "as measured")
derive(
    "auxiliary_heat_power",
    (R + "auxiliary_heat_current", "supply_voltage"),
    np.multiply,
    "current times the supply voltage at the outdoor unit",
    "circuit_theory",
)
quantity("auxiliary_heat", "Auxiliary heat in the supply air", "power", modes=HEATING, internal=True)
derive("auxiliary_heat", ("auxiliary_heat_power",), same, "as measured, or current times voltage")
derive("auxiliary_heat", (AUXILIARY_OFF,), same, "auxiliary heat is off")


def _of_air(
    flow: FloatArray, density: FloatArray, rise: FloatArray, auxiliary: FloatArray, blower: FloatArray
) -> FloatArray:
    """Heat that the indoor coil gives to the air [W]."""
    return np.asarray(flow * density * (DRY_AIR_HEAT + HEATED_MOISTURE_HEAT) * rise - auxiliary - blower)


_NET = "mass flow of air times specific heat times temperature rise, minus auxiliary heat and the blower's heat"
_FROM_AIR = ("blower_air_density", "heating_air_temperature_rise", "auxiliary_heat", "indoor_unit_power")
quantity(
    "heating_capacity_air_side",
    "Heating capacity, air side",
    "heat_flow",
    modes=HEATING,
    expected_with=(R + "airflow",),
)
derive("heating_capacity_air_side", ("measured_airflow", *_FROM_AIR), _of_air, _NET, "ashrae_37")

quantity("condenser_outlet_enthalpy", "Enthalpy of the liquid", "specific_enthalpy", modes=HEATING, internal=True)
for _line in ("liquid_line_temperature", "metering_device_inlet_temperature"):
    derive(
        "condenser_outlet_enthalpy",
        (PHASES, "high_side_pressure_absolute", R + _line),
        liquid_alone,
        "liquid at high-side pressure and line temperature",
        "coolprop",
    )
quantity(
    "heating_capacity_refrigerant_side",
    "Heating capacity, refrigerant side",
    "heat_flow",
    modes=HEATING,
    expected_with=(R + "discharge_line_temperature", "unit.compressor_map"),
)
derive(
    "heating_capacity_refrigerant_side",
    ("refrigerant_mass_flow", "discharge_enthalpy", "condenser_outlet_enthalpy", ASSUMED + "heating_line_loss"),
    lambda flow, hot, liquid, share: flow * (hot - liquid) * share,
    "refrigerant mass flow times the enthalpy between discharge and liquid line, minus what valve and lines lose",
    "ashrae_37",
)

quantity("heating_capacity", "Heating capacity of the heat pump", "heat_flow", modes=HEATING, reconciled=True)
for _method in FAMILIES["heating_capacity"]:
    derive("heating_capacity", (_method,), same, _method.replace("_", " "))
# Last resort: an airflow by rule of thumb, which is no check on the refrigerant side.
derive(
    "heating_capacity",
    ("air_side_airflow", *_FROM_AIR),
    _of_air,
    f"{_NET}, at an airflow from a rule of thumb (airflow was not measured)",
    "nominal_airflow",
)
quantity(
    "heating_capacity_is_measured", "Whether capacity comes from measurements", "ratio", modes=HEATING, internal=True
)
for _method in FAMILIES["heating_capacity"]:
    derive("heating_capacity_is_measured", (_method,), lambda _: True, "not by rule of thumb")

quantity(
    "delivered_heating_capacity",
    "Heat delivered by heat pump and blower, without auxiliary heat",
    "heat_flow",
    modes=HEATING,
    follows=True,
)
derive(
    "delivered_heating_capacity",
    ("heating_capacity", "indoor_unit_power"),
    np.add,
    "heating capacity plus the blower's heat, as ratings count it",
)

# ---------------------------------------------------------------- efficiency


def _possible(
    heat: FloatArray,
    power: FloatArray,
    auxiliary: FloatArray,
    back: FloatArray,
    front: FloatArray,
    outdoor: FloatArray | float = ZERO_LOAD,
) -> FloatArray:
    """Heat over power; none beyond half of the ideal efficiency, where some heat comes from elsewhere.

    The ideal one is between outdoor air (without one, the mildest in which anything is heated) and the supply air
    as the heat pump alone would warm it.
    """
    found = over(heat, power)
    alone = back + (front - back) * over(heat, heat + auxiliary)
    ideal = heating.ideal_efficiency(alone, outdoor)
    return np.where(found[..., :1] <= MOST_OF_IDEAL * ideal[..., :1], found, np.nan)


quantity("heating_cop", "Coefficient of performance, heating", "ratio", modes=HEATING, follows=True)
_COP = "heat delivered without auxiliary heat, divided by total power"
_HEATED = (
    "delivered_heating_capacity",
    "total_power",
    "auxiliary_heat",
    R + "return_air_dry_bulb",
    R + "supply_air_dry_bulb",
)
derive("heating_cop", (*_HEATED, R + "outdoor_air_dry_bulb"), _possible, _COP)
derive("heating_cop", _HEATED, _possible, _COP)
# From the refrigerant side, which strips do not enter.
derive("heating_cop", ("delivered_heating_capacity", "total_power"), over, _COP)

# ---------------------------------------------------------------- what the unit is rated for at these conditions

_OUTDOOR, _RETURN = R + "outdoor_air_dry_bulb", R + "return_air_dry_bulb"
_HIGH, _LOW = RATED + "heating_capacity", RATED + "heating_capacity_low"
_COP_HIGH, _COP_LOW = RATED + "heating_cop", RATED + "heating_cop_low"
_AT = (maps.RATING_HEATING_RETURN, maps.RATING_HEATING_OUTDOOR)


def _inside(outdoor: FloatArray, dry_bulb: FloatArray, range_: tuple[float, float]) -> FloatArray:
    """One where the nominal conditions are those of the map or the line, else not-a-number."""

    def within(value: FloatArray, low: float, high: float) -> FloatArray:
        nominal = np.asarray(value)[..., :1]
        return np.where((nominal >= low - EDGE) & (nominal <= high + EDGE), 1.0, np.nan)

    return within(outdoor, *range_) * within(dry_bulb, *maps.HEATING_RETURN_RANGE)


def _spread(outdoor: FloatArray, error: FloatArray, slope: float, *points: float) -> FloatArray:
    """Factor of a unit that departs from the map, by the distance from the nearest rating point."""
    away = np.min([np.abs(np.asarray(outdoor) - point) for point in points], axis=0)
    return np.asarray(1.0 + slope * away * error)


def _capacity_by_ratings(
    outdoor: FloatArray,
    dry_bulb: FloatArray,
    high: FloatArray,
    low: FloatArray,
    map_: PerformanceMap,
    error: FloatArray,
) -> FloatArray:
    points = (maps.RATING_HEATING_OUTDOOR, maps.RATING_HEATING_LOW_OUTDOOR)
    rated = heating.line((points[0], high), (points[1], low), outdoor)
    rated = rated * heating.map_ratio(map_.capacity, dry_bulb, outdoor, (maps.RATING_HEATING_RETURN, outdoor))
    return (
        rated
        * _spread(outdoor, error, HEATING_SLOPES["capacity"], *points)
        * _inside(outdoor, dry_bulb, maps.HEATING_LINE_RANGE)
    )


def _capacity_by_map(
    outdoor: FloatArray, dry_bulb: FloatArray, high: FloatArray, map_: PerformanceMap, error: FloatArray
) -> FloatArray:
    return (
        high
        * heating.map_ratio(map_.capacity, dry_bulb, outdoor, _AT)
        * _spread(outdoor, error, HEATING_SLOPES["capacity"], _AT[1])
        * _inside(outdoor, dry_bulb, maps.HEATING_MAP_RANGE)
    )


def _power_by_ratings(
    outdoor: FloatArray,
    dry_bulb: FloatArray,
    high: FloatArray,
    low: FloatArray,
    cop_high: FloatArray,
    cop_low: FloatArray,
    map_: PerformanceMap,
    error: FloatArray,
) -> FloatArray:
    points = (maps.RATING_HEATING_OUTDOOR, maps.RATING_HEATING_LOW_OUTDOOR)
    rated = heating.line((points[0], high / cop_high), (points[1], low / cop_low), outdoor)
    at = (maps.RATING_HEATING_RETURN, outdoor)
    indoors = heating.map_ratio(map_.capacity, dry_bulb, outdoor, at)
    indoors = indoors * heating.map_ratio(map_.power_over_capacity, dry_bulb, outdoor, at)
    return (
        rated
        * indoors
        * _spread(outdoor, error, HEATING_SLOPES["power"], *points)
        * _inside(outdoor, dry_bulb, maps.HEATING_LINE_RANGE)
    )


def _power_by_map(
    outdoor: FloatArray,
    dry_bulb: FloatArray,
    high: FloatArray,
    cop_high: FloatArray,
    map_: PerformanceMap,
    error: FloatArray,
) -> FloatArray:
    return (
        high
        / cop_high
        * heating.map_ratio(map_.capacity, dry_bulb, outdoor, _AT)
        * heating.map_ratio(map_.power_over_capacity, dry_bulb, outdoor, _AT)
        * _spread(outdoor, error, HEATING_SLOPES["power"], _AT[1])
        * _inside(outdoor, dry_bulb, maps.HEATING_MAP_RANGE)
    )


_ERROR_OF_CAPACITY, _ERROR_OF_POWER = ASSUMED + "map_capacity_outdoor", ASSUMED + "map_power_outdoor"
_BY_RATINGS = "the unit's ratings at 47 and 17 °F and the line through them"
_BY_MAP = "the unit's rating at 47 °F and the usual dependence on outdoor air"

for _what, _kind, _label, _ways in (
    (
        "capacity",
        "heat_flow",
        "Rated heating capacity in this weather",
        (
            ((_OUTDOOR, _RETURN, _HIGH, _LOW, HEATING_MAP, _ERROR_OF_CAPACITY), _capacity_by_ratings, _BY_RATINGS),
            ((_OUTDOOR, _RETURN, _HIGH, HEATING_MAP, _ERROR_OF_CAPACITY), _capacity_by_map, _BY_MAP),
        ),
    ),
    (
        "power",
        "power",
        "Rated heating power in this weather",
        (
            (
                (_OUTDOOR, _RETURN, _HIGH, _LOW, _COP_HIGH, _COP_LOW, HEATING_MAP, _ERROR_OF_POWER),
                _power_by_ratings,
                _BY_RATINGS,
            ),
            ((_OUTDOOR, _RETURN, _HIGH, _COP_HIGH, HEATING_MAP, _ERROR_OF_POWER), _power_by_map, _BY_MAP),
        ),
    ),
):
    _name = f"rated_heating_{_what}_in_this_weather"
    quantity(_name, _label, _kind, modes=HEATING, running=RATED_RUNNING, optional=True)
    derive(_name, (f"table_{_what}",), same, "maker's table, linear between its rows", "performance_table")
    for _needs, _compute, _method in _ways:
        derive(_name, _needs, _compute, _method, "heating_ratings" if _method == _BY_RATINGS else "cutler_heating")

for _what, _actual, _tolerance in (
    ("capacity", "delivered_heating_capacity", "rated_capacity"),
    ("power", "total_power", "rated_efficiency"),
):
    quantity(
        f"share_of_rated_heating_{_what}",
        f"Heating {_what} as a share of the rating in this weather",
        "fraction",
        modes=HEATING,
        running=RATED_RUNNING,
        follows=True,
        expected_with=(_HIGH,) if _what == "capacity" else (_COP_HIGH,),
    )
    derive(
        f"share_of_rated_heating_{_what}",
        (
            _actual,
            f"rated_heating_{_what}_in_this_weather",
            ASSUMED + _tolerance,
            *(("heating_capacity_is_measured",) if _what == "capacity" else ()),
        ),
        lambda now, rated, new, *_: over(now, rated * new),
        f"{_what} divided by what the unit is rated for in this weather",
        "cutler_heating",
    )

# ---------------------------------------------------------------- defrost

for _what, _factor in (("capacity", heating.DEFROST_OF_CAPACITY), ("power", heating.DEFROST_OF_POWER)):
    quantity(
        f"defrost_share_of_heating_{_what}",
        f"Heating {_what} that defrosting takes, on average in this weather",
        "fraction",
        modes=HEATING,
        optional=True,
    )
    derive(
        f"defrost_share_of_heating_{_what}",
        (_OUTDOOR, ASSUMED + "defrost_loss"),
        partial(lambda outdoor, error, factor: factor * heating.defrost_fraction(outdoor) * error, factor=_factor),
        "published function of outdoor air; information, not in any capacity shown",
        "defrost_loss",
    )

# ---------------------------------------------------------------- balance point

#: Outdoor air [K] at which the capacity by ratings is asked: its line is straight, but its error grows with the
#: distance from the rating points.
_LINE = np.union1d(
    np.linspace(*maps.HEATING_LINE_RANGE, 16), (maps.RATING_HEATING_LOW_OUTDOOR, maps.RATING_HEATING_OUTDOOR)
)
#: The same by the map, which bends: every 3 °F leaves a ten-thousandth of it.
_BEND = np.linspace(*maps.HEATING_MAP_RANGE, 20)
_INSIDE = np.full((1, 1), maps.RATING_HEATING_RETURN)

#: Outdoor temperatures [K], and the capacity [W] at each along the last axis but one.
Curve = tuple[FloatArray, FloatArray]


def _along(value: FloatArray | float) -> FloatArray:
    """With an axis for outdoor temperatures before that of the draws."""
    return np.atleast_1d(np.asarray(value, dtype=np.float64))[..., None, :]


def _curve_by_table(column: TableColumn, flow: FloatArray, error: FloatArray) -> Curve:
    outdoor = np.array(column.values_of("outdoor_air_dry_bulb"))
    unknown = np.full((1, 1), np.nan)
    values = printed(column, outdoor[:, None], _INSIDE, unknown, _along(flow), _along(error), name="capacity")
    return outdoor, values


def _curve_by_ratings(high: FloatArray, low: FloatArray, map_: PerformanceMap, error: FloatArray) -> Curve:
    return _LINE, _capacity_by_ratings(_LINE[:, None], _INSIDE, _along(high), _along(low), map_, _along(error))


def _curve_by_map(high: FloatArray, map_: PerformanceMap, error: FloatArray) -> Curve:
    return _BEND, _capacity_by_map(_BEND[:, None], _INSIDE, _along(high), map_, _along(error))


quantity(
    "heating_capacity_curve",
    "Heating capacity against outdoor air",
    "heat_flow",
    modes=HEATING,
    running=FIXED_CAPACITY,
    internal=True,
)
derive(
    "heating_capacity_curve",
    (TABLE + "capacity", "table_airflow", ASSUMED + "performance_table"),
    _curve_by_table,
    "maker's table",
    "performance_table",
)
derive(
    "heating_capacity_curve",
    (_HIGH, _LOW, HEATING_MAP, _ERROR_OF_CAPACITY),
    _curve_by_ratings,
    _BY_RATINGS,
    "heating_ratings",
)
derive("heating_capacity_curve", (_HIGH, HEATING_MAP, _ERROR_OF_CAPACITY), _curve_by_map, _BY_MAP, "cutler_heating")


def _balance(
    curve: Curve, loss: FloatArray, design: FloatArray, zero: FloatArray, share: FloatArray | float = 1.0
) -> FloatArray:
    outdoor, capacity = curve
    need = heating.heat_loss(_along(loss), _along(design), _along(zero), outdoor[:, None])
    return heating.balance_point(outdoor, capacity * _along(share) - need)


def _lacking(
    curve: Curve, loss: FloatArray, design: FloatArray, zero: FloatArray, share: FloatArray | float = 1.0
) -> FloatArray:
    return np.maximum(loss - share * heating.along_curve(*curve, design), 0.0)


_LOAD = (DESIGN_LOAD + "heat_loss", DESIGN_LOAD + "outdoor_air_dry_bulb", DESIGN_LOAD + "zero_load_temperature")
for _name, _label, _kind, _find, _method in (
    ("balance_point", "Balance point", "temperature", _balance, "outdoor air at which capacity equals heat loss"),
    (
        "auxiliary_heat_at_design",
        "Auxiliary heat needed at the design temperature",
        "power",
        _lacking,
        "heat loss minus capacity at the design temperature",
    ),
):
    for _suffix, _as, _share in (
        ("", " as rated", ()),
        ("_as_found", " as found", ("share_of_rated_heating_capacity",)),
    ):
        quantity(
            _name + _suffix,
            _label + _as,
            _kind,
            modes=HEATING,
            running=FIXED_CAPACITY,
            expected_with=(DESIGN_LOAD + "heat_loss",),
            follows=bool(_suffix),
        )
        derive(
            _name + _suffix,
            ("heating_capacity_curve", *_LOAD, *_share),
            _find,
            f"{_method}; without what defrosting takes",
            "balance_point",
        )

# ---------------------------------------------------------------- energy and money, estimates

_HOURS, _PRICE = USAGE + "heating_hours", USAGE + "energy_price"
quantity(
    "seasonal_heating_energy",
    "Seasonal energy for heating (estimate)",
    "energy",
    modes=HEATING,
    expected_with=(_HOURS,),
)
derive(
    "seasonal_heating_energy",
    (SEASON_HEATING_CAPACITY, _HOURS, SEASON_HEATING_EFFICIENCY, ASSUMED + "seasonal_heating_efficiency"),
    lambda capacity, hours, efficiency, season: over(capacity * hours, efficiency * season),
    "an estimate: rated capacity times full-load hours, divided by the rated efficiency of a season",
    "hspf_to_cop",
)
quantity(
    "seasonal_heating_cost", "Seasonal cost of heating (estimate)", "money", modes=HEATING, expected_with=(_PRICE,)
)
derive(
    "seasonal_heating_cost",
    ("seasonal_heating_energy", _PRICE),
    np.multiply,
    "an estimate: energy times price",
    "hspf_to_cop",
)
