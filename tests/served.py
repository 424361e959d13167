"""The service as a process of its own, on a free port of this machine."""

from __future__ import annotations

import os
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

ROOT = Path(__file__).parents[1]


@contextmanager
def served(environment: Mapping[str, str] | None = None) -> Iterator[str]:
    """Address of the service while it runs, with what is added to its environment."""
    process = subprocess.Popen(
        [sys.executable, "-m", "service", "--port", "0", "--quiet"],
        cwd=ROOT,
        env={**os.environ, **(environment or {})},
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
