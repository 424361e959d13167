"""The service as a process of its own, and a browser to open it with."""

from __future__ import annotations

import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from contextlib import AbstractContextManager
from pathlib import Path
from typing import Protocol

import pytest
from playwright.sync_api import Browser

from tests.browser import browsing
from tests.browser.browsing import ColourScheme, Tab

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="package")
def base() -> Iterator[str]:
    """Address of the service, running on a free port."""
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


@pytest.fixture(scope="package")
def browser() -> Iterator[Browser]:
    """One browser for all modules of this folder.

    Of the package and not of the session: playwright's event loop counts as running in this thread
    until it is stopped, so tests elsewhere in the same worker that start one would fail.
    """
    with browsing.started() as found:
        yield found


class Open(Protocol):
    """Opens a page of the service."""

    def __call__(
        self, path: str, *, colour_scheme: ColourScheme = "light", width: int = 1200
    ) -> AbstractContextManager[Tab]:
        """By its path."""


@pytest.fixture
def open_page(browser: Browser, base: str) -> Open:
    """Pages of the service by path, watched."""

    def open_(
        path: str, *, colour_scheme: ColourScheme = "light", width: int = 1200
    ) -> AbstractContextManager[Tab]:
        return browsing.opened(browser, base + path, colour_scheme=colour_scheme, width=width)

    return open_
