"""Notices of the checks: what is odd about their readings.  The one place to touch for a new one."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from service.reference.notices import NoticeRow

_ROWS = (
    NoticeRow(
        "pressure_rose",
        "reservation",
        "The pressure rose more than the temperature explains. No leak does that. The probe did not follow the gas "
        "(sun on the coil, a probe in the air), or gas was added. Start again.",
        "gas_laws",
    ),
    NoticeRow(
        "large_temperature_swing",
        "reservation",
        "The gas temperature changed by {change}. One probe does not show the mean temperature of coils and lines in "
        "such a swing, so its error may be larger than stated. A shorter test in steady shade says more.",
        "pressure_test_hour",
    ),
    NoticeRow(
        "gas_still_settling",
        "note",
        "The test lasted {minutes} min. Filling warms the gas, and it takes minutes to settle. Read again later: a "
        "longer test can show a smaller leak.",
        "practice",
    ),
    NoticeRow(
        "gas_still_settling",
        "reservation",
        "The test lasted {minutes} min, which shows nothing about leaks: filling warms the gas, and it takes minutes "
        "to settle. Keep the pressure on, and read again after an hour.",
        "practice",
        variant="nothing_shown",
    ),
    NoticeRow(
        "long_line_set",
        "reservation",
        "The lines are {length} long, with a lift of {lift}. Beyond the maker's limit a line set needs more than extra "
        "charge: a solenoid valve, a crankcase heater, a hard-start kit, another line size. Follow the maker's "
        "long-line guide.",
        "long_line_practice",
    ),
    NoticeRow(
        "charge_removal",
        "reservation",
        "The lines need less than the factory charge holds for them. Many makers forbid removing charge below that "
        "allowance. Ask the manual.",
        "charge_adjustment",
    ),
    NoticeRow(
        "charge_removal",
        "reservation",
        "The lines need less than the factory charge holds for them, but the manual does not allow charge to be "
        "removed. Keep the nameplate charge.",
        "charge_adjustment",
        variant="forbidden",
    ),
    NoticeRow(
        "allowance_unlikely",
        "reservation",
        "The stated allowance is {stated}, but these lines hold {computed} by their size. Check the unit of the "
        "number, the size of the liquid line and the refrigerant.",
        "line_content",
    ),
    NoticeRow(
        "terminals_mixed",
        "reservation",
        "The highest of the three readings is from {first} to {second}. The start and the run terminal read highest "
        "together, so the terminal marked {third} is the common one. The letters were mixed up, or a winding is bad.",
        "winding_identity",
    ),
    NoticeRow(
        "terminals_mixed",
        "reservation",
        "The start winding reads less than the run winding. In a usual compressor it reads more: start and run were "
        "mixed up, or the start winding is shorted.",
        "start_winding_ratio",
        variant="start_and_run",
    ),
    NoticeRow(
        "winding_open",
        "disqualifying",
        "A winding reads {value}: it is open. The overload inside the shell may have opened: let the compressor cool "
        "for hours, and read again before you condemn it.",
        "practice",
    ),
    NoticeRow(
        "leads_decide",
        "reservation",
        "The windings read less than {value}. At that level leads and contacts dominate the reading. Zero the leads, "
        "or use a four-wire meter.",
        "winding_spread",
    ),
    NoticeRow(
        "insulation_conditions",
        "note",
        "Never test insulation in a vacuum, where the voltage flashes over, or with drives, soft starters or "
        "other electronics connected. Discharge the winding afterwards.",
        "practice",
    ),
    NoticeRow(
        "ground_beyond_range",
        "note",
        "The ohmmeter shows no path to ground. Its few volts do not prove the insulation: an insulation tester does.",
        "grounded_winding",
    ),
    NoticeRow(
        "series_reading",
        "reservation",
        "The reading from HERM to C, {value}, is what both sections of {marking} read in series ({series}). The leads "
        "were probably on HERM and FAN. Read again before you replace it.",
        "series_capacitors",
    ),
    NoticeRow(
        "series_disagrees",
        "reservation",
        "From HERM to FAN both sections read {value}, but in series the two readings make {series}. One of the three "
        "readings is wrong, or the common terminal has a poor contact.",
        "series_capacitors",
    ),
    NoticeRow(
        "tolerance_assumed",
        "note",
        "The marking {marking} states no tolerance. The usual ±{percent} % was used.",
        "capacitor_marking",
    ),
    NoticeRow(
        "delivered_more_than_made",
        "disqualifying",
        "The registers deliver more than the equipment makes ({share}). No duct can do that. Registers were counted "
        "twice, the hood reads high, or the readings at the equipment are wrong.",
        "delivered_heat",
    ),
    NoticeRow(
        "moisture_added",
        "disqualifying",
        "These readings show the air leaving the cooling coil with more moisture than it entered with ({rate}). A wet "
        "bulb or a humidity is wrong, or the unit has just stopped and the coil is drying.",
        "moisture_removed",
    ),
    NoticeRow(
        "sensible_only",
        "note",
        "Humidity was not read everywhere, so only sensible heat is compared.",
        "delivered_heat",
    ),
    NoticeRow(
        "test_not_operation",
        "note",
        "A leakage test at 25 Pa does not show the leakage in operation: near the air handler the pressure is higher, "
        "at the registers lower.",
        "practice",
    ),
    NoticeRow(
        "pressure_fell",
        "reservation",
        "The pressure fell by {fall} during the test. The pump was still connected, the gauge was cooling "
        "down, or ice is forming. Isolate, wait a minute, and start again.",
        "practice",
    ),
    NoticeRow(
        "few_readings",
        "reservation",
        "{count} readings do not show the shape of a rise. Take five or more, evenly spaced.",
        "practice",
    ),
    NoticeRow(
        "short_rise_test",
        "note",
        "The test lasted {minutes} min. The usual limits apply after ten minutes.",
        "standing_vacuum_1000",
    ),
    NoticeRow(
        "shallow_vacuum",
        "reservation",
        "The test began at {start}. At such a pressure moisture hardly evaporates, and a rise says little. Evacuate "
        "below 500 microns first.",
        "evacuate_500",
    ),
    NoticeRow(
        "saturation_exceeded",
        "note",
        "The pressure passed {saturation}, the saturation pressure of water at the coldest part. Drying alone cannot "
        "do that.",
        "water_saturation",
    ),
    NoticeRow(
        "rest_not_shown",
        "reservation",
        "How long the unit has been off is not given. It takes about 30 minutes to settle.",
        "non_condensables_at_rest",
    ),
    NoticeRow(
        "rested_briefly",
        "reservation",
        "The unit has been off for {minutes} min. It takes about 30 minutes to settle; until then no single "
        "temperature holds for the pressure.",
        "non_condensables_at_rest",
    ),
    NoticeRow(
        "not_settled",
        "reservation",
        "The temperatures differ by {difference}, so the unit has not settled or a probe is wrong. The pressure "
        "follows the coldest place that holds liquid.",
        "non_condensables_at_rest",
    ),
    NoticeRow(
        "sun_on_coil",
        "reservation",
        "The sun shines on the coil: no single temperature holds for the liquid. Shade it and wait.",
        "non_condensables_at_rest",
    ),
    NoticeRow(
        "crankcase_heater_on",
        "reservation",
        "The crankcase heater keeps the compressor warm, and refrigerant moves away from it. Readings at the coil then "
        "take longer to settle.",
        "non_condensables_at_rest",
    ),
    NoticeRow(
        "more_than_full",
        "reservation",
        "{added} were added at once, more than the full charge of {full}. Check both numbers and their units.",
        "definition",
    ),
    NoticeRow(
        "short_interval",
        "reservation",
        "Only {days} days passed between the additions, so the annual rate is a wide extrapolation.",
        "practice",
    ),
    NoticeRow(
        "full_charge_assumed",
        "note",
        "The full charge is taken as known to 5 % (standard uncertainty). Give your own figure if you know it better.",
        "practice",
    ),
    NoticeRow(
        "low_test_pressure",
        "reservation",
        "{pressure} hardly tests a circuit: a leak at working pressure may not show. The nameplate states the pressure "
        "for the test.",
        "practice",
    ),
    NoticeRow(
        "unit_in_doubt",
        "disqualifying",
        "{label} was taken to be {stated}, which is unusual here; {meant} would be usual. Give the number with its "
        "unit. Nothing that depends on it was judged.",
        "usual_inputs",
    ),
    NoticeRow(
        "unit_in_doubt",
        "disqualifying",
        "{label} was taken to be {stated}, which does not fit saturation; {meant} would fit. Give the number with its "
        "unit. Nothing that depends on it was judged.",
        "non_condensables_at_rest",
        variant="saturation",
    ),
    NoticeRow(
        "excess_too_large",
        "disqualifying",
        "The pressure is {excess} above saturation, more than air or nitrogen usually accounts for. A reading, its "
        "unit or the refrigerant may be wrong.",
        "non_condensables_at_rest",
    ),
    NoticeRow(
        "line_sizes_unlikely",
        "disqualifying",
        "The liquid line, {liquid} in., is not smaller than the vapour line, {vapour} in. The sizes were swapped, or "
        "one is wrong. Nothing that depends on them was judged.",
        "charge_plausible",
    ),
    NoticeRow(
        "line_sizes_unlikely",
        "disqualifying",
        "A liquid line of {liquid} in. is larger than split systems have; it may be the size of the vapour line. "
        "Nothing that depends on it was judged.",
        "charge_plausible",
        variant="liquid",
    ),
    NoticeRow(
        "lines_hold_more",
        "disqualifying",
        "The lines would hold {lines}, more than the whole charge on the nameplate, {charge}. Check the length, the "
        "sizes, the allowance and the charge, each with its unit.",
        "charge_plausible",
    ),
    NoticeRow(
        "charge_unlikely",
        "disqualifying",
        "A charge of {charge} is unusual for a unit of {capacity}. Check both numbers and their units: ounces and "
        "pounds are easily confused.",
        "charge_plausible",
    ),
    NoticeRow(
        "mass_unlikely",
        "disqualifying",
        "The mass {what} is {stated}, {share} of what the unit should hold. Check the number and its unit before you "
        "add or remove any.",
        "charge_plausible",
    ),
    NoticeRow(
        "mass_unlikely",
        "disqualifying",
        "The mass {what} is {stated}, {share} of what the unit should hold; {meant} would be about right. Check the "
        "number and its unit before you add or remove any.",
        "charge_plausible",
        variant="unit",
    ),
    NoticeRow(
        "sections_swapped",
        "disqualifying",
        "On a can marked {marking}, {value} would fit the other section: the leads on HERM and FAN were swapped, or "
        "the readings were. Neither section was judged. Read both again.",
        "capacitor_marking",
    ),
    NoticeRow(
        "overload_open",
        "disqualifying",
        "Both windings read open from the common terminal, but not from start to run: the overload inside the shell "
        "has opened. Let the compressor cool for hours, and read again before you condemn it.",
        "practice",
    ),
    NoticeRow(
        "delivered_more_than_made",
        "disqualifying",
        "The registers deliver more air than the blower moves ({share}). No duct can do that. Registers were counted "
        "twice, an airflow reads wrong, or the two are in different units.",
        "delivered_heat",
        variant="air",
    ),
    NoticeRow(
        "furnace_reversed",
        "disqualifying",
        "Air leaves the furnace {rise} colder than it enters. The two readings were swapped, or the burners were off. "
        "The rise was not judged.",
        "delivered_heat",
    ),
    NoticeRow(
        "equipment_reversed",
        "disqualifying",
        "In {mode} the air leaves the equipment {change} than it enters. The two were swapped, or the mode is wrong. "
        "What the equipment makes was not judged.",
        "delivered_heat",
    ),
    NoticeRow(
        "registers_reversed",
        "disqualifying",
        "In {mode} the air of the registers is {change} than the room's. The readings were swapped, or the mode is "
        "wrong. What the ducts deliver was not judged.",
        "delivered_heat",
    ),
    NoticeRow(
        "leakage_over_airflow",
        "disqualifying",
        "The leakage is {share} of the airflow, which leaves no air to deliver. Check both numbers and their units.",
        "definition",
    ),
    NoticeRow(
        "effectiveness_over_one",
        "disqualifying",
        "By the formula the ducts would deliver more than the equipment makes ({share}). Check the temperatures around "
        "the ducts and their units.",
        "ashrae_152",
    ),
    NoticeRow(
        "airflow_unlikely",
        "disqualifying",
        "The airflow and the capacity make {airflow}, which is unusual in cooling. Check both numbers and their units. "
        "Nothing that depends on this airflow was judged.",
        "usual_inputs",
    ),
    NoticeRow(
        "airflow_units_differ",
        "disqualifying",
        "The registers deliver {share} of the blower's air. In another unit one of the two would match the other. Give "
        "all airflows with their units. Nothing that depends on them was judged.",
        "usual_inputs",
    ),
)

CHECK_NOTICES: Mapping[str, NoticeRow] = MappingProxyType({row.name: row for row in _ROWS})
