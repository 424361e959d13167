"""Nitrogen under pressure, watched over time: did the circuit lose more than the temperature explains?

Density is what a leak takes.  Each reading is therefore brought to the temperature of the last one at constant
density of the real gas, and a line laid through these pressures over time; its fall is the loss.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from schemas.assessments import Finding, Missing, Notice
from schemas.checks import CheckAnswer
from schemas.checks.common import CheckStep
from schemas.checks.pressure_hold import PressureHoldRequest
from service.checks.taking import (
    Reading,
    ask,
    begin,
    drawn,
    gauge_or_absolute,
    in_order,
    one_instrument,
    take,
    take_volume,
)
from service.checks.workings import Outcome, Quantity, Workings, answer, notice, property_model, steps
from service.intake.paths import SITE_PRESSURE
from service.physics import nitrogen
from service.reference.check_limits import (
    LARGE_SWING,
    LEAST_TEST_PRESSURE,
    LEAST_TEST_TIME,
    SEEN,
    SETTLES_BY,
    SHORT_TEST,
)
from service.uncertainty.conformity import DECISION_PROBABILITY
from service.words import checks as words
from service.words.phrases import span

FloatArray = NDArray[np.float64]

_PSI = 6894.757293168361
#: Pressures of a test over the air and temperatures of the gas that are possible: -30 to 170 °F.
PRESSURE = Reading("readings.pressure", "pressure", "pressure", 0.0, 900.0 * _PSI, 0)
TEMPERATURE = Reading("readings.gas_temperature", "temperature", "line_temperature", 238.7, 349.8, 1)

EXPECTED = Quantity(
    "expected_pressure",
    "pressure",
    "The pressure expected without a leak",
    "first pressure at constant density, brought to the last temperature",
    "nitrogen_equation",
)
HIGHEST = Quantity("highest_pressure", "pressure", "The highest pressure", "highest reading", "definition")
LOSS = Quantity(
    "pressure_loss",
    "pressure_difference",
    "The loss of pressure",
    "fall over the test of a line through the pressures at the last temperature",
    "nitrogen_equation",
)
RATE = Quantity("pressure_loss_rate", "pressure_rate", "The loss of pressure an hour", "loss over time", "definition")
MASS = Quantity(
    "nitrogen_loss", "gas_mass", "The nitrogen lost", "fall of density times the volume", "nitrogen_equation"
)
MASS_RATE = Quantity(
    "nitrogen_loss_rate", "gas_mass_rate", "The nitrogen lost a day", "nitrogen lost over time", "nitrogen_equation"
)


@dataclass(frozen=True)
class Held:
    """A pressure test worked out, in SI: what the answer and the picture show.

    ``times`` [s]; ``read`` are the pressures over the air [Pa] as read, ``expected`` what each would be without a leak.
    """

    request: PressureHoldRequest
    workings: Workings
    times: FloatArray
    read: FloatArray
    expected: FloatArray
    temperatures: FloatArray
    allowed: float | None
    tight: float
    smallest: float
    smallest_mass_rate: float | None

    @property
    def duration(self) -> float:
        """Length of the test [s]."""
        return float(self.times[-1] - self.times[0])

    @property
    def highest(self) -> float:
        """Highest pressure over the air [Pa]."""
        return float(self.workings.value(HIGHEST.name))

    @property
    def over(self) -> bool:
        """Whether the pressure was above the highest one allowed."""
        return self.allowed is not None and self.highest > self.allowed

    @property
    def low(self) -> bool:
        """Whether so low a pressure hardly tests the circuit."""
        return self.highest < LEAST_TEST_PRESSURE

    @property
    def short(self) -> bool:
        """Whether gas that settles after filling explains what was read in so short a time."""
        return self.duration < LEAST_TEST_TIME and abs(self.workings.value(LOSS.name)) < SETTLES_BY * self.highest

    @property
    def shows(self) -> str:
        """What the readings show of a leak."""
        if self.workings.doubt(LOSS.name) is not None:
            return "cannot_tell"
        if self.tight <= 1.0 - DECISION_PROBABILITY:
            return "cannot_tell" if self.short else "loss_shown"
        if self.tight >= 0.5 * (1.0 + DECISION_PROBABILITY):
            return "pressure_rose"
        return "cannot_tell" if self.low or self.short else "no_loss_seen"

    @property
    def verdict(self) -> str:
        """The outcome: a pressure above its limit comes before what the readings show."""
        return "over_limit" if self.over else self.shows


def held(request: PressureHoldRequest) -> Held:
    """A pressure test worked out.

    Raises
    ------
    service.intake.refusals.RefusedError
        If a reading is impossible or the series is none.
    """
    entry = begin(request)
    rows = request.readings
    in_order(entry, [row.minutes for row in rows])
    one_instrument(entry, [row.pressure for row in rows], "pressure")
    one_instrument(entry, [row.gas_temperature for row in rows], "gas_temperature")
    leaves = []
    for place, row in enumerate(rows):
        first, where = place == 0, f"/readings/{place}"
        pressure = take(entry, PRESSURE, row.pressure, f"{where}/pressure", 2 * place, asked=first)
        warmth = f"{where}/gas_temperature"
        temperature = take(entry, TEMPERATURE, row.gas_temperature, warmth, 2 * place + 1, asked=first)
        leaves.append((pressure or "", temperature or ""))
    allowed = request.highest_allowed_pressure
    limit = None if allowed is None else gauge_or_absolute(entry, allowed, "/highest_allowed_pressure")
    if allowed is not None:
        ask(entry, "highest_allowed_pressure", allowed, HIGHEST.name)
    take_volume(entry, request.volume, "volume")
    return _worked_out(request, Workings(drawn(entry), entry.questions), leaves, limit)


def _worked_out(
    request: PressureHoldRequest, workings: Workings, leaves: list[tuple[str, str]], limit: float | None
) -> Held:
    every = [path for pair in leaves for path in pair]
    pressures = np.stack([workings.leaf(pressure) for pressure, _ in leaves])
    temperatures = np.stack([workings.leaf(temperature) for _, temperature in leaves])
    times = 60.0 * np.array([row.minutes for row in request.readings])
    air = workings.leaf(SITE_PRESSURE)
    densities = nitrogen.density(pressures, temperatures)
    alike = nitrogen.pressure_at(densities, temperatures[-1])
    slope = _slopes(times)
    duration = float(times[-1] - times[0])
    top = int(np.argmax(pressures[:, 0]))
    workings.add(EXPECTED, alike[0] - air, [*leaves[0], leaves[-1][1], SITE_PRESSURE])
    workings.add(HIGHEST, pressures[top] - air, [leaves[top][0], SITE_PRESSURE])
    loss = workings.add(LOSS, -duration * (slope @ alike), every)
    workings.add(RATE, loss / duration, every)
    if request.volume is not None:
        volume = float(workings.visit.constants["volume"])
        lost = workings.add(MASS, -duration * volume * (slope @ densities), [*every, "volume"])
        workings.add(MASS_RATE, lost / duration, [*every, "volume"])
    smallest_mass = SEEN * workings.uncertainty(MASS_RATE.name) if request.volume is not None else None
    expected = nitrogen.compensated(pressures[0, 0], temperatures[0, 0], temperatures[:, 0])
    return Held(
        request,
        workings,
        times,
        pressures[:, 0] - air[0],
        expected - air[0],
        temperatures[:, 0],
        None if limit is None else limit - float(air[0]),
        workings.probability(LOSS.name, None, 0.0),
        SEEN * workings.uncertainty(LOSS.name),
        smallest_mass,
    )


def _slopes(times: FloatArray) -> FloatArray:
    """What each value counts in the slope of a line over times, by least squares [1/s]."""
    away = times - times.mean()
    return np.asarray(away / (away @ away))


def pressure_hold(request: PressureHoldRequest) -> CheckAnswer:
    """The answer to a pressure test.

    Raises
    ------
    service.intake.refusals.RefusedError
        If a reading is impossible or the series is none.
    """
    return answer_of(held(request))


def answer_of(found: Held) -> CheckAnswer:
    """The answer to a pressure test that was worked out."""
    return answer(
        found.request,
        found.workings,
        Outcome(
            "pressure-hold",
            found.verdict,
            _sentence(found),
            frozenset({"pressure_testing"}),
            findings=_findings(found),
            notices=_notices(found),
            missing=_missing(found),
            next_steps=_next_steps(found),
            found=frozenset({"over_test_pressure"}) if found.over else frozenset(),
            model=property_model("Span et al. (2000) equation of state for nitrogen"),
        ),
    )


def _sentence(found: Held) -> str:
    if not found.over or found.allowed is None:
        return _said(found)
    highest, limit = (found.workings.say("pressure", one) for one in (found.highest, found.allowed))
    lost = _said(found) if found.shows == "loss_shown" else ""
    return f"{words.over_the_limit(highest, limit)} {lost}".strip()


def _said(found: Held) -> str:
    say, loss = found.workings.say, found.workings.value(LOSS.name)
    hours = say("duration", found.duration)
    if found.shows == "cannot_tell":
        return words.not_judged(found.workings.doubt(LOSS.name) or _tests_little(found))
    if found.shows == "loss_shown":
        band = span("pressure_difference", *found.workings.band(LOSS.name), found.request.units)
        return words.loss_shown(say("pressure_difference", loss), band, hours, found.tight)
    if found.shows == "pressure_rose":
        return words.pressure_rose(say("pressure_difference", -loss))
    mass = found.smallest_mass_rate
    return words.no_loss_seen(
        say("pressure_difference", found.smallest), None if mass is None else say("gas_mass_rate", mass), hours
    )


def _tests_little(found: Held) -> str:
    """Why the test shows nothing of leaks."""
    say = found.workings.say
    return words.tests_little(
        say("pressure", found.highest) if found.low else None, say("duration", found.duration) if found.short else None
    )


def _findings(found: Held) -> list[Finding]:
    workings = found.workings
    loss = workings.judged("pressure_loss_none")
    if loss.grade != "not_assessed" and found.shows != "loss_shown":
        # No readings show that nothing leaks: a loss is shown or it is not.
        loss = loss._replace(grade="inconclusive", priority="look_closer")
    findings = [workings.finding(loss, f"{_said(found)} {workings.main_uncertainty(LOSS.name)}")]
    if found.allowed is not None:
        findings.append(workings.finding(workings.judged("test_pressure_stated", (None, found.allowed))))
    return findings


def _notices(found: Held) -> list[Notice]:
    rows = []
    if found.shows == "pressure_rose":
        rows.append(notice("pressure_rose", (PRESSURE.name, TEMPERATURE.name)))
    swing = float(np.ptp(found.temperatures))
    if swing > LARGE_SWING:
        change = found.workings.say("temperature_difference", swing)
        rows.append(notice("large_temperature_swing", (TEMPERATURE.name,), change=change))
    if found.duration < SHORT_TEST:
        name = "gas_still_settling.nothing_shown" if found.short else "gas_still_settling"
        rows.append(notice(name, ("readings.minutes",), minutes=f"{found.duration / 60.0:g}"))
    if found.low:
        rows.append(
            notice("low_test_pressure", (PRESSURE.name,), pressure=found.workings.say("pressure", found.highest))
        )
    return rows


def _missing(found: Held) -> list[Missing]:
    rows: list[Missing] = []
    if found.request.volume is None:
        rows.append({"quantity": MASS_RATE.name, "reason": words.NO_VOLUME, "unlock": [{"add": ["volume"]}]})
    if found.request.highest_allowed_pressure is None:
        unlock = [{"add": ["highest_allowed_pressure"]}]
        rows.append({"quantity": HIGHEST.name, "reason": words.NO_TEST_PRESSURE, "unlock": unlock})  # type: ignore[typeddict-item]
    return rows


def _next_steps(found: Held) -> list[CheckStep]:
    if found.over:
        return steps(["lower_the_pressure"], words.NEXT_STEPS)
    actions = {
        "loss_shown": ["test_joints_with_bubbles", "repair_and_repeat"],
        "no_loss_seen": ["test_joints_with_bubbles", "hold_longer", "evacuate_next"],
        "pressure_rose": ["start_again"],
        "cannot_tell": [],
    }[found.shows]
    if found.shows == "cannot_tell" and found.workings.doubt(LOSS.name) is None:
        actions = ["test_at_pressure" if found.low else "hold_longer"]
    return steps(actions, words.NEXT_STEPS)
