"""Ducts, blowers and filters: limits and what stands behind them.  SI."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

CFM = 0.3048**3 / 60.0
WATTS_PER_CFM = 1.0 / CFM
INCH = 0.0254

#: Pressure difference of a duct-leakage test [Pa]; source ``duct_test_pressure``.
TEST_PRESSURE = 25.0
#: Specific heat and density of air in the formulas of the standard: 0.24 Btu/(lb °F), 0.075 lb/ft3.
AIR_HEAT, AIR_DENSITY = 0.24 * 1055.05585262 / 0.45359237 * 1.8, 0.075 * 0.45359237 / 0.3048**3


@dataclass(frozen=True, slots=True)
class Published:
    """A published limit for comparison: its value in SI, what it applies to, and its source."""

    value: float
    applies_to: str
    source: str


#: Leakage over the airflow of the blower [1].
LEAKAGE_LIMITS = (
    Published(0.05, "new duct systems, newer editions", "duct_leakage_new"),
    Published(0.06, "new duct systems, older editions", "duct_leakage_six"),
    Published(0.15, "altered duct systems", "duct_leakage_altered"),
)
#: Power of the blower over its airflow [W/(m3/s)].
FAN_LIMITS = (
    Published(0.58 * WATTS_PER_CFM, "air handlers, and all units in older editions", "fan_power_058"),
    Published(0.45 * WATTS_PER_CFM, "gas-furnace air handlers in newer editions", "fan_power_045"),
)
#: Power over airflow of fans in a rating model at 0.50 in. w.c. [W/(m3/s)], shown for comparison; source
#: ``fan_power_model``.
MODEL_FANS: Mapping[str, float] = MappingProxyType(
    {"permanent split capacitor": 0.414 * WATTS_PER_CFM, "electronically commutated": 0.281 * WATTS_PER_CFM}
)
#: Exponent of power over airflow with reduced speed of an electronically commutated ducted blower.
MODEL_FAN_EXPONENT = 1.75
#: Share of the rated static pressure that a filter may take [1]; source ``static_pressure_shares``.
FILTER_SHARE = 0.20
#: Airflow over face area of a filter [m/s]: 2 cfm for each square inch; source ``filter_face``.
FACE_VELOCITY = 2.0 * CFM / INCH**2
#: Cooling delivered over capacity below which ducts deserve work [1]; source ``delivery_practice``.
DELIVERED_SHARE = 0.80
