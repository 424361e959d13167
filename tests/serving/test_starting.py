"""What the command line says if the service cannot start, or if nobody reads its output."""

from __future__ import annotations

import os
import socket
import subprocess
import sys

import pytest

from service import __main__ as command
from service.edge.settings import Settings, misspelt
from tests.serving.running import PATIENCE, ROOT


@pytest.mark.parametrize("port", ["70000", "-1"])
def test_a_port_that_is_none(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], port: str) -> None:
    """Refused by name: another would be listened on otherwise."""
    monkeypatch.setattr(sys, "argv", ["service", f"--port={port}"])
    with pytest.raises(SystemExit) as refused:
        command._arguments(Settings())
    assert refused.value.code == 2
    assert f"no port {port}" in capsys.readouterr().err


def test_output_that_nobody_reads(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without standard output, or with nobody who reads it, the service continues."""
    reading, writing = os.pipe()
    os.close(reading)
    with os.fdopen(writing, "w", buffering=1, closefd=False) as pipe:
        monkeypatch.setattr(sys, "stdout", pipe)
        command._say("Ready")
        assert sys.stdout is None
        command._say("Ready")
        os.dup2(os.open(os.devnull, os.O_WRONLY), writing)  # what the text file still holds goes there


@pytest.mark.slow
def test_a_port_that_is_taken() -> None:
    """Said, with what to do; exit status 1."""
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        found = subprocess.run(
            [sys.executable, "-m", "service", "--quiet", "--port", str(port)],
            cwd=ROOT,
            env={**os.environ, "SERVICE_PROCESSES": "1"},
            timeout=PATIENCE,
            capture_output=True,
            text=True,
            check=False,
        )
    assert found.returncode == 1
    assert found.stdout.startswith(f"Could not listen on port {port}")


def test_a_setting_that_is_misspelt(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    """Refused with the one that could be meant: a key that nobody asks for would leave the service open."""
    for given, near in (
        ("SERVICE_API_KEY_HASH", "SERVICE_API_KEY_HASHES"),
        ("SERVICE_MAXIMUM_BODY_BYTE", "SERVICE_MAXIMUM_BODY_BYTES"),
    ):
        monkeypatch.setenv(given, "1")
        monkeypatch.setattr(sys, "argv", ["service"])
        assert command.main() == 2
        assert f"{given} is not a setting. Did you mean {near}?" in capsys.readouterr().out
        monkeypatch.delenv(given)


def test_variables_of_an_engine_are_ignored(monkeypatch: pytest.MonkeyPatch) -> None:
    """Nor is a variable that is set to nothing: it counts as left out."""
    engine = ["SERVICE_PORT_8000_TCP", "SERVICE_PORT_8000_TCP_ADDR", "SERVICE_SERVICE_HOST", "HOME"]
    assert misspelt([*engine, "SERVICE_PREPARED_DIRECTORY", "SERVICE_PORT"]) == {}
    monkeypatch.setenv("SERVICE_METRICS_PORT", "")
    monkeypatch.setenv("SERVICE_PROCESSES", "")
    assert (Settings().metrics_port, Settings().processes) == (None, None)


def test_what_is_wrong_with_a_setting_is_said_plainly(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """With its name and value, but for a key that was given in place of its hash."""
    monkeypatch.setattr(sys, "argv", ["service"])
    monkeypatch.setenv("SERVICE_API_KEY_HASHES", "open-sesame")
    monkeypatch.setenv("SERVICE_CORS_ORIGINS", "*")
    assert command.main() == 2
    said = capsys.readouterr().out
    assert "SERVICE_CORS_ORIGINS='*' cannot be used: each entry must be an origin" in said
    assert "SERVICE_API_KEY_HASHES cannot be used: each entry must be the SHA-256" in said
    assert "open-sesame" not in said
