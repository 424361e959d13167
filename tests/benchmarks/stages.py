"""Is a healthy unit condemned for its stage, or credited for it?  Simulated two-stage and variable-speed units.

    python -m tests.benchmarks.stages [units] [--seed N] [--part runs|pairs|all] [--control CONTROL] [--faults]

The units, their weather, the kits and how they are read are those of ``field_visits`` and, in heating, of
``heating_visits``, which share nothing with the service.  Low stage moves 0.64 to 0.70 of the displacement (a
mechanical two-step scroll has 0.67, value from memory), 0.72 to 0.86 of the indoor airflow (the published model and
an older fan-speed ratio) and 0.75 to 1 of the outdoor air; a variable-speed unit 0.25 to 1.05 of the displacement.
Each healthy unit is read twice, at two capacities and in two weathers, and is diagnosed and compared with the stage
stated and not stated.

``--faults`` gives each unit one fault that costs 5 % or more, to see what is still found.
Tune on seeds 1 to 99 only; 20000 and up are for reporting.  About 2 s for each unit.
"""

from __future__ import annotations

import argparse
import time
import zlib
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np

from schemas.comparisons import ComparisonRequest
from schemas.diagnoses import DiagnosisRequest
from service.compare.comparison import compare
from service.faults.diagnosis import diagnose
from service.reference.faults import FAULTS
from tests.benchmarks import field_visits as field
from tests.benchmarks import heating_study as winter_study
from tests.benchmarks import heating_units as heat_pumps
from tests.benchmarks import heating_visits as winter
from tests.benchmarks import simulated_visits as usual
from tests.benchmarks.diagnosis_scores import FAULTY_BELOW
from tests.benchmarks.field_study import instruments, rated
from tests.benchmarks.simulated_pairs import F, Fluid, Health, Unit, draw_weather

CLAIMS = ("fault_found", "fault_not_told_apart")
TIMES = (15.0, 30.0)
#: Most units taken from one draw of a refrigerant.
EACH = 8
HEATING = "two_stage_heating"
#: Kinds of units by the kind of ``field_visits`` that their nameplates are of.
CONTROLS = {"two_stage": field.TWO_STAGE, "variable_speed": field.VARIABLE, HEATING: ""}


@dataclass(frozen=True)
class Staged:
    """A unit read at two shares of its displacement, each in a weather of its own: what a request says about the
    unit, and its two runs without the stage."""

    control: str
    fault: str
    speeds: tuple[float, float]
    about: dict[str, Any]
    runs: tuple[dict[str, Any], dict[str, Any]]

    def stated(self, place: int) -> dict[str, Any]:
        """What a run says about its capacity."""
        if self.about["unit"]["capacity_control"] == "two_stage":
            return {"stage": "low" if self.speeds[place] < 0.9 else "high"}
        return {"speed_percent": round(100.0 * self.speeds[place])}

    def run(self, place: int, *, stated: bool) -> dict[str, Any]:
        """One run as a request gives it."""
        return self.runs[place] | (self.stated(place) if stated else {})


def _about(plate: dict[str, float | str], control: str, kit: str, readings: dict[str, float]) -> dict[str, Any]:
    """The unit and the kit of a request in cooling."""
    nameplate: dict[str, Any] = {"voltage": 230, "frequency": 60, "compressor_rated_load_amps": plate["rated_amps"]}
    if plate["metering_device"] != "fixed_orifice":
        nameplate["subcooling"] = plate["subcooling"]
    return {
        "units": "imperial",
        "site": {"altitude": 0},
        "unit": {
            "refrigerant": plate["refrigerant"],
            "metering_device": plate["metering_device"],
            "capacity_control": control,
            "rated": rated(plate, "plate"),
            "nameplate": nameplate,
        },
        "kit": instruments(kit, readings),
    }


def _given(minutes: float, readings: dict[str, float]) -> dict[str, Any]:
    """One run of a request in cooling."""
    return {
        "minutes_running": minutes,
        "readings": {n: {"value": v, "instrument": _instrument(n)} for n, v in readings.items()},
    }


def _instrument(reading: str) -> str:
    return "power" if reading in ("outdoor_unit_power", "indoor_unit_power") else reading


def _in_heating(rng: np.random.Generator, refrigerant: str, most: int) -> list[Staged]:
    """Healthy two-stage heat pumps in heating, by the simulation of winter visits."""
    f = field.fluid_of(refrigerant)
    unit, plates, ok = winter.draw_units(f, rng, refrigerant)
    count, base, weathers = winter.CHUNK, winter._base(rng), winter.draw_weather(rng, winter.CHUNK, 9.0, (8.0, 62.0))
    since = [winter.minutes_since_defrost(rng, weather) for weather in weathers]
    low_first = bool(rng.random() < 0.5)
    air, fan = rng.uniform(0.72, 0.86, count), rng.uniform(0.75, 1.0, count)
    part = heat_pumps.staged(unit, rng.uniform(0.64, 0.70, count), air, fan)
    machines = (part, unit) if low_first else (unit, part)
    frosts = [winter.frosted(f, m, base, w, s) for m, w, s in zip(machines, weathers, since, strict=True)]
    states = [
        heat_pumps.states(f, m, replace(base, frost=health.frost), w)
        for m, (health, _), w in zip(machines, frosts, weathers, strict=True)
    ]
    ok = ok & np.logical_and.reduce([o for _, o in (*frosts, *states)]) & (unit.orifice < 0.5)
    found = []
    for k in np.flatnonzero(ok)[:most].tolist():
        one = slice(k, k + 1)
        hand = winter.Hand.drawn(rng, ("good", "ordinary")[int(rng.integers(2))])
        where, runs = None, []
        for i in (0, 1):
            true = winter.true_readings(states[i][0].take(one), weathers[i].take(one), 0.0)
            where = winter.draw_placement(rng, where)
            seen = winter.placed(true, where)
            runs.append(winter._run(rng, hand, seen, float(since[i][k]), float(frosts[i][0].frost[k]), "off"))
        unit_of = winter_study._unit(winter.plate_of(plates, unit, k, refrigerant), "plate")
        about = {
            "units": "imperial",
            "site": {"altitude": 0},
            "unit": unit_of | {"capacity_control": "two_stage"},
            "kit": winter_study.instruments(hand.kit, runs[0].readings | runs[1].readings),
        }
        speeds = (0.67, 1.0) if low_first else (1.0, 0.67)
        found.append(Staged(HEATING, "", speeds, about, (winter_study.run_of(runs[0]), winter_study.run_of(runs[1]))))
    return found


def _at(unit: Unit, health: Health, control: str, rng: np.random.Generator, *, low: bool) -> tuple[Unit, Health, F]:
    """The unit at a share of its displacement."""
    count = len(unit.tons)
    speed = np.ones(count)
    if control == "variable_speed":
        speed = rng.uniform(0.25, 1.05, count)
    elif low:
        speed = rng.uniform(0.64, 0.70, count)
    less = (1.0 - speed) / 0.33
    air, fan = 1.0 - less * rng.uniform(0.14, 0.28, count), 1.0 - less * rng.uniform(0.0, 0.25, count)
    part, at = field.staged(unit, speed, np.maximum(air, 0.35), np.maximum(fan, 0.4))
    return part, Health(**{n.name: getattr(at, n.name) * getattr(health, n.name) for n in fields(Health)}), speed


def _chunk(rng: np.random.Generator, f: Fluid, refrigerant: str, control: str, fault: str, most: int) -> list[Staged]:
    count = field.CHUNK
    kind = CONTROLS[control]
    orifice = np.zeros(count)
    unit, g, fit = field.draw_units(f, rng, count, orifice, (0.6, 1.25))
    plates, sensible = field.plates(f, unit, g, kind, rng)
    subcooling, unit = unit.subcooling, field.installed(unit, rng)
    base = usual.multiplied(Health.sound(count), usual.deviations(rng, count, usual.DEVIATION))
    factors = usual.draw_faults(rng, fault, unit.orifice).factors if fault else {}
    weathers = draw_weather(rng, count, 5.0)
    low_first = bool(rng.random() < 0.5)
    parts = [_at(unit, base, control, rng, low=low_first == (place == 0)) for place in (0, 1)]
    ok = fit & sensible
    states, healths = [], []
    for (part, health, _), weather in zip(parts, weathers, strict=True):
        sick = usual.multiplied(health, factors)
        healths.append(sick)
        result, found = field.reached(f, part, sick, weather)
        sound, also = (result, found) if not fault else field.reached(f, part, health, weather)
        ok = ok & found & also & (result.p_liquid < field.SWITCH[refrigerant])
        if fault:
            with np.errstate(all="ignore"):
                ok = ok & (np.minimum(result.eer / sound.eer, result.capacity / sound.capacity) < FAULTY_BELOW)
        states.append(result)
    made = field._Chunk(
        (parts[0][0], parts[1][0]), plates, subcooling, (healths[0], healths[1]), weathers,
        (states[0], states[1], states[1]), [()] * count, {}, None, parts[1][2], ok,
    )  # fmt: skip
    return [
        _read(f, made, int(k), refrigerant, control, fault, (float(parts[0][2][k]), float(parts[1][2][k])), rng)
        for k in np.flatnonzero(ok)[:most]
    ]


def _read(
    f: Fluid,
    c: Any,  # noqa: ANN401
    k: int,
    refrigerant: str,
    control: str,
    fault: str,
    speeds: tuple[float, float],
    rng: np.random.Generator,
) -> Staged:
    one, kit_name = slice(k, k + 1), ("good", "ordinary")[int(rng.random() < 0.6)]
    kit = field.kit_of(kit_name)
    carried = [float(rng.standard_normal()) for _ in kit.sources]
    hand = field._Hand(kit, carried, field.made(rng), field.draw_transient(rng, valve=True), TIMES)
    plate = field._plate(c, k, refrigerant, CONTROLS[control], rng)
    minutes, readings = [], []
    where = None
    for i in (0, 1):
        run, _, true = hand.finds(
            f,
            c.units[i].take(one),
            c.healths[i].take(one),
            c.states[i].take(one),
            c.weathers[i].take(one),
            c.plates.fan_amps[one],
            rng,
        )
        where = field.draw_placement(rng, where)
        minutes.append(run)
        readings.append(hand.reads(field.placed(true, where), rng))
    runs = _given(minutes[0], readings[0]), _given(minutes[1], readings[1])
    about = _about(plate, control, kit_name, readings[0] | readings[1])
    return Staged(control, fault, speeds, about, runs)


def units(count: int, seed: int, control: str, *, faults: bool = False) -> Iterator[Staged]:
    """Units drawn at random, each read twice; the same seed gives the same units."""
    number = made = 0
    while made < count:
        fault = usual.FAULTS[number % len(usual.FAULTS)] if faults else ""
        rng = np.random.default_rng([seed, zlib.crc32(control.encode()), number])
        refrigerant = str(rng.choice(field.REFRIGERANTS, p=(0.8, 0.0, 0.2)))
        most = min(EACH, count - made)
        with np.errstate(all="ignore"):
            found = (
                _in_heating(rng, refrigerant, most)
                if control == HEATING
                else _chunk(rng, field.fluid_of(refrigerant), refrigerant, control, fault, most)
            )
        yield from found
        made, number = made + len(found), number + 1


def diagnosed(one: Staged, place: int, *, stated: bool, baseline: bool = False) -> dict[str, Any]:
    """The diagnosis of one run."""
    body = one.about | {"run": one.run(place, stated=stated)}
    if baseline:
        body["baseline"] = one.run(1 - place, stated=stated)
    return dict(diagnose(DiagnosisRequest.model_validate(body)))


def compared(one: Staged, *, stated: bool) -> dict[str, Any]:
    """The comparison of both runs."""
    runs = {"before": one.run(0, stated=stated), "after": one.run(1, stated=stated)}
    return dict(compare(ComparisonRequest.model_validate(one.about | {"runs": runs})))


def condemned(answer: dict[str, Any]) -> bool:
    """Whether a fault of the cycle is found on what is healthy."""
    return answer["verdict"] == "fault_found" and any(FAULTS[name].shown == "cycle" for name in answer["found"])


def _study(count: int, seed: int, controls: list[str], part: str, *, faults: bool) -> Counter[tuple[str, str]]:
    told: Counter[tuple[str, str]] = Counter()
    for control in controls:
        for one in units(count, seed, control, faults=faults):
            for place in (0, 1) if part != "pairs" else ():
                stage = one.stated(place).get("stage", "")
                for stated in (True, False):
                    answer = diagnosed(one, place, stated=stated, baseline=place == 1)
                    group = f"{control} {stage} {'stated' if stated else 'not stated'}".replace("  ", " ")
                    told[group, "runs"] += 1
                    told[group, answer["verdict"]] += 1
                    told[group, "condemned"] += condemned(answer)
                    told[group, "asks for action"] += _asks(answer)
                    if faults and answer["verdict"] in CLAIMS:
                        told[group, "named"] += _kinds(one.fault) <= set(answer["found"]) or answer["found"] == []
                    if answer["stage"] is not None and stage:
                        told[group, "stage told rightly"] += answer["stage"][stage] >= 0.9
                        told[group, "stage told wrongly"] += answer["stage"][stage] <= 0.1
            if not faults and part != "runs":
                for stated in (True, False):
                    system = compared(one, stated=stated)
                    group = f"{control} pair {'stated' if stated else 'not stated'}"
                    told[group, "pairs"] += 1
                    told[group, system["system"]["verdict"]] += 1
                    told[group, "value claimed"] += any(
                        row["verdict"] in ("improved", "worsened") for row in system["changes"].values()
                    )
    return told


def _kinds(fault: str) -> set[str]:
    return set(usual.faults_of(fault)[0]) if fault else set()


def _asks(answer: dict[str, Any]) -> bool:
    return any(
        row["grade"] == "nonconforming" and row["priority"] in ("safety", "act")
        for row in answer["assessment"]["findings"]
    )


def main() -> None:
    """Print what was found."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("units", type=int, nargs="?", default=40)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--part", choices=("runs", "pairs", "all"), default="all")
    parser.add_argument("--control", choices=tuple(CONTROLS))
    parser.add_argument("--faults", action="store_true")
    asked = parser.parse_args()
    start = time.perf_counter()
    controls = [asked.control] if asked.control else list(CONTROLS)
    told = _study(asked.units, asked.seed, controls, asked.part, faults=asked.faults)
    for group in dict.fromkeys(group for group, _ in told):
        own = {name: number for (other, name), number in told.items() if other == group and number}
        print(f"{group:32s}", ", ".join(f"{name} {number}" for name, number in own.items()))
    print(f"seed {asked.seed}, {time.perf_counter() - start:.0f} s")


if __name__ == "__main__":
    main()
