"""The limits of the checks with those of an assessment: where a client looks up the `id` of a finding's limit."""

from __future__ import annotations

import sys
from functools import cache

from schemas.catalogues import LimitAnswer, LimitList
from service.assess import catalogues
from service.checks.registry import CHECKS
from service.checks.workings import Quantity
from service.reference.check_limits import CHECK_LIMITS
from service.reference.limits import LimitRow
from service.reference.sources import source
from service.reference.units import KINDS

#: Kinds of values that a check derives once for each part, and so under no fixed name.
_OF_EACH_PART = {"capacitance": "capacitance", "winding_resistance": "resistance"}


@cache
def kinds() -> dict[str, str]:
    """The kind of every value that some check derives."""
    modules = [sys.modules[row.answer.__module__] for row in CHECKS.values()]
    rows = [part for module in modules for part in vars(module).values() if isinstance(part, Quantity)]
    return {**_OF_EACH_PART, **{row.name: row.kind for row in rows}}


def limits() -> LimitList:
    """All limits, SI units: those of an assessment, then those of the checks."""
    rows = [*catalogues.limits()["rows"], *map(_answer, CHECK_LIMITS.values())]
    return {"rows": rows, "limits": rows}


def _answer(row: LimitRow) -> LimitAnswer:
    kind = kinds()[row.quantity]
    return {
        "id": row.id,
        "quantity": row.quantity,
        "kind": kind,
        "unit": KINDS[kind].si,
        "lower": catalogues.bound_answer(row.lower),
        "upper": catalogues.bound_answer(row.upper),
        "basis": row.basis,
        "source": source(row.source),
        "modes": list(row.modes),
        "metering_devices": list(row.devices),
        "phases": list(row.phases),
        "capacity_controls": [],
        "running": [],
    }
