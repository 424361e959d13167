"""Tens of thousands of requests generated from the schema: ``python -m tests.nightly.contract``.

Every operation, in four ways: the examples of the schema; its bounds, forms and types one by one, kept
and broken; requests of chance, well and badly formed; sequences that follow the schema's links.
"""

from __future__ import annotations

import argparse
import secrets
import sys
import time
from collections import Counter
from typing import Any

import schemathesis

from service.app import create_app
from service.edge.settings import Settings
from tests.contract.generated import PHASES, Run, prepared, sent

#: What a run with all phases sends at the very least.
LEAST = 20_000


def table(run: Run) -> str:
    """Requests, statuses and failures by operation, as Markdown."""
    lines = [f"| operation | {' | '.join(PHASES)} | statuses | failed checks |", "| --- " * 7 + "|"]
    for label, tally in sorted(run.operations.items()):
        counts = " | ".join(str(tally.requests[phase]) for phase in PHASES)
        statuses = ", ".join(f"{status}: {n}" for status, n in sorted(tally.statuses.items()))
        lines.append(f"| {label} | {counts} | {statuses} | {len(tally.failures)} |")
    return "\n".join(lines)


def main() -> int:
    """Send, tell, and fail where a check did."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument(
        "examples", type=int, nargs="?", default=400, help="requests of chance to each operation, and sequences"
    )
    parser.add_argument("--seed", type=int, default=None, help="as an earlier run printed it")
    parser.add_argument("--url", help="a running service; left out: the application, in process")
    parser.add_argument("--phases", nargs="+", choices=PHASES, default=list(PHASES))
    parser.add_argument("--path", help="only operations whose path holds this expression")
    asked = parser.parse_args()
    seed = secrets.randbelow(2**32) if asked.seed is None else asked.seed
    print(f"seed {seed}", flush=True)
    schema: Any = (
        schemathesis.openapi.from_url(f"{asked.url.rstrip('/')}/openapi.json")
        if asked.url
        else schemathesis.openapi.from_asgi("/openapi.json", create_app(Settings(batch_processes=0)))
    )
    prepared(schema, examples=asked.examples, seed=seed, phases=asked.phases)
    if asked.path:
        schema = schema.include(path_regex=asked.path)
    begun = time.monotonic()

    def told(text: str) -> None:
        print(f"{time.monotonic() - begun:7.0f} s  {text}", flush=True)

    run = sent(schema, told)
    print(f"\n{table(run)}\n")
    for link, times in sorted(run.followed.items()):
        print(f"followed {times} times: {link}")
    kinds = Counter(text.split("\ncurl ")[0][:400] for text in run.failures)
    for kind, times in kinds.most_common(40):
        example = next(text for text in run.failures if text.startswith(kind))
        print(f"\nFAILED {times} times: {example[:4000]}")
    for error in run.errors:
        print(f"\nERROR of the generator: {error}")
    print(f"\n{run.sent} requests, {len(run.failures)} failed checks, seed {seed}")
    whole = set(asked.phases) == set(PHASES) and not asked.path
    return int(bool(run.failures or run.errors) or (whole and run.sent < LEAST))


if __name__ == "__main__":
    sys.exit(main())
