"""Numbers in sentences, in the caller's units."""

from __future__ import annotations

from service.reference.units import KINDS, conversion, system_unit

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
}


def unit_word(symbol: str) -> str:
    """How a unit symbol is written in a sentence."""
    return _SHOWN.get(symbol, symbol)


def bare(kind: str, value: float, system: str) -> str:
    """A value in the caller's units, to the decimals that the kind deserves, without its unit."""
    symbol = system_unit(kind, system)
    decimals = KINDS[kind].decimals.get(symbol, 1)
    text = f"{conversion(kind, symbol).from_si(value):.{decimals}f}"
    return text[1:] if text.startswith("-") and not text.strip("-0.") else text


def phrase(kind: str, value: float, system: str) -> str:
    """A value with its unit."""
    return f"{bare(kind, value, system)} {unit_word(system_unit(kind, system))}".rstrip()
