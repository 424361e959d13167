"""Windings, insulation and capacitors of a motor with the power off and its parts isolated."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import count
from typing import Any, NamedTuple

import numpy as np

from schemas.assessments import Missing, Notice
from schemas.capacitors import Marking, read_marking
from schemas.checks import CheckAnswer
from schemas.checks.common import CheckStep, Information
from schemas.checks.motor import CapacitorRead, MotorRequest
from service.assess.findings import Judged
from service.checks.taking import CheckEntry, Reading, ask_together, begin, drawn, take
from service.checks.workings import Outcome, Quantity, Question, Workings, answer, notice, steps
from service.intake.refusals import Refusal
from service.physics import windings
from service.reference.conditions import ARC_FLASH_VOLTAGE
from service.reference.motors import (
    CAPACITOR_TOLERANCE,
    IDENTITY_FIXED,
    IDENTITY_SHARE,
    INSULATION_BANDS,
    LEADS_DECIDE,
    OPEN,
    RESOLVED_FROM,
    SECTIONS,
    START_OVER_RUN,
    START_OVER_RUN_MODERN,
    SWAPPED_WITHIN,
    WINDING_REFERENCE,
)
from service.reference.sources import source
from service.reference.units import conversion, system_unit
from service.words import checks_motor as words

_SINGLE = ("start_to_run", "common_to_start", "common_to_run")
_THREE = ("l1_l2", "l2_l3", "l3_l1")
#: What the terminals of a reading are called, and the one that it leaves out.
_TERMINALS = {"start_to_run": ("S", "R", "C"), "common_to_start": ("C", "S", "R"), "common_to_run": ("C", "R", "S")}
_MOST_OHMS = 1e8

DEPARTURE = Quantity(
    "winding_departure",
    "resistance",
    "Start to run less the sum of both windings",
    "S-R less C-S and C-R",
    "winding_identity",
)
RATIO = Quantity(
    "start_over_run", "ratio", "The start winding over the run winding", "C-S over C-R", "start_winding_ratio"
)
SPREAD = Quantity(
    "winding_spread",
    "fraction",
    "The spread of the three windings",
    "largest deviation from the mean, over the mean",
    "winding_spread",
)
GROUND = Quantity(
    "resistance_to_ground", "insulation_resistance", "The resistance to ground", "as read", "grounded_winding"
)
INSULATION = Quantity(
    "insulation_resistance",
    "insulation_resistance",
    "The insulation resistance",
    "as read after one minute",
    "insulation_practice",
)
EARLY_INSULATION = Quantity(
    "insulation_resistance_10_seconds",
    "insulation_resistance",
    "The insulation resistance after 10 seconds",
    "as read after ten seconds",
    "insulation_chiller",
)
INSULATION_RATIO = Quantity(
    "insulation_ratio",
    "ratio",
    "The insulation resistance after 60 seconds over that after 10",
    "60 seconds over 10 seconds",
    "insulation_chiller",
)


class _Section(NamedTuple):
    """A section of a capacitor: its marked value [F], tolerance [%], and the leaf of its reading where there is one."""

    quantity: Quantity
    marked: float
    tolerance: float
    leaf: str | None


@dataclass
class _Can:
    """A capacitor, its sections and the leaf of a reading across both."""

    given: CapacitorRead
    marking: Marking
    sections: list[_Section] = field(default_factory=list)
    across: str | None = None


@dataclass
class _Taken:
    """Leaves of what was read, by name."""

    leaves: dict[str, str] = field(default_factory=dict)
    cans: list[_Can] = field(default_factory=list)

    def all(self, names: Iterable[str]) -> list[str] | None:
        """Leaves of several readings; None unless all are there."""
        found = [self.leaves.get(name) for name in names]
        return None if None in found else [name for name in found if name is not None]


def motor(request: MotorRequest) -> CheckAnswer:
    """The answer to a check of a motor.

    Raises
    ------
    service.intake.refusals.RefusedError
        If a reading is impossible, or none was given.
    """
    entry = begin(request)
    taken = _take(entry, request)
    workings = Workings(drawn(entry), entry.questions)
    _work_out(workings, taken)
    workings.questions.extend(_questions(workings, taken))
    return answer(request, workings, _outcome(workings, request, taken, list(_judged(workings, request, taken))))


# ---------------------------------------------------------------- what was given


def _take(entry: CheckEntry, request: MotorRequest) -> _Taken:
    taken, slots = _Taken(), count()

    def read(path: str, given: Any, kind: str, series: int, top: float = _MOST_OHMS) -> None:  # noqa: ANN401
        if given is None:
            return
        reading = Reading(path, kind, "line_temperature" if kind == "temperature" else kind, 0.0, top, series)
        if kind == "temperature":
            reading = reading._replace(low=230.0, high=450.0)
        leaf = take(entry, reading, given, "/" + path.replace(".", "/"), next(slots))
        if leaf is not None:
            taken.leaves[path] = leaf

    for group, names in (("single_phase_windings", _SINGLE), ("three_phase_windings", _THREE)):
        part = getattr(request, group)
        of_group = {} if part is None else {name: getattr(part, name) for name in names}
        for name, value in of_group.items():
            read(f"{group}.{name}", value, "resistance", 0)
        ask_together(entry, group, of_group)
    read("winding_temperature", request.winding_temperature, "temperature", 1)
    read("winding_to_ground", request.winding_to_ground, "resistance", 0)
    if request.insulation is not None:
        for name in ("after_60_seconds", "after_10_seconds"):
            read(f"insulation.{name}", getattr(request.insulation, name), "insulation_resistance", 2, 1e14)
    for place, given in enumerate(request.capacitors):
        taken.cans.append(_take_can(entry, given, place, read, taken))
    _refuse(entry, request)
    return taken


def _take_can(entry: CheckEntry, given: CapacitorRead, place: int, read: Any, taken: _Taken) -> _Can:  # noqa: ANN401
    marking = read_marking(given.marking)
    assert marking is not None
    can, where = _Can(given, marking), f"capacitors.{place}"
    tolerance = CAPACITOR_TOLERANCE if marking.tolerance_percent is None else marking.tolerance_percent
    two = len(marking.sections) == 2
    wanted = ("herm_to_common", "fan_to_common") if two else ("terminals",)
    others = {"terminals", "herm_to_common", "fan_to_common", "herm_to_fan"} - {*wanted, *(["herm_to_fan"] * two)}
    for name in sorted(others):
        if getattr(given, name) is not None:
            entry.refusals.append(
                Refusal(
                    f"/capacitors/{place}/{name}",
                    None,
                    " or ".join(wanted),
                    "does not fit the marking",
                    words.terminals_of(given.marking, two=two),
                )
            )
    # As on the can: the larger section is the compressor's.
    values = sorted(marking.sections, reverse=True)
    sections = tuple(SECTIONS) if two else ("",)
    for name, section, value in zip(wanted, sections, values, strict=True):
        read(f"{where}.{name}", getattr(given, name), "capacitance", 3, 2e-3)
        label = words.capacitor(place, given.name, SECTIONS.get(section))
        suffix = f"_{section}" if section else ""
        quantity = Quantity(
            f"capacitance_{place + 1}{suffix}", "capacitance", label, "as read, out of circuit", "capacitor_marking"
        )
        can.sections.append(_Section(quantity, value * 1e-6, tolerance, taken.leaves.get(f"{where}.{name}")))
    if two:
        read(f"{where}.herm_to_fan", given.herm_to_fan, "capacitance", 3, 2e-3)
        can.across = taken.leaves.get(f"{where}.herm_to_fan")
    return can


def _refuse(entry: CheckEntry, request: MotorRequest) -> None:
    """Refuse a body that holds nothing to judge, or contradicts itself."""
    over = request.winding_to_ground_over_range
    if over and request.winding_to_ground is not None:
        entry.refusals.append(
            Refusal(
                "/winding_to_ground_over_range",
                True,
                "one of the two",
                "contradicts winding_to_ground",
                words.ONE_OF_TWO,
            )
        )
    given = (
        request.single_phase_windings,
        request.three_phase_windings,
        request.winding_to_ground,
        over or None,
        request.insulation,
        *request.capacitors,
    )
    # A reading of 0 is a reading.
    if all(part is None for part in given):
        entry.refusals.append(Refusal("", None, words.ANYTHING, "holds no reading", words.GIVE_A_READING))


# ---------------------------------------------------------------- what follows


def _work_out(workings: Workings, taken: _Taken) -> None:
    """Every derived value."""
    single = taken.all(f"single_phase_windings.{name}" for name in _SINGLE)
    if single is not None:
        across, start, run = (workings.leaf(leaf) for leaf in single)
        workings.add(DEPARTURE, windings.series_departure(across, start, run), single)
        with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
            workings.add(RATIO, start / run, single[1:])
    three = taken.all(f"three_phase_windings.{name}" for name in _THREE)
    if three is not None:
        workings.add(SPREAD, windings.spread(np.stack([workings.leaf(leaf) for leaf in three])), three)
    for path, quantity in _windings(taken):
        workings.add(quantity, workings.leaf(taken.leaves[path]), [taken.leaves[path]])
    _at_reference(workings, taken)
    for path, quantity in (
        ("winding_to_ground", GROUND),
        ("insulation.after_60_seconds", INSULATION),
        ("insulation.after_10_seconds", EARLY_INSULATION),
    ):
        if path in taken.leaves:
            workings.add(quantity, workings.leaf(taken.leaves[path]), [taken.leaves[path]])
    both = taken.all(("insulation.after_60_seconds", "insulation.after_10_seconds"))
    if both is not None:
        late, early = (workings.leaf(leaf) for leaf in both)
        with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
            workings.add(INSULATION_RATIO, late / early, both)
    for can in taken.cans:
        for section in can.sections:
            if section.leaf is not None:
                workings.add(section.quantity, workings.leaf(section.leaf), [section.leaf])


def _windings(taken: _Taken) -> Iterator[tuple[str, Quantity]]:
    """The readings of windings, each as a value of its own."""
    for path in taken.leaves:
        if "_windings." in path:
            name = path.rpartition(".")[2]
            yield path, Quantity(f"winding_{name}", "resistance", words.winding(name), "as read", "winding_shorted")


def _is_undefined(workings: Workings, name: str) -> bool:
    """Whether a value is no number, as a ratio of zeros: the rest is judged without it."""
    return name in workings.rows and not workings.knows(name)


def _at_reference(workings: Workings, taken: _Taken) -> None:
    """Resistances at the temperature at which data sheets state them."""
    warmth = taken.leaves.get("winding_temperature")
    if warmth is None:
        return
    for path, leaf in taken.leaves.items():
        if "_windings." in path:
            name = path.rpartition(".")[2]
            quantity = Quantity(
                f"{name}_at_25_celsius",
                "resistance",
                words.at_reference(name),
                "resistance of copper at another temperature",
                "copper_temperature",
            )
            cold = windings.copper_resistance(workings.leaf(leaf), workings.leaf(warmth), WINDING_REFERENCE)
            workings.add(quantity, cold, [leaf, warmth])


def _judged(workings: Workings, request: MotorRequest, taken: _Taken) -> Iterator[Judged]:
    if DEPARTURE.name in workings.rows:
        allowed = _identity(_read(workings, taken, "single_phase_windings.start_to_run"))
        yield workings.judged("winding_identity", (-allowed, allowed))
    for path, quantity in _windings(taken):
        # A large three-phase motor reads as little as a short.  One that is shorted shows by its spread.
        if path.startswith("single_phase") or workings.doubt(quantity.name) is not None:
            yield workings.judged("winding_shorted", quantity=quantity.name)
    if workings.knows(SPREAD.name):
        yield workings.judged("winding_spread_usual")
        yield workings.judged("winding_spread_suspect")
    if GROUND.name in workings.rows:
        yield workings.judged("winding_to_ground")
        yield workings.judged("path_to_ground")
    if request.insulation is not None and INSULATION.name in workings.rows:
        yield from _judged_insulation(workings, request)
    for can in taken.cans:
        for section in can.sections:
            if section.leaf is not None:
                share = section.tolerance / 100.0
                bounds = (section.marked * (1.0 - share), section.marked * (1.0 + share))
                yield workings.judged("capacitor_off_circuit", bounds, section.quantity.name)


def _judged_insulation(workings: Workings, request: MotorRequest) -> Iterator[Judged]:
    given = request.insulation
    assert given is not None
    if given.least is not None:
        kind = INSULATION.kind
        value = getattr(given.least, "value", given.least)
        unit = getattr(given.least, "unit", None) or system_unit(kind, request.units)
        yield workings.judged("insulation_maker", (conversion(kind, unit).to_si(value), None))
    elif given.motor == "large_hermetic":
        yield workings.judged("insulation_large_motor")
        if EARLY_INSULATION.name in workings.rows:
            yield workings.judged("insulation_large_motor", quantity=EARLY_INSULATION.name)
    else:
        least = float(windings.simple_insulation_rule(request.rated_voltage or 0.0))
        yield workings.judged("insulation_simple_rule", (least, None))
        yield workings.judged("insulation_usual")
    if workings.knows(INSULATION_RATIO.name) and given.motor == "large_hermetic":
        yield workings.judged("insulation_ratio")


# ---------------------------------------------------------------- what must be read again


def _questions(workings: Workings, taken: _Taken) -> Iterator[Question]:
    """Letters, leads and meters that explain a reading without a fault."""
    yield from _about_single_phase(workings, taken)
    three = taken.all(f"three_phase_windings.{name}" for name in _THREE)
    if three is not None:
        names = [quantity.name for path, quantity in _windings(taken) if path.startswith("three_phase")]
        lost = [name for name in names if workings.value(name) <= RESOLVED_FROM * workings.uncertainty(name)]
        if lost:
            about = notice("leads_decide", (), value=workings.say("resistance", LEADS_DECIDE))
            spread = [SPREAD.name] if len(lost) == len(names) else []
            yield Question(about, quantities=frozenset([*lost, *spread]), step="use_a_finer_meter")
    for can in taken.cans:
        yield from _about_can(workings, can)


def _about_single_phase(workings: Workings, taken: _Taken) -> Iterator[Question]:
    if taken.all(f"single_phase_windings.{name}" for name in _SINGLE) is None or workings.doubt(DEPARTURE.name):
        return
    values = {name: _read(workings, taken, f"single_phase_windings.{name}") for name in _SINGLE}
    of_windings = frozenset({DEPARTURE.name, RATIO.name})
    open_ = {name for name, value in values.items() if value > OPEN}
    if open_ == {"common_to_start", "common_to_run"}:
        yield Question(notice("overload_open", ()), quantities=of_windings, step="let_it_cool")
    if open_:
        return
    highest = max(values, key=values.__getitem__)
    if highest != "start_to_run":
        first, second, third = _TERMINALS[highest]
        about = notice("terminals_mixed", (), first=first, second=second, third=third)
        # Where the readings add up in no order, letters that were mixed up do not explain them.
        away = abs(2.0 * values[highest] - sum(values.values()))
        allowed = _identity(values[highest]) + 2.0 * workings.uncertainty(DEPARTURE.name)
        quantities = of_windings if away <= allowed else frozenset({RATIO.name})
        yield Question(about, quantities=quantities, step="mark_the_terminals")
    elif values["common_to_start"] < values["common_to_run"]:
        about = notice("terminals_mixed.start_and_run")
        yield Question(about, quantities=frozenset({RATIO.name}), step="mark_the_terminals")


def _identity(across: float) -> float:
    """By how much start to run may differ from the sum of both windings [ohm]."""
    return IDENTITY_FIXED + IDENTITY_SHARE * across


def _about_can(workings: Workings, can: _Can) -> Iterator[Question]:
    """Leads that were on other terminals of a two-section can, as its readings show."""
    if len(can.sections) < 2:
        return
    herm, fan = can.sections
    values = [None if one.leaf is None else float(workings.leaf(one.leaf)[0]) for one in can.sections]
    both = frozenset(one.quantity.name for one in can.sections)

    def near(value: float | None, marked: float, within: float) -> bool:
        return value is not None and abs(value - marked) <= within * marked

    said = {"marking": can.given.marking}
    own = herm.tolerance / 100.0
    series = float(windings.capacitors_in_series(herm.marked, fan.marked))
    apart = fan.marked < 0.7 * herm.marked
    crossed = near(values[0], fan.marked, SWAPPED_WITHIN), near(values[1], herm.marked, SWAPPED_WITHIN)
    alone = [near(values[0], fan.marked, own), near(values[1], herm.marked, own)]
    if apart and (all(crossed) or (None in values and any(alone))):
        read = " and ".join(workings.say("capacitance", value) for value in values if value is not None)
        yield Question(notice("sections_swapped", (), value=read, **said), quantities=both, step="read_the_terminals")
    elif apart and near(values[0], series, own):
        value, made = (workings.say("capacitance", one) for one in (values[0] or 0.0, series))
        about = notice("series_reading", (), value=value, series=made, **said)
        yield Question(about, quantities=frozenset({herm.quantity.name}), step="read_the_terminals")
    elif can.across is not None and herm.leaf is not None and fan.leaf is not None:
        across, one, other = (workings.leaf(leaf) for leaf in (can.across, herm.leaf, fan.leaf))
        off = across - windings.capacitors_in_series(one, other)
        if abs(off[0]) > 2.0 * float(np.std(off[1:])):
            value, made = (workings.say("capacitance", float(one)) for one in (across[0], across[0] - off[0]))
            about = notice("series_disagrees", (), value=value, series=made)
            yield Question(about, quantities=both, step="read_the_terminals")


# ---------------------------------------------------------------- what it means


def _outcome(workings: Workings, request: MotorRequest, taken: _Taken, judged: Sequence[Judged]) -> Outcome:
    labels = {quantity.name: quantity.label for quantity in workings.rows.values()}
    asked = [one.notice["sentence"] for one in workings.questions]
    # A winding whose circuit the overload may have opened is not shown to be open.
    cool = workings.doubt(DEPARTURE.name) is not None
    open_ = [
        path
        for path, quantity in _windings(taken)
        if _read(workings, taken, path) > OPEN and workings.doubt(quantity.name) is None
    ]
    bad = [
        words.fault(one.row.id, labels[one.row.quantity], low=one.low_side)
        for one in judged
        if one.grade == "nonconforming" and not one.row.watch
    ]
    bad += [words.open_winding(path.rpartition(".")[2]) for path in open_ if not cool]
    doubt = [labels[one.row.quantity] for one in judged if one.grade == "inconclusive" and not one.row.watch]
    doubt += [labels[name] for name in (SPREAD.name, INSULATION_RATIO.name) if _is_undefined(workings, name)]
    about = {
        *doubt,
        *(labels[one.row.quantity] for one in judged if one.grade == "nonconforming" and not one.row.watch),
    }
    watched = [labels[one.row.quantity] for one in judged if one.row.watch and not one.inside]
    watched = [label for label in watched if label not in about]
    undecided = doubt or watched or asked or not judged
    verdict = "fault_shown" if bad else "cannot_tell" if undecided else "nothing_found"
    volts = request.rated_voltage or 0.0
    said = words.verdict(verdict, list(dict.fromkeys(bad or doubt)), list(dict.fromkeys(watched)), asked[:1])
    return Outcome(
        "motor",
        verdict,
        said,
        frozenset({"electrical_repair", *(["capacitor_replacement"] if request.capacitors else [])}),
        findings=[workings.finding(one) for one in judged],
        notices=list(_notices(workings, request, taken, [] if cool else open_)),
        information=list(_information(workings, request)),
        missing=list(_missing(workings, request, taken)),
        next_steps=_next_steps(request, verdict, judged),
        found=frozenset({"stored_charge", *(["volts_400_or_more"] if volts >= ARC_FLASH_VOLTAGE else [])}),
    )


def _notices(workings: Workings, request: MotorRequest, taken: _Taken, open_: Sequence[str]) -> Iterator[Notice]:
    for path in open_:
        yield notice("winding_open", (path,), value=workings.say("resistance", _read(workings, taken, path)))
    three = taken.all(f"three_phase_windings.{name}" for name in _THREE)
    asked = {one.notice["code"] for one in workings.questions}
    low = three is not None and min(float(workings.leaf(leaf)[0]) for leaf in three) < LEADS_DECIDE
    if low and "leads_decide" not in asked:
        yield notice("leads_decide", (), value=workings.say("resistance", LEADS_DECIDE))
    if request.winding_to_ground_over_range:
        yield notice("ground_beyond_range")
    if request.insulation is not None:
        yield notice("insulation_conditions")
    for can in taken.cans:
        if can.marking.tolerance_percent is None:
            yield notice("tolerance_assumed", (), marking=can.given.marking, percent=f"{CAPACITOR_TOLERANCE:g}")


def _read(workings: Workings, taken: _Taken, path: str) -> float:
    return float(workings.leaf(taken.leaves[path])[0])


def _information(workings: Workings, request: MotorRequest) -> Iterator[Information]:
    if workings.knows(RATIO.name) and workings.doubt(RATIO.name) is None:
        ratio = workings.value(RATIO.name)
        sentence = words.start_over_run(workings.say("ratio", ratio), START_OVER_RUN, START_OVER_RUN_MODERN)
        yield _row("start_winding_ratio", round(ratio, 2), "1", sentence, "start_winding_ratio")
    given = request.insulation
    if given is not None and given.motor == "small_hermetic" and INSULATION.name in workings.rows:
        value = workings.value(INSULATION.name)
        band = next(row for row in INSULATION_BANDS if value >= row.above)
        sentence = words.insulation(workings.say(INSULATION.kind, value), band.name, band.advice)
        yield _row("insulation_band", round(value / 1e6, 2), "Mohm", sentence, "insulation_practice")


def _row(name: str, value: float, unit: str, sentence: str, from_: str) -> Information:
    return {"id": name, "value": value, "unit": unit, "sentence": sentence, "source": source(from_)}


def _missing(workings: Workings, request: MotorRequest, taken: _Taken) -> Iterator[Missing]:
    given = request.insulation
    if given is not None and given.least is None and given.motor == "small_hermetic" and request.rated_voltage is None:
        unlock: list[Any] = [{"add": ["insulation.least"]}, {"add": ["rated_voltage"]}]
        yield {"quantity": INSULATION.name, "reason": words.NO_INSULATION_LIMIT, "unlock": unlock}
    for place, can in enumerate(taken.cans):
        for section, name in zip(can.sections, _names_of(can), strict=True):
            if section.leaf is None:
                path = f"capacitors.{place}.{name}"
                yield {
                    "quantity": section.quantity.name,
                    "reason": words.NOT_READ,
                    "unlock": [{"add": [path]}],
                }


def _names_of(can: _Can) -> tuple[str, ...]:
    return ("herm_to_common", "fan_to_common") if len(can.sections) == 2 else ("terminals",)


def _next_steps(request: MotorRequest, verdict: str, judged: Sequence[Judged]) -> list[CheckStep]:
    bad = {one.row.id for one in judged if one.grade == "nonconforming"}
    actions = []
    if bad & {"winding_to_ground", "insulation_maker", "insulation_simple_rule", "insulation_large_motor"}:
        actions.append("keep_it_off")
    weak = [one.low_side for one in judged if one.row.id == "capacitor_off_circuit" and one.grade == "nonconforming"]
    if weak:
        # A bleed resistor lowers a reading; it explains none that is high.
        actions += [*(["lift_the_bleed_resistor"] if any(weak) else []), *([] if all(weak) else ["take_the_leads_off"])]
        actions.append("replace_the_capacitor")
    undecided = not judged or any(one.grade == "inconclusive" for one in judged)
    if "insulation_usual" in bad:
        actions.append("warm_and_read_again")
    if bad & {"winding_shorted", "winding_identity", "winding_spread_usual", "winding_spread_suspect"} or (
        verdict == "cannot_tell" and undecided
    ):
        actions.append("better_meter")
    if request.insulation is None and verdict != "fault_shown":
        actions.append("test_the_insulation")
    return steps(actions, words.NEXT_STEPS)
