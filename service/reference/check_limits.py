"""Limits of the checks, and what decides a test with the unit off.  The one place to touch for a new one.

Rows are those of :mod:`service.reference.limits`; a bound that the request states has its path in ``OfNameplate``.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from service.reference.changes import ONE_SIDED
from service.reference.limits import LimitRow, OfNameplate
from service.reference.vacuum import MICRON

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
        above="Read again when all has settled. If the excess stays, recover the charge, evacuate and weigh in.",
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
)

CHECK_LIMITS: Mapping[str, LimitRow] = MappingProxyType({row.id: row for row in _ROWS})
