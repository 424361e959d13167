"""Independent ways to the same quantity: the balances that readings must satisfy.

Also what usually goes wrong with a reading, so that a disagreement can be put in words.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

#: Ways to one quantity, in order of trust; all must agree in truth.
FAMILIES: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "return_air_humidity_ratio": (
            "return_air_humidity_ratio_from_wet_bulb",
            "return_air_humidity_ratio_from_relative_humidity",
        ),
        "supply_air_humidity_ratio": (
            "supply_air_humidity_ratio_from_wet_bulb",
            "supply_air_humidity_ratio_from_relative_humidity",
        ),
        "airflow": (
            "airflow_measured",
            "airflow_from_blower_table",
            "airflow_from_known_heat",
            "airflow_from_coil_pressure_drop",
            "airflow_from_filter_pressure_drop",
        ),
        "outdoor_unit_power": (
            "outdoor_unit_power_measured",
            "outdoor_unit_power_from_volts_and_amps",
        ),
        "refrigerant_mass_flow": (
            "refrigerant_mass_flow_from_map",
            "refrigerant_mass_flow_from_energy_balance",
        ),
        "latent_capacity": ("latent_capacity_air_side", "latent_capacity_from_condensate"),
        "cooling_capacity": (
            "cooling_capacity_air_side",
            "cooling_capacity_refrigerant_side",
            "cooling_capacity_heat_rejection_side",
        ),
    }
)

#: Probability under which the balances count as not agreeing.
DISAGREEMENT = 0.05

#: Factor on the stated accuracies beyond which a disagreement is no matter of accuracy any more:
#: something is plainly wrong, and nothing is averaged.
GROSS_DISAGREEMENT = 5.0

#: Two candidates whose effects on the balances are closer than this cosine cannot be told apart.
TOLD_APART = 0.97

#: Largest error by which a reading that was made at all is ever wrong, by its kind, in SI; of what is not
#: listed it is a factor, :data:`LARGEST_FACTOR`.  A sensor in the sun or in a hot duct, a clamp off its
#: pipe, a percentage misread; common practice, no source.
LARGEST_MISTAKE: Mapping[str, float] = MappingProxyType(
    {
        "air_temperature": 15.0,
        "line_temperature": 30.0,
        "saturation_temperature": 8.0,
        "relative_humidity": 0.30,
    }
)
#: The same of an absolute pressure (a hose that hardly opens, a gauge never zeroed), and of all other
#: readings (a clamp around a part of the current, a hood that leaks), as a factor on the reading.
LARGEST_PRESSURE_FACTOR = 1.25
LARGEST_FACTOR = 2.5
#: Share of the largest mistake left where nothing is known that makes a reading wrong on that side: a clamp
#: errs towards the air around it, hardly away from it.
LARGEST_WITHOUT_CAUSE = 1.0 / 3.0
#: Standard deviations by which an assumption is ever wrong.
LARGEST_ASSUMPTION = 4.0

#: What makes a reading wrong, where it reads too low and where it reads too high; source ``practice``.
COMMON_MISTAKES: Mapping[str, tuple[str, str]] = MappingProxyType(
    {
        "supply_air_wet_bulb": ("", "a wick that has dried out, or a sensor not yet settled"),
        "return_air_wet_bulb": ("", "a wick that has dried out, or a sensor not yet settled"),
        "supply_air_dry_bulb": (
            "a sensor that sees the cold coil or carries drops of water",
            "a sensor too far downstream, or mixed with room air",
        ),
        "return_air_dry_bulb": ("a sensor near the supply", "a sensor in a hot attic duct"),
        "outdoor_air_dry_bulb": ("", "a sensor in the sun, or in the air that leaves the unit"),
        "suction_line_temperature": (
            "", "a clamp without insulation, or with poor contact, that reads towards the warm air",
        ),
        "compressor_inlet_temperature": (
            "", "a clamp without insulation, or with poor contact, near the warm compressor",
        ),
        "liquid_line_temperature": (
            "a clamp without insulation, or with poor contact, that reads towards the air", "",
        ),
        "discharge_line_temperature": (
            "a clamp without insulation, with poor contact, or too far from the compressor", "",
        ),
        "compressor_common_current": (
            "the clamp around the wrong wire (start or run winding, or a part of the current)",
            "the clamp around the whole unit's feed, or another wire",
        ),
        "outdoor_unit_power": (
            "the meter sees only part of the unit", "the meter sees other loads as well",
        ),
        "airflow": ("leakage past the hood or grid", "a hood that is not zeroed, or return leaks"),
        "total_external_static_pressure": ("a blocked or badly placed tip", "a badly placed tip"),
        "coil_pressure_drop": ("", "a dirty coil: the rated point no longer holds"),
        "filter_pressure_drop": ("", "a loaded filter: the rated point no longer holds"),
        "condensate_rate": ("water that still drips from the coil and pan, or leaks", ""),
        "suction_pressure": ("a hose or core that does not open", "a gauge that was not zeroed"),
        "liquid_pressure": ("a hose or core that does not open", "a gauge that was not zeroed"),
    }
)  # fmt: skip
