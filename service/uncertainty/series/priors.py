"""What is known of a logged reading before it is read, from the tables of start-up and steadiness."""

from __future__ import annotations

from math import sqrt

from service.reference.settling import GROUPS, STEPS
from service.reference.steadiness import (
    FAST_SPREAD,
    FAST_STEPS,
    LEAST_STEPS,
    SLOW_SPREAD,
    SLOW_STEPS,
    WEATHER,
    steady,
)
from service.uncertainty.series.settled import TransientPrior


def transient_prior(reading: str, measured_as: str, level: float, resolution: float) -> TransientPrior:
    """The prior of one reading.

    Parameters
    ----------
    reading, measured_as : str
        Its name and class.
    level : float
        About what it shows, in SI (pressures: absolute).
    resolution : float
        Step of its display.
    """
    row, step = steady(reading, measured_as), STEPS.get(reading)
    limit = max(row.limit * abs(level) if row.relative else row.limit, LEAST_STEPS * resolution, 1e-9)
    fast, slow = GROUPS["indoor_air" if step is None else step.group].parts
    # What the start does not move may still begin with a probe that warms.
    size = limit if step is None else max(step.size * (abs(level) if step.relative else 1.0), limit)
    return TransientPrior(
        FAST_STEPS * size,
        SLOW_STEPS * size,
        (60.0 * sqrt(fast.shortest * fast.longest), FAST_SPREAD),
        (60.0 * sqrt(slow.shortest * slow.longest), SLOW_SPREAD),
        WEATHER * limit,
        limit,
        row.lag,
    )
