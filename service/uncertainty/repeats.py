"""Several readings of one quantity in one run by one instrument: what their mean is worth.

The mean of n repeats (type A evaluation, JCGM 100:2008, 4.2) carries less of what changes from one
repeat to the next, and all of what does not:

* repeatability shrinks with the square root of n.  Its size is the observed scatter pooled with the
  instrument's stated repeatability, as the scatter of a few repeats is itself poorly known (JCGM 100,
  4.2.4 and E.4.3); the stated one counts as so many degrees of freedom beside those observed.
* resolution shrinks likewise where the scatter is wide enough to carry the readings over several
  steps of the display (dither).  Repeats that all but stand still hide the same part of a step each
  time (JCGM 100, F.2.2.1), and averaging them tells nothing new.
* calibration never shrinks: every repeat holds the same error.
* placement does not either: the probe usually stays where it is from one repeat to the next.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import fsum, sqrt

from service.reference.conditions import REPEATABILITY_WORTH, UNSTEADY_PROBABILITY
from service.uncertainty.error_terms import SensorErrors
from service.uncertainty.reconciliation import chi_square_tail

#: Scatter over one step of the display from which rounding errors are as good as independent: two
#: neighbouring digits shown equally often scatter by half a step.  The margin is for binary fractions.
_DITHER = 0.5 * (1.0 - 1e-6)

#: Chi-square beyond which its tail is nothing at any number of repeats.
_FAR = 1e4


@dataclass(frozen=True, slots=True)
class Repeats:
    """Mean and experimental standard deviation of ``count`` repeats, in the SI unit of the reading."""

    count: int
    mean: float
    deviation: float


def repeats_of(values: Sequence[float]) -> Repeats:
    """Statistics of two or more repeats (JCGM 100, equations 3 and 4), in their unit.

    Equal repeats have exactly their value as mean and exactly no deviation.
    """
    first, count = values[0], len(values)
    mean = first + fsum(value - first for value in values) / count
    squares = fsum((value - mean) ** 2 for value in values)
    return Repeats(count, mean, sqrt(squares / (count - 1)))


def is_unsteady(errors: SensorErrors, repeats: Repeats) -> bool:
    """Whether repeats scatter beyond all that the instrument explains.

    Chi-square of the scatter against the stated repeatability and a display that flickers between two
    neighbouring digits (half a step).  An instrument for which neither is known refutes nothing.
    """
    expected = errors.repeatability**2 + (errors.resolution / 2.0) ** 2
    if expected == 0.0:
        return False
    degrees = repeats.count - 1
    statistic = min(degrees * repeats.deviation**2 / expected, _FAR)
    return chi_square_tail(statistic, degrees) < UNSTEADY_PROBABILITY


def pooled_deviation(errors: SensorErrors, repeats: Repeats) -> float:
    """Standard deviation of one repeat, from the stated repeatability and the observed scatter.

    A repeatability that the repeats refute, or none at all, has no say: the scatter stands alone.
    """
    known = errors.repeatability > 0.0 and not is_unsteady(errors, repeats)
    worth = REPEATABILITY_WORTH if known else 0.0
    degrees = repeats.count - 1
    squares = worth * errors.repeatability**2 + degrees * repeats.deviation**2
    return sqrt(squares / (worth + degrees))


def averaged(errors: SensorErrors, repeats: Repeats) -> SensorErrors:
    """Errors of the mean of repeats, from those of one reading."""
    shrunk = sqrt(repeats.count)
    dithered = repeats.deviation >= _DITHER * errors.resolution
    return replace(
        errors,
        repeatability=pooled_deviation(errors, repeats) / shrunk,
        resolution=errors.resolution / shrunk if dithered else errors.resolution,
    )
