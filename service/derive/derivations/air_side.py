"""Air side: states of the air, temperature split, static pressure."""

from __future__ import annotations

from typing import Any

import numpy as np

from service.derive.derivations.registry import COOLING, HEATING, FloatArray, derive, quantity, same
from service.intake.paths import READING, SITE_PRESSURE
from service.physics import charge_targets, moist_air

R, AIR = READING, SITE_PRESSURE


def _from_wet_bulb(dry: FloatArray, bulb: FloatArray, air: FloatArray) -> FloatArray:
    """Humidity ratio; none where the wet bulb read is below that of air without any water.

    Where errors alone would make it negative it is zero: air cannot hold less than no water.
    """
    ratio = moist_air.humidity_ratio_from_wet_bulb(dry, bulb, air)
    if ratio.min() >= 0.0:
        return ratio
    return np.where(ratio[..., :1] >= 0.0, np.maximum(ratio, 0.0), np.nan)


for _side in ("return", "supply", "outdoor"):
    _dry, _wet = f"{R}{_side}_air_dry_bulb", f"{R}{_side}_air_wet_bulb"
    _humid = f"{R}{_side}_air_relative_humidity"
    _ratio, _title = f"{_side}_air_humidity_ratio", f"{_side.capitalize()} air"
    # Outdoor humidity matters for frost only, so it is never asked for; heating does not change that of rooms.
    _limits: dict[str, Any] = {"optional": True} if _side == "outdoor" else {"optional_in": HEATING}
    quantity(_ratio, f"{_title} humidity ratio", "humidity_ratio", **_limits)
    for _from, _given, _compute, _words in (
        ("wet_bulb", _wet, _from_wet_bulb, "wet bulb"),
        ("relative_humidity", _humid, moist_air.humidity_ratio_from_relative_humidity, "relative humidity"),
    ):
        quantity(f"{_ratio}_from_{_from}", f"{_title} humidity ratio from {_words}", "humidity_ratio", internal=True)
        derive(
            f"{_ratio}_from_{_from}",
            (_dry, _given, AIR),
            _compute,
            f"from dry bulb, {_words} and air pressure",
            "ashrae_psychrometrics",
        )
        derive(
            _ratio,
            (f"{_ratio}_from_{_from}",),
            same,
            f"from dry bulb, {_words} and air pressure",
            "ashrae_psychrometrics",
        )
    quantity(f"{_side}_air_wet_bulb", f"{_title} wet bulb", "temperature", **_limits)
    derive(f"{_side}_air_wet_bulb", (_wet,), same, "as read")
    derive(
        f"{_side}_air_wet_bulb",
        (_dry, _ratio, AIR),
        moist_air.wet_bulb,
        "from dry bulb, humidity ratio and air pressure",
        "ashrae_psychrometrics",
    )
    quantity(f"{_side}_air_relative_humidity", f"{_title} relative humidity", "fraction", **_limits)
    derive(f"{_side}_air_relative_humidity", (_humid,), same, "as read")
    derive(
        f"{_side}_air_relative_humidity",
        (_dry, _ratio, AIR),
        moist_air.relative_humidity,
        "from dry bulb, humidity ratio and air pressure",
        "ashrae_psychrometrics",
    )
    quantity(f"{_side}_air_dew_point", f"{_title} dew point", "temperature", **_limits)
    derive(
        f"{_side}_air_dew_point",
        (_ratio, AIR),
        moist_air.dew_point,
        "from humidity ratio and air pressure",
        "ashrae_psychrometrics",
    )
    quantity(f"{_side}_air_enthalpy", f"{_title} enthalpy", "specific_enthalpy", **_limits)
    derive(
        f"{_side}_air_enthalpy",
        (_dry, _ratio),
        moist_air.enthalpy,
        "moist air, per mass of dry air",
        "ashrae_psychrometrics",
    )

quantity(
    "return_air_temperature_rise",
    "Return air temperature rise",
    "temperature_difference",
    modes=COOLING,
    expected_with=(R + "room_air_dry_bulb",),
)
derive(
    "return_air_temperature_rise",
    (R + "return_air_dry_bulb", R + "room_air_dry_bulb"),
    np.subtract,
    "air entering the indoor coil minus room air at the return grille",
)

quantity("air_enthalpy_drop", "Enthalpy drop of the air", "specific_enthalpy_difference", modes=COOLING)
derive(
    "air_enthalpy_drop",
    ("return_air_enthalpy", "supply_air_enthalpy"),
    np.subtract,
    "return minus supply enthalpy",
)

quantity("temperature_split", "Temperature split", "temperature_difference", modes=COOLING)
derive(
    "temperature_split",
    (R + "return_air_dry_bulb", R + "supply_air_dry_bulb"),
    np.subtract,
    "return minus supply dry bulb",
)

quantity(
    "target_temperature_split",
    "Target temperature split",
    "temperature_difference",
    modes=COOLING,
)


def _target_split(dry_bulb: FloatArray, wet_bulb: FloatArray) -> FloatArray:
    """The target, or not-a-number where the nominal conditions are not tabulated."""
    tabulated = charge_targets.target_split_is_tabulated(dry_bulb[..., :1], wet_bulb[..., :1])
    return np.where(tabulated, charge_targets.target_temperature_split(dry_bulb, wet_bulb), np.nan)


derive(
    "target_temperature_split",
    (R + "return_air_dry_bulb", "return_air_wet_bulb"),
    _target_split,
    "target table for return dry bulb and return wet bulb",
    "ra3_target_split",
)

quantity(
    "temperature_split_deviation",
    "Temperature split minus target",
    "temperature_difference",
    modes=COOLING,
)
derive(
    "temperature_split_deviation",
    ("temperature_split", "target_temperature_split"),
    np.subtract,
    "temperature split minus its target",
)

quantity(
    "total_external_static_pressure",
    "Total external static pressure",
    "static_pressure",
    expected_with=(R + "return_static_pressure", R + "supply_static_pressure"),
)
derive("total_external_static_pressure", (R + "total_external_static_pressure",), same, "as read")
derive(
    "total_external_static_pressure",
    (R + "supply_static_pressure", R + "return_static_pressure"),
    np.subtract,
    "supply minus return static pressure",
)
