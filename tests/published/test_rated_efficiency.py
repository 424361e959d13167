"""The efficiency presumed from a rating, against ratings that units carry side by side."""

from __future__ import annotations

from math import exp, log

import pytest
from fastapi.testclient import TestClient

from schemas.examples import diagnosis_examples
from service.derive.rated_efficiency import rated_cop, rated_efficiency
from service.intake.paths import DUCTLESS, RATED
from service.reference.ratings import EFFICIENCY_RATINGS

#: Btu/h in a watt; value from memory.
WATT = 3.412142


def presumed(*, ductless: bool = False, **given: float) -> float:
    """EER [Btu/(W h)] presumed of a single-speed unit from ratings in the same unit."""
    leaves: dict[str, object] = {RATED + name: value / WATT for name, value in given.items()}
    if ductless:
        leaves[DUCTLESS] = True
    found = rated_efficiency(leaves, "single_speed")
    assert found is not None
    return exp(found.logarithm) * WATT


# Minimum ratings that the law set side by side for split air conditioners in the south-west, under and
# from 45,000 Btu/h, by the procedure before 2023: 14 SEER with 12.2 or 11.7 EER (10 CFR 430.32(c), values
# from memory).  10 SEER with 8.9 to 9.3 and 13 SEER with 11 to 11.3 are usual on nameplates (common
# practice, no source).
@pytest.mark.parametrize(("seer", "eer"), [(14.0, 12.2), (14.0, 11.7), (10.0, 9.1), (13.0, 11.1), (16.0, 12.75)])
def test_eer_follows_seer(seer: float, eer: float) -> None:
    """Within one standard deviation of what is stated for it."""
    assert abs(log(presumed(seer=seer) / eer)) < EFFICIENCY_RATINGS["seer"].spread


def test_eer_of_seer_is_the_published_relation() -> None:
    """1.12 SEER - 0.02 SEER² (Hendron and Engebrecht 2010, equation 3): 11.18 of 13."""
    assert presumed(seer=13.0) == pytest.approx(1.12 * 13.0 - 0.02 * 169.0, rel=1e-6)


# The same minimum by the procedure since 2023 and before (10 CFR 430.32(c), values from memory).
@pytest.mark.parametrize(
    ("rating", "new", "old"),
    [
        ("eer", 11.7, 12.2),
        ("eer", 11.2, 11.7),
        ("seer", 14.3, 15.0),
        ("seer", 13.4, 14.0),
        ("seer", 13.8, 14.5),
    ],
)
def test_ratings_of_both_procedures_agree(rating: str, new: float, old: float) -> None:
    """Within half a percent."""
    since, before = presumed(**{f"{rating}2": new}), presumed(**{rating: old})  # type: ignore[arg-type]
    assert since == pytest.approx(before, rel=0.005)


def test_what_is_nearer_to_the_efficiency_counts() -> None:
    """A stated EER before EER2, that before SEER; each is less sure than the one before."""
    spreads = [row.spread for row in EFFICIENCY_RATINGS.values()]
    assert spreads == sorted(spreads)
    assert presumed(eer=11.0, seer=16.0, eer2=12.0) == pytest.approx(11.0)
    assert presumed(seer=16.0, eer2=12.0) > 12.0
    assert presumed(eer2=12.0, ductless=True) == pytest.approx(12.0)


@pytest.mark.parametrize("control", ["two_stage", "variable_speed"])
def test_a_seasonal_rating_of_several_speeds_tells_nothing(control: str) -> None:
    """They earn it at part load (common practice, no source)."""
    assert rated_efficiency({RATED + "seer": 18.0 / WATT}, control) is None
    assert rated_efficiency({RATED + "seer": 24.0 / WATT}, "single_speed") is None
    assert rated_efficiency({}, control) is None


def test_condensing_over_outdoor_air_follows_the_rating(client: TestClient) -> None:
    """Makers' tables: 10 SEER units condense some 19 °F over outdoor air, 13 to 14 SEER ones 15 to 16
    (values as the trade reports them; common practice has about 30 °F for old units and 20 °F for
    efficient ones, no source): less by 1.5 to 6 °F at the higher rating."""
    body = diagnosis_examples()["sound_unit"]

    def expected(**rated: float) -> float:
        unit = body["unit"] | {"rated": {"cooling_capacity": 44000.0, **rated}}
        answer = client.post("/v1/diagnoses", json=body | {"unit": unit}).json()
        assert answer["expected_from"] == "rating"
        band = answer["expected"]["liquid_saturation_temperature"]["band"]
        return float(0.5 * (band["low"] + band["high"]) - 88.7)

    assert 1.5 < expected(seer=10.0) - expected(seer=13.5) < 6.0
    assert expected(seer=13.0) == pytest.approx(expected(eer=11.18), abs=0.8)


def test_no_share_of_the_rating_without_a_stated_eer(client: TestClient) -> None:
    """A share is given only of what the nameplate states."""
    body = diagnosis_examples()["sound_unit"]
    unit = body["unit"] | {"rated": {"cooling_capacity": 44000.0, "seer": 13.0}}
    answer = client.post("/v1/diagnoses", json=body | {"unit": unit}).json()
    assert "eer_share_of_rating" not in answer["assessment"]["derived"]


def test_a_coefficient_of_performance_follows_hspf() -> None:
    """0.3225 HSPF + 0.9099 (rules of California's energy code): 3.55 of 8.2; 7.0 HSPF2 of a ducted unit is about 8.2
    HSPF (0.85, value from memory).  A rated coefficient comes first; units with stages earn HSPF at part load."""
    for name, given in (("hspf", 8.2), ("hspf2", 7.0)):
        leaves = {RATED + name: given / WATT}
        found = rated_cop(leaves, "single_speed")
        assert found is not None
        assert exp(found.logarithm) == pytest.approx(3.55, abs=0.02)
        assert rated_cop(leaves, "variable_speed") is None
        both = rated_cop(leaves | {RATED + "heating_cop": 3.8}, "single_speed")
        assert both is not None
        assert exp(both.logarithm) == pytest.approx(3.8)
        assert both.spread < found.spread
