"""Which cautions a visit raises."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from schemas.assessments import AssessmentRequest
from service.assess.paths import DIAL_TEMPERATURES, GAUGE_PRESSURES, SITE_PRESSURE
from service.assess.visit import Visit
from service.reference.cautions import CAUTIONS, CautionRow
from service.reference.conditions import BURNING_SURFACE, EDGE, HIGH_PRESSURE, HOT_DAY
from service.reference.sources import source

_ELECTRICAL = ("current", "voltage", "power", "ratio")


def _any(visit: Visit, *names: str) -> bool:
    return any(name in visit.readings for name in names)


def _above(visit: Visit, limit: float, *names: str) -> bool:
    return any(visit.readings.get(name, float("-inf")) >= limit - EDGE for name in names)


def _works(request: AssessmentRequest, *kinds: str) -> bool:
    return any(work in kinds for work in request.run.work)


_PRESSURES = (*GAUGE_PRESSURES, *DIAL_TEMPERATURES)

FloatArray = NDArray[np.float64]

#: A condition sees the request, its intake, and the derived draws.
Condition = Callable[[AssessmentRequest, Visit, Mapping[str, FloatArray]], bool]

CONDITIONS: Mapping[str, Condition] = {
    "always": lambda request, visit, derived: True,
    "electrical_readings": lambda request, visit, derived: (
        any(row.kind in _ELECTRICAL for row in visit.instruments.values())
        or _works(request, "electrical_repair", "capacitor_replacement")
    ),
    "capacitor": lambda request, visit, derived: (
        any(
            name.startswith("capacitor_voltage")
            or "capacitor_current" in name
            or "start_winding" in name
            for name in visit.readings
        )
        or _works(request, "capacitor_replacement")
    ),
    "refrigerant_a3": lambda request, visit, derived: _group(visit) == "A3",
    "refrigerant_a2l": lambda request, visit, derived: _group(visit) == "A2L",
    "roof": lambda request, visit, derived: request.site.outdoor_unit_on_roof,
    "pressure_readings": lambda request, visit, derived: (
        _any(visit, *_PRESSURES)
        or _works(request, "refrigerant_circuit_opening", "charge_adjustment")
    ),
    "high_pressure": lambda request, visit, derived: (
        _high_side_gauge(visit, derived) >= HIGH_PRESSURE
    ),
    "hot_discharge": lambda request, visit, derived: _above(
        visit, BURNING_SURFACE, "discharge_line_temperature"
    ),
    "hot_day": lambda request, visit, derived: _above(visit, HOT_DAY, "outdoor_air_dry_bulb"),
    "coil_cleaning": lambda request, visit, derived: _works(request, "coil_cleaning"),
    "refrigerant_known_or_opened": lambda request, visit, derived: (
        _any(visit, *_PRESSURES)
        or _works(request, "refrigerant_circuit_opening", "charge_adjustment")
    ),
}


def _group(visit: Visit) -> str | None:
    return None if visit.refrigerant is None else visit.refrigerant.safety_group


def caution_answer(row: CautionRow) -> dict[str, Any]:
    """A caution as the answer shows it."""
    return {
        "id": row.id,
        "signal_word": row.signal_word,
        "condition": row.condition,
        "text": row.text,
        "deferral": row.deferral,
        "source": source(row.source),
    }


def _high_side_gauge(visit: Visit, derived: Mapping[str, FloatArray]) -> float:
    """Gauge pressure of the high side [Pa], however it was read; minus infinity where unknown."""
    air = float(visit.leaves[SITE_PRESSURE][0]) if SITE_PRESSURE in visit.leaves else 0.0
    absolute = derived.get("high_side_pressure_absolute")
    return float("-inf") if absolute is None else float(absolute[0]) - air


def raised(
    request: AssessmentRequest, visit: Visit, derived: Mapping[str, FloatArray]
) -> list[dict[str, Any]]:
    """The cautions of a visit, gravest first (the table is in that order)."""
    return [
        caution_answer(row)
        for row in CAUTIONS.values()
        if CONDITIONS[row.raised_by](request, visit, derived)
    ]
