"""How well the tests would notice an error in the science: mutants killed, by module.

``python -m tests.mutation [MODULE...] [--sample N] [--seed N] [--seconds S] [--again] [--survivors]``

mutmut (``[tool.mutmut]`` in ``pyproject.toml``) makes the mutants, learns which test runs which
function, and tries each mutant in a process of its own.  This command chooses what is tried: all
mutants of the modules, or as many of each at random; against the fastest tests of each function,
as many as fit in some seconds.  Results are kept in ``mutants/``, so a stopped run goes on where it
was.
"""

from __future__ import annotations

import argparse
import fnmatch
import json
import os
import random
import signal
import subprocess
import sys
from dataclasses import dataclass
from math import ceil
from pathlib import Path
from typing import Any

from mutmut.configuration import config
from mutmut.utils.format_utils import mangled_name_from_mutant_name
from scipy.stats import beta, norm

MUTANTS = Path("mutants")
#: What mutmut learned of the tests: their durations, and which run which function.
STATISTICS = MUTANTS / "mutmut-stats.json"
PLAN = MUTANTS / "plan.json"
RESULTS = PLAN.with_suffix(".results")
ROOMS = ("service/physics", "service/uncertainty", "service/unit", "service/compare")
#: Processor time that a mutant may take [s], and for each second of its tests.
LEAST_LIMIT, LIMIT = 10.0, 3.0
#: A test that costs no more [s] is always worth its time.
NEXT_TO_NOTHING = 0.02

KILLED, SURVIVED, UNREACHED, TIMEOUT = "killed", "survived", "not reached", "timeout"
_STATUS = {0: SURVIVED, 1: KILLED, 3: KILLED, 5: UNREACHED, 33: UNREACHED}
_OUT_OF_TIME = {-24, -14, -9, 24, 36, 152, 255}


def status(exit_code: int | None) -> str | None:
    """What an exit code that mutmut keeps means; any other end of a worker is a kill."""
    if exit_code is None:
        return None
    return TIMEOUT if exit_code in _OUT_OF_TIME else _STATUS.get(exit_code, KILLED)


@dataclass(frozen=True, slots=True)
class Row:
    """Counts of one module: of its mutants, of those asked for, and how those ended."""

    module: str
    mutants: int
    asked: tuple[str, ...]
    ends: dict[str, int]

    @property
    def tried(self) -> int:
        return sum(self.ends.values())

    @property
    def detected(self) -> int:
        return self.ends.get(KILLED, 0) + self.ends.get(TIMEOUT, 0)


def _read(path: Path) -> dict[str, Any]:
    content: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
    return content


def _prepare() -> None:
    """Bring the mutants, and what is known of the tests, up to the sources."""
    MUTANTS.mkdir(exist_ok=True)  # an interpreter never looks again into a folder that was not there
    command = [sys.executable, "-P", str(Path(__file__).with_name("learning.py"))]
    done = subprocess.run(command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, env=_environment(), check=False)
    if done.returncode:
        raise SystemExit(done.stdout.decode(errors="replace").replace("\r", "\n")[-4000:])


def _environment() -> dict[str, str]:
    """Of a process that sees the mutated sources alone."""
    return {**os.environ, "PYTHONPATH": str(MUTANTS.absolute()), "OPENBLAS_NUM_THREADS": "1", "MUTANT_UNDER_TEST": ""}


def _chosen(names: list[str], durations: dict[str, float], seconds: float) -> list[str]:
    """As many tests as fit in ``seconds``, one at least, the fastest first, so that most mutants end soon.

    All that take next to nothing; of the others one case of each test before its second.
    """
    cases: dict[str, int] = {}
    ranked = []
    for name in sorted(names, key=lambda name: (durations[name], name)):
        test = name.partition("[")[0]
        rank = cases.get(test, 0) if durations[name] > NEXT_TO_NOTHING else 0
        cases[test] = rank + 1
        ranked.append((durations[name] > NEXT_TO_NOTHING, rank, durations[name], name))
    chosen: list[str] = []
    for *_, duration, name in sorted(ranked):
        seconds -= duration
        if chosen and seconds < 0.0:
            break
        chosen.append(name)
    return sorted(chosen, key=lambda name: durations[name])


def _try(mutants: list[str], seconds: float) -> None:
    """Try mutants, and keep how each ended."""
    statistics = _read(STATISTICS)
    durations: dict[str, float] = statistics["duration_by_test"]
    tests = {
        function: _chosen([n for n in names if n in durations], durations, seconds)
        for function, names in statistics["tests_by_mangled_function_name"].items()
    }
    plan = {}
    for mutant in mutants:
        names = tests.get(mangled_name_from_mutant_name(mutant), [])
        plan[mutant] = names, LEAST_LIMIT + LIMIT * sum(durations[name] for name in names)
    PLAN.write_text(json.dumps(plan), encoding="utf-8")
    command = [
        sys.executable,
        "-m",
        "pytest",
        "--rootdir=.",
        "--tb=no",
        "-q",
        "-s",
        f"--mutation-plan={PLAN.name}",
        *config().pytest_add_cli_args,
        *config().pytest_add_cli_args_test_selection,
    ]
    process = subprocess.Popen(command, cwd=MUTANTS, env=_environment())
    try:
        process.wait()
    finally:
        process.terminate()
        _keep_results()


def _keep_results() -> None:
    """Move results to where mutmut keeps them, so that ``mutmut browse`` shows them too."""
    if not RESULTS.exists():
        return
    lines = [line.rsplit(" ", 1) for line in RESULTS.read_text("utf-8").splitlines()]
    codes = {name: int(code) for name, code in lines if int(code) != -signal.SIGTERM}
    for room in ROOMS:
        for path in (MUTANTS / room).glob("*.py.meta"):
            content = _read(path)
            known = content["exit_code_by_key"]
            known.update({name: code for name, code in codes.items() if name in known})
            written = path.with_suffix(".part")
            written.write_text(json.dumps(content, indent=4), encoding="utf-8")
            written.replace(path)
    RESULTS.unlink()


def _modules(patterns: list[str]) -> dict[str, dict[str, int | None]]:
    """Exit codes by mutant, by module such as ``physics.cycle``."""
    found = {}
    for room in ROOMS:
        for path in sorted((MUTANTS / room).glob("*.py.meta")):
            module = f"{Path(room).name}.{path.name.removesuffix('.py.meta')}"
            codes: dict[str, int | None] = _read(path)["exit_code_by_key"]
            if codes and (not patterns or any(fnmatch.fnmatch(module, p) for p in patterns)):
                found[module] = codes
    return found


def _asked(module: str, codes: dict[str, int | None], sample: int, seed: int) -> tuple[str, ...]:
    """All mutants, or the first of them in an order of the seed's, so a larger sample adds to a smaller.

    A sample holds 6 % of a module at least.
    """
    names = sorted(codes)
    if not sample:
        return tuple(names)
    random.Random(f"{seed} {module}").shuffle(names)
    return tuple(names[: max(sample, ceil(0.06 * len(names)))])


def rows(patterns: list[str], sample: int, seed: int) -> list[Row]:
    """What is known of each module so far."""
    found = []
    for module, codes in _modules(patterns).items():
        asked = _asked(module, codes, sample, seed)
        ends: dict[str, int] = {}
        for name in asked:
            if (end := status(codes[name])) is not None:
                ends[end] = ends.get(end, 0) + 1
        found.append(Row(module, len(codes), asked, ends))
    return found


def _share(row: Row) -> str:
    """Share of tried mutants that were detected; of a sample with its 95 % interval.

    The interval is exact for a share (Clopper and Pearson 1934).
    """
    tried, detected = row.tried, row.detected
    if not tried:
        return "-"
    share = f"{100.0 * detected / tried:.0f} %"
    if tried == row.mutants:
        return share
    low = beta.ppf(0.025, detected, tried - detected + 1) if detected else 0.0
    high = beta.ppf(0.975, detected + 1, tried - detected) if detected < tried else 1.0
    return f"{share} ({100.0 * low:.0f} to {100.0 * high:.0f})"


def _together(name: str, parts: list[Row]) -> str:
    """The share of all mutants of several modules, each module counting by its mutants.

    The standard error is that of a stratified sample without replacement (Cochran 1977,
    chapter 5), each stratum's share moved toward one half by one mutant each way so that a
    module of which all were killed is not taken for certain.
    """
    parts = [row for row in parts if row.tried]
    mutants = sum(row.mutants for row in parts)
    share = variance = 0.0
    for row in parts:
        weight = row.mutants / mutants
        share += weight * row.detected / row.tried
        moved = (row.detected + 1.0) / (row.tried + 2.0)
        unseen = 1.0 - row.tried / row.mutants
        variance += weight**2 * moved * (1.0 - moved) / row.tried * unseen
    half = float(norm.ppf(0.975)) * variance**0.5
    counts = [sum(row.ends.get(end, 0) for row in parts) for end in _ENDS]
    interval = f" ± {100.0 * half:.1f}" if half else ""
    cells = [name, mutants, sum(row.tried for row in parts), *counts, f"{100.0 * share:.1f} %{interval}"]
    return "| " + " | ".join(str(cell) for cell in cells) + " |"


_ENDS = (KILLED, SURVIVED, UNREACHED, TIMEOUT)


def table(found: list[Row]) -> str:
    """A Markdown table: modules, then rooms, then all."""
    lines = [
        "| module | mutants | tried | killed | survived | not reached | timeouts | score |",
        "| --- | --- | --- | --- | --- | --- | --- | --- |",
    ]
    for row in found:
        cells = [row.module, row.mutants, row.tried, *(row.ends.get(e, 0) for e in _ENDS)]
        lines.append("| " + " | ".join(str(cell) for cell in [*cells, _share(row)]) + " |")
    for room in dict.fromkeys(row.module.partition(".")[0] for row in found):
        lines.append(_together(room, [r for r in found if r.module.startswith(f"{room}.")]))
    lines.append(_together("all", found))
    return "\n".join(lines)


def _print_survivors(patterns: list[str], asked: set[str]) -> None:
    for codes in _modules(patterns).values():
        for name, code in codes.items():
            if name in asked and status(code) in (SURVIVED, UNREACHED):
                _print_difference(name)


def _print_difference(name: str) -> None:
    command = [str(Path(sys.executable).with_name("mutmut")), "show", name]
    shown = subprocess.run(command, capture_output=True, text=True, check=False)
    print(shown.stdout)


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.mutation", description=__doc__)
    parser.add_argument("modules", nargs="*", help="such as physics.cycle or 'uncertainty.*'")
    parser.add_argument("--sample", type=int, default=0, help="mutants of each module; 0: all")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--seconds", type=float, default=5.0, help="of tests for each mutant")
    parser.add_argument("--no-learning", action="store_true", help="nothing changed since the last")
    parser.add_argument("--again", action="store_true", help="try only what survived, once more")
    parser.add_argument("--survivors", action="store_true", help="only show what survived")
    given = parser.parse_args()

    if given.survivors:
        found = rows(given.modules, given.sample, given.seed)
        _print_survivors(given.modules, {name for row in found for name in row.asked})
        return
    _keep_results()
    if not given.no_learning:
        _prepare()
    codes = {n: c for found in _modules(given.modules).values() for n, c in found.items()}
    wanted_ends = {SURVIVED, UNREACHED} if given.again else {None}
    asked = [name for row in rows(given.modules, given.sample, given.seed) for name in row.asked]
    if wanted := [name for name in asked if status(codes[name]) in wanted_ends]:
        random.Random(given.seed).shuffle(wanted)
        _try(wanted, given.seconds)
    print(table(rows(given.modules, given.sample, given.seed)))


if __name__ == "__main__":
    main()
