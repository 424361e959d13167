"""Numbers in sentences, in the caller's units; and what a sentence is."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache, lru_cache

from service.reference.units import KINDS, conversion, system_unit
from service.words.numbers import figure, with_sign

_SHOWN = {
    "degF": "°F",
    "degC": "°C",
    "delta_degF": "°F",
    "delta_degC": "K",
    "uF": "µF",
    "inH2O": "in. w.c.",
    "m3/h": "m³/h",
    "m3/h/kW": "m³/h per kW",
    "1": "",
    "psia": "psi absolute",
    "ohm": "Ω",
    "Mohm": "MΩ",
    "ft2": "ft²",
    "m2": "m²",
    "h ft2 degF/Btu": "h ft² °F/Btu",
    "m2 K/W": "m² K/W",
    "umHg": "microns",
    "umHg/min": "microns a minute",
    "Pa/min": "Pa a minute",
    "g/d": "g a day",
    "oz/d": "oz a day",
    "%/a": "% a year",
    "lb/a": "lb a year",
    "kg/a": "kg a year",
}


#: Paths that their own last part does not say plainly.
_PATHS = {
    "unit.rated.eer": "the rated energy efficiency ratio",
    "unit.compressor_map": "the compressor's map",
    "run.airflow_measured_at": "where airflow was measured",
    "run.minutes_running": "how long the unit had run",
    "usage.cooling_hours": "the hours of cooling in a year",
    "usage.heating_hours": "the hours of heating in a year",
}


@lru_cache(maxsize=1024)
def spoken(path: str) -> str:
    """A path of a request in words, for sentences that people read: they know no field names."""
    if path in _PATHS:
        return _PATHS[path]
    for prefix, article in (
        ("run.readings.", ""),
        ("unit.nameplate.", "the nameplate's "),
        ("unit.rated.", "the rated "),
        ("unit.", "the unit's "),
        ("site.", "the site's "),
        ("usage.", "the "),
    ):
        if path.startswith(prefix):
            name, _, part = path.removeprefix(prefix).partition(".")
            words = article + name.replace("_", " ")
            phases = part.upper().replace("_", " to ")
            if part.startswith(("l1", "l2", "l3")):
                return f"{words} {phases}"
            return f"{words} of the {part.replace('_', ' ')}" if part else words
    return path.replace("_", " ").replace(".", " ")


def unit_word(symbol: str) -> str:
    """How a unit symbol is written in a sentence."""
    return _SHOWN.get(symbol, symbol)


@dataclass(frozen=True, slots=True)
class _Written:
    """How values of a kind are written in a unit system: conversion from SI, decimals, and what follows."""

    scale: float
    offset: float
    decimals: int
    unit: str


@cache
def _written(kind: str, system: str) -> _Written:
    symbol = system_unit(kind, system)
    unit, word = conversion(kind, symbol), unit_word(symbol)
    decimals = KINDS[kind].decimals.get(symbol, 1)
    return _Written(unit.scale, unit.offset, decimals, f" {word}" if word else "")


def bare(kind: str, value: float, system: str) -> str:
    """A value in the caller's units, to the decimals that the kind deserves, without its unit."""
    written = _written(kind, system)
    return figure((value - written.offset) / written.scale, written.decimals)


def phrase(kind: str, value: float, system: str) -> str:
    """A value with its unit."""
    return bare(kind, value, system) + _written(kind, system).unit


def signed_phrase(kind: str, value: float, system: str) -> str:
    """A change with its sign and its unit."""
    return with_sign(phrase(kind, value, system))


def span(kind: str, low: float, high: float, system: str, *, signed: bool = False) -> str:
    """A range; its unit comes once, after the upper end."""
    first, last = bare(kind, low, system), phrase(kind, high, system)
    return f"{with_sign(first)} to {with_sign(last)}" if signed else f"{first} to {last}"


#: Probabilities from which something is decided or named, and one up to which it is: none is rounded
#: across.
_DECIDE_FROM = (0.10, 0.80, 0.90, 0.95, 0.975)
_DECIDE_TO = 0.05


def chance(probability: float, decimals: int = 2) -> str:
    """A probability, never rounded to certainty, nor to a side on which something else would be decided."""
    step = 10.0**-decimals
    if probability > 1.0 - step / 2.0:
        return f"over {1.0 - step:.{decimals}f}"
    if probability < step / 2.0:
        return f"under {step:.{decimals}f}"
    shown = round(probability, decimals)
    if any(probability < limit <= shown for limit in _DECIDE_FROM):
        shown -= step
    if shown <= _DECIDE_TO < probability:
        shown += step
    return f"{shown:.{decimals}f}"


def listed(names: Sequence[str], last: str = "and") -> str:
    """Names in a row: "a, b and c"."""
    *rest, final = names
    return f"{', '.join(rest)} {last} {final}" if rest else final


def lowered(text: str) -> str:
    """A text that continues a sentence."""
    return text[:1].lower() + text[1:]


def capital(text: str) -> str:
    """A text that starts a sentence."""
    return text[:1].upper() + text[1:]


def first_sentence(text: str) -> str:
    """The first sentence of a text; a full stop within quotes ends none."""
    found = re.match(r"""(?:"[^"]*"|[^"])*?[.!?](?=\s+[A-Z"]|\s*$)""", text)
    return found.group(0) if found is not None else text
