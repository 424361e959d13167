"""Which picture can be drawn of which body, and what it takes."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from schemas.comparisons import ComparisonRequest
from schemas.diagnoses import DiagnosisRequest
from schemas.pictures import BodyKind, kind_of
from schemas.trends import TrendRequest
from service.assess.pipeline import assess
from service.assess.refusals import Refusal, RefusedError
from service.compare.comparison import compare
from service.compare.trend import trend as trend_of
from service.faults.diagnosis import diagnose
from service.render import changes, fault_probabilities, limits, trend
from service.render.drawing import Drawing

Body = DiagnosisRequest | ComparisonRequest | TrendRequest

#: How a body is recognised, in words.
_BODIES: Mapping[BodyKind, str] = {
    "visit": "the body of an assessment or a diagnosis (`run`)",
    "comparison": "the body of a comparison (`runs` with `before` and `after`)",
    "trend": "the body of a series (`runs`, a list of dated runs)",
}


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture: of which bodies, and how it is drawn."""

    kinds: tuple[BodyKind, ...]
    draw: Callable[[Any, str | None], Drawing]


def _limits(body: Body, _: str | None) -> Drawing:
    if isinstance(body, ComparisonRequest):
        return limits.draw(compare(body)["assessments"])
    assert isinstance(body, DiagnosisRequest)
    return limits.draw({"": assess(body)})


def _changes(body: Body, _: str | None) -> Drawing:
    assert isinstance(body, ComparisonRequest)
    return changes.draw(compare(body))


def _fault_probabilities(body: Body, _: str | None) -> Drawing:
    assert isinstance(body, DiagnosisRequest)
    return fault_probabilities.draw(diagnose(body))


def _trend(body: Body, quantity: str | None) -> Drawing:
    assert isinstance(body, TrendRequest)
    return trend.draw(trend_of(body), quantity)


PICTURES: Mapping[str, Picture] = {
    "limits": Picture(("visit", "comparison"), _limits),
    "changes": Picture(("comparison",), _changes),
    "fault_probabilities": Picture(("visit",), _fault_probabilities),
    "trend": Picture(("trend",), _trend),
}


def picture(plot: str, body: Body, quantity: str | None = None) -> Drawing:
    """The picture of a body.

    Raises
    ------
    service.assess.refusals.RefusedError
        If the body is not of a kind that the picture is of, lacks what it shows, or holds something
        impossible.
    """
    row = PICTURES[plot]
    kind = kind_of(body)
    if kind not in row.kinds:
        needed = " or ".join(_BODIES[k] for k in row.kinds)
        fitting = [name for name, other in PICTURES.items() if kind in other.kinds]
        raise RefusedError(
            [
                Refusal(
                    "/run" if kind == "visit" else "/runs", None, needed,
                    f"does not fit the plot {plot}",
                    f"Of this body the plots are {', '.join(fitting)}.",
                )
            ]
        )  # fmt: skip
    return row.draw(body, quantity)
