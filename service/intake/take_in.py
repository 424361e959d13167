"""From the request to SI: readings become numbers with structured instrument errors.

Units, gauge or absolute pressure, and instruments are settled here and nowhere else.
"""

from __future__ import annotations

from collections.abc import Mapping

from schemas.assessments import AssessmentRequest
from service.intake.contradictions import contradictions
from service.intake.credible import leave_out_impossible
from service.intake.entry import Entry
from service.intake.equipment import take_nameplate, take_refrigerant
from service.intake.kit import SLOTS
from service.intake.log import take_log
from service.intake.names import take_names
from service.intake.performance import take_auxiliary_heat, take_performance
from service.intake.performance_table import take_performance_table
from service.intake.readings import (
    given_readings,
    refuse_without_readings,
    take_open_to_air,
    take_placements,
    take_reading,
)
from service.intake.refusals import RefusedError
from service.intake.running import take_running
from service.intake.settling import take_settling
from service.intake.site import take_site
from service.intake.visit import Visit


def take_in(
    request: AssessmentRequest,
    *,
    compared: bool = False,
    planned: Mapping[str, int] | None = None,
) -> Visit:
    """Settle units, instruments and errors of a request.

    For a visit that is ``compared`` with another, errors that instruments of the kit carry from visit to
    visit are kept apart from those that are new each time.  ``planned`` are numbers of repeats of readings
    that are not made yet.

    Raises
    ------
    RefusedError
        If a reading is impossible, an instrument unknown or ambiguous, or a unit does not fit; if none is,
        where readings contradict each other.
    """
    entry = Entry.of(request, planned, compared=compared)
    entry.refusals += entry.kit.refusals()
    take_names(entry)
    refuse_without_readings(entry)
    take_running(entry)
    take_refrigerant(entry)
    take_performance(entry)
    take_site(entry)
    given = sorted(given_readings(request), key=lambda item: SLOTS[item[0].name])
    for spec, value, where in given:
        take_reading(entry, spec, value, where)
    take_log(entry)
    take_nameplate(entry)
    leave_out_impossible(entry)
    take_auxiliary_heat(entry)
    take_performance_table(entry)
    take_placements(entry)
    take_open_to_air(entry)
    take_settling(entry)
    if entry.refusals:
        raise RefusedError(entry.refusals)
    visit = entry.visit()
    if refusals := contradictions(visit):
        raise RefusedError(refusals)
    return visit
