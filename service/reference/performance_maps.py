"""Published performance maps of single- and two-speed air conditioners and heat pumps.

Coefficients a ... f of a + b x + c x^2 + d y + e y^2 + f x y with x the entering wet bulb and y the
outdoor dry bulb, both in °C; source ``cutler_2013``.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

Curve = tuple[float, float, float, float, float, float]


@dataclass(frozen=True, slots=True)
class PerformanceMap:
    """Gross capacity, and power without the blower over gross capacity, relative to rating."""

    capacity: Curve
    power_over_capacity: Curve


_SINGLE_SPEED = PerformanceMap(
    (1.5509, -0.07505, 0.0031, 0.0024, -5e-05, -0.00043),
    (-0.30428, 0.11805, -0.00342, -0.00626, 0.0007, -0.00047),
)
#: By ``unit.capacity_control``.  That of a two-stage unit is of its high stage; low stage keeps the ratio between
#: rating points (source ``stage_ratios``).  At a fixed speed a variable-speed unit's capacity follows outdoor air
#: as a single-speed unit's: 0.940 of that at 82 °F at 95 °F, where the map has 0.938 (source ``stage_ratios``).
PERFORMANCE_MAPS: Mapping[str, PerformanceMap] = MappingProxyType(
    {
        "single_speed": _SINGLE_SPEED,
        "variable_speed": _SINGLE_SPEED,
        "two_stage": PerformanceMap(
            (1.36788, -0.06257, 0.0028, 0.00504, -7e-05, -0.00045),
            (0.04232, 0.07892, -0.00238, -0.00304, 0.00053, -0.00032),
        ),
    }
)

#: Ratings [1] from which a unit counts as one of high efficiency: SEER 13, and what goes with it (SEER2 about
#: 0.95 of SEER, EER about 1.12 SEER - 0.02 SEER^2, EER2 about 0.955 of EER); common practice, no source.
HIGH_EFFICIENCY: Mapping[str, float] = MappingProxyType(
    {name: value / 3.412141633 for name, value in (("seer", 13.0), ("seer2", 12.35), ("eer", 11.2), ("eer2", 10.7))}
)

#: Rating points A and B of AHRI 210/240: entering wet bulb 67 °F, outdoors 95 and 82 °F [K].
RATING_WET_BULB = (67.0 - 32.0) * 5.0 / 9.0 + 273.15
RATING_DRY_BULB = (80.0 - 32.0) * 5.0 / 9.0 + 273.15
RATING_A_OUTDOOR = (95.0 - 32.0) * 5.0 / 9.0 + 273.15
RATING_B_OUTDOOR = (82.0 - 32.0) * 5.0 / 9.0 + 273.15

#: Rating point A as conditions of the unit model: K, and the logarithm of line over nominal voltage.
RATING_CONDITIONS: Mapping[str, float] = MappingProxyType(
    {
        "outdoor": RATING_A_OUTDOOR,
        "dry_bulb": RATING_DRY_BULB,
        "wet_bulb": RATING_WET_BULB,
        "voltage": 0.0,
    }
)

#: Conditions [K] inside which the maps are used: entering wet bulb 57 to 72 °F, outdoors 75 to
#: 115 °F; source ``cutler_range``.
WET_BULB_RANGE = ((57.0 - 32.0) * 5.0 / 9.0 + 273.15, (72.0 - 32.0) * 5.0 / 9.0 + 273.15)
OUTDOOR_RANGE = ((75.0 - 32.0) * 5.0 / 9.0 + 273.15, (115.0 - 32.0) * 5.0 / 9.0 + 273.15)

#: Wet bulb [K] under which the coil takes out no moisture at the rating dry bulb, as in tests C and D of
#: AHRI 210/240 (57 °F at most), and dry bulbs [K] about the rating one for which that serves; source
#: ``dry_coil``.
DRY_COIL_WET_BULB = WET_BULB_RANGE[0]
DRY_COIL_DRY_BULBS = 10.0 * 5.0 / 9.0

#: The same for heating, with x the return dry bulb and y the outdoor dry bulb, both in °F: capacity of the heat
#: pump, and power without the blower over capacity, relative to rating; source ``cutler_heating``.
HEATING_MAP = PerformanceMap(
    (0.566333415, -0.000744164, -0.0000103, 0.009414634, 0.0000506, -0.00000675),
    (0.718398423, 0.003498178, 0.000142202, -0.005724331, 0.00014085, -0.000215321),
)

#: Rating points of heating: 70 °F indoors, 47 and 17 °F outdoors [K]; AHRI 210/240, H1 and H3.
RATING_HEATING_RETURN = (70.0 - 32.0) * 5.0 / 9.0 + 273.15
RATING_HEATING_OUTDOOR = (47.0 - 32.0) * 5.0 / 9.0 + 273.15
RATING_HEATING_LOW_OUTDOOR = (17.0 - 32.0) * 5.0 / 9.0 + 273.15

#: Conditions [K] inside which the heating map and a line through two ratings are used: return air 60 to 80 °F,
#: outdoor air 5 to 62 °F by the map and -10 to 65 °F by the line; source ``cutler_heating``.
HEATING_RETURN_RANGE = ((60.0 - 32.0) * 5.0 / 9.0 + 273.15, (80.0 - 32.0) * 5.0 / 9.0 + 273.15)
HEATING_MAP_RANGE = ((5.0 - 32.0) * 5.0 / 9.0 + 273.15, (62.0 - 32.0) * 5.0 / 9.0 + 273.15)
HEATING_LINE_RANGE = ((-10.0 - 32.0) * 5.0 / 9.0 + 273.15, (65.0 - 32.0) * 5.0 / 9.0 + 273.15)
