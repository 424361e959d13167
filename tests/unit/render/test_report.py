"""The page to hand over: what it holds, for whom, and that nothing of a caller's gets out of its text."""

from __future__ import annotations

import copy
import re
from dataclasses import replace
from html import unescape
from html.parser import HTMLParser
from typing import Any, get_args

import pytest
from fastapi.testclient import TestClient

from schemas.comparisons import CauseName
from schemas.diagnoses import Diagnosis, DiagnosisRequest, NextStep
from schemas.examples import (
    comparison_examples,
    diagnosis_examples,
    every_example,
    examples,
    trend_examples,
)
from service.faults.diagnosis import Diagnosed, diagnosed
from service.reference.likelihood import LIKELIHOOD, likelihood
from service.reference.limits import LIMITS
from service.reference.notices import NOTICES, ORDERS
from service.render import sheets, summary
from service.render.contents import Report, Table
from service.words import household
from service.words.phrases import first_sentence
from tests.answers import Loose

EXAMPLES = [pytest.param(body, id=name) for name, _, body in every_example()]
AUDIENCES = ("technician", "customer")
#: A name that a page must not take for markup, for a style or for a reference.
HOSTILE = '<img src=x onerror="alert(1)">&amp;</style><script>alert(2)</script>{{ 7 * 7 }}'[:60]


class Page(HTMLParser):
    """A page as its reader gets it: tags, texts by tag, and every address that it names."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.texts: list[tuple[str, str]] = []
        self._open: list[str] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in ("meta", "link", "br"):
            self._open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        while self._open and self._open.pop() != tag:
            pass

    def handle_data(self, data: str) -> None:
        if data.strip():
            self.texts.append((self._open[-1] if self._open else "", data.strip()))

    @property
    def words(self) -> str:
        """All that is read, but for the style sheet."""
        return " ".join(text for tag, text in self.texts if tag != "style")

    def under(self, heading: str) -> str:
        """The text of a section."""
        _, _, rest = self.words.partition(heading)
        return rest

    def sentences(self) -> list[str]:
        """The items of the one ordered list."""
        text = re.search(r'<ol class="short">(.*?)</ol>', self.source, re.DOTALL)
        assert text is not None
        return [unescape(item) for item in re.findall(r"<li>(.*?)</li>", text.group(1), re.DOTALL)]

    source = ""


def page(client: TestClient, body: Any, audience: str = "technician") -> Page:  # noqa: ANN401
    answer = client.post("/v1/reports", params={"audience": audience}, json=body)
    assert answer.status_code == 200, answer.text
    assert answer.headers["content-type"] == "text/html; charset=utf-8"
    found = Page(answer.text)
    found.source = answer.text
    return found


@pytest.mark.parametrize("audience", AUDIENCES)
@pytest.mark.parametrize("body", EXAMPLES)
def test_every_example_becomes_a_page(client: TestClient, body: Any, audience: str) -> None:  # noqa: ANN401
    """Three plain sentences, each one sentence; the parts that the audience is promised; no request."""
    found = page(client, body, audience)
    sentences = found.sentences()
    assert len(sentences) == 3
    for sentence in sentences:
        assert sentence[0].isupper()
        assert sentence.endswith(".")
        assert ".." not in sentence
        assert "None" not in sentence
        assert "_" not in sentence
    for part in ("How certain:", "Cautions", "Method and sources", "Local code"):
        assert part in found.words
    assert ("Readings and values" in found.words) is (audience == "technician")
    names = [tag for tag, _ in found.tags]
    assert "script" not in names
    assert "img" not in names
    assert names.count("h1") == 1
    for tag, attributes in found.tags:
        for name, value in attributes.items():
            assert not name.startswith("on"), (tag, name)
            if name in ("src", "href", "action", "data"):
                assert (tag, value) == ("link", "data:,")
    assert not re.findall(r"url\((?!#)", found.source)
    assert "@import" not in found.source
    addresses = set(re.findall(r"https?://[^\"'\s<)]+", found.source))
    assert addresses <= {"http://www.w3.org/2000/svg"}


@pytest.mark.parametrize("body", EXAMPLES)
def test_ids_of_pictures_on_one_page_differ(client: TestClient, body: Any) -> None:  # noqa: ANN401
    found = page(client, body)
    ids = [attributes["id"] for _, attributes in found.tags if "id" in attributes]
    assert len(ids) == len(set(ids))
    pictures = [attributes for tag, attributes in found.tags if tag == "svg"]
    assert pictures
    for picture in pictures:
        assert set((picture["aria-labelledby"] or "").split()) <= set(ids)


def test_a_visit_shows_what_its_answer_says(client: TestClient) -> None:
    """Verdict, findings, what is open, cautions, readings, values, instruments, sources: all of it."""
    body = diagnosis_examples()["charge_lost"]
    answer = client.post("/v1/diagnoses", json=body).json()
    found = page(client, body)
    assert answer["verdict"] == "fault_found"
    assert "Fault found" in found.words
    assert "an undercharge (low on refrigerant" in found.sentences()[0]
    assessment = answer["assessment"]
    words = " ".join(found.words.split())
    for finding in assessment["findings"]:
        if finding["grade"] in ("nonconforming", "inconclusive"):
            assert finding["sentence"] in words
    for caution in answer["cautions"]:
        assert caution["text"] in words
        assert caution["signal_word"].upper() in words
    for finding in assessment["findings"]:
        if finding["limit"]:
            assert finding["limit"]["source"] in words
    for row in assessment["instruments"].values():
        assert row["source"] in words
    for text in answer["taken_on_trust"]:
        assert text in words
    # 33.4 °F of superheat, as the answer has it, with the ends of its band.
    band = assessment["derived"]["superheat"]["band"]
    assert f"33.4 ({band['low']:.1f} to {band['high']:.1f}) °F" in words


def test_a_comparison_shows_what_its_answer_says(client: TestClient) -> None:
    body = comparison_examples()["coil_cleaned"]
    answer = client.post("/v1/comparisons", json=body).json()
    found = page(client, body)
    assert "Improved" in found.words
    change = answer["system"]["efficiency_change_percent"]
    assert f"+{change['value']:.1f} %" in found.sentences()[0]
    assert "the outdoor coil's heat transfer" in found.sentences()[1]
    saved, payback = answer["worth"]["energy_saved"], answer["worth"]["payback_band"]
    low, high = saved["band"]["low"], saved["band"]["high"]
    third = found.sentences()[2]
    assert f"saves about {saved['value']:.0f} ({low:.0f} to {high:.0f}) kWh a year" in third
    assert f"({payback[0]:.1f} to {payback[1]:.1f})" in third
    assert answer["conditions"]["sentence"] in found.words
    over = answer["changes"]["condensing_temperature_over_ambient"]
    assert f"{over['before']:.1f} → {over['after']:.1f} °F" in found.words


def test_a_series_shows_what_its_answer_says(client: TestClient) -> None:
    body = trend_examples()["five_summers"]
    found = page(client, body)
    assert "Condensing temperature above outdoor air rises" in found.sentences()[0]
    answer = client.post("/v1/trends", json=body).json()
    crossing = answer["quantities"]["condensing_temperature_over_ambient"]["crossing"]
    assert f"limit of {crossing['bound']:.1f} °F about {crossing['expected'][:7]}" in found.sentences()[1]
    # As many charts as two sheets have room for.
    assert len([attributes for tag, attributes in found.tags if tag == "svg"]) >= 2


def test_a_customer_reads_no_jargon_of_statistics(client: TestClient) -> None:
    """No signed percentages, no "95 %:" in the sentences about the system; the words of the scale."""
    body = diagnosis_examples()["charge_lost"]
    first, second, _ = page(client, body, "customer").sentences()
    lost = client.post("/v1/diagnoses", json=body).json()["efficiency_percent"]["value"]
    assert f"{-lost:.0f} % less efficient" in second
    assert "very likely" in second
    assert "likely" in first or "certain" in first
    improved = page(client, comparison_examples()["coil_cleaned"], "customer").sentences()[0]
    assert "about 7 % more efficient (between 4 and 11 %)" in improved


#: Words of the trade that a page for a customer does without (common practice, no source).
JARGON = re.compile(
    "superheat|subcooling|saturation|evaporat|isentropic|conforming|rated-load|full-load|floodback|stalled|"
    "suction|discharge|dry bulb|wet bulb|cut-out|draws? of|metering device|under 0.001",
    re.IGNORECASE,
)


@pytest.mark.parametrize("name", [*examples(), *diagnosis_examples(), *comparison_examples()])
def test_a_customer_reads_no_jargon_of_the_trade(client: TestClient, name: str) -> None:
    """Nor what can no longer be done; what is asked for next may have the name of its place."""
    body = {**examples(), **diagnosis_examples(), **comparison_examples()}[name]
    text = client.post("/v1/reports?audience=customer", json=body).text
    text = re.sub("<style>.*?</style>", "", text, flags=re.DOTALL)
    read = unescape(re.sub("<[^>]+>", " ", text)).replace("One more reading would tell us most: metering device", "")
    # The method and its sources are named on every page.
    read = read.partition("Method and sources")[0]
    assert JARGON.findall(read) == []
    assert "sharpen" not in read


def test_a_technician_is_not_sent_back_in_time(client: TestClient) -> None:
    """What was not read before the service can no longer be read."""
    body = copy.deepcopy(comparison_examples()["coil_cleaned"])
    for run in body["runs"].values():
        for name in ("outdoor_unit_power", "discharge_line_temperature"):
            run["readings"].pop(name, None)
    answer = client.post("/v1/comparisons", json=body).json()
    assert any(path.startswith("runs.before.") for path in answer["system"]["missing"])
    text = client.post("/v1/reports", json=body).text
    assert "sharpen the answer: before" not in text


def test_everything_checked_has_a_plain_name() -> None:
    """Every limit, and every cause of a change but none at all."""
    for limit in LIMITS:
        assert household.checked({"limit": {"id": limit}}, "") != ""
    for cause in get_args(get_args(CauseName.__value__)[0]):
        assert cause == "nothing" or household.changed(cause, "") != ""


def test_every_doubt_has_plain_words() -> None:
    """Of each notice that a customer's page shows, whether or not it has words of its own."""
    for code in {row.code for row in NOTICES.values()} | {row.code for row in ORDERS}:
        assert JARGON.findall(household.doubted(code)) == []


def test_words_for_probabilities_are_those_of_the_published_scale() -> None:
    """IPCC guidance note of 2010, table 1 (value from memory): over 99, 90, 66, 33 to 66, under 33, 10, 1 %."""
    for probability, words in (
        (0.995, "virtually certain"),
        (0.95, "very likely"),
        (0.7, "likely"),
        (0.5, "about as likely as not"),
        (0.2, "unlikely"),
        (0.05, "very unlikely"),
        (0.005, "exceptionally unlikely"),
        (0.0, "exceptionally unlikely"),
    ):
        assert likelihood(probability) == words
    bounds = [bound for bound, _ in LIKELIHOOD]
    assert bounds == sorted(bounds, reverse=True)


def _named_hostile(body: dict[str, Any]) -> dict[str, Any]:
    """The same body with instruments that bear hostile names."""
    text = copy.deepcopy(body)
    text["kit"] = {
        HOSTILE: {"type": "pressure_transducer"},
        "clamps": {"type": "thermistor_pipe_clamp"},
    }
    for run in [text["run"]] if "run" in text else text["runs"].values():
        for name, reading in run["readings"].items():
            if isinstance(reading, dict) and "value" in reading:
                run["readings"][name] = reading["value"]
            elif isinstance(reading, list):
                run["readings"][name] = reading[0]
    return text


@pytest.mark.parametrize("audience", AUDIENCES)
def test_hostile_names_stay_text(client: TestClient, audience: str) -> None:
    """A kit's name full of markup is read as it was written, and adds no element."""
    plain = page(client, examples()["r410a_expansion_valve"], audience)
    body = _named_hostile(dict(examples()["r410a_expansion_valve"]))
    found = page(client, body, audience)
    assert "<img" not in found.source
    assert "<script" not in found.source
    assert {tag for tag, _ in found.tags} == {tag for tag, _ in plain.tags}
    if audience == "technician":
        assert HOSTILE in found.words
    compared = copy.deepcopy(dict(comparison_examples()["coil_cleaned"]))
    compared = _named_hostile(compared)
    assert "<img" not in page(client, compared, audience).source


@pytest.mark.parametrize("audience", AUDIENCES)
def test_labels_are_shown_as_given(client: TestClient, audience: str) -> None:
    """Whose unit it is, and who read it; hostile ones as text."""
    body = copy.deepcopy(dict(examples()["r410a_expansion_valve"]))
    body["labels"] = {"unit": "Unit 2, north roof", "customer": HOSTILE}
    found = page(client, body, audience)
    assert "Unit 2, north roof" in found.words
    assert HOSTILE in found.words
    assert "<img" not in found.source
    without = copy.deepcopy(body)
    del without["labels"]
    answers = [client.post("/v1/assessments", json=one).content for one in (body, without)]
    assert answers[0] == answers[1]


def test_headers_let_the_page_do_nothing_but_style_itself(client: TestClient) -> None:
    answer = client.post("/v1/reports", json=diagnosis_examples()["sound_unit"])
    for policy in (
        answer.headers["content-security-policy"],
        re.findall(r'http-equiv="Content-Security-Policy" content="([^"]+)"', answer.text)[0],
    ):
        assert policy.startswith("default-src 'none'; style-src 'unsafe-inline'")
        assert "script" not in policy
    assert answer.headers["cache-control"] == "no-store"
    assert answer.headers["x-content-type-options"] == "nosniff"


def test_refusals_are_problems(client: TestClient) -> None:
    """What an assessment would refuse, a report refuses alike, by the same pointer."""
    body = copy.deepcopy(dict(examples()["r410a_expansion_valve"]))
    body["run"]["readings"]["suction_pressure"] = -100
    alone = client.post("/v1/assessments", json=body)
    answer = client.post("/v1/reports", json=body)
    assert answer.status_code == alone.status_code == 422
    assert answer.headers["content-type"] == "application/problem+json"
    assert answer.json()["errors"] == alone.json()["errors"]
    wrong = client.post("/v1/reports", params={"audience": "nobody"}, json=body)
    assert wrong.json()["errors"][-1]["pointer"] == "query/audience"


# ---------------------------------------------------------------- sentences where little is known


@pytest.fixture(scope="module")
def healthy() -> Diagnosed:
    return diagnosed(DiagnosisRequest.model_validate(dict(diagnosis_examples()["sound_unit"])))


def third(of: Diagnosed, answer: Diagnosis) -> str:
    """What to do next, where the answer were this."""
    return summary.of_visit(replace(of, answer=answer), "technician").sentences[2]


def test_nothing_known_is_said_so(client: TestClient) -> None:
    """An empty visit: not enough to tell, and what to read."""
    body = {"units": "metric", "run": {"readings": {}}}
    found = page(client, body)
    first, second, next_ = found.sentences()
    assert first == client.post("/v1/diagnoses", json=body).json()["sentence"]
    assert "not assessed" in first
    assert "Not enough to tell" in found.words
    assert second == "None of these readings could be compared with a limit."
    assert next_.startswith("To learn more, add the unit's refrigerant, suction pressure")
    assert "not estimated" in found.words


def test_a_healthy_unit_with_something_to_set_right(healthy: Diagnosed) -> None:
    """No fault in the cycle is no reason to hide a value outside its limit."""
    answer = copy.deepcopy(healthy.answer)
    assert answer["verdict"] == "healthy"
    answer["next_steps"] = []
    for finding in answer["assessment"]["findings"]:
        finding["priority"] = "none"
    assert third(healthy, answer) == "These readings call for no further work."
    answer["assessment"]["findings"][0]["priority"] = "act"
    assert third(healthy, answer).startswith("Still to be corrected: ")


def test_steps_for_what_is_found_come_first(healthy: Diagnosed) -> None:
    """Not a step for what is merely possible, though it comes earlier in the order of work."""
    answer = copy.deepcopy(healthy.answer)
    step: NextStep = {
        "stage": "measure",
        "text": "Look at a thing that may be.",
        "faults": ["low_charge"],
        "cautions": [],
    }
    answer["next_steps"] = [step, {**step, "text": "Do what is found.", "faults": ["supply_voltage"]}]
    answer |= {"verdict": "fault_found", "found": ["supply_voltage"]}
    assert third(healthy, answer) == "Next: do what is found."


def test_doubted_readings_are_told_with_what_would_explain_them(client: TestClient) -> None:
    """Another refrigerant than stated: the doubt first, what stands by itself beside it, then the check."""
    body = copy.deepcopy(dict(examples()["r454b_heat_pump_cooling"]))
    body["unit"]["refrigerant"] = "R-32"
    # 15 V of 460 off their mean: 3.3 %, where 2 % is put right.
    body["run"]["readings"]["line_voltages"] = {"l1_l2": 472, "l2_l3": 463, "l3_l1": 445}
    answer = client.post("/v1/diagnoses", json=body).json()
    assert (answer["verdict"], answer["found"]) == ("readings_doubted", ["supply_voltage"])
    found = page(client, body)
    first, second, next_ = found.sentences()
    assert "Readings in doubt" in found.words
    assert first == answer["sentence"]
    assert first.startswith("The readings do not fit each other")
    assert "supply voltage" in first
    assert "R-454B in place of the stated refrigerant" in first
    assert second.startswith("Against their limits: ")
    assert "second one" in next_


@pytest.mark.parametrize(
    ("verdict", "changed", "said"),
    [
        ("worsened", True, "worse than before"),
        ("no_material_change", False, "Nothing changed that matters"),
        ("inconclusive", True, "Something changed"),
        ("inconclusive", False, "cannot show whether anything changed"),
    ],
)
def test_each_verdict_of_a_comparison_has_its_words(client: TestClient, verdict: str, changed: bool, said: str) -> None:
    answer = client.post("/v1/comparisons", json=comparison_examples()["coil_cleaned"]).json()
    answer["system"]["verdict"] = verdict
    answer["system"]["any_change"]["changed"] = changed
    assert said in summary.of_comparison(answer, "technician").sentences[0]


# ---------------------------------------------------------------- two sheets


def _contents(texts: int, rows: int) -> Report:
    """A report with so many long texts and rows."""
    long = "A sentence of a length that is usual for a finding with its band and its limit. " * 3
    return Report(
        title="t",
        audience="technician",
        facts=[("Refrigerant", "R-410A")],
        summary=summary.Summary("v", "c", ("One.", "Two.", "Three.")),
        pictures=([], []),
        which="",
        outside=[long] * texts,
        inside="",
        notices=[long] * texts,
        undecided=[long] * texts,
        cautions=[("NOTICE", long)] * 6,
        readings=Table(("Reading", "As read", "Instrument"), []),
        values=Table(("Value", "Band"), [(f"value {n}", "1.0 (0.9 to 1.1)") for n in range(rows)]),
        instruments=[],
        method=[],
        sources=[],
    )


def test_what_fits_stays_whole() -> None:
    report = _contents(2, 30)
    fitted = sheets.fitted(report)
    assert fitted.outside == report.outside
    assert len(fitted.values.rows) == 30
    assert fitted.values.left_out == 0


def test_what_does_not_fit_is_counted() -> None:
    """Nothing goes without a word: texts say how many more, tables too; the graded rows stay."""
    report = _contents(20, 400)
    report = replace(report, values=replace(report.values, order=list(range(399, -1, -1))))
    fitted = sheets.fitted(report)
    for texts in (fitted.outside, fitted.undecided, fitted.notices):
        assert len(texts) < 20
        assert texts[-1].startswith(f"{20 - (len(texts) - 1)} more")
    kept = [row[0] for row in fitted.values.rows]
    assert fitted.values.left_out == 400 - len(kept)
    assert 0 < len(kept) < 400
    # The last rows mattered most, and stand in their order.
    assert kept == [f"value {n}" for n in range(400 - len(kept), 400)]


# ---------------------------------------------------------------- series


def _series(**rows: Loose) -> Loose:
    """An answer about a series, with what the sentences look at."""
    usual = {
        "unit": "delta_degF",
        "difference_unit": "delta_degF",
        "shape": "drift",
        "step": None,
        "crossing": None,
        "probability_rising": 0.999,
        "drift_per_year": {
            "value": 1.0,
            "standard_uncertainty": 0.2,
            "band": {"low": 0.6, "high": 1.4},
        },
    }
    return {"quantities": {name: usual | row for name, row in rows.items()}, "runs": [{}] * 3}


def test_what_is_past_its_limit_comes_before_what_nears_one() -> None:
    """A drift that has crossed already has no crossing ahead, and is the more pressing for it."""
    crossing = {
        "bound": 4.0,
        "expected": "2031-01-01T00:00:00+00:00",
        "earliest": None,
        "latest": None,
    }
    answer = _series(
        compression_ratio={"crossing": crossing, "unit": "1", "difference_unit": "1"},
        superheat={},
    )
    nearing = summary.of_trend(answer, ())
    assert nearing.sentences[0].startswith("Compression ratio")
    assert "4.00 about 2031-01" in nearing.sentences[1]
    past = summary.of_trend(answer, {"superheat"})
    assert past.sentences[0].startswith("Superheat")
    assert past.sentences[1] == "It is already outside its limits."


def test_a_drift_whose_band_holds_zero_is_not_folded() -> None:
    band = {"low": -0.16, "high": 2.27}
    drift = {"value": 1.05, "standard_uncertainty": 0.6, "band": band}
    said = summary.of_trend(_series(superheat={"drift_per_year": drift}), ())
    assert "(95 %: −0.2 to +2.3)" in said.sentences[0]


def test_one_fact_is_told_once() -> None:
    """Forms of one fact (the high side) do not stand beside each other as what moves too."""
    answer = _series(condensing_temperature_over_ambient={}, condensing_temperature={}, superheat={})
    said = summary.of_trend(answer, ()).sentences[2]
    assert said.startswith("Also moving: superheat;")


@pytest.mark.parametrize(
    ("text", "first"),
    [
        ("One. Two.", "One."),
        ('The instrument "Dr. Smith" was not zeroed. More.', 'The instrument "Dr. Smith" was not zeroed.'),
        ("At 2.5 K it is. So.", "At 2.5 K it is."),
        ("No stop", "No stop"),
    ],
)
def test_a_first_sentence_ends_where_it_ends(text: str, first: str) -> None:
    assert first_sentence(text) == first
