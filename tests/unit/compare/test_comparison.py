"""Comparisons: what a caller learns, and when nothing may be claimed."""

from __future__ import annotations

import copy
from collections.abc import Callable
from math import log
from typing import Any

import numpy as np
import pytest
from fastapi.testclient import TestClient

from schemas.comparisons import Comparison, ComparisonRequest
from schemas.examples import comparison_examples
from service.compare.comparison import compare
from service.compare.quantities import percents
from service.compare.tests_of_change import equivalent
from service.derive.derivations import QUANTITIES
from service.reference.changes import JUDGED, OUTSIDE
from service.reference.limits import LIMITS
from service.reference.unit_model import CAUSES, PARAMETERS
from service.uncertainty.mixture import Normals
from tests.answers import conforms, untyped

Body = dict[str, Any]
Compared = Callable[[Body], Body]


@pytest.fixture(scope="module")
def compared() -> Compared:
    """Compare a body through the contract; answers are kept, as several tests ask of one."""

    def run(body: Body) -> Body:
        answer = compare(ComparisonRequest.model_validate(body))
        conforms(Comparison, answer)
        return untyped(answer)

    return run


def example(name: str) -> Body:
    return copy.deepcopy(dict(comparison_examples()[name]))


def only(body: Body, *names: str) -> Body:
    """The body with these readings alone."""
    for run in body["runs"].values():
        run["readings"] = {n: v for n, v in run["readings"].items() if n in names}
    return body


REFRIGERANT_SIDE = (
    "suction_pressure",
    "liquid_pressure",
    "suction_line_temperature",
    "liquid_line_temperature",
    "outdoor_air_dry_bulb",
)


def test_a_real_gain_is_found(compared: Compared) -> None:
    """Truth of the simulated pair: efficiency +7.7 %, capacity +2.2 %, by the condenser alone (made with
    the independent model of tests/benchmarks/simulated_pairs.py, without errors)."""
    answer = compared(example("coil_cleaned"))
    system = answer["system"]
    assert system["verdict"] == "improved"
    for name, truth in (("efficiency", 7.7), ("capacity", 2.2)):
        band = system[f"{name}_change_percent"]["band"]
        assert band["low"] < truth < band["high"]
    assert system["any_change"]["probability"] < 0.01
    assert system["points_to"][0]["cause"] == "condenser_heat_transfer"
    assert answer["changes"]["condensing_temperature_over_ambient"]["verdict"] == "improved"
    assert answer["changes"]["eer"]["verdict"] == "improved"
    assert "coil" not in system["sentence"]


def test_readings_that_hardly_moved_show_no_material_change(compared: Compared) -> None:
    """Nothing changed in the simulated pair, and the weather hardly did."""
    answer = compared(example("nothing_to_tell"))
    system = answer["system"]
    assert system["verdict"] == "no_material_change"
    assert not system["any_change"]["changed"]
    assert "smaller than 5 %" in system["sentence"]
    verdicts = {row["verdict"] for row in answer["changes"].values() if row["verdict"]}
    assert verdicts <= {"no_material_change", "inconclusive"}


@pytest.mark.parametrize("matters", [0.5, 2.0, 5.0, 10.0])
@pytest.mark.parametrize("name", ["coil_cleaned", "nothing_to_tell", "far_apart"])
def test_one_fact_has_one_verdict(compared: Compared, name: str, matters: float) -> None:
    """Efficiency and capacity appear for the system and among the values: with one detectable size, one
    change, and one verdict; the system's is that of both."""
    body = example(name)
    body["smallest_change_that_matters"] = {
        "efficiency_percent": matters,
        "capacity_percent": matters,
    }
    answer = compared(body)
    system, efficiency, capacity = (
        answer["system"],
        answer["changes"]["eer"],
        answer["changes"]["cooling_capacity"],
    )
    both = [efficiency["verdict"], capacity["verdict"]]
    assert (system["verdict"] == "no_material_change") == (both == ["no_material_change"] * 2)
    if system["verdict"] in ("improved", "worsened"):
        assert system["verdict"] in both
    if system["smallest_detectable_percent"] is not None:
        assert 100.0 * efficiency["smallest_detectable"] / efficiency["before"] == pytest.approx(
            system["smallest_detectable_percent"], rel=1e-4
        )
    for row, change in (
        (efficiency, "efficiency_change_percent"),
        (capacity, "capacity_change_percent"),
    ):
        share = 100.0 * row["at_common_conditions"]["value"] / row["before"]
        assert share == pytest.approx(system[change]["value"], abs=0.1)


def test_what_is_shown_to_be_small_is_no_material_change(compared: Compared) -> None:
    """The example whose every reading moved by less than its instrument errs: efficiency and capacity both."""
    answer = compared(example("nothing_to_tell"))
    for name in ("eer", "cooling_capacity"):
        row = answer["changes"][name]
        assert row["probabilities"]["within_what_matters"] > 0.95
        assert row["verdict"] == "no_material_change"


def test_equivalence_needs_readings_that_could_have_shown_a_change() -> None:
    """The whole 95 % band (1.96 deviations to each end); and one-sided at 5 % what would show: 80 % power at
    95 % lies 2.8 deviations off zero, so a size that shows from 8.6 % is one deviation of 3.07 % each way,
    which 5 % cannot hold."""
    ends = (log(0.95), log(1.05))
    for deviation, within in ((0.0245, True), (0.0255, False)):
        change = Normals(np.ones(1), np.zeros(1), np.array([deviation]))
        assert equivalent(change, ends, 0.01) == within
    sure = Normals(np.ones(1), np.zeros(1), np.array([0.001]))
    assert equivalent(sure, ends, 2.8 * 0.0290)
    assert not equivalent(sure, ends, 2.8 * 0.0307)
    off = Normals(np.ones(1), np.array([0.06]), np.array([0.001]))
    assert not equivalent(off, ends, 0.01)


@pytest.mark.parametrize("mean", [-0.02, 0.0, 0.009, 0.02])
@pytest.mark.parametrize("deviation", [0.010, 0.015, 0.02, 0.024, 0.03])
def test_what_is_shown_to_be_small_has_a_band_that_says_so(mean: float, deviation: float) -> None:
    """One cause that is likely and one that is not: either the band printed lies within ±5 % or equivalence
    is not claimed, and the other way round."""
    change = Normals(np.array([0.9, 0.1]), np.array([mean, mean + 0.01]), deviation * np.array([1.0, 1.5]))
    _, low, high = percents(change)
    assert equivalent(change, (log(0.95), log(1.05)), 0.01) == (low >= -5.0 and high <= 5.0)


def test_a_smaller_change_that_matters_makes_it_inconclusive(compared: Compared) -> None:
    """A change that is merely not significant is not proof of no change."""
    body = example("nothing_to_tell")
    body["smallest_change_that_matters"] = {"efficiency_percent": 0.5, "capacity_percent": 0.5}
    system = compared(body)["system"]
    assert system["verdict"] == "inconclusive"
    assert "These instruments cannot tell" in system["sentence"]
    assert system["smallest_detectable_percent"] > 0.5


def test_different_weather_is_reported_and_widens_the_band(compared: Compared) -> None:
    """8 K outdoors: still compared, with a reservation and a wider band."""
    apart = compared(example("far_apart"))
    assert apart["conditions"]["comparable"] == "with_reservations"
    assert "14.6 °F" in apart["conditions"]["sentence"]
    band = apart["system"]["efficiency_change_percent"]["band"]
    assert band["low"] < 4.7 < band["high"]
    near = compared(example("coil_cleaned"))["system"]["efficiency_change_percent"]["band"]
    assert band["high"] - band["low"] > near["high"] - near["low"]


def test_weather_too_far_apart_gives_no_verdict(compared: Compared) -> None:
    """40 °F outdoors apart: only what does not follow the weather is judged."""
    body = example("coil_cleaned")
    body["runs"]["after"]["readings"]["outdoor_air_dry_bulb"]["value"] -= 35.0
    answer = compared(body)
    assert answer["conditions"]["comparable"] == "no"
    assert answer["system"]["verdict"] == "inconclusive"
    assert answer["system"]["efficiency_change_percent"] is None
    assert not answer["system"]["any_change"]["changed"]
    assert answer["changes"]["eer"]["at_common_conditions"] is None


def test_the_same_run_twice_did_not_change(compared: Compared) -> None:
    """Changes are nothing, and calibration errors cancel in them."""
    body = example("coil_cleaned")
    body["runs"]["after"] = copy.deepcopy(body["runs"]["before"])
    answer = compared(body)
    assert answer["system"]["verdict"] == "no_material_change"
    assert answer["system"]["any_change"]["probability"] > 0.9
    for row in answer["changes"].values():
        assert row["as_read"]["value"] == 0.0


def test_exchanged_runs_turn_the_verdict(compared: Compared) -> None:
    """What improved one way worsened the other, by about as much."""
    body = example("coil_cleaned")
    gain = compared(body)["system"]["efficiency_change_percent"]["value"]
    runs = body["runs"]
    runs["before"], runs["after"] = runs["after"], runs["before"]
    for run in runs.values():
        del run["taken_at"]
    loss = compared(body)["system"]
    assert loss["verdict"] == "worsened"
    assert (1 + gain / 100) * (1 + loss["efficiency_change_percent"]["value"] / 100) == pytest.approx(1.0, abs=0.015)


def test_calibration_cancels_for_one_instrument_and_not_for_two(compared: Compared) -> None:
    """JCGM 100:2008 5.2: of a difference of two readings, a shared offset drops out; of two instruments
    the variances add up."""
    body = example("coil_cleaned")
    body["kit"] |= {
        name: {"type": "pressure_transducer", "accuracy": {"fixed": 6.0, "unit": "psi"}}
        for name in ("gauges", "other gauges")
    }
    names = ("suction_pressure", "liquid_pressure")

    def made(after: str) -> Body:
        for run, gauge in (("before", "gauges"), ("after", after)):
            readings = example("coil_cleaned")["runs"][run]["readings"]
            for name in names:
                body["runs"][run]["readings"][name] = {"value": readings[name], "instrument": gauge}
        return compared(body)

    one, two = made("gauges"), made("other gauges")

    def spread(answer: Body) -> float:
        return float(answer["changes"]["suction_pressure_absolute"]["as_read"]["standard_uncertainty"])

    # 6 psi limits are 6/sqrt(3) psi each; what is left of one instrument is far less.
    assert spread(two) ** 2 - spread(one) ** 2 == pytest.approx(2 * 6.0**2 / 3, rel=0.02)
    assert spread(one) < 1.0
    named = {row["reading"]: row for row in two["instruments"]}
    assert set(named) == set(names)
    assert "do not cancel" in named["suction_pressure"]["sentence"]
    wide = two["system"]["efficiency_change_percent"]["band"]
    narrow = one["system"]["efficiency_change_percent"]["band"]
    assert wide["high"] - wide["low"] > narrow["high"] - narrow["low"]


def test_an_instrument_outside_the_kit_counts_as_another_each_time(compared: Compared) -> None:
    """Nobody said that it was one; the answer says what to do."""
    body = example("coil_cleaned")
    del body["kit"]["gauges"]
    answer = compared(body)
    named = {row["reading"] for row in answer["instruments"]}
    assert {"suction_pressure", "liquid_pressure"} <= named
    assert any("Name it in the kit" in row["sentence"] for row in answer["instruments"])


def test_missing_readings_narrow_the_answer(compared: Compared) -> None:
    """Without a suction side and outdoor air there is no efficiency; the answer names what would help."""
    body = only(example("coil_cleaned"), "liquid_pressure", "liquid_line_temperature")
    answer = compared(body)
    system = answer["system"]
    assert system["efficiency_change_percent"] is None
    assert system["verdict"] == "inconclusive"
    assert system["missing"]
    for path in system["missing"]:
        _, run, kind, name = path.split(".")
        assert kind == "readings"
        assert name not in body["runs"][run]["readings"]
        assert name.replace("_", " ") in system["sentence"]
    assert "in both runs" in system["sentence"]
    assert "subcooling" in answer["changes"]
    assert answer["worth"]["energy_saved"] is None


@pytest.mark.parametrize("run", ["before", "after"])
@pytest.mark.parametrize(
    "name",
    ["suction_pressure", "liquid_pressure", "return_air_wet_bulb", "liquid_line_temperature"],
)
def test_one_reading_missing_in_one_run_leaves_the_rest(compared: Compared, run: str, name: str) -> None:
    """The real gain of 8 % stays inside the band, which does not shrink; what was read in both runs is
    judged; the reading that would help is named for the run that lacks it."""
    whole = compared(example("coil_cleaned"))
    body = example("coil_cleaned")
    del body["runs"][run]["readings"][name]
    answer = compared(body)
    system = answer["system"]
    band = system["efficiency_change_percent"]["band"]
    full = whole["system"]["efficiency_change_percent"]["band"]
    assert band["low"] < 8.0 < band["high"]
    assert band["high"] - band["low"] > 0.99 * (full["high"] - full["low"])
    assert system["any_change"]["changed"] is True
    other = {"before": "after", "after": "before"}[run]
    assert not any(f".{other}." in path and path.endswith(name) for path in system["missing"])
    if name in ("suction_pressure", "liquid_pressure"):
        assert system["missing"][0] == f"runs.{run}.readings.{name}"
    judged = "condensing_temperature_over_ambient"
    if name != "liquid_pressure":
        assert answer["changes"][judged]["verdict"] == whole["changes"][judged]["verdict"]


def test_not_tested_is_not_shown_unchanged(compared: Compared) -> None:
    """Without a refrigerant nothing is tested, and nothing says that nothing changed."""
    body = example("coil_cleaned")
    del body["unit"]["refrigerant"]
    system = compared(body)["system"]
    assert system["any_change"] == {"changed": None, "probability": None, "directions": 0}
    assert system["missing"][0] == "unit.refrigerant"
    assert "could be tested" in system["sentence"]


def test_a_value_that_is_not_judged_says_what_was_read_and_why(compared: Compared) -> None:
    """Two readings and their difference; one reason, the right one."""
    body = example("coil_cleaned")
    changes = compared(body)["changes"]
    voltage = changes["supply_voltage"]["sentence"]
    assert f"{changes['supply_voltage']['before']:.1f} V, then" in voltage
    assert "condition of the visit" in voltage
    assert "target" in changes["target_subcooling"]["sentence"]
    del body["unit"]["refrigerant"]
    assert "the refrigerant is not given" in compared(body)["changes"]["airflow"]["sentence"]


@pytest.mark.parametrize("name", ["coil_cleaned", "nothing_to_tell", "far_apart"])
def test_what_would_show_is_never_less_than_the_band_allows(compared: Compared, name: str) -> None:
    """A change that shows in four of five pairs lies 2.8 standard uncertainties off zero (Currie 1968);
    the spread that counts how likely each cause is cannot be larger than that without it, but for what
    the average over causes brings."""
    for row in compared(example(name))["changes"].values():
        if row["verdict"] is None:
            continue
        spread = row["at_common_conditions"]["standard_uncertainty"]
        assert row["smallest_detectable"] > 2.0 * spread
        inside = all(
            abs(row["at_common_conditions"]["band"][end]) < row["smallest_that_matters"] for end in ("low", "high")
        )
        sharp = 1.65 / 2.8 * row["smallest_detectable"] < row["smallest_that_matters"]
        if inside and sharp:
            assert row["verdict"] == "no_material_change"


def test_the_refrigerant_side_alone_gives_a_wider_change(compared: Compared) -> None:
    """The compressor's own efficiency cancels in the ratio, unless it is the compressor that changed."""
    full = compared(example("coil_cleaned"))["system"]
    few = compared(only(example("coil_cleaned"), *REFRIGERANT_SIDE))["system"]
    assert few["efficiency_change_percent"] is not None

    def width(system: Body) -> float:
        band = system["efficiency_change_percent"]["band"]
        return float(band["high"] - band["low"])

    assert width(few) > width(full)
    assert few["missing"]


def capacitor(body: Body, before: float, after: float, work: list[str]) -> Body:
    """The body with a run capacitor's readings."""
    body["unit"]["nameplate"]["capacitors"] = {"compressor": {"microfarads": 45}}
    body["service"]["work"] = work
    for run, current in (("before", before), ("after", after)):
        body["runs"][run]["readings"] |= {
            "compressor_start_winding_current": {"value": current, "instrument": "clamp meter"},
            "capacitor_voltage": {"compressor": {"value": 348.0, "instrument": "clamp meter"}},
        }
    return body


def test_cleaning_cannot_change_a_capacitor(compared: Compared) -> None:
    """45 µF down to 40 µF after a cleaning: worse, and not the cleaning's doing."""
    answer = compared(capacitor(example("nothing_to_tell"), 5.9, 5.2, ["coil_cleaning"]))
    row = answer["changes"]["compressor_run_capacitance"]
    assert row["verdict"] == "worsened"
    assert row["judged_by"] == "compressor_run_capacitor_marking"
    assert "The work done cannot change a capacitor" in row["sentence"]
    assert answer["system"]["any_change"]["changed"]
    assert answer["system"]["points_to"][0]["cause"] == "electrical"
    replaced = compared(capacitor(example("nothing_to_tell"), 5.2, 5.9, ["capacitor_replacement"]))
    row = replaced["changes"]["compressor_run_capacitance"]
    assert row["verdict"] == "improved"
    assert "can account for it" in row["sentence"]


def test_between_two_values_in_tolerance_is_neither(compared: Compared) -> None:
    """Subcooling from 2 °F under target to 2 °F over it: it moved, inside its limits."""
    body = example("nothing_to_tell")
    before, after = (run["readings"] for run in body["runs"].values())
    target = body["unit"]["nameplate"]["subcooling"]
    for gauge in ("gauges", "clamps"):
        body["kit"][gauge]["repeatability"] = 0.01
    pressure = before["liquid_pressure"]
    after["liquid_pressure"] = pressure
    first = compared(body)["assessments"]["before"]["derived"]["subcooling"]["value"]
    before["liquid_line_temperature"] += first - (target - 1.2)
    after["liquid_line_temperature"] = before["liquid_line_temperature"] - 2.4
    row = compared(body)["changes"]["subcooling_deviation"]
    assert row["judged_by"] == "subcooling_nameplate"
    assert row["verdict"] in ("neither", "no_material_change", "inconclusive")
    assert row["verdict"] not in ("improved", "worsened")


def test_toward_a_target_is_better_and_away_is_worse(compared: Compared) -> None:
    """Superheat of a fixed orifice from far over its target to near it, and back."""
    body = example("nothing_to_tell")
    body["unit"]["metering_device"] = "fixed_orifice"
    before, after = (run["readings"] for run in body["runs"].values())
    for readings, more in ((before, 20.0), (after, 6.0)):
        readings["suction_line_temperature"] += more
        readings["discharge_line_temperature"] += more
    answer = compared(body)["changes"]["superheat_deviation"]
    assert answer["judged_by"] == "superheat_target_fixed"
    assert answer["verdict"] == "improved"
    before["suction_line_temperature"], after["suction_line_temperature"] = (
        after["suction_line_temperature"],
        before["suction_line_temperature"],
    )
    before["discharge_line_temperature"], after["discharge_line_temperature"] = (
        after["discharge_line_temperature"],
        before["discharge_line_temperature"],
    )
    assert compared(body)["changes"]["superheat_deviation"]["verdict"] == "worsened"


def test_cautions_of_both_runs_and_of_the_work_come_first(compared: Compared) -> None:
    """Each once, gravest first; what only one run raises is there too."""
    body = example("coil_cleaned")
    body["runs"]["before"]["work"] = ["gas_heat"]
    body["service"] = {"work": ["coil_cleaning"]}
    answer = compared(body)
    ids = [row["id"] for row in answer["cautions"]]
    own = [{row["id"] for row in answer["assessments"][run]["cautions"]} for run in ("before", "after")]
    assert set(ids) == own[0] | own[1]
    assert len(ids) == len(set(ids))
    assert "carbon_monoxide" in own[0] - own[1]
    assert "coil_cleaner" in own[0] & own[1]
    words = [row["signal_word"] for row in answer["cautions"]]
    assert words == sorted(words, key=["danger", "warning", "caution", "notice"].index)


def test_worth_follows_the_efficiency(compared: Compared) -> None:
    """Saved energy is load over efficiency before, less that after; money is energy times price."""
    answer = compared(example("coil_cleaned"))
    worth, system = answer["worth"], answer["system"]
    before = answer["assessments"]["before"]["derived"]["seasonal_energy"]["value"]
    gain = system["at_rating_conditions"]["efficiency_percent"]["value"] / 100.0
    assert worth["energy_saved"]["value"] == pytest.approx(before * gain / (1.0 + gain), rel=0.05)
    assert worth["money_saved"]["value"] == pytest.approx(0.17 * worth["energy_saved"]["value"], rel=1e-3)
    assert worth["payback_years"] == pytest.approx(180.0 / worth["money_saved"]["value"], rel=1e-3)
    assert worth["payback_band"][0] < worth["payback_years"] < worth["payback_band"][1]
    cheap = example("coil_cleaned")
    cheap["service"]["price"] = 10.0
    assert compared(cheap)["worth"]["probability_paid_within_a_year"] > 0.95


def test_heating_is_compared_as_read(compared: Compared) -> None:
    """The unit model is of cooling; nothing is brought to common conditions, and it says so."""
    body = example("coil_cleaned")
    body["unit"]["mode"] = "heating"
    answer = compared(body)
    assert answer["system"]["verdict"] == "inconclusive"
    assert answer["changes"]["discharge_superheat"]["at_common_conditions"] is None


def test_metric_and_imperial_say_the_same(compared: Compared) -> None:
    """Answers in the declared system; the verdict does not hang on it."""
    imperial = compared(example("coil_cleaned"))
    body = example("coil_cleaned")
    body["units"] = "metric"
    units = {"pressure": "psi", "temperature": "degF", "bulb": "degF", "airflow": "cfm"}
    for run in body["runs"].values():
        for name, value in run["readings"].items():
            unit = next((u for key, u in units.items() if key in name), None)
            given = value if isinstance(value, dict) else {"value": value}
            run["readings"][name] = {**given, "unit": unit} if unit else given
    rated = body["unit"]["rated"]
    rated["cooling_capacity"] = {"value": rated["cooling_capacity"], "unit": "Btu/h"}
    body["unit"]["nameplate"]["subcooling"] = {
        "value": body["unit"]["nameplate"]["subcooling"],
        "unit": "delta_degF",
    }
    metric = compared(body)
    assert metric["system"]["verdict"] == imperial["system"]["verdict"]
    assert metric["system"]["efficiency_change_percent"]["value"] == pytest.approx(
        imperial["system"]["efficiency_change_percent"]["value"], abs=0.02
    )
    assert metric["changes"]["superheat"]["difference_unit"] == "delta_degC"


@pytest.mark.parametrize(
    ("spoil", "pointer", "word"),
    [
        (
            lambda b: b["runs"]["after"]["readings"].update(suction_pressure=9999.0),
            "/runs/after/readings/suction_pressure",
            "above its possible range",
        ),
        (
            lambda b: b["runs"]["before"].update(taken_at="2026-07-15T10:00:00-05:00"),
            "/runs/after/taken_at",
            "earlier than the first run",
        ),
        (
            lambda b: b["runs"]["before"]["readings"].update(airflow={"value": 1200, "instrument": "no such"}),
            "/runs/before/readings/airflow/instrument",
            "not in the kit",
        ),
        (lambda b: b["runs"]["after"]["readings"].clear(), "/runs/after/readings", "no reading"),
        (
            lambda b: b["runs"]["after"]["readings"].update(suction_line_temperature={"value": 12, "unit": "kPa"}),
            "/runs/after/readings/suction_line_temperature/unit",
            "kPa is a unit of pressure",
        ),
        (lambda b: b["unit"].update(refrigerant="R-999"), "/unit/refrigerant", "catalogue"),
        (lambda b: b["runs"].pop("after"), "/runs/after", "missing"),
        (lambda b: b["service"].update(price=-5), "/service/price", "0"),
    ],
)
def test_refusals_name_the_field(client: TestClient, spoil: Callable[[Body], object], pointer: str, word: str) -> None:
    """Once each, in the caller's terms."""
    body = example("coil_cleaned")
    spoil(body)
    answer = client.post("/v1/comparisons", json=body)
    assert answer.status_code == 422
    assert answer.headers["content-type"] == "application/problem+json"
    errors = answer.json()["errors"]
    assert [e["pointer"] for e in errors] == [pointer]
    assert word in str(errors[0])


@pytest.mark.parametrize("name", comparison_examples())
def test_examples_are_answered_alike_each_time(client: TestClient, name: str) -> None:
    """Stateless and deterministic; the assessments are those of the runs."""
    first, second = (client.post("/v1/comparisons", json=example(name)) for _ in range(2))
    assert first.status_code == 200
    assert first.content == second.content
    answer = first.json()
    body = example(name)
    alone = {k: body[k] for k in ("units", "unit", "site", "kit", "usage")}
    run = body["runs"]["before"] | {"work": body["service"]["work"]}
    assessed = client.post("/v1/assessments", json=alone | {"run": run}).json()
    both = answer["assessments"]["before"]
    assert both["cautions"] == assessed["cautions"]
    assert [f["grade"] for f in both["findings"]] == [f["grade"] for f in assessed["findings"]]
    for quantity, row in assessed["derived"].items():
        assert both["derived"][quantity]["value"] == pytest.approx(row["value"], rel=1e-3, abs=1e-3)


def test_every_quantity_is_judged_or_has_its_reason() -> None:
    """A new quantity is a row of ``JUDGED`` or ``OUTSIDE``, or another way to one; which names fit together is
    in ``tests/unit/test_names.py``."""
    both = sorted(set(OUTSIDE) & set(JUDGED))
    assert not both, f"in JUDGED and in OUTSIDE of service/reference/changes.py: {both}"
    neither = [
        name
        for name in QUANTITIES
        if name not in JUDGED
        and name not in OUTSIDE
        and "_from_" not in name
        and not name.endswith(("_measured", "_side", "_side_airflow"))
    ]
    assert not neither, f"neither in JUDGED nor in OUTSIDE of service/reference/changes.py: {neither}"


@pytest.mark.parametrize("name", JUDGED)
def test_a_judged_quantity_and_its_limits_fit_together(name: str) -> None:
    """A change that matters is over zero; limits are of the quantity, and only where it is judged by them."""
    row = JUDGED[name]
    assert row.matters > 0.0
    other = {limit for limit in row.limits if LIMITS[limit].quantity != name}
    assert not other, f"limits of another quantity: {other}"
    assert row.better == "within" or not row.limits


def test_priors_of_the_unit_model_are_probabilities_and_spreads() -> None:
    """Causes are almost all that can have changed; the rest is what no cause is named for."""
    assert sum(cause.prior for cause in CAUSES.values()) == pytest.approx(1.0, abs=0.12)
    flat = [row.name for row in PARAMETERS.values() if not row.spread > 0.0]
    assert not flat, f"parameters without a spread: {flat}"
