"""What must hold of moist air and of line imbalance whatever the numbers."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from service.physics import electrical, moist_air

dry_bulbs = st.floats(273.15, 323.15)
humidities = st.floats(0.05, 1.0)
pressures = st.floats(74_000.0, 104_000.0)
lines = st.floats(1.0, 600.0)


@given(dry_bulbs, humidities, pressures)
def test_dew_point_wet_bulb_dry_bulb_in_order(dry_bulb: float, humidity: float, pressure: float) -> None:
    """Dew point ≤ wet bulb ≤ dry bulb, to the stated accuracy of the wet bulb."""
    ratio = moist_air.humidity_ratio_from_relative_humidity(dry_bulb, humidity, pressure)
    wet_bulb = moist_air.wet_bulb(dry_bulb, ratio, pressure)
    # Between 0 °C and the triple point the wet bulb is only good to 0.001 K.
    slack = 1e-6 if wet_bulb > 273.17 else 1e-3
    assert moist_air.dew_point(ratio, pressure) <= wet_bulb + slack
    assert wet_bulb <= dry_bulb + slack


@given(dry_bulbs, st.floats(0.0, 1.1), pressures)
def test_relative_humidity_round_trip(dry_bulb: float, humidity: float, pressure: float) -> None:
    """Relative humidity to humidity ratio and back, beyond saturation too."""
    ratio = moist_air.humidity_ratio_from_relative_humidity(dry_bulb, humidity, pressure)
    back = moist_air.relative_humidity(dry_bulb, ratio, pressure)
    assert back == pytest.approx(humidity, rel=1e-12, abs=1e-15)


@given(st.floats(273.17, 323.15), st.floats(0.0, 30.0), pressures)
def test_wet_bulb_round_trip(wet_bulb: float, depression: float, pressure: float) -> None:
    """Wet bulb to humidity ratio and back, wick wet."""
    dry_bulb = min(wet_bulb + depression, 333.0)
    ratio = moist_air.humidity_ratio_from_wet_bulb(dry_bulb, wet_bulb, pressure)
    if ratio < 0.0:  # No air is as dry as this depression says.
        return
    assert moist_air.wet_bulb(dry_bulb, ratio, pressure) == pytest.approx(wet_bulb, abs=1e-6)


@given(st.floats(0.0, 0.005), pressures)
@example(0.003447784146366741, 97_492.0)  # A wet root at -0.0005 °C.
def test_a_wet_bulb_near_freezing_is_of_a_wick_of_its_own_kind(ratio: float, pressure: float) -> None:
    """Whichever of two answers is given there, the humidity that it stands for is the one at hand."""
    dry_bulb = np.linspace(274.0, 284.0, 401)
    bulb = moist_air.wet_bulb(dry_bulb, np.full(401, ratio), pressure)
    back = moist_air.humidity_ratio_from_wet_bulb(dry_bulb, bulb, pressure)
    # Between 0 °C and the triple point the saturation curves part by 0.01 %.
    assert back == pytest.approx(np.full(401, ratio), abs=2e-6)


@given(st.floats(245.0, 271.0), st.floats(0.0, 10.0), pressures)
def test_wet_bulb_round_trip_with_a_frozen_wick(wet_bulb: float, depression: float, pressure: float) -> None:
    """The same far enough below freezing that the wick cannot be taken for wet."""
    dry_bulb = wet_bulb + depression
    ratio = moist_air.humidity_ratio_from_wet_bulb(dry_bulb, wet_bulb, pressure)
    if ratio < 0.0:
        return
    assert moist_air.wet_bulb(dry_bulb, ratio, pressure) == pytest.approx(wet_bulb, abs=1e-6)


@given(st.floats(230.0, 333.0), pressures)
def test_dew_point_round_trip(dew_point: float, pressure: float) -> None:
    """Dew point to humidity ratio and back, over ice and water."""
    ratio = moist_air.humidity_ratio_from_dew_point(dew_point, pressure)
    # Between 0 °C and the triple point the two saturation curves part by 0.01 %.
    slack = 1e-6 if abs(dew_point - 273.16) > 0.02 else 2e-3
    assert moist_air.dew_point(ratio, pressure) == pytest.approx(dew_point, abs=slack)


@given(dry_bulbs, st.floats(1.0, 1.1), pressures)
def test_wet_bulb_beyond_saturation_is_carried_on(dry_bulb: float, humidity: float, pressure: float) -> None:
    """Draws a little over saturation give a wet bulb a little over the dry bulb."""
    ratio = moist_air.humidity_ratio_from_relative_humidity(dry_bulb, humidity, pressure)
    assert -1e-3 <= moist_air.wet_bulb(dry_bulb, ratio, pressure) - dry_bulb < 2.0


@given(dry_bulbs, st.floats(0.0, 0.08), st.floats(1e-6, 0.02))
def test_enthalpy_rises_with_humidity(dry_bulb: float, ratio: float, more: float) -> None:
    """More water at the same dry bulb is more enthalpy."""
    assert moist_air.enthalpy(dry_bulb, ratio + more) > moist_air.enthalpy(dry_bulb, ratio)


@given(st.lists(st.tuples(dry_bulbs, humidities, pressures), min_size=1, max_size=20))
def test_an_array_is_its_numbers(states: list[tuple[float, float, float]]) -> None:
    """Every function gives for an array what it gives for each number of it."""
    dry_bulb, humidity, pressure = np.array(states).T
    ratio = moist_air.humidity_ratio_from_relative_humidity(dry_bulb, humidity, pressure)
    bulb = moist_air.wet_bulb(dry_bulb, ratio, pressure)
    columns = {
        "saturation": moist_air.saturation_vapour_pressure(dry_bulb),
        "wet_bulb": bulb,
        "from_wet_bulb": moist_air.humidity_ratio_from_wet_bulb(dry_bulb, bulb, pressure),
        "dew_point": moist_air.dew_point(ratio, pressure),
        "density": moist_air.density(dry_bulb, ratio, pressure),
    }
    for i, (t, w, p, b) in enumerate(zip(dry_bulb, ratio, pressure, bulb, strict=True)):
        numbers = {
            "saturation": moist_air.saturation_vapour_pressure(t),
            "wet_bulb": moist_air.wet_bulb(t, w, p),
            "from_wet_bulb": moist_air.humidity_ratio_from_wet_bulb(t, b, p),
            "dew_point": moist_air.dew_point(w, p),
            "density": moist_air.density(t, w, p),
        }
        for name, number in numbers.items():
            assert number.shape == ()
            assert float(number) == pytest.approx(float(columns[name][i]), rel=1e-11), name


def test_rows_and_columns_broadcast() -> None:
    """Visits down, draws along: one pressure for each visit."""
    dry_bulb = np.linspace(290.0, 310.0, 7)
    pressure = np.array([[101_325.0], [85_000.0]])
    bulb = moist_air.wet_bulb(dry_bulb, 0.008, pressure)
    assert bulb.shape == (2, 7)
    assert bulb[1] == pytest.approx(moist_air.wet_bulb(dry_bulb, 0.008, 85_000.0))


@pytest.mark.parametrize(
    ("dry_bulb", "ratio", "pressure"),
    [
        (np.nan, 0.01, 1e5),
        (np.inf, 0.01, 1e5),
        (-50.0, 0.01, 1e5),
        (1e9, 0.01, 1e5),
        (300.0, -1.0, 1e5),
        (300.0, 50.0, 1e5),
        (300.0, 0.01, 0.0),
        (300.0, 0.01, -5e4),
        (300.0, 0.01, 1e3),
        (300.0, 0.01, np.inf),
    ],
)
def test_far_out_of_range_is_not_a_number(dry_bulb: float, ratio: float, pressure: float) -> None:
    """Nan alone and nan in a row whose other draw is answered; warnings are errors here."""
    assert np.isnan(moist_air.wet_bulb(dry_bulb, ratio, pressure))
    pair = moist_air.wet_bulb(np.array([dry_bulb, 300.0]), np.array([ratio, 0.01]), np.array([pressure, 1e5]))
    assert list(np.isnan(pair)) == [True, False]


def test_no_water_has_no_dew_point() -> None:
    """Nan where the humidity ratio is zero or less, the other draws answered."""
    answer = moist_air.dew_point(np.array([0.0, -0.001, 0.01]), 1e5)
    assert list(np.isnan(answer)) == [True, True, False]


def test_boiling_and_the_ends_of_the_formulas_are_not_a_number() -> None:
    """No humidity ratio where the vapour pressure reaches the air pressure; 173 to 473 K."""
    assert np.isnan(moist_air.humidity_ratio_from_dew_point(374.0, 1e5))
    assert np.isnan(moist_air.saturation_vapour_pressure(np.array([170.0, 480.0]))).all()
    assert np.isnan(moist_air.standard_atmosphere_pressure(np.array([-6e3, 5e4]))).all()


def test_no_draws_give_no_draws() -> None:
    """An empty row passes through every function."""
    none = np.array([])
    assert moist_air.saturation_vapour_pressure(none).shape == (0,)
    assert moist_air.humidity_ratio_from_wet_bulb(none, none, 1e5).shape == (0,)
    assert moist_air.wet_bulb(none, none, 1e5).shape == (0,)
    assert moist_air.dew_point(none, 1e5).shape == (0,)


@given(lines)
def test_equal_lines_have_no_imbalance(value: float) -> None:
    """Zero, to rounding, for three equal values."""
    assert electrical.imbalance(np.full((3, 1), value)) == pytest.approx(0.0, abs=1e-15)


@given(st.tuples(lines, lines, lines), st.floats(0.01, 100.0))
def test_imbalance_has_no_scale(values: tuple[float, float, float], scale: float) -> None:
    """The same in volts and millivolts, and in any order of the lines."""
    column = np.array(values).reshape(3, 1)
    own = electrical.imbalance(column)
    assert electrical.imbalance(scale * column) == pytest.approx(own, rel=1e-9, abs=1e-14)
    assert electrical.imbalance(column[::-1]) == pytest.approx(own, rel=1e-9, abs=1e-14)
    assert 0.0 <= own < 2.0
