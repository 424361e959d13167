"""How a number is written: one rule each for the minus sign, for zero, for a sign, for a range."""

from __future__ import annotations

from math import isfinite
from typing import NamedTuple

MINUS = "\N{MINUS SIGN}"
_THOUSANDS = "\N{NARROW NO-BREAK SPACE}"


class Estimate(NamedTuple):
    """A best estimate with the ends of its 95 % band."""

    value: float
    low: float
    high: float


def figure(value: float, places: int, *, signed: bool = False) -> str:
    """A number with its decimals; thousands are set apart."""
    if not isfinite(value):
        return "not known"
    text = f"{value:,.{places}f}"
    if "," in text:
        text = text.replace(",", _THOUSANDS)
    if text[0] == "-":
        text = with_minus(text)
    return with_sign(text) if signed else text


def with_minus(text: str) -> str:
    """A number as Python prints it, with a true minus sign; a rounded zero has none."""
    if not text.startswith("-"):
        return text
    return MINUS + text[1:] if _is_not_zero(text) else text[1:]


def with_sign(text: str) -> str:
    """A number in words, with a plus sign where it is above zero."""
    return f"+{text}" if not text.startswith(MINUS) and _is_not_zero(text) else text


def _is_not_zero(text: str) -> bool:
    number = text.replace(_THOUSANDS, "").split(" ")[0]
    return bool(number.strip("-0."))


def ends(low: float, high: float, places: int, *, signed: bool = False) -> str:
    """Both ends of a range with their decimals, without a unit."""
    return f"{figure(low, places, signed=signed)} to {figure(high, places, signed=signed)}"


def percent(change: Estimate) -> str:
    """A relative change [%] with its band."""
    band = ends(change.low, change.high, 1, signed=True)
    return f"{figure(change.value, 1, signed=True)} % (95 %: {band} %)"
