"""Charge targets and the departures from them."""

from __future__ import annotations

import numpy as np

from service.derive.derivations.registry import (
    COOLING,
    FloatArray,
    derive,
    quantity,
    same,
)
from service.intake.paths import NAMEPLATE, READING
from service.physics import charge_targets
from service.reference.metering_devices import EXPANSION_VALVES, FIXED_DEVICES

R, N = READING, NAMEPLATE


quantity(
    "target_subcooling",
    "Target subcooling",
    "temperature_difference",
    modes=COOLING,
    devices=EXPANSION_VALVES,
)
derive(
    "target_subcooling", ("table_subcooling",), same, "by the maker's table at these conditions", "performance_table"
)
derive("target_subcooling", (N + "subcooling",), same, "as the nameplate says", "nameplate")

quantity(
    "subcooling_deviation",
    "Subcooling minus target",
    "temperature_difference",
    modes=COOLING,
    devices=EXPANSION_VALVES,
)
derive(
    "subcooling_deviation",
    ("subcooling", "target_subcooling"),
    np.subtract,
    "subcooling minus target subcooling",
)

quantity(
    "target_superheat",
    "Target superheat",
    "temperature_difference",
    modes=COOLING,
    devices=FIXED_DEVICES,
)


def _target_superheat(outdoor: FloatArray, wet_bulb: FloatArray) -> FloatArray:
    """The target, or not-a-number where the nominal conditions are not tabulated."""
    tabulated = charge_targets.target_superheat_is_tabulated(outdoor[..., :1], wet_bulb[..., :1])
    return np.where(tabulated, charge_targets.target_superheat(outdoor, wet_bulb), np.nan)


derive(
    "target_superheat",
    (R + "outdoor_air_dry_bulb", "return_air_wet_bulb"),
    _target_superheat,
    "target table for outdoor dry bulb and return wet bulb",
    "ra3_target_superheat",
)

quantity(
    "superheat_deviation",
    "Superheat minus target",
    "temperature_difference",
    modes=COOLING,
    devices=FIXED_DEVICES,
)
derive(
    "superheat_deviation",
    ("superheat", "target_superheat"),
    np.subtract,
    "superheat minus target superheat",
)
