"""What people who do not know the trade call things: what was checked, and what a change points to.

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
        "outdoor_fan_running": "the running of the outdoor fan",
        "indoor_blower_running": "the running of the indoor fan",
        "high_pressure_cut_out": "the pressure in the outdoor part",
        "high_pressure_near_cut_out": "the pressure in the outdoor part",
        "evaporating_temperature_lowest": "the pressure in the indoor part",
        "evaporating_temperature_freezing": "the distance from frost on the indoor coil",
        "discharge_superheat_flooding": "the protection of the compressor from liquid",
        "superheat_floodback": "the protection of the compressor from liquid",
        "isentropic_efficiency_usual": "the pumping of the compressor",
        "superheat_target_fixed": "the amount of refrigerant, by its signs",
        "superheat_valve": "the amount of refrigerant, by its signs",
        "subcooling_nameplate": "the amount of refrigerant, by its signs",
        "temperature_split_target": "the cooling of the air",
        "condensing_over_ambient_usual": "the heat that the outdoor part gets rid of",
        "compression_ratio_usual": "the load on the compressor",
        "discharge_temperature_highest": "the temperature of the compressor",
        "compressor_run_capacitor_marking": "the compressor's run capacitor (a part that helps it run)",
        "outdoor_fan_run_capacitor_marking": "the outdoor fan's run capacitor (a part that helps it run)",
        "indoor_blower_run_capacitor_marking": "the indoor fan's run capacitor (a part that helps it run)",
        "return_air_temperature_rise_usual": "the tightness of the return duct",
        "supply_voltage_motor": "the voltage of the supply",
        "supply_voltage_utilization": "the voltage of the supply",
        "voltage_imbalance_rated": "the balance of the three phases",
        "voltage_imbalance_correct": "the balance of the three phases",
        "voltage_imbalance_stop": "the balance of the three phases",
        "current_imbalance_usual": "the balance of the three phases",
        "current_imbalance_lost_phase": "the balance of the three phases",
        "compressor_current_rating": "the current that the compressor draws",
        "compressor_current_stalled": "the current that the compressor draws",
        "outdoor_fan_current_rating": "the current that the outdoor fan draws",
        "indoor_blower_current_rating": "the current that the indoor fan draws",
        "external_static_pressure_rating": "the resistance of the ducts",
        "filter_share_usual": "the resistance of the filter",
        "coil_share_usual": "the resistance of the indoor coil",
        "airflow_for_charge_test": "the airflow indoors",
        "airflow_usual": "the airflow indoors",
        "cooling_capacity_rating": "the cooling compared with the unit's rating",
        "eer_rating": "the efficiency compared with the unit's rating",
        "high_pressure_cut_out_heating": "the pressure in the indoor part",
        "high_pressure_near_cut_out_heating": "the pressure in the indoor part",
        "discharge_superheat_flooding_heating": "the protection of the compressor from liquid",
        "vapour_line_temperature_highest": "the temperature of the compressor",
        "condensing_over_return_usual": "the heat that the indoor part gives to the air",
        "evaporating_under_outdoor_usual": "the heat that the outdoor part takes from the air",
        "reversing_valve_rise_usual": "the valve that switches between heating and cooling",
        "liquid_pressure_table": "the amount of refrigerant, by its signs",
        "discharge_line_table": "the amount of refrigerant, by its signs",
        "subcooling_table": "the amount of refrigerant, by its signs",
        "airflow_usual_heating": "the airflow indoors",
        "heating_capacity_rating": "the heating compared with the unit's rating",
    }
)
#: What a change between two runs may point to.
_CHANGED: Mapping[str, str] = MappingProxyType(
    {
        "condenser_heat_transfer": "the outdoor coil getting rid of heat",
        "evaporator_airflow": "the airflow indoors",
        "evaporator_heat_transfer": "the indoor coil taking up heat",
        "charge": "the amount of refrigerant",
        "compressor": "the compressor",
        "non_condensable_gas": "air or nitrogen in the refrigerant circuit",
        "several": "several things at once",
        "electrical": "the electrical side",
        "outdoor_coil": "the outdoor coil taking up heat",
        "indoor_airflow": "the airflow indoors",
        "indoor_coil": "the indoor coil giving off heat",
        "reversing_valve": "the valve that switches between heating and cooling",
    }
)


#: Doubts about the readings, by the code of their notice.
_DOUBTED: Mapping[str, str] = MappingProxyType(
    {
        "stage_not_known": "This unit runs in two stages, and which one ran was not noted, so it was not compared with "
        "its rating.",
        "variable_speed": "This unit chooses its own speed, so it was not compared with its rating.",
    }
)


def doubted(code: str, otherwise: str) -> str:
    """A doubt about the readings in plain words, else as the notice says it."""
    return _DOUBTED.get(code, otherwise)


def checked(finding: Mapping[str, Any], otherwise: str) -> str:
    """What a finding is about; ``otherwise`` for a finding without a limit, or with one not listed."""
    limit = finding["limit"]
    return otherwise if limit is None else _CHECKED.get(limit["id"], otherwise)


def weather(conditions: Mapping[str, Any], audience: Audience) -> str:
    """Whether the conditions of two runs let them be compared."""
    if audience == "technician":
        return str(conditions["sentence"])
    if conditions["comparable"] == "yes":
        return "The weather was similar both times."
    return "The weather differed between the two times, so a comparison is less sure."


def changed(cause: str, otherwise: str) -> str:
    """What a change points to."""
    return _CHANGED.get(cause, otherwise)
