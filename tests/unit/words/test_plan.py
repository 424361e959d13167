"""Sentences about what intended readings could show.

Expected texts follow the project's own style rules; no outside source.
"""

from __future__ import annotations

import pytest

from service.words.plan import (
    Way,
    cause_sentence,
    halved_by,
    halved_together,
    not_halved,
    plan_sentence,
    way_words,
)

AIR = Way("better_instrument", "air")
WEATHER = Way("like_weather", "")


@pytest.mark.parametrize(
    ("way", "said"),
    [
        (Way("repeats", "4"), "reading everything 4 times in each run"),
        (AIR, 'halving the error of "air"'),
        (Way("better_instrument", "assumed:clamp_meter"), "halving the error of the assumed clamp meter"),
        (Way("added_reading", "outdoor_unit_power"), "adding outdoor unit power in both runs"),
        (WEATHER, "reading both runs under the same conditions"),
    ],
)
def test_ways_are_named_without_field_names(way: Way, said: str) -> None:
    assert way_words(way) == said


def test_what_halves_the_smallest_change() -> None:
    assert halved_by([AIR, WEATHER]).startswith('Halved by halving the error of "air"; or by reading')
    assert halved_together([AIR, WEATHER]) == (
        'No single step halves it. Halving the error of "air" and reading both runs under the same conditions '
        "together would halve it."
    )
    assert not_halved([AIR], 3.04).startswith(
        'Even halving the error of "air" would not halve it: that brings it to 3.0 %.'
    )


def test_whether_the_change_can_be_found() -> None:
    found = plan_sentence(4.0, 5.0, None, [], None, can_be_found=True)
    assert found.startswith("A change of 5 % in efficiency can be found")
    missed = plan_sentence(8.0, 5.0, "the compressor", [], None, can_be_found=False)
    assert "It would have to be 8.0 % to show" in missed
    assert "(if the cause is the compressor)" in missed
    hidden = plan_sentence(8.0, 5.0, None, ["the compressor"], None, can_be_found=False)
    assert "They would not reveal a change in the compressor." in hidden


def test_the_change_itself_has_its_sign_and_its_unit() -> None:
    """exp(0.0953) is 1.10; 2 K is 3.6 °F."""
    steps = [("condenser_change", 0.0953), ("subcooling_change", -2.0)]
    text = cause_sentence(steps, 4.0, "imperial", seen=True)
    assert text.startswith("A change of 10 % in the outdoor coil's heat transfer with −3.6 °F in subcooling would show")
    assert cause_sentence(steps, 4.0, "imperial", seen=False).startswith("Does not show: ")
