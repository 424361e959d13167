"""Published fault cases as complete visits.

``python -m tests.benchmarks.published_cases`` prints how many there are.

A case is a fault-free base state plus the deviations that a publication gives for a fault and a level.
The tables are in ``tests/benchmarks/published``; each says where its numbers come from and whether
they were seen in print, recalled or computed.  No errors of instruments are added: what is scored is
the rule, not the thermometer.

What the tables hold: deviations recommended from several sources, a fault sweep by a cycle model, the
sign table of the statistical rule-based classifier, charge polynomials, one laboratory run, and
fault-free states within the tolerances of the field protocol.  None of them has an expansion valve that
over- or underfeeds, so there is no case of these two faults.
"""

from __future__ import annotations

import csv
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import cache
from itertools import product
from pathlib import Path
from typing import Any, Literal

DATA = Path(__file__).parent / "published"

MeteringDevice = Literal["thermostatic_expansion_valve", "fixed_orifice"]
VALVE: MeteringDevice = "thermostatic_expansion_valve"
ORIFICE: MeteringDevice = "fixed_orifice"
DEVICES: tuple[MeteringDevice, ...] = (VALVE, ORIFICE)

NO_FAULT = "no_fault"
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

#: The seven features whose residuals the classifier of Rossi and Braun (1997) uses [K].
FEATURES = (
    "evaporating",
    "superheat",
    "condensing",
    "subcooling",
    "discharge",
    "condenser_air_rise",
    "evaporator_air_drop",
)

ZERO_CELSIUS = 273.15
#: One cubic foot a minute [m³/s]: exact, 0.3048³ / 60.
CUBIC_FOOT_PER_MINUTE = 0.3048**3 / 60.0
#: One ton of refrigeration [W]: 12 000 Btu/h.
TON = 3516.853
#: One watt [Btu/h].
BTU_PER_HOUR = 3.412142
#: Blower power over airflow [W/(m³/s)]: 365 W for 1000 cfm, default of AHRI 210/240; value from memory.
BLOWER = 365.0 / (1000.0 * CUBIC_FOOT_PER_MINUTE)

#: Conditions of the published deviations: AHRI 210/240 test A, indoors 26.7/19.4 °C [K].
RETURN_DRY_BULB = 26.7 + ZERO_CELSIUS
RETURN_WET_BULB = 19.4 + ZERO_CELSIUS

#: Rise of the saturation temperature read from pressure by one percent of pressure [K]: stated with the
#: fault sweep.
SATURATION_RISE_BY_PERCENT = 0.43
#: Bubble pressure of R-410A [kPa] at the condensing temperatures of the sweep (48.7, 42.2 °C): computed
#: with the reference equation of state, by outdoor air [°C].
CONDENSING_PRESSURE = {35.0: 2980.0, 28.0: 2558.0}

#: A deviation of unstated size [K], where only a sign is published: nominal, no source.
NOMINAL_DEVIATION = 1.5

#: Slope of the discharge line with superheat [K/K]: computed for R-410A about the base state (CoolProp,
#: isentropic efficiency 0.7).
DISCHARGE_BY_SUPERHEAT = 1.1

#: Targets at 35 °C outdoors and 26.7/19.4 °C (95, 80/67 °F) indoors [K]: 12.0 and 18.3 °F, California
#: Energy Commission RA3 (2008), Tables RA3.2-2 and RA3.2-3; values from memory.
TARGET_SUPERHEAT = 12.0 / 1.8
TARGET_TEMPERATURE_SPLIT = 18.3 / 1.8
#: Lowest superheat of a valve [K]: 4 °F, RA3 (2008).
LOWEST_VALVE_SUPERHEAT = 4.0 / 1.8

#: Fault-free deviations [K], inside the protocol's ±2.8, ±1.7 and ±1.7 K (±5, ±3, ±3 °F; RA3 2008).
IN_TOLERANCE = {"superheat": 2.5, "subcooling": 1.5, "evaporator_air_drop": 1.5}

#: Rated capacity of the laboratory unit [W] and its circuits: 12.5 tons, two.
LABORATORY_CAPACITY = 12.5 * TON
LABORATORY_CIRCUITS = 2

KIT: Mapping[str, Mapping[str, str]] = {
    "gauges": {"type": "pressure_transducer"},
    "clamps": {"type": "thermistor_pipe_clamp"},
    "air": {"type": "psychrometer"},
    "power": {"type": "power_meter"},
    "hood": {"type": "airflow_hood"},
}


@dataclass(frozen=True, slots=True)
class Conditions:
    """Outdoor dry bulb, return dry and wet bulb [K]; None where not recorded."""

    outdoor: float | None
    return_dry_bulb: float
    return_wet_bulb: float | None


@dataclass(frozen=True, slots=True)
class Case:
    """One visit with its truth.

    ``readings`` and ``baseline`` are by the names of the request, in SI (K, W, m³/s); ``baseline`` is the
    same unit without fault in the same conditions.  ``capacity_ratio`` and ``efficiency_ratio`` are
    faulted over fault-free, None where not published.  Target subcooling in K, rated capacity in W,
    rated efficiency in Btu/(W h).
    """

    name: str
    source: str
    truth: str
    level: str
    metering_device: MeteringDevice
    conditions: Conditions
    readings: Mapping[str, float]
    baseline: Mapping[str, float] | None
    capacity_ratio: float | None
    efficiency_ratio: float | None
    target_subcooling: float | None
    rated_capacity: float
    rated_efficiency: float | None
    refrigerant: str = "R-410A"


@dataclass(frozen=True, slots=True)
class State:
    """A fault-free unit in its conditions: temperatures in K, differences in K, power W, airflow m³/s.

    ``response`` multiplies published deviations: units differ by 40 % (one standard deviation) from them.
    """

    unit: str
    metering_device: MeteringDevice
    outdoor: float
    features: Mapping[str, float]
    outdoor_unit_power: float
    airflow: float
    cooling_capacity: float
    rated_capacity: float
    rated_efficiency: float
    response: float


@dataclass(frozen=True, slots=True)
class Deviation:
    """What a fault changes: features [K], power, airflow, capacity and efficiency [relative].

    None where the publication says nothing of it: the case then leaves that reading out.
    """

    features: Mapping[str, float] = field(default_factory=dict)
    power: float | None = 0.0
    airflow: float | None = 0.0
    capacity: float | None = None
    efficiency: float | None = None


# ---------------------------------------------------------------- tables


@cache
def table(name: str) -> tuple[Mapping[str, str], ...]:
    """The rows of a published table as text."""
    lines = (DATA / f"{name}.csv").read_text().splitlines()
    return tuple(csv.DictReader(line for line in lines if not line.startswith("#")))


@cache
def base_states() -> Mapping[tuple[str, str], State]:
    """Fault-free states by unit and metering device."""
    return {(row["unit"], device): _state(row, device) for row in table("base_states") for device in DEVICES}


def _state(row: Mapping[str, str], device: MeteringDevice) -> State:
    number = {key: float(text) for key, text in row.items() if key != "unit"}
    superheat = number["superheat_valve" if device == VALVE else "superheat_orifice"]
    extra = superheat - number["superheat_valve"]
    airflow = 400.0 * CUBIC_FOOT_PER_MINUTE * number["rated_capacity"] / TON
    power = number["rated_power"] + BLOWER * airflow
    return State(
        row["unit"],
        device,
        number["outdoor_celsius"] + ZERO_CELSIUS,
        {
            "evaporating": number["evaporating_celsius"] + ZERO_CELSIUS,
            "superheat": superheat,
            "condensing": number["condensing_celsius"] + ZERO_CELSIUS,
            "subcooling": number["subcooling"],
            "discharge": number["discharge_celsius"] + ZERO_CELSIUS + DISCHARGE_BY_SUPERHEAT * extra,
            "condenser_air_rise": number["condenser_air_rise"],
            "evaporator_air_drop": number["evaporator_air_drop"],
        },
        number["outdoor_unit_power"],
        airflow,
        number["cooling_capacity"],
        number["rated_capacity"],
        number["rated_capacity"] / power * BTU_PER_HOUR,
        number["response"],
    )


def _deviation(row: Mapping[str, str], airflow: float) -> Deviation:
    """A row of a table of deviations; ``airflow`` is the relative change of the indoor airflow."""
    return Deviation(
        {name: float(row[name]) for name in FEATURES},
        float(row["power_percent"]) / 100.0,
        airflow,
        float(row["capacity_percent"]) / 100.0,
        float(row["efficiency_percent"]) / 100.0,
    )


def _scaled(deviation: Deviation, factor: float) -> Deviation:
    """The deviation of a unit that responds more or less strongly; the imposed airflow stays."""
    return Deviation(
        {name: factor * value for name, value in deviation.features.items()},
        _times(deviation.power, factor),
        deviation.airflow,
        _times(deviation.capacity, factor),
        _times(deviation.efficiency, factor),
    )


def _times(value: float | None, factor: float) -> float | None:
    return None if value is None else value * factor


# ---------------------------------------------------------------- visits


def readings_of(state: State, deviation: Deviation) -> dict[str, float]:
    """Readings of a unit in ``state`` changed by ``deviation`` [K, W, m³/s].

    Superheat and subcooling end at zero: a line that carries liquid and vapour is at saturation.
    """
    feature = {name: value + deviation.features.get(name, 0.0) for name, value in state.features.items()}
    readings = {
        "suction_saturation_temperature": feature["evaporating"],
        "liquid_saturation_temperature": feature["condensing"],
        "suction_line_temperature": feature["evaporating"] + max(feature["superheat"], 0.0),
        "liquid_line_temperature": feature["condensing"] - max(feature["subcooling"], 0.0),
        "discharge_line_temperature": feature["discharge"],
        "outdoor_air_dry_bulb": state.outdoor,
        "condenser_leaving_air_dry_bulb": state.outdoor + feature["condenser_air_rise"],
        "return_air_dry_bulb": RETURN_DRY_BULB,
        "return_air_wet_bulb": RETURN_WET_BULB,
        "supply_air_dry_bulb": RETURN_DRY_BULB - feature["evaporator_air_drop"],
    }
    if deviation.power is not None:
        readings["outdoor_unit_power"] = state.outdoor_unit_power * (1.0 + deviation.power)
    if deviation.airflow is not None:
        readings["airflow"] = state.airflow * (1.0 + deviation.airflow)
    return readings


def _case(state: State, truth: str, level: str, source: str, deviation: Deviation) -> Case:
    """The visit to a unit in ``state`` with a fault; its baseline has the same readings."""
    readings = readings_of(state, deviation)
    healthy = readings_of(state, Deviation())
    capacity, efficiency = deviation.capacity, deviation.efficiency
    return Case(
        f"{truth}, {level}, {state.metering_device}, unit {state.unit}, {source}",
        source,
        truth,
        level,
        state.metering_device,
        Conditions(state.outdoor, RETURN_DRY_BULB, RETURN_WET_BULB),
        readings,
        {name: healthy[name] for name in readings},
        None if capacity is None else 1.0 + capacity,
        None if efficiency is None else 1.0 + efficiency,
        state.features["subcooling"] if state.metering_device == VALVE else None,
        state.rated_capacity,
        state.rated_efficiency,
    )


# ---------------------------------------------------------------- the sources

RECOMMENDED = "recommended fault model (signs seen, magnitudes computed)"
SWEEP = "fault sweep (computed with a cycle model)"
SIGNS = "sign table after Rossi and Braun 1997 (signs seen, magnitudes recommended or nominal)"
POLYNOMIAL = "charge polynomial (coefficients seen) with recommended temperatures (computed)"
LABORATORY = "Granderson et al. 2020, rooftop unit (readings seen)"
PROTOCOL = "within the tolerances of RA3 2008 (targets from memory)"

#: The units that stand at 35 °C, and so at the conditions of the recommended deviations.
UNITS = ("published", "efficient", "small coils", "middling")


def recommended(fault: str, device: str, multiple: float, part: str | None = None) -> Deviation | None:
    """The recommended deviation at ``multiple`` times its stated level, linear between whole ones.

    None where the table has no such row.  ``multiple`` is from 0 to 3.
    """
    rows = [
        row
        for row in table("recommended_deviations")
        if row["fault"] == fault and row["metering_device"] == device and (part is None or row["part"] == part)
    ]
    if not rows:
        return None
    part = rows[0]["part"]
    steps = [Deviation({}, 0.0, 0.0, 0.0, 0.0)] + [
        _deviation(row, -0.1 * float(row["multiple"]) if fault == "evaporator_airflow" else 0.0)
        for row in rows
        if row["part"] == part
    ]
    below = min(int(multiple), len(steps) - 2)
    share = multiple - below
    return _between(steps[below], steps[below + 1], share)


def _between(low: Deviation, high: Deviation, share: float) -> Deviation:
    """The point at ``share`` of the way between two deviations that say everything."""

    def mean(first: float | None, second: float | None) -> float:
        return (1.0 - share) * (first or 0.0) + share * (second or 0.0)

    return Deviation(
        {name: mean(low.features.get(name), high.features.get(name)) for name in FEATURES},
        mean(low.power, high.power),
        mean(low.airflow, high.airflow),
        mean(low.capacity, high.capacity),
        mean(low.efficiency, high.efficiency),
    )


def _recommended_cases() -> Iterator[Case]:
    """Every row at one, two and three times its level, on every unit."""
    for row in table("recommended_deviations"):
        for unit in UNITS:
            state = base_states()[unit, row["metering_device"]]
            deviation = recommended(row["fault"], row["metering_device"], float(row["multiple"]), row["part"])
            assert deviation is not None
            level = f"{row['multiple']} x ({row['level_unit']})"
            yield _case(state, row["fault"], level, RECOMMENDED, _scaled(deviation, state.response))


def _sweep_cases() -> Iterator[Case]:
    """Every row, on the unit it was computed for."""
    for row in table("fault_sweep"):
        outdoor, level = float(row["outdoor_celsius"]), float(row["level"])
        unit = "published" if outdoor == 35.0 else f"published at {outdoor:.0f}"
        state = base_states()[unit, row["metering_device"]]
        airflow = -level / 100.0 if row["fault"] == "evaporator_airflow" else 0.0
        deviation = _deviation(row, airflow)
        if row["fault"] == "non_condensable_gas":
            deviation = _as_read_from_pressure(deviation, level, outdoor)
        yield _case(
            state,
            row["fault"],
            f"{row['level']} {row['level_unit']} at {outdoor:.0f} degC",
            SWEEP,
            deviation,
        )


def _as_read_from_pressure(deviation: Deviation, partial_pressure: float, outdoor: float) -> Deviation:
    """Condensing and subcooling as the gauge shows them with gas in the condenser [kPa, °C]."""
    percent = 100.0 * partial_pressure / CONDENSING_PRESSURE[outdoor]
    rise = SATURATION_RISE_BY_PERCENT * percent
    shown = dict(deviation.features)
    shown["condensing"] += rise
    shown["subcooling"] += rise
    return Deviation(shown, deviation.power, deviation.airflow, deviation.capacity, deviation.efficiency)


def _sign_cases() -> Iterator[Case]:
    """Five faults at three sizes on two units; power, airflow and effect are not published there.

    Sizes are the recommended ones where their sign agrees, else nominal.
    """
    for row, multiple, unit in product(table("signs_fixed_orifice"), (1, 2, 3), UNITS[:2]):
        sized = recommended(row["fault"], ORIFICE, multiple)
        assert sized is not None
        features = {}
        for name in FEATURES:
            sign = 1.0 if row[name] == "+" else -1.0
            agrees = sized.features[name] * sign > 0.0
            features[name] = sized.features[name] if agrees else sign * NOMINAL_DEVIATION
        yield _case(
            base_states()[unit, ORIFICE],
            row["fault"],
            f"size {multiple}",
            SIGNS,
            Deviation(features, None, None, None, None),
        )


def charge_effect(family: str, charge: float, outdoor: float = 35.0) -> tuple[float, float, float]:
    """Capacity, power and efficiency over fault-free by the published charge polynomials.

    ``charge`` is the relative departure from nominal, ``outdoor`` in °C; indoors 26.7/19.4 °C.
    Forms and coefficients: see ``charge_polynomials.csv``.
    """
    fault = "low_charge" if charge < 0.0 else "overcharge"
    value = {
        row["quantity"]: _polynomial(row, charge, outdoor)
        for row in table("charge_polynomials")
        if row["family"] == family and row["fault"] == fault
    }
    capacity = value["capacity"]
    if "power" in value:
        return capacity, value["power"], capacity / value["power"]
    return (
        capacity,
        capacity * value["energy_input_ratio"],
        1.0 / value["energy_input_ratio"],
    )


def _polynomial(row: Mapping[str, str], charge: float, outdoor: float) -> float:
    a1, a2, a3, a4, a5, a6 = (float(row[f"a{number}"]) for number in range(1, 7))
    if row["form"] == "outdoor_indoor":
        return 1.0 + (a1 + a2 * 26.7 + a3 * outdoor + a4 * charge) * charge
    size = abs(charge)
    wet, dry = 19.4 / 273.15 + 1.0, outdoor / 273.15 + 1.0
    return 1.0 + size * (a1 + a2 * wet + a3 * dry + a4 * size + a5 * size**2 + a6 * float(row["rated_cop"]))


def _polynomial_cases() -> Iterator[Case]:
    """Charge from -30 to +30 %, where the family has a usable fit, on two units of equal response."""
    families = {(row["family"], row["metering_device"], row["fault"]) for row in table("charge_polynomials")}
    for family, device, fault in sorted(families):
        for percent, unit in product((10, 15, 20, 25, 30), ("published", "middling")):
            charge = percent / (-100.0 if fault == "low_charge" else 100.0)
            capacity, power, efficiency = charge_effect(family, charge)
            shown = recommended(fault, device, percent / 10.0)
            assert shown is not None
            yield _case(
                base_states()[unit, device],
                fault,
                f"{100 * charge:+.0f} % charge, {family}",
                POLYNOMIAL,
                Deviation(shown.features, power - 1.0, 0.0, capacity - 1.0, efficiency - 1.0),
            )


def _laboratory_cases() -> Iterator[Case]:
    """One circuit of a rooftop unit, minute by minute: six rows of one run, so hardly independent.

    Half the airflow and half the outdoor power are taken for the circuit's; the metering device was not
    recorded and is taken for a valve (assumption).  There is no baseline.
    """
    for row in table("laboratory_rows"):
        unit = float(row["unit_watt_hours_per_minute"]) - float(row["fan_watt_hours_per_minute"])
        dry_bulb = _kelvin(row["return_fahrenheit"])
        airflow = float(row["supply_cubic_feet_per_minute"]) * CUBIC_FOOT_PER_MINUTE
        readings = {
            "suction_saturation_temperature": float(row["suction_saturation_kelvin"]),
            "liquid_saturation_temperature": float(row["liquid_saturation_kelvin"]),
            "suction_line_temperature": _kelvin(row["suction_line_fahrenheit"]),
            "liquid_line_temperature": _kelvin(row["liquid_line_fahrenheit"]),
            "discharge_line_temperature": _kelvin(row["discharge_line_fahrenheit"]),
            "return_air_dry_bulb": dry_bulb,
            "supply_air_dry_bulb": _kelvin(row["supply_fahrenheit"]),
            "outdoor_unit_power": 60.0 * unit / LABORATORY_CIRCUITS,
            "airflow": airflow / LABORATORY_CIRCUITS,
        }
        yield Case(
            f"condenser_heat_transfer, -25 % condenser airflow, rooftop unit, {row['row']}",
            LABORATORY,
            "condenser_heat_transfer",
            "-25 % condenser airflow",
            VALVE,
            Conditions(None, dry_bulb, None),
            readings,
            None,
            None,
            None,
            None,
            LABORATORY_CAPACITY / LABORATORY_CIRCUITS,
            None,
        )


def _kelvin(fahrenheit: str) -> float:
    return (float(fahrenheit) - 32.0) / 1.8 + ZERO_CELSIUS


#: Steps of the in-tolerance deviations of superheat, subcooling and split: none, each alone both ways,
#: and the half fraction of the corners.
STEPS = (
    (0, 0, 0),
    (1, 0, 0),
    (-1, 0, 0),
    (0, 1, 0),
    (0, -1, 0),
    (0, 0, 1),
    (0, 0, -1),
    (1, 1, 1),
    (1, -1, -1),
    (-1, 1, -1),
    (-1, -1, 1),
)


#: Units of the fault-free cases that have drifted from their baseline; the others are so by nature, and
#: their baseline shows the same.
DRIFTED = ("published", "efficient")


def _healthy_cases() -> Iterator[Case]:
    """The base states themselves, and states off their targets by less than the tolerances.

    A drift within the tolerances counts as no fault: what it costs is under the usual line of 5 %
    (a charge 5 % low moves the superheat of an orifice by 2.3 K and costs 3 % of capacity).
    """
    for state in base_states().values():
        yield _case(state, NO_FAULT, "as it should be", PROTOCOL, Deviation())
    for unit, device, steps in product(UNITS, DEVICES, STEPS):
        state = base_states()[unit, device]
        superheat, subcooling, split = _off_target(state, steps)
        deviation = {
            "superheat": superheat,
            "discharge": DISCHARGE_BY_SUPERHEAT * superheat,
            "subcooling": subcooling,
            "evaporator_air_drop": split,
        }
        how = "drifted" if unit in DRIFTED else "by nature"
        level = "superheat {:+d}, subcooling {:+d}, split {:+d} in tolerance".format(*steps)
        case = _case(state, NO_FAULT, f"{level}, {how}", PROTOCOL, Deviation(deviation))
        yield case if unit in DRIFTED else replace(case, baseline=case.readings)


def _off_target(state: State, steps: tuple[int, int, int]) -> tuple[float, float, float]:
    """What brings superheat, subcooling and split to their targets plus the steps [K].

    A valve has no target superheat but a range: its own superheat is moved, and kept above the lower end.
    """
    size = [
        step * IN_TOLERANCE[name]
        for step, name in zip(steps, ("superheat", "subcooling", "evaporator_air_drop"), strict=True)
    ]
    own = state.features["superheat"]
    wanted = TARGET_SUPERHEAT + size[0]
    if state.metering_device == VALVE:
        wanted = max(own + size[0], LOWEST_VALVE_SUPERHEAT + 0.1)
    drop = TARGET_TEMPERATURE_SPLIT + size[2] - state.features["evaporator_air_drop"]
    return wanted - own, size[1], drop


@cache
def _all_cases() -> tuple[Case, ...]:
    return (
        *_recommended_cases(),
        *_sweep_cases(),
        *_sign_cases(),
        *_polynomial_cases(),
        *_laboratory_cases(),
        *_healthy_cases(),
    )


def cases() -> list[Case]:
    """Every published case, always the same and in the same order."""
    return list(_all_cases())


# ---------------------------------------------------------------- the request

_UNITS = {"airflow": "m3/s", "outdoor_unit_power": "W"}


def _run(readings: Mapping[str, float], *, condenser_air: bool) -> dict[str, Any]:
    return {
        "minutes_running": 20,
        "readings": {
            name: {"value": value, "unit": _UNITS.get(name, "K")}
            for name, value in readings.items()
            if condenser_air or name != "condenser_leaving_air_dry_bulb"
        },
    }


def request(case: Case, *, with_baseline: bool, condenser_air: bool = False) -> dict[str, Any]:
    """The JSON body for a case.

    Air leaving the condenser is seldom read and left out unless ``condenser_air``.  A case without a
    baseline gets none.
    """
    rated: dict[str, float] = {"cooling_capacity": case.rated_capacity}
    if case.rated_efficiency is not None:
        rated["eer"] = case.rated_efficiency
    unit: dict[str, Any] = {
        "refrigerant": case.refrigerant,
        "metering_device": case.metering_device,
        "rated": rated,
    }
    if case.target_subcooling is not None:
        unit["nameplate"] = {"subcooling": {"value": case.target_subcooling, "unit": "K"}}
    body = {
        "units": "metric",
        "site": {"altitude": 0},
        "unit": unit,
        "kit": {name: dict(instrument) for name, instrument in KIT.items()},
        "run": _run(case.readings, condenser_air=condenser_air),
    }
    if with_baseline and case.baseline is not None:
        body["baseline"] = _run(case.baseline, condenser_air=condenser_air)
    return body


def main() -> None:
    """Print how many cases there are by truth, metering device and source."""
    for key in ("truth", "metering_device", "source"):
        for value, count in sorted(Counter(getattr(case, key) for case in cases()).items()):
            print(f"{count:5d}  {value}")
        print()


if __name__ == "__main__":
    main()
