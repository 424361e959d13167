"""What the checks refuse, flag and say.  The scenarios are invented."""

from __future__ import annotations

import json
from collections.abc import Mapping
from string import Formatter
from typing import Any, get_args

import pytest
from fastapi.testclient import TestClient

from schemas.checks import CHECKS, CheckAnswer
from schemas.checks.common import CheckName
from schemas.examples import CHECK_TITLES, check_examples
from service.batches.answers import answer_lines
from service.checks.catalogue import limits
from service.checks.registry import CHECKS as REGISTRY
from service.checks.registry import answered
from service.intake.refusals import RefusedError
from service.reference.check_limits import CHECK_LIMITS
from service.reference.check_notices import CHECK_NOTICES
from service.render.check_pictures import CHECK_PICTURES
from service.render.check_report import check_page
from tests.answers import conforms
from tests.checks import check, series

Body = dict[str, Any]

#: A two-section can whose leads were swapped.
SWAPPED = {"herm_to_common": 4.9, "fan_to_common": 44.1}


def hold(pressures: Any, temperatures: Any, minutes: Any = None, **parts: Any) -> Body:  # noqa: ANN401
    times = minutes or [30 * k for k in range(len(pressures))]
    return {"readings": series(times, pressure=pressures, gas_temperature=temperatures), **parts}


def rise(pressures: Any, step: float = 2, **parts: Any) -> Body:  # noqa: ANN401
    return {"readings": series([step * k for k in range(len(pressures))], pressure=pressures), **parts}


def rest(pressure: Any, coil: Any, refrigerant: str = "R-410A", readings: Body | None = None, **parts: Any) -> Body:  # noqa: ANN401
    read = {"pressure": pressure, "coil_temperature": coil, **(readings or {})}
    return {"unit": {"refrigerant": refrigerant}, "readings": read, **parts}


def leak(mass: float = 2, full: Any = 8.5, **parts: Any) -> Body:  # noqa: ANN401
    return {"unit": {"full_charge": full}, "additions": [{"mass": mass, "days_ago": 0}], **parts}


#: A check that raises each notice.
RAISES: Mapping[str, tuple[str, Body]] = {
    "pressure_rose": ("pressure-hold", hold((300, 306), (75, 75))),
    "large_temperature_swing": ("pressure-hold", hold((300, 285), (90, 66))),
    "low_test_pressure": ("pressure-hold", hold((5, 5), (75, 75))),
    "gas_still_settling": ("pressure-hold", hold((300, 200), (75, 75), (0, 5))),
    "gas_still_settling.nothing_shown": ("pressure-hold", hold((300, 299), (75, 75), (0, 5))),
    "unit_in_doubt": ("pressure-hold", hold((20.7, 20.0), (75, 75))),
    "unit_in_doubt.saturation": ("pressure-at-rest", rest(201, 21.1)),
    "excess_too_large": ("pressure-at-rest", rest(340, 70)),
    "pressure_fell": ("vacuum-rise", rise((400, 300, 250))),
    "few_readings": ("vacuum-rise", rise((300, 310))),
    "short_rise_test": ("vacuum-rise", rise((300, 310, 321, 330))),
    "shallow_vacuum": ("vacuum-rise", rise((4000, 4050, 4090, 4110, 4120))),
    "saturation_exceeded": ("vacuum-rise", rise((4000, 9000, 15000, 21000, 27000), coldest_temperature=70)),
    "rest_not_shown": ("pressure-at-rest", rest(201, 70)),
    "rested_briefly": ("pressure-at-rest", rest(201, 70, minutes_off=5)),
    "not_settled": ("pressure-at-rest", rest(201, 70, readings={"liquid_line_temperature": 80})),
    "sun_on_coil": ("pressure-at-rest", rest(201, 70, sun_on_coil=True)),
    "crankcase_heater_on": ("pressure-at-rest", rest(201, 70, crankcase_heater_on=True)),
    "more_than_full": ("leak-rate", leak(9)),
    "short_interval": ("leak-rate", leak(days_since_previous_addition=10)),
    "full_charge_assumed": ("leak-rate", leak()),
}


def test_every_notice_is_raised() -> None:
    """Each row of the table by a check, with no value left open."""
    mine = {"pressure-hold", "vacuum-rise", "pressure-at-rest", "leak-rate"}
    for name, (kind, body) in RAISES.items():
        assert kind in mine
        row = CHECK_NOTICES[name]
        found = [one["sentence"] for one in check(kind, **body)["notices"] if one["code"] == row.code]
        assert any(row.text.rpartition("}")[2] in sentence for sentence in found), name
        assert not [field for sentence in found for _, field, _, _ in Formatter().parse(sentence) if field]


@pytest.mark.parametrize(
    ("name", "body", "pointer", "said"),
    [
        ("pressure-hold", hold((300, 300), (75, 75), (0, 0)), "/readings/1/minutes", "later"),
        ("pressure-hold", hold((3000, 300), (75, 75)), "/readings/0/pressure", "above"),
        ("pressure-hold", hold((300, 300), (75, 200)), "/readings/1/gas_temperature", "above"),
        ("pressure-hold", hold((300, 300), (75, 75), volume=0), "/volume", "zero"),
        (
            "pressure-hold",
            hold((300, {"value": 300, "instrument": "other"}), (75, 75), kit={"other": {"type": "analog_gauge"}}),
            "/readings/1/pressure",
            "another instrument",
        ),
        (
            "pressure-hold",
            hold((300, 300), (75, {"value": 75, "instrument": "x"})),
            "/readings/1/gas_temperature/instrument",
            "kit",
        ),
        ("vacuum-rise", rise((300, 310, 1.05e5)), "/readings/2/pressure", "above"),
        ("pressure-at-rest", rest(201, 70, "R-999"), "/unit/refrigerant", "catalogue"),
        ("pressure-at-rest", rest(700, 165), "/readings/coil_temperature", "saturation curve"),
        ("leak-rate", leak() | {"additions": [{"mass": 1, "days_ago": 3}]}, "/additions/0/days_ago", "order"),
        ("leak-rate", leak(full=0), "/unit/full_charge", "below"),
    ],
)
def test_impossible_series_are_refused(name: str, body: Body, pointer: str, said: str) -> None:
    """With the field, the reason and a hint."""
    with pytest.raises(RefusedError) as refused:
        check(name, **body)
    rows = {row.pointer: row for row in refused.value.refusals}
    assert pointer in rows
    assert said in rows[pointer].detail
    assert rows[pointer].hint


def test_no_answer_says_tight() -> None:
    """Not seen is not proved: such a circuit is never called tight, nor graded conforming."""
    for name, body in (
        ("pressure-hold", hold((300, 300), (75, 75))),
        ("vacuum-rise", rise((300, 301, 300, 302, 301, 302))),
    ):
        found = check(name, **body)
        assert "does not prove the circuit tight" in found["sentence"]
        assert "would not have been seen" in found["sentence"]
    found = check("pressure-hold", **hold((300, 302), (75, 75)))
    (loss,) = [row for row in found["findings"] if row["quantity"] == "pressure_loss"]
    assert loss["grade"] != "conforming"


def test_too_high_a_pressure_is_a_danger() -> None:
    """Over the stated test pressure: a finding of safety, a caution with the word danger, and the first step."""
    found = check("pressure-hold", **hold((420, 420), (75, 75), highest_allowed_pressure=400))
    assert found["findings"][0]["priority"] == "safety"
    assert found["cautions"][0]["id"] == "over_test_pressure"
    assert found["cautions"][0]["signal_word"] == "danger"
    assert found["next_steps"][0]["action"] == "lower_the_pressure"
    fine = check("pressure-hold", **hold((300, 300), (75, 75), highest_allowed_pressure=400))
    assert "over_test_pressure" not in [row["id"] for row in fine["cautions"]]


@pytest.mark.parametrize(
    ("name", "body", "cautions"),
    [
        ("pressure-hold", hold((300, 300), (75, 75)), {"nitrogen_under_pressure", "oxygen_never", "displaced_air"}),
        ("vacuum-rise", rise((300, 310)), {"motor_in_vacuum", "refrigerant_release"}),
        ("pressure-at-rest", rest(190, 70, "R-454B"), {"refrigerant_under_pressure", "flammable_a2l"}),
        ("leak-rate", leak(), {"refrigerant_release"}),
    ],
)
def test_cautions_of_the_work(name: str, body: Body, cautions: set[str]) -> None:
    """Each with its deferral, and the general one."""
    found = check(name, **body)["cautions"]
    assert {row["id"] for row in found} >= cautions | {"general"}
    assert all("come first" in row["deferral"] for row in found)


def test_below_saturation_is_an_answer() -> None:
    """No liquid, or a wrong temperature."""
    found = check("pressure-at-rest", **rest(160, 70))
    assert found["verdict"] == "below_saturation"
    assert "No liquid is left" in found["sentence"]
    assert [row["grade"] for row in found["findings"]] == ["nonconforming"]


def test_an_early_vacuum_test_says_how_long_to_wait() -> None:
    """And a longer one of the same circuit then tells."""
    pressures = [300 + 1100 * (1 - 0.7165**k) for k in range(21)]
    early = check("vacuum-rise", **rise(pressures[:5], coldest_temperature=70))
    assert early["verdict"] == "cannot_tell"
    assert "wait" in early["sentence"]
    late = check("vacuum-rise", **rise(pressures, coldest_temperature=70))
    assert late["verdict"] == "drying"
    assert sum(row["probability"] for row in late["hypotheses"]) == pytest.approx(1.0, abs=1e-3)


def test_thresholds_are_information() -> None:
    """With the edition, no grade, and not legal advice."""
    found = check("leak-rate", **leak(days_since_previous_addition=90))
    assert found["findings"] == []
    assert [row["value"] for row in found["information"]] == [10.0, 20.0, 30.0]
    assert all("not legal advice" in row["sentence"] and "2026" in row["sentence"] for row in found["information"])


@pytest.mark.parametrize(
    ("pounds", "refrigerant", "said"),
    [
        # From 15 lb of a regulated substance and 50 lb of an ozone-depleting one (values from memory).
        (6.9, "R-410A", "does not apply"),
        (30, "R-410A", "is above it"),
        (15, "R-410A", "cannot be decided"),
        (30, "R-22", "does not apply"),
        (58, "R-22", "is above it"),
        (30, "R-290", "does not apply to R-290"),
        (30, None, "is above it"),
    ],
)
def test_a_threshold_concerns_units_of_its_size(pounds: float, refrigerant: str | None, said: str) -> None:
    """And says why it does not."""
    unit = {"full_charge": pounds, **({} if refrigerant is None else {"refrigerant": refrigerant})}
    found = check("leak-rate", **leak() | {"unit": unit})
    assert all(said in row["sentence"] for row in found["information"])


def test_more_than_the_full_charge_is_a_question() -> None:
    """40 at once into 6.9 lb: ounces, most likely (common practice, no source)."""
    found = check("leak-rate", **leak(40, 6.9))
    assert found["verdict"] == "cannot_tell"
    assert actions(found) == ["check_the_masses"]


def test_masses_of_gas_are_in_ounces_or_grams() -> None:
    """An ounce is 28.3495 g (definition)."""
    body = hold((300, 280), (75, 75), volume={"value": 11.3, "unit": "L"})
    ounces = check("pressure-hold", **body)
    assert "oz a day" in check("pressure-hold", **hold((300, 300), (75, 75), volume=0.4))["sentence"]
    grams = check("pressure-hold", "metric", **_in_metric(body))
    lost = [one["derived"]["nitrogen_loss"] for one in (ounces, grams)]
    assert [one["unit"] for one in lost] == ["oz", "g"]
    assert lost[0]["value"] * 28.349523 == pytest.approx(lost[1]["value"], rel=1e-4)


def _in_metric(body: Body) -> Body:
    rows = [
        row | {"pressure": stated(row["pressure"], "psi"), "gas_temperature": stated(row["gas_temperature"], "degF")}
        for row in body["readings"]
    ]
    return body | {"readings": rows}


def test_both_tables_hold_the_same_checks() -> None:
    """The contract's, the service's, and the examples."""
    names = set(get_args(CheckName.__value__.__args__[0] if get_args(CheckName.__value__) else CheckName))
    assert set(CHECKS) == set(REGISTRY) == set(CHECK_TITLES)
    assert set(CHECKS) == names
    assert set(CHECK_PICTURES) <= set(CHECKS)
    assert set(RAISES) <= set(CHECK_NOTICES)
    assert {row["id"] for row in limits()["limits"]} >= set(CHECK_LIMITS)


@pytest.mark.parametrize("name", CHECK_TITLES)
def test_examples_are_answered_in_every_form(client: TestClient, name: str) -> None:
    """As JSON that fits the contract, as CSV, as a page; the first as a picture where there is one."""
    operation = client.get("/openapi.json").json()["paths"][f"/v1/checks/{name}"]["post"]
    offered = operation["requestBody"]["content"]["application/json"]["examples"]
    for example, body in check_examples(name).items():
        assert offered[example]["value"] == body
        conforms(CheckAnswer, client.post(f"/v1/checks/{name}", json=body).json())
    table = client.post(f"/v1/checks/{name}", json=body, params={"format": "csv"})
    assert table.text.startswith("quantity,value,unit")
    page = client.post(f"/v1/checks/{name}", json=body, headers={"Accept": "text/html"})
    assert page.headers["content-type"].startswith("text/html")
    assert "Cautions" in page.text
    picture = client.post(f"/v1/checks/{name}", json=body, params={"format": "svg"})
    assert picture.status_code == (200 if name in CHECK_PICTURES else 422)


def test_a_check_is_a_line_of_a_batch() -> None:
    """Answered as by itself; what is wrong is named within the line."""
    body = {"units": "imperial", **leak()}
    lines = [
        json.dumps({"id": "a", "check": {"leak-rate": body}}).encode(),
        json.dumps({"id": "b", "check": {"leak-rate": {**body, "additions": []}}}).encode(),
        json.dumps({"id": "c", "check": {"leak-rate": {**body, "unit": {"full_charge": 0}}}}).encode(),
        b'{"id": "d", "check": {}}',
        b'{"id": "e", "check": {"leak-rates": {}}}',
    ]
    first, *rest_ = [json.loads(line) for line in answer_lines(lines)]
    assert first["check"] == check("leak-rate", **leak())
    pointers = [row["problem"]["errors"][0]["pointer"] for row in rest_]
    assert pointers == [
        "/check/leak-rate/additions",
        "/check/leak-rate/unit/full_charge",
        "/check",
        "/check/leak-rates",
    ]


def actions(answer: dict[str, Any]) -> list[str]:
    return [row["action"] for row in answer["next_steps"]]


def test_nothing_is_charged_into_a_vacuum_that_is_not_deep() -> None:
    """A steady 2,000 microns is over the 500 of a maker's guide (published); common practice: evacuate further."""
    found = check("vacuum-rise", **rise((2000, 2005, 2008, 2010, 2010)))
    assert "weigh_in" not in actions(found)
    assert "deep enough" in found["sentence"]


def test_a_vacuum_is_watched_for_ten_minutes_before_charging() -> None:
    """Common practice, no source."""
    for step, action in ((0.5, "wait_longer"), (5, "weigh_in")):
        assert actions(check("vacuum-rise", **rise((300, 300, 300), step))) == [action]


def stated(value: float, unit: str) -> Body:
    return {"value": value, "unit": unit}


@pytest.mark.parametrize(
    ("name", "body", "metric", "settled"),
    [
        # 1,490 kPa and 24 °C: R-410A at 201 psig and 70 °F (published), each in the unit of the other system.
        ("pressure-at-rest", rest(201, 21.1), False, rest(201, stated(21.1, "degC"))),
        ("pressure-at-rest", rest(13.9, 70), False, rest(stated(13.9, "psi"), 70)),
        ("pressure-at-rest", rest(201, 21), True, rest(stated(201, "psi"), 21)),
        (
            "pressure-hold",
            hold((20.7, 19.0), (75, 75)),
            False,
            hold([stated(20.7, "bar"), stated(19, "bar")], (75, 75)),
        ),
        ("pressure-hold", hold((300, 290), (24, 21)), False, hold((300, 280), [stated(24, "degF")] * 2)),
        ("pressure-hold", hold((300, 290), (24, 24)), True, hold([stated(p, "psi") for p in (300, 290)], (24, 24))),
        ("leak-rate", leak(2, 136), False, leak(2, stated(136, "oz"))),
        ("vacuum-rise", rise((0.4, 0.4, 0.4), 5), False, rise([stated(0.4, "mbar")] * 3, 5)),
        ("vacuum-rise", rise((29.9, 29.8, 29.8), 5), False, rise([stated(29.9, "umHg")] * 3, 5)),
        ("vacuum-rise", rise((300, 300, 300), 5), True, rise([stated(300, "umHg")] * 3, 5)),
    ],
)
def test_a_number_in_another_unit_is_a_question(name: str, body: Body, metric: bool, settled: Body) -> None:
    """Nothing is judged and nothing recommended until its unit is stated (common practice, no source)."""
    units = "metric" if metric else "imperial"
    found = check(name, units, **body)
    assert found["verdict"] == "cannot_tell"
    assert actions(found) == ["check_the_unit"]
    assert {row["grade"] for row in found["findings"]} <= {"not_assessed"}
    assert check(name, units, **settled)["verdict"] != "cannot_tell"


def test_pressure_over_the_limit_leads_and_only_lowering_it_follows() -> None:
    """Common practice, no source: safety before the result of the test."""
    found = check("pressure-hold", **hold((450, 450), (75, 75), highest_allowed_pressure=400))
    assert found["verdict"] == "over_limit"
    assert found["sentence"].startswith("The pressure, 450")
    assert "No loss" not in found["sentence"]
    assert actions(found) == ["lower_the_pressure"]


@pytest.mark.parametrize(
    ("body", "step"),
    [
        (hold((5, 5), (75, 75)), "test_at_pressure"),
        (hold((300, 300), (75, 75), (0, 5)), "hold_longer"),
        (hold((300, 296), (75, 75), (0, 5)), "hold_longer"),
    ],
)
def test_a_test_that_tests_little_decides_nothing(body: dict[str, Any], step: str) -> None:
    """Too low, or too short for gas that filling warmed: 4 psi of 315 absolute are 4 K of 297 (gas law)."""
    found = check("pressure-hold", **body)
    assert found["verdict"] == "cannot_tell"
    assert actions(found) == [step]
    assert "No loss was seen" not in found["sentence"]
    assert check("pressure-hold", **hold((300, 200), (75, 75), (0, 5)))["verdict"] == "loss_shown"


@pytest.mark.parametrize(
    "body",
    [
        rest(240, 70, minutes_off=3),
        rest(240, 70, minutes_off=60, readings={"liquid_line_temperature": 84}),
        rest(340, 70, minutes_off=60),
        rest(240, 70, minutes_off=60, sun_on_coil=True),
        rest(120, 70, minutes_off=3),
    ],
)
def test_an_excess_shows_no_gas_before_the_unit_has_settled(body: dict[str, Any]) -> None:
    """R-410A is at 201 psig at 70 °F (published); off for too short, places that disagree, or far too much for air."""
    found = check("pressure-at-rest", **body)
    assert found["verdict"] == "cannot_tell"
    assert {"recover_and_evacuate", "look_for_the_leak"}.isdisjoint(actions(found))
    assert [row["grade"] for row in found["findings"]] == ["not_assessed"]
    assert check("pressure-at-rest", **rest(240, 70, minutes_off=60))["verdict"] == "excess_shown"


@pytest.mark.parametrize(
    ("ounces", "action"), [(104, "check_running"), (80, "add_the_rest"), (150, "recover_the_excess")]
)
def test_what_was_weighed_in_is_not_weighed_in_again(ounces: float, action: str) -> None:
    """15 ft of 9 oz are in the nameplate's 104 oz (definition)."""
    body: Body = {
        "nameplate_charge": {"value": 104, "unit": "oz"},
        "factory_allowance": {"value": 9, "unit": "oz"},
        "lines": {"length": 15, "allowance": 0.6},
        "weighed_in": {"value": ounces, "unit": "oz"},
    }
    assert actions(check("charge-by-weight", **body)) == [action]


@pytest.mark.parametrize(
    ("change", "where"),
    [
        ({"additions": [{"mass": 2, "days_ago": 0}, {"mass": 1, "days_ago": 0.001}]}, "/additions/1/days_ago"),
        (
            {
                "additions": [{"mass": 2, "days_ago": 0}, {"mass": 1, "days_ago": 60}],
                "days_since_previous_addition": 90,
            },
            "/days_since_previous_addition",
        ),
    ],
)
def test_an_interval_that_cannot_be(change: Body, where: str) -> None:
    """A minute is no interval of a leak rate, and none is longer than the record (arithmetic)."""
    with pytest.raises(RefusedError) as refused:
        check("leak-rate", **(leak() | change))
    assert where in [row.pointer for row in refused.value.refusals]


def test_the_page_keeps_information_apart_from_what_is_undecided() -> None:
    """Thresholds decide nothing, and notes doubt nothing (definition)."""
    request = CHECKS["leak-rate"].model_validate({"units": "imperial", **leak(days_since_previous_addition=90)})
    page = check_page(request, answered("leak-rate", request))
    undecided, _, rest = page.partition("For information")
    assert "40 CFR" in rest
    assert "40 CFR" not in undecided.partition("could not be decided")[2]
    asked = CHECKS["motor"].model_validate({"units": "imperial", "capacitors": [{"marking": "45/5", **SWAPPED}]})
    page = check_page(asked, answered("motor", asked))
    assert page.partition("What could not be decided")[2].count("would fit the other section") == 1


def test_leaving_the_building_leads() -> None:
    """Common practice, no source."""
    furnace = {"entering": 68, "leaving": 122, "lowest_rise": 40, "highest_rise": 70}
    cautions = check("air-delivery", mode="heating", furnace=furnace)["cautions"]
    (text,) = [row["text"] for row in cautions if row["id"] == "carbon_monoxide"]
    assert text.startswith("Leave the building first")
