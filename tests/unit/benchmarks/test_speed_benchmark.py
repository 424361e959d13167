"""The arithmetic of the speed benchmark, without a clock."""

from __future__ import annotations

import cProfile
import math

import pytest

from service.batches.answers import answer_lines
from tests.benchmarks.fleet_visits import lines
from tests.benchmarks.speed.growth import slope
from tests.benchmarks.speed.rows import Row, ratio, table
from tests.benchmarks.speed.servers import ROOT
from tests.benchmarks.speed.stages import ROOMS, room, shares


def test_a_power_law_has_its_exponent_as_slope() -> None:
    value, error = slope([1, 4, 16, 64], [3.0, 6.0, 12.0, 24.0])
    assert value == pytest.approx(0.5)
    assert error == pytest.approx(0.0, abs=1e-12)


def test_a_scattered_slope_has_the_standard_error_of_a_line() -> None:
    """Closed form: residuals of alternating sign about a flat line (textbook simple regression)."""
    sizes = [1, 2, 4, 8]
    _, error = slope(sizes, [math.exp(e) for e in (0.1, -0.1, -0.1, 0.1)])
    step = math.log(2.0)
    assert error == pytest.approx(math.sqrt(0.04 / 2 / (5.0 * step * step)))


def test_ratios_are_taken_round_by_round() -> None:
    found = ratio([2.0, 20.0, 8.0], [1.0, 10.0, 2.0])
    assert found.median == 2.0
    assert found.quartiles == (2.0, 3.0)


@pytest.mark.parametrize(
    ("value", "share", "target", "of", "at_most", "reached"),
    [
        (5.0, 0.4, 0.35, "ratio", False, True),
        (5.0, 0.3, 0.35, "ratio", False, False),
        (150.0, 3.0, 200.0, "value", True, True),
        (250.0, 3.0, 200.0, "value", True, False),
        (5.0, 0.4, None, "ratio", False, None),
    ],
)
def test_a_target_is_of_the_ratio_or_of_the_value(
    value: float, share: float, target: float | None, of: str, at_most: bool, reached: bool | None
) -> None:
    row = Row("part", "what", value, "ms", share, "floor", None, target, of, at_most)
    assert row.reached is reached
    assert row.document()["reached"] is reached
    shown = {True: "| yes |", False: "| no |", None: "|  |"}[reached]
    assert table([row]).splitlines()[-1].endswith(shown)


def test_every_module_that_answers_has_a_room() -> None:
    """Files of the service fall into a room, reference tables and nothing else into their callers'."""
    folders = ("assess", "batches", "edge", "physics", "uncertainty")
    files = [file for folder in folders for file in (ROOT / "service" / folder).rglob("*.py")]
    assert len(files) > 30
    assert [file for file in files if room((str(file), 1, "f")) is None] == []
    assert room((str(ROOT / "service" / "reference" / "units.py"), 1, "f")) is None
    assert all(any(ROOT.glob(f"{beginning}*")) or beginning.endswith("/") for beginning in ROOMS)


def test_shares_of_a_profile_cover_all_of_it() -> None:
    fleet = list(lines(4, seed=1))
    with cProfile.Profile() as profile:
        answer_lines(fleet, detail="grades")
    found = shares(profile)
    assert sum(found.values()) == pytest.approx(1.0)
    rooms = {name for name in ROOMS.values() if name}
    assert found.keys() <= rooms | {"serialising", "other"}
    for stage in ("parsing and checking", "intake", "physics", "bands and balances", "serialising"):
        assert found[stage] > 0.0, stage
