"""The cut form of a comparison says nothing that the whole does not say."""

from __future__ import annotations

from typing import Any

import orjson
import pytest

from schemas.comparisons import Comparison, ComparisonRequest
from schemas.details import Verdicts
from schemas.examples import comparison_examples
from service.compare.comparison import compare
from service.compare.verdicts import verdicts_of
from tests.answers import conforms

#: Parts that are words about the numbers, or where they come from.
WORDY = {"sentence", "source", "method", "text", "instruments", "variance_shares", "provenance"}


def bodies() -> dict[str, Any]:
    """The examples, and one with nothing to judge: readings that do not give efficiency."""
    bare = {
        "units": "metric",
        "runs": {
            run: {"readings": {"suction_pressure": 800, "suction_line_temperature": 12}} for run in ("before", "after")
        },
    }
    return {**comparison_examples(), "bare": bare}


def leaves(part: Any, path: tuple[str, ...] = ()) -> dict[tuple[str, ...], Any]:  # noqa: ANN401
    """Every number, word and null by the names that lead to it."""
    if isinstance(part, dict) and part:
        return {k: v for name, inner in part.items() for k, v in leaves(inner, (*path, name)).items()}
    if isinstance(part, list) and part:
        return {k: v for n, inner in enumerate(part) for k, v in leaves(inner, (*path, str(n))).items()}
    return {path: part}


@pytest.mark.parametrize("name", bodies())
def test_each_part_is_in_the_whole(name: str) -> None:
    """At the same names, letter for letter; the ends of a band are within `band` there."""
    whole = orjson.loads(orjson.dumps(compare(ComparisonRequest.model_validate(bodies()[name]))))
    conforms(Comparison, whole)
    cut = orjson.loads(orjson.dumps(verdicts_of(whole)))
    conforms(Verdicts, cut)
    cut.pop("assessments")  # the cut of an assessment has tests of its own
    comparable = cut.pop("comparable")
    assert comparable == whole["conditions"]["comparable"]
    there = leaves(whole)
    for path, value in leaves(cut).items():
        *above, last = path
        place = (*above, "band", last) if last in ("low", "high") else path
        assert there[place] == value, path
        assert not WORDY & set(path)


@pytest.mark.parametrize("name", bodies())
def test_no_number_of_the_system_is_lost(name: str) -> None:
    """All verdicts and changes are kept, of each quantity too, and both runs."""
    whole = compare(ComparisonRequest.model_validate(bodies()[name]))
    cut = verdicts_of(whole)
    kept = set(cut["system"])
    assert set(whole["system"]) - kept == {"sentence", "at_rating_conditions", "uncertainty_from"}
    assert list(cut["changes"]) == list(whole["changes"])
    assert set(whole["worth"]) - set(cut["worth"]) == {"sentence"}
    for run in ("before", "after"):
        of_whole, of_cut = whole["assessments"][run], cut["assessments"][run]
        assert list(of_cut["derived"]) == list(of_whole["derived"])
        for quantity, change in whole["changes"].items():
            # The assessments hold what the cut form leaves out of a change.
            assert of_cut["derived"][quantity]["value"] == change[run]
            assert of_cut["derived"][quantity]["unit"] == change["unit"]


def test_the_cut_is_much_smaller() -> None:
    """Less than a third of the bytes for the full comparison of the examples."""
    whole = compare(ComparisonRequest.model_validate(comparison_examples()["coil_cleaned"]))
    assert len(orjson.dumps(verdicts_of(whole))) < len(orjson.dumps(whole)) / 3
