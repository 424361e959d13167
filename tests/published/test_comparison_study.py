"""A small fixed share of the study in tests/benchmarks/before_and_after.py, so that no change of the code
quietly makes comparisons dishonest.  The truth is that of an independent simulator."""

from __future__ import annotations

from typing import Any

import pytest

from schemas.comparisons import ComparisonRequest
from service.compare.comparison import compare
from tests.answers import untyped
from tests.benchmarks import simulated_pairs as simulated
from tests.benchmarks.before_and_after import best_power, request

PAIRS = 14


def judged(
    kind: str, kit: str, population: simulated.Population = simulated.USUAL_POPULATION
) -> list[tuple[simulated.Pair, dict[str, Any]]]:
    return [
        (pair, untyped(compare(ComparisonRequest.model_validate(request(pair, kit)))["system"]))
        for pair in simulated.pairs(PAIRS, 77, kind, kit, population)
    ]


def covered(pair: simulated.Pair, system: dict[str, Any]) -> bool:
    band = system["efficiency_change_percent"]["band"]
    truth = 100.0 * (2.718281828459045 ** float(pair.truth["ln_eer"]) - 1.0)
    return bool(band["low"] <= truth <= band["high"])


@pytest.mark.parametrize("kit", ["good", "ordinary"])
def test_pairs_that_did_not_change(kit: str) -> None:
    """Different weather, same unit: claims of change are rare (of 14 pairs at 5 %, more than three have
    a chance of under half a percent), and the bands hold zero."""
    rows = judged("null", kit)
    assert sum(system["verdict"] in ("improved", "worsened") for _, system in rows) <= 2
    assert sum(system["any_change"]["changed"] for _, system in rows) <= 3
    assert sum(covered(pair, system) for pair, system in rows) >= PAIRS - 2


@pytest.mark.parametrize("kind", ["condenser_conductance", "charge"])
def test_pairs_that_changed(kind: str) -> None:
    """By 10 to 30 %: the true change lies in most bands, what is large is found, nothing is claimed the
    wrong way round, and the cause is named."""
    rows = judged(kind, "good", simulated.Population(metering="expansion_valve", size=(0.10, 0.30)))
    assert sum(covered(pair, system) for pair, system in rows) >= PAIRS - 3
    cause = {"condenser_conductance": "condenser_heat_transfer"}.get(kind, kind)
    named = plain = found = 0
    for pair, system in rows:
        truth = float(pair.truth["ln_eer"])
        named += system["points_to"][0]["cause"] == cause
        if abs(truth) > 0.06:
            plain += 1
            found += system["verdict"] == ("improved" if truth > 0.0 else "worsened")
        if system["verdict"] in ("improved", "worsened") and abs(truth) > 1e-3:
            rose = system["verdict"] == "improved"
            assert rose == (truth > 0.0) or rose == (float(pair.truth["ln_capacity"]) > 0.0)
    assert named >= PAIRS - 4
    assert found >= 0.5 * plain


def test_the_best_test_bounds_what_can_be_claimed() -> None:
    """Power of the simple test: at no change its level, near one where the change is plain (Neyman and
    Pearson)."""
    pair = simulated.pairs(1, 77, "compressor_isentropic", "good", simulated.Population(size=(0.2, 0.3)))[0]
    assert best_power(pair, "good") > 0.999
    same = simulated.pairs(1, 77, "null", "good")[0]
    assert best_power(same, "good") == pytest.approx(0.05, abs=1e-6)
