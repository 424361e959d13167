"""What a technician reads about a unit that had not settled."""

from __future__ import annotations

import pytest

from service.words.settling import in_one_run, in_two_runs


@pytest.mark.parametrize(
    ("minutes", "said"),
    [
        (5.0, "Read after 5 minutes: the unit was still settling."),
        (12.0, "Read after 12 minutes: the unit had nearly settled"),
        (15.0, ""),
        (20.0, ""),
        (None, ""),
    ],
)
def test_one_run_says_how_settled_it_was(minutes: float | None, said: str) -> None:
    """And what to do where that was early; nothing where there is nothing to say."""
    text = in_one_run(minutes)
    assert text.startswith(said)
    assert bool(text) is bool(said)
    assert ("Read again at 15 minutes" in text) is (minutes == 5.0)


def test_two_runs_of_equal_minutes_cancel_and_a_late_second_run_is_asked_for_only_where_it_helps() -> None:
    """Next to a first run that had not settled, a second one that has leaves more, not less, in the change."""
    assert in_two_runs({"before": 20.0, "after": 30.0}) == ""
    assert "Both runs were read after 5 minutes" in in_two_runs({"before": 5.0, "after": 5.0})
    assert in_two_runs({"before": 20.0, "after": 12.0}).startswith("The second run was read after 12 minutes")
    assert "again at 15 minutes" in in_two_runs({"before": None, "after": 5.0})
    assert "again" not in in_two_runs({"before": 5.0, "after": 20.0})
    assert "again" not in in_two_runs({"before": 5.0, "after": 7.0})
