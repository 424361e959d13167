"""Texts and tables of the report, from the answers: each a pure function."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime

from schemas.assessments import Assessment, Caution, DerivedValue, Finding, Provenance, Run
from schemas.checks import CheckAnswer
from schemas.comparisons import Comparison
from schemas.diagnoses import Diagnosis
from schemas.pictures import Audience, Body
from schemas.readings import READINGS
from schemas.trends import Trend
from service.derive.examined import Examined
from service.reference.cautions import CAUTIONS
from service.reference.units import KINDS, conversion, system_unit
from service.render.contents import Table
from service.render.drawing import plain
from service.render.wording import (
    decimals,
    ends,
    finding_label,
    label,
    percent,
    places_of,
    reading_words,
    span,
    words,
)
from service.words import household
from service.words.comparison import VERDICTS
from service.words.numbers import figure
from service.words.phrases import capital, lowered, unit_word

#: What holds findings with limits, values and instruments: an assessment, or the answer to a check.
Judged = Assessment | CheckAnswer


def outside(assessment: Judged, audience: Audience) -> list[str]:
    """What lies outside its limits."""
    found = [f for f in assessment["findings"] if f["grade"] == "nonconforming"]
    if audience == "technician":
        return [f["sentence"] for f in found]
    return list(dict.fromkeys(_plainly(finding) for finding in found))


def _plainly(finding: Finding) -> str:
    """A finding without its numbers, which are on the technician's page."""
    limit = finding["limit"]
    kind = "usual" if limit is not None and limit["basis"] == "common_practice" else "allowed"
    text = f"{capital(household.checked(finding, finding_label(finding)))}: outside what is {kind}."
    return f"{text}{household.condition(finding)}"


def inside(assessment: Judged, audience: Audience) -> str:
    """Names of what lies within its limits."""
    good = [f for f in assessment["findings"] if f["grade"] == "conforming"]
    if audience == "technician":
        return "; ".join(dict.fromkeys(map(finding_label, good)))
    # What is met in one way and not in another is not among the good.
    rest = {household.checked(f, finding_label(f)) for f in assessment["findings"] if f["grade"] != "conforming"}
    names = dict.fromkeys(household.checked(f, finding_label(f)) for f in good)
    return "; ".join(name for name in names if name not in rest)


def notices(assessment: Assessment, audience: Audience) -> list[str]:
    """Doubts about the readings, weightiest first; notes on method are for the technician."""
    rows = assessment["usability"]["notices"]
    if audience == "technician":
        return [row["sentence"] for row in rows]
    return list(dict.fromkeys(household.doubted(row["code"]) for row in rows if row["weight"] != "note"))


def sources_of_limits(assessment: Judged) -> list[str]:
    """Where the limits come from, each once."""
    limits = (f["limit"] for f in assessment["findings"] if f["limit"] is not None)
    return list(dict.fromkeys(limit["source"] for limit in limits))


def facts(body: Body, runs: Mapping[str, Run], audience: Audience) -> list[tuple[str, str]]:
    """Whose unit it is, what it is, and when it was read; ``runs`` by their names."""
    unit, site = body.unit, body.site
    said = body.labels.model_dump(exclude_none=True) if body.labels is not None else {}
    facts = [(name.capitalize(), plain(text)) for name, text in said.items()]
    facts.append(("Refrigerant", unit.refrigerant or "not stated"))
    if audience == "technician":
        facts += [
            ("Metering device", words(unit.metering_device) if unit.metering_device else "not stated"),
            ("Mode", f"{unit.mode}, {words(unit.capacity_control)}"),
        ]
        ran = dict.fromkeys(text for run in runs.values() if (text := _ran(run)))
        if ran:
            facts.append(("Stage or speed", ", then ".join(ran)))
    given = {name: _date(run.taken_at) for name, run in runs.items() if run.taken_at}
    if len(given) > 2:
        facts.append(("Read", f"{min(given.values())[:10]} to {max(given.values())[:10]}"))
    else:
        facts += [(f"Read {run}".strip(), date) for run, date in given.items()]
    if not given:
        facts.append(("Read", "no date stated"))
    if audience == "technician" and site.altitude is None and site.barometric_pressure is None:
        facts.append(("Altitude", "assumed at sea level"))
    return facts


def _ran(run: Run) -> str:
    """The stage or the speed at which the unit ran; nothing where none is stated."""
    if run.stage is not None:
        return "low stage" if run.stage == "low" else "full stage"
    if run.test_mode:
        return "the maker's test mode"
    return "" if run.speed_percent is None else f"{run.speed_percent:.0f} % of the rated speed"


def _date(date: datetime) -> str:
    """Date and time of the clock on site, with its offset."""
    shown = date.strftime("%Y-%m-%d %H:%M")
    offset = date.strftime("%z")
    return f"{shown} (UTC{offset[:3]}:{offset[3:5]})" if offset else shown


def undecided(assessment: Judged, audience: Audience) -> list[str]:
    """What could not be decided, and why."""
    open_ = [f for f in assessment["findings"] if f["grade"] == "inconclusive"]
    if audience == "customer":
        return list(dict.fromkeys(_open(f, assessment["derived"][f["quantity"]]) for f in open_))
    ungraded = [f for f in assessment["findings"] if f["grade"] == "not_assessed" and f["limit"]]
    return [f["sentence"] for f in (*open_, *ungraded)]


#: Share of the variance by assumptions from which a value counts as estimated rather than measured.
_ESTIMATED = 0.9


def _open(finding: Finding, derived: DerivedValue) -> str:
    """Why a value cannot be decided against its limit: no measurement, or not a good enough one."""
    assumed = sum(share for owner, share in derived["variance_shares"].items() if owner.startswith("assumption:"))
    why = (
        "not measured, only estimated from usual values"
        if assumed > _ESTIMATED
        else "too close to its limit for these instruments to say"
    )
    return f"{capital(household.checked(finding, label(finding['quantity'])))}: {why}.{household.condition(finding)}"


def two_efficiencies(diagnosis: Diagnosis) -> list[str]:
    """Why a page may show two efficiencies that differ."""
    change = diagnosis["efficiency_percent"]
    share = diagnosis["assessment"]["derived"].get("eer_share_of_rating")
    if change is None or share is None:
        return []
    return [
        f"Two efficiencies: {percent(change, 0)} against a healthy unit follows from the refrigerant cycle; "
        f"{figure(share['value'], 0)} % ({span(share['band'], share['unit'])}) of the rating from capacity over "
        "power as measured. The difference between them is airflow, ducts, the blower and the rating itself."
    ]


def not_derived(assessment: Assessment) -> list[str]:
    """What could not be derived, and what would give it."""
    return [
        f"Not derived: {', '.join(lowered(label(name)) for name in row['unlocks'][:4])}"
        f"{' and more' if len(row['unlocks']) > 4 else ''}. Add: "
        f"{', '.join(reading_words(path) for path in row['add'])}."
        for row in assessment["next_readings"][:3]
    ]


def cautions(rows: Sequence[Caution], audience: Audience) -> list[tuple[str, str]]:
    """Signal word and text; whose word is final is said once for all.

    Someone who does not do the work reads its hazards, and what remains in the house.
    """
    if audience == "technician":
        return [(row["signal_word"].upper(), row["text"]) for row in rows]
    hazards = [CAUTIONS[row["id"]].hazard for row in rows if CAUTIONS[row["id"]].hazard]
    told = [(row["signal_word"].upper(), row["text"]) for row in rows if CAUTIONS[row["id"]].for_everyone]
    if hazards:
        text = (
            f"Work on this unit has hazards: {', '.join(hazards)}. Do not open it; keep away from it while "
            "it is worked on."
        )
        told.insert(0, ("WARNING", text))
    return told


def method(provenance: Provenance, audience: Audience) -> list[str]:
    """How the numbers were made, and by which versions."""
    model = provenance["refrigerant_model"]
    made = f"Service {provenance['service']}, {provenance['draws']} draws" + (
        f", refrigerant properties by {model}." if model else "."
    )
    if audience == "customer":
        return [
            "Calculated from the readings by published methods, which the technician's page names. Every "
            "number carries the band that follows from the accuracies of the instruments: the true value "
            "lies in it in 95 of 100 such cases.",
            made,
        ]
    return [f"{provenance['method']}.", made]


def readings(runs: Mapping[str, Examined]) -> Table:
    """Each reading in the caller's units, run by run, with its standard uncertainty and instrument."""
    names = list(dict.fromkeys(name for one in runs.values() for name in one.visit.readings))
    names.sort(key=list(READINGS).index)
    rows = []
    for name in names:
        told = [_as_read(one, name) for one in runs.values()]
        used = (one.visit.instruments.get(name) for one in runs.values())
        instruments = dict.fromkeys(_instrument_name(one.name) for one in used if one is not None)
        rows.append((_reading_label(name), *told, ", ".join(instruments)))
    heads = ("Reading", *(run.capitalize() or "As read" for run in runs), "Instrument")
    return Table(heads, rows)


def _as_read(examined: Examined, name: str) -> str:
    """A reading and its standard uncertainty, with the unit."""
    visit, kind = examined.visit, READINGS[name].kind
    if name not in visit.readings:
        return "not read"
    symbol = system_unit(kind, visit.system)
    unit = conversion(kind, symbol)
    places = KINDS[kind].decimals.get(symbol, 1)
    used = visit.instruments.get(name)
    if used is None:
        return f"{figure(unit.from_si(visit.readings[name]), places)} {unit_word(symbol)}".rstrip()
    spread = used.standard_uncertainty / unit.scale
    # As many decimals as show the uncertainty at all, for both.
    while round(spread, places) == 0.0 and places < 6:
        places += 1
    shown = figure(unit.from_si(visit.readings[name]), places)
    return f"{shown} ± {figure(spread, places)} {unit_word(symbol)}".rstrip()


def _reading_label(name: str) -> str:
    return words(name).replace(".", ", ").capitalize()


def values(assessment: Judged) -> Table:
    """Each derived value with its band, but for what is as read; the graded ones count most."""
    derived = {name: row for name, row in assessment["derived"].items() if row["method"] != "as read"}
    graded = {finding["quantity"] for finding in assessment["findings"]}
    rows = [
        (
            label(name),
            f"{figure(row['value'], decimals(row['unit'], name))} "
            f"({span(row['band'], row['unit'], name)}) {unit_word(row['unit'])}".rstrip(),
        )
        for name, row in derived.items()
    ]
    order = sorted(range(len(rows)), key=lambda place: list(derived)[place] not in graded)
    return Table(("Value", "Best estimate (95 % band)"), rows, order)


def changes(answer: Comparison) -> Table:
    """Each value before and after, its change under the same conditions with its band, and the verdict."""
    rows = []
    for name, row in answer["changes"].items():
        change = row["at_common_conditions"]
        if row["verdict"] is None or change is None:
            continue
        unit = row["difference_unit"]
        usual = decimals(row["unit"], name)
        places = places_of(change["band"], usual)
        rows.append(
            (
                label(name),
                f"{figure(row['before'], usual)} → {figure(row['after'], usual)} {unit_word(row['unit'])}".rstrip(),
                f"{figure(change['value'], places, signed=True)} "
                f"({ends(change['band'], places, signed=True)}) {unit_word(unit)}".rstrip(),
                VERDICTS[row["verdict"]],
            )
        )
    heads = ("Value", "Before → after", "Change under the same conditions (95 %)", "Verdict")
    return Table(heads, rows)


def drifts(answer: Trend) -> Table:
    """Each series: its shape and its drift with the band."""
    rows = []
    for name, row in answer["quantities"].items():
        drift = row["drift_per_year"]
        places = places_of(drift["band"], decimals(row["unit"], name))
        rows.append(
            (
                label(name),
                row["shape"],
                f"{figure(drift['value'], places, signed=True)} ({ends(drift['band'], places, signed=True)}) "
                f"{unit_word(row['difference_unit'])}".rstrip(),
                ", ".join(date[:10] for date in row["odd_runs"]) or "none",
            )
        )
    heads = (
        "Value under the same conditions",
        "Shape",
        "Drift a year (95 %)",
        "Runs that do not fit",
    )
    return Table(heads, rows)


def instruments(assessment: Judged) -> list[str]:
    """Each instrument once: what it is, and where the accuracy taken for it comes from."""
    used = dict.fromkeys(
        (_instrument_name(row["instrument"]), words(row["type"]), row["source"])
        for row in assessment["instruments"].values()
    )
    origins = list(dict.fromkeys(origin for *_, origin in used))
    texts = []
    for origin in origins:
        names = [name if name.startswith(kind) else f"{name} ({kind})" for name, kind, other in used if other == origin]
        texts.append(f"{', '.join(names)}. Accuracy: {origin}.")
    return texts


def _instrument_name(name: str) -> str:
    """As the caller names it, or which kind was assumed."""
    if name.startswith("assumed:"):
        return f"{words(name.removeprefix('assumed:'))} (assumed)"
    return plain(name)
