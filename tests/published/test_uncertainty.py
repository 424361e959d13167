"""The uncertainty model against JCGM 100, JCGM 101, GTC, uncertainties and a large Monte Carlo."""

from __future__ import annotations

import math
from collections.abc import Callable

import GTC as gtc  # noqa: N811
import numpy as np
import pytest
import uncertainties

from service.uncertainty.conformity import decide, probabilities_within
from service.uncertainty.error_terms import ErrorTerm
from service.uncertainty.low_discrepancy import DEFAULT_DRAWS
from service.uncertainty.propagation import (
    Summary,
    Variable,
    gathered,
    slopes_of,
    summarise,
    variable,
)
from tests.conftest import Assess, visit
from tests.nightly import AT_NIGHT

DRAWS = DEFAULT_DRAWS


def rows(*terms: ErrorTerm) -> np.ndarray:
    inputs = gathered([variable([term], "") for term in terms], DRAWS)
    return inputs.basis.draws * inputs.scale[:, None]


def summary_of(draws: np.ndarray, terms: list[ErrorTerm]) -> Summary:
    """Statistics of one quantity made from the terms."""
    variables = [variable([term], "") for term in terms]
    return summarise(draws[None], gathered(variables, DRAWS), np.ones((1, len(terms)), dtype=bool))


def normal(dimension: int, scale: float = 1.0) -> ErrorTerm:
    return ErrorTerm(dimension, "normal", scale)


def rectangular(dimension: int, scale: float = math.sqrt(3)) -> ErrorTerm:
    return ErrorTerm(dimension, "rectangular", scale)


def total(terms: list[ErrorTerm]) -> Summary:
    """Statistics of the plain sum of the terms."""
    return summary_of(rows(*terms).sum(axis=0), terms)


# JCGM 101:2008 clause 9.2: four inputs added. Printed values from memory; the same values come from
# 4 million pseudo-random trials of a general-purpose library.
@pytest.mark.parametrize(
    ("terms", "spread", "end"),
    [
        ([normal(k) for k in range(4)], 2.00, 3.92),
        ([rectangular(k) for k in range(4)], 2.00, 3.88),
        ([*(rectangular(k) for k in range(3)), rectangular(3, 10 * math.sqrt(3))], 10.15, 17.0),
    ],
    ids=["9.2.2 four normal", "9.2.3 four rectangular", "9.2.4 one dominates"],
)
def test_additive_model_of_jcgm_101(terms: list[ErrorTerm], spread: float, end: float) -> None:
    """Band ends within 3 % of the band."""
    summary = total(terms)
    assert summary.standard_uncertainty[0] == pytest.approx(spread, rel=0.015)
    assert summary.low[0] == pytest.approx(-end, abs=0.03 * 2 * end)
    assert summary.high[0] == pytest.approx(end, abs=0.03 * 2 * end)


def test_mass_calibration_of_jcgm_101() -> None:
    """JCGM 101 clause 9.3: u 0.0755 mg, where first-order propagation says 0.0539.

    Printed values from memory (1.2341, 0.0754). The answer is skewed by a product of errors, which
    only propagation of distributions sees.
    """
    terms = [normal(0, 0.050), normal(1, 0.020), rectangular(2, 0.10), rectangular(3, 1000), rectangular(4, 50)]
    weight, small, air, mass_density, reference_density = np.array([100_000, 1.234, 1.20, 8000, 8000])[:, None] + rows(
        *terms
    )
    deviation = (weight + small) * (1 + (air - 1.2) * (1 / mass_density - 1 / reference_density))
    summary = summary_of(deviation - 100_000, terms)
    assert summary.value[0] == pytest.approx(1.234, abs=0.001)
    assert summary.standard_uncertainty[0] == pytest.approx(0.0754, rel=0.03)
    assert summary.low[0] == pytest.approx(1.0834, abs=0.03 * 0.3)
    assert summary.high[0] == pytest.approx(1.3825, abs=0.03 * 0.3)


def test_gum_h2_resistance() -> None:
    """JCGM 100 H.2, R = V cos(phi) / I with correlated inputs: 127.73 ± 0.07 ohm.

    Inputs as in the GTC library's example GUM_H2; printed 127.732 and 0.071. The correlated inputs
    are built from shared terms with the standard's correlation matrix.
    """
    means = np.array([4.9990, 19.6610e-3, 1.04446])
    u = np.array([0.0032, 0.0095e-3, 0.00075])
    r = np.array([[1, -0.36, 0.86], [-0.36, 1, -0.65], [0.86, -0.65, 1]])
    factor = np.linalg.cholesky(r) * u[:, None]
    terms = [normal(k) for k in range(3)]
    v, i, phi = means[:, None] + factor @ rows(*terms)
    summary = summary_of(v * np.cos(phi) / i, terms)
    assert summary.value[0] == pytest.approx(127.732, abs=0.001)
    assert summary.standard_uncertainty[0] == pytest.approx(0.071, rel=0.03)


def test_a_shared_calibration_error_cancels_as_gtc_says() -> None:
    """Difference of two readings of one probe: only what is not shared remains (JCGM 100, 5.2)."""
    shared, own = 0.5, 0.1
    offset = gtc.ureal(0, shared)
    theirs = (20 + offset + gtc.ureal(0, own)) - (12 + offset + gtc.ureal(0, own))
    terms = [normal(0, shared), normal(1, own), normal(2, own)]
    common, first, second = rows(*terms)
    ours = summary_of((20 + common + first) - (12 + common + second), terms)
    assert ours.standard_uncertainty[0] == pytest.approx(gtc.uncertainty(theirs), rel=0.01)


# ---------------------------------------------------------------- whole visits


def test_superheat_band_against_closed_form(assessed: Assess) -> None:
    """Published instrument limits: gauges ±3.5 psi, thermometers ±(1.3 °F + 0.1 %).

    First-order propagation of rectangular limits in closed form (JCGM 100, 4.3.7 and 5.1.2), with
    dT/dp from direct CoolProp calls: 0.439 and 0.688 °F per psi at a dew point of 40 °F.
    """
    for refrigerant, psig, slope in (("R-410A", 118.35, 0.439), ("R-22", 68.56, 0.688)):
        answer = assessed(
            visit(
                unit={"refrigerant": refrigerant},
                kit={
                    "gauge": {
                        "type": "analog_gauge",
                        "accuracy": {"fixed": 3.5, "resolution": 0.001, "unit": "psi"},
                        "repeatability": 0,
                    },
                    "clamp": {
                        "type": "thermistor_pipe_clamp",
                        "accuracy": {
                            "fixed": 1.355,
                            "resolution": 0.001,
                            "unit": "delta_degF",
                        },
                        "repeatability": 0,
                    },
                },
                site={"barometric_pressure": 14.696},
                readings={"suction_pressure": psig, "suction_line_temperature": 55.0},
            )
        )
        superheat = answer["derived"]["superheat"]
        # The clamp's placement (±0.75 K, and 2.4 % of the 18 K that air around is usually warmer) is ours
        # on top of the published limits.
        halves = (3.5 * slope, 1.355, 0.75 * 1.8, 0.024 * 18.0 * 1.8)
        closed_form = math.sqrt(sum(half**2 for half in halves) / 3)
        assert superheat["standard_uncertainty"] == pytest.approx(closed_form, rel=0.01)


def test_capacitor_band_against_a_general_uncertainty_library(assessed: Assess) -> None:
    """The uncertainties package, first order: relative errors of current and voltage add."""
    amps = uncertainties.ufloat(5.0, math.sqrt((0.15**2 + 0.005**2) / 3 + 0.02**2))
    volts = uncertainties.ufloat(348.2, math.sqrt((3.782**2 + 0.05**2) / 3 + 0.2**2))
    theirs = 1e6 * amps / (2 * math.pi * 60 * volts)
    answer = assessed(
        visit(
            unit={"nameplate": {"frequency": 60}},
            kit={"meter": {"type": "clamp_meter"}},
            readings={
                "compressor_start_winding_current": 5.0,
                "capacitor_voltage": {"compressor": 348.2},
            },
        )
    )
    ours = answer["derived"]["compressor_run_capacitance"]
    assert ours["value"] == pytest.approx(theirs.nominal_value, rel=1e-6)
    assert ours["standard_uncertainty"] == pytest.approx(theirs.std_dev, rel=0.02)


@pytest.mark.slow
@pytest.mark.parametrize("name", ["r22_fixed_orifice", "r454b_heat_pump_cooling"])
def test_bands_of_an_example_agree_with_pseudo_random_trials(
    name: str, assessed: Assess, monkeypatch: pytest.MonkeyPatch
) -> None:
    """JCGM 101: every band end within 3 % of the band's width, every u within 1 %.

    The reference uses the same functions on pseudo-random draws (blocks of 10^5, mirrored: two in CI, ten at
    night), so it checks the sample, its quantiles and its 256 draws, not the physics.  An end of a band of
    2 10^5 draws is uncertain by 0.15 % of its width (JCGM 101, 7.9.1, a standard deviation).
    """
    from schemas.assessments import AssessmentRequest
    from schemas.examples import examples
    from service.derive import computation, examined
    from service.intake import entry, take_in
    from service.uncertainty import propagation
    from service.uncertainty.error_terms import DIMENSIONS
    from service.uncertainty.low_discrepancy import Sample

    body = examples()[name]
    request = AssessmentRequest.model_validate(body)
    derived = assessed(body)["derived"]
    blocks: dict[str, list[np.ndarray]] = {name: [] for name in derived}
    for block in range(10 if AT_NIGHT else 2):
        generator = np.random.default_rng(block)

        class Lazy(Sample):
            """Draws each error dimension when it is first asked for."""

        def table(draw: Callable[[int], np.ndarray]) -> dict[int, np.ndarray]:
            kept: dict[int, np.ndarray] = {}

            class Rows(dict[int, np.ndarray]):
                shape = (DIMENSIONS, 100_001)

                def __missing__(self, key: int) -> np.ndarray:
                    # Mirrored as the service's own are: its slopes are those of mirrored draws.
                    half = draw(50_000)
                    pairs = np.stack([half, -half], axis=-1).ravel()
                    return kept.setdefault(key, np.concatenate([[0.0], pairs]))

            return Rows()

        source = Lazy(
            table(lambda n, g=generator: g.uniform(-1, 1, n)),  # type: ignore[arg-type, misc]
            table(lambda n, g=generator: g.standard_normal(n)),  # type: ignore[arg-type, misc]
        )
        for module in (entry, propagation):
            monkeypatch.setattr(module, "sample", lambda draws, s=source: s)
        propagation.basis.cache_clear()
        taken = take_in.take_in(request)
        values = computation.compute(taken, taken.given, examined.unit_kind(request, taken)).shown
        for quantity, parts in blocks.items():
            parts.append(values[quantity][1:])
    propagation.basis.cache_clear()
    from service.derive.derivations import QUANTITIES
    from service.reference.units import conversion

    for quantity, parts in blocks.items():
        trials = np.concatenate(parts)
        unit = conversion(QUANTITIES[quantity].kind, derived[quantity]["unit"])
        low, high = (unit.from_si(float(q)) for q in np.quantile(trials, (0.025, 0.975)))
        band = derived[quantity]["band"]
        width = high - low
        assert band["low"] == pytest.approx(low, abs=0.03 * width + 1e-9), quantity
        assert band["high"] == pytest.approx(high, abs=0.03 * width + 1e-9), quantity
        assert derived[quantity]["standard_uncertainty"] == pytest.approx(
            trials.std() / unit.scale, rel=0.01, abs=1e-12
        ), quantity


def test_the_size_of_an_error_is_in_its_slope() -> None:
    """3 x - 2 y of errors 0.01 and 4: slopes 3 and -2, shares (0.03)^2 and 8^2 (JCGM 100, 5.1.2)."""
    terms = [rectangular(0, 0.01 * math.sqrt(3)), normal(1, 4.0)]
    drawn = rows(*terms)
    draws = 3.0 * drawn[0] - 2.0 * drawn[1]
    summary = summary_of(draws, terms)
    assert summary.slopes[0] == pytest.approx([3.0, -2.0])
    assert summary.variance_by_variable[0] == pytest.approx([0.03**2, 8.0**2], rel=1e-6)
    inputs = gathered([variable([term], "") for term in terms], DRAWS)
    assert slopes_of(draws[None], inputs, np.ones((1, 2), dtype=bool))[0] == pytest.approx([3, -2])
    assert inputs.variance == pytest.approx([0.01**2, 4.0**2])


@pytest.mark.parametrize("half", [1e-6, 0.01, 300.0])
def test_a_rectangle_s_band_is_of_its_size(half: float) -> None:
    """0.95 half-widths, whatever the unit (JCGM 100, G.2.2 and 4.3.7)."""
    summary = total([rectangular(0, half)])
    assert summary.standard_uncertainty[0] == pytest.approx(half / math.sqrt(3), rel=1e-6)
    assert summary.high[0] == pytest.approx(0.95 * half, rel=1e-3)
    assert summary.low[0] == pytest.approx(-0.95 * half, rel=1e-3)


def test_what_no_variable_moves_has_no_uncertainty() -> None:
    """And a variable that is not behind it exactly no share, though its draws would seem to tell."""
    constant = summarise(np.full((1, DRAWS + 1), 7.0), gathered([], DRAWS), np.ones((1, 0), dtype=bool))
    assert (constant.value[0], constant.low[0], constant.high[0]) == pytest.approx((7.0, 7.0, 7.0))
    assert constant.standard_uncertainty[0] == 0.0
    assert constant.slopes.shape == (1, 0)
    assert constant.centre[0] == pytest.approx(7.0)
    terms = [normal(0), normal(1)]
    variables = gathered([variable([term], "") for term in terms], DRAWS)
    mask = np.array([[True, False]])
    summary = summarise(rows(*terms)[:1], variables, mask)
    assert summary.slopes[0].tolist() == pytest.approx([1.0, 0.0])
    assert summary.variance_by_variable[0, 1] == 0.0
    assert variable([], "nothing", 3) == Variable((), 0.0, "nothing", 3)


@pytest.mark.parametrize(("missing", "reliable"), [(10, True), (16, False)])
def test_draws_that_are_no_numbers(missing: int, reliable: bool) -> None:
    """One in twenty of 256 may be missing; each takes the nominal value, which is near the mean."""
    draws = rows(normal(0))[0].copy() + 5.0
    draws[1 : 1 + missing] = np.nan
    summary = summary_of(draws, [normal(0)])
    assert summary.reliable.tolist() == [reliable]
    assert summary.value[0] == 5.0
    if reliable:
        assert summary.centre[0] == pytest.approx(5.0, abs=0.1)
        assert summary.high[0] == pytest.approx(6.96, abs=0.25)
    lost = rows(normal(0))[0].copy()
    lost[0] = np.nan
    assert summary_of(lost, [normal(0)]).reliable.tolist() == [False]


def test_a_curved_quantity_has_the_ends_of_its_own_distribution() -> None:
    """exp of a normal error: e^(+-1.96 s), mean e^(s^2/2), known in closed form; ends to 1 % of the band."""
    spread = 0.4
    draws = np.exp(rows(normal(0, spread))[0])
    summary = summary_of(draws, [normal(0, spread)])
    low, high = math.exp(-1.96 * spread), math.exp(1.96 * spread)
    assert (summary.low[0], summary.high[0]) == pytest.approx((low, high), abs=0.01 * (high - low))
    assert summary.centre[0] == pytest.approx(math.exp(spread**2 / 2.0), rel=2e-3)
    exact = math.exp(spread**2 / 2.0) * math.sqrt(math.exp(spread**2) - 1.0)
    assert summary.standard_uncertainty[0] == pytest.approx(exact, rel=0.02)


# ---------------------------------------------------------------- conformity


# JCGM 106:2012 worked examples (inputs from memory, results recomputed with the normal
# distribution and equal to the printed ones).
@pytest.mark.parametrize(
    ("value", "spread", "lower", "upper", "probability"),
    [
        (-5.47, 0.05, None, -5.40, 0.919),
        (13.6, 1.8, 12.5, 16.3, 0.663),
        # Published procedure tolerance ±5 with u 1.14: normal distribution in closed form.
        (3.0, 1.14, -5.0, 5.0, 0.960),
        (4.0, 1.14, -5.0, 5.0, 0.810),
        (5.0, 1.14, -5.0, 5.0, 0.500),
        (6.0, 1.14, -5.0, 5.0, 0.190),
    ],
)
def test_probability_of_conformity(
    value: float, spread: float, lower: float | None, upper: float | None, probability: float
) -> None:
    """Within 0.01 of the closed form with 256 draws."""
    draws = value + rows(normal(0, spread))[0, 1:]
    limits = (
        np.array([-math.inf if lower is None else lower]),
        np.array([math.inf if upper is None else upper]),
    )
    assert probabilities_within(draws[None], *limits) == pytest.approx([probability], abs=0.01)


@pytest.mark.parametrize(
    ("probability", "grade"),
    [
        (0.951, "conforming"),
        (0.95, "conforming"),
        (0.949, "inconclusive"),
        (0.051, "inconclusive"),
        (0.05, "nonconforming"),
        (0.01, "nonconforming"),
    ],
)
def test_grades(probability: float, grade: str) -> None:
    """Either way 95 % is asked; between them the instruments cannot say."""
    assert decide(probability) == grade
