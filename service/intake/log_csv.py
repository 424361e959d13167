"""A log as CSV text: a header row, then one row a time; read strictly, and every fault at its line and column.

Nothing here knows units of SI or the rest of the request: :mod:`service.intake.log_columns` goes on with it.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cache
from io import StringIO
from math import isfinite, nan

from annotated_types import Ge, Le

from schemas.logs import EARLIEST, LATEST, MOST_TIMES
from schemas.readings import READINGS, SHAPES
from service.intake.refusals import Refusal
from service.reference.trade_words import UNIT_WORDS
from service.reference.units import KINDS

#: The name of the column of times.
SECONDS = "seconds"
#: Faults that one log lists at most: a wrong decimal mark is in every row.
_MOST_FAULTS = 20
_HEADER = re.compile(r"^(?P<name>[^\[\]()]*?)\s*(?:[\[(]\s*(?P<unit>[^\[\]()]*?)\s*[\])])?$")
#: A number as a logger writes it, with a point.  Not what else Python takes for one: 1_000, nan, infinity.
_NUMBER = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d+)?")
_PLAIN = frozenset("0123456789.+-eE")
_FIRST_ROW = (
    'Begin with a header row such as "seconds,suction_pressure [psi],suction_line_temperature [degF]": the names of '
    "readings, each with its unit in brackets."
)


@dataclass(frozen=True, slots=True)
class CsvColumn:
    """One reading: its name in the contract, its unit where one was given, and a number a row, NaN for a gap."""

    name: str
    unit: str | None
    place: int
    values: list[float]


@dataclass(frozen=True, slots=True)
class CsvLog:
    """The columns of a log; ``lines`` are the lines of the text that the rows stand in."""

    seconds: list[float]
    columns: tuple[CsvColumn, ...]
    lines: tuple[int, ...]
    place_of_seconds: int


@dataclass(slots=True)
class _Reading:
    """A text that is being read, and what was found wrong with it."""

    where: str
    refusals: list[Refusal] = field(default_factory=list)

    def refuse(self, place: str, value: object, allowed: str, detail: str, hint: str, unknown: str = "") -> None:
        self.refusals.append(Refusal(self.where, value, allowed, f"{place}: {detail}", hint, unknown))


@dataclass(frozen=True, slots=True)
class _Heading:
    name: str
    unit: str | None
    place: int


def parse_csv(text: str, where: str) -> CsvLog | list[Refusal]:
    """A log from its text, or what is wrong with it; ``where`` is the text's JSON Pointer."""
    reading = _Reading(where)
    delimiter = _delimiter(text)
    rows = _rows(reading, text, delimiter)
    if reading.refusals or not rows:
        return reading.refusals or [_empty(where)]
    (line, titles), *body = rows
    headings = _headings(reading, line, titles)
    if not reading.refusals and len(body) < 2:
        reading.refuse(f"line {line}", None, "two rows or more", "no rows follow the header", "Send the rows too.")
    if len(body) > MOST_TIMES:
        reading.refuse(
            f"line {body[MOST_TIMES][0]}",
            len(body),
            f"at most {MOST_TIMES} rows",
            f"{len(body)} rows are more than a log takes",
            "Four hours at one second fit. Leave out rows, for example every second one.",
        )
    whole = [row for row in body if _is_whole(reading, row, len(titles))]
    if reading.refusals:
        return reading.refusals
    numbers = _Numbers(reading, comma=delimiter != "," and _decimal_comma(body))
    lines = tuple(line for line, _ in whole)
    cells = list(zip(*(row for _, row in whole), strict=True))
    columns, seconds = [], _Heading(SECONDS, None, 0)
    values: list[float] = []
    for heading in headings:
        found = numbers.of(heading, cells[heading.place], lines)
        if heading.name == SECONDS:
            seconds, values = heading, found
        else:
            columns.append(CsvColumn(heading.name, heading.unit, heading.place, found))
    return reading.refusals or CsvLog(values, tuple(columns), lines, seconds.place)


def _empty(where: str) -> Refusal:
    return Refusal(where, None, "a header row and rows of numbers", "line 1: the text is empty", _FIRST_ROW)


def _delimiter(text: str) -> str:
    """What separates cells: what the header row is written with."""
    header = next((line for line in text.lstrip("\ufeff").splitlines() if line.strip()), "")
    return next((mark for mark in (";", "\t") if mark in header), ",")


def _rows(reading: _Reading, text: str, delimiter: str) -> list[tuple[int, list[str]]]:
    """Rows that are not blank, each with its line; spreadsheets put a byte-order mark before the first."""
    reader = csv.reader(StringIO(text.removeprefix("\ufeff"), newline=""), delimiter=delimiter, strict=True)
    found = []
    try:
        for row in reader:
            cells = [cell.strip() for cell in row]
            if any(cells):
                found.append((reader.line_num, cells))
    except csv.Error as error:
        reading.refuse(
            f"line {reader.line_num}",
            None,
            "CSV text (RFC 4180)",
            f"cannot be read as CSV ({error})",
            "Check the quotes on that line.",
        )
    return found


# ---------------------------------------------------------------- the header row


def _headings(reading: _Reading, line: int, titles: Sequence[str]) -> list[_Heading]:
    found: dict[str, _Heading] = {}
    if not any(_looks_like_name(title) for title in titles):
        reading.refuse(f"line {line}", ",".join(titles), "names of readings", "is not a header row", _FIRST_ROW)
        return []
    for place, title in enumerate(titles):
        at = f"line {line}, column {place + 1}"
        parts = _HEADER.match(title)
        name = parts["name"] if parts else title
        unit = parts["unit"] if parts else None
        if name == SECONDS:
            if unit not in (None, "", "s"):
                reading.refuse(at, title, SECONDS, "times are in seconds", "Convert the times to seconds.")
        elif name not in READINGS:
            _refuse_name(reading, at, title, name, line)
            continue
        else:
            unit = _unit(reading, at, title, name, unit)
        if name in found:
            reading.refuse(at, title, "each reading once", f"{name} appears twice", "Keep the one you mean.")
        found[name] = _Heading(name, unit or None, place)
    if not reading.refusals and SECONDS not in found:
        _refuse_no_times(reading, line)
    if not reading.refusals and len(found) < 2:
        reading.refuse(f"line {line}", None, "a reading", "only times are given", _FIRST_ROW)
    return list(found.values())


def _looks_like_name(title: str) -> bool:
    return any(letter.isalpha() for letter in title) and _NUMBER.fullmatch(title) is None


def _refuse_name(reading: _Reading, at: str, title: str, name: str, line: int) -> None:
    if not name:
        reading.refuse(
            at, title, "the name of a reading", "has no name", "Name the column, or leave it out of the text."
        )
    elif name.lower().split(" ")[0] in _WORDS_FOR_TIME:
        _refuse_no_times(reading, line, at, title)
    else:
        reading.refuse(
            at,
            title,
            f"{SECONDS} or the name of a reading",
            "is not the name of a reading",
            "Use the names of readings as in /docs, each with its unit in brackets, or leave the column out.",
            name,
        )


_WORDS_FOR_TIME = frozenset({"time", "times", "timestamp", "date", "datetime", "minutes", "min", "sec", "s", "elapsed"})


def _refuse_no_times(reading: _Reading, line: int, at: str | None = None, title: str | None = None) -> None:
    reading.refuse(
        at or f"line {line}",
        title,
        SECONDS,
        "is not seconds" if at else "has no column of times",
        f"Name one column {SECONDS}: seconds from the start of the compressor, or from any moment.",
    )


def _unit(reading: _Reading, at: str, title: str, name: str, unit: str | None) -> str | None:
    """A unit as the contract spells it; one that does not fit is refused."""
    if not unit:
        return None
    allowed = KINDS[READINGS[name].kind].units
    spelled = UNIT_WORDS.get(unit.lower().replace(" ", "").replace(".", ""), unit)
    if spelled in allowed:
        return spelled
    measured = next((kind.replace("_", " ") for kind, row in KINDS.items() if spelled in row.units), None)
    hint = f"{unit} is a unit of {measured}: check the column." if measured else "Use one of these units."
    reading.refuse(at, title, " or ".join(allowed), f"{unit} is not a unit of {name}", hint)
    return None


# ---------------------------------------------------------------- the numbers


def _is_whole(reading: _Reading, row: tuple[int, list[str]], expected: int) -> bool:
    line, cells = row
    if len(cells) == expected:
        return True
    if len(reading.refusals) < _MOST_FAULTS:
        reading.refuse(
            f"line {line}",
            len(cells),
            f"{expected} cells, as in the header row",
            f"has {len(cells)} cells",
            "Leave a cell empty where nothing was logged. Where a comma is the decimal mark, separate cells with "
            "semicolons.",
        )
    return False


def _decimal_comma(body: Sequence[tuple[int, list[str]]]) -> bool:
    """Whether a comma is the decimal mark, in a text whose cells it does not separate."""
    return any("," in cell for _, cells in body for cell in cells)


@dataclass(frozen=True, slots=True)
class _Numbers:
    """Cells as numbers; with a decimal ``comma``, a point would be a guess and is refused."""

    reading: _Reading
    comma: bool

    def of(self, heading: _Heading, cells: Sequence[str], lines: Sequence[int]) -> list[float]:
        """A column; NaN where a cell is empty."""
        low, high = (EARLIEST, LATEST) if heading.name == SECONDS else _envelope(heading.name)
        if (plain := self._plain(cells, low, high)) is not None and (heading.name != SECONDS or "" not in cells):
            return plain
        found = []
        for cell, line in zip(cells, lines, strict=True):
            value = self._number(cell)
            if value is None:
                self._refuse(heading, cell, line)
                value = nan
            elif not (low <= value <= high or (value != value and heading.name != SECONDS)):  # noqa: PLR0124 - NaN
                self._beyond(heading, cell, line, (low, high))
            found.append(value)
        return found

    @staticmethod
    def _plain(cells: Sequence[str], low: float, high: float) -> list[float] | None:
        """A column in which nothing can be wrong, at once, as in nearly every long log; else None."""
        if not _PLAIN.issuperset("".join(cells)):
            return None
        try:
            found = [float(cell) if cell else nan for cell in cells]
        except ValueError:
            return None
        known = [value for value in found if value == value]  # noqa: PLR0124 - NaN
        return found if not known or (low <= min(known) and max(known) <= high) else None

    def _number(self, cell: str) -> float | None:
        if not cell:
            return nan
        if self.comma:
            if "." in cell:
                return None
            cell = cell.replace(",", ".")
        if _NUMBER.fullmatch(cell) is None:
            return None
        value = float(cell)
        return value if isfinite(value) else None

    def _full(self) -> bool:
        return len(self.reading.refusals) >= _MOST_FAULTS

    def _refuse(self, heading: _Heading, cell: str, line: int) -> None:
        if self._full():
            return
        hint = "Leave the cell empty where nothing was logged."
        if heading.name == SECONDS and ":" in cell:
            hint = "Give the seconds since the start, not a time of day."
        elif self.comma and "." in cell:
            hint = "Other cells have a decimal comma: write all numbers alike, without marks for thousands."
        self.reading.refuse(_at(heading, line), cell, "a number", "is not a number", hint)

    def _beyond(self, heading: _Heading, cell: str, line: int, ends: tuple[float, float]) -> None:
        if self._full():
            return
        if not cell:
            hint = "Every row needs its time. Leave out rows without one."
            self.reading.refuse(_at(heading, line), None, "a time in seconds", "is empty", hint)
            return
        allowed = f"{ends[0]:g} to {ends[1]:g}"
        hint = "Leave the cell empty where the sensor gave no value."
        self.reading.refuse(_at(heading, line), cell, allowed, "is out of range", hint)


def _at(heading: _Heading, line: int) -> str:
    return f"line {line}, column {heading.place + 1} ({heading.name})"


@cache
def _envelope(name: str) -> tuple[float, float]:
    """The ends that a single reading of that kind may have in any of its units."""
    bounds = SHAPES[READINGS[name].kind].model_fields["value"].metadata
    low = next(bound.ge for bound in bounds if isinstance(bound, Ge))
    high = next(bound.le for bound in bounds if isinstance(bound, Le))
    return float(str(low)), float(str(high))
