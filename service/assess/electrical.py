"""Checks of capacitors, of the start winding and of the nameplate's voltage.

Currents on the wrong wire are with the other mistakes (:mod:`service.assess.mistaken`).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from service.assess.notices import Case, Notice, notice
from service.derive.derivations import CAPACITOR_CURRENT
from service.intake.paths import MOTORS, NAMEPLATE, READING
from service.reference.conditions import CAPACITOR_OVER_LINE, MOTOR_VOLTAGES, NO_CURRENT


def _capacitor_voltage(case: Case) -> Iterator[Notice]:
    line = case.visit.nominal("line_voltage")
    for motor in MOTORS:
        across = case.visit.nominal(f"capacitor_voltage.{motor}")
        amps = case.visit.nominal(CAPACITOR_CURRENT[motor])
        # Line voltage with no current is what an open capacitor shows: that one is graded.
        if not line or across is None or amps is None or amps < NO_CURRENT:
            continue
        if abs(across / line - 1.0) < CAPACITOR_OVER_LINE:
            yield notice(
                "capacitor_voltage_like_line",
                (f"capacitor_voltage.{motor}", "line_voltage"),
                stops=(f"{motor}_capacitor",),
                motor=motor.replace("_", " "),
                across=case.say("voltage", across),
                line=case.say("voltage", line),
            )


def _start_winding_current(case: Case) -> Iterator[Notice]:
    given = case.visit.readings
    if "compressor_start_winding_current" in given and "compressor_common_current" not in given:
        yield notice("start_winding_current_is_not_the_draw", ("compressor_start_winding_current",))


def _tolerance_assumed(case: Case) -> Iterator[Notice]:
    plate = case.request.unit.nameplate
    if plate is None or plate.capacitors is None:
        return
    for motor in MOTORS:
        part = getattr(plate.capacitors, motor)
        if part is not None and part.tolerance_percent is None:
            words = motor.replace("_", " ")
            yield notice("capacitor_tolerance_assumed", (f"capacitor_voltage.{motor}",), motor=words)


def _plate_presumed(case: Case) -> Iterator[Notice]:
    presumed, plate = case.visit.presumed_plate, case.request.unit.nameplate
    if presumed is None or plate is None:
        return
    row = presumed.plate
    lower, higher, lowest = (f"{volts:g}" for volts in (row.lower, row.higher, row.lowest))
    highest = f"{case.visit.leaves[NAMEPLATE + 'highest_voltage']:.0f}"
    if presumed.shows.startswith(READING):
        yield notice(
            "dual_voltage_plate_presumed.by_line_voltage",
            [name for name in case.visit.readings if name.startswith("line_voltage")],
            lower=lower,
            higher=higher,
            lowest=lowest,
            highest=highest,
            alone=f"{MOTOR_VOLTAGES[0] * row.higher:.0f}",
        )
    else:
        yield notice(
            "dual_voltage_plate_presumed.by_supply",
            lower=lower,
            higher=higher,
            lowest=lowest,
            highest=highest,
            supply=f"{plate.nominal_supply_voltage:g}",
        )


CHECKS: tuple[Callable[[Case], Iterator[Notice]], ...] = (
    _capacitor_voltage,
    _start_winding_current,
    _plate_presumed,
    _tolerance_assumed,
)
