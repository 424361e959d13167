"""Labels and names that turn the direction of the writing are refused, wherever they are given."""

from __future__ import annotations

import unicodedata
from typing import Any

import pytest

from schemas.assessments import AssessmentRequest
from schemas.comparisons import ComparisonRequest
from service.assess.pipeline import assess
from service.compare.comparison import compare
from service.intake.names import BIDIRECTIONAL_CONTROLS
from service.intake.refusals import RefusedError

#: Unicode Standard Annex 9, table 4 and section 2: the explicit and the implicit directional characters.
CONTROLS = "\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"


def test_all_bidirectional_controls_are_known() -> None:
    """And none but format characters, as Unicode's database classes them."""
    found = BIDIRECTIONAL_CONTROLS.findall("".join(map(chr, range(0x110000))))
    assert found == list(CONTROLS)
    assert {unicodedata.category(one) for one in found} == {"Cf"}


@pytest.mark.parametrize(
    ("part", "where"),
    [
        ({"labels": {"customer": "The \u202erenwo"}}, "/labels/customer"),
        ({"kit": {"ga\u2066uges": {"type": "analog_gauge"}}}, "/kit/ga\u2066uges"),
    ],
)
def test_one_is_refused_at_its_field(part: dict[str, Any], where: str) -> None:
    with pytest.raises(RefusedError) as refused:
        assess(AssessmentRequest.model_validate({"units": "imperial", "run": {"readings": {}}, **part}))
    (row,) = refused.value.refusals
    assert row.pointer == where
    assert not BIDIRECTIONAL_CONTROLS.search(str(row.value))
    runs: dict[str, Any] = {"before": {"readings": {}}, "after": {"readings": {}}}
    request = ComparisonRequest.model_validate({"units": "imperial", "runs": runs, **part})
    with pytest.raises(RefusedError) as refused:
        compare(request)
    assert {row.pointer for row in refused.value.refusals} == {where}


def test_a_name_in_another_script_is_taken() -> None:
    """Hebrew and Arabic letters need no control character to run from right to left."""
    labels = {"customer": "\u05d3\u05d5\u05d3 \u0645\u062d\u0645\u062f 7"}
    request = AssessmentRequest.model_validate({"units": "imperial", "labels": labels, "run": {"readings": {}}})
    assert assess(request)["units"] == "imperial"
