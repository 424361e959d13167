"""Diagnoses in heating: signs that tell causes apart, and a probe or a display that misleads.  Visits are invented."""

from __future__ import annotations

import copy
from typing import Any

from schemas.comparisons import ComparisonRequest
from schemas.diagnoses import DiagnosisRequest
from service.compare.comparison import compare
from service.faults.diagnosis import diagnose
from tests.answers import untyped

Body = dict[str, Any]

#: A healthy heat pump with an expansion valve at 38 degF.
HEALTHY: Body = {
    "units": "imperial",
    "site": {"altitude": 600},
    "unit": {
        "refrigerant": "R-410A",
        "metering_device": "thermostatic_expansion_valve",
        "mode": "heating",
        "rated": {
            "heating_capacity": 34000,
            "heating_cop": 3.5,
            "heating_capacity_low": 20400,
            "heating_cop_low": 2.4,
            "airflow": 1200,
        },
    },
    "kit": {
        "gauges": {"type": "pressure_transducer"},
        "clamps": {"type": "thermistor_pipe_clamp"},
        "air": {"type": "psychrometer"},
        "power": {"type": "power_meter"},
        "hood": {"type": "airflow_hood"},
    },
    "run": {
        "minutes_running": 35,
        "minutes_since_defrost": 25,
        "frost_on_outdoor_coil": False,
        "auxiliary_heat_on": False,
        "readings": {
            "suction_pressure": 87,
            "liquid_pressure": 330,
            "suction_line_temperature": 33.5,
            "liquid_line_temperature": 90,
            "discharge_line_temperature": 160,
            "outdoor_air_dry_bulb": 38,
            "return_air_dry_bulb": 70,
            "supply_air_dry_bulb": 94,
            "airflow": 1170,
            "outdoor_unit_power": 2380,
            "indoor_unit_power": 400,
        },
    },
}
#: The same with a little of its charge lost: superheat up, subcooling, both pressures and power down.
LOW = {
    "suction_pressure": 78,
    "liquid_pressure": 306,
    "suction_line_temperature": 34.5,
    "discharge_line_temperature": 167,
    "supply_air_dry_bulb": 92,
    "outdoor_unit_power": 2210,
}


def visit(**readings: float) -> Body:
    body = copy.deepcopy(HEALTHY)
    body["run"]["readings"] |= readings
    return body


def diagnosed(body: Body) -> Body:
    return untyped(diagnose(DiagnosisRequest.model_validate(body)))


def chance(answer: Body, fault: str) -> float:
    return next((float(row["probability"]) for row in answer["hypotheses"] if row["fault"] == fault), 0.0)


def test_a_small_loss_of_charge_is_not_taken_for_the_outdoor_coil() -> None:
    """Superheat that rises while subcooling falls is charge: a valve keeps superheat whatever the coil takes up (common
    practice).  A comparison of the same two runs says the same."""
    answer = diagnosed(visit(**LOW) | {"baseline": HEALTHY["run"]})
    assert chance(answer, "low_charge") > 0.5
    assert chance(answer, "low_charge") > 1.5 * chance(answer, "outdoor_coil_airflow")
    runs = {"before": HEALTHY["run"], "after": visit(**LOW)["run"]}
    body = {name: value for name, value in HEALTHY.items() if name != "run"} | {"runs": runs}
    causes = untyped(compare(ComparisonRequest.model_validate(body)))["system"]["points_to"]
    assert max(causes, key=lambda row: row["probability"])["cause"] == "charge"


def test_a_probe_that_may_be_in_the_sun_is_doubted_before_the_coil() -> None:
    """Outdoor air read 9 degF too high looks like a fouled coil, so the coil is not accused."""
    answer = diagnosed(visit(outdoor_air_dry_bulb=47))
    assert answer["verdict"] not in ("fault_found", "fault_not_told_apart")
    assert chance(answer, "measurement_mistake") > 1.5 * chance(diagnosed(visit()), "measurement_mistake")


def test_a_speed_that_no_unit_runs_at_is_doubted_before_the_compressor() -> None:
    """A display of 150 % next to the power of the full speed: the speed is weighed as unknown, and said to be."""
    body = visit()
    body["unit"]["capacity_control"] = "variable_speed"
    body["run"]["speed_percent"] = 150
    answer = diagnosed(body)
    assert chance(answer, "compressor_leakage") < 0.1
    low, high = (answer["stage"]["speed_percent"]["band"][end] for end in ("low", "high"))
    assert low < 100.0 < high
    assert "speed_over_any" in {row["code"] for row in answer["assessment"]["usability"]["notices"]}
