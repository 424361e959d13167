"""What the maker's performance table says at the conditions of the run, and how the unit departs from it."""

from __future__ import annotations

from functools import partial

import numpy as np

from service.derive.derivations.registry import HEATING, FloatArray, derive, over, quantity, same
from service.intake.paths import ASSUMED, READING, TABLE
from service.intake.performance_table import COLUMNS, TableColumn
from service.reference.assumptions import TABLE_SPREAD

R = READING

# ---------------------------------------------------------------- conditions


def _unknown(outdoor: FloatArray) -> FloatArray:
    """Not-a-number for a condition that the visit does not give; a table that depends on it is not used."""
    return np.full(np.shape(outdoor), np.nan)


for _axis, _from in (
    ("return_air_dry_bulb", R + "return_air_dry_bulb"),
    ("return_air_wet_bulb", "return_air_wet_bulb"),
    ("airflow", "measured_airflow"),
):
    quantity(f"table_{_axis}", "Condition of the maker's table", "ratio", internal=True)
    derive(f"table_{_axis}", (_from,), same, "as read")
    derive(f"table_{_axis}", (R + "outdoor_air_dry_bulb",), _unknown, "not given")

CONDITIONS = (R + "outdoor_air_dry_bulb", "table_return_air_dry_bulb", "table_return_air_wet_bulb", "table_airflow")


def printed(
    column: TableColumn,
    outdoor: FloatArray,
    dry_bulb: FloatArray,
    wet_bulb: FloatArray,
    flow: FloatArray,
    error: FloatArray,
    *,
    name: str,
) -> FloatArray:
    """The table's value at the conditions, with its spread."""
    value = column.value(
        {
            "outdoor_air_dry_bulb": outdoor,
            "return_air_dry_bulb": dry_bulb,
            "return_air_wet_bulb": wet_bulb,
            "airflow": flow,
        }
    )
    spread = TABLE_SPREAD[name]
    return value + spread * error if "temperature" in COLUMNS[name] else value * (1.0 + spread * error)


_WORDS = {
    "capacity": "Capacity",
    "power": "Total power",
    "suction_pressure": "Suction pressure",
    "liquid_pressure": "Liquid pressure",
    "subcooling": "Subcooling",
    "discharge_line_temperature": "Discharge line temperature",
}
for _name, _kind in COLUMNS.items():
    quantity(f"table_{_name}", f"{_WORDS[_name]} by the maker's table", _kind, optional=True)
    derive(
        f"table_{_name}",
        (TABLE + _name, *CONDITIONS, ASSUMED + "performance_table"),
        partial(printed, name=_name),
        "maker's table, linear between its rows",
        "performance_table",
    )

# ---------------------------------------------------------------- departures

for _name, _actual in (("suction_pressure", "suction_pressure_absolute"), ("liquid_pressure", R + "liquid_pressure")):
    quantity(
        f"{_name}_departure_from_table",
        f"{_WORDS[_name]}'s departure from the maker's table",
        "fraction",
        optional=True,
    )
    derive(
        f"{_name}_departure_from_table",
        (_actual, f"table_{_name}"),
        lambda actual, own: over(actual, own) - 1.0,
        "absolute pressure divided by that of the maker's table, minus one",
        "performance_table",
    )
for _name, _actual in (
    ("subcooling", "subcooling"),
    ("discharge_line_temperature", R + "discharge_line_temperature"),
):
    quantity(
        f"{_name}_departure_from_table",
        f"{_WORDS[_name]} minus that of the maker's table",
        "temperature_difference",
        modes=HEATING,
        optional=True,
    )
    derive(
        f"{_name}_departure_from_table",
        (_actual, f"table_{_name}"),
        np.subtract,
        "as found minus the maker's table",
        "performance_table",
    )
