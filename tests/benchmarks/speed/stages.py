"""Where the time of a batch goes, by room of the house.

A deterministic profiler (``cProfile``) tells each function's own time.  That of a library's function is
counted for whoever called it, through as many calls as it takes, so every second ends in a room; what
parses and what serialises is told by the library.  Tables of reference data are counted for their
callers too.  By rooms, not by functions, so that it outlives renaming.

The profiler costs time on every call, so rooms of many small calls look larger than they are; a row says
how much longer the whole took under it.
"""

from __future__ import annotations

import cProfile
import pstats
import time
from collections.abc import Mapping
from pathlib import Path
from typing import Any, cast

from service.batches.answers import answer_lines
from tests.benchmarks.fleet_visits import lines
from tests.benchmarks.speed.rows import Row
from tests.benchmarks.speed.servers import ROOT

Function = tuple[str, int, str]

#: The longest beginning that fits decides; None leaves it to the callers.
ROOMS: Mapping[str, str | None] = {
    "schemas/": "parsing and checking",
    "service/edge/": "parsing and checking",
    "service/batches/": "shaping the lines",
    "service/intake/": "intake",
    "service/uncertainty/error_terms": "intake",
    "service/uncertainty/repeats": "intake",
    "service/uncertainty/low_discrepancy": "intake",
    "service/physics/": "physics",
    "service/derive/": "physics",
    "service/uncertainty/": "bands and balances",
    "service/derive/reconcile": "bands and balances",
    "service/derive/examined": "bands and balances",
    "service/derive/shares": "bands and balances",
    "service/assess/agreement": "bands and balances",
    "service/assess/": "judgement, texts and shaping",
    "service/reference/": None,
}
#: Words in the name of a library's function or file that tell what it does, whoever calls it.
LIBRARIES: Mapping[str, str] = {
    "orjson.loads": "parsing and checking",
    "pydantic": "parsing and checking",
    "validate_python": "parsing and checking",
    "validate_json": "parsing and checking",
    "orjson.dumps": "serialising",
}
_CHUNK = 64


def room(function: Function) -> str | None:
    """The room of a function; None where its callers tell."""
    file, _, name = function
    for word, stage in LIBRARIES.items():
        if word in file or word in name:
            return stage
    try:
        inside = Path(file).relative_to(ROOT).as_posix()
    except ValueError:
        return None
    fitting = [beginning for beginning in ROOMS if inside.startswith(beginning)]
    return ROOMS[max(fitting, key=len)] if fitting else None


def shares(profile: cProfile.Profile) -> dict[str, float]:
    """Share of own time by room."""
    stats = cast("Any", pstats.Stats(profile)).stats
    known: dict[Function, dict[str, float]] = {}

    def blame(function: Function, above: frozenset[Function]) -> dict[str, float]:
        """By rooms, one second of this function's time."""
        own = room(function)
        if own is not None:
            return {own: 1.0}
        if function in known:
            return known[function]
        callers = {
            caller: max(row[3], 1e-12)
            for caller, row in stats[function][4].items()
            if caller not in above and caller != function
        }
        total = sum(callers.values())
        found: dict[str, float] = {}
        for caller, weight in callers.items():
            for name, share in blame(caller, above | {function}).items():
                found[name] = found.get(name, 0.0) + share * weight / total
        found = found or {"other": 1.0}
        if not above:  # what was cut short to break a circle is not kept
            known[function] = found
        return found

    times: dict[str, float] = {}
    for function, (_, _, own_time, _, _) in stats.items():
        for name, share in blame(function, frozenset()).items():
            times[name] = times.get(name, 0.0) + share * own_time
    total = sum(times.values())
    return {name: spent / total for name, spent in sorted(times.items(), key=lambda row: -row[1])}


def measure(*, quick: bool) -> list[Row]:
    """Shares of the time of grades in chunks of sixty-four, and what the profiler costs."""
    fleet = list(lines(256 if quick else 1024, seed=3))
    chunks = [fleet[start : start + _CHUNK] for start in range(0, len(fleet), _CHUNK)]
    answer_lines(chunks[0], detail="grades")
    start = time.process_time()
    for chunk in chunks:
        answer_lines(chunk, detail="grades")
    plain = time.process_time() - start
    profile = cProfile.Profile()
    start = time.process_time()
    with profile:
        for chunk in chunks:
            answer_lines(chunk, detail="grades")
    profiled = time.process_time() - start
    each = 1e3 * plain / len(fleet)
    return [
        *(
            Row("stages", f"{name} (own time, profiled)", each * share, "ms/visit", share, "whole of a visit, grades")
            for name, share in shares(profile).items()
        ),
        Row(
            "stages",
            "whole of a visit, grades, under the profiler",
            1e3 * profiled / len(fleet),
            "ms/visit",
            profiled / plain,
            "without it",
        ),
    ]
