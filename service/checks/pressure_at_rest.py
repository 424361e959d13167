"""The unit off and settled: does its pressure fit the saturation pressure at its temperature?

More than saturation is gas that does not condense; less means that no liquid is left, or that the temperature is not
that of the liquid.  A blend with glide rests somewhere between its bubble and its dew pressure, which the readings do
not show: the whole gap is uncertainty.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from schemas.assessments import Finding, Missing, Notice
from schemas.checks import CheckAnswer
from schemas.checks.common import CheckStep
from schemas.checks.pressure_at_rest import PressureAtRestRequest
from service.assess.pipeline import model_of
from service.checks.taking import Reading, begin, drawn, in_both_units, states_unit, take, take_volume
from service.checks.workings import Outcome, Quantity, Question, Workings, answer, notice, steps
from service.intake.equipment import take_refrigerant
from service.intake.paths import ASSUMED, CURVES, MODEL, SITE_PRESSURE
from service.intake.refusals import Refusal
from service.physics.nitrogen import GAS_CONSTANT
from service.physics.refrigerant import SaturationCurves
from service.reference.check_limits import MOST_GAS, RESTS_AT, SEEN, SETTLED_MINUTES, SETTLED_WITHIN
from service.reference.units import conversion, system_unit
from service.uncertainty.conformity import DECISION_PROBABILITY
from service.words import checks as words
from service.words.phrases import span

FloatArray = NDArray[np.float64]

_PSI = 6894.757293168361
PRESSURE = Reading("readings.pressure", "pressure", "pressure", -0.95 * 101_325.0, 900.0 * _PSI, 0)
COIL = Reading("readings.coil_temperature", "temperature", "line_temperature", 233.15, 349.8, 1)
LIQUID = Reading("readings.liquid_line_temperature", "temperature", "line_temperature", 233.15, 349.8, 2)
AIR = Reading("readings.outdoor_air_dry_bulb", "temperature", "air_temperature", 233.15, 338.7, 3)
STATE = ASSUMED + "resting_state"
#: Molar mass of air [kg/mol].
_AIR_MASS = 0.0289647

SATURATION = Quantity(
    "saturation_pressure",
    "pressure",
    "The saturation pressure at the coil temperature",
    "between the dew and the bubble pressure at the coil temperature",
    "definition",
)
EXCESS = Quantity(
    "excess_pressure",
    "pressure_difference",
    "The excess over saturation",
    "pressure less saturation pressure at the coil temperature",
    "non_condensables_at_rest",
)
DEGREES = Quantity(
    "excess_saturation_temperature",
    "temperature_difference",
    "The excess in saturation temperature",
    "saturation temperature at the pressure less the coil temperature",
    "non_condensables_at_rest",
)
MASS = Quantity(
    "non_condensable_mass", "gas_mass", "The air in the circuit", "ideal gas at the excess pressure", "gas_laws"
)

#: What is compared with saturation.
_COMPARED = frozenset({EXCESS.name, DEGREES.name, MASS.name})


@dataclass(frozen=True)
class Rested:
    """A unit at rest worked out, in SI."""

    request: PressureAtRestRequest
    workings: Workings
    over: float

    @property
    def verdict(self) -> str:
        """What the readings show."""
        return self.shows if self.workings.doubt(EXCESS.name) is None else "cannot_tell"

    @property
    def shows(self) -> str:
        """What the readings would show if nothing were in question."""
        if 1.0 - self.over <= 1.0 - DECISION_PROBABILITY:
            return "excess_shown"
        return "below_saturation" if self.over <= 1.0 - DECISION_PROBABILITY else "no_excess_seen"

    @property
    def apart(self) -> tuple[str, float] | None:
        """The first place whose temperature differs too far from the coil's, and by how much [K]."""
        readings = self.workings.visit.uncertain
        values = {path.split("[")[0]: row.value for path, row in readings.items() if path.startswith("readings.")}
        coil = values[COIL.name]
        for other in (LIQUID, AIR):
            if other.name in values and abs(values[other.name] - coil) > SETTLED_WITHIN:
                return other.name, abs(values[other.name] - coil)
        return None

    @property
    def smallest(self) -> float:
        """Excess that would have been shown four times in five [Pa]."""
        return SEEN * self.workings.uncertainty(EXCESS.name)


def rested(request: PressureAtRestRequest) -> Rested:
    """A unit at rest worked out.

    Raises
    ------
    service.intake.refusals.RefusedError
        If a reading is impossible, or the refrigerant is unknown.
    """
    entry = begin(request)
    take_refrigerant(entry)
    given = request.readings
    leaves: dict[str, str] = {}
    for slot, (row, value) in enumerate(
        (
            (PRESSURE, given.pressure),
            (COIL, given.coil_temperature),
            (LIQUID, given.liquid_line_temperature),
            (AIR, given.outdoor_air_dry_bulb),
        )
    ):
        if value is not None:
            leaves[row.name] = take(entry, row, value, "/" + row.name.replace(".", "/"), slot) or ""
    curves: SaturationCurves | None = entry.constants.get(CURVES)
    coil = entry.leaves.uncertain.get(leaves[COIL.name])
    if curves is not None and coil is not None and not _inside(coil.value, curves):
        entry.refusals.append(
            Refusal(
                "/readings/coil_temperature",
                getattr(given.coil_temperature, "value", given.coil_temperature),
                "a temperature on the saturation curve, below the critical point",
                "is outside the saturation curve of the refrigerant",
                "Check the refrigerant, the reading and its unit.",
            )
        )
    take_volume(entry, request.gas_volume, "gas_volume")
    found = _worked_out(request, Workings(drawn(entry, (STATE,)), entry.questions), leaves)
    found.workings.questions.extend(_questions(found))
    return found


def _inside(temperature: float, curves: SaturationCurves) -> bool:
    low, high = curves.temperature_range
    return low <= temperature <= high


def _worked_out(request: PressureAtRestRequest, workings: Workings, leaves: dict[str, str]) -> Rested:
    curves: SaturationCurves = workings.visit.constants[CURVES]
    pressure, coil = workings.leaf(leaves[PRESSURE.name]), workings.leaf(leaves[COIL.name])
    error, state = workings.leaf(MODEL), workings.leaf(STATE)
    dew, bubble = curves.dew_pressure(coil + error), curves.bubble_pressure(coil + error)
    saturation = dew + state * (bubble - dew)
    behind = [leaves[COIL.name], MODEL, STATE, CURVES]
    workings.add(SATURATION, saturation - workings.leaf(SITE_PRESSURE), [*behind, SITE_PRESSURE])
    every = [leaves[PRESSURE.name], *behind]
    excess = workings.add(EXCESS, pressure - saturation, every)
    warm, cold = curves.dew_temperature(pressure), curves.bubble_temperature(pressure)
    workings.add(DEGREES, warm + state * (cold - warm) - error - coil, every)
    if request.gas_volume is not None:
        mass = excess * float(workings.visit.constants["gas_volume"]) * _AIR_MASS / (GAS_CONSTANT * coil)
        workings.add(MASS, mass, [*every, "gas_volume"])
    return Rested(request, workings, workings.probability(EXCESS.name, 0.0, None))


def pressure_at_rest(request: PressureAtRestRequest) -> CheckAnswer:
    """The answer about a unit at rest.

    Raises
    ------
    service.intake.refusals.RefusedError
        If a reading is impossible, or the refrigerant is unknown.
    """
    found = rested(request)
    return answer(
        request,
        found.workings,
        Outcome(
            "pressure-at-rest",
            found.verdict,
            _sentence(found),
            frozenset(),
            findings=_findings(found),
            notices=list(_notices(found)),
            missing=_missing(found),
            next_steps=_next_steps(found),
            reads=frozenset({"liquid_pressure"}),
            model=model_of(found.workings.visit.refrigerant),
        ),
    )


def _sentence(found: Rested) -> str:
    workings, say = found.workings, found.workings.say
    excess = workings.value(EXCESS.name)
    low, high = workings.band(EXCESS.name)
    if found.verdict == "excess_shown":
        band = span("pressure_difference", low, high, found.request.units)
        mass = say("gas_mass", workings.value(MASS.name)) if MASS.name in workings.rows else None
        return words.excess_shown(say("pressure_difference", excess), band, mass, found.over)
    doubt = workings.doubt(EXCESS.name)
    if doubt is not None:
        return words.excess_not_told(say("pressure_difference", abs(excess)), doubt, above=excess > 0.0)
    if found.verdict == "below_saturation":
        band = span("pressure_difference", -high, -low, found.request.units)
        return words.below_saturation(say("pressure_difference", -excess), band, 1.0 - found.over)
    return words.no_excess_seen(say("pressure_difference", found.smallest))


def _findings(found: Rested) -> list[Finding]:
    # A unit without gas is at saturation: only the side on which it is shown not to be is a finding.
    limit = "liquid_present" if found.shows == "below_saturation" else "excess_none"
    return [found.workings.finding(found.workings.judged(limit))]


def _questions(found: Rested) -> Iterator[Question]:
    """What keeps the pressure from being compared with saturation: not settled, or a reading that is hardly right."""
    request, say = found.request, found.workings.say

    def unsettled(name: str, readings: tuple[str, ...], **said: str) -> Question:
        return Question(notice(name, readings, **said), quantities=_COMPARED, step="read_again_settled")

    if request.minutes_off is not None and request.minutes_off < SETTLED_MINUTES:
        yield unsettled("rested_briefly", ("minutes_off",), minutes=f"{request.minutes_off:g}")
    if found.apart is not None:
        other, away = found.apart
        yield unsettled("not_settled", (COIL.name, other), difference=say("temperature_difference", away))
    if request.sun_on_coil:
        yield unsettled("sun_on_coil", ("sun_on_coil",))
    excess = found.workings.value(EXCESS.name)
    if found.shows != "no_excess_seen" and (slip := _in_another_unit(found)) is not None:
        yield Question(slip, quantities=_COMPARED)
    elif found.shows == "excess_shown" and excess > MOST_GAS:
        large = notice("excess_too_large", (PRESSURE.name, COIL.name), excess=say("pressure_difference", excess))
        yield Question(large, quantities=_COMPARED, step="check_pressure_and_temperature")


def _in_another_unit(found: Rested) -> Notice | None:
    """A question about a reading without a unit that would fit saturation in another one."""
    visit, given = found.workings.visit, found.request.readings
    curves: SaturationCurves = visit.constants[CURVES]
    air = visit.uncertain[SITE_PRESSURE].value
    pressure, coil = (float(found.workings.leaf(leaf)[0]) for leaf in found.workings.leaves[EXCESS.name][:2])

    def fits(at: float, warmth: float) -> bool:
        if not _inside(warmth, curves) or not RESTS_AT[0] <= warmth <= RESTS_AT[1]:
            return False
        ends = [float(of(np.array([at]))[0]) for of in (curves.dew_temperature, curves.bubble_temperature)]
        return min(ends) - SETTLED_WITHIN <= warmth <= max(ends) + SETTLED_WITHIN

    for row, label, reading, symbols in (
        (COIL, "The coil temperature", given.coil_temperature, ("degC", "degF")),
        (PRESSURE, "The pressure", given.pressure, ("psi", "bar", "kPa", "MPa")),
    ):
        if states_unit(reading):
            continue
        number, taken_in = float(getattr(reading, "value", reading)), system_unit(row.kind, visit.system)
        for symbol in symbols:
            meant = conversion(row.kind, symbol).to_si(number)
            pair = (pressure, meant) if row is COIL else (meant + air, coil)
            if symbol != taken_in and fits(*pair):
                said = in_both_units(number, taken_in, symbol)
                return notice("unit_in_doubt.saturation", (row.name,), label=label, **said)
    return None


def _notices(found: Rested) -> Iterator[Notice]:
    if found.request.minutes_off is None:
        yield notice("rest_not_shown", ("minutes_off",))
    if found.request.crankcase_heater_on:
        yield notice("crankcase_heater_on", ("crankcase_heater_on",))


def _missing(found: Rested) -> list[Missing]:
    if found.request.gas_volume is not None:
        return []
    return [{"quantity": MASS.name, "reason": words.NO_GAS_VOLUME, "unlock": [{"add": ["gas_volume"]}]}]


def _next_steps(found: Rested) -> list[CheckStep]:
    actions = {
        "excess_shown": ["read_again_settled", "recover_and_evacuate"],
        "cannot_tell": [],
        "below_saturation": ["check_the_temperature", "look_for_the_leak"],
        "no_excess_seen": ["better_thermometer"],
    }[found.verdict]
    return steps(actions, words.NEXT_STEPS)
