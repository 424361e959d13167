"""The sentences of a diagnosis: one wording for answer and page, and a customer's words for a customer."""

from __future__ import annotations

import copy
import re
from collections.abc import Mapping
from typing import Any

import pytest

from schemas.diagnoses import DiagnosisRequest, DiagnosisVerdict
from schemas.examples import diagnosis_examples, examples
from service.faults.diagnosis import diagnosed
from service.reference.faults import FAULTS
from service.render.summary import of_visit
from service.words.diagnosis import DiagnosisFacts, certainty, loss, named, sentence, what
from service.words.numbers import Estimate

BODIES = [pytest.param(b, id=n) for n, b in {**examples(), **diagnosis_examples()}.items()]
#: Words of the trade and of conformity assessment that a customer does not know (common practice, no source).
JARGON = re.compile(
    r"superheat|subcool|rated-load|\bRLA\b|conforming|non-condensable|undercharge|metering",
    re.IGNORECASE,
)
VERDICTS = (
    "healthy",
    "fault_found",
    "fault_not_told_apart",
    "readings_doubted",
    "not_enough_to_tell",
)


@pytest.mark.parametrize("body", BODIES)
def test_page_and_answer_use_the_same_sentences(body: Mapping[str, Any]) -> None:
    """What a technician reads at the head of the page is in the answer, word for word."""
    found = diagnosed(DiagnosisRequest.model_validate(copy.deepcopy(dict(body))))
    first, second, _ = of_visit(found, "technician").sentences
    assert first in found.answer["sentence"]
    assert second in found.answer["sentence"] or second.startswith("Against their limits")


@pytest.mark.parametrize("verdict", VERDICTS)
@pytest.mark.parametrize("fault", FAULTS)
def test_a_customer_reads_no_jargon(fault: str, verdict: DiagnosisVerdict) -> None:
    """Whatever is found, in every verdict."""
    facts = DiagnosisFacts(
        verdict,
        {"no_fault": 0.05, "low_charge": 0.3, "overcharge": 0.2, fault: 0.93},
        groups=((fault,), ("expansion_underfeeding", "liquid_line_restriction")),
        efficiency=Estimate(-9.0, -14.0, -4.0),
        costly=0.92,
    )
    texts = (
        what(facts, "customer"),
        loss(facts, "customer", compared=True, counted=""),
        certainty(facts),
    )
    for text in texts:
        assert not JARGON.search(text), text
        assert "  " not in text
        assert not re.search(r"\)\s*\(", text), text


def test_a_probability_is_in_words_and_in_a_number_for_a_customer() -> None:
    """0.93 is "very likely" on the scale of the IPCC (Mastrandrea 2010: 90 to 100 %)."""
    facts = DiagnosisFacts("fault_found", {"low_charge": 0.93, "no_fault": 0.02}, (("low_charge",),))
    assert what(facts, "customer") == "Found: a low refrigerant charge (very likely, 0.93)."
    assert what(facts) == "Found: an undercharge (low on refrigerant; probability 0.93)."


def test_names_fit_into_lists() -> None:
    """Noun phrases without a capital or a full stop, so that they go on in a sentence."""
    for name in FAULTS:
        for text in (named(name), named(name, "customer")):
            assert text[0].islower()
            assert not text.endswith(".")


def test_urgent_harm_comes_before_what_was_not_assessed() -> None:
    """A stalled compressor: found, switched off, and only then why nothing else is known."""
    facts = DiagnosisFacts(
        "fault_found",
        {"compressor_stalled": 0.95},
        (("compressor_stalled",),),
        reason="no pressures",
    )
    text = sentence(facts)
    assert text.startswith("Found: ")
    assert text.index("Switch it off now") < text.index("No pressures. The refrigerant cycle was")
