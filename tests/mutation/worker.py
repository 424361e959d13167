"""What pytest does otherwise while mutants are tried: a plugin, named in ``[tool.mutmut]``.

Learning which test runs which function, whatever the service keeps (tables, bases, weights) is
forgotten before every test: else only the first test would be seen to run what fills it.  What a
fixture of a module or session runs is counted for every test that asks for it.

Given a plan, the tests are collected once, and each mutant gets a fork of that process: nothing
kept from an earlier test can hide it, and nothing is imported twice.
"""

from __future__ import annotations

import json
import os
import resource
import signal
import sys
from collections.abc import Iterator
from math import ceil
from pathlib import Path

import pytest
from _pytest.runner import runtestprotocol
from hypothesis import Phase, settings
from mutmut.mutation.trampoline import set_mutant_under_test
from mutmut.state import state

_run_by: dict[object, set[str]] = {}


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--mutation-plan", type=Path, help="tests by mutant, a JSON file")


def _learning() -> bool:
    return os.environ.get("MUTANT_UNDER_TEST") == "stats"


def _forget() -> None:
    """Empty what functions of the service and of the tests keep."""
    for name, module in list(sys.modules.items()):
        if name.startswith(("service.", "tests.")):
            for value in list(vars(module).values()):
                clear = getattr(value, "cache_clear", None)
                if callable(clear):
                    clear()


@pytest.hookimpl(tryfirst=True)
def pytest_runtest_setup() -> None:
    if _learning():
        _forget()


@pytest.hookimpl(wrapper=True)
def pytest_fixture_setup(fixturedef: pytest.FixtureDef[object]) -> Iterator[None]:
    if not _learning() or fixturedef.scope == "function":
        return (yield)
    before = set(state()._stats)
    state()._stats.clear()
    try:
        return (yield)
    finally:
        _run_by[fixturedef] = set(state()._stats)
        state()._stats |= before


@pytest.hookimpl(tryfirst=True)
def pytest_runtest_teardown(item: pytest.Item) -> None:
    if _learning() and isinstance(item, pytest.Function):
        for definitions in item._fixtureinfo.name2fixturedefs.values():
            for definition in definitions:
                state()._stats |= _run_by.get(definition, set())


def pytest_sessionstart(session: pytest.Session) -> None:
    """A mutant is killed by any failing example; the smallest one would be looked for in vain."""
    if session.config.getoption("mutation_plan"):
        settings.register_profile("mutation", settings.default, phases=(Phase.explicit, Phase.generate), database=None)
        settings.load_profile("mutation")


@pytest.hookimpl(tryfirst=True)
def pytest_runtestloop(session: pytest.Session) -> bool | None:
    """Try each mutant of the plan; write one line with its name and exit code."""
    path: Path | None = session.config.getoption("mutation_plan")
    if path is None:
        return None
    items = {item.nodeid: item for item in session.items}
    plan = json.loads(path.read_text(encoding="utf-8"))
    with path.with_suffix(".results").open("a", encoding="utf-8") as results:
        for mutant, (names, seconds) in plan.items():
            chosen = [items[name] for name in names if name in items]
            code = _tried(mutant, chosen, seconds) if chosen else 33
            results.write(f"{mutant} {code}\n")
            results.flush()
    return True


def _tried(mutant: str, items: list[pytest.Item], seconds: float) -> int:
    """Exit code of a fork that runs the tests with a mutant until one fails, within a time limit.

    The limit is of processor time, so a busy machine does not tell; a wait without end is cut too.
    """
    child = os.fork()
    if child:
        return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
    code = 1
    try:
        used = resource.getrusage(resource.RUSAGE_SELF)
        limit = ceil(used.ru_utime + used.ru_stime + seconds)
        resource.setrlimit(resource.RLIMIT_CPU, (limit, limit))
        signal.signal(signal.SIGALRM, signal.SIG_DFL)
        signal.alarm(ceil(20.0 * seconds))
        nothing = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nothing, 1)
        os.dup2(nothing, 2)
        _forget()
        set_mutant_under_test(mutant)
        for item, following in zip(items, [*items[1:], None], strict=True):
            if any(report.failed for report in runtestprotocol(item, log=False, nextitem=following)):
                break
        else:
            code = 0
    finally:
        os._exit(code)
