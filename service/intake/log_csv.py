"""A log as CSV text: a header row, then one row a time; read strictly, and every fault at its line and column.

Which names, units and numbers a reading may have is for :mod:`service.intake.log_columns`, for CSV and JSON alike.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Sequence
from dataclasses import dataclass
from io import StringIO
from math import isfinite, nan

from schemas.logs import MOST_TIMES
from service.intake.refusals import Refusal

#: The name of the column of times.
SECONDS = "seconds"
#: Faults that one log lists at most: a wrong decimal mark is in every row.
MOST_FAULTS = 20
_TITLE = re.compile(r"(?P<name>[^\[\]()]*?)\s*(?:[\[(]\s*(?P<unit>[^\[\]()]*?)\s*[\])])?")
#: A number as a logger writes it, with a point.  Not what else Python takes for one: 1_000, nan, infinity.
_NUMBER = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d+)?")
_OF_NUMBERS = frozenset("0123456789.+-eE")
#: What loggers call a column of times that are not seconds.
_TIMES = frozenset({"time", "times", "timestamp", "date", "datetime", "minutes", "min", "sec", "s", "elapsed"})
FIRST_ROW = (
    'Begin with a header row such as "seconds,suction_pressure [psi],suction_line_temperature [degF]": the names of '
    "readings, each with its unit in brackets."
)


@dataclass(frozen=True, slots=True)
class CsvColumn:
    """One column: its name and its unit as written, its place in the row, and a number a row, NaN for a gap."""

    name: str
    unit: str | None
    place: str
    values: list[float]


@dataclass(frozen=True, slots=True)
class CsvLog:
    """The column of times and those of readings; ``lines`` are the lines of the text that the rows end in."""

    seconds: CsvColumn
    columns: tuple[CsvColumn, ...]
    header: int
    lines: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class _Row:
    line: int
    cells: list[str]


@dataclass(frozen=True, slots=True)
class _Title:
    name: str
    unit: str | None
    column: int


@dataclass(slots=True)
class _Text:
    """A text that is being read, and what was found wrong with it."""

    where: str
    refusals: list[Refusal]

    def refuse(self, place: str, value: object, allowed: str, detail: str, hint: str) -> None:
        if len(self.refusals) < MOST_FAULTS:
            self.refusals.append(Refusal(self.where, value, allowed, f"{place}: {detail}", hint))


def parse_csv(text: str, where: str, refusals: list[Refusal]) -> CsvLog | None:
    """A log from its text; None where its header or its rows cannot be told apart.

    ``where`` is the text's JSON Pointer; what is wrong is added to ``refusals``.  Cells that are not numbers are
    refused and left as gaps, so that names and units can be checked all the same.
    """
    reading = _Text(where, refusals)
    delimiter = _delimiter(text)
    header, *body = _rows(reading, text, delimiter) or [_Row(1, [])]
    titles = [] if reading.refusals else _titles(reading, header)
    if not reading.refusals:
        _refuse_shape(reading, header, body)
    if reading.refusals:
        return None
    # In a text whose cells a comma does not separate, it may be the decimal mark, and then a point is none.
    comma = delimiter != "," and any("," in cell for row in body for cell in row.cells)
    lines = tuple(row.line for row in body)
    cells = zip(*(row.cells for row in body), strict=True)
    columns = {
        title.name: CsvColumn(
            title.name, title.unit, _place(title), _numbers(reading, title, column, lines, comma=comma)
        )
        for title, column in zip(titles, cells, strict=True)
    }
    seconds = columns.pop(SECONDS)
    return CsvLog(seconds, tuple(columns.values()), header.line, lines)


def _delimiter(text: str) -> str:
    """What separates cells: what the header row is written with."""
    header = next((line for line in text.splitlines() if line.strip()), "")
    return next((mark for mark in (";", "\t") if mark in header), ",")


def _rows(reading: _Text, text: str, delimiter: str) -> list[_Row]:
    """Rows that are not blank; spreadsheets put a byte-order mark before the first."""
    reader = csv.reader(StringIO(text.removeprefix("\ufeff"), newline=""), delimiter=delimiter, strict=True)
    found = []
    try:
        for row in reader:
            cells = [cell.strip() for cell in row]
            if any(cells):
                found.append(_Row(reader.line_num, cells))
    except csv.Error as error:
        detail = f"cannot be read as CSV ({error})"
        reading.refuse(f"line {reader.line_num}", None, "CSV text (RFC 4180)", detail, "Check the quotes on that line.")
    return found


# ---------------------------------------------------------------- the header row


def _titles(reading: _Text, header: _Row) -> list[_Title]:
    at = f"line {header.line}"
    if not any(any(map(str.isalpha, cell)) and _NUMBER.fullmatch(cell) is None for cell in header.cells):
        reading.refuse(at, ",".join(header.cells), "names of readings", "is not a header row", FIRST_ROW)
        return []
    titles = [_title(cell, column) for column, cell in enumerate(header.cells, start=1)]
    names: set[str] = set()
    for title, cell in zip(titles, header.cells, strict=True):
        place = f"{at}, column {title.column}"
        if not title.name:
            hint = "Name the column, or leave it out of the text."
            reading.refuse(place, cell, "the name of a reading", "has no name", hint)
        elif title.name in names:
            reading.refuse(place, cell, "each reading once", f"{title.name} appears twice", "Keep the one you mean.")
        names.add(title.name)
    _refuse_times(reading, at, titles)
    if not reading.refusals and len(titles) == 1:
        reading.refuse(at, None, "a reading", "only times are given", FIRST_ROW)
    return titles


def _title(cell: str, column: int) -> _Title:
    parts = _TITLE.fullmatch(cell)
    return _Title(cell, None, column) if parts is None else _Title(parts["name"], parts["unit"] or None, column)


def _refuse_times(reading: _Text, at: str, titles: Sequence[_Title]) -> None:
    """A log without a column of seconds."""
    hint = f"Name one column {SECONDS}: seconds since the compressor started, or since any moment."
    times = next((title for title in titles if title.name == SECONDS), None)
    if times is not None:
        if times.unit not in (None, "s"):
            reading.refuse(f"{at}, column {times.column}", times.unit, "s", "times are in seconds", hint)
        return
    like = next((title for title in titles if title.name.lower().split(" ")[0] in _TIMES), None)
    if like is not None:
        reading.refuse(f"{at}, column {like.column}", like.name, SECONDS, "is not a column of seconds", hint)
    else:
        reading.refuse(at, None, SECONDS, "there is no column of seconds", hint)


# ---------------------------------------------------------------- the rows


def _refuse_shape(reading: _Text, header: _Row, body: Sequence[_Row]) -> None:
    """Too few or too many rows, and rows that are not as long as the header."""
    if len(body) < 2:
        reading.refuse(f"line {header.line}", None, "two rows or more", "too few rows follow", "Send the rows too.")
    if len(body) > MOST_TIMES:
        hint = "Four hours at one second fit. Leave out rows, for example every second one."
        place = f"line {body[MOST_TIMES].line}"
        reading.refuse(place, len(body), f"at most {MOST_TIMES} rows", "has more rows than a log takes", hint)
    expected = len(header.cells)
    for row in body:
        if len(row.cells) != expected:
            reading.refuse(
                f"line {row.line}",
                len(row.cells),
                f"{expected} cells, as in the header row",
                f"has {len(row.cells)} cells",
                "Leave a cell empty where nothing was logged. Where a comma is the decimal mark, separate cells with "
                "semicolons.",
            )


def _numbers(reading: _Text, title: _Title, cells: Sequence[str], lines: Sequence[int], *, comma: bool) -> list[float]:
    """A column as numbers; NaN where a cell is empty."""
    plain = None if comma else _plain(cells)
    if plain is not None and (title.name != SECONDS or "" not in cells):
        return plain
    found = []
    for cell, line in zip(cells, lines, strict=True):
        value = _number(cell, comma=comma) if cell or title.name != SECONDS else None
        if value is None:
            _refuse_cell(reading, title, cell, line, comma=comma)
        found.append(nan if value is None else value)
    return found


def _plain(cells: Sequence[str]) -> list[float] | None:
    """A column in which nothing can be wrong, at once, as in nearly every long log; else None."""
    if not _OF_NUMBERS.issuperset("".join(cells)):
        return None
    try:
        found = [float(cell) if cell else nan for cell in cells]
    except ValueError:
        return None
    return found if all(map(isfinite, (value for value, cell in zip(found, cells, strict=True) if cell))) else None


def _number(cell: str, *, comma: bool) -> float | None:
    if not cell:
        return nan
    if comma and "." in cell:
        return None
    text = cell.replace(",", ".") if comma else cell
    value = float(text) if _NUMBER.fullmatch(text) else nan
    return value if isfinite(value) else None


def _refuse_cell(reading: _Text, title: _Title, cell: str, line: int, *, comma: bool) -> None:
    allowed, detail, hint = "a number", "is not a number", "Leave the cell empty where nothing was logged."
    if title.name == SECONDS:
        allowed, hint = "a time in seconds", "Every row needs its time. Leave out rows without one."
        if ":" in cell:
            hint = "Give the seconds since the start, not a time of day."
    if comma and "." in cell:
        hint = "Other cells have a decimal comma: write all numbers alike, without marks for thousands."
    reading.refuse(f"line {line}, {_place(title)}", cell or None, allowed, detail if cell else "is empty", hint)


def _place(title: _Title) -> str:
    return f"column {title.column} ({title.name})"
