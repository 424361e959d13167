"""The simulator of field visits against published directions, textbook relations and another library."""

from __future__ import annotations

from dataclasses import dataclass, replace
from dataclasses import field as dataclass_field

import numpy as np
import psychrolib
import pytest
from numpy.typing import NDArray

from tests.benchmarks import field_study as study
from tests.benchmarks import field_visits as field
from tests.benchmarks import simulated_pairs as pairs
from tests.benchmarks.simulated_pairs import CFM, TON, ZERO, F, Health, Result, Unit, Weather

COUNT = 8
FLUID = field.fluid_of("R-410A")
RATING = Weather.rating(COUNT)
DEVICES = (0.0, 1.0)


def _units(orifice: float, grade: tuple[float, float] = (0.2, 1.0)) -> tuple[Unit, F]:
    rng = np.random.default_rng(5)
    unit, g, fit = field.draw_units(FLUID, rng, COUNT, np.full(COUNT, orifice), grade)
    kept = np.flatnonzero(fit)
    kept = np.resize(kept, COUNT)
    return unit.take(kept), g[kept]


@dataclass(frozen=True)
class Solved:
    """Units of one device, and what was solved for them."""

    unit: Unit
    kept: dict[tuple[str, float], tuple[Result, NDArray[np.intp]]] = dataclass_field(default_factory=dict)

    def visited(self, kind: str, factor: float) -> tuple[Result, NDArray[np.intp]]:
        """The visit of a severe fault, and the units for which one was found; solved once."""
        if (kind, factor) not in self.kept:
            health = replace(Health.sound(COUNT), **{field.SEVERE[kind][1]: np.full(COUNT, factor)})
            r, ok = field.visited(FLUID, self.unit, health, RATING, kind)
            self.kept[kind, factor] = r, np.flatnonzero(ok)
        return self.kept[kind, factor]


@pytest.fixture(scope="module", params=DEVICES, ids=["valve", "orifice"])
def solved(request: pytest.FixtureRequest) -> Solved:
    return Solved(_units(request.param)[0])


@pytest.fixture(scope="module")
def unit(solved: Solved) -> Unit:
    return solved.unit


@pytest.fixture(scope="module")
def sound(unit: Unit) -> Result:
    r, ok = field.reached(FLUID, unit, Health.sound(COUNT), RATING)
    assert ok.all()
    return r


@pytest.mark.slow
def test_nearly_empty(solved: Solved, sound: Result) -> None:
    """Low suction, low head, very high superheat, next to no split: common practice, no source."""
    before = sound
    for factor in (0.5, 0.12):
        r, ok = solved.visited(field.SEVERE_CHARGE, factor)
        assert len(ok) >= 3
        for name, sign in (
            ("p_suction", -1.0),
            ("p_liquid", -1.0),
            ("capacity", -1.0),
            ("superheat", 1.0),
            ("supply_dry", 1.0),
            ("power", -1.0),
        ):
            if name == "power" and factor < 0.4:
                continue  # from there on the falling isentropic efficiency works against it
            assert (sign * (getattr(r, name) - getattr(before, name))[ok] > 0.0).all(), (
                name,
                factor,
            )
        before = r
    # With no liquid left nothing holds the head at the saturation pressure of outdoor air.
    assert (before.tc[ok] < 35.0).all()
    assert (before.superheat[ok] > 30.0).all()
    assert (before.capacity[ok] < 0.1 * sound.capacity[ok]).all()


@pytest.mark.slow
def test_no_liquid_before_the_device_takes_over_where_the_other_solution_ends(unit: Unit) -> None:
    """Both ways to solve meet, to what the simpler condenser without zones costs (a few kelvins)."""
    health = replace(Health.sound(COUNT), charge=np.full(COUNT, 0.5))
    plain, found = field.reached(FLUID, unit, health, RATING, severe=True)
    with np.errstate(all="ignore"):
        starved, also = field.starved(FLUID, unit, health, RATING)
    both = found & also
    assert both.sum() >= 3
    assert np.abs(plain.te - starved.te)[both].max() < 2.5
    assert np.abs(plain.tc - starved.tc)[both].max() < 4.0
    assert np.abs(plain.superheat - starved.superheat)[both].max() < 4.0


@pytest.mark.slow
def test_worn_out_compressor(solved: Solved, sound: Result) -> None:
    """High suction, low head, low current, and the closer the worse: common practice, no source."""
    before = sound
    for factor in (0.5, 0.25, 0.12):
        r, ok = solved.visited(field.SEVERE_COMPRESSOR, factor)
        assert len(ok) >= 3
        for name, sign in (
            ("p_suction", 1.0),
            ("p_liquid", -1.0),
            ("current", -1.0),
            ("capacity", -1.0),
        ):
            assert (sign * (getattr(r, name) - getattr(before, name))[ok] > 0.0).all(), (
                name,
                factor,
            )
        before = r
    assert (before.p_liquid / before.p_suction)[ok].max() < 1.9


@pytest.mark.slow
def test_stopped_fan_and_blocked_air(solved: Solved, sound: Result) -> None:
    """Fan: condensing far over ambient, power up.  Air: evaporating near freezing and under it, larger split.

    Directions after Breuker and Braun (1998); sizes are common practice.
    """
    fan, ok = solved.visited(field.SEVERE_FAN, 0.28)
    assert len(ok) > 0
    assert (fan.tc[ok] > 35.0 + 15.0).all()
    assert (fan.power[ok] > 1.1 * sound.power[ok]).all()
    air, ok = solved.visited(field.SEVERE_AIRFLOW, 0.25)
    assert len(ok) >= 3
    assert (air.te[ok] < 2.0).all()
    assert (air.supply_dry[ok] < sound.supply_dry[ok] - 5.0).all()
    assert (air.superheat[ok] < sound.superheat[ok] + 2.5).all()


@pytest.mark.slow
@pytest.mark.parametrize("charge", [1.0, 0.12])
def test_air_gives_what_the_refrigerant_takes(solved: Solved, charge: float) -> None:
    """Energy balance of the indoor coil, the air's side by another library of moist air."""
    r, ok = solved.visited(field.SEVERE_CHARGE, charge)
    psychrolib.SetUnitSystem(psychrolib.SI)
    inlet = psychrolib.GetHumRatioFromTWetBulb(26.7, 19.4, 101325.0)
    enthalpy = psychrolib.GetMoistAirEnthalpy(26.7, inlet)
    volume = psychrolib.GetMoistAirVolume(26.7, inlet, 101325.0)
    assert len(ok) >= 3
    for k in ok:
        outlet = psychrolib.GetHumRatioFromTWetBulb(
            float(r.supply_dry[k]), float(min(r.supply_wet[k], r.supply_dry[k])), 101325.0
        )
        drop = enthalpy - psychrolib.GetMoistAirEnthalpy(float(r.supply_dry[k]), outlet)
        # What runs off as water leaves with its enthalpy; under 1 % of the capacity.
        given = float(r.airflow[k]) * CFM / volume * drop
        assert given == pytest.approx(float(r.capacity[k]), abs=0.02 * float(solved.unit.tons[k]) * TON)


@pytest.mark.slow
def test_nameplates_are_consistent() -> None:
    """EER of single-speed units = 1.12 SEER - 0.02 SEER^2 (Building America protocols; from memory).

    Units of one SEER are spread by some 5 %.
    """
    for orifice in DEVICES:
        unit, g = _units(orifice)
        plate, ok = field.plates(FLUID, unit, g, field.NO_FAULT, np.random.default_rng(1))
        assert ok.sum() >= 4
        seer, eer = plate.seer[ok], plate.eer[ok]
        usual = 1.12 * seer - 0.02 * seer**2
        assert np.abs(eer / usual - 1.0).max() < 0.15
        assert abs(np.median(eer / usual) - 1.0) < 0.06
        # An efficient unit has larger coils.
        assert np.corrcoef(unit.te[ok], seer)[0, 1] > 0.3
        assert np.corrcoef(unit.tc[ok], seer)[0, 1] < -0.3


def test_bins_of_one_speed_agree_with_test_b() -> None:
    """SEER = EER_B (1 - C_D / 2) stands for the bins of a single-speed unit (AHRI 210/240)."""
    unit, _ = _units(0.0)
    a, _ = field.reached(FLUID, unit, Health.sound(COUNT), RATING)
    b, _ = field.reached(FLUID, unit, Health.sound(COUNT), replace(RATING, outdoor=np.full(COUNT, 27.8)))
    for degradation in (0.0, 0.15, 0.25):
        bins = field.seasonal((a, b), (a, b), np.full(COUNT, degradation))
        assert bins == pytest.approx(b.eer * (1.0 - 0.5 * degradation), rel=0.03)
    assert sum(field.BINS) == pytest.approx(1.0, abs=1e-3)


def test_low_stage() -> None:
    """About 0.72 of the capacity at 0.63 of the power (usual published ratings, from memory)."""
    unit, _ = _units(0.0)
    full, _ = field.reached(FLUID, unit, Health.sound(COUNT), RATING)
    share = np.full(COUNT, 0.67)
    low, ok = field.reached(FLUID, *field.staged(unit, share, 0.3 + 0.7 * share, 0.4 + 0.6 * share), RATING)
    assert ok.all()
    assert low.capacity / full.capacity == pytest.approx(np.full(COUNT, 0.72), abs=0.04)
    assert low.power / full.power == pytest.approx(np.full(COUNT, 0.63), abs=0.05)


def test_start_leaves_two_exponentials() -> None:
    """0.7 of 1 min and 0.3 of 6 min: of 20 degF 2.70, 1.13, 0.49, 0.21 after 5 to 20 min (arithmetic)."""
    start = field.Transient(0.7, 1.0, 6.0, {})
    left = [20.0 * start.left(t) for t in (5.0, 10.0, 15.0, 20.0)]
    assert left == pytest.approx([2.70, 1.13, 0.49, 0.21], abs=0.006)


def test_placement_pulls_a_clamp_towards_the_air() -> None:
    """A clamp lies between pipe and air, so a hot line reads low and a cold one high (heat conduction)."""
    where = field.draw_placement(np.random.default_rng(3))
    true = {
        "suction_line_temperature": 55.0,
        "liquid_line_temperature": 104.0,
        "discharge_line_temperature": 180.0,
        "outdoor_air_dry_bulb": 95.0,
        "supply_air_dry_bulb": 58.0,
        "supply_air_wet_bulb": 56.0,
        field.LEAVING: 112.0,
    }
    seen = field.placed(true, where)
    assert 55.0 <= seen["suction_line_temperature"] <= 55.0 + 0.04 * 40.0
    assert 104.0 - 0.04 * 9.0 <= seen["liquid_line_temperature"] <= 104.0
    assert 180.0 - 0.04 * 85.0 - 5.4 <= seen["discharge_line_temperature"] < 180.0


def test_wet_gas_is_compressed_along_an_isentrope() -> None:
    """Within the dome h at (p, s) by the property library itself."""
    from CoolProp.CoolProp import PropsSI

    p = 2.4e6
    entropy = float(FLUID.sat.at(FLUID.sat.sg, np.array([p]))[0]) - 120.0
    expected = PropsSI("H", "P", p, "S", entropy, "R410A")
    found = float(FLUID.isentropic_h(np.array([p]), np.array([entropy]))[0])
    gas = float(FLUID.sat.at(FLUID.sat.hg, np.array([p]))[0])
    assert found - gas == pytest.approx(expected - gas, rel=0.02)
    assert ZERO == 273.15


@pytest.mark.slow
def test_capacitor_readings_give_its_capacitance() -> None:
    """I = 2 pi f C V: before the work under 90 %, after it within the usual 6 % of the marking."""
    made = [p for p in field.changed_pairs(8, 1, field.CAPACITOR) if field.START_CURRENT in p.before]
    assert made
    for pair in made:
        shares = [
            run[field.START_CURRENT]
            / (2.0 * np.pi * 60.0 * run[field.CAPACITOR_VOLTAGE] * float(pair.plate["microfarads"]) * 1e-6)
            for run in (pair.before, pair.after)
        ]
        assert shares[0] < 0.95
        assert 0.88 < shares[1] < 1.12
        assert pair.ln_eer == pytest.approx(0.0, abs=1e-6)


# --------------------------------------------------------------------------- the scores


def _outcome(**changes: object) -> study.Outcome:
    plain = study.Outcome(
        label=field.NO_FAULT,
        baseline=False,
        metering="fixed_orifice",
        refrigerant="R-22",
        kit="good",
        seer=12.0,
        faults=(),
        level={},
        mistake="",
        cost=0.0,
        ln_eer=0.0,
        speed=1.0,
        verdict="healthy",
        found=(),
        top="no_fault",
        usable=True,
        refused=False,
        chances={"no_fault": 0.95},
        costly=0.01,
        efficiency=(-3.0, 0.0, 3.0),
        held={},
        sentence="",
    )
    return replace(plain, **changes)  # type: ignore[arg-type]


def test_headline_counts() -> None:
    """Counted by hand: definitions of the module's docstring."""
    low = {"label": "low_charge", "faults": ("low_charge",), "cost": -0.12, "ln_eer": -0.08}
    rows = [
        _outcome(),
        _outcome(verdict="fault_found", found=("overcharge",), top="overcharge"),
        _outcome(**low),
        _outcome(**low, verdict="fault_found", found=("low_charge",), top="low_charge"),
        _outcome(**(low | {"cost": -0.02, "ln_eer": -0.02}), verdict="fault_not_told_apart"),
        _outcome(label=field.TWO_STAGE, verdict="fault_found", found=("compressor_leakage",)),
    ]
    found = study.headline(rows)
    assert found["false alarms, of sound units"] == "50.0 % of 2"
    assert found["false alarms, of not faulty (under 5 %)"] == "66.7 % of 3"
    assert found["costly faults detected, usual size"] == "50.0 % of 2"
    assert found["named rightly, of fault_found"] == "50.0 % of 2"
    assert found["'healthy', of units that lost 5 % of efficiency"] == "50.0 % of 2"
    assert found["sound staged units condemned"] == "100.0 % of 1"


@pytest.mark.parametrize(
    ("send", "expected"),
    [
        ("eer", {"eer"}),
        ("seer", {"seer"}),
        ("both", {"eer", "seer"}),
        ("none", set()),
        ("plate", {"seer2"}),
        ("plate_eer", set()),
    ],
)
def test_what_of_the_nameplate_is_sent(send: str, expected: set[str]) -> None:
    """A plate of the later edition without an EER, by the module's docstring."""
    plate: dict[str, float | str] = {
        "capacity": 36000.0,
        "eer": 11.5,
        "seer": 13.0,
        "eer2": 11.0,
        "seer2": 12.4,
        "prints_eer": 0.0,
        "second_edition": 1.0,
    }
    assert set(study.rated(plate, send)) == expected | {"cooling_capacity"}


def test_counts_hold_every_kind() -> None:
    """Every kind is in a study of any size, and 600 visits are about 600."""
    assert set(study.counts(40)) == set(field.KINDS)
    assert sum(study.counts(600).values()) == pytest.approx(600, abs=12)
    assert pairs.KIT_TABLE  # the kits are those of the other simulations
