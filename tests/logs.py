"""Logs of an invented unit for tests: a start in two exponentials, noise of a fixed seed, and what a log may suffer."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

#: Settled level, what the fast and the slow part have at the start, noise, decimals: imperial units, R-410A.
UNIT: Mapping[str, tuple[float, float, float, float]] = {
    "suction_pressure": (118.0, 30.0, 8.0, 0.4),
    "suction_line_temperature": (55.0, 15.0, 5.0, 0.2),
    "liquid_pressure": (350.0, -120.0, -20.0, 1.0),
    "liquid_line_temperature": (97.0, -10.0, -6.0, 0.2),
    "outdoor_air_dry_bulb": (89.0, 0.0, 0.0, 0.1),
    "return_air_dry_bulb": (76.0, 0.0, 0.0, 0.1),
    "return_air_wet_bulb": (63.5, 0.0, 0.0, 0.1),
    "supply_air_dry_bulb": (57.0, 12.0, 4.0, 0.1),
    "outdoor_unit_power": (2650.0, -300.0, -80.0, 8.0),
}
FAST, SLOW = 50.0, 240.0


def readings(
    minutes: float, *, step: float = 5.0, begin: float = 0.0, seed: int = 1
) -> tuple[FloatArray, dict[str, FloatArray]]:
    """Times [s] since the compressor started, and each reading over them."""
    chance = np.random.default_rng(seed)
    times = np.arange(begin, begin + 60.0 * minutes + 0.5, step)
    values = {
        name: level
        + fast * np.exp(-times / FAST)
        + slow * np.exp(-times / SLOW)
        + noise * chance.standard_normal(len(times))
        for name, (level, fast, slow, noise) in UNIT.items()
    }
    return times, values


def log(times: FloatArray, values: Mapping[str, FloatArray], start: str = "compressor_on") -> dict[str, Any]:
    """``run.log`` of readings, as displays show them; not-a-number is a gap."""
    return {
        "start": start,
        "seconds": [round(float(time), 3) for time in times],
        "readings": {
            name: {"values": [None if np.isnan(one) else round(float(one), 1) for one in row]}
            for name, row in values.items()
        },
    }


def as_csv(body: Mapping[str, Any], units: Mapping[str, str] | None = None) -> str:
    """The same log as CSV text; ``units`` by reading."""
    names = list(body["readings"])
    head = ["seconds", *(f"{name} [{units[name]}]" if units and name in units else name for name in names)]
    columns = [body["seconds"], *(body["readings"][name]["values"] for name in names)]
    rows = [",".join("" if one is None else f"{one:g}" for one in row) for row in zip(*columns, strict=True)]
    return "\n".join([",".join(head), *rows, ""])


def visit(log_: Mapping[str, Any], **parts: Any) -> dict[str, Any]:  # noqa: ANN401
    """A body with a log and nothing read once; ``parts`` add to it."""
    unit = {
        "refrigerant": "R-410A",
        "metering_device": "thermostatic_expansion_valve",
        "mode": "cooling",
        "nameplate": {"subcooling": 9},
        "rated": {"cooling_capacity": 36000, "eer": 11.4},
    }
    return {"units": "imperial", "unit": unit, "site": {"altitude": 500}, "run": {"log": log_, "readings": {}}, **parts}


# ---------------------------------------------------------------- what a log may suffer


def _half(times: FloatArray) -> NDArray[np.bool_]:
    return np.asarray(times > 0.5 * times[-1])


def _off(times: FloatArray, values: dict[str, FloatArray], still: NDArray[np.bool_]) -> None:
    """The unit stands still: no power, pressures that have met."""
    values["outdoor_unit_power"][still] = 0.0
    for name in ("suction_pressure", "liquid_pressure"):
        values[name][still] = 210.0


def _swapped(values: dict[str, FloatArray], one: str, other: str, where: NDArray[np.bool_]) -> None:
    values[one][where], values[other][where] = values[other][where].copy(), values[one][where].copy()


def troubled() -> dict[str, dict[str, Any]]:
    """Logs by the notice that they raise."""
    found: dict[str, dict[str, Any]] = {}
    times, values = readings(20)
    _off(times, values, np.ones(len(times), dtype=bool))
    found["log_without_running"] = log(times, values)

    times, values = readings(5)
    found["log_not_settled"] = log(times, values, "unknown")

    found["log_settled_early"] = log(*readings(13))

    times, values = readings(25)
    values["outdoor_air_dry_bulb"] += (times - times[-1]) / 60.0
    found["log_not_steady"] = log(times, values)

    times, values = readings(20)
    values["suction_line_temperature"][(times > 500) & (times < 1000)] = 55.5
    found["log_stuck"] = log(times, values)

    times, values = readings(20)
    values["liquid_pressure"][(times > 500) & (times < 600)] = np.nan
    found["log_dropout"] = log(times, values)

    times, values = readings(20)
    values["suction_pressure"][_half(times)] /= 14.5038  # psi to bar
    found["log_unit_jump"] = log(times, values)

    times, values = readings(20)
    found["log_clock_jump"] = log(times + 600.0 * _half(times), values)

    times, values = readings(20)
    _swapped(values, "suction_line_temperature", "liquid_line_temperature", _half(times))
    found["log_readings_swapped"] = log(times, values)

    times, values = readings(20)
    values["liquid_line_temperature"][_half(times)] += 15.0
    found["log_jump"] = log(times, values)

    times, values = readings(20)
    values["suction_line_temperature"][_half(times)] = 89.0
    found["log_probe_moved"] = log(times, values)

    times, values = readings(24)
    for name, step in (("outdoor_unit_power", -900.0), ("suction_pressure", 15.0), ("liquid_pressure", -40.0)):
        values[name][_half(times)] += step
    found["log_changed"] = log(times, values)

    times, values = readings(20)
    _off(times, values, (times < 300) | (times > 480))
    found["short_cycling"] = log(times, values, "unknown")

    times, values = readings(20)
    values["suction_line_temperature"] += 4.0 * np.sin(2.0 * np.pi * times / 150.0)
    found["superheat_hunts"] = log(times, values)
    return found
