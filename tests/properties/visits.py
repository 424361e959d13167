"""Visits at random, from healthy to absurd: any state of the cycle, any subset of the readings."""

from __future__ import annotations

from typing import Any

import numpy as np
from hypothesis import strategies as st

from service.physics.refrigerant import saturation_curves

DEVICES = (
    "fixed_orifice",
    "capillary_tube",
    "thermostatic_expansion_valve",
    "electronic_expansion_valve",
    None,
)
REFRIGERANTS = ("R-410A", "R-22", "R-32", "R-454B", "R-407C")
_AIR = 14.696
_PSI = 6894.757293168361


def _gauge(refrigerant: str, fahrenheit: float, *, dew: bool) -> float:
    curves = saturation_curves(refrigerant)
    kelvin = np.array([(fahrenheit - 32.0) / 1.8 + 273.15])
    pressure = curves.dew_pressure(kelvin) if dew else curves.bubble_pressure(kelvin)
    return round(float(pressure[0]) / _PSI - _AIR, 1)


def readings_of(state: dict[str, float], refrigerant: str) -> dict[str, float]:
    """All readings of one state of the cycle (°F), some of them from ratios to usual ones."""
    outdoor, indoor = state["outdoor"], state["indoor"]
    condensing, evaporating = outdoor + state["over"], state["evaporating"]
    return {
        "suction_pressure": _gauge(refrigerant, evaporating, dew=True),
        "liquid_pressure": _gauge(refrigerant, condensing, dew=False),
        "suction_line_temperature": round(evaporating + state["superheat"], 1),
        "liquid_line_temperature": round(condensing - state["subcooling"], 1),
        "discharge_line_temperature": round(condensing + state["discharge"], 1),
        "outdoor_air_dry_bulb": outdoor,
        "return_air_dry_bulb": indoor,
        "return_air_wet_bulb": round(indoor - state["depression"], 1),
        "supply_air_dry_bulb": round(indoor - state["split"], 1),
        "outdoor_unit_power": {"value": round(2.8 * state["power"], 3), "unit": "kW"},  # type: ignore[dict-item]
        "compressor_common_current": round(12.0 * state["amps"], 1),
        "outdoor_fan_current": round(1.0 * state["fan"], 2),
        "line_voltage": round(240.0 * state["volts"], 1),
        "total_external_static_pressure": round(0.5 * state["static"], 2),
        "airflow": round(1200.0 * state["flow"]),
    }


#: Ranges from what a healthy unit shows (the middle third) to what hardly any unit does.
_WIDE = {
    "outdoor": (68.0, 112.0),
    "indoor": (66.0, 86.0),
    "depression": (6.0, 22.0),
    "over": (4.0, 58.0),
    "evaporating": (20.0, 58.0),
    "superheat": (0.0, 45.0),
    "subcooling": (0.0, 30.0),
    "discharge": (15.0, 110.0),
    "split": (3.0, 30.0),
    "power": (0.5, 1.6),
    "amps": (0.4, 1.6),
    "fan": (0.3, 1.4),
    "volts": (0.86, 1.1),
    "static": (0.2, 2.0),
    "flow": (0.4, 1.4),
}
_USUAL = {
    "outdoor": (80.0, 98.0),
    "indoor": (72.0, 80.0),
    "depression": (9.0, 16.0),
    "over": (14.0, 26.0),
    "evaporating": (38.0, 48.0),
    "superheat": (6.0, 14.0),
    "subcooling": (6.0, 13.0),
    "discharge": (40.0, 75.0),
    "split": (16.0, 22.0),
    "power": (0.9, 1.1),
    "amps": (0.85, 1.05),
    "fan": (0.7, 1.0),
    "volts": (0.97, 1.03),
    "static": (0.7, 1.3),
    "flow": (0.85, 1.1),
}


@st.composite
def states(draw: st.DrawFn) -> dict[str, float]:
    """A usual state with a few values anywhere: most faults move some readings and leave the rest."""
    odd = draw(st.sets(st.sampled_from(sorted(_WIDE)), max_size=5))
    return {name: round(draw(st.floats(*(_WIDE if name in odd else _USUAL)[name])), 2) for name in _WIDE}


@st.composite
def bodies(draw: st.DrawFn, controls: tuple[str, ...] = ("single_speed",)) -> dict[str, Any]:
    """A request of a diagnosis in cooling, with a baseline in one case of four."""
    refrigerant = draw(st.sampled_from(REFRIGERANTS))
    device = draw(st.sampled_from(DEVICES))
    readings = readings_of(draw(states()), refrigerant)
    dropped = draw(st.sets(st.sampled_from(sorted(readings)), max_size=10))
    if draw(st.integers(0, 7)) == 0:
        readings["outdoor_fan_current"] = 0.0
        dropped.discard("outdoor_fan_current")
    unit: dict[str, Any] = {
        "refrigerant": refrigerant,
        "capacity_control": draw(st.sampled_from(controls)),
        "nameplate": {"voltage": 230, "compressor_rated_load_amps": 14.0},
    }
    if device is not None:
        unit["metering_device"] = device
    if draw(st.booleans()):
        unit["rated"] = {"cooling_capacity": 36000, "eer": draw(st.sampled_from([9.0, 11.0, 13.0]))}
    if draw(st.booleans()):
        unit["nameplate"]["subcooling"] = draw(st.sampled_from([8, 10, 12]))
    body: dict[str, Any] = {
        "units": "imperial",
        "unit": unit,
        "run": {"minutes_running": 20, "readings": {n: v for n, v in readings.items() if n not in dropped}},
    }
    if draw(st.integers(0, 3)) == 0:
        usual = {name: (low + high) / 2.0 for name, (low, high) in _USUAL.items()}
        body["baseline"] = {"minutes_running": 20, "readings": readings_of(usual, refrigerant)}
    return body
