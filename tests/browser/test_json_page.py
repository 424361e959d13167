"""The JSON page as a person uses it: pick or type a request, send it, read what came."""

from __future__ import annotations

import json
import shutil
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import pytest
from playwright.sync_api import Locator, Page, expect

from schemas.examples import (
    comparison_examples,
    diagnosis_examples,
    examples,
    plan_examples,
    trend_examples,
)
from tests.browser.browsing import (
    IN_BROWSER,
    PATIENCE,
    ColourScheme,
    Tab,
    overflow,
    violations,
    violations_in_dark,
)
from tests.browser.conftest import Open
from tests.nightly import AT_NIGHT

pytestmark = IN_BROWSER

expect.set_options(timeout=PATIENCE)

#: Pressures and the temperatures of the refrigerant's lines: too little for a picture of the air.
NO_AIR = {
    "units": "imperial",
    "unit": {"refrigerant": "R-410A", "metering_device": "thermostatic_expansion_valve"},
    "run": {
        "minutes_running": 20,
        "readings": {
            "suction_pressure": 124,
            "suction_line_temperature": 55.5,
            "liquid_pressure": 352,
            "liquid_line_temperature": 97.0,
        },
    },
}
#: What the browser says itself of a refused request.
REFUSED = "the server responded with a status of 422"


@contextmanager
def json_page(open_page: Open, base: str, *, colour_scheme: ColourScheme = "light", width: int = 1200) -> Iterator[Tab]:
    """The page with its first example in the editor."""
    with open_page("/json", colour_scheme=colour_scheme, width=width) as tab:
        expect(tab.page.locator("#command")).to_contain_text("r410a_expansion_valve.json")
        yield tab


def ask_for(page: Page, *names: str) -> None:
    """Tick these and nothing else."""
    page.locator("#asks input").evaluate_all(
        "(boxes, names) => boxes.filter((box) => box.checked !== names.includes(box.name))"
        ".forEach((box) => box.click())",
        names,
    )


def send(page: Page, asked: int) -> None:
    """Send, and wait until everything has come."""
    page.get_by_role("button", name="Send").click()
    expect(page.get_by_text(f"Done: {asked} of {asked}.")).to_be_visible()


def problem(page: Page) -> Locator:
    """What was refused; its heading has the focus."""
    found = page.locator("#problem")
    expect(found.get_by_role("heading")).to_be_focused()
    return found


def command(page: Page, name: str) -> str:
    """The command for one of the things that can be asked for."""
    page.get_by_label("Command for").select_option(name)
    return page.locator("#command").inner_text()


def run_in_shell(line: str) -> str:
    if shutil.which("curl") is None:
        pytest.skip("curl is not installed")
    done = subprocess.run(["bash", "-c", line], capture_output=True, text=True, timeout=60, check=True)
    return done.stdout


def walk_to(page: Page, target: Locator) -> None:
    """Tab until there; every stop on the way shows that it has the focus."""
    for _ in range(40):
        page.keyboard.press("Tab")
        outline = page.evaluate("getComputedStyle(document.activeElement).outlineStyle")
        where = page.evaluate("document.activeElement.outerHTML.slice(0, 80)")
        assert outline != "none", where
        if target.evaluate("node => node === document.activeElement"):
            return
    raise AssertionError("never reached")


def test_a_visit_by_keyboard_alone(open_page: Open, base: str) -> None:
    """The third example picked and sent: report, pictures with words, answer, and the command."""
    with json_page(open_page, base) as tab:
        page = tab.page
        walk_to(page, page.get_by_label("Example"))
        page.keyboard.press("ArrowDown")
        page.keyboard.press("ArrowDown")
        expect(page.locator("#command")).to_have_text(
            f"curl -s {base}/examples/r410a_capacity.json | "
            f"curl -s '{base}/v1/reports?audience=technician' "
            "-H 'Content-Type: application/json' -d @-"
        )
        expect(page.get_by_label("Request, as JSON")).to_have_value(
            json.dumps(examples()["r410a_capacity"], indent=2, ensure_ascii=False)
        )
        walk_to(page, page.get_by_role("button", name="Send"))
        page.keyboard.press("Enter")
        expect(page.get_by_role("status").get_by_text("Done: 6 of 6.")).to_be_visible()

        frame = page.locator("iframe")
        expect(frame).to_have_attribute("title", "Report for the technician")
        expect(frame).to_have_attribute("sandbox", "allow-same-origin")
        expect(page.frame_locator("iframe").get_by_role("heading", level=1)).to_be_visible()
        # As tall as what it holds, so that nothing scrolls within it.
        tall = "node => node.clientHeight - node.contentDocument.documentElement.offsetHeight"
        assert frame.evaluate(tall) == 0
        pictures = page.locator("figure img")
        expect(pictures).to_have_count(4)
        for picture in pictures.all():
            assert picture.get_attribute("alt")
            picture.evaluate("node => node.decode()")
        assert page.get_by_alt_text("Graded values against their limits").count() == 1
        answer = page.get_by_role("region", name="Assessment as JSON")
        expect(answer).to_be_hidden()
        walk_to(page, page.locator("#result > details > summary"))
        page.keyboard.press("Enter")
        expect(answer).to_contain_text('"usability": {')


_VISIT = "technician* customer limits* refrigerant_cycle* air_process* fault_probabilities*"
#: Address and body of an example, what the page reads it as, and what it offers; ticked with a star.
KINDS: tuple[tuple[str, Any, str, str], ...] = (
    (
        "r22_fixed_orifice",
        examples()["r22_fixed_orifice"],
        "the readings of one visit",
        f"{_VISIT} assessments* diagnoses",
    ),
    (
        "comparisons/coil_cleaned",
        comparison_examples()["coil_cleaned"],
        "runs before and after a service",
        "technician* customer changes* refrigerant_cycle* air_process* limits* comparisons*",
    ),
    (
        "trends/five_summers",
        trend_examples()["five_summers"],
        "a series of runs",
        "technician* customer trend* trends*",
    ),
    (
        "plans/cleaning_planned",
        plan_examples()["cleaning_planned"],
        "readings yet to be made",
        "plans*",
    ),
    (
        "diagnoses/charge_lost",
        diagnosis_examples()["charge_lost"],
        "the readings of one visit",
        f"{_VISIT} assessments diagnoses*",
    ),
    (
        "diagnoses/fouled_with_baseline",
        diagnosis_examples()["fouled_with_baseline"],
        "the readings of one visit",
        f"{_VISIT} diagnoses*",
    ),
)


def test_each_kind_of_body_offers_what_fits(open_page: Open, base: str) -> None:
    """Picked or pasted, the boxes are the same; the command names the example, then the body."""
    with json_page(open_page, base) as tab:
        page = tab.page
        editor, example = page.get_by_label("Request, as JSON"), page.get_by_label("Example")
        for path, body, read_as, asks in KINDS:
            example.select_option(path)
            text = json.dumps(body, indent=2, ensure_ascii=False)
            expect(editor).to_have_value(text)
            for pasted in (False, True):
                if pasted:
                    editor.fill(text.replace("\n", "\n "))
                expect(example).to_have_value("" if pasted else path)
                expect(page.locator("#kind")).to_have_text(f"Read as {read_as}.")
                boxes: list[tuple[str, bool]] = page.locator("#asks input").evaluate_all(
                    "boxes => boxes.map((box) => [box.name, box.checked])"
                )
                assert asks.split() == [f"{name}{'*' * ticked}" for name, ticked in boxes]
                shown = command(page, asks.split()[-1].rstrip("*"))
                assert (f"curl -s {base}/examples/{path}.json |" in shown) is not pasted


def test_each_kind_of_body_is_answered(open_page: Open, base: str) -> None:
    """With JSON, whatever the kind."""
    with json_page(open_page, base) as tab:
        page = tab.page
        for path, body, _, asks in KINDS:
            page.get_by_label("Request, as JSON").fill(json.dumps(body))
            answer = asks.split()[-1].rstrip("*")
            expect(page.locator(f"#asks [name={answer}]")).to_be_visible()
            ask_for(page, answer)
            send(page, 1)
            got = json.loads(page.locator("#result pre").text_content() or "")
            assert "provenance" in got, path


def test_the_command_does_the_same(open_page: Open, base: str) -> None:
    """Given to a shell, as the page shows it: the example's picture and answer."""
    with json_page(open_page, base) as tab:
        assert run_in_shell(command(tab.page, "limits")).startswith("<svg")
        answer = json.loads(run_in_shell(command(tab.page, "assessments")))
        assert answer["findings"]


def test_the_command_of_an_edited_body_is_safe_for_the_shell(open_page: Open, base: str) -> None:
    """Quotes, substitutions and a would-be end of the here-document stay the body's own."""
    name = "it's $HOME, `id` and $(id) \\ END"
    body = {**NO_AIR, "kit": {name: {"type": "pressure_transducer"}}}
    with json_page(open_page, base) as tab:
        page = tab.page
        page.get_by_label("Request, as JSON").fill(json.dumps(body, indent=1))
        expect(page.get_by_label("Example")).to_have_value("")
        answer = json.loads(run_in_shell(command(page, "assessments")))
        assert name in json.dumps(answer["instruments"]).encode().decode("unicode_escape")
        # Such a body is no JSON, but nor may it run: the service gets it and refuses it.
        page.get_by_label("Request, as JSON").fill("END\necho run by mistake\nEND_\n")
        said = run_in_shell(command(page, "assessments"))
        assert json.loads(said)["title"] == "Body is not valid JSON"


def test_what_is_not_json_is_not_sent(open_page: Open, base: str) -> None:
    """The place is told, and nothing is asked of the service."""
    with json_page(open_page, base) as tab:
        page, sent = tab.page, []
        page.on("request", lambda request: sent.append(request.url))
        page.get_by_label("Request, as JSON").fill('{\n  "units": "imperial",\n  "run": }\n')
        page.get_by_role("button", name="Send").click()
        found = problem(page)
        expect(found).to_contain_text("The request is not JSON")
        expect(found).to_contain_text('"run": }')
        expect(page.get_by_label("Request, as JSON")).to_have_attribute("aria-invalid", "true")
        assert sent == []


def test_a_refused_body_says_where_and_what_to_do(open_page: Open, base: str) -> None:
    """Pointer, what is allowed and the hint, with the focus there; mended, it goes through."""
    with json_page(open_page, base) as tab:
        page = tab.page
        tab.seen.expect(REFUSED)
        without = {name: value for name, value in NO_AIR.items() if name != "units"}
        page.get_by_label("Request, as JSON").fill(json.dumps(without))
        ask_for(page, "limits", "assessments")
        page.get_by_role("button", name="Send").click()
        found = problem(page)
        expect(found).to_contain_text("Invalid request")
        expect(found).to_contain_text("1 field was refused.")
        item = found.get_by_role("listitem")
        expect(item).to_contain_text("/units is missing")
        expect(item).to_contain_text("Allowed: imperial or metric.")
        expect(item).to_contain_text('"units": "imperial"')
        assert violations(page) == []
        page.get_by_label("Request, as JSON").fill(json.dumps(NO_AIR))
        send(page, 2)
        expect(found).to_be_hidden()


def test_a_value_out_of_range_is_shown(open_page: Open, base: str) -> None:
    """With what was given."""
    body = json.loads(json.dumps(NO_AIR))
    body["run"]["readings"]["suction_pressure"] = "a lot"
    with json_page(open_page, base) as tab:
        page = tab.page
        tab.seen.expect(REFUSED)
        page.get_by_label("Request, as JSON").fill(json.dumps(body))
        ask_for(page, "assessments")
        page.get_by_role("button", name="Send").click()
        expect(problem(page).get_by_role("listitem").first).to_contain_text('Given: "a lot".')


def test_a_picture_that_cannot_be_drawn_stops_nothing(open_page: Open, base: str) -> None:
    """A sentence stands in its place, and the rest comes."""
    with json_page(open_page, base) as tab:
        page = tab.page
        tab.seen.expect(REFUSED)
        page.get_by_label("Request, as JSON").fill(json.dumps(NO_AIR))
        ask_for(page, "limits", "air_process", "assessments")
        page.get_by_role("button", name="Send").click()
        expect(page.get_by_text("Done: 2 of 3.")).to_be_visible()
        absent = page.locator("figure").filter(has_text="Air through the indoor coil")
        expect(absent).to_contain_text("Not drawn.")
        expect(page.locator("figure img")).to_have_count(1)
        expect(page.locator("#problem")).to_be_hidden()


def test_sending_again_starts_afresh(open_page: Open, base: str) -> None:
    """Twice in a row, also before the first has come: one set of results."""
    with json_page(open_page, base) as tab:
        page = tab.page
        ask_for(page, "limits", "assessments")
        page.get_by_role("button", name="Send").dblclick()
        expect(page.get_by_text("Done: 2 of 2.")).to_be_visible()
        expect(page.locator("figure img")).to_have_count(1)
        expect(page.locator("#result details pre")).to_have_count(1)


def test_nothing_asked_for_is_said(open_page: Open, base: str) -> None:
    """Rather than a silence."""
    with json_page(open_page, base) as tab:
        ask_for(tab.page)
        tab.page.get_by_role("button", name="Send").click()
        expect(problem(tab.page)).to_contain_text("Nothing is selected")


def test_the_command_is_copied(open_page: Open, base: str) -> None:
    """To the clipboard; where there is none, selected for the reader to copy."""
    with json_page(open_page, base) as tab:
        page = tab.page
        page.context.grant_permissions(["clipboard-read", "clipboard-write"])
        line = command(page, "limits")
        page.get_by_role("button", name="Copy").click()
        expect(page.get_by_role("status").get_by_text("Copied", exact=True)).to_be_visible()
        assert page.evaluate("navigator.clipboard.readText()") == line
        page.evaluate("Object.defineProperty(navigator, 'clipboard', {value: undefined})")
        page.get_by_role("button", name="Copy").click()
        expect(page.get_by_role("status").get_by_text("Selected")).to_be_visible()
        assert page.evaluate("getSelection().toString()") == line


@pytest.mark.parametrize(("colour_scheme", "width"), [("light", 360), *([("dark", 1200)] if AT_NIGHT else [])])
def test_the_page_is_accessible(open_page: Open, base: str, colour_scheme: ColourScheme, width: int) -> None:
    """Before and after sending: no violation, and nothing to scroll sideways."""
    with json_page(open_page, base, colour_scheme=colour_scheme, width=width) as tab:
        page = tab.page
        assert violations(page) == []
        assert overflow(page) == 0
        page.get_by_label("Example").select_option("r410a_capacity")
        expect(page.locator("#command")).to_contain_text("r410a_capacity")
        send(page, 6)
        page.locator("#result > details > summary").click()
        page.locator("figcaption summary").first.click()
        assert violations(page) == []
        assert overflow(page) == 0
        page.set_viewport_size({"width": 1200, "height": 800})
        assert overflow(page) == 0
        assert violations_in_dark(page) == []
