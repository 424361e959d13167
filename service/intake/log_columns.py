"""A log as given, in JSON or as CSV text: times and one array a reading, in SI.

What does not fit together is refused here: times that do not rise, columns of unequal length.  What the readings
amount to is for :mod:`service.intake.log`.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from math import nan
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from schemas.logs import Log, LogStart, columns
from schemas.readings import READINGS, ReadingSpec
from service.intake.log_csv import CsvLog, parse_csv
from service.intake.refusals import Refusal, pointer
from service.reference.units import conversion, system_unit

FloatArray = NDArray[np.float64]
_LOG = ("run", "log")
_GIVE = "Give `seconds` and `readings`, or the whole log as text in `csv`."


@dataclass(frozen=True, slots=True)
class LogColumn:
    """One reading over time.

    ``values`` [SI] are as shown (a gauge pressure stays one), NaN for gaps; ``unit`` is the symbol they were given
    in, ``reference`` what a pressure's zero was said to be.  ``where`` is the JSON Pointer.
    """

    spec: ReadingSpec
    values: FloatArray
    unit: str
    reference: str | None
    instrument: str | None
    where: str


@dataclass(frozen=True, slots=True)
class LogColumns:
    """A log: ``seconds`` rise, and each column has a value for each of them."""

    start: LogStart
    seconds: FloatArray
    columns: tuple[LogColumn, ...]


class _Given(NamedTuple):
    """A log in either form; ``at`` says where row n is, for a refusal."""

    seconds: list[float]
    columns: tuple[LogColumn, ...]
    csv: CsvLog | None = None


def log_columns(log: Log, system: str, refusals: list[Refusal]) -> LogColumns | None:
    """The columns of a log; None where it is refused.

    Parameters
    ----------
    system
        The unit system of numbers without a unit.
    refusals
        What is wrong is added to these.
    """
    before = len(refusals)
    given = _from_csv(log, system, refusals) if log.csv is not None else _from_json(log, system, refusals)
    if given is not None:
        _refuse_times(given, refusals)
    if given is None or len(refusals) > before:
        return None
    return LogColumns(log.start, np.array(given.seconds), given.columns)


def _from_csv(log: Log, system: str, refusals: list[Refusal]) -> _Given | None:
    assert log.csv is not None
    where = pointer(*_LOG, "csv")
    for name in ("seconds", "readings"):
        if getattr(log, name) is not None:
            refusals.append(
                Refusal(pointer(*_LOG, name), None, f"csv or {name}", "is given next to csv", _GIVE),
            )
    found = parse_csv(log.csv, where)
    if isinstance(found, list):
        refusals.extend(found)
        return None
    parts = tuple(
        _column(READINGS[column.name], column.values, (column.unit, None, None), where, system)
        for column in found.columns
    )
    return _Given(found.seconds, parts, found)


def _from_json(log: Log, system: str, refusals: list[Refusal]) -> _Given | None:
    for name in ("seconds", "readings"):
        if getattr(log, name) is None:
            refusals.append(Refusal(pointer(*_LOG, name), None, "seconds with readings, or csv", "is missing", _GIVE))
    if log.seconds is None or log.readings is None:
        return None
    parts = []
    for spec, path, given in columns(log.readings):
        where = pointer(*_LOG, "readings", *path)
        values = [nan if value is None else value for value in given.values]
        if len(values) != len(log.seconds):
            refusals.append(
                Refusal(
                    f"{where}/values",
                    len(values),
                    f"{len(log.seconds)} values, one for each of seconds",
                    f"holds {len(values)} values",
                    "Give null where nothing was logged.",
                )
            )
            continue
        said = (given.unit, getattr(given, "reference", None), given.instrument)
        parts.append(_column(spec, values, said, where, system))
    if not parts and not refusals:
        where = pointer(*_LOG, "readings")
        refusals.append(Refusal(where, None, "a reading over time", "holds no reading", "Add a reading."))
    return _Given(log.seconds, tuple(parts))


def _column(
    spec: ReadingSpec,
    values: list[float],
    said: tuple[str | None, str | None, str | None],
    where: str,
    system: str,
) -> LogColumn:
    """Numbers as given, in SI; ``said`` are the unit, the reference and the instrument given with them."""
    unit, reference, instrument = said
    symbol = unit or system_unit(spec.kind, system)
    to_si = conversion(spec.kind, symbol)
    return LogColumn(spec, to_si.scale * np.array(values) + to_si.offset, symbol, reference, instrument, where)


def _refuse_times(given: _Given, refusals: list[Refusal]) -> None:
    """The first time that is not after the one before it."""
    for index, (earlier, later) in enumerate(pairwise(given.seconds), start=1):
        if later <= earlier:
            where, place = pointer(*_LOG, "seconds", str(index)), ""
            if given.csv is not None:
                where = pointer(*_LOG, "csv")
                place = f"line {given.csv.lines[index]}, column {given.csv.place_of_seconds + 1} (seconds): "
            refusals.append(
                Refusal(
                    where,
                    later,
                    f"more than {earlier:g}",
                    f"{place}the time does not rise",
                    "Times rise from row to row. Remove rows that repeat; if the clock was set back, send the part "
                    "after that, or correct the times.",
                )
            )
            return
