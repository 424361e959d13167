"""The settled value of one series.

Expected values are closed forms: the limit of an exponential from three readings, the bias of a plain mean while it
settles, the deviation of a slope of independent readings, and processes made with known answers.
"""

from __future__ import annotations

from math import exp, log, sqrt
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from service.uncertainty.series.correlation import decaying, effective_number
from service.uncertainty.series.settled import SettledSeries, TransientPrior, graded, settle

FloatArray = NDArray[Any]

#: A line in K: usual steps, time constants of a minute and of four.
PRIOR = TransientPrior(20.0, 8.0, (60.0, 0.7), (250.0, 0.45), 0.2, 0.56, 0.0)
#: Nothing settles and nothing drifts: a plain mean.
STILL = TransientPrior(1e-6, 1e-6, (60.0, 0.7), (250.0, 0.45), 1e-6, 0.56, 0.0)


def settled(times: FloatArray, values: FloatArray, prior: TransientPrior = PRIOR, **more: float) -> SettledSeries:
    found = settle(
        times, values, scatter=more.get("scatter", 0.05), resolution=more.get("resolution", 0.0), start=0.0, prior=prior
    )
    assert found is not None
    return found


def first_order(rng: np.random.Generator, count: int, first: float) -> FloatArray:
    """A first-order process of unit variance."""
    new = rng.normal(size=count) * np.sqrt(1.0 - first**2)
    found = np.empty(count)
    found[0] = rng.normal()
    for place in range(1, count):
        found[place] = first * found[place - 1] + new[place]
    return found


@pytest.mark.parametrize("readings", [(2, 3, 4), (2, 4, 6), (2, 5, 8)])
def test_an_exponential_comes_to_what_three_readings_give(readings: tuple[int, int, int]) -> None:
    """Limit and time constant from y1, y2, y3 at equal spacing h: (y1 y3 - y2^2) / (y1 + y3 - 2 y2) and
    h / ln((y1 - y2) / (y2 - y3)); here 50 and 2 minutes."""
    one, two, three = (50.0 - 20.0 * exp(-minutes / 2.0) for minutes in readings)
    limit = (one * three - two**2) / (one + three - 2.0 * two)
    assert (readings[1] - readings[0]) / log((one - two) / (two - three)) == pytest.approx(2.0, rel=1e-6)
    times = np.arange(60.0, 60.0 * readings[2] + 1.0, 5.0)
    rng = np.random.default_rng(1)
    found = settled(times, 50.0 - 20.0 * np.exp(-times / 120.0) + 0.02 * rng.normal(size=len(times)))
    assert abs(found.value - limit) < 2.0 * found.uncertainty
    assert found.uncertainty < 0.1 * 20.0 * exp(-readings[0] / 2.0)


def test_the_settled_value_is_free_of_the_bias_of_a_mean() -> None:
    """The mean over t1 to t2 of a step that settles is off by step tau / (t2 - t1) (e^(-t1/tau) - e^(-t2/tau)): 1.71
    of 20 for a time constant of 5 minutes and 10 to 15 minutes."""
    times = np.arange(60.0, 901.0, 5.0)
    values = 50.0 - 20.0 * np.exp(-times / 300.0) + 0.05 * np.random.default_rng(2).normal(size=len(times))
    last = times >= 600.0
    assert values[last].mean() - 50.0 == pytest.approx(-1.71, abs=0.03)
    found = settled(times, values)
    assert abs(found.value - 50.0) < min(2.0 * found.uncertainty, 0.4)
    assert found.extrapolation.added == pytest.approx(20.0 * exp(-3.0), abs=0.4)
    assert found.time_constant is not None
    assert found.time_constant[0] == pytest.approx(300.0, rel=0.25)


@pytest.mark.parametrize("first", [0.0, 0.5, 0.8])
def test_the_mean_of_a_process_is_as_uncertain_as_its_correlation_says(first: float) -> None:
    """Over 40 series the stated variance is never below that of the exact sum; above it, as 20 minutes cannot exclude
    a slower wander, by at most the factor of five that a short series is known to hide."""
    count, rng = 240, np.random.default_rng(12345)
    exact = 1.0 / effective_number(decaying(first, count), count)
    times = np.arange(count) * 5.0
    stated = [settled(times, first_order(rng, count, first), STILL, scatter=1.0).uncertainty ** 2 for _ in range(40)]
    assert exact < float(np.mean(stated)) < 5.0 * exact


def test_more_readings_in_the_same_time_are_not_independent() -> None:
    """Sixteen times as many readings of one slow process do not halve the uncertainty twice."""
    process = first_order(np.random.default_rng(5), 4801, 0.995)
    dense = settled(np.arange(4801) * 0.25, process, STILL)
    sparse = settled(np.arange(301) * 4.0, process[::16], STILL)
    assert dense.uncertainty > 0.7 * sparse.uncertainty


@pytest.mark.parametrize(("count", "spacing"), [(30, 10.0), (60, 5.0)])
def test_a_drift_is_at_least_as_uncertain_as_an_independent_slope(count: int, spacing: float) -> None:
    """Over five minutes u = s sqrt(12) span / (spacing sqrt(n (n^2 - 1))): 0.633 s for 30 readings, 0.447 s for 60."""
    span = count * spacing
    exact = span * sqrt(12.0) / (spacing * sqrt(count * (count**2 - 1)))
    assert exact == pytest.approx({30: 0.633, 60: 0.447}[count], abs=2e-3)
    loose = TransientPrior(1e-6, 1e-6, (60.0, 0.7), (250.0, 0.45), 100.0, 5.0, 0.0)
    rng = np.random.default_rng(6)
    times = np.arange(count) * spacing
    found = [settled(times, rng.normal(size=count), loose, scatter=1.0).drift.uncertainty for _ in range(10)]
    assert exact < float(np.mean(found)) < 2.5 * exact


def test_steadiness_is_judged_by_size() -> None:
    """|drift| and two standard uncertainties against the limit: common practice, no source."""
    assert graded(0.1, 0.2, 1.0) == "steady"
    assert graded(2.0, 0.2, 1.0) == "not_steady"
    # Significant but small is steady; large but unsure is neither.
    assert graded(0.3, 0.01, 1.0) == "steady"
    assert graded(2.0, 1.0, 1.0) == "cannot_tell"


def test_the_grade_follows_the_course() -> None:
    times = np.arange(60.0, 1201.0, 5.0)
    noise = 0.05 * np.random.default_rng(7).normal(size=len(times))
    settling = 290.0 + 10.0 * np.exp(-times / 240.0) + noise
    early, late = times <= 300.0, times > 0.0
    assert settled(times[early], settling[early]).drift.grade == "not_steady"
    assert settled(times[late], settling[late]).drift.grade == "steady"


def test_waiting_narrows_and_what_is_left_is_told() -> None:
    times = np.arange(60.0, 1501.0, 5.0)
    values = 290.0 + 6.0 * np.exp(-times / 60.0) + 2.0 * np.exp(-times / 270.0)
    values = values + 0.05 * np.random.default_rng(8).normal(size=len(times))
    found = [settled(times[times <= 60.0 * minutes], values[times <= 60.0 * minutes]) for minutes in (3, 5, 8, 12, 25)]
    widths = [one.uncertainty for one in found]
    assert widths == sorted(widths, reverse=True)
    assert widths[-1] < 0.1 * widths[0]
    assert all(abs(one.value - 290.0) < 2.5 * one.uncertainty for one in found)
    # 2 K of 270 s are below 0.56 K after 344 s (and what is left of the fast part).
    assert found[0].settles_in[1] <= 344.0 - 180.0 <= found[0].settles_in[2]
    assert found[-1].settles_in[0] == 0.0
    assert found[-1].settled_from == pytest.approx(344.0, abs=150.0)
    assert found[0].settled_from is None


def test_a_display_that_stands_still_hides_the_same_part_of_a_step() -> None:
    """Equal numbers are that number, no better than half a step either way (JCGM 100, F.2.2.1)."""
    found = settled(np.arange(60.0, 900.0, 5.0), np.full(168, 55.5), resolution=0.1, scatter=0.01)
    assert found.value == pytest.approx(55.5, abs=1e-6)
    assert found.uncertainty >= 0.1 / sqrt(12.0)


def test_a_swing_is_reported_and_averaged() -> None:
    times = np.arange(60.0, 1201.0, 5.0)
    rng = np.random.default_rng(9)
    values = 286.0 + 2.0 * np.sin(2.0 * np.pi * times / 140.0) + 0.05 * rng.normal(size=len(times))
    found = settled(times, values)
    assert found.hunting is not None
    assert found.hunting.amplitude == pytest.approx(2.0, rel=0.05)
    assert found.hunting.period == pytest.approx(140.0, rel=0.05)
    assert abs(found.value - 286.0) < 2.0 * found.uncertainty < 1.0


def test_a_swing_of_which_not_three_periods_are_seen_is_not_reported() -> None:
    times = np.arange(60.0, 421.0, 5.0)
    values = 286.0 + 2.0 * np.sin(2.0 * np.pi * times / 200.0) + 0.05 * np.random.default_rng(9).normal(size=len(times))
    found = settled(times, values)
    assert found.hunting is None
    assert abs(found.value - 286.0) < 2.0 * found.uncertainty


def test_noise_is_no_swing() -> None:
    rng = np.random.default_rng(10)
    times = np.arange(60.0, 1201.0, 5.0)
    for first in (0.0, 0.8, 0.9, 0.95):
        assert settled(times, 286.0 + 0.5 * first_order(rng, len(times), first)).hunting is None


def test_gaps_are_left_out_and_too_few_readings_give_nothing() -> None:
    times = np.arange(60.0, 901.0, 5.0)
    rng = np.random.default_rng(11)
    values = 286.0 + 0.05 * rng.normal(size=len(times))
    values[rng.random(len(times)) < 0.3] = np.nan
    found = settled(times, values)
    assert found.count == np.isfinite(values).sum()
    assert found.value == pytest.approx(286.0, abs=0.05)
    values[2:] = np.nan
    assert settle(times, values, scatter=0.1, resolution=0.0, start=0.0, prior=PRIOR) is None
