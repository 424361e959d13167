"""A lumped steady-state model of a split air conditioner in cooling, or of a heat pump in heating.

Two heat balances close the cycle: what the compressor pumps must be what the air gives up at the
evaporator, and what it drives out must be what the condenser passes to the other air.  The refrigerant's
side is one for both modes; the coils change places.  The model is coarse on purpose: its conductances are
found from readings, and it is asked for *changes* from one set of conditions to another, in which most of
its coarseness cancels.

All arrays broadcast; SI units.  Nothing is raised: a state that the refrigerant's tables do not hold
is not-a-number.

References
----------
Compressor: volumetric and isentropic efficiency over pressure ratio (ASHRAE Handbook, HVAC Systems and
Equipment, chapter on compressors).  Coils: effectiveness with one uniform temperature on the
refrigerant's side, on enthalpy where the coil is wet (Threlkeld, J. L. (1970), Thermal Environmental
Engineering, chapter 12; Braun, Klein and Mitchell (1989), ASHRAE Transactions 95(2)).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from service.physics import moist_air
from service.physics.array_types import FloatArray, FloatLike
from service.physics.refrigerant_enthalpy import Isobar, SinglePhase, Vapour
from service.reference.air import ROOM_AIR_HEAT

#: Pressure ratio at which ``efficiency`` holds; about that of rating point A.
REFERENCE_RATIO = 2.8
#: Last step of Newton's method [K]; what is left after it is its square.
_CLOSE = 1e-2
#: Width [J/kg] over which a coil passes from dry to wet: rows of one circuit are not equally cold.  That of an
#: outdoor coil in heating is less, as the air gives up less heat to each kilogram.
_PARTLY_WET = 3000.0
_PARTLY_FROSTED = 500.0
#: Width [K] over which superheat or subcooling ends, and share of the other phase for each kelvin beyond.
_SMOOTH = 0.8
_OTHER_PHASE = 0.01


@dataclass(frozen=True, slots=True)
class Conditions:
    """Air at both coils [K, Pa] and the line voltage over its reference [1].

    ``humidity`` [kg/kg], ``volume`` [m3/kg] and ``enthalpy`` [J/kg] are those of the return air.
    """

    outdoor: FloatArray
    dry_bulb: FloatArray
    wet_bulb: FloatArray
    voltage: FloatArray
    pressure: FloatLike
    humidity: FloatArray
    volume: FloatArray
    enthalpy: FloatArray

    @classmethod
    def of(
        cls,
        outdoor: FloatArray,
        dry_bulb: FloatArray,
        wet_bulb: FloatArray,
        voltage: FloatArray,
        pressure: FloatLike,
    ) -> Conditions:
        """Conditions with the state of the return air, which no solution of the cycle changes."""
        humidity = moist_air.humidity_ratio_from_wet_bulb(dry_bulb, wet_bulb, pressure)
        return cls(
            outdoor,
            dry_bulb,
            wet_bulb,
            voltage,
            pressure,
            humidity,
            moist_air.specific_volume(dry_bulb, humidity, pressure),
            moist_air.enthalpy(dry_bulb, humidity),
        )

    def each(self, of: Callable[[FloatArray], FloatArray]) -> Conditions:
        """The same with a function of each of its arrays in their place."""
        return Conditions(**_each(self, of))


@dataclass(frozen=True, slots=True)
class HeatingConditions:
    """Air at both coils in heating [K, Pa], and the line voltage over its reference [1].

    ``relative_humidity`` [1], ``outdoor_volume`` [m3/kg] and ``enthalpy`` [J/kg] are those of the outdoor air,
    ``volume`` [m3/kg] that of the return air, which is taken as dry.
    """

    outdoor: FloatArray
    dry_bulb: FloatArray
    relative_humidity: FloatArray
    voltage: FloatArray
    pressure: FloatLike
    outdoor_volume: FloatArray
    enthalpy: FloatArray
    volume: FloatArray

    @classmethod
    def of(
        cls,
        outdoor: FloatArray,
        dry_bulb: FloatArray,
        relative_humidity: FloatArray,
        voltage: FloatArray,
        pressure: FloatLike,
    ) -> HeatingConditions:
        """Conditions with the state of the air, which no solution of the cycle changes."""
        humidity = moist_air.humidity_ratio_from_relative_humidity(outdoor, relative_humidity, pressure)
        return cls(
            outdoor,
            dry_bulb,
            relative_humidity,
            voltage,
            pressure,
            moist_air.specific_volume(outdoor, humidity, pressure),
            moist_air.enthalpy(outdoor, humidity),
            moist_air.specific_volume(dry_bulb, np.zeros_like(dry_bulb), pressure),
        )

    def each(self, of: Callable[[FloatArray], FloatArray]) -> HeatingConditions:
        """The same with a function of each of its arrays in their place."""
        return HeatingConditions(**_each(self, of))


@dataclass(frozen=True, slots=True)
class Machine:
    """What decides how the unit answers its conditions.

    ``displacement`` [m3/s] swept volume flow times volumetric efficiency at pressure ratio 1;
    ``volumetric_slope`` loss of volumetric efficiency for each unit of pressure ratio; ``efficiency``
    isentropic with the motor's at the reference ratio and ``efficiency_slope`` its d ln / d ln ratio;
    ``heat_loss`` share of the compressor's power lost by its shell; ``condenser`` [W/K] heat rejected
    for each kelvin of condensing over outdoor temperature; ``transfer_units`` of the evaporator;
    ``airflow`` [m3/s] of return air; ``superheat`` and ``subcooling`` [K], where each kelvin under zero
    stands for 1 % of liquid in the suction gas, or of vapour in the liquid line; ``fan_power`` outdoors
    and ``blower_power`` [W]; ``sensible_factor`` temperature over enthalpy effectiveness.
    """

    displacement: FloatArray
    volumetric_slope: FloatArray
    efficiency: FloatArray
    efficiency_slope: FloatArray
    heat_loss: FloatArray
    condenser: FloatArray
    transfer_units: FloatArray
    airflow: FloatArray
    superheat: FloatArray
    subcooling: FloatArray
    fan_power: FloatArray
    blower_power: FloatArray
    sensible_factor: FloatArray

    def each(self, of: Callable[[FloatArray], FloatArray]) -> Machine:
        """The same with a function of each of its arrays in their place."""
        return Machine(**_each(self, of))


@dataclass(frozen=True, slots=True)
class HeatingMachine:
    """The same in heating: the indoor coil is the condenser, the outdoor coil the evaporator.

    ``transfer_units`` and ``airflow`` are of the indoor coil, ``outdoor_units`` and ``outdoor_airflow`` [m3/s]
    of the outdoor coil, whose ``sensible_factor`` is as in cooling; ``superheat`` is that at the outlet of the
    outdoor coil, ahead of the reversing valve.  ``leak`` is the share of the pumped gas that the valve passes
    from the discharge to the suction, ``valve_rise`` [K] what the valve's body conducts into the suction gas at
    the reference ratio; ``strips`` [W] is auxiliary heat behind the indoor coil.
    """

    displacement: FloatArray
    volumetric_slope: FloatArray
    efficiency: FloatArray
    efficiency_slope: FloatArray
    heat_loss: FloatArray
    transfer_units: FloatArray
    airflow: FloatArray
    outdoor_units: FloatArray
    outdoor_airflow: FloatArray
    superheat: FloatArray
    subcooling: FloatArray
    leak: FloatArray
    valve_rise: FloatArray
    fan_power: FloatArray
    blower_power: FloatArray
    strips: FloatArray
    sensible_factor: FloatArray

    def each(self, of: Callable[[FloatArray], FloatArray]) -> HeatingMachine:
        """The same with a function of each of its arrays in their place."""
        return HeatingMachine(**_each(self, of))


AnyMachine = Machine | HeatingMachine
AnyConditions = Conditions | HeatingConditions


def _each(many: AnyConditions | AnyMachine, of: Callable[[FloatArray], FloatArray]) -> dict[str, Any]:
    values = ((name, getattr(many, name)) for name in many.__slots__)
    return {name: of(value) if isinstance(value, np.ndarray) else value for name, value in values}


class _Air(NamedTuple):
    """What both coils pass to or from their air.

    Imbalances as in :class:`CycleState`; ``capacity`` [W], ``change`` [K] of the indoor air, its ``flow``
    [kg/s], ``outdoor_drop`` [K] of the outdoor air in heating.
    """

    evaporator_imbalance: FloatArray
    condenser_imbalance: FloatArray
    capacity: FloatArray
    change: FloatArray
    flow: FloatArray
    outdoor_drop: FloatArray | None = None


@dataclass(frozen=True, slots=True)
class CycleState:
    """Result for one state of saturation: imbalances and everything that readings can show.

    ``evaporator_imbalance`` and ``condenser_imbalance`` are logarithms of heat pumped over heat passed.
    Temperatures in K, powers in W; ``high_side`` is the vapour at the high pressure.  ``superheat`` is that of
    the gas at the compressor.  In cooling ``capacity`` is net of the blower's heat and ``temperature_split``
    the air's drop; in heating ``capacity`` is the condenser's heat, without blower and strips, and
    ``temperature_split`` the air's rise with both.  ``valve_rise`` [K] across the reversing valve and
    ``outdoor_drop`` [K] of the outdoor air are of heating.
    """

    evaporator_imbalance: FloatArray
    condenser_imbalance: FloatArray
    evaporating: FloatArray
    condensing: FloatArray
    superheat: FloatArray
    subcooling: FloatArray
    suction_pressure: FloatArray
    high_pressure: FloatArray
    dew_at_high: FloatArray
    mass_flow: FloatArray
    effect: FloatArray
    discharge_enthalpy: FloatArray
    compressor_power: FloatArray
    heat_rejected: FloatArray
    capacity: FloatArray
    temperature_split: FloatArray
    air_mass_flow: FloatArray
    high_side: Isobar
    valve_rise: FloatArray | None = None
    outdoor_drop: FloatArray | None = None


def state(
    phases: SinglePhase,
    machine: AnyMachine,
    conditions: AnyConditions,
    suction: FloatArray,
    liquid: FloatArray,
) -> CycleState:
    """The model at given suction dew and liquid bubble temperatures [K].

    The two imbalances are zero where the cycle is closed, see :func:`closed`.
    """
    curves = phases.curves
    low, high = curves.dew_pressure(suction), curves.bubble_pressure(liquid)
    evaporating = 0.5 * (suction + curves.bubble_temperature(low))
    low_side, high_side = phases.isobar(low), phases.isobar(high)
    condensing = 0.5 * (liquid + high_side.dew)
    superheat, carried = _parted(machine.superheat)
    subcooling, flashed = _parted(machine.subcooling)
    outlet = low_side.vapour(suction + superheat)
    # On an axis of their own at the end, so that the first axis stays that of the cases.
    both = phases.liquid_enthalpy(high[..., None], np.stack([liquid, liquid - subcooling], axis=-1))
    boiling, leaving = both[..., 0], both[..., 1]
    # Heat of evaporation, at the suction pressure and at the high side, near enough for a few percent.
    latent = outlet.enthalpy - boiling
    gas = _Gas(low_side, high_side, outlet, suction + superheat, carried, carried * latent)
    pumped = _pumped(machine, gas, latent, high / low)
    cold = leaving + flashed * latent
    effect = outlet.enthalpy - gas.liquid - cold
    rejected = pumped.flow * (pumped.to_condenser - cold)
    if isinstance(machine, HeatingMachine):
        assert isinstance(conditions, HeatingConditions)
        air = _heating_air(machine, conditions, evaporating, condensing, pumped.flow * effect, rejected)
    else:
        assert isinstance(conditions, Conditions)
        air = _cooling_air(machine, conditions, evaporating, condensing, pumped.flow * effect, rejected)
    return CycleState(
        air.evaporator_imbalance,
        air.condenser_imbalance,
        evaporating,
        condensing,
        superheat if pumped.valve_rise is None else superheat + pumped.valve_rise,
        subcooling,
        low,
        high,
        high_side.dew,
        pumped.flow,
        effect,
        pumped.discharge,
        pumped.power,
        rejected,
        air.capacity,
        air.change,
        air.flow,
        high_side,
        pumped.valve_rise,
        air.outdoor_drop,
    )


class _Gas(NamedTuple):
    """Gas at the outlet of the evaporator: vapour at both pressures, its own state and temperature [K], the share
    of liquid in it, and what heat [J/kg] that would take up."""

    low_side: Isobar
    high_side: Isobar
    outlet: Vapour
    temperature: FloatArray
    carried: FloatArray
    liquid: FloatArray


class _Valve(NamedTuple):
    """Suction gas behind the reversing valve: its state, its ``rise`` [K] across the valve, what heat [J/kg] its
    liquid would still take up, the share of the pumped gas that leaks, and the heat [J/kg] that the body conducts."""

    inlet: Vapour
    rise: FloatArray
    liquid: FloatArray
    leak: FloatArray
    conducted: FloatArray


class _Pumped(NamedTuple):
    """Behind the compressor: ``flow`` [kg/s] through the coils, ``power`` [W], enthalpies [J/kg] of
    the discharge gas and of what reaches the condenser; ``valve_rise`` [K] as in :class:`CycleState`."""

    flow: FloatArray
    power: FloatArray
    discharge: FloatArray
    to_condenser: FloatArray
    valve_rise: FloatArray | None


def _pumped(machine: AnyMachine, gas: _Gas, latent: FloatArray, ratio: FloatArray) -> _Pumped:
    """The compressor at a pressure ratio; in heating with the reversing valve on its suction and discharge."""
    efficiency = machine.efficiency * (ratio / REFERENCE_RATIO) ** machine.efficiency_slope
    if isinstance(machine, HeatingMachine):
        # What the body conducts goes with the temperature across it, over the flow.
        conducted = machine.valve_rise * (ratio / REFERENCE_RATIO) ** 2
        valve = _through_valve(machine, gas, efficiency, conducted)
        flow, work = _compressed(machine, gas, (valve.inlet, valve.liquid / latent), efficiency, ratio)
        hot = valve.inlet.enthalpy - valve.liquid + work * (1.0 - machine.heat_loss)
        # Gas that leaks never reaches the coils, and what the valve's body conducts leaves the discharge.
        return _Pumped(flow * (1.0 - valve.leak), flow * work, hot, hot - valve.conducted, valve.rise)
    flow, work = _compressed(machine, gas, (gas.outlet, gas.carried), efficiency, ratio)
    hot = gas.outlet.enthalpy - gas.liquid + work * (1.0 - machine.heat_loss)
    return _Pumped(flow, flow * work, hot, hot, None)


def _compressed(
    machine: AnyMachine,
    gas: _Gas,
    drawn: tuple[Vapour, FloatArray],
    efficiency: FloatArray,
    ratio: FloatArray,
) -> tuple[FloatArray, FloatArray]:
    """Flow [kg/s] of the compressor and its work [J/kg]; ``drawn`` is the state of what it draws and the share of
    liquid in that."""
    inlet, wet = drawn
    dryness = 1.0 - wet
    volumetric = 1.0 - machine.volumetric_slope * (ratio - 1.0)
    flow = machine.displacement * volumetric * inlet.density / dryness
    # Work is volume times pressure, and the liquid has next to no volume.
    ideal = dryness * (gas.high_side.enthalpy_at_entropy(inlet.entropy) - inlet.enthalpy)
    return flow, ideal / efficiency


def _through_valve(machine: HeatingMachine, gas: _Gas, efficiency: FloatArray, warmed: FloatArray) -> _Valve:
    """What the reversing valve adds to the gas that leaves the outdoor coil; its body conducts so much that it
    would warm dry gas by ``warmed`` [K].

    A share of hot gas mixed into the suction lifts its enthalpy by share / (1 - share) of what the compressor
    adds to a kilogram, and the work of compression grows with the absolute temperature of the inlet.  Heat boils
    what liquid there is before it warms the gas.
    """
    low_side, high_side, outlet, temperature, _, liquid = gas
    leak = np.clip(machine.leak, -0.05, 0.6)
    heat = (low_side.enthalpy(temperature + 10.0) - outlet.enthalpy) / 10.0
    work = (high_side.enthalpy_at_entropy(outlet.entropy) - outlet.enthalpy) / efficiency
    share = leak / (1.0 - leak) * work * (1.0 - machine.heat_loss) / (heat * temperature)
    conducted = heat * warmed
    added = heat * temperature * share / (1.0 - share) + conducted
    rise = (added - liquid) / heat
    rise = np.where(liquid > 0.05 * heat, shown(rise), rise)
    return _Valve(low_side.vapour(temperature + rise), rise, liquid - added + heat * rise, leak, conducted)


def _evaporator(
    effectiveness: FloatArray,
    sensible_factor: FloatArray,
    air: tuple[FloatArray, FloatArray],
    evaporating: FloatArray,
    pressure: FloatLike,
    width: float,
) -> tuple[FloatArray, FloatArray]:
    """Drop of the air's enthalpy [J/kg] and of its temperature [K] over a coil, which takes the greater of a
    wet and a dry duty; ``air`` is its dry bulb [K] and enthalpy [J/kg]."""
    dry_bulb, enthalpy = air
    surface = moist_air.humidity_ratio_from_relative_humidity(evaporating, 1.0, pressure)
    wet = enthalpy - moist_air.enthalpy(evaporating, surface)
    dry = ROOM_AIR_HEAT * sensible_factor * (dry_bulb - evaporating)
    with np.errstate(over="ignore", invalid="ignore"):
        drop = effectiveness * (dry + width * np.logaddexp(0.0, (wet - dry) / width))
    split = effectiveness * sensible_factor * (dry_bulb - evaporating)
    return drop, np.minimum(split, drop / ROOM_AIR_HEAT)


def _cooling_air(
    machine: Machine,
    conditions: Conditions,
    evaporating: FloatArray,
    condensing: FloatArray,
    absorbed: FloatArray,
    rejected: FloatArray,
) -> _Air:
    air = machine.airflow / conditions.volume
    effectiveness = 1.0 - np.exp(-machine.transfer_units)
    drop, split = _evaporator(
        effectiveness,
        machine.sensible_factor,
        (conditions.dry_bulb, conditions.enthalpy),
        evaporating,
        conditions.pressure,
        _PARTLY_WET,
    )
    with np.errstate(invalid="ignore", divide="ignore"):
        evaporator_imbalance = np.log(absorbed / (air * drop))
        condenser_imbalance = np.log(rejected / (machine.condenser * (condensing - conditions.outdoor)))
    blower_rise = machine.blower_power / (air * ROOM_AIR_HEAT)
    return _Air(
        evaporator_imbalance,
        condenser_imbalance,
        absorbed - machine.blower_power,
        split - blower_rise,
        air,
    )


def _heating_air(
    machine: HeatingMachine,
    conditions: HeatingConditions,
    evaporating: FloatArray,
    condensing: FloatArray,
    absorbed: FloatArray,
    rejected: FloatArray,
) -> _Air:
    outdoors = machine.outdoor_airflow / conditions.outdoor_volume
    drop, cooled = _evaporator(
        1.0 - np.exp(-machine.outdoor_units),
        machine.sensible_factor,
        (conditions.outdoor, conditions.enthalpy),
        evaporating,
        conditions.pressure,
        _PARTLY_FROSTED,
    )
    air = machine.airflow / conditions.volume
    passed = air * ROOM_AIR_HEAT * (1.0 - np.exp(-machine.transfer_units)) * (condensing - conditions.dry_bulb)
    with np.errstate(invalid="ignore", divide="ignore"):
        evaporator_imbalance = np.log(absorbed / (outdoors * drop))
        condenser_imbalance = np.log(rejected / passed)
    return _Air(
        evaporator_imbalance,
        condenser_imbalance,
        rejected,
        (rejected + machine.blower_power + machine.strips) / (air * ROOM_AIR_HEAT),
        air,
        cooled - machine.fan_power / (outdoors * ROOM_AIR_HEAT),
    )


def dry_coil_wet_bulb(
    dry_bulb: FloatLike, evaporating: FloatLike, sensible_factor: FloatLike, pressure: FloatLike
) -> FloatArray:
    """Wet bulb [K] of the return air under which a coil condenses no water, so that it no longer matters.

    Parameters
    ----------
    dry_bulb, evaporating : array_like
        Return air and the refrigerant in the coil [K].
    sensible_factor : array_like
        Temperature over enthalpy effectiveness of the coil [1].
    pressure : array_like
        Air pressure [Pa].

    Returns
    -------
    FloatArray
        Where the wet and the dry duty of :func:`state` are equal, broadcast shape.

    References
    ----------
    Braun, Klein and Mitchell (1989), ASHRAE Transactions 95(2): a coil takes the greater of the duties
    that it would take all wet and all dry.
    """
    evaporating = np.asarray(evaporating, dtype=np.float64)
    surface = moist_air.humidity_ratio_from_relative_humidity(evaporating, 1.0, pressure)
    wanted = moist_air.enthalpy(evaporating, surface) + ROOM_AIR_HEAT * sensible_factor * (
        np.asarray(dry_bulb) - evaporating
    )
    bulb = np.broadcast_to(290.0, wanted.shape).astype(np.float64)
    for _ in range(4):
        ends = np.stack([bulb, bulb + 0.1])
        humidity = moist_air.humidity_ratio_from_wet_bulb(dry_bulb, ends, pressure)
        low, high = moist_air.enthalpy(np.broadcast_to(dry_bulb, ends.shape), humidity)
        bulb = bulb + 0.1 * (wanted - low) / (high - low)
    return bulb


def _parted(difference: FloatArray) -> tuple[FloatArray, FloatArray]:
    """What a thermometer shows of superheat or subcooling [K], and the share of the other phase."""
    seen = shown(difference)
    return seen, np.minimum(_OTHER_PHASE * (seen - difference), 0.5)


def shown(difference: FloatArray) -> FloatArray:
    """What a thermometer shows of a superheat or subcooling [K], which is never under zero.

    Smooth over about a kelvin, so that derivatives exist.
    """
    with np.errstate(invalid="ignore"):
        return np.asarray(_SMOOTH * np.logaddexp(0.0, difference / _SMOOTH))


def taken_by_superheat(superheat: FloatArray, usual: float) -> FloatArray:
    """Superheat as it takes up coil [K]: its slope is one at a usual superheat, half of that at none, and
    grows with the superheat, as the gas nears the air's temperature."""
    seen = shown(superheat)
    return np.asarray(0.5 * seen * (1.0 + 0.5 * seen / usual))


def closed(
    phases: SinglePhase,
    machine: AnyMachine,
    conditions: AnyConditions,
    suction: FloatArray,
    liquid: FloatArray,
    *,
    iterations: int = 30,
) -> tuple[FloatArray, FloatArray]:
    """Suction dew and liquid bubble temperatures [K] at which both heat balances close.

    Newton's method from the temperatures given, in bounded steps; not-a-number where it does not
    converge.  All arrays must have one shape; each place goes its own way, whatever the others do.
    """
    nudge = 1e-3
    # Each place and both nudges of it, on an axis of their own.
    nudges = nudge * np.array([[0.0, 1.0, 0.0], [0.0, 0.0, 1.0]])
    shape = np.shape(suction)

    def column(value: FloatArray) -> FloatArray:
        return (value if value.shape == shape else np.broadcast_to(value, shape)).reshape(-1, 1)

    machine, conditions = machine.each(column), conditions.each(column)
    at = np.stack([column(suction)[:, 0], column(liquid)[:, 0]])
    found_at = np.full_like(at, np.nan)
    # Places that are neither closed nor lost.
    open_ = np.arange(at.shape[1])
    for _ in range(iterations):
        found = state(phases, machine, conditions, at[0][:, None] + nudges[0], at[1][:, None] + nudges[1])
        imbalance = np.stack([found.evaporator_imbalance, found.condenser_imbalance])
        (a, b), (c, d) = ((imbalance[..., 1:] - imbalance[..., :1]) / nudge).transpose(0, 2, 1)
        determinant = a * d - b * c
        first, second = imbalance[..., 0]
        with np.errstate(divide="ignore", invalid="ignore"):
            steps = np.stack([b * second - d * first, c * first - a * second]) / determinant
        lost = ~np.isfinite(steps).all(axis=0)
        largest = np.abs(steps).max(axis=0)
        closed_ = largest < _CLOSE
        with np.errstate(invalid="ignore"):
            at = at + steps * np.minimum(1.0, 6.0 / np.maximum(largest, 1e-12))
        found_at[:, open_[closed_]] = at[:, closed_]
        kept = ~(closed_ | lost)
        if not kept.any():
            break
        if not kept.all():
            at, open_ = at[:, kept], open_[kept]
            machine, conditions = machine.each(partial(_rows, kept)), conditions.each(partial(_rows, kept))
    return found_at[0].reshape(shape), found_at[1].reshape(shape)


def _rows(chosen: NDArray[np.bool_], of: FloatArray) -> FloatArray:
    return of[chosen]


def discharge_temperature(found: CycleState) -> FloatArray:
    """Temperature [K] of the discharge gas, by secants from its enthalpy."""
    gas, enthalpy = found.high_side, found.discharge_enthalpy
    first = found.dew_at_high + 20.0
    second = found.dew_at_high + 40.0
    low = gas.enthalpy(first)
    for _ in range(3):
        high = gas.enthalpy(second)
        with np.errstate(divide="ignore", invalid="ignore"):
            step = (enthalpy - high) * (second - first) / (high - low)
        first, low, second = second, high, second + np.where(np.isfinite(step), step, 0.0)
    return second
