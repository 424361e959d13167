"""Texts and tables of the report, from the answers: each a pure function."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from schemas.pictures import Audience
from schemas.readings import READINGS
from service.assess.phrasing import unit_word
from service.assess.pipeline import Examined
from service.reference.units import KINDS, conversion, system_unit
from service.render.contents import Body, Table
from service.render.drawing import plain
from service.render.wording import (
    amount,
    chance,
    decimals,
    figure,
    finding_label,
    label,
    reading_words,
    span,
    words,
)

Answer = Mapping[str, Any]


def outside(assessment: Answer, audience: Audience) -> list[str]:
    """What lies outside its limits."""
    found = [f for f in assessment["findings"] if f["grade"] == "nonconforming"]
    if audience == "technician":
        return [f["sentence"] for f in found]
    return [_plainly(f, assessment["derived"][f["quantity"]]) for f in found]


def _plainly(finding: Answer, derived: Answer) -> str:
    """A finding without its instruments: the value, and what is permitted."""
    limit, quantity = finding["limit"], finding["quantity"]
    lower, upper, places = limit["lower"], limit["upper"], decimals(limit["unit"], quantity)
    if lower is None:
        permitted = f"at most {figure(upper, places)}"
    elif upper is None:
        permitted = f"at least {figure(lower, places)}"
    else:
        permitted = f"{figure(lower, places)} to {figure(upper, places)}"
    return (
        f"{finding_label(finding)}: {amount(derived['value'], derived['unit'], quantity)}, where {permitted} "
        "is permitted."
    )


def inside(assessment: Answer) -> str:
    """Names of what lies within its limits."""
    good = (finding_label(f) for f in assessment["findings"] if f["grade"] == "conforming")
    return "; ".join(dict.fromkeys(good))


def notices(assessment: Answer) -> list[str]:
    """Doubts about the readings, weightiest first."""
    return [row["sentence"] for row in assessment["usability"]["notices"]]


def sources_of_limits(assessment: Answer) -> list[str]:
    """Where the limits come from, each once."""
    limits = (f["limit"] for f in assessment["findings"] if f["limit"] is not None)
    return list(dict.fromkeys(limit["source"] for limit in limits))


def facts(body: Body, dates: Mapping[str, Any]) -> list[tuple[str, str]]:
    unit, site = body.unit, body.site
    facts = [
        ("Refrigerant", unit.refrigerant or "not stated"),
        ("Metering device", words(unit.metering_device) if unit.metering_device else "not stated"),
        ("Mode", f"{unit.mode}, {words(unit.capacity_control)}"),
    ]
    given = {
        run: date.isoformat(sep=" ", timespec="minutes") for run, date in dates.items() if date
    }
    if len(given) > 2:
        facts.append(("Read", f"{min(given.values())[:10]} to {max(given.values())[:10]}"))
    else:
        facts += [(f"Read {run}".strip(), date) for run, date in given.items()]
    if not given:
        facts.append(("Read", "no date stated"))
    if site.altitude is None and site.barometric_pressure is None:
        facts.append(("Site", "taken to be at sea level"))
    return facts


def undecided(assessment: Answer, audience: Audience) -> list[str]:
    """What could not be decided, and why."""
    open_ = [f for f in assessment["findings"] if f["grade"] == "inconclusive"]
    if audience == "customer":
        return [
            f"{finding_label(f)}: these instruments cannot decide whether it is within its limits "
            f"(probability {chance(f['probability_conforming'])})."
            for f in open_
        ]
    ungraded = [f for f in assessment["findings"] if f["grade"] == "not_assessed" and f["limit"]]
    return [f["sentence"] for f in (*open_, *ungraded)]


def not_derived(assessment: Answer) -> list[str]:
    """What could not be derived, and what would give it."""
    return [
        f"Not derived: {', '.join(_lowered(label(name)) for name in row['unlocks'][:4])}"
        f"{' and more' if len(row['unlocks']) > 4 else ''}. Add: "
        f"{', '.join(reading_words(path) for path in row['add'])}."
        for row in assessment["next_readings"][:3]
    ]


def _lowered(text: str) -> str:
    return text[0].lower() + text[1:]


def cautions(rows: Sequence[Answer]) -> list[tuple[str, str]]:
    """Signal word and text; whose word is final is said once for all."""
    return [(row["signal_word"].upper(), row["text"]) for row in rows]


def method(provenance: Answer) -> list[str]:
    model = provenance["refrigerant_model"]
    return [
        f"{provenance['method']}.",
        f"Service {provenance['service']}, {provenance['draws']} draws"
        + (f", refrigerant properties by {model}." if model else "."),
    ]


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
    shown = figure(unit.from_si(visit.readings[name]), KINDS[kind].decimals.get(symbol, 1))
    used = visit.instruments.get(name)
    spread = "" if used is None else f" ± {_small(used.standard_uncertainty / unit.scale)}"
    return f"{shown}{spread} {unit_word(symbol)}".rstrip()


def _reading_label(name: str) -> str:
    return words(name).replace(".", ", ").capitalize()


def values(assessment: Answer) -> Table:
    """Each derived value with its band, but for what is as read; the graded ones count most."""
    derived = {
        name: row for name, row in assessment["derived"].items() if row["method"] != "as read"
    }
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


def changes(answer: Answer) -> Table:
    """Each value before and after, its change in like weather with its band, and the verdict."""
    rows = []
    for name, row in answer["changes"].items():
        change = row["at_common_conditions"]
        if row["verdict"] is None or change is None:
            continue
        unit, places = row["difference_unit"], decimals(row["unit"], name)
        rows.append(
            (
                label(name),
                f"{figure(row['before'], places)} → {figure(row['after'], places)} "
                f"{unit_word(row['unit'])}".rstrip(),
                f"{figure(change['value'], places, signed=True)} "
                f"({_span(change['band'], places)}) {unit_word(unit)}".rstrip(),
                words(row["verdict"]),
            )
        )
    heads = ("Value", "Before → after", "Change in like weather (95 %)", "Verdict")
    return Table(heads, rows)


def _span(band: Answer, places: int) -> str:
    return (
        f"{figure(band['low'], places, signed=True)} to {figure(band['high'], places, signed=True)}"
    )


def drifts(answer: Answer) -> Table:
    """Each series: its shape and its drift with the band."""
    rows = []
    for name, row in answer["quantities"].items():
        places, drift = decimals(row["unit"], name), row["drift_per_year"]
        rows.append(
            (
                label(name),
                row["shape"],
                f"{figure(drift['value'], places, signed=True)} ({_span(drift['band'], places)}) "
                f"{unit_word(row['difference_unit'])}".rstrip(),
                ", ".join(date[:10] for date in row["odd_runs"]) or "none",
            )
        )
    heads = ("Value in like weather", "Shape", "Drift a year (95 %)", "Runs that do not fit")
    return Table(heads, rows)


def instruments(assessment: Answer) -> list[str]:
    """Each instrument once: what it is, and where the accuracy taken for it comes from."""
    used = dict.fromkeys(
        (_instrument_name(row["instrument"]), words(row["type"]), row["source"])
        for row in assessment["instruments"].values()
    )
    origins = list(dict.fromkeys(origin for *_, origin in used))
    texts = []
    for origin in origins:
        names = [
            name if name.startswith(kind) else f"{name} ({kind})"
            for name, kind, other in used
            if other == origin
        ]
        texts.append(f"{', '.join(names)}. Accuracy: {origin}.")
    return texts


def _instrument_name(name: str) -> str:
    """As the caller names it, or which kind was assumed."""
    if name.startswith("assumed:"):
        return f"{words(name.removeprefix('assumed:'))} (assumed)"
    return plain(name)


def _small(value: float) -> str:
    return f"{value:.2g}" if value < 10 else f"{value:.0f}"
