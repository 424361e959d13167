"""The contract keeps what its last release promised, and the checker that says so can tell."""

from __future__ import annotations

import copy
import json
from typing import Any

import pytest

from tests.contract import release
from tests.contract.compatibility import broken
from tests.contract.planted import BREAKING, KEPT, OLD, changed


@pytest.mark.parametrize("change", BREAKING)
def test_a_breaking_change_is_told(change: str) -> None:
    """Each by itself."""
    assert broken(OLD, changed(BREAKING[change]))


@pytest.mark.parametrize("change", KEPT)
def test_a_change_that_breaks_nothing_is_not(change: str) -> None:
    """Each by itself."""
    assert broken(OLD, changed(KEPT[change])) == []


def test_it_says_what_and_where() -> None:
    """One line for one change, with the place."""
    said = broken(OLD, changed(BREAKING["a branch loses a unit"]))
    body = "POST /v1/answers, body application/json"
    assert said == [f'{body}/{place}/unit: "kPa" is not taken' for place in ("reading", "kit/*")]


def test_a_keyword_that_is_not_compared_is_no_silent_yes() -> None:
    """Nor is it where it is old."""
    later = copy.deepcopy(OLD)
    later["components"]["schemas"]["Row"]["properties"]["low"]["multipleOf"] = 2
    for pair in ((OLD, later), (later, OLD)):
        with pytest.raises(ValueError, match="multipleOf"):
            broken(*pair)


def test_the_contract_keeps_what_its_last_release_promised() -> None:
    """See "How the contract grows" in DEVELOPERS.md for what to do where it does not."""
    last = release.last()
    assert last is not None, "python -m tests.contract.release"
    assert broken(json.loads(last.read_text("utf-8")), release.current()) == []


def _fields(contract: Any) -> list[tuple[str, str]]:  # noqa: ANN401
    return [
        (name, field)
        for name, model in contract["components"]["schemas"].items()
        for field in model.get("properties", ())
    ]


@pytest.mark.parametrize("turn", range(12))
def test_every_part_of_the_contract_is_compared(turn: int) -> None:
    """A field that is gone, or of another kind, is told wherever it is: in bodies, answers, lines of batches."""
    whole = release.current()
    fields = _fields(whole)
    for place, how in ((turn * 61, "gone"), (turn * 61 + 30, "another")):
        name, field = fields[place % len(fields)]
        later = copy.deepcopy(whole)
        model = later["components"]["schemas"][name]
        model["properties"].pop(field)
        if how == "another":
            model["properties"][field] = {"const": "nothing else"}
        model["required"] = [other for other in model.get("required", ()) if other != field]
        assert broken(whole, later), (name, field, how)


def test_the_contract_keeps_itself() -> None:
    """Compared in full, as under other names nothing is the same at a glance."""
    whole = release.current()
    renamed = json.loads(json.dumps(whole).replace("#/components/schemas/", "#/components/schemas/Another"))
    components = renamed["components"]["schemas"]
    renamed["components"]["schemas"] = {f"Another{name}": part for name, part in components.items()}
    assert broken(whole, renamed) == []
