"""Power: measured, or from volts, amps and power factor; blower."""

from __future__ import annotations

import numpy as np

from service.derive.derivations.airflow import NOMINAL_AIRFLOW
from service.derive.derivations.registry import FloatArray, derive, quantity, same
from service.intake.paths import ASSUMED, NAMEPLATE, RATED, READING
from service.physics import electrical

R, N = READING, NAMEPLATE

quantity("outdoor_unit_current", "Outdoor unit current", "current", internal=True)
derive(
    "outdoor_unit_current",
    ("compressor_current", R + "outdoor_fan_current"),
    np.add,
    "compressor plus outdoor fan",
)
derive(
    "outdoor_unit_current",
    ("compressor_current", ASSUMED + "outdoor_fan_share"),
    lambda amps, share: amps * (1.0 + share),
    "compressor plus the usual share of an outdoor fan",
)

quantity("outdoor_power_factor", "Power factor of the outdoor unit", "ratio", internal=True)
derive("outdoor_power_factor", (R + "power_factor",), same, "as read")


def _usual_power_factor(phases: float, single: FloatArray, three: FloatArray) -> FloatArray:
    return three if phases == 3 else single


derive(
    "outdoor_power_factor",
    (N + "phases", ASSUMED + "power_factor_single_phase", ASSUMED + "power_factor_three_phase"),
    _usual_power_factor,
    "usual for such a unit",
    "power_factor_practice",
)

quantity("outdoor_unit_power_measured", "Outdoor unit power as measured", "power", internal=True)
derive("outdoor_unit_power_measured", (R + "outdoor_unit_power",), same, "as measured")

quantity(
    "outdoor_unit_power_from_volts_and_amps",
    "Outdoor unit power from volts and amps",
    "power",
    expected_with=(R + "compressor_common_current", R + "compressor_line_currents.l1"),
)
derive(
    "outdoor_unit_power_from_volts_and_amps",
    ("outdoor_unit_current", "supply_voltage", N + "phases", "outdoor_power_factor"),
    lambda amps, volts, phases, factor: factor * electrical.apparent_power(amps, volts, phases),
    "volts times amps times power factor (√3 with three phases)",
    "power_factor_practice",
)

quantity("outdoor_unit_power", "Outdoor unit power", "power", reconciled=True)
derive("outdoor_unit_power", ("outdoor_unit_power_measured",), same, "as measured")
derive(
    "outdoor_unit_power",
    ("outdoor_unit_power_from_volts_and_amps",),
    same,
    "volts times amps times power factor",
    "power_factor_practice",
)

quantity("indoor_unit_power", "Indoor unit power", "power", reconciled=True)
derive("indoor_unit_power", (R + "indoor_unit_power",), same, "as measured")
derive(
    "indoor_unit_power",
    ("air_side_airflow", ASSUMED + "blower_power"),
    np.multiply,
    "usual power of a blower per unit of airflow",
    "default_blower_power",
)
derive(
    "indoor_unit_power",
    (RATED + "cooling_capacity", ASSUMED + "blower_power"),
    lambda rated, specific: NOMINAL_AIRFLOW * rated * specific,
    "usual power of a blower at 400 cfm per ton of rated capacity",
    "default_blower_power",
)

quantity("compressor_power", "Compressor power", "power", internal=True)
derive(
    "compressor_power",
    ("outdoor_unit_power", ASSUMED + "outdoor_fan_power_share"),
    lambda power, share: power * (1.0 - share),
    "outdoor unit power minus the usual share of the outdoor fan",
)

quantity("total_power", "Total power", "power", follows=True)
derive("total_power", ("outdoor_unit_power", "indoor_unit_power"), np.add, "outdoor plus indoor unit")
