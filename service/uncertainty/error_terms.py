"""The structure of instrument errors: which terms a reading has, and who shares them.

Per sensor: a calibration error, an offset plus a gain, drawn once and shared by all its readings (so
the offset cancels in a difference, the gain in a ratio, as far as they truly do).  Offset and gain
are driven by one variable, because a stated accuracy of ±(percent + counts) bounds their sum.  Per
reading: placement, repeatability, resolution.

The structure follows JCGM 100:2008 (type B evaluation 4.3, correlation of inputs that share an
instrument 5.2.4) and is sampled after JCGM 101:2008.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum
from typing import Literal

#: Room for every reading of the request: at first, and in all.
_FIRST_READINGS, READING_SLOTS = 60, 75
#: Room for the sensors of a kit's instruments (an instrument may hold several: a clamp meter's
#: current and voltage circuits err independently).
SENSORS_PER_INSTRUMENT = 4
KIT_SLOTS = 16
#: Readings of one value per part (three line voltages) are one meter's even where it is assumed.
GROUP_SLOTS = 4
SENSOR_SLOTS = SENSORS_PER_INSTRUMENT * (KIT_SLOTS + GROUP_SLOTS)
_SITE_DIMENSIONS = 2


class ReadingTerm(IntEnum):
    """Error terms that belong to one reading (calibration only where it has its own sensor)."""

    CALIBRATION = 0
    PLACEMENT = 1
    REPEATABILITY = 2
    RESOLUTION = 3


_PER_READING = len(ReadingTerm)
_FIRST_SENSOR = _SITE_DIMENSIONS
_FIRST_READING = _FIRST_SENSOR + SENSOR_SLOTS
_FIRST_ASSUMPTION = _FIRST_READING + _PER_READING * _FIRST_READINGS
#: Room for every assumption: at first, and in all.
_FIRST_ASSUMPTIONS, ASSUMPTION_SLOTS = 30, 60
_FIRST_SPOT = _FIRST_ASSUMPTION + _FIRST_ASSUMPTIONS
#: Room for every spot at which a probe sits: at first, and in all.
_FIRST_SPOTS, SPOT_SLOTS = 10, 15
# What was added later follows all that was there before, so that no error's dimension ever moves.
_MORE_READINGS = _FIRST_SPOT + _FIRST_SPOTS
_MORE_ASSUMPTIONS = _MORE_READINGS + _PER_READING * (READING_SLOTS - _FIRST_READINGS)
_MORE_SPOTS = _MORE_ASSUMPTIONS + ASSUMPTION_SLOTS - _FIRST_ASSUMPTIONS
_FIRST_SETTLING = _MORE_SPOTS + SPOT_SLOTS - _FIRST_SPOTS
#: Room for what a start has left: each part of each group of readings, of the unit and of the visit.
SETTLING_SLOTS = 28
DIMENSIONS = _FIRST_SETTLING + SETTLING_SLOTS
#: Where each block of dimensions ends.  The sample scrambles each by itself: another block leaves those before as
#: they are.
BLOCKS = (_MORE_READINGS, _FIRST_SETTLING, DIMENSIONS)

Distribution = Literal["rectangular", "normal"]


@dataclass(frozen=True, slots=True)
class ErrorTerm:
    """One independent error: its dimension of the sample, its distribution and its size.

    ``scale`` is a half-width for a rectangular term, a standard deviation for a normal one, in
    the SI unit of the reading.  A ``shared`` term is one sensor's, common to all its readings; one that
    stands ``apart`` is a variable of its own, though nothing shares it.
    """

    dimension: int
    distribution: Distribution
    scale: float
    shared: bool = False
    apart: bool = False

    def unit(self) -> ErrorTerm:
        """The same term of unit scale."""
        return ErrorTerm(self.dimension, self.distribution, 1.0, self.shared)

    @property
    def variance(self) -> float:
        """Variance of the term."""
        return self.scale**2 / (3.0 if self.distribution == "rectangular" else 1.0)


@dataclass(frozen=True, slots=True)
class SensorErrors:
    """Size of each error of one reading, in SI.

    ``offset`` and ``gain`` are the calibration error (both already in the unit of the reading)
    with the ``distribution`` their statement of coverage implies; ``placement`` and half the
    ``resolution`` are half-widths, ``repeatability`` a standard deviation.  ``sign`` is -1 where a
    reading below zero turns the sensor's error round, as a gain does.
    """

    offset: float
    gain: float
    distribution: Distribution
    placement: float
    repeatability: float
    resolution: float
    sign: float = 1.0


def site_pressure_dimension() -> int:
    """Dimension of the air pressure's own error."""
    return 0


def refrigerant_dimension() -> int:
    """Dimension of the error of the refrigerant's property model."""
    return 1


def assumption_dimension(slot: int) -> int:
    """Dimension of an assumption's error.

    Raises
    ------
    ValueError
        If the slot is out of range.
    """
    if not 0 <= slot < ASSUMPTION_SLOTS:
        raise ValueError(f"no error dimension for assumption slot {slot}")
    return _place(slot, _FIRST_ASSUMPTION, _FIRST_ASSUMPTIONS, _MORE_ASSUMPTIONS)


def spot_dimension(slot: int) -> int:
    """Dimension of the error of where a probe sits.

    Raises
    ------
    ValueError
        If the slot is out of range.
    """
    if not 0 <= slot < SPOT_SLOTS:
        raise ValueError(f"no error dimension for spot {slot}")
    return _place(slot, _FIRST_SPOT, _FIRST_SPOTS, _MORE_SPOTS)


def settling_dimension(slot: int) -> int:
    """Dimension of what a start has left in readings that settle together.

    Raises
    ------
    ValueError
        If the slot is out of range.
    """
    if not 0 <= slot < SETTLING_SLOTS:
        raise ValueError(f"no error dimension for settling slot {slot}")
    return _FIRST_SETTLING + slot


def resolution_dimension(slot: int) -> int:
    """Dimension of the error of what a reading's display rounds."""
    return _place(slot, _FIRST_READING, _FIRST_READINGS, _MORE_READINGS, _PER_READING) + ReadingTerm.RESOLUTION


def _place(slot: int, first: int, count: int, more: int, each: int = 1) -> int:
    """The dimension of a slot: of the first so many, or of those that came later."""
    return first + each * slot if slot < count else more + each * (slot - count)


def reading_terms(
    errors: SensorErrors,
    reading_slot: int,
    shared_sensor_slot: int | None,
    *,
    apart: bool = False,
    scattered: bool = False,
) -> tuple[ErrorTerm, ...]:
    """The error terms of one reading.

    Parameters
    ----------
    errors : SensorErrors
        Sizes, in the SI unit of the reading.
    reading_slot : int
        The reading's fixed place, 0 ... ``READING_SLOTS`` - 1.
    shared_sensor_slot : int or None
        The sensor's place where one sensor makes all its readings; None where this reading has a
        sensor of its own.
    apart : bool
        Whether a calibration of its own is to stand apart, as one that lasts from visit to visit.  One
        whose size hangs on the reading does anyway: what is left has the same shape at every reading.
    scattered : bool
        Whether repeatability was observed, and its size hangs on the visit: it stands apart then.

    Raises
    ------
    ValueError
        If a slot is out of range.
    """
    if not 0 <= reading_slot < READING_SLOTS:
        raise ValueError(f"no error dimension for reading slot {reading_slot}")
    own = _place(reading_slot, _FIRST_READING, _FIRST_READINGS, _MORE_READINGS, _PER_READING)
    if shared_sensor_slot is None:
        calibration = own + ReadingTerm.CALIBRATION
    else:
        if not 0 <= shared_sensor_slot < SENSOR_SLOTS:
            raise ValueError(f"no error dimension for sensor slot {shared_sensor_slot}")
        calibration = _FIRST_SENSOR + shared_sensor_slot
    terms = (
        ErrorTerm(
            calibration,
            errors.distribution,
            errors.sign * (errors.offset + errors.gain),
            apart or shared_sensor_slot is not None or errors.gain != 0.0,
        ),
        ErrorTerm(own + ReadingTerm.PLACEMENT, "rectangular", errors.placement),
        ErrorTerm(own + ReadingTerm.REPEATABILITY, "normal", errors.repeatability, apart=scattered),
        ErrorTerm(own + ReadingTerm.RESOLUTION, "rectangular", errors.resolution / 2.0),
    )
    return tuple(term for term in terms if term.scale != 0.0)
