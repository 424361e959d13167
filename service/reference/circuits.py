"""What of a unit with several refrigerant circuits belongs to all of them together.

One circuit is assessed at a time.  The indoor air passes the coil of each, the meters and the rating count all:
none of these says what one circuit does, so none is set against its refrigerant side.
"""

from __future__ import annotations

#: Derived values and readings that are not applied to one circuit of several.
OF_THE_WHOLE_UNIT = frozenset(
    {
        "air_mass_flow",
        "airflow_for_rated_capacity",
        "airflow_from_refrigerant_side",
        "airflow_from_heat_rejection_side",
        "cooling_capacity",
        "cooling_capacity_refrigerant_side",
        "cooling_capacity_share_of_rating",
        "eer",
        "eer_share_of_rating",
        "cooling_capacity_heat_rejection_side",
        "heating_capacity",
        "heating_capacity_air_side",
        "heating_capacity_refrigerant_side",
        "heating_cop",
        "delivered_heating_capacity",
        "share_of_rated_heating_capacity",
        "share_of_rated_heating_power",
        "latent_capacity",
        "latent_capacity_from_condensate",
        "sensible_capacity",
        "outdoor_unit_power_measured",
        "total_power",
        "target_temperature_split",
        "temperature_split_deviation",
    }
)
#: What the unit model would take for the one circuit's.
NOT_OF_ONE_CIRCUIT = frozenset(
    {
        "air_enthalpy_drop",
        "heating_air_temperature_rise",
        "airflow_measured",
        "outdoor_unit_power_measured",
        "temperature_split",
        "run.readings.airflow",
        "run.readings.indoor_unit_power",
    }
)
