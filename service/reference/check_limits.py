"""Limits of the checks, and what decides a test with the unit off.  The one place to touch for a new one.

Rows are those of :mod:`service.reference.limits`; a bound that the request states has its path in ``OfNameplate``.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from service.reference.changes import ONE_SIDED
from service.reference.ducts import (
    DELIVERED_SHARE,
    FACE_VELOCITY,
    FAN_POWER,
    FAN_POWER_FURNACE,
    FILTER_SHARE,
    LEAKAGE_ALTERED,
    LEAKAGE_NEW,
)
from service.reference.limits import LimitRow, OfNameplate
from service.reference.line_contents import CHARGE_SHARE
from service.reference.motors import (
    GROUNDED,
    LARGE_MOTOR_LEAST,
    LARGE_MOTOR_RATIO,
    NOT_POOR,
    OPEN_TO_GROUND,
    SHORTED,
    WINDING_SPREAD,
)
from service.reference.vacuum import MICRON

_PSI = 6894.757293168361

#: Standard uncertainties that a change must exceed to be shown four times in five by a one-sided test at 5 %.
SEEN = ONE_SIDED + 0.841621

#: Change of gas temperature over a pressure test [K] from which one probe no longer speaks for the whole circuit
#: (20 °F); source ``pressure_test_hour`` for the kind of trouble, common practice for the size.
LARGE_SWING = 20.0 * 5.0 / 9.0
#: Shortest pressure test [s] that is not remarked on (15 min); common practice, no source.
SHORT_TEST = 900.0

#: Time off [min] after which a unit is usually settled, and how closely its places then agree [K] (4 °F); source
#: ``non_condensables_at_rest``.
SETTLED_MINUTES = 30.0
SETTLED_WITHIN = 4.0 * 5.0 / 9.0
#: Temperatures of a unit at rest that people read [K] (0 to 120 °F; common practice, no source).
RESTS_AT = (255.4, 322.0)
#: Excess at rest beyond which a unit or a reading is likelier to be wrong than air [Pa] (common practice, no source).
MOST_GAS = 80.0 * 6894.757293168361
#: Pressure over the air below which nitrogen hardly tests a circuit, and time before which nothing follows [Pa, s]
#: (common practice, no source).
LEAST_TEST_PRESSURE = 100.0 * 6894.757293168361
LEAST_TEST_TIME = 900.0
#: Share of its pressure by which gas that filling warmed may still settle within that time [1] (common practice, no
#: source: 15 K of 300 K).
SETTLES_BY = 0.05

_ROWS = (
    LimitRow(
        "pressure_loss_none",
        "pressure_loss",
        None,
        0.0,
        "common_practice",
        "no_loss_is_not_tight",
        "unstopped",
        above="There is a leak. Test every joint with bubbles, repair it, and repeat the test.",
    ),
    LimitRow(
        "test_pressure_stated",
        "highest_pressure",
        None,
        OfNameplate("highest_allowed_pressure"),
        "nameplate",
        "test_pressure_stated",
        "unstopped",
        concern="safety",
        above="Keep clear and lower the pressure now, slowly, through the regulator or a hose outdoors. Have the parts "
        "inspected before they are used.",
    ),
    LimitRow(
        "charge_held_share",
        "charge_held_share",
        1.0 - CHARGE_SHARE,
        1.0 + CHARGE_SHARE,
        "common_practice",
        "charge_share_practice",
        "unstopped",
        below="Less was weighed in than the unit should hold. Add the rest by weight.",
        above="More was weighed in than the unit should hold. Recover the excess by weight.",
    ),
    LimitRow(
        "charge_recovered_share",
        "charge_recovered_share",
        1.0 - CHARGE_SHARE,
        1.0 + CHARGE_SHARE,
        "common_practice",
        "charge_share_practice",
        "unstopped",
        concern="damage",
        below="The unit was low on refrigerant. A circuit does not use it up: find the leak before you charge.",
        above="The unit was overcharged, or the lines or the nameplate were entered wrongly. Check them.",
    ),
    LimitRow(
        "winding_identity",
        "winding_departure",
        OfNameplate("single_phase_windings.lowest"),
        OfNameplate("single_phase_windings.highest"),
        "common_practice",
        "winding_identity",
        "unstopped",
        concern="damage",
        below="Start to run reads less than the two windings together. A lead, a terminal or a winding has a poor "
        "contact: read again with the leads zeroed.",
        above="Start to run reads more than the sum of the two windings, which two windings that share one terminal "
        "cannot do. Read again with the leads zeroed, then suspect a winding or its terminal.",
    ),
    LimitRow(
        "winding_spread_usual",
        "winding_spread",
        None,
        WINDING_SPREAD[0],
        "common_practice",
        "winding_spread",
        "unstopped",
        aspect="usual spread",
        watch=True,
        above="The windings are usually closer to each other. Read again with the leads zeroed, at one temperature.",
    ),
    LimitRow(
        "winding_spread_suspect",
        "winding_spread",
        None,
        WINDING_SPREAD[1],
        "common_practice",
        "winding_spread",
        "unstopped",
        concern="damage",
        above="The windings differ too much. Suspect turns that are shorted, or a poor connection inside.",
    ),
    LimitRow(
        "winding_to_ground",
        "resistance_to_ground",
        GROUNDED,
        None,
        "published_procedure",
        "grounded_winding",
        "unstopped",
        concern="safety",
        below="A winding is grounded. Do not energise the motor. Clean and dry the terminals and read again before you "
        "condemn it.",
    ),
    LimitRow(
        "insulation_maker",
        "insulation_resistance",
        OfNameplate("insulation.least"),
        None,
        "nameplate",
        "insulation_maker",
        "unstopped",
        concern="safety",
        below="The insulation is below what the maker allows. Do not energise the motor.",
    ),
    LimitRow(
        "insulation_simple_rule",
        "insulation_resistance",
        OfNameplate("insulation.simple_rule"),
        None,
        "standard",
        "insulation_simple_rule",
        "unstopped",
        concern="safety",
        below="The insulation is below the simple rule. Ask the maker before you energise the motor: some compressors "
        "read low while liquid refrigerant surrounds their windings. Warm it with its heater and read again.",
    ),
    LimitRow(
        "insulation_large_motor",
        "insulation_resistance",
        LARGE_MOTOR_LEAST,
        None,
        "published_procedure",
        "insulation_chiller",
        "unstopped",
        concern="safety",
        below="The insulation of a large hermetic motor should read more. Do not energise it; follow the maker.",
    ),
    LimitRow(
        "insulation_ratio",
        "insulation_ratio",
        LARGE_MOTOR_RATIO,
        None,
        "published_procedure",
        "insulation_chiller",
        "unstopped",
        concern="damage",
        below="The reading falls with time, which points to moisture or dirt in the insulation.",
    ),
    LimitRow(
        "capacitor_off_circuit",
        "capacitance",
        OfNameplate("capacitors.lowest"),
        OfNameplate("capacitors.highest"),
        "nameplate",
        "capacitor_marking",
        "unstopped",
        below="The capacitor is weak. Replace it with one of the same value and at least the same voltage.",
        above="A value above the marking suggests a wrong part or a wrong reading. Check the terminals, and read again "
        "with both leads off the circuit.",
    ),
    LimitRow(
        "delivered_share_usual",
        "delivered_share",
        DELIVERED_SHARE,
        None,
        "common_practice",
        "delivery_practice",
        "unstopped",
        below="Ducts lose much of what the unit makes. Look for disconnected runs and leaks in attic or crawl space, "
        "then for missing insulation.",
    ),
    LimitRow(
        "delivery_effectiveness_usual",
        "delivery_effectiveness",
        DELIVERED_SHARE,
        None,
        "common_practice",
        "delivery_practice",
        "unstopped",
        below="By the standard's formula these ducts lose much of what the unit makes. Seal them before anything else.",
    ),
    LimitRow(
        "duct_leakage_new",
        "duct_leakage_share",
        None,
        LEAKAGE_NEW,
        "published_procedure",
        "duct_leakage_six",
        "unstopped",
        aspect="new ducts",
        watch=True,
        above="Several codes require new ducts to be tighter. Seal joints, boots and the air handler's cabinet.",
    ),
    LimitRow(
        "duct_leakage_altered",
        "duct_leakage_share",
        None,
        LEAKAGE_ALTERED,
        "published_procedure",
        "duct_leakage_six",
        "unstopped",
        aspect="altered ducts",
        above="That is more than codes allow for altered ducts. Seal joints, boots and the air handler's cabinet.",
    ),
    LimitRow(
        "fan_power_usual",
        "fan_power_per_airflow",
        None,
        FAN_POWER,
        "published_procedure",
        "fan_power_058",
        "unstopped",
        aspect="air handlers",
        above="The blower uses a lot of power for its airflow. Check filter, coil, ducts and the blower's speed.",
    ),
    LimitRow(
        "fan_power_furnace",
        "fan_power_per_airflow",
        None,
        FAN_POWER_FURNACE,
        "published_procedure",
        "fan_power_058",
        "unstopped",
        aspect="gas-furnace air handlers, newer editions",
        watch=True,
        above="Newer rules set a lower limit for a gas furnace's blower. A restriction or an old motor explains it.",
    ),
    LimitRow(
        "filter_share_of_rating",
        "filter_share_of_rating",
        None,
        FILTER_SHARE,
        "common_practice",
        "static_pressure_shares",
        "unstopped",
        above="The filter takes a large part of the static pressure. It may be dirty, too small, or too fine.",
    ),
    LimitRow(
        "filter_face_usual",
        "filter_face_velocity",
        None,
        FACE_VELOCITY,
        "common_practice",
        "filter_face",
        "unstopped",
        above="The filter is small for this airflow.",
    ),
    LimitRow(
        "furnace_rise_nameplate",
        "furnace_temperature_rise",
        OfNameplate("furnace.lowest_rise"),
        OfNameplate("furnace.highest_rise"),
        "nameplate",
        "furnace_rise",
        "unstopped",
        concern="safety",
        below="Too much air, or too little gas: flue gas can condense in a furnace that is not made for it. Check "
        "blower speed and gas input.",
        above="The heat exchanger overheats and can crack. Check filter, blower speed, registers and gas input before "
        "the furnace runs any longer.",
    ),
    LimitRow(
        "vacuum_before_charging",
        "start_pressure",
        None,
        500.0 * MICRON,
        "published_procedure",
        "evacuate_500",
        "unstopped",
        above="Evacuate further before you isolate: the test says more from a deep vacuum.",
    ),
    LimitRow(
        "vacuum_after_ten_minutes",
        "final_pressure",
        None,
        1000.0 * MICRON,
        "common_practice",
        "standing_vacuum_1000",
        "unstopped",
        above="Do not charge yet. Find out whether it is a leak or moisture: see the explanations.",
    ),
    LimitRow(
        "vacuum_leak_check",
        "final_pressure",
        None,
        2500.0 * MICRON,
        "common_practice",
        "standing_vacuum_2500",
        "unstopped",
        above="A leak check is called for. Check hoses, cores and caps first, then pressurise with nitrogen.",
    ),
    LimitRow(
        "excess_none",
        "excess_pressure",
        None,
        0.0,
        "common_practice",
        "non_condensables_at_rest",
        "unstopped",
        above="Read again when everything has settled. If the excess stays, recover the charge, evacuate and weigh in.",
    ),
    LimitRow(
        "liquid_present",
        "excess_pressure",
        0.0,
        None,
        "common_practice",
        "non_condensables_at_rest",
        "unstopped",
        below="Check the probe first. If it is right, no liquid is left: look for a leak before you add refrigerant.",
    ),
    LimitRow(
        "winding_shorted",
        "winding_resistance",
        SHORTED,
        None,
        "common_practice",
        "winding_shorted",
        "unstopped",
        concern="damage",
        below="The meter cannot tell this winding from a short. Zero the leads and read again; compare it with the "
        "maker's table before you condemn the motor.",
    ),
    LimitRow(
        "path_to_ground",
        "resistance_to_ground",
        OPEN_TO_GROUND,
        None,
        "published_procedure",
        "grounded_winding",
        "unstopped",
        aspect="any path",
        watch=True,
        below="An ohmmeter that shows a number found a path to ground. Test the insulation with an insulation tester "
        "before you energise the motor.",
    ),
    LimitRow(
        "insulation_usual",
        "insulation_resistance",
        NOT_POOR,
        None,
        "common_practice",
        "insulation_practice",
        "unstopped",
        aspect="usual",
        watch=True,
        below="Trade tables call this poor. Warm the compressor with its heater, read again, and test the oil for "
        "acid.",
    ),
)

CHECK_LIMITS: Mapping[str, LimitRow] = MappingProxyType({row.id: row for row in _ROWS})
#: Limits beyond which people keep away or keep the power off, even while a number is in question.
HAZARDS = frozenset({"test_pressure_stated", "winding_to_ground"})
