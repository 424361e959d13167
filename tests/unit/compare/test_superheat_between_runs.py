"""How free superheat is between two runs of an unchanged unit: rules are common practice, no source."""

from __future__ import annotations

import numpy as np
import pytest

from service.compare.superheat_between_runs import with_superheat_between_runs
from service.physics.refrigerant_enthalpy import single_phase
from service.unit.evidence import Evidence, Feature
from service.unit.model import UnitModel

VALVE, FIXED = "thermostatic_expansion_valve", "fixed_orifice"
FOLLOWS = ("superheat_outdoor", "superheat_wet_bulb")
GIVEN = {"outdoor_before": 303.0, "outdoor_after": 308.0, "wet_bulb_before": 292.0, "wet_bulb_after": 294.0}


def run(superheat: float) -> Evidence:
    """A run that shows a superheat [K] and nothing else."""
    nothing = np.zeros((1, 0))
    return Evidence((Feature("superheat", "superheat"),), np.array([superheat]), nothing, np.zeros(1), ())


def spreads(device: str | None, *superheats: float) -> list[float]:
    model = UnitModel.of(single_phase("R-410A"), device, 101325.0, 10_000.0)
    prior = model.prior_of_readings(GIVEN, rated=True)
    found = with_superheat_between_runs(model, prior, GIVEN, [run(one) for one in superheats])
    return [float(np.sqrt(found.covariance[model.layout.index[name], model.layout.index[name]])) for name in FOLLOWS]


def test_a_valve_that_stands_wide_open_leaves_superheat_to_the_weather() -> None:
    """A valve opens over some 3 to 7 K, so at 6 K it controls and at 12 K it does not."""
    controls, wide_open = spreads(VALVE, 6.0, 6.0), spreads(VALVE, 6.0, 12.0)
    assert np.all(np.array(controls) < 0.2)
    assert wide_open == spreads(FIXED, 6.0, 6.0)


@pytest.mark.parametrize("device", [VALVE, FIXED])
def test_what_a_flooded_run_hides_amounts_to_four_kelvin(device: str) -> None:
    dry, flooded = np.array(spreads(device, 6.0, 6.0)), np.array(spreads(device, 6.0, 0.5))
    apart = np.array([5.0, 2.0])
    assert np.sqrt(np.sum((flooded * apart) ** 2 - (dry * apart) ** 2)) == pytest.approx(4.0)


def test_runs_still_to_come_are_as_free_as_their_device_leaves_them() -> None:
    assert spreads(VALVE) == spreads(VALVE, 6.0, 6.0)
    assert spreads(FIXED) == spreads(FIXED, 6.0, 6.0)
