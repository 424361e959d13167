"""What the command line says where the service cannot start as it was told, or has nobody to tell."""

from __future__ import annotations

import os
import socket
import subprocess
import sys

import pytest

from service import __main__ as command
from service.edge.settings import Settings
from tests.serving.running import PATIENCE, ROOT


@pytest.mark.parametrize("port", ["70000", "-1"])
def test_a_port_that_is_none(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], port: str
) -> None:
    """Refused by name: another would be listened on otherwise."""
    monkeypatch.setattr(sys, "argv", ["service", f"--port={port}"])
    with pytest.raises(SystemExit) as refused:
        command._arguments(Settings())
    assert refused.value.code == 2
    assert f"port {port}" in capsys.readouterr().err


def test_nobody_to_tell(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without standard output, or with nobody who reads it, it goes on."""
    reading, writing = os.pipe()
    os.close(reading)
    with os.fdopen(writing, "w", buffering=1, closefd=False) as pipe:
        monkeypatch.setattr(sys, "stdout", pipe)
        command._say("Ready")
        assert sys.stdout is None
        command._say("Ready")
        os.dup2(
            os.open(os.devnull, os.O_WRONLY), writing
        )  # what the text file still holds goes there


@pytest.mark.slow
def test_a_port_that_is_taken() -> None:
    """Said, with what to do; exit status 1."""
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        found = subprocess.run(
            [sys.executable, "-m", "service", "--quiet", "--port", str(port)],
            cwd=ROOT, env={**os.environ, "SERVICE_PROCESSES": "1"}, timeout=PATIENCE,
            capture_output=True, text=True, check=False,
        )  # fmt: skip
    assert found.returncode == 1
    assert found.stdout.startswith(f"Could not listen on port {port}")
