"""A log as given, in JSON or as CSV text: times and one array a reading, in SI.

What cannot be read is refused here: unknown names, units that do not fit, numbers that no instrument shows, times
that do not rise.  What the readings amount to is for :mod:`service.intake.log`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from math import nan
from typing import NamedTuple

import numpy as np
from annotated_types import Ge, Le
from numpy.typing import NDArray

from schemas.logs import EARLIEST, LATEST, Log, LogStart
from schemas.readings import READINGS, SHAPES, ReadingSpec
from service.intake.log_csv import CsvLog, parse_csv
from service.intake.refusals import Refusal, pointer
from service.reference.trade_words import UNIT_WORDS
from service.reference.units import KINDS, conversion, system_unit

FloatArray = NDArray[np.float64]
_LOG = ("run", "log")
_GIVE = "Give `seconds` and `readings`, or the whole log as text in `csv`."
_ORDER = {name: place for place, name in enumerate(READINGS)}
#: What the unit of a pressure says of its zero.
_SAID_BY_UNIT = {"psia": "absolute", "psig": "gauge"}


@dataclass(frozen=True, slots=True)
class LogColumn:
    """One reading over time.

    ``values`` [SI] are as shown (a gauge pressure stays one unless ``absolute``), NaN for gaps; ``unit`` is the
    symbol that they were given in, ``where`` their JSON Pointer.
    """

    spec: ReadingSpec
    values: FloatArray
    unit: str
    absolute: bool
    instrument: str | None
    where: str


@dataclass(frozen=True, slots=True)
class LogColumns:
    """A log: ``seconds`` rise, and each column has a value for each of them."""

    start: LogStart
    seconds: FloatArray
    columns: tuple[LogColumn, ...]


class _Given(NamedTuple):
    """One reading as given; ``where`` and ``place`` find it in the request."""

    name: str
    values: list[float]
    unit: str | None
    reference: str | None
    instrument: str | None
    where: str
    place: str = ""


@dataclass(slots=True)
class _Reader:
    """A log that is being read: where its parts are, and what is refused."""

    system: str
    refusals: list[Refusal]
    csv: CsvLog | None = None

    def refuse(self, given: _Given, part: str, value: object, said: tuple[str, str, str], unknown: str = "") -> None:
        """``said`` are what is allowed, what is wrong, and what to do."""
        where = given.where if self.csv is not None else given.where + part
        place = "" if self.csv is None else f"line {self.csv.header}, {given.place}: "
        allowed, detail, hint = said
        self.refusals.append(Refusal(where, value, allowed, place + detail, hint, unknown))

    def refuse_number(self, given: _Given, row: int, value: object, said: tuple[str, str, str]) -> None:
        """The same of the number of a row."""
        allowed, detail, hint = said
        where, place = f"{given.where}/values/{row}", ""
        if given.name == "seconds":
            where = f"{given.where}/{row}"
        if self.csv is not None:
            where, place = given.where, f"line {self.csv.lines[row]}, {given.place}: "
        self.refusals.append(Refusal(where, value, allowed, place + detail, hint))


def log_columns(log: Log, system: str, refusals: list[Refusal]) -> LogColumns | None:
    """The columns of a log; None where it is refused.

    Parameters
    ----------
    system
        The unit system of numbers without a unit.
    refusals
        What is wrong is added to these.
    """
    reader = _Reader(system, [])
    seconds, given = _from_json(reader, log) if log.csv is None else _from_csv(reader, log, log.csv)
    # Names first: a column of another kind may hold no numbers.
    numbers, reader.refusals = reader.refusals, []
    # In the contract's order, whichever the caller's was.
    found = [_column(reader, one) for one in sorted(given, key=lambda one: _ORDER.get(one.name, len(_ORDER)))]
    if not numbers:
        _refuse_times(reader, seconds)
    refusals += reader.refusals + numbers
    if reader.refusals or numbers:
        return None
    return LogColumns(log.start, np.array(seconds.values), tuple(one for one in found if one is not None))


def _from_csv(reader: _Reader, log: Log, text: str) -> tuple[_Given, list[_Given]]:
    where = pointer(*_LOG, "csv")
    reader.refusals += [
        Refusal(pointer(*_LOG, name), None, f"either csv or {name}", "is given next to csv", _GIVE)
        for name in ("seconds", "readings")
        if getattr(log, name) is not None
    ]
    found = None if reader.refusals else parse_csv(text, where, reader.refusals)
    if found is None:
        return _Given("seconds", [], None, None, None, where), []
    reader.csv = found
    times, *rest = [
        _Given(one.name, one.values, one.unit, None, None, where, one.place) for one in (found.seconds, *found.columns)
    ]
    return times, rest


def _from_json(reader: _Reader, log: Log) -> tuple[_Given, list[_Given]]:
    reader.refusals += [
        Refusal(pointer(*_LOG, name), None, "seconds with readings, or csv", "is missing", _GIVE)
        for name in ("seconds", "readings")
        if getattr(log, name) is None
    ]
    times = _Given("seconds", log.seconds or [], None, None, None, pointer(*_LOG, "seconds"))
    given = []
    for name, one in (log.readings or {}).items():
        values = [nan if value is None else value for value in one.values]
        where = pointer(*_LOG, "readings", name)
        given.append(_Given(name, values, one.unit, one.reference, one.instrument, where))
        if log.seconds is not None and len(values) != len(log.seconds):
            allowed = f"{len(log.seconds)} values, one for each of seconds"
            said = (allowed, f"holds {len(values)} values", "Give null where nothing was logged.")
            reader.refuse(given[-1], "/values", len(values), said)
    return times, given


def _column(reader: _Reader, given: _Given) -> LogColumn | None:
    """One reading in SI; None where it is refused."""
    spec = READINGS.get(given.name)
    if spec is None:
        hint = "Use the names of readings as in /docs, or leave it out."
        said = ("the name of a reading", "is not the name of a reading", hint)
        reader.refuse(given, "", given.name, said, given.name)
        return None
    symbol = _unit(reader, given, spec)
    absolute = _is_absolute(reader, given, spec)
    if symbol is None or absolute is None or not _is_possible(reader, given, spec):
        return None
    to_si = conversion(spec.kind, symbol)
    values = to_si.scale * np.array(given.values) + to_si.offset
    return LogColumn(spec, values, symbol, absolute, given.instrument, given.where)


def _unit(reader: _Reader, given: _Given, spec: ReadingSpec) -> str | None:
    """The unit's symbol; None where it does not fit the reading."""
    if given.unit is None:
        return system_unit(spec.kind, reader.system)
    allowed = KINDS[spec.kind].units
    # Only a text is spelled freely: the contract lists the units of JSON.
    spelled = UNIT_WORDS.get(given.unit.lower().replace(" ", "").replace(".", ""), given.unit)
    unit = given.unit if reader.csv is None else spelled
    if unit in allowed:
        return unit
    measured = next((kind.replace("_", " ") for kind, row in KINDS.items() if unit in row.units), None)
    hint = "Use one of these units." if measured is None else f"{unit} is a unit of {measured}: check the name too."
    said = (" or ".join(allowed), f"{given.unit} is not a unit of {spec.name}", hint)
    reader.refuse(given, "/unit", given.unit, said)
    return None


def _is_absolute(reader: _Reader, given: _Given, spec: ReadingSpec) -> bool | None:
    """Whether a pressure is absolute; None where that is refused."""
    said = _SAID_BY_UNIT.get(given.unit or "")
    if given.reference is not None and spec.kind != "pressure":
        hint = "Leave it out: only refrigerant pressures have a reference."
        reader.refuse(given, "/reference", given.reference, ("nothing", "is given with another quantity", hint))
        return None
    if said is not None and given.reference not in (None, said):
        detail = f"contradicts the unit {given.unit}, which is {said}"
        hint = "Give the unit psi with a reference, or psig / psia without one."
        reader.refuse(given, "/reference", given.reference, (said, detail, hint))
        return None
    return (given.reference or said) == "absolute"


def _is_possible(reader: _Reader, given: _Given, spec: ReadingSpec) -> bool:
    """Whether every number is one that some instrument shows in some unit; the first that is not is refused."""
    return _is_within(reader, given, _ends(spec.kind), "Give no value where the sensor gave none.")


def _is_within(reader: _Reader, given: _Given, ends: tuple[float, float], hint: str) -> bool:
    values = np.array(given.values)
    beyond = np.flatnonzero((values < ends[0]) | (values > ends[1]))
    if beyond.size:
        row = int(beyond[0])
        said = (f"{ends[0]:g} to {ends[1]:g}", "is out of range", hint)
        reader.refuse_number(given, row, given.values[row], said)
    return not beyond.size


@cache
def _ends(kind: str) -> tuple[float, float]:
    """The ends that a single reading of a kind has in the contract, over all of its units."""
    bounds = SHAPES[kind].model_fields["value"].metadata
    low = next(bound.ge for bound in bounds if isinstance(bound, Ge))
    high = next(bound.le for bound in bounds if isinstance(bound, Le))
    return float(str(low)), float(str(high))


def _refuse_times(reader: _Reader, given: _Given) -> None:
    """The first time that is not after the one before it, or not within the longest span."""
    if not _is_within(reader, given, (EARLIEST, LATEST), "Give seconds since the start of the log."):
        return
    row = _first_fall(given.values)
    if row is not None:
        hint = (
            "Times rise from row to row. Leave out rows that repeat. If the clock was set back, send the part after "
            "that, or correct the times."
        )
        said = (f"more than {given.values[row - 1]:g}", "the time does not rise", hint)
        reader.refuse_number(given, row, given.values[row], said)


def _first_fall(times: Sequence[float]) -> int | None:
    return next((row for row, (earlier, later) in enumerate(pairwise(times), start=1) if later <= earlier), None)
