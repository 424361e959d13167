"""Published performance maps of single- and two-speed air conditioners.

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


#: By ``unit.capacity_control``; a two-stage unit is taken to run in its high stage.
PERFORMANCE_MAPS: Mapping[str, PerformanceMap] = MappingProxyType(
    {
        "single_speed": PerformanceMap(
            (1.5509, -0.07505, 0.0031, 0.0024, -5e-05, -0.00043),
            (-0.30428, 0.11805, -0.00342, -0.00626, 0.0007, -0.00047),
        ),
        "two_stage": PerformanceMap(
            (1.36788, -0.06257, 0.0028, 0.00504, -7e-05, -0.00045),
            (0.04232, 0.07892, -0.00238, -0.00304, 0.00053, -0.00032),
        ),
    }
)

#: Rating points A and B of AHRI 210/240: entering wet bulb 67 °F, outdoors 95 and 82 °F [K].
RATING_WET_BULB = (67.0 - 32.0) * 5.0 / 9.0 + 273.15
RATING_DRY_BULB = (80.0 - 32.0) * 5.0 / 9.0 + 273.15
RATING_A_OUTDOOR = (95.0 - 32.0) * 5.0 / 9.0 + 273.15
RATING_B_OUTDOOR = (82.0 - 32.0) * 5.0 / 9.0 + 273.15

#: Conditions [K] inside which the maps are used: entering wet bulb 57 to 72 °F, outdoors 75 to
#: 115 °F; source ``cutler_range``.
WET_BULB_RANGE = ((57.0 - 32.0) * 5.0 / 9.0 + 273.15, (72.0 - 32.0) * 5.0 / 9.0 + 273.15)
OUTDOOR_RANGE = ((75.0 - 32.0) * 5.0 / 9.0 + 273.15, (115.0 - 32.0) * 5.0 / 9.0 + 273.15)
