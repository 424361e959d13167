"""What a start may have left in the readings of a visit, as an error of each."""

from __future__ import annotations

from collections.abc import Iterator
from math import sqrt

from service.intake.entry import Entry
from service.intake.kit import standard_uncertainty
from service.intake.leaves import Uncertain
from service.intake.paths import READING, SITE_PRESSURE
from service.reference.settling import OF_THE_UNIT, STEPS, Left, Step, left
from service.reference.site import STANDARD_PRESSURE

#: A saturation temperature read off a gauge errs as the pressure does.
_ON_THE_DIAL = {
    "suction_saturation_temperature": "suction_pressure",
    "liquid_saturation_temperature": "liquid_pressure",
}


def take_settling(entry: Entry) -> None:
    """What readings err by because the unit had not settled; last, as it adds to what they are drawn from."""
    minutes = settling_minutes(entry.minutes_running, entry.request.run.minutes_since_defrost)
    of_log = frozenset() if entry.logged is None else entry.logged.readings.keys()
    for row in STEPS.values():
        if row.reading in of_log:
            continue  # its own error comes with it
        path = READING + row.reading
        leaf = entry.leaves.uncertain.get(path)
        if leaf is None:
            continue
        size = _step(entry, row, leaf)
        errors = [
            (row.group, one.part, lasting, share * size)
            for one in left(row.group, minutes)
            for lasting, share in _shares(one, compared=entry.kit.compared)
        ]
        if errors:
            added = entry.leaves.settles(path, errors)
            used = entry.instruments[row.reading]
            entry.instruments[row.reading] = used._replace(
                standard_uncertainty=standard_uncertainty(used.standard_uncertainty, added)
            )


def settling_minutes(running: float | None, since_defrost: float | None) -> float | None:
    """Minutes since a start or the end of a defrost, whichever was later; None where neither is known."""
    stated = [one for one in (running, since_defrost) if one is not None]
    return min(stated, default=None)


def _step(entry: Entry, row: Step, leaf: Uncertain) -> float:
    """The start-up step of a reading in the unit in which it is drawn, as a standard deviation."""
    if callable(leaf.then):  # drawn as a gauge pressure
        return STEPS[_ON_THE_DIAL[row.reading]].size * (leaf.value + STANDARD_PRESSURE)
    if not row.relative:
        return row.size
    air = entry.leaves.uncertain[SITE_PRESSURE].value if leaf.then == SITE_PRESSURE else 0.0
    return row.size * abs(leaf.value + air)


def _shares(one: Left, *, compared: bool) -> Iterator[tuple[bool, float]]:
    """What is left, apart by what the unit does at every start where two visits are compared."""
    of_the_unit = OF_THE_UNIT * one.alike**2 if compared else 0.0
    if compared:
        yield True, sqrt(of_the_unit)
    yield False, sqrt(one.size**2 - of_the_unit)
