"""How often the bands of charge by weight, motor and air delivery hold the truth, and how often a verdict is wrong.

``python -m tests.benchmarks.checks_weight_motor_air [count] [seed]`` (seeds from 27000 were used for nothing else).

Truth and readings are drawn here; the service sees only what a technician would send.  An instrument errs by one draw
within its class for all its readings (an offset and a share of the reading), by placement, by repeatability and by its
display; lines differ from their nominal size and state as their rows say.  Densities come from CoolProp.
"""

from __future__ import annotations

import sys
from collections import defaultdict
from collections.abc import Iterator
from math import pi, sqrt
from typing import Any

import numpy as np
import psychrolib
from CoolProp.CoolProp import PropsSI

from service.reference.instruments import INSTRUMENT_TYPES
from tests.checks import check

OUNCE, FOOT, INCH = 0.028349523125, 0.3048, 0.0254
CFM = FOOT**3 / 60.0
INSIDE = {"1/4": 0.190, "5/16": 0.2485, "3/8": 0.311, "5/8": 0.545, "3/4": 0.666, "7/8": 0.785}


class Meter:
    """One instrument of a class, with one calibration error for all that it reads."""

    def __init__(self, rng: np.random.Generator, type_: str, measures: str) -> None:
        self.rng, self.row = rng, INSTRUMENT_TYPES[type_].accuracies[measures]
        self.sign = rng.uniform(-1.0, 1.0)

    def read(self, true: float) -> float:
        """What the display shows, SI."""
        row = self.row
        limit = row.fixed + row.counts * row.resolution + row.percent_of_reading / 100.0 * abs(true)
        shown = true + self.sign * limit + self.rng.uniform(-1, 1) * row.placement
        shown += self.rng.normal() * row.repeatability
        return float(round(shown / row.resolution) * row.resolution) if row.resolution else float(shown)


Tally = dict[str, list[float]]


def held(tally: Tally, answer: dict[str, Any], name: str, truth: float) -> None:
    """Whether the band of a value holds the truth; a thousandth of the value is the answer's rounding."""
    row = answer["derived"].get(name)
    if row is not None:
        slack = 1e-6 * abs(truth)
        tally[name].append(row["band"]["low"] - slack <= truth <= row["band"]["high"] + slack)


def dense(fahrenheit: float) -> float:
    """R-410A liquid [kg/m3]."""
    return float(PropsSI("D", "T", (fahrenheit - 32) / 1.8 + 273.15, "Q", 0, "R410A"))


def gas(saturation: float, superheat: float) -> float:
    """R-410A vapour [kg/m3]."""
    pressure = PropsSI("P", "T", (saturation - 32) / 1.8 + 273.15, "Q", 1, "R410A")
    return float(PropsSI("D", "T", (saturation + superheat - 32) / 1.8 + 273.15, "P", pressure, "R410A"))


def weighed(rng: np.random.Generator, tally: Tally) -> None:
    """A charge for lines as they are, and what a recovery of a part of it shows."""
    liquid, vapour = str(rng.choice(["1/4", "5/16", "3/8"])), str(rng.choice(["5/8", "3/4", "7/8"]))
    feet, nameplate, allowance = rng.uniform(15, 80), rng.uniform(60, 160), rng.uniform(3, 14)
    known = bool(rng.integers(2))
    areas = [0.25 * pi * ((INSIDE[size] + rng.uniform(-0.01, 0.01)) * INCH) ** 2 for size in (liquid, vapour)]
    content = areas[0] * dense(rng.uniform(85, 115)) + areas[1] * gas(rng.uniform(38, 52), rng.uniform(5, 15))
    length = (feet + rng.uniform(-2, 2)) * FOOT
    right = (nameplate - allowance) * OUNCE + content * length
    scale = Meter(rng, "refrigerant_scale", "mass")
    lines = {"length": feet, "liquid_line": liquid, **({"vapour_line": vapour} if known else {})}
    before = right * rng.uniform(0.6, 1.05)
    warmth = rng.uniform(60, 95)
    left = 0.0726 * 101_325.0 * rng.uniform(0.004, 0.016) / (8.314 * ((warmth - 32) / 1.8 + 273.15)) * 1.02
    answer = check(
        "charge-by-weight",
        unit={"refrigerant": "R-410A"},
        nameplate_charge={"value": nameplate, "unit": "oz"},
        factory_allowance={"value": allowance, "unit": "oz"},
        lines=lines,
        recovered={"mass": {"value": scale.read(before - left) / OUNCE, "unit": "oz"}},
    )
    held(tally, answer, "line_content", content / OUNCE * FOOT)
    held(tally, answer, "charge", right / OUNCE / 16)
    held(tally, answer, "charge_missing", (right - before) / OUNCE)
    nominal = answer["derived"]["charge"]["value"] * 16 * OUNCE
    off = nominal - scale.read(nominal) + rng.uniform(-1, 1) * OUNCE
    held(tally, answer, "charge_as_weighed", (right + off) / OUNCE / 16)
    grade = answer["findings"][0]["grade"]
    share = before / right
    for low, high, name in ((0.95, 1.05, "full"), (0.85, 0.92, "a tenth missing"), (0.6, 0.8, "a quarter missing")):
        if low <= share <= high:
            tally[f"recovered, {name}: called low"].append(grade == "nonconforming")


def measured(rng: np.random.Generator, tally: Tally) -> None:
    """A healthy motor, and one with a fault; capacitors from weak to good."""
    meter = Meter(rng, "multimeter", "resistance")
    run = rng.uniform(0.4, 3.0)
    start = run * rng.uniform(1.5, 6.0)
    for fault, size in (("none", 0.0), ("5 %", 0.05), ("15 %", 0.15)):
        across = (start + run) * (1.0 + size)
        windings = {
            "start_to_run": meter.read(across),
            "common_to_start": meter.read(start),
            "common_to_run": meter.read(run),
        }
        answer = check("motor", single_phase_windings=windings)
        held(tally, answer, "winding_departure", across - start - run)
        tally[f"windings, departure {fault}: fault shown"].append(answer["verdict"] == "fault_shown")
    faradic = Meter(rng, "multimeter", "capacitance")
    for share in (rng.uniform(0.95, 1.05), rng.uniform(0.85, 0.91), rng.uniform(0.6, 0.8)):
        true = 45e-6 * share
        answer = check("motor", capacitors=[{"marking": "45 uF ±6%", "terminals": faradic.read(true) * 1e6}])
        held(tally, answer, "capacitance_1", true * 1e6)
        kind = "within ±5 %" if share > 0.95 else "9 to 15 % low" if share > 0.85 else "20 to 40 % low"
        tally[f"capacitor {kind}: called weak"].append(answer["verdict"] == "fault_shown")
        tally[f"capacitor {kind}: called good"].append(answer["verdict"] == "nothing_found")


def air_of(fahrenheit: float, humidity: float) -> tuple[float, float, float]:
    """Humidity ratio, enthalpy [J/kg], volume [m3/kg] at sea level."""
    celsius = (fahrenheit - 32) / 1.8
    ratio = psychrolib.GetHumRatioFromRelHum(celsius, humidity, 101_325.0)
    return (
        float(ratio),
        float(psychrolib.GetMoistAirEnthalpy(celsius, ratio)),
        float(psychrolib.GetMoistAirVolume(celsius, ratio, 101_325.0)),
    )


def blown(rng: np.random.Generator, tally: Tally) -> None:
    """Ducts that deliver part of what a unit makes."""
    hood, dry = Meter(rng, "airflow_hood", "airflow"), Meter(rng, "psychrometer", "air_temperature")
    humid, grid = Meter(rng, "psychrometer", "relative_humidity"), Meter(rng, "airflow_hood", "airflow")
    power = Meter(rng, "power_meter", "power")

    def shown(fahrenheit: float, humidity: float) -> dict[str, float]:
        celsius = dry.read((fahrenheit - 32) / 1.8 + 273.15) - 273.15
        return {"dry_bulb": celsius * 1.8 + 32, "relative_humidity": min(100.0, 100 * humid.read(humidity))}

    room, entering, leaving = (76.0, 0.50), (rng.uniform(76, 82), 0.48), (rng.uniform(54, 59), 0.90)
    blower, fan = rng.uniform(800, 1500), rng.uniform(300, 700)
    made_at = air_of(*entering)
    made = blower * CFM / made_at[2] * (made_at[1] - air_of(*leaving)[1])
    kept, count = rng.uniform(0.6, 0.98), int(rng.integers(5, 11))
    registers, delivered = [], 0.0
    for _ in range(count):
        state = (leaving[0] + rng.uniform(0.5, 4.0), rng.uniform(0.78, 0.88))
        flow = blower * kept / count * rng.uniform(0.8, 1.2)
        own = air_of(*state)
        delivered += flow * CFM / own[2] * (air_of(*room)[1] - own[1])
        registers.append({"airflow": {"value": hood.read(flow * CFM) / CFM, "instrument": "hood"}, **shown(*state)})
    answer = check(
        "air-delivery",
        mode="cooling",
        site={"altitude": 0},
        kit={
            "hood": {"type": "airflow_hood"},
            "grid": {"type": "airflow_hood"},
            "air": {"type": "psychrometer"},
            "meter": {"type": "power_meter"},
        },
        room=shown(*room),
        registers=registers,
        equipment={
            "airflow": {"value": grid.read(blower * CFM) / CFM, "instrument": "grid"},
            "entering": shown(*entering),
            "leaving": shown(*leaving),
            "fan_power": power.read(fan),
        },
    )
    btu = 3600 / 1055.05585262
    held(tally, answer, "equipment_capacity", made * btu)
    held(tally, answer, "delivered_capacity", delivered * btu)
    held(tally, answer, "delivered_share", 100 * delivered / made)
    held(tally, answer, "fan_power_per_airflow", fan / blower)
    removed = blower * CFM / made_at[2] * (made_at[0] - air_of(*leaving)[0]) * 3600 / 0.45359237
    held(tally, answer, "moisture_removed", removed)
    share = delivered / made
    grade = next(row["grade"] for row in answer["findings"] if row["quantity"] == "delivered_share")
    for low, high, name in ((0.80, 2.0, "80 % or more"), (0.65, 0.75, "65 to 75 %"), (0.0, 0.6, "under 60 %")):
        if low <= share < high:
            tally[f"ducts deliver {name}: called low"].append(grade == "nonconforming")


def lines(tally: Tally) -> Iterator[str]:
    """A table of shares, each with the standard error of its count."""
    yield "| what | share | of |"
    yield "| --- | --- | --- |"
    for name, found in tally.items():
        mean = float(np.mean(found))
        yield f"| {name} | {mean:.3f} ± {sqrt(mean * (1 - mean) / len(found)):.3f} | {len(found)} |"


def main(count: int = 400, seed: int = 27_001) -> None:
    """Print the table."""
    psychrolib.SetUnitSystem(psychrolib.SI)
    rng, tally = np.random.default_rng(seed), defaultdict[str, list[float]](list)
    for _ in range(count):
        weighed(rng, tally)
        measured(rng, tally)
        blown(rng, tally)
    print("\n".join(lines(tally)))


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
