"""The docs page: every operation shows, ready to send, without any other host."""

from __future__ import annotations

import re

from playwright.sync_api import expect

from tests.browser.browsing import IN_BROWSER, PATIENCE
from tests.browser.conftest import Open

pytestmark = IN_BROWSER


def test_docs_offer_an_example_ready_to_send(open_page: Open) -> None:
    """Every operation shows; the one opened has its example in the editor, and is answered.

    Other hosts and messages of the browser fail the tab.
    """
    with open_page("/docs#/assessments/assessVisit") as tab:
        page = tab.page
        operation = page.locator("#operations-assessments-assessVisit")
        execute = operation.get_by_role("button", name="Execute")
        expect(execute).to_be_visible(timeout=PATIENCE)
        for summary in (
            "Assess one visit",
            "Pressure-temperature table",
            "Can it accept requests?",
        ):
            expect(page.get_by_text(summary, exact=True)).to_be_visible(timeout=PATIENCE)
        expect(operation).to_contain_text("R-22 with fixed orifice", timeout=PATIENCE)
        expect(operation.locator("textarea.body-param__text")).to_have_value(
            re.compile("compressor_start_winding_current"), timeout=PATIENCE
        )
        execute.click()
        expect(operation.locator(".live-responses-table tbody .response-col_status")).to_contain_text(
            "200", timeout=PATIENCE
        )
