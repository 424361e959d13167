"""Bytes into lines, lines into chunks.  Pure, and bounded in what is held."""

from __future__ import annotations

import codecs
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

#: A chunk is closed by whichever limit it reaches first.  The lines of a chunk are computed together, by one
#: process: the more lines, the more visits of one kind; a comparison, a diagnosis or a trend takes as long as many
#: visits.
LINES_IN_CHUNK = 256
LINES_OF_A_CASE = 8
_CASE = re.compile(rb'"(?:comparison|diagnosis|trend)"')
BYTES_IN_CHUNK = 524_288
#: Blank lines count towards this limit only, so a body of nothing but line ends makes no chunk.
ROWS_IN_CHUNK = 4096


@dataclass(frozen=True, slots=True)
class Overlong:
    """In place of a line that was longer than ``limit`` bytes and was not kept."""

    limit: int


#: A line without its end; empty if it holds nothing but white space.
Line = bytes | Overlong

BLANK = b""
#: Bytes of which a blank line consists.
_WHITE = b" \t\r"


class LineSplitter:
    """Lines from pieces of bytes, cut anywhere.

    Lines end with ``\\n`` or ``\\r\\n``; the last may lack its end.  A byte-order mark before the first line is
    not part of that line.  Never holds more than a line's limit.
    """

    def __init__(self, limit: int) -> None:
        self._limit = limit
        self._held = bytearray()
        self._overlong = False
        self._begun = False  # the first line is whole

    def feed(self, data: bytes) -> list[Line]:
        """The lines that end within ``data``."""
        if self._begun and self._is_blank(data):
            return self._blank_lines(data)
        first, *others = data.split(b"\n")
        self._hold(first)
        if not others:
            return []
        *whole, rest = others
        lines = [self._held_line(), *(self._line(part) for part in whole)]
        self._hold(rest)
        return lines

    def end(self) -> list[Line]:
        """The last line, if it lacked its end."""
        return [self._held_line()] if self._held or self._overlong else []

    def _is_blank(self, data: bytes) -> bool:
        """Whether every line that ends within ``data`` is blank, by looks that cost little."""
        short = not self._overlong and len(self._held) + len(data) <= self._limit
        return short and not self._held.strip(_WHITE) and not data.strip(_WHITE + b"\n")

    def _blank_lines(self, data: bytes) -> list[Line]:
        """Blank lines in bulk: a body made of them must not cost more than it is worth."""
        before, end, rest = data.rpartition(b"\n")
        if end:
            self._held.clear()
        self._held += rest
        return [BLANK] * (before.count(b"\n") + len(end))

    def _hold(self, part: bytes) -> None:
        # On top of a line's limit: the first half of its end, and a byte-order mark.
        if self._overlong or len(self._held) + len(part) > self._limit + 1 + len(codecs.BOM_UTF8):
            self._overlong = True
            self._held.clear()
        else:
            self._held += part

    def _held_line(self) -> Line:
        line = Overlong(self._limit) if self._overlong else self._line(bytes(self._held))
        self._begun = True
        self._held.clear()
        self._overlong = False
        return line

    def _line(self, part: bytes) -> Line:
        if not self._begun:
            part = part.removeprefix(codecs.BOM_UTF8)
        self._begun = True
        line = part.removesuffix(b"\r")
        if len(line) > self._limit:
            return Overlong(self._limit)
        return line if line.strip(_WHITE) else BLANK


def _weight(line: Line) -> int:
    """A line's work in visits, guessed from its bytes; a wrong guess only makes chunks uneven."""
    return LINES_OF_A_CASE if isinstance(line, bytes) and _CASE.search(line) else 1


@dataclass(slots=True)
class Chunk:
    """Consecutive lines of the input; the first and the last are not blank."""

    first: int
    lines: list[Line] = field(default_factory=list)

    @property
    def end(self) -> int:
        """Number of the line after the last."""
        return self.first + len(self.lines)


class Chunker:
    """Chunks from lines, numbered from the start of the input; the first ``offset`` lines are skipped.

    ``number`` is the number of the next line, ``answerable`` how many lines so far ask for an answer.
    """

    def __init__(self, offset: int = 0) -> None:
        self.number = self.answerable = 0
        self._offset = offset
        self._open = Chunk(offset)
        self._given = self._bytes = 0

    def feed(self, lines: Sequence[Line]) -> Iterator[Chunk]:
        """The chunks that these lines close."""
        skipped = min(max(self._offset - self.number, 0), len(lines))
        if not self._open.lines and not any(lines):
            skipped = len(lines)  # blank lines open no chunk
        self.number += skipped
        for line in lines[skipped:]:
            chunk = self._open
            if not chunk.lines:
                chunk.first = self.number
            self.number += 1
            if line != BLANK:
                self.answerable += 1
                self._given += _weight(line)
                self._bytes += len(line) if isinstance(line, bytes) else 0
            elif not chunk.lines:
                continue
            chunk.lines.append(line)
            if self._given >= LINES_IN_CHUNK or self._bytes >= BYTES_IN_CHUNK or len(chunk.lines) >= ROWS_IN_CHUNK:
                yield from self.close()

    def close(self) -> Iterator[Chunk]:
        """The chunk that is open, if it holds any line."""
        if self._open.lines:
            closed, self._open = self._open, Chunk(self.number)
            self._given = self._bytes = 0
            while closed.lines[-1] == BLANK:
                closed.lines.pop()
            yield closed
