"""Plain names for people outside the trade: what was checked, and what a change points to.

By the limit, not by the derived value: the same superheat shows the charge and whether liquid reaches the compressor.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Any

from service.words.diagnosis import Audience

#: What each limit checks.
_CHECKED: Mapping[str, str] = MappingProxyType(
    {
        "outdoor_fan_running": "the operation of the outdoor fan",
        "indoor_blower_running": "the operation of the indoor fan",
        "high_pressure_cut_out": "the pressure in the outdoor unit",
        "high_pressure_near_cut_out": "the pressure in the outdoor unit",
        "evaporating_temperature_lowest": "the pressure in the indoor unit",
        "evaporating_temperature_freezing": "the margin against frost on the indoor coil",
        "discharge_superheat_flooding": "the protection of the compressor from liquid",
        "superheat_floodback": "the protection of the compressor from liquid",
        "isentropic_efficiency_usual": "how well the compressor pumps",
        "superheat_target_fixed": "the amount of refrigerant, judged indirectly",
        "superheat_valve": "the amount of refrigerant, judged indirectly",
        "subcooling_nameplate": "the amount of refrigerant, judged indirectly",
        "temperature_split_target": "how much the air is cooled",
        "condensing_over_ambient_usual": "how well the outdoor unit gets rid of heat",
        "compression_ratio_usual": "the load on the compressor",
        "discharge_temperature_highest": "the temperature of the compressor",
        "compressor_run_capacitor_marking": "the compressor's run capacitor (a part that helps it run)",
        "outdoor_fan_run_capacitor_marking": "the outdoor fan's run capacitor (a part that helps it run)",
        "indoor_blower_run_capacitor_marking": "the indoor fan's run capacitor (a part that helps it run)",
        "return_air_temperature_rise_usual": "the tightness of the return duct",
        "supply_voltage_motor": "the supply voltage",
        "supply_voltage_utilization": "the supply voltage",
        "voltage_imbalance_rated": "the balance of the three phases",
        "voltage_imbalance_correct": "the balance of the three phases",
        "voltage_imbalance_stop": "the balance of the three phases",
        "current_imbalance_usual": "the balance of the three phases",
        "current_imbalance_lost_phase": "the balance of the three phases",
        "compressor_current_rating": "the current that the compressor draws",
        "compressor_current_stalled": "the current that the compressor draws",
        "outdoor_fan_current_rating": "the current that the outdoor fan draws",
        "indoor_blower_current_rating": "the current that the indoor fan draws",
        "external_static_pressure_rating": "the ducts' resistance to airflow",
        "filter_share_usual": "the filter's resistance to airflow",
        "coil_share_usual": "the indoor coil's resistance to airflow",
        "airflow_for_charge_test": "the indoor airflow",
        "airflow_usual": "the indoor airflow",
        "cooling_capacity_rating": "the cooling compared with the unit's rating",
        "eer_rating": "the efficiency compared with the unit's rating",
        "high_pressure_cut_out_heating": "the pressure in the indoor unit",
        "high_pressure_near_cut_out_heating": "the pressure in the indoor unit",
        "discharge_superheat_flooding_heating": "the protection of the compressor from liquid",
        "vapour_line_temperature_highest": "the temperature of the compressor",
        "condensing_over_return_usual": "how well the indoor unit heats the air",
        "evaporating_under_outdoor_usual": "how well the outdoor unit absorbs heat from the air",
        "reversing_valve_rise_usual": "the valve that switches between heating and cooling",
        "liquid_pressure_table": "the amount of refrigerant, judged indirectly",
        "discharge_line_table": "the amount of refrigerant, judged indirectly",
        "subcooling_table": "the amount of refrigerant, judged indirectly",
        "airflow_usual_heating": "the indoor airflow",
        "heating_capacity_rating": "the heating compared with the unit's rating",
    }
)
#: What a change between two runs may point to.
_CHANGED: Mapping[str, str] = MappingProxyType(
    {
        "condenser_heat_transfer": "the outdoor coil's ability to get rid of heat",
        "evaporator_airflow": "the indoor airflow",
        "evaporator_heat_transfer": "the indoor coil's ability to absorb heat",
        "charge": "the amount of refrigerant",
        "compressor": "the compressor",
        "non_condensable_gas": "air or nitrogen in the refrigerant circuit",
        "several": "several things at once",
        "electrical": "the electrical parts",
        "outdoor_coil": "the outdoor coil's ability to absorb heat",
        "indoor_airflow": "the indoor airflow",
        "indoor_coil": "the indoor coil's ability to give off heat",
        "reversing_valve": "the valve that switches between heating and cooling",
    }
)


#: Doubts about the readings, by the code of their notice.
_DOUBTED: Mapping[str, str] = MappingProxyType(
    {
        "stage_not_known": "This unit has two stages. Nobody noted which one ran, so it was not compared with "
        "its rating.",
        "variable_speed": "This unit chooses its own speed, so it was not compared with its rating.",
        "stage_not_known.heating": "This unit has two stages. Nobody noted which one ran, so it was not compared with "
        "its rating.",
        "variable_speed.heating": "This unit chooses its own speed, so it was not compared with its rating.",
        "steady_state_not_shown": "The unit may not have run long enough for steady readings.",
        "not_steady": "The unit had not run long enough to judge its refrigerant and airflow.",
        "still_settling": "The unit had not run long when it was read, so some results are less certain.",
        "outdoor_air_too_cold": "It was too cold outdoors to check the amount of refrigerant.",
        "return_air_too_cold": "The house was too cool for some of the checks.",
        "defrosting": "The outdoor unit was melting its frost, so it could not be judged.",
        "defrost_just_ended": "The outdoor unit had just melted its frost, so it could not be judged.",
        "soon_after_defrost": "The outdoor unit had melted its frost shortly before, so the readings may not be "
        "steady.",
        "defrost_not_stated": "Nobody noted when the outdoor unit last melted its frost, so the readings may not be "
        "steady.",
        "frost_on_coil": "Frost or ice covered the outdoor unit, so its heating could not be judged.",
        "auxiliary_heat_on": "The backup heat was on, so the heat pump's own heating could not be judged.",
        "more_heat_than_possible": "The readings show more heat than a heat pump can give. Backup heat may have "
        "been on.",
        "nearly_empty_suspected": "Most of the refrigerant may be gone, or its flow blocked. The unit must not run "
        "until the cause is found.",
        "heat_not_rejected": "The outdoor unit is not getting rid of enough heat. That comes before the amount of "
        "refrigerant.",
        "not_pumping_suspected": "The compressor may not be pumping, so the amount of refrigerant could not be judged.",
        "no_pressure_lift": "The compressor may not be pumping, so the amount of refrigerant could not be judged.",
        "motor_not_running": "A fan may not be running, so the amount of refrigerant could not be judged.",
        "unit_is_off": "The unit was off when it was read.",
    }
)
_IN_DOUBT = "Some readings need checking, so part of this result is less certain or missing."


def doubted(code: str) -> str:
    """A doubt about the readings in plain words, by the code of its notice."""
    return _DOUBTED.get(code, _IN_DOUBT)


def checked(finding: Mapping[str, Any], otherwise: str) -> str:
    """What a finding is about; ``otherwise`` for a finding without a limit, or with one not listed."""
    limit = finding["limit"]
    return otherwise if limit is None else _CHECKED.get(limit["id"], otherwise)


def condition(finding: Mapping[str, Any]) -> str:
    """What a check asks for that was not done, to follow the finding; empty where nothing is missing."""
    if finding["condition_not_met"] is None:
        return ""
    return " The unit had not run long enough for this check, so it needs to be checked again."


def weather(conditions: Mapping[str, Any], audience: Audience) -> str:
    """Whether the conditions of two runs let them be compared."""
    if audience == "technician":
        return str(conditions["sentence"])
    if conditions["comparable"] == "yes":
        return "The weather was similar at both visits."
    return "The weather differed between the two visits, so the comparison is less certain."


def changed(cause: str, otherwise: str) -> str:
    """What a change points to."""
    return _CHANGED.get(cause, otherwise)
