"""The pictures of the checks: the one table of which check has one, and what it shows."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType
from typing import Any

import numpy as np

from schemas.checks.pressure_hold import PressureHoldRequest
from schemas.checks.vacuum_rise import VacuumRiseRequest
from service.checks.pressure_hold import held
from service.checks.vacuum_rise import stood
from service.reference.check_limits import CHECK_LIMITS, SEEN
from service.reference.units import conversion, system_unit
from service.render.drawing import Drawing
from service.render.series_chart import Chart, Curve, Point, draw
from service.words import checks as words
from service.words.phrases import unit_word

#: Standard deviations in half a 95 % band.
_HALF = 1.96


def vacuum_rise(request: VacuumRiseRequest) -> Drawing:
    """Pressures after the pump was isolated, with both explanations of the rise."""
    found = stood(request)
    symbol = system_unit("vacuum", request.units)
    scale = conversion("vacuum", symbol).scale
    points = [
        Point(time / 60.0, pressure / scale, _HALF * deviation / scale)
        for time, pressure, deviation in zip(
            found.times.tolist(), found.pressures.tolist(), found.deviations.tolist(), strict=True
        )
    ]
    later = np.linspace(0.0, found.duration, 49)
    start, size, constant = found.explained.curve
    dried = start + size * -np.expm1(-later / constant) / -np.expm1(-found.duration / constant)
    leaked = found.explained.line[0] + found.explained.line[1] * later / found.duration
    chances = found.explained.probabilities
    curves = [
        Curve(
            list(zip((later / 60.0).tolist(), (values / scale).tolist(), strict=True)),
            style,
            words.curve_of_vacuum(name, chances[name]),
        )
        for values, style, name in ((leaked, "line-first", "leak"), (dried, "line-trend", "drying"))
    ]
    upper = CHECK_LIMITS["vacuum_after_ten_minutes"].upper
    assert isinstance(upper, float)
    levels = [(upper / scale, "usual limit after ten minutes")]
    if found.saturation is not None:
        levels.append((found.saturation / scale, "saturation pressure of water"))
    return draw(
        Chart(
            "vacuum-rise",
            words.VACUUM_TITLE[found.verdict],
            "",
            words.described(found.verdict, len(points), "pressure over time after the pump was isolated"),
            "minutes since isolation",
            unit_word(symbol),
            points,
            curves,
            levels,
        )
    )


def pressure_hold(request: PressureHoldRequest) -> Drawing:
    """Pressures of a test over time, and what they would be without a leak."""
    found = held(request)
    symbol = system_unit("pressure", request.units)
    scale = conversion("pressure", symbol).scale
    spread = found.smallest / SEEN / scale
    points = [
        Point(time / 60.0, pressure / scale, _HALF * spread)
        for time, pressure in zip(found.times.tolist(), found.read.tolist(), strict=True)
    ]
    expected = list(zip((found.times / 60.0).tolist(), (found.expected / scale).tolist(), strict=True))
    curves = [Curve(expected, "line-trend", "expected without a leak, at the gas temperatures read")]
    levels = [] if found.allowed is None else [(found.allowed / scale, "highest test pressure allowed")]
    return draw(
        Chart(
            "pressure-hold",
            words.HOLD_TITLE[found.verdict],
            "",
            words.described(found.verdict, len(points), "nitrogen pressure over time"),
            "minutes since the test began",
            f"{unit_word(symbol)} gauge",
            points,
            curves,
            levels,
            "reading, with the 95 % band of its fall from the first",
        )
    )


#: The picture of a check, by its name; the others have none.
CHECK_PICTURES: Mapping[str, Callable[[Any], Drawing]] = MappingProxyType(
    {"pressure-hold": pressure_hold, "vacuum-rise": vacuum_rise}
)
