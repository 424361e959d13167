"""The page to hand over: gathered from the answers, cut to two sheets, set in HTML.

body -> answers -> contents (passages, pictures) -> fitted to two sheets -> templates -> one page that needs
nothing else
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import suppress
from functools import cache, partial
from importlib.resources import files
from typing import Any

from jinja2 import DictLoader, Environment, StrictUndefined
from markupsafe import Markup

from schemas.assessments import Assessment, Provenance
from schemas.comparisons import Comparison, ComparisonRequest
from schemas.diagnoses import DiagnosisRequest
from schemas.pictures import Audience, Body
from schemas.trends import TrendRequest
from service.assess.examination import examine
from service.assess.pipeline import report as assessment_of
from service.compare.comparison import compared, visit_request
from service.compare.trend import trend
from service.derive.examined import Examined
from service.faults.diagnosis import diagnosed
from service.intake.refusals import RefusedError
from service.reference import likelihood
from service.reference.sources import source
from service.render import (
    changes_chart,
    fault_probabilities,
    limits_chart,
    passages,
    summary,
    trend_chart,
)
from service.render.contents import Report
from service.render.drawing import Drawing, plain
from service.render.palette import style_sheet
from service.render.pictures import air_of, course_of, cycle_of, examined
from service.render.sheets import fitted
from service.render.wording import reading_words, words
from service.words import household

Columns = tuple[Sequence[Drawing], Sequence[Drawing]]

#: Rows of a chart of a visit and of changes, for a technician and for a customer; and series drawn.
_CHARTED: Mapping[Audience, int] = {"technician": 5, "customer": 4}
_CHANGES: Mapping[Audience, int] = {"technician": 7, "customer": 3}
#: Readings of a log that are drawn, over all runs.
_PANELS = 4
_SERIES: Mapping[Audience, int] = {"technician": 4, "customer": 1}


def page(body: Body, audience: Audience) -> str:
    """The report of a visit, a comparison or a series as HTML.

    Raises
    ------
    service.intake.refusals.RefusedError
        If the body holds something impossible.
    """
    if isinstance(body, TrendRequest):
        contents = _of_trend(body, audience)
    elif isinstance(body, ComparisonRequest):
        contents = _of_comparison(body, audience)
    else:
        contents = _of_visit(body, audience)
    return rendered(fitted(contents))


def rendered(report: Report) -> str:
    """A report that was cut to its sheets, as HTML."""
    return (
        _environment()
        .get_template("report.html")
        .render(
            report=report,
            # Every text within went through the XML writer, which escapes it.
            pictures=[[Markup(drawing.svg(styled=False)) for drawing in column] for column in report.pictures],
            picture_style=Markup(style_sheet("auto")),
            probability_words=source(likelihood.SOURCE),
        )
    )


@cache
def _environment() -> Environment:
    folder = files(__package__).joinpath("templates")
    texts = {name: folder.joinpath(name).read_text("utf-8") for name in ("report.html", "report.css")}
    return Environment(
        loader=DictLoader(texts),
        autoescape=True,
        finalize=_cleaned,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )


def _cleaned(value: object) -> object:
    """Texts without what turns or breaks the writing; what is markup already, as it is."""
    return plain(value) if type(value) is str else value


# ---------------------------------------------------------------- the three kinds


def _of_visit(body: DiagnosisRequest, audience: Audience) -> Report:
    diagnosis = diagnosed(body)
    answer, runs = diagnosis.answer, {"": diagnosis.visit}
    assessment = answer["assessment"]
    drawn = [fault_probabilities.draw(answer, most=_CHARTED[audience], audience=audience)]
    if audience == "technician":
        drawn.append(limits_chart.draw({"": assessment}, most=_CHARTED[audience]))
    unknown = list(answer["taken_on_trust"])
    if audience == "technician":
        unknown += passages.two_efficiencies(answer)
    return Report(
        title="Report on one visit",
        facts=passages.facts(body, {"": body.run}, audience),
        summary=summary.of_visit(diagnosis, audience),
        which="",
        pictures=_beside(drawn, body, runs, audience),
        cautions=passages.cautions(answer["cautions"], audience),
        readings=passages.readings(runs),
        values=passages.values(assessment),
        **_common(assessment, audience, answer["provenance"], unknown),
    )


def _of_comparison(body: ComparisonRequest, audience: Audience) -> Report:
    runs = examined(body)
    answer = compared(body, runs["before"], runs["after"])
    assessment = answer["assessments"]["after"]
    made = {name: one.request.run for name, one in runs.items()}
    drawn = [changes_chart.draw(answer, most=_CHANGES[audience], audience=audience)]
    return Report(
        title="Report on a service: before and after",
        facts=[*passages.facts(body, made, audience), ("Weather", household.weather(answer["conditions"], audience))],
        summary=summary.of_comparison(answer, audience),
        which=", after the service",
        pictures=_beside(drawn, body, runs, audience),
        cautions=passages.cautions(answer["cautions"], audience),
        readings=passages.readings(runs),
        values=passages.changes(answer),
        **_common(assessment, audience, answer["provenance"], _withheld(answer, audience)),
    )


def _withheld(answer: Comparison, audience: Audience) -> list[str]:
    """What a comparison does not show, and what would show it; what was not read before can no longer be read."""
    if audience == "customer":
        return []
    texts = [row["sentence"] for row in answer["instruments"]]
    missing = [path for path in answer["system"]["missing"] if not path.startswith("runs.before.")][:6]
    if missing:
        wanted = ", ".join(f"{words(path.split('.')[1])}: {reading_words(path)}" for path in missing)
        texts.append(f"Would sharpen the answer: {wanted}.")
    return texts


def _of_trend(body: TrendRequest, audience: Audience) -> Report:
    answer = trend(body)
    last = max(body.runs, key=lambda run: run.taken_at.timestamp() if run.taken_at else 0.0)
    alone = visit_request(body, last)
    last_run = examine(alone)
    assessment, runs = assessment_of(last_run), {"": last_run}
    past = {f["quantity"] for f in assessment["findings"] if f["grade"] == "nonconforming"}
    rows = answer["quantities"]
    order = trend_chart.ranked(answer, past)
    telling = [name for name in order if rows[name]["shape"] != "steady" or name == "eer"]
    named = (telling or order[:1])[: _SERIES[audience]]
    drawn = [trend_chart.draw(answer, quantity, name=f"trend-{place}") for place, quantity in enumerate(named, 1)]
    odd = [f"{run['taken_at'][:10]}: {run['sentence']}" for run in answer["runs"] if run["comparable"] != "yes"]
    return Report(
        title=f"Report on {len(body.runs)} runs of one unit",
        facts=passages.facts(body, {f"run {n}": run for n, run in enumerate(body.runs)}, audience),
        summary=summary.of_trend(answer, past),
        which=", in the last run",
        pictures=(drawn[::2], drawn[1::2]),
        cautions=passages.cautions(assessment["cautions"], audience),
        readings=passages.readings(runs),
        values=passages.drifts(answer),
        **_common(assessment, audience, answer["provenance"], odd),
    )


def _common(
    assessment: Assessment, audience: Audience, provenance: Provenance, unknown: Sequence[str]
) -> dict[str, Any]:
    """What every report takes from the assessment of the (last) run."""
    rest = passages.not_derived(assessment) if audience == "technician" else []
    return {
        "audience": audience,
        "outside": passages.outside(assessment, audience),
        "inside": passages.inside(assessment, audience),
        "notices": passages.notices(assessment, audience),
        "undecided": [*unknown, *passages.undecided(assessment, audience), *rest],
        "instruments": passages.instruments(assessment),
        "method": passages.method(provenance, audience),
        "sources": passages.sources_of_limits(assessment) if audience == "technician" else [],
    }


# ---------------------------------------------------------------- pictures


def _beside(drawn: Sequence[Drawing], body: Body, runs: Mapping[str, Examined], audience: Audience) -> Columns:
    """Charts at the left; log, cycle and air at the right, where the readings show them, for a technician."""
    right: list[Drawing] = []
    if audience == "technician":
        for picture in (partial(course_of, most=_PANELS // len(runs)), cycle_of, air_of):
            with suppress(RefusedError):
                right.append(picture(body, runs))
    return (drawn, right) if right else (drawn[:1], drawn[1:])
