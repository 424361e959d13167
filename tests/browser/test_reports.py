"""Reports and pictures in a real browser: silent, accessible, legible, on two sheets."""

from __future__ import annotations

import copy
import json
import urllib.request
from typing import Any

import pytest
from playwright.sync_api import Browser

from schemas.examples import every_example, examples
from schemas.readings import READINGS
from tests.browser.browsing import (
    IN_BROWSER,
    Paper,
    complaints_of,
    opened,
    overflow,
    printed,
    violations,
    violations_in_dark,
)
from tests.nightly import AT_NIGHT

pytestmark = IN_BROWSER

BODIES = {name: body for name, _, body in every_example()}
#: One of each kind, and of each length.
TELLING = ("r410a_capacity", "fouled_with_baseline", "coil_cleaned", "five_summers")


def fullest() -> dict[str, Any]:
    """A visit with every reading that can stand beside the others, every work, and no kit."""
    body = copy.deepcopy(dict(examples()["r410a_capacity"]))
    readings: dict[str, Any] = {}
    for name, spec in READINGS.items():
        if "saturation_temperature" in name:
            continue
        group, _, part = name.partition(".")
        if part:
            readings.setdefault(group, {})[part] = spec.example
        else:
            readings[name] = spec.example
    # The examples of outdoor air are of two seasons.
    readings["outdoor_air_wet_bulb"] = 75.0
    body["run"] = {
        "readings": readings,
        "work": [
            "coil_cleaning",
            "refrigerant_circuit_opening",
            "charge_adjustment",
            "capacitor_replacement",
            "electrical_repair",
            "filter_change",
        ],
    }
    body["kit"] = {}
    body["site"]["outdoor_unit_on_roof"] = True
    body["unit"]["nameplate"] |= {
        "nominal_supply_voltage": 240,
        "outdoor_fan_full_load_amps": 1.2,
        "indoor_blower_full_load_amps": 4.3,
        "capacitors": {
            "compressor": {"microfarads": 45},
            "outdoor_fan": {"microfarads": 5},
            "indoor_blower": {"microfarads": 10},
        },
    }
    return body


def posted(base: str, address: str, body: Any) -> str:  # noqa: ANN401
    request = urllib.request.Request(base + address, json.dumps(body).encode(), {"Content-Type": "application/json"})
    with urllib.request.urlopen(request, timeout=60) as answer:
        text: str = answer.read().decode()
    return text


def many_runs(body: dict[str, Any]) -> dict[str, Any]:
    """Twice the same run as before and after."""
    rest = {key: value for key, value in body.items() if key != "run"}
    return rest | {"runs": {"before": body["run"], "after": body["run"]}}


@pytest.mark.parametrize("audience", ["technician", "customer"])
def test_every_report_prints_to_two_sheets(base: str, browser: Browser, audience: str) -> None:
    """On A4 and on Letter, the fullest visit and comparison among them; and nothing is cut at the side.

    Each night every example too.
    """
    full = fullest()
    chosen = BODIES if AT_NIGHT and audience == "technician" else {name: BODIES[name] for name in TELLING}
    bodies = chosen | {
        "fullest": full,
        "fullest compared": many_runs(full),
        "nothing": {"units": "metric", "run": {"readings": {}}},
    }
    # Letter is the shorter sheet.
    papers: tuple[Paper, ...] = ("Letter", "A4")
    with opened(browser, document="<!doctype html><title>Reports</title>", width=712) as tab:
        for name, body in bodies.items():
            tab.page.set_content(posted(base, f"/v1/reports?audience={audience}", body))
            for paper in papers[:1] if name in BODIES and name not in TELLING else papers:
                pages = printed(tab.page, paper).pages
                assert len(pages) <= 2, (name, paper)
                assert "Words for probabilities" in pages[-1].extract_text(), (name, paper)
            tab.page.emulate_media(media="print")
            assert overflow(tab.page) == 0, name
            tab.page.emulate_media(media="null")


@pytest.mark.parametrize("name", TELLING)
def test_reports_are_silent_and_accessible(base: str, browser: Browser, name: str) -> None:
    """No request, no console message, no violation in light or dark, no sideways scrolling at 360 px."""
    text = posted(base, "/v1/reports", BODIES[name])
    assert complaints_of(browser, text) == []
    with opened(browser, document=text, width=360) as tab:
        assert violations(tab.page) == []
        assert overflow(tab.page) == 0
        assert violations_in_dark(tab.page) == []


#: Of each picture: its size and its texts with their boxes and sizes, in user units.
_TEXTS = """() => [...document.querySelectorAll("svg")].map(svg => {
  const box = svg.viewBox.baseVal;
  const texts = [...svg.querySelectorAll("text")].filter(t => !t.getAttribute("transform"));
  return {width: box.width, height: box.height, texts: texts.map(t => {
    const b = t.getBBox(), size = parseFloat(getComputedStyle(t).fontSize);
    return [t.textContent, b.x, b.y, b.x + b.width, b.y + b.height, size];
  })};
})"""


def clashes(texts: list[tuple[str, float, float, float, float]]) -> list[tuple[str, str]]:
    """Pairs of texts that lie over each other by more than what a line's leading allows."""
    found = []
    for place, (one, left, top, right, bottom) in enumerate(texts):
        for other, left2, top2, right2, bottom2 in texts[place + 1 :]:
            across = min(right, right2) - max(left, left2)
            down = min(bottom, bottom2) - max(top, top2)
            if across > 1.0 and down > 4.0:
                found.append((one, other))
    return found


_DRAWN = [
    (plot, name)
    for name in BODIES
    for plot in (
        ("trend",)
        if name == "five_summers"
        else ("limits", "refrigerant_cycle", "air_process", "changes")
        if "runs" in BODIES[name]
        else ("limits", "refrigerant_cycle", "air_process", "fault_probabilities")
    )
]


def test_every_picture_of_every_example_is_legible(base: str, browser: Browser) -> None:
    """Its texts stay inside and do not cover each other; none is under 11 px on a phone of 360."""
    drawn = [posted(base, f"/v1/plots/{plot}", BODIES[name]) for plot, name in _DRAWN]
    page = f"<!doctype html><title>Pictures</title>{''.join(drawn)}"
    with opened(browser, document=page, width=480) as tab:
        pictures = tab.page.evaluate(_TEXTS)
    assert len(pictures) == len(_DRAWN)
    for which, seen in zip(_DRAWN, pictures, strict=True):
        assert seen["texts"], which
        for words, left, top, right, bottom, size in seen["texts"]:
            assert 0 <= left <= right <= seen["width"], (which, words)
            assert 0 <= top <= bottom <= seen["height"], (which, words)
            assert size * 360 / 400 >= 11.0, (which, words)
        assert clashes([tuple(text[:5]) for text in seen["texts"]]) == [], which


def test_a_picture_opened_by_itself_follows_dark(base: str, browser: Browser) -> None:
    """The paper's colour in light, in dark, and in print from dark."""
    text = posted(base, "/v1/plots/limits", BODIES["r410a_capacity"])
    page = f"<!doctype html><title>limits</title>{text}"
    paper = "() => getComputedStyle(document.querySelector('svg .paper')).fill"
    with opened(browser, document=page, colour_scheme="light") as tab:
        light = tab.page.evaluate(paper)
    with opened(browser, document=page, colour_scheme="dark") as tab:
        dark = tab.page.evaluate(paper)
        tab.page.emulate_media(media="print", color_scheme="dark")
        in_print = tab.page.evaluate(paper)
    assert light == in_print == "rgb(255, 255, 255)"
    assert dark != light
