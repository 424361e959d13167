"""The lumped cycle model against published slopes, signs and effects."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import psychrolib
import pytest
from numpy.typing import NDArray

from service.physics import cycle
from service.physics.refrigerant_enthalpy import single_phase
from service.reference.performance_maps import (
    RATING_A_OUTDOOR,
    RATING_DRY_BULB,
    RATING_WET_BULB,
)
from service.unit.layout import LAYOUTS
from service.unit.model import UnitModel

INDEX = LAYOUTS["cooling"].index

RATING = {
    f"{name}_{run}": value
    for run in ("before", "after")
    for name, value in (
        ("outdoor", RATING_A_OUTDOOR),
        ("dry_bulb", RATING_DRY_BULB),
        ("wet_bulb", RATING_WET_BULB),
        ("voltage", 0.0),
    )
}

Outputs = dict[str, float]
Ask = Callable[..., Outputs]


def ask(device: str = "thermostatic_expansion_valve", **moved: float) -> Outputs:
    """Outputs of a usual unit at rating conditions with some parameters moved."""
    model = UnitModel.of(single_phase("R-410A"), device, 101325.0, 10_550.0)
    prior = model.prior(RATING, rated=True)
    parameters = prior.mean.copy()
    for name, value in moved.items():
        parameters[INDEX[name]] += value
    spread = np.sqrt(np.diagonal(prior.covariance))
    (outputs,), _ = model.linear(parameters, spread, [("after", "after")])
    return {name: float(row[0]) for name, row in outputs.items()}


def percent(one: Outputs, other: Outputs, name: str) -> float:
    return 100.0 * (other[name] / one[name] - 1.0)


def test_a_usual_unit_is_usual() -> None:
    """At rating point A: saturation temperatures, split and efficiency of common units (common
    practice, no source)."""
    usual = ask()
    assert 4.0 < usual["evaporating_temperature"] - 273.15 < 11.0
    assert 8.0 < usual["condensing_temperature_over_ambient"] < 16.0
    assert 8.0 < usual["temperature_split"] < 13.0
    assert 2.5 < usual["eer"] < 4.0
    assert usual["cooling_capacity"] == pytest.approx(10_550.0, rel=0.15)


def test_slopes_with_the_weather_are_those_of_published_maps() -> None:
    """Cutler et al. (2013), NREL/TP-5500-56354, single-speed map at point A: capacity -0.95 %/K and power
    over capacity +3.3 %/K outdoors, capacity +3.1 %/K wet bulb; a measured split (Setyawan et al. 2021):
    capacity -0.8, power +1.4 %/K.  Condensing temperature follows outdoors about 1 K per K (common
    practice, no source)."""
    usual, warm, wet = ask(), ask(outdoor_after=1.0), ask(wet_bulb_after=1.0)
    assert -1.2 < percent(usual, warm, "cooling_capacity") < -0.7
    assert 1.2 < percent(usual, warm, "total_power") < 2.4
    assert -3.5 < percent(usual, warm, "eer") < -1.8
    assert 0.85 < warm["condensing_temperature"] - usual["condensing_temperature"] < 1.1
    assert 2.2 < percent(usual, wet, "cooling_capacity") < 3.7


#: Pressures [psig] at 80 °F dry and 67 °F wet bulb indoors, published by a maker of packaged units (R-410A,
#: 2 to 5 tons): suction and liquid at 75, 95 and 115 °F outdoors, one row a size.
PACKAGED = (
    ((137, 146, 154), (282, 363, 463)),
    ((140, 150, 157), (292, 380, 483)),
    ((140, 149, 155), (301, 399, 493)),
    ((135, 145, 149), (293, 385, 487)),
    ((139, 147, 154), (308, 400, 509)),
    ((133, 141, 152), (296, 386, 503)),
)


def test_pressures_follow_outdoor_air_as_published() -> None:
    """Rise of the saturation temperatures for each kelvin outdoors from 75 to 95 and from 95 to 115 °F lies
    in the range of the published rows, widened by half a tenth."""
    curves = single_phase("R-410A").curves

    def slopes(temperatures: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.diff(temperatures) / (20.0 / 1.8)

    absolute = (np.array(PACKAGED) + 14.696) * 6894.757
    rows = [(slopes(curves.dew_temperature(low)), slopes(curves.bubble_temperature(high))) for low, high in absolute]
    weathers = [ask(outdoor_after=degrees / 1.8) for degrees in (-20.0, 0.0, 20.0)]
    for place, name in enumerate(("suction_saturation_temperature", "liquid_saturation_temperature")):
        found = slopes(np.array([weather[name] for weather in weathers]))
        published = np.array([row[place] for row in rows])
        assert (published.min(axis=0) - 0.05 < found).all()
        assert (found < published.max(axis=0) + 0.05).all()


def test_a_dry_coil_does_not_feel_the_wet_bulb() -> None:
    """Makers' published cooling tables (534 rows of 45 units of 10 to 14 SEER, R-410A and R-22; second-hand):
    below the wet bulb at which the coil no longer condenses suction moves 0.06 K and capacity 0.2 % for each
    kelvin of wet bulb and above it 0.94 K; where humidity is middling 0.54 to 0.80 K by size."""

    def slope(fahrenheit: float) -> tuple[float, float]:
        ends = [ask(wet_bulb_after=(bulb - 67.0) / 1.8) for bulb in (fahrenheit - 1.0, fahrenheit + 1.0)]
        suction = [end["suction_saturation_temperature"] for end in ends]
        return (suction[1] - suction[0]) * 1.8 / 2.0, percent(ends[0], ends[1], "cooling_capacity") / 2.0

    dry, partly, wet = slope(55.0), slope(62.0), slope(70.0)
    assert abs(dry[0]) < 0.2
    assert abs(dry[1]) < 0.4
    assert 0.5 < partly[0] < 0.85
    assert 0.85 < wet[0] < 1.05


def test_a_coil_stops_condensing_at_the_dew_point_of_its_surface() -> None:
    """Return air whose wet bulb is at the limit gives equal duties; the limit rises with the dry bulb and with the
    coil's temperature (closed form: equal wet and dry duty, Braun, Klein and Mitchell 1989)."""
    at = cycle.dry_coil_wet_bulb(np.array([299.8, 303.0]), 281.0, 1.15, 101_325.0)
    warmer = cycle.dry_coil_wet_bulb(np.array([299.8]), 283.0, 1.15, 101_325.0)
    for dry_bulb, bulb in zip((299.8, 303.0), at, strict=True):
        psychrolib.SetUnitSystem(psychrolib.SI)
        celsius = bulb - 273.15, dry_bulb - 273.15
        humidity = psychrolib.GetHumRatioFromTWetBulb(celsius[1], celsius[0], 101_325.0)
        surface = psychrolib.GetSatAirEnthalpy(281.0 - 273.15, 101_325.0)
        wet = psychrolib.GetMoistAirEnthalpy(celsius[1], humidity) - surface
        assert wet == pytest.approx(1022.0 * 1.15 * (dry_bulb - 281.0), rel=0.01)
    assert at[0] < at[1]
    assert at[0] < warmer[0]


#: Rossi and Braun (1997), as tabulated by Li, Fault Detection and Diagnostics for Rooftop Air
#: Conditioners, Table 1-1: signs for a fixed orifice of evaporating, condensing and discharge
#: temperature and of the evaporator's air temperature drop.
SIGNS = {
    "condenser_change": ("+", "+", "+", None),
    "airflow_change": ("-", "-", None, "+"),
    "flow_change": ("+", "-", None, "-"),
}


@pytest.mark.parametrize("fault", SIGNS)
def test_signs_of_faults(fault: str) -> None:
    """A tenth less of each; a valve holds the superheat, so the orifice's own signs of superheat are not
    asked for."""
    usual, faulty = ask(), ask(**{fault: np.log(0.9)})
    names = ("evaporating_temperature", "condensing_temperature", "discharge_temperature", "temperature_split")
    for name, sign in zip(names, SIGNS[fault], strict=True):
        if sign is not None:
            assert (faulty[name] > usual[name]) == (sign == "+"), name


def test_sizes_of_faults() -> None:
    """Indoor airflow -20 %: capacity -3.6, efficiency -3.8 % gross (Cutler et al. 2013); -30 %: -5.7 and
    -6.1 %.  Condenser conductance -20 %: EER -4 to -6 % (cycle models of the literature, value from
    memory).  Compressor flow -10 %: capacity -4.7 to -6.2 % (cycle models, value from memory)."""
    usual = ask()
    air = ask(airflow_change=np.log(0.8))
    # Gross of the blower: its heat is in the net capacity.
    gross = [o["cooling_capacity"] + o["indoor_unit_power"] for o in (usual, air)]
    assert -6.0 < 100.0 * (gross[1] / gross[0] - 1.0) < -2.5
    coil = ask(condenser_change=np.log(0.8))
    assert -9.0 < percent(usual, coil, "eer") < -3.5
    pump = ask(flow_change=np.log(0.9))
    assert -7.5 < percent(usual, pump, "cooling_capacity") < -4.0


def test_gradients_are_those_of_finite_differences() -> None:
    """The implicit function theorem against solving twice."""
    model = UnitModel.of(single_phase("R-410A"), "fixed_orifice", 101325.0, 10_550.0)
    prior = model.prior(RATING, rated=True)
    spread = np.sqrt(np.diagonal(prior.covariance))
    (outputs,), start = model.linear(prior.mean, spread, [("after", "after")])
    for name in ("condenser_change", "outdoor_after", "superheat", "efficiency_slope", "ln_size"):
        place = INDEX[name]
        step = 1e-2 * spread[place]
        ends = []
        for sign in (-1.0, 1.0):
            moved = prior.mean.copy()
            moved[place] += sign * step
            ends += model.linear(moved, spread, [("after", "after")], [*start])[0]
        for output in ("eer", "condensing_temperature", "discharge_temperature", "superheat"):
            expected = (ends[1][output][0] - ends[0][output][0]) / (2.0 * step)
            found = outputs[output][1 + place]
            assert found == pytest.approx(expected, rel=2e-3, abs=1e-5 * abs(outputs[output][0]))


def test_energy_is_conserved() -> None:
    """Heat rejected is heat taken up plus work less what the shell loses (first law)."""
    model = UnitModel.of(single_phase("R-32"), None, 95_000.0, 8_000.0)
    prior = model.prior(RATING, rated=True)
    spread = np.sqrt(np.diagonal(prior.covariance))
    (outputs,), _ = model.linear(prior.mean, spread, [("before", "before")])
    value = {name: float(row[0]) for name, row in outputs.items()}
    loss = prior.mean[INDEX["heat_loss"]]
    fan = 0.28 * 8_000.0 * np.exp(prior.mean[INDEX["ln_fan"]])
    compressor = value["outdoor_unit_power"] - fan
    taken = value["cooling_capacity"] + value["indoor_unit_power"]
    assert value["heat_rejection"] == pytest.approx(taken + compressor * (1.0 - loss), rel=1e-6)


def test_a_state_off_the_tables_is_not_a_number() -> None:
    """Nothing is raised."""
    model = UnitModel.of(single_phase("R-410A"), None, 101325.0, 10_000.0)
    prior = model.prior(RATING | {"outdoor_after": 420.0}, rated=True)
    (outputs,), saturation = model.linear(prior.mean, np.sqrt(np.diagonal(prior.covariance)), [("after", "after")])
    assert not np.isfinite(saturation).all()
    assert not np.isfinite(outputs["eer"]).all()


def test_what_a_thermometer_shows_is_never_under_zero() -> None:
    """And far from zero it is the superheat itself."""
    seen = cycle.shown(np.array([-8.0, -1.0, 0.0, 4.0, 9.0]))
    assert (seen >= 0.0).all()
    assert seen[-1] == pytest.approx(9.0, abs=1e-3)
