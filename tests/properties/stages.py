"""Sound units in full and in low stage, by the simulator that shares nothing with the service.

Low stage is a compressor of 0.67 of its full displacement, friction and motor losses included (a mechanical
two-step scroll, value from memory), a blower at 0.86 of its full airflow (value from memory) and an outdoor fan
that runs on: capacity and power then fall to about the published 0.728 and 0.633 of full stage (RESNET's model of
two-stage equipment).
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
def pool() -> tuple[list[dict[str, Any]], tuple[float, float]]:
    """Units with their readings by stage and visit (two weathers), and the mean ratios of low to full
    capacity and power."""
    f, rng = fluid_of("R-410A"), np.random.default_rng(20)
    unit, fit = draw_units(f, COUNT, rng, None)
    design = Health.sound(COUNT)
    part = replace(
        unit,
        displacement=unit.displacement * LOW_FLOW,
        work=unit.work * LOW_FLOW,
        # The blower slows down, where a clogged filter would throttle it.
        blower_flow_exponent=np.full(COUNT, 2.6),
    )
    low = replace(design, evaporator_airflow=np.full(COUNT, LOW_AIR))
    rated, ok = states(f, unit, design, Weather.rating(COUNT))
    ok = ok & fit & plausible(rated)
    read: dict[tuple[str, int], dict[str, Any]] = {}
    ratios = []
    for place, weather in enumerate(draw_weather(rng, COUNT, 4.0)):
        capacity, power = {}, {}
        for stage, machine, health in zip(STAGES, (unit, part), (design, low), strict=True):
            result, found = states(f, machine, health, weather)
            ok = ok & found
            read[stage, place] = true_readings(result, weather)
            capacity[stage], power[stage] = result.capacity, result.power
        ratios.append((capacity["low"] / capacity["full"], power["low"] / power["full"]))
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
    of_capacity, of_power = (float(np.mean([pair[which][ok].mean() for pair in ratios])) for which in (0, 1))
    return units, (of_capacity, of_power)


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


#: What a run says of its stage.
STATED = {"full": "high", "low": "low"}


def run(
    one: dict[str, Any], stage: str, place: int, names: set[str] | None = None, *, said: bool = False
) -> dict[str, Any]:
    """One visit in a stage, which it states where ``said``; only some of its readings where ``names`` are given."""
    readings = dict(one["readings"][stage, place])
    # Watts in the simulator.
    for name in ("outdoor_unit_power", "indoor_unit_power"):
        readings[name] = {"value": readings[name], "unit": "W"}
    return {
        "minutes_running": 20,
        "readings": {n: v for n, v in readings.items() if names is None or n in names},
    } | ({"stage": STATED[stage]} if said else {})
