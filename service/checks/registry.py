"""The checks: the one table of what answers each.  A new check is a row here and its body in ``schemas/checks``."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from schemas.checks import CHECKS as BODIES
from schemas.checks import CheckAnswer, CheckRequest
from service.checks.leak_rate import leak_rate
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
        "would have shown. Verdicts: `loss_shown`, `no_loss_seen` (which never means tight), `pressure_rose`.",
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
        "that would have been shown. Verdicts: `excess_shown`, `no_excess_seen`, `below_saturation` (no liquid is "
        "left, or the temperature is wrong).",
    ),
    _row(
        "leak-rate",
        leak_rate,
        "checkLeakRate",
        "Leak rate of refrigerant",
        "Send the masses added, the full charge and the days between; get the annual rate by both published methods "
        "with its band, the mass and its CO2 equivalent by each named set of warming potentials, and thresholds to "
        "know. They are information, not legal advice. Verdict: `computed`.",
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
