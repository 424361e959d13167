"""Efficiency now and at the rating points, against the rating; energy and money."""

from __future__ import annotations

from functools import partial

import numpy as np

from service.derive.derivations.registry import (
    COOLING,
    FloatArray,
    derive,
    over,
    quantity,
    same,
)
from service.intake.paths import ASSUMED, RATED, READING, SEASON_CAPACITY, USAGE
from service.physics.array_types import FloatLike
from service.physics.capacity import map_value
from service.reference import performance_maps as maps
from service.reference.assumptions import MAP_SLOPES
from service.reference.capacity_control import FIXED_CAPACITY, RATED_RUNNING
from service.reference.performance_maps import Curve, PerformanceMap

R = READING

quantity("eer", "Energy efficiency ratio", "efficiency", modes=COOLING, follows=True)
derive("eer", ("cooling_capacity", "total_power"), over, "net cooling capacity divided by total power")

# ---------------------------------------------------------------- at the rating points


def _ratio(curve: Curve, target: float, wet_bulb: FloatLike, outdoor: FloatLike) -> FloatArray:
    """A curve at the rating wet bulb and the target outdoors, divided by its value at the conditions."""
    at_target = map_value(curve, maps.RATING_WET_BULB, target)
    return np.asarray(at_target / map_value(curve, wet_bulb, outdoor))


def _factors(
    map_: PerformanceMap,
    wet_bulb: FloatArray,
    outdoor: FloatArray,
    target: float,
    q_out: FloatArray,
    q_wet: FloatArray,
    p_out: FloatArray,
    p_wet: FloatArray,
) -> tuple[FloatArray, FloatArray]:
    """Factors of capacity, and of power over capacity, from the visit to a rating point.

    The slopes of the map are uncertain, so the error grows with the distance.  Not-a-number where
    the nominal conditions are outside the range of the map.
    """
    distance = target - outdoor, maps.RATING_WET_BULB - wet_bulb
    capacity = _ratio(map_.capacity, target, wet_bulb, outdoor) * (
        1.0
        + MAP_SLOPES["capacity_outdoor"] * distance[0] * q_out
        + MAP_SLOPES["capacity_wet_bulb"] * distance[1] * q_wet
    )
    power = _ratio(map_.power_over_capacity, target, wet_bulb, outdoor) * (
        1.0 + MAP_SLOPES["power_outdoor"] * distance[0] * p_out + MAP_SLOPES["power_wet_bulb"] * distance[1] * p_wet
    )
    inside = (
        (wet_bulb[..., :1] >= maps.WET_BULB_RANGE[0])
        & (wet_bulb[..., :1] <= maps.WET_BULB_RANGE[1])
        & (outdoor[..., :1] >= maps.OUTDOOR_RANGE[0])
        & (outdoor[..., :1] <= maps.OUTDOOR_RANGE[1])
    )
    return np.where(inside, capacity, np.nan), np.where(inside, power, np.nan)


def _factors_to_dry_bulb(
    map_: PerformanceMap,
    wet_bulb: FloatArray,
    outdoor: FloatArray,
    dry_bulb: FloatArray,
    slope: FloatArray,
    *slopes: FloatArray,
    target: float,
) -> tuple[FloatArray, FloatArray]:
    """The same with a dry coil included: below the wet bulb at which it removes no moisture, capacity
    follows the dry bulb, and the map is entered at that wet bulb.

    Not-a-number for a dry coil too far from the rating dry bulb.
    """
    dry = wet_bulb[..., :1] < maps.DRY_COIL_WET_BULB
    distance = np.where(dry, maps.RATING_DRY_BULB - dry_bulb, 0.0)
    near = np.abs(distance[..., :1]) <= maps.DRY_COIL_DRY_BULBS
    entered = np.where(dry, maps.DRY_COIL_WET_BULB, wet_bulb)
    capacity, power = _factors(map_, entered, outdoor, target, *slopes)
    lifted = np.where(near, 1.0 + slope * distance, np.nan)
    # The power hardly changes with it.
    return capacity * lifted, power / lifted


_SLOPES = tuple(f"{ASSUMED}map_{name}" for name in MAP_SLOPES)
for _point, _target in (("a", maps.RATING_A_OUTDOOR), ("b", maps.RATING_B_OUTDOOR)):
    quantity(
        f"factors_to_{_point}",
        f"Factors to rating point {_point.upper()}",
        "ratio",
        modes=COOLING,
        running=RATED_RUNNING,
        internal=True,
    )
    derive(
        f"factors_to_{_point}",
        (
            "unit.performance_map",
            "return_air_wet_bulb",
            R + "outdoor_air_dry_bulb",
            R + "return_air_dry_bulb",
            ASSUMED + "dry_coil_slope",
            *_SLOPES,
        ),
        partial(_factors_to_dry_bulb, target=_target),
        "performance map; a dry coil at the wet bulb at which it begins to remove moisture",
        "cutler_2013",
    )
    derive(
        f"factors_to_{_point}",
        ("unit.performance_map", "return_air_wet_bulb", R + "outdoor_air_dry_bulb", *_SLOPES),
        lambda map_, wet, out, *slopes, target=_target: _factors(map_, wet, out, target, *slopes),
        "performance map",
        "cutler_2013",
    )

_AT = "(performance map; the airflow stays as found)"

quantity(
    "cooling_capacity_at_rating_conditions",
    "Cooling capacity at 95 °F outdoors, 67 °F wet bulb",
    "heat_flow",
    modes=COOLING,
    running=RATED_RUNNING,
    follows=True,
)
derive(
    "cooling_capacity_at_rating_conditions",
    ("cooling_capacity", "indoor_unit_power", "factors_to_a"),
    lambda net, indoor, factors: (net + indoor) * factors[0] - indoor,
    f"gross capacity converted to rating point A of AHRI 210/240 {_AT}",
    "cutler_2013",
)


def _eer(
    net: FloatArray, outdoor: FloatArray, indoor: FloatArray, factors: tuple[FloatArray, FloatArray]
) -> FloatArray:
    gross = (net + indoor) * factors[0]
    power = outdoor * factors[0] * factors[1]
    return over(gross - indoor, power + indoor)


for _point, _name, _words in (
    ("a", "eer_at_rating_conditions", "95"),
    ("b", "eer_at_mild_rating_conditions", "82"),
):
    quantity(
        _name,
        f"Energy efficiency ratio at {_words} °F outdoors, 67 °F wet bulb",
        "efficiency",
        modes=COOLING,
        running=RATED_RUNNING,
        follows=True,
    )
    derive(
        _name,
        ("cooling_capacity", "outdoor_unit_power", "indoor_unit_power", f"factors_to_{_point}"),
        _eer,
        f"capacity and power converted to rating point {_point.upper()} of AHRI 210/240 {_AT}",
        "cutler_2013",
    )

quantity(
    "cooling_capacity_share_of_rating",
    "Cooling capacity as a share of the rating",
    "fraction",
    modes=COOLING,
    running=RATED_RUNNING,
    follows=True,
    expected_with=(RATED + "cooling_capacity",),
)
derive(
    "cooling_capacity_share_of_rating",
    ("cooling_capacity", "table_capacity", ASSUMED + "rated_capacity", "capacity_is_measured"),
    lambda now, printed, new, _: over(now, printed * new),
    "capacity divided by that of the maker's table at these conditions",
    "performance_table",
)
derive(
    "cooling_capacity_share_of_rating",
    (
        "cooling_capacity_at_rating_conditions",
        RATED + "cooling_capacity",
        ASSUMED + "rated_capacity",
        "capacity_is_measured",
    ),
    lambda now, rated, new, _: now / (rated * new),
    "capacity at rating conditions divided by rated capacity",
    "cutler_2013",
)
quantity(
    "eer_share_of_rating",
    "Energy efficiency ratio as a share of the rating",
    "fraction",
    modes=COOLING,
    running=RATED_RUNNING,
    follows=True,
    expected_with=(RATED + "eer",),
)
derive(
    "eer_share_of_rating",
    ("eer", "table_capacity", "table_power", ASSUMED + "rated_efficiency", "capacity_is_measured"),
    lambda now, heat, power, new, _: over(now * power, heat * new),
    "efficiency divided by that of the maker's table at these conditions",
    "performance_table",
)
derive(
    "eer_share_of_rating",
    ("eer_at_rating_conditions", RATED + "eer", ASSUMED + "rated_efficiency", "capacity_is_measured"),
    lambda now, rated, new, _: now / (rated * new),
    "efficiency at rating conditions divided by rated efficiency",
    "cutler_2013",
)

# ---------------------------------------------------------------- energy and money, estimates

_HOURS = (USAGE + "cooling_hours",)
_PRICE = (USAGE + "energy_price",)

quantity("seasonal_load", "Seasonal cooling load", "energy", modes=COOLING, internal=True)
derive("seasonal_load", (SEASON_CAPACITY, *_HOURS), np.multiply, "rated capacity times full-load hours")
quantity(
    "full_load_capacity", "Full cooling capacity", "heat_flow", modes=COOLING, running=FIXED_CAPACITY, internal=True
)
derive("full_load_capacity", ("cooling_capacity_at_rating_conditions",), same, "as found in full stage")
derive(
    "seasonal_load",
    ("full_load_capacity", *_HOURS),
    np.multiply,
    "capacity at rating conditions times full-load hours",
)

quantity(
    "rated_eer_at_b",
    "Rated efficiency at 82 °F outdoors",
    "efficiency",
    modes=COOLING,
    running=RATED_RUNNING,
    internal=True,
)


def _rated_at_b(eer: float, new: FloatArray, map_: PerformanceMap, p_out: FloatArray) -> FloatArray:
    ratio = _ratio(map_.power_over_capacity, maps.RATING_A_OUTDOOR, maps.RATING_WET_BULB, maps.RATING_B_OUTDOOR)
    distance = maps.RATING_A_OUTDOOR - maps.RATING_B_OUTDOOR
    # The blower, about an eighth of the power, does not follow the weather.
    eighth = 0.125
    lifted = ratio * (1.0 + MAP_SLOPES["power_outdoor"] * distance * p_out)
    return np.asarray(eer * new / (eighth + (1.0 - eighth) / lifted))


derive(
    "rated_eer_at_b",
    (RATED + "eer", ASSUMED + "rated_efficiency", "unit.performance_map", ASSUMED + "map_power_outdoor"),
    _rated_at_b,
    "rated efficiency converted to 82 °F by the performance map",
    "cutler_2013",
)

_SEASON = ASSUMED + "seasonal_efficiency"
_ESTIMATE = "an estimate: load divided by the efficiency at 82 °F outdoors, minus cycling losses"
for _name, _label, _efficiency in (
    ("seasonal_energy", "Seasonal energy (estimate)", "eer_at_mild_rating_conditions"),
    ("seasonal_energy_at_rated_efficiency", "Seasonal energy at rated efficiency (estimate)", "rated_eer_at_b"),
):
    quantity(
        _name,
        _label,
        "energy",
        modes=COOLING,
        running=RATED_RUNNING,
        expected_with=_HOURS,
        follows=_name == "seasonal_energy",
    )
    derive(
        _name,
        ("seasonal_load", _efficiency, _SEASON),
        lambda load, eer, season: over(load, eer * season),
        _ESTIMATE,
        "cycling_loss",
    )
quantity(
    "seasonal_energy_over_rated",
    "Extra seasonal energy compared with rated efficiency (estimate)",
    "energy",
    modes=COOLING,
    running=RATED_RUNNING,
    expected_with=_HOURS,
    follows=True,
)
derive(
    "seasonal_energy_over_rated",
    ("seasonal_energy", "seasonal_energy_at_rated_efficiency"),
    np.subtract,
    "an estimate: present minus rated",
    "cycling_loss",
)
for _name, _of in (
    ("seasonal_cost", "seasonal_energy"),
    ("seasonal_cost_over_rated", "seasonal_energy_over_rated"),
):
    quantity(
        _name,
        _name.replace("_", " ").capitalize() + " (estimate)",
        "money",
        modes=COOLING,
        running=RATED_RUNNING,
        expected_with=_PRICE,
        follows=True,
    )
    derive(_name, (_of, *_PRICE), np.multiply, "an estimate: energy times price", "cycling_loss")
