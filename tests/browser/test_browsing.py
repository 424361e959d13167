"""The examinations themselves: each finds what it is for, and lets a sound document pass."""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import Browser

from tests.browser.browsing import (
    IN_BROWSER,
    complaints_of,
    opened,
    overflow,
    photograph,
    printed,
    violations,
    violations_in_dark,
)

pytestmark = IN_BROWSER


def document(content: str) -> str:
    return (
        '<!doctype html><html lang="en"><head><meta charset="utf-8"><title>Document</title></head>'
        f"<body><main><h1>Document</h1>{content}</main></body></html>"
    )


def test_a_sound_document_passes(browser: Browser, tmp_path: Path) -> None:
    """Nothing asked for, nothing said, accessible, one page, as wide as the window."""
    assert complaints_of(browser, document("<p>Text</p>")) == []
    with opened(browser, document=document("<p>Text</p>"), colour_scheme="dark", width=360) as tab:
        assert violations(tab.page) == []
        assert overflow(tab.page) == 0
        assert len(printed(tab.page).pages) == 1
        assert "Text" in printed(tab.page, "Letter").pages[0].extract_text()
        photograph(tab.page, tmp_path / "page.png")
        assert (tmp_path / "page.png").read_bytes().startswith(b"\x89PNG")


def test_what_a_document_asks_or_says_is_found(browser: Browser) -> None:
    """A request to anyone, the service itself among them, a message, an error."""
    found = complaints_of(
        browser,
        document(
            '<img alt="" src="http://192.0.2.1/picture.png"><img alt="" src="/picture.png">'
            "<script>console.warn('careful')</script><script>throw new Error('broken')</script>"
        ),
    )
    for complaint in (
        "asked for http://192.0.2.1/picture.png",
        "asked for http://127.0.0.1/picture.png",
        "warning: careful",
        "uncaught: broken",
    ):
        assert any(complaint in row for row in found), found


def test_faults_of_a_page_are_found(browser: Browser) -> None:
    """A picture without words, content wider than the window, more than one page."""
    content = '<img src="data:,"><div style="width:50rem;height:90rem">Wide and long</div>'
    with opened(browser, document=document(content), width=360) as tab:
        assert any(found.startswith("image-alt at img") for found in violations(tab.page))
        assert overflow(tab.page) > 400
        assert len(printed(tab.page).pages) > 1


def test_a_colour_that_dark_makes_illegible_is_found(browser: Browser) -> None:
    """Though it is legible in light."""
    style = "@media (prefers-color-scheme: dark) { p { color: #222; background: #000 } }"
    with opened(browser, document=document(f"<style>{style}</style><p>Text</p>")) as tab:
        assert violations(tab.page) == []
        assert any(found.startswith("color-contrast at p") for found in violations_in_dark(tab.page))


def test_a_watched_tab_fails_by_itself(browser: Browser) -> None:
    """On leaving, unless the message was expected."""
    said = document("<script>console.error('odd')</script>")
    with pytest.raises(AssertionError, match="odd"), opened(browser, document=said):
        pass
    with opened(browser, document=said) as tab:
        tab.seen.expect("odd")
