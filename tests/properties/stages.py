"""Sound units in full and in low stage, by the simulator that shares nothing with the service.

Low stage is a compressor that moves 0.67 of its full flow (a mechanical two-step scroll, value from memory)
and a blower at 0.86 of its full airflow (value from memory): capacity then falls to about the published
0.728 of full capacity (RESNET's model of two-stage equipment).
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np

from tests.benchmarks.simulated_pairs import (
    Health,
    Weather,
    described,
    draw_units,
    draw_weather,
    fluid_of,
    plausible,
    states,
    true_readings,
)

LOW_FLOW, LOW_AIR = 0.67, 0.86
COUNT = 32
STAGES = ("full", "low")


@cache
def pool() -> tuple[list[dict[str, Any]], float]:
    """Units with their readings by stage and visit (two weathers), and the mean ratio of low to full
    capacity."""
    f, rng = fluid_of("R-410A"), np.random.default_rng(20)
    unit, fit = draw_units(f, COUNT, rng, None)
    design = Health.sound(COUNT)
    low = replace(
        design,
        compressor_volumetric=np.full(COUNT, LOW_FLOW),
        evaporator_airflow=np.full(COUNT, LOW_AIR),
    )
    rated, ok = states(f, unit, design, Weather.rating(COUNT))
    ok = ok & fit & plausible(rated)
    read: dict[tuple[str, int], dict[str, Any]] = {}
    ratios = []
    for place, weather in enumerate(draw_weather(rng, COUNT, 4.0)):
        capacity = {}
        for stage, health in zip(STAGES, (design, low), strict=True):
            result, found = states(f, unit, health, weather)
            ok = ok & found
            read[stage, place] = true_readings(result, weather)
            capacity[stage] = result.capacity
        ratios.append(capacity["low"] / capacity["full"])
    units = [
        {
            "unit": described(unit, rated, int(k), "R-410A"),
            "readings": {
                key: {name: round(float(values[k]), 2) for name, values in columns.items()}
                for key, columns in read.items()
            },
        }
        for k in np.flatnonzero(ok)
    ]
    return units, float(np.mean([ratio[ok].mean() for ratio in ratios]))


def stated(one: dict[str, Any], control: str) -> dict[str, Any]:
    """The unit as a request states it."""
    nameplate: dict[str, Any] = {"voltage": 230, "frequency": 60}
    if one["unit"]["metering_device"] != "fixed_orifice":
        nameplate["subcooling"] = round(float(one["unit"]["design_subcooling"]))
    return {
        "refrigerant": "R-410A",
        "metering_device": one["unit"]["metering_device"],
        "capacity_control": control,
        "rated": {
            "cooling_capacity": one["unit"]["rated_capacity"],
            "eer": one["unit"]["rated_eer"],
        },
        "nameplate": nameplate,
    }


def run(one: dict[str, Any], stage: str, place: int, names: set[str] | None = None) -> dict[str, Any]:
    """One visit in a stage; only some of its readings where ``names`` are given."""
    readings = dict(one["readings"][stage, place])
    # Watts in the simulator.
    for name in ("outdoor_unit_power", "indoor_unit_power"):
        readings[name] = {"value": readings[name], "unit": "W"}
    return {
        "minutes_running": 20,
        "readings": {n: v for n, v in readings.items() if names is None or n in names},
    }
