"""Bodies of batches: decompressed, cut into lines, gathered into chunks.

The first byte says how the body is coded, the second how it is cut on its way; the rest is the body.
"""

from __future__ import annotations

import codecs
import gzip
import zlib
from collections.abc import Callable, Iterator

from backports import zstd

from schemas.examples import batch_examples
from service.batches.lines import (
    BLANK,
    BYTES_IN_CHUNK,
    LINES_IN_CHUNK,
    ROWS_IN_CHUNK,
    Chunk,
    Chunker,
    Line,
    LineSplitter,
    Overlong,
)
from service.edge.codings import CODINGS, IDENTITY, STEP, CodingError, Decoder, Encoder

CODE = ("service.batches.lines", "service.edge.codings")

LIMIT = 64
_CODED = (IDENTITY, *CODINGS)
#: No more of a body's content is looked at: some bytes decompress to very many.
_MOST = 1 << 20

_TEXTS = [text.encode() for text in batch_examples().values()]
_TEXTS += [
    b"",
    b"\n",
    b"a\nb\r\n\r\n \t\r\nc",
    codecs.BOM_UTF8 + b"{}\n",
    b"x" * LIMIT + b"\n" + b"x" * (LIMIT + 1),
    b'{"comparison":1}\n' * 20,
    b"\r",
    b"\n" * 5000,
    b"\x1f\x8b",
    b"\x28\xb5\x2f",
]
_PACKED: dict[str, Callable[[bytes], bytes]] = {
    IDENTITY: bytes,
    "zstd": zstd.compress,
    "gzip": gzip.compress,
}
SEEDS = [
    bytes([place, cut]) + _PACKED[coding](text)
    for place, coding in enumerate(_CODED)
    for cut, text in enumerate(_TEXTS)
] + [
    b"\x02\x07" + gzip.compress(b"a\n", mtime=0) + b"\0\0" + gzip.compress(b"b\n", mtime=0),
    b"\x01\x07" + zstd.compress(b"a\n") + zstd.compress(b"b\n"),
    b"\x01\x00" + bytes.fromhex("28b52ffd2001010000"),
]


def check(data: bytes) -> None:
    """However it is cut, a body gives the lines of its content, or the same complaint."""
    coding = _CODED[(data[0] if data else 0) % len(_CODED)]
    cut = (data[1] if len(data) > 1 else 0) + 1
    body = data[2:]
    whole, complaint = _decoded(coding, [body])
    # In pieces of one length, and so large that a body makes no more than a few hundred.
    size = max(cut, len(body) // 300 + 1)
    pieces = [body[at : at + size] for at in range(0, len(body), size)]
    again, other = _decoded(coding, pieces)
    assert (complaint is None) == (other is None), "cut otherwise, another complaint"
    assert complaint is None or (str(complaint) and complaint.hint)
    # What is corrupt may show later where it comes in smaller pieces; until then all is alike.
    common = len(whole) if complaint is None else min(len(whole), len(again))
    assert whole[:common] == again[:common]
    if complaint is None:
        assert whole == again
        assert whole == _by_library(coding, body)[:_MOST], "decoded otherwise than by the library"
    _lines_of(whole, size)
    _written(coding, whole[:STEP], cut)


def _decoded(coding: str, pieces: list[bytes]) -> tuple[bytes, CodingError | None]:
    decoder, found = Decoder(coding), bytearray()
    try:
        for piece in pieces:
            for part in decoder.feed(piece):
                assert len(part) <= STEP
                found += part
                if len(found) > _MOST:
                    return bytes(found[:_MOST]), None
        found += decoder.end()
    except CodingError as error:
        return bytes(found), error
    return bytes(found), None


def _by_library(coding: str, body: bytes) -> bytes:
    """The content, by the standard library's own way to read several members or frames."""
    if coding == IDENTITY:
        return body
    found, rest = bytearray(), body
    while rest and len(found) <= _MOST:
        one = zlib.decompressobj(wbits=31) if coding == "gzip" else zstd.ZstdDecompressor()
        found += one.decompress(rest, _MOST + 1)
        rest = one.unused_data.lstrip(b"\0")
    return bytes(found)


def _lines_of(content: bytes, size: int) -> None:
    splitter, chunker = LineSplitter(LIMIT), Chunker()
    lines: list[Line] = []
    chunks: list[Chunk] = []
    for at in range(0, len(content), size * 7):
        found = splitter.feed(content[at : at + size * 7])
        lines += found
        chunks += chunker.feed(found)
    found = splitter.end()
    lines += found
    chunks += chunker.feed(found)
    chunks += chunker.close()
    assert lines == list(_expected(content))
    told: dict[int, Line] = {}
    for chunk in chunks:
        assert chunk.lines[0] != BLANK != chunk.lines[-1]
        assert len(chunk.lines) <= min(ROWS_IN_CHUNK, LINES_IN_CHUNK + chunk.lines.count(BLANK))
        assert sum(len(line) for line in chunk.lines if isinstance(line, bytes)) < BYTES_IN_CHUNK + LIMIT
        assert told.keys().isdisjoint(range(chunk.first, chunk.end))
        told |= dict(enumerate(chunk.lines, chunk.first))
    assert {number: line for number, line in told.items() if line != BLANK} == {
        number: line for number, line in enumerate(lines) if line != BLANK
    }


def _expected(content: bytes) -> Iterator[Line]:
    rows = content.split(b"\n")
    if rows[-1] == b"":
        rows.pop()
    if rows:
        rows[0] = rows[0].removeprefix(codecs.BOM_UTF8)
    for row in rows:
        line = row.removesuffix(b"\r")
        yield Overlong(LIMIT) if len(line) > LIMIT else line if line.strip(b" \t\r") else BLANK


def _written(coding: str, content: bytes, cut: int) -> None:
    """What is written in parts is read back whole, by the library."""
    encoder = Encoder(coding)
    size = max(cut * 37, len(content) // 20 + 1)
    parts = [encoder.encode(content[at : at + size]) for at in range(0, len(content), size)]
    packed = b"".join(parts) + encoder.encode(b"", last=True)
    assert _by_library(coding, packed) == content


def mutated(data: bytes, seed: int) -> bytes | None:
    """The bytes as any others: what is compressed is better changed before it is."""
    if seed % 3 or len(data) < 2:
        return None
    coding = _CODED[data[0] % len(_CODED)]
    content, _ = _decoded(coding, [data[2:]])
    content = content[:4096]
    at = seed // 3 % (len(content) + 1)
    odd = (b"\n", b"\r\n", b"\r", b" ", b"x" * LIMIT, codecs.BOM_UTF8, b'"comparison"', b"\n\n\n")[seed // 7 % 8]
    content = content[:at] + odd + content[at:]
    return data[:2] + _PACKED[coding](content)
