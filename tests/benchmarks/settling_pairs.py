"""What running time costs: readings made while units settle, against their settled truth.

    python -m tests.benchmarks.settling_pairs [pairs] [--seed N] [--visits N] [--as-settled]

Units, weather, changes, kits and instrument errors are those of ``simulated_pairs``.  Each start adds a transient of
its own, which shares nothing with the service: two exponentials for each reading with time constants and shares drawn
for the unit (wider than the service allows for), a step with the direction that starts usually have, drawn for the
unit, and varied from start to start.  The service is told the minutes, rounded to whole ones, and nothing else.

Reported: of pairs read 10 to 30 minutes after the start (each run by itself), how many get an efficiency, claims on
those that did not change, how often the one test fires there, coverage of the 95 % bands; and of single visits at
3 to 25 minutes, coverage and width of the bands of superheat, subcooling and both saturation temperatures.  With
``--as-settled`` the service is told 60 minutes whatever the truth: what ignoring the start would cost.
"""

from __future__ import annotations

import argparse
from collections.abc import Mapping
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from typing import Any

import numpy as np
from CoolProp.CoolProp import PropsSI

from schemas.assessments import AssessmentRequest
from schemas.comparisons import ComparisonRequest
from service.assess.pipeline import assess
from service.compare.comparison import compare
from tests.benchmarks import before_and_after as study
from tests.benchmarks import simulated_pairs as simulated

Random = np.random.Generator

MINUTES = (3.0, 5.0, 8.0, 12.0, 15.0, 25.0)
_ATMOSPHERE = 14.695949
_PSI = 6894.757293168361
#: How the logarithm of R-410A's pressure follows its saturation temperature [1/K], at 8 and 42 °C.
_OF_KELVIN = {"suction_pressure": 0.0305, "liquid_pressure": 0.0232}
#: Mean and standard deviation of the start-up step over units [K, or 1], and how it is applied.
_STEPS: Mapping[str, tuple[float, float]] = {
    # Pulled down too far at first, until the device feeds the coil.
    "suction_pressure": (-1.5, 4.0),
    "liquid_pressure": (-3.0, 3.0),
    "suction_line_temperature": (2.0, 4.5),
    "liquid_line_temperature": (-2.0, 3.0),
    "discharge_line_temperature": (-12.0, 8.0),
    "supply_air_dry_bulb": (2.5, 2.5),
    "supply_air_wet_bulb": (1.5, 1.5),
    "outdoor_unit_power": (-0.08, 0.10),
    "compressor_common_current": (-0.08, 0.10),
}
#: Readings that take part in one another's start.
_TOGETHER = (
    ("suction_pressure", "liquid_pressure"),
    ("suction_line_temperature", "liquid_line_temperature", "discharge_line_temperature"),
    ("supply_air_dry_bulb", "supply_air_wet_bulb"),
    ("outdoor_unit_power", "compressor_common_current"),
)


@dataclass(frozen=True)
class Start:
    """How the readings of one unit approach their settled values: step, share of the slow part, both constants."""

    parts: Mapping[str, tuple[float, float, float, float]]

    @classmethod
    def drawn(cls, random: Random, factor: float) -> Start:
        """A unit, with steps so many times the usual ones."""
        fast, slow = np.exp(random.normal(np.log((0.9, 5.0)), (0.6, 0.40)))
        found = {}
        for names in _TOGETHER:
            # Half of the step is common to readings that settle together.
            common, share = random.normal(), random.uniform(0.12, 0.45)
            for name in names:
                mean, deviation = _STEPS[name]
                step = mean + deviation * (np.sqrt(0.5) * common + np.sqrt(0.5) * random.normal())
                own = np.exp(random.normal(0.0, 0.15, 2))
                found[name] = float(factor * step), float(share), float(fast * own[0]), float(slow * own[1])
        return cls(found)

    def left(self, minutes: float, random: Random) -> dict[str, float]:
        """What one start has left after so many minutes, by reading."""
        found = {}
        for names in _TOGETHER:
            visit = random.normal(1.0, 0.35)
            for name in names:
                step, share, fast, slow = self.parts[name]
                again = step * (visit + 0.25 * random.normal())
                rest = (1.0 - share) * np.exp(-minutes / fast) + share * np.exp(-minutes / slow)
                found[name] = float(again * rest)
        return found


def started(readings: Mapping[str, float], left: Mapping[str, float], kit: str) -> dict[str, float]:
    """Readings (imperial) with what a start has left in them."""
    shown = dict(readings)
    for name, rest in left.items():
        if name not in shown:
            continue
        if name in _OF_KELVIN:
            moved = (shown[name] + _ATMOSPHERE) * np.exp(_OF_KELVIN[name] * rest) - _ATMOSPHERE
        elif name in ("outdoor_unit_power", "compressor_common_current"):
            moved = shown[name] * (1.0 + rest)
        else:
            moved = shown[name] + 1.8 * rest
        step = simulated.KITS[kit].resolution[name]
        shown[name] = float(round(moved / step) * step)
    if {"supply_air_dry_bulb", "supply_air_wet_bulb"} <= shown.keys():
        shown["supply_air_wet_bulb"] = min(shown["supply_air_wet_bulb"], shown["supply_air_dry_bulb"])
    return shown


@dataclass(frozen=True)
class Told:
    """How large the steps are, as a factor; whether the service is told that all had settled; between which minutes
    pairs are read."""

    factor: float = 1.0
    as_settled: bool = False
    minutes: tuple[float, float] = (10.0, 30.0)


@dataclass(frozen=True)
class Compared:
    """One pair: the kit, whether it changed, minutes of both runs, truth and what the service said (logarithms)."""

    kit: str
    changed: bool
    minutes: tuple[float, float]
    truth: tuple[float, float]
    claimed: bool
    fired: bool
    bands: tuple[tuple[float, float, float] | None, tuple[float, float, float] | None]


def _compared(job: tuple[int, int, str, str, Told]) -> list[Compared]:
    count, seed, kind, kit, told = job
    random = np.random.default_rng([seed, 3, study.KITS.index(kit), simulated.KINDS.index(kind)])
    found = []
    for pair in simulated.pairs(count, seed, kind, kit):
        start = Start.drawn(random, told.factor)
        minutes = random.uniform(*told.minutes, 2)
        body = study.request(pair, kit)
        for side, taken, after in (("before", pair.before, minutes[0]), ("after", pair.after, minutes[1])):
            shown = started(taken, start.left(float(after), random), kit)
            body["runs"][side] = study.taken(shown) | {
                "minutes_running": 60.0 if told.as_settled else float(round(after))
            }
        system = compare(ComparisonRequest.model_validate(body))["system"]
        bands = [study._logarithms(system[n]) for n in ("efficiency_change_percent", "capacity_change_percent")]
        found.append(
            Compared(
                kit,
                kind != simulated.NULL,
                (float(minutes[0]), float(minutes[1])),
                (float(pair.truth["ln_eer"]), float(pair.truth["ln_capacity"])),
                system["verdict"] in ("improved", "worsened"),
                bool(system["any_change"]["changed"]),
                (bands[0], bands[1]),
            )
        )
    return found


def compared(pairs: int, seed: int, told: Told) -> list[Compared]:
    """Two fifths unchanged, the rest changed in one respect; on both cores."""
    each = pairs // len(study.KITS)
    jobs = []
    for kit in study.KITS:
        nulls, changed = round(0.4 * each), round(0.6 * each / len(study.CHANGES))
        for kind, count in ((simulated.NULL, nulls), *((kind, changed) for kind in study.CHANGES)):
            jobs.append((count, seed, kind, kit, told))
    with ProcessPoolExecutor(2) as pool:
        return [one for part in pool.map(_compared, jobs) for one in part]


def _truths(true: Mapping[str, float]) -> dict[str, float]:
    """Superheat and subcooling [K] and saturation temperatures [K] of true readings of R-410A."""
    low, high = ((true[name] + _ATMOSPHERE) * _PSI for name in ("suction_pressure", "liquid_pressure"))
    dew, bubble = PropsSI("T", "P", low, "Q", 1, "R410A"), PropsSI("T", "P", high, "Q", 0, "R410A")
    suction, liquid = ((true[f"{name}_line_temperature"] - 32.0) / 1.8 + 273.15 for name in ("suction", "liquid"))
    return {
        "superheat": suction - dew,
        "subcooling": bubble - liquid,
        "suction_saturation_temperature": dew,
        "liquid_saturation_temperature": bubble,
    }


#: Of one value at so many minutes: whether its band holds the truth, and the width of the band [K].
Held = tuple[str, float, bool, float]


def _visited(job: tuple[int, int, str, Told]) -> list[Held]:
    count, seed, kit, told = job
    random = np.random.default_rng([seed, 5, study.KITS.index(kit)])
    found: list[Held] = []
    for pair in simulated.pairs(count, seed, simulated.NULL, kit):
        start, truth = Start.drawn(random, told.factor), _truths(pair.before_true)
        whole = study.request(pair, kit)
        for minutes in MINUTES:
            shown = started(pair.before, start.left(minutes, random), kit)
            run = study.taken(shown) | {"minutes_running": 60.0 if told.as_settled else minutes}
            body: dict[str, Any] = {name: whole[name] for name in ("site", "unit", "kit")}
            answer = assess(AssessmentRequest.model_validate(body | {"units": "imperial", "run": run}))
            for name, true in truth.items():
                if name not in answer["derived"]:
                    continue
                row = answer["derived"][name]
                value = 1.8 * true if row["unit"].startswith("delta") else (true - 273.15) * 1.8 + 32.0
                band = row["band"]
                found.append((name, minutes, band["low"] <= value <= band["high"], (band["high"] - band["low"]) / 1.8))
    return found


def visited(visits: int, seed: int, told: Told) -> list[Held]:
    """Single visits, each at all minutes."""
    jobs = [(visits // len(study.KITS), seed, kit, told) for kit in study.KITS]
    with ProcessPoolExecutor(2) as pool:
        return [one for part in pool.map(_visited, jobs) for one in part]


def _held(rows: list[Compared], which: int) -> str:
    held = [low <= one.truth[which] <= high for one in rows if (band := one.bands[which]) for low, _, high in (band,)]
    return f"{100.0 * float(np.mean(held)):.1f} %" if held else "-"


def report(rows: list[Compared]) -> None:
    """Print the pairs, all and by how early they were read."""
    print(f"{'pairs':28s}{'number':>8s}{'efficiency':>12s}{'claims':>9s}{'test':>8s}{'coverage':>10s}{'capacity':>10s}")
    groups = {
        "all": rows,
        "unchanged": [one for one in rows if not one.changed],
        "both from 15 minutes": [one for one in rows if min(one.minutes) >= 15.0],
        "a run before 15 minutes": [one for one in rows if min(one.minutes) < 15.0],
        "a run before 12 minutes": [one for one in rows if min(one.minutes) < 12.0],
    }
    groups |= {kit: [one for one in rows if one.kit == kit] for kit in study.KITS}
    for name, part in groups.items():
        same = [one for one in part if not one.changed]
        answered, claimed, fired = (
            f"{100.0 * float(np.mean(values)):.1f} %" if values else "-"
            for values in (
                [one.bands[0] is not None for one in part],
                [one.claimed for one in same],
                [one.fired for one in same],
            )
        )
        print(
            f"{name:28s}{len(part):8d}{answered:>12s}{claimed:>9s}{fired:>8s}{_held(part, 0):>10s}{_held(part, 1):>10s}"
        )


def report_visits(rows: list[Held]) -> None:
    """Print coverage and mean width [K] of the bands by minutes."""
    print(f"\n{'coverage (width in K)':34s}" + "".join(f"{minutes:>14g}" for minutes in MINUTES))
    for name in dict.fromkeys(row[0] for row in rows):
        cells = []
        for minutes in MINUTES:
            own = [row for row in rows if row[:2] == (name, minutes)]
            cells.append(f"{100 * np.mean([r[2] for r in own]):.1f} ({np.mean([r[3] for r in own]):.1f})")
        print(f"{name:34s}" + "".join(f"{cell:>14s}" for cell in cells))


def main() -> None:
    """Run the study and print it."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n", maxsplit=1)[0] if __doc__ else "")
    parser.add_argument("pairs", nargs="?", type=int, default=600)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--visits", type=int, default=300)
    parser.add_argument("--steps", type=float, default=1.0, help="how many times the usual start-up steps")
    parser.add_argument("--minutes", type=float, nargs=2, default=(10.0, 30.0), help="when pairs are read")
    parser.add_argument("--as-settled", action="store_true")
    chosen = parser.parse_args()
    told = Told(chosen.steps, chosen.as_settled, (chosen.minutes[0], chosen.minutes[1]))
    if chosen.pairs:
        report(compared(chosen.pairs, chosen.seed, told))
    if chosen.visits:
        report_visits(visited(chosen.visits, chosen.seed, told))


if __name__ == "__main__":
    main()
