"""Current says little about power across the replacement of a capacitor."""

from __future__ import annotations

from dataclasses import replace
from math import log

import numpy as np
import pytest

from service.unit.evidence import Evidence, Feature, as_pair

AMPS = Evidence(
    (Feature("compressor_apparent_power", "compressor_apparent_power", True),),
    np.zeros(1),
    np.zeros((1, 0)),
    np.zeros(1),
    (),
)


@pytest.mark.parametrize(
    ("before", "after", "replaced", "least", "most"),
    [
        # A third less capacitance draws some 5 to 15 % more current for the same work (common practice, no source).
        (None, None, True, 0.05, 0.15),
        (log(30e-6), None, True, 0.05, 0.15),
        (None, None, False, 0.0, 0.0),
        # Both measured and alike: the part was replaced, the capacitance is what it was.
        (log(45e-6), log(45e-6), True, 0.0, 0.0),
    ],
)
def test_a_replaced_capacitor_frees_the_power_factor(
    before: float | None, after: float | None, replaced: bool, least: float, most: float
) -> None:
    first, second = as_pair(
        replace(AMPS, capacitance=before), replace(AMPS, capacitance=after, capacitor_replaced=replaced)
    )
    assert first.own == pytest.approx(0.0)
    assert least <= float(np.sqrt(second.own[0])) <= most
