"""Ducts, blowers and filters: limits and what supports them.  SI."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

CFM = 0.3048**3 / 60.0
WATTS_PER_CFM = 1.0 / CFM
INCH = 0.0254

#: Pressure difference of a duct-leakage test [Pa]; source ``duct_test_pressure``.
TEST_PRESSURE = 25.0
#: Specific heat and density of air in the formulas of the standard: 0.24 Btu/(lb °F), 0.075 lb/ft3.
AIR_HEAT, AIR_DENSITY = 0.24 * 1055.05585262 / 0.45359237 * 1.8, 0.075 * 0.45359237 / 0.3048**3


#: Leakage over the airflow of the blower [1]: new ducts, and altered ones; source ``duct_leakage_six``.
LEAKAGE_NEW, LEAKAGE_ALTERED = 0.06, 0.15
#: Power of the blower over its airflow [J/m3]: all units in older editions, and gas-furnace air handlers in newer ones;
#: source ``fan_power_058``.
FAN_POWER, FAN_POWER_FURNACE = 0.58 * WATTS_PER_CFM, 0.45 * WATTS_PER_CFM
#: The same of fans in a rating model at 0.50 in. w.c., shown for comparison; source ``fan_power_model``.
MODEL_FANS: Mapping[str, float] = MappingProxyType(
    {"permanent-split-capacitor": 0.414 * WATTS_PER_CFM, "electronically commutated": 0.281 * WATTS_PER_CFM}
)
#: Share of the rated static pressure that a filter may take [1]; source ``static_pressure_shares``.
FILTER_SHARE = 0.20
#: Airflow over face area of a filter [m/s]: 2 cfm for each square inch; source ``filter_face``.
FACE_VELOCITY = 2.0 * CFM / INCH**2
#: Heat delivered over capacity below which ducts deserve work [1]; source ``delivery_practice``.
DELIVERED_SHARE = 0.80
#: Supply air in the cooling formula of the standard [K] (55 °F) where it was not read; source ``ashrae_152``.
SUPPLY_AIR = 285.93
#: Airflow for capacity at which the efficiency of a unit is rated [m3/J]: 400 cfm per ton; source ``ashrae_152``.
RATED_AIRFLOW = 400.0 * CFM / 3516.853
#: Standard deviation of what ducts lose over what the standard's formula gives; source ``ashrae_152_spread``.
METHOD_SPREAD = 0.15
#: Standard deviation [1] of a capacity that was stated without its uncertainty (±10 %); source ``practice``.
CAPACITY_SPREAD = 0.05
#: Airflow for a stated cooling capacity outside which one of the two is questioned [m3/J] (200 to 650 cfm per ton);
#: common practice, no source.
AIRFLOW_FOR_CAPACITY = (200.0 * CFM / 3516.853, 650.0 * CFM / 3516.853)
#: Air of all registers over the blower's [1] below which another unit of one of the two is looked for, and the shares
#: that count as the same air; common practice, no source.
LEAST_AIR, SAME_AIR = 0.66, (0.92, 1.04)
