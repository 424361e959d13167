"""The checks: the one table of what answers each.  A new check is a row here and its body in ``schemas/checks``."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from schemas.checks import CHECKS as BODIES
from schemas.checks import CheckAnswer, CheckRequest
from service.checks.air_delivery import air_delivery
from service.checks.charge_by_weight import charge_by_weight
from service.checks.leak_rate import leak_rate
from service.checks.motor import motor
from service.checks.pressure_at_rest import pressure_at_rest
from service.checks.pressure_hold import pressure_hold
from service.checks.vacuum_rise import vacuum_rise


@dataclass(frozen=True, slots=True)
class Check:
    """One check: its body, what answers it, and how the contract presents it."""

    name: str
    body: type[CheckRequest]
    answer: Callable[[Any], CheckAnswer]
    operation: str
    summary: str
    description: str


def _row(name: str, answer: Callable[[Any], CheckAnswer], operation: str, summary: str, description: str) -> Check:
    return Check(name, BODIES[name], answer, operation, summary, description)


_ROWS = (
    _row(
        "pressure-hold",
        pressure_hold,
        "checkPressureHold",
        "Pressure test with nitrogen",
        "Send two readings or more of pressure and gas temperature over time; get the loss beyond what the temperature "
        "explains (real gas, absolute by the site's pressure), with its band, and the smallest leak that the test "
        "would have shown. Verdicts: `loss_shown`, `no_loss_seen` (which never means tight), `pressure_rose`, "
        "`over_limit` (the pressure is above its limit), `cannot_tell` (the test shows nothing, or a number is in "
        "question).",
    ),
    _row(
        "charge-by-weight",
        charge_by_weight,
        "checkChargeByWeight",
        "Charge by weight",
        "Send the nameplate charge, the part that is for lines, and the lines as installed; get the charge, what to "
        "add or remove, and how closely scale and hoses let you meet it. Charge for lines comes from the unit's own "
        "data, or from the computed content of the lines. The part of the factory charge for lines is never estimated. "
        "Verdicts: `add_charge`, `remove_charge`, `no_adjustment`, and with `weighed_in` what that leaves to do, or "
        "`charge_complete`; `allowance_not_known`, `lines_not_known`, `cannot_tell` (a number is in question). With a "
        "room and a flammable refrigerant the answer shows what published formulas give, never a permission.",
    ),
    _row(
        "motor",
        motor,
        "checkMotor",
        "Windings, insulation and capacitors",
        "Send what an ohmmeter, an insulation tester and a capacitance meter showed with the power off and the parts "
        "isolated; get each compared with its rule, with the meter's own error as a guard band. Capacitors are given "
        "by their marking (`45/5 MFD ±6%`). Verdicts: `fault_shown`, `nothing_found`, `cannot_tell`.",
    ),
    _row(
        "air-delivery",
        air_delivery,
        "checkAirDelivery",
        "Air and heat that the ducts deliver",
        "Send what was read at registers, ducts, blower, filter or furnace; get the heat delivered against what the "
        "equipment makes, duct leakage at 25 Pa, the delivery effectiveness of ANSI/ASHRAE Standard 152, blower power "
        "for its airflow, the filter's share of the static pressure, the furnace's temperature rise, and the moisture "
        "removed, each with its band and limit. Verdicts: `outside_limits`, `within_limits`, `cannot_tell`.",
    ),
    _row(
        "vacuum-rise",
        vacuum_rise,
        "checkVacuumRise",
        "Standing vacuum",
        "Send the pressures after the pump was isolated; get the probabilities of a leak, of moisture, of both and of "
        "neither from the shape of the rise, the plateau against the saturation pressure of water at the coldest part, "
        "and, where the readings cannot tell yet, how much longer to wait. Verdicts: `leak`, `leak_and_drying`, "
        "`drying`, `holds` (which never means tight), `cannot_tell`, `pressure_fell`.",
    ),
    _row(
        "pressure-at-rest",
        pressure_at_rest,
        "checkPressureAtRest",
        "Pressure at rest",
        "Send the pressure and the coil temperature with the unit off and settled; get the excess over saturation, "
        "which is non-condensable gas, with its band (the glide of a blend is part of it), and the smallest excess "
        "that would have been shown. Verdicts: `excess_shown`, `no_excess_seen`, `cannot_tell`, `below_saturation` (no "
        "liquid is left, or the temperature is wrong).",
    ),
    _row(
        "leak-rate",
        leak_rate,
        "checkLeakRate",
        "Leak rate of refrigerant",
        "Send the masses added, the full charge and the days between; get the annual rate by both published methods "
        "with its band, the mass and its CO2 equivalent by each named set of warming potentials, and thresholds to "
        "know. They are information, not legal advice. Verdicts: `computed`, `cannot_tell` (a number is in question).",
    ),
)

CHECKS: Mapping[str, Check] = MappingProxyType({row.name: row for row in _ROWS})


def answered(name: str, request: CheckRequest) -> CheckAnswer:
    """The answer to the check of a name.

    Raises
    ------
    service.intake.refusals.RefusedError
        If the request holds something impossible.
    """
    return CHECKS[name].answer(request)
