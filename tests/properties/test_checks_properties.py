"""Laws of the checks, on drawn cases."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.checks import check, series
from tests.properties.cases import slow_cases

_FEW = slow_cases(8)


def held(pressures: Any, temperatures: Any, minutes: Any, **parts: Any) -> dict[str, Any]:  # noqa: ANN401
    return check("pressure-hold", readings=series(minutes, pressure=pressures, gas_temperature=temperatures), **parts)


def transducer(fixed: float, scatter: float) -> dict[str, Any]:
    accuracy = {"fixed": fixed, "resolution": 0.1, "unit": "psi"}
    return {"gauges": {"type": "pressure_transducer", "accuracy": accuracy, "repeatability": scatter}}


@_FEW
@given(pressure=st.floats(20, 800), temperature=st.floats(20, 120))
def test_at_equal_temperature_compensation_is_the_identity(pressure: float, temperature: float) -> None:
    """Nothing to compensate: the expected pressure is the first, and the loss their difference."""
    found = held((pressure, pressure - 5), (temperature, temperature), (0, 60))["derived"]
    assert found["expected_pressure"]["value"] == pytest.approx(pressure, abs=2e-4)
    assert found["pressure_loss"]["value"] == pytest.approx(5, abs=2e-4)


@_FEW
@given(
    first=st.floats(50, 100),
    last=st.floats(50, 100),
    scatter=st.floats(0.05, 0.5),
    factor=st.floats(1.1, 4.0),
)
def test_a_better_gauge_never_widens_a_band(first: float, last: float, scatter: float, factor: float) -> None:
    """Less scatter and a smaller fixed error: no value of the test is known worse."""
    good = held((300, 295), (first, last), (0, 60), kit=transducer(2.0, scatter))["derived"]
    poor = held((300, 295), (first, last), (0, 60), kit=transducer(2.0 * factor, scatter * factor))["derived"]
    for name, row in good.items():
        assert row["standard_uncertainty"] <= poor[name]["standard_uncertainty"] * (1 + 1e-6)


@_FEW
@given(hours=st.floats(0.5, 20), factor=st.floats(1.0, 3.0))
def test_a_longer_test_never_sees_less(hours: float, factor: float) -> None:
    """The same readings over a longer time: the rate is known at least as well; one more reading does not hurt."""
    short, long = 60 * hours, 60 * hours * factor
    first = held((300, 295), (75, 75), (0, short))["derived"]["pressure_loss_rate"]
    second = held((300, 295), (75, 75), (0, long))["derived"]["pressure_loss_rate"]
    assert second["standard_uncertainty"] <= first["standard_uncertainty"] * (1 + 1e-6)
    more = held((300, 297, 295), (75, 75, 75), (0, short / 2, short))["derived"]["pressure_loss_rate"]
    assert more["standard_uncertainty"] <= first["standard_uncertainty"] * (1 + 1e-6)


@_FEW
@given(pressure=st.floats(100, 600), first=st.floats(40, 100), last=st.floats(40, 100))
def test_units_of_a_pressure_test_do_not_matter(pressure: float, first: float, last: float) -> None:
    """Psi and °F, or bar and °C: the same loss."""
    imperial = held((pressure, pressure), (first, last), (0, 60))["derived"]["pressure_loss"]
    bar = {"value": pressure * 0.06894757293168361, "unit": "bar"}
    metric = held((bar, bar), [(one - 32) / 1.8 for one in (first, last)], (0, 60), units="metric")["derived"]
    for part in ("value", "standard_uncertainty"):
        assert metric["pressure_loss"][part] == pytest.approx(imperial[part] * 6.894757, rel=1e-4, abs=2e-3)


@_FEW
@given(
    pressures=st.lists(st.floats(100, 900), min_size=2, max_size=8).map(sorted).filter(lambda p: p[-1] > p[0] + 5),
    factor=st.floats(1.2, 3.0),
)
def test_units_and_length_of_a_standing_vacuum(pressures: list[float], factor: float) -> None:
    """Pascals give the same probabilities; a longer test at the same pressures sees a smaller rate of rise."""
    times = [2.0 * k for k in range(len(pressures))]
    microns = check("vacuum-rise", readings=series(times, pressure=pressures))
    in_pascals = [{"value": one * 0.133322387415, "unit": "Pa"} for one in pressures]
    pascals = check("vacuum-rise", readings=series(times, pressure=in_pascals))
    assert pascals["hypotheses"] == microns["hypotheses"]
    assert pascals["verdict"] == microns["verdict"]
    longer = check("vacuum-rise", readings=series([factor * at for at in times], pressure=pressures))
    short, long = (one["derived"]["rise_rate"]["standard_uncertainty"] for one in (microns, longer))
    assert long <= short * (1 + 1e-6)


@_FEW
@given(mass=st.floats(0.1, 20), days=st.floats(1, 400))
def test_units_of_a_leak_rate_do_not_matter(mass: float, days: float) -> None:
    """Pounds or kilograms: the same rate."""
    parts: dict[str, Any] = {"days_since_previous_addition": days}
    pounds = check("leak-rate", unit={"full_charge": 20}, additions=[{"mass": mass, "days_ago": 0}], **parts)
    in_kilograms: dict[str, Any] = {
        "unit": {"full_charge": 20 * 0.45359237},
        "additions": [{"mass": mass * 0.45359237, "days_ago": 0}],
    }
    kilograms = check("leak-rate", units="metric", **in_kilograms, **parts)
    for name in ("annual_rate_annualizing", "annual_rate_rolling"):
        assert kilograms["derived"][name]["value"] == pytest.approx(pounds["derived"][name]["value"], rel=1e-6)
