"""How much of what the equipment makes the ducts deliver; and blower, filter and furnace."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import count
from math import hypot
from typing import Any

import numpy as np
from numpy.typing import NDArray

from schemas.assessments import Finding, Missing, Notice
from schemas.checks import CheckAnswer
from schemas.checks.air_delivery import Air, AirDeliveryRequest, DuctRun
from schemas.checks.common import Information
from service.assess.findings import Judged
from service.checks.taking import CheckEntry, Reading, ask, begin, drawn, states_unit, take, with_spread
from service.checks.workings import Outcome, Quantity, Question, Workings, answer, notice, steps
from service.intake.contradictions import AirRead, impossible_wet_bulb
from service.intake.paths import ASSUMED, SITE_PRESSURE
from service.intake.refusals import Refusal
from service.physics import duct_delivery, moist_air
from service.reference.air import DRY_AIR_HEAT, USUAL_HUMIDITY_RATIO, VAPOUR_HEAT
from service.reference.ducts import (
    AIR_DENSITY,
    AIR_HEAT,
    AIRFLOW_FOR_CAPACITY,
    LEAST_AIR,
    MODEL_FANS,
    RATED_AIRFLOW,
    SAME_AIR,
    SUPPLY_AIR,
    TEST_PRESSURE,
)
from service.reference.metering_devices import EXPANSION_VALVES
from service.reference.sources import source
from service.reference.units import conversion, system_unit
from service.reference.usual_inputs import in_unit
from service.words import checks_air as words

FloatArray = NDArray[np.float64]

#: How each kind of reading is taken: kind, what its instrument measures, possible range [SI], series.  Registers are
#: read with one hood; thermometers that nobody named may be several.
_KINDS = {
    "dry_bulb": ("temperature", "air_temperature", 230.0, 370.0, None),
    "wet_bulb": ("temperature", "wet_bulb", 230.0, 340.0, None),
    "relative_humidity": ("fraction", "relative_humidity", 0.0, 1.0, None),
    "register": ("airflow", "airflow", 0.0, 5.0, 3),
    "blower": ("airflow", "airflow", 0.01, 20.0, 4),
    "leakage": ("duct_leakage", "duct_leakage", 0.0, 5.0, 5),
    "power": ("power", "power", 0.0, 20_000.0, 6),
    "static_pressure": ("static_pressure", "static_pressure", 0.0, 1000.0, 7),
}
_CAPACITY = "equipment.capacity"
_BLOWER = "equipment.airflow"
_READ_AGAIN = "read_the_air_again"


def _quantity(name: str, kind: str, label: str, method: str, source_: str) -> Quantity:
    return Quantity(name, kind, label, method, source_)


DELIVERED = _quantity(
    "delivered_capacity",
    "heat_flow",
    "The heat delivered",
    "sum over the registers of mass flow and enthalpy",
    "delivered_heat",
)
DELIVERED_SENSIBLE = _quantity(
    "delivered_sensible_capacity",
    "heat_flow",
    "The sensible heat delivered",
    "sum over the registers of mass flow and temperature difference",
    "delivered_heat",
)
MADE = _quantity(
    "equipment_capacity",
    "heat_flow",
    "The capacity of the equipment",
    "mass flow and enthalpy, or as stated",
    "delivered_heat",
)
MADE_SENSIBLE = _quantity(
    "equipment_sensible_capacity",
    "heat_flow",
    "The sensible capacity of the equipment",
    "mass flow and temperature difference",
    "delivered_heat",
)
SHARE = _quantity(
    "delivered_share", "fraction", "The share of the capacity that arrives", "delivered over made", "delivered_heat"
)
AIRFLOW = _quantity("delivered_airflow", "airflow", "The airflow of all registers", "sum", "definition")
AIRFLOW_SHARE = _quantity(
    "delivered_airflow_share",
    "fraction",
    "The share of the blower's air that arrives",
    "mass flow of the registers over that of the blower",
    "definition",
)
LEAKAGE = _quantity(
    "duct_leakage",
    "airflow",
    "The duct leakage at 25 Pa",
    "as read, brought to 25 Pa by the power 0.60",
    "duct_test_pressure",
)
LEAKAGE_SHARE = _quantity(
    "duct_leakage_share", "fraction", "The duct leakage over the blower's airflow", "leakage over airflow", "definition"
)
EFFECTIVENESS = _quantity(
    "delivery_effectiveness",
    "fraction",
    "The delivery effectiveness of the ducts",
    "conduction and leakage of supply and return ducts, without regain",
    "ashrae_152",
)
FAN = _quantity(
    "fan_power_per_airflow",
    "power_for_airflow",
    "The blower's power for its airflow",
    "power over airflow",
    "definition",
)
MOISTURE = _quantity(
    "moisture_removed", "mass_flow", "The moisture removed", "dry-air mass flow and humidity ratios", "moisture_removed"
)
FILTER = _quantity(
    "filter_share_of_rating",
    "fraction",
    "The filter's share of the rated static pressure",
    "pressure drop over rated external static pressure",
    "definition",
)
FACE = _quantity(
    "filter_face_velocity", "velocity", "The air velocity at the filter", "airflow over face area", "definition"
)
RISE = _quantity(
    "furnace_temperature_rise",
    "temperature_difference",
    "The furnace's temperature rise",
    "leaving less entering air",
    "definition",
)


@dataclass(frozen=True)
class _State:
    """Leaves of air at one place: dry bulb, and what gives its humidity."""

    dry: str
    humidity: str | None = None
    wet: bool = False

    @property
    def leaves(self) -> list[str]:
        """All of them, with the air pressure where humidity needs it."""
        return [self.dry, *([] if self.humidity is None else [self.humidity]), SITE_PRESSURE]


@dataclass
class _Taken:
    """What was given, as leaves and states."""

    leaves: dict[str, str] = field(default_factory=dict)
    states: dict[str, _State] = field(default_factory=dict)
    registers: list[tuple[str, _State]] = field(default_factory=list)
    numbers: dict[str, float] = field(default_factory=dict)


def air_delivery(request: AirDeliveryRequest) -> CheckAnswer:
    """The answer to readings of air delivery.

    Raises
    ------
    service.intake.refusals.RefusedError
        If a reading is impossible, or none was given.
    """
    entry = begin(request)
    taken = _take(entry, request)
    workings = Workings(drawn(entry, [ASSUMED + "duct_loss"] if request.ducts is not None else []), entry.questions)
    _Work(workings, request, taken).out()
    workings.questions.extend(_questions(workings, request, taken))
    return answer(request, workings, _outcome(workings, request, taken))


# ---------------------------------------------------------------- what was given


class _Reader:
    """Takes readings one after the other, each at a place of its own."""

    def __init__(self, entry: CheckEntry, taken: _Taken) -> None:
        self.entry, self.taken, self.slots = entry, taken, count()

    def read(self, path: str, given: Any, kind: str) -> str | None:  # noqa: ANN401
        """A reading as a leaf; None where it was not given, or refused."""
        if given is None:
            return None
        leaf = take(self.entry, Reading(path, *_KINDS[kind]), given, "/" + path.replace(".", "/"), next(self.slots))
        if leaf is not None:
            self.taken.leaves[path] = leaf
        return leaf

    def air(self, path: str, given: Air | None) -> _State | None:
        """Air at one place."""
        if given is None:
            return None
        if given.wet_bulb is not None and given.relative_humidity is not None:
            self.entry.refusals.append(
                Refusal(
                    "/" + path.replace(".", "/") + "/relative_humidity",
                    None,
                    "wet_bulb or relative_humidity",
                    "is given next to wet_bulb",
                    words.ONE_HUMIDITY,
                )
            )
        dry = self.read(f"{path}.dry_bulb", given.dry_bulb, "dry_bulb")
        wet = self.read(f"{path}.wet_bulb", given.wet_bulb, "wet_bulb")
        humid = self.read(f"{path}.relative_humidity", given.relative_humidity, "relative_humidity")
        if dry is not None and wet is not None:
            self._possible(dry, wet, "/" + path.replace(".", "/") + "/wet_bulb")
        return None if dry is None else _State(dry, wet or humid, wet is not None)

    def _possible(self, dry: str, wet: str, where: str) -> None:
        """Refuse a wet bulb that its dry bulb rules out."""
        site = self.entry.leaves.uncertain.get(SITE_PRESSURE)
        if site is None:
            return
        one, other = (self.entry.leaves.uncertain[leaf] for leaf in (dry, wet))
        read = AirRead(one.value, other.value, hypot(*one.coefficients), hypot(*other.coefficients))
        refused = impossible_wet_bulb(read, site.value, self.entry.system, where)
        if refused is not None:
            self.entry.refusals.append(refused)

    def number(self, path: str, given: Any, kind: str, limits: tuple[float, float]) -> None:  # noqa: ANN401
        """A number of a data sheet [SI]."""
        if given is None:
            return
        value = self.entry.to_si(given, kind)
        if self.entry.inside(value, limits, kind, "/" + path.replace(".", "/"), given):
            self.entry.constant(path, value)
            self.taken.numbers[path] = value
            ask(self.entry, path, given, RISE.name if path.startswith("furnace.") else None)


def _take(entry: CheckEntry, request: AirDeliveryRequest) -> _Taken:
    taken = _Taken()
    reader = _Reader(entry, taken)
    for place, register in enumerate(request.registers):
        flow = reader.read(f"registers.{place}.airflow", register.airflow, "register")
        state = reader.air(f"registers.{place}", register)
        if flow is not None and state is not None:
            taken.registers.append((flow, state))
    states = {"room": reader.air("room", request.room)}
    if request.equipment is not None:
        given = request.equipment
        reader.read("equipment.airflow", given.airflow, "blower")
        reader.read("equipment.fan_power", given.fan_power, "power")
        states["entering"] = reader.air("equipment.entering", given.entering)
        states["leaving"] = reader.air("equipment.leaving", given.leaving)
        _take_capacity(entry, request)
    taken.states = {name: state for name, state in states.items() if state is not None}
    _take_rest(reader, request)
    if not (request.registers or request.equipment or request.duct_test or request.filter or request.furnace):
        entry.refusals.append(Refusal("", None, words.ANYTHING, "holds no reading", words.GIVE_A_READING))
    if request.registers and request.room is None:
        entry.refusals.append(Refusal("/room", None, "air of the rooms", "is missing", words.NEEDS_ROOM))
    return taken


def _take_capacity(entry: CheckEntry, request: AirDeliveryRequest) -> None:
    """The capacity as stated, with its uncertainty."""
    assert request.equipment is not None
    given = request.equipment.capacity
    if given is None:
        return
    value = entry.to_si(given, "heat_flow")
    if not entry.inside(value, (300.0, 500_000.0), "heat_flow", "/equipment/capacity", given):
        return
    percent = request.equipment.capacity_uncertainty_percent
    # A band of 95 %, so 1.96 standard deviations.
    spread = None if percent is None else value * percent / 196.0
    with_spread(entry, _CAPACITY, value, spread, "stated_capacity", "equipment: stated capacity")


def _take_rest(reader: _Reader, request: AirDeliveryRequest) -> None:
    if request.duct_test is not None:
        reader.read("duct_test.leakage", request.duct_test.leakage, "leakage")
        reader.number("duct_test.pressure", request.duct_test.pressure, "static_pressure", (1.0, 250.0))
        reader.number("duct_test.design_airflow", request.duct_test.design_airflow, "airflow", (0.01, 20.0))
    if request.ducts is not None:
        for side, run in (("supply_side", request.ducts.supply_side), ("return_side", request.ducts.return_side)):
            _take_run(reader, f"ducts.{side}", run)
    if request.filter is not None:
        reader.read("filter.pressure_drop", request.filter.pressure_drop, "static_pressure")
        rated = request.filter.rated_external_static_pressure
        reader.number("filter.rated_external_static_pressure", rated, "static_pressure", (10.0, 2500.0))
        reader.number("filter.face_area", request.filter.face_area, "area", (0.005, 20.0))
    if request.furnace is not None:
        reader.read("furnace.entering", request.furnace.entering, "dry_bulb")
        reader.read("furnace.leaving", request.furnace.leaving, "dry_bulb")
        for name in ("lowest_rise", "highest_rise"):
            given = getattr(request.furnace, name)
            reader.number(f"furnace.{name}", given, "temperature_difference", (5.0, 80.0))
        numbers = reader.taken.numbers
        if numbers.get("furnace.lowest_rise", 0.0) >= numbers.get("furnace.highest_rise", np.inf):
            reader.entry.refusals.append(
                Refusal("/furnace/highest_rise", None, "more than lowest_rise", "is not above lowest_rise", words.RISES)
            )


def _take_run(reader: _Reader, path: str, run: DuctRun) -> None:
    reader.number(f"{path}.surface", run.surface, "area", (0.0, 1000.0))
    reader.number(f"{path}.insulation", run.insulation, "thermal_resistance", (0.0, 10.0))
    reader.number(f"{path}.leakage_to_outside", run.leakage_to_outside, "airflow", (0.0, 5.0))
    reader.number(f"{path}.zone_temperature", run.zone_temperature, "temperature", (230.0, 350.0))


# ---------------------------------------------------------------- what follows


class _Work:
    """Derives everything that the readings allow."""

    def __init__(self, workings: Workings, request: AirDeliveryRequest, taken: _Taken) -> None:
        self.workings, self.request, self.taken = workings, request, taken
        self.pressure = workings.leaf(SITE_PRESSURE)
        self.sign = 1.0 if request.mode == "cooling" else -1.0

    def out(self) -> None:
        """Every derived value."""
        self._equipment()
        self._registers()
        self._shares()
        self._leakage()
        self._effectiveness()
        self._blower_and_filter()
        if {"furnace.entering", "furnace.leaving"} <= self.taken.leaves.keys():
            both = [self.taken.leaves["furnace.leaving"], self.taken.leaves["furnace.entering"]]
            self.workings.add(RISE, self._leaf(both[0]) - self._leaf(both[1]), both)

    def _leaf(self, path: str) -> FloatArray:
        return self.workings.leaf(path)

    def ratio(self, state: _State) -> FloatArray | None:
        """Humidity ratio of air; None where its humidity was not read."""
        if state.humidity is None:
            return None
        dry, given = self._leaf(state.dry), self._leaf(state.humidity)
        if state.wet:
            return moist_air.humidity_ratio_from_wet_bulb(dry, given, self.pressure)
        return moist_air.humidity_ratio_from_relative_humidity(dry, given, self.pressure)

    def mass_flow(self, airflow: str, state: _State) -> FloatArray:
        """Dry air [kg/s] of a volume flow at a state."""
        ratio = self.ratio(state)
        ratio = np.array(USUAL_HUMIDITY_RATIO) if ratio is None else ratio
        return self._leaf(airflow) / moist_air.specific_volume(self._leaf(state.dry), ratio, self.pressure)

    def sensible(self, flow: FloatArray, warm: _State, cold: _State) -> FloatArray:
        """Sensible heat [W] between two states, positive as the mode has it."""
        ratio = self.ratio(cold)
        heat = DRY_AIR_HEAT + VAPOUR_HEAT * (USUAL_HUMIDITY_RATIO if ratio is None else ratio)
        return self.sign * flow * heat * (self._leaf(warm.dry) - self._leaf(cold.dry))

    def total(self, flow: FloatArray, first: _State, second: _State) -> FloatArray | None:
        """Heat [W] with that of moisture; None where a humidity was not read."""
        one, other = self.ratio(first), self.ratio(second)
        if one is None or other is None:
            return None
        fall = moist_air.enthalpy(self._leaf(first.dry), one) - moist_air.enthalpy(self._leaf(second.dry), other)
        return self.sign * flow * fall

    @property
    def blower_at(self) -> _State | None:
        """Where the blower's airflow was taken: the air that enters, else that of the rooms."""
        return self.taken.states.get("entering") or self.taken.states.get("room")

    def _equipment(self) -> None:
        taken, airflow = self.taken, self.taken.leaves.get("equipment.airflow")
        entering, leaving = taken.states.get("entering"), taken.states.get("leaving")
        if _CAPACITY in self.workings.visit.leaves:
            self.workings.add(MADE, self._leaf(_CAPACITY), [_CAPACITY])
        if airflow is None or entering is None or leaving is None:
            return
        leaves = [airflow, *entering.leaves, *leaving.leaves]
        flow = self.mass_flow(airflow, entering)
        self.workings.add(MADE_SENSIBLE, self.sensible(flow, entering, leaving), leaves)
        total = self.total(flow, entering, leaving)
        if total is None:
            return
        if MADE.name not in self.workings.rows:
            self.workings.add(MADE, total, leaves)
        first, second = self.ratio(entering), self.ratio(leaving)
        if self.request.mode == "cooling" and first is not None and second is not None:
            self.workings.add(MOISTURE, duct_delivery.moisture_removed(flow, first, second), leaves)

    def _registers(self) -> None:
        room = self.taken.states.get("room")
        if not self.taken.registers or room is None:
            return
        flows = [self.mass_flow(airflow, state) for airflow, state in self.taken.registers]
        airflows = [airflow for airflow, _ in self.taken.registers]
        leaves = list(
            dict.fromkeys(
                [*airflows, *room.leaves, *(path for _, state in self.taken.registers for path in state.leaves)]
            )
        )
        self.workings.add(AIRFLOW, np.sum([self._leaf(airflow) for airflow in airflows], axis=0), airflows)
        states = [state for _, state in self.taken.registers]
        sensible = [self.sensible(flow, room, state) for flow, state in zip(flows, states, strict=True)]
        self.workings.add(DELIVERED_SENSIBLE, np.sum(sensible, axis=0), leaves)
        totals = [self.total(flow, room, state) for flow, state in zip(flows, states, strict=True)]
        if all(total is not None for total in totals):
            self.workings.add(DELIVERED, np.sum([total for total in totals if total is not None], axis=0), leaves)
        blower, at = self.taken.leaves.get("equipment.airflow"), self.blower_at
        if blower is not None and at is not None:
            share = np.sum(flows, axis=0) / self.mass_flow(blower, at)
            self.workings.add(AIRFLOW_SHARE, share, [*leaves, blower, *at.leaves])

    def _shares(self) -> None:
        rows, draws = self.workings.rows, self.workings.draws
        pairs = [(DELIVERED, MADE), (DELIVERED_SENSIBLE, MADE_SENSIBLE)]
        if self.request.mode == "heating":
            # Heating moves no moisture, so sensible heat is all of it.
            pairs.append((DELIVERED_SENSIBLE, MADE))
        for delivered, made in pairs:
            if delivered.name in rows and made.name in rows:
                leaves = [*self.workings.leaves[delivered.name], *self.workings.leaves[made.name]]
                with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
                    self.workings.add(SHARE, draws[delivered.name] / draws[made.name], leaves)
                return

    def _leakage(self) -> None:
        leak = self.taken.leaves.get("duct_test.leakage")
        if leak is None:
            return
        pressure = self.taken.numbers.get("duct_test.pressure", TEST_PRESSURE)
        at_test = duct_delivery.leakage_at(self._leaf(leak), pressure, TEST_PRESSURE)
        leaves = [leak, *(["duct_test.pressure"] if "duct_test.pressure" in self.taken.numbers else [])]
        self.workings.add(LEAKAGE, at_test, leaves)
        design = self.taken.numbers.get("duct_test.design_airflow")
        blower = self.taken.leaves.get("equipment.airflow")
        if design is not None:
            self.workings.add(LEAKAGE_SHARE, at_test / design, [*leaves, "duct_test.design_airflow"])
        elif blower is not None:
            self.workings.add(LEAKAGE_SHARE, at_test / self._leaf(blower), [*leaves, blower])

    def _effectiveness(self) -> None:
        blower, room = self.taken.leaves.get("equipment.airflow"), self.taken.states.get("room")
        capacity = MADE if MADE.name in self.workings.rows else MADE_SENSIBLE
        if self.request.ducts is None or blower is None or room is None or capacity.name not in self.workings.rows:
            return
        made, airflow = self.workings.draws[capacity.name], self._leaf(blower)
        flow_heat = airflow * AIR_DENSITY * AIR_HEAT
        supply, back = (self._run(side, airflow, flow_heat) for side in ("supply_side", "return_side"))
        zones = [self.taken.numbers[f"ducts.{side}.zone_temperature"] for side in ("supply_side", "return_side")]
        inside = self._leaf(room.dry)
        leaves = [blower, *room.leaves, *self.workings.leaves[capacity.name], ASSUMED + "duct_loss", *_DUCT_PATHS]
        if self.request.mode == "heating":
            colder = (inside - zones[0], inside - zones[1])
            share = duct_delivery.heating_delivery(supply, back, colder, made / flow_heat)
        else:
            excess = self._zone_excess(room, zones[1])
            if excess is None:
                return
            leaving = self.taken.states.get("leaving")
            cold = np.array(SUPPLY_AIR) if leaving is None else self._leaf(leaving.dry)
            warmer = (zones[0] - cold, zones[1] - inside)
            air = (airflow * AIR_DENSITY, AIR_HEAT)
            share = duct_delivery.cooling_delivery(supply, back, warmer, excess, made, air)
            leaves += [] if leaving is None else [leaving.dry]
        self.workings.add(EFFECTIVENESS, 1.0 - (1.0 - share) * self._leaf(ASSUMED + "duct_loss"), leaves)

    def _run(self, side: str, airflow: FloatArray, flow_heat: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Share of the air that stays in these ducts, and of a temperature difference that is left at their end."""
        numbers, path = self.taken.numbers, f"ducts.{side}"
        of = duct_delivery.supply_resistance if side == "supply_side" else duct_delivery.return_resistance
        resistance = of(numbers[f"{path}.insulation"])
        left = duct_delivery.conduction_fraction(numbers[f"{path}.surface"], resistance, flow_heat)
        return 1.0 - numbers[f"{path}.leakage_to_outside"] / airflow, left

    def _zone_excess(self, room: _State, zone: float) -> FloatArray | None:
        """Enthalpy of the air around the return ducts over that of the rooms [J/kg]."""
        assert self.request.ducts is not None
        percent, ratio = self.request.ducts.return_side.zone_relative_humidity, self.ratio(room)
        if percent is None or ratio is None:
            return None
        outside = moist_air.humidity_ratio_from_relative_humidity(zone, percent / 100.0, self.pressure)
        return moist_air.enthalpy(zone, outside) - moist_air.enthalpy(self._leaf(room.dry), ratio)

    def _blower_and_filter(self) -> None:
        leaves = self.taken.leaves
        blower, power = leaves.get("equipment.airflow"), leaves.get("equipment.fan_power")
        if blower is not None and power is not None:
            self.workings.add(FAN, self._leaf(power) / self._leaf(blower), [power, blower])
        rated = "filter.rated_external_static_pressure"
        if "filter.pressure_drop" in leaves and rated in self.taken.numbers:
            drop = leaves["filter.pressure_drop"]
            self.workings.add(FILTER, self._leaf(drop) / self.taken.numbers[rated], [drop, rated])
        if blower is not None and "filter.face_area" in self.taken.numbers:
            velocity = self._leaf(blower) / self.taken.numbers["filter.face_area"]
            self.workings.add(FACE, velocity, [blower, "filter.face_area"])


_DUCT_PATHS = tuple(
    f"ducts.{side}.{name}"
    for side in ("supply_side", "return_side")
    for name in ("surface", "insulation", "leakage_to_outside", "zone_temperature")
)

# ---------------------------------------------------------------- what it means

#: Limits by the quantity that they judge.
_LIMITS = (
    ("delivered_share_usual", SHARE),
    ("delivery_effectiveness_usual", EFFECTIVENESS),
    ("duct_leakage_altered", LEAKAGE_SHARE),
    ("duct_leakage_new", LEAKAGE_SHARE),
    ("fan_power_usual", FAN),
    ("fan_power_furnace", FAN),
    ("filter_share_of_rating", FILTER),
    ("filter_face_usual", FACE),
)


#: Of the limits of a blower's power, the one that does not apply, by whether a furnace was read.
_NOT_OF_THIS_FAN = {True: "fan_power_usual", False: "fan_power_furnace"}


def _judged(workings: Workings, request: AirDeliveryRequest, taken: _Taken) -> Iterator[Judged]:
    for limit, quantity in _LIMITS:
        if quantity.name in workings.rows and limit != _NOT_OF_THIS_FAN[request.furnace is not None]:
            yield workings.judged(limit)
    if RISE.name in workings.rows:
        numbers = taken.numbers
        yield workings.judged(
            "furnace_rise_nameplate", (numbers["furnace.lowest_rise"], numbers["furnace.highest_rise"])
        )


def _questions(workings: Workings, request: AirDeliveryRequest, taken: _Taken) -> Iterator[Question]:
    """Readings that no equipment and no duct can show: air the wrong way round, more out than in."""
    yield from _reversed(workings, request, taken)
    of_share = frozenset({SHARE.name, AIRFLOW_SHARE.name})
    airflows = ("registers", _BLOWER)
    if _shown_above(workings, AIRFLOW_SHARE, 1.0):
        said = workings.say("fraction", workings.value(AIRFLOW_SHARE.name))
        about = notice("delivered_more_than_made.air", airflows, share=said)
        yield Question(about, frozenset({_BLOWER}), of_share, step=_READ_AGAIN)
    elif workings.knows(AIRFLOW_SHARE.name) and _another_unit_fits(workings, request):
        said = workings.say("fraction", workings.value(AIRFLOW_SHARE.name))
        yield Question(notice("airflow_units_differ", airflows, share=said), frozenset({_BLOWER}), of_share)
    if _shown_above(workings, SHARE, 1.0):
        about = notice(
            "delivered_more_than_made", ("registers",), share=workings.say("fraction", workings.value(SHARE.name))
        )
        yield Question(about, quantities=of_share, step=_READ_AGAIN)
    if _shown_above(workings, EFFECTIVENESS, 1.0):
        said = workings.say("fraction", workings.value(EFFECTIVENESS.name))
        about = notice("effectiveness_over_one", ("ducts",), share=said)
        yield Question(about, quantities=frozenset({EFFECTIVENESS.name}), step="check_the_unit")
    yield from _about_airflow(workings, request, taken)


def _another_unit_fits(workings: Workings, request: AirDeliveryRequest) -> bool:
    """Whether registers and blower would move the same air if one of the two were in another unit."""
    share, taken_in = workings.value(AIRFLOW_SHARE.name), system_unit("airflow", request.units)
    if share >= LEAST_AIR:
        return False
    units = {symbol: in_unit("airflow", symbol).scale for symbol in ("cfm", "m3/h", "L/s", "m3/s", "m3/min")}
    ratios = [scale / units[taken_in] for symbol, scale in units.items() if symbol != taken_in]
    blower = None if request.equipment is None else request.equipment.airflow
    tried = [] if any(states_unit(one.airflow) for one in request.registers) else ratios
    tried = [*tried, *([] if states_unit(blower) else [1.0 / ratio for ratio in ratios])]
    return any(SAME_AIR[0] <= share * ratio <= SAME_AIR[1] for ratio in tried)


def _shown_above(workings: Workings, quantity: Quantity, limit: float) -> bool:
    return workings.knows(quantity.name) and workings.probability(quantity.name, None, limit) <= 0.025


def _shown_below_zero(workings: Workings, quantity: Quantity) -> bool:
    return workings.knows(quantity.name) and workings.probability(quantity.name, 0.0, None) <= 0.025


def _reversed(workings: Workings, request: AirDeliveryRequest, taken: _Taken) -> Iterator[Question]:
    """Air that a furnace cools, that equipment heats in cooling, or that brings heat the wrong way."""
    if _shown_below_zero(workings, RISE):
        rise = workings.say("temperature_difference", -workings.value(RISE.name))
        about = notice("furnace_reversed", ("furnace.entering", "furnace.leaving"), rise=rise)
        yield Question(about, quantities=frozenset({RISE.name}), step=_READ_AGAIN)
    # A capacity that was stated does not follow from this air.
    made = {MADE_SENSIBLE.name, *(() if _CAPACITY in workings.visit.leaves else (MADE.name, SHARE.name))}
    said = {"mode": request.mode, "change": "warmer" if request.mode == "cooling" else "colder"}
    if _shown_below_zero(workings, MADE_SENSIBLE):
        about = notice("equipment_reversed", ("equipment.entering", "equipment.leaving", "mode"), **said)
        yield Question(about, quantities=frozenset({*made, MOISTURE.name, EFFECTIVENESS.name}), step=_READ_AGAIN)
    elif _shown_below_zero(workings, MOISTURE):
        rate = workings.say("mass_flow", -workings.value(MOISTURE.name))
        yield Question(
            notice("moisture_added", (), rate=rate), quantities=frozenset({*made, MOISTURE.name}), step=_READ_AGAIN
        )
    if _shown_below_zero(workings, DELIVERED_SENSIBLE):
        about = notice("registers_reversed", ("registers", "room", "mode"), **said)
        delivered = frozenset({DELIVERED.name, DELIVERED_SENSIBLE.name, SHARE.name})
        yield Question(about, quantities=delivered, step=_READ_AGAIN)


def _about_airflow(workings: Workings, request: AirDeliveryRequest, taken: _Taken) -> Iterator[Question]:
    """A leakage that takes all of the air, and an airflow that is far from what the stated capacity needs."""
    if workings.knows(LEAKAGE_SHARE.name) and workings.value(LEAKAGE_SHARE.name) >= 1.0:
        share = workings.say("fraction", workings.value(LEAKAGE_SHARE.name))
        about = notice("leakage_over_airflow", ("duct_test.leakage",), share=share)
        yield Question(about, quantities=frozenset({LEAKAGE_SHARE.name}))
    blower = taken.leaves.get("equipment.airflow")
    if blower is None:
        return
    airflow = float(workings.leaf(blower)[0])
    if EFFECTIVENESS.name in workings.rows:
        for side in ("supply_side", "return_side"):
            lost = taken.numbers[f"ducts.{side}.leakage_to_outside"] / airflow
            if lost >= 1.0:
                where = (f"ducts.{side}.leakage_to_outside",)
                about = notice("leakage_over_airflow", where, share=workings.say("fraction", lost))
                yield Question(about, quantities=frozenset({EFFECTIVENESS.name}))
    if request.mode == "cooling" and _CAPACITY in workings.visit.leaves:
        per_capacity = airflow / workings.value(MADE.name)
        if not AIRFLOW_FOR_CAPACITY[0] <= per_capacity <= AIRFLOW_FOR_CAPACITY[1]:
            said = workings.say("airflow_for_capacity", per_capacity)
            about = notice("airflow_unlikely", ("equipment.airflow", _CAPACITY), airflow=said)
            yield Question(about, frozenset({"equipment.airflow"}))


def _outcome(workings: Workings, request: AirDeliveryRequest, taken: _Taken) -> Outcome:
    judged = list(_judged(workings, request, taken)) if workings.rows else []
    labels = {quantity.name: quantity.label for quantity in workings.rows.values()}
    asked = [one.notice["sentence"] for one in workings.questions]
    bad = [labels[one.row.quantity] for one in judged if one.grade == "nonconforming" and not one.row.watch]
    doubt = [labels[one.row.quantity] for one in judged if one.grade == "inconclusive"]
    watched = [labels[one.row.quantity] for one in judged if one.grade == "nonconforming" and one.row.watch]
    undecided = doubt or watched or asked or not judged
    verdict = "outside_limits" if bad else "cannot_tell" if undecided else "within_limits"
    findings: list[Finding] = [workings.finding(one) for one in judged]
    return Outcome(
        "air-delivery",
        verdict,
        words.verdict(verdict, list(dict.fromkeys(bad or doubt)), list(dict.fromkeys(watched)), asked[:1]),
        frozenset({"gas_heat"}) if request.furnace is not None else frozenset(),
        findings=findings,
        notices=list(_notices(workings, request)),
        information=list(_information(workings, request)),
        missing=list(_missing(workings, request, taken)),
        next_steps=steps(
            dict.fromkeys(words.STEP_OF[one.row.id] for one in judged if one.grade == "nonconforming")
            or (["read_more_closely"] if doubt else []),
            words.NEXT_STEPS,
        ),
    )


def _notices(workings: Workings, request: AirDeliveryRequest) -> Iterator[Notice]:
    only = DELIVERED_SENSIBLE.name in workings.rows and DELIVERED.name not in workings.rows
    if only and request.mode == "cooling":
        yield notice("sensible_only")
    if LEAKAGE.name in workings.rows:
        yield notice("test_not_operation")


def _information(workings: Workings, request: AirDeliveryRequest) -> Iterator[Information]:
    system = request.units
    if FAN.name in workings.rows:
        for name, value in MODEL_FANS.items():
            symbol = system_unit("power_for_airflow", system)
            shown = round(conversion("power_for_airflow", symbol).from_si(value), 3)
            sentence = words.model_fan(name, workings.say("power_for_airflow", value))
            yield {
                "id": f"model_fan_{name.partition('-')[0].partition(' ')[0]}",
                "value": shown,
                "unit": symbol,
                "sentence": sentence,
                "source": source("fan_power_model"),
            }
    device, blower = request.unit.metering_device, request.equipment and request.equipment.airflow
    if request.mode == "cooling" and device and blower is not None and MADE.name in workings.rows:
        airflow = next(leaf for leaf in workings.visit.leaves if leaf.startswith("equipment.airflow["))
        share = float(workings.leaf(airflow)[0]) / (RATED_AIRFLOW * workings.value(MADE.name))
        factor = float(duct_delivery.equipment_factor(share, expansion_valve=device in EXPANSION_VALVES))
        yield {
            "id": "efficiency_at_airflow",
            "value": round(100.0 * factor, 1),
            "unit": "%",
            "sentence": words.efficiency_at_airflow(factor),
            "source": source("ashrae_152"),
        }


def _missing(workings: Workings, request: AirDeliveryRequest, taken: _Taken) -> Iterator[Missing]:
    rows = workings.rows
    if taken.registers and SHARE.name not in rows:
        air = ["equipment.airflow", "equipment.entering", "equipment.leaving"]
        unlock: list[Any] = [{"add": ["equipment.capacity"]}, {"add": air}]
        yield {"quantity": SHARE.name, "reason": words.NO_CAPACITY, "unlock": unlock}
    if LEAKAGE.name in rows and LEAKAGE_SHARE.name not in rows:
        unlock = [{"add": ["equipment.airflow"]}, {"add": ["duct_test.design_airflow"]}]
        yield {"quantity": LEAKAGE_SHARE.name, "reason": words.NO_AIRFLOW, "unlock": unlock}
    if request.ducts is not None and EFFECTIVENESS.name not in rows:
        yield {"quantity": EFFECTIVENESS.name, "reason": words.NO_DUCT_INPUTS, "unlock": [{"add": _wanted(request)}]}


def _wanted(request: AirDeliveryRequest) -> list[str]:
    """What the standard's formula still lacks."""
    assert request.ducts is not None
    equipment, room = request.equipment, request.room
    wanted = {
        "room": room is None,
        "equipment.airflow": equipment is None or equipment.airflow is None,
        "equipment.capacity": equipment is None or equipment.capacity is None,
    }
    if request.mode == "cooling":
        humid = room is not None and (room.wet_bulb is not None or room.relative_humidity is not None)
        wanted["room.relative_humidity"] = not humid
        zone = request.ducts.return_side.zone_relative_humidity
        wanted["ducts.return_side.zone_relative_humidity"] = zone is None
    return [name for name, lacks in wanted.items() if lacks]
