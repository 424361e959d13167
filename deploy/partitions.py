"""One partition of a large data set, as a worker handles it: read in chunks, answered, written.

Only one chunk is in memory at any time, so a partition may have any size.  A partition is a range of
bytes of a plain NDJSON file (from line end to line end), a whole compressed file, or row groups of a
Parquet file.
"""

from __future__ import annotations

import codecs
import io
import json
import os
import re
import resource
import socket
import time
import uuid
from collections import Counter
from collections.abc import Iterator, Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from typing import IO, Any

import orjson
import pyarrow as pa
import pyarrow.fs
from pyarrow import parquet

from schemas.details import Detail
from service.batches.answers import answer_lines
from service.batches.lines import Line, Overlong

#: Endings of the names of line files, and their compression.
LINE_FILES = {
    f"{ending}{packing}": codec
    for ending in (".ndjson", ".jsonl")
    for packing, codec in (("", None), (".gz", "gzip"), (".zst", "zstd"))
}
PARQUET = ".parquet"
#: Forms of the output, and their compression.
FORMS = {"ndjson": None, "ndjson.gz": "gzip", "ndjson.zst": "zstd", "parquet": None}

#: A longer line is refused unread.  A visit takes two thousand bytes.
LONGEST_LINE = 1 << 20
#: A chunk of unusually long lines is handed over at this size, before it has all its lines.
CHUNK_BYTES = 8 << 20
#: Answers are collected up to this size before a row group is written.
ROW_GROUP_BYTES = 16 << 20

COLUMNS = ("id", "kind", "body")
ANSWER_SCHEMA = pa.schema(
    [
        ("id", pa.string()),
        ("line", pa.int64()),
        ("kind", pa.string()),
        ("answer", pa.string()),
    ]
)

# A quotation mark inside a JSON string is escaped, so these bytes are a key wherever they occur.  This takes
# a fiftieth of the time of parsing the answer.
_KIND = re.compile(
    rb'"(assessment|grades|comparison|verdicts|diagnosis|diagnosis_grades|trend|trend_grades|check|problem)":\{'
)
_ID = re.compile(rb'\{"id":("(?:[^"\\]|\\.)*"|[^",{\[]+),')
_GRADES = ("conforming", "nonconforming", "inconclusive", "not_assessed")
_KINDS = {
    "assessment": "visits",
    "grades": "visits",
    "comparison": "comparisons",
    "verdicts": "comparisons",
    "diagnosis": "diagnoses",
    "diagnosis_grades": "diagnoses",
    "trend": "trends",
    "trend_grades": "trends",
    "check": "checks",
}


@dataclass(frozen=True, slots=True)
class Partition:
    """A piece of a file: bytes (row groups of a Parquet file) from ``start`` up to ``stop``.

    ``stop`` is None for a compressed file, which can only be read from start to end.
    """

    number: int
    path: str
    start: int
    stop: int | None
    input_bytes: int


@dataclass(frozen=True, slots=True)
class Job:
    """What all partitions have in common."""

    source: pa.fs.FileSystem
    target: pa.fs.FileSystem
    folder: str
    form: str
    detail: Detail
    rows: int

    def answers_path(self, partition: Partition) -> str:
        """Where the answers go; in the order of these names, the answers are in the input's order."""
        return f"{self.folder}/part-{partition.number:06d}.{self.form}"

    def tally_path(self, partition: Partition) -> str:
        """Where the count of a partition goes; it is written last and shows that the answers are complete."""
        return f"{self.folder}/_tallies/part-{partition.number:06d}.json"


def ending_of(path: str) -> str:
    """Which of the known endings a file's name has; empty if none."""
    return next((end for end in (*LINE_FILES, PARQUET) if path.endswith(end)), "")


def answer_partition(partition: Partition, job: Job) -> dict[str, Any]:
    """Answer every line of a partition, and write the answers and their count.

    Returns
    -------
    dict
        The count: lines, visits, comparisons, diagnoses, trends, checks, problems, findings by grade, bytes,
        elapsed seconds and processor seconds, and the process with its largest memory.

    Raises
    ------
    OSError
        If input or output cannot be reached; then nothing is left under the final name.
    """
    began, worked = time.perf_counter(), time.process_time()
    tally: Counter[str] = Counter(lines=0, visits=0, comparisons=0, diagnoses=0, trends=0, checks=0, problems=0)
    findings: Counter[str] = Counter(dict.fromkeys(_GRADES, 0))
    final = job.answers_path(partition)
    temporary = _temporary(final)
    try:
        with ExitStack() as open_files:
            write = _writer(temporary, job, open_files)
            for lines in _chunks(_lines(partition, job), job.rows):
                answers = answer_lines(lines, detail=job.detail, first=tally["lines"])
                for answer in answers:
                    kind = _kind(answer)
                    tally[_KINDS.get(kind, "problems")] += 1
                    if kind in _KINDS:
                        for grade in _GRADES:
                            findings[grade] += answer.count(b'"grade":"%s"' % grade.encode())
                write(answers, tally["lines"])
                tally["lines"] += len(lines)
        job.target.move(temporary, final)
    except BaseException:
        if job.target.get_file_info(temporary).type != pa.fs.FileType.NotFound:
            job.target.delete_file(temporary)
        raise
    counted = {
        "partition": partition.number,
        "input": partition.path,
        "start": partition.start,
        "stop": partition.stop,
        **tally,
        "findings": dict(findings),
        "input_bytes": partition.input_bytes,
        "output_bytes": job.target.get_file_info(final).size,
        "seconds": time.perf_counter() - began,
        "processor_seconds": time.process_time() - worked,
        "worker": f"{socket.gethostname()}:{os.getpid()}",
        "largest_memory_bytes": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024,
    }
    write_whole(job.target, job.tally_path(partition), orjson.dumps(counted))
    return counted


def write_whole(target: pa.fs.FileSystem, path: str, content: bytes) -> None:
    """Write a file under another name and rename it, so that nobody ever sees half a file."""
    temporary = _temporary(path)
    with target.open_output_stream(temporary, compression=None) as file:
        file.write(content)
    target.move(temporary, path)


def _temporary(path: str) -> str:
    folder, _, name = path.rpartition("/")
    return f"{folder}/.{name}.{uuid.uuid4().hex}.part"


# --- reading ----------------------------------------------------------------------------------


def _lines(partition: Partition, job: Job) -> Iterator[Line]:
    """The lines of a partition without their ends; blank lines are empty."""
    if partition.path.endswith(PARQUET):
        return _rows(partition, job)
    return _text_lines(partition, job)


def _text_lines(partition: Partition, job: Job) -> Iterator[Line]:
    if partition.stop is None:
        codec = LINE_FILES[ending_of(partition.path)]
        raw = job.source.open_input_stream(partition.path, compression=codec)
    else:
        raw = job.source.open_input_file(partition.path)
    with io.BufferedReader(raw, LONGEST_LINE) as file:
        position = partition.start
        if position:
            # The line at the start belongs to the piece before, unless it begins here.
            file.seek(position - 1)
            position += _read_line(file)[1] - 1
        while partition.stop is None or position < partition.stop:
            line, length = _read_line(file)
            if length == 0:
                return
            if position == 0 and isinstance(line, bytes):
                line = line.removeprefix(codecs.BOM_UTF8).strip()
            position += length
            yield line


def _read_line(file: IO[bytes]) -> tuple[Line, int]:
    """A line without its end (empty if blank), and its length in bytes with the end."""
    line = file.readline(LONGEST_LINE + 1)
    length = len(line)
    if length <= LONGEST_LINE or line.endswith(b"\n"):
        return line.strip(), length
    while not line.endswith(b"\n"):
        line = file.readline(LONGEST_LINE)
        if not line:
            break
        length += len(line)
    return Overlong(LONGEST_LINE), length


def _rows(partition: Partition, job: Job) -> Iterator[Line]:
    assert partition.stop is not None
    # Column chunks are read piece by piece, because a row group may be larger than the memory.
    with parquet.ParquetFile(
        job.source.open_input_file(partition.path), buffer_size=LONGEST_LINE, pre_buffer=False
    ) as file:
        for batch in file.iter_batches(
            batch_size=job.rows,
            row_groups=range(partition.start, partition.stop),
            columns=list(COLUMNS),
            use_threads=False,
        ):
            for row in batch.to_pylist():
                line = _line_of_row(row)
                yield line if len(line) <= LONGEST_LINE else Overlong(LONGEST_LINE)


def _line_of_row(row: dict[str, Any]) -> bytes:
    body = (row["body"] or "null").encode()
    try:
        orjson.loads(body)
    except orjson.JSONDecodeError:
        # Handed over alone, it is refused for its own fault.  Within a line it might close the line's
        # object and add a key.
        return body
    return b'{"id":%s,%s:%s}' % (orjson.dumps(row["id"]), orjson.dumps(row["kind"]), body)


def _chunks(lines: Iterator[Line], rows: int) -> Iterator[list[Line]]:
    chunk: list[Line] = []
    size = 0
    for line in lines:
        chunk.append(line)
        size += len(line) if isinstance(line, bytes) else 0
        if len(chunk) == rows or size >= CHUNK_BYTES:
            yield chunk
            chunk, size = [], 0
    if chunk:
        yield chunk


# --- answering --------------------------------------------------------------------------------


def _kind(answer: bytes) -> str:
    found = _KIND.search(answer)
    return found[1].decode() if found else "problem"


# --- writing ----------------------------------------------------------------------------------


def _writer(path: str, job: Job, open_files: ExitStack) -> Any:  # noqa: ANN401
    """A function that writes answers, given the number of the first; closing finishes the file."""
    file = open_files.enter_context(job.target.open_output_stream(path, compression=FORMS[job.form]))
    if job.form != "parquet":
        return lambda answers, _: file.write(b"".join(answer + b"\n" for answer in answers))
    table = _Table(file)
    open_files.callback(table.close)
    return table.write


class _Table:
    """Answers as a Parquet file, in row groups of a size that suits readers."""

    def __init__(self, file: pa.NativeFile) -> None:
        self._writer = parquet.ParquetWriter(file, ANSWER_SCHEMA, compression="zstd")
        self._rows: list[dict[str, Any]] = []
        self._size = 0

    def write(self, answers: Sequence[bytes], first: int) -> None:
        for number, answer in enumerate(answers):
            self._rows.append(
                {
                    "id": _id(answer),
                    "line": first + number,
                    "kind": _kind(answer),
                    "answer": answer.decode(),
                }
            )
            self._size += len(answer)
        if self._size >= ROW_GROUP_BYTES:
            self._flush()

    def close(self) -> None:
        self._flush()
        self._writer.close()

    def _flush(self) -> None:
        if self._rows:
            self._writer.write_batch(pa.RecordBatch.from_pylist(self._rows, ANSWER_SCHEMA))
            self._rows, self._size = [], 0


def _id(answer: bytes) -> str | None:
    """The caller's id as text, a number as it is written; None if there is none."""
    found = _ID.match(answer)
    if found is None:
        return None
    value = json.loads(found[1])
    return value if value is None or isinstance(value, str) else found[1].decode()
