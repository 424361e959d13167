"""What derived values can be at all: by physics, or by how units are made.

A value outside says nothing of the unit, only that a reading is wrong or had not settled: it is not judged.  Relative
humidity is not here: a wet bulb over its dry bulb, or under that of dry air, is refused or noticed by itself.  SI.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from service.reference.conditions import SHOWN


@dataclass(frozen=True, slots=True)
class PhysicalBound:
    """What a quantity is between, and ``why``.

    ``shown`` is the probability of lying outside above which it is not judged: one half is the value itself, more is
    for quantities that healthy units have close to the bound.  ``also`` are quantities that are not judged either.
    """

    quantity: str
    low: float
    high: float
    why: str
    source: str = "definition"
    shown: float = 0.5
    also: tuple[str, ...] = ()


_RATING = "no unit gives so much more than its rating"
_MARKING = "no capacitor is so far over its marking"

_ROWS = (
    PhysicalBound(
        "compressor_isentropic_efficiency", 0.0, 1.0, "no compressor needs less work than an ideal one", "second_law"
    ),
    PhysicalBound("sensible_heat_ratio", 0.0, 1.0, "the sensible part is not more than the whole", shown=SHOWN),
    PhysicalBound("reversing_valve_leak_share", 0.0, 1.0, "a part is not more than the whole", shown=SHOWN),
    PhysicalBound("cooling_capacity_share_of_rating", 0.0, 1.5, _RATING, "credible_readings"),
    PhysicalBound("eer_share_of_rating", 0.0, 1.5, _RATING, "credible_readings"),
    PhysicalBound("share_of_rated_heating_capacity", 0.0, 1.5, _RATING, "credible_readings"),
    *(
        PhysicalBound(
            f"{motor}_run_capacitance_deviation",
            -1.0,
            2.0,
            _MARKING,
            "credible_readings",
            also=(f"{motor}_run_capacitance",),
        )
        for motor in ("compressor", "outdoor_fan", "indoor_blower")
    ),
)

PHYSICAL_BOUNDS: Mapping[str, PhysicalBound] = MappingProxyType({row.quantity: row for row in _ROWS})
