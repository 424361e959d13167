"""The service as a process of its own, and a browser to open it with."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import AbstractContextManager
from typing import Protocol

import pytest
from playwright.sync_api import Browser

from tests.browser import browsing
from tests.browser.browsing import ColourScheme, Tab
from tests.serving.running import serving


@pytest.fixture(scope="package")
def base() -> Iterator[str]:
    """Address of the service, running on a free port; it answers batches itself, as pages send none."""
    with serving("service", processes=1, batch_processes=0) as running:
        yield running.address


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

    def open_(path: str, *, colour_scheme: ColourScheme = "light", width: int = 1200) -> AbstractContextManager[Tab]:
        return browsing.opened(browser, base + path, colour_scheme=colour_scheme, width=width)

    return open_
