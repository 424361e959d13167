"""A simulated visit whose truth is known, made with CoolProp and PsychroLib and nothing of ours.

The unit obeys the energy balances exactly: refrigerant, air and electrical side agree.
"""

from __future__ import annotations

import copy
from typing import Any

import psychrolib
from CoolProp.CoolProp import PropsSI

FLUID = "R410A"
CFM = 0.3048**3 / 60.0
BTU_PER_HOUR = 1055.05585262 / 3600.0
INCH_OF_WATER = 249.08891


def fahrenheit(kelvin: float) -> float:
    return (kelvin - 273.15) * 1.8 + 32.0


def kelvin(degf: float) -> float:
    return (degf - 32.0) / 1.8 + 273.15


def truth(
    *,
    evaporating: float = 45.0,
    condensing: float = 112.0,
    superheat: float = 10.0,
    subcooling: float = 10.0,
    mass_flow: float = 0.0640,
    isentropic: float = 0.68,
    heat_loss: float = 0.06,
    airflow: float = 1200.0,
    blower: float = 450.0,
    return_dry_bulb: float = 78.0,
    return_wet_bulb: float = 65.0,
    supply_humidity: float = 0.90,
    outdoor: float = 92.0,
) -> dict[str, float]:
    """Readings (imperial) and results of a unit in this state, sea level."""
    psychrolib.SetUnitSystem(psychrolib.SI)
    te, tc = kelvin(evaporating), kelvin(condensing)
    low, high = PropsSI("P", "T", te, "Q", 1, FLUID), PropsSI("P", "T", tc, "Q", 0, FLUID)
    suction, liquid = te + superheat / 1.8, tc - subcooling / 1.8
    h1, s1 = (PropsSI(k, "P", low, "T", suction, FLUID) for k in ("H", "S"))
    h3 = PropsSI("H", "P", high, "T", liquid, FLUID)
    ideal = PropsSI("H", "P", high, "S", s1, FLUID) - h1
    compressor = mass_flow * ideal / isentropic
    h2 = h1 + compressor * (1.0 - heat_loss) / mass_flow
    discharge = PropsSI("T", "P", high, "H", h2, FLUID)
    outdoor_power = compressor / (1.0 - 0.07)
    capacity = mass_flow * (h1 - h3) - blower
    pressure = 101325.0
    dry, wet = ((t - 32.0) / 1.8 for t in (return_dry_bulb, return_wet_bulb))
    ratio = psychrolib.GetHumRatioFromTWetBulb(dry, wet, pressure)
    volume = psychrolib.GetMoistAirVolume(dry, ratio, pressure)
    air = airflow * CFM / volume
    wanted = psychrolib.GetMoistAirEnthalpy(dry, ratio) - capacity / air
    cold, warm = 0.0, dry
    for _ in range(60):
        middle = 0.5 * (cold + warm)
        leaving = psychrolib.GetHumRatioFromRelHum(middle, supply_humidity, pressure)
        if psychrolib.GetMoistAirEnthalpy(middle, leaving) > wanted:
            warm = middle
        else:
            cold = middle
    leaving = psychrolib.GetHumRatioFromRelHum(cold, supply_humidity, pressure)
    supply_wet = psychrolib.GetTWetBulbFromHumRatio(cold, leaving, pressure)
    current = outdoor_power / 0.94 / 238.0 / 1.08
    psi = 6894.757293168361
    return {
        "suction_pressure": (low - pressure) / psi,
        "liquid_pressure": (high - pressure) / psi,
        "suction_line_temperature": fahrenheit(suction),
        "liquid_line_temperature": fahrenheit(liquid),
        "discharge_line_temperature": fahrenheit(discharge),
        "return_air_dry_bulb": return_dry_bulb,
        "return_air_wet_bulb": return_wet_bulb,
        "supply_air_dry_bulb": cold * 1.8 + 32.0,
        "supply_air_wet_bulb": supply_wet * 1.8 + 32.0,
        "supply_air_relative_humidity": 100.0 * supply_humidity,
        "return_air_relative_humidity": 100.0 * psychrolib.GetRelHumFromHumRatio(dry, ratio, pressure),
        "outdoor_air_dry_bulb": outdoor,
        "airflow": airflow,
        "outdoor_unit_power": outdoor_power,
        "indoor_unit_power": blower,
        "compressor_common_current": current,
        "line_voltage": 238.0,
        "total_external_static_pressure": 0.5,
        "capacity": capacity / BTU_PER_HOUR,
        "mass_flow": mass_flow,
        "sensible_fraction": air * (1006.0 + 1860.0 * leaving) * (dry - cold) / capacity,
        "eer": capacity / BTU_PER_HOUR / (outdoor_power + blower),
    }


RESULTS = ("capacity", "mass_flow", "sensible_fraction", "eer")

KIT = {
    "gauges": {"type": "pressure_transducer"},
    "clamps": {"type": "thermistor_pipe_clamp"},
    "air": {"type": "psychrometer"},
    "hygrometer": {"type": "hygrometer_probe"},
    "clamp meter": {"type": "clamp_meter"},
    "power meter": {"type": "power_meter"},
    "manometer": {"type": "manometer"},
    "hood": {"type": "airflow_hood"},
}

_MADE_BY = {
    "return_air_dry_bulb": "air",
    "supply_air_dry_bulb": "air",
    "return_air_wet_bulb": "air",
    "supply_air_wet_bulb": "air",
    "outdoor_air_dry_bulb": "air",
    "return_air_relative_humidity": "hygrometer",
    "supply_air_relative_humidity": "hygrometer",
    "compressor_common_current": "clamp meter",
    "line_voltage": "clamp meter",
}


def request(readings: dict[str, float], **unit: Any) -> dict[str, Any]:  # noqa: ANN401
    """A request with these readings, each by its instrument, on a unit with a blower table."""
    given = {
        name: {"value": value, "instrument": _MADE_BY[name]} if name in _MADE_BY else value
        for name, value in readings.items()
        if name not in RESULTS
    }
    return {
        "units": "imperial",
        "site": {"altitude": 0},
        "unit": {
            "refrigerant": "R-410A",
            "metering_device": "thermostatic_expansion_valve",
            "rated": {"cooling_capacity": 36000, "eer": 11.0},
            "nameplate": {"voltage": 230, "frequency": 60, "subcooling": 10},
            "blower_table": [
                {"external_static_pressure": 0.3, "airflow": 1310},
                {"external_static_pressure": 0.5, "airflow": 1200},
                {"external_static_pressure": 0.8, "airflow": 1030},
            ],
            **unit,
        },
        "kit": copy.deepcopy(KIT),  # a test may change its own
        "run": {"minutes_running": 20, "readings": given},
    }
