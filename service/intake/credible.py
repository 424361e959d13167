"""Readings that cannot be right, found before anything is derived from them: each is left out, with the reason.

A reading outside its bounds for a unit of this rating; and temperatures that make sense only in the other unit, weighed
in both, so that a cold house in heating stays one.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import NamedTuple

import numpy as np

from schemas.readings import READINGS
from service.intake.entry import Entry
from service.intake.paths import CURVES, READING, SITE_PRESSURE
from service.intake.visit import LeftOut
from service.reference.credible import ALIKE, BOUNDS, FEWEST_IMPOSSIBLE, FEWEST_UNUSUAL, WINDOWS, Window
from service.reference.settling import JUST_STARTED
from service.reference.units import KINDS, OTHER_TEMPERATURE, conversion, system_unit

_MODES = ("cooling", "heating")


def leave_out_impossible(entry: Entry) -> None:
    """Take out what cannot be right, once all is taken in that says so."""
    for one in (*_out_of_bounds(entry), *_in_another_unit(entry)):
        entry.left_out.append(one)
        for name in one.readings:
            del entry.readings[name]
            entry.instruments.pop(name, None)
            entry.leaves.forget(READING + name)


# ---------------------------------------------------------------- bounds


def _out_of_bounds(entry: Entry) -> Iterator[LeftOut]:
    for name, value in list(entry.readings.items()):
        for row in BOUNDS.get(name, ()):
            path = next((path for path in row.of if path in entry.constants), None)
            if row.of and path is None:
                continue
            of = None if path is None else (entry.leaves.depends[path][0], float(entry.constants[path]))
            found = LeftOut((name,), value, _taken(entry, name), None, row, of)
            if not found.bounds[0] <= value <= found.bounds[1]:
                yield found._replace(meant=_meant(READINGS[name].kind, value, found.taken, found.bounds))
                break


def _meant(kind: str, value: float, taken: str, bounds: Window) -> str | None:
    """The unit in which the number would be possible; None where no unit makes it so."""
    number = conversion(kind, taken).from_si(value)
    return next(
        (
            symbol
            for symbol in KINDS[kind].units
            if symbol != taken and bounds[0] <= conversion(kind, symbol).to_si(number) <= bounds[1]
        ),
        None,
    )


def _taken(entry: Entry, name: str) -> str:
    """The unit in which a reading was taken."""
    kind = READINGS[name].kind
    if entry.logged is not None and name in entry.logged.readings:
        return entry.logged.readings[name].unit
    group, _, part = name.partition(".")
    given = getattr(entry.request.run.readings, group)
    given = getattr(given, part) if part else given
    return getattr(given, "unit", None) or system_unit(kind, entry.system)


# ---------------------------------------------------------------- temperatures


class _Outside(NamedTuple):
    """How many windows the temperatures are outside: usual ones, and possible ones."""

    usual: int
    possible: int


def _outside(values: Mapping[str, float], mode: str, about: Iterable[str] | None = None) -> _Outside:
    """How many windows of a mode temperatures [K] are outside; only those that concern some of them, if named."""
    usual = possible = 0
    concerned = None if about is None else frozenset(about)
    for row in WINDOWS[mode]:
        if row.name not in values or (row.lower and row.lower not in values):
            continue
        if concerned is not None and concerned.isdisjoint(row.names):
            continue
        value = values[row.name] - (values[row.lower] if row.lower else 0.0)
        usual += not row.usual[0] <= value <= row.usual[1]
        possible += not row.possible[0] <= value <= row.possible[1]
    return _Outside(usual, possible)


def _in_another_unit(entry: Entry) -> Iterator[LeftOut]:
    """Temperatures that make sense only in the other unit: all of them, those of one instrument, or one."""
    mode = entry.request.unit.mode
    judged = {row.name for rows in WINDOWS.values() for row in rows if not row.lower}
    read = {name: value for name, value in entry.readings.items() if name in judged}
    settled = _settled(entry)
    if not read or not _outside(read, mode).usual:
        return  # as nearly always
    taken = {name: unit for name in read if (unit := _taken(entry, name)) in OTHER_TEMPERATURE}
    turned = {name: _turned(read[name], unit) for name, unit in taken.items()}
    known = _saturation(entry)
    stated = (mode,) if "mode" in entry.request.unit.model_fields_set else _MODES
    as_taken = read | _saturation_of(read, known)
    # Readings of the other mode are not in another unit.
    likely = min((mode, *_MODES), key=lambda one: _outside(as_taken, one).usual)
    for names in _candidates(turned):
        whole = 1 < len(names) == len(read)
        if not whole and not settled.issuperset(names):
            continue  # the start explains what a part of the readings shows
        others = read | {name: turned[name] for name in names}
        there = others | _saturation_of(others, known)
        if _make_sense(as_taken, there, stated) if whole else _fit(as_taken, there, names, likely):
            unit = taken[names[0]]
            yield LeftOut(names, read[names[0]], unit, OTHER_TEMPERATURE[unit])
            return


def _settled(entry: Entry) -> frozenset[str]:
    """Readings that the start of the unit no longer makes unlike the others."""
    minutes = entry.minutes_running
    if minutes is not None and minutes <= JUST_STARTED:
        return frozenset()
    logged = {} if entry.logged is None else entry.logged.readings
    return frozenset(
        name
        for name in entry.readings
        if name not in logged or ((own := logged[name].settled) is not None and own.settled_from is not None)
    )


def _make_sense(as_taken: Mapping[str, float], there: Mapping[str, float], modes: Iterable[str]) -> bool:
    """Whether all temperatures make sense in the other unit (``there``) in one of some modes, and not as taken in any.

    A unit with a fault may be unusual in places.
    """
    impossible = min(_outside(as_taken, one).possible for one in _MODES)
    others = (_outside(there, one) for one in modes)
    return any(not other.possible and impossible >= FEWEST_IMPOSSIBLE + other.usual for other in others)


def _fit(as_taken: Mapping[str, float], there: Mapping[str, float], names: tuple[str, ...], mode: str) -> bool:
    """Whether some temperatures fit the others in the other unit (``there``), and not as taken."""
    other, taken = _outside(there, mode, names), _outside(as_taken, mode, names)
    return not other.usual and (taken.possible >= 1 or taken.usual >= FEWEST_UNUSUAL)


def _candidates(read: Mapping[str, float]) -> Iterator[tuple[str, ...]]:
    """Sets of readings that one mistake would move: all, those of one instrument, each."""
    if read:
        yield tuple(read)
    for alike in ALIKE:
        names = tuple(name for name in read if name in alike)
        if 1 < len(names) < len(read):
            yield names
    if len(read) > 1:
        # A wet bulb by itself is checked against its dry bulb.
        yield from ((name,) for name in read if not name.endswith("wet_bulb"))


def _turned(value: float, taken: str) -> float:
    """The temperature [K] that the same number means in the other unit."""
    return conversion("temperature", OTHER_TEMPERATURE[taken]).to_si(conversion("temperature", taken).from_si(value))


def _saturation(entry: Entry) -> dict[str, float]:
    """Evaporating and condensing temperature [K] by the pressures that were read."""
    curves = entry.constants.get(CURVES)
    site = entry.leaves.uncertain.get(SITE_PRESSURE)
    found = {}
    for name, pressure in (("evaporating", "suction_pressure"), ("condensing", "liquid_pressure")):
        leaf = entry.leaves.uncertain.get(READING + pressure)
        if curves is None or leaf is None:
            continue
        absolute = leaf.value + (site.value if site is not None and leaf.then == SITE_PRESSURE else 0.0)
        to_temperature = curves.dew_temperature if name == "evaporating" else curves.bubble_temperature
        value = float(to_temperature(np.array([absolute]))[0])
        if np.isfinite(value):
            found[name] = value
    return found


def _saturation_of(read: Mapping[str, float], known: Mapping[str, float]) -> dict[str, float]:
    """The same, with saturation temperatures read off a gauge where no pressure was read."""
    dials = (
        ("evaporating", "suction_saturation_temperature"),
        ("condensing", "liquid_saturation_temperature"),
    )
    return {name: read[dial] for name, dial in dials if dial in read} | dict(known)
