"""How a change is judged, what a plan promises and what a saving is worth, against closed forms."""

from __future__ import annotations

import copy
from datetime import UTC, datetime
from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.stats import lognorm, norm

from schemas.comparisons import ComparisonRequest
from schemas.examples import comparison_examples
from service.compare import plan, quantities, tests_of_change, trend
from service.compare.comparison import examined_runs, prepared
from service.compare.fusion import Fusion, fuse
from service.compare.quantities import Judgement
from service.compare.worth import worth
from service.derive.examined import Examined
from service.uncertainty.asking import done
from service.uncertainty.mixture import Normals
from service.uncertainty.propagation import Variable
from service.unit.evidence import evidence, joint, owners
from service.unit.model import FOUND, LEFT, Outputs
from service.unit.predictor import rows_of
from service.words.comparison import Obstacle
from tests.answers import untyped

FloatArray = NDArray[np.float64]


def certain(value: float, deviation: float = 0.0) -> Normals:
    return Normals(np.ones(1), np.array([value]), np.array([deviation]))


# ---------------------------------------------------------------- power and equivalence


@pytest.mark.parametrize("ratio", [0.0, 0.2, 1.0, 1.7])
def test_power_of_a_two_sided_test(ratio: float) -> None:
    """Normal scores beyond +-1.96, against SciPy; five and eighty percent by definition."""
    score = ratio * (norm.ppf(0.975) + norm.ppf(0.8))
    expected = norm.sf(norm.ppf(0.975) - score) + norm.cdf(norm.ppf(0.025) - score)
    assert plan._power(0.3 * ratio, 0.3) == pytest.approx(expected, abs=1e-6)
    if ratio in (0.0, 1.0):
        assert plan._power(0.3 * ratio, 0.3) == pytest.approx([0.05, 0.80][int(ratio)], abs=1e-3)


@pytest.mark.parametrize(
    ("mean", "deviation", "expected"),
    # Both ends at 5 and -4; the nearer at 1.96 deviations is the bound of two one-sided 2.5 % tests.
    [
        (0.0, 2.03, True),
        (0.0, 2.05, False),
        (3.0, 1.01, True),
        (3.0, 1.03, False),
        (-3.0, 0.50, True),
        (-3.0, 0.52, False),
    ],
)
def test_two_one_sided_tests(mean: float, deviation: float, expected: bool) -> None:
    """Schuirmann (1987) at half his level, so that the 95 % interval that is shown lies within the ends."""
    assert tests_of_change.equivalent(certain(mean, deviation), (-4.0, 5.0), 1.0) is expected


def test_readings_that_could_not_show_a_change_show_no_equivalence() -> None:
    """Detectable is 2.80 standard errors, and 1.645 of them must fit under the end: 5 x 2.80 / 1.645."""
    change, largest = certain(0.0, 0.1), 5.0 * 2.8016 / 1.6449
    assert tests_of_change.equivalent(change, (-4.0, 5.0), 0.999 * largest)
    assert not tests_of_change.equivalent(change, (-4.0, 5.0), 1.001 * largest)


def test_a_logarithm_as_a_change_of_the_value() -> None:
    """20 (e^0.1 - 1); one that doubles the value is none that happens."""
    assert tests_of_change.absolute(0.1, -20.0) == pytest.approx(2.10342)
    assert tests_of_change.absolute(0.69, 1.0) == pytest.approx(0.99372, abs=1e-5)
    assert tests_of_change.absolute(0.70, 1.0) is None
    assert tests_of_change.absolute(float("inf"), 1.0) is None
    moved = quantities.times(certain(np.log(1.1), 0.02), -50.0)
    assert moved.mean == pytest.approx(-5.0)
    # d(e^x) = e^x dx.
    assert moved.deviation == pytest.approx(50.0 * 1.1 * 0.02)


# ---------------------------------------------------------------- verdicts


def judgement(**parts: Any) -> Judgement:  # noqa: ANN401
    usual: dict[str, Any] = {
        "change": certain(1.0, 0.1),
        "band": (0.8, 1.2),
        "matters": 1.0,
        "detectable": 0.5,
        "improved": 0.5,
        "worsened": 0.5,
        "neither": 0.0,
        "rose": 0.5,
        "within": 0.0,
        "equivalent": False,
        "judged_by": "higher",
        "method": "",
    }
    return Judgement(**(usual | parts))


@pytest.mark.parametrize(
    ("parts", "verdict"),
    [
        ({"improved": 0.975, "worsened": 0.025}, "improved"),
        ({"improved": 0.974, "worsened": 0.026}, "inconclusive"),
        ({"improved": 0.025, "worsened": 0.975}, "worsened"),
        ({"improved": None, "worsened": None, "rose": 0.98, "judged_by": "neither"}, "neither"),
        ({"improved": None, "worsened": None, "rose": 0.02, "judged_by": "neither"}, "neither"),
        ({"improved": None, "worsened": None, "rose": 0.03, "judged_by": "neither"}, "inconclusive"),
        # Within its limits at both visits: it moved, and is neither better nor worse.
        ({"improved": 0.0, "worsened": 0.0, "neither": 1.0, "rose": 0.99, "judged_by": "x"}, "neither"),
        ({"improved": 0.3, "worsened": 0.2, "neither": 0.5, "rose": 0.99, "judged_by": "x"}, "inconclusive"),
        ({"equivalent": True, "improved": 0.99, "worsened": 0.01}, "no_material_change"),
    ],
)
def test_verdicts(parts: dict[str, Any], verdict: str) -> None:
    """97.5 % for a direction; none at all where the one test of any change shows none."""
    assert judgement(**parts).verdict(changed=True) == verdict
    without = judgement(**parts).verdict(changed=False)
    assert without == ("no_material_change" if parts.get("equivalent") else "inconclusive")


@pytest.mark.parametrize(
    ("start", "mean", "deviation", "improved", "worsened"),
    [
        # Over the upper limit of 10 by 3: nearer with the probability of a fall, Phi(1).
        (13.0, -1.0, 1.0, norm.cdf(1.0), norm.cdf(-1.0)),
        (2.0, -1.0, 1.0, norm.cdf(-1.0), norm.cdf(1.0)),
        (7.0, 1.0, 0.2, 0.0, 0.0),
        (9.0, 4.0, 0.2, 0.0, 1.0),
        (4.0, 2.0, 0.2, 1.0, 0.0),
    ],
)
def test_distance_from_limits_on_both_sides(
    start: float, mean: float, deviation: float, improved: float, worsened: float
) -> None:
    """Limits 5 and 10, normal distribution in 25 slices."""
    found = quantities._against((5.0, 10.0), start, 1e-9, certain(mean, deviation))
    assert found == pytest.approx((improved, worsened), abs=0.021)


def test_distance_from_one_limit() -> None:
    for bounds, start in (((None, 10.0), 12.0), ((5.0, None), 3.0)):
        toward = np.sign(6.0 - start)
        assert quantities._against(bounds, start, 1e-9, certain(toward, 0.1)) == (1.0, 0.0)
        assert quantities._against(bounds, start, 1e-9, certain(-toward, 0.1)) == (0.0, 1.0)


def test_numbers_as_they_are_shown() -> None:
    """Seven digits, four decimals, no negative zero, percents of logarithms."""
    assert quantities.rounded(1234.56789) == 1234.568
    assert str(quantities.rounded(-0.0)) == "0.0"
    assert [quantities.share(value) for value in (-1e-9, 0.123456, 1.0 + 1e-9)] == [
        0.0,
        0.1235,
        1.0,
    ]
    assert quantities.percent_of(np.log(1.05)) == pytest.approx(5.0)
    middle, low, high = quantities.percents(certain(np.log(0.9), 0.01))
    assert middle == pytest.approx(-10.0)
    assert (low, high) == pytest.approx([100 * (0.9 * np.exp(s * 0.0196) - 1) for s in (-1, 1)], abs=1e-3)


# ---------------------------------------------------------------- errors that both runs share


def test_a_shared_error_cancels_in_a_change_and_new_ones_add() -> None:
    """sqrt(0.3^2 + 0.4^2), and 0.12 of curvature at each (JCGM 100, 5.2.2 with r = 1 for the shared)."""

    def side(value: float, own: float, calibration: int) -> Examined:
        variables = [Variable((), 2.0, "gauge", calibration), Variable((), own, "reading")]
        summary = SimpleNamespace(
            value=np.array([99.0, value]),
            slopes=np.array([[9.0, 9.0], [1.5, 1.0]]),
            standard_uncertainty=np.array([1.0, np.sqrt(9.0 + own**2 + 0.12**2)]),
            variance_by_variable=np.array([[0.0, 0.0], [9.0, own**2]]),
        )
        return cast(
            Examined,
            SimpleNamespace(kept={"superheat": 1}, summary=summary, visit=SimpleNamespace(variables=variables)),
        )

    alike = quantities.as_read(side(5.0, 0.3, 7), side(8.0, 0.4, 7), {})
    assert (alike.names, alike.before[0], alike.after[0]) == (("superheat",), 5.0, 8.0)
    assert alike.deviations[0] == pytest.approx(np.sqrt(0.25 + 2 * 0.12**2))
    other = quantities.as_read(side(5.0, 0.3, 7), side(8.0, 0.4, 8), {8: 7})
    # Two gauges of 3 each; with one gauge the error cancels.
    assert other.deviations[0] == pytest.approx(np.sqrt(18.0 + 0.25 + 2 * 0.12**2))
    assert other.deviations_if_alike[0] == pytest.approx(alike.deviations[0])


def test_errors_of_several_visits_on_one_list() -> None:
    """A key met again is the same variable; one within a visit too; variances as they are."""
    one = [Variable((), 2.0, "gauge", 7), Variable((), 1.0, "a"), Variable((), 3.0, "gauge", 7)]
    two = [Variable((), 1.0, "b"), Variable((), 2.0, "gauge", 7)]
    slopes, variances = joint([np.array([[1.0, 2.0, 4.0]]), np.array([[5.0, 6.0]])], [one, two])
    assert slopes.tolist() == [[5.0, 2.0, 0.0], [6.0, 0.0, 5.0]]
    assert variances.tolist() == [4.0, 1.0, 1.0]
    assert owners([one, two]) == ["gauge", "a", "b"]


# ---------------------------------------------------------------- the fitted model


@pytest.fixture(scope="module")
def fusion() -> Fusion:
    """Of an example."""
    body = copy.deepcopy(dict(comparison_examples()["coil_cleaned"]))
    request = ComparisonRequest.model_validate(body)
    runs = {"before": request.runs.before, "after": request.runs.after}
    first, second = examined_runs(request, runs)
    parts = prepared(first, evidence(first), evidence(second))
    assert not isinstance(parts, Obstacle)
    found = done(fuse(*parts))
    assert found is not None
    return found


def test_what_limits_an_estimate_adds_up_to_its_posterior_variance(fusion: Fusion) -> None:
    """Two ways to one number: variance brought by each error, and that of the conditional normal
    distribution (Rodgers 2000, 2.3.2 and 3.2)."""
    top = max(fusion.explanations, key=lambda one: one.probability)
    _, gradients = fusion.slopes(top, FOUND, LEFT, ("eer",), (True,))
    shares, deviation = tests_of_change.limits(fusion)
    expected = float(gradients[0] @ top.found.covariance @ gradients[0])
    assert deviation == pytest.approx(np.sqrt(expected), rel=1e-3)
    assert sum(shares.values()) == pytest.approx(1.0, abs=0.02)
    assert min(shares.values()) >= 0.005


def test_instruments_as_they_are_cost_what_they_cost(fusion: Fusion) -> None:
    """With nothing taken for something else, the deviation is that of the fit itself."""
    assert tests_of_change.deviation_if_alike(fusion, {}) == pytest.approx(tests_of_change.limits(fusion)[1], rel=1e-3)


def test_errors_of_half_the_size_never_hurt(fusion: Fusion) -> None:
    """And an instrument that read nothing changes nothing; one that did brings a quarter of its variance."""
    assert plan._halved(fusion, "no such instrument").errors == pytest.approx(fusion.errors)
    owner = next(o for o in owners([e.variables for e in fusion.evidence]) if o.startswith("gauges"))
    bettered = plan._halved(fusion, owner)
    taken = fusion.errors - bettered.errors
    assert np.linalg.eigvalsh(taken).min() > -1e-9
    assert np.diagonal(taken).max() > 0.0
    again = plan._halved(bettered, owner)
    # 1 - 1/4 is taken first, and 1/4 - 1/16 then.
    assert fusion.errors - again.errors == pytest.approx(taken * (15.0 / 16.0) / (3.0 / 4.0), abs=1e-12)
    shown, better = tests_of_change.showing(fusion), tests_of_change.showing(bettered)
    assert all(better[name].usual <= shown[name].usual * (1.0 + 1e-9) for name in shown)


def test_probabilities_of_causes_are_a_distribution(fusion: Fusion) -> None:
    assert sum(fusion.probabilities.values()) == pytest.approx(1.0)
    assert sum(one.probability for one in fusion.explanations) == pytest.approx(1.0)
    assert max(fusion.probabilities, key=lambda n: fusion.probabilities[n]) == "condenser_heat_transfer"


def test_no_rows_of_no_outputs() -> None:
    values, gradients = rows_of(Outputs({"eer": 0}, np.array([[3.0, 0.3, 0.6]])), [], [])
    assert (values.shape, gradients.shape) == ((0,), (0, 2))
    values, gradients = rows_of(Outputs({"eer": 0}, np.array([[3.0, 0.3, 0.6]])), ["eer", "eer"], [True, False])
    assert values == pytest.approx([np.log(3.0), 3.0])
    # d ln x = dx / x.
    assert gradients == pytest.approx(np.array([[0.1, 0.2], [0.3, 0.6]]))


# ---------------------------------------------------------------- worth


def first_run(
    energy: float = 1000.0,
    deviation: float = 0.0,
    hours: float | None = 900.0,
    price: float | None = 0.2,
) -> Examined:
    """A unit that takes so many kWh a year."""
    joules = 3.6e6
    return cast(
        Examined,
        SimpleNamespace(
            request=SimpleNamespace(usage=SimpleNamespace(cooling_hours=hours, energy_price=price)),
            unit=SimpleNamespace(mode="cooling"),
            kept={"seasonal_energy": 0},
            summary=SimpleNamespace(
                value=np.array([energy * joules]),
                standard_uncertainty=np.array([deviation * joules]),
            ),
        ),
    )


def test_saving_of_a_certain_gain() -> None:
    """A tenth more efficiency saves 1,000 (1 - 1/1.1) = 90.9 kWh, 18.18 of money; 100 is back in 5.5 years."""
    answer = untyped(worth(first_run(), certain(np.log(1.1), 1e-9), 100.0))
    assert answer["energy_saved"]["value"] == pytest.approx(90.909, rel=1e-4)
    assert answer["money_saved"]["value"] == pytest.approx(18.182, rel=1e-4)
    assert answer["payback_years"] == pytest.approx(5.5, rel=1e-4)
    assert answer["payback_band"] == pytest.approx([5.5, 5.5], rel=1e-4)
    assert answer["probability_paid_within_a_year"] == 0.0
    for words in (
        "91 kWh (95 %: 91 to 91)",
        "18 in your currency",
        "about 5.5 years",
        "95 %: 5.5 years to 5.5 years",
        "within a year: under 0.01",
    ):
        assert words in answer["sentence"]
    quick = untyped(worth(first_run(), certain(np.log(1.1), 1e-9), 18.0))
    assert quick["probability_paid_within_a_year"] == 1.0
    assert "within a year: over 0.99" in quick["sentence"]


def test_band_of_an_uncertain_gain() -> None:
    """1 - e^-x is monotone: its ends are those of x, here 0.1 +- 1.96 x 0.03; to the grid's hundredth."""
    answer = untyped(worth(first_run(), certain(0.1, 0.03), 100.0))["energy_saved"]
    ends = [1000.0 * (1.0 - np.exp(-(0.1 + s * 1.96 * 0.03))) for s in (-1.0, 0.0, 1.0)]
    found = [answer["band"]["low"], answer["value"], answer["band"]["high"]]
    assert found == pytest.approx(ends, abs=0.5)
    assert answer["standard_uncertainty"] == pytest.approx(30.0 * np.exp(-0.1), rel=0.01)


def test_energy_of_the_season_is_as_uncertain_as_it_is() -> None:
    """A lognormal factor of mean one and relative deviation 0.2, against SciPy."""
    answer = untyped(worth(first_run(deviation=200.0), certain(np.log(1.1), 1e-9), None))["energy_saved"]
    factor = lognorm(s=0.2, scale=np.exp(-0.02))
    assert answer["band"]["low"] == pytest.approx(90.909 * factor.ppf(0.025), rel=3e-3)
    assert answer["band"]["high"] == pytest.approx(90.909 * factor.ppf(0.975), rel=3e-3)
    assert answer["standard_uncertainty"] == pytest.approx(90.909 * factor.std(), rel=0.01)


def test_no_gain_never_pays_back() -> None:
    """A certain loss; a gain that may be none pays back at best; 50 years are the far end."""
    lost = untyped(worth(first_run(), certain(np.log(0.9), 1e-9), 100.0))
    assert (lost["payback_years"], lost["payback_band"]) == (None, [None, None])
    assert "does not pay back by energy within 50 years" in lost["sentence"]
    assert "never to never" in lost["sentence"]
    perhaps = untyped(worth(first_run(), certain(0.0, 0.05), 100.0))
    assert perhaps["payback_years"] is None
    assert perhaps["payback_band"][0] is not None
    assert perhaps["payback_band"][1] is None
    assert "not shown" in perhaps["sentence"]
    # 18.18 a year for 50 years are 909.
    assert worth(first_run(), certain(np.log(1.1), 1e-9), 908.0)["payback_years"] == pytest.approx(49.94)
    assert worth(first_run(), certain(np.log(1.1), 1e-9), 910.0)["payback_years"] is None


@pytest.mark.parametrize(
    ("run", "efficiency", "words"),
    [
        (first_run(hours=None), certain(0.1), "hours of cooling"),
        (first_run(), None, "do not give the change of efficiency"),
        (first_run(price=None), certain(0.1, 1e-9), "Energy saved a year: 95 kWh"),
    ],
)
def test_what_is_not_known_is_not_estimated(run: Examined, efficiency: Normals | None, words: str) -> None:
    answer = untyped(worth(run, efficiency, 100.0))
    assert words in answer["sentence"]
    assert answer["money_saved"] is None
    assert answer["payback_years"] is None
    bare = first_run()
    bare.kept.clear()
    assert "energy of a season" in worth(bare, certain(0.1), None)["sentence"]


# ---------------------------------------------------------------- dates


def test_dates_ahead() -> None:
    """Years of 365.25 days; beyond what is worth a date there is none."""
    last = datetime(2026, 6, 1, tzinfo=UTC)
    assert trend._date(last, 2.0) == "2028-05-31T12:00:00+00:00"
    assert trend._date(last, float("inf")) is None
    assert trend._date(last, 1e4) is None
