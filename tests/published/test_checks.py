"""Checks with the unit off, against published values, closed forms and reference libraries."""

from __future__ import annotations

from math import sqrt
from typing import Any

import numpy as np
import pytest

from service.physics.moist_air import saturation_vapour_pressure
from service.physics.nitrogen import compressibility, pressure_at
from service.physics.refrigerant import saturation_curves
from service.reference.leak_rates import POTENTIALS, potential
from service.reference.refrigerants import REFRIGERANTS
from service.reference.units import conversion
from tests.checks import check, series

PSI = 6894.757293168361
OUNCE = 28.349523125
MICRON = conversion("vacuum", "umHg").scale


def kelvin(fahrenheit: float) -> float:
    return (fahrenheit + 459.67) / 1.8


# ---------------------------------------------------------------- pressure under nitrogen


def hold(start: float, first: float, last: float, end: float | None = None, **parts: Any) -> dict[str, Any]:  # noqa: ANN401
    """A test of an hour from a pressure [psi] and a temperature [°F] to another, at 14.696 psi of air."""
    readings = series((0, 60), pressure=(start, start if end is None else end), gas_temperature=(first, last))
    site = {"barometric_pressure": {"value": 14.696, "unit": "psia"}}
    return check("pressure-hold", readings=readings, site=site, **parts)


@pytest.mark.parametrize(
    ("start", "first", "last", "real"),
    [
        (150, 80, 70, 146.87),
        (150, 95, 75, 143.92),  # a published example has 143.8 to 144 (second-hand, ideal gas)
        (150, 70, 40, 140.41),
        (300, 75, 55, 287.62),
        (300, 60, 90, 319.15),
        (500, 90, 60, 469.71),  # 471.91 for an ideal gas
        (500, 70, 71, 501.05),
        (550, 100, 70, 517.25),
    ],
)
def test_nitrogen_follows_the_real_gas(start: float, first: float, last: float, real: float) -> None:
    """Computed with CoolProp 8 at constant density."""
    assert hold(start, first, last)["derived"]["expected_pressure"]["value"] == pytest.approx(real, abs=0.006)


def test_a_degree_at_500_psi_is_a_psi() -> None:
    """ASHRAE Journal, January 2021, p. 40: about 1 psi for each 1 °F at 500 psi."""
    rise = hold(500, 70, 71)["derived"]["expected_pressure"]["value"] - 500
    assert rise == pytest.approx(1.03, abs=0.04)


def test_half_the_expected_rise_is_a_leak() -> None:
    """ASHRAE Journal, January 2021, p. 40: 6 psi expected and 3 seen is a sign of a leak."""
    kit = {"gauges": {"type": "pressure_transducer", "repeatability": 0.2}}
    found = hold(500, 70, 75.8, 503, kit=kit)
    assert found["derived"]["pressure_loss"]["value"] == pytest.approx(3.1, abs=0.2)
    assert found["verdict"] == "loss_shown"


def test_the_table_of_nitrogen_is_that_of_the_library() -> None:
    """CoolProp itself, between the nodes; and density back to pressure."""
    from CoolProp.CoolProp import PropsSI

    for pressure in np.linspace(2e4, 6.9e6, 7):
        for temperature in np.linspace(235.0, 352.0, 5):
            expected = PropsSI("Z", "P", pressure, "T", temperature, "Nitrogen")
            assert float(compressibility(pressure, temperature)) == pytest.approx(expected, abs=5e-7)
            dense = PropsSI("D", "P", pressure, "T", temperature, "Nitrogen")
            assert float(pressure_at(dense, temperature)) == pytest.approx(pressure, rel=1e-5)


def test_the_uncertainty_of_a_loss_by_hand() -> None:
    """Scatter of 0.2 psi, ±1 °F and placement a reading at 0.62 psi/°F; 1.16 psi in 10 L are 0.91 g.

    Closed form (JCGM 100), ideal gas for the mass.
    """
    kit = {
        # Fixed errors of gauge and probe cancel, so they do not matter; ±1 °F new each time stands as resolution.
        "gauges": {
            "type": "pressure_transducer",
            "repeatability": 0.2,
            "accuracy": {"fixed": 3.0, "resolution": 0.0, "unit": "psi"},
        },
        "probe": {
            "type": "digital_thermometer",
            "repeatability": 0.0,
            "accuracy": {"fixed": 2.0, "resolution": 2.0, "unit": "delta_degF"},
        },
    }
    found = hold(300, 75, 75, kit=kit, volume={"value": 10, "unit": "L"})["derived"]
    loss = found["pressure_loss"]
    clamp = 0.75 * 1.8  # the type's placement adds to it
    expected = sqrt(2 * 0.2**2 + 2 * 0.62**2 * (1.0 + clamp**2) / 3.0)
    assert loss["standard_uncertainty"] == pytest.approx(expected, rel=0.02)
    grams = found["nitrogen_loss"]["standard_uncertainty"] / loss["standard_uncertainty"] * 1.16 * OUNCE
    assert grams == pytest.approx(0.91, rel=0.01)


# ---------------------------------------------------------------- standing vacuum

LEAK = (300, 420, 540, 660, 780, 900, 1020, 1140, 1260, 1380, 1500)
MOISTURE = (300, 612, 835, 995, 1110, 1192, 1251, 1293, 1324, 1345, 1361)
BOTH = (300, 538, 710, 839, 939, 1019, 1086, 1144, 1196, 1244, 1289)


def rise(pressures: Any, **parts: Any) -> dict[str, Any]:  # noqa: ANN401
    readings = series(range(0, 2 * len(pressures), 2), pressure=pressures)
    return check("vacuum-rise", readings=readings, coldest_temperature=70, **parts)


@pytest.mark.parametrize(
    ("pressures", "ratio", "verdict"),
    [(LEAK, 1.0, "leak"), (MOISTURE, 169 / 892, "drying"), (BOTH, 270 / 719, "cannot_tell")],
)
def test_the_shape_of_a_rise(pressures: Any, ratio: float, verdict: str) -> None:  # noqa: ANN401
    """Closed forms: 60 µm/min; 1400 - 1100 exp(-t/6); 20 µm/min with 600 (1 - exp(-t/5)); the ratio of their halves."""
    found = rise(pressures)
    assert found["derived"]["ratio_of_halves"]["value"] == pytest.approx(ratio, abs=0.002)
    assert found["verdict"] == verdict


def test_the_parts_of_a_rise_are_found() -> None:
    """The same closed forms: rate of the leak and plateau of the moisture lie within their bands."""
    leak = rise(LEAK)["derived"]["leak_rise_rate"]["band"]
    assert leak["low"] <= 60 <= leak["high"]
    plateau = rise(MOISTURE)["derived"]["drying_plateau"]["band"]
    assert plateau["low"] <= 1400 <= plateau["high"]
    both = rise(BOTH)["derived"]["leak_rise_rate"]["band"]
    assert both["low"] <= 20 <= both["high"]


def test_a_leak_as_a_flow() -> None:
    """10 L at 10 µm/min: 2.2e-4 Pa·m3/s, by hand from q = V dp/dt."""
    steady = [300 + 10 * 2 * step for step in range(11)]
    found = rise(steady, volume={"value": 10, "unit": "L"})["derived"]
    per_rate = found["leak_flow"]["value"] / found["leak_rise_rate"]["value"] * 10
    assert per_rate == pytest.approx(2.222e-4, rel=1e-3)


@pytest.mark.parametrize(
    ("fahrenheit", "microns"),
    [(40, 6296), (50, 9212), (60, 13260), (70, 18791), (75, 22246), (80, 26244), (90, 36151), (100, 49155)],
)
def test_water_boils_at_its_saturation_pressure(fahrenheit: float, microns: float) -> None:
    """Computed with CoolProp 8 (IAPWS-95)."""
    assert float(saturation_vapour_pressure(kelvin(fahrenheit))) / MICRON == pytest.approx(microns, rel=1e-3)


def test_a_micron_is_a_micrometre_of_mercury() -> None:
    """0.133322 Pa (conventional mercury); 0.05 inHg are 1,270 of them (definition)."""
    assert pytest.approx(0.133322, abs=1e-6) == MICRON
    assert 0.05 * conversion("pressure", "inHg").scale / MICRON == pytest.approx(1270, abs=0.5)


# ---------------------------------------------------------------- pressure at rest


def rest(refrigerant: str, pressure: float, temperature: float, **parts: Any) -> dict[str, Any]:  # noqa: ANN401
    readings = {"pressure": pressure, "coil_temperature": temperature}
    return check("pressure-at-rest", unit={"refrigerant": refrigerant}, readings=readings, **parts)


@pytest.mark.parametrize(
    ("refrigerant", "fahrenheit", "gauge"),
    [
        ("R-410A", 60, 170.1),
        ("R-410A", 70, 201.1),
        ("R-410A", 90, 274.5),
        ("R-22", 70, 121.4),
        ("R-32", 80, 241.5),
        ("R-134a", 90, 104.3),
    ],
)
def test_saturation_at_rest(refrigerant: str, fahrenheit: float, gauge: float) -> None:
    """Computed with CoolProp 8; R-410A lies between dew and bubble, 0.8 psi apart."""
    found = rest(refrigerant, gauge, fahrenheit)["derived"]["saturation_pressure"]["value"]
    assert found == pytest.approx(gauge, abs=0.6 if refrigerant == "R-410A" else 0.15)


def test_a_blend_at_rest_is_known_to_its_glide() -> None:
    """R-454B at 70 °F: 183.9 psi at dew and 192.3 at bubble (computed with CoolProp 8): ±4.2 rectangular."""
    found = rest("R-454B", 188, 70)["derived"]["saturation_pressure"]
    share = found["variance_shares"]["assumption: resting state"]
    assert sqrt(share) * found["standard_uncertainty"] == pytest.approx(4.2 / sqrt(3), rel=0.03)


@pytest.mark.parametrize(("refrigerant", "degrees"), [("R-410A", 3.1), ("R-22", 4.8), ("R-134a", 6.8)])
def test_ten_psi_of_air_in_degrees(refrigerant: str, degrees: float) -> None:
    """Computed with CoolProp 8 at 70 °F: 10 psi over the slope of the curve, which flattens a little."""
    saturated = float(saturation_curves(refrigerant).bubble_pressure(kelvin(70)) / PSI) - 14.696
    found = rest(refrigerant, saturated + 10, 70)["derived"]
    assert found["excess_saturation_temperature"]["value"] == pytest.approx(degrees, abs=0.25)


def test_what_size_of_excess_shows() -> None:
    """±1.8 °F and ±3.5 psi on R-410A at 70 °F: 4.0 psi standard, 8 psi at twice that (closed form, JCGM 100)."""
    kit = {
        "gauges": {
            "type": "analog_gauge",
            "repeatability": 0.0,
            "accuracy": {"fixed": 3.5, "resolution": 0.0, "unit": "psi"},
        },
        "clamps": {
            "type": "thermistor_pipe_clamp",
            "repeatability": 0.0,
            # The type's placement of 0.75 K stands for the other 1.35 °F of 1.8.
            "accuracy": {"fixed": 1.19, "resolution": 0.0, "unit": "delta_degF"},
        },
    }
    found = rest("R-410A", 201, 70, kit=kit)["derived"]["excess_pressure"]["standard_uncertainty"]
    assert found == pytest.approx(sqrt((3.28 * 1.8) ** 2 + 3.5**2) / sqrt(3), rel=0.03)


def test_the_mass_of_air() -> None:
    """10 psi in 3 L of gas at 75 °F: 2.4 g (ideal gas)."""
    found = rest("R-410A", 227, 75, gas_volume={"value": 3, "unit": "L"})["derived"]
    ten = found["non_condensable_mass"]["value"] / found["excess_pressure"]["value"] * 10 * OUNCE
    assert ten == pytest.approx(2.42, abs=0.05)


# ---------------------------------------------------------------- leak rate


def leak(full: float, *additions: tuple[float, float], **parts: Any) -> dict[str, Any]:  # noqa: ANN401
    unit = {"full_charge": full, **parts.pop("unit", {})}
    rows = [{"mass": mass, "days_ago": ago} for mass, ago in additions]
    return check("leak-rate", unit=unit, additions=rows, **parts)


@pytest.mark.parametrize(
    ("added", "full", "days", "percent"),
    [(10, 100, 180, 20.28), (2, 8.5, 90, 95.42), (1.5, 18, 400, 8.33), (3, 20, 45, 121.7)],
)
def test_the_annualizing_method(added: float, full: float, days: float, percent: float) -> None:
    """40 CFR 82.152 (second-hand): added over full, times 365 over the days, at most 365."""
    found = leak(full, (added, 0), days_since_previous_addition=days)["derived"]["annual_rate_annualizing"]
    assert found["value"] == pytest.approx(percent, abs=0.05)


def test_the_rolling_method() -> None:
    """40 CFR 82.152 (second-hand): additions of 365 days over the full charge; older ones do not count."""
    found = leak(18, (2, 0), (1.5, 200), (4, 380))["derived"]
    assert found["annual_rate_rolling"]["value"] == pytest.approx(19.44, abs=0.01)
    repaired = leak(18, (2, 0), (1.5, 200), days_since_repair=150)["derived"]
    assert repaired["annual_rate_rolling"]["value"] == pytest.approx(100 * 2 / 18, abs=0.01)


def test_the_uncertainty_of_a_rate() -> None:
    """Full charge to 5 % and ±0.1 lb of 2 (limits): closed form, JCGM 100."""
    scale = {
        "type": "refrigerant_scale",
        "repeatability": 0.0,
        "accuracy": {"fixed": 0.1, "resolution": 0.0, "unit": "lb"},
    }
    found = leak(
        8.5,
        (2, 0),
        days_since_previous_addition=90,
        kit={"scale": scale},
        unit={"full_charge_uncertainty_percent": 5},
    )["derived"]["annual_rate_annualizing"]
    expected = sqrt(0.05**2 + (0.05 / sqrt(3)) ** 2)
    assert found["standard_uncertainty"] / found["value"] == pytest.approx(expected, rel=0.02)


@pytest.mark.parametrize(
    ("refrigerant", "edition", "value"),
    [
        ("R-410A", "ar4", 2088),
        ("R-407C", "ar4", 1774),
        ("R-404A", "ar4", 3922),
        ("R-454B", "ar4", 466),
        ("R-452B", "ar4", 698),
        ("R-410A", "ar5", 1924),
        ("R-410A", "ar6", 2256),
        ("R-134a", "ar6", 1530),
    ],
)
def test_warming_potentials_of_blends(refrigerant: str, edition: str, value: float) -> None:
    """As commonly published for each edition (values from memory)."""
    row = next(of for of in POTENTIALS if of.name == edition)
    assert potential(REFRIGERANTS[refrigerant], row) == pytest.approx(value, abs=0.6)


def test_every_refrigerant_has_a_potential() -> None:
    """Each component of each refrigerant is in each set."""
    assert all(potential(one, of) >= 0.0 for one in REFRIGERANTS.values() for of in POTENTIALS)
