"""How much of a report two sheets of paper hold.

Heights are estimated for the widest of the usual fonts, for the smaller of A4 and Letter in each
direction; `templates/report.css` sets the sizes.  What does not fit is counted on the page and stands in
the answer.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import ceil

from service.reference import likelihood
from service.reference.sources import source
from service.render.contents import Report, Table
from service.render.drawing import WIDTH, Drawing

#: Heights [mm] of two sheets inside their margins, less what page ends waste.
_SHEETS = 2 * 257.0 - 8.0
_HEADING = 6.2
#: Largest height of a picture alone in its column, and of one of two; width of a picture, at which its text is
#: about as large as the page's.
_ALONE, _OF_TWO, _PICTURE = 182.0, 90.0, 76.0


@dataclass(frozen=True, slots=True)
class _Type:
    """Text in print: height of a line and of the gap after it [mm], characters in a line."""

    line: float
    gap: float
    characters: int

    def height(self, texts: Sequence[str]) -> float:
        """Height of paragraphs."""
        return sum(ceil(len(t) / self.characters) * self.line + self.gap for t in texts if t)


_BODY = _Type(3.5, 0.6, 132)
_QUIET = _Type(2.7, 0.5, 162)
_CAUTION = _Type(3.06, 0.6, 65)
_ROW = 3.05
#: Characters in a line of a table in one of two columns, and in a wide one; and the part of what figures
#: leave that the first column takes, where the last holds words too.
_ACROSS, _FIRST = {True: 76, False: 160}, 0.6

#: What stands before the source of the words for probabilities.
_BEFORE_SOURCE = "Words for probabilities: "

#: How many texts outside, undecided and of notices, and how many pictures in a column, from the most
#: generous to the scantiest.
_LEVELS = ((9, 9, 6, 2), (7, 7, 4, 2), (5, 5, 3, 2), (4, 4, 2, 1), (3, 3, 2, 1), (2, 2, 1, 1))
#: Values that a technician's page holds at least before texts and pictures are cut.
_FEWEST = 16


def fitted(report: Report) -> Report:
    """The report cut to two sheets: texts first come first kept, then as many rows as there is room."""
    found = report
    for level in _LEVELS:
        found = _trimmed(report, level)
        if report.audience == "customer":
            if _fixed(found) <= _SHEETS:
                return found
        elif _room(found) >= _height(found.readings, narrow=True) + _least(found.values):
            break
    if report.audience == "customer":
        return found
    readings = _cut(found.readings, _room(found), narrow=True)
    left = _room(found) - _height(readings, narrow=True)
    return replace(found, readings=readings, values=_cut(found.values, left, narrow=_narrow(found.values)))


def _narrow(table: Table) -> bool:
    """Whether a table stands in two columns."""
    return len(table.heads) == 2


def _least(table: Table) -> float:
    rows = replace(table, rows=table.rows[:_FEWEST])
    return _height(rows, narrow=_narrow(table))


def _trimmed(report: Report, level: tuple[int, int, int, int]) -> Report:
    outside, undecided, notices, pictures = level
    return replace(
        report,
        outside=_first(report.outside, outside, "lie outside their limits"),
        undecided=_first(report.undecided, undecided, "could not be decided or derived"),
        notices=_first(report.notices, notices, "doubts about the readings"),
        information=_first(report.information, undecided, "for information"),
        pictures=(report.pictures[0][:pictures], report.pictures[1][:pictures]),
    )


def _first(texts: Sequence[str], most: int, what: str) -> Sequence[str]:
    # The line that counts the rest takes the room of one.
    if len(texts) <= most + 1:
        return texts
    return [*texts[:most], f"{len(texts) - most} more {what}; the JSON answer has them."]


def _room(report: Report) -> float:
    """Height [mm] left for the tables."""
    return _SHEETS - _fixed(report) - 2 * _HEADING - 3 * _ROW


def _fixed(report: Report) -> float:
    """Height [mm] of all but the tables."""
    facts = sum(len(name) + len(text) + 6 for name, text in report.facts)
    height = 8.0 + 3.4 * ceil(facts / 120)
    height += 10.0 + _BODY.height([report.summary.certainty, *report.summary.sentences])
    height += max(_column(column) for column in report.pictures)
    if report.outside or report.inside:
        height += _HEADING + _BODY.height(report.outside) + _QUIET.height([report.inside])
    if report.undecided or report.notices:
        height += _HEADING + _BODY.height([*report.notices, *report.undecided])
    if report.information:
        height += _HEADING + _BODY.height(report.information)
    cautions = _CAUTION.height([f"{word} {text}" for word, text in report.cautions])
    height += _HEADING + cautions / 2 + 4.0 + 2 * _BODY.line
    if report.audience == "technician":
        height += _HEADING + _QUIET.height(report.instruments)
    return (
        height
        + _HEADING
        + _QUIET.height([*report.method, "; ".join(report.sources), source(likelihood.SOURCE) + _BEFORE_SOURCE])
    )


def _column(pictures: Sequence[Drawing]) -> float:
    highest = _ALONE if len(pictures) == 1 else _OF_TWO
    return sum(min(_PICTURE * picture.height / WIDTH, highest) + 3.0 for picture in pictures)


def _height(table: Table, *, narrow: bool) -> float:
    """Height [mm] of a table's rows: figures stand in one line, words wrap in what is left."""
    if not table.rows:
        return 0.0
    worded = len(table.heads) > 2
    figures = range(1, len(table.heads) - worded)
    taken = sum(max(len(row[column]) for row in table.rows) + 2 for column in figures)
    rest = max(_ACROSS[narrow] - taken, 20)
    first, last = (_FIRST * rest, (1.0 - _FIRST) * rest) if worded else (rest, rest)
    lines = sum(max(ceil(len(row[0]) / first), ceil(len(row[-1]) / last) if worded else 1) for row in table.rows)
    return lines * _ROW / (2.0 if narrow else 1.0)


def _cut(table: Table, room: float, *, narrow: bool) -> Table:
    """The rows that matter most, as many as there is room for, in their order."""
    kept: set[int] = set()
    for place in table.order or range(len(table.rows)):
        rows = [table.rows[p] for p in (*kept, place)]
        if _height(replace(table, rows=rows), narrow=narrow) > room:
            break
        kept.add(place)
    rows = [row for place, row in enumerate(table.rows) if place in kept]
    return replace(table, rows=rows, left_out=len(table.rows) - len(rows))
