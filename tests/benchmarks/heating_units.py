"""Split heat pumps in heating whose true state is known: a steady-state model of a whole unit.

Refrigerant and moist air are those of ``simulated_pairs`` (CoolProp properties, ASHRAE formulas), the
tables those of ``field_visits``; the machine is its own and shares nothing with the service.

The refrigerant's way: compressor, reversing valve (it loses heat to the suction side, and may leak),
vapour line to the house, indoor coil (desuperheating, condensing and subcooling zones that share area and
air), liquid line back to the outdoor unit, metering device, outdoor coil (dry, wet or frosting), reversing
valve, accumulator, compressor.

Unknowns of a state: evaporating and condensing temperature, superheat at the outdoor coil's outlet,
subcooling, mass flow, and what the reversing valve adds to the suction gas.  Equations: compressor flow,
metering device flow, outdoor coil balance, indoor coil area, charge, mixing in the valve.  So a low charge
acts through the refrigerant that is missing, not through a chosen subcooling; what an orifice overfeeds
in the cold is held in the accumulator.

Every unit has its own random conductances, exponents, efficiency curve, losses, fans, lines and volumes.
SI inside (Pa, K differences, degC, W, kg/s, J/kg); sea level.  The refrigerant's own pressures are
without the gas that does not condense; ports show it too.

``python -m tests.benchmarks.heating_units`` prints how close it comes to published behaviour
(``tests/unit/benchmarks/test_heating_units.py`` holds it to that):
what units show against outdoor temperature and airflow, and what faults change.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, fields, replace

import numpy as np
from numpy.typing import NDArray

from tests.benchmarks import simulated_pairs as pairs
from tests.benchmarks.field_visits import FieldFluid, fluid_of
from tests.benchmarks.simulated_pairs import BTU_PER_HOUR, CFM, TON, ZERO, Columns, F

Mask = NDArray[np.bool_]

#: Rating conditions: 47/43 and 17/15 degF outdoors, 70/60 degF indoors (AHRI 210/240, tests H1 and H3).
RATED_OUTDOOR, RATED_INDOOR, RATED_INDOOR_WET = 25.0 / 3.0, 190.0 / 9.0, 140.0 / 9.0
COLD_OUTDOOR = -25.0 / 3.0
#: Frost (kg for each ton) that halves the outdoor airflow; assumption, no source.
FROST_HALVES = 0.9
#: Line length at which a unit is rated, 25 ft (m).
RATED_LENGTH = 7.6


# --------------------------------------------------------------------------- cold moist air

_FREEZING = 0.0
_VAPORISATION, _SUBLIMATION = 2.501e6, 2.835e6


def saturation_pressure(t: F) -> F:
    """Vapour pressure (Pa) over ice under 0 degC, over water above: ASHRAE Fundamentals ch. 1."""
    k = t + ZERO
    ice = np.exp(
        -5.6745359e3 / k
        + 6.3925247
        - 9.677843e-3 * k
        + 6.2215701e-7 * k**2
        + 2.0747825e-9 * k**3
        - 9.484024e-13 * k**4
        + 4.1635019 * np.log(k)
    )
    return np.where(t < _FREEZING, ice, pairs.saturation_pressure(t))


def saturated_ratio(t: F) -> F:
    """Humidity ratio of air saturated over ice or water (kg/kg)."""
    p = saturation_pressure(t)
    return 0.621945 * p / (pairs.ATMOSPHERE - p)


def ratio_from_wet_bulb(t: F, wet: F) -> F:
    """Humidity ratio from dry and wet bulb (degC), with ice on the wick under 0 degC: ASHRAE ch. 1."""
    ws = saturated_ratio(wet)
    ice = ((2830.0 - 0.24 * wet) * ws - 1.006 * (t - wet)) / (2830.0 + 1.86 * t - 2.1 * wet)
    return np.where(wet < _FREEZING, ice, pairs.ratio_from_wet_bulb(t, wet))


def wet_bulb(t: F, w: F) -> F:
    """Wet bulb (degC), by bisection; at the jump from ice to water the lower end of it."""
    low, high = t - 40.0, np.array(t)
    for _ in range(40):
        middle = 0.5 * (low + high)
        over = ratio_from_wet_bulb(t, middle) > w
        low, high = np.where(over, low, middle), np.where(over, middle, high)
    return 0.5 * (low + high)


def _latent(surface: F) -> F:
    """Heat set free by what settles on a surface (J/kg): water above 0 degC, frost under it."""
    frozen = 1.0 / (1.0 + np.exp(np.clip(4.0 * surface, -60.0, 60.0)))
    return _VAPORISATION + frozen * (_SUBLIMATION - _VAPORISATION)


def coil_air(t: F, w: F, cold: F, air: F, outer: F, inner: F) -> tuple[F, F, F]:
    """Heat (W), leaving dry bulb and humidity ratio of an outdoor coil at one refrigerant temperature.

    Effectiveness on temperature where dry, on enthalpy where water or frost settles (Braun, Klein and
    Mitchell 1989), the enthalpy with the heat of sublimation where the surface is frozen.
    """
    cp = 1006.0 + 1860.0 * w
    whole = 1.0 / (1.0 / outer + 1.0 / inner)
    dry_heat = air * cp * -np.expm1(-whole / (air * cp)) * (t - cold)
    latent = _latent(cold + 1.0)

    def enthalpy(at: F, ratio: F) -> F:
        return 1006.0 * at + ratio * (latent + 1860.0 * at)

    h, h_cold = enthalpy(t, w), enthalpy(cold, saturated_ratio(cold))
    near = cold + 3.0
    slope = (enthalpy(near, saturated_ratio(near)) - h_cold) / 3.0
    wet = -np.expm1(-1.0 / (cp / outer + slope / inner) / air)
    wet_heat = air * wet * (h - h_cold)
    # The surface that gives this heat to the refrigerant.
    by_pass = np.exp(-outer / (air * cp))
    surface = np.minimum(cold + wet_heat / inner, t)
    moisture = np.maximum(w - saturated_ratio(surface), 0.0) * (1.0 - by_pass)
    is_wet = wet_heat > dry_heat
    ratio = np.where(is_wet, w - moisture, w)
    heat = np.maximum(wet_heat, dry_heat)
    leaving = t - (heat / air - (w - ratio) * latent) / cp
    return heat, leaving, ratio


# --------------------------------------------------------------------------- columns


@dataclass(frozen=True)
class Health(Columns):
    """What has happened to the parts of a unit: factors, 1 as designed, but for the last two.

    ``liquid_line_drop`` and ``device_flow`` as in ``simulated_pairs``.  ``non_condensable`` is 1 +
    partial pressure of the gas over the refrigerant's pressure in the indoor coil.  ``valve_leak`` is the
    share of the compressor's flow that the reversing valve lets back to the suction; ``frost`` is kg on
    the outdoor coil for each ton.
    """

    outdoor_conductance: F
    outdoor_airflow: F
    indoor_conductance: F
    indoor_airflow: F
    charge: F
    compressor_volumetric: F
    compressor_isentropic: F
    liquid_line_drop: F
    device_flow: F
    non_condensable: F
    valve_leak: F
    frost: F

    @classmethod
    def sound(cls, count: int) -> Health:
        """Units as designed."""
        found = {f.name: np.ones(count) for f in fields(cls)}
        return cls(**(found | {"valve_leak": np.zeros(count), "frost": np.zeros(count)}))


@dataclass(frozen=True)
class Weather(Columns):
    """What a visit finds: outdoor air and return air (degC, kg/kg), voltage over nominal."""

    outdoor: F
    outdoor_ratio: F
    dry: F
    ratio: F
    voltage: F

    @classmethod
    def rating(cls, count: int, outdoor: float = RATED_OUTDOOR) -> Weather:
        """47/43 degF outdoors (or 17/15), 70/60 degF indoors, nominal voltage."""
        wet = {RATED_OUTDOOR: 55.0 / 9.0, COLD_OUTDOOR: -85.0 / 9.0}[outdoor]
        return cls.of(outdoor, float(ratio_from_wet_bulb(np.array(outdoor), np.array(wet))), count=count)

    @classmethod
    def of(cls, outdoor: float, ratio: float, dry: float = RATED_INDOOR, count: int = 1) -> Weather:
        """The same weather for all units; the return air holds what 70/60 degF holds."""
        inside = float(pairs.ratio_from_wet_bulb(np.array(RATED_INDOOR), np.array(RATED_INDOOR_WET)))
        return cls(*(np.full(count, v) for v in (outdoor, ratio, dry, inside, 1.0)))


@dataclass(frozen=True)
class Unit(Columns):
    """Units: design point (47/43 degF outdoors, 70 degF indoors) and parameters, drawn at random."""

    tons: F
    orifice: F  # 1 fixed orifice, 0 expansion valve
    te: F  # design evaporating dew point at the outdoor coil's outlet, degC
    tc: F  # design condensing temperature, degC
    superheat: F
    subcooling: F
    efficiency: F  # design isentropic work over electrical input
    best_ratio: F  # pressure ratio of the best efficiency over the design ratio
    efficiency_bend: F
    standing_loss: F  # share of the design input that does not follow the load
    leak_work: F  # share of a flow loss whose work is still spent
    clearance: F  # fall of volumetric efficiency for a unit of pressure ratio
    slip: F
    motor_voltage: F
    power_factor: F
    power_factor_slope: F
    shell: F  # W/K
    shell_hot: F  # how near the shell is to the discharge gas rather than to the suction gas
    valve_conduction: F  # W/K, reversing valve, from discharge to suction
    pipe_loss: F  # W/K, discharge pipe, muffler and valve body to outdoor air
    vapour_line: F  # W/K
    liquid_line: F  # W/K
    lines_outdoors: F  # share of the lines' way at outdoor temperature
    suction_gain: F  # W/K, suction pipe and accumulator from outdoor air
    fan: F  # W
    fan_flow_exponent: F
    fan_voltage_exponent: F
    blower: F  # W
    blower_flow_exponent: F
    cfm_per_ton: F
    outdoor_cfm_per_ton: F
    in_air_exponent: F
    in_ref_ratio: F  # refrigerant-side over air-side resistance, condensing
    in_vapour_ratio: F
    in_liquid_ratio: F
    in_ref_exponent: F
    out_air_exponent: F
    out_ref_ratio: F
    out_vapour_ratio: F
    out_ref_exponent: F
    frost_resistance: F  # share added to the outer resistance by the frost that halves the airflow
    drop_outdoor: F  # Pa at design
    drop_suction: F
    drop_discharge: F
    drop_vapour: F
    drop_indoor: F
    drop_liquid: F
    restriction_upstream: F  # 1: a blocked liquid line is blocked before the liquid port
    valve_range: F  # K from closed to wide open
    valve_opening: F  # at design
    orifice_subcooling: F
    flash_slip: F
    in_volume: F  # m3
    out_volume: F
    liquid_volume: F
    vapour_volume: F
    suction_volume: F
    accumulator: F  # kg that it can hold
    bleed: F  # liquid share of the flow that returns from a full accumulator
    # found from the design point:
    flow: F  # kg/s
    displacement: F  # m3/s
    pressure_ratio: F
    work: F  # W, compressor
    suction_density: F
    in_conductance: F  # W/K, air side
    out_conductance: F
    valve: F
    charge: F  # kg


_RANGES: Mapping[str, tuple[float, float]] = {
    "tons": (1.8, 5.0),
    "te": (-2.2, 1.3),
    "tc": (36.3, 40.8),
    "superheat": (2.5, 5.5),
    "efficiency": (0.60, 0.72),
    "best_ratio": (0.80, 1.15),
    "efficiency_bend": (0.12, 0.32),
    "standing_loss": (0.02, 0.12),
    "leak_work": (0.3, 1.1),
    "clearance": (0.018, 0.06),
    "slip": (0.01, 0.04),
    "motor_voltage": (-0.3, 0.2),
    "power_factor": (0.88, 0.98),
    "power_factor_slope": (0.02, 0.15),
    "shell": (0.4, 1.1),  # for each ton
    "shell_hot": (0.3, 0.9),  # low-side and high-side shells
    "valve_conduction": (0.08, 0.28),  # for each ton
    "pipe_loss": (0.3, 1.0),  # for each ton
    "suction_gain": (0.2, 1.5),
    "lines_outdoors": (0.4, 1.0),
    "fan_flow_exponent": (-0.3, 0.8),
    "fan_voltage_exponent": (0.0, 2.0),
    "blower_flow_exponent": (-0.6, 1.5),
    "cfm_per_ton": (360.0, 440.0),
    "outdoor_cfm_per_ton": (800.0, 1150.0),
    "in_air_exponent": (0.45, 0.8),
    "in_ref_ratio": (0.15, 0.45),
    "in_vapour_ratio": (0.8, 2.2),
    "in_liquid_ratio": (0.6, 1.8),
    "in_ref_exponent": (0.2, 0.8),
    "out_air_exponent": (0.4, 0.75),
    "out_ref_ratio": (0.15, 0.5),
    "out_vapour_ratio": (1.5, 3.5),
    "out_ref_exponent": (0.2, 0.8),
    "frost_resistance": (0.15, 0.4),
    "valve_range": (3.0, 7.0),
    "valve_opening": (0.58, 0.85),
    "orifice_subcooling": (0.006, 0.018),
    "flash_slip": (0.7, 1.1),
    "bleed": (0.04, 0.10),
}
_FOR_EACH_TON = ("shell", "valve_conduction", "pipe_loss")


def draw_units(
    f: FieldFluid, count: int, rng: np.random.Generator | None, orifice: F | float, length: float = RATED_LENGTH
) -> tuple[Unit, Mask]:
    """Units with lines of this length (m) and which of them are plausible; without a generator the middle unit."""
    draw = pairs.draws(rng, count)
    free = {name: draw(*span) for name, span in _RANGES.items()}
    tons, approach = free["tons"], free["tc"] - RATED_INDOOR
    for name in _FOR_EACH_TON:
        free[name] = free[name] * tons
    free["subcooling"] = draw(0.35, 0.75) * approach
    low, high = f.sat.dew_pressure(free["te"]) / 0.8e6, f.sat.dew_pressure(free["tc"]) / 2.3e6
    spans: dict[str, tuple[float, float, F | float]] = {
        "fan": (40.0, 80.0, tons),
        "blower": (0.2, 0.5, free["cfm_per_ton"] * tons),
        "drop_outdoor": (15e3, 50e3, low),
        "drop_suction": (5e3, 20e3, low),
        "drop_discharge": (8e3, 25e3, high),
        "drop_vapour": (5e3, 25e3, high),
        "drop_indoor": (20e3, 70e3, high),
        "drop_liquid": (10e3, 40e3, high),
        "in_volume": (0.8e-3, 1.2e-3, tons),
        "out_volume": (1.0e-3, 1.6e-3, tons),
        "liquid_volume": (0.25e-3, 0.5e-3, tons),
        "vapour_volume": (0.8e-3, 2.0e-3, tons),
        "suction_volume": (0.8e-3, 1.6e-3, tons),
        "accumulator": (0.45, 0.9, tons),
        "vapour_line": (0.12, 0.3, RATED_LENGTH),
        "liquid_line": (0.08, 0.3, RATED_LENGTH),
    }
    for name, (bottom, top, scale) in spans.items():
        free[name] = draw(bottom, top) * scale
    free["orifice"] = np.zeros(count) + orifice
    free["restriction_upstream"] = (draw(0.0, 1.0) < 0.5).astype(np.float64)
    found = {x.name: np.ones(count) for x in fields(Unit) if x.name not in free}
    unit, fit = designed(f, Unit(**free, **found))
    return (installed(unit, length) if length != RATED_LENGTH else unit), fit


def installed(unit: Unit, length: F | float) -> Unit:
    """The unit with the lines of its house (m); the charge is adjusted for the liquid line, as makers ask."""
    share = length / RATED_LENGTH
    drop = 0.4 + 0.6 * share  # a part of the drop is in fittings and valves
    return replace(
        unit,
        vapour_line=unit.vapour_line * share,
        liquid_line=unit.liquid_line * share,
        drop_vapour=unit.drop_vapour * drop,
        drop_liquid=unit.drop_liquid * drop,
        liquid_volume=unit.liquid_volume * share,
        vapour_volume=unit.vapour_volume * share,
        charge=unit.charge + unit.liquid_volume * (share - 1.0) * 1050.0 + unit.vapour_volume * (share - 1.0) * 75.0,
    )


def staged(unit: Unit, speed: F | float, air: F | float, fan: F | float) -> Unit:
    """The unit at a share of its displacement and of both airflows; motors of fans by the cube or nearly."""
    return replace(
        unit,
        displacement=unit.displacement * speed,
        work=unit.work * speed,
        cfm_per_ton=unit.cfm_per_ton * air,
        outdoor_cfm_per_ton=unit.outdoor_cfm_per_ton * fan,
        in_conductance=unit.in_conductance * air**unit.in_air_exponent,
        out_conductance=unit.out_conductance * fan**unit.out_air_exponent,
        blower=unit.blower * air**2.6,
        fan=unit.fan * fan**2.6,
    )


# --------------------------------------------------------------------------- parts


@dataclass(frozen=True)
class LowSide:
    """Outdoor coil's outlet and what the compressor draws: Pa, degC, J/kg, kg/m3."""

    p_coil: F
    p_mean: F
    h_outlet: F
    t_outlet: F
    rho_outlet: F
    p_suction: F
    h_suction: F
    t_suction: F
    rho_suction: F
    s_suction: F


@dataclass(frozen=True)
class HighSide:
    """Compressor's outlet to the metering device.

    ``p_in``, ``p_mean``, ``p_out`` are the refrigerant's own pressures in the indoor coil; ``p_port`` (liquid)
    and ``p_vapour`` are what gauges at the outdoor unit show, ``p_valve`` what the device sees.
    """

    p_in: F
    p_mean: F
    p_out: F
    p_vapour: F
    p_discharge: F
    h_discharge: F
    t_discharge: F
    h_port: F
    t_port: F
    h_in: F
    t_in: F
    t_bubble: F
    h_bubble: F
    t_out: F
    h_out: F
    p_port: F
    t_liquid: F
    h_liquid: F
    p_valve: F
    gas: F


@dataclass(frozen=True)
class Compressor:
    """Flow (kg/s) and electrical input (W)."""

    flow: F
    power: F
    h_discharge: F
    t_discharge: F


def _superheat(weather: Weather, x: F) -> F:
    """Superheat at the coil's outlet (K): over a difference d to the air d (1 - exp(-z/d)); wet under 0."""
    d = weather.outdoor - x[:, 0]
    found: F = -d * np.expm1(-np.maximum(x[:, 2], 0.0) / d) + np.minimum(x[:, 2], 0.0)
    return found


def _low_side(f: FieldFluid, u: Unit, weather: Weather, x: F) -> LowSide:
    """Outdoor coil, reversing valve and accumulator; drops ~ m^1.8 / density.

    The third unknown z is the superheat as if the air did not limit it.
    """
    te, superheat, m, rise = x[:, 0], _superheat(weather, x), x[:, 4], 1e3 * x[:, 5]
    p = f.sat.dew_pressure(te)
    h = f.superheated_h(p, superheat)
    t, rho, _ = f.vapour(p, h)
    push = np.exp(1.8 * m) * u.suction_density / rho
    p_suction = np.maximum(p - u.drop_suction * push, 0.3 * p)
    warm, rho_s, entropy = f.vapour(p_suction, h + rise)
    return LowSide(p, p + 0.5 * u.drop_outdoor * push, h, t, rho, p_suction, h + rise, warm, rho_s, entropy)


def _volumetric(u: Unit, ratio: F) -> F:
    return np.maximum(1.0 - u.clearance * ratio, 0.2)


def _efficiency(u: Unit, ratio: F) -> F:
    """Isentropic work over the input that follows the load: a parabola in ln(pressure ratio)."""
    off = np.log(ratio / (u.pressure_ratio * u.best_ratio))
    design = 1.0 - u.efficiency_bend * np.log(u.best_ratio) ** 2
    found: F = u.efficiency / (1.0 - u.standing_loss) * np.maximum(1.0 - u.efficiency_bend * off**2, 0.3) / design
    return found


def compressor(f: FieldFluid, u: Unit, health: Health, weather: Weather, low: LowSide, p_d: F) -> Compressor:
    """A map: volumetric efficiency and efficiency by the pressure ratio, a standing loss, slip, shell loss."""
    ratio = p_d / low.p_suction
    ideal_h = f.isentropic_h(p_d, low.s_suction)
    ideal = np.maximum(ideal_h - low.h_suction, 100.0)
    torque = low.rho_suction * ideal * u.displacement / np.maximum(u.work * u.efficiency, 1.0)
    speed = 1.0 - u.slip * (torque / weather.voltage**2 - 1.0)
    flow = u.displacement * speed * low.rho_suction * _volumetric(u, ratio) * health.compressor_volumetric
    efficiency = _efficiency(u, ratio) * health.compressor_isentropic
    efficiency = efficiency * health.compressor_volumetric**u.leak_work
    change = weather.voltage - 1.0
    power = (flow * ideal / efficiency + u.standing_loss * u.work) * (1.0 + u.motor_voltage * change + 2.0 * change**2)
    hot = f.vapour(p_d, ideal_h)[0] + 5.0
    shell_t = u.shell_hot * hot + (1.0 - u.shell_hot) * low.t_suction
    h: F = low.h_suction + (power - u.shell * (shell_t - weather.outdoor)) / flow
    return Compressor(flow, power, h, f.vapour(p_d, h)[0])


def _bent(value: F, least: F | float) -> F:
    """The value, bent to stay positive below ``least``: smooth, so that Newton steps find back."""
    low = least * np.exp(np.minimum(value / least, 1.0) - 1.0)
    return np.where(value > least, value, low)


@dataclass(frozen=True)
class _VapourLine:
    """From the compressor to the indoor coil: pressures at it and at the outdoor unit, then states along the way."""

    p_discharge: F
    p_vapour: F
    comp: Compressor
    h_port: F
    t_port: F
    h_in: F
    t_in: F


def _push(x: F) -> F:
    """What pressure drops of the high side follow: flow over the design flow, to the power 1.8."""
    found: F = np.exp(1.8 * x[:, 4])
    return found


def _around(u: Unit, weather: Weather) -> F:
    """Air around the lines (degC)."""
    found: F = u.lines_outdoors * weather.outdoor + (1.0 - u.lines_outdoors) * weather.dry
    return found


def _vapour_line(f: FieldFluid, u: Unit, health: Health, weather: Weather, x: F, low: LowSide, p_in: F) -> _VapourLine:
    """Compressor, reversing valve and vapour line ahead of the coil's inlet pressure ``p_in``."""
    m, push = u.flow * np.exp(x[:, 4]), _push(x)
    p_vapour = p_in + u.drop_vapour * push + _gas_pressure(f, health, x)
    p_d = p_vapour + u.drop_discharge * push
    comp = compressor(f, u, health, weather, low, p_d)
    lost = u.valve_conduction * (comp.t_discharge - low.t_outlet) + u.pipe_loss * (comp.t_discharge - weather.outdoor)
    h_port = comp.h_discharge - lost / m
    t_port = f.vapour(p_vapour, h_port)[0]
    h_in = h_port - u.vapour_line * (t_port - _around(u, weather)) / m
    return _VapourLine(p_d, p_vapour, comp, h_port, t_port, h_in, f.vapour(p_in, h_in)[0])


def _gas_pressure(f: FieldFluid, health: Health, x: F) -> F:
    """Partial pressure of non-condensable gas."""
    found: F = (health.non_condensable - 1.0) * f.sat.dew_pressure(x[:, 1])
    return found


def _high_side(
    f: FieldFluid, u: Unit, health: Health, weather: Weather, x: F, low: LowSide
) -> tuple[HighSide, Compressor]:
    """From the compressor to the metering device.

    The fourth unknown y is the subcooling as if the air did not limit it: over a difference d to the air,
    subcooling = d (1 - exp(-y/d)).  A negative one means flash, cp per K.
    """
    y, m, sat, push = x[:, 3], u.flow * np.exp(x[:, 4]), f.sat, _push(x)
    p = sat.dew_pressure(x[:, 1])
    p_in, p_out = p + 0.5 * u.drop_indoor * push, p - 0.5 * u.drop_indoor * push
    gas = _gas_pressure(f, health, x)
    ahead = _vapour_line(f, u, health, weather, x, low, p_in)
    bubble, hl = sat.at(sat.bubble, p_out), sat.at(sat.hl, p_out)
    most = np.maximum(bubble - weather.dry, 0.5)
    t = bubble + most * np.expm1(-np.maximum(y, 0.0) / most)
    h_out = f.liquid_h(t) + sat.at(sat.cpl, p_out) * np.maximum(-y, 0.0)
    quality = np.maximum(h_out - hl, 0.0) / (sat.at(sat.hg, p_out) - hl)
    h_liquid = h_out - u.liquid_line * (t - _around(u, weather)) / m
    line = u.drop_liquid * push * (1.0 + 4.0 * quality)
    more = line * (health.liquid_line_drop - 1.0)
    p_port = _bent(p_out - line - u.restriction_upstream * more, 0.1 * p_out)
    as_liquid = np.interp(h_liquid, sat.hl, sat.bubble)
    high = HighSide(
        p_in=p_in,
        p_mean=p,
        p_out=p_out,
        p_vapour=ahead.p_vapour,
        p_discharge=ahead.p_discharge,
        h_discharge=ahead.comp.h_discharge,
        t_discharge=ahead.comp.t_discharge,
        h_port=ahead.h_port,
        t_port=ahead.t_port,
        h_in=ahead.h_in,
        t_in=ahead.t_in,
        t_bubble=bubble,
        h_bubble=hl,
        t_out=t,
        h_out=h_out,
        p_port=p_port + gas,
        t_liquid=np.minimum(as_liquid, sat.at(sat.bubble, p_port)),
        h_liquid=h_liquid,
        p_valve=_bent(p_out - 1.3 * line - more, 0.1 * p_out) + gas,
        gas=gas,
    )
    return high, ahead.comp


def _log_mean(a: F, b: F) -> F:
    """Logarithmic mean of two temperature differences (K), kept positive."""
    a, b = np.maximum(a, 0.05), np.maximum(b, 0.05)
    close = np.abs(a - b) < 1e-6
    ratio = np.where(close, 2.0, a / b)
    return np.where(close, 0.5 * (a + b), (a - b) / np.log(ratio))


def indoor_air(u: Unit, health: Health, weather: Weather) -> F:
    """Mass flow of dry air (kg/s)."""
    return u.cfm_per_ton * u.tons * CFM * health.indoor_airflow * pairs.air_density(weather.dry, weather.ratio)


def outdoor_share(health: Health) -> F:
    """Share of the outdoor airflow that fouling and frost leave."""
    return health.outdoor_airflow / (1.0 + (np.maximum(health.frost, 0.0) / FROST_HALVES) ** 1.5)


def _indoor_coil(f: FieldFluid, u: Unit, health: Health, weather: Weather, high: HighSide, x: F) -> tuple[F, F, F]:
    """Shares of the area that desuperheat, condense and subcool; zones share area and air alike (cross flow).

    Condensing zone: effectiveness 1 - exp(-NTU).  Single-phase zones: conductance times the log mean over
    the mean air temperature of the zone.
    """
    sat, m, ta = f.sat, u.flow * np.exp(x[:, 4]), weather.dry
    air = indoor_air(u, health, weather) * (1006.0 + 1860.0 * weather.ratio)
    outer = health.indoor_airflow**-u.in_air_exponent
    scale = u.in_conductance * health.indoor_conductance
    inner = np.exp(-u.in_ref_exponent * x[:, 4])
    condensing, vapour, liquid = (
        scale / (outer + ratio * inner) for ratio in (u.in_ref_ratio, u.in_vapour_ratio, u.in_liquid_ratio)
    )
    hot = 0.5 * (sat.at(sat.dew, high.p_mean) + sat.at(sat.bubble, high.p_mean))
    hg = sat.at(sat.hg, high.p_mean)
    first = m * np.maximum(high.h_in - hg, 0.0) * (1.0 / vapour + 0.5 / air)
    first = first / _log_mean(high.t_in - ta, hot - ta)
    latent = m * (np.minimum(hg, high.h_in) - np.maximum(high.h_out, high.h_bubble))
    second = latent / (air * -np.expm1(-condensing / air) * np.maximum(hot - ta, 0.05))
    third = m * np.maximum(high.h_bubble - high.h_out, 0.0) * (1.0 / liquid + 0.5 / air)
    third = third / _log_mean(high.t_bubble - ta, high.t_out - ta)
    return first, second, third


@dataclass(frozen=True)
class OutdoorCoil:
    """Heat to the boiling zone (W), enthalpy where boiling ends, superheating share, air out, water (kg/s)."""

    boiling: F
    h_boiled: F
    superheating: F
    leaving: F
    moisture: F


def _outdoor_coil(f: FieldFluid, u: Unit, health: Health, weather: Weather, low: LowSide, x: F) -> OutdoorCoil:
    sat, m = f.sat, u.flow * np.exp(x[:, 4])
    share = outdoor_share(health)
    air = u.outdoor_cfm_per_ton * u.tons * CFM * share * pairs.air_density(weather.outdoor, weather.outdoor_ratio)
    blocked = 1.0 + u.frost_resistance * np.maximum(health.frost, 0.0) / FROST_HALVES
    scale = u.out_conductance * health.outdoor_conductance
    outer = share**u.out_air_exponent / blocked
    inner = np.exp(-u.out_ref_exponent * x[:, 4])
    vapour = scale / (1.0 / outer + u.out_vapour_ratio * inner)
    cold = 0.6 * sat.at(sat.dew, low.p_mean) + 0.4 * sat.at(sat.bubble, low.p_mean)
    ta, w = weather.outdoor, weather.outdoor_ratio
    heat, dry, ratio = coil_air(ta, w, cold, air, scale * outer, scale / (u.out_ref_ratio * inner))
    z = np.maximum(x[:, 2], 0.0)
    superheat = np.maximum(_superheat(weather, x), 1e-9)
    warm = m * np.maximum(low.h_outlet - sat.at(sat.hg, low.p_coil), 0.0)
    part = z / (ta - x[:, 0]) * warm / superheat / vapour
    part = 1.0 - _bent(1.0 - part, 0.05)
    cp = 1006.0 + 1860.0 * w
    leaving = (1.0 - part) * dry + part * ta - warm / (air * cp)
    boiled = np.minimum(low.h_outlet, sat.at(sat.hg, low.p_coil))
    return OutdoorCoil(heat * (1.0 - part), boiled, part, leaving, air * (1.0 - part) * (w - ratio))


# How far a sensing bulb is misled for each unit of ``device_flow`` over 1 (K of superheat).
BULB_SHIFT = 20.0


def _device_flow(f: FieldFluid, u: Unit, health: Health, weather: Weather, high: HighSide, low: LowSide, x: F) -> F:
    """Flow of the metering device (kg/s): C sqrt(density x pressure difference).

    Expansion valve: proportional to superheat, corners rounded; stuck or underfed (``device_flow`` under 1)
    it opens no further; over 1 its bulb takes the pipe for warmer than it is.  Fixed orifice: more with
    subcooling (after Kim and O'Neal 1994).  Flash at the inlet lowers the density.
    """
    sat = f.sat
    own = high.p_valve - high.gas
    rl, rg, hl, hg = (sat.at(c, own) for c in (sat.rl, sat.rg, sat.hl, sat.hg))
    quality = np.maximum((high.h_liquid - hl) / (hg - hl), 0.0)
    rho = rl / (1.0 + u.flash_slip * quality * (rl / rg - 1.0))
    drop = _bent(high.p_valve - low.p_mean, 2e4)
    subcooling = np.maximum(sat.at(sat.bubble, high.p_valve) - high.t_liquid, 0.0)
    tube = (1.0 + u.orifice_subcooling * subcooling) * health.device_flow
    widest = np.minimum(health.device_flow, 1.0)
    misled = BULB_SHIFT * np.maximum(health.device_flow - 1.0, 0.0)
    line = u.valve_opening + (_superheat(weather, x) + misled - u.superheat) / u.valve_range
    opening = widest - np.logaddexp(0.0, 12.0 * (widest - line)) / 12.0
    opening = np.logaddexp(0.0, 30.0 * opening) / 30.0
    return u.valve * np.sqrt(rho * drop) * np.where(u.orifice > 0.5, tube, opening)


def accumulated(f: FieldFluid, u: Unit, low: LowSide) -> F:
    """Liquid in the accumulator (kg): its bleed hole must return what arrives, as the root of the level."""
    sat = f.sat
    hg, hl = sat.at(sat.hg, low.p_suction), sat.at(sat.hl, low.p_suction)
    wet = np.maximum(hg - low.h_suction, 0.0) / (hg - hl)
    return u.accumulator * np.tanh((wet / u.bleed) ** 2)


def _inventory(f: FieldFluid, u: Unit, zones: tuple[F, F, F], coil: OutdoorCoil, high: HighSide, low: LowSide) -> F:
    """Refrigerant in the unit (kg): zone volumes times mean densities (after Rice 1987)."""
    sat = f.sat
    rg, rl = sat.at(sat.rg, high.p_mean), sat.at(sat.rl, high.p_mean)
    hl, hg = sat.at(sat.hl, high.p_out), sat.at(sat.hg, high.p_out)
    quality = np.clip((high.h_out - hl) / (hg - hl), 0.0, 1.0)
    void = pairs.mean_void(rg, rl, quality, np.ones_like(rg))
    first, second, third = zones
    hot = 0.85 * rg
    held = first * hot + second * (void * rg + (1.0 - void) * rl) + third * rl * 1.02
    flash = 1.0 / (1.0 + quality * (rl / rg - 1.0) * 0.6)
    eg, el = sat.at(sat.rg, low.p_mean), sat.at(sat.rl, low.p_mean)
    bottom = sat.at(sat.hl, low.p_mean)
    heat = sat.at(sat.hg, low.p_mean) - bottom
    inlet = np.clip((high.h_liquid - bottom) / heat, 0.01, 0.9)
    wet = np.clip((coil.h_boiled - bottom) / heat, 0.3, 1.0)
    space = pairs.mean_void(eg, el, inlet, wet)
    boiling = space * eg + (1.0 - space) * el
    cold = (1.0 - coil.superheating) * boiling + coil.superheating * low.rho_outlet
    return (
        u.in_volume * held
        + u.liquid_volume * rl * flash
        + u.out_volume * cold
        + u.vapour_volume * hot
        + u.suction_volume * low.rho_suction
        + accumulated(f, u, low)
    )


# --------------------------------------------------------------------------- the whole unit


@dataclass(frozen=True)
class Cycle:
    """A state: its parts, what the equations lack, raw device flow and charge."""

    low: LowSide
    high: HighSide
    compressor: Compressor
    zones: tuple[F, F, F]
    coil: OutdoorCoil
    device_flow: F
    inventory: F
    lack: F = field(repr=False)


def cycle(f: FieldFluid, u: Unit, health: Health, weather: Weather, x: F) -> Cycle:
    """All parts at the unknowns x and the six residuals (relative)."""
    m = u.flow * np.exp(x[:, 4])
    low = _low_side(f, u, weather, x)
    high, comp = _high_side(f, u, health, weather, x, low)
    zones = _indoor_coil(f, u, health, weather, high, x)
    coil = _outdoor_coil(f, u, health, weather, low, x)
    device = _device_flow(f, u, health, weather, high, low, x)
    held = _inventory(f, u, zones, coil, high, low)
    leak = health.valve_leak
    gained = u.valve_conduction * (high.t_discharge - low.t_outlet) + u.suction_gain * (weather.outdoor - low.t_outlet)
    mixed = (1.0 - leak) * (low.h_outlet + gained / m) + leak * high.h_discharge
    lack = np.stack(
        [
            comp.flow * (1.0 - leak) / m - 1.0,
            device / m - 1.0,
            (m * (coil.h_boiled - high.h_liquid) - coil.boiling) / (u.tons * TON),
            sum(zones) - 1.0,
            held / (u.charge * health.charge) - 1.0,
            (mixed - low.h_suction) / 2e5,
        ],
        axis=1,
    )
    return Cycle(low, high, comp, zones, coil, device, held, lack)


def designed(f: FieldFluid, u: Unit) -> tuple[Unit, Mask]:
    """The unit whose flow, displacement, conductances, valve and charge meet its design point."""
    count = len(u.tons)
    sound, rating = Health.sound(count), Weather.rating(count)
    p_e, p_l = f.sat.dew_pressure(u.te), f.sat.dew_pressure(u.tc) - 0.5 * u.drop_indoor
    h1 = f.superheated_h(p_e, u.superheat)
    t1, rho1, _ = f.vapour(p_e, h1)
    bubble = f.sat.at(f.sat.bubble, p_l)
    over = bubble - rating.dry
    y = -over * np.log1p(-np.minimum(u.subcooling / over, 0.97))
    h3 = f.liquid_h(bubble - u.subcooling)
    u = replace(u, suction_density=rho1, flow=u.tons * TON / 2.2e5)
    under = rating.outdoor - u.te
    z = -under * np.log1p(-u.superheat / under)
    x = np.stack([u.te, u.tc, z, y, np.zeros(count), np.zeros(count)], axis=1)
    p_d = f.sat.dew_pressure(u.tc) + 0.5 * u.drop_indoor + u.drop_vapour + u.drop_discharge
    for _ in range(25):
        low = _low_side(f, u, rating, x)
        ratio = p_d / low.p_suction
        ideal = f.isentropic_h(p_d, low.s_suction) - low.h_suction
        swept = u.flow / (low.rho_suction * _volumetric(u, ratio))
        u = replace(u, displacement=swept, work=u.flow * ideal / u.efficiency, pressure_ratio=ratio)
        high, comp = _high_side(f, u, sound, rating, x, low)
        gained = u.valve_conduction * (comp.t_discharge - t1) + u.suction_gain * (rating.outdoor - t1)
        x[:, 5] = gained / u.flow / 1e3
        u = replace(u, flow=(u.tons * TON - u.blower) / (high.h_in - h3))
    return _sized(f, u, x)


def _bisected(function: Callable[[F], F], count: int) -> tuple[F, Mask]:
    """The conductance (W/K) at which the falling function is zero, and whether there is one."""
    low, high = np.full(count, np.log(50.0)), np.full(count, np.log(6e4))
    ok = (function(np.exp(low)) > 0) & (function(np.exp(high)) < 0)
    for _ in range(45):
        middle = 0.5 * (low + high)
        over = function(np.exp(middle)) > 0
        low, high = np.where(over, middle, low), np.where(over, high, middle)
    return np.exp(low), ok


def _sized(f: FieldFluid, u: Unit, x: F) -> tuple[Unit, Mask]:
    """The unit with its two coils, device and charge sized at the design state x."""
    count = len(u.tons)
    sound, rating = Health.sound(count), Weather.rating(count)
    low = _low_side(f, u, rating, x)
    high, _ = _high_side(f, u, sound, rating, x, low)

    def outdoor_lack(conductance: F) -> F:
        coil = _outdoor_coil(f, replace(u, out_conductance=conductance), sound, rating, low, x)
        lack: F = u.flow * (coil.h_boiled - high.h_liquid) - coil.boiling
        return lack

    def indoor_lack(conductance: F) -> F:
        v = replace(u, in_conductance=conductance)
        return sum(_indoor_coil(f, v, sound, rating, high, x)) - 1.0  # type: ignore[return-value]

    out, out_ok = _bisected(outdoor_lack, count)
    inside, in_ok = _bisected(indoor_lack, count)
    u = replace(u, out_conductance=out, in_conductance=inside)
    c = cycle(f, u, sound, rating, x)
    return replace(u, valve=u.flow / c.device_flow, charge=c.inventory), out_ok & in_ok


_STEP = np.array([1e-3, 1e-3, 1e-3, 1e-3, 1e-5, 1e-3])
_LIMIT = np.array([2.5, 3.0, 2.5, 2.5, 0.12, 6.0])


def _start(u: Unit, weather: Weather) -> F:
    """A first guess from the design point."""
    share = np.clip(1.0 + 0.0216 * (weather.outdoor - RATED_OUTDOOR), 0.3, 1.6)
    te = weather.outdoor - (RATED_OUTDOOR - u.te) * share
    tc = weather.dry + (u.tc - RATED_INDOOR) * share
    y = np.minimum(u.subcooling * 1.3, 30.0)
    return np.stack([te, tc, u.superheat, y, np.log(share), np.full(len(te), 2.0)], axis=1)


def _bounded(f: FieldFluid, x: F, weather: Weather) -> F:
    """The unknowns kept where the parts have a meaning."""
    te = np.clip(x[:, 0], -58.0, weather.outdoor - 0.8)
    tc = np.clip(x[:, 1], weather.dry + 0.5, f.sat.dew[-1] - 1.5)
    superheat = np.clip(x[:, 2], -120.0, 900.0)
    y = np.clip(x[:, 3], -60.0, 600.0)
    return np.stack([te, tc, superheat, y, np.clip(x[:, 4], -3.5, 0.9), np.clip(x[:, 5], -5.0, 150.0)], axis=1)


def _newton_step(f: FieldFluid, u: Unit, health: Health, weather: Weather, x: F, lack: F) -> F:
    """The limited Newton step, by finite differences."""
    count, size = x.shape
    # All moved states at once: a call costs more than its elements.
    tiled = np.tile(np.arange(count), size)
    moved = x[tiled] + np.repeat(np.diag(_STEP), count, axis=0)
    shown = cycle(f, u.take(tiled), health.take(tiled), weather.take(tiled), moved).lack
    jacobian = (shown.reshape(size, count, size) - lack) / _STEP[:, None, None]
    jacobian = jacobian.transpose(1, 2, 0).copy()
    jacobian += 1e-9 * np.eye(size)
    broken = ~np.isfinite(jacobian).all(axis=(1, 2))
    jacobian[broken] = np.eye(size)
    step_found = np.linalg.solve(jacobian, -np.nan_to_num(lack)[:, :, None])[:, :, 0]
    limit = np.tile(_LIMIT, (count, 1))
    limit[:, 2:4] += 0.25 * np.abs(x[:, 2:4])  # both are far out where the air limits them
    scale = np.max(np.abs(step_found) / limit, axis=1, keepdims=True)
    found: F = step_found / np.maximum(scale, 1.0)
    return found


def _improved(f: FieldFluid, u: Unit, health: Health, weather: Weather, x: F) -> tuple[F, F]:
    """One Newton step, shortened for the units whose residual would grow much."""
    lack = cycle(f, u, health, weather, x).lack
    step = _newton_step(f, u, health, weather, x, lack)
    before = np.abs(lack).max(axis=1)
    best, least = x, np.full(len(x), np.inf)
    for share in (1.0, 0.4, 0.1):
        tried = _bounded(f, x + share * step, weather)
        size = np.abs(cycle(f, u, health, weather, tried).lack).max(axis=1)
        better = (size < least) & (least > 0.9 * before)
        best, least = np.where(better[:, None], tried, best), np.where(better, size, least)
        if (least < 0.9 * before).all():
            break
    return best, least


def solved(
    f: FieldFluid, u: Unit, health: Health, weather: Weather, start: F | None = None, steps: int = 45
) -> tuple[F, Mask]:
    """The unknowns of each unit's steady state and whether they were found (residual < 1e-7)."""
    x = _bounded(f, _start(u, weather) if start is None else start, weather)
    size, live = np.full(len(x), np.inf), np.arange(len(x))
    with np.errstate(all="ignore"):
        for _ in range(steps):
            parts = u.take(live), health.take(live), weather.take(live)
            x[live], size[live] = _improved(f, *parts, x[live])
            live = np.flatnonzero(~(size < 1e-8))
            if not len(live):
                break
    return x, size < 1e-7


def reached(f: FieldFluid, u: Unit, health: Health, weather: Weather, stages: int = 4) -> tuple[F, Mask]:
    """The same, and where that fails by continuation from the healthy unit."""
    x, ok = solved(f, u, health, weather)
    lost = np.flatnonzero(~ok)
    if not len(lost):
        return x, ok
    part, w, target = u.take(lost), weather.take(lost), health.take(lost)
    y, found = solved(f, part, Health.sound(len(lost)), w)
    for step in range(1, stages + 1):
        between = _between(target, step / stages)
        y, now = solved(f, part, between, w, start=y)
        found &= now
    x[lost], ok[lost] = y, found
    return x, ok


def _between(health: Health, share: float) -> Health:
    """Health a share of the way from sound."""
    count = len(health.charge)
    sound = Health.sound(count)
    return Health(
        **{
            n.name: getattr(sound, n.name) + share * (getattr(health, n.name) - getattr(sound, n.name))
            for n in fields(Health)
        }
    )


@dataclass(frozen=True)
class Result(Columns):
    """What a state amounts to, SI.  ``capacity`` and ``cop`` are as a rating has them: with the blower's
    heat and power, without strips; ``gross`` is what the refrigerant gives to the indoor coil."""

    te: F  # dew point at the compressor's suction
    te_coil: F
    tc: F  # bubble point at the liquid port
    tc_vapour: F  # bubble point at the vapour port
    superheat: F  # at the compressor
    coil_superheat: F
    subcooling: F
    discharge: F
    vapour_line: F
    t_coil: F
    t_suction: F
    t_liquid: F
    p_suction: F
    p_liquid: F
    p_vapour: F
    p_discharge: F
    flow: F
    gross: F
    capacity: F
    power: F
    cop: F
    compressor_power: F
    outdoor_power: F
    blower: F
    current: F
    supply_dry: F
    leaving: F
    airflow: F
    volts: F
    frosting: F  # kg/s
    accumulated: F
    discharge_superheat: F
    shell_loss: F  # W
    at_outdoor_unit: F  # W, between the discharge stub and the liquid line at the outdoor unit


def result(f: FieldFluid, u: Unit, health: Health, weather: Weather, x: F) -> Result:
    """What the state x amounts to."""
    with np.errstate(all="ignore"):
        c = cycle(f, u, health, weather, x)
    sat, low, high, comp = f.sat, c.low, c.high, c.compressor
    m = u.flow * np.exp(x[:, 4])
    fan = u.fan * (outdoor_share(health) ** u.fan_flow_exponent) * weather.voltage**u.fan_voltage_exponent
    blower = u.blower * health.indoor_airflow**u.blower_flow_exponent * weather.voltage**u.fan_voltage_exponent
    gross = m * (high.h_in - high.h_out)
    air = indoor_air(u, health, weather) * (1006.0 + 1860.0 * weather.ratio)
    outdoors = u.outdoor_cfm_per_ton * u.tons * CFM * outdoor_share(health)
    outdoors = outdoors * pairs.air_density(weather.outdoor, weather.outdoor_ratio) * 1010.0
    factor = u.power_factor + u.power_factor_slope * (comp.power / u.work - 1.0)
    factor = np.clip(factor - 0.6 * (weather.voltage - 1.0), 0.6, 0.995)
    volts = 230.0 * weather.voltage
    total = comp.power + fan + blower
    te = sat.at(sat.dew, low.p_suction)
    return Result(
        te=te,
        te_coil=sat.at(sat.dew, low.p_coil),
        tc=sat.at(sat.bubble, high.p_port),
        tc_vapour=sat.at(sat.bubble, high.p_vapour),
        superheat=low.t_suction - te,
        coil_superheat=low.t_outlet - sat.at(sat.dew, low.p_coil),
        subcooling=sat.at(sat.bubble, high.p_port) - high.t_liquid,
        discharge=high.t_discharge,
        vapour_line=high.t_port,
        t_coil=low.t_outlet,
        t_suction=low.t_suction,
        t_liquid=high.t_liquid,
        p_suction=low.p_suction,
        p_liquid=high.p_port,
        p_vapour=high.p_vapour,
        p_discharge=high.p_discharge,
        flow=m,
        gross=gross,
        capacity=gross + blower,
        power=total,
        cop=(gross + blower) / total,
        compressor_power=comp.power,
        outdoor_power=comp.power + fan,
        blower=blower,
        current=comp.power / (volts * factor),
        supply_dry=weather.dry + (gross + blower) / air,
        leaving=c.coil.leaving + fan / outdoors,
        airflow=u.cfm_per_ton * u.tons * health.indoor_airflow,
        volts=volts,
        frosting=np.where(low.p_coil < sat.dew_pressure(np.array(-1.0)), c.coil.moisture, 0.0),
        accumulated=accumulated(f, u, low),
        discharge_superheat=high.t_discharge - sat.at(sat.dew, high.p_discharge),
        shell_loss=comp.power - comp.flow * (high.h_discharge - low.h_suction),
        at_outdoor_unit=m * (high.h_discharge - high.h_liquid),
    )


def states(f: FieldFluid, u: Unit, health: Health, weather: Weather) -> tuple[Result, Mask]:
    """The steady states and which of them are found and sensible."""
    x, ok = reached(f, u, health, weather)
    with np.errstate(all="ignore"):
        r = result(f, u, health, weather, x)
        ok &= (r.gross > 0) & (r.discharge < 150.0) & np.isfinite(r.cop) & (r.p_suction > 0.3e5)
    return r, ok


# --------------------------------------------------------------------------- table


def outdoors(fahrenheit: float, humidity: float = 0.7) -> tuple[float, float]:
    """Outdoor temperature (degC) and humidity ratio at a relative humidity (over water)."""
    t = (fahrenheit - 32.0) / 1.8
    return t, float(pairs.ratio_from_humidity(np.array(t), np.array(humidity)))


_TABLE = ("te", "tc", "superheat", "subcooling", "discharge", "vapour_line", "gross", "compressor_power", "cop")
_FAULTS: Mapping[str, tuple[float, ...]] = {
    "outdoor_airflow": (0.8, 0.6, 0.4),
    "outdoor_conductance": (0.7,),
    "indoor_airflow": (0.8, 0.6, 1.25),
    "charge": (0.9, 0.8, 0.6, 1.1, 1.3),
    "compressor_volumetric": (0.9, 0.7),
    "liquid_line_drop": (5.0, 20.0),
    "device_flow": (0.9, 0.6, 1.2, 1.4),
    "non_condensable": (1.06,),
    "valve_leak": (0.05, 0.2),
    "frost": (0.3, 0.9),
}


def _fault_table(f: FieldFluid, u: Unit, weather: Weather) -> None:
    sound = Health.sound(1)
    base, _ = states(f, u, sound, weather)
    for name, values in _FAULTS.items():
        for value in values:
            r, ok = states(f, u, replace(sound, **{name: np.array([value])}), weather)
            cells = [1.8 * float((getattr(r, n) - getattr(base, n))[0]) for n in _TABLE[:6]]
            cells += [100.0 * float((getattr(r, n) / getattr(base, n))[0] - 1.0) for n in _TABLE[6:]]
            mark = "" if ok[0] else "  NOT FOUND"
            print(f"  {name + f' {value:g}':28s}" + "".join(f"{v:10.1f}" for v in cells) + mark)


def main() -> None:
    """Print what the middle units show against outdoor temperature, and what faults change (degF, per cent)."""
    f = fluid_of("R-410A")
    for orifice in (0.0, 1.0):
        u, _ = draw_units(f, 1, None, orifice)
        print(f"\n{'fixed orifice' if orifice else 'expansion valve'}, R-410A, degF and psig")
        print("  outdoor  Tc-ret  out-Te   SH   SC   dis-out  vap-out  rise  Q/Q47  P/P47   COP  psuct  pliq  accu")
        rated, _ = states(f, u, Health.sound(1), Weather.rating(1))
        for t in (62, 57, 47, 40, 35, 30, 25, 17, 10, 5, 0):
            w = Weather.of(*outdoors(t))
            r, ok = states(f, u, Health.sound(1), w)
            values = (
                1.8 * (r.tc - w.dry), 1.8 * (w.outdoor - r.te), 1.8 * r.superheat, 1.8 * r.subcooling,
                1.8 * (r.discharge - w.outdoor), 1.8 * (r.vapour_line - w.outdoor), 1.8 * (r.supply_dry - w.dry),
                r.capacity / rated.capacity, r.power / rated.power, r.cop,
                (r.p_suction - pairs.ATMOSPHERE) / pairs.PSI, (r.p_liquid - pairs.ATMOSPHERE) / pairs.PSI,
                r.accumulated,
            )  # fmt: skip
            print(f"  {t:5d}  " + "".join(f"{float(v[0]):8.2f}" for v in values) + ("" if ok[0] else "  NOT FOUND"))
        for t in (47, 17):
            print(f"  faults at {t} degF: " + ", ".join(_TABLE))
            _fault_table(f, u, Weather.of(*outdoors(t)))
    print(f"\nrated capacity of the middle unit {float(rated.capacity[0]) / BTU_PER_HOUR:.0f} Btu/h")


if __name__ == "__main__":
    main()
