"""Sentences about changes say what was judged, and never a certainty.

Expected texts are the project's own style rules (the English section of the guide); no outside source.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from service.reference.capacity_control import UNSETTLED
from service.words.comparison import (
    Apart,
    Hidden,
    Obstacle,
    SystemFacts,
    ValueFacts,
    WorthFacts,
    conditions_sentence,
    system_sentence,
    value_sentence,
    worth_sentence,
)
from service.words.numbers import Estimate

RISE = Estimate(7.24, 4.01, 10.56)
SYSTEM = SystemFacts(
    verdict="improved",
    changed=True,
    withheld=False,
    obstacle=None,
    efficiency=RISE,
    capacity=None,
    moved=[("efficiency", "rose")],
    probability=1e-9,
    matters=5.0,
    hidden=None,
    missing=[],
    better=[],
    worse=[],
)
VALUE = ValueFacts(
    label="Superheat",
    kind="temperature_difference",
    change=Estimate(-5.0, -7.0, -3.0),
    verdict="inconclusive",
    matters=2.0,
    detectable=4.0,
    probability_rose=0.001,
    probability_improved=0.6,
    moved=True,
    something_changed=True,
    has_limit=True,
    no_direction_is_better=False,
    is_capacitance=False,
    work=frozenset(),
)


def test_an_improvement_has_its_size_and_its_probability() -> None:
    assert system_sentence(SYSTEM) == (
        "The system improved: efficiency rose. Efficiency under the same conditions: +7.2 % (95 %: +4.0 to "
        "+10.6 %). The probability of such readings without a change is under 0.001."
    )


def test_each_verdict_has_its_own_words() -> None:
    same = replace(SYSTEM, verdict="no_material_change", changed=False)
    assert system_sentence(same).startswith("No material change: any change is shown to be smaller")
    unclear = replace(SYSTEM, verdict="inconclusive", probability=0.003, moved=[])
    assert "whether for better or worse is not shown" in system_sentence(unclear)
    both = replace(unclear, moved=[("efficiency", "rose"), ("capacity", "fell")])
    assert system_sentence(both).startswith("No single verdict: efficiency rose and capacity fell.")


@pytest.mark.parametrize(
    ("hidden", "said"),
    [
        (Hidden("the compressor", None), "would not reveal a change in the compressor"),
        (Hidden("the compressor", 3.24), "one that moves efficiency by up to 3.2 % could go unnoticed"),
    ],
)
def test_what_could_hide_is_named(hidden: Hidden, said: str) -> None:
    """Where nothing is shown to have changed, the cause that hides best; and what one run lacks."""
    facts = replace(
        SYSTEM,
        verdict="inconclusive",
        changed=False,
        probability=0.57,
        hidden=hidden,
        missing=["runs.after.readings.suction_pressure"],
    )
    text = system_sentence(facts)
    assert "An unchanged unit would often give readings like these (probability 0.57)." in text
    assert said in text
    assert text.endswith("Missing: suction pressure in the second run.")


def test_a_reason_is_a_clause_and_a_sentence() -> None:
    """The same reason for the system, with what to do, and for each value that is not judged."""
    obstacle = Obstacle("capacity_not_known", unsettled=UNSETTLED["two_stage"])
    assert obstacle.clause.startswith("it is not known which stage ran")
    assert obstacle.sentences.endswith(f"{UNSETTLED['two_stage'].remedy} Do so in both runs.")
    unusable = Obstacle("readings_unusable", "after", notice="Both gauges show one pressure.")
    facts = replace(SYSTEM, withheld=True, obstacle=unusable, verdict="inconclusive")
    assert system_sentence(facts) == (
        "No verdict: the readings of the second run cannot be used. Both gauges show one pressure."
    )


def test_a_value_that_moved_without_a_verdict_says_why() -> None:
    assert "closer to its limits or further from them" in value_sentence(VALUE, "imperial")
    chance = replace(VALUE, something_changed=False)
    assert "one can do so by chance" in value_sentence(chance, "imperial")
    unseen = replace(VALUE, moved=False, detectable=None)
    assert "a change of any size could stay hidden" in value_sentence(unseen, "imperial")


@pytest.mark.parametrize("comparable", ["yes", "with_reservations", "no"])
def test_conditions_name_what_differs_and_what_is_unknown(comparable: str) -> None:
    apart = [] if comparable == "yes" else [Apart("outdoor_air_dry_bulb", -14.6, "delta_degF")]
    text = conditions_sentence(comparable, apart, ["return_air_wet_bulb"], ["before"])
    assert text.startswith("Were the supply and return probes swapped in the first run?")
    assert ("outdoor air dry bulb by 14.6 °F" in text) == (comparable != "yes")
    assert text.endswith("Not known in one run or both: return air wet bulb.")


def test_a_payback_is_never_certain() -> None:
    money = Estimate(20.0, 10.0, 30.0)
    facts = WorthFacts(Estimate(100.0, 50.0, 150.0), money, 5.0, 3.3, 10.0, 1.0)
    assert "within a year: over 0.99" in worth_sentence(facts, 50.0)
    never = replace(facts, payback=None, soonest=None, latest=None, within_a_year=0.0)
    text = worth_sentence(never, 50.0)
    assert "does not pay back by energy within 50 years (95 %: never to never" in text
    assert "within a year: under 0.01" in text
