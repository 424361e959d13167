"""How the checks with the unit off do on simulated tests: coverage, false leaks, missed leaks, what could be seen.

    python -m tests.benchmarks.checks [SEED] [TESTS]

Instruments err as their types state: calibration the same in all readings of a test, placement and scatter new at
each, and the display rounds.  The vacuum gauge is bent as well, by a smooth curve of 1.5 % that no model of the service
knows.
Tune on seeds under 27000, report on others.
"""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial
from typing import Any, NamedTuple

import numpy as np
from CoolProp.CoolProp import PropsSI

from service.physics.refrigerant import saturation_curves
from service.reference.instruments import INSTRUMENT_TYPES
from tests.checks import check, series

PSI, MICRON, DEGF, AIR = 6894.757293168361, 0.133322387415, 5.0 / 9.0, 101_325.0
Draw = np.random.Generator


class Tools(NamedTuple):
    """A kit: types of the gauge and of the thermometer."""

    gauge: str
    probe: str

    @property
    def kit(self) -> dict[str, Any]:
        """As a request has it."""
        return {"gauge": {"type": self.gauge}, "probe": {"type": self.probe}}


DIGITAL = Tools("pressure_transducer", "thermistor_pipe_clamp")
ANALOG = Tools("analog_gauge", "digital_thermometer")


def read(rng: Draw, type_: str, class_: str, true: Sequence[float], *, bent: float = 0.0) -> list[float]:
    """What an instrument shows of true values in SI, in SI."""
    row = INSTRUMENT_TYPES[type_].accuracies[class_]
    values = np.asarray(true, dtype=np.float64)
    fixed = row.fixed + row.percent_of_span / 100 * row.span + row.counts * row.resolution
    # The accuracy of a thermometer in percent applies to the number in °F.
    shown = (values * 1.8 - 459.67) * DEGF if class_.endswith("temperature") else values
    error = rng.uniform(-1, 1) * (fixed + row.percent_of_reading / 100 * np.abs(shown))
    error = error + rng.uniform(-1, 1, len(values)) * row.placement + rng.normal(0, 1, len(values)) * row.repeatability
    if bent:
        error = error + bent * values * np.sin(rng.uniform(0, 6.28) + 2.5 * np.log(np.maximum(values, 1e-3)))
    found = values + error
    return list(np.round(found / row.resolution) * row.resolution if row.resolution else found)


@dataclass
class Tally:
    """What became of tests of one kind."""

    verdicts: Counter[str] = field(default_factory=Counter)
    held: Counter[str] = field(default_factory=Counter)
    asked: Counter[str] = field(default_factory=Counter)
    uncertainty: dict[str, list[float]] = field(default_factory=dict)

    def add(self, answer: Mapping[str, Any], truth: Mapping[str, float]) -> None:
        """One answer, and the true values in its units."""
        self.verdicts[answer["verdict"]] += 1
        for name, value in truth.items():
            row = answer["derived"].get(name)
            if row is not None:
                self.asked[name] += 1
                self.held[name] += row["band"]["low"] - 1e-9 <= value <= row["band"]["high"] + 1e-9
                self.uncertainty.setdefault(name, []).append(row["standard_uncertainty"])

    def lines(self) -> Iterator[str]:
        """As rows of a report."""
        total = sum(self.verdicts.values())
        yield "  " + ", ".join(f"{name} {count / total:.3f}" for name, count in self.verdicts.most_common())
        for name, count in self.asked.items():
            middle = float(np.median(self.uncertainty[name]))
            yield f"    {name}: {self.held[name] / count:.3f} of {count} within 95 % (median u {middle:.3g})"


def many(title: str, count: int, one: Callable[[], tuple[Mapping[str, Any], Mapping[str, float]]]) -> Tally:
    """So many tests of a kind, reported."""
    tally = Tally()
    for _ in range(count):
        tally.add(*one())
    print(title)
    print("\n".join(tally.lines()), flush=True)
    return tally


# ---------------------------------------------------------------- pressure under nitrogen


def hold(rng: Draw, tools: Tools, lost: float, minutes: Sequence[float]) -> tuple[Any, dict[str, float]]:
    """A pressure test at 300 psi in 10 L that loses so many psi (at constant temperature) in its time."""
    volume, share = 0.010, np.asarray(minutes) / minutes[-1]
    first = rng.uniform(285, 305)
    temperatures = first + rng.uniform(-6, 6) * share
    start = PropsSI("D", "P", 300 * PSI + AIR, "T", first, "Nitrogen")
    end = PropsSI("D", "P", (300 - lost) * PSI + AIR, "T", first, "Nitrogen")
    densities = start + (end - start) * share
    pressures = [
        PropsSI("P", "D", float(d), "T", float(t), "Nitrogen") for d, t in zip(densities, temperatures, strict=True)
    ]
    expected = PropsSI("P", "D", start, "T", float(temperatures[-1]), "Nitrogen")
    shown = read(rng, tools.gauge, "pressure", [p - AIR for p in pressures])
    warm = read(rng, tools.probe, "line_temperature", temperatures.tolist())
    answer = check(
        "pressure-hold",
        kit=tools.kit,
        site={"barometric_pressure": {"value": AIR, "unit": "Pa"}},
        volume={"value": 10, "unit": "L"},
        readings=series(
            minutes,
            pressure=[p / PSI for p in shown],
            gas_temperature=[t * 1.8 - 459.67 for t in warm],
        ),
    )
    return answer, {
        "expected_pressure": (expected - AIR) / PSI,
        "highest_pressure": (pressures[int(np.argmax(shown))] - AIR) / PSI,
        "pressure_loss": (expected - pressures[-1]) / PSI,
        "nitrogen_loss": (start - end) * volume * 1e3 / 28.349523125,
    }


# ---------------------------------------------------------------- standing vacuum


def stand(rng: Draw, leak: float, plateau: float, minutes: Sequence[float]) -> tuple[Any, dict[str, float]]:
    """A vacuum of about 300 µm that leaks so many µm/min, with moisture that would raise it to a plateau [µm]."""
    times = np.asarray(minutes)
    start, constant = rng.uniform(150, 450), rng.uniform(2, 15)
    pressures = start + leak * times
    if plateau:
        pressures = pressures + (plateau - start) * -np.expm1(-times / constant)
    shown = read(rng, "vacuum_gauge", "vacuum", (pressures * MICRON).tolist(), bent=0.015)
    cold = read(rng, "thermistor_pipe_clamp", "line_temperature", [294.0])
    answer = check(
        "vacuum-rise",
        kit={"vacuum": {"type": "vacuum_gauge"}, "probe": {"type": "thermistor_pipe_clamp"}},
        coldest_temperature=cold[0] * 1.8 - 459.67,
        readings=series(minutes, pressure=[max(p, 0.0) / MICRON for p in shown]),
    )
    truth = {"start_pressure": start, "final_pressure": pressures[-1], "rise": pressures[-1] - start}
    if leak:
        truth["leak_rise_rate"] = leak
    elif plateau:
        truth["drying_plateau"] = plateau
    return answer, truth


# ---------------------------------------------------------------- pressure at rest


def rest(rng: Draw, refrigerant: str, tools: Tools, excess: float) -> tuple[Any, dict[str, float]]:
    """A unit at rest with so much air [psi], somewhere between dew and bubble."""
    curves = saturation_curves(refrigerant)
    coil = rng.uniform(285, 308)
    dew, bubble = float(curves.dew_pressure(coil)), float(curves.bubble_pressure(coil))
    saturation = dew + rng.uniform(0, 1) * (bubble - dew)
    shown = read(rng, tools.gauge, "pressure", [saturation + excess * PSI - AIR])
    warm = read(rng, tools.probe, "line_temperature", [coil])
    answer = check(
        "pressure-at-rest",
        unit={"refrigerant": refrigerant},
        kit=tools.kit,
        minutes_off=60,
        site={"barometric_pressure": {"value": AIR, "unit": "Pa"}},
        readings={"pressure": shown[0] / PSI, "coil_temperature": warm[0] * 1.8 - 459.67},
    )
    return answer, {"saturation_pressure": (saturation - AIR) / PSI, "excess_pressure": excess}


# ---------------------------------------------------------------- leak rate


def leak(rng: Draw) -> tuple[Any, dict[str, float]]:
    """Two additions to a charge that is known to 5 %."""
    full = rng.uniform(5, 20)
    masses = rng.uniform(0.5, 3.0, 2)
    days = rng.uniform(30, 500)
    shown = [read(rng, "refrigerant_scale", "mass", [m * 0.45359237])[0] / 0.45359237 for m in masses]
    answer = check(
        "leak-rate",
        unit={"full_charge": full * (1 + 0.05 * rng.normal()), "refrigerant": "R-410A"},
        kit={"scale": {"type": "refrigerant_scale"}},
        additions=[{"mass": shown[0], "days_ago": 0}, {"mass": shown[1], "days_ago": days}],
    )
    rate = masses[0] / full * 365 / min(days, 365)
    within = masses[0] + (masses[1] if days < 365 else 0.0)
    return answer, {
        "annual_rate_annualizing": 100 * rate,
        "annual_rate_rolling": 100 * within / full,
        "annual_loss": rate * full,
    }


def main(seed: int, count: int) -> None:
    """All kinds of tests."""
    rng = np.random.default_rng(seed)
    print(
        f"seed {seed}, {count} tests of each kind\n\n## pressure-hold: 300 psi, 10 L, temperature drifts by up to 11 °F"
    )
    for tools in (DIGITAL, ANALOG):
        for minutes in ([0, 60], [0, 20, 40, 60]):
            for lost in (0.0, 1.0, 3.0, 6.0):
                many(
                    f"{tools.gauge}, {len(minutes)} readings in an hour, {lost:g} psi lost",
                    count,
                    partial(hold, rng, tools, lost, minutes),
                )
    print("\n## vacuum-rise: a reading every 2 minutes")
    for length in (10, 20, 40):
        every = list(range(0, length + 1, 2))
        for rate, plateau in ((0, 0), (0, 800), (0, 2500), (3, 0), (15, 0), (60, 0), (20, 900)):
            many(
                f"{length} min, leak {rate} µm/min, moisture to {plateau} µm",
                count,
                partial(stand, rng, rate, plateau, every),
            )
    print("\n## pressure-at-rest")
    for refrigerant in ("R-410A", "R-454B", "R-22"):
        for tools in (DIGITAL, ANALOG):
            for excess in (0.0, 5.0, 10.0, 20.0):
                many(
                    f"{refrigerant}, {tools.gauge}, {excess:g} psi of air",
                    count,
                    partial(rest, rng, refrigerant, tools, excess),
                )
    print("\n## leak-rate")
    many("two additions, full charge known to 5 %", count, partial(leak, rng))


if __name__ == "__main__":
    given = [int(text) for text in sys.argv[1:]]
    main(*[*given, *(27000, 200)[len(given) :]])
