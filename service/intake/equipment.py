"""The unit and its nameplate: refrigerant, voltages, capacitors, phases."""

from __future__ import annotations

from collections.abc import Iterator

from schemas.assessments import Nameplate
from service.intake.entry import Entry
from service.intake.paths import CURVES, FULL_STAGE_SUBCOOLING, MODEL, MOTORS, NAMEPLATE, PHASES, READING
from service.intake.refusals import Refusal, pointer
from service.intake.visit import PresumedPlate
from service.physics.refrigerant import saturation_curves
from service.physics.refrigerant_enthalpy import single_phase
from service.reference.conditions import CAPACITOR_TOLERANCE, DUAL_VOLTAGES, MOTOR_VOLTAGES
from service.reference.refrigerants import (
    REFRIGERANTS,
    designation_of,
    near_designations,
    reason_not_carried,
)
from service.uncertainty.error_terms import ErrorTerm, refrigerant_dimension

PROPERTIES = "refrigerant: property model"


def take_refrigerant(entry: Entry) -> None:
    """The refrigerant's curves, and by how much its property model may be off."""
    given = entry.request.unit.refrigerant
    if given is None:
        return
    designation = designation_of(given)
    if designation is None:
        entry.refusals.append(_not_carried(given))
        return
    entry.refrigerant = REFRIGERANTS[designation]
    entry.constant(CURVES, saturation_curves(designation), "unit.refrigerant")
    entry.constant(PHASES, single_phase(designation), "unit.refrigerant")
    term = ErrorTerm(refrigerant_dimension(), "normal", entry.refrigerant.model_uncertainty, True)
    entry.leaves.register(MODEL, 0.0, (term,), PROPERTIES, ("unit.refrigerant",), lasting=0)


def _not_carried(given: str) -> Refusal:
    near, known = ", ".join(near_designations(given)), reason_not_carried(given)
    return Refusal(
        pointer("unit", "refrigerant"),
        given,
        "one of " + ", ".join(REFRIGERANTS),
        f"is not supported: {known}" if known else "is not in the catalogue",
        f"Did you mean {near}? GET /v1/refrigerants lists them all."
        if near
        else "GET /v1/refrigerants lists them all.",
    )


def take_nameplate(entry: Entry) -> None:
    """Numbers of the nameplate; the number of phases even without one."""
    plate = entry.request.unit.nameplate
    entry.phases = _phases(entry)
    entry.constant("unit.nameplate.phases", float(entry.phases))
    if plate is None:
        return
    for name in (
        "voltage",
        "frequency",
        "compressor_rated_load_amps",
        "outdoor_fan_full_load_amps",
        "indoor_blower_full_load_amps",
    ):
        value = getattr(plate, name)
        if value is not None:
            entry.constant(f"unit.nameplate.{name}", float(value))
    _subcooling(entry, plate)
    entry.plain(
        "unit.nameplate.maximum_external_static_pressure",
        plate.maximum_external_static_pressure,
        "static_pressure",
    )
    _allowed_voltage(entry, plate)
    if plate.nominal_supply_voltage is not None and plate.frequency != 50:
        entry.constant("unit.nameplate.nominal_supply_voltage", plate.nominal_supply_voltage)
    _capacitors(entry, plate)


def _subcooling(entry: Entry, plate: Nameplate) -> None:
    """The target of subcooling [K] at the capacity at which the unit ran."""
    path = NAMEPLATE + "subcooling"
    if entry.running != "low":
        entry.plain(path, plate.subcooling, "temperature_difference")
    elif plate.low_stage is not None and plate.low_stage.subcooling is not None:
        target = entry.to_si(plate.low_stage.subcooling, "temperature_difference")
        entry.constant(path, target, NAMEPLATE + "low_stage.subcooling")
    else:
        entry.plain(FULL_STAGE_SUBCOOLING, plate.subcooling, "temperature_difference")


def _capacitors(entry: Entry, plate: Nameplate) -> None:
    """Rated capacitance [F] of each motor's capacitor, and the range that its tolerance allows."""
    for motor in MOTORS if plate.capacitors is not None else ():
        part = getattr(plate.capacitors, motor)
        if part is None:
            continue
        path = f"unit.nameplate.capacitors.{motor}"
        stated = part.tolerance_percent
        tolerance = CAPACITOR_TOLERANCE if stated is None else stated
        rated = part.microfarads * 1e-6
        entry.constant(f"{path}.microfarads", rated)
        entry.constant(f"{path}.lowest", rated * (1 - tolerance / 100), path)
        entry.constant(f"{path}.highest", rated * (1 + tolerance / 100), path)


def _allowed_voltage(entry: Entry, plate: Nameplate) -> None:
    """The voltages that the nameplate allows: as stated, else from its rated voltage."""
    lowest, highest = plate.lowest_voltage, plate.highest_voltage
    if plate.voltage is not None:
        lowest = _lowest_of_dual(entry, plate) if lowest is None else lowest
        lowest = MOTOR_VOLTAGES[0] * plate.voltage if lowest is None else lowest
        highest = MOTOR_VOLTAGES[1] * plate.voltage if highest is None else highest
    for name, value in (("lowest_voltage", lowest), ("highest_voltage", highest)):
        if value is not None:
            entry.constant(f"{NAMEPLATE}{name}", value, f"{NAMEPLATE}voltage")


def _lowest_of_dual(entry: Entry, plate: Nameplate) -> float | None:
    """Lower end of a plate of two voltages, where the supply shows that the higher one was typed in."""
    assert plate.voltage is not None
    dual = next((row for row in DUAL_VOLTAGES if row.higher == plate.voltage), None)
    if dual is None or plate.frequency not in (None, dual.frequency):
        return None
    nominal, (low, high) = plate.nominal_supply_voltage, dual.supply
    if nominal is not None and low <= nominal <= high:
        entry.presumed_plate = PresumedPlate(dual, "unit.nameplate.nominal_supply_voltage")
    elif (lines := list(_line_voltages(entry))) and all(low <= v <= high for v in lines):
        entry.presumed_plate = PresumedPlate(dual, READING + "line_voltage")
    else:
        return None
    return dual.lowest


_LINES = frozenset({"line_voltage", "line_voltages"})
_OF_THREE_PHASES = ("line_voltages", "compressor_line_currents")


def _line_voltages(entry: Entry) -> Iterator[float]:
    """Line voltages [V] as taken in, once or from a log."""
    return (volts for name, volts in entry.readings.items() if name.partition(".")[0] in _LINES)


def _phases(entry: Entry) -> int:
    """As stated, else as the readings show."""
    plate, readings = entry.request.unit.nameplate, entry.request.run.readings
    stated = plate.phases if plate is not None else None
    logged = () if entry.logged is None else entry.logged.readings
    groups = [
        group
        for group in _OF_THREE_PHASES
        if getattr(readings, group) is not None or any(name.startswith(group) for name in logged)
    ]
    if stated == 1 and groups:
        entry.refusals.append(
            Refusal(
                pointer("unit", "nameplate", "phases"),
                1,
                "3, or no value",
                f"contradicts {groups[0]}, which belongs to a three-phase unit",
                "Correct the number of phases, or give line_voltage and compressor_common_current instead.",
            )
        )
    return stated or (3 if groups else 1)
