"""A batch without HTTP: lines, chunks, codings, back-pressure, what goes wrong on the way."""

from __future__ import annotations

import asyncio
import gzip
import json
import multiprocessing
import os
import random
import signal
import time
import tracemalloc
from collections.abc import Callable, Iterator
from concurrent.futures import BrokenExecutor, Executor
from dataclasses import dataclass
from functools import partial
from typing import Any, cast

import pytest
from backports import zstd

from schemas.batches import BatchAnswerLine, Summary
from schemas.examples import batch_examples
from service.batches import answers, stream, workers
from service.batches.answers import answer_chunk, answer_lines
from service.batches.lines import (
    BYTES_IN_CHUNK,
    LINES_IN_CHUNK,
    ROWS_IN_CHUNK,
    Chunk,
    Chunker,
    LineSplitter,
    Overlong,
)
from service.batches.places import find_place
from service.batches.stream import GoneError
from service.batches.workers import Workers
from service.edge.codings import CODINGS, STEP, CodingError, Decoder, Encoder
from tests.answers import conforms
from tests.streams import Client, Echo, answer_to, batch, parsed

COMPRESS: dict[str, Callable[[bytes], bytes]] = {"gzip": gzip.compress, "zstd": zstd.compress}
VISIT = b'{"assessment": {"units": "metric", "run": {"readings": {"line_voltage": 230}}}}'


# ---------------------------------------------------------------- lines and chunks


def test_a_line_at_its_limit_is_kept_whatever_its_end() -> None:
    """The limit is of the line, not of its end; one byte more is too long, and only that line."""
    for end in (b"\n", b"\r\n"):
        splitter = LineSplitter(4)
        data = end.join([b"1234", b"12345", b"123456789", b"12", b""])
        found = [line for at in range(len(data)) for line in splitter.feed(data[at : at + 1])]
        assert found == [b"1234", Overlong(4), Overlong(4), b"12"]
        assert splitter.end() == []


def test_a_byte_order_mark_is_not_part_of_the_first_line() -> None:
    """However it is cut; a line at its limit keeps its limit, and only the first may have a mark."""
    data = b"\xef\xbb\xbf1234\r\n\xef\xbb\xbf5\n"
    for size in (1, 2, 3, 100):
        splitter = LineSplitter(4)
        found = [line for at in range(0, len(data), size) for line in splitter.feed(data[at : at + size])]
        assert found == [b"1234", b"\xef\xbb\xbf5"]
    splitter = LineSplitter(4)
    assert splitter.feed(b"\xef\xbb\xbf12345\n") == [Overlong(4)]
    assert splitter.feed(b"\xef\xbb\xbf123456789\n") == [Overlong(4)]


def test_a_line_without_an_end_is_never_held() -> None:
    """Fifty megabytes of it."""
    splitter = LineSplitter(1000)
    piece = b"x" * 100_000
    tracemalloc.start()
    for _ in range(500):
        assert splitter.feed(piece) == []
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 1_000_000
    assert splitter.end() == [Overlong(1000)]


def test_a_chunk_is_closed_by_lines_by_bytes_and_by_blank_rows() -> None:
    """Whichever comes first."""
    few = Chunker()
    assert [len(c.lines) for c in few.feed([b"{}"] * (2 * LINES_IN_CHUNK))] == [LINES_IN_CHUNK] * 2
    heavy = list(Chunker().feed([b"x" * (BYTES_IN_CHUNK // 2)] * 4))
    assert [len(c.lines) for c in heavy] == [2, 2]
    blank = Chunker()
    (chunk,) = blank.feed([b"{}"] + [b""] * (3 * ROWS_IN_CHUNK))
    assert (chunk.first, chunk.lines) == (0, [b"{}"])
    assert not list(blank.close())
    assert list(blank.feed([b"{}"])) == []
    assert [c.first for c in blank.close()] == [3 * ROWS_IN_CHUNK + 1]


# ---------------------------------------------------------------- codings


@pytest.mark.parametrize("coding", CODINGS)
def test_a_coding_there_and_back_in_any_pieces(coding: str) -> None:
    """Against the reference implementations; each flushed part can be read before the next is made."""
    text = b"".join(b"%d %d\n" % (n, n * n) for n in range(20_000))
    packed = COMPRESS[coding](text[:70_000]) + COMPRESS[coding](text[70_000:])  # two members in a row
    for size in (1, 7, 1000, len(packed)):
        decoder = Decoder(coding)
        pieces = [piece for at in range(0, len(packed), size) for piece in decoder.feed(packed[at : at + size])]
        decoder.end()
        assert max(map(len, pieces)) <= STEP
        assert b"".join(pieces) == text
    encoder, decoder = Encoder(coding), Decoder(coding)
    for part in (b"one\n", b"two\n"):
        assert b"".join(decoder.feed(encoder.encode(part))) == part
    assert b"".join(decoder.feed(encoder.encode(b"three\n", last=True))) == b"three\n"
    decoder.end()


def test_zeros_after_gzip_mean_nothing() -> None:
    """Padding, as some archivers leave."""
    decoder = Decoder("gzip")
    assert b"".join(decoder.feed(gzip.compress(b"text") + b"\0" * 512)) == b"text"
    decoder.end()


def test_a_window_too_large_for_the_web_is_refused() -> None:
    """RFC 9659: over 8 MB.  (128 MB would be held by the decompressor otherwise.)"""
    options: dict[int, int] = {zstd.CompressionParameter.window_log: 27}
    compressor = zstd.ZstdCompressor(options=options)
    packed = compressor.compress(random.Random(0).randbytes(100_000))
    with pytest.raises(CodingError):
        list(Decoder("zstd").feed(packed + compressor.flush()))


@pytest.mark.parametrize("coding", CODINGS)
def test_a_bomb_is_taken_in_small_steps(coding: str) -> None:
    """Forty megabytes out of some kilobytes: the line in it is refused, those around it are answered."""
    packed = COMPRESS[coding](b"1\n" + b"[" * 40_000_000 + b"\n2\n")
    assert len(packed) < 60_000
    assert max(map(len, Decoder(coding).feed(packed))) <= STEP
    lines, summary = parsed(answer_to([packed], input_coding=coding))
    assert [line["id"] for line in lines] == ["1", None, "2"]  # of the second nothing was kept
    assert summary["complete"] is True


@pytest.mark.parametrize("coding", CODINGS)
@pytest.mark.parametrize("harm", ["cut", "corrupt", "other"])
def test_what_cannot_be_decompressed_ends_with_where_to_resume(coding: str, harm: str) -> None:
    """What came before is answered, a half line is not, and the rest can be sent again."""
    rows = [str(n).encode() for n in random.Random(1).choices(range(10**12), k=20_000)]
    text = b"\n".join(rows) + b"\n"
    packed = bytearray(COMPRESS[coding](text))
    if harm == "cut":
        del packed[len(packed) * 3 // 4 :]
    elif harm == "corrupt":
        at = len(packed) // 2
        packed[at : at + 64] = bytes(64)
    else:
        packed[:] = text
    lines, summary = parsed(answer_to([bytes(packed)], input_coding=coding))
    assert summary["complete"] is False
    assert summary["problem"]["type"] == "/problems/invalid-coding"
    assert summary["answered"] == len(lines) == summary["resume_offset"] - summary["blank"]
    if harm == "other":
        assert lines == []
    if harm == "cut":  # corruption may give odd lines before it shows
        assert [line["id"].encode() for line in lines] == rows[: len(lines)]
        assert len(lines) > 1000
        rest, second = parsed(answer_to([text], offset=summary["resume_offset"]))
        assert second["complete"] is True
        assert [line["line"] for line in lines + rest] == list(range(20_000))


@pytest.mark.parametrize("coding", CODINGS)
@pytest.mark.parametrize(
    ("made", "says", "hint"),
    [
        (lambda _: b"", "is empty", "leave it out"),
        (lambda _: b'{"id": 1}\n' * 100, "is not", "leave it out if the body is plain"),
        (lambda packed: packed + b'{"id": 1}\n' * 100, "bytes after its end", "after its end"),
        (lambda packed: packed[:-3], "is incomplete", "Compress the input again"),
    ],
)
def test_a_header_that_does_not_fit_the_body_is_distinguished(
    coding: str, made: Callable[[bytes], bytes], says: str, hint: str
) -> None:
    """From a corrupt body, which needs another remedy."""
    content = made(COMPRESS[coding](b"a\nb\n"))
    _, summary = parsed(answer_to([content] if content else [], input_coding=coding))
    problem = summary["problem"]
    assert problem["type"] == "/problems/invalid-coding"
    assert (summary["complete"], summary["notices"]) == (False, [])
    assert says in problem["detail"]
    assert coding in problem["detail"]
    assert hint in problem["errors"][0]["hint"]


@pytest.mark.parametrize("coding", CODINGS)
@pytest.mark.parametrize("size", [1, 3, 1000])
def test_a_compressed_body_without_its_header_learns_which_is_missing(coding: str, size: int) -> None:
    """By its first bytes, cut anywhere; nothing is answered."""
    content = COMPRESS[coding](b"a\nb\n")
    pieces = [content[at : at + size] for at in range(0, len(content), size)]
    lines, summary = parsed(answer_to(pieces))
    assert lines == []
    assert (summary["complete"], summary["resume_offset"]) == (False, 0)
    assert f"Content-Encoding: {coding}" in summary["problem"]["errors"][0]["hint"]


@pytest.mark.parametrize("content", [b"(", b"\x28\xb5", b"\x1f", b"\x1f\x1f\x8b\n", b"(\n{}"])
def test_a_plain_body_that_begins_a_little_like_another_is_plain(content: bytes) -> None:
    """Nothing of it is lost."""
    decoder = Decoder("identity")
    pieces = [piece for at in range(len(content)) for piece in decoder.feed(content[at : at + 1])]
    assert b"".join(pieces) + decoder.end() == content


@pytest.mark.parametrize("blank", [b"\n", b" \n", b"\r\n", b"\t\r\n"])
def test_a_bomb_of_blank_lines_is_refused(blank: bytes, monkeypatch: pytest.MonkeyPatch) -> None:
    """Long before its end; the line before them is answered.  The bound is small here, to be quick."""
    monkeypatch.setattr(stream, "QUIET_BYTES", 2**20)
    packed = zstd.compress(b"1\n" + blank * 10_000_000)
    decoded = 0

    class Counting(Decoder):
        def feed(self, data: bytes) -> Iterator[bytes]:
            nonlocal decoded
            for piece in super().feed(data):
                decoded += len(piece)
                yield piece

    async def run() -> bytes:
        client, running = Client([packed]), batch(input_coding="zstd")
        running._decoder = Counting("zstd")
        assert await running.run(client.receive, client.send)
        return client.answer

    lines, summary = parsed(asyncio.run(run()))
    assert decoded <= 2**20 + stream.QUIET_BYTES_PER_BYTE * len(packed) + 2 * STEP < 10_000_000
    assert [line["id"] for line in lines] == ["1"]
    assert (summary["complete"], summary["resume_offset"]) == (False, 1)
    assert summary["problem"]["type"] == "/problems/invalid-coding"
    assert "without a line to answer" in summary["problem"]["detail"]


@pytest.mark.parametrize(("content", "offset"), [(b"\n" * 2**20, 0), (b"1\n" * 2**18, 2**40)])
def test_a_plain_body_without_a_line_to_answer_is_read_to_its_end(
    content: bytes, offset: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Its sender pays for it."""
    monkeypatch.setattr(stream, "QUIET_BYTES", 2**16)
    _, summary = parsed(answer_to([content] * 4, offset=offset))
    assert (summary["complete"], summary["lines"]) == (True, 4 * content.count(b"\n"))


def test_the_bound_lets_readings_pass_that_an_offset_skips() -> None:
    """Compressed as well as gzip can, they expand less than is allowed for each byte."""
    text = batch_examples()["mixed"].encode() * 200
    assert len(text) / len(zstd.compress(text, 19)) > stream.QUIET_BYTES_PER_BYTE  # all alike
    varied = b"".join(
        VISIT.replace(b"230", b"%d" % (200 + n % 97)).replace(b"{", b'{"id": %d, ' % n, 1) + b"\n"
        for n in range(20_000)
    )
    assert len(varied) / len(zstd.compress(varied, 19)) < stream.QUIET_BYTES_PER_BYTE


def test_a_client_that_leaves_while_its_body_is_decompressed_is_noticed() -> None:
    """Though it sent everything before, so that nothing more is received of it."""
    pieces = 0

    def gone() -> bool:
        nonlocal pieces
        pieces += 1
        return pieces > 3

    async def run() -> bool:
        client = Client([zstd.compress(b"\n" * 2**26)])
        return await batch(input_coding="zstd").run(client.receive, client.send, gone)

    assert asyncio.run(run()) is False
    assert pieces == 4


# ---------------------------------------------------------------- answers to lines


def problem_of(line: bytes) -> dict[str, Any]:
    (answer,) = answer_lines([line])
    return dict(json.loads(answer)["problem"])


@pytest.mark.parametrize("size", [1, 4, 9])
def test_a_zstd_frame_that_lost_its_content_is_refused(size: int) -> None:
    """It says one byte (RFC 8878, 3.1.1.1.4) and ends with an empty block; however it is cut on its way."""
    frame = bytes.fromhex("28b52ffd 20 01 010000")
    decoder = Decoder("zstd")
    *others, last = [frame[at : at + size] for at in range(0, len(frame), size)]
    for piece in others:
        list(decoder.feed(piece))
    with pytest.raises(CodingError):
        list(decoder.feed(last))


@pytest.mark.parametrize(("written", "given"), [(b"17.0", 17), (b"-1e3", -1000), (b"17", 17)])
def test_a_whole_number_is_one_however_it_is_written(written: bytes, given: int) -> None:
    """JSON has one kind of number (RFC 8259, 6), and some languages write every one with a point."""
    (answer,) = answer_lines([b'{"id": ' + written + b', "assessment": {}}'])
    told = json.loads(answer)["id"]
    assert (told, type(told)) == (given, int)


@pytest.mark.parametrize(
    ("line", "where", "says"),
    [
        (b"{}", "", "exactly one"),
        (b"[]", "", "not an object"),
        (b"null", "", "not an object"),
        (b'{"assessment": null}', "", "exactly one"),
        (b'{"id": 1, "assesment": {}}', "/assesment", "Did you mean assessment?"),
        (b'{"id": true, "comparison": {}}', "/id", "200 characters"),
        (b'{"id": 1.5, "comparison": {}}', "/id", "whole number"),
        (b'{"id": 9007199254740992, "comparison": {}}', "/id", "9007199254740991"),
        (b'{"id": "' + b"x" * 201 + b'", "comparison": {}}', "/id", "200 characters"),
        (b'{"assessment": 5}', "/assessment", "not an object"),
        (b'{"assessment": {"units": "imperial"}}', "/assessment/run", "missing"),
        (
            b'{"comparison": {"sitee": {}}}',
            "/comparison/sitee",
            "Did you mean site?",
        ),
        (b'{"comparison": {"run": {}}}', "/comparison/run", "Did you mean runs?"),
        (b'{"assessment": {"runs": {}}}', "/assessment/runs", "Did you mean run?"),
        (b'{"assessment": {}, "units": "metric"}', "/units", "in the body"),
        (b'{"id": 1152921504606846977, "comparison": {}}', "/id", "9007199254740991"),
    ],
)
def test_a_bad_envelope_is_refused_by_field(line: bytes, where: str, says: str) -> None:
    """Pointers into the line, with what to do."""
    found = problem_of(line)
    assert found["type"] == "/problems/invalid-request"
    rows = [row for row in found["errors"] if row["pointer"] == where]
    assert any(says in f"{row['allowed']} {row['detail']} {row['hint']}" for row in rows), found


@pytest.mark.parametrize(
    ("line", "says"),
    [
        (b'{"units": "imperial", "run": {"readings": {}}}', '{"assessment": {...}}'),
        (b'{"id": 7, "unit": {}, "site": {}}', '{"assessment": {...}}'),
        (b'{"units": "imperial", "runs": {"before": {}, "after": {}}}', '{"comparison": {...}}'),
        (b'{"units": "imperial", "runs": []}', '{"trend": {...}}'),
        (b'{"units": "imperial", "run": {}, "baseline": {}}', '{"diagnosis": {...}}'),
        (b'{"id": 7, "plan": {}}', "/v1/plans"),
    ],
)
def test_a_body_without_its_envelope_is_one_error(line: bytes, says: str) -> None:
    """What to do with it, not one error for each of its fields."""
    (error,) = problem_of(line)["errors"]
    assert says in error["hint"]
    assert error["pointer"] == ""


@pytest.mark.parametrize(
    ("line", "detail", "hint"),
    [
        (b'{"id": "a', "Unterminated string starting at column 8 of the line.", "ends too early"),
        (b'{"id": 1', "Expecting ',' delimiter at column 9 of the line.", "ends too early"),
        (b'{"id": 1}{"id": 2}', "Extra data at column 10 of the line.", "Something follows"),
        (b'{"id" 1}', "Expecting ':' delimiter at column 7 of the line.", "quotes, commas"),
        (b"\xef\xbb\xbf{}", "The line begins with a byte-order mark.", "without a byte-order mark"),
        (b"\xff{}", "The line is not UTF-8 (byte 0).", "UTF-8"),
        (b"[" * 40, "The line is nested deeper than 32 levels.", "shape"),
    ],
)
def test_what_is_not_json_is_located_in_the_line(line: bytes, detail: str, hint: str) -> None:
    """Places within the line, and what a batch asks of one."""
    found = problem_of(line)
    assert found["detail"] == detail
    assert hint in found["errors"][0]["hint"]
    assert ("one whole JSON object a line" in found["errors"][0]["hint"]) == (hint[:4] in ("ends", "Some"))


def test_numbers_are_repeated_as_given() -> None:
    """Every digit, though readers that hold numbers as doubles would lose some."""
    (error, *_) = problem_of(b'{"id": 1152921504606846977, "assessment": {}}')["errors"]
    assert error["value"] == "1152921504606846977"


def test_both_bodies_in_one_line_are_refused() -> None:
    """Each on a line of its own."""
    both = [json.loads(line) for line in batch_examples()["mixed"].splitlines()]
    line = {"assessment": both[0]["assessment"], "comparison": both[3]["comparison"]}
    assert "line of its own" in problem_of(json.dumps(line).encode())["errors"][0]["hint"]


def test_a_refused_line_keeps_its_id() -> None:
    """Also where its body, or its id, is what was refused; ids come back as they were."""
    lines = [
        b'{"id": "a", "assessment": {}}',
        b'{"id": -7, "none": 1}',
        b'{"id": [1]}',
        b'{"id": 1',
    ]
    found = [json.loads(line) for line in answer_lines(lines, first=10)]
    assert [row["id"] for row in found] == ["a", -7, None, None]
    assert [row["line"] for row in found] == [10, 11, 12, 13]


def test_one_line_that_fails_harms_no_other(monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture) -> None:
    """An unexpected error is that line's problem, reveals nothing, and is logged."""
    from service.assess.many import answer_many as real

    def broken(requests: Any, answer: Any) -> Any:  # noqa: ANN401
        if any(request.unit.refrigerant == "R-22" for request in requests):
            raise RuntimeError("secret detail")
        return real(requests, answer)

    monkeypatch.setattr(answers, "answer_many", broken)
    bad = VISIT.replace(b'"run"', b'"unit": {"refrigerant": "R-22"}, "run"')
    found = answer_chunk([VISIT, bad, VISIT], "grades", 0)
    rows = [json.loads(line) for line in found.content.splitlines()]
    assert [next(iter(set(row) - {"id", "line"})) for row in rows] == [
        "grades",
        "problem",
        "grades",
    ]
    assert rows[1]["problem"]["type"] == "/problems/internal"
    assert b"secret" not in found.content
    assert "line 1 of a batch" in caplog.text
    assert (found.tally.assessments, found.tally.problems) == (2, 1)


def test_answers_fit_the_contract() -> None:
    """Every kind of line, and the summary."""
    text = batch_examples()["mixed"].encode()
    for detail in ("full", "grades"):
        lines = answer_to([text], Workers(0), detail=detail).splitlines()
        assert len(lines) == 5
        for line in lines:
            BatchAnswerLine.model_validate_json(line)


# ---------------------------------------------------------------- the stream


def numbered(count: int) -> list[bytes]:
    return [b"%d\n" % n for n in range(count)]


def test_blank_lines_are_counted_and_not_answered() -> None:
    """So that line numbers stay those of the input, in front, between, and at the end."""
    lines, summary = parsed(answer_to([b"\n \t\r\na\n\n\nb\n\n"]))
    assert [(line["line"], line["id"]) for line in lines] == [(2, "a"), (5, "b")]
    assert {name: summary[name] for name in ("lines", "blank", "answered", "complete")} == {
        "lines": 7,
        "blank": 5,
        "answered": 2,
        "complete": True,
    }


def test_a_body_without_a_line_has_a_summary() -> None:
    """And nothing else; an offset past the end passes over all there is."""
    lines, summary = parsed(answer_to([]))
    assert (lines, summary["lines"], summary["complete"]) == ([], 0, True)
    lines, summary = parsed(answer_to([b"a\nb\n"], offset=5))
    assert (lines, summary["lines"], summary["skipped"], summary["blank"]) == ([], 2, 2, 0)


@pytest.mark.parametrize(
    ("content", "offset", "code", "resume"),
    [
        (b'{"id": 1}\n{"id": 2, "asse', 0, "last_line_cut", 1),
        (b'{"id": 1}\n\n{"id": "\xc3', 0, "last_line_cut", 2),
        (b'{"id": 1}\n{"id": 2, "asse', 1, "last_line_cut", 1),
        (b'{"id": 1}\n{"id": 2, "asse', 2, None, None),  # passed over
        (b'{"id": 1}\n{"id": 2, "asse\n', 0, None, None),  # it has its end: a bad line
        (b'{"id": 1}\n{"id": 2}', 0, None, None),  # whole, only its line end is missing
        (b'{"id": 1}\n  ', 0, None, None),
        (b'{"id": 1}{"id": 2}', 0, None, None),  # as `curl -d` sends two lines
        (b'{"id": 1, "id": 2}', 0, None, None),
        (b'{"id": 1, "assessment": {"units": tru', 0, "last_line_cut", 0),
        (b"", 0, "no_line", None),
        (b"\n \n", 0, "no_line", None),
        (b'{"id": 1}\n', 1, None, None),
        (b'{"id": 1}\n', 2, "offset_past_end", None),
    ],
)
def test_the_summary_notes_what_is_odd_about_a_whole_input(
    content: bytes, offset: int, code: str | None, resume: int | None
) -> None:
    """Every line was dealt with, and still the client may have meant something else."""
    _, summary = parsed(answer_to([content] if content else [], offset=offset))
    assert (summary["complete"], summary["resume_offset"]) == (True, None)
    assert summary["cut_suspected"] == (code == "last_line_cut")
    assert [row["code"] for row in summary["notices"]] == ([] if code is None else [code])
    if code is not None:
        assert summary["notices"][0]["resume_offset"] == resume
        conforms(Summary, summary)


def test_nothing_more_is_taken_while_the_client_does_not_read() -> None:
    """Back-pressure: few chunks under way, however much there is; then all of it, in order."""
    chunk = b"x\n" * LINES_IN_CHUNK

    async def run() -> None:
        client, reads = Client(chunk for _ in range(500)), asyncio.Event()

        async def send(content: bytes) -> None:
            await reads.wait()
            await client.send(content)

        workers_ = Echo(2)
        running = asyncio.create_task(batch(workers_).run(client.receive, send))
        for _ in range(5000):  # far more turns of the loop than all chunks would need
            await asyncio.sleep(0)
        assert 0 < client.pulled <= workers_.at_once + 1
        reads.set()
        assert await running
        lines, summary = parsed(client.answer)
        assert [line["line"] for line in lines] == list(range(500 * LINES_IN_CHUNK))
        assert summary["complete"] is True

    asyncio.run(run())


def test_order_is_kept_whichever_chunk_is_ready_first() -> None:
    """The second is answered before the first."""

    class Backwards(Echo):
        def __init__(self) -> None:
            super().__init__(4)
            self.later = asyncio.Event()

        async def answer(self, chunk: Any, detail: str) -> Any:  # noqa: ANN401
            if chunk.first == 0:
                await self.later.wait()
            self.later.set()
            return await super().answer(chunk, detail)

    async def run() -> bytes:
        client = Client(numbered(3 * LINES_IN_CHUNK))
        await batch(Backwards()).run(client.receive, client.send)
        return client.answer

    lines, _ = parsed(asyncio.run(run()))
    assert [line["line"] for line in lines] == list(range(3 * LINES_IN_CHUNK))


def test_a_client_that_sends_all_before_it_reads_learns_where_to_resume() -> None:
    """The service takes the rest and drops it, so that the client gets to reading."""
    count = 50 * LINES_IN_CHUNK

    async def run() -> bytes:
        client = Client(numbered(count))

        async def send(content: bytes) -> None:
            await client.sent_all.wait()
            await client.send(content)

        assert await batch(stall_seconds=0.01).run(client.receive, send)
        return client.answer

    lines, summary = parsed(asyncio.run(run()))
    assert summary["complete"] is False
    assert summary["problem"]["type"] == "/problems/stalled"
    assert 0 < summary["resume_offset"] == len(lines) < count
    rest, _ = parsed(answer_to(numbered(count), offset=summary["resume_offset"]))
    assert [line["line"] for line in lines + rest] == list(range(count))


def test_a_client_that_sends_no_more_is_answered_and_let_go() -> None:
    """What it sent is answered, though more lines were to follow."""

    async def run() -> bytes:
        client = Client([])

        async def receive() -> bytes | None:
            client.pulled += 1
            if client.pulled > 1:
                await asyncio.Event().wait()
            return b"a\nhalf"

        assert await batch(stall_seconds=0.01).run(receive, client.send)
        return client.answer

    lines, summary = parsed(asyncio.run(run()))
    assert [line["id"] for line in lines] == ["a"]
    assert (summary["complete"], summary["resume_offset"]) == (False, 1)


def test_a_client_that_neither_sends_nor_reads_is_given_up() -> None:
    """Nothing is held for it."""

    async def run() -> bool:
        client = Client(numbered(LINES_IN_CHUNK))

        async def send(_: bytes) -> None:
            await asyncio.Event().wait()

        return await batch(stall_seconds=0.01).run(client.receive, send)

    assert asyncio.run(run()) is False


def test_a_client_that_goes_ends_the_rest() -> None:
    """What is under way is cancelled."""
    cancelled = []

    class Slow(Echo):
        async def answer(self, chunk: Any, detail: str) -> Any:  # noqa: ANN401
            try:
                await asyncio.Event().wait()
            except asyncio.CancelledError:
                cancelled.append(chunk.first)
                raise

    async def run() -> bool:
        client = Client(numbered(2 * LINES_IN_CHUNK))

        async def receive() -> bytes | None:
            piece = await client.receive()
            if piece is None:
                raise GoneError
            return piece

        return await batch(Slow(4)).run(receive, client.send)

    assert asyncio.run(run()) is False
    assert cancelled == [0, LINES_IN_CHUNK]


def test_a_service_that_stops_says_where_to_go_on() -> None:
    """What is under way is answered."""

    async def run() -> bytes:
        client = Client([])
        running = batch(stall_seconds=0.01)

        async def receive() -> bytes | None:
            client.pulled += 1
            if client.pulled == 2:
                running.stop()
            if client.pulled >= 2:
                await asyncio.Event().wait()
            return b"a\n" * LINES_IN_CHUNK

        assert await running.run(receive, client.send)
        return client.answer

    lines, summary = parsed(asyncio.run(run()))
    assert len(lines) == summary["resume_offset"] == LINES_IN_CHUNK
    assert summary["problem"]["type"] == "/problems/stopping"


def test_a_chunk_that_cannot_be_handed_over_ends_with_a_summary() -> None:
    """A pool that is closed, a machine without memory: our fault, and said so."""

    class Broken(Echo):
        async def answer(self, chunk: Any, detail: str) -> Any:  # noqa: ANN401
            if chunk.first:
                raise RuntimeError("secret detail")
            return await super().answer(chunk, detail)

    answer = answer_to(numbered(3 * LINES_IN_CHUNK), Broken(0), stall_seconds=0.01)
    lines, summary = parsed(answer)
    assert len(lines) == summary["resume_offset"] == LINES_IN_CHUNK
    assert summary["problem"]["type"] == "/problems/internal"
    assert b"secret" not in answer


# ---------------------------------------------------------------- places


def test_a_batch_that_waits_for_its_client_makes_room_for_another() -> None:
    """The one that sent no line for longest, drip as it may; it is answered, and learns where to resume."""

    async def run() -> bytes:
        clients, batches, running = [], [], []
        drips, over = asyncio.Event(), asyncio.Event()

        async def receive(first: list[bytes]) -> bytes | None:
            if first:
                return first.pop()
            await drips.wait()
            await asyncio.sleep(0.001)  # then one byte after another, which end no line
            return None if over.is_set() else b" "

        for _ in range(2):
            clients.append(Client([]))
            batches.append(batch())
            sending = partial(receive, [b"a\n"])
            running.append(asyncio.create_task(batches[-1].run(sending, clients[-1].send)))
            while not clients[-1].kept:
                await asyncio.sleep(0.001)
        drips.set()
        # Both wait for their clients, and have not waited long enough for a patient service.
        assert not find_place(batches, 2, idle_seconds=600.0)
        assert find_place(batches, 2, idle_seconds=1e-9)
        assert [one.holds_place for one in batches] == [False, True]
        over.set()
        assert await asyncio.gather(*running) == [True, True]
        return clients[0].answer

    lines, summary = parsed(asyncio.run(run()))
    assert [line["id"] for line in lines] == ["a"]
    assert summary["problem"]["type"] == "/problems/overloaded"
    assert (summary["complete"], summary["resume_offset"]) == (False, 1)


def test_a_batch_that_computes_keeps_its_place() -> None:
    """However long it takes."""

    class Slow(Echo):
        async def answer(self, chunk: Any, detail: str) -> Any:  # noqa: ANN401
            await asyncio.Event().wait()

    async def run() -> None:
        client, one = Client([b"a\n"]), batch(Slow(0))
        running = asyncio.create_task(one.run(client.receive, client.send))
        while not one.chunks_under_way:
            await asyncio.sleep(0)
        assert not find_place([one], 1, idle_seconds=1e-9)
        running.cancel()
        await asyncio.gather(running, return_exceptions=True)

    asyncio.run(run())


def test_a_batch_whose_answers_are_not_read_is_given_up_for_another() -> None:
    """A client that does not read cannot get a summary, and its answers must not be kept."""

    async def run() -> bool:
        client, one = Client([b"a\n"]), batch()

        async def send(_: bytes) -> None:
            await asyncio.Event().wait()

        running = asyncio.create_task(one.run(client.receive, send))
        while one.idle_seconds == 0.0 or not one.chunks_under_way:
            await asyncio.sleep(0.001)
        assert find_place([one], 1, idle_seconds=1e-9)
        return await running

    assert asyncio.run(run()) is False


# ---------------------------------------------------------------- processes


@pytest.mark.slow
def test_a_batch_outlives_its_processes() -> None:
    """All are killed as the first answers come; their chunks are computed once more, and nothing is missing."""
    lines = [VISIT if n % 32 == 0 else b"%d" % n for n in range(3 * LINES_IN_CHUNK)]
    killed: list[int | None] = []

    async def run() -> bytes:
        client = Client([b"\n".join(lines)])
        pool = Workers(1)

        async def send(content: bytes) -> None:
            if not client.kept:
                killed.extend(child.pid for child in multiprocessing.active_children())
                for process in killed:
                    os.kill(process or 0, signal.SIGKILL)
            await client.send(content)

        try:
            assert await batch(pool).run(client.receive, send)
        finally:
            pool.close()
        return client.answer

    found, summary = parsed(asyncio.run(run()))
    assert killed
    assert [row["line"] for row in found] == list(range(len(lines)))
    assert (summary["complete"], summary["assessments"]) == (True, lines.count(VISIT))
    expected = [json.loads(line) for line in answer_lines(lines)]
    assert found == expected


def test_lines_that_bring_two_processes_down_are_problems(monkeypatch: pytest.MonkeyPatch) -> None:
    """Only those of that chunk, each with its id; the batch continues."""

    class Falls(Executor):
        def submit(self, *_: Any, **__: Any) -> Any:  # noqa: ANN401
            raise BrokenExecutor

    made: list[int] = []

    def pool(processes: int, set_up: object) -> Executor:
        del set_up
        made.append(processes)
        return Falls()

    monkeypatch.setattr(workers, "_pool", pool)
    lines, summary = parsed(answer_to([b'{"id": "a"}\n\n[1\n'], Workers(2)))
    assert [(row["id"], row["line"]) for row in lines] == [("a", 0), (None, 2)]
    assert {row["problem"]["type"] for row in lines} == {"/problems/internal"}
    assert made == [2, 1]
    assert summary["problems"] == 2


def _stand_still() -> None:
    os.kill(os.getpid(), signal.SIGSTOP)


def test_a_process_that_hangs_does_not_delay_the_end() -> None:
    """It is ended, whatever it does."""

    async def run() -> None:
        pool = Workers(1, set_up=_stand_still)
        answering = asyncio.create_task(pool.answer(Chunk(0, [b"{}"]), "full"))
        await asyncio.sleep(0)
        answering.cancel()
        await asyncio.wait_for(asyncio.to_thread(pool.close), 60)

    asyncio.run(run())


def test_a_plain_service_starts_no_process() -> None:
    """The pool is started by the first chunk."""
    pool = Workers(2)
    assert multiprocessing.active_children() == []
    pool.close()


@pytest.fixture(autouse=True)
def _no_process_is_left() -> Iterator[None]:
    yield
    for child in multiprocessing.active_children():
        child.join(30)
    # If the pool's own thread learns of the end first, it records it a moment later.
    for _ in range(600):
        if not multiprocessing.active_children():
            break
        time.sleep(0.05)
    assert multiprocessing.active_children() == []


def test_places_are_shared_between_callers() -> None:
    """The latest batch of whoever has the most gives way, until nobody has more than one more than another."""

    @dataclass
    class Held:
        caller: str
        begun: float
        ending: bool = False
        holds_place: bool = True
        idle_seconds: float = 0.0

        def give_way(self) -> None:
            self.ending = True

    held = [Held("a", float(number)) for number in range(4)]
    batches = cast("list[stream.Batch]", held)
    assert not find_place(batches, 4, 5.0, "a")  # all are its own
    assert find_place(batches, 4, 5.0, "b")
    assert [one.ending for one in held] == [False, False, False, True]
    held.append(Held("b", 4.0))
    assert find_place(batches, 4, 5.0, "b")  # three and one: two and two then
    assert [one.ending for one in held] == [False, False, True, True, False]
    held.append(Held("b", 5.0))
    assert not find_place(batches, 4, 5.0, "b")
    assert not find_place(batches, 4, 5.0, "a")
    assert find_place(batches, 4, 5.0, "c")  # two, two and one
    held.append(Held("c", 6.0))


def test_a_batch_that_gives_way_says_where_to_resume() -> None:
    """It was busy, so nothing is lost: what it had sent is answered, then the summary."""

    async def run() -> bytes:
        client, one = Client([]), batch()
        first, over = [b"a\nb\n"], asyncio.Event()

        async def receive() -> bytes | None:
            if first:
                return first.pop()
            await over.wait()
            await asyncio.sleep(0.001)
            return None

        running = asyncio.create_task(one.run(receive, client.send))
        while not client.kept:
            await asyncio.sleep(0.001)
        one.give_way()
        over.set()
        assert await running
        return client.answer

    lines, summary = parsed(asyncio.run(run()))
    assert [line["id"] for line in lines] == ["a", "b"]
    assert (summary["complete"], summary["resume_offset"]) == (False, 2)
    assert summary["problem"]["type"] == "/problems/overloaded"
    assert "Another caller" in summary["problem"]["detail"]
