"""How honest and how sharp are comparisons?  A study on simulated pairs of visits.

    python -m tests.benchmarks.before_and_after [pairs] [--seed N] [--gap K] [--missing N]

The pairs come from ``simulated_pairs``, a model of a whole unit on CoolProp that shares no line with the
service: compressor, three-zone condenser, wet and dry coil, metering device, charge inventory.  Every
unit, its faults, the weather of both visits and every instrument's errors are drawn at random; calibration
errors are shared by the two visits, the rest is new at each.  Two fifths of the pairs did not change; the
others changed in one respect by 1 to 40 %.  The service is told the instruments' accuracies and nothing
else.  With ``--missing``, up to so many readings, drawn at random, are left out of one of the runs.

Reported for each kit, side by side: claims of change on pairs that did not change; coverage of the 95 %
bands; 95 % error of the efficiency ratio; share of real changes that are claimed, beside what the most
powerful test could claim that knows the unit, the change and every error distribution beforehand
(Neyman and Pearson; nobody can know that, so it bounds what readings can tell); claims in the wrong
direction.
"""

from __future__ import annotations

import argparse
import math
import pickle
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from statistics import NormalDist
from typing import Any

import numpy as np

from schemas.comparisons import ComparisonRequest, PercentChange
from service.compare.comparison import compare
from tests.benchmarks import simulated_pairs as simulated

KITS = ("good", "ordinary", "poor")
CHANGES = (
    "condenser_conductance",
    "evaporator_airflow",
    "charge",
    "compressor_volumetric",
    "compressor_isentropic",
)
_LEVEL = 0.05

#: For each reading: row of the kit's table, type of instrument, class of its accuracy.
_MADE: dict[str, tuple[str, str, str]] = {
    "suction_pressure": ("pressure", "pressure_transducer", "pressure"),
    "liquid_pressure": ("pressure", "pressure_transducer", "pressure"),
    "suction_line_temperature": ("pipe", "thermistor_pipe_clamp", "line_temperature"),
    "liquid_line_temperature": ("pipe", "thermistor_pipe_clamp", "line_temperature"),
    "discharge_line_temperature": ("pipe", "thermistor_pipe_clamp", "line_temperature"),
    "return_air_dry_bulb": ("air", "hygrometer_probe", "air_temperature"),
    "supply_air_dry_bulb": ("air", "hygrometer_probe", "air_temperature"),
    "outdoor_air_dry_bulb": ("outdoor", "hygrometer_probe", "air_temperature"),
    "return_air_wet_bulb": ("wet_bulb", "hygrometer_probe", "wet_bulb"),
    "supply_air_wet_bulb": ("wet_bulb", "hygrometer_probe", "wet_bulb"),
    "airflow": ("airflow", "airflow_hood", "airflow"),
    "outdoor_unit_power": ("power", "power_meter", "power"),
    "indoor_unit_power": ("power", "power_meter", "power"),
    "line_voltage": ("voltage", "multimeter", "voltage"),
    "compressor_common_current": ("current", "clamp_meter", "current"),
}
_RELATIVE = ("pressure", "airflow", "power", "voltage", "current")


@dataclass(frozen=True)
class Outcome:
    """What the service said about one pair, and the truth; logarithms of ratios."""

    kit: str
    kind: str
    truth: float
    capacity_truth: float
    verdict: str
    any_change: bool
    efficiency: tuple[float, float, float] | None
    capacity: tuple[float, float, float] | None
    best_power: float
    cause: str


def _sizes(kit: str, reading: str, value: float) -> tuple[float, float, float]:
    """Calibration, repeatability (standard uncertainties) and display step, in the reading's unit."""
    row = _MADE[reading][0]
    table = simulated.KIT_TABLE[kit]
    calibration, repeatability = table[row]
    if reading.startswith("supply_air"):
        calibration = math.hypot(calibration, table["mixing"][0])
        repeatability = math.hypot(repeatability, table["mixing"][1])
    scale = abs(value) / 100.0 if row in _RELATIVE else 1.8
    return scale * calibration, scale * repeatability, simulated.KITS[kit].resolution[reading]


def instruments(kit: str, readings: dict[str, float]) -> dict[str, Any]:
    """The kit as the service is told of it: one instrument for each reading, one for both powers."""
    found: dict[str, Any] = {}
    for name, value in readings.items():
        row, type_, measures = _MADE[name]
        calibration, repeatability, step = _sizes(kit, name, value)
        accuracy: dict[str, Any] = {"resolution": step, "coverage": "one_standard_deviation"}
        if row in _RELATIVE:
            accuracy["percent_of_reading"] = simulated.KIT_TABLE[kit][row][0]
        else:
            accuracy["fixed"] = calibration
        found["power" if row == "power" else name] = {
            "type": type_,
            "accuracies": {measures: accuracy},
            "repeatability": repeatability,
        }
    return found


def taken(readings: dict[str, float]) -> dict[str, Any]:
    """A run of readings, each with its instrument."""
    given = {
        name: {"value": value, "instrument": "power" if _MADE[name][0] == "power" else name}
        for name, value in readings.items()
    }
    return {"minutes_running": 20, "readings": given}


def request(pair: simulated.Pair, kit: str, missing: Sequence[tuple[str, str]] = ()) -> dict[str, Any]:
    """The comparison of a pair; ``missing`` are runs and readings to leave out."""

    def run(side: str, readings: dict[str, float]) -> dict[str, Any]:
        return taken({n: v for n, v in readings.items() if (side, n) not in missing})

    return {
        "units": "imperial",
        "site": {"altitude": 0},
        "unit": {
            "refrigerant": pair.unit["refrigerant"],
            "metering_device": pair.unit["metering_device"],
            "rated": {
                "cooling_capacity": pair.unit["rated_capacity"],
                "eer": pair.unit["rated_eer"],
            },
            "nameplate": {"voltage": 230, "frequency": 60},
        },
        "kit": instruments(kit, pair.before),
        "runs": {"before": run("before", pair.before), "after": run("after", pair.after)},
    }


def best_power(pair: simulated.Pair, kit: str) -> float:
    """Power at 5 % of the test that knows unit, change and errors: readings less what each hypothesis
    expects, given that the readings before tell part of the calibration errors."""
    squares = 0.0
    for name in pair.after:
        calibration, repeatability, step = _sizes(kit, name, pair.before[name])
        own = repeatability**2 + step**2 / 12.0
        known = calibration**2 * own / (calibration**2 + own) if calibration + own > 0.0 else 0.0
        # What of the calibration error the first reading leaves open, and the second one's own error.
        squares += (pair.changed_true[name] - pair.before_true[name]) ** 2 / (known + own)
    normal = NormalDist()
    return normal.cdf(math.sqrt(squares) - normal.inv_cdf(1.0 - _LEVEL))


def _judged(job: tuple[int, int, str, str, float, int]) -> list[Outcome]:
    count, seed, kind, kit, gap, most = job
    outcomes = []
    random = np.random.default_rng(seed)
    for pair in simulated.pairs(count, seed, kind, kit, simulated.Population(weather_gap=gap)):
        side = str(random.choice(["before", "after"]))
        names = random.permutation(list(pair.before))[: random.integers(0, most + 1)]
        missing = [(side, str(name)) for name in names]
        answer = compare(ComparisonRequest.model_validate(request(pair, kit, missing)))
        system = answer["system"]
        bands = [_logarithms(system[n]) for n in ("efficiency_change_percent", "capacity_change_percent")]
        causes = system["points_to"]
        outcomes.append(
            Outcome(
                kit,
                kind,
                float(pair.truth["ln_eer"]),
                float(pair.truth["ln_capacity"]),
                system["verdict"],
                bool(system["any_change"]["changed"]),
                bands[0],
                bands[1],
                best_power(pair, kit) if kind != simulated.NULL else _LEVEL,
                causes[0]["cause"] if causes else "none",
            )
        )
    return outcomes


def _logarithms(change: PercentChange | None) -> tuple[float, float, float] | None:
    if change is None:
        return None
    low, middle, high = change["band"]["low"], change["value"], change["band"]["high"]
    return (
        math.log1p(max(low, -99.0) / 100.0),
        math.log1p(middle / 100.0),
        math.log1p(high / 100.0),
    )


def study(pairs: int, seed: int, gap: float, missing: int = 0) -> list[Outcome]:
    """Outcomes of about so many pairs, on both cores."""
    each = pairs // len(KITS)
    jobs = []
    for kit in KITS:
        nulls, changed = round(0.4 * each), round(0.6 * each / len(CHANGES))
        for kind, count in ((simulated.NULL, nulls), *((kind, changed) for kind in CHANGES)):
            for start in range(0, count, 40):
                jobs.append((min(40, count - start), seed + 7919 * start, kind, kit, gap, missing))
    with ProcessPoolExecutor(2) as pool:
        return [outcome for part in pool.map(_judged, jobs) for outcome in part]


def report(outcomes: list[Outcome]) -> None:
    """Print the figures by kit, then by kind of change."""
    heads = (
        "pairs",
        "null",
        "false claims",
        "'changed'",
        "no change shown",
        "coverage EER",
        "coverage capacity",
        "95 % error EER",
        "power",
        "best",
        "wrong direction",
    )
    print(f"{'':34s}" + " ".join(f"{head:>17s}" for head in heads))
    for kit in (*KITS, "all"):
        _line(kit, [o for o in outcomes if kit in (o.kit, "all")])
    for kind in (simulated.NULL, *CHANGES):
        for kit in KITS:
            _line(f"{kind}, {kit}", [o for o in outcomes if o.kit == kit and o.kind == kind])
    print("\nshare of claims and of the best test, by size of the true change of efficiency")
    changed = [o for o in outcomes if o.kind != simulated.NULL]
    for low, high in (
        (0.0, 0.01),
        (0.01, 0.02),
        (0.02, 0.04),
        (0.04, 0.08),
        (0.08, 0.2),
        (0.2, 1.0),
    ):
        row = [o for o in changed if low <= abs(o.truth) < high]
        for kit in KITS:
            part = [o for o in row if o.kit == kit]
            if part:
                print(
                    f"  {100 * low:4.0f} to {100 * high:3.0f} %, {kit:9s} {len(part):4d} pairs: "
                    f"'changed' {_share(o.any_change for o in part):5.1f} %, right verdict "
                    f"{_share(_right(o) for o in part):5.1f} %, best "
                    f"{100 * float(np.mean([o.best_power for o in part])):5.1f} %"
                )
    _causes(changed)


def _causes(changed: list[Outcome]) -> None:
    named = {
        "condenser_conductance": "condenser_heat_transfer",
        "evaporator_airflow": "evaporator_airflow",
        "charge": "charge",
        "compressor_volumetric": "compressor",
        "compressor_isentropic": "compressor",
    }
    print("\ncause named first, of pairs shown to have changed")
    for kind, cause in named.items():
        part = [o for o in changed if o.kind == kind and o.any_change]
        if part:
            print(f"  {kind:24s} {_share(o.cause == cause for o in part):5.1f} % of {len(part)}")


def _share(values: Any) -> float:  # noqa: ANN401
    found = list(values)
    return 100.0 * float(sum(found)) / max(len(found), 1)


def _right(o: Outcome) -> bool:
    return o.verdict == ("improved" if o.truth > 0.0 else "worsened")


def _wrong(o: Outcome) -> bool:
    """A claim against the truth of efficiency, and of capacity too where that moved."""
    if o.kind == simulated.NULL or o.verdict not in ("improved", "worsened"):
        return False
    sign = 1.0 if o.verdict == "improved" else -1.0
    return sign * o.truth < -1e-3 and sign * o.capacity_truth < 1e-3


def _line(name: str, rows: list[Outcome]) -> None:
    nulls = [o for o in rows if o.kind == simulated.NULL]
    changed = [o for o in rows if o.kind != simulated.NULL]
    bands = [(o.efficiency, o.truth) for o in rows if o.efficiency is not None]
    capacities = [(o.capacity, o.capacity_truth) for o in rows if o.capacity is not None]
    errors = [abs(b[1] - t) for b, t in bands]
    cells = (
        f"{len(rows)}",
        f"{len(nulls)}",
        f"{_share(o.verdict in ('improved', 'worsened') for o in nulls):.1f} %" if nulls else "-",
        f"{_share(o.any_change for o in nulls):.1f} %" if nulls else "-",
        f"{_share(o.verdict == 'no_material_change' for o in nulls):.1f} %" if nulls else "-",
        f"{_share(b[0] <= t <= b[2] for b, t in bands):.1f} %",
        f"{_share(b[0] <= t <= b[2] for b, t in capacities):.1f} %",
        f"{100 * float(np.quantile(errors, 0.95)):.1f} %" if errors else "-",
        f"{_share(_right(o) for o in changed):.1f} %" if changed else "-",
        f"{100 * float(np.mean([o.best_power for o in changed])):.1f} %" if changed else "-",
        f"{_share(_wrong(o) for o in changed):.1f} %" if changed else "-",
    )
    print(f"{name:34s}" + " ".join(f"{cell:>17s}" for cell in cells))


def main() -> None:
    """Run the study and print it."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n", maxsplit=1)[0] if __doc__ else "")
    parser.add_argument("pairs", nargs="?", type=int, default=2100)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--gap", type=float, default=5.0, help="K outdoors between the visits, at most")
    parser.add_argument("--missing", type=int, default=0, help="readings left out of one run, at most")
    parser.add_argument("--keep", help="file to keep the outcomes in (pickle)")
    chosen = parser.parse_args()
    outcomes = study(chosen.pairs, chosen.seed, chosen.gap, chosen.missing)
    if chosen.keep:
        Path(chosen.keep).write_bytes(pickle.dumps(outcomes))
    report(outcomes)


if __name__ == "__main__":
    main()
