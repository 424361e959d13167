"""Opening pages in Debian's Chromium, and examining what it shows.

Every tab is watched: a request to any host but loopback is cut off and recorded, and so is everything
that the browser says on its console.  A tab that has seen any of it fails when it is closed.
"""

from __future__ import annotations

import re
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from io import BytesIO
from pathlib import Path
from typing import Any, Literal

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, BrowserContext, Page, Request, Route, sync_playwright
from pypdf import PdfReader

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")

#: For ``pytestmark`` of every module that needs a browser.  One group, so that one worker starts one
#: browser when the tests are spread over processes.
IN_BROWSER = [
    pytest.mark.skipif(CHROMIUM is None, reason="chromium is not installed (CI installs it)"),
    pytest.mark.slow,
    pytest.mark.xdist_group("browser"),
]

Paper = Literal["A4", "Letter"]
ColourScheme = Literal["light", "dark"]

#: Far beyond what anything takes, so that only a page that never gets there fails [ms].
PATIENCE = 60_000
#: Where a document given as a string is put; answered by the test itself, never asked for.
_DOCUMENT_ADDRESS = "http://127.0.0.1/document"
_OTHER_HOSTS = re.compile(r"^(?!data:|blob:|about:)(?!\w+://127\.0\.0\.1[:/])")


@contextmanager
def started() -> Iterator[Browser]:
    """Chromium, without a window.

    While it runs, playwright keeps an event loop marked as running in this thread, in which nothing
    else that uses asyncio could start one.
    """
    assert CHROMIUM is not None
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=CHROMIUM,
            args=[
                "--no-sandbox",
                "--disable-quic",
                # The browser's own errands go nowhere either.
                "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE 127.0.0.1",
            ],
        )
        try:
            yield browser
        finally:
            browser.close()


@dataclass
class Seen:
    """What a tab asked of others and what its browser said."""

    requests: list[str] = field(default_factory=list)
    messages: list[str] = field(default_factory=list)
    _expected: list[str] = field(default_factory=list)

    def expect(self, message: str) -> None:
        """Let messages pass that hold this text, such as what the browser says of a status 422."""
        self._expected.append(message)

    def complaints(self) -> list[str]:
        """Everything that should not have been."""
        return [f"asked for {address}" for address in self.requests] + [
            message for message in self.messages if not any(text in message for text in self._expected)
        ]

    def _watch(self, context: BrowserContext) -> None:
        def cut_off(route: Route) -> None:
            self.requests.append(route.request.url)
            route.abort()

        context.route(_OTHER_HOSTS, cut_off)
        context.on(
            "console",
            lambda message: (
                self.messages.append(f"{message.type}: {message.text}")
                if message.type in ("error", "warning")
                else None
            ),
        )
        context.on("weberror", lambda error: self.messages.append(f"uncaught: {error.error}"))


@dataclass(frozen=True)
class Tab:
    """An open page, and what it has been seen to do."""

    page: Page
    seen: Seen


@contextmanager
def opened(
    browser: Browser,
    address: str | None = None,
    *,
    document: str | None = None,
    colour_scheme: ColourScheme = "light",
    width: int = 1200,
) -> Iterator[Tab]:
    """A page by its address or as a document, in a profile of its own.

    A document may ask for nothing at all, not even of loopback.  Leaving without an exception fails
    if there is anything to complain of.
    """
    context = browser.new_context(
        color_scheme=colour_scheme,
        viewport={"width": width, "height": 800},
        reduced_motion="reduce",
        service_workers="block",
    )
    try:
        context.set_default_timeout(PATIENCE)
        seen = Seen()
        seen._watch(context)
        if document is not None:
            _serve(context, document, seen)
            address = _DOCUMENT_ADDRESS
        page = context.new_page()
        if address is not None:
            page.goto(address)
        yield Tab(page, seen)
        page.evaluate("0")  # what was said before has arrived once this is answered
        assert not seen.complaints(), "; ".join(seen.complaints())
    finally:
        context.close()


def _serve(context: BrowserContext, document: str, seen: Seen) -> None:
    def answer(route: Route) -> None:
        route.fulfill(body=document, content_type="text/html; charset=utf-8")

    def record(request: Request) -> None:
        if request.url != _DOCUMENT_ADDRESS and request.url.startswith("http"):
            seen.requests.append(request.url)

    context.route("**/*", lambda route: route.abort())
    context.route(_DOCUMENT_ADDRESS, answer)
    context.on("request", record)


def complaints_of(browser: Browser, document: str) -> list[str]:
    """Requests and console messages of a document given as a string; none where it stands alone."""
    with opened(browser, document=document) as tab:
        tab.page.wait_for_load_state("networkidle")
        found = tab.seen.complaints()
        tab.seen.expect("")  # they are the caller's to judge
        tab.seen.requests.clear()
    return found


def violations(page: Page, *rules: str) -> list[str]:
    """What axe-core finds against accessibility, by all its rules or some: rule, place, and what to mend."""
    # Documents in frames are examined where they are made: a frame without scripts cannot answer.
    options: dict[str, Any] = {"resultTypes": ["violations"], "iframes": False}
    found = Axe().run(page, options={**options, "runOnly": list(rules)} if rules else options)
    return [
        f"{rule['id']} at {', '.join(map(str, node['target']))}: {node['failureSummary']}"
        for rule in found.response["violations"]
        for node in rule["nodes"]
    ]


def printed(page: Page, paper: Paper = "A4") -> PdfReader:
    """The page as it prints: ``len(printed(page).pages)``, ``printed(page).pages[0].extract_text()``."""
    return PdfReader(BytesIO(page.pdf(format=paper, print_background=True, prefer_css_page_size=True)))


def violations_in_dark(page: Page) -> list[str]:
    """The same after a change to dark: colours are all that a scheme changes."""
    page.emulate_media(color_scheme="dark")
    assert page.evaluate("matchMedia('(prefers-color-scheme: dark)').matches")
    return violations(page, "color-contrast", "link-in-text-block")


def overflow(page: Page) -> int:
    """By how much a page is wider than the window [px]; 0 where nothing needs scrolling sideways."""
    wider: int = page.evaluate("document.scrollingElement.scrollWidth - document.scrollingElement.clientWidth")
    return wider


def photograph(page: Page, path: Path) -> None:
    """The whole page as PNG, for a person to look at."""
    page.screenshot(path=path, full_page=True, animations="disabled")
