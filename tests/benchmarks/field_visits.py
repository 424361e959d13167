"""Visits as a technician's day brings them: honest nameplates, severe faults, stages, placement.

Units, lines and coils are those of ``simulated_pairs``, faults of usual size those of
``simulated_visits``; none of it shares a line with the service.  What is new:

* Units of 9 to 20 SEER: an efficient unit has larger coils (evaporating higher, condensing lower
  over outdoor air), a better compressor and smaller fans.  The nameplate follows from the
  simulator's own states: EER at test A (95 degF), SEER = EER_B (1 - C_D / 2) at test B (82 degF) of
  a single-speed unit, the bin method of two speeds of a staged one (AHRI 210/240; bins of hours from
  memory).  SEER2 and EER2 are 0.955 and 0.96 of them (higher static pressure; from memory).
* Severe faults: nearly all charge gone (down to a tenth), compressor flow down to a tenth, outdoor
  fan stopped, indoor airflow down to a quarter.  They are reached by continuation from the sound
  state.  Without liquid before the metering device that fails from about 0.4 of the charge;
  ``starved`` takes over there.
* Stages: a two-stage unit in low stage (smaller displacement; 0.72 of the capacity at 0.63 of the
  power, less air) and variable-speed units at 25 to 100 % speed, sound.
* A start-up transient of two exponentials left in the readings, by the stated running time.
* Placement: a clamp reads a share of the way to the air, a discharge clamp a few kelvins low, the
  thermometers in the supply air and in the condenser's air are off by their place.  The suction
  line gains heat with its length.
* Weather: a quarter of the houses at 68 to 72 degF, a fifth with dry air.

The outdoor fan stopped: natural convection leaves 5 to 15 % of the airflow, and what the metal
still takes up acts as some more for a while.  A factor of 0.07 to 0.30 stands for both; states over
``SWITCH`` are left out, as the high-pressure switch has opened.

Readings are imperial; levels are factors.  ``truth`` is of the steady state (capacity, EER), or of
the true readings at that minute (superheat, subcooling and the like).
"""

from __future__ import annotations

import zlib
from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from functools import lru_cache
from typing import ClassVar

import CoolProp
import numpy as np
from CoolProp.CoolProp import AbstractState
from numpy.typing import NDArray

from tests.benchmarks import simulated_pairs as pairs
from tests.benchmarks import simulated_visits as usual
from tests.benchmarks.simulated_pairs import (
    BTU_PER_HOUR,
    CFM,
    FLUIDS,
    ZERO,
    F,
    Fluid,
    Health,
    LowSide,
    Result,
    Unit,
    Weather,
)

Mask = NDArray[np.bool_]

NO_FAULT = usual.NO_FAULT
MISTAKE = usual.MISTAKE
SEVERE_CHARGE = "severe_low_charge"
SEVERE_COMPRESSOR = "severe_compressor"
SEVERE_FAN = "severe_outdoor_fan"
SEVERE_AIRFLOW = "severe_indoor_airflow"
TWO_STAGE = "two_stage_low"
VARIABLE = "variable_speed"
EVERYDAY = "everyday_weather"
#: Severe kinds: the fault in the service's contract, column of Health, range of its factor.
SEVERE: Mapping[str, tuple[str, str, tuple[float, float]]] = {
    SEVERE_CHARGE: ("low_charge", "charge", (0.10, 0.60)),
    SEVERE_COMPRESSOR: ("compressor_leakage", "compressor_volumetric", (0.10, 0.50)),
    SEVERE_FAN: ("condenser_heat_transfer", "condenser_airflow", (0.07, 0.30)),
    SEVERE_AIRFLOW: ("evaporator_airflow", "evaporator_airflow", (0.25, 0.45)),
}
STAGED = (TWO_STAGE, VARIABLE)
#: Kinds without a fault of the unit.
SOUND = (NO_FAULT, EVERYDAY, *STAGED)
KINDS = (NO_FAULT, EVERYDAY, *usual.FAULTS, usual.DOUBLE, *SEVERE, *STAGED, MISTAKE)

CHUNK = 16
#: Steps in which a severe factor is approached.
CONTINUATION = 10
WIDE = pairs.Bounds(
    te=-45.0,
    te_under_air=1.0,
    tc_over_air=0.3,
    superheat=-130.0,
    approach=0.9995,
    subcooling=-60.0,
    flow=-3.5,
)
#: degC in the line; scroll compressors' protectors open somewhat over it.
HOTTEST = 170.0
#: Pa absolute at which high-pressure switches open: 435 psig, 640 psig; common practice, no source.
SWITCH: Mapping[str, float] = {"R-22": 31.0e5, "R-410A": 45.1e5, "R-32": 45.1e5}
RATED_RANGE = (8.6, 17.0)  # EER at test A
LEAVING = "condenser_leaving_air_dry_bulb"
FAN_CURRENT = "outdoor_fan_current"


# --------------------------------------------------------------------------- refrigerant


class FieldFluid(Fluid):
    """Tables from -65 degC to 225 K of superheat; compression of wet gas is followed into the dome."""

    HEAT: ClassVar[F] = np.concatenate([np.linspace(0.0, 20.0, 9), np.linspace(25.0, 225.0, 41)])

    def __init__(self, name: str) -> None:
        self.state = AbstractState("HEOS", FLUIDS[name])
        top = 0.93 * self._critical_pressure(FLUIDS[name])
        self.state.update(CoolProp.QT_INPUTS, 1.0, ZERO - 65.0)
        lnp = np.linspace(np.log(self.state.p()), np.log(top), 60)
        self.sat = self._saturation(lnp)
        self._vapour(lnp)

    def isentropic_h(self, p: F, entropy: F) -> F:
        """Enthalpy at (p, s); within the dome dh = T ds."""
        wet = np.minimum(entropy - self.sat.at(self.sat.sg, p), 0.0)
        found: F = super().isentropic_h(p, entropy) + (self.sat.at(self.sat.dew, p) + ZERO) * wet
        return found


@lru_cache(maxsize=4)
def fluid_of(name: str) -> FieldFluid:
    """The tables of a refrigerant, built once."""
    return FieldFluid(name)


# --------------------------------------------------------------------------- units


@dataclass(frozen=True)
class Plates:
    """What the plates print: Btu/h, Btu/(W h); ``degradation`` is C_D."""

    capacity: F
    eer: F
    seer: F
    degradation: F
    fan_amps: F
    rated_amps: F


def draw_units(
    f: Fluid, rng: np.random.Generator, count: int, orifice: F, grade: tuple[float, float]
) -> tuple[Unit, F, Mask]:
    """Units, their grade of efficiency (0 about 9.5 SEER, 1 about 19), and which are sensible."""
    draw = pairs.draws(rng, count)
    free = pairs.free_parameters(draw)
    g = draw(*grade)
    free["te"] = 5.0 + 6.0 * g + draw(-1.2, 1.2)
    free["tc"] = 51.5 - 9.0 * g + draw(-1.5, 1.5)
    # The air bounds the subcooling of a large condenser.
    free["subcooling"] = np.minimum(free["subcooling"], 0.65 * (free["tc"] - 35.0))
    # Flatter than in ``simulated_pairs``: a scroll keeps two thirds of its efficiency at a ratio of 10.
    free["efficiency_bend"] = draw(0.12, 0.32)
    free["efficiency"] = 0.63 + 0.10 * g + draw(-0.025, 0.025)
    pairs.scaled_parameters(draw, free, f)
    free["fan"] = free["tons"] * (75.0 - 35.0 * g + draw(-12.0, 12.0))
    free["blower"] = free["cfm_per_ton"] * free["tons"] * (0.46 - 0.2 * g + draw(-0.06, 0.06))
    free["orifice"] = orifice
    rest = {x.name: np.ones(count) for x in fields(Unit) if x.name not in free}
    unit, fit = pairs.designed(f, Unit(**free, **rest))
    return unit, g, fit


def installed(unit: Unit, rng: np.random.Generator) -> Unit:
    """The unit with the line set of its house, 4 to 30 m; the test room's is 7.6 m long.

    Heat gain of an insulated suction line 0.15 to 0.35 W/(K m); pressure drops go with the length.
    """
    length = np.exp(rng.uniform(np.log(4.0), np.log(30.0), len(unit.tons)))
    share = 0.4 + 0.6 * length / 7.6  # a part of the drop is in fittings and valves
    return replace(
        unit,
        suction_gain=length * rng.uniform(0.15, 0.35, len(length)),
        drop_suction=unit.drop_suction * share,
        drop_liquid=unit.drop_liquid * share,
    )


def staged(unit: Unit, speed: F, air: F, fan: F) -> tuple[Unit, Health]:
    """The unit at a share of its displacement, with that share of both airflows.

    Displacement and design torque fall alike, motors of fans by the cube of the flow or nearly.
    """
    count = len(speed)
    power = np.full(count, 2.6)
    part = replace(
        unit,
        displacement=unit.displacement * speed,
        work=unit.work * speed,
        blower_flow_exponent=power,
        fan_flow_exponent=power,
    )
    return part, replace(Health.sound(count), evaporator_airflow=air, condenser_airflow=fan)


def _tested(f: Fluid, unit: Unit, health: Health) -> tuple[Result, Result, Mask]:
    """States at tests A and B: 35 and 27.8 degC outdoors, 26.7 / 19.4 degC indoors."""
    rating = Weather.rating(len(unit.tons))
    a, found_a = reached(f, unit, health, rating)
    b, found_b = reached(f, unit, health, replace(rating, outdoor=np.full(len(unit.tons), 27.8)))
    return a, b, found_a & found_b


#: Share of the cooling hours in bins of 67, 72 ... 102 degF; AHRI 210/240, value from memory.
BINS = (0.214, 0.231, 0.216, 0.161, 0.104, 0.052, 0.018, 0.004)


def seasonal(full: tuple[Result, Result], low: tuple[Result, Result], degradation: F) -> F:
    """SEER of a two-speed unit by the bin method: test A and B at each speed (Btu/(W h)).

    The building's load is nothing at 65 degF and full capacity at 95 degF over 1.1.
    """
    cooling, energy = np.zeros_like(degradation), np.zeros_like(degradation)
    for k, hours in enumerate(BINS):
        outdoor = 67.0 + 5.0 * k

        def at(pair: tuple[Result, Result], name: str, t: float = outdoor) -> F:
            a, b = (getattr(r, name) for r in pair)
            line: F = a + (a - b) / 13.0 * (t - 95.0)
            return line

        load = (outdoor - 65.0) / 30.0 * full[0].capacity / 1.1
        q1, q2, e1, e2 = (at(p, n) for n in ("capacity", "power") for p in (low, full))
        part = np.minimum(load / q1, 1.0)
        cycling = part * e1 / (1.0 - degradation * (1.0 - part))
        share = np.clip((load - q1) / np.maximum(q2 - q1, 1.0), 0.0, 1.0)
        cooling += hours * np.minimum(load, q2)
        energy += hours * np.where(load < q1, cycling, e1 + share * (e2 - e1))
    found: F = cooling / energy / BTU_PER_HOUR
    return found


def plates(f: Fluid, unit: Unit, g: F, kind: str, rng: np.random.Generator) -> tuple[Plates, Mask]:
    """The nameplates, and which of the units make sense."""
    count = len(g)
    degradation = np.clip(0.20 - 0.12 * g + rng.uniform(-0.04, 0.04, count), 0.02, 0.25)
    a, b, ok = _tested(f, unit, Health.sound(count))
    seer = b.eer * (1.0 - 0.5 * degradation)
    if kind in STAGED:
        share = np.full(count, 0.68 if kind == TWO_STAGE else 0.4)
        low = staged(unit, share, 0.3 + 0.7 * share, 0.4 + 0.6 * share)
        c, d, found = _tested(f, *low)
        seer, ok = seasonal((a, b), (c, d), degradation), ok & found
    fan_amps = unit.fan / (230.0 * 0.9)
    with np.errstate(invalid="ignore"):
        ok = ok & (a.eer > RATED_RANGE[0]) & (a.eer < RATED_RANGE[1])
        ok &= (a.sensible > 0.60) & (a.sensible < 0.90)
    return Plates(a.capacity, a.eer, seer, degradation, fan_amps, a.current * 1.15), ok


# --------------------------------------------------------------------------- states


def reached(f: Fluid, unit: Unit, health: Health, weather: Weather, severe: bool = False) -> tuple[Result, Mask]:
    """Steady states, by continuation from the sound unit where the factors are severe."""
    if not severe:
        x, ok = pairs.solved(f, unit, health, weather, bounds=WIDE)
    else:
        x, ok = _continued(f, unit, health, weather)
    with np.errstate(all="ignore"):
        r = pairs.result(f, unit, health, weather, x)
        ok &= (r.gross > 0) & (r.discharge < HOTTEST) & np.isfinite(r.eer) & (r.superheat > -5.0)
    return r, ok


def _continued(f: Fluid, u: Unit, health: Health, weather: Weather) -> tuple[F, Mask]:
    """From the sound unit to the whole factors; a unit that is lost on the way is lost."""
    x, ok = pairs.solved(f, u, Health.sound(len(u.tons)), weather, bounds=WIDE)
    for step in range(1, CONTINUATION + 1):
        live = np.flatnonzero(ok)
        if not len(live):
            break
        share = step / CONTINUATION
        between = Health(**{n.name: getattr(health, n.name)[live] ** share for n in fields(Health)})
        x[live], ok[live] = pairs.solved(f, u.take(live), between, weather.take(live), start=x[live], bounds=WIDE)
    return x, ok


def starved(f: Fluid, u: Unit, health: Health, weather: Weather) -> tuple[Result, Mask]:
    """Steady states without liquid before the metering device, down to a system full of gas.

    One number s orders the states of a unit: up to 1 it is the quality at the condenser's outlet,
    with the condensing temperature from the condenser's heat balance; over 1 nothing condenses, gas
    leaves at outdoor temperature, and pressure falls under saturation at outdoor air.  At each s the
    evaporating pressure balances compressor and device (whose pressure drop is choked at half the
    inlet pressure for gas), and s is where the refrigerant in the unit is what is left of the charge.
    What is held jumps a little where the last liquid goes: a charge within the jump is not found.
    """
    count = len(u.tons)
    low, high = np.zeros(count), np.full(count, 2.8)
    tc = weather.outdoor + 4.0
    first = _starved_at(f, u, health, weather, low, tc)[1]
    for _ in range(18):
        s = 0.5 * (low + high)
        _, held, tc = _starved_at(f, u, health, weather, s, tc)
        over = held > u.charge * health.charge
        low, high = np.where(over, s, low), np.where(over, high, s)
    r, held, _ = _starved_at(f, u, health, weather, 0.5 * (low + high), tc, rounds=10)
    wanted = u.charge * health.charge
    ok = (first > wanted) & (np.abs(held / wanted - 1.0) < 0.02)
    ok &= (r.gross > 0) & (r.discharge < HOTTEST) & np.isfinite(r.eer) & (r.p_suction > 0.15e5)
    return r, ok


@dataclass(frozen=True)
class _Gas:
    """Compressor and evaporator at a trial evaporating pressure."""

    low: LowSide
    comp: pairs.Compressor
    boiling: F  # share of the coil
    warmth: F  # degC at the coil's outlet
    supply: F
    ratio: F
    sensible: F


def _evaporator_air(u: Unit, health: Health, weather: Weather) -> tuple[F, F]:
    """Humidity ratio and flow (kg/s) of the air through the evaporator."""
    w = pairs.ratio_from_wet_bulb(weather.dry, weather.wet)
    air = u.cfm_per_ton * u.tons * CFM * health.evaporator_airflow
    return w, air * pairs.air_density(weather.dry, w)


@dataclass(frozen=True)
class _Coil:
    """Evaporator at a trial flow: share that boils, air behind that share, what enters the rest, its outlet."""

    boiling: F
    dry: F
    ratio: F
    entering: F
    warmth: F
    h_outlet: F
    rho_outlet: F
    specific_heat: F


def _coil(f: Fluid, u: Unit, health: Health, weather: Weather, p_e: F, h4: F, m: F) -> _Coil:
    """The evaporator at a pressure, an inlet enthalpy and a flow."""
    sat = f.sat
    w, air = _evaporator_air(u, health, weather)
    outer = health.evaporator_airflow**u.evap_air_exponent
    scale = u.evap_conductance * health.evaporator_conductance
    te, hg = sat.at(sat.dew, p_e), sat.at(sat.hg, p_e)
    inner = np.exp(-u.evap_ref_exponent * np.log(m / u.flow))
    heat, dry, ratio = pairs.coil_air(weather.dry, w, te, air, scale * outer, scale / (u.evap_ref_ratio * inner))
    boiling = np.clip(m * np.maximum(hg - h4, 0.0) / np.maximum(heat, 1.0), 0.0, 0.98)
    vapour = scale / (1.0 / outer + u.evap_vapour_ratio * inner)
    entering = np.maximum(h4, hg)
    t_in = f.vapour(p_e, entering)[0]
    cp = sat.at(sat.cpg, p_e)
    units = np.minimum((1.0 - boiling) * vapour / (m * cp), 12.0)
    t1 = weather.dry - (weather.dry - t_in) * np.exp(-units)
    h1 = f.superheated_h(p_e, t1 - te)
    return _Coil(boiling, dry, ratio, entering, t1, h1, f.vapour(p_e, h1)[1], cp)


def _suction_line(f: Fluid, u: Unit, weather: Weather, coil: _Coil, p_e: F, m: F) -> LowSide:
    """From the coil's outlet to the compressor at a flow."""
    push = (m / u.flow) ** 1.8 * u.suction_density / coil.rho_outlet
    p_s = np.maximum(p_e - u.drop_suction * push, 0.3 * p_e)
    gain = np.exp(-np.minimum(u.suction_gain / (m * coil.specific_heat), 12.0))
    t_s = weather.outdoor - (weather.outdoor - coil.warmth) * gain
    h_s = f.superheated_h(p_s, t_s - f.sat.at(f.sat.dew, p_s))
    t_s, rho_s, entropy = f.vapour(p_s, h_s)
    return LowSide(p_e, p_e, coil.h_outlet, coil.rho_outlet, p_s, h_s, t_s, rho_s, entropy)


def _gas(f: Fluid, u: Unit, health: Health, weather: Weather, p_e: F, p_c: F, h4: F) -> _Gas:
    """The low side and the compressor at these pressures, by a few passes over the flow."""
    m = 0.3 * u.flow
    for _ in range(3):
        coil = _coil(f, u, health, weather, p_e, h4, m)
        low = _suction_line(f, u, weather, coil, p_e, m)
        comp = pairs.compressor(f, u, health, weather, low, p_c * 1.01)
        m = np.maximum(comp.flow, 1e-5)
    w, air = _evaporator_air(u, health, weather)
    boiling = coil.boiling
    cp_air = 1006.0 + 1860.0 * w
    warm = m * (coil.h_outlet - coil.entering)
    after = boiling * coil.dry + (1.0 - boiling) * weather.dry - warm / (air * cp_air)
    moisture = boiling * coil.ratio + (1.0 - boiling) * w
    return _Gas(low, comp, boiling, coil.warmth, after, moisture, air * cp_air * (weather.dry - after))


@dataclass(frozen=True)
class _Inlet:
    """Refrigerant ahead of the metering device in a trial state: pressure, enthalpy, quality (1 where nothing
    condenses), where any liquid is left, densities of liquid and gas."""

    pressure: F
    enthalpy: F
    quality: F
    wet: Mask
    rl: F
    rg: F


def _inlet(f: Fluid, ta: F, s: F, tc: F) -> _Inlet:
    """The inlet at s, outdoor temperature and condensing temperature (degC)."""
    sat, wet, quality = f.sat, s <= 1.0, np.minimum(s, 1.0)
    p_c = np.where(wet, sat.dew_pressure(tc), sat.dew_pressure(ta + 0.3) * np.exp(-1.4 * (s - 1.0)))
    hl, hg = sat.at(sat.hl, p_c), sat.at(sat.hg, p_c)
    warm = f.superheated_h(p_c, np.maximum(ta + 0.3 - sat.at(sat.dew, p_c), 0.0))
    h3 = np.where(wet, hl + quality * (hg - hl), warm)
    return _Inlet(p_c, h3, quality, wet, sat.at(sat.rl, p_c), f.vapour(p_c, np.maximum(h3, hg))[1])


def _fed(f: Fluid, u: Unit, health: Health, weather: Weather, inlet: _Inlet) -> _Gas:
    """The low side at the evaporating pressure at which the device feeds what the compressor pumps."""
    sat, p_c, quality = f.sat, inlet.pressure, inlet.quality
    slip = np.where(inlet.wet, u.flash_slip, 1.0)
    rho = inlet.rl / (1.0 + slip * quality * (inlet.rl / inlet.rg - 1.0))
    rho = np.where(inlet.wet, rho, inlet.rg)
    opening = np.minimum(health.device_flow, np.where(u.orifice > 0.5, np.inf, 1.0))
    bottom = np.full(len(p_c), np.log(1.02 * np.exp(sat.lnp[0])))
    top = np.log(np.minimum(sat.dew_pressure(weather.dry - 1.0), 0.95 * p_c))
    for _ in range(16):
        p_e = np.exp(0.5 * (bottom + top))
        gas = _gas(f, u, health, weather, p_e, p_c, inlet.enthalpy)
        drop = np.minimum(p_c - p_e, (1.0 - 0.5 * quality) * p_c)
        fed = u.valve * np.sqrt(rho * drop) * opening
        starve = fed > gas.comp.flow
        bottom, top = np.where(starve, np.log(p_e), bottom), np.where(starve, top, np.log(p_e))
    return gas


def _balanced(u: Unit, health: Health, ta: F, gas: _Gas, inlet: _Inlet) -> F:
    """Condensing temperature (degC) at which the condenser passes what is rejected."""
    air = u.cond_air * health.condenser_airflow * (308.15 / (ta + ZERO))
    outer = (air / u.cond_air) ** -u.cond_air_exponent
    m = gas.comp.flow
    inner = np.exp(-u.cond_ref_exponent * np.log(np.maximum(m / u.flow, 1e-3)))
    whole = u.cond_conductance * health.condenser_conductance / (outer + u.cond_ref_ratio * inner)
    rejected = m * (gas.comp.h_discharge - inlet.enthalpy)
    found: F = ta + np.maximum(rejected, 0.0) / (air * -np.expm1(-whole / air))
    return found


def _starved_at(
    f: Fluid, u: Unit, health: Health, weather: Weather, s: F, tc: F, rounds: int = 4
) -> tuple[Result, F, F]:
    """The state at s, the refrigerant it holds (kg) and its condensing temperature (degC)."""
    ta = weather.outdoor
    for _ in range(rounds):
        inlet = _inlet(f, ta, s, tc)
        gas = _fed(f, u, health, weather, inlet)
        closer = np.minimum(_balanced(u, health, ta, gas, inlet), f.sat.dew[-1] - 1.0)
        tc = np.where(inlet.wet, 0.4 * tc + 0.6 * closer, tc)
    return _starved_result(f, u, health, weather, gas, inlet), _starved_charge(f, u, gas, inlet), tc


def _starved_charge(f: Fluid, u: Unit, gas: _Gas, ahead: _Inlet) -> F:
    """Refrigerant in the unit (kg), zone by zone as in ``simulated_pairs``."""
    sat, low = f.sat, gas.low
    h3, quality, rl, rg = ahead.enthalpy, ahead.quality, ahead.rl, ahead.rg
    dense = sat.at(sat.rg, ahead.pressure)
    hot = gas.comp.h_discharge - sat.at(sat.hg, ahead.pressure)
    first = np.clip(hot / np.maximum(gas.comp.h_discharge - h3, 1.0) * 0.5, 0.0, 1.0)
    void = pairs.mean_void(dense, rl, quality, np.ones_like(rl))
    two_phase = void * dense + (1.0 - void) * rl
    condenser = np.where(ahead.wet, first * 0.85 * dense + (1.0 - first) * two_phase, 0.93 * rg)
    line = np.where(ahead.wet, rl / (1.0 + quality * (rl / rg - 1.0) * 0.6), rg)
    p_e = low.p_evaporator
    eg, el = sat.at(sat.rg, p_e), sat.at(sat.rl, p_e)
    latent = sat.at(sat.hg, p_e) - sat.at(sat.hl, p_e)
    inlet = np.clip((h3 - sat.at(sat.hl, p_e)) / latent, 0.01, 1.0)
    space = pairs.mean_void(eg, el, np.minimum(inlet, 0.999), np.ones_like(eg))
    cold = gas.boiling * (space * eg + (1.0 - space) * el) + (1.0 - gas.boiling) * low.rho_outlet
    found: F = (
        u.cond_volume * condenser + u.liquid_volume * line + u.evap_volume * cold + u.vapour_volume * low.rho_suction
    )
    return found


def _starved_result(
    f: Fluid,
    u: Unit,
    health: Health,
    weather: Weather,
    gas: _Gas,
    ahead: _Inlet,
) -> Result:
    """What such a state amounts to, as ``simulated_pairs.result``."""
    sat, low, comp = f.sat, gas.low, gas.comp
    fan = u.fan * health.condenser_airflow**u.fan_flow_exponent
    blower = u.blower * health.evaporator_airflow**u.blower_flow_exponent
    w, air = _evaporator_air(u, health, weather)
    supply = gas.supply + blower / (air * (1006.0 + 1860.0 * w))
    factor = np.clip(
        u.power_factor + u.power_factor_slope * (comp.power / u.work - 1.0) - 0.6 * (weather.voltage - 1.0),
        0.6,
        0.995,
    )
    gross = comp.flow * (low.h_outlet - ahead.enthalpy)
    total = comp.power + fan + blower
    bubble, dew = sat.at(sat.bubble, ahead.pressure), sat.at(sat.dew, low.p_suction)
    t_liquid = np.where(ahead.wet, bubble, weather.outdoor + 0.3)
    volts = 230.0 * weather.voltage
    net = gross - blower
    return Result(
        te=dew,
        tc=bubble,
        superheat=low.t_suction - dew,
        subcooling=bubble - t_liquid,
        discharge=comp.t_discharge,
        flow=comp.flow,
        gross=gross,
        capacity=net,
        sensible=(gas.sensible - blower) / net,
        power=total,
        eer=net / total / BTU_PER_HOUR,
        outdoor_power=comp.power + fan,
        blower=blower,
        current=comp.power / (volts * factor),
        supply_dry=supply,
        supply_wet=pairs.wet_bulb(supply, np.minimum(gas.ratio, w)),
        p_suction=low.p_suction,
        p_liquid=ahead.pressure,
        t_suction=low.t_suction,
        t_liquid=t_liquid,
        airflow=u.cfm_per_ton * u.tons * health.evaporator_airflow,
        volts=volts,
    )


def visited(f: Fluid, u: Unit, health: Health, weather: Weather, kind: str) -> tuple[Result, Mask]:
    """The states of a visit: solved plainly, by continuation, or without liquid before the device."""
    severe = kind in SEVERE
    r, ok = reached(f, u, health, weather, severe)
    if kind != SEVERE_CHARGE:
        return r, ok
    lost = np.flatnonzero(~ok)
    if not len(lost):
        return r, ok
    with np.errstate(all="ignore"):
        gas, found = starved(f, u.take(lost), health.take(lost), weather.take(lost))
    merged = {x.name: np.array(getattr(r, x.name)) for x in fields(Result)}
    for name, column in merged.items():
        column[lost] = getattr(gas, name)
    ok[lost] = found
    return Result(**merged), ok


# --------------------------------------------------------------------------- readings

#: Probability that a technician makes the reading; those not named are always made.
MADE: Mapping[str, float] = {
    "airflow": 0.5,
    "discharge_line_temperature": 0.7,
    "supply_air_wet_bulb": 0.7,
    "outdoor_unit_power": 0.6,
    "indoor_unit_power": 0.6,
    LEAVING: 0.5,
    FAN_CURRENT: 0.35,
}
TOGETHER = (("outdoor_unit_power", "indoor_unit_power"),)


@dataclass(frozen=True)
class Transient:
    """What a start leaves: residual = a exp(-t/fast) + (1 - a) exp(-t/slow); steps in K or shares."""

    share: float
    fast: float
    slow: float
    steps: Mapping[str, float]

    def left(self, minutes: float) -> float:
        """What is left of a step (share) after so many minutes."""
        fast, slow = np.exp(-minutes / self.fast), np.exp(-minutes / self.slow)
        return float(self.share * fast + (1.0 - self.share) * slow)


def draw_transient(rng: np.random.Generator, valve: bool) -> Transient:
    """Time constants of 0.7 to 1.5 and 3 to 7 minutes; sizes are common practice, no source."""
    steps = {
        "te": rng.uniform(-6.0, 2.0),
        "tc": rng.uniform(-8.0, -2.0),
        "superheat": rng.uniform(1.0, 6.0) if valve else rng.uniform(4.0, 12.0),
        "subcooling": rng.uniform(-6.0, 0.0),
        "discharge": rng.uniform(-35.0, -12.0),
        "supply": rng.uniform(2.0, 7.0),
        "power": rng.uniform(-0.08, 0.0),
    }
    return Transient(rng.uniform(0.6, 0.8), rng.uniform(0.7, 1.5), rng.uniform(3.0, 7.0), steps)


def settling(f: Fluid, r: Result, weather: Weather, start: Transient, minutes: float) -> Result:
    """The state so many minutes after the start."""
    left = start.left(minutes)

    def step(name: str) -> float:
        return start.steps[name] * left

    sat, te = f.sat, r.te + step("te")
    p_liquid = r.p_liquid * sat.dew_pressure(r.tc + step("tc")) / sat.dew_pressure(r.tc)
    warmest = np.maximum(np.maximum(weather.dry, weather.outdoor), r.t_suction)
    t_liquid = sat.at(sat.bubble, p_liquid) - np.maximum(r.subcooling + step("subcooling"), 0.0)
    supply = np.minimum(r.supply_dry + step("supply"), np.maximum(weather.dry, r.supply_dry))
    return replace(
        r,
        te=te,
        tc=sat.at(sat.bubble, p_liquid),
        p_suction=sat.dew_pressure(te),
        p_liquid=p_liquid,
        t_suction=np.minimum(r.t_suction + step("te") + step("superheat"), warmest),
        t_liquid=np.where(r.subcooling < 0.0, r.t_liquid, t_liquid),
        discharge=r.discharge + step("discharge"),
        supply_dry=supply,
        supply_wet=np.minimum(r.supply_wet + 0.6 * step("supply"), supply),
        outdoor_power=r.outdoor_power * (1.0 + step("power")),
        current=r.current * (1.0 + step("power")),
    )


def field_readings(u: Unit, health: Health, r: Result, weather: Weather, amps: F) -> dict[str, float]:
    """The true readings of one state (imperial), with the condenser's air and its fan's current."""
    found = {name: float(v[0]) for name, v in pairs.true_readings(r, weather).items()}
    air = u.cond_air * health.condenser_airflow * (308.15 / (weather.outdoor + ZERO))
    # What the low side takes up and the compressor's and fan's work leave with the air.
    rise = (r.gross + r.outdoor_power) / air
    found[LEAVING] = float((weather.outdoor + rise)[0]) * 1.8 + 32.0
    turning = health.condenser_airflow**u.fan_flow_exponent
    found[FAN_CURRENT] = float((amps * turning)[0])
    return found


@dataclass(frozen=True)
class Placement:
    """Where one hand puts the sensors at a visit: shares of pipe over air, K."""

    shares: Mapping[str, float]
    discharge: float
    supply: float
    leaving: float


def draw_placement(rng: np.random.Generator, like: Placement | None = None) -> Placement:
    """Placement at a visit; a half of it is the habit of the hand that also made ``like``."""
    shares = {name: float(rng.triangular(0.0, 0.0, 0.04)) for name in pairs.PIPES}
    new = Placement(shares, rng.uniform(0.0, 3.0), rng.normal(0.0, 0.8), rng.normal(0.0, 1.5))
    if like is None:
        return new
    return Placement(
        {name: 0.5 * (new.shares[name] + like.shares[name]) for name in shares},
        0.5 * (new.discharge + like.discharge),
        0.7 * (new.supply + like.supply),
        0.7 * (new.leaving + like.leaving),
    )


def placed(true: Mapping[str, float], where: Placement) -> dict[str, float]:
    """The readings as perfect instruments would show them at these places (degF)."""
    found, air = dict(true), true["outdoor_air_dry_bulb"]
    for name, share in where.shares.items():
        found[name] -= share * (true[name] - air)
    hot = true["discharge_line_temperature"] - air
    found["discharge_line_temperature"] -= min(1.8 * where.discharge, 0.5 * max(hot, 0.0))
    found["supply_air_dry_bulb"] += 1.8 * where.supply
    found["supply_air_wet_bulb"] += 0.9 * where.supply
    found[LEAVING] += 1.8 * where.leaving
    return found


def kit_of(name: str) -> pairs.Kit:
    """The kit of ``simulated_pairs`` without its errors of place, with two more sensors."""
    table = {**pairs.KIT_TABLE[name], "mixing": (0.0, 0.0)}
    air, current = table["air"], table["current"]
    sources = (
        pairs.Source((LEAVING,), 1.8 * air[0], 1.8 * air[1]),
        pairs.Source((FAN_CURRENT,), current[0] / 100.0, current[1] / 100.0, relative=True),
    )
    usual_kit = pairs.KITS[name]
    steps = {**usual_kit.resolution}
    steps |= {LEAVING: steps["supply_air_dry_bulb"], FAN_CURRENT: 0.1}
    made = pairs.make_kit(table, steps)
    return replace(made, sources=made.sources + sources)


def shown(
    true: Mapping[str, float], kit: pairs.Kit, carried: list[float], rng: np.random.Generator
) -> dict[str, float]:
    """What the instruments show: calibration ``carried`` from visit to visit, repeatability, step."""
    found = dict(true)
    for source, shared in zip(kit.sources, carried, strict=True):
        for name in source.readings:
            error = source.calibration * shared + source.repeatability * rng.standard_normal()
            found[name] += error * (true[name] if source.relative else 1.0)
    for place in ("return", "supply"):
        wet, dry = f"{place}_air_wet_bulb", f"{place}_air_dry_bulb"
        found[wet] = min(found[wet], found[dry])
    steps = kit.resolution
    return {
        name: round(round(value / steps[name]) * steps[name], 6) if steps.get(name) else value
        for name, value in found.items()
    }


def made(rng: np.random.Generator) -> frozenset[str]:
    """Names of the optional readings that are made."""
    found = {name for name, share in MADE.items() if rng.random() < share}
    for group in TOGETHER:
        first = group[0] in found
        found = found - set(group) | (set(group) if first else set())
    return frozenset(found)


# --------------------------------------------------------------------------- weather


def draw_weather(rng: np.random.Generator, count: int, everyday: bool) -> tuple[Weather, Weather]:
    """Weather of the baseline and of the visit: cool houses and dry air are common."""
    before, now = pairs.draw_weather(rng, count, usual.WEATHER_GAP)
    return _daily(rng, before, everyday), _daily(rng, now, everyday)


def _daily(rng: np.random.Generator, weather: Weather, everyday: bool) -> Weather:
    count = len(weather.dry)
    chance = rng.random(count)
    cool = chance < (0.5 if everyday else 0.25)
    arid = (chance >= 0.5) if everyday else (chance > 0.8)
    dry = np.where(cool, rng.uniform(20.0, 22.3, count), weather.dry)
    relative = np.where(arid, rng.uniform(0.10, 0.30, count), rng.uniform(0.38, 0.62, count))
    wet = pairs.wet_bulb(dry, pairs.ratio_from_humidity(dry, relative))
    return replace(weather, dry=dry, wet=np.where(cool | arid, wet, weather.wet))


# --------------------------------------------------------------------------- visits


@dataclass(frozen=True)
class Visit:
    """One visit, the baseline of the same unit when it was sound, and the truth.

    ``label`` one of KINDS; ``faults`` names of the service's contract.  ``readings``, ``baseline``:
    as shown (imperial).  ``plate``: what the nameplates print.  ``truth``: the truth of values that
    follow from readings, in imperial units.  ``ln_eer``, ``ln_capacity``: over the sound unit's in
    the same weather (nan without capacity left: ``lost`` is then 1).
    """

    label: str
    faults: tuple[str, ...]
    readings: dict[str, float]
    baseline: dict[str, float]
    minutes: tuple[float, float]
    plate: dict[str, float | str]
    truth: dict[str, float]
    ln_eer: float
    ln_capacity: float
    level: dict[str, float]
    mistake: str
    kit: str
    speed: float

    @property
    def cost(self) -> float:
        """The larger loss of efficiency or capacity, as a logarithm (negative)."""
        return min(self.ln_eer, self.ln_capacity)


@dataclass(frozen=True)
class _Chunk:
    """Units of one refrigerant and their states at baseline, visit, and sound at the visit."""

    units: tuple[Unit, Unit]  # at the baseline, at the visit
    plates: Plates
    subcooling: F
    healths: tuple[Health, Health]
    weathers: tuple[Weather, Weather]
    states: tuple[Result, Result, Result]
    faults: list[tuple[str, ...]]
    level: dict[str, F]
    mistakes: tuple[list[str], F] | None
    speed: F
    ok: Mask


REFRIGERANTS = ("R-410A", "R-22", "R-32")
_SHARES = (0.6, 0.2, 0.2)
_GRADES: Mapping[str, tuple[float, float]] = {
    "R-410A": (0.15, 1.2),
    "R-22": (0.0, 0.7),
    "R-32": (0.4, 1.25),
}
_VALVES: Mapping[str, float] = {"R-410A": 0.65, "R-22": 0.4, "R-32": 0.9}


def _severe(
    rng: np.random.Generator, kind: str, count: int
) -> tuple[list[tuple[str, ...]], dict[str, F], dict[str, F]]:
    fault, column, (low, high) = SEVERE[kind]
    factor = np.exp(rng.uniform(np.log(low), np.log(high), count))
    return [(fault,)] * count, {fault: factor}, {column: factor}


def _stages(
    rng: np.random.Generator, kind: str, unit: Unit, base: Health
) -> tuple[tuple[Unit, Unit], tuple[Health, Health], F]:
    """The unit and its health at baseline (two-stage: full speed) and visit, and the visit's speed."""
    count = len(unit.tons)
    if kind == TWO_STAGE:
        speeds = (np.ones(count), np.full(count, 0.0) + rng.uniform(0.64, 0.70, count))
    else:
        speeds = (rng.uniform(0.25, 1.0, count), rng.uniform(0.25, 1.0, count))
    units, healths = [], []
    for speed in speeds:
        part, health = staged(unit, speed, 0.3 + 0.7 * speed, 0.4 + 0.6 * speed)
        units.append(part)
        healths.append(Health(**{n.name: getattr(health, n.name) * getattr(base, n.name) for n in fields(Health)}))
    return (units[0], units[1]), (healths[0], healths[1]), speeds[1]


@dataclass(frozen=True)
class _Afflicted:
    """Units and their health at baseline and visit, the faults between the two, the visit's speed."""

    units: tuple[Unit, Unit]
    healths: tuple[Health, Health]
    faults: list[tuple[str, ...]]
    level: dict[str, F]
    speed: F


def _afflicted(rng: np.random.Generator, kind: str, unit: Unit, base: Health, drifted: Health) -> _Afflicted:
    """What a kind of visit makes of units: ``base`` at the baseline, ``drifted`` at the visit if nothing broke."""
    count = len(unit.tons)
    none: list[tuple[str, ...]] = [()] * count
    full = np.ones(count)
    if kind in SEVERE:
        faults, level, factors = _severe(rng, kind, count)
        # A motor that stands still takes nothing.
        late = replace(unit, fan=np.full(count, 1e-3)) if kind == SEVERE_FAN else unit
        return _Afflicted((unit, late), (base, usual.multiplied(drifted, factors)), faults, level, full)
    if kind in STAGED:
        units, healths, speed = _stages(rng, kind, unit, base)
        return _Afflicted(units, healths, none, {}, speed)
    if kind in (EVERYDAY, NO_FAULT, MISTAKE):
        return _Afflicted((unit, unit), (base, drifted), none, {}, full)
    drawn = usual.draw_faults(rng, kind, unit.orifice)
    return _Afflicted((unit, unit), (base, usual.multiplied(drifted, drawn.factors)), drawn.kinds, drawn.level, full)


def _chunk(rng: np.random.Generator, f: Fluid, refrigerant: str, kind: str) -> _Chunk:
    """Draw units, deviations, faults and weather of one kind, and solve all states of them."""
    valves = 1.0 if kind in STAGED else _VALVES[refrigerant]
    orifice = (rng.random(CHUNK) >= valves).astype(np.float64)
    grade = (0.6, 1.25) if kind in STAGED else _GRADES[refrigerant]
    unit, g, fit = draw_units(f, rng, CHUNK, orifice, grade)
    plate, sensible = plates(f, unit, g, kind, rng)
    subcooling, unit = unit.subcooling, installed(unit, rng)
    base = usual.multiplied(Health.sound(CHUNK), usual.deviations(rng, CHUNK, usual.DEVIATION))
    drifted = usual.multiplied(base, usual.deviations(rng, CHUNK, usual.DRIFT))
    before, now = draw_weather(rng, CHUNK, kind == EVERYDAY)
    ill = _afflicted(rng, kind, unit, base, drifted)
    mistakes = usual.draw_mistakes(rng, CHUNK) if kind == MISTAKE else None
    first, ok0 = reached(f, ill.units[0], ill.healths[0], before)
    second, ok1 = visited(f, ill.units[1], ill.healths[1], now, kind)
    ok1 &= second.p_liquid < SWITCH[refrigerant]
    third, ok2 = (second, ok1) if kind in STAGED else reached(f, unit, base, now)
    return _Chunk(
        ill.units,
        plate,
        subcooling,
        ill.healths,
        (before, now),
        (first, second, third),
        ill.faults,
        ill.level,
        None if mistakes is None else (mistakes.reading, mistakes.size),
        ill.speed,
        fit & sensible & ok0 & ok1 & ok2,
    )


def _plate(c: _Chunk, k: int, refrigerant: str, kind: str, rng: np.random.Generator) -> dict[str, float | str]:
    """What the plates print; ``prints_eer`` and ``second_edition`` (SEER2, EER2) are drawn."""
    valve = c.units[0].orifice[k] < 0.5
    device = "thermostatic_expansion_valve" if valve else "fixed_orifice"
    if kind == VARIABLE:
        device = "electronic_expansion_valve"
    control = {TWO_STAGE: "two_stage", VARIABLE: "variable_speed"}.get(kind, "single_speed")
    seer, eer = float(c.plates.seer[k]), float(c.plates.eer[k])
    return {
        "refrigerant": refrigerant,
        "metering_device": device,
        "capacity_control": control,
        "capacity": float(round(c.plates.capacity[k] / BTU_PER_HOUR / 500.0) * 500.0),
        "eer": round(eer, 1),
        "seer": round(2.0 * seer) / 2.0,
        "eer2": round(0.96 * eer, 1),
        "seer2": round(0.955 * seer, 1),
        "prints_eer": float(rng.random() < 0.5),
        "second_edition": float(refrigerant != "R-22" and rng.random() < 0.3),
        "subcooling": float(round(1.8 * c.subcooling[k])),
        "fan_amps": round(1.15 * float(c.plates.fan_amps[k]), 1),
        "rated_amps": round(float(c.plates.rated_amps[k]), 1),
    }


def _truth(f: Fluid, r: Result, steady: Result, true: Mapping[str, float]) -> dict[str, float]:
    """The truth of what follows from readings: at that minute, and of the steady state."""
    return {
        "suction_superheat": float((r.t_suction - r.te)[0]) * 1.8,
        "subcooling": float((r.tc - r.t_liquid)[0]) * 1.8,
        "discharge_temperature": true["discharge_line_temperature"],
        "condenser_air_rise": true[LEAVING] - true["outdoor_air_dry_bulb"],
        "temperature_split": true["return_air_dry_bulb"] - true["supply_air_dry_bulb"],
        "condensing_over_ambient": float(r.tc[0]) * 1.8 + 32.0 - true["outdoor_air_dry_bulb"],
        "capacity": float(steady.capacity[0]) / BTU_PER_HOUR,
        "power": float(steady.power[0]),
        "eer": float(steady.eer[0]),
        "airflow": true["airflow"],
    }


@dataclass(frozen=True)
class _Hand:
    """Who reads at both visits: the kit with what it carries, the readings made, the start-up."""

    kit: pairs.Kit
    carried: list[float]
    optional: frozenset[str]
    start: Transient
    times: tuple[float, float]

    def finds(
        self,
        f: Fluid,
        u: Unit,
        health: Health,
        steady: Result,
        weather: Weather,
        amps: F,
        rng: np.random.Generator,
    ) -> tuple[float, Result, dict[str, float]]:
        """Minutes that the unit has run, its state by then, and the true readings."""
        run = float(round(rng.uniform(*self.times)))
        now = settling(f, steady, weather, self.start, run)
        return run, now, field_readings(u, health, now, weather, amps)

    def reads(self, seen: Mapping[str, float], rng: np.random.Generator) -> dict[str, float]:
        """What the instruments show, of the readings that are made."""
        values = shown(seen, self.kit, self.carried, rng)
        return {n: v for n, v in values.items() if n not in MADE or n in self.optional}


def _visit(
    f: Fluid,
    c: _Chunk,
    k: int,
    refrigerant: str,
    kind: str,
    times: tuple[float, float],
    rng: np.random.Generator,
) -> Visit:
    """Visit k of the chunk, as read."""
    one, kit_name = slice(k, k + 1), ("good", "ordinary")[int(rng.random() < 0.6)]
    kit = kit_of(kit_name)
    carried = [float(rng.standard_normal()) for _ in kit.sources]
    plate = _plate(c, k, refrigerant, kind, rng)
    optional = made(rng)
    start = draw_transient(rng, bool(c.units[0].orifice[k] < 0.5))
    hand = _Hand(kit, carried, optional, start, times)
    minutes, readings, trues, nows = [], [], [], []
    where: Placement | None = None
    for i in (0, 1):
        weather, steady = c.weathers[i].take(one), c.states[i].take(one)
        run, now, true = hand.finds(
            f,
            c.units[i].take(one),
            c.healths[i].take(one),
            steady,
            weather,
            c.plates.fan_amps[one],
            rng,
        )
        if kind == SEVERE_FAN and i == 1:
            true[FAN_CURRENT] = 0.0
        where = draw_placement(rng, where)
        seen = placed(true, where)
        if c.mistakes is not None and i == 1:
            seen = usual.mistaken(seen, c.mistakes[0][k], float(c.mistakes[1][k]))
        minutes.append(run)
        readings.append(hand.reads(seen, rng))
        trues.append(true)
        nows.append(now)
    visit, sound = c.states[1].take(one), c.states[2].take(one)
    with np.errstate(all="ignore"):
        ln_eer, ln_capacity = (
            float(np.log(np.maximum(getattr(visit, n) / getattr(sound, n), 0.01))[0]) for n in ("eer", "capacity")
        )
    level = {name: float(c.level[name][k]) for name in c.faults[k]}
    mistake = "" if c.mistakes is None else c.mistakes[0][k]
    return Visit(
        label=kind,
        faults=(MISTAKE,) if mistake else c.faults[k],
        readings=readings[1],
        baseline=readings[0],
        minutes=(minutes[1], minutes[0]),
        plate=plate,
        truth=_truth(f, nows[1], visit, trues[1]),
        ln_eer=ln_eer,
        ln_capacity=ln_capacity,
        level=level,
        mistake=mistake,
        kit=kit_name,
        speed=float(c.speed[k]),
    )


def visits(count: int, seed: int, kind: str, times: tuple[float, float] = (15.0, 30.0), each: int = 4) -> list[Visit]:
    """Visits of one of KINDS to units drawn at random, at most ``each`` of a draw of a refrigerant.

    The same seed and kind give the same visits; the first are the same whatever the count.  A steady
    state that is not found, or not sensible, is drawn again.
    """
    found: list[Visit] = []
    number = 0
    while len(found) < count:
        if number > 60 + 4 * count:
            raise ValueError(f"too few steady states are found for {kind}")
        rng = np.random.default_rng([seed, zlib.crc32(kind.encode()), number])
        refrigerant = str(rng.choice(REFRIGERANTS, p=_SHARES))
        f = fluid_of(refrigerant)
        with np.errstate(all="ignore"):
            c = _chunk(rng, f, refrigerant, kind)
        for k in np.flatnonzero(c.ok)[: min(each, count - len(found))]:
            found.append(_visit(f, c, int(k), refrigerant, kind, times, rng))
        number += 1
    return found


# --------------------------------------------------------------------------- two runs

UNCHANGED = "unchanged"
CAPACITOR = "capacitor_replaced"
WEAK_CAPACITOR = "weak_capacitor_replaced"
PURGED = "gas_purged"
CHANGES = (UNCHANGED, CAPACITOR, WEAK_CAPACITOR, PURGED)
START_CURRENT = "compressor_start_winding_current"
CAPACITOR_VOLTAGE = "capacitor_voltage.compressor"


@dataclass(frozen=True)
class Pair:
    """Two runs of one unit with one change between them; ``ln_eer`` in the weather of the first."""

    label: str
    before: dict[str, float]
    after: dict[str, float]
    minutes: tuple[float, float]
    plate: dict[str, float | str]
    ln_eer: float
    kit: str


def _weakened(rng: np.random.Generator, kind: str, unit: Unit, health: Health) -> tuple[Unit, Health, F]:
    """The unit and its health before the work, and the capacitance over the rated one.

    A weak run capacitor lowers the power factor by some hundredths; where it also costs, the motor
    takes 1 to 3 % more.  Gas of 3 to 25 % of the condenser's pressure.
    """
    count = len(unit.tons)
    share = rng.uniform(0.97, 1.03, count)
    if kind == PURGED:
        gas = np.exp(rng.uniform(np.log(1.03), np.log(1.25), count))
        return unit, replace(health, non_condensable=gas), share
    if kind == UNCHANGED:
        return unit, health, share
    share = rng.uniform(0.55, 0.88, count)
    weak = replace(unit, power_factor=unit.power_factor - rng.uniform(0.15, 0.35, count) * (1.0 - share))
    if kind == WEAK_CAPACITOR:
        worse = health.compressor_isentropic * rng.uniform(0.97, 0.99, count)
        health = replace(health, compressor_isentropic=worse)
    return weak, health, share


def changed_pairs(
    count: int, seed: int, kind: str, times: tuple[float, float] = (15.0, 30.0), each: int = 4
) -> list[Pair]:
    """Pairs of runs of units drawn at random, one of CHANGES between them, 5 K of weather at most."""
    found: list[Pair] = []
    number = 0
    while len(found) < count:
        rng = np.random.default_rng([seed, zlib.crc32(kind.encode()), 1, number])
        refrigerant = str(rng.choice(REFRIGERANTS, p=_SHARES))
        f = fluid_of(refrigerant)
        with np.errstate(all="ignore"):
            found += _pairs_of(rng, f, refrigerant, kind, times, min(each, count - len(found)))
        number += 1
    return found


def _pairs_of(
    rng: np.random.Generator,
    f: Fluid,
    refrigerant: str,
    kind: str,
    times: tuple[float, float],
    most: int,
) -> list[Pair]:
    orifice = (rng.random(CHUNK) >= _VALVES[refrigerant]).astype(np.float64)
    unit, g, fit = draw_units(f, rng, CHUNK, orifice, _GRADES[refrigerant])
    plate, sensible = plates(f, unit, g, kind, rng)
    subcooling, unit = unit.subcooling, installed(unit, rng)
    health = usual.multiplied(Health.sound(CHUNK), usual.deviations(rng, CHUNK, usual.DEVIATION))
    weathers = pairs.draw_weather(rng, CHUNK, 5.0)
    first, worse, capacitance = _weakened(rng, kind, unit, health)
    shares = (
        capacitance,
        capacitance if kind in (UNCHANGED, PURGED) else rng.uniform(0.97, 1.03, CHUNK),
    )
    asked = ((first, worse, weathers[0]), (unit, health, weathers[1]), (unit, health, weathers[0]))
    states, ok = zip(*(reached(f, *a) for a in asked), strict=True)
    c = _Chunk(
        (first, unit),
        plate,
        subcooling,
        (worse, health),
        weathers,
        (states[0], states[1], states[2]),
        [()] * CHUNK,
        {},
        None,
        np.ones(CHUNK),
        fit & sensible & np.logical_and.reduce(ok),
    )
    return [
        _pair(f, c, int(k), refrigerant, kind, times, (shares[0][k], shares[1][k]), rng)
        for k in np.flatnonzero(c.ok)[:most]
    ]


def _pair(
    f: Fluid,
    c: _Chunk,
    k: int,
    refrigerant: str,
    kind: str,
    times: tuple[float, float],
    shares: tuple[float, float],
    rng: np.random.Generator,
) -> Pair:
    one, kit_name = slice(k, k + 1), ("good", "ordinary")[int(rng.random() < 0.6)]
    kit = kit_of(kit_name)
    hand = _Hand(
        kit,
        [float(rng.standard_normal()) for _ in kit.sources],
        made(rng),
        draw_transient(rng, bool(c.units[0].orifice[k] < 0.5)),
        times,
    )
    plate = _plate(c, k, refrigerant, kind, rng)
    tested = kind in (CAPACITOR, WEAK_CAPACITOR) and rng.random() < 0.6
    plate["microfarads"] = 5.0 * round(float(c.units[0].tons[k]) * 2.0 + 3.0) if tested else 0.0
    # The meters that read current and voltage carry their errors here too.
    meters = (pairs.CURRENT, "line_voltage")
    errors = [
        source.calibration * shared
        for meter in meters
        for source, shared in zip(kit.sources, hand.carried, strict=True)
        if meter in source.readings
    ]
    minutes, readings = [], []
    where: Placement | None = None
    for i in (0, 1):
        run, now, true = hand.finds(
            f,
            c.units[i].take(one),
            c.healths[i].take(one),
            c.states[i].take(one),
            c.weathers[i].take(one),
            c.plates.fan_amps[one],
            rng,
        )
        where = draw_placement(rng, where)
        read = hand.reads(placed(true, where), rng)
        if tested:
            # I = 2 pi f C V of a capacitor on 60 Hz; its voltage is some 1.6 times the line's.
            across = 1.6 * float(now.volts[0])
            amps = 2.0 * np.pi * 60.0 * float(plate["microfarads"]) * 1e-6 * shares[i] * across
            read[START_CURRENT] = round(float(amps) * (1.0 + errors[0]), 2)
            read[CAPACITOR_VOLTAGE] = round(across * (1.0 + errors[1]))
        minutes.append(run)
        readings.append(read)
    moved = c.states[2].eer[k] / c.states[0].eer[k]
    return Pair(
        kind,
        readings[0],
        readings[1],
        (minutes[0], minutes[1]),
        plate,
        float(np.log(moved)),
        kit_name,
    )
