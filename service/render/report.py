"""The page to hand over: what it holds, gathered from the answers; its look is in ``templates``.

body -> answers -> three sentences, pictures, tables -> one page of HTML that needs nothing else
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

from jinja2 import DictLoader, Environment, StrictUndefined
from markupsafe import Markup

from schemas.comparisons import ComparisonRequest
from schemas.diagnoses import DiagnosisRequest
from schemas.pictures import Audience
from schemas.readings import READINGS
from schemas.trends import TrendRequest
from service.assess.pipeline import Examined, assess, examine
from service.assess.refusals import RefusedError
from service.compare.comparison import compare, examined_runs, visit_request
from service.compare.trend import trend
from service.faults.diagnosis import diagnose
from service.reference import likelihood
from service.reference.changes import ONE_FACT
from service.reference.sources import source
from service.reference.units import KINDS, conversion, system_unit
from service.render import changes, fault_probabilities, limits, summary
from service.render import trend as trend_chart
from service.render.drawing import Drawing, plain
from service.render.palette import style_sheet
from service.render.pictures import air_of, cycle_of
from service.render.wording import (
    amount,
    decimals,
    figure,
    finding_label,
    label,
    span,
    unit_word,
    words,
)

Answer = Mapping[str, Any]
Body = DiagnosisRequest | ComparisonRequest | TrendRequest

#: Rows of a table, findings and reasons that are written out, so that two sheets hold the page; the rest
#: is counted, and stands in the answer.
_ROWS, _FINDINGS, _REASONS, _CAUTIONS = 64, 7, 7, 9
_GRADED = 7


@dataclass(frozen=True, slots=True)
class Table:
    """A table: its heads and rows of texts, and how many rows are left out."""

    heads: tuple[str, ...]
    rows: Sequence[tuple[str, ...]]
    left_out: int = 0


@dataclass(frozen=True, slots=True)
class Report:
    """All that the page shows, as texts."""

    title: str
    audience: Audience
    facts: list[tuple[str, str]]
    summary: summary.Summary
    pictures: list[Markup]
    findings: list[tuple[str, str]]
    conforming: str
    undecided: list[str]
    cautions: list[tuple[str, str]]
    method: list[str]
    sources: list[str]
    probability_words: str
    readings: Table
    values: Table
    instruments: Table
    notices: list[str]


def page(body: Body, audience: Audience) -> str:
    """The report of a visit, a comparison or a series as HTML.

    Raises
    ------
    service.assess.refusals.RefusedError
        If the body holds something impossible.
    """
    if isinstance(body, TrendRequest):
        found = _of_trend(body, audience)
    elif isinstance(body, ComparisonRequest):
        found = _of_comparison(body, audience)
    else:
        found = _of_visit(body, audience)
    template = _environment().get_template("report.html")
    return template.render(report=found, picture_style=Markup(style_sheet("auto")))


@cache
def _environment() -> Environment:
    folder = files(__package__).joinpath("templates")
    texts = {
        name: folder.joinpath(name).read_text("utf-8") for name in ("report.html", "report.css")
    }
    return Environment(
        loader=DictLoader(texts), autoescape=True, undefined=StrictUndefined, trim_blocks=True,
        lstrip_blocks=True,
    )  # fmt: skip


# ---------------------------------------------------------------- the three kinds


def _of_visit(body: DiagnosisRequest, audience: Audience) -> Report:
    answer = diagnose(body)
    assessment, examined = answer["assessment"], examine(body)
    runs = {"": examined}
    drawn = [fault_probabilities.draw(answer, most=6)]
    if audience == "technician":
        drawn += [limits.draw({"": assessment}, most=_GRADED), *_process_pictures(body, runs)]
    else:
        drawn.append(limits.draw({"": assessment}, most=4))
    return Report(
        title="Report on one visit",
        facts=_facts(body, {"": body.run.taken_at}),
        summary=summary.of_visit(answer, audience),
        pictures=_inline(drawn),
        cautions=_cautions(answer["cautions"], audience),
        undecided=_undecided(assessment, audience) + list(answer["taken_on_trust"]),
        readings=_readings(runs),
        values=_values({"": assessment}),
        **_common(assessment, audience, answer["provenance"]),
    )


def _of_comparison(body: ComparisonRequest, audience: Audience) -> Report:
    answer = compare(body)
    before, after = body.runs.before, body.runs.after
    runs = dict(
        zip(
            ("before", "after"),
            examined_runs(body, {"before": before, "after": after}),
            strict=True,
        )
    )
    drawn = [changes.draw(answer, most=9 if audience == "technician" else 3)]
    if audience == "technician":
        drawn += _process_pictures(body, runs)
    assessment = answer["assessments"]["after"]
    undecided = [f"{row['sentence']}" for row in answer["instruments"]]
    if answer["system"]["missing"]:
        wanted = [
            words(path.removeprefix("runs.")).replace(".readings.", ": ")
            for path in answer["system"]["missing"][:6]
        ]
        undecided.append(f"Would sharpen the answer: {', '.join(wanted)}.")
    return Report(
        title="Report on a service: before and after",
        facts=[
            *_facts(body, {"before": before.taken_at, "after": after.taken_at}),
            ("Weather", answer["conditions"]["sentence"]),
        ],
        summary=summary.of_comparison(answer, audience),
        pictures=_inline(drawn),
        cautions=_cautions(assessment["cautions"], audience),
        undecided=undecided + _undecided(assessment, audience),
        readings=_readings(runs),
        values=_changes(answer),
        **_common(assessment, audience, answer["provenance"]),
    )


def _of_trend(body: TrendRequest, audience: Audience) -> Report:
    answer = trend(body)
    last = max(body.runs, key=lambda run: run.taken_at.timestamp() if run.taken_at else 0.0)
    alone = visit_request(body, last)
    assessment, runs = assess(alone), {"": examine(alone)}
    drawn = []
    if answer["quantities"]:
        named = _telling(answer)[: 4 if audience == "technician" else 1]
        drawn = [
            trend_chart.draw(answer, quantity, name=f"trend-{place}")
            for place, quantity in enumerate(named)
        ]
    odd = [
        f"{run['taken_at'][:10]}: {run['sentence']}"
        for run in answer["runs"]
        if run["comparable"] != "yes"
    ]
    return Report(
        title=f"Report on {len(body.runs)} runs of one unit",
        facts=_facts(body, {f"run {n}": run.taken_at for n, run in enumerate(body.runs, 1)}),
        summary=summary.of_trend(answer, audience),
        pictures=_inline(drawn),
        cautions=_cautions(assessment["cautions"], audience),
        undecided=odd + _undecided(assessment, audience),
        readings=_readings(runs),
        values=_drifts(answer),
        **_common(assessment, audience, answer["provenance"]),
    )


def _telling(answer: Answer) -> list[str]:
    """Series worth a picture, each fact once: what nears a limit, what moves, then efficiency."""
    rows = answer["quantities"]
    order = sorted(
        rows, key=lambda n: (rows[n]["crossing"] is None, rows[n]["shape"] == "steady", n != "eer")
    )
    facts: dict[str, str] = {}
    for name in order:
        if rows[name]["shape"] != "steady" or name == "eer" or not facts:
            facts.setdefault(ONE_FACT.get(name, name), name)
    return list(facts.values())


def _process_pictures(body: Body, runs: Mapping[str, Examined]) -> list[Drawing]:
    """Cycle and air, where the readings tell them."""
    drawn = []
    for picture in (cycle_of, air_of):
        with suppress(RefusedError):
            drawn.append(picture(body, runs))
    return drawn


def _inline(drawn: Sequence[Drawing]) -> list[Markup]:
    # Every text within went through the XML writer, which escapes it.
    return [Markup(drawing.svg(styled=False)) for drawing in drawn]


# ---------------------------------------------------------------- parts


def _common(assessment: Answer, audience: Audience, provenance: Answer) -> dict[str, Any]:
    """What every report takes from the assessment of the (last) run."""
    findings = [f for f in assessment["findings"] if f["grade"] == "nonconforming"]
    conforming = [f for f in assessment["findings"] if f["grade"] == "conforming"]
    shown = findings[:_FINDINGS]
    texts = [(finding_label(f), f["sentence"]) for f in shown]
    if len(findings) > len(shown):
        texts.append(
            ("More", f"{len(findings) - len(shown)} more values lie outside their limits.")
        )
    good = list(dict.fromkeys(finding_label(f) for f in conforming))
    limits_used = [f["limit"]["source"] for f in assessment["findings"] if f["limit"] is not None]
    return {
        "audience": audience,
        "findings": texts,
        "conforming": "; ".join(good),
        "notices": [n["sentence"] for n in assessment["usability"]["notices"]],
        "instruments": _instruments(assessment),
        "method": _method(provenance),
        "sources": list(dict.fromkeys(limits_used)),
        "probability_words": source(likelihood.SOURCE),
    }


def _facts(body: Body, dates: Mapping[str, Any]) -> list[tuple[str, str]]:
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


def _undecided(assessment: Answer, audience: Audience) -> list[str]:
    """What could not be decided, and why; then what could not be derived, and what would give it."""
    open_ = [f["sentence"] for f in assessment["findings"] if f["grade"] == "inconclusive"]
    reasons = [
        f["sentence"] for f in assessment["findings"]
        if f["grade"] == "not_assessed" and f["limit"] is not None
    ]  # fmt: skip
    texts = [*open_, *reasons]
    shown = texts[:_REASONS]
    if len(texts) > len(shown):
        shown.append(
            f"{len(texts) - len(shown)} more could not be decided; the JSON answer names them."
        )
    if audience == "technician":
        shown += [
            f"Not derived: {', '.join(_lowered(label(name)) for name in row['unlocks'][:4])}"
            f"{' and more' if len(row['unlocks']) > 4 else ''}. Add: "
            f"{', '.join(words(path.rsplit('readings.', 1)[-1]) for path in row['add'])}."
            for row in assessment["next_readings"][:3]
        ]
    return shown


def _lowered(text: str) -> str:
    return text[0].lower() + text[1:]


def _cautions(cautions: Sequence[Answer], audience: Audience) -> list[tuple[str, str]]:
    """Signal word and text; whose word is final is said once for all."""
    rows = [(row["signal_word"].upper(), row["text"]) for row in cautions]
    return rows[:_CAUTIONS] if audience == "technician" else rows[:4]


def _method(provenance: Answer) -> list[str]:
    model = provenance["refrigerant_model"]
    return [
        f"{provenance['method']}.",
        f"Service {provenance['service']}, {provenance['draws']} draws"
        + (f", refrigerant properties by {model}." if model else "."),
    ]


def _readings(runs: Mapping[str, Examined]) -> Table:
    """Each reading as given, in the caller's units, run by run, with its instrument."""
    names = list(dict.fromkeys(name for one in runs.values() for name in one.visit.readings))
    names.sort(key=list(READINGS).index)
    rows = []
    for name in names:
        spec = READINGS[name]
        system = next(iter(runs.values())).visit.system
        symbol = system_unit(spec.kind, system)
        unit = conversion(spec.kind, symbol)
        places = KINDS[spec.kind].decimals.get(symbol, 1)
        told = [
            figure(unit.from_si(one.visit.readings[name]), places)
            if name in one.visit.readings
            else "–"
            for one in runs.values()
        ]
        instruments = dict.fromkeys(
            one.visit.instruments[name].name
            for one in runs.values()
            if name in one.visit.instruments
        )
        shown = ", ".join(_instrument_name(text) for text in instruments)
        rows.append((_reading_label(name), *told, unit_word(symbol), shown))
    heads = ("Reading", *(run.capitalize() or "Value" for run in runs), "Unit", "Instrument")
    return Table(heads, rows)


def _reading_label(name: str) -> str:
    return words(name).replace(".", ", ").capitalize()


def _values(assessments: Mapping[str, Answer]) -> Table:
    """Each derived value with its band."""
    derived = next(iter(assessments.values()))["derived"]
    rows = [
        (
            label(name),
            figure(row["value"], decimals(row["unit"], name)),
            span(row["band"], row["unit"], name),
            unit_word(row["unit"]),
        )
        for name, row in derived.items()
    ]
    return Table(("Derived value", "Value", "95 % band", "Unit"), rows[:_ROWS], len(rows[_ROWS:]))


def _changes(answer: Answer) -> Table:
    """Each value before and after, its change in like weather with its band, and the verdict."""
    rows = []
    for name, row in answer["changes"].items():
        change = row["at_common_conditions"]
        if row["verdict"] is None or change is None:
            continue
        unit = row["difference_unit"]
        rows.append(
            (
                label(name),
                figure(row["before"], decimals(row["unit"], name)),
                figure(row["after"], decimals(row["unit"], name)),
                unit_word(row["unit"]),
                f"{amount(change['value'], unit, signed=True)} ({span(change['band'], unit, signed=True)})",
                words(row["verdict"]),
            )
        )
    heads = ("Value", "Before", "After", "Unit", "Change in like weather (95 %)", "Verdict")
    return Table(heads, rows[:_ROWS], len(rows[_ROWS:]))


def _drifts(answer: Answer) -> Table:
    """Each series: its shape and its drift with the band."""
    rows = []
    for name, row in answer["quantities"].items():
        unit, drift = row["difference_unit"], row["drift_per_year"]
        rows.append(
            (
                label(name),
                row["shape"],
                f"{amount(drift['value'], unit, signed=True)} ({span(drift['band'], unit, signed=True)})",
                ", ".join(date[:10] for date in row["odd_runs"]) or "–",
            )
        )
    heads = ("Value in like weather", "Shape", "Drift a year (95 %)", "Runs that do not fit")
    return Table(heads, rows[:_ROWS], len(rows[_ROWS:]))


def _instruments(assessment: Answer) -> Table:
    """Each instrument once: what it read, and the accuracy taken for it."""
    used: dict[tuple[str, str, str], list[str]] = {}
    for reading, row in assessment["instruments"].items():
        key = (_instrument_name(row["instrument"]), words(row["type"]), row["source"])
        spread = f"{_reading_label(reading).lower()} ± {_small(row['standard_uncertainty'])} {unit_word(row['unit'])}"
        used.setdefault(key, []).append(spread.rstrip())
    rows = [
        (name, kind, "; ".join(spreads), origin) for (name, kind, origin), spreads in used.items()
    ]
    return Table(("Instrument", "Type", "Read, with standard uncertainty", "Accuracy from"), rows)


def _instrument_name(name: str) -> str:
    """As the caller names it, or which kind was assumed."""
    if name.startswith("assumed:"):
        return f"{words(name.removeprefix('assumed:'))} (assumed)"
    return plain(name)


def _small(value: float) -> str:
    return f"{value:.2g}" if value < 10 else f"{value:.0f}"
