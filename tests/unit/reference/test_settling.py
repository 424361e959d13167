"""What a start has left of its step, against closed forms and common practice."""

from __future__ import annotations

from math import exp, hypot

import pytest

from schemas.readings import READINGS
from service.reference.settling import GROUPS, OF_THE_UNIT, STEPS, USUAL_MINUTES, GroupName, left


def rest(group: GroupName, minutes: float | None) -> float:
    """Root mean square of all parts together."""
    return hypot(*(part.size for part in left(group, minutes)))


@pytest.mark.parametrize("group", GROUPS)
@pytest.mark.parametrize(("minutes", "left_of_20"), [(5, 2.70), (10, 1.13), (15, 0.49)])
def test_what_is_left_is_within_the_usual_two_exponentials(group: GroupName, minutes: float, left_of_20: float) -> None:
    """0.7 with 1 minute and 0.3 with 6 minutes of a 20 °F step leave 2.70, 1.13 and 0.49 °F (closed form): the
    slowest that is allowed for here, so the root mean square is below that, and not by much."""
    slowest = 20.0 * (0.7 * exp(-minutes) + 0.3 * exp(-minutes / 6.0))
    assert slowest == pytest.approx(left_of_20, abs=0.01)
    assert 0.5 * slowest < 20.0 * rest(group, minutes) < slowest


@pytest.mark.parametrize("group", GROUPS)
def test_more_minutes_leave_less_and_an_hour_leaves_nothing(group: GroupName) -> None:
    """Definition; at 15 minutes less than 2 % of the step, at 12 about 3 %, at 5 a tenth (common practice)."""
    sizes = [rest(group, minutes) for minutes in (0, 1, 2, 3, 5, 8, 10, 12, 15, 20, 60)]
    assert sizes == sorted(sizes, reverse=True)
    assert sizes[-1] == 0.0
    assert rest(group, 15) < 0.02 < rest(group, 12) < 0.04
    assert 0.08 < rest(group, 5) < 0.15


def test_minutes_that_nobody_stated_are_between_the_usual_ones() -> None:
    """An average over 3 to 20 minutes: more than at 15, less than at 3."""
    assert sum(chance for _, chance in USUAL_MINUTES) == pytest.approx(1.0)
    for row in GROUPS.values():
        group = row.name
        assert rest(group, 15) < rest(group, None) < rest(group, 3)
        # Nobody knows that two such runs were equally long, so they have less in common.
        assert all(part.alike < part.size for part in left(group, None))


def test_starts_of_one_unit_have_most_in_common() -> None:
    """Above one half, equal minutes leave less in a change than a second run that has settled: 2 (1 - s) < 1."""
    assert 0.5 < OF_THE_UNIT < 1.0


def test_each_step_is_of_a_reading_and_a_group() -> None:
    """Only readings that a start moves; a relative step is a share."""
    assert set(STEPS) <= set(READINGS)
    assert {row.group for row in STEPS.values()} == set(GROUPS)
    for row in STEPS.values():
        kind = READINGS[row.reading].kind
        assert row.relative is (kind not in ("temperature", "fraction")), row.reading


@pytest.mark.parametrize(("minutes", "half_width"), [(5, 2.7), (15, 0.5)])
def test_superheat_is_allowed_about_what_the_usual_arithmetic_gives(minutes: float, half_width: float) -> None:
    """±2.7 °F at 5 and ±0.5 °F at 15 minutes of a 20 °F step (common practice, no source), to a third."""
    line, saturation = (STEPS[name].size for name in ("suction_line_temperature", "suction_saturation_temperature"))
    spread = 1.8 * hypot(line * rest("suction_lines", minutes), saturation * rest("low_side", minutes))
    assert 1.96 * spread == pytest.approx(half_width, rel=0.34)
