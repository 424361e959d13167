"""A complete repair as the examples of the docs tell it, from the leak to the comparison (invented scenario).

Both runs are of one unit of the independent model of ``tests/benchmarks/simulated_pairs.py`` (seed 27113): three
quarters of its charge before, all of it after; EER +5.8 % and capacity +10.8 % under the same conditions.
"""

from __future__ import annotations

from typing import Any

from fastapi.testclient import TestClient

from schemas.examples import check_examples, comparison_examples


def test_from_the_leak_to_the_comparison(client: TestClient) -> None:
    """Each step answers what the next one needs, with its cautions."""

    def sent(address: str, body: Any) -> Any:  # noqa: ANN401
        answer = client.post(address, json=body)
        assert answer.status_code == 200, answer.text
        return answer.json()

    def checked(name: str, example: str) -> Any:  # noqa: ANN401
        return sent(f"/v1/checks/{name}", check_examples(name)[example])

    def warned(answer: Any) -> set[str]:  # noqa: ANN401
        return {row["id"] for row in answer["cautions"]}

    pair = comparison_examples()["leak_repaired"]
    visit = {name: pair[name] for name in ("units", "site", "unit", "kit")}

    # 1: what is wrong.
    first = sent("/v1/diagnoses", visit | {"run": pair["runs"]["before"]})
    assert first["hypotheses"][0]["fault"] == "low_charge"
    assert first["hypotheses"][0]["probability"] > 0.9

    # 2: recovered, a quarter was missing.
    missing = checked("charge-by-weight", "repair_what_was_missing")
    assert missing["next_steps"][0]["action"] == "find_the_leak"
    band = missing["derived"]["charge_recovered_share"]["band"]
    assert band["low"] < 75.0 < band["high"]
    assert {"refrigerant_release", "displaced_air"} <= warned(missing)

    # 3 and 4: the leak shows under nitrogen; after brazing no loss is seen.
    leak = checked("pressure-hold", "repair_leak_found")
    assert leak["verdict"] == "loss_shown"
    assert {"nitrogen_under_pressure", "oxygen_never"} <= warned(leak)
    holds = checked("pressure-hold", "repair_holds")
    assert holds["verdict"] == "no_loss_seen"
    assert "would not have been seen" in holds["sentence"]

    # 5: evacuated; what is left comes off the walls.
    vacuum = checked("vacuum-rise", "repair_vacuum")
    assert vacuum["verdict"] in ("drying", "holds")
    assert all(row["grade"] == "conforming" for row in vacuum["findings"])
    assert "motor_in_vacuum" in warned(vacuum)

    # 6: weighed in.
    weighed = checked("charge-by-weight", "repair_weigh_in")
    assert weighed["derived"]["charge"]["value"] * 16.0 == 119.0
    assert {row["quantity"]: row["grade"] for row in weighed["findings"]} == {"charge_held_share": "conforming"}

    # 7: started again; the charge is right by the maker's subcooling.
    after = sent("/v1/assessments", visit | {"run": pair["runs"]["after"]})
    assert after["usability"]["grade"] == "usable"
    grades = {row["quantity"]: row["grade"] for row in after["findings"]}
    assert grades["subcooling_deviation"] == "conforming"

    # 8: it was worth showing.
    changed = sent("/v1/comparisons", pair)
    system = changed["system"]
    assert system["verdict"] == "improved"
    assert system["points_to"][0]["cause"] == "charge"
    for name, truth in (("capacity_change_percent", 10.8), ("efficiency_change_percent", 5.8)):
        band = system[name]["band"]
        assert band["low"] < truth < band["high"]
    assert {"hot_work", "nitrogen_under_pressure", "motor_in_vacuum", "live_voltage"} <= warned(changed)
