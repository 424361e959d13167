"""Charge by weight: the nameplate's charge, corrected for lines and accessories as installed.

Allowances are the unit's own, or the computed content of the lines.  What the factory charge already holds for lines
is never made up: without it there is no charge.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from schemas.assessments import Finding, Missing, Notice
from schemas.checks import CheckAnswer
from schemas.checks.charge_by_weight import ChargeByWeightRequest, ChargedLines, Room
from schemas.checks.common import CheckStep, Information
from schemas.quantities import MassReading
from service.checks.taking import (
    CheckEntry,
    Reading,
    ask,
    begin,
    drawn,
    gauge_or_absolute,
    states_unit,
    take,
    with_spread,
)
from service.checks.workings import Outcome, Quantity, Question, Workings, answer, notice, property_model, steps
from service.intake.equipment import take_refrigerant
from service.intake.paths import ASSUMED, CURVES, PHASES, SITE_PRESSURE
from service.intake.refusals import Refusal
from service.physics import line_charge, room_charge
from service.reference.assumptions import ASSUMPTIONS
from service.reference.line_contents import (
    ALLOWANCE_FACTOR,
    AREA_STEP,
    CAP_VOLUMES,
    CHARGE_FOR_CAPACITY,
    CHARGE_STEP,
    EVAPORATING_TEMPERATURE,
    FITS_WITHIN,
    FLAMMABILITY_LIMITS,
    FREE_VOLUMES,
    HIGH_LIFT,
    LARGEST_LIQUID_LINE,
    LIQUID_TEMPERATURE,
    LONG_LINE,
    MOST_OF_CHARGE,
    RELEASE_HEIGHTS,
    ROOM_FORMULAS,
    SUPERHEAT,
    TUBES,
    FlammabilityLimit,
    RoomFormula,
    liquid_density,
)
from service.reference.sources import source
from service.reference.units import conversion, system_unit
from service.words import checks_weight as words
from service.words.checks import not_judged
from service.words.numbers import figure
from service.words.phrases import unit_word

FloatArray = NDArray[np.float64]

#: Possible charges [kg], lengths [m], allowances [kg/m], areas [m2] and capacities [W].
_CHARGES, _LENGTHS, _ALLOWANCES, _AREAS = (0.02, 500.0), (0.3, 300.0), (1e-4, 2.0), (1.0, 10_000.0)
_CAPACITIES = (500.0, 500_000.0)
_SCALE = Reading("weighed_in", "mass", "mass", *_CHARGES)
_RECOVERED = Reading("recovered.mass", "mass", "mass", 0.0, _CHARGES[1])
_RECOVERED_AT = Reading("recovered.temperature", "temperature", "air_temperature", 240.0, 340.0, 1)
_LENGTH = "lines.length"

CONTENT = Quantity(
    "line_content",
    "mass_per_length",
    "The content of the lines",
    "liquid in the liquid line and vapour in the vapour line",
    "line_content",
)
FOR_LINES = Quantity(
    "charge_for_lines",
    "small_mass",
    "The charge for the lines",
    "charge for each length times the length",
    "charge_adjustment",
)
ADJUSTMENT = Quantity(
    "charge_adjustment",
    "small_mass",
    "The adjustment of the factory charge",
    "charge for the lines less the factory allowance, plus accessories",
    "charge_adjustment",
)
CHARGE = Quantity("charge", "mass", "The charge", "charge of the nameplate plus the adjustment", "charge_adjustment")
AS_WEIGHED = Quantity(
    "charge_as_weighed",
    "mass",
    "The charge that the unit will hold once it is weighed in",
    "the charge, the error of the scale, and what the hoses keep",
    "charge_adjustment",
)
HELD = Quantity(
    "charge_held", "mass", "The charge weighed in", "mass by the scale, less what the hoses keep", "hose_residue"
)
HELD_SHARE = Quantity(
    "charge_held_share",
    "fraction",
    "The share of the right charge that was weighed in",
    "charge held over charge",
    "definition",
)
RESIDUE = Quantity(
    "recovery_residue",
    "small_mass",
    "The vapour that the recovery left",
    "ideal gas at the final pressure in the circuit's volume",
    "vapour_left",
)
WAS_IN = Quantity(
    "charge_recovered",
    "mass",
    "The charge before the work",
    "mass recovered and the vapour that the recovery left",
    "vapour_left",
)
MISSING = Quantity(
    "charge_missing", "small_mass", "The missing charge", "charge less the charge before the work", "definition"
)
WAS_IN_SHARE = Quantity(
    "charge_recovered_share",
    "fraction",
    "The share of the right charge that was in the unit",
    "charge before the work over charge",
    "definition",
)


@dataclass(frozen=True)
class _Taken:
    """What the request states, in SI; None where it does not."""

    nameplate: float
    allowance: float | None
    accessories: float
    length: float
    per_length: float | None
    nominal: float | None
    longest: float
    lift: float
    capacity: float | None

    @property
    def known(self) -> float | None:
        """Charge without the lines [kg]; None where the factory allowance is not stated."""
        return None if self.allowance is None else self.nameplate - self.allowance + self.accessories


def charge_by_weight(request: ChargeByWeightRequest) -> CheckAnswer:
    """The answer to a charge by weight.

    Raises
    ------
    service.intake.refusals.RefusedError
        If a number is impossible.
    """
    entry = begin(request)
    take_refrigerant(entry)
    taken = _take(entry, request)
    computed = CURVES in entry.constants and request.lines.liquid_line is not None
    scale = _take_scale(entry, request, taken)
    recovered = _take_recovered(entry, request)
    assumed = [*_assumed(request, computed=computed), *recovered[1], "hose_residue"]
    workings = Workings(drawn(entry, [ASSUMED + name for name in assumed]), entry.questions)
    _work_out(workings, request, taken, computed=computed)
    _weigh(workings, request, scale, taken)
    if recovered[0] is not None:
        _recover(workings, recovered[0])
    workings.questions.extend(_questions(workings, request, taken))
    return answer(request, workings, _outcome(workings, request, taken))


# ---------------------------------------------------------------- what was given


def _take(entry: CheckEntry, request: ChargeByWeightRequest) -> _Taken:
    lines = request.lines

    def number(path: str, given: object, kind: str, limits: tuple[float, float]) -> float | None:
        if given is None:
            return None
        value = entry.to_si(given, kind)
        if entry.inside(value, limits, kind, "/" + path.replace(".", "/"), given):
            entry.constant(path, value)
            ask(entry, path, given)
        return value

    nameplate = number("nameplate_charge", request.nameplate_charge, "mass", _CHARGES) or 0.0
    allowance = number("factory_allowance", request.factory_allowance, "mass", (0.0, nameplate))
    accessories = 0.0
    for place, part in enumerate(request.accessories):
        accessories += number(f"accessories.{place}.charge", part.charge, "mass", (0.0, _CHARGES[1])) or 0.0
    length = _take_length(entry, lines)
    per_length = number("lines.allowance", lines.allowance, "mass_per_length", _ALLOWANCES)
    nominal = per_length if per_length is not None else _nominal_content(entry, lines)
    longest = number("lines.longest", lines.longest, "length", _LENGTHS)
    lift = 0.0 if lines.lift is None else entry.to_si(lines.lift, "length")
    capacity = number("unit.rated_cooling_capacity", request.unit.rated_cooling_capacity, "heat_flow", _CAPACITIES)
    if request.recovered is not None and entry.refrigerant is None:
        entry.refusals.append(
            Refusal("/unit/refrigerant", None, "the refrigerant", "is needed with recovered", words.NEEDS_REFRIGERANT)
        )
    if request.room is not None:
        number("room.floor_area", request.room.floor_area, "area", _AREAS)
    return _Taken(
        nameplate, allowance, accessories, length, per_length, nominal, longest or LONG_LINE, abs(lift), capacity
    )


def _take_length(entry: CheckEntry, lines: ChargedLines) -> float:
    length = entry.to_si(lines.length, "length")
    if not entry.inside(length, _LENGTHS, "length", "/lines/length", lines.length):
        return length
    stated = None
    if lines.length_uncertainty is not None:
        stated = entry.to_si(lines.length_uncertainty, "length")
        entry.inside(stated, (0.0, length), "length", "/lines/length_uncertainty", lines.length_uncertainty)
    with_spread(entry, _LENGTH, length, stated, "line_length", "line set: stated length")
    return length


def _take_scale(entry: CheckEntry, request: ChargeByWeightRequest, taken: _Taken) -> str | None:
    """The scale's reading: as given, else of the charge that is to be weighed in."""
    if request.weighed_in is not None:
        return take(entry, _SCALE, request.weighed_in, "/weighed_in", 0)
    if taken.known is None or taken.nominal is None or entry.refusals:
        return None
    value = taken.known + taken.nominal * taken.length
    if not _CHARGES[0] <= value <= _CHARGES[1]:
        entry.refusals.append(
            Refusal("/factory_allowance", None, words.POSITIVE_CHARGE, "leaves no charge", words.CHECK_UNITS)
        )
        return None
    return take(entry, _SCALE, MassReading(value=value, unit="kg"), "/weighed_in", 0)


def _take_recovered(
    entry: CheckEntry, request: ChargeByWeightRequest
) -> tuple[tuple[str, float, str] | None, tuple[str, ...]]:
    """Leaves of what was recovered, with the final pressure [Pa], and what must be assumed."""
    given = request.recovered
    if given is None:
        return None, ()
    mass = take(entry, _RECOVERED, given.mass, "/recovered/mass", 1)
    warmth: str | None = ASSUMED + "recovered_temperature"
    if given.temperature is not None:
        warmth = take(entry, _RECOVERED_AT, given.temperature, "/recovered/temperature", 2)
    where = "/recovered/final_pressure"
    air = entry.leaves.uncertain[SITE_PRESSURE].value if SITE_PRESSURE in entry.leaves.uncertain else None
    pressure = air if given.final_pressure is None else gauge_or_absolute(entry, given.final_pressure, where)
    if mass is None or warmth is None or pressure is None:
        return None, ()
    if not entry.inside(pressure, (0.0, 2e6), "absolute_pressure", where, given.final_pressure):
        return None, ()
    if given.final_pressure is not None:
        ask(entry, "recovered.final_pressure", given.final_pressure, WAS_IN_SHARE.name)
    return (mass, pressure, warmth), ("circuit_volume", "recovered_temperature")


def _assumed(request: ChargeByWeightRequest, *, computed: bool) -> tuple[str, ...]:
    if not computed:
        return ()
    vapour = "usual_vapour_line" if request.lines.vapour_line is None else "vapour_line_wall"
    return ("liquid_line_wall", vapour, "liquid_line_temperature", "vapour_line_density")


# ---------------------------------------------------------------- what follows


def _vapour_density(constants: Mapping[str, Any]) -> float:
    """Of the vapour in the vapour line, as assumed [kg/m3]."""
    curves, phases = constants[CURVES], constants[PHASES]
    pressure = curves.dew_pressure(EVAPORATING_TEMPERATURE)
    return float(phases.vapour(pressure, EVAPORATING_TEMPERATURE + SUPERHEAT).density)


def _nominal_content(entry: CheckEntry, lines: ChargedLines) -> float | None:
    """Content of the lines as assumed, without errors [kg/m]."""
    if entry.refrigerant is None or lines.liquid_line is None:
        return None
    liquid, _ = liquid_density(entry.refrigerant.designation)
    vapour = ASSUMPTIONS["usual_vapour_line"].value if lines.vapour_line is None else TUBES[lines.vapour_line].inside
    content = line_charge.content_per_length(TUBES[lines.liquid_line].inside, liquid)
    return float(content + line_charge.content_per_length(vapour, _vapour_density(entry.constants)))


def _content(workings: Workings, lines: ChargedLines) -> tuple[FloatArray, list[str]]:
    """Content of the lines [kg/m], and the leaves behind it."""
    refrigerant = workings.visit.refrigerant
    assert refrigerant is not None
    assert lines.liquid_line is not None
    density, slope = liquid_density(refrigerant.designation)
    names = ["liquid_line_wall", "liquid_line_temperature", "vapour_line_density"]
    wall, warmth, factor = (workings.leaf(ASSUMED + name) for name in names)
    if lines.vapour_line is None:
        names.append("usual_vapour_line")
        vapour = workings.leaf(ASSUMED + "usual_vapour_line")
    else:
        names.append("vapour_line_wall")
        vapour = TUBES[lines.vapour_line].inside + workings.leaf(ASSUMED + "vapour_line_wall")
    liquid = line_charge.content_per_length(
        TUBES[lines.liquid_line].inside + wall, density + slope * (warmth - LIQUID_TEMPERATURE)
    )
    gas = line_charge.content_per_length(vapour, factor * _vapour_density(workings.visit.constants))
    return liquid + gas, [CURVES, *(ASSUMED + name for name in names)]


def _work_out(workings: Workings, request: ChargeByWeightRequest, taken: _Taken, *, computed: bool) -> None:
    """The content of the lines, the adjustment and the charge, as far as they are known."""
    leaves: list[str] = []
    per_length: FloatArray | None = None
    if computed:
        per_length, leaves = _content(workings, request.lines)
        workings.add(CONTENT, per_length, leaves)
    if taken.per_length is not None:
        per_length, leaves = np.array(taken.per_length), ["lines.allowance"]
    if per_length is None:
        return
    for_lines = workings.add(FOR_LINES, per_length * workings.leaf(_LENGTH), [*leaves, _LENGTH])
    if taken.known is None or taken.allowance is None:
        return
    stated = ["factory_allowance", *(f"accessories.{place}.charge" for place in range(len(request.accessories)))]
    change = line_charge.adjustment(for_lines, 1.0, taken.allowance, taken.accessories)
    workings.add(ADJUSTMENT, change, [*leaves, _LENGTH, *stated])
    if request.removal_allowed is False:
        change = np.maximum(change, 0.0)
    workings.add(CHARGE, taken.nameplate + change, [*leaves, _LENGTH, *stated, "nameplate_charge"])


def _leaves(workings: Workings, quantity: Quantity) -> tuple[str, ...]:
    return workings.leaves[quantity.name]


def _weigh(workings: Workings, request: ChargeByWeightRequest, scale: str | None, taken: _Taken) -> None:
    """What the scale and the hoses add to the uncertainty, or what was weighed in."""
    if scale is None:
        return
    hoses = ASSUMED + "hose_residue"
    shown = workings.leaf(scale) + workings.leaf(hoses)
    charge = workings.draws.get(CHARGE.name)
    if request.weighed_in is None:
        assert charge is not None
        off = shown - workings.leaf(scale)[0]
        workings.add(AS_WEIGHED, charge + off, [*_leaves(workings, CHARGE), scale, hoses])
        return
    held = workings.add(HELD, shown, [scale, hoses])
    if charge is not None:
        workings.add(HELD_SHARE, held / charge, [*_leaves(workings, CHARGE), scale, hoses])


def _recover(workings: Workings, recovered: tuple[str, float, str]) -> None:
    """What was in the unit before, and what was missing."""
    mass, pressure, warmth = recovered
    volume = ASSUMED + "circuit_volume"
    curves = workings.visit.constants[CURVES]
    left = line_charge.vapour_left(pressure, workings.leaf(warmth), workings.leaf(volume), curves.molar_mass)
    workings.add(RESIDUE, left, [volume, warmth, CURVES])
    was_in = workings.add(WAS_IN, workings.leaf(mass) + left, [mass, volume, warmth, CURVES])
    charge = workings.draws.get(CHARGE.name)
    if charge is not None:
        leaves = [*_leaves(workings, CHARGE), *_leaves(workings, WAS_IN)]
        workings.add(MISSING, charge - was_in, leaves)
        workings.add(WAS_IN_SHARE, was_in / charge, leaves)


# ---------------------------------------------------------------- what cannot be right


#: What follows from the charge for the lines, and what from the whole charge.
_OF_CHARGE = frozenset(one.name for one in (CHARGE, AS_WEIGHED, HELD_SHARE, MISSING, WAS_IN_SHARE))
_OF_LINES = _OF_CHARGE | {FOR_LINES.name, ADJUSTMENT.name}


def _questions(workings: Workings, request: ChargeByWeightRequest, taken: _Taken) -> Iterable[Question]:
    """Line sizes, allowances and masses that do not fit each other, whatever their units."""
    yield from _about_lines(workings, request.lines, taken)
    sure = states_unit(request.nameplate_charge)
    refrigerant = workings.visit.refrigerant
    if taken.capacity is not None and (refrigerant is None or refrigerant.safety_group != "A3"):
        share = taken.nameplate / taken.capacity
        if not CHARGE_FOR_CAPACITY[0] <= share <= CHARGE_FOR_CAPACITY[1]:
            said = {
                "charge": words.weight(taken.nameplate, request.units),
                "capacity": workings.say("heat_flow", taken.capacity),
            }
            about = notice("charge_unlikely", ("nameplate_charge", "unit.rated_cooling_capacity"), **said)
            yield Question(about, quantities=_OF_CHARGE, step="check_the_masses")
    if request.weighed_in is not None and HELD_SHARE.name in workings.rows:
        yield from _about_mass(workings, HELD_SHARE, "weighed_in", request.weighed_in, plate_stated=sure)
    if request.recovered is not None and WAS_IN_SHARE.name in workings.rows:
        yield from _about_mass(workings, WAS_IN_SHARE, "recovered.mass", request.recovered.mass, plate_stated=sure)


def _about_lines(workings: Workings, lines: ChargedLines, taken: _Taken) -> Iterable[Question]:
    computed = taken.per_length is None
    liquid, vapour = (None if size is None else TUBES[size] for size in (lines.liquid_line, lines.vapour_line))
    of_sizes = frozenset({CONTENT.name, *(_OF_LINES if computed else ())})
    if liquid is not None:
        said, where = {"liquid": liquid.name}, ("lines.liquid_line", "lines.vapour_line")
        if vapour is not None and liquid.outside >= vapour.outside:
            about = notice("line_sizes_unlikely", where, **said, vapour=vapour.name)
            yield Question(about, quantities=of_sizes, step="check_the_lines")
        elif liquid.outside > LARGEST_LIQUID_LINE:
            about = notice("line_sizes_unlikely.liquid", where[:1], **said)
            yield Question(about, quantities=of_sizes, step="check_the_lines")
    if taken.per_length is not None and CONTENT.name in workings.rows and not workings.doubt(CONTENT.name):
        ratio = taken.per_length / workings.value(CONTENT.name)
        if not 1.0 / ALLOWANCE_FACTOR <= ratio <= ALLOWANCE_FACTOR:
            yield Question(
                _allowance_unlikely(workings, taken.per_length), quantities=_OF_LINES, step="check_the_lines"
            )
    if FOR_LINES.name in workings.rows and workings.value(FOR_LINES.name) > taken.nameplate:
        masses = (workings.value(FOR_LINES.name), taken.nameplate)
        held, plate = (words.weight(mass, workings.visit.system) for mass in masses)
        about = notice("lines_hold_more", (_LENGTH, "nameplate_charge"), lines=held, charge=plate)
        yield Question(about, quantities=_OF_LINES, step="check_the_lines")


def _allowance_unlikely(workings: Workings, per_length: float) -> Notice:
    stated = workings.say("mass_per_length", per_length)
    computed = workings.say("mass_per_length", workings.value(CONTENT.name))
    return notice("allowance_unlikely", ("lines.allowance",), stated=stated, computed=computed)


def _about_mass(
    workings: Workings,
    share: Quantity,
    path: str,
    given: Any,  # noqa: ANN401
    *,
    plate_stated: bool,
) -> Iterable[Question]:
    """A mass that would be the right charge in another unit, or is more than any charge is off."""
    if workings.doubt(CHARGE.name) is not None:
        return
    number = float(getattr(given, "value", given))
    taken_in = getattr(given, "unit", None) or system_unit("mass", workings.visit.system)
    of_right, right = workings.value(share.name), workings.value(CHARGE.name)
    meant = [
        symbol
        for symbol in ("oz", "lb", "kg", "g")
        # Ounces and pounds are confused even where the unit is stated: a scale shows either.
        if symbol != taken_in and (not states_unit(given) or {symbol, taken_in} == {"oz", "lb"})
        if abs(conversion("mass", symbol).to_si(number) / right - 1.0) <= FITS_WITHIN
    ]
    # The nameplate may be the one in another unit.
    ours = conversion("mass", system_unit("mass", workings.visit.system)).scale
    plate = [of_right * ours / conversion("mass", symbol).scale for symbol in ("oz", "lb", "kg", "g")]
    off = not plate_stated and any(abs(one - 1.0) <= FITS_WITHIN for one in plate)
    said = {
        "what": "weighed in" if path == "weighed_in" else "recovered",
        "stated": f"{number:g} {unit_word(taken_in)}",
        "share": workings.say("fraction", of_right),
    }
    about = frozenset({share.name, MISSING.name})
    if meant and not 1.0 / MOST_OF_CHARGE <= of_right <= MOST_OF_CHARGE:
        said["meant"] = f"{number:g} {unit_word(meant[0])}"
        yield Question(notice("mass_unlikely.unit", (path,), **said), quantities=about, step="check_the_masses")
    elif of_right > MOST_OF_CHARGE or (off and of_right < 1.0 / MOST_OF_CHARGE):
        yield Question(notice("mass_unlikely", (path,), **said), quantities=about, step="check_the_masses")


# ---------------------------------------------------------------- what it means


def _verdict(workings: Workings, request: ChargeByWeightRequest, taken: _Taken) -> str:
    if taken.nominal is None:
        return "lines_not_known"
    if _doubt(workings) is not None:
        return "cannot_tell"
    if taken.allowance is None:
        return "allowance_not_known"
    return _AFTER_WEIGHING[_share(workings, HELD_SHARE)][0] if _weighed(workings) else _adjusted(workings, request)


def _adjusted(workings: Workings, request: ChargeByWeightRequest) -> str:
    """How the charge of the nameplate is to be adjusted."""
    removed = workings.probability(ADJUSTMENT.name, None, 0.0)
    if _is_forbidden(workings, request):
        return "no_adjustment"
    return "add_charge" if removed <= 0.05 else "remove_charge" if removed >= 0.95 else "no_adjustment"


def _weighed(workings: Workings) -> bool:
    """Whether what was weighed in is compared with the charge."""
    return HELD_SHARE.name in workings.rows


def _doubt(workings: Workings) -> str | None:
    """Why the charge, or what was weighed in, is not judged; None where nothing is in question."""
    known = [one.name for one in (FOR_LINES, CHARGE, HELD_SHARE) if one.name in workings.rows]
    return workings.doubt(*known)


def _is_forbidden(workings: Workings, request: ChargeByWeightRequest) -> bool:
    """Whether the lines need less than the factory charge, and the manual forbids removing any."""
    if request.removal_allowed is not False or ADJUSTMENT.name not in workings.rows:
        return False
    return workings.probability(ADJUSTMENT.name, None, 0.0) >= 0.95


def _outcome(workings: Workings, request: ChargeByWeightRequest, taken: _Taken) -> Outcome:
    verdict = _verdict(workings, request, taken)
    refrigerant = workings.visit.refrigerant
    return Outcome(
        "charge-by-weight",
        verdict,
        _sentence(workings, request, verdict),
        frozenset({"charge_adjustment", *(["recovery"] if request.recovered else [])}),
        findings=list(_findings(workings)),
        notices=list(_notices(workings, request, taken, verdict)),
        information=list(_information(workings, request, taken)),
        missing=list(_missing(request, taken)),
        next_steps=_next_steps(workings, request, verdict),
        model=None if refrigerant is None else property_model(refrigerant.model),
    )


def _sentence(workings: Workings, request: ChargeByWeightRequest, verdict: str) -> str:
    system = request.units
    if verdict == "lines_not_known":
        return words.LINES_NOT_KNOWN
    charge = CHARGE if CHARGE.name in workings.rows else FOR_LINES
    doubt = workings.doubt(FOR_LINES.name, charge.name)
    if doubt is not None:
        return not_judged(doubt)
    if verdict == "allowance_not_known":
        return words.allowance_not_known(words.weight(workings.value(FOR_LINES.name), system))
    held = AS_WEIGHED if AS_WEIGHED.name in workings.rows else CHARGE
    said = words.charge(
        "removal_forbidden" if _is_forbidden(workings, request) else _adjusted(workings, request),
        words.weight(workings.value(CHARGE.name), system),
        workings.say("small_mass", abs(workings.value(ADJUSTMENT.name))),
        workings.say("small_mass", _half_band(workings, held)),
        words.weight(workings.value(HELD.name), system) if HELD.name in workings.rows else None,
    )
    if not _weighed(workings):
        return said
    away = abs(workings.value(HELD.name) - workings.value(CHARGE.name))
    after = words.after_weighing(verdict, words.weight(away, system), _doubt(workings))
    return f"{said} {after}"


def _half_band(workings: Workings, quantity: Quantity) -> float:
    low, high = workings.band(quantity.name)
    return 0.5 * (high - low)


def _findings(workings: Workings) -> Iterable[Finding]:
    for quantity in (HELD_SHARE, WAS_IN_SHARE):
        if quantity.name in workings.rows:
            yield workings.finding(workings.judged(quantity.name))


def _notices(workings: Workings, request: ChargeByWeightRequest, taken: _Taken, verdict: str) -> Iterable[Notice]:
    if taken.length > taken.longest or taken.lift > HIGH_LIFT:
        said = workings.say("length", taken.length)
        yield notice("long_line_set", (_LENGTH,), length=said, lift=workings.say("length", taken.lift))
    if verdict == "remove_charge" and request.removal_allowed is None:
        yield notice("charge_removal")
    if _is_forbidden(workings, request):
        yield notice("charge_removal.forbidden")
    asked = workings.doubt(CONTENT.name, FOR_LINES.name)
    if taken.per_length is not None and CONTENT.name in workings.rows and asked is None:
        low, high = workings.band(CONTENT.name)
        if not low * 0.9 <= taken.per_length <= high * 1.1:
            yield _allowance_unlikely(workings, taken.per_length)


def _missing(request: ChargeByWeightRequest, taken: _Taken) -> Iterable[Missing]:
    if taken.allowance is None:
        yield {
            "quantity": CHARGE.name,
            "reason": words.NO_ALLOWANCE,
            "unlock": [{"add": ["factory_allowance"]}],
        }
    if taken.nominal is None:
        add = [] if request.unit.refrigerant else ["unit.refrigerant"]
        add += [] if request.lines.liquid_line else ["lines.liquid_line"]
        yield {
            "quantity": FOR_LINES.name,
            "reason": words.LINES_NOT_KNOWN,
            "unlock": [{"add": ["lines.allowance"]}, {"add": add}],
        }


#: Verdict and step once the charge was weighed in, and steps once the old one was recovered, by what that was of the
#: right one.
_AFTER_WEIGHING = {
    "low": ("add_charge", "add_the_rest"),
    "right": ("charge_complete", "check_running"),
    "high": ("remove_charge", "recover_the_excess"),
    "open": ("cannot_tell", "check_running"),
}
_AFTER_RECOVERY = {"low": ("find_the_leak",), "right": (), "high": ("check_the_recovered",), "open": ()}


def _share(workings: Workings, quantity: Quantity) -> str:
    """Whether a mass is shown to be below, at or above the right charge; open where these readings cannot tell."""
    grade = workings.judged(quantity.name).grade
    if grade != "nonconforming":
        return "right" if grade == "conforming" else "open"
    return "low" if workings.value(quantity.name) < 1.0 else "high"


def _next_steps(workings: Workings, request: ChargeByWeightRequest, verdict: str) -> list[CheckStep]:
    if verdict == "lines_not_known":
        return steps(["state_the_lines"], words.NEXT_STEPS)
    if _doubt(workings) is not None:
        return []
    if verdict == "allowance_not_known":
        return steps(["read_the_allowance"], words.NEXT_STEPS)
    if _weighed(workings):
        return steps([_AFTER_WEIGHING[_share(workings, HELD_SHARE)][1]], words.NEXT_STEPS)
    actions = ["ask_the_manual" if _adjusted(workings, request) == "remove_charge" else "weigh_in"]
    if WAS_IN_SHARE.name in workings.rows:
        actions = [*_AFTER_RECOVERY[_share(workings, WAS_IN_SHARE)], *actions]
    return steps(actions, words.NEXT_STEPS)


# ---------------------------------------------------------------- rooms: arithmetic, never a permission


def _information(workings: Workings, request: ChargeByWeightRequest, taken: _Taken) -> Iterable[Information]:
    refrigerant, room = workings.visit.refrigerant, request.room
    if room is None or refrigerant is None or refrigerant.safety_group == "A1":
        return
    if any("room.floor_area" in one.paths for one in workings.questions):
        return
    limit = FLAMMABILITY_LIMITS.get(refrigerant.designation)
    if limit is None:
        yield _information_row(
            "room_not_computed", None, None, words.no_flammability_limit(refrigerant.designation), ""
        )
        return
    group = refrigerant.safety_group
    cap = CAP_VOLUMES[group] * limit.value
    for place, formula in enumerate(ROOM_FORMULAS):
        yield from _room(workings, room, _counted(workings), limit, cap, formula, place)
    free, said = _rounded("mass", FREE_VOLUMES[group] * limit.value, request.units, _down, CHARGE_STEP)
    sentence = words.room_free(said, group, FREE_VOLUMES[group])
    yield _information_row("room_charge_free", free, "mass", sentence, "room_charge_free", request.units)
    most, said = _rounded("mass", cap, request.units, _down, CHARGE_STEP)
    sentence = words.room_cap(said, group, CAP_VOLUMES[group])
    yield _information_row("room_charge_cap", most, "mass", sentence, "room_charge_cap", request.units)


def _counted(workings: Workings) -> float | None:
    """The charge that a room must bear [kg]: the larger of the right charge and what was weighed in, each at the upper
    end of its band, rounded up; None where neither is known."""
    known = [one.name for one in (CHARGE, HELD) if one.name in workings.rows]
    places = [workings.defined(name) for name in known] if _doubt(workings) is None else []
    return _up(max(float(workings.summary.high[place]) for place in places), CHARGE_STEP) if places else None


def _room(
    workings: Workings,
    room: Room,
    charge: float | None,
    limit: FlammabilityLimit,
    cap: float,
    formula: RoomFormula,
    place: int,
) -> Iterable[Information]:
    """What one edition's formula gives: from the area rounded down and the charge rounded up; its results are rounded
    to the safe side in the unit that is shown."""
    system = workings.visit.system
    height = RELEASE_HEIGHTS[room.installation]
    area = _down(float(workings.visit.constants["room.floor_area"]), AREA_STEP)
    largest = room_charge.largest_charge_2018 if formula.small_rooms else room_charge.largest_charge
    smallest = room_charge.smallest_area_2018 if formula.small_rooms else room_charge.smallest_area
    computed = float(largest(limit.value, height, area))
    most, said = _rounded("mass", min(computed, cap), system, _down, CHARGE_STEP)
    yield _information_row(
        f"room_charge_largest_{place + 1}",
        most,
        "mass",
        words.room_largest(formula, workings.say("area", area), said, f"{limit.value:g}", capped=computed > cap),
        formula.source,
        system,
    )
    if charge is None:
        return
    name = f"room_area_smallest_{place + 1}"
    counted = _rounded("mass", charge, system, _up, CHARGE_STEP)[1]
    if charge > cap:
        yield _information_row(name, None, None, words.room_none(formula, counted), "room_charge_cap")
        return
    least, said = _rounded("area", float(smallest(limit.value, height, charge)), system, _up, AREA_STEP)
    sentence = words.room_smallest(formula, counted, said)
    yield _information_row(name, least, "area", sentence, formula.source, system)


def _rounded(
    kind: str, value: float, system: str, to: Callable[[float, float], float], step: float
) -> tuple[float, str]:
    """A value [SI] rounded to one side in the unit that is shown, and the same number with its unit."""
    symbol = system_unit(kind, system)
    decimals = round(-math.log10(step))
    shown = round(to(float(conversion(kind, symbol).from_si(value)), step), decimals)
    return shown, f"{figure(shown, decimals)} {unit_word(symbol)}"


def _down(value: float, step: float) -> float:
    return math.floor(value / step + 1e-9) * step


def _up(value: float, step: float) -> float:
    return math.ceil(value / step - 1e-9) * step


def _information_row(
    name: str, value: float | None, kind: str | None, sentence: str, from_: str, system: str = "metric"
) -> Information:
    """A row of information; ``value`` in the unit that is shown."""
    symbol = None if kind is None else system_unit(kind, system)
    return {
        "id": name,
        "value": value,
        "unit": symbol,
        "sentence": f"{sentence} {words.NEVER_A_PERMISSION}",
        "source": source(from_ or "room_charge_formula"),
    }
