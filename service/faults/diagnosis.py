"""The diagnosis of one visit, as one readable page.

visit (and baseline) examined -> what a healthy unit would show -> hypotheses weighed -> verdict, costs,
next readings, next steps -> answer
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from math import exp
from typing import Any

from schemas.diagnoses import DiagnosisRequest
from schemas.readings import READINGS
from service.assess.cautions import caution_answer
from service.assess.examination import Assessed, derive_visit, with_statistics
from service.assess.pipeline import report
from service.compare.comparison import in_run, unusable, visit_request
from service.compare.quantities import band, percent_change, percents, rounded, share
from service.derive.derivations import QUANTITIES
from service.derive.examined import Derived, Examined
from service.faults.direct import Direct, direct
from service.faults.expectation import Expectation, expectation, not_possible
from service.faults.next_reading import Candidate, candidates
from service.faults.next_steps import next_steps
from service.faults.posterior import COSTS, Posterior, settled
from service.faults.verdict import Verdict, direct_groups, settled_first, verdict
from service.faults.words import Shown, evidence_of, for_health, moves, of_symptoms, shown
from service.intake.paths import PHASES, READING
from service.intake.refusals import Refusal, RefusedError
from service.reference.cautions import CAUTIONS
from service.reference.faults import (
    CLAIMED,
    CONFUSED,
    COSTLY,
    EXPLAINS_ALL,
    FAULTS,
    FOUND,
    LISTED,
    LOOK_ALIKE,
    SUSPECTED,
    TELLS_OF_COST,
)
from service.reference.sources import source
from service.reference.units import conversion, system_unit
from service.uncertainty.mixture import Normals
from service.unit.evidence import Evidence, evidence
from service.words.phrases import chance, phrase, spoken

_METHOD = (
    "A lumped cycle model of a healthy unit (its baseline, rating and nameplate, or its class) set against "
    "all readings in one likelihood; faults as distributions of changes with published signatures, levels "
    "integrated over a prior; readings not made are left out of the likelihood"
)
_EFFICIENCY, _CAPACITY = 0, 1
#: How many of the explanations, outcomes and readings are shown.
_SHOWN = 8
_READINGS = 3
_OUTCOMES = 5


def diagnose(request: DiagnosisRequest) -> dict[str, Any]:
    """One visit in, what is most probably wrong out.

    Raises
    ------
    service.intake.refusals.RefusedError
        If the request holds something impossible.
    """
    visit, baseline = _examined(request)
    assessed = report(visit)
    beside = direct(visit, {row["code"] for row in assessed["usability"]["notices"]})
    dropped, sound = None, None
    if baseline is not None:
        sound = evidence(baseline)
        dropped = unusable(baseline) or not_possible(baseline, sound)
        if dropped is not None:
            sound = baseline = None
    read = evidence(visit)
    reason = not_possible(visit, read)
    unsettled = None if visit.unit.mode != "cooling" else visit.unit.unsettled
    if unsettled is not None:
        reason = f"{unsettled.reason} {unsettled.remedy}"
    wanted = [] if reason is None else _missing(visit, read)
    reason = reason or unusable(visit)
    expected = None if reason else expectation(visit, read, sound)
    if expected is None:
        reason = reason or "the readings fit no state that the refrigerant's tables hold"
        return _without(request, visit, beside, assessed, reason, wanted)
    expected, left = settled(expected, visit, baseline)
    if sound is not None and _doubt(left) >= FOUND:
        alone = expectation(visit, read, None)
        other = None if alone is None else settled(alone, visit, None)
        if other is not None and _doubt(other[1]) < 1.0 - FOUND:
            (expected, left), baseline = other, None
            dropped = (
                "no state of one unit fits both it and this visit, where the visit by itself fits a unit of "
                "this rating; it may be of another unit or state"
            )
    unlike = max(_doubt(left), left.probability("no_fault"))
    if _explained(beside) and unlike > 1.0 - FOUND:
        reason = "the model of the cycle holds no state so far from a running unit"
        return _without(request, visit, beside, assessed, reason, wanted)
    # What is decided is decided by the digits that the answer shows.
    chances = {
        name: share(left.probability(name)) for name, row in FAULTS.items() if row.shown != "direct"
    }
    of_direct = {one.fault: share(one.probability) for one in beside}
    costly = share(left.costly(_EFFICIENCY))
    costs = [
        left.cost(row) if expected.tells_of(output) >= TELLS_OF_COST else None
        for row, output in enumerate(COSTS)
    ]
    lost = costs[_EFFICIENCY]
    loss = None if lost is None else (lost, costly)
    objection = _objection(assessed)
    decided = verdict(
        chances,
        {alike: share(left.of_any(alike)) for alike in LOOK_ALIKE},
        of_direct,
        loss,
        objected=objection is not None,
    )
    if decided.name == "readings_doubted":
        # Of readings that do not fit each other no cost is given.
        costs, loss = [None, None], None
    found = decided.found
    rows = shown(expected)
    readings = [_to_read(one, visit) for one in candidates(expected, left, visit)[:_READINGS]]
    worth = {n: c for n, c in (chances | of_direct).items() if n != "no_fault"}
    nearest = _nearest_fault(left)
    if nearest is not None:
        # Where something unknown is at work, what comes nearest is looked at too.
        worth[nearest] = max(worth[nearest], SUSPECTED)
    steps = next_steps(worth, found, visit.unit.device, healthy=decided.name == "healthy")
    return {
        "units": request.units,
        "verdict": decided.name,
        "sentence": _sentence(
            decided,
            chances | of_direct,
            left,
            readings,
            expected,
            loss,
            costs[_CAPACITY],
            objection,
            visit.unit.device,
        ),
        "found": found,
        "expected_from": expected.basis,
        "probability_costly": None if loss is None else costly,
        "efficiency_percent": percent_change(costs[_EFFICIENCY]),
        "capacity_percent": percent_change(costs[_CAPACITY]),
        "hypotheses": _hypotheses(expected, left, rows, chances, beside, visit, decided, baseline),
        "combinations": _combinations(left),
        "next_readings": readings,
        "next_steps": steps,
        "expected": {_key(one): _expected(one, visit.visit.system) for one in rows},
        "taken_on_trust": _on_trust(visit, left, expected, dropped),
        "missing": [],
        "cautions": _cautions(assessed, steps),
        "assessment": assessed,
        "provenance": assessed["provenance"] | {"method": _METHOD},
    }


def _examined(request: DiagnosisRequest) -> tuple[Assessed, Derived | None]:
    """The visit examined, and what the baseline gives; refusals name the run they are about."""
    refusals: list[Refusal] = []
    sides: list[Derived | None] = []
    for name, run in (("run", request.run), ("baseline", request.baseline)):
        if run is None:
            sides.append(None)
            continue
        alone = visit_request(request, run, request.usage, request.options)
        try:
            sides.append(derive_visit(alone, compared=True))
        except RefusedError as error:
            sides.append(None)
            refusals += [in_run(refusal, f"/{name}") for refusal in error.refusals]
    if refusals:
        raise RefusedError(list({(r.pointer, r.detail): r for r in refusals}.values()))
    visit = sides[0]
    assert visit is not None
    return with_statistics(visit), sides[1]


def _doubt(left: Posterior) -> float:
    """Probability that the readings are wrong, or something unknown is at work."""
    return left.probability("measurement_mistake") + left.probability("none_of_these")


def _explained(beside: list[Direct]) -> bool:
    """Whether something found by itself explains readings that fit no state of the cycle."""
    return any(one.fault in EXPLAINS_ALL and one.probability >= FOUND for one in beside)


def _objection(assessed: Mapping[str, Any]) -> str | None:
    """Why a unit is not called healthy whatever its cycle shows: what the assessment of the same readings
    does not trust, or asks to have put right."""
    for notice in assessed["usability"]["notices"]:
        if notice["weight"] == "disqualifying":
            return str(notice["sentence"])
    asked = [row for row in assessed["findings"] if row["priority"] in ("safety", "act")]
    if not asked:
        return None
    names = dict.fromkeys(QUANTITIES[row["quantity"]].label.lower() for row in asked)
    return f"Outside its limit: {', '.join(names)} (see the findings)."


def _hypotheses(
    expected: Expectation,
    left: Posterior,
    rows: list[Shown],
    chances: Mapping[str, float],
    beside: list[Direct],
    visit: Examined,
    decided: Verdict,
    baseline: Derived | None,
) -> list[dict[str, Any]]:
    answer, system = [], visit.visit.system
    listed = [name for name, own in chances.items() if own >= LISTED or name == "no_fault"]
    in_cycle = [name for name in listed if FAULTS[name].shown == "cycle" and name != "no_fault"]
    moved = moves(in_cycle, expected, left) if in_cycle else {}
    for name in listed:
        of_cycle = name in moved
        if of_cycle:
            for_it, against = evidence_of(name, moved[name], rows, system)
            quoted, contrary = of_symptoms(name, visit, baseline)
            for_it, against = quoted + for_it, contrary + against
        elif name == "no_fault":
            for_it, against = for_health(rows, system)
        else:
            for_it, against = _of_mistakes(name, left), []
        answer.append(
            _hypothesis(name, chances[name], for_it, against, found=_stands(name, decided))
            | {
                "form": (left.form(name) or None) if of_cycle else None,
                "level": _level(name, left, system) if of_cycle else None,
                "cost": _cost(name, left) if of_cycle else None,
            }
        )
    return sorted([*answer, *_beside(beside, decided)], key=lambda item: -item["probability"])


def _stands(name: str, decided: Verdict) -> bool:
    """Whether the verdict says as much as the hypothesis."""
    if name == "no_fault":
        return decided.name in ("healthy", "fault_found")
    if FAULTS[name].shown == "readings":
        return decided.name == "readings_doubted"
    return name in decided.found


def _beside(found: list[Direct], decided: Verdict) -> list[dict[str, Any]]:
    """Faults that show in one value against its limit, most probable first."""
    rows = []
    for one in sorted(found, key=lambda item: -item.probability):
        quoted, likely = [one.sentence], one.probability >= 0.5
        rows.append(
            _hypothesis(
                one.fault,
                one.probability,
                quoted if likely else [],
                [] if likely else quoted,
                found=_stands(one.fault, decided),
            )
        )
    return rows


def _hypothesis(
    name: str, probability: float, for_it: list[str], against: list[str], *, found: bool
) -> dict[str, Any]:
    """``found`` tells whether the verdict lets it be called found."""
    row, probability = FAULTS[name], share(probability)
    return {
        "fault": name,
        "text": row.text,
        "probability": probability,
        "status": (
            "found"
            if found and probability >= FOUND
            else "possible"
            if probability >= SUSPECTED
            else "unlikely"
        ),
        "form": None,
        "level": None,
        "cost": None,
        "evidence_for": for_it,
        "evidence_against": against,
        "tells_apart": row.separate,
        "source": source(row.source),
    }


def _of_mistakes(name: str, left: Posterior) -> list[str]:
    """Which reading, or which refrigerant, would set it right."""
    rows = sorted(
        (
            (float(own), one.culprit)
            for one, own in zip(left.mistakes, left.mistake_chances, strict=True)
            if one.fault == name and one.culprit and one.credible
        ),
        reverse=True,
    )
    found = []
    for probability, culprit in rows[:3]:
        if probability < LISTED:
            continue
        what = (
            f"A wrong {_plain(culprit)}"
            if culprit.startswith(READING)
            else f"{culprit} in place of the refrigerant stated"
        )
        found.append(f"{what} would explain the readings (probability {chance(probability)}).")
    return found


def _level(name: str, left: Posterior, system: str) -> dict[str, Any] | None:
    found = left.level(name)
    if found is None:
        return None
    row = FAULTS[name]
    scale, symbol = 1.0, "1"
    if row.unit == "K":
        symbol = system_unit("temperature_difference", system)
        scale = conversion("temperature_difference", symbol).scale
    return {
        "value": rounded(found.mean / scale),
        "band": band(
            max(found.quantile(0.025), 0.0) / scale, max(found.quantile(0.975), 0.0) / scale
        ),
        "unit": symbol,
        "text": row.level_text,
    }


def _cost(name: str, left: Posterior) -> dict[str, Any] | None:
    efficiency, capacity = (left.cost(row, name) for row in (_EFFICIENCY, _CAPACITY))
    if efficiency is None or capacity is None:
        return None
    return {
        "efficiency_percent": percent_change(efficiency),
        "capacity_percent": percent_change(capacity),
        "probability_over_five_percent": share(left.costly(_EFFICIENCY, name)),
    }


def _combinations(left: Posterior) -> list[dict[str, Any]]:
    totals: dict[tuple[str, ...], float] = {}
    for faults, own in zip(left.components.faults, left.chances.tolist(), strict=True):
        totals[faults] = totals.get(faults, 0.0) + own
    for one, own in zip(left.mistakes, left.mistake_chances.tolist(), strict=True):
        totals[(one.fault,)] = totals.get((one.fault,), 0.0) + own
    ranked = sorted(totals.items(), key=lambda item: -item[1])
    return [
        {"faults": list(faults), "probability": share(total)}
        for faults, total in ranked[:_SHOWN]
        if total >= LISTED
    ]


def _to_read(one: Candidate, visit: Examined) -> dict[str, Any]:
    """A reading worth making, in the caller's units."""
    quantity = one.reading.output
    kind = QUANTITIES[quantity].kind if quantity in QUANTITIES else "temperature"
    system = visit.visit.system
    unit = conversion(kind, system_unit(kind, system))
    outcomes: list[dict[str, Any]] = []
    for row in sorted(one.predictions, key=lambda item: -item.chance)[:_OUTCOMES]:
        ends = [row.mean + k * row.deviation for k in (0.0, -1.96, 1.96)]
        if one.reading.logarithmic:
            ends = [exp(end) for end in ends]
        if quantity in ("superheat", "subcooling"):
            # Under zero they stand for liquid in the gas or vapour in the liquid: saturation is read.
            ends = [max(end, 0.0) for end in ends]
        middle, low, high = (unit.from_si(end) for end in ends)
        outcomes.append(
            {
                "faults": list(row.fault),
                "expected": rounded(middle),
                "band": band(low, high),
            }
        )
    label = QUANTITIES[quantity].label if quantity in QUANTITIES else quantity.replace("_", " ")
    words = "; ".join(
        f"about {phrase(kind, unit.to_si(row['expected']), system)} would fit {_names(row['faults'])}"
        for row in outcomes[:3]
    )
    return {
        "reading": READING + one.reading.name,
        "bits": rounded(one.bits),
        "effort": READINGS[one.reading.name].effort,
        "quantity": quantity,
        "unit": system_unit(kind, system),
        "outcomes": outcomes,
        "sentence": f"{label[0].upper()}{label[1:]}: {words}.",
    }


def _names(faults: list[str] | tuple[str, ...]) -> str:
    return " and ".join(FAULTS[name].text for name in faults) or "no fault"


def _key(one: Shown) -> str:
    return one.row.source.removeprefix(READING)


def _expected(one: Shown, system: str) -> dict[str, Any]:
    symbol = system_unit(one.kind, system)
    unit = conversion(one.kind, symbol)
    return {
        "unit": symbol,
        "read": rounded(unit.from_si(one.read)),
        "healthy": rounded(unit.from_si(one.healthy)),
        "band": band(unit.from_si(one.low), unit.from_si(one.high)),
        "outside": not one.low <= one.read <= one.high,
    }


def _on_trust(
    visit: Examined, left: Posterior, expected: Expectation, dropped: str | None
) -> list[str]:
    """What the readings leave open of what was stated; ``dropped`` tells why a baseline was not used."""
    found = []
    if dropped is not None:
        found.append(f"The baseline was not used: {dropped.rstrip('.')}.")
    stated = visit.visit.refrigerant
    if stated is not None and stated.designation in CONFUSED:
        others = [
            one.culprit
            for one in left.mistakes
            if one.culprit in CONFUSED[stated.designation] and one.evidence > -3.0
        ]
        if others:
            found.append(
                f"That the circuit holds {stated.designation}: the same readings would do for "
                f"{' or '.join(others)}. Only a refrigerant identifier, or the unit's records, can tell."
            )
    if visit.unit.device is None:
        found.append("Which metering device the unit has: not given, so both kinds count.")
    if expected.basis == "baseline":
        found.append("That the unit was sound when the baseline was read.")
    return found


def _cautions(assessed: Mapping[str, Any], steps: list[dict[str, Any]]) -> list[dict[str, Any]]:
    wanted = {row["id"] for row in assessed["cautions"]}
    for step in steps:
        wanted.update(step["cautions"])
    return [caution_answer(row) for row in CAUTIONS.values() if row.id in wanted]


def _sentence(
    decided: Verdict,
    chances: Mapping[str, float],
    left: Posterior,
    readings: list[dict[str, Any]],
    expected: Expectation,
    cost: tuple[Normals, float] | None,
    capacity: Normals | None,
    objection: str | None,
    device: str | None,
) -> str:
    """The headline: what is known first, then what it costs, then what would settle the rest."""
    warm = chances.get("low_load", 0.0) < FOUND
    best = f" Best read next: {_plain(readings[0]['reading'])}." if readings and warm else ""
    against = {
        "baseline": "its own baseline",
        "rating": "its rating",
        "class": "units of its class",
    }[expected.basis]
    lost = (
        "These readings say nothing about efficiency."
        if cost is None
        else f"Efficiency against a healthy unit in this weather: {_range(cost[0])}; probability that more "
        f"than {100 * COSTLY:.0f} % is lost {chance(cost[1])}."
    )
    # What must wait is not put forward.
    aside = settled_first(chances) | {"no_fault", "low_load"}
    ranked = sorted(
        ((n, c) for n, c in chances.items() if n not in aside and c >= SUSPECTED),
        key=lambda item: -item[1],
    )
    possible = ", ".join(f"{FAULTS[n].text} ({chance(c)})" for n, c in ranked[:4])
    none, waits = chances["no_fault"], _first(decided, chances)
    names = _named(decided.groups, chances)
    if decided.name == "fault_found":
        harm = " ".join(
            dict.fromkeys(text for n in decided.found if (text := FAULTS[n].harm_with(device)))
        )
        open_ = any(len(group) > 1 for group in decided.groups)
        return (
            f"Found, set against {against}: {names}. {lost}{' ' + harm if harm else ''}{waits}"
            f"{best if open_ else ''}"
        )
    if decided.name == "readings_doubted":
        return (
            "The readings do not fit each other or the unit: a reading, or the refrigerant stated, is "
            f"wrong, or something unknown is at work.{_culprit(left)}{_nearest(left)} Correct it, then read "
            f"again.{' Found whatever the rest shows: ' + names + '.' if names else ''}"
        )
    if decided.name == "fault_not_told_apart":
        if ranked and ranked[0][1] >= 0.5:
            others = ", ".join(f"{FAULTS[n].text} ({chance(c)})" for n, c in ranked[1:4])
            what = (
                f". Most likely it is {FAULTS[ranked[0][0]].text} ({chance(ranked[0][1])}), which is not "
                f"certain{'; also possible: ' + others if others else ''}"
            )
        else:
            what = f", but these readings do not show what{': ' + possible if possible else ''}"
        return (
            f"Something is wrong, set against {against} (probability of no fault {chance(none)}){what}. "
            f"{lost}{waits}{best}"
        )
    if decided.name == "healthy":
        return (
            f"Healthy, as far as these readings show, set against {against}: no fault "
            f"{chance(none)}. {lost}"
        )
    if decided.contradicted:
        denied = _named(tuple((name,) for name in decided.contradicted), chances)
        return (
            f"Something differs from what {against} leads to expect. {_capital(denied)} would explain it, but "
            "would cost efficiency, and these readings show no loss; so it is not called found. Check what "
            "was stated of the unit (rating, stages, refrigerant, metering device) and read again. "
            f"{lost}{'' if capacity is None else f' Capacity: {_range(capacity)}.'}{waits}{best}"
        )
    if none <= 1.0 - CLAIMED:
        return (
            f"Something is wrong or misread, set against {against} (probability {chance(1.0 - none)}), but these "
            f"readings do not show which{': ' + possible if possible else ''}. {lost}{waits}{best}"
        )
    text = (
        f"Not enough to tell, set against {against}: no fault {chance(none)}"
        f"{'; possible: ' + possible if possible else ''}. {lost}{waits}"
    )
    return f"{text} Not called healthy: {objection}" if decided.denied else f"{text}{best}"


def _named(groups: tuple[tuple[str, ...], ...], chances: Mapping[str, float]) -> str:
    return "; and ".join(
        FAULTS[group[0]].text + f" (probability {chance(chances[group[0]])})"
        if len(group) == 1
        else " or ".join(FAULTS[name].text for name in group)
        + " (these readings do not show which)"
        for group in groups
    )


def _first(decided: Verdict, chances: Mapping[str, float]) -> str:
    """What has to be settled before more can be said."""
    text = ""
    urgent = [name for name in EXPLAINS_ALL if chances.get(name, 0.0) >= SUSPECTED]
    if urgent and set(urgent) - set(decided.found):
        names = " or ".join(FAULTS[name].text for name in FAULTS if name in urgent)
        text += f" Settle this first: {names}."
    elif urgent:
        text += " Charge and the rest of the circuit are judged once that is put right."
    if chances.get("low_load", 0.0) >= FOUND:
        text += " Return air this cool cannot show whether the charge is right; warm the house up and read again."
    return text


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _culprit(left: Posterior) -> str:
    """What is most likely wrong of the readings."""
    probability, best = max(
        zip(left.mistake_chances.tolist(), left.mistakes, strict=True), key=lambda item: item[0]
    )
    if not best.culprit or probability < SUSPECTED or not best.credible:
        return ""
    what = (
        f"the {_plain(best.culprit)}"
        if best.culprit.startswith(READING)
        else f"{best.culprit} in place of the refrigerant stated"
    )
    return f" Most likely: {what} (probability {chance(probability)})."


def _nearest_fault(left: Posterior) -> str | None:
    """The known fault that comes nearest, where something unknown is the most probable."""
    if left.probability("none_of_these") < 0.5:
        return None
    return max(
        (name for name, row in FAULTS.items() if row.shown == "cycle" and name != "no_fault"),
        key=left.probability,
    )


def _nearest(left: Posterior) -> str:
    best = _nearest_fault(left)
    return "" if best is None else f" Nearest of what is known: {FAULTS[best].text}."


def _plain(path: str) -> str:
    return spoken(path)


def _range(change: Normals) -> str:
    middle, low, high = percents(change)
    # A rounded zero has no sign.
    texts = [f"{value:+.0f}".replace("-0", "0") if abs(value) < 0.5 else f"{value:+.0f}"
             for value in (middle, low, high)]  # fmt: skip
    return f"{texts[0].replace('+0', '0')} % (95 %: {texts[1]} to {texts[2]} %)"


def _missing(visit: Examined, read: Evidence) -> list[str]:
    """What would unlock a diagnosis, where there is none for want of it: nothing else is asked for, as it
    could not help."""
    if visit.unit.mode != "cooling" or not visit.unit.capacity_is_known:
        return []
    found = [] if PHASES in visit.visit.leaves else ["unit.refrigerant"]
    if read.tells_of_the_unit:
        return found
    return found + [
        READING + name
        for name in ("suction_pressure", "suction_line_temperature", "liquid_pressure",
                     "liquid_line_temperature", "outdoor_air_dry_bulb")
        if name not in visit.visit.readings
    ]  # fmt: skip


def _without(
    request: DiagnosisRequest,
    visit: Examined,
    beside: list[Direct],
    assessed: dict[str, Any],
    reason: str,
    missing: list[str],
) -> dict[str, Any]:
    """The answer where no cycle can be set against the readings: what shows by itself still stands."""
    chances = {one.fault: share(one.probability) for one in beside}
    decided = Verdict("not_enough_to_tell", direct_groups(chances))
    found = decided.found
    if found:
        decided = replace(decided, name="fault_found")
    steps = next_steps(chances, found, visit.unit.device, healthy=False)
    why = f"{_capital(reason).rstrip('.')}. The refrigerant cycle was therefore not assessed."
    harm = " ".join(dict.fromkeys(FAULTS[n].harm for n in found if FAULTS[n].harm))
    possible = [name for name in EXPLAINS_ALL if SUSPECTED <= chances.get(name, 0.0) < FOUND]
    if found:
        why = f"Found: {_named(decided.groups, chances)}.{' ' + harm if harm else ''} {why}"
    elif possible:
        why += (
            f" Settle this first: {' or '.join(FAULTS[n].text for n in FAULTS if n in possible)}."
        )
    return {
        "units": request.units,
        "verdict": decided.name,
        "sentence": why,
        "found": found,
        "expected_from": None,
        "probability_costly": None,
        "efficiency_percent": None,
        "capacity_percent": None,
        "hypotheses": _beside(beside, decided),
        "combinations": [],
        "next_readings": [],
        "next_steps": steps,
        "expected": {},
        "taken_on_trust": [],
        "missing": missing,
        "cautions": _cautions(assessed, steps),
        "assessment": assessed,
        "provenance": assessed["provenance"] | {"method": _METHOD},
    }  # fmt: skip
