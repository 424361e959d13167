"""Scores of a diagnosis on examples worked by hand."""

from __future__ import annotations

from math import isnan

import pytest

from tests.benchmarks.diagnosis_scores import (
    Scored,
    brier_score,
    confusion_matrix,
    is_faulty,
    outcome,
    rates,
    reliability_table,
    side_by_side,
)

RESULTS = [
    Scored("no_fault", "no_fault", False),
    Scored("no_fault", "low_charge", False),
    Scored("overcharge", "overcharge", False),
    Scored("overcharge", "no_fault", False),
    Scored("low_charge", "low_charge", True),
    Scored("low_charge", "no_fault", True),
    Scored("low_charge", "overcharge", True),
    Scored("evaporator_airflow", "no_diagnosis", True),
    Scored("evaporator_airflow", "evaporator_airflow", True),
    Scored("evaporator_airflow", "no_response", True),
]


@pytest.mark.parametrize(
    ("truth", "capacity", "efficiency", "expected"),
    [
        ("low_charge", 0.94, 0.99, True),
        ("low_charge", 0.99, 0.94, True),
        ("low_charge", 0.95, 0.95, False),
        ("low_charge", None, 0.97, False),
        ("low_charge", None, None, True),
        ("no_fault", 0.90, 0.90, False),
    ],
)
def test_faulty_means_five_percent_lost(
    truth: str, capacity: float | None, efficiency: float | None, expected: bool
) -> None:
    """The line of 95 % (value from memory)."""
    assert is_faulty(truth, capacity, efficiency) == expected


def test_outcomes() -> None:
    """One by one, by the definitions."""
    assert [outcome(scored) for scored in RESULTS] == [
        "correct",
        "false_alarm",
        "false_alarm",
        "correct",
        "correct",
        "missed_detection",
        "misdiagnosis",
        "no_diagnosis",
        "correct",
        "no_response",
    ]
    assert outcome(Scored("no_fault", "no_diagnosis", False)) == "false_alarm"


def test_rates() -> None:
    """Ten cases, nine answered; four not faulty, five faulty ones answered."""
    found = rates(RESULTS)
    assert (found.cases, found.faulty) == (10, 6)
    assert found.no_response == pytest.approx(1 / 10)
    assert found.correct == pytest.approx(4 / 9)
    assert found.false_alarm == pytest.approx(2 / 4)
    assert found.alarm_named_small_fault == pytest.approx(1 / 4)
    assert found.correct_of_faulty == pytest.approx(2 / 5)
    assert found.missed_detection == pytest.approx(1 / 5)
    assert found.misdiagnosis == pytest.approx(1 / 5)
    assert found.no_diagnosis == pytest.approx(1 / 5)


def test_rates_of_nothing_are_undefined() -> None:
    """No case, no share."""
    assert isnan(rates([]).correct)
    assert isnan(rates(RESULTS[:2]).missed_detection)


def test_confusion_matrix() -> None:
    """Counted by hand; pairs that do not occur count zero."""
    pairs = [("a", "a"), ("a", "b"), ("a", "b"), ("b", "b")]
    assert confusion_matrix(pairs) == {"a": {"a": 1, "b": 2}, "b": {"a": 0, "b": 1}}


def test_brier_score() -> None:
    """(0.3² + 0.3²) and, for a hypothesis never named, (1² + 1²): mean of 0.18 and 2."""
    stated = [{"a": 0.7, "b": 0.3}, {"a": 1.0}]
    assert brier_score(stated, ["a", "c"]) == pytest.approx((0.18 + 2.0) / 2)
    assert brier_score([{"a": 1.0}], ["a"]) == 0.0
    assert isnan(brier_score([], []))


def test_reliability_table() -> None:
    """Two bins of width a half; 0.5 is in the upper one, so is 1."""
    low, high = reliability_table([(0.2, False), (0.4, True), (0.5, True), (1.0, True)], bins=2)
    assert (low.low, low.high, low.count) == (0.0, 0.5, 2)
    assert low.stated == pytest.approx(0.3)
    assert low.right == 0.5
    assert (high.count, high.stated, high.right) == (2, 0.75, 1.0)
    assert len(reliability_table([(0.95, True)])) == 1


def test_side_by_side() -> None:
    """A column for each classifier, every line of one width."""
    lines = side_by_side({"first": RESULTS, "second classifier": RESULTS[:2]}).splitlines()
    assert lines[0].split() == ["percent", "first", "second", "classifier"]
    assert lines[5].split()[-2:] == ["50.0", "50.0"]
    assert len({len(line) for line in lines}) == 1
