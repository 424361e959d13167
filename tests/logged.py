"""Invented logs of an air conditioner, for tests: what probes show every few seconds after a start, in SI."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[Any]

PSI = 6894.757
ATMOSPHERE = 101325.0
#: Settled values: absolute pressures [Pa], temperatures [K], power [W].
SETTLED = {
    "suction_pressure": 9.6e5,
    "liquid_pressure": 25.0e5,
    "suction_line_temperature": 286.0,
    "liquid_line_temperature": 309.0,
    "return_air_dry_bulb": 297.5,
    "supply_air_dry_bulb": 287.0,
    "outdoor_air_dry_bulb": 305.0,
    "outdoor_unit_power": 2600.0,
}
_STEPS = {
    "suction_pressure": 3.0e5,
    "liquid_pressure": -8.0e5,
    "suction_line_temperature": 8.0,
    "liquid_line_temperature": -5.0,
    "supply_air_dry_bulb": 8.0,
    "outdoor_unit_power": -400.0,
}
_NOISE = {"suction_pressure": 2000.0, "liquid_pressure": 3000.0, "outdoor_unit_power": 10.0}
_RESOLUTION = {"suction_pressure": 689.5, "liquid_pressure": 689.5, "outdoor_unit_power": 1.0}


def readings_over(
    minutes: float, *, spacing: float = 5.0, seed: int = 0, hunting: float = 0.0
) -> tuple[FloatArray, dict[str, FloatArray]]:
    """Times [s] since the start of the compressor, and readings; a valve swings superheat by ``hunting`` [K]."""
    rng = np.random.default_rng(seed)
    times = np.arange(0.0, minutes * 60.0 + 0.1, spacing)
    found = {}
    for name, settled in SETTLED.items():
        left = 0.75 * np.exp(-times / 55.0) + 0.25 * np.exp(-times / 270.0)
        found[name] = settled + _STEPS.get(name, 0.0) * left + _NOISE.get(name, 0.06) * rng.normal(size=len(times))
    swing = hunting * np.sin(2.0 * np.pi * times / 130.0)
    found["suction_line_temperature"] += swing
    found["suction_pressure"] -= 1e4 * swing
    return times, found


def shown(values: Mapping[str, FloatArray]) -> dict[str, FloatArray]:
    """The same in steps of usual displays."""
    return {name: np.round(one / (s := _RESOLUTION.get(name, 0.0556))) * s for name, one in values.items()}


def lagging(times: FloatArray, values: FloatArray, seconds: float) -> FloatArray:
    """What a sensor with a time constant shows of it."""
    found = values.copy()
    for place in range(1, len(values)):
        kept = np.exp(-(times[place] - times[place - 1]) / seconds)
        found[place] = kept * found[place - 1] + (1.0 - kept) * values[place]
    return found


def _imperial(name: str, values: FloatArray) -> FloatArray:
    if name.endswith("pressure"):
        return (values - ATMOSPHERE) / PSI
    return values if name.endswith("power") else (values - 273.15) * 1.8 + 32.0


def body(times: FloatArray, values: Mapping[str, FloatArray], **run: Any) -> dict[str, Any]:  # noqa: ANN401
    """A request with such a log, in imperial units."""
    readings: dict[str, Any] = {}
    for name, one in values.items():
        readings[name] = {
            "values": [None if np.isnan(number) else round(float(number), 1) for number in _imperial(name, one)]
        }
    if "outdoor_unit_power" in readings:
        readings["outdoor_unit_power"]["instrument"] = "meter"
    return {
        "units": "imperial",
        "site": {"altitude": 0},
        "unit": {"refrigerant": "R-410A", "metering_device": "thermostatic_expansion_valve"},
        "kit": {
            "gauges": {"type": "pressure_transducer"},
            "clamps": {"type": "thermistor_pipe_clamp"},
            "air": {"type": "psychrometer"},
            "meter": {"type": "power_meter"},
        },
        "run": {
            "log": {"start": "compressor_on", "seconds": times.tolist(), "readings": readings},
            "readings": {},
            **run,
        },
    }
