"""Winter visits to heat pumps, and pairs of runs, labelled with what the unit has; truth is known.

Units are those of ``heating_units``; none of it shares a line with the service.

* Nameplates: capacity and COP at 47 and, of every other one, 17 degF from the simulator's own states of
  the unit as designed, with the tolerance of a rating (2 %, one standard deviation), rounded as printed;
  HSPF from COP by the published line (COP47 = 0.3225 HSPF + 0.9099); a cooling rating and a subcooling
  target of cooling, which say nothing about heating.
* A healthy unit is off by up to 3 % in every part and has drifted by up to 1 % since the baseline.
* Weather: 0 to 62 degF outdoors at 45 to 98 % relative humidity, 64 to 75 degF indoors.  Frost grows with
  the minutes since the defrost, on healthy units too.
* Technicians read the liquid port, the large line's port or both; some readings are not made.  Clamps read
  a share of the way to the outdoor air, the supply probe is off by its place, more so near strips.

Readings are imperial; levels are factors, but for a leak (share), gas (psi), frost (kg for each ton) and
strips (W).
"""

from __future__ import annotations

import zlib
from collections.abc import Mapping
from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import NDArray

from tests.benchmarks import heating_units as units
from tests.benchmarks import simulated_pairs as pairs
from tests.benchmarks.field_visits import FieldFluid, fluid_of
from tests.benchmarks.heating_units import Health, Result, Unit, Weather
from tests.benchmarks.simulated_pairs import ATMOSPHERE, BTU_PER_HOUR, PSI, F

Mask = NDArray[np.bool_]
Range = tuple[float, float]

NO_FAULT = "no_fault"
STRIPS = "strips_stated"
MISTAKE = "measurement_mistake"
FROST = "frost"
LEFT_ON = "strips_left_on"
REVERSING = "reversing_valve_leak"
GAS = "non_condensable_gas"
#: Column of Health and range of its factor behind an expansion valve and a fixed orifice.
FACTORS: Mapping[str, tuple[str, Range, Range]] = {
    "low_charge": ("charge", (0.60, 0.90), (0.60, 0.90)),
    "overcharge": ("charge", (1.10, 1.30), (1.10, 1.30)),
    "indoor_airflow": ("indoor_airflow", (0.50, 0.85), (0.50, 0.85)),
    "compressor_leakage": ("compressor_volumetric", (0.60, 0.90), (0.60, 0.90)),
    "liquid_line_restriction": ("liquid_line_drop", (15.0, 40.0), (6.0, 40.0)),
    "expansion_overfeeding": ("device_flow", (1.12, 1.45), (1.08, 1.30)),
    "expansion_underfeeding": ("device_flow", (0.35, 0.65), (0.62, 0.90)),
}
OUTDOOR: Range = (0.40, 0.80)
LEAK: Range = (0.03, 0.20)
GAS_PSI: Range = (5.0, 25.0)
FROST_KG: Range = (0.4, 2.0)
STRIP_WATTS: Range = (4000.0, 12000.0)
FAULTS = ("outdoor_airflow", *FACTORS, REVERSING, GAS, FROST, LEFT_ON)
#: Kinds without a fault of the unit.
SOUND = (NO_FAULT, STRIPS)
KINDS = (*SOUND, *FAULTS, MISTAKE)

CHUNK = 12
DEVIATION, DRIFT = 0.03, 0.01
#: Most that a healthy unit's defrost lets grow (kg for each ton).
MOST_FROST = 0.35
#: Pa absolute at which high-pressure switches open; common practice, no source.
SWITCH: Mapping[str, float] = {"R-22": 31.0e5, "R-410A": 45.1e5, "R-32": 45.1e5}
REFRIGERANTS, _SHARES = ("R-410A", "R-22", "R-32"), (0.65, 0.15, 0.2)
_ORIFICES: Mapping[str, float] = {"R-410A": 0.25, "R-22": 0.5, "R-32": 0.1}
COP_RANGE, COLD_RANGE = (2.9, 4.7), (0.54, 0.72)

# --------------------------------------------------------------------------- readings

LEAVING = "outdoor_coil_leaving_air_dry_bulb"
COIL_OUTLET = "evaporator_outlet_temperature"
HUMIDITY = "outdoor_air_relative_humidity"
STRIP_POWER, STRIP_CURRENT = "auxiliary_heat_power", "auxiliary_heat_current"
HIGH_PORTS = ("liquid_pressure", "discharge_pressure")
CLAMPS = (
    "suction_line_temperature",
    "liquid_line_temperature",
    "discharge_line_temperature",
    "vapour_line_temperature",
    COIL_OUTLET,
)
PRESSURES = ("suction_pressure", *HIGH_PORTS)

#: Instruments: row of ``KIT_TABLE``, and the readings that share its calibration.
SENSORS: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("pressure", ("suction_pressure",)),
    ("pressure", HIGH_PORTS),
    *(("pipe", (clamp,)) for clamp in CLAMPS),
    ("air", ("return_air_dry_bulb",)),
    ("air", ("supply_air_dry_bulb",)),
    ("air", (LEAVING,)),
    ("outdoor", ("outdoor_air_dry_bulb",)),
    ("wet_bulb", ("return_air_wet_bulb",)),
    ("humidity", (HUMIDITY,)),
    ("airflow", ("airflow",)),
    ("power", ("outdoor_unit_power", "indoor_unit_power", STRIP_POWER)),
    ("voltage", ("line_voltage",)),
    ("current", (pairs.CURRENT, STRIP_CURRENT)),
)
RELATIVE = ("pressure", "airflow", "power", "voltage", "current")
#: Percentage points of relative humidity, calibration and repeatability.
_HUMIDITY: Mapping[str, Range] = {"good": (1.5, 0.7), "ordinary": (2.5, 1.0), "poor": (4.0, 1.5)}
_STEPS: Mapping[str, str] = {"wet_bulb": "air", "outdoor": "air", "pipe": "air"}


def accuracy(kit: str, row: str) -> Range:
    """Standard uncertainties of a kit's instrument: K, percentage points, or per cent of the reading."""
    return _HUMIDITY[kit] if row == "humidity" else pairs.KIT_TABLE[kit][row]


def step(kit: str, row: str) -> float:
    """Display step of a kit's instrument (imperial)."""
    psi, degree, cfm, watt, volt, ampere = pairs.RESOLUTION_TABLE[kit]
    steps = {"pressure": psi, "airflow": cfm, "power": watt, "voltage": volt, "current": ampere, "humidity": 1.0}
    return steps.get(row, degree)


#: Probability that a technician makes the reading; those not named are always made.
MADE: Mapping[str, float] = {
    "airflow": 0.55,
    "discharge_line_temperature": 0.75,
    "vapour_line_temperature": 0.5,
    COIL_OUTLET: 0.35,
    HUMIDITY: 0.5,
    LEAVING: 0.35,
    "return_air_wet_bulb": 0.3,
    "outdoor_unit_power": 0.65,
    "indoor_unit_power": 0.65,
    pairs.CURRENT: 0.6,
}
#: Ports of the high side that are read: the liquid's, the large line's, both.
_PORTS: tuple[tuple[frozenset[str], float], ...] = (
    (frozenset({"liquid_pressure"}), 0.65),
    (frozenset({"discharge_pressure"}), 0.15),
    (frozenset(HIGH_PORTS), 0.20),
)


def made(rng: np.random.Generator) -> frozenset[str]:
    """Names of the optional readings that are not made."""
    missed = {name for name, share in MADE.items() if rng.random() >= share}
    missed -= {"indoor_unit_power"}
    if HUMIDITY not in missed:
        missed.add("return_air_wet_bulb")  # one hygrometer, in one place
    if "outdoor_unit_power" in missed:
        missed.add("indoor_unit_power")
    ports = _PORTS[int(rng.choice(len(_PORTS), p=[share for _, share in _PORTS]))][0]
    return frozenset(missed | (set(HIGH_PORTS) - ports))


def _fahrenheit(t: F) -> float:
    return float(t[0]) * 1.8 + 32.0


def true_readings(r: Result, weather: Weather, strips: float) -> dict[str, float]:
    """The readings of one state without errors (imperial); strips in W heat the supply air."""
    gauge = {
        name: (float(p[0]) - ATMOSPHERE) / PSI
        for name, p in (
            ("suction_pressure", r.p_suction),
            ("liquid_pressure", r.p_liquid),
            ("discharge_pressure", r.p_vapour),
        )
    }
    rise = (r.supply_dry - weather.dry) * (1.0 + strips / r.capacity)
    vapour = weather.outdoor_ratio * ATMOSPHERE / (0.621945 + weather.outdoor_ratio)
    found = gauge | {
        "suction_line_temperature": _fahrenheit(r.t_suction),
        "liquid_line_temperature": _fahrenheit(r.t_liquid),
        "discharge_line_temperature": _fahrenheit(r.discharge),
        "vapour_line_temperature": _fahrenheit(r.vapour_line),
        COIL_OUTLET: _fahrenheit(r.t_coil),
        "return_air_dry_bulb": _fahrenheit(weather.dry),
        "supply_air_dry_bulb": _fahrenheit(weather.dry + rise),
        LEAVING: _fahrenheit(r.leaving),
        "outdoor_air_dry_bulb": _fahrenheit(weather.outdoor),
        "return_air_wet_bulb": _fahrenheit(units.wet_bulb(weather.dry, weather.ratio)),
        HUMIDITY: min(100.0 * float((vapour / pairs.saturation_pressure(weather.outdoor))[0]), 100.0),
        "airflow": float(r.airflow[0]),
        "outdoor_unit_power": float(r.outdoor_power[0]),
        "indoor_unit_power": float(r.blower[0]),
        STRIP_POWER: strips,
        STRIP_CURRENT: strips / float(r.volts[0]),
        "line_voltage": float(r.volts[0]),
        pairs.CURRENT: float(r.current[0]),
    }
    return {name: float(value) for name, value in found.items()}


@dataclass(frozen=True)
class Placement:
    """Where one hand puts the sensors: shares of pipe over air, K."""

    shares: Mapping[str, float]
    discharge: float
    supply: float
    leaving: float
    radiation: float


def draw_placement(rng: np.random.Generator, like: Placement | None = None) -> Placement:
    """Placement at a visit; half of it is the habit of the hand that also made ``like``."""
    new = Placement(
        {name: float(rng.triangular(0.0, 0.0, 0.04)) for name in CLAMPS},
        float(rng.uniform(0.0, 3.0)),
        float(rng.normal(0.0, 0.7)),
        float(rng.normal(0.0, 0.7)),
        float(rng.uniform(0.0, 1.0)),
    )
    if like is None:
        return new
    return Placement(
        {name: 0.5 * (new.shares[name] + like.shares[name]) for name in CLAMPS},
        0.5 * (new.discharge + like.discharge),
        0.7 * (new.supply + like.supply),
        0.7 * (new.leaving + like.leaving),
        0.5 * (new.radiation + like.radiation),
    )


def placed(true: Mapping[str, float], where: Placement) -> dict[str, float]:
    """The readings as perfect instruments would show them at these places (degF)."""
    found, air = dict(true), true["outdoor_air_dry_bulb"]
    for name, share in where.shares.items():
        found[name] -= share * (true[name] - air)
    found["discharge_line_temperature"] -= 1.8 * where.discharge
    found["vapour_line_temperature"] -= 0.9 * where.discharge
    found["supply_air_dry_bulb"] += 1.8 * (where.supply + (where.radiation if true[STRIP_POWER] > 0.0 else 0.0))
    found[LEAVING] += 1.8 * where.leaving
    return found


@dataclass(frozen=True)
class Hand:
    """Who reads: the kit, what its instruments carry (standard deviations), the readings not made."""

    kit: str
    carried: tuple[float, ...]
    missed: frozenset[str]

    @classmethod
    def drawn(cls, rng: np.random.Generator, kit: str) -> Hand:
        """A hand with this kit."""
        return cls(kit, tuple(float(v) for v in rng.standard_normal(len(SENSORS))), made(rng))

    def reads(self, seen: Mapping[str, float], rng: np.random.Generator) -> dict[str, float]:
        """What the instruments show."""
        shown = {}
        for (row, names), shared in zip(SENSORS, self.carried, strict=True):
            calibration, repeatability = accuracy(self.kit, row)
            for name in names:
                error = calibration * shared + repeatability * rng.standard_normal()
                scale = seen[name] / 100.0 if row in RELATIVE else 1.0 if row == "humidity" else 1.8
                size = step(self.kit, row)
                shown[name] = round(round((seen[name] + error * scale) / size) * size, 6)
        shown[HUMIDITY] = min(max(shown[HUMIDITY], 1.0), 100.0)
        shown["return_air_wet_bulb"] = min(shown["return_air_wet_bulb"], shown["return_air_dry_bulb"])
        return {name: value for name, value in shown.items() if name not in self.missed}


# --------------------------------------------------------------------------- draws


def _between(rng: np.random.Generator, low: F | float, high: F | float, count: int) -> F:
    """Factors between low and high, evenly spread in their logarithm."""
    spread: F = np.exp(np.log(low) + (np.log(high) - np.log(low)) * rng.random(count))
    return spread


def deviations(rng: np.random.Generator, count: int, spread: float) -> dict[str, F]:
    """Factors within +- spread on every part."""
    drawn = {x.name: rng.uniform(1.0 - spread, 1.0 + spread, count) for x in fields(Health)}
    return drawn | {"non_condensable": np.ones(count), "valve_leak": np.ones(count), "frost": np.ones(count)}


def multiplied(health: Health, factors: Mapping[str, F]) -> Health:
    """The health with its columns multiplied by the factors."""
    return replace(health, **{name: getattr(health, name) * v for name, v in factors.items()})


def faulted(rng: np.random.Generator, kind: str, f: FieldFluid, unit: Unit, health: Health) -> tuple[Health, F]:
    """The health with a fault, and its level."""
    count = len(unit.tons)
    if kind == "outdoor_airflow":
        part = rng.integers(0, 3, count)  # coil, airflow or both
        coil, air = (_between(rng, *OUTDOOR, count) for _ in range(2))
        coil, air = np.where(part != 1, coil, 1.0), np.where(part != 0, air, 1.0)
        return multiplied(health, {"outdoor_conductance": coil, "outdoor_airflow": air}), coil * air
    if kind == REVERSING:
        leak = _between(rng, *LEAK, count)
        return replace(health, valve_leak=health.valve_leak + leak), leak
    if kind == GAS:
        gas = _between(rng, *GAS_PSI, count)
        return replace(health, non_condensable=1.0 + gas * PSI / f.sat.dew_pressure(unit.tc)), gas
    if kind == FROST:
        frost = _between(rng, *FROST_KG, count)
        return replace(health, frost=frost), frost
    if kind in FACTORS:
        column, valve, tube = FACTORS[kind]
        low, high = (np.where(unit.orifice > 0.5, tube[k], valve[k]) for k in (0, 1))
        factor = _between(rng, low, high, count)
        return multiplied(health, {column: factor}), factor
    return health, np.ones(count)


def draw_weather(
    rng: np.random.Generator, count: int, gap: float, outdoors: Range = (0.0, 62.0)
) -> tuple[Weather, Weather]:
    """Weather of two visits, outdoors within +- gap degF of each other."""
    first = rng.uniform(*outdoors, count)
    second = np.clip(first + rng.uniform(-gap, gap, count), 0.0, 62.0)
    inside = rng.uniform(64.0, 75.0, count)
    later = np.clip(inside + rng.uniform(-4.0, 4.0, count), 62.0, 77.0)
    return _weather(rng, first, inside), _weather(rng, second, later)


def _weather(rng: np.random.Generator, outdoor: F, inside: F) -> Weather:
    count = len(outdoor)
    out, dry = (outdoor - 32.0) / 1.8, (inside - 32.0) / 1.8
    relative = rng.uniform(0.45, 0.98, count)
    # Air in the cold holds no more than over ice.
    ratio = np.minimum(pairs.ratio_from_humidity(out, relative), units.saturated_ratio(out))
    humid = pairs.ratio_from_humidity(dry, rng.uniform(0.22, 0.48, count))
    return Weather(out, ratio, dry, humid, rng.uniform(0.97, 1.03, count))


def minutes_since_defrost(rng: np.random.Generator, weather: Weather) -> F:
    """Minutes since the defrost ended; none (not-a-number) where it is too warm for frost."""
    minutes = np.round(rng.uniform(8.0, 40.0, len(weather.outdoor)))
    return np.where(weather.outdoor < 6.0, minutes, np.nan)


def frosted(f: FieldFluid, unit: Unit, health: Health, weather: Weather, minutes: F) -> tuple[Health, Mask]:
    """The health with the frost that grew since the defrost."""
    r, ok = units.states(f, unit, health, weather)
    grown = np.nan_to_num(r.frosting * 60.0 * minutes) / unit.tons
    return replace(health, frost=np.minimum(np.maximum(grown, 0.0), MOST_FROST)), ok


# --------------------------------------------------------------------------- units and plates


@dataclass(frozen=True)
class Plates(pairs.Columns):
    """What the plates print: Btu/h, 1, Btu/(W h), degF; ``prints_cold`` 1 where 17 degF is printed too."""

    capacity: F
    cop: F
    capacity_low: F
    cop_low: F
    hspf: F
    cooling: F
    eer: F
    subcooling: F
    rated_amps: F
    prints_cold: F


def draw_units(f: FieldFluid, rng: np.random.Generator, refrigerant: str) -> tuple[Unit, Plates, Mask]:
    """Installed units, their plates, and which make sense."""
    orifice = (rng.random(CHUNK) < _ORIFICES[refrigerant]).astype(np.float64)
    unit, fit = units.draw_units(f, CHUNK, rng, orifice)
    sound = Health.sound(CHUNK)
    warm, ok1 = units.states(f, unit, sound, Weather.rating(CHUNK))
    cold, ok2 = units.states(f, unit, sound, Weather.rating(CHUNK, units.COLD_OUTDOOR))
    off = 1.0 + 0.02 * rng.standard_normal((4, CHUNK))
    cop = np.round(warm.cop * off[1], 2)
    with np.errstate(invalid="ignore"):
        share = cold.capacity / warm.capacity
        fit = fit & ok1 & ok2 & (cop > COP_RANGE[0]) & (cop < COP_RANGE[1])
        fit &= (share > COLD_RANGE[0]) & (share < COLD_RANGE[1])
    q = warm.capacity / BTU_PER_HOUR * off[0]
    plates = Plates(
        capacity=np.round(q, -2),
        cop=cop,
        capacity_low=np.round(cold.capacity / BTU_PER_HOUR * off[2], -2),
        cop_low=np.round(cold.cop * off[3], 2),
        hspf=np.round((cop - 0.9099) / 0.3225, 1),
        cooling=np.round(q / 0.98 * rng.uniform(0.95, 1.05, CHUNK) / 500.0) * 500.0,
        eer=np.round(cop * rng.uniform(2.95, 3.35, CHUNK), 1),
        subcooling=np.round(rng.uniform(7.0, 13.0, CHUNK)),
        rated_amps=np.round(warm.current * 1.35, 1),
        prints_cold=(rng.random(CHUNK) < 0.5).astype(np.float64),
    )
    length = np.exp(rng.uniform(np.log(4.0), np.log(25.0), CHUNK))
    return units.installed(unit, length), plates, fit


def plate_of(plates: Plates, unit: Unit, k: int, refrigerant: str) -> dict[str, float | str]:
    """The plate of unit k."""
    found: dict[str, float | str] = {x.name: float(getattr(plates, x.name)[k]) for x in fields(Plates)}
    device = "fixed_orifice" if unit.orifice[k] > 0.5 else "thermostatic_expansion_valve"
    return found | {"refrigerant": refrigerant, "metering_device": device}


# --------------------------------------------------------------------------- visits


@dataclass(frozen=True)
class Run:
    """One run as read: readings (imperial), minutes running, since the defrost, and what was seen."""

    readings: dict[str, float]
    minutes: float
    since_defrost: float | None
    frost_seen: bool | None
    strips_on: bool | None


@dataclass(frozen=True)
class Visit:
    """One visit, the baseline of the same unit when it was sound, and the truth.

    ``faults``: labels of FAULTS.  ``ln_cop``, ``ln_capacity``: over the healthy unit's in the same weather.
    ``truth``: values that follow from readings, imperial.
    """

    label: str
    faults: tuple[str, ...]
    run: Run
    baseline: Run
    plate: dict[str, float | str]
    truth: dict[str, float]
    ln_cop: float
    ln_capacity: float
    level: float
    mistake: str
    kit: str
    outdoor: float

    @property
    def cost(self) -> float:
        """The larger loss of efficiency or capacity, as a logarithm (negative)."""
        return min(self.ln_cop, self.ln_capacity)


def truth_of(
    r: Result, true: Mapping[str, float], strips: float, missed: frozenset[str] = frozenset()
) -> dict[str, float]:
    """The truth of what follows from readings (degF, Btu/h, W, 1).

    The condensing temperature is that of the port which is read: the large line's port is ahead of the coil.
    """
    condensing = r.tc_vapour if "liquid_pressure" in missed else r.tc
    air, inside = true["outdoor_air_dry_bulb"], true["return_air_dry_bulb"]

    def one(value: F) -> float:
        return float(value[0])

    return {
        "superheat": 1.8 * one(r.superheat),
        "coil_superheat": 1.8 * one(r.coil_superheat),
        "subcooling": 1.8 * one(r.subcooling),
        "discharge_temperature": true["discharge_line_temperature"],
        "discharge_superheat": 1.8 * one(r.discharge_superheat),
        "condensing_over_return": 1.8 * one(condensing) + 32.0 - inside,
        "evaporating_under_outdoor": air - (1.8 * one(r.te) + 32.0),
        "vapour_line_over_outdoor": true["vapour_line_temperature"] - air,
        "valve_rise": true["suction_line_temperature"] - true[COIL_OUTLET],
        "outdoor_air_drop": air - true[LEAVING],
        "air_rise": true["supply_air_dry_bulb"] - inside,
        "capacity": one(r.capacity) / BTU_PER_HOUR,
        "capacity_without_blower": one(r.gross) / BTU_PER_HOUR,
        "capacity_at_outdoor_unit": one(r.at_outdoor_unit) / BTU_PER_HOUR,
        "shell_loss": one(r.shell_loss),
        "compressor_power": one(r.compressor_power),
        "total_power": one(r.power),
        "cop": one(r.cop),
        "airflow": true["airflow"],
        "strips": strips,
    }


def _mistake(
    rng: np.random.Generator, true: Mapping[str, float], missed: frozenset[str]
) -> tuple[str, dict[str, float]]:
    """One reading grossly off: a clamp 5 to 12 K, a gauge 6 to 15 %, the outdoor probe 4 to 8 K warm."""
    sort = int(rng.integers(0, 3))
    sign = 1.0 if rng.random() < 0.5 else -1.0
    clamps = [c for c in CLAMPS if c not in missed]
    gauges = [p for p in PRESSURES if p not in missed]
    sizes = rng.uniform(5.0, 12.0), rng.uniform(0.06, 0.15), rng.uniform(4.0, 8.0)
    names = (clamps[int(rng.integers(len(clamps)))], gauges[int(rng.integers(len(gauges)))], "outdoor_air_dry_bulb")
    name = names[sort]
    off = (1.8 * sign * sizes[0], sign * sizes[1] * true[name], 1.8 * sizes[2])[sort]
    return name, {**true, name: true[name] + off}


def _run(
    rng: np.random.Generator,
    hand: Hand,
    seen: Mapping[str, float],
    since: float,
    frost: float,
    strips: str,
) -> Run:
    """What a hand writes down; ``strips``: off, stated, current or hidden."""
    readings = hand.reads(seen, rng)
    power, current = readings.pop(STRIP_POWER), readings.pop(STRIP_CURRENT)
    if strips == "stated":
        readings[STRIP_POWER] = power
    elif strips == "current":
        readings[STRIP_CURRENT] = current
        readings.setdefault("line_voltage", round(seen["line_voltage"]))
    looked = rng.random() < 0.5
    heavy = frost > 0.5
    return Run(
        readings=readings,
        minutes=float(round(rng.uniform(15.0, 40.0))),
        since_defrost=None if np.isnan(since) else float(since),
        frost_seen=heavy if looked and (heavy or frost < 0.15) else None,
        strips_on={"off": False if looked else None, "unknown": True}.get(strips),
    )


def visits(count: int, seed: int, kind: str, each: int = 4) -> list[Visit]:
    """Visits of one of KINDS to units drawn at random, at most ``each`` of a draw.

    The same seed and kind give the same visits; the first are the same whatever the count.
    """
    found: list[Visit] = []
    number = 0
    while len(found) < count:
        if number > 60 + 4 * count:
            raise ValueError(f"too few steady states are found for {kind}")
        rng = np.random.default_rng([seed, zlib.crc32(kind.encode()), number])
        refrigerant = str(rng.choice(REFRIGERANTS, p=_SHARES))
        with np.errstate(all="ignore"):
            found += _visits_of(rng, fluid_of(refrigerant), refrigerant, kind, min(each, count - len(found)))
        number += 1
    return found


def _base(rng: np.random.Generator) -> Health:
    """Healthy units as they are: every part off a little, the reversing valve not quite tight."""
    health = multiplied(Health.sound(CHUNK), deviations(rng, CHUNK, DEVIATION))
    return replace(health, valve_leak=rng.uniform(0.0, 0.004, CHUNK))


@dataclass(frozen=True)
class _Chunk:
    """Units of one refrigerant: weather, minutes since defrost, health and state at the baseline, at the visit as
    if nothing had broken, and at the visit."""

    unit: Unit
    plates: Plates
    weathers: tuple[Weather, Weather, Weather]
    since: tuple[F, F, F]
    healths: tuple[Health, Health, Health]
    states: tuple[Result, Result, Result]
    level: F
    strips: F
    ok: Mask


def _chunk(rng: np.random.Generator, f: FieldFluid, refrigerant: str, kind: str) -> _Chunk:
    """Draw units, weather and faults of one kind, and solve all states of them."""
    unit, plates, ok = draw_units(f, rng, refrigerant)
    base = _base(rng)
    drifted = multiplied(base, deviations(rng, CHUNK, DRIFT))
    now, before = draw_weather(rng, CHUNK, 20.0, (8.0, 41.0) if kind == FROST else (0.0, 62.0))
    since = minutes_since_defrost(rng, now), minutes_since_defrost(rng, before)
    first, ok1 = frosted(f, unit, base, before, since[1])
    sound, ok2 = frosted(f, unit, drifted, now, since[0])
    ill, level = faulted(rng, kind, f, unit, sound)
    states = [units.states(f, unit, h, w) for h, w in ((first, before), (sound, now), (ill, now))]
    ok = ok & ok1 & ok2 & np.logical_and.reduce([o for _, o in states])
    # Off-cycle faults do not leave a unit that trips.
    ok &= states[2][0].p_discharge < SWITCH[refrigerant]
    strips = rng.uniform(*STRIP_WATTS, CHUNK) if kind in (STRIPS, LEFT_ON) else np.zeros(CHUNK)
    return _Chunk(
        unit,
        plates,
        (before, now, now),
        (since[1], since[0], since[0]),
        (first, sound, ill),
        (states[0][0], states[1][0], states[2][0]),
        level,
        strips,
        ok,
    )


def _visit(rng: np.random.Generator, c: _Chunk, k: int, refrigerant: str, kind: str) -> Visit:
    """Visit k of the chunk, as read."""
    one = slice(k, k + 1)
    hand = Hand.drawn(rng, ("good", "ordinary")[int(rng.random() < 0.6)])
    r0, rs, r = (s.take(one) for s in c.states)
    before, _, now = (w.take(one) for w in c.weathers)
    watts = float(c.strips[k])
    true0, true = true_readings(r0, before, 0.0), true_readings(r, now, watts)
    where0 = draw_placement(rng)
    seen = placed(true, draw_placement(rng, where0))
    mistake = ""
    if kind == MISTAKE:
        mistake, seen = _mistake(rng, seen, hand.missed)
    stated = {LEFT_ON: "hidden", STRIPS: ("stated", "current", "unknown")[int(rng.integers(0, 3))]}
    cop = (r.capacity + watts) / (r.power + watts) if kind == LEFT_ON else r.cop
    since, frost = ([float(values[k]) for values in part] for part in (c.since, [h.frost for h in c.healths]))
    return Visit(
        label=kind,
        faults=(MISTAKE,) if mistake else (kind,) if kind in FAULTS else (),
        run=_run(rng, hand, seen, since[2], frost[2], stated.get(kind, "off")),
        baseline=_run(rng, hand, placed(true0, where0), since[0], frost[0], "off"),
        plate=plate_of(c.plates, c.unit, k, refrigerant),
        truth=truth_of(r, true, watts, hand.missed),
        ln_cop=float(np.log(cop / rs.cop)[0]),
        ln_capacity=float(np.log(r.capacity / rs.capacity)[0]),
        level=watts if watts else float(c.level[k]),
        mistake=mistake,
        kit=hand.kit,
        outdoor=true["outdoor_air_dry_bulb"],
    )


def _visits_of(rng: np.random.Generator, f: FieldFluid, refrigerant: str, kind: str, most: int) -> list[Visit]:
    c = _chunk(rng, f, refrigerant, kind)
    return [_visit(rng, c, int(k), refrigerant, kind) for k in np.flatnonzero(c.ok)[:most]]


# --------------------------------------------------------------------------- two runs

UNCHANGED = "unchanged"
STILL_FAULTY = "still_faulty"
REPAIRED = "repaired"
CLEANED = "cleaned"
PAIR_KINDS = (UNCHANGED, STILL_FAULTY, REPAIRED, CLEANED)
#: What a repair is of, and what a cleaning.
_REPAIRS = ("low_charge", "overcharge", "compressor_leakage", REVERSING, GAS, "liquid_line_restriction")
_CLEANED = ("outdoor_airflow", "indoor_airflow")


@dataclass(frozen=True)
class Pair:
    """Two runs of one unit; ``ln_cop``, ``ln_capacity`` are of the change, in the weather and frost of the first."""

    label: str
    fault: str
    before: Run
    after: Run
    plate: dict[str, float | str]
    ln_cop: float
    ln_capacity: float
    level: float
    kit: str
    outdoor: tuple[float, float]


def changed_pairs(count: int, seed: int, kind: str, each: int = 3) -> list[Pair]:
    """Pairs of runs of units drawn at random, outdoors within 9 degF."""
    found: list[Pair] = []
    number = 0
    while len(found) < count:
        if number > 60 + 4 * count:
            raise ValueError(f"too few steady states are found for {kind}")
        rng = np.random.default_rng([seed, zlib.crc32(kind.encode()), 1, number])
        refrigerant = str(rng.choice(REFRIGERANTS, p=_SHARES))
        with np.errstate(all="ignore"):
            most = min(each, count - len(found))
            found += _pairs_of(rng, fluid_of(refrigerant), refrigerant, kind, _fault_of(kind, seed + number), most)
        number += 1
    return found


def _fault_of(kind: str, turn: int) -> str:
    """The fault of a draw of pairs: each in its turn."""
    names = _CLEANED if kind == CLEANED else _REPAIRS if kind == REPAIRED else (*_REPAIRS, *_CLEANED)
    return NO_FAULT if kind == UNCHANGED else names[turn % len(names)]


def _pairs_of(
    rng: np.random.Generator, f: FieldFluid, refrigerant: str, kind: str, fault: str, most: int
) -> list[Pair]:
    unit, plates, ok = draw_units(f, rng, refrigerant)
    base = _base(rng)
    weathers = draw_weather(rng, CHUNK, 9.0)
    since = [minutes_since_defrost(rng, w) for w in weathers]
    frosts = [frosted(f, unit, base, w, s) for w, s in zip(weathers, since, strict=True)]
    ill, level = faulted(rng, fault, f, unit, base)
    healths = [ill, base if kind in (REPAIRED, CLEANED) else ill]
    asked = [
        (replace(healths[0], frost=frosts[0][0].frost), weathers[0]),
        (replace(healths[1], frost=frosts[1][0].frost), weathers[1]),
        (replace(healths[1], frost=frosts[0][0].frost), weathers[0]),
    ]
    states = [units.states(f, unit, *a) for a in asked]
    ok = ok & np.logical_and.reduce([o for _, o in (*frosts, *states)])
    ok &= states[0][0].p_discharge < SWITCH[refrigerant]
    found = []
    for k in np.flatnonzero(ok)[:most]:
        one = slice(int(k), int(k) + 1)
        hand = Hand.drawn(rng, ("good", "ordinary", "poor")[int(rng.integers(3))])
        results = [s.take(one) for s, _ in states]
        where: Placement | None = None
        runs = []
        for i in (0, 1):
            true = true_readings(results[i], weathers[i].take(one), 0.0)
            where = draw_placement(rng, where)
            runs.append(_run(rng, hand, placed(true, where), float(since[i][k]), float(frosts[i][0].frost[k]), "off"))
        found.append(
            Pair(
                label=kind,
                fault=fault,
                before=runs[0],
                after=runs[1],
                plate=plate_of(plates, unit, int(k), refrigerant),
                ln_cop=float(np.log(results[2].cop / results[0].cop)[0]),
                ln_capacity=float(np.log(results[2].capacity / results[0].capacity)[0]),
                level=float(level[k]),
                kit=hand.kit,
                outdoor=(
                    float(weathers[0].outdoor[k]) * 1.8 + 32.0,
                    float(weathers[1].outdoor[k]) * 1.8 + 32.0,
                ),
            )
        )
    return found
