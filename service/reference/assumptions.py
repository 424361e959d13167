"""What is taken for granted where nothing was measured: a value and an honest spread.

Each row is a random variable of its own in every band, named ``assumption: ...`` in
``variance_shares``.  A row is drawn only where a derivation uses it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal


@dataclass(frozen=True, slots=True)
class Assumption:
    """One assumption, in SI: ``spread`` is a half-width if rectangular, else a standard deviation.

    One that is ``lasting`` errs alike at every visit to the unit; the others are about the visit, or
    about what a service may change.
    """

    name: str
    text: str
    value: float
    spread: float
    distribution: Literal["rectangular", "normal"]
    source: str
    lasting: bool = True


#: Standard deviation in the slopes of a performance map, relative change for each kelvin between the
#: visit and the rating point.  Source ``map_spread``: the spread among four published maps (0.06 and
#: 0.2 %/K for capacity, 0.24 and 0.26 %/K for power over capacity), doubled, as units differ more than
#: the averages behind the maps do.
MAP_SLOPES: Mapping[str, float] = MappingProxyType(
    {
        "capacity_outdoor": 0.0012,
        "capacity_wet_bulb": 0.004,
        "power_outdoor": 0.0048,
        "power_wet_bulb": 0.0052,
    }
)

_ROWS = (
    Assumption(
        "power_factor_single_phase",
        "power factor of a loaded single-phase outdoor unit with its run capacitor",
        0.94, 0.06, "rectangular", "power_factor_practice",
    ),
    Assumption(
        "power_factor_three_phase", "power factor of a loaded three-phase outdoor unit",
        0.85, 0.09, "rectangular", "power_factor_practice",
    ),
    Assumption(
        "outdoor_fan_share", "current of the outdoor fan as a share of the compressor's",
        0.08, 0.05, "rectangular", "practice",
    ),
    Assumption(
        "outdoor_fan_power_share", "power of the outdoor fan as a share of the outdoor unit's",
        0.07, 0.04, "rectangular", "practice",
    ),
    Assumption(
        "blower_power", "blower power for each airflow [W/(m3/s)], 441 W per 1,000 cfm",
        934.4, 370.0, "rectangular", "default_blower_power",
    ),
    Assumption(
        "blower_table", "airflow over what the blower table says", 1.0, 0.05, "normal", "practice",
    ),
    Assumption(
        "coil_drop_law", "airflow over what the square-root law gives at the coil (wet or dry, clean)",
        1.0, 0.10, "normal", "square_root_law", lasting=False,
    ),
    Assumption(
        "filter_drop_law",
        "airflow over what the square-root law gives at the filter (as loaded as at its rated point)",
        1.0, 0.12, "normal", "square_root_law", lasting=False,
    ),
    Assumption(
        "known_heat", "share of the known heat that the air between the two sensors takes up",
        0.98, 0.03, "normal", "practice", lasting=False,
    ),
    Assumption(
        "rated_static_pressure", "rated total external static pressure [Pa], 0.5 in. w.c.",
        124.5, 25.0, "rectangular", "rated_static_pressure",
    ),
    Assumption(
        "nominal_airflow", "airflow over 400 cfm for each ton of rated capacity",
        1.0, 0.18, "normal", "nominal_airflow", lasting=False,
    ),
    Assumption(
        "compressor_map", "mass flow over what the compressor's map says",
        1.0, 0.03, "normal", "ahri_540_tolerance",
    ),
    Assumption(
        "compressor_heat_loss", "share of the compressor's power lost through its shell",
        0.06, 0.06, "rectangular", "practice",
    ),
    Assumption(
        "rating_evaporating", "suction saturation temperature at the rating point [K]",
        280.9, 1.7, "normal", "rating_cycle",
    ),
    Assumption(
        "rating_condensing", "condensing temperature at the rating point [K]",
        318.7, 3.0, "normal", "rating_cycle",
    ),
    Assumption(
        "rating_pumping",
        "mass flow over that of a compressor which pumps as the rating implies (wear included)",
        1.0, 0.07, "normal", "practice", lasting=False,
    ),
    Assumption(
        "volumetric_slope", "loss of volumetric efficiency for each unit of compression ratio",
        0.03, 0.02, "rectangular", "practice",
    ),
    Assumption(
        "condensate_steady", "condensate caught over water taken out of the air",
        1.0, 0.06, "normal", "practice", lasting=False,
    ),
    Assumption(
        "rated_capacity", "capacity of a new unit over its rating", 1.0, 0.025, "normal", "ahri_210",
    ),
    Assumption(
        "rated_efficiency", "efficiency of a new unit over its rating", 1.0, 0.025, "normal",
        "ahri_210",
    ),
    Assumption(
        "seasonal_efficiency", "mean efficiency over the season as a share of that at 82 °F outdoors "
        "(losses of cycling)", 0.90, 0.05, "rectangular", "cycling_loss",
    ),
    Assumption(
        "dry_coil_slope", "relative change of a dry coil's capacity for each kelvin of return dry bulb",
        0.015, 0.008, "normal", "dry_coil",
    ),
    *(
        Assumption(
            f"map_{name}", f"slope of the performance map: {name.replace('_', ' ')}",
            0.0, 1.0, "normal", "map_spread",
        )
        for name in MAP_SLOPES
    ),
)  # fmt: skip

ASSUMPTIONS: Mapping[str, Assumption] = MappingProxyType({row.name: row for row in _ROWS})
