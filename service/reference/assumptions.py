"""What is assumed where nothing was measured: a value and an honest spread.

Each row is a random variable of its own in every band, named ``assumption: ...`` in
``variance_shares``.  A row is drawn only where a derivation uses it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

from service.reference import ducts, line_contents


@dataclass(frozen=True, slots=True)
class Assumption:
    """One assumption, in SI: ``spread`` is a half-width if rectangular, else a standard deviation.

    One that is ``lasting`` errs by the same amount at every visit to the unit; the others belong to the
    visit, or to what a service may change.
    """

    name: str
    text: str
    value: float
    spread: float
    distribution: Literal["rectangular", "normal"]
    source: str
    lasting: bool = True


#: Standard deviation in the slopes of a performance map, relative change per kelvin between the
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

#: Standard deviation of a unit's capacity and power in heating against the map, relative change per kelvin
#: outdoors from the nearest rating point: ±0.03 and ±0.07 over the 30 °F between 47 and 17 °F.  Source
#: ``cutler_heating``.
HEATING_SLOPES: Mapping[str, float] = MappingProxyType({"capacity": 0.03 / 16.67, "power": 0.07 / 16.67})

#: Standard deviation of a value from a maker's table: what interpolation and the printed digits leave
#: (relative; subcooling and discharge line in K).  Common practice, no source.
TABLE_SPREAD: Mapping[str, float] = MappingProxyType(
    {
        "capacity": 0.02,
        "power": 0.02,
        "suction_pressure": 0.01,
        "liquid_pressure": 0.01,
        "subcooling": 0.6,
        "discharge_line_temperature": 0.8,
    }
)

#: How far (as a share) a maker's table may be from the rating of the same unit at the rating conditions: gross and net
#: capacity, or a coil of the same match, differ by less.  A nameplate's subcooling is not compared: the table replaces
#: it.  Common practice, no source.
TABLE_AGAINST_RATING: Mapping[str, float] = MappingProxyType({"capacity": 0.15, "power": 0.30})

_ROWS = (
    Assumption(
        "power_factor_single_phase",
        "power factor of a loaded single-phase outdoor unit with its run capacitor",
        0.94,
        0.06,
        "rectangular",
        "power_factor_practice",
    ),
    Assumption(
        "power_factor_three_phase",
        "power factor of a loaded three-phase outdoor unit",
        0.85,
        0.09,
        "rectangular",
        "power_factor_practice",
    ),
    Assumption(
        "outdoor_fan_share",
        "current of the outdoor fan as a share of the compressor's",
        0.08,
        0.05,
        "rectangular",
        "practice",
    ),
    Assumption(
        "outdoor_fan_power_share",
        "power of the outdoor fan as a share of the outdoor unit's",
        0.07,
        0.04,
        "rectangular",
        "practice",
    ),
    Assumption(
        "blower_power",
        "blower power per airflow [W/(m3/s)], 441 W per 1,000 cfm",
        934.4,
        370.0,
        "rectangular",
        "default_blower_power",
    ),
    Assumption(
        "blower_table",
        "ratio of airflow to the blower table",
        1.0,
        0.05,
        "normal",
        "practice",
    ),
    Assumption(
        "coil_drop_law",
        "ratio of airflow to the square-root law at the coil (wet or dry, clean)",
        1.0,
        0.10,
        "normal",
        "square_root_law",
        lasting=False,
    ),
    Assumption(
        "filter_drop_law",
        "ratio of airflow to the square-root law at the filter (as loaded as at its rated point)",
        1.0,
        0.12,
        "normal",
        "square_root_law",
        lasting=False,
    ),
    Assumption(
        "known_heat",
        "share of the known heat that the air absorbs between the two sensors",
        0.98,
        0.03,
        "normal",
        "practice",
        lasting=False,
    ),
    Assumption(
        "rated_static_pressure",
        "rated total external static pressure [Pa], 0.5 in. w.c.",
        124.5,
        25.0,
        "rectangular",
        "rated_static_pressure",
    ),
    Assumption(
        "nominal_airflow",
        "ratio of airflow to 400 cfm per ton of rated capacity",
        1.0,
        0.18,
        "normal",
        "nominal_airflow",
        lasting=False,
    ),
    Assumption(
        "compressor_map",
        "ratio of mass flow to the compressor's map",
        1.0,
        0.03,
        "normal",
        "ahri_540_tolerance",
    ),
    Assumption(
        "compressor_heat_loss",
        "share of the compressor's power lost through its shell",
        0.06,
        0.06,
        "rectangular",
        "practice",
    ),
    Assumption(
        "rating_evaporating",
        "suction saturation temperature at the rating point [K]",
        280.9,
        1.7,
        "normal",
        "rating_cycle",
    ),
    Assumption(
        "rating_condensing",
        "condensing temperature at the rating point [K]",
        318.7,
        3.0,
        "normal",
        "rating_cycle",
    ),
    Assumption(
        "rating_pumping",
        "ratio of mass flow to that of a compressor that pumps as its rating implies (wear included)",
        1.0,
        0.07,
        "normal",
        "practice",
        lasting=False,
    ),
    Assumption(
        "volumetric_slope",
        "loss of volumetric efficiency per unit of compression ratio",
        0.03,
        0.02,
        "rectangular",
        "practice",
    ),
    Assumption(
        "condensate_steady",
        "ratio of condensate caught to water removed from the air",
        1.0,
        0.06,
        "normal",
        "practice",
        lasting=False,
    ),
    Assumption(
        "rated_capacity",
        "ratio of a new unit's capacity to its rating",
        1.0,
        0.025,
        "normal",
        "ahri_210",
    ),
    Assumption(
        "rated_efficiency",
        "ratio of a new unit's efficiency to its rating",
        1.0,
        0.025,
        "normal",
        "ahri_210",
    ),
    Assumption(
        "seasonal_efficiency",
        "mean efficiency over the season as a share of that at 82 °F outdoors (losses of cycling)",
        0.90,
        0.05,
        "rectangular",
        "cycling_loss",
    ),
    Assumption(
        "dry_coil_slope",
        "relative change of a dry coil's capacity per kelvin of return dry bulb",
        0.015,
        0.008,
        "normal",
        "dry_coil",
    ),
    *(
        Assumption(
            f"map_{name}",
            f"slope of the performance map: {name.replace('_', ' ')}",
            0.0,
            1.0,
            "normal",
            "map_spread",
        )
        for name in MAP_SLOPES
    ),
    Assumption(
        "performance_table",
        "departure from the maker's table (interpolation, printed digits)",
        0.0,
        1.0,
        "normal",
        "practice",
    ),
    Assumption(
        "defrost_loss",
        "ratio of what defrosting costs to the published function of outdoor air",
        1.0,
        0.35,
        "normal",
        "defrost_loss",
    ),
    # Published means of two-stage units; how far units differ from them is common practice without a source.
    Assumption(
        "low_stage_capacity", "cooling capacity in low stage over that in full", 0.728, 0.045, "normal", "stage_ratios"
    ),
    Assumption(
        "low_stage_efficiency", "efficiency in low stage over that in full", 1 / 0.869, 0.07, "normal", "stage_ratios"
    ),
    Assumption(
        "low_stage_heating_capacity",
        "heating capacity in low stage over that in full",
        0.712,
        0.045,
        "normal",
        "stage_ratios",
    ),
    Assumption(
        "low_stage_heating_efficiency",
        "coefficient of performance in low stage over that in full",
        1 / 0.850,
        0.08,
        "normal",
        "stage_ratios",
    ),
    Assumption(
        "part_speed_capacity", "capacity at a speed over what follows from the rating", 1.0, 0.10, "normal", "practice"
    ),
    Assumption(
        "part_speed_efficiency",
        "efficiency at a speed over the one that follows from the rating",
        1.0,
        0.10,
        "normal",
        "practice",
    ),
    Assumption(
        "heating_line_loss",
        "share of the hot gas's heat that reaches the indoor coil (reversing valve and lines lose the rest)",
        0.97,
        0.03,
        "rectangular",
        "practice",
    ),
    Assumption(
        "liquid_line_wall",
        "inside diameter of the liquid line over the usual one of its size",
        0.0,
        line_contents.DIAMETER_SPREAD,
        "rectangular",
        "tube_sizes",
    ),
    Assumption(
        "vapour_line_wall",
        "inside diameter of the vapour line over the usual one of its size",
        0.0,
        line_contents.DIAMETER_SPREAD,
        "rectangular",
        "tube_sizes",
    ),
    Assumption(
        "usual_vapour_line",
        "inside diameter of a vapour line of unknown size",
        *line_contents.USUAL_VAPOUR_LINE,
        "rectangular",
        "tube_sizes",
    ),
    Assumption(
        "liquid_line_temperature",
        "temperature of the liquid in the liquid line",
        line_contents.LIQUID_TEMPERATURE,
        line_contents.LIQUID_SPREAD,
        "rectangular",
        "line_content_state",
    ),
    Assumption(
        "vapour_line_density",
        "density of the vapour in the vapour line over that of 45 °F with 10 °F of superheat",
        1.0,
        line_contents.VAPOUR_SPREAD,
        "rectangular",
        "line_content_state",
    ),
    Assumption("line_length", "length of the lines", 0.0, line_contents.LENGTH_SPREAD, "rectangular", "line_length"),
    Assumption(
        "hose_residue",
        "refrigerant that the charging hoses keep or give",
        0.0,
        line_contents.HOSE_RESIDUE,
        "rectangular",
        "hose_residue",
        lasting=False,
    ),
    Assumption(
        "circuit_volume",
        "inside volume of the circuit",
        *line_contents.CIRCUIT_VOLUME,
        "rectangular",
        "circuit_volume",
    ),
    Assumption(
        "recovered_temperature",
        "temperature of the circuit after recovery",
        *line_contents.RECOVERED_TEMPERATURE,
        "rectangular",
        "circuit_volume",
        lasting=False,
    ),
    Assumption(
        "duct_loss",
        "duct losses over those that the standard's formula gives",
        1.0,
        ducts.METHOD_SPREAD,
        "normal",
        "ashrae_152_spread",
    ),
    Assumption(
        "stated_capacity",
        "capacity of the equipment over the stated one",
        1.0,
        ducts.CAPACITY_SPREAD,
        "normal",
        "practice",
    ),
    Assumption(
        "shape_of_a_rise",
        "what the scatter of readings leaves open in the shape of a rise, in standard deviations",
        0.0,
        1.0,
        "normal",
        "vacuum_rise_practice",
        False,
    ),
    Assumption(
        "resting_state",
        "position of a blend at rest between its dew pressure (0) and its bubble pressure (1)",
        0.5,
        0.5,
        "rectangular",
        "non_condensables_at_rest",
        False,
    ),
    Assumption("full_charge", "full charge over the one stated", 1.0, 0.05, "normal", "practice"),
    Assumption(
        "seasonal_heating_efficiency",
        "ratio of a season's efficiency in heating to the rated one (climate, auxiliary heat)",
        1.0,
        0.15,
        "normal",
        "practice",
    ),
)

ASSUMPTIONS: Mapping[str, Assumption] = MappingProxyType({row.name: row for row in _ROWS})
