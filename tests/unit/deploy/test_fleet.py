"""The batch job: two real worker processes, and the pieces that one alone can show."""

from __future__ import annotations

import gzip
import json
import os
from collections import Counter
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import orjson
import psutil
import pyarrow as pa
import pyarrow.parquet
import pytest

from deploy import fleet, partitions
from deploy.partitions import Job, Partition
from schemas.assessments import AssessmentRequest
from schemas.comparisons import ComparisonRequest
from schemas.examples import comparison_examples, examples
from service.assess.grades import grades_of
from service.assess.pipeline import assess
from service.batches.answers import answer_lines
from service.batches.lines import Line, Overlong
from service.compare.comparison import compare
from service.compare.verdicts import verdicts_of

pytestmark = pytest.mark.xdist_group("fleet")

LOCAL = pa.fs.LocalFileSystem()
BODIES = list(examples().values())
COMPARED = comparison_examples()["coil_cleaned"]


def visit_line(number: int) -> bytes:
    return orjson.dumps({"id": f"visit {number}", "assessment": BODIES[number % len(BODIES)]})


def impossible() -> dict[str, Any]:
    """A visit with a pressure under vacuum."""
    body = json.loads(json.dumps(BODIES[0]))
    body["run"]["readings"]["suction_pressure"] = -500
    return dict(body)


def mixed() -> list[bytes]:
    """Visits, a comparison with a number for its id, and lines that no answer can be given to."""
    lines = [visit_line(number) for number in range(14)]
    lines[3:3] = [b"{not JSON", orjson.dumps({"id": 7, "comparison": COMPARED})]
    lines[9:9] = [orjson.dumps({"id": "impossible", "assessment": impossible()})]
    lines[12:12] = [orjson.dumps({"id": "empty", "assessment": {}})]
    return lines


def expected(line: bytes, detail: str) -> dict[str, Any]:
    """The answer to a line that has one, worked out by itself."""
    given = json.loads(line)
    if "comparison" in given:
        compared = compare(ComparisonRequest.model_validate(given["comparison"]))
        if detail == "grades":
            return {"verdicts": json.loads(orjson.dumps(verdicts_of(compared)))}
        return {"comparison": json.loads(orjson.dumps(compared))}
    answer = assess(AssessmentRequest.model_validate(given["assessment"]))
    if detail == "grades":
        return {"grades": json.loads(orjson.dumps(grades_of(answer)))}
    return {"assessment": json.loads(orjson.dumps(answer))}


def answers_of(folder: Path) -> list[list[dict[str, Any]]]:
    """The answers of each partition, in the order of their names."""
    found: list[list[dict[str, Any]]] = []
    for path in sorted(folder.glob("part-*")):
        if path.suffix == ".parquet":
            rows = pa.parquet.read_table(path).to_pylist()
            found.append([json.loads(row["answer"]) for row in rows])
        else:
            with pa.input_stream(path, compression="detect") as file:
                found.append([json.loads(line) for line in file.read().splitlines()])
    return found


def check_answers(lines: Sequence[bytes], found: list[list[dict[str, Any]]], detail: str) -> None:
    """Each line has its answer, in order, numbered within its partition; bad ones have a problem."""
    for part in found:
        assert [answer["line"] for answer in part if "line" in answer] == [
            number for number, answer in enumerate(part) if "line" in answer
        ]
    flat = [answer for part in found for answer in part]
    assert len(flat) == len(lines)
    for line, answer in zip(lines, flat, strict=True):
        if b"not JSON" in line or json.loads(line)["id"] in ("impossible", "empty"):
            assert answer["problem"]["detail"]
            continue
        assert answer["id"] == json.loads(line)["id"]
        assert {k: v for k, v in answer.items() if k not in ("id", "line")} == expected(line, detail)


@pytest.fixture(scope="module")
def scheduler() -> Iterator[str]:
    """Two worker processes of one thread each, on loopback alone, gone afterwards."""
    with fleet.local_cluster(2) as cluster:
        processes = [nanny.pid for nanny in cluster.workers.values()]
        for process in (os.getpid(), *processes):
            heard = [row for row in psutil.Process(process).net_connections() if row.status == "LISTEN"]
            assert heard
            assert {row.laddr.ip for row in heard} == {"127.0.0.1"}
        yield str(cluster.scheduler_address)
    assert len(set(processes)) == 2
    for process in processes:
        with pytest.raises(ProcessLookupError):
            os.kill(process, 0)


def run(capsys: pytest.CaptureFixture[str], *arguments: object) -> tuple[int, dict[str, Any], str]:
    """The command's exit status, its summary, and what else it printed."""
    code = fleet.main([str(argument) for argument in arguments])
    out, err = capsys.readouterr()
    return code, json.loads(out) if out else {}, err


def test_two_processes_answer_each_line_in_its_order(
    scheduler: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """NDJSON by byte ranges; then one partition lost, and resumed."""
    lines = mixed()
    given, out = tmp_path / "visits.ndjson", tmp_path / "out"
    given.write_bytes(b"\n".join(lines) + b"\n")
    command = (given, out, "--scheduler", scheduler, "--partition-bytes", "4000", "--rows", "2")
    code, summary, _ = run(capsys, *command)
    assert code == 0
    found = answers_of(out)
    check_answers(lines, found, "full")

    # What the summary says is what the answers hold.
    flat = [answer for part in found for answer in part]
    assert summary["partitions"] == len(found) == -(-given.stat().st_size // 4000)
    assert (summary["lines"], summary["visits"], summary["comparisons"], summary["problems"]) == (
        len(lines),
        14,
        1,
        3,
    )
    grades = Counter(
        finding["grade"]
        for answer in flat
        for assessment in (
            [answer["assessment"]]
            if "assessment" in answer
            else answer["comparison"]["assessments"].values()
            if "comparison" in answer
            else []
        )
        for finding in assessment["findings"]
    )
    assert {grade: count for grade, count in summary["findings"].items() if count} == grades
    assert json.loads((out / "_summary.json").read_text()) == summary
    assert summary["input_bytes"] == given.stat().st_size
    assert summary["output_bytes"] == sum(path.stat().st_size for path in out.glob("part-*"))

    # Both workers took part, neither of them this process.
    workers = summary["workers"]
    assert len(workers) == 2
    assert all(row["partitions"] and row["lines"] for row in workers.values())
    assert str(os.getpid()) not in {name.rpartition(":")[2] for name in workers}

    # A second start is refused; complete partitions are kept, the others are answered.
    code, _, said = run(capsys, *command)
    assert code == 2
    assert "--resume" in said
    whole = {path.name: path.read_bytes() for path in out.glob("part-*")}
    (out / "part-000001.ndjson.zst").unlink()
    (out / "_tallies" / "part-000001.json").unlink()
    (out / ".part-000001.ndjson.zst.dead.part").write_bytes(b"half of it")
    kept = {path.name: path.stat().st_mtime_ns for path in out.glob("part-*")}
    code, again, _ = run(capsys, *command, "--resume")
    assert code == 0
    assert (again["partitions_kept"], again["partitions_answered"]) == (len(found) - 1, 1)
    assert {path.name: path.read_bytes() for path in out.glob("part-*")} == whole
    assert {name: (out / name).stat().st_mtime_ns for name in kept} == kept
    assert not list(out.glob(".*"))
    for name in ("lines", "visits", "problems", "findings", "output_bytes"):
        assert again[name] == summary[name]

    # Another job must not continue it.
    code, _, said = run(capsys, *command, "--resume", "--detail", "grades")
    assert code == 2
    assert "other options" in said


def test_parquet_in_and_out(scheduler: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Row groups are partitions; ids and kinds are columns; grades alone."""
    lines = [line for line in mixed() if b"not JSON" not in line]
    rows: list[dict[str, Any]] = []
    for line in lines:
        given = json.loads(line)
        kind = "comparison" if "comparison" in given else "assessment"
        rows.append({"id": str(given["id"]), "kind": kind, "body": json.dumps(given[kind])})
    folder, out = tmp_path / "visits", tmp_path / "out"
    folder.mkdir()
    table = pa.Table.from_pylist(rows)
    pa.parquet.write_table(table.slice(0, 10), folder / "a.parquet", row_group_size=4)
    pa.parquet.write_table(table.slice(10), folder / "b.parquet", row_group_size=100)
    code, summary, _ = run(
        capsys,
        folder,
        out,
        "--scheduler",
        scheduler,
        "--detail",
        "grades",
        "--partition-bytes",
        "1",
    )
    assert code == 0
    assert summary["partitions"] == 4  # row groups of 4, 4 and 2 rows, and one of the second file
    texts = [orjson.dumps({"id": row["id"], row["kind"]: json.loads(row["body"])}) for row in rows]
    check_answers(texts, answers_of(out), "grades")
    columns = pa.concat_tables([pa.parquet.read_table(p) for p in sorted(out.glob("part-*"))])
    assert columns.column_names == ["id", "line", "kind", "answer"]
    good = [row for row in columns.to_pylist() if row["kind"] != "problem"]
    assert [row["id"] for row in good] == [row["id"] for row in rows if row["id"] not in ("impossible", "empty")]
    assert Counter(row["kind"] for row in good) == {"grades": 14, "verdicts": 1}
    assert (summary["visits"], summary["comparisons"]) == (14, 1)


def test_a_partition_that_fails_is_named_and_the_rest_answered(
    scheduler: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A damaged file costs its own partition; the code says that something is lacking."""
    whole = gzip.compress(b"\n".join(visit_line(number) for number in range(2)))
    (tmp_path / "in").mkdir()
    (tmp_path / "in" / "a.ndjson.gz").write_bytes(whole[:-400])
    (tmp_path / "in" / "b.ndjson.gz").write_bytes(whole)
    out = tmp_path / "out"
    code, summary, said = run(capsys, tmp_path / "in", out, "--scheduler", scheduler)
    assert code == 1
    assert [row["partition"] for row in summary["partitions_failed"]] == [0]
    assert "a.ndjson.gz" in said
    assert (summary["lines"], summary["partitions_answered"]) == (2, 1)
    assert [path.name for path in sorted(out.iterdir())] == [
        "_plan.json",
        "_summary.json",
        "_tallies",
        "part-000001.ndjson.zst",
    ]


# --- pieces, in this process --------------------------------------------------------------------


def lines_of(partition: Partition) -> list[Line]:
    job = Job(LOCAL, LOCAL, "/nowhere", "ndjson", "grades", 4)
    return list(partitions._lines(partition, job))


@pytest.mark.parametrize("size", [1, 2, 3, 5, 7, 64])
@pytest.mark.parametrize("text", [b"a\nbb\r\n\nccc\nd\n", b"a\nbb\n\nccc\nd", b"\n\n", b"one line"])
def test_ranges_of_bytes_hold_every_line_once(tmp_path: Path, size: int, text: bytes) -> None:
    """Wherever the cuts fall."""
    path = tmp_path / "x.ndjson"
    path.write_bytes(text)
    planned = fleet.planned(LOCAL, fleet.listed(LOCAL, str(path)), size)
    found = [line for partition in planned for line in lines_of(partition)]
    assert found == [line.rstrip(b"\r") for line in text.removesuffix(b"\n").split(b"\n")]
    assert [partition.number for partition in planned] == list(range(-(-len(text) // size)))


def test_a_byte_order_mark_at_the_start_of_a_file_is_passed_over(tmp_path: Path) -> None:
    """Plain in pieces, or packed."""
    text = b"\xef\xbb\xbfa\nbb\n"
    (tmp_path / "x.ndjson").write_bytes(text)
    (tmp_path / "x.ndjson.gz").write_bytes(gzip.compress(text))
    for name, size in (("x.ndjson", 4), ("x.ndjson.gz", 1)):
        planned = fleet.planned(LOCAL, fleet.listed(LOCAL, str(tmp_path / name)), size)
        assert [line for partition in planned for line in lines_of(partition)] == [b"a", b"bb"]


@pytest.mark.parametrize(("ending", "codec"), [(".gz", "gzip"), (".zst", "zstd")])
def test_packed_files_may_have_been_joined(tmp_path: Path, ending: str, codec: str) -> None:
    """A file of several members or frames is read to its end."""
    path = tmp_path / f"x.ndjson{ending}"
    packed = pa.Codec(codec)
    path.write_bytes(b"".join(bytes(packed.compress(part)) for part in (b"a\nb", b"b\nc\n")))
    (partition,) = fleet.planned(LOCAL, fleet.listed(LOCAL, str(path)), 1)
    assert lines_of(partition) == [b"a", b"bb", b"c"]


def test_a_line_of_any_length_is_refused_unread(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """And the lines about it are answered; a cut inside it loses nothing."""
    monkeypatch.setattr(partitions, "LONGEST_LINE", 4096)
    path, out = tmp_path / "x.ndjson", tmp_path / "out"
    (out / "_tallies").mkdir(parents=True)
    path.write_bytes(visit_line(0) + b"\n" + b'"' + 50_000 * b"x" + b'"\n' + visit_line(1))
    for size in (3000, 1 << 20):
        planned = fleet.planned(LOCAL, fleet.listed(LOCAL, str(path)), size)
        found = [line for partition in planned for line in lines_of(partition)]
        assert found == [visit_line(0), Overlong(4096), visit_line(1)]
    tally = partitions.answer_partition(planned[0], Job(LOCAL, LOCAL, str(out), "ndjson", "grades", 8))
    assert (tally["lines"], tally["visits"], tally["problems"]) == (3, 2, 1)
    answers = [json.loads(line) for line in (out / "part-000000.ndjson").read_bytes().splitlines()]
    assert answers[1]["line"] == 1
    assert answers[1]["problem"]["status"] == 413


def test_a_row_cannot_add_keys_to_its_line() -> None:
    """A body that is not one JSON value is handed over alone, and refused for its own fault."""
    line = partitions._line_of_row
    assert line({"id": 'a"b', "kind": "assessment", "body": "{}"}) == b'{"id":"a\\"b","assessment":{}}'
    for body in ('{},"comparison":{}', "{}}", "{", ""):
        found = line({"id": "x", "kind": "assessment", "body": body})
        assert b"comparison" not in found or found == body.encode()
        (answer,) = answer_lines([found], detail="grades")
        assert b'"problem":' in answer


@pytest.mark.parametrize(
    ("files", "place", "said"),
    [
        ({}, "in", "no such file"),
        ({"in/a.csv": b""}, "in", "cannot be read in this form"),
        ({"in/a.ndjson": b"", "in/b.parquet": b""}, "in", "holds both NDJSON and Parquet"),
        ({"in/a.ndjson": b"x", "out/b": b""}, "in/*.ndjson", "not empty"),
        ({"in/_a.ndjson": b"x"}, "in", "no such file"),
        ({"in/deep/a.ndjson": b"x"}, "in/*.ndjson", "no such file"),
    ],
)
def test_what_cannot_be_done_is_refused_with_a_way_out(
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    files: dict[str, bytes],
    place: str,
    said: str,
) -> None:
    """Before any worker is asked."""
    for name, content in files.items():
        path = tmp_path / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)
    code, _, message = run(capsys, tmp_path / place, tmp_path / "out", "--scheduler", "tcp://none:1")
    assert code == 2
    assert said in message


@pytest.mark.parametrize(
    ("columns", "said"),
    [
        ({"id": ["a"], "kind": ["assessment"]}, "lacks the column body"),
        ({"id": ["a"], "kind": ["assessment"], "body": [{"units": "metric"}]}, "as JSON text"),
    ],
)
def test_a_table_of_another_shape_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], columns: dict[str, list[Any]], said: str
) -> None:
    """With what is lacking."""
    pa.parquet.write_table(pa.table(columns), tmp_path / "a.parquet")
    code, _, message = run(capsys, tmp_path / "a.parquet", tmp_path / "out")
    assert code == 2
    assert said in message


def test_ids_come_back_as_text() -> None:
    """Text as it was, a number as it was written, nothing where there was none."""
    for given, found in (('"a\\"b"', 'a"b'), ("12", "12"), ("null", None), ('"é"', "é")):
        assert partitions._id(f'{{"id":{given},"line":0,"grades":{{}}}}'.encode()) == found
    assert partitions._id(b'{"problem":{}}') is None
