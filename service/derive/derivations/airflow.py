"""Indoor airflow by every method the readings allow, and static pressure shares."""

from __future__ import annotations

import numpy as np

from service.derive.derivations.registry import (
    FloatArray,
    derive,
    over,
    quantity,
    same,
)
from service.intake.paths import ASSUMED, NAMEPLATE, RATED, READING, SITE_PRESSURE
from service.physics import airflow, moist_air
from service.reference.balances import FAMILIES
from service.reference.capacity_control import RATED_RUNNING
from service.reference.conditions import CFM_PER_TON

R, AIR = READING, SITE_PRESSURE

#: Rule of thumb: 400 cfm for each ton of capacity, in m3/s for each W.
NOMINAL_AIRFLOW = 400.0 * CFM_PER_TON


# ---------------------------------------------------------------- air that the blower moves

for _side in ("return", "supply"):
    quantity(f"{_side}_air_specific_volume", f"{_side.capitalize()} air specific volume", "ratio", internal=True)
    derive(
        f"{_side}_air_specific_volume",
        (f"{R}{_side}_air_dry_bulb", f"{_side}_air_humidity_ratio", AIR),
        moist_air.specific_volume,
        "perfect-gas relation",
        "ashrae_psychrometrics",
    )

quantity("blower_air_density", "Density of the air at the blower", "ratio", internal=True)
derive(
    "blower_air_density",
    (R + "return_air_dry_bulb", "return_air_humidity_ratio", AIR),
    moist_air.density,
    "perfect-gas relation",
    "ashrae_psychrometrics",
)
derive(
    "blower_air_density",
    (AIR,),
    # Room air; 5 K or all its moisture change the density by under 2 %.
    lambda pressure: moist_air.density(297.0, 0.009, pressure),
    "room air of 75 °F at site pressure",
    "ashrae_psychrometrics",
)

# ---------------------------------------------------------------- methods

quantity("airflow_measured", "Airflow as measured", "airflow", expected_with=(R + "airflow",))
derive(
    "airflow_measured",
    (R + "airflow", "run.airflow_measured_at_supply", "return_air_specific_volume", "supply_air_specific_volume"),
    lambda flow, _, back, front: flow * back / front,
    "measured in the supply, converted to the volume of the return air",
)
derive(
    "airflow_measured",
    (R + "airflow", "run.airflow_measured_at_supply", R + "return_air_dry_bulb", R + "supply_air_dry_bulb"),
    lambda flow, _, back, front: flow * back / front,
    "measured in the supply, converted to the volume of the return air by their temperatures",
)
derive("airflow_measured", (R + "airflow",), same, "as measured")

quantity(
    "airflow_from_blower_table",
    "Airflow from the blower table",
    "airflow",
    expected_with=("unit.blower_table",),
)
derive(
    "airflow_from_blower_table",
    ("unit.blower_table", "total_external_static_pressure", "blower_air_density", ASSUMED + "blower_table"),
    lambda table, static, density, error: error * airflow.from_blower_table(static, density, table[0], table[1]),
    "blower table at the total external static pressure, converted to standard air",
    "fan_laws",
)

for _part in ("coil", "filter"):
    quantity(
        f"airflow_from_{_part}_pressure_drop",
        f"Airflow from the {_part}'s pressure drop",
        "airflow",
        expected_with=(f"unit.{_part}_pressure_drop_rating",),
    )
    derive(
        f"airflow_from_{_part}_pressure_drop",
        (
            R + f"{_part}_pressure_drop",
            f"unit.{_part}_pressure_drop_rating",
            "blower_air_density",
            f"{ASSUMED}{_part}_drop_law",
        ),
        lambda drop, rating, density, error: error * airflow.from_pressure_drop(drop, rating[0], rating[1], density),
        f"square-root law from the {_part}'s rated point, which holds for a clean one",
        "square_root_law",
    )

_HEAT_TEST = (
    R + "heat_test_entering_air_dry_bulb",
    R + "heat_test_leaving_air_dry_bulb",
    R + "heat_test_electric_power",
    R + "heat_test_gas_input",
)
quantity("heat_test_heat", "Heat given to the air in the heat test", "heat_flow", internal=True)
derive("heat_test_heat", (R + "heat_test_electric_power",), same, "electric power, blower included")
derive(
    "heat_test_heat",
    (R + "heat_test_gas_input", "unit.furnace_efficiency"),
    np.multiply,
    "gas input times steady-state efficiency",
)


def _known_heat(
    heat: FloatArray,
    entering: FloatArray,
    leaving: FloatArray,
    pressure: FloatArray,
    share: FloatArray,
) -> FloatArray:
    # Indoor air in the heating season is dry enough to be taken as dry.
    volume = moist_air.specific_volume(entering, 0.005, pressure)
    return airflow.from_known_heat(heat * share, entering, leaving, volume)


quantity("airflow_in_heat_test", "Airflow during the heat test", "airflow", expected_with=_HEAT_TEST)
derive(
    "airflow_in_heat_test",
    ("heat_test_heat", *_HEAT_TEST[:2], AIR, ASSUMED + "known_heat"),
    _known_heat,
    "known heat divided by the temperature rise of the air",
    "temperature_rise_method",
)
quantity("airflow_from_known_heat", "Airflow from a known heat", "airflow", internal=True)
derive(
    "airflow_from_known_heat",
    ("run.heat_test_at_cooling_speed", "airflow_in_heat_test"),
    lambda _, flow: flow,
    "the heat test was made at the cooling speed",
)

quantity("airflow_nominal", "Airflow by rule of thumb", "airflow", running=RATED_RUNNING, optional=True)
derive(
    "airflow_nominal",
    (RATED + "airflow", ASSUMED + "nominal_airflow"),
    np.multiply,
    "rated airflow, with the spread found in installed systems",
    "nominal_airflow",
)
derive(
    "airflow_nominal",
    (RATED + "cooling_capacity", ASSUMED + "nominal_airflow"),
    lambda rated, error: NOMINAL_AIRFLOW * rated * error,
    "400 cfm per ton of rated capacity, with the spread found in installed systems",
    "nominal_airflow",
)

quantity("measured_airflow", "Airflow by a method that reads it", "airflow", internal=True)
for _method in FAMILIES["airflow"]:
    derive("measured_airflow", (_method,), same, _method.replace("_", " "))

quantity("air_side_airflow", "Airflow without the refrigerant side", "airflow", internal=True)
# The rule of thumb only where no other way is at hand: it sizes the blower's heat, and is in no balance.
for _method in ("measured_airflow", "airflow_nominal"):
    derive("air_side_airflow", (_method,), same, _method.replace("_", " "))

quantity("airflow", "Airflow", "airflow", reconciled=True)
quantity("airflow_is_measured", "Whether airflow comes from measurements", "ratio", internal=True)
for _method in (
    "measured_airflow",
    "airflow_from_refrigerant_side",
    "airflow_from_heat_rejection_side",
):
    derive("airflow_is_measured", (_method,), lambda _: True, "not by rule of thumb")
derive("airflow", ("measured_airflow",), same, "best estimate from the methods at hand")
for _side in ("refrigerant", "heat_rejection"):
    derive(
        "airflow",
        (f"airflow_from_{_side}_side",),
        same,
        f"capacity of the {_side.replace('_', ' ')} side divided by the enthalpy drop of the air",
    )
derive("airflow", ("airflow_nominal",), same, "by rule of thumb: not measured", "nominal_airflow")

quantity(
    "airflow_for_rated_capacity",
    "Airflow per unit of rated capacity",
    "airflow_for_capacity",
    running=RATED_RUNNING,
    follows=True,
    expected_with=(
        R + "airflow",
        R + "total_external_static_pressure",
        R + "coil_pressure_drop",
        RATED + "cooling_capacity",
    ),
)
# A rule of thumb is never graded: this value needs a measured airflow.
derive(
    "airflow_for_rated_capacity",
    ("airflow", RATED + "cooling_capacity", "airflow_is_measured"),
    lambda flow, rated, _: over(flow, rated),
    "airflow divided by rated capacity",
)

# ---------------------------------------------------------------- where the static pressure goes

for _part in ("filter", "coil"):
    quantity(
        f"{_part}_share_of_static_pressure",
        f"{_part.capitalize()} as a share of the rated total external static pressure",
        "fraction",
        expected_with=(R + f"{_part}_pressure_drop",),
    )
    # Of the rated pressure: a share of the actual one calls a clean filter dirty where the ducts are easy.
    derive(
        f"{_part}_share_of_static_pressure",
        (R + f"{_part}_pressure_drop", NAMEPLATE + "maximum_external_static_pressure", f"unit.{_part}_is_external"),
        lambda drop, rated, _: over(drop, rated),
        f"pressure drop of the {_part} divided by the nameplate's total external static pressure",
    )
    derive(
        f"{_part}_share_of_static_pressure",
        (R + f"{_part}_pressure_drop", ASSUMED + "rated_static_pressure", f"unit.{_part}_is_external"),
        lambda drop, rated, _: over(drop, rated),
        f"pressure drop of the {_part} divided by the usual rated total external static pressure",
        "rated_static_pressure",
    )
