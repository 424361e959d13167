"""The labelled visits that diagnoses are tested on: alike for a seed, and true to their labels."""

from __future__ import annotations

import numpy as np
import pytest

from tests.benchmarks.simulated_visits import (
    FAULTS,
    MISTAKE,
    NO_FAULT,
    faults_of,
    visits,
)


def test_a_seed_gives_the_same_visits() -> None:
    """Whatever the count, and the same truth whatever the kit."""
    few, more = visits(2, 5, "low_charge", "poor"), visits(4, 5, "low_charge", "poor")
    assert few == more[:2]
    exact = visits(2, 5, "low_charge", None)
    assert [v.ln_eer for v in exact] == [v.ln_eer for v in few]
    assert exact[0].readings == few[0].readings_true != few[0].readings


def test_a_visit_tells_its_fault() -> None:
    """Kind, level and the factors on the parts agree; a sound unit has none."""
    for visit in visits(4, 1, "expansion_underfeeding+low_charge", None):
        assert visit.kind == ("expansion_underfeeding", "low_charge")
        assert visit.level["low_charge"] == visit.factors["charge"] < 0.96
        assert visit.level["expansion_underfeeding"] == visit.factors["device_flow"] < 0.93
        assert visit.ln_capacity < 0.0
    for visit in visits(4, 1, NO_FAULT, None):
        assert (visit.kind, visit.level, visit.factors) == ((), {}, {})
        assert abs(visit.ln_eer) < 0.03


def test_a_mistake_is_on_one_reading_of_a_sound_unit() -> None:
    """The unit's efficiency stays; the reading named is off."""
    for visit in visits(6, 2, MISTAKE, None):
        assert visit.kind == (MISTAKE,)
        assert visit.mistake in visit.readings
        assert abs(visit.ln_eer) < 0.03
        assert abs(visit.level[MISTAKE]) > 0.05


def test_double_faults_do_not_undo_each_other() -> None:
    """All pairs of faults but the two that cancel; names that are not known are refused."""
    found = faults_of("double_fault")
    assert len(found) == len(FAULTS) * (len(FAULTS) - 1) / 2 - 2
    with pytest.raises(ValueError, match="not a kind"):
        faults_of("loud_fan")


@pytest.mark.parametrize(
    ("kind", "signs"),
    [
        ("liquid_line_restriction", {"te": -1, "superheat": 1, "tc": -1, "subcooling": 1}),
        ("expansion_underfeeding", {"te": -1, "superheat": 1, "subcooling": 1, "discharge": 1}),
        ("expansion_overfeeding", {"te": 1, "superheat": -1, "subcooling": -1, "discharge": -1}),
        ("non_condensable_gas", {"tc": 1, "subcooling": 1, "power": 1, "eer": -1}),
    ],
)
def test_signatures_with_a_fixed_orifice(kind: str, signs: dict[str, int]) -> None:
    """The published directions hold for the middle of some units."""
    made = visits(20, 3, kind, None, "fixed_orifice")
    for name, sign in signs.items():
        assert sign * float(np.median([v.changes[name] for v in made])) > 0.0, name
