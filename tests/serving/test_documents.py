"""The commands of the documents do what is said, given to a shell as they are written."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import orjson
import pytest

from tests.serving.running import PATIENCE, ROOT, serving

ADDRESS = "http://127.0.0.1:8000"
DOCUMENTS = ("README.md", "service/batches/README.md", "service/render/README.md")


def commands() -> list[Any]:
    """Each block of commands that asks the service, with what is quoted after it."""
    found = []
    for name in DOCUMENTS:
        text = (ROOT / name).read_text("utf-8")
        blocks = re.findall(r"^```sh\n(.*?)^```\n(?:\n> ([^\n]*)\n)?", text, re.DOTALL | re.MULTILINE)
        asking = [block for block in blocks if ADDRESS in block[0]]
        found += [pytest.param(*block, id=f"{name} {place}") for place, block in enumerate(asking, 1)]
    return found


@pytest.fixture(scope="module")
def address() -> Iterator[str]:
    """A service of one process that answers batches itself."""
    if shutil.which("curl") is None:
        if os.environ.get("CI") == "true":
            pytest.fail("curl is not installed; CI must not pass over the documents' commands")
        pytest.skip("curl is not installed")
    with serving("service", batch_processes=0, processes=1) as running:
        yield running.address


@pytest.mark.slow
@pytest.mark.parametrize(("command", "quoted"), commands())
def test_commands_do_what_is_said(address: str, tmp_path: Path, command: str, quoted: str) -> None:
    """Something comes, nothing is refused, and it is what is quoted."""
    (tmp_path / "schemas").symlink_to(ROOT / "schemas")
    done = subprocess.run(
        ["bash", "-euo", "pipefail", "-c", command.replace(ADDRESS, address)],
        cwd=tmp_path,
        timeout=PATIENCE,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    written = [tmp_path / name for name in re.findall(r" -o (\S+)", command)]
    answers = [done.stdout, *(path.read_text("utf-8") for path in written)]
    answers = answers[1:] if written else answers
    for answer in answers:
        assert answer.strip()
        assert not answer.startswith('{"type":"/problems/'), answer
    if "/v1/batches" in command:
        assert orjson.loads(done.stdout.splitlines()[-1])["summary"]["complete"] is True
    if quoted:
        assert done.stdout == f"{quoted}\n"


def test_quotes_are_found() -> None:
    """So that the test above compares what the README quotes."""
    assert len([row for row in commands() if row.values[1]]) == 2
    assert {row.id.split()[0] for row in commands()} == set(DOCUMENTS)
