"""Numbers of a comparison and of a trend that follow from others shown beside them."""

from __future__ import annotations

import copy
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from scipy.stats import norm

from schemas.comparisons import ComparisonRequest
from schemas.examples import comparison_examples, trend_examples
from schemas.trends import TrendRequest
from service.compare.comparison import compare
from service.compare.trend import trend
from service.reference.changes import JUDGED
from service.reference.unit_model import CAUSES
from service.unit import model
from service.unit.layout import LAYOUTS
from tests.answers import untyped

Body = dict[str, Any]


@pytest.fixture(scope="module")
def body() -> Body:
    return copy.deepcopy(dict(comparison_examples()["coil_cleaned"]))


@pytest.fixture(scope="module")
def answer(body: Body) -> Body:
    """An example whose cause is all but certain, so that each change is one normal distribution; gas that
    does not condense, which a cleaned condenser looks like, is left out of what may have changed."""
    causes = {name: row for name, row in CAUSES.items() if name != "non_condensable_gas"}
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(model, "LAYOUTS", {"cooling": replace(LAYOUTS["cooling"], causes=causes)})
        found = compare(ComparisonRequest.model_validate(body))
    assert found["system"]["points_to"][0]["probability"] > 0.99
    return untyped(found)


def test_changes_as_read(answer: Body) -> None:
    """Second less first, 1.96 standard uncertainties to either side."""
    for name, row in answer["changes"].items():
        read = row["as_read"]
        difference = row["after"] - row["before"]
        # The two values are rounded to seven digits.
        rounding = 1e-6 * max(abs(row["before"]), abs(row["after"]))
        assert read["value"] == pytest.approx(difference, rel=1e-4, abs=1e-4 + rounding), name
        half = 1.96 * read["standard_uncertainty"]
        assert read["band"]["low"] == pytest.approx(read["value"] - half, rel=1e-5, abs=1e-6)
        assert read["band"]["high"] == pytest.approx(read["value"] + half, rel=1e-5, abs=1e-6)
        assert (row["before"], row["after"]) == tuple(
            answer["assessments"][run]["derived"][name]["value"] for run in ("before", "after")
        )


def test_probabilities_of_changes_are_those_of_their_distributions(answer: Body) -> None:
    """Normal, or normal in the logarithm where the change is a relative one of the model's; SciPy."""
    judged = {n: r for n, r in answer["changes"].items() if r["probabilities"] is not None}
    assert len(judged) > 20
    for name, row in judged.items():
        common, kind, told = row["at_common_conditions"], JUDGED[name], row["probabilities"]
        mean, deviation = common["value"], common["standard_uncertainty"]
        low, high = -row["smallest_that_matters"], row["smallest_that_matters"]
        if kind.relative and kind.model is not None:
            start = row["before"]
            size = high / start
            low, high = np.log1p([-size, size])
            mean, deviation = np.log1p(mean / start), deviation / (start + mean)
        rose = norm.sf(0.0, mean, deviation)
        within = norm.cdf(high, mean, deviation) - norm.cdf(low, mean, deviation)
        assert told["rose"] == pytest.approx(rose, abs=0.005), name
        assert told["fell"] == pytest.approx(1.0 - told["rose"], abs=1e-4)
        assert told["within_what_matters"] == pytest.approx(within, abs=0.005), name
        expected = {"higher": ("rose", "fell"), "lower": ("fell", "rose")}.get(kind.better)
        if expected is not None:
            assert [told[e] for e in expected] == [told["improved"], told["worsened"]]
            assert row["judged_by"] == kind.better
        elif kind.better == "neither":
            assert told["improved"] is told["worsened"] is None
            assert row["judged_by"] == "neither"
        if told["improved"] is not None:
            assert 0.0 <= told["improved"] + told["worsened"] <= 1.0 + 1e-4
        if row["verdict"] == "no_material_change":
            assert told["within_what_matters"] >= 0.9
        assert ("under the same conditions" in row["sentence"]) == (row["at_common_conditions"] is not None)


def test_probabilities_of_the_system_are_those_of_its_efficiency(answer: Body) -> None:
    """Normal in the logarithm: its middle and deviation from the band shown."""
    system = answer["system"]
    shown = system["efficiency_change_percent"]
    low, middle, high = (
        np.log1p(value / 100.0) for value in (shown["band"]["low"], shown["value"], shown["band"]["high"])
    )
    deviation = (high - low) / (2.0 * norm.ppf(0.975))
    ends = np.log1p([-0.05, 0.05])
    expected = {
        "improved": norm.sf(0.0, middle, deviation),
        "worsened": norm.cdf(0.0, middle, deviation),
        "within_what_matters": float(np.diff(norm.cdf(ends, middle, deviation))[0]),
    }
    assert system["probabilities"] == pytest.approx(expected, abs=0.005)
    efficiency, capacity, power = (
        np.log1p(system[f"{name}_change_percent"]["value"] / 100.0) for name in ("efficiency", "capacity", "power")
    )
    # Efficiency is capacity over power.
    assert efficiency == pytest.approx(capacity - power, abs=1e-3)


def test_conditions_of_both_runs(answer: Body, body: Body) -> None:
    """What was read, and its difference, in the request's units."""
    rows = {row["name"]: row for row in answer["conditions"]["differences"]}
    for name, row in rows.items():
        first, second = (
            given["value"] if isinstance(given, dict) else given
            for given in (body["runs"][run]["readings"][name] for run in ("before", "after"))
        )
        assert (row["before"], row["after"]) == pytest.approx((first, second))
        assert row["difference"] == pytest.approx(second - first)
        assert (row["unit"], row["difference_unit"]) == ("degF", "delta_degF")
    assert len(rows) == 3


def test_the_cause_is_the_scenario_s(answer: Body) -> None:
    """The example is of a cleaned condenser; its heat transfer rose."""
    (cause, *_) = answer["system"]["points_to"]
    assert cause["cause"] == "condenser_heat_transfer"
    assert cause["change_percent"]["band"]["low"] > 0.0
    assert answer["system"]["verdict"] == "improved"


def test_numbers_of_a_trend() -> None:
    """Bands of 1.96 deviations, and the probability of a rise that they stand for."""
    found = trend(TrendRequest.model_validate(dict(trend_examples()["five_summers"])))
    assert len(found["quantities"]) > 10
    for row in found["quantities"].values():
        drift = row["drift_per_year"]
        value, deviation = drift["value"], drift["standard_uncertainty"]
        assert row["probability_rising"] == pytest.approx(norm.cdf(value / deviation), abs=1e-3)
        assert drift["band"]["low"] == pytest.approx(value - 1.96 * deviation, rel=1e-4, abs=1e-6)
        assert drift["band"]["high"] == pytest.approx(value + 1.96 * deviation, rel=1e-4, abs=1e-6)
        for point in row["points"]:
            middle = 0.5 * (point["band"]["low"] + point["band"]["high"])
            assert middle == pytest.approx(point["value"], rel=1e-5, abs=1e-5)
        dates = [point["taken_at"] for point in row["points"]]
        assert dates == sorted(dates)
        said = row["sentence"]
        if row["shape"] == "drift":
            assert ("rises" if value > 0.0 else "falls") in said
        elif row["shape"] == "steady":
            assert "no drift and no step" in said
