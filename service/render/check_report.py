"""The page of a check: the same sheet as a report of a visit, filled from the check's answer."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from schemas.checks import CheckAnswer, CheckRequest
from service.render import passages
from service.render.check_pictures import CHECK_PICTURES
from service.render.contents import Report, Table
from service.render.drawing import plain
from service.render.report import rendered
from service.render.sheets import fitted
from service.render.summary import Summary
from service.render.wording import chance, words
from service.words.checks import EXPLANATIONS, HEADLINES
from service.words.phrases import capital

#: Parts of a request that are not readings.
_NOT_READ = frozenset({"units", "unit", "site", "kit", "labels", "taken_at", "options"})


def check_page(request: CheckRequest, answer: CheckAnswer) -> str:
    """The page of a check as HTML.

    Raises
    ------
    service.intake.refusals.RefusedError
        If the request holds something impossible.
    """
    picture = CHECK_PICTURES.get(answer["check"])
    steps = [row["sentence"] for row in answer["next_steps"]]
    report = Report(
        title=f"Report on a check: {answer['check'].replace('-', ' ')}",
        audience="technician",
        facts=_facts(request),
        summary=Summary(_headline(answer), _certainty(answer), (answer["sentence"], *_two(steps))),
        pictures=([] if picture is None else [picture(request)], []),
        which="",
        outside=passages.outside(answer, "technician"),
        inside=passages.inside(answer, "technician"),
        notices=[row["sentence"] for row in answer["notices"] if row["weight"] != "note"],
        undecided=[*_undecided(answer), *(row["reason"] for row in answer["missing"])],
        information=[
            *(row["sentence"] for row in answer["notices"] if row["weight"] == "note"),
            *(row["sentence"] for row in answer["information"]),
        ],
        cautions=passages.cautions(answer["cautions"], "technician"),
        readings=_readings(request),
        values=passages.values(answer),
        instruments=passages.instruments(answer),
        method=passages.method(answer["provenance"], "technician"),
        sources=passages.sources_of_limits(answer),
    )
    return rendered(fitted(report))


def _undecided(answer: CheckAnswer) -> list[str]:
    """What could not be decided; why not is among the doubts where a notice says it."""
    told = [row["sentence"] for row in answer["notices"]]
    found = []
    for text in passages.undecided(answer, "technician"):
        for sentence in told:
            text = text.replace(sentence, "").strip()  # noqa: PLW2901
        found.append(text)
    return list(dict.fromkeys(text for text in found if text))


def _two(steps: list[str]) -> tuple[str, str]:
    """What to do next, in two sentences."""
    first, *rest = [*steps, "", ""][:2]
    return first, rest[0]


def _headline(answer: CheckAnswer) -> str:
    """The outcome in a few words."""
    verdict = answer["verdict"]
    return HEADLINES.get(answer["check"], {}).get(verdict) or capital(words(verdict))


def _certainty(answer: CheckAnswer) -> str:
    """How certain the outcome is: the explanations with their probabilities, or where the bands are."""
    if not answer["hypotheses"]:
        return "each value has its 95 % band below"
    return ", ".join(f"{EXPLANATIONS[row['name']]} {chance(row['probability'])}" for row in answer["hypotheses"])


def _facts(request: CheckRequest) -> list[tuple[str, str]]:
    said = request.labels.model_dump(exclude_none=True) if request.labels is not None else {}
    facts = [(name.capitalize(), plain(text)) for name, text in said.items()]
    if request.unit.refrigerant is not None:
        facts.append(("Refrigerant", plain(request.unit.refrigerant)))
    facts.append(("Read", "no date stated" if request.taken_at is None else f"{request.taken_at:%Y-%m-%d %H:%M}"))
    if request.site.altitude is None and request.site.barometric_pressure is None:
        facts.append(("Altitude", "assumed at sea level"))
    return facts


def _readings(request: CheckRequest) -> Table:
    """The readings as they were given; bare numbers are in the units declared."""
    rows: list[tuple[str, ...]] = []
    for name, value in request.model_dump(exclude_unset=True).items():
        if name in _NOT_READ:
            continue
        if isinstance(value, list):
            rows += [(f"{capital(words(name))} {place}", _written(one)) for place, one in enumerate(value, 1)]
        elif isinstance(value, Mapping) and "value" not in value:
            rows += [(capital(words(part)), _written(one)) for part, one in value.items()]
        else:
            rows.append((capital(words(name)), _written(value)))
    for name, value in request.unit.model_dump(exclude_unset=True, exclude={"refrigerant"}).items():
        rows.append((capital(words(name)), _written(value)))
    return Table(("Reading", f"As given ({request.units})"), rows)


def _written(value: Any) -> str:  # noqa: ANN401
    """A part of a request in words."""
    if isinstance(value, Mapping):
        if "value" in value:
            parts = [f"{value['value']:g}", value.get("unit") or "", value.get("reference") or ""]
            return plain(" ".join(part for part in parts if part))
        return "; ".join(f"{words(name)} {_written(part)}" for name, part in value.items())
    if isinstance(value, list):
        return ", ".join(_written(part) for part in value)
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:g}" if isinstance(value, float | int) else plain(str(value))
