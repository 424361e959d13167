"""How well the efficiency ratio is known with good, ordinary and incomplete readings.

``python -m tests.benchmarks.efficiency_band``: one simulated visit (tests/simulated.py), five kits.
"""

from __future__ import annotations

from typing import Any

from schemas.assessments import AssessmentRequest
from service.assess.pipeline import assess
from tests.simulated import request, truth

GOOD = {
    "gauges": {"type": "pressure_transducer", "accuracy": {"percent_of_reading": 0.5}},
    "clamps": {"type": "thermistor_pipe_clamp"},
    "air": {
        "type": "psychrometer",
        "accuracy": {"fixed": 0.2, "unit": "K"},
        "accuracies": {"wet_bulb": {"fixed": 0.2, "unit": "K"}},
    },
    "power meter": {"type": "power_meter", "accuracy": {"percent_of_reading": 0.5}},
    "hood": {"type": "airflow_hood", "accuracy": {"percent_of_reading": 3.0}},
}

AIR = (
    "return_air_dry_bulb",
    "return_air_wet_bulb",
    "supply_air_dry_bulb",
    "supply_air_wet_bulb",
    "outdoor_air_dry_bulb",
    "airflow",
)
CYCLE = (
    "suction_pressure",
    "liquid_pressure",
    "suction_line_temperature",
    "liquid_line_temperature",
    "discharge_line_temperature",
)
POWER = ("outdoor_unit_power", "indoor_unit_power")
VOLTS_AND_AMPS = ("compressor_common_current", "line_voltage")
RATED = {"rated": {"cooling_capacity": 36000, "eer": 11.0}}


def body(names: tuple[str, ...], kit: dict[str, Any] | None, *, measured: bool = True) -> dict[str, Any]:
    found = truth()
    made = request({name: found[name] for name in names})
    readings = {
        name: value["value"] if isinstance(value, dict) else value for name, value in made["run"]["readings"].items()
    }
    if not measured:
        readings.pop("airflow", None)
    return {
        "units": "imperial",
        "site": {"altitude": 0},
        "unit": {
            "refrigerant": "R-410A",
            "metering_device": "thermostatic_expansion_valve",
            **RATED,
        },
        "kit": kit or {},
        "run": {"minutes_running": 20, "readings": readings},
    }


def main() -> None:
    dry = tuple(n for n in AIR if "wet_bulb" not in n)
    cases = {
        "(a) good kit, everything read": body(AIR + CYCLE + POWER, GOOD),
        "(a') good kit, air side and power only": body(AIR + POWER, GOOD),
        "(b) ordinary kit (assumed types), everything read": body(AIR + CYCLE + POWER, None),
        "(b') ordinary kit, air side and power only": body(AIR + POWER, None),
        "(c) ordinary kit, no wet bulb": body(dry + CYCLE + POWER, None),
        "(d) ordinary kit, no power meter: volts and amps": body(AIR + CYCLE + VOLTS_AND_AMPS, None),
        "(d') ordinary kit, no power, no volts and amps": body(AIR + CYCLE, None),
    }
    print(f"truth {truth()['eer']:.2f} Btu/(W h)")
    for label, request_ in cases.items():
        answer = assess(AssessmentRequest.model_validate(request_))
        found = answer["derived"].get("eer")
        if found is None:
            row = next(r for r in answer["missing"] if r["quantity"] == "eer")
            ways = " | ".join(" + ".join(w["add"]) for w in row["unlock"])
            print(f"{label:52} not derivable; unlock: {ways}")
            continue
        low, high = found["band"]["low"], found["band"]["high"]
        half = 50.0 * (high - low) / found["value"]
        print(f"{label:52} {found['value']:6.2f}  {low:6.2f} to {high:6.2f}  ±{half:.1f} %")


if __name__ == "__main__":
    main()
