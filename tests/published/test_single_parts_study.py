"""Pairs and visits in which one part outside the cycle changed: gas in the circuit, a run capacitor, the
resistance of the ducts.  The truth is that of an independent simulator."""

from __future__ import annotations

from math import expm1, pi
from typing import Any

import numpy as np
import pytest

from schemas.comparisons import ComparisonRequest
from schemas.diagnoses import DiagnosisRequest
from service.compare.comparison import compare
from service.faults.diagnosis import diagnose
from tests.answers import untyped
from tests.benchmarks import simulated_visits as simulated
from tests.benchmarks.before_and_after import taken
from tests.benchmarks.diagnosis_study import request
from tests.nightly import AT_NIGHT

Body = dict[str, Any]
METERING = ("expansion_valve", "fixed_orifice")


def pair(visit: simulated.Visit, before: Body, after: Body) -> Body:
    """A comparison of two runs of the visit's unit."""
    body = request(visit, with_baseline=False)
    del body["run"]
    return body | {"runs": {"before": before, "after": after}}


def system(body: Body) -> Body:
    return untyped(compare(ComparisonRequest.model_validate(body))["system"])


def covered(found: Body, ln_eer: float) -> bool:
    band, truth = found["efficiency_change_percent"]["band"], 100.0 * expm1(ln_eer)
    return bool(band["low"] <= truth <= band["high"])


# ---------------------------------------------------------------- gas that does not condense


@pytest.mark.parametrize(("metering", "held"), [("expansion_valve", 0.9), ("fixed_orifice", 0.6)])
def test_gas_that_was_purged(metering: str, held: float) -> None:
    """Gas in the first run, none in the second: named more often than any other cause, and the bands hold
    the truth as often as told.  At a fixed orifice gas and too much charge look alike (Li, Table 1-1 has one
    pattern of signs for both but for the air), and the bands still hold less than they say."""
    rows = []
    for kit in ("good", "ordinary"):
        for visit in simulated.visits(10, 5, "non_condensable_gas", kit, metering):
            body = pair(visit, taken(visit.readings), taken(visit.baseline))
            rows.append((system(body), -visit.ln_eer))
    named = [found["points_to"][0]["cause"] for found, _ in rows]
    assert max(set(named), key=named.count) == "non_condensable_gas"
    assert np.mean([covered(found, truth) for found, truth in rows]) >= held


# ---------------------------------------------------------------- a run capacitor

RATED = 45.0  # microfarads


def with_capacitors(visit: simulated.Visit, weak: float) -> Body:
    """A weak capacitor before, a sound one after, with the current it costs: a third of its loss
    (common practice, no source).  Power is not read."""
    runs = []
    for readings in (visit.readings, visit.baseline):
        kept = {n: v for n, v in readings.items() if not n.endswith("unit_power")}
        runs.append(kept)
    runs[0]["compressor_common_current"] *= 1.0 + 0.3 * weak
    body = pair(visit, *(taken(run) for run in runs))
    body["unit"]["nameplate"]["capacitors"] = {"compressor": {"microfarads": RATED}}
    body["kit"]["meter"] = {"type": "clamp_meter"}
    for run, capacitance in (("before", RATED * (1.0 - weak)), ("after", RATED)):
        volts = 355.0
        current = 2.0 * pi * 60.0 * capacitance * 1e-6 * volts
        body["runs"][run]["readings"] |= {
            "compressor_start_winding_current": {"value": round(current, 2), "instrument": "meter"},
            "capacitor_voltage": {"compressor": {"value": volts, "instrument": "meter"}},
        }
    return body


def test_a_capacitor_alone_claims_nothing() -> None:
    """24 pairs of a unit that is as it was, but for its capacitor, and eight in CI: the comparison says
    that something changed and what, and calls at most one unit in twenty better or worse."""
    rng = np.random.default_rng(5)
    rows = [
        (system(with_capacitors(visit, rng.uniform(0.15, 0.45))), -visit.ln_eer)
        for metering in METERING
        for kit in ("good", "ordinary")
        for visit in simulated.visits(6 if AT_NIGHT else 2, 5, simulated.NO_FAULT, kit, metering)
    ]
    assert all(found["any_change"]["changed"] for found, _ in rows)
    assert all(found["points_to"][0]["cause"] == "electrical" for found, _ in rows)
    assert sum(found["verdict"] in ("improved", "worsened") for found, _ in rows) <= len(rows) // 20
    assert np.mean([covered(found, truth) for found, truth in rows]) >= 0.9


# ---------------------------------------------------------------- static pressure and its baseline


def with_static(visit: simulated.Visit, before: float, now: float) -> Body:
    """Few readings and poor instruments, and static pressure [inH2O] at the baseline and now."""
    body = request(visit, with_baseline=True)
    for run, value in (("baseline", before), ("run", now)):
        body[run]["readings"] = {
            name: one
            for name, one in body[run]["readings"].items()
            if name != "airflow" and not name.endswith("unit_power") and not name.startswith("supply")
        } | {"total_external_static_pressure": round(value, 2)}
    return body


def test_static_pressure_is_set_against_its_baseline() -> None:
    """Ducts of 0.25 in. w.c.; airflow falls by 14 to 55 % as they close, with the 1.5th power of it the
    pressure (a fan that slows down less than a resistance asks; common practice, no source).  0.5 to 0.8 in.
    w.c. are usual elsewhere, so without the baseline's value they told of nothing: five of sixteen were named
    where fifteen are.  In CI half of them."""
    named = []
    for metering in METERING:
        for visit in simulated.visits(8 if AT_NIGHT else 4, 3, "evaporator_airflow", "poor", metering):
            now = 0.25 * visit.level["evaporator_airflow"] ** -1.5
            answer = diagnose(DiagnosisRequest.model_validate(with_static(visit, 0.25, now)))
            named.append("evaporator_airflow" in answer["found"])
    assert sum(named) >= 0.87 * len(named)


def test_a_high_static_pressure_that_was_always_there_is_no_fault() -> None:
    """0.85 in. w.c. at the baseline and now: nothing is named, airflow is not suspected."""
    for metering in METERING:
        for visit in simulated.visits(4, 3, simulated.NO_FAULT, "poor", metering):
            answer = diagnose(DiagnosisRequest.model_validate(with_static(visit, 0.85, 0.87)))
            assert answer["found"] == []
            chances = {row["fault"]: row["probability"] for row in answer["hypotheses"]}
            assert chances.get("evaporator_airflow", 0.0) < 0.1
