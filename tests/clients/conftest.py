"""The service as a process of its own, and what the two clients are generated with."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from tests.serving.running import ROOT, serving

#: Writes the client of a language into a folder; what the generator said.
Generate = Callable[[str, Path], str]


@pytest.fixture(scope="package")
def base() -> Iterator[str]:
    """Address of the service; it answers batches itself, as a process more would cost seconds."""
    with serving("service", batch_processes=0) as running:
        yield running.address


@pytest.fixture(scope="package")
def generate() -> Generate:
    """The command that an integrator has, with the generator of this environment."""

    def run(language: str, folder: Path) -> str:
        done = subprocess.run(
            ["bash", "deploy/clients", folder, language],
            cwd=ROOT,
            env={**os.environ, "PYTHON": sys.executable},
            capture_output=True,
            text=True,
            check=False,
        )
        assert done.returncode == 0, done.stdout + done.stderr
        return done.stdout + done.stderr

    return run


#: The programs of the contract's README, by the word that follows the fence.
Program = Callable[[str], str]


@pytest.fixture(scope="package")
def program(base: str) -> Program:
    """A program of the part on typed clients, with the address of the service that runs here."""
    text = (ROOT / "schemas" / "README.md").read_text("utf-8")
    part = text.partition("\n## Typed clients\n")[2].partition("\n## ")[0]

    def shown(language: str) -> str:
        text = part.partition(f"```{language}\n")[2].partition("```")[0]
        assert "http://127.0.0.1:8000" in text
        return text.replace("http://127.0.0.1:8000", base)

    return shown
