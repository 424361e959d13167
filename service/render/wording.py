"""Numbers and names of an answer in words: its values are in the caller's units already."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from schemas.assessments import Band
from schemas.comparisons import Change, PercentChange
from schemas.diagnoses import Diagnosis
from service.derive.derivations import QUANTITIES
from service.intake.paths import READING
from service.reference.limits import LIMITS
from service.reference.units import KINDS, in_system, system_unit
from service.words import numbers, phrases
from service.words.diagnosis import heading
from service.words.numbers import figure
from service.words.phrases import unit_word

#: An answer, or a part of one, as the service gives it.


def nothing_wrong(answer: Diagnosis) -> float | None:
    """Probability of no fault, as a diagnosis lists it; None where no cycle was weighed."""
    return next((row["probability"] for row in answer["hypotheses"] if row["fault"] == "no_fault"), None)


def diagnosed(answer: Diagnosis) -> str:
    """The verdict of a diagnosis in a few words."""
    return heading(answer["verdict"], nothing_wrong(answer))


def words(code: str) -> str:
    """A code of the contract in words."""
    return code.replace("_", " ")


def reading_words(path: str) -> str:
    """A path of the request in words: the reading, or what of the unit."""
    _, of_reading, name = path.rpartition("readings.")
    return phrases.spoken(READING + name if of_reading else path)


def label(quantity: str) -> str:
    """What a derived value is called."""
    known = QUANTITIES.get(quantity)
    return known.label if known is not None else words(quantity).capitalize()


def finding_label(finding: Mapping[str, Any]) -> str:
    """What a finding is about: the quantity, and which of its limits where there are several."""
    name = label(finding["quantity"])
    limit = finding["limit"]
    row = None if limit is None else LIMITS.get(limit["id"])
    return f"{name} ({row.aspect})" if row is not None and row.aspect else name


def decimals(unit: str, quantity: str | None = None) -> int:
    """Decimals that a value deserves, by its kind and unit."""
    if quantity is not None and quantity in QUANTITIES:
        return KINDS[QUANTITIES[quantity].kind].decimals.get(unit, 1)
    return next((k.decimals[unit] for k in KINDS.values() if unit in k.decimals), 1)


def amount(value: float, unit: str, quantity: str | None = None, *, signed: bool = False) -> str:
    """A value with its unit."""
    return f"{figure(value, decimals(unit, quantity), signed=signed)} {unit_word(unit)}".rstrip()


def of_kind(kind: str, value: float, system: str) -> str:
    """A value in SI as an amount in the caller's units."""
    symbol = system_unit(kind, system)
    places = KINDS[kind].decimals.get(symbol, 1)
    return f"{figure(in_system(kind, value, system), places)} {unit_word(symbol)}".rstrip()


def places_of(band: Band, places: int) -> int:
    """Decimals at which no end of a band that is not zero reads as zero; two more at the most."""
    for more in range(2):
        if all(band[end] == 0.0 or round(band[end], places + more) != 0.0 for end in ("low", "high")):
            return places + more
    return places + 2


def span(band: Band, unit: str, quantity: str | None = None, *, signed: bool = False) -> str:
    """A band, without its unit."""
    return ends(band, decimals(unit, quantity), signed=signed)


def ends(band: Band, places: int, *, signed: bool = False) -> str:
    """Both ends of a band with their decimals."""
    return numbers.ends(band["low"], band["high"], places, signed=signed)


def percent(change: PercentChange | Change, places: int = 1) -> str:
    """A relative change with its band."""
    value = figure(change["value"], places, signed=True)
    return f"{value} % ({ends(change['band'], places, signed=True)} %)"


def chance(probability: float) -> str:
    """A probability to two decimals, never rounded to certainty."""
    return phrases.chance(probability, 2)
