"""What a change of a quantity means: which way is better, how large it must be to matter.

``better`` says by what a change is judged: ``higher`` or ``lower``; ``within`` a limit or its target
(toward is better, away is worse, inside on both sides is neither); ``neither`` where neither direction is
better by itself.  A quantity without a row is shown as read only: it is a condition of the visit, a target,
or another way to a quantity that has one.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

from service.reference.assumptions import TABLE_SPREAD

Better = Literal["higher", "lower", "within", "neither"]


@dataclass(frozen=True, slots=True)
class Judged:
    """How a change of one quantity is judged.

    ``matters`` is the smallest change that matters: in SI, or ``relative`` to the first visit's value.
    ``model`` names the unit model's output that brings it to common conditions; None where the quantity
    does not depend on the weather.  ``limits`` names the rows of limits of a ``within``.  A quantity that
    ``follows_capacity`` moves with the stage or speed at which the unit runs; so does every output of the
    model.
    """

    quantity: str
    better: Better
    matters: float
    relative: bool
    source: str
    model: str | None = None
    limits: tuple[str, ...] = ()
    follows_capacity: bool = False


#: Variance of a change of a capacitor worth finding over that of its reading [1]: a tenth, where it is known to
#: about a fiftieth.  Common practice, no source.
CAPACITOR_EVIDENCE = 25.0

_K = 5.0 / 9.0
_OF_HEATING: tuple[tuple[str, Better], ...] = (
    ("condensing_temperature_over_return_air", "neither"),
    ("evaporating_temperature_under_outdoor_air", "neither"),
    ("vapour_line_temperature", "neither"),
    ("vapour_line_temperature_over_outdoor_air", "neither"),
    ("outdoor_coil_air_temperature_drop", "neither"),
    ("reversing_valve_temperature_rise", "lower"),
)

_ROWS = (
    Judged("eer", "higher", 0.05, True, "change_that_matters", "eer"),
    Judged("cooling_capacity", "higher", 0.05, True, "change_that_matters", "cooling_capacity"),
    Judged("heating_cop", "higher", 0.05, True, "change_that_matters", "heating_cop"),
    Judged("heating_capacity", "higher", 0.05, True, "change_that_matters", "heating_capacity"),
    Judged("total_power", "neither", 0.05, True, "change_that_matters", "total_power"),
    Judged("outdoor_unit_power", "neither", 0.05, True, "change_that_matters", "outdoor_unit_power"),
    Judged("indoor_unit_power", "neither", 0.05, True, "change_that_matters", "indoor_unit_power"),
    Judged("compressor_current", "neither", 0.05, True, "change_that_matters", "compressor_current"),
    Judged(
        "condensing_temperature_over_ambient",
        "lower",
        3 * _K,
        False,
        "ra3_subcooling_tolerance",
        "condensing_temperature_over_ambient",
    ),
    Judged("condensing_temperature", "neither", 3 * _K, False, "ra3_subcooling_tolerance", "condensing_temperature"),
    Judged(
        "liquid_saturation_temperature",
        "neither",
        3 * _K,
        False,
        "ra3_subcooling_tolerance",
        "liquid_saturation_temperature",
    ),
    Judged("high_side_pressure_absolute", "neither", 0.05, True, "change_that_matters", "high_side_pressure_absolute"),
    Judged(
        "liquid_line_temperature_over_ambient",
        "neither",
        3 * _K,
        False,
        "ra3_subcooling_tolerance",
        "liquid_line_temperature_over_ambient",
    ),
    Judged("evaporating_temperature", "neither", 3 * _K, False, "ra3_subcooling_tolerance", "evaporating_temperature"),
    Judged(
        "suction_saturation_temperature",
        "neither",
        3 * _K,
        False,
        "ra3_subcooling_tolerance",
        "suction_saturation_temperature",
    ),
    Judged("suction_pressure_absolute", "neither", 0.05, True, "change_that_matters", "suction_pressure_absolute"),
    Judged(
        "evaporating_temperature_under_return_air",
        "neither",
        3 * _K,
        False,
        "ra3_subcooling_tolerance",
        "evaporating_temperature_under_return_air",
    ),
    *(Judged(name, better, 3 * _K, False, "practice", name) for name, better in _OF_HEATING),
    Judged("compression_ratio", "lower", 0.05, True, "change_that_matters", "compression_ratio"),
    Judged("superheat", "within", 5 * _K, False, "ra3_superheat_tolerance", "superheat", ("superheat_valve",)),
    Judged(
        "superheat_deviation",
        "within",
        5 * _K,
        False,
        "ra3_superheat_tolerance",
        "superheat",
        ("superheat_target_fixed",),
    ),
    Judged("subcooling", "neither", 3 * _K, False, "ra3_subcooling_tolerance", "subcooling"),
    Judged(
        "subcooling_deviation",
        "within",
        3 * _K,
        False,
        "ra3_subcooling_tolerance",
        "subcooling",
        ("subcooling_nameplate",),
    ),
    Judged("temperature_split", "neither", 3 * _K, False, "ra3_split_tolerance", "temperature_split"),
    Judged(
        "temperature_split_deviation",
        "within",
        3 * _K,
        False,
        "ra3_split_tolerance",
        "temperature_split",
        ("temperature_split_target",),
    ),
    Judged("air_enthalpy_drop", "neither", 0.10, True, "change_that_matters", "air_enthalpy_drop"),
    Judged("discharge_temperature", "lower", 6.0, False, "practice", "discharge_temperature"),
    Judged("discharge_superheat", "neither", 6.0, False, "practice", "discharge_superheat"),
    Judged("refrigerating_effect", "neither", 0.05, True, "change_that_matters", "refrigerating_effect"),
    Judged("refrigerant_mass_flow", "neither", 0.05, True, "change_that_matters", "refrigerant_mass_flow"),
    Judged("sensible_capacity", "neither", 0.05, True, "change_that_matters", "sensible_capacity"),
    Judged("airflow", "neither", 0.10, True, "practice", "airflow"),
    Judged("airflow_for_rated_capacity", "within", 0.10, True, "practice", "airflow", ("airflow_usual",)),
    Judged("total_external_static_pressure", "lower", 25.0, False, "practice", follows_capacity=True),
    Judged("filter_share_of_static_pressure", "lower", 0.05, False, "practice", follows_capacity=True),
    Judged("coil_share_of_static_pressure", "lower", 0.05, False, "practice", follows_capacity=True),
    *(
        Judged(f"{motor}_run_capacitance", "within", 0.05, True, "practice", None, (f"{motor}_run_capacitor_marking",))
        for motor in ("compressor", "outdoor_fan", "indoor_blower")
    ),
    Judged("voltage_imbalance", "lower", 0.005, False, "practice"),
    Judged("current_imbalance", "lower", 0.03, False, "practice", follows_capacity=True),
    Judged("suction_line_temperature_rise", "lower", 3 * _K, False, "practice", follows_capacity=True),
    Judged("liquid_line_temperature_drop", "lower", 3 * _K, False, "practice", follows_capacity=True),
)

JUDGED: Mapping[str, Judged] = MappingProxyType({row.quantity: row for row in _ROWS})

_CONDITION = "it is a condition of the visit or an air state"
_TARGET = "it is a target, which depends on the conditions"
_OF_ANOTHER = "it is another form of a value that is judged"
_ESTIMATE = "its change is reported for the whole system, at rating conditions and as its worth"

#: Why a quantity without a row above is not judged; the others are ways to one that is.
OUTSIDE: Mapping[str, str] = MappingProxyType(
    {
        **dict.fromkeys(
            (
                *(
                    f"{side}_air_{part}"
                    for side in ("return", "supply", "outdoor")
                    for part in (
                        "humidity_ratio",
                        "humidity_ratio_from_wet_bulb",
                        "humidity_ratio_from_relative_humidity",
                        "wet_bulb",
                        "relative_humidity",
                        "dew_point",
                        "enthalpy",
                    )
                ),
                "return_air_specific_volume",
                "supply_air_specific_volume",
                "supply_voltage",
                "supply_voltage_deviation",
                "supply_voltage_share_of_nominal",
                "blower_air_density",
            ),
            _CONDITION,
        ),
        **dict.fromkeys(
            (
                "target_subcooling",
                "target_superheat",
                "target_temperature_split",
                "airflow_nominal",
                *(f"table_{name}" for name in TABLE_SPREAD),
                "table_return_air_dry_bulb",
                "table_return_air_wet_bulb",
                "table_airflow",
                "rated_heating_capacity_in_this_weather",
                "rated_heating_power_in_this_weather",
                "heating_capacity_curve",
                "balance_point",
                "balance_point_as_found",
                "auxiliary_heat_at_design",
                "auxiliary_heat_at_design_as_found",
                "defrost_share_of_heating_capacity",
                "defrost_share_of_heating_power",
            ),
            _TARGET,
        ),
        **dict.fromkeys(
            (
                "total_superheat",
                "evaporator_superheat",
                "compressor_run_capacitance_deviation",
                "outdoor_fan_run_capacitance_deviation",
                "indoor_blower_run_capacitance_deviation",
                "compressor_apparent_power",
                "compressor_current_share",
                "latent_capacity",
                "sensible_heat_ratio",
                "compressor_power",
                "outdoor_unit_current",
                "evaporator_outlet_enthalpy",
                "liquid_enthalpy",
                "discharge_enthalpy",
                "compressor_inlet_state",
                "high_side_isobar",
                "air_mass_flow",
                "heat_rejection",
                "condenser_air_temperature_rise",
                "compressor_isentropic_efficiency",
                "suction_pressure_departure_from_table",
                "liquid_pressure_departure_from_table",
                "subcooling_departure_from_table",
                "discharge_line_temperature_departure_from_table",
                "delivered_heating_capacity",
                "heating_capacity_is_measured",
                "condensing_temperature_over_return_air_at_rated_airflow",
                "reversing_valve_leak_share",
                "condenser_outlet_enthalpy",
            ),
            _OF_ANOTHER,
        ),
        **dict.fromkeys(
            (
                "cooling_capacity_at_rating_conditions",
                "eer_at_rating_conditions",
                "eer_at_mild_rating_conditions",
                "cooling_capacity_share_of_rating",
                "eer_share_of_rating",
                "full_load_capacity",
                "seasonal_load",
                "rated_eer_at_b",
                "seasonal_energy",
                "seasonal_energy_at_rated_efficiency",
                "seasonal_energy_over_rated",
                "seasonal_cost",
                "seasonal_cost_over_rated",
                "factors_to_a",
                "factors_to_b",
                "share_of_rated_heating_capacity",
                "share_of_rated_heating_power",
                "seasonal_heating_energy",
                "seasonal_heating_cost",
            ),
            _ESTIMATE,
        ),
        **dict.fromkeys(
            ("heating_air_temperature_rise", "auxiliary_heat_power", "auxiliary_heat"),
            "auxiliary heat moves it as well; the heat pump's own capacity is judged",
        ),
        **dict.fromkeys(
            (
                "outdoor_fan_current_share",
                "indoor_blower_current_share",
                "outdoor_fan_current",
                "indoor_blower_current",
                "sensible_share_of_air",
                "measured_airflow",
                "airflow_is_measured",
                "outdoor_power_factor",
                "heat_test_heat",
                "airflow_in_heat_test",
                "capacity_is_measured",
                "return_air_temperature_rise",
            ),
            "no published model brings it to the same conditions",
        ),
    }
)

#: Quantities outside the unit model that take part in the one test of any change, with the standard
#: deviation of a change worth finding: relative, or in SI.
WATCHED: Mapping[str, float] = MappingProxyType(
    {
        "compressor_run_capacitance": 0.10,
        "outdoor_fan_run_capacitance": 0.10,
        "indoor_blower_run_capacitance": 0.10,
        "total_external_static_pressure": 40.0,
    }
)

#: Probability that a change has its sign, from which a direction is claimed; and of the one test.
DIRECTION = 0.975
TEST_LEVEL = 0.05
#: Level of each of the two one-sided tests of equivalence: half of what the band leaves out, so that a change
#: shown to be small has a band that says so.
EQUIVALENCE_LEVEL = 0.025
#: Normal deviate of a one-sided test at 5 %: how sharp the readings alone must be for it.
ONE_SIDED = 1.644854
#: Normal deviate of a two-sided test at 95 % plus that of 80 % power.
DETECTABLE = 1.959964 + 0.841621

#: Size of a change, in standard deviations of what its cause usually does, beyond which it hardly ever
#: happens: a change that shows only there counts as not shown.
UNSEEN = 3.0

#: Differences of conditions [K] up to which two visits compare without reservation, and up to which they
#: compare at all: outdoor air, return wet bulb, return dry bulb.
PLAIN_DIFFERENCE: Mapping[str, float] = MappingProxyType(
    {"outdoor_air_dry_bulb": 5.0, "return_air_wet_bulb": 2.0, "return_air_dry_bulb": 3.0}
)
#: Codes of notices about what the unit model holds as a condition: auxiliary heat adds to the air alone, and where its
#: power is not known the air side is left out; and about a table, which two runs of one unit do not need.
HELD_BY_THE_MODEL = ("auxiliary_heat_on", "performance_table_disputed")
#: Conditions that do not matter in a mode: a coil that heats air takes no moisture out of it.
NO_CONDITION: Mapping[str, tuple[str, ...]] = MappingProxyType({"heating": ("return_air_wet_bulb",)})
LARGEST_DIFFERENCE: Mapping[str, float] = MappingProxyType(
    {"outdoor_air_dry_bulb": 14.0, "return_air_wet_bulb": 5.0, "return_air_dry_bulb": 7.0}
)

#: Share of the prior variance that readings must remove before a change of capacity or efficiency is
#: stated.
INFORMED = 0.40
#: Standard deviation of the logarithm of efficiency or capacity above which its change is not stated.
HARDLY_KNOWN = 0.09

#: Years ahead of the last run beyond which no date is given for reaching a limit (practice).
YEARS_AHEAD = 20.0

#: Quantities that show one fact in several ways: which fact.
ONE_FACT: Mapping[str, str] = MappingProxyType(
    {
        **dict.fromkeys(
            (
                "condensing_temperature_over_ambient",
                "condensing_temperature_over_return_air",
                "condensing_temperature",
                "liquid_saturation_temperature",
                "high_side_pressure_absolute",
                "compression_ratio",
            ),
            "high side",
        ),
        **dict.fromkeys(
            (
                "evaporating_temperature",
                "suction_saturation_temperature",
                "suction_pressure_absolute",
                "evaporating_temperature_under_return_air",
                "evaporating_temperature_under_outdoor_air",
            ),
            "low side",
        ),
        **dict.fromkeys(("superheat", "superheat_deviation"), "superheat"),
        **dict.fromkeys(
            ("subcooling", "subcooling_deviation", "liquid_line_temperature_over_ambient"),
            "subcooling",
        ),
        **dict.fromkeys(("temperature_split", "temperature_split_deviation", "air_enthalpy_drop"), "split"),
        **dict.fromkeys(("total_power", "outdoor_unit_power", "compressor_current"), "power"),
        **dict.fromkeys(("airflow", "airflow_for_rated_capacity", "indoor_unit_power"), "airflow"),
        **dict.fromkeys(
            (
                "discharge_temperature",
                "discharge_superheat",
                "vapour_line_temperature",
                "vapour_line_temperature_over_outdoor_air",
            ),
            "discharge",
        ),
        **dict.fromkeys(
            ("cooling_capacity", "heating_capacity", "sensible_capacity", "refrigerant_mass_flow"), "capacity"
        ),
    }
)
