"""A simulated visit whose truth is known, made with CoolProp and PsychroLib and nothing of ours.

The unit obeys the energy balances exactly: refrigerant, air and electrical side agree.
"""

from __future__ import annotations

import copy
from dataclasses import dataclass
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


@dataclass(frozen=True)
class State:
    """State of a unit and its air: temperatures in degF, flows in kg/s and cfm, the blower's power in W."""

    evaporating: float = 45.0
    condensing: float = 112.0
    superheat: float = 10.0
    subcooling: float = 10.0
    mass_flow: float = 0.0640
    isentropic: float = 0.68
    heat_loss: float = 0.06
    airflow: float = 1200.0
    blower: float = 450.0
    return_dry_bulb: float = 78.0
    return_wet_bulb: float = 65.0
    supply_humidity: float = 0.90
    outdoor: float = 92.0


USUAL = State()
ATMOSPHERE = 101325.0


def truth(state: State = USUAL) -> dict[str, float]:
    """Readings (imperial) and results of a unit in this state, sea level."""
    compressor, capacity, refrigerant = _refrigerant_side(state)
    outdoor_power = compressor / (1.0 - 0.07)
    return {
        **refrigerant,
        **_air_side(state, capacity),
        "outdoor_air_dry_bulb": state.outdoor,
        "outdoor_unit_power": outdoor_power,
        "indoor_unit_power": state.blower,
        "compressor_common_current": outdoor_power / 0.94 / 238.0 / 1.08,
        "line_voltage": 238.0,
        "total_external_static_pressure": 0.5,
        "capacity": capacity / BTU_PER_HOUR,
        "mass_flow": state.mass_flow,
        "eer": capacity / BTU_PER_HOUR / (outdoor_power + state.blower),
    }


def _refrigerant_side(state: State) -> tuple[float, float, dict[str, float]]:
    """The compressor's power and net capacity in W, and the readings."""
    te, tc = kelvin(state.evaporating), kelvin(state.condensing)
    low, high = PropsSI("P", "T", te, "Q", 1, FLUID), PropsSI("P", "T", tc, "Q", 0, FLUID)
    suction, liquid = te + state.superheat / 1.8, tc - state.subcooling / 1.8
    h1, s1 = (PropsSI(k, "P", low, "T", suction, FLUID) for k in ("H", "S"))
    h3 = PropsSI("H", "P", high, "T", liquid, FLUID)
    ideal = PropsSI("H", "P", high, "S", s1, FLUID) - h1
    compressor = state.mass_flow * ideal / state.isentropic
    h2 = h1 + compressor * (1.0 - state.heat_loss) / state.mass_flow
    psi = 6894.757293168361
    return (
        compressor,
        state.mass_flow * (h1 - h3) - state.blower,
        {
            "suction_pressure": (low - ATMOSPHERE) / psi,
            "liquid_pressure": (high - ATMOSPHERE) / psi,
            "suction_line_temperature": fahrenheit(suction),
            "liquid_line_temperature": fahrenheit(liquid),
            "discharge_line_temperature": fahrenheit(PropsSI("T", "P", high, "H", h2, FLUID)),
        },
    )


def _air_side(state: State, capacity: float) -> dict[str, float]:
    """Readings of the air that gives up this capacity in W, and its sensible fraction."""
    psychrolib.SetUnitSystem(psychrolib.SI)
    dry, wet = ((t - 32.0) / 1.8 for t in (state.return_dry_bulb, state.return_wet_bulb))
    ratio = psychrolib.GetHumRatioFromTWetBulb(dry, wet, ATMOSPHERE)
    air = state.airflow * CFM / psychrolib.GetMoistAirVolume(dry, ratio, ATMOSPHERE)
    wanted = psychrolib.GetMoistAirEnthalpy(dry, ratio) - capacity / air
    cold, warm = 0.0, dry
    for _ in range(60):
        middle = 0.5 * (cold + warm)
        leaving = psychrolib.GetHumRatioFromRelHum(middle, state.supply_humidity, ATMOSPHERE)
        if psychrolib.GetMoistAirEnthalpy(middle, leaving) > wanted:
            warm = middle
        else:
            cold = middle
    leaving = psychrolib.GetHumRatioFromRelHum(cold, state.supply_humidity, ATMOSPHERE)
    supply_wet = psychrolib.GetTWetBulbFromHumRatio(cold, leaving, ATMOSPHERE)
    return {
        "return_air_dry_bulb": state.return_dry_bulb,
        "return_air_wet_bulb": state.return_wet_bulb,
        "supply_air_dry_bulb": cold * 1.8 + 32.0,
        "supply_air_wet_bulb": supply_wet * 1.8 + 32.0,
        "supply_air_relative_humidity": 100.0 * state.supply_humidity,
        "return_air_relative_humidity": 100.0 * psychrolib.GetRelHumFromHumRatio(dry, ratio, ATMOSPHERE),
        "airflow": state.airflow,
        "sensible_fraction": air * (1006.0 + 1860.0 * leaving) * (dry - cold) / capacity,
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
