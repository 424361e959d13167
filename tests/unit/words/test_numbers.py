"""Numbers in sentences: a true minus sign, no sign on a zero, one unit for a range.

Rules of typography are those of the SI brochure (9th edition, 5.4) and of common practice: a minus sign is
U+2212, not a hyphen; thousands are set apart by a thin space.
"""

from __future__ import annotations

import json
import re

import pytest
from fastapi.testclient import TestClient

from schemas.examples import comparison_examples, plan_examples, trend_examples
from service.words.numbers import Estimate, ends, figure, percent
from service.words.phrases import phrase, signed_phrase, span


@pytest.mark.parametrize(
    ("value", "places", "plain", "signed"),
    [
        (0.0, 0, "0", "0"),
        (-0.0, 1, "0.0", "0.0"),
        (-0.04, 1, "0.0", "0.0"),
        (0.04, 1, "0.0", "0.0"),
        (-0.06, 1, "−0.1", "−0.1"),
        (7.24, 1, "7.2", "+7.2"),
        (-12345.0, 0, "−12\u202f345", "−12\u202f345"),
        (float("inf"), 1, "not known", "not known"),
    ],
)
def test_signs_of_numbers(value: float, places: int, plain: str, signed: str) -> None:
    """A rounded zero has none."""
    assert figure(value, places) == plain
    assert figure(value, places, signed=True) == signed


def test_ranges_and_changes() -> None:
    """A change of 9 K is 16.2 °F; the unit comes once."""
    assert ends(-0.04, 2.44, 1, signed=True) == "0.0 to +2.4"
    assert percent(Estimate(0.04, -2.31, 2.44)) == "0.0 % (95 %: −2.3 to +2.4 %)"
    assert phrase("temperature_difference", -9.0, "imperial") == "−16.2 °F"
    assert signed_phrase("temperature_difference", 9.0, "imperial") == "+16.2 °F"
    assert signed_phrase("temperature_difference", 0.001, "metric") == "0.0 K"
    assert span("temperature_difference", -9.0, 0.0, "imperial", signed=True) == "−16.2 to 0.0 °F"


BODIES = {
    **{("/v1/comparisons", n): b for n, b in comparison_examples().items()},
    **{("/v1/plans", n): b for n, b in plan_examples().items()},
    **{("/v1/trends", n): b for n, b in trend_examples().items()},
}


@pytest.mark.parametrize("of", BODIES, ids="/".join)
def test_sentences_of_changes_keep_to_the_rules(client: TestClient, of: tuple[str, str]) -> None:
    """No hyphen before a digit where a minus is meant, no signed zero, no word of the list to avoid."""
    answer = client.post(of[0], json=BODIES[of]).json()
    answer.pop("assessments", None)
    texts = re.findall(r'"(?:sentence|what|to_halve_it|text)":"(.*?)"[,}]', _compact(answer))
    assert len(texts) > 5
    for text in texts:
        assert not re.search(r"(?<![\w/-])-\d", text), text
        assert not re.search(r"[+−]0(\.0+)? ", text), text
        assert not re.search(r"\b(told|reckon\w*|anew|like weather|in itself|may well)\b", text), text


def _compact(answer: object) -> str:
    return json.dumps(answer, ensure_ascii=False, separators=(",", ":"))
