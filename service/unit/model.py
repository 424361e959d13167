"""The lumped cycle model as a function of one vector of parameters, for two visits of one unit.

The parameters are the conditions of both visits, the unit as found at the first, how it answers its
conditions, and what changed.  Any pairing can be asked for: the unit after the service in the weather
before it, both at rating conditions, and so on.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from service.physics import cycle
from service.physics.array_types import FloatLike
from service.physics.charge_targets import target_superheat
from service.physics.refrigerant_enthalpy import SinglePhase
from service.reference import performance_maps as maps
from service.reference.air import ROOM_AIR_HEAT
from service.reference.capacity_control import AT_PART_CAPACITY
from service.reference.metering_devices import FIXED_DEVICES
from service.reference.unit_model import (
    DRY_COIL,
    PARAMETERS,
    PARTLY_WET,
    RATED_SIZE_AS_FOUND,
    READ_SPREAD,
    SIZE_CYCLE,
    SUBCOOLING_OF_SUPERHEAT,
    USUAL_CAPACITY,
    USUAL_POWER,
    USUAL_SUPERHEAT,
)
from service.reference.unit_model_heating import STRIPS_NOT_READ
from service.uncertainty.least_squares import Prior
from service.unit import heating
from service.unit.layout import LAYOUTS, RUNS, Health, Layout, Mode, Weather

FloatArray = NDArray[np.float64]
#: Whose conditions, and which state of the unit.
Pairing = tuple[Weather, Health]


class Outputs(Mapping[str, FloatArray]):
    """Everything that readings can show of one state, by name: value and gradient (1 + P,), rows of one array."""

    __slots__ = ("_places", "_table")

    def __init__(self, places: Mapping[str, int], table: FloatArray) -> None:
        self._places, self._table = places, table

    def __getitem__(self, name: str) -> FloatArray:
        return np.asarray(self._table[self._places[name]])

    def __iter__(self) -> Iterator[str]:
        return iter(self._places)

    def __len__(self) -> int:
        return len(self._places)

    def rows(self, names: Sequence[str]) -> FloatArray:
        """Values and gradients (Q, 1 + P) of some of them."""
        return np.asarray(self._table.take(np.array([self._places[name] for name in names], dtype=np.intp), axis=0))


#: The unit as found and as left, in the weather of the first visit and at rating conditions.
FOUND: Pairing = ("before", "before")
LEFT: Pairing = ("before", "after")
SECOND_RUN: Pairing = ("after", "after")
FOUND_IN_SECOND_WEATHER: Pairing = ("after", "before")
FOUND_AT_RATING: Pairing = ("rating", "before")
LEFT_AT_RATING: Pairing = ("rating", "after")
FOUND_AT_LOW_RATING: Pairing = ("rating_low", "before")

#: Steps of the numerical derivatives: in spreads of each parameter, and of saturation temperatures [K].
_STEP = 1e-4
_NUDGE = 1e-4
#: Saturation temperatures [K] that a solution starts from: of suction, and of liquid over outdoor air.
#: Newton's method reaches the same cycle from any start nearby, so they have no source.
SUCTION_START = 281.0
LIQUID_OVER_OUTDOOR = 12.0
#: That of liquid where no outdoor air is at hand [K].
LIQUID_START = 318.0


def freed(layout: Layout, spread: FloatArray, read: Iterable[str]) -> FloatArray:
    """Spreads (P,) with the conditions that were read freed.

    A voltage is relative to that of the first run, so it keeps its own.
    """
    wide = spread.copy()
    for name in read:
        if not name.startswith("voltage"):
            wide[layout.index[name]] *= READ_SPREAD
    return wide


@dataclass(frozen=True, slots=True)
class UnitModel:
    """What does not depend on the readings: mode, refrigerant, kind of unit, air pressure, size expected.

    ``dry_coil`` is the line on which a usual coil stops condensing: wet bulb [K] at the dry bulb of the
    rating, and its rise for each kelvin of dry bulb.  ``share`` is that of the full capacity at which the unit
    runs; its size is that of its stage or speed.  Numbers are columns (S, 1) where the model stands for several
    units, see :func:`side_by_side`.
    """

    phases: SinglePhase
    device: str | None
    pressure: FloatLike
    size: FloatLike
    volumetric_capacity: FloatLike
    dry_coil: tuple[FloatLike, FloatLike]
    share: float = 1.0
    mode: Mode = "cooling"

    @property
    def layout(self) -> Layout:
        """The vector of parameters of the mode."""
        return LAYOUTS[self.mode]

    @classmethod
    def of(
        cls,
        phases: SinglePhase,
        device: str | None,
        pressure: float,
        rated: float | None,
        share: float = 1.0,
        mode: Mode = "cooling",
    ) -> UnitModel:
        """The model of one unit; ``rated`` is its capacity [W] in that mode where known, at that ``share`` of the
        full one."""
        if mode == "heating":
            size = rated or USUAL_CAPACITY
            return cls(phases, device, pressure, size, heating.volumetric_capacity(phases), (0.0, 0.0), share, mode)
        suction, liquid, difference = SIZE_CYCLE
        curves = phases.curves
        low = curves.dew_pressure(np.array([suction]))
        high = curves.bubble_pressure(np.array([liquid]))
        inlet = phases.vapour(low, np.array([suction + difference]))
        effect = inlet.enthalpy - phases.liquid_enthalpy(high, np.array([liquid - difference]))
        dry_bulbs = maps.RATING_DRY_BULB + np.array([0.0, 5.0])
        at, above = cycle.dry_coil_wet_bulb(dry_bulbs, DRY_COIL, PARAMETERS["sensible_factor"].value, pressure)
        return cls(
            phases,
            device,
            pressure,
            rated or USUAL_CAPACITY,
            float((inlet.density * effect)[0]),
            (float(at), float(above - at) / 5.0),
            share,
        )

    def _felt(self, dry_bulb: FloatArray, wet_bulb: FloatArray) -> FloatArray:
        """The wet bulb [K] that the coil feels: not under that at which it stops condensing."""
        at, slope = self.dry_coil
        dry = at + slope * (dry_bulb - maps.RATING_DRY_BULB)
        return np.asarray(dry + PARTLY_WET * np.logaddexp(0.0, (wet_bulb - dry) / PARTLY_WET))

    def prior(self, given: Mapping[str, float], *, rated: bool) -> Prior:
        """What is known before any reading; conditions that were read start there, with no weight."""
        layout = self.layout
        rows = [layout.row(name) for name in layout.names]
        mean = np.array([given.get(n, r.value) for n, r in zip(layout.names, rows, strict=True)])
        spread = np.array([r.spread for r in rows])
        if rated:
            spread[layout.index["ln_size"]] = RATED_SIZE_AS_FOUND
        self.at_its_share(mean, spread)
        for run in RUNS:
            if self.mode == "heating" and f"strips_{run}" not in given:
                spread[layout.index[f"strips_{run}"]] = STRIPS_NOT_READ
        for name, (fixed, unknown) in layout.superheat_spreads.items():
            if self.device in FIXED_DEVICES:
                spread[layout.index[name]] = fixed
            elif self.device is None:
                spread[layout.index[name]] = unknown
        return Prior(mean, np.diag(spread**2))

    def at_its_share(self, mean: FloatArray, spread: FloatArray) -> None:
        """What is known of a unit at full capacity (P,) becomes that at the share at which it runs: in place."""
        less = np.log(self.share)
        for name, row in AT_PART_CAPACITY[self.mode].items():
            place = self.layout.index[name]
            mean[place] += row.slope * less
            spread[place] = np.hypot(spread[place], row.spread * less)

    def prior_of_readings(self, given: Mapping[str, float], *, rated: bool) -> Prior:
        """The prior with next to no weight on the conditions that were read."""
        prior = self.prior(given, rated=rated)
        spread = freed(self.layout, np.sqrt(np.diagonal(prior.covariance)), given)
        return Prior(prior.mean, np.diag(spread**2))

    def linear(
        self,
        parameters: FloatArray,
        spread: FloatArray,
        states: Sequence[Pairing],
        starts: Sequence[FloatArray | None] | None = None,
    ) -> tuple[list[Outputs], FloatArray]:
        """All that readings can show in S states, and how it follows the parameters.

        Parameters
        ----------
        parameters : FloatArray, shape (P,) or (S, P)
            Where: the same for all states, or for each its own.
        spread : FloatArray, shape (P,)
            The scale of each parameter's step.
        states : sequence of (str, str)
            Whose conditions, and which state of the unit.
        starts : sequence of FloatArray, shape (2,), optional
            Saturation temperatures [K] to start from.

        Returns
        -------
        list of S Outputs
            Value and gradient of each output.
        FloatArray, shape (S, 2)
            Saturation temperatures of the solutions; not-a-number where there is none.

        Notes
        -----
        The balances are solved once; the gradient follows by the implicit function theorem.
        """
        count = len(states)
        return linear(
            [self] * count,
            np.broadcast_to(parameters, (count, len(spread))),
            np.broadcast_to(spread, (count, len(spread))),
            states,
            starts or [None] * count,
        )

    def at(self, columns: FloatArray, state: Pairing, start: FloatArray) -> dict[str, FloatArray]:
        """All that readings can show, for many vectors of parameters at once.

        Parameters
        ----------
        columns : FloatArray, shape (P, K)
        state : (str, str)
            Whose conditions, and which state of the unit.
        start : FloatArray, shape (2,)
            Saturation temperatures [K] to start from.

        Returns
        -------
        dict of FloatArray, shape (K,)
            Value of each output; not-a-number where the balances do not close.
        """
        columns = columns[:, None, :]
        machine, conditions = self.machine(columns, [state])
        begin = [np.full(columns.shape[1:], value) for value in start]
        suction, liquid = cycle.closed(self.phases, machine, conditions, begin[0], begin[1])
        found = cycle.state(self.phases, machine, conditions, suction, liquid)
        hot = cycle.discharge_temperature(found)
        shown = self.shown(columns, machine, conditions, found, suction, liquid, hot)
        return {name: value[0] for name, value in shown.items()}

    def shown(
        self,
        columns: FloatArray,
        machine: cycle.AnyMachine,
        conditions: cycle.AnyConditions,
        found: cycle.CycleState,
        suction: FloatArray,
        liquid: FloatArray,
        hot: FloatArray,
    ) -> dict[str, FloatArray]:
        """Everything that readings can show, by name."""
        u = dict(zip(self.layout.names, columns, strict=True))
        if isinstance(machine, cycle.HeatingMachine):
            assert isinstance(conditions, cycle.HeatingConditions)
            return heating.shown(u, machine, conditions, found, suction, liquid, hot)
        assert isinstance(conditions, cycle.Conditions)
        return _shown(u, machine, conditions, found, suction, liquid, hot)

    def begin(self, outdoor: float, indoor: float) -> tuple[float, float]:
        """Saturation temperatures [K] that a solution starts from."""
        if self.mode == "heating":
            return outdoor + heating.SUCTION_OVER_OUTDOOR, indoor + heating.LIQUID_OVER_RETURN
        return SUCTION_START, outdoor + LIQUID_OVER_OUTDOOR

    def start(self, outdoor: float | None, indoor: float | None) -> FloatArray:
        """The same as an array (2,), with usual air where none is at hand."""
        if self.mode == "cooling":
            return np.array([SUCTION_START, LIQUID_START])
        usual = self.layout.ratings["rating"]
        return np.array(self.begin(outdoor or usual["outdoor"], indoor or usual["dry_bulb"]))

    def machine(self, columns: FloatArray, states: Sequence[Pairing]) -> tuple[cycle.AnyMachine, cycle.AnyConditions]:
        """The unit and its conditions for parameters (P, S, W), a row for each state: arrays (S, W)."""
        layout = self.layout
        u = dict(zip(layout.names, columns, strict=True))
        around = {
            name: np.stack(
                [
                    np.full(columns.shape[2], layout.ratings[weather][name])
                    if weather in layout.ratings
                    else u[f"{name}_{weather}"][place]
                    for place, (weather, _) in enumerate(states)
                ]
            )
            for name in layout.conditions
        }
        new = np.array([[1.0 if health == "after" else 0.0] for _, health in states])
        if self.mode == "heating":
            return heating.machine(self, u, around, new)
        return self._cooling_machine(u, around, new)

    def _cooling_machine(
        self, u: Mapping[str, FloatArray], around: Mapping[str, FloatArray], new: FloatArray
    ) -> tuple[cycle.Machine, cycle.Conditions]:
        outdoor, dry, wet, voltage = (around[name] for name in self.layout.conditions)
        felt = self._felt(dry, wet)
        felt_before = self._felt(u["dry_bulb_before"], u["wet_bulb_before"])
        warmer, wetter = outdoor - u["outdoor_before"], felt - felt_before
        size = self.size * np.exp(u["ln_size"])
        airflow = size * np.exp(u["ln_airflow"] + new * u["airflow_change"])
        superheat = (
            u["superheat"]
            + new * u["superheat_change"]
            + u["superheat_outdoor"] * warmer
            + u["superheat_wet_bulb"] * wetter
        )
        subcooling = (
            u["subcooling"]
            + new * u["subcooling_change"]
            + u["subcooling_outdoor"] * warmer
            + u["subcooling_wet_bulb"] * wetter
        )
        if self.device in FIXED_DEVICES:
            follows = target_superheat(outdoor, felt) - target_superheat(u["outdoor_before"], felt_before)
            superheat = superheat + follows
            # What the evaporator no longer holds of the charge, the condenser does.
            subcooling = subcooling + SUBCOOLING_OF_SUPERHEAT * follows
        transfer = (
            u["ln_transfer_units"]
            + new * (u["evaporator_change"] + u["transfer_airflow"] * u["airflow_change"])
            + u["evaporator_wet_bulb"] * wetter
            + u["evaporator_outdoor"] * warmer
            + u["evaporator_superheat"]
            * (
                cycle.taken_by_superheat(superheat, USUAL_SUPERHEAT)
                - cycle.taken_by_superheat(u["superheat"], USUAL_SUPERHEAT)
            )
        )
        condenser = (
            u["ln_condenser"]
            + new * u["condenser_change"]
            + u["condenser_outdoor"] * warmer
            + u["condenser_subcooling"] * (cycle.shown(subcooling) - cycle.shown(u["subcooling"]))
        )
        power = np.exp(u["power_voltage"] * voltage)
        machine = cycle.Machine(
            displacement=size
            / self.volumetric_capacity
            * np.exp(new * u["flow_change"])
            / (1.0 - u["volumetric_slope"] * (cycle.REFERENCE_RATIO - 1.0)),
            volumetric_slope=u["volumetric_slope"],
            efficiency=np.exp(u["ln_efficiency"] + new * u["efficiency_change"]) / power,
            efficiency_slope=u["efficiency_slope"],
            heat_loss=u["heat_loss"],
            condenser=size * np.exp(condenser),
            transfer_units=np.exp(transfer),
            airflow=airflow,
            superheat=superheat,
            subcooling=subcooling,
            fan_power=USUAL_POWER * size * np.exp(u["ln_fan"] + new * u["fan_change"]) * power,
            blower_power=size
            * np.exp(
                u["ln_airflow"]
                + u["ln_blower"]
                + new * (u["blower_change"] + u["blower_airflow"] * u["airflow_change"])
            )
            * power,
            sensible_factor=u["sensible_factor"],
        )
        return machine, cycle.Conditions.of(outdoor, dry, wet, np.exp(voltage), self.pressure)


def linear(
    models: Sequence[UnitModel],
    parameters: FloatArray,
    spread: FloatArray,
    states: Sequence[Pairing],
    starts: Sequence[FloatArray | None],
) -> tuple[list[Outputs], FloatArray]:
    """:meth:`UnitModel.linear` for states of different units, alike in refrigerant, mode and kind of metering
    device; ``parameters`` and ``spread`` (S, P) are those of each.  No state depends on the others."""
    count = spread.shape[1]
    model = side_by_side(models)
    move = np.concatenate([_STEP * spread, np.full((len(states), 2), _NUDGE)], axis=1)
    columns = np.repeat(parameters.T[:, :, None], count + 3, axis=2)
    places = np.arange(count)
    columns[places, :, 1 + places] += move[:, :count].T
    machine, conditions = model.machine(columns, states)
    begin = [
        model.begin(float(outdoor), float(indoor)) if start is None else start
        for start, outdoor, indoor in zip(starts, conditions.outdoor[:, 0], conditions.dry_bulb[:, 0], strict=True)
    ]
    suction, liquid = np.array(begin).T[:, :, None]
    # Solved where nothing is moved.
    suction, liquid = cycle.closed(model.phases, machine.each(_first), conditions.each(_first), suction, liquid)
    saturation = np.concatenate([suction, liquid], axis=1)
    suction, liquid = (np.repeat(value, count + 3, axis=1) for value in (suction, liquid))
    suction[:, -2] += _NUDGE
    liquid[:, -1] += _NUDGE
    found = cycle.state(model.phases, machine, conditions, suction, liquid)
    hot = cycle.discharge_temperature(found)
    shown = model.shown(columns, machine, conditions, found, suction, liquid, hot)
    rows = np.stack([found.evaporator_imbalance, found.condenser_imbalance, *shown.values()], axis=1)
    slopes = (rows[:, :, 1:] - rows[:, :, :1]) / move[:, None, :]
    with np.errstate(invalid="ignore"):
        inverse = -_inverse(slopes[:, :2, count:])
        follow = inverse @ slopes[:, :2, :count]
        gradients = slopes[:, 2:, :count] + slopes[:, 2:, count:] @ follow
        # What the balances still lack is taken off to first order.
        rest = inverse @ rows[:, :2, :1]
        values = rows[:, 2:, :1] + slopes[:, 2:, count:] @ rest
    whole = np.concatenate([values, gradients], axis=2)
    order = {name: place for place, name in enumerate(shown)}
    return [Outputs(order, one) for one in whole], saturation + rest[:, :, 0]


def _first(rows: FloatArray) -> FloatArray:
    """The first of each row (S, W), as rows of one."""
    return rows[:, :1]


def side_by_side(models: Sequence[UnitModel]) -> UnitModel:
    """One model for S units that are alike in refrigerant, mode and kind of metering device: their numbers as
    columns (S, 1), whether they differ or not, so that none depends on its company."""

    def column(values: list[FloatLike]) -> FloatArray:
        return np.array(values, dtype=np.float64)[:, None]

    return replace(
        models[0],
        pressure=column([one.pressure for one in models]),
        size=column([one.size for one in models]),
        volumetric_capacity=column([one.volumetric_capacity for one in models]),
        dry_coil=(column([one.dry_coil[0] for one in models]), column([one.dry_coil[1] for one in models])),
    )


def _inverse(matrices: FloatArray) -> FloatArray:
    """Inverses of matrices of two by two (S, 2, 2); not-a-number where there is none."""
    (a, b), (c, d) = matrices.transpose(1, 2, 0)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray((np.array([[d, -b], [-c, a]]) / (a * d - b * c)).transpose(2, 0, 1))


def _shown(
    u: Mapping[str, FloatArray],
    machine: cycle.Machine,
    conditions: cycle.Conditions,
    found: cycle.CycleState,
    suction: FloatArray,
    liquid: FloatArray,
    hot: FloatArray,
) -> dict[str, FloatArray]:
    outdoor = found.compressor_power + machine.fan_power
    total = outdoor + machine.blower_power
    drop = found.capacity / found.air_mass_flow
    voltage = np.log(conditions.voltage)
    sensible = found.air_mass_flow * ROOM_AIR_HEAT * found.temperature_split
    apparent = found.compressor_power * np.exp(u["power_factor_voltage"] * voltage - u["ln_power_factor"])
    return {
        "outdoor_air_dry_bulb": conditions.outdoor,
        "return_air_dry_bulb": conditions.dry_bulb,
        "return_air_wet_bulb": conditions.wet_bulb,
        "supply_voltage": conditions.voltage,
        "suction_saturation_temperature": suction,
        "liquid_saturation_temperature": liquid,
        "evaporating_temperature": found.evaporating,
        "condensing_temperature": found.condensing,
        "suction_pressure_absolute": found.suction_pressure,
        "high_side_pressure_absolute": found.high_pressure,
        "compression_ratio": found.high_pressure / found.suction_pressure,
        "superheat": found.superheat,
        "subcooling": found.subcooling,
        "condensing_temperature_over_ambient": found.condensing - conditions.outdoor,
        "liquid_line_temperature_over_ambient": liquid - found.subcooling - conditions.outdoor,
        "evaporating_temperature_under_return_air": conditions.dry_bulb - found.evaporating,
        "discharge_temperature": hot,
        "discharge_superheat": hot - found.dew_at_high,
        "refrigerating_effect": found.effect,
        "refrigerant_mass_flow": found.mass_flow,
        "airflow": machine.airflow,
        "temperature_split": found.temperature_split,
        "air_enthalpy_drop": drop,
        "cooling_capacity": found.capacity,
        "sensible_capacity": sensible,
        "latent_capacity": found.capacity - sensible,
        "sensible_heat_ratio": sensible / found.capacity,
        "outdoor_unit_power": outdoor,
        "compressor_apparent_power": apparent,
        "compressor_current": apparent / conditions.voltage,
        "indoor_unit_power": machine.blower_power,
        "total_power": total,
        "eer": found.capacity / total,
        "heat_rejection": found.heat_rejected,
    }
