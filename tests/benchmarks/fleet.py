"""Speed, memory and bytes of the batch job, and what a thousand million visits take by them.

``python -m tests.benchmarks.fleet [visits] [--workers N] [--per-core SPEED]``

The visits are the examples in turn with each reading moved at random.  The job runs for real with
worker processes on this machine, for each form of the answer (speed by the clock, and by the workers'
processor seconds); then one worker takes a quarter of the visits and all of them as one partition, to
show that its memory does not grow with the partition.  ``--per-core`` takes another speed (visits a
second and core) for the table.  Packed input is flattered, as units and kits are those of the examples.
"""

from __future__ import annotations

import argparse
import contextlib
import io
import json
import os
import random
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import orjson
import pyarrow as pa

from deploy import fleet
from schemas.examples import examples

VISITS = 1_000_000_000
#: Assumed round price of a core with its 2 GB of memory for an hour; no vendor's.
PRICE = 0.04
#: Assumed round price of keeping a terabyte for a month.
PRICE_OF_STORAGE = 20.0


def moved(value: Any, chance: random.Random) -> Any:  # noqa: ANN401
    """The same readings, each number by up to two percent."""
    if isinstance(value, dict):
        return {key: moved(inner, chance) if key != "unit" else inner for key, inner in value.items()}
    if isinstance(value, list):
        return [moved(inner, chance) for inner in value]
    if isinstance(value, int | float) and not isinstance(value, bool):
        return round(value * chance.uniform(0.98, 1.02), 2)
    return value


def lines(count: int, seed: int = 1) -> Iterator[bytes]:
    """So many visits as lines, alike for a seed."""
    chance = random.Random(seed)
    bodies = list(examples().values())
    for number in range(count):
        body = bodies[number % len(bodies)]
        run = {**body["run"], "readings": moved(body["run"]["readings"], chance)}
        yield orjson.dumps({"id": f"{chance.getrandbits(48):012x}", "assessment": {**body, "run": run}})


def done(given: Path, out: Path, *options: object) -> dict[str, Any]:
    """The job's summary."""
    said = io.StringIO()
    with contextlib.redirect_stdout(said):
        code = fleet.main([str(part) for part in (given, out, *options)])
    if code:
        raise RuntimeError(said.getvalue())
    return dict(json.loads(said.getvalue()))


def packed(path: Path) -> int:
    """Size of a file as it would be kept."""
    target = path.with_suffix(".zst")
    with pa.CompressedOutputStream(str(target), "zstd") as file:
        file.write(path.read_bytes())
    return target.stat().st_size


def unpacked(folder: Path) -> int:
    """Size of all answers as they would be sent."""
    size = 0
    for path in folder.glob("part-*"):
        with pa.input_stream(path, compression="detect") as file:
            while piece := file.read(1 << 20):
                size += len(piece)
    return size


def largest(summary: dict[str, Any]) -> float:
    """Megabytes of the largest worker."""
    return max(float(row["largest_memory_bytes"]) for row in summary["workers"].values()) / 1e6


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("visits", nargs="?", type=int, default=1000)
    parser.add_argument("--workers", type=int, default=os.cpu_count() or 1)
    parser.add_argument("--per-core", type=float, metavar="SPEED")
    arguments = parser.parse_args()
    visits, workers = arguments.visits, arguments.workers
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder)
        given = place / "visits.ndjson"
        given.write_bytes(b"".join(line + b"\n" for line in lines(visits)))
        plain, kept = given.stat().st_size / visits, packed(given) / visits
        print(f"in: {plain:.0f} bytes a visit plain, {kept:.0f} zstd")
        size = given.stat().st_size // (4 * workers) + 1
        for detail in ("full", "grades"):
            out = place / detail
            summary = done(given, out, "--workers", workers, "--detail", detail, "--partition-bytes", size)
            if summary["visits"] != visits:
                raise RuntimeError(f"{summary['problems']} visits were refused")
            # Of the processor's time, so that a machine that others use does not change the figure.
            per_core = summary["visits"] / summary["processor_seconds"]
            sent = unpacked(out) / visits
            stored = summary["output_bytes"] / visits
            print(
                f"{detail}: {summary['visits_per_second']:.1f} visits/s with {workers} workers, "
                f"{per_core:.1f} a second of one core; out {sent:.0f} bytes a visit plain, {stored:.0f} zstd; "
                f"largest worker {largest(summary):.0f} MB"
            )
            speed = arguments.per_core or per_core
            hours = VISITS / speed / 3600.0
            print(
                f"  10^9 visits at {speed:.1f} a second and core: {hours:.0f} core hours, "
                f"{hours / 1000:.1f} h on 1,000 cores, {hours * PRICE:.0f} at {PRICE} a core hour; "
                f"in {VISITS * kept / 1e12:.2f} TB, out {VISITS * stored / 1e12:.2f} TB, "
                f"{VISITS * (kept + stored) / 1e12 * PRICE_OF_STORAGE:.0f} a month "
                f"at {PRICE_OF_STORAGE:.0f} a TB"
            )
        quarter = place / "quarter.ndjson"
        quarter.write_bytes(b"".join(line + b"\n" for line in lines(visits // 4)))
        for detail in ("full", "grades"):
            small, large = (
                largest(
                    done(
                        file,
                        place / f"{file.stem} {detail}",
                        "--workers",
                        1,
                        "--detail",
                        detail,
                        "--partition-bytes",
                        1 << 40,
                    )
                )
                for file in (quarter, given)
            )
            print(f"{detail}: one partition of {visits // 4} visits {small:.0f} MB, of {visits} {large:.0f} MB")


if __name__ == "__main__":
    main()
