"""Single simulated visits to split air conditioners, labelled with the fault that the unit has.

Each visit comes with a baseline: an earlier visit to the same unit when it was sound, in other
weather, with the same kit (calibration errors are shared, the rest is new), and with the truth: how
much of each fault, and efficiency and capacity over those of the sound unit in the visit's weather.
Units, instruments and weather are those of ``simulated_pairs``, which shares nothing with the service.

A sound unit is not quite as designed: every part, charge and device are off by up to 3 %, and up
to 1 % have changed since the baseline.  A nameplate (``Visit.unit``) tells the design.

``python -m tests.benchmarks.simulated_visits [visits] [seed]`` prints what each fault changes, to be
held against published directions (such as the rules of Breuker and Braun 1998, the tests of single
faults by Kim, Yoon, Payne and Domanski 2008, Kim and Braun 2012 on charge):

    low charge              superheat +, subcooling -, evaporating -, condensing -; a valve holds
                            the superheat until it is wide open
    overcharge              superheat -, subcooling +, condensing +; a valve holds the superheat
    condenser               condensing +, power +
    evaporator airflow      evaporating -, superheat -
    liquid line             evaporating -, superheat +, condensing -, subcooling +, discharge +;
                            nothing behind a valve until it is wide open
    non-condensable gas     condensing + and subcooling +, both as read; power +
    compressor leakage      evaporating +, condensing -
    overfeeding             superheat -, subcooling -, evaporating +; discharge -
    underfeeding            superheat +, subcooling +, evaporating -; discharge +

Readings are imperial; levels are factors, changes K and natural logarithms.
"""

from __future__ import annotations

import sys
import time
import zlib
from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from tests.benchmarks.simulated_pairs import (
    ATMOSPHERE,
    PIPES,
    PSI,
    REFRIGERANT_PRESSURES,
    F,
    Fluid,
    Health,
    Kit,
    Result,
    Unit,
    Weather,
    described,
    draw_units,
    draw_weather,
    fluid_of,
    kit_of,
    plausible,
    read_visits,
    states,
    true_readings,
)

NO_FAULT = "no_fault"
MISTAKE = "measurement_mistake"
DOUBLE = "double_fault"
FAULTS = (
    "low_charge",
    "overcharge",
    "condenser_heat_transfer",
    "evaporator_airflow",
    "liquid_line_restriction",
    "non_condensable_gas",
    "compressor_leakage",
    "expansion_overfeeding",
    "expansion_underfeeding",
)
KINDS = (NO_FAULT, *FAULTS, DOUBLE, MISTAKE)
OPPOSED = (
    {"low_charge", "overcharge"},
    {"expansion_overfeeding", "expansion_underfeeding"},
)

Range = tuple[float, float]
# Column of Health and range of its factor: behind an expansion valve, behind a fixed orifice.  The
# valve makes up for small faults of the liquid's path, so that only larger ones count as faults.
FACTORS: Mapping[str, tuple[str, Range, Range]] = {
    "low_charge": ("charge", (0.70, 0.95), (0.70, 0.95)),
    "overcharge": ("charge", (1.05, 1.30), (1.05, 1.30)),
    "liquid_line_restriction": ("liquid_line_drop", (12.0, 30.0), (5.0, 30.0)),
    "non_condensable_gas": ("non_condensable", (1.03, 1.25), (1.03, 1.25)),
    "compressor_leakage": ("compressor_volumetric", (0.60, 0.95), (0.60, 0.95)),
    "expansion_overfeeding": ("device_flow", (1.10, 1.45), (1.06, 1.30)),
    "expansion_underfeeding": ("device_flow", (0.45, 0.78), (0.66, 0.92)),
}
CONDENSER: Range = (0.45, 0.92)
INDOOR_AIRFLOW: Range = (0.45, 0.90)
INDOOR_COIL: Range = (0.50, 0.90)
INDOOR_COIL_SHARE = 0.3

WEATHER_GAP = 12.0  # K outdoors between baseline and visit
DEVIATION = 0.03  # of a sound unit's parts from their design
DRIFT = 0.01  # of every part since the baseline
CHUNK = 64  # draws solved at once; a part of what a seed means

TEMPERATURES = ("te", "tc", "superheat", "subcooling", "discharge")
RATIOS = ("capacity", "power", "eer")


@dataclass(frozen=True)
class Visit:
    """One visit to a unit with known faults, and the baseline of the same unit when it was sound.

    ``kind``: names of the faults (of FAULTS, or MISTAKE alone), () for a sound unit.
    ``readings``, ``baseline``: as shown, imperial; ``readings_true``, ``baseline_true`` without
    errors of the kit (a mistake stays).  ``unit``: refrigerant, metering device, rated capacity
    (Btu/h), rated EER, design subcooling and superheat (delta degF).
    ``ln_eer``, ``ln_capacity``: logarithms of the visit's over the baseline unit's, both in the
    visit's weather.  ``level``: factor of each fault (the product, where two parts suffer); for a
    mistake degF or the share of the reading.  ``factors``: columns of Health that a fault moved.
    ``changes``: the same comparison as ``ln_eer`` for TEMPERATURES (K, as read without the kit's
    errors) and RATIOS (logarithms).  ``weather``: degC of visit and baseline.
    """

    kind: tuple[str, ...]
    readings: dict[str, float]
    baseline: dict[str, float]
    readings_true: dict[str, float]
    baseline_true: dict[str, float]
    unit: dict[str, float | str]
    ln_eer: float
    ln_capacity: float
    level: dict[str, float]
    factors: dict[str, float]
    changes: dict[str, float]
    weather: dict[str, float]
    mistake: str
    kit: str | None


class Visits(list[Visit]):
    """Visits, and how many draws were left out: no sensible unit, or a state not found."""

    unfit: int = 0
    skipped: int = 0


# --------------------------------------------------------------------------- draws


def faults_of(kind: str) -> tuple[tuple[str, ...], ...]:
    """The sets of faults that a kind stands for: one, or all that make a double fault.

    ``kind`` is one of KINDS or names of FAULTS joined by "+".
    """
    if kind in (NO_FAULT, MISTAKE):
        return ((),)
    if kind == DOUBLE:
        return tuple(pair for pair in combinations(FAULTS, 2) if set(pair) not in OPPOSED)
    names = tuple(kind.split("+"))
    unknown = [name for name in names if name not in FAULTS]
    if unknown:
        raise ValueError(f"not a kind of visit: {', '.join(unknown)}")
    return (names,)


def _between(rng: np.random.Generator, low: F | float, high: F | float, count: int) -> F:
    """Factors between low and high, evenly spread in their logarithm."""
    spread: F = np.exp(np.log(low) + (np.log(high) - np.log(low)) * rng.random(count))
    return spread


def _factors(fault: str, rng: np.random.Generator, orifice: F) -> dict[str, F]:
    """Factors on columns of Health that a fault stands for, one draw for each unit."""
    count = len(orifice)
    if fault == "condenser_heat_transfer":
        part = rng.integers(0, 3, count)  # coil, airflow or both
        coil, air = (_between(rng, *CONDENSER, count) for _ in range(2))
        return {
            "condenser_conductance": np.where(part != 1, coil, 1.0),
            "condenser_airflow": np.where(part != 0, air, 1.0),
        }
    if fault == "evaporator_airflow":
        both = rng.random(count) < INDOOR_COIL_SHARE
        air, coil = _between(rng, *INDOOR_AIRFLOW, count), _between(rng, *INDOOR_COIL, count)
        return {"evaporator_airflow": air, "evaporator_conductance": np.where(both, coil, 1.0)}
    column, valve, tube = FACTORS[fault]
    low, high = (np.where(orifice > 0.5, tube[k], valve[k]) for k in (0, 1))
    return {column: _between(rng, low, high, count)}


def deviations(rng: np.random.Generator, count: int, spread: float) -> dict[str, F]:
    """Factors within +- spread on every part; a unit filled properly holds no foreign gas."""
    drawn = {x.name: rng.uniform(1.0 - spread, 1.0 + spread, count) for x in fields(Health)}
    return drawn | {"non_condensable": np.ones(count)}


def multiplied(health: Health, factors: Mapping[str, F]) -> Health:
    """The health with its columns multiplied by the factors."""
    return replace(health, **{name: getattr(health, name) * v for name, v in factors.items()})


@dataclass(frozen=True)
class _Faults:
    """Faults drawn for a chunk: which each unit has, factor of each, factors on columns."""

    kinds: list[tuple[str, ...]]
    level: dict[str, F]
    factors: dict[str, F]


def draw_faults(rng: np.random.Generator, kind: str, orifice: F) -> _Faults:
    """Faults of each unit of a chunk.  All are drawn, so that each kind takes as many draws."""
    choices, count = faults_of(kind), len(orifice)
    kinds = [choices[k] for k in rng.integers(0, len(choices), count)]
    level, factors = {}, {x.name: np.ones(count) for x in fields(Health)}
    for fault in FAULTS:
        has = np.array([fault in names for names in kinds])
        level[fault] = np.ones(count)
        for name, drawn in _factors(fault, rng, orifice).items():
            applied = np.where(has, drawn, 1.0)
            level[fault] = level[fault] * applied
            factors[name] = factors[name] * applied
    return _Faults(kinds, level, factors)


@dataclass(frozen=True)
class _Mistakes:
    """One reading of each unit that is grossly off: which, by how much (degF or a share)."""

    reading: list[str]
    size: F


def draw_mistakes(rng: np.random.Generator, count: int) -> _Mistakes:
    """A clamp 5 to 12 K off, a gauge 6 to 15 % off, or an outdoor probe 4 to 8 K too warm."""
    sort = rng.integers(0, 3, count)
    clamp, gauge = (rng.integers(0, len(x), count) for x in (PIPES, REFRIGERANT_PRESSURES))
    sign = np.where(rng.random(count) < 0.5, -1.0, 1.0)
    spans = ((5.0, 12.0), (0.06, 0.15), (4.0, 8.0))
    clamps, gauges, probes = (rng.uniform(*span, count) for span in spans)
    reading = [
        (PIPES[c], REFRIGERANT_PRESSURES[g], "outdoor_air_dry_bulb")[s]
        for s, c, g in zip(sort, clamp, gauge, strict=True)
    ]
    sizes = (1.8 * sign * clamps, sign * gauges, 1.8 * probes)  # the sun only warms
    return _Mistakes(reading, np.choose(sort, sizes))


def mistaken(true: Mapping[str, float], reading: str, size: float) -> dict[str, float]:
    """The readings with one off by so many degF or, of a pressure, by that share."""
    off = size * (true[reading] if reading in REFRIGERANT_PRESSURES else 1.0)
    return {**true, reading: true[reading] + off}


# --------------------------------------------------------------------------- visits


@dataclass(frozen=True)
class _Chunk:
    """A chunk of draws: the design, and the states of the baseline, of the visit, and of the
    baseline's unit in the visit's weather."""

    unit: Unit
    faults: _Faults
    mistakes: _Mistakes | None
    before: Weather
    now: Weather
    design: Result
    baseline: Result
    visit: Result
    sound: Result
    fit: NDArray[np.bool_]
    ok: NDArray[np.bool_]


def _chunk(rng: np.random.Generator, f: Fluid, kind: str, metering: str | None) -> _Chunk:
    """Draw units, their deviations, faults and weather, and solve all states of them."""
    unit, fit = draw_units(f, CHUNK, rng, metering)
    design = Health.sound(CHUNK)
    base = multiplied(design, deviations(rng, CHUNK, DEVIATION))
    drifted = multiplied(base, deviations(rng, CHUNK, DRIFT))
    faults = draw_faults(rng, kind, unit.orifice)
    before, now = draw_weather(rng, CHUNK, WEATHER_GAP)
    mistakes = draw_mistakes(rng, CHUNK) if kind == MISTAKE else None
    asked = (
        (design, Weather.rating(CHUNK)),
        (base, before),
        (multiplied(drifted, faults.factors), now),
        (base, now),
    )
    results, found = zip(*(states(f, unit, *a) for a in asked), strict=True)
    rated, baseline, visit, sound = results
    fit = fit & found[0] & plausible(rated)
    ok = np.logical_and.reduce(found)
    return _Chunk(unit, faults, mistakes, before, now, rated, baseline, visit, sound, fit, ok)


def _read_true(r: Result, weather: Weather, k: int) -> dict[str, float]:
    """The readings of state k without errors (imperial)."""
    one = slice(k, k + 1)
    return {name: float(v[0]) for name, v in true_readings(r.take(one), weather.take(one)).items()}


def _temperatures(f: Fluid, readings: Mapping[str, float]) -> dict[str, float]:
    """TEMPERATURES as gauges and clamps give them (degC and K)."""

    def celsius(name: str) -> float:
        return (readings[f"{name}_line_temperature"] - 32.0) / 1.8

    suction, liquid = (np.array(readings[name] * PSI + ATMOSPHERE) for name in REFRIGERANT_PRESSURES)
    te, tc = float(f.sat.at(f.sat.dew, suction)), float(f.sat.at(f.sat.bubble, liquid))
    superheat, subcooling = celsius("suction") - te, tc - celsius("liquid")
    found = (te, tc, superheat, subcooling, celsius("discharge"))
    return dict(zip(TEMPERATURES, found, strict=True))


def _changes(f: Fluid, c: _Chunk, k: int, readings: Mapping[str, float]) -> dict[str, float]:
    """Visit less the baseline's unit in the same weather: K, and logarithms of ratios."""
    now, sound = _temperatures(f, readings), _temperatures(f, _read_true(c.sound, c.now, k))
    found = {name: now[name] - sound[name] for name in TEMPERATURES}
    for name in RATIOS:
        found[name] = float(np.log(getattr(c.visit, name)[k] / getattr(c.sound, name)[k]))
    return found


def _weather(c: _Chunk, k: int) -> dict[str, float]:
    """Outdoor, dry-bulb and wet-bulb temperature (degC) and voltage of both visits."""
    return {
        f"{x.name}_{when}": float(getattr(weather, x.name)[k])
        for when, weather in (("visit", c.now), ("baseline", c.before))
        for x in fields(Weather)
    }


def _visit(f: Fluid, c: _Chunk, k: int, refrigerant: str, kit: str | None, rng: np.random.Generator) -> Visit:
    """Visit k of the chunk, as read with the kit (None: without errors)."""
    kind, mistake = c.faults.kinds[k], ""
    level = {name: float(c.faults.level[name][k]) for name in kind}
    true, baseline = _read_true(c.visit, c.now, k), _read_true(c.baseline, c.before, k)
    if c.mistakes is not None:
        kind, mistake = (MISTAKE,), c.mistakes.reading[k]
        level = {MISTAKE: float(c.mistakes.size[k])}
        true = mistaken(true, mistake, level[MISTAKE])
    changes = _changes(f, c, k, true)
    instruments: Kit | None = None if kit is None else kit_of(kit)
    shown = [baseline, true] if instruments is None else read_visits((baseline, true), instruments, rng)
    moved = {name: float(v[k]) for name, v in c.faults.factors.items() if v[k] != 1.0}
    return Visit(
        kind=kind,
        readings=dict(shown[1]),
        baseline=dict(shown[0]),
        readings_true=true,
        baseline_true=baseline,
        unit=described(c.unit, c.design, k, refrigerant),
        ln_eer=changes["eer"],
        ln_capacity=changes["capacity"],
        level=level,
        factors=moved,
        changes=changes,
        weather=_weather(c, k),
        mistake=mistake,
        kit=kit,
    )


def visits(
    count: int,
    seed: int,
    kind: str,
    kit: str | None,
    metering: str | None = None,
    refrigerant: str = "R-410A",
) -> Visits:
    """Visits to units drawn at random that have a fault of this kind, each with its baseline.

    ``kind`` one of KINDS or names of FAULTS joined by "+"; ``kit`` a name of ``simulated_pairs.KITS``
    or None for readings without errors; ``metering`` "expansion_valve", "fixed_orifice" or None for
    either.  The same seed, kind and options give the same units, weather and truth whatever the kit,
    and the first visits are the same whatever the count.
    """
    faults_of(kind)  # refuses what it does not know
    f, found, number = fluid_of(refrigerant), Visits(), 0
    while len(found) < count:
        if number >= 20 and not found:
            raise ValueError(f"no steady states are found for {kind}")
        key = [seed, zlib.crc32(kind.encode()), number]
        c = _chunk(np.random.default_rng(key), f, kind, metering)
        noise = np.random.default_rng([*key, 1])
        for k in np.flatnonzero(c.fit & c.ok)[: count - len(found)]:
            found.append(_visit(f, c, int(k), refrigerant, kit, noise))
        found.unfit += int((~c.fit).sum())
        found.skipped += int((c.fit & ~c.ok).sum())
        number += 1
    return found


# --------------------------------------------------------------------------- table of signatures


def _cell(values: list[float], relative: bool) -> str:
    """Median and, in brackets, 10th and 90th percentile (K, or per cent from logarithms)."""
    low, middle, high = np.percentile(values, (10.0, 50.0, 90.0))
    if relative:
        low, middle, high = (100.0 * float(np.expm1(v)) for v in (low, middle, high))
    return f"{middle:+6.1f} ({low:+.1f} {high:+.1f})".ljust(23)


def _row(made: Visits) -> str:
    """The cells of one kind and metering device."""
    return "".join(_cell([v.changes[name] for v in made], name in RATIOS) for name in (*TEMPERATURES, *RATIOS))


def main(count: int = 100, seed: int = 0) -> None:
    """Print what every kind of visit changes, without errors of instruments."""
    print("Visit less the sound unit in the same weather, as read: median (10 % 90 %)")
    heads = [f"{n}, K" for n in TEMPERATURES] + [f"{n}, %" for n in RATIOS]
    fluid_of("R-410A")  # its tables are not a part of the visits' time
    start, total = time.perf_counter(), 0
    for metering in ("fixed_orifice", "expansion_valve"):
        print(f"\n{metering:26s}" + "".join(f" {h:22s}" for h in heads) + "left out")
        for kind in KINDS:
            made = visits(count, seed, kind, None, metering)
            total += len(made)
            print(f"{kind:26s}{_row(made)} {made.skipped}")
    print(f"\n{total / (time.perf_counter() - start):.0f} visits a second")


if __name__ == "__main__":
    main(*(int(v) for v in sys.argv[1:3]))
