"""`deploy/environment` and the first start: several at once, and one without a network."""

from __future__ import annotations

import contextlib
import os
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[3]
#: How long a script may take before a test has failed [s]; no test measures by it.
PATIENCE = 120.0

#: Stands for Python: an environment is a folder with this script in it, and the packages install at once.
STUB = """#!/usr/bin/env bash
case "$*" in
  "-m venv "*)
    echo made >>"$TRIAL/log"
    while [ ! -e "$TRIAL/go" ]; do sleep 0.01; done
    mkdir -p "$3/bin" && cp "$0" "$3/bin/python" ;;
  "-m pip install "*) echo installed >>"$TRIAL/log"; exit "${PIP_STATUS:-0}" ;;
  *) exec "$REAL" "$@" ;;
esac
"""


@pytest.fixture
def trial(tmp_path: Path) -> dict[str, str]:
    """The environment of a script that runs the stub in place of Python."""
    stub = tmp_path / "python"
    stub.write_text(STUB)
    stub.chmod(0o755)
    (tmp_path / "lock").write_text("a package")
    return {**os.environ, "PYTHON": str(stub), "REAL": sys.executable, "TRIAL": str(tmp_path)}


@contextlib.contextmanager
def started(trial: dict[str, str]) -> Iterator[subprocess.Popen[str]]:
    """A start of the script, ended with the test."""
    folder = Path(trial["TRIAL"])
    with subprocess.Popen(
        ["bash", "deploy/environment", str(folder / ".venv"), str(folder / "lock")],
        cwd=ROOT,
        env=trial,
        stderr=subprocess.PIPE,
        text=True,
    ) as process:
        try:
            yield process
        finally:
            process.kill()


def said(process: subprocess.Popen[str]) -> str:
    """Its next line."""
    assert process.stderr is not None
    return process.stderr.readline()


def test_two_starts_at_once_make_one_environment(trial: dict[str, str]) -> None:
    """The second waits, says so, and uses what the first made; a third finds it."""
    folder = Path(trial["TRIAL"])
    with started(trial) as first, started_after(first, trial) as second:
        assert said(second).startswith("Another start is making the environment")
        (folder / "go").touch()
        assert (first.wait(PATIENCE), second.wait(PATIENCE)) == (0, 0)
    with started(trial) as third:
        assert third.wait(PATIENCE) == 0
    assert (folder / "log").read_text() == "made\ninstalled\n"


def started_after(
    first: subprocess.Popen[str], trial: dict[str, str]
) -> contextlib.AbstractContextManager[subprocess.Popen[str]]:
    """A start while the first makes the environment."""
    assert said(first).startswith("Making the environment")
    return started(trial)


def test_a_start_after_one_that_was_killed_makes_it_again(trial: dict[str, str]) -> None:
    """The lock ends with its holder, and half an environment is not used."""
    folder = Path(trial["TRIAL"])
    with started(trial) as first:
        assert said(first).startswith("Making the environment")
        while not (folder / "log").exists():
            time.sleep(0.01)
        first.kill()
        first.wait(PATIENCE)
        (folder / "go").touch()
    with started(trial) as second:
        assert second.wait(PATIENCE) == 0
    assert (folder / ".venv" / "made-from").exists()
    assert (folder / "log").read_text() == "made\nmade\ninstalled\n"


def test_packages_that_cannot_be_fetched(trial: dict[str, str]) -> None:
    """Said plainly, with what the first start needs; nothing passes for an environment."""
    folder = Path(trial["TRIAL"])
    (folder / "go").touch()
    with started({**trial, "PIP_STATUS": "1"}) as failed:
        text = failed.communicate(timeout=PATIENCE)[1]
    assert failed.returncode == 1
    assert "The first start downloads them, so it needs a network" in text
    assert not (folder / ".venv" / "made-from").exists()
