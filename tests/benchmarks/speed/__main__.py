"""How fast the service is, every figure beside something else in the same run.

``python -m tests.benchmarks.speed [--quick] [--only NAME...] [--against REVISION] [--json PATH]``

Prints a Markdown table.  All of it takes under ten minutes, with ``--quick`` under two, on a machine of its
own; absolute figures are that machine's, ratios travel better.  Where others compute beside, figures by
the clock suffer and those by processor time hardly do.  Parts: ``http`` (beside an endpoint that computes nothing, and
an earlier revision where one is named), ``usual_way`` (beside CoolProp, PsychroLib and an uncertainty
library), ``batch``, ``cases`` (comparisons and
diagnoses alone and side by side), ``stages``, ``memory``, ``start``, ``growth``.
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import sys
import time
from collections.abc import Callable
from datetime import UTC, datetime
from functools import partial
from pathlib import Path

# One thread for each process, before NumPy is imported: as a worker runs.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from tests.benchmarks.speed import (
    batch,
    beside_usual_way,
    cases,
    growth,
    memory_and_start,
    over_http,
    stages,
)
from tests.benchmarks.speed.rows import Row, table

Part = Callable[..., list[Row]]
PARTS: dict[str, Part] = {
    "http": over_http.measure,
    "usual_way": beside_usual_way.measure,
    "batch": batch.measure,
    "cases": cases.measure,
    "stages": stages.measure,
    "memory": memory_and_start.measure_memory,
    "start": memory_and_start.measure_start,
    "growth": growth.measure,
}


def main() -> None:
    """Measure what was asked for and print it."""
    parser = argparse.ArgumentParser(
        prog="python -m tests.benchmarks.speed",
        description=__doc__,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--quick", action="store_true", help="shorter rounds, and fewer")
    parser.add_argument("--only", nargs="+", choices=list(PARTS), metavar="NAME")
    parser.add_argument("--against", metavar="REVISION", help="an earlier revision, over HTTP")
    parser.add_argument("--json", type=Path, metavar="PATH", help="write the rows here too")
    arguments = parser.parse_args()
    rows: list[Row] = []
    begun = time.perf_counter()
    for name in arguments.only or PARTS:
        part = PARTS[name]
        if name in ("http", "cases"):
            part = partial(part, against=arguments.against)
        start = time.perf_counter()
        rows += part(quick=arguments.quick)
        print(f"{name}: {time.perf_counter() - start:.0f} s", file=sys.stderr, flush=True)
    command = " ".join(["python -m tests.benchmarks.speed", *sys.argv[1:]])
    where = f"Python {platform.python_version()}, {os.cpu_count()} cores"
    day = datetime.now(UTC).date().isoformat()
    print(f"{day}, {where}, {time.perf_counter() - begun:.0f} s: `{command}`\n")
    print(table(rows))
    if arguments.json:
        document = {
            "date": day,
            "command": command,
            "where": where,
            "rows": [row.document() for row in rows],
        }
        arguments.json.write_text(json.dumps(document, indent=1) + "\n", "utf-8")


if __name__ == "__main__":
    main()
