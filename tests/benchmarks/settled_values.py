"""Simulated start-ups: how often the band of a settled value holds it, and how wide it is.

The simulation is none of the fit's own model: steps with two or three parts of any share and sign, dead time, a
sensor that lags, a swing that wanders in period and size, weather that drifts in a curve, noise of two kinds, a
display with steps.  Tune on seeds 1 to 99, report on 26000 and up.

    python -m tests.benchmarks.settled_values [number of starts] [--seed 26001]
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from dataclasses import dataclass
from time import process_time

import numpy as np
from numpy.typing import NDArray

from schemas.readings import READINGS
from service.uncertainty.series.priors import transient_prior
from service.uncertainty.series.settled import DRIFT_SPAN, SettledSeries, settle

FloatArray = NDArray[np.float64]

#: Minutes after which a technician stops logging, and seconds between readings.
MINUTES = (3, 5, 8, 12, 15, 25)
SPACINGS = (1.0, 2.0, 5.0, 5.0, 5.0, 10.0)


@dataclass(frozen=True)
class Kind:
    """A reading: usual start-up step and its unit, noise, display, lag [s]; ``hunts`` where a valve moves it."""

    name: str
    level: float
    step: float
    noise: float
    resolution: float
    scatter: float
    lag: tuple[float, float]
    hunts: float


KINDS = (
    Kind("suction_line_temperature", 285.0, 6.0, 0.08, 0.0556, 0.1, (8.0, 35.0), 1.0),
    Kind("liquid_line_temperature", 309.0, 5.0, 0.06, 0.0556, 0.1, (8.0, 35.0), 0.1),
    Kind("suction_pressure", 9.5e5, 1.1e5, 1500.0, 689.0, 2000.0, (0.0, 1.0), 15000.0),
    Kind("liquid_pressure", 25e5, 2.5e5, 3000.0, 689.0, 2000.0, (0.0, 1.0), 8000.0),
    Kind("supply_air_dry_bulb", 287.0, 5.0, 0.08, 0.1, 0.1, (20.0, 90.0), 0.15),
    Kind("outdoor_unit_power", 2600.0, 300.0, 8.0, 1.0, 5.0, (0.0, 2.0), 8.0),
)


@dataclass(frozen=True)
class Start:
    """A simulated log from the start of the compressor: its times [s], values, and what it settles at."""

    kind: Kind
    times: FloatArray
    values: FloatArray
    quiet: FloatArray
    settled: FloatArray
    hunting: float


def simulated(rng: np.random.Generator, kind: Kind, minutes: float, spacing: float) -> Start:
    """One log."""
    fine = np.arange(0.0, minutes * 60.0 + 0.5, 1.0)
    size = kind.step * rng.lognormal(0.0, 0.5) * rng.choice([-1.0, 1.0])
    slow_share = rng.uniform(0.1, 0.45) * (-1.0 if rng.random() < 0.15 else 1.0)
    fast, slow = 60.0 * rng.lognormal(0.0, 0.4), 60.0 * rng.uniform(2.5, 7.0)
    since = np.maximum(fine - rng.uniform(0.0, 15.0), 0.0)
    left = (1.0 - slow_share) * np.exp(-since / fast) + slow_share * np.exp(-since / slow)
    if rng.random() < 0.5:  # a third part, as of a shell that warms
        left += rng.normal(0.0, 0.08) * np.exp(-since / (60.0 * rng.uniform(1.0, 6.0)))
    weather = (
        kind.step
        / 5.0
        * (
            rng.normal(0.0, 0.15) * (fine - fine[-1]) / 300.0
            + rng.uniform(0.0, 0.15) * np.sin(2 * np.pi * (fine / rng.uniform(1500.0, 4000.0) + rng.random()))
        )
    )
    settled = kind.level + weather
    quiet = _lagged(settled + size * left, rng.uniform(*kind.lag))
    swing, hunting = np.zeros_like(fine), 0.0
    if rng.random() < 0.35:
        hunting = kind.hunts * rng.lognormal(0.0, 0.6)
        period = rng.uniform(60.0, 280.0)
        phase = 2 * np.pi * (rng.random() + np.cumsum(1.0 + 0.3 * _first_order(rng, len(fine), 200.0)) / period)
        swing = hunting * (1.0 + 0.2 * _first_order(rng, len(fine), 300.0)) * np.sin(phase)
    moving = kind.noise * rng.lognormal(0.5, 0.6) * _first_order(rng, len(fine), rng.uniform(5.0, 90.0))
    every = int(spacing)
    shown = (quiet + swing + moving)[::every]
    shown = shown + kind.noise * rng.normal(size=len(shown))
    shown = np.round(shown / kind.resolution) * kind.resolution
    return Start(kind, fine[::every], shown, quiet[::every], settled[::every], hunting)


def _first_order(rng: np.random.Generator, count: int, seconds: float) -> FloatArray:
    """A first-order process of unit variance at one second."""
    kept = float(np.exp(-1.0 / seconds))
    new = rng.normal(size=count) * np.sqrt(1.0 - kept**2)
    found = np.empty(count)
    found[0] = rng.normal()
    for place in range(1, count):
        found[place] = kept * found[place - 1] + new[place]
    return found


def _lagged(values: FloatArray, seconds: float) -> FloatArray:
    """What a sensor shows of it."""
    if seconds < 0.5:
        return values
    kept = float(np.exp(-1.0 / seconds))
    found = np.empty_like(values)
    found[0] = values[0]
    for place in range(1, len(values)):
        found[place] = kept * found[place - 1] + (1.0 - kept) * values[place]
    return found


@dataclass(frozen=True)
class Result:
    """One fit next to the truth, in units of the reading's limit of steadiness."""

    error: float
    deviation: float
    naive: float
    change: float
    found: SettledSeries
    hunting: float

    @property
    def held(self) -> bool:
        """Whether the 95 % band holds the truth."""
        return abs(self.error) <= 1.96 * self.deviation


def result(start: Start) -> Result:
    """The fit of one log."""
    prior = transient_prior(
        start.kind.name, READINGS[start.kind.name].measured_as, start.kind.level, start.kind.resolution
    )
    kept = start.times >= 60.0
    found = settle(
        start.times[kept],
        start.values[kept],
        scatter=start.kind.scatter,
        resolution=start.kind.resolution,
        start=0.0,
        prior=prior,
    )
    assert found is not None
    truth = float(np.interp(found.at, start.times, start.settled))
    last = start.times >= start.times[-1] - 60.0
    span = min(DRIFT_SPAN, float(start.times[-1]) - 60.0)
    earlier = float(np.interp(start.times[-1] - span, start.times, start.quiet))
    return Result(
        (found.value - truth) / prior.limit,
        found.uncertainty / prior.limit,
        (float(start.values[last].mean()) - truth) / prior.limit,
        float(start.quiet[-1] - earlier) * DRIFT_SPAN / span / prior.limit,
        found,
        start.hunting / prior.limit,
    )


_COLUMNS = (
    "minutes",
    "logs",
    "band holds the settled value %",
    "of each kind %",
    "median half width",
    "error, root mean square",
    "that of the last minute's mean",
    "steady, cannot tell, not steady %",
    "false steady: of those that drift, of all said steady %",
    "swings found, of still ones",
    "ms",
)


def main() -> None:
    """Print coverage and width by minutes; widths and errors in limits of steadiness (1 °F of a line)."""
    parser = argparse.ArgumentParser()
    parser.add_argument("number", nargs="?", type=int, default=300)
    parser.add_argument("--seed", type=int, default=26001)
    given = parser.parse_args()
    print("| " + " | ".join(_COLUMNS) + " |")
    print("|" + " --- |" * len(_COLUMNS))
    for minutes in MINUTES:
        rng = np.random.default_rng([given.seed, minutes])
        results: list[Result] = []
        spent = 0.0
        for number in range(given.number):
            start = simulated(rng, KINDS[number % len(KINDS)], minutes, SPACINGS[number // len(KINDS) % len(SPACINGS)])
            before = process_time()
            results.append(result(start))
            spent += process_time() - before
        print("| " + " | ".join(_row(minutes, results, spent)) + " |")


def _percent(flags: Sequence[bool]) -> str:
    return f"{100.0 * sum(flags) / len(flags):.1f}" if flags else "-"


def _row(minutes: int, results: Sequence[Result], spent: float) -> tuple[str, ...]:
    grades = [one.found.drift.grade for one in results]
    drifting = [abs(one.change) > 1.0 for one in results]
    steady = [grade == "steady" for grade in grades]
    swinging = [one for one in results if one.hunting > 1.0]
    still = [one for one in results if one.hunting == 0.0]
    return (
        str(minutes),
        str(len(results)),
        _percent([one.held for one in results]),
        ", ".join(_percent([one.held for one in results[place :: len(KINDS)]]) for place in range(len(KINDS))),
        f"{1.96 * np.median([one.deviation for one in results]):.2f}",
        f"{np.sqrt(np.mean([one.error**2 for one in results])):.2f}",
        f"{np.sqrt(np.mean([one.naive**2 for one in results])):.2f}",
        ", ".join(_percent([one == grade for one in grades]) for grade in ("steady", "cannot_tell", "not_steady")),
        _percent([said for said, moves in zip(steady, drifting, strict=True) if moves])
        + ", "
        + _percent([moves for said, moves in zip(steady, drifting, strict=True) if said]),
        f"{sum(one.found.hunting is not None for one in swinging)} of {len(swinging)}, "
        f"{sum(one.found.hunting is not None for one in still)} of {len(still)}",
        f"{1e3 * spent / len(results):.1f}",
    )


if __name__ == "__main__":
    main()
