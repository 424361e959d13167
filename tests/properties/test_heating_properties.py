"""A healthy heat pump in winter is not condemned, whichever readings were taken."""

from __future__ import annotations

from functools import cache
from typing import Any

from CoolProp.CoolProp import PropsSI
from hypothesis import given
from hypothesis import strategies as st

from schemas.diagnoses import DiagnosisRequest
from service.faults.diagnosis import diagnose
from tests.answers import untyped
from tests.properties.cases import slow_cases
from tests.properties.consistency import contradictions

#: Rows of makers' heating charging tables (R-410A, packaged units of 2.5 and 3.5 tons, 70 °F return air): outdoor air
#: [°F], suction and liquid pressure [psig], subcooling [°F], airflow [cfm], capacity [Btu/h].
PUBLISHED = (
    (60, 114, 331, 14, 1000, 30_000),
    (47, 99, 310, 13, 1000, 30_000),
    (40, 85, 301, 16, 1000, 30_000),
    (30, 71, 286, 17, 1000, 30_000),
    (17, 57, 273, 19, 1000, 30_000),
    (0, 41, 253, 18, 1000, 30_000),
    (47, 98, 334, 20, 1400, 42_000),
    (30, 73, 311, 19, 1400, 42_000),
    (0, 39, 265, 22, 1400, 42_000),
)
NAMES = (
    "suction_pressure",
    "liquid_pressure",
    "liquid_line_temperature",
    "outdoor_air_dry_bulb",
    "return_air_dry_bulb",
)
SOME = st.sets(st.sampled_from((*NAMES, "airflow")), min_size=2)


@cache
def bubble(psig: int) -> float:
    """Bubble temperature [°F] of R-410A by CoolProp."""
    return float(PropsSI("T", "P", (psig + 14.696) * 6_894.757, "Q", 0, "R410A")) * 1.8 - 459.67


def visit(row: tuple[int, ...], names: set[str]) -> dict[str, Any]:
    outdoor, suction, liquid, subcooling, airflow, capacity = row
    readings = {
        "suction_pressure": suction,
        "liquid_pressure": liquid,
        "liquid_line_temperature": round(bubble(liquid) - subcooling, 1),
        "outdoor_air_dry_bulb": outdoor,
        "return_air_dry_bulb": 70.0,
        "airflow": airflow,
    }
    return {
        "units": "imperial",
        "unit": {
            "mode": "heating",
            "refrigerant": "R-410A",
            "metering_device": "thermostatic_expansion_valve",
            "rated": {"heating_capacity": capacity},
        },
        "run": {
            "minutes_running": 30,
            "minutes_since_defrost": 30,
            "readings": {name: value for name, value in readings.items() if name in names},
        },
    }


@slow_cases(12)
@given(row=st.sampled_from(PUBLISHED), names=SOME)
def test_a_published_healthy_unit_is_never_condemned(row: tuple[int, ...], names: set[str]) -> None:
    """Makers' tables are of units that are charged right: any part of a row is no fault, and no part of the answer
    contradicts another."""
    answer = untyped(diagnose(DiagnosisRequest.model_validate(visit(row, names))))
    assert answer["verdict"] not in ("fault_found", "fault_not_told_apart"), (row, names, answer["sentence"])
    assert not contradictions(answer)
