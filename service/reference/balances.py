"""Independent ways to the same quantity: the balances that readings must satisfy.

Also what usually goes wrong with a reading, so that the answer can explain a disagreement.
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
        "heating_capacity": ("heating_capacity_air_side", "heating_capacity_refrigerant_side"),
    }
)

#: Probability below which the balances count as disagreeing.
DISAGREEMENT = 0.05

#: Factor on the stated accuracies beyond which accuracy no longer explains a disagreement: a reading is
#: wrong, and nothing is averaged.
GROSS_DISAGREEMENT = 5.0

#: The balances cannot separate two candidates whose effects are closer than this cosine.
TOLD_APART = 0.97

#: Largest possible error of a reading, by its kind, in SI; kinds that are not listed have a factor,
#: :data:`LARGEST_FACTOR`.  A sensor in the sun or in a hot duct, a clamp off its pipe, a misread
#: percentage; common practice, no source.
LARGEST_MISTAKE: Mapping[str, float] = MappingProxyType(
    {
        "air_temperature": 15.0,
        "line_temperature": 30.0,
        "saturation_temperature": 8.0,
        "relative_humidity": 0.30,
    }
)
#: The same for an absolute pressure (a hose that hardly opens, a gauge never zeroed), and for all other
#: readings (a clamp around part of the current, a hood that leaks), as a factor on the reading.
LARGEST_PRESSURE_FACTOR = 1.25
LARGEST_FACTOR = 2.5
#: Share of the largest mistake that remains on a side without a known cause: a clamp errs towards the
#: surrounding air, hardly away from it.
LARGEST_WITHOUT_CAUSE = 1.0 / 3.0
#: Largest error of an assumption, in its standard deviations.
LARGEST_ASSUMPTION = 4.0

#: What makes a reading too low, and what makes it too high; source ``practice``.
COMMON_MISTAKES: Mapping[str, tuple[str, str]] = MappingProxyType(
    {
        "supply_air_wet_bulb": ("", "a wick that has dried out, or a sensor that has not settled"),
        "return_air_wet_bulb": ("", "a wick that has dried out, or a sensor that has not settled"),
        "supply_air_dry_bulb": (
            "a sensor that sees the cold coil or carries drops of water",
            "a sensor too far downstream, or room air mixed in",
        ),
        "return_air_dry_bulb": ("a sensor near the supply", "a sensor in a hot attic duct"),
        "outdoor_air_dry_bulb": ("", "a sensor in the sun, or in the unit's discharge air"),
        "suction_line_temperature": (
            "",
            "a clamp without insulation, or with poor contact, that reads towards the warm air",
        ),
        "compressor_inlet_temperature": (
            "",
            "a clamp without insulation, or with poor contact, near the warm compressor",
        ),
        "liquid_line_temperature": (
            "a clamp without insulation, or with poor contact, that reads towards the air",
            "",
        ),
        "discharge_line_temperature": (
            "a clamp without insulation, with poor contact, or too far from the compressor",
            "",
        ),
        "compressor_common_current": (
            "the clamp around the wrong wire (start or run winding, or part of the current)",
            "the clamp around the feed of the whole unit, or another wire",
        ),
        "outdoor_unit_power": (
            "the meter sees only part of the unit",
            "the meter sees other loads as well",
        ),
        "airflow": ("leakage past the hood or grid", "a hood that is not zeroed, or return leaks"),
        "total_external_static_pressure": ("a blocked or badly placed tip", "a badly placed tip"),
        "coil_pressure_drop": ("", "a dirty coil: the rated point no longer holds"),
        "filter_pressure_drop": ("", "a loaded filter: the rated point no longer holds"),
        "condensate_rate": ("water still dripping from the coil and pan, or leaking", ""),
        "suction_pressure": ("a hose or core that does not open", "a gauge that was not zeroed"),
        "liquid_pressure": ("a hose or core that does not open", "a gauge that was not zeroed"),
    }
)
