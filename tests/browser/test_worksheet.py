"""The worksheet as a technician uses it: on a phone, with a keyboard, without a signal, in either unit system."""

from __future__ import annotations

import copy
import json
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, Locator, Page, Route, expect

from schemas.examples import comparison_examples, diagnosis_examples, examples
from schemas.readings import READINGS
from tests.browser.browsing import (
    IN_BROWSER,
    PATIENCE,
    ColourScheme,
    Tab,
    opened,
    overflow,
    printed,
    violations,
    violations_in_dark,
)
from tests.browser.conftest import Open
from tests.nightly import AT_NIGHT

pytestmark = IN_BROWSER

expect.set_options(timeout=PATIENCE)

PHONE = 390
#: A dirty outdoor coil, before and after it was washed; an invented visit.
BEFORE = {
    "suction_pressure": "121",
    "suction_line_temperature": "56.5",
    "liquid_pressure": "385",
    "liquid_line_temperature": "103",
    "outdoor_air_dry_bulb": "88",
    "return_air_dry_bulb": "76",
    "return_air_wet_bulb": "63.5",
    "supply_air_dry_bulb": "57.5",
}
AFTER = {
    "suction_pressure": "118",
    "suction_line_temperature": "55",
    "liquid_pressure": "318",
    "liquid_line_temperature": "94",
    "outdoor_air_dry_bulb": "89",
    "return_air_dry_bulb": "76",
    "return_air_wet_bulb": "63.6",
    "supply_air_dry_bulb": "56.5",
}
#: What the browser says itself of a refused request, and of one that found no network.
REFUSED, NO_NETWORK = "the server responded with a status of", "net::ERR_INTERNET_DISCONNECTED"
#: A picture that the readings do not allow.
NOT_DRAWN = "the server responded with a status of 422"
NO_WORKER = "Service Worker registration blocked by Playwright"


@contextmanager
def worksheet(open_page: Open, *, colour_scheme: ColourScheme = "light", width: int = PHONE) -> Iterator[Tab]:
    """The page with its form, in a browser that has never seen it; imperial."""
    with open_page("/", colour_scheme=colour_scheme, width=width) as tab:
        tab.seen.expect(NO_WORKER)
        tab.seen.expect(NOT_DRAWN)
        expect(tab.page.locator("#form")).to_be_visible()
        yield tab


def entry(page: Page, place: str) -> Locator:
    """The input at a place of the visit."""
    return page.locator(f'[id="{place}"]')


def reading(page: Page, name: str, run: str = "before") -> Locator:
    return entry(page, f"/runs/{run}/readings/{name}")


def labelled(part: Page | Locator, label: str) -> Locator:
    """The entry with exactly this label."""
    return part.get_by_label(label, exact=True)


def type_readings(page: Page, readings: Mapping[str, str], run: str = "before") -> None:
    for name, text in readings.items():
        reading(page, name, run).fill(text)


def send(page: Page) -> None:
    """Send, and wait until the pictures have come too."""
    page.locator("#send").click()
    expect(page.get_by_role("status").get_by_text("Done.")).to_be_visible()


def exported(page: Page, tmp_path: Path) -> dict[str, Any]:
    """The body in the file that an export saves."""
    show(page, "#visits")
    with page.expect_download() as waiting:
        page.get_by_role("button", name="Export this visit").click()
    path = tmp_path / "exported.json"
    waiting.value.save_as(path)
    found: dict[str, Any] = json.loads(path.read_text("utf-8"))
    return found


def import_body(page: Page, tmp_path: Path, body: Any) -> None:  # noqa: ANN401
    path = tmp_path / "imported.json"
    path.write_text(body if isinstance(body, str) else json.dumps(body), "utf-8")
    show(page, "#visits")
    page.locator("#import").set_input_files(path)


def show(page: Page, details: str) -> None:
    """Open a part that is folded."""
    page.locator(details).evaluate("node => { node.open = true; }")


def answer(page: Page) -> Locator:
    found = page.locator("#answer")
    expect(found).to_be_visible()
    return found


def test_a_visit_before_and_after_on_a_phone(open_page: Open, tmp_path: Path) -> None:
    """Typed, answered in words, then pictures, then numbers; the change as read next to each reading."""
    with worksheet(open_page) as tab:
        page = tab.page
        labelled(page, "Visit").fill("Work order 1042")
        labelled(page, "Refrigerant").select_option("R-410A")
        labelled(page, "Metering device").select_option("Thermostatic expansion valve")
        labelled(page, "Nameplate subcooling").fill("9")
        labelled(page, "Rated cooling capacity").fill("36000")
        labelled(page, "Rated EER").fill("11.4")
        entry(page, "/runs/before/minutes_running").fill("20")
        type_readings(page, BEFORE)
        expect(page.locator("#counted")).to_have_text("8 readings")
        send(page)
        expect(answer(page).locator(".lead")).to_contain_text("an outdoor coil that is not getting rid of enough heat")
        expect(page.locator("#answer_title")).to_be_focused()
        headings = answer(page).locator("h3").all_inner_texts()
        assert headings.index("Cautions") < headings.index("Pictures") < headings.index("Numbers")
        for picture in answer(page).locator("figure img").all():
            assert picture.get_attribute("alt")

        labelled(page, "Coil cleaning").check()
        page.locator("#after > summary").click()
        entry(page, "/runs/after/minutes_running").fill("20")
        type_readings(page, AFTER, "after")
        change = page.locator(".field", has=reading(page, "liquid_pressure", "after")).locator(".change")
        expect(change).to_have_text("Before: 385 psi. Change as read: −67 psi")
        show(page, "details[data-key=price]")
        labelled(page, "Price of the service").fill("180")
        labelled(page, "Cooling hours").fill("1200")
        labelled(page, "Energy price").fill("0.17")
        expect(page.locator("#send")).to_have_text("Compare before and after")
        send(page)
        expect(answer(page).locator(".lead")).to_contain_text("The system improved")
        expect(answer(page)).to_contain_text("the service pays for itself in about")
        assert overflow(page) == 0
        assert exported(page, tmp_path)["service"] == {"work": ["coil_cleaning"], "price": 180}


def test_a_report_is_printed_and_saved(open_page: Open, browser: Browser, tmp_path: Path) -> None:
    """As tall as its content in the page; printed from there; saved, it prints to two sheets."""
    with worksheet(open_page) as tab:
        page = tab.page
        body = copy.deepcopy(dict(comparison_examples()["coil_cleaned"]))
        body["labels"] = {"visit": "Work order 1042"}
        import_body(page, tmp_path, body)
        send(page)
        page.get_by_role("button", name="Report for the customer").click()
        frame = page.locator("iframe")
        expect(page.frame_locator("iframe").get_by_text("Work order 1042")).to_be_visible()
        tall = "node => node.clientHeight - node.contentDocument.documentElement.offsetHeight"
        assert frame.evaluate(tall) >= 0
        frame.evaluate("node => { node.contentWindow.print = () => { window.printed = true; }; }")
        page.get_by_role("button", name="Print this report").click()
        assert page.evaluate("window.printed") is True
        with page.expect_download() as waiting:
            page.get_by_role("button", name="Save this report").click()
        report = waiting.value.path().read_text("utf-8")
        with page.expect_download() as waiting:
            page.get_by_role("button", name="Save values as CSV").click()
        assert waiting.value.path().read_text("utf-8").startswith("quantity")
    with opened(browser, document=report, width=712) as tab:
        sheets = printed(tab.page).pages
        assert len(sheets) <= 2
        assert "Work order 1042" in sheets[0].extract_text()


def walk_to(page: Page, target: Locator) -> None:
    """Tab until there; every stop on the way shows that it has the focus, and is not under the bar."""
    seen = """() => {
        const node = document.activeElement, box = node.getBoundingClientRect();
        const bar = document.querySelector(".bar"), over = bar.getBoundingClientRect();
        const hidden = !bar.contains(node) && box.bottom > over.top + 1 && box.top < over.bottom - 1;
        return [getComputedStyle(node).outlineStyle !== "none" && !hidden, node.outerHTML.slice(0, 90)];
    }"""
    for _ in range(60):
        page.keyboard.press("Tab")
        shown, where = page.evaluate(seen)
        assert shown, where
        if target.evaluate("node => node === document.activeElement"):
            return
    raise AssertionError("never reached")


def test_a_visit_by_keyboard_alone(open_page: Open) -> None:
    """Skip link, choices, Enter from entry to entry, send, and from what to read next to its field."""
    with worksheet(open_page) as tab:
        page = tab.page
        page.keyboard.press("Tab")
        expect(page.locator(".skip")).to_be_focused()
        walk_to(page, labelled(page, "Refrigerant"))
        page.keyboard.type("R-410")
        walk_to(page, reading(page, "suction_pressure"))
        page.keyboard.type("118")
        page.keyboard.press("Enter")
        expect(reading(page, "suction_line_temperature")).to_be_focused()
        page.keyboard.type("56")
        walk_to(page, page.locator("#send"))
        page.keyboard.press("Enter")
        expect(page.locator("#answer_title")).to_be_focused()
        expect(page.get_by_role("status").get_by_text("Done.")).to_be_visible()
        walk_to(page, answer(page).get_by_role("link", name="Liquid pressure").first)
        page.keyboard.press("Enter")
        expect(reading(page, "liquid_pressure")).to_be_focused()
        next_line = page.locator(".field", has=reading(page, "liquid_pressure")).locator(".next")
        expect(next_line).to_contain_text("Read next.")
        page.keyboard.type("385")
        expect(next_line).to_be_hidden()


def test_nothing_typed_is_lost(open_page: Open) -> None:
    """A reload in the middle, no signal and back, an entry that is no number: all stay; then the answer comes."""
    with worksheet(open_page) as tab:
        page = tab.page
        tab.seen.expect(NO_NETWORK)
        labelled(page, "Refrigerant").select_option("R-410A")
        type_readings(page, BEFORE)
        reading(page, "outdoor_air_dry_bulb").fill("9l")
        page.reload()
        expect(reading(page, "suction_pressure")).to_have_value("121")
        expect(reading(page, "outdoor_air_dry_bulb")).to_have_value("9l")
        page.locator("#send").click()
        expect(page.locator("#problem")).to_contain_text("“9l” is not a number.")
        expect(reading(page, "outdoor_air_dry_bulb")).to_have_attribute("aria-invalid", "true")
        reading(page, "outdoor_air_dry_bulb").fill("91")

        page.context.set_offline(True)
        expect(page.locator("#offline")).to_be_visible()
        reading(page, "supply_air_dry_bulb").fill("58")
        page.locator("#send").click()
        expect(page.locator("#problem_title")).to_be_focused()
        expect(page.locator("#problem")).to_contain_text("Nothing you typed is lost")
        page.context.set_offline(False)
        expect(page.locator("#offline")).to_be_hidden()
        page.get_by_role("button", name="Try again").click()
        expect(answer(page).locator(".lead")).to_be_visible()
        expect(page.locator("#problem")).to_be_hidden()
        expect(page.get_by_role("status").get_by_text("Done.")).to_be_visible()


def test_the_page_opens_without_a_signal(browser: Browser, base: str) -> None:
    """Once it was open in a browser that allows it, it opens again with what was typed."""
    context = browser.new_context(viewport={"width": PHONE, "height": 800})
    try:
        page = context.new_page()
        page.goto(base)
        page.evaluate("""async () => {
            await navigator.serviceWorker.ready;
            while (!await caches.match("/page/visits.js") || !await caches.match("/")) {
                await new Promise((resolve) => setTimeout(resolve, 50));
            }
        }""")
        reading(page, "suction_pressure").fill("118")
        context.set_offline(True)
        page.reload()
        expect(reading(page, "suction_pressure")).to_have_value("118")
    finally:
        context.close()


def test_units_are_converted_and_come_back(open_page: Open, tmp_path: Path) -> None:
    """118 psi is 813.6 kPa and 63.5 °F is 17.5 °C (NIST SP 811: 6.894757 kPa, 5/9 K); back, as typed."""
    with worksheet(open_page) as tab:
        page = tab.page
        type_readings(page, {"suction_pressure": "118", "return_air_wet_bulb": "63.5", "outdoor_air_dry_bulb": "90.05"})
        labelled(page, "Nameplate subcooling").fill("9")
        labelled(page, "Metric (°C, kPa)").check()
        assert float(reading(page, "suction_pressure").input_value()) == pytest.approx(118 * 6.894757, abs=0.06)
        assert float(reading(page, "return_air_wet_bulb").input_value()) == pytest.approx(17.5, abs=0.01)
        # A difference, not a temperature: 9 °F of subcooling is 5 K.
        expect(labelled(page, "Nameplate subcooling")).to_have_value("5")
        expect(page.locator(".field", has=reading(page, "suction_pressure")).locator(".unit")).to_have_text("kPa gauge")
        reading(page, "suction_line_temperature").fill("13,5")
        body = exported(page, tmp_path)
        assert body["units"] == "metric"
        assert body["run"]["readings"]["suction_line_temperature"] == 13.5
        labelled(page, "Imperial (°F, psi)").check()
        expect(reading(page, "suction_pressure")).to_have_value("118")
        expect(reading(page, "outdoor_air_dry_bulb")).to_have_value("90.05")
        expect(labelled(page, "Nameplate subcooling")).to_have_value("9")
        assert float(reading(page, "suction_line_temperature").input_value()) == pytest.approx(56.3, abs=0.01)
        assert exported(page, tmp_path)["run"]["readings"]["outdoor_air_dry_bulb"] == 90.05


def test_ways_to_give_a_reading(open_page: Open, tmp_path: Path) -> None:
    """Absolute, in a unit of its own, by an instrument, repeated, as saturation temperature, as humidity."""
    with worksheet(open_page) as tab:
        page = tab.page
        labelled(page, "Add an instrument").select_option("Analog gauge")
        page.get_by_role("button", name="Add it").click()
        expect(page.get_by_role("group", name="Analog gauge")).to_contain_text("±3.5 psi")
        reading(page, "suction_pressure").fill("9.1")
        field = page.locator(".field", has=reading(page, "suction_pressure"))
        field.locator("summary").click()
        labelled(field, "Unit").select_option("bar")
        labelled(field, "Gauge or absolute").select_option("Absolute")
        labelled(field, "Instrument").select_option("analog gauge")
        expect(field.locator(".unit")).to_have_text("bar absolute")
        reading(page, "suction_line_temperature").fill("55 56 55.5")
        reading(page, "liquid_pressure").fill("350")
        page.get_by_role("button", name="Give liquid saturation temperature instead").click()
        reading(page, "liquid_saturation_temperature").fill("107")
        page.get_by_role("button", name="Give return air relative humidity instead").click()
        reading(page, "return_air_relative_humidity").fill("52")
        reading(page, "return_air_dry_bulb").fill("76")
        # A key of a phone's number pad that is lacking: the sign.
        reading(page, "outdoor_air_dry_bulb").fill("5")
        page.get_by_role("button", name="Change the sign of outdoor air dry bulb").click()
        labelled(page, "My name for it").fill("left gauges")
        labelled(page, "My name for it").press("Tab")
        body = exported(page, tmp_path)
        assert body["kit"] == {"left gauges": {"type": "analog_gauge"}}
        assert body["run"]["readings"] == {
            "suction_pressure": {"value": 9.1, "unit": "bar", "reference": "absolute", "instrument": "left gauges"},
            "suction_line_temperature": [55, 56, 55.5],
            "liquid_saturation_temperature": 107,
            "return_air_relative_humidity": 52,
            "return_air_dry_bulb": 76,
            "outdoor_air_dry_bulb": -5,
        }
        labelled(page, "Metric (°C, kPa)").check()
        page.get_by_role("button", name="Give liquid pressure instead").click()
        assert float(reading(page, "liquid_pressure").input_value()) == pytest.approx(350 * 6.894757, abs=0.06)
        expect(reading(page, "suction_pressure")).to_have_value("9.1")
        # What cannot be told apart is asked about, not guessed.
        entry(page, "/unit/rated/cooling_capacity").fill("36,000")
        entry(page, "/unit/rated/cooling_capacity").blur()
        expect(page.locator(".wrong:visible")).to_have_text(
            "Leave out the comma: write 36000, or use a point for decimals."
        )


def test_heating_asks_for_what_heating_needs(open_page: Open, tmp_path: Path) -> None:
    """With no group opened; what was typed before and after the mode changed is kept."""
    first = {
        "/unit/rated/heating_capacity": "35000",
        "/unit/rated/heating_cop": "3.6",
        "/runs/before/minutes_since_defrost": "25",
        "/runs/before/readings/discharge_line_temperature": "170",
        "/runs/before/readings/vapour_line_temperature": "162",
    }
    cooling = ("/unit/rated/eer", "/unit/nameplate/subcooling", "/runs/before/readings/return_air_wet_bulb")
    with worksheet(open_page) as tab:
        page = tab.page
        for place in first:
            expect(entry(page, place)).to_be_hidden()
        for place in cooling:
            expect(entry(page, place)).to_be_visible()
        entry(page, "/unit/rated/eer").fill("11.4")
        reading(page, "suction_pressure").fill("79")
        labelled(page, "Mode").focus()
        labelled(page, "Mode").select_option("Heating")
        expect(labelled(page, "Mode")).to_be_focused()
        for place in cooling:
            expect(entry(page, place)).to_be_hidden()
        for place, text in first.items():
            entry(page, place).fill(text)
        labelled(page, "Frost on outdoor coil").select_option("No")
        labelled(page, "Auxiliary heat on").select_option("Yes")
        field = page.locator(".field", has=reading(page, "suction_pressure"))
        expect(field.locator("summary")).to_contain_text("For evaporating temperature below outdoor air")
        expect(entry(page, "/runs/before/stage")).to_be_hidden()
        labelled(page, "Capacity control").select_option("Two stage")
        labelled(page, "Stage").select_option("Low")
        labelled(page, "Capacity control").select_option("Variable speed")
        expect(labelled(page, "Speed percent")).to_be_visible()
        labelled(page, "Capacity control").select_option("Two stage")
        assert overflow(page) == 0
        labelled(page, "Mode").select_option("Cooling")
        expect(entry(page, "/unit/rated/eer")).to_have_value("11.4")
        expect(entry(page, "/unit/rated/eer")).to_be_visible()
        expect(field.locator("summary")).to_contain_text("For superheat")
        body = exported(page, tmp_path)
        assert body["unit"]["rated"] == {"eer": 11.4, "heating_capacity": 35000, "heating_cop": 3.6}
        run = body["run"]
        assert run.pop("readings") == {
            "suction_pressure": 79,
            "discharge_line_temperature": 170,
            "vapour_line_temperature": 162,
        }
        assert run == {
            "minutes_since_defrost": 25,
            "frost_on_outdoor_coil": False,
            "auxiliary_heat_on": True,
            "stage": "low",
        }
        body = copy.deepcopy(dict(examples()["r410a_heat_pump_heating"]))
        body["unit"]["capacity_control"] = "two_stage"
        del body["run"]["minutes_since_defrost"]
        import_body(page, tmp_path, body)
        expect(page.locator("#imported")).to_have_text("Imported: imported.json")
        send(page)
        section = answer(page).locator("section", has=page.get_by_role("heading", name="Read next"))
        assert set(section.locator("li a").all_inner_texts()[:2]) == {"Minutes since defrost", "Stage"}
        since = page.locator(".field", has=entry(page, "/runs/before/minutes_since_defrost"))
        expect(since.locator(".next")).to_contain_text("cold enough for a heat pump to defrost")


def test_import_and_export_are_the_body(open_page: Open, tmp_path: Path) -> None:
    """Each example comes back as it was, in either system's units; another file changes nothing."""
    bodies = [*examples().values(), *comparison_examples().values(), *diagnosis_examples().values()]
    with worksheet(open_page) as tab:
        page = tab.page
        for body in bodies:
            import_body(page, tmp_path, body)
            expect(page.locator("#imported")).to_have_text("Imported: imported.json")
            assert exported(page, tmp_path) == json.loads(json.dumps(body))
        count = page.locator("#visit_list li").count()
        assert count == len(bodies)
        for wrong, why in (
            ("{", "It is not JSON"),
            ({"units": "metric", "runs": []}, "for the JSON page"),
            ({}, "neither"),
        ):
            import_body(page, tmp_path, wrong)
            expect(page.locator("#imported")).to_contain_text(why)
        # A unit of its own outlasts the switch; what is bare is converted.
        import_body(page, tmp_path, examples()["r410a_expansion_valve"])
        expect(page.locator("#imported")).to_have_text("Imported: imported.json")
        assert page.locator("#visit_list li").count() == count + 1


def test_visits_are_kept_listed_and_deleted(open_page: Open) -> None:
    """With their labels; the kit goes along to the next; deleting asks twice and leaves nothing."""
    with worksheet(open_page) as tab:
        page = tab.page
        labelled(page, "Visit").fill("First")
        page.get_by_role("button", name="Add it").click()
        show(page, "#visits")
        page.get_by_role("button", name="New visit").click()
        expect(labelled(page, "Visit")).to_be_focused()
        labelled(page, "Visit").fill("Second")
        expect(page.get_by_role("group", name="Pressure transducer")).to_be_visible()
        show(page, "#visits")
        page.get_by_role("button", name="First", exact=True).click()
        expect(labelled(page, "Visit")).to_have_value("First")
        show(page, "#visits")
        page.get_by_role("button", name="Delete Second").click()
        expect(page.locator("#visit_list li")).to_have_count(2)
        page.get_by_role("button", name="Delete Second: press again").click()
        expect(page.locator("#visit_list li")).to_have_count(1)
        everything = page.get_by_role("button", name="Delete all visits")
        everything.click()
        everything.click()
        expect(labelled(page, "Visit")).to_have_value("")
        assert "First" not in page.evaluate("JSON.stringify({...localStorage})")


def test_what_is_refused_shows_at_its_field(open_page: Open) -> None:
    """In the field's own words, with the way there; mended, it goes through."""
    with worksheet(open_page) as tab:
        page = tab.page
        tab.seen.expect(REFUSED)
        labelled(page, "Refrigerant").select_option("R-410A")
        type_readings(page, {"suction_pressure": "9999", "liquid_pressure": "350"})
        page.get_by_text("Current", exact=True).first.click()
        reading(page, "compressor_line_currents/l1").fill("900")
        page.locator("#send").click()
        expect(page.locator("#problem_title")).to_have_text("Please check these entries")
        expect(page.locator("#problem_title")).to_be_focused()
        field = page.locator(".field", has=reading(page, "suction_pressure"))
        expect(field.locator(".wrong")).to_contain_text("400 psi")
        expect(reading(page, "suction_pressure")).to_have_attribute("aria-invalid", "true")
        assert "wrong" in str(reading(page, "suction_pressure").get_attribute("aria-describedby"))
        assert violations(page) == []
        page.locator("#problem").get_by_role("link", name="L1").click()
        expect(reading(page, "compressor_line_currents/l1")).to_be_focused()
        page.keyboard.type("\b\b\b")
        reading(page, "compressor_line_currents/l1").fill("")
        page.locator("#problem").get_by_role("link", name="Suction pressure").click()
        reading(page, "suction_pressure").fill("118")
        expect(field.locator(".wrong")).to_be_hidden()
        send(page)
        expect(page.locator("#problem")).to_be_hidden()


def test_a_key_is_asked_for_where_it_is_needed(open_page: Open) -> None:
    """Refused without, it is asked for once, sent from then on, and not written into what is copied."""

    def guard(route: Route) -> None:
        if route.request.headers.get("x-api-key") == "open sesame":
            route.continue_()
        else:
            problem = {"type": "/problems/unauthorised", "title": "Key required", "status": 401, "errors": []}
            route.fulfill(status=401, content_type="application/problem+json", body=json.dumps(problem))

    with worksheet(open_page) as tab:
        page = tab.page
        tab.seen.expect(REFUSED)
        page.route("**/v1/**", guard)
        page.reload()
        type_readings(page, BEFORE)
        page.locator("#send").click()
        expect(labelled(page, "Key")).to_be_focused()
        page.keyboard.type("open sesame")
        page.keyboard.press("Enter")
        expect(answer(page)).to_be_visible()
        expect(page.get_by_role("status").get_by_text("Done.")).to_be_visible()
        page.context.grant_permissions(["clipboard-read", "clipboard-write"])
        page.get_by_role("button", name="Copy as curl").click()
        copied = page.evaluate("navigator.clipboard.readText()")
        assert "X-API-Key: YOUR-KEY" in copied
        assert "sesame" not in copied
        assert "sesame" not in page.content()


def test_a_slow_or_busy_service(open_page: Open) -> None:
    """Working shows and can be cancelled; busy once, it is asked again; a fault offers to try again."""
    asked = []

    def busy_once(route: Route) -> None:
        asked.append(route.request.url)
        if len(asked) == 1:
            route.fulfill(status=503, headers={"Retry-After": "0"}, content_type="application/problem+json", body="{}")
        elif len(asked) == 3:
            route.fulfill(status=500, content_type="application/problem+json", body=json.dumps({"title": "Fault"}))
        else:
            route.continue_()

    with worksheet(open_page) as tab:
        page = tab.page
        tab.seen.expect(REFUSED)
        type_readings(page, BEFORE)

        def hold(route: Route) -> None:
            held.append(route)

        held: list[Route] = []
        page.route("**/v1/diagnoses", hold)
        page.locator("#send").click()
        expect(page.get_by_role("button", name="Cancel")).to_be_visible()
        expect(page.locator("#progress")).to_have_text("Working …")
        page.get_by_role("button", name="Cancel").click()
        expect(page.locator("#progress")).to_contain_text("Cancelled")
        page.unroute("**/v1/diagnoses")
        page.route("**/v1/diagnoses", busy_once)
        send(page)
        assert len(asked) == 2
        page.locator("#send").click()
        expect(page.locator("#problem_title")).to_have_text("Fault")
        page.get_by_role("button", name="Try again").click()
        expect(page.get_by_role("status").get_by_text("Done.")).to_be_visible()


def test_what_was_sent_can_be_copied(open_page: Open) -> None:
    """As JSON it is the body; as curl it names the resource; a change afterwards shows that the answer is old."""
    with worksheet(open_page, width=1200) as tab:
        page = tab.page
        page.context.grant_permissions(["clipboard-read", "clipboard-write"])
        type_readings(page, BEFORE)
        send(page)
        expect(page.locator("#stale")).to_be_hidden()
        page.get_by_role("button", name="Copy as JSON").click()
        expect(page.get_by_text("Copied.")).to_be_visible()
        body = json.loads(page.evaluate("navigator.clipboard.readText()"))
        assert body["run"]["readings"]["liquid_pressure"] == 385
        page.get_by_role("button", name="Copy as curl").click()
        assert "/v1/diagnoses" in page.evaluate("navigator.clipboard.readText()")
        reading(page, "supply_air_dry_bulb").fill("55")
        expect(page.locator("#stale")).to_be_visible()


def test_every_reading_of_the_contract_has_its_field(open_page: Open) -> None:
    """Once before and once after; and one that is added to the contract, with what else a run takes."""

    def added(route: Route) -> None:
        described = route.fetch().json()
        parts = described["kinds"]
        run = parts[described["fields"]["run"]["like"]]["fields"]
        readings = parts[run["readings"]["like"]]["fields"]
        readings["attic_air_dry_bulb"] = readings["outdoor_air_dry_bulb"]
        run["fan_speed"] = {"kind": "choice", "of": ["low", "high"]}
        described["fields"]["duct_length"] = {"kind": "number"}
        route.fulfill(json=described)

    with worksheet(open_page) as tab:
        page = tab.page
        page.route("**/page/fields.json", added)
        page.reload()
        show(page, "#after")
        expect(reading(page, "suction_pressure", "after")).to_be_attached()
        names = page.locator("#form [id*='/readings/']").evaluate_all(
            "nodes => nodes.filter((node) => node.tagName === 'INPUT').map((node) => node.id)"
        )
        wanted = {f"/runs/{run}/readings/{name}".replace(".", "/") for run in ("before", "after") for name in READINGS}
        wanted |= {f"/runs/{run}/readings/attic_air_dry_bulb" for run in ("before", "after")}
        assert sorted(names) == sorted(wanted)
        for place in ("/runs/before/fan_speed", "/runs/after/fan_speed", "/duct_length"):
            assert entry(page, place).count() == 1
        assert page.locator("#form label:not([for])", has_not=page.locator("input")).count() == 0


@pytest.mark.parametrize(("colour_scheme", "width"), [("light", 360), *([("dark", 1200)] if AT_NIGHT else [])])
def test_the_worksheet_is_accessible(open_page: Open, tmp_path: Path, colour_scheme: ColourScheme, width: int) -> None:
    """Everything unfolded, before and after an answer: no violation, nothing sideways, nothing too small to touch."""
    with worksheet(open_page, colour_scheme=colour_scheme, width=width) as tab:
        page = tab.page
        import_body(page, tmp_path, comparison_examples()["coil_cleaned"])
        expect(page.locator("#imported")).to_have_text("Imported: imported.json")
        send(page)
        page.get_by_role("button", name="Report for the technician").click()
        expect(page.frame_locator("iframe").get_by_role("heading", level=1)).to_be_visible()
        # One instrument's details are like another's.
        page.locator("details:not(.about, fieldset + fieldset details, details details details)").evaluate_all(
            "nodes => nodes.forEach((node) => { node.open = true; })"
        )
        page.locator("#before_fields .about summary").first.click()
        assert violations(page) == []
        assert overflow(page) == 0
        # 44 px by 44 px (WCAG 2.2, 2.5.5); links and small print within sentences are exempt, 24 px (2.5.8).
        small = page.locator("#form input, #form select, #form button, #answer button").evaluate_all(
            """nodes => nodes.filter((node) => node.offsetParent && getComputedStyle(node).visibility !== "hidden")
                .map((node) => [node.closest(".tick, .file") ?? node, node.outerHTML.slice(0, 80)])
                .filter(([node]) => node.getBoundingClientRect().height < 43.5).map(([, text]) => text)"""
        )
        assert small == []
        page.set_viewport_size({"width": 1200, "height": 800})
        assert overflow(page) == 0
        assert violations_in_dark(page) == []


def test_a_log_is_a_file_that_can_be_corrected_and_removed(open_page: Open, tmp_path: Path) -> None:
    """As a spreadsheet in Windows writes it: semicolons, decimal commas, its own encoding of the degree sign."""
    rows = "".join(f"{10 * row};{120 + row % 2};55,5\n" for row in range(90))
    text = f"seconds;suction_pressure [psi];suction_line_temperature [°F]\n{rows}"
    path = tmp_path / "probes.csv"
    with worksheet(open_page) as tab:
        page = tab.page
        tab.seen.expect(REFUSED)
        show(page, '[data-key="/runs/before/log"]')
        entry(page, "/unit/refrigerant").select_option("R-410A")
        log = entry(page, "/runs/before/log/csv")
        path.write_bytes(text.replace("121", "12l", 1).encode("cp1252"))
        log.set_input_files(path)
        expect(page.get_by_text("probes.csv: 90 rows, 2 readings.")).to_be_visible()
        expect(page.locator("#counted")).to_have_text("0 readings and a log")
        page.locator("#send").click()
        told = entry(page, "/runs/before/log/csv~wrong")
        expect(told).to_contain_text("Line 3, column 2 (suction_pressure): is not a number. You wrote 12l.")
        assert violations(page) == []
        # The same file, corrected.
        path.write_bytes(text.encode("cp1252"))
        log.set_input_files(path)
        entry(page, "/runs/before/log/start").select_option(label="Compressor on")
        send(page)
        assert exported(page, tmp_path)["run"] == {"log": {"csv": text, "start": "compressor_on"}, "readings": {}}
        answer = page.locator("#answer")
        expect(answer.get_by_role("heading", name="The log")).to_be_visible()
        expect(answer.get_by_alt_text("Readings over time")).to_be_visible()
        page.get_by_role("button", name="Remove the log").click()
        assert "log" not in exported(page, tmp_path)["run"]


@pytest.mark.parametrize("path", ["refrigerants", "refrigerants/R-410A", "limits"])
def test_lists_to_read_are_accessible(open_page: Open, path: str) -> None:
    """In dark, as narrow as a phone; without a script."""
    with open_page(f"/{path}?units=metric", colour_scheme="dark", width=360) as tab:
        assert violations(tab.page) == []
        assert overflow(tab.page) == 0
        assert tab.page.locator("article, tbody tr").count() > 10


def test_the_page_is_light_and_quick(browser: Browser, base: str) -> None:
    """Under 150 KB in all, uncompressed; text on a processor slowed six times within 1.5 s."""
    with opened(browser, width=PHONE) as tab:
        page = tab.page
        tab.seen.expect(NO_WORKER)
        sizes: list[int] = []
        page.on("response", lambda response: sizes.append(len(response.body())))
        devtools = page.context.new_cdp_session(page)
        devtools.send("Emulation.setCPUThrottlingRate", {"rate": 6})
        page.goto(base)
        expect(page.locator("#form")).to_be_visible()
        page.wait_for_load_state("networkidle")
        paint = "performance.getEntriesByName('first-contentful-paint')[0].startTime"
        assert page.evaluate(paint) < 1500
        assert 50_000 < sum(sizes) < 150_000
