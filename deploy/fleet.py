"""Answer a data set of any size on many cores: a batch job for Dask.

    python -m deploy.fleet INPUT OUTPUT [--scheduler ADDRESS | --workers N] [--detail full|grades]

INPUT is a file, a folder or a glob: NDJSON (.ndjson or .jsonl, plain or with .gz or .zst; lines as
for ``POST /v1/batches``) or Parquet with the columns ``id``, ``kind`` (``assessment`` or
``comparison``) and ``body`` (the JSON text of the request).  OUTPUT is a folder; the job writes one
file for each partition there, and ``_summary.json``.  Both are paths, or URLs of an object store
(``s3://...``) that every worker can reach.
"""

from __future__ import annotations

import argparse
import json
import os
import sys
import time
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import ExitStack
from dataclasses import asdict
from pathlib import Path, PurePosixPath
from typing import Any

import orjson
import pyarrow as pa
import pyarrow.fs
from distributed import Client, LocalCluster, Worker, as_completed
from distributed.diagnostics.plugin import WorkerPlugin
from pyarrow import parquet

from deploy.partitions import (
    COLUMNS,
    FORMS,
    LINE_FILES,
    PARQUET,
    Job,
    Partition,
    answer_partition,
    ending_of,
    write_whole,
)
from service.batches.warm_up import warm_up

#: How often a partition is tried again, on any worker, before the job continues without it.
RETRIES = 2


class FleetError(Exception):
    """The job cannot be done as requested; the text says what to do."""


class WarmUp(WorkerPlugin):
    """Loads the tables once in each worker, including those that join later."""

    name = "warm-up"

    def setup(self, worker: Worker) -> None:
        """Called by the worker as it starts."""
        warm_up()


# --- planning ---------------------------------------------------------------------------------


def located(place: str) -> tuple[pa.fs.FileSystem, str]:
    """The file system of a path or a URL, and the path in it."""
    if "://" not in place:
        return pa.fs.LocalFileSystem(), Path(place).absolute().as_posix()
    try:
        found: tuple[pa.fs.FileSystem, str] = pa.fs.FileSystem.from_uri(place)
    except pa.ArrowInvalid as error:
        raise FleetError(f"{place}: {error}. Give a path or a URL such as s3://...") from error
    return found


def listed(source: pa.fs.FileSystem, place: str) -> list[pa.fs.FileInfo]:
    """The input's files, sorted by path.

    Raises
    ------
    FleetError
        If there is no file, or one has a form that cannot be read.  Only names that begin with a dot or an
        underscore are skipped silently, as is usual for data sets.
    """
    steps = place.split("/")
    fixed = next((n for n, step in enumerate(steps) if any(c in step for c in "*?[")), len(steps))
    info = source.get_file_info("/".join(steps[:fixed]) or "/")
    if info.type == pa.fs.FileType.Directory:
        found = source.get_file_info(pa.fs.FileSelector(info.path, recursive=True))
        files = [
            file
            for file in found
            if file.type == pa.fs.FileType.File
            and (fixed == len(steps) or PurePosixPath("/", file.path).match(str(PurePosixPath("/", place))))
            and not any(step.startswith((".", "_")) for step in file.path[len(info.path) :].split("/"))
        ]
    else:
        files = [info] if info.type == pa.fs.FileType.File and fixed == len(steps) else []
    if not files:
        raise FleetError(f"{place}: no such file. Give a file, a folder or a glob.")
    for file in files:
        if not ending_of(file.path):
            raise FleetError(
                f"{file.path}: cannot be read in this form. Files may end with "
                f"{', '.join((*LINE_FILES, PARQUET))}; exclude others with a glob."
            )
    if len({file.path.endswith(PARQUET) for file in files}) > 1:
        raise FleetError(f"{place}: holds both NDJSON and Parquet. Select one of them with a glob.")
    return sorted(files, key=lambda file: file.path)


def planned(source: pa.fs.FileSystem, files: Sequence[pa.fs.FileInfo], partition_bytes: int) -> list[Partition]:
    """The partitions of all files, in order."""
    pieces = ((file.path, *piece) for file in files for piece in _pieces(source, file, partition_bytes))
    return [Partition(number, *piece) for number, piece in enumerate(pieces)]


def _pieces(source: pa.fs.FileSystem, file: pa.fs.FileInfo, size: int) -> Iterator[tuple[int, int | None, int]]:
    """First, one past the last, and bytes of each piece of a file."""
    ending = ending_of(file.path)
    if ending == PARQUET:
        yield from _row_groups(source, file.path, size)
    elif LINE_FILES[ending] is not None:
        yield 0, None, file.size
    else:
        for start in range(0, file.size, size):
            stop = min(start + size, file.size)
            yield start, stop, stop - start


def _row_groups(source: pa.fs.FileSystem, path: str, size: int) -> Iterator[tuple[int, int | None, int]]:
    with parquet.ParquetFile(source.open_input_file(path)) as file:
        missing = [name for name in COLUMNS if name not in file.schema_arrow.names]
        if missing:
            raise FleetError(
                f"{path}: lacks the column{'s' * (len(missing) > 1)} {', '.join(missing)}. It needs "
                "id, kind (assessment or comparison) and body (JSON text)."
            )
        body = file.schema_arrow.field("body").type
        if not (pa.types.is_string(body) or pa.types.is_large_string(body)):
            raise FleetError(f"{path}: the column body has type {body}. Give the request as JSON text.")
        first, held = 0, 0
        for group in range(file.num_row_groups):
            held += file.metadata.row_group(group).total_byte_size
            if held >= size or group + 1 == file.num_row_groups:
                yield first, group + 1, held
                first, held = group + 1, 0


# --- running ----------------------------------------------------------------------------------


def prepare(job: Job, plan: Mapping[str, Any], resume: bool) -> None:
    """Make the output folder, or check that it belongs to this job.

    Raises
    ------
    FleetError
        If it holds something else.
    """
    path = f"{job.folder}/_plan.json"
    text = orjson.dumps(plan, option=orjson.OPT_INDENT_2)
    kept = job.target.get_file_info(path)
    if kept.type == pa.fs.FileType.File:
        if not resume:
            raise FleetError(
                f"{job.folder}: holds an earlier run. Add --resume to continue it, or name another folder."
            )
        with job.target.open_input_stream(path, compression=None) as file:
            if file.read() != text:
                raise FleetError(
                    f"{job.folder}: holds a run with another input or other options, which cannot be continued. "
                    "Give the same input and options, or name another folder."
                )
        return
    held = pa.fs.FileSelector(job.folder, allow_not_found=True)
    if job.target.get_file_info(held):
        raise FleetError(f"{job.folder}: is not empty. Name a new or empty folder.")
    job.target.create_dir(f"{job.folder}/_tallies", recursive=True)
    write_whole(job.target, path, text)


def kept_tallies(job: Job, partitions: Sequence[Partition]) -> dict[int, dict[str, Any]]:
    """The counts of the complete partitions, by number."""
    selector = pa.fs.FileSelector(f"{job.folder}/_tallies", allow_not_found=True)
    kept = {info.base_name for info in job.target.get_file_info(selector)}
    found = {}
    for partition in partitions:
        path = job.tally_path(partition)
        if path.rpartition("/")[2] in kept:
            with job.target.open_input_stream(path, compression=None) as file:
                found[partition.number] = json.loads(file.read())
    return found


def run(client: Client, job: Job, partitions: Sequence[Partition], *, resumed: bool = False) -> dict[str, Any]:
    """Answer all partitions that are not complete, and write the summary.

    Parameters
    ----------
    client : distributed.Client
        Connected to the scheduler.
    job : Job
    partitions : sequence of Partition
    resumed : bool
        Whether complete partitions are kept as they are.

    Returns
    -------
    dict
        The summary.
    """
    client.register_plugin(WarmUp())
    tallies = kept_tallies(job, partitions) if resumed else {}
    before = len(tallies)
    to_do = [partition for partition in partitions if partition.number not in tallies]
    failed: dict[int, str] = {}
    began = time.perf_counter()
    futures = {
        client.submit(answer_partition, partition, job, retries=RETRIES, pure=False): partition for partition in to_do
    }
    waiting = as_completed(futures)
    for future in waiting:
        partition = futures.pop(future)
        if future.status == "finished":
            tallies[partition.number] = future.result()
        else:
            failed[partition.number] = repr(future.exception())
            _say(f"partition {partition.number} ({partition.path}) failed: {failed[partition.number]}")
    seconds = time.perf_counter() - began
    _sweep(job)
    made = [tallies[partition.number] for partition in to_do if partition.number in tallies]
    summary = {
        **_totals(tallies.values()),
        "partitions": len(partitions),
        "partitions_answered": len(made),
        "partitions_kept": before,
        "partitions_failed": [{"partition": number, "error": error} for number, error in sorted(failed.items())],
        "seconds": seconds,
        "visits_per_second": sum(tally["visits"] for tally in made) / seconds,
        "lines_per_second": sum(tally["lines"] for tally in made) / seconds,
        "workers": _by_worker(made),
    }
    write_whole(
        job.target,
        f"{job.folder}/_summary.json",
        orjson.dumps(summary, option=orjson.OPT_INDENT_2),
    )
    return summary


def _sweep(job: Job) -> None:
    """Remove files that killed workers left half written."""
    for info in job.target.get_file_info(pa.fs.FileSelector(job.folder)):
        if info.base_name.startswith(".part-") and info.base_name.endswith(".part"):
            job.target.delete_file(info.path)


def _totals(tallies: Iterable[Mapping[str, Any]]) -> dict[str, Any]:
    counts = (
        "lines",
        "visits",
        "comparisons",
        "diagnoses",
        "trends",
        "checks",
        "problems",
        "input_bytes",
        "output_bytes",
    )
    total: Counter[str] = Counter(dict.fromkeys(counts, 0))
    findings: Counter[str] = Counter()
    worker_seconds = processor_seconds = 0.0
    for tally in tallies:
        total.update({name: tally[name] for name in counts})
        findings.update(tally["findings"])
        worker_seconds += tally["seconds"]
        processor_seconds += tally["processor_seconds"]
    return {
        **total,
        "findings": dict(findings),
        "worker_seconds": worker_seconds,
        "processor_seconds": processor_seconds,
    }


def _by_worker(tallies: Sequence[Mapping[str, Any]]) -> dict[str, Any]:
    workers: dict[str, dict[str, Any]] = {}
    for tally in tallies:
        row = workers.setdefault(
            tally["worker"],
            {"partitions": 0, "lines": 0, "seconds": 0.0, "largest_memory_bytes": 0},
        )
        row["partitions"] += 1
        row["lines"] += tally["lines"]
        row["seconds"] += tally["seconds"]
        row["largest_memory_bytes"] = max(row["largest_memory_bytes"], tally["largest_memory_bytes"])
    return workers


# --- the command ------------------------------------------------------------------------------


def _say(text: str) -> None:
    sys.stderr.write(text + "\n")
    sys.stderr.flush()


def _positive(text: str) -> int:
    value = int(text)
    if value < 1:
        raise ValueError
    return value


def _arguments(given: Sequence[str] | None) -> argparse.Namespace:
    parser = argparse.ArgumentParser(
        prog="python -m deploy.fleet",
        description=__doc__,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("input", help="file, folder or glob; path or URL")
    parser.add_argument("output", help="folder; path or URL")
    where = parser.add_mutually_exclusive_group()
    where.add_argument("--scheduler", metavar="ADDRESS", help="such as tcp://scheduler:8786")
    where.add_argument(
        "--workers",
        type=_positive,
        metavar="N",
        default=os.cpu_count() or 1,
        help="processes on this machine (one for each CPU)",
    )
    parser.add_argument("--detail", choices=("full", "grades"), default="full")
    parser.add_argument("--rows", type=_positive, metavar="N", default=256, help="lines computed together (256)")
    parser.add_argument(
        "--form",
        choices=FORMS,
        help="form of the answers (default: ndjson.zst, or parquet for Parquet)",
    )
    parser.add_argument(
        "--partition-bytes",
        type=_positive,
        metavar="N",
        default=64 << 20,
        help="size of the pieces into which plain NDJSON and Parquet are cut (64 MiB)",
    )
    parser.add_argument("--resume", action="store_true", help="skip partitions that are complete in OUTPUT")
    return parser.parse_args(given)


def local_cluster(workers: int) -> LocalCluster:
    """A scheduler in this process and worker processes of one thread each, on loopback."""
    warm_up()  # so that the tables exist before several workers need them at once
    return LocalCluster(
        n_workers=workers,
        threads_per_worker=1,
        host="127.0.0.1",
        # The dashboard is always served; a fixed port may be in use by another run.
        dashboard_address="127.0.0.1:0",
        worker_dashboard_address="127.0.0.1:0",
        # Chunks bound the memory; the monitor would count what all processes share.
        memory_limit=0,
    )


def _client(arguments: argparse.Namespace, open_things: ExitStack) -> Client:
    if arguments.scheduler:
        try:
            client: Client = open_things.enter_context(Client(arguments.scheduler, timeout=60))
        except OSError as error:
            raise FleetError(
                f"{arguments.scheduler}: no scheduler answered within a minute. Check the address, and that the "
                "scheduler runs."
            ) from error
        return client
    cluster = open_things.enter_context(local_cluster(arguments.workers))
    client = open_things.enter_context(Client(cluster))
    return client  # noqa: RET504 (typed above, where the library is not)


def main(given: Sequence[str] | None = None) -> int:
    """Run the command line: 0 if every partition is answered, 1 if some failed, 2 if the job was refused."""
    arguments = _arguments(given)
    try:
        source, place = located(arguments.input)
        files = listed(source, place)
        target, folder = located(arguments.output)
        form = arguments.form or ("parquet" if files[0].path.endswith(PARQUET) else "ndjson.zst")
        job = Job(source, target, folder, form, arguments.detail, arguments.rows)
        partitions = planned(source, files, arguments.partition_bytes)
        plan = {
            "input": place,
            "form": form,
            "detail": arguments.detail,
            "files": {file.path: file.size for file in files},
            "partitions": [asdict(partition) for partition in partitions],
        }
        prepare(job, plan, arguments.resume)
        with ExitStack() as open_things:
            client = _client(arguments, open_things)
            summary = run(client, job, partitions, resumed=arguments.resume)
    except FleetError as error:
        _say(str(error))
        return 2
    sys.stdout.write(json.dumps(summary, indent=2) + "\n")
    return 1 if summary["partitions_failed"] else 0


if __name__ == "__main__":
    sys.exit(main())
