"""The checks: the one table of what answers each.  A new check is a row here and its body in ``schemas/checks``."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from schemas.checks import CHECKS as BODIES
from schemas.checks import CheckAnswer, CheckRequest
from service.checks.pressure_hold import pressure_hold


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
