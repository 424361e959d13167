"""Which cautions a visit raises."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from schemas.assessments import AssessmentRequest, Caution
from service.assess.before_charge import signs_of_starvation
from service.derive.draws import DrawnVisit
from service.intake.paths import DIAL_TEMPERATURES, GAUGE_PRESSURES, NAMEPLATE, SITE_PRESSURE
from service.reference.cautions import CAUTIONS, CautionRow
from service.reference.conditions import ARC_FLASH_VOLTAGE, BURNING_SURFACE, EDGE, HIGH_PRESSURE, HOT_DAY
from service.reference.sources import source

_ELECTRICAL = frozenset({"current", "voltage", "power", "ratio"})
_PRESSURES = frozenset({*GAUGE_PRESSURES, *DIAL_TEMPERATURES})
_OPENED = frozenset({"refrigerant_circuit_opening", "charge_adjustment"})
#: Work on a circuit that has been opened or is about to be.
_ENTERED = frozenset({"pressure_testing", "brazing", "evacuation", "recovery"})

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Circumstances:
    """What raises cautions whatever the values read: names and kinds of readings, work, site."""

    readings: frozenset[str]
    kinds: frozenset[str]
    work: frozenset[str]
    safety_group: str | None
    on_roof: bool
    #: What was found that raises a caution by itself.
    found: frozenset[str] = frozenset()


def _capacitor_is_read(about: Circumstances) -> bool:
    return any(
        name.startswith("capacitor_voltage") or "capacitor_current" in name or "start_winding" in name
        for name in about.readings
    )


def _is_electrical(about: Circumstances) -> bool:
    return bool(about.kinds & _ELECTRICAL or about.work & {"electrical_repair", "capacitor_replacement"})


def _circuit_is_accessed(about: Circumstances) -> bool:
    return bool(about.readings & _PRESSURES or about.work & _OPENED)


#: Conditions on the circumstances alone.
CIRCUMSTANTIAL: Mapping[str, Callable[[Circumstances], bool]] = {
    "always": lambda about: True,
    "electrical_readings": _is_electrical,
    "volts_400_or_more": lambda about: "volts_400_or_more" in about.found and _is_electrical(about),
    "gas_heat": lambda about: "gas_heat" in about.work or any("gas_input" in name for name in about.readings),
    "capacitor": lambda about: (
        _capacitor_is_read(about) or "capacitor_replacement" in about.work or "stored_charge" in about.found
    ),
    "refrigerant_a3": lambda about: about.safety_group == "A3",
    "refrigerant_a2l": lambda about: about.safety_group == "A2L",
    "roof": lambda about: about.on_roof,
    "pressure_readings": _circuit_is_accessed,
    "coil_cleaning": lambda about: "coil_cleaning" in about.work,
    "refrigerant_known_or_opened": lambda about: _circuit_is_accessed(about) or bool(about.work & _ENTERED),
    "pressure_testing": lambda about: "pressure_testing" in about.work,
    "over_test_pressure": lambda about: "over_test_pressure" in about.found,
    "nitrogen_in_use": lambda about: bool(about.work & {"pressure_testing", "brazing"}),
    "brazing": lambda about: "brazing" in about.work,
    "gas_let_out": lambda about: bool(about.work & {"pressure_testing", "recovery", "brazing"}),
    "evacuation": lambda about: "evacuation" in about.work,
}

#: Conditions on what was read, and on the derived draws.
MEASURED: Mapping[str, Callable[[DrawnVisit, Mapping[str, FloatArray]], bool]] = {
    "high_pressure": lambda visit, derived: _high_side_gauge(visit, derived) >= HIGH_PRESSURE,
    "hot_discharge": lambda visit, derived: any(
        _above(visit, BURNING_SURFACE, name) for name in ("discharge_line_temperature", "vapour_line_temperature")
    ),
    "starved_compressor": lambda visit, derived: bool(signs_of_starvation(derived)),
    "hot_day": lambda visit, derived: _above(visit, HOT_DAY, "outdoor_air_dry_bulb"),
}


def _above(visit: DrawnVisit, limit: float, name: str) -> bool:
    return visit.readings.get(name, float("-inf")) >= limit - EDGE


@lru_cache(maxsize=256)
def raised_anyway(about: Circumstances) -> frozenset[str]:
    """Conditions that the circumstances meet."""
    return frozenset(name for name, holds in CIRCUMSTANTIAL.items() if holds(about))


def caution_answer(row: CautionRow) -> Caution:
    """A caution as the answer shows it."""
    return {
        "id": row.id,
        "signal_word": row.signal_word,
        "condition": row.condition,
        "text": row.text,
        "deferral": row.deferral,
        "source": source(row.source),
    }


def of_runs(runs: Iterable[Iterable[Caution]]) -> list[Caution]:
    """The cautions of several runs together, each once, gravest first."""
    found = {row["id"]: row for rows in runs for row in rows}
    return [found[name] for name in CAUTIONS if name in found]


def _high_side_gauge(visit: DrawnVisit, derived: Mapping[str, FloatArray]) -> float:
    """Gauge pressure of the high side [Pa], however it was read; minus infinity where unknown."""
    air = float(visit.leaves[SITE_PRESSURE][0]) if SITE_PRESSURE in visit.leaves else 0.0
    absolute = derived.get("high_side_pressure_absolute")
    return float("-inf") if absolute is None else float(absolute[0]) - air


def _volts(visit: DrawnVisit) -> float:
    """The highest voltage of the supply [V], as read or as the nameplate has it; 0 where unknown."""
    read = [value for name, value in visit.readings.items() if name.startswith("line_voltage")]
    plate = [float(visit.constants.get(NAMEPLATE + name, 0.0)) for name in ("voltage", "nominal_supply_voltage")]
    return max(*read, *plate)


def raised(request: AssessmentRequest, visit: DrawnVisit, derived: Mapping[str, FloatArray]) -> list[CautionRow]:
    """The cautions of a visit, gravest first (the table is in that order)."""
    anyway = raised_anyway(
        Circumstances(
            frozenset(visit.readings),
            frozenset(used.kind for used in visit.instruments.values()),
            frozenset(request.run.work),
            None if visit.refrigerant is None else visit.refrigerant.safety_group,
            request.site.outdoor_unit_on_roof,
            found=frozenset({"volts_400_or_more"}) if _volts(visit) >= ARC_FLASH_VOLTAGE else frozenset(),
        )
    )
    return [
        row
        for row in CAUTIONS.values()
        if row.raised_by in anyway or (row.raised_by in MEASURED and MEASURED[row.raised_by](visit, derived))
    ]
