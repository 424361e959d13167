"""The pages in a real browser, with every host but loopback out of reach."""

from __future__ import annotations

import shutil
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from pathlib import Path

import pytest

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")

pytestmark = [
    pytest.mark.skipif(CHROMIUM is None, reason="chromium is not installed (CI installs it)"),
    pytest.mark.slow,
    pytest.mark.xdist_group("browser"),
]

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def base() -> Iterator[str]:
    """The service as a process of its own, on a free port."""
    process = subprocess.Popen(
        [sys.executable, "-m", "service", "--port", "0", "--quiet"],
        cwd=ROOT,
        stdout=subprocess.PIPE,
        text=True,
    )
    assert process.stdout is not None
    try:
        address = process.stdout.readline().split()[2]
        for _ in range(50):
            try:
                urllib.request.urlopen(f"{address}/health/ready", timeout=1).close()
                break
            except OSError:
                time.sleep(0.1)
        yield address
    finally:
        process.terminate()
        process.wait(10)
        process.stdout.close()


def page(address: str, profile: Path) -> tuple[str, str]:
    """The document after its scripts have run, and what the browser logged."""
    assert CHROMIUM is not None
    done = subprocess.run(
        [
            CHROMIUM, "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic",
            "--no-first-run", "--disable-background-networking", "--disable-component-update",
            "--disable-sync", f"--user-data-dir={profile}", "--virtual-time-budget=8000",
            "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE 127.0.0.1",
            "--enable-logging=stderr", "--dump-dom", address,
        ],
        capture_output=True, text=True, timeout=90, check=True,
    )  # fmt: skip
    console = [line for line in done.stderr.splitlines() if ":CONSOLE" in line]
    return done.stdout, "\n".join(console)


def test_docs_render_without_any_other_host(base: str, tmp_path: Path) -> None:
    """Every operation shows, and the console stays silent."""
    document, console = page(f"{base}/docs", tmp_path)
    for summary in ("Assess one visit", "Pressure-temperature table", "Can it take requests?"):
        assert summary in document
    assert console == ""


def test_docs_offer_an_example_ready_to_send(base: str, tmp_path: Path) -> None:
    """Opened at the operation: the examples, their body in the editor, the Execute button."""
    document, console = page(f"{base}/docs#/assessments/assessVisit", tmp_path)
    assert "R-22 with fixed orifice" in document
    assert "compressor_start_winding_current" in document
    assert "Execute" in document
    assert console == ""


def test_root_page_shows_the_example_and_its_command(base: str, tmp_path: Path) -> None:
    """The script filled in the request and the curl line."""
    document, console = page(f"{base}/", tmp_path)
    assert f"curl -s {base}/examples/r410a_expansion_valve.json" in document
    assert '<option value="r454b_heat_pump_cooling">' in document
    assert console == ""
