"""The sentences of an assessment say what was judged, and nothing else."""

from __future__ import annotations

import inspect
import re

import pytest

from service.assess import before_charge, heating, mistaken, usability
from service.assess.findings import Judged
from service.reference.limits import LIMITS
from service.reference.notices import FIXED, ORDERS
from service.words import assessment as words
from service.words.phrases import first_sentence

LIMIT = LIMITS["superheat_valve"]
BOUNDS = (2.0, 14.0)


def said(one: Judged, probability: float) -> str:
    limits = words.limits_text("temperature_difference", BOUNDS, "metric")
    return words.held_against(one, BOUNDS, limits, probability, 0.95, 1)


@pytest.mark.parametrize("probability", [0.0501, 0.0504, 0.5, 0.9496, 0.94999])
def test_an_undecided_value_never_shows_a_probability_that_decides(probability: float) -> None:
    """JCGM 106: from 0.95 up it conforms, to 0.05 it does not; rounding must not cross either."""
    text = said(Judged(LIMIT, "inconclusive", inside=True), probability)
    shown = re.search(r"probability of conforming ([\d.]+);", text)
    assert shown is not None
    assert 0.05 < float(shown.group(1)) < 0.95


@pytest.mark.parametrize("probability", [1.0, 0.99999, 0.95])
def test_certainty_is_never_claimed(probability: float) -> None:
    """A probability is of a model: common practice, no source."""
    assert "1.000" not in said(Judged(LIMIT, "conforming"), probability)


def test_the_advice_is_that_of_the_side_which_is_exceeded() -> None:
    low = said(Judged(LIMIT, "nonconforming", low_side=True), 0.01)
    high = said(Judged(LIMIT, "nonconforming", low_side=False), 0.01)
    assert low.startswith("It is below the range")
    assert low.endswith(LIMIT.below)
    assert high.startswith("It is above the range")
    assert high.endswith(LIMIT.above)


def test_a_list_of_readings_reads_as_one() -> None:
    ways = [
        ("run.readings.compressor_common_current",),
        tuple(f"run.readings.line_voltages.{part}" for part in ("l1_l2", "l2_l3", "l3_l1")),
    ]
    assert words.needs(ways) == (
        "It needs compressor common current, or else line voltages L1 to L2, line voltages L2 to L3 and "
        "line voltages L3 to L1."
    )


@pytest.mark.parametrize(
    "owner",
    [
        "meter",
        "assumed:analog_gauge",
        "assumption: blower power",
        "placement: liquid line clamp",
        "site: air pressure",
        "refrigerant: property model",
    ],
)
def test_what_contributes_to_an_uncertainty_is_named_in_words(owner: str) -> None:
    text = words.main_uncertainty({owner: 0.7, "another": 0.3})
    assert text.startswith("Most of the uncertainty comes from ")
    assert not {":", "_"} & set(text)


def test_a_wrong_order_gives_its_reason_first() -> None:
    """A finding that is not graded quotes the first sentence alone: it must stand without the rest."""
    for row in ORDERS:
        reason = first_sentence(row.text)
        assert "limits were not applied" not in reason
        assert len(reason.split()) >= 8
        assert bool(row.stops) is ("were not applied" in row.text)


def test_every_fixed_notice_is_raised_somewhere() -> None:
    """A row that no check names would never be shown."""
    raised = "".join(inspect.getsource(module) for module in (usability, mistaken, before_charge, heating))
    assert set(FIXED) == set(re.findall(r'fixed\(\s*"(\w+)"', raised))
