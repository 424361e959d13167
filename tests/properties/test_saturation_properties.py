"""What must hold of every saturation curve, whatever the refrigerant."""

from __future__ import annotations

import subprocess
import sys

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.physics.array_types import FloatArray
from service.physics.refrigerant import SaturationCurves, saturation_curves, warm_up
from service.reference.refrigerants import REFRIGERANTS, designation_of

FUNCTIONS = ("bubble_temperature", "dew_temperature", "bubble_pressure", "dew_pressure")

refrigerants = st.sampled_from(sorted(REFRIGERANTS))
shares = st.floats(0.0, 1.0)


def along(limits: tuple[float, float], share: FloatArray | float) -> FloatArray:
    low, high = limits
    return np.minimum(low + np.asarray(share) * (high - low), high)


def limits(curves: SaturationCurves, function: str) -> tuple[float, float]:
    """Range of a function's argument."""
    return curves.temperature_range if function.endswith("pressure") else curves.pressure_range


@given(refrigerants, st.lists(shares, min_size=2, max_size=20, unique=True))
def test_higher_pressure_means_higher_temperature(name: str, spread: list[float]) -> None:
    """And the reverse, on both curves, for steps down to a hundred millionth of the range."""
    curves = saturation_curves(name)
    ordered = np.unique(np.round(spread, 8))
    for function in FUNCTIONS:
        answers = getattr(curves, function)(along(limits(curves, function), ordered))
        assert (np.diff(answers) > 0).all()


@given(refrigerants, shares)
def test_bubble_is_never_above_dew(name: str, share: float) -> None:
    """At one pressure boiling begins no warmer than condensing does; equal for a pure fluid."""
    curves = saturation_curves(name)
    pressure = along(curves.pressure_range, share)
    glide = curves.dew_temperature(pressure) - curves.bubble_temperature(pressure)
    # The two curves of a pure fluid are sampled apart, hence the microkelvin.
    assert glide > -1e-6
    if len(REFRIGERANTS[name].components) == 1:
        assert glide < 1e-6


@given(refrigerants, shares)
def test_pressure_of_the_temperature_of_a_pressure_is_the_pressure(name: str, share: float) -> None:
    """Round trips within 0.1 mK, or the pressure that 0.1 mK is worth (about 3e-6 of it)."""
    curves = saturation_curves(name)
    # A hair inside, since the far end of a round trip may lie beyond the other curve's end.
    temperature = along(curves.temperature_range, 1e-6 + share * (1 - 2e-6))
    pressure = along(curves.pressure_range, 1e-6 + share * (1 - 2e-6))
    for curve in ("bubble", "dew"):
        to_temperature = getattr(curves, f"{curve}_temperature")
        to_pressure = getattr(curves, f"{curve}_pressure")
        assert abs(to_temperature(to_pressure(temperature)) - temperature) < 1e-4
        assert abs(to_pressure(to_temperature(pressure)) / pressure - 1) < 3e-6


@given(refrigerants, st.lists(st.floats(-0.2, 1.2), min_size=1, max_size=12))
def test_one_by_one_is_the_same_as_all_at_once(name: str, spread: list[float]) -> None:
    """Numbers, vectors and blocks pass through the same code, not-a-number included."""
    curves = saturation_curves(name)
    for function in FUNCTIONS:
        low, high = limits(curves, function)
        argument = low + np.array(spread) * (high - low)
        evaluate = getattr(curves, function)
        together = evaluate(argument)
        assert together.shape == argument.shape
        assert together.dtype == np.float64
        single = [evaluate(value) for value in argument.tolist()]
        assert all(isinstance(value, np.ndarray) and value.shape == () for value in single)
        np.testing.assert_array_equal(together, np.array(single))
        block = np.stack([argument, argument[::-1]])
        np.testing.assert_array_equal(evaluate(block), np.stack([together, together[::-1]]))


@given(refrigerants, st.floats(1e-9, 1e3))
def test_outside_the_range_there_is_no_number(name: str, beyond: float) -> None:
    """No clamping, no extrapolation, no exception, no warning; the good neighbours are kept."""
    curves = saturation_curves(name)
    for curve in ("bubble", "dew"):
        for function in (f"{curve}_temperature", f"{curve}_pressure"):
            pieces = getattr(
                curves,
                f"_{curve}_{'logarithm' if function.endswith('pressure') else 'temperature'}",
            )
            low, high = pieces.start, pieces.end
            if function.endswith("temperature"):
                low, high = np.exp(low), np.exp(high)
            inside = (low + high) / 2
            outside = [low * (1 - 1e-9 - min(beyond, 0.9)), high * (1 + 1e-9 + beyond)]
            answer = getattr(curves, function)(np.array([*outside, inside]))
            assert np.isnan(answer).tolist() == [True, True, False]


@pytest.mark.parametrize("name", REFRIGERANTS)
def test_ends_of_the_range_are_inside_it(name: str) -> None:
    """The printed range can be asked for as it stands."""
    curves = saturation_curves(name)
    for function in FUNCTIONS:
        answer = getattr(curves, function)(np.array(limits(curves, function)))
        assert np.isfinite(answer).all()


@pytest.mark.parametrize("value", [np.nan, np.inf, -np.inf, 0.0, -0.0, -1e5, 1e300, 5e-324])
def test_nonsense_in_no_number_out(value: float) -> None:
    """And the argument is left as it was."""
    curves = saturation_curves("R-454B")
    argument = np.array([value, 300.0, 1e6])
    kept = argument.copy()
    for function in FUNCTIONS:
        assert np.isnan(getattr(curves, function)(argument)[0])
        np.testing.assert_array_equal(argument, kept)
        assert getattr(curves, function)(np.array([])).shape == (0,)


@given(refrigerants, st.sampled_from(["{}", " {} ", "r{}", "R {}", "R-{}", "r_{}"]), st.booleans())
def test_designations_are_found_however_they_are_written(name: str, pattern: str, upper: bool) -> None:
    """``R410A``, ``r-410a`` and ``410A`` are one refrigerant."""
    written = pattern.format(name.removeprefix("R-"))
    assert designation_of(written.upper() if upper else written.lower()) == name


@given(st.text(max_size=40))
def test_any_text_has_a_designation_or_none(text: str) -> None:
    """Never an exception."""
    assert designation_of(text) in {None, *REFRIGERANTS}


def test_mass_fractions_add_up() -> None:
    """Each composition is whole, to rounding."""
    for refrigerant in REFRIGERANTS.values():
        assert sum(share for *_, share in refrigerant.components) == pytest.approx(1.0, abs=1e-12)


def test_unknown_refrigerant_is_an_error() -> None:
    """Looking up is by the catalogue's own spelling."""
    with pytest.raises(KeyError):
        saturation_curves("R-9999")


def test_prepared_curves_need_no_slow_library() -> None:
    """Once prepared, they are read back without CoolProp or SciPy, which take seconds to import."""
    warm_up()
    code = (
        "import sys; from service.physics.refrigerant import warm_up; warm_up(); "
        "print(sorted({'CoolProp', 'scipy'} & set(sys.modules)))"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert run.stdout.strip() == "[]"
