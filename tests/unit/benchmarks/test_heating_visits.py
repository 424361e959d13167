"""Winter visits: what is drawn, what is sent, and how answers are scored."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, get_args

import pytest

from schemas.comparisons import ComparisonRequest
from schemas.diagnoses import DiagnosisRequest, FaultName
from tests.benchmarks import heating_study as study
from tests.benchmarks import heating_visits as winter
from tests.benchmarks.simulated_pairs import CFM, air_density


@pytest.mark.slow
@pytest.mark.parametrize("kind", [winter.STRIPS, winter.FROST, winter.MISTAKE])
def test_requests_are_those_of_the_contract(kind: str) -> None:
    """The contract accepts what is sent, with a baseline and without."""
    for visit in winter.visits(2, 3, kind):
        for with_baseline in (False, True):
            body = study.request(visit, "plate", with_baseline=with_baseline)
            assert DiagnosisRequest.model_validate(body).unit.mode == "heating"


@pytest.mark.slow
def test_pairs_are_those_of_the_contract() -> None:
    """The contract accepts them, and a cleaning changes efficiency where nothing else does."""
    cleaned, unchanged = (winter.changed_pairs(2, 3, kind) for kind in (winter.CLEANED, winter.UNCHANGED))
    for pair in (*cleaned, *unchanged):
        ComparisonRequest.model_validate(study.comparison(pair, "both"))
    assert all(pair.ln_cop > 0.0 for pair in cleaned)
    assert all(pair.ln_cop == 0.0 for pair in unchanged)


@pytest.mark.slow
def test_strips_heat_the_supply_air() -> None:
    """Heat of the air = heat pump + strips: density and specific heat of dry air, within its moisture."""
    for visit in winter.visits(2, 3, winter.LEFT_ON):
        true = visit.truth
        inside = (visit.run.readings["return_air_dry_bulb"] - 32.0) / 1.8
        density = float(air_density(inside, 0.006))  # type: ignore[arg-type]
        heat = true["airflow"] * CFM * density * 1017.0 * true["air_rise"] / 1.8
        heat_pump = true["capacity"] * 1055.05585262 / 3600.0
        assert heat == pytest.approx(heat_pump + true["strips"], rel=0.02)
        assert winter.STRIP_POWER not in visit.run.readings
        # A heat pump that gives most of its heat by strips has lost more than half of its advantage.
        assert visit.ln_cop < -0.2


@pytest.mark.slow
def test_the_same_seed_gives_the_same_visits() -> None:
    """Also where more are asked for."""
    first, more = winter.visits(1, 7, winter.NO_FAULT), winter.visits(3, 7, winter.NO_FAULT)
    assert first[0] == more[0]
    assert first[0].ln_cop == 0.0


def test_names_are_the_contracts() -> None:
    """Every fault of the simulator has a name that the contract has."""
    known = set(get_args(get_args(FaultName.__value__)[0]))
    for kind in (*winter.FAULTS, winter.MISTAKE):
        assert study.NAMES.get(kind, frozenset({kind})) <= known, kind
    assert set(study.MIX) == set(winter.KINDS) - {winter.MISTAKE}


def test_counts_hold_every_kind() -> None:
    """Every kind is in a study of any size, and 300 visits are about 300."""
    assert set(study.counts(20)) == set(winter.KINDS)
    assert sum(study.counts(300).values()) == pytest.approx(300, abs=10)


def _outcome(**changes: Any) -> study.Outcome:  # noqa: ANN401
    plain = study.Outcome(
        label=winter.NO_FAULT,
        baseline=False,
        number=0,
        metering="fixed_orifice",
        refrigerant="R-410A",
        kit="good",
        outdoor=40.0,
        level=1.0,
        mistake="",
        cost=0.0,
        ln_cop=0.0,
        verdict="healthy",
        found=(),
        top="no_fault",
        usable=True,
        chances={"no_fault": 0.95},
        costly=0.01,
        efficiency=(-3.0, 0.0, 3.0),
        held={},
        alarms=(),
        sentence="",
    )
    return replace(plain, **changes)


def test_headline_counts() -> None:
    """Counted by hand: definitions of the module's docstring."""
    dirty = {"label": "outdoor_airflow", "cost": -0.12, "ln_cop": -0.08}
    rows = [
        _outcome(),
        _outcome(verdict="fault_found", found=("overcharge",), top="overcharge"),
        _outcome(label=winter.STRIPS, verdict="fault_found", found=("auxiliary_heat_on",)),
        _outcome(**dirty),
        _outcome(**dirty, verdict="fault_found", found=("outdoor_coil_airflow", "outdoor_coil_frost")),
        _outcome(**(dirty | {"cost": -0.02, "ln_cop": -0.02}), verdict="fault_not_told_apart"),
        _outcome(label=winter.MISTAKE, mistake="suction_pressure", verdict="readings_doubted"),
    ]
    found = study.headline(rows)
    assert found["false alarms, of healthy units"] == "33.3 % of 3"
    assert found["false alarms, of not faulty (under 5 %)"] == "50.0 % of 4"
    assert found["costly faults detected"] == "50.0 % of 2"
    assert found["named rightly, of fault_found (with those on healthy units)"] == "66.7 % of 3"
    assert found["'healthy', of units that lost 5 % of efficiency"] == "50.0 % of 2"
    assert found["wrong readings: readings_doubted or refused"] == "100.0 % of 1"


def test_false_claims_of_comparisons() -> None:
    """A claim of a unit that did not change, or the wrong way round."""
    plain = study.Compared(
        label=winter.UNCHANGED,
        fault="",
        number=0,
        kit="good",
        metering="",
        outdoor=(40.0, 40.0),
        change=0.0,
        capacity_change=0.0,
        verdict="improved",
        changed=True,
        efficiency=None,
        capacity=None,
        claims=(),
        sentence="",
    )
    assert plain.false
    assert not replace(plain, verdict="inconclusive").false
    assert not replace(plain, label=winter.CLEANED, change=8.0).false
    assert replace(plain, label=winter.CLEANED, change=8.0, verdict="worsened").false
