"""Which picture can be drawn of which body, and what it takes."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from schemas.catalogues import PlotList
from schemas.comparisons import ComparisonRequest
from schemas.diagnoses import DiagnosisRequest
from schemas.pictures import Body, BodyKind, kind_of
from schemas.trends import TrendRequest
from service.assess import log
from service.assess.examination import Assessed, examine
from service.assess.pipeline import report
from service.compare.comparison import compare, examined_runs
from service.compare.trend import trend as trend_of
from service.derive.examined import Examined
from service.derive.states import air_states, dry_only, refrigerant_states, site_pressure
from service.faults.diagnosis import diagnose
from service.intake.refusals import Refusal, RefusedError
from service.physics import refrigerant_enthalpy
from service.render import (
    air_process,
    changes_chart,
    course,
    fault_probabilities,
    limits_chart,
    refrigerant_cycle,
    trend_chart,
)
from service.render.drawing import Drawing

#: How a body is recognised, in words.
_BODIES: Mapping[BodyKind, str] = {
    "visit": "the body of an assessment or a diagnosis (`run`)",
    "comparison": "the body of a comparison (`runs` with `before` and `after`)",
    "trend": "the body of a series (`runs`, a list of dated runs)",
}


@dataclass(frozen=True, slots=True)
class Asked:
    """What a caller asks of a picture: the quantity of a trend, and rows at the most."""

    quantity: str | None = None
    most: int | None = None


_NOTHING_ASKED = Asked()


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture: of which bodies, what it shows, what may be asked of it, and how it is drawn."""

    kinds: tuple[BodyKind, ...]
    shows: str
    asks: frozenset[str]
    draw: Callable[[Any, Asked], Drawing]


def _limits(body: DiagnosisRequest | ComparisonRequest, asked: Asked) -> Drawing:
    assessed = {name: report(one) for name, one in examined(body).items()}
    return limits_chart.draw(assessed, most=asked.most)


def examined(body: DiagnosisRequest | ComparisonRequest) -> dict[str, Assessed]:
    """The runs of a body by name; one alone has none."""
    if isinstance(body, ComparisonRequest):
        runs = {"before": body.runs.before, "after": body.runs.after}
        return dict(zip(runs, examined_runs(body, runs), strict=True))
    return {"": examine(body)}


def _readings(runs: Mapping[str, Examined]) -> str:
    """Pointer to the readings that a picture lacks: those of the last run."""
    name = list(runs)[-1]
    return f"/runs/{name}/readings" if name else "/run/readings"


def _refrigerant_cycle(body: DiagnosisRequest | ComparisonRequest, asked: Asked) -> Drawing:
    return cycle_of(body, examined(body))


def _air_process(body: DiagnosisRequest | ComparisonRequest, asked: Asked) -> Drawing:
    return air_of(body, examined(body))


def cycle_of(body: Body, runs: Mapping[str, Examined]) -> Drawing:
    """The refrigerant cycle of examined runs.

    Raises
    ------
    service.intake.refusals.RefusedError
        If the readings tell no state of the refrigerant.
    """
    states = {name: refrigerant_states(one) for name, one in runs.items()}
    refrigerant = next(iter(runs.values())).visit.refrigerant
    if refrigerant is None:
        raise _lacking(
            "/unit/refrigerant",
            None,
            "a refrigerant",
            "is missing",
            "Name the refrigerant: GET /v1/refrigerants lists them.",
        )
    shown = {name: found for name, found in states.items() if found}
    if not shown:
        raise _lacking(
            _readings(runs),
            None,
            "suction_pressure with suction_line_temperature, or liquid_pressure with liquid_line_temperature",
            "tell no state of the refrigerant",
            "Add them. Suction gas under 1 K of superheat, or a liquid line under 1 K of subcooling, may "
            "hold both phases: its temperature does not show its state.",
        )
    phases = refrigerant_enthalpy.single_phase(refrigerant.designation)
    return refrigerant_cycle.draw(shown, phases, body.units, without=_others(runs, shown))


def air_of(body: Body, runs: Mapping[str, Examined]) -> Drawing:
    """The air through the indoor coil of examined runs.

    Raises
    ------
    service.intake.refusals.RefusedError
        If the readings tell no state of the air.
    """
    found = {
        name: air_process.AirOfRun(air_states(one), dry_only(one), site_pressure(one)) for name, one in runs.items()
    }
    shown = {name: air for name, air in found.items() if air.states}
    if not shown:
        raise _lacking(
            _readings(runs),
            None,
            "return_air_dry_bulb with return_air_wet_bulb (or relative humidity), and the same of the supply air",
            "tell no state of the air",
            "Add a dry bulb and a humidity on at least one side of the indoor coil.",
        )
    return air_process.draw(shown, body.units, without=_others(runs, shown))


def course_of(body: Body, runs: Mapping[str, Examined], most: int | None = None) -> Drawing:
    """The logs of examined runs over time.

    Raises
    ------
    service.intake.refusals.RefusedError
        If no run has a log.
    """
    found = {
        name: course.Course(one.visit.logged.seconds, log.values(one.visit), answer)
        for name, one in runs.items()
        if one.visit.logged is not None and (answer := log.answer(one.visit)) is not None
    }
    if not found:
        raise _lacking(
            _readings(runs).replace("readings", "log"),
            None,
            "a log",
            "is missing, so there is nothing to draw over time",
            "Give the readings over time: `seconds` and `readings`, or `csv`.",
        )
    return course.draw(found, most=most)


def _others(runs: Mapping[str, object], shown: Mapping[str, object]) -> list[str]:
    return [name for name in runs if name not in shown]


def _lacking(pointer: str, value: object, allowed: str, detail: str, hint: str) -> RefusedError:
    return RefusedError([Refusal(pointer, value, allowed, detail, hint)])


def _course(body: DiagnosisRequest | ComparisonRequest, asked: Asked) -> Drawing:
    return course_of(body, examined(body), asked.most)


def _changes(body: ComparisonRequest, asked: Asked) -> Drawing:
    return changes_chart.draw(compare(body), most=asked.most)


def _fault_probabilities(body: DiagnosisRequest, asked: Asked) -> Drawing:
    return fault_probabilities.draw(diagnose(body), most=asked.most)


def _trend(body: TrendRequest, asked: Asked) -> Drawing:
    return trend_chart.draw(trend_of(body), asked.quantity)


_ROWS, _QUANTITY, _NONE = frozenset({"most"}), frozenset({"quantity"}), frozenset[str]()

PICTURES: Mapping[str, Picture] = {
    "limits": Picture(("visit", "comparison"), "every graded value with its band against its limits", _ROWS, _limits),
    "refrigerant_cycle": Picture(
        ("visit", "comparison"),
        "the measured cycle on a pressure-enthalpy diagram",
        _NONE,
        _refrigerant_cycle,
    ),
    "air_process": Picture(
        ("visit", "comparison"), "return and supply air on a psychrometric chart", _NONE, _air_process
    ),
    "changes": Picture(
        ("comparison",), "each change under the same conditions, against zero and what matters", _ROWS, _changes
    ),
    "fault_probabilities": Picture(
        ("visit",), "what may be wrong, and how probable it is", _ROWS, _fault_probabilities
    ),
    "trend": Picture(("trend",), "one value over time with its drift and limit", _QUANTITY, _trend),
    "course": Picture(
        ("visit", "comparison"),
        "each reading of a log over time: what was used, what was left out and why, and where it settles",
        _ROWS,
        _course,
    ),
}


def plots() -> PlotList:
    """All pictures, for those who ask which there are."""
    return {
        "rows": [
            {
                "plot": name,
                "shows": row.shows,
                "bodies": [_BODIES[kind] for kind in row.kinds],
                "parameters": sorted(row.asks),
            }
            for name, row in PICTURES.items()
        ]
    }


def picture(plot: str, body: Body, asked: Asked = _NOTHING_ASKED) -> Drawing:
    """The picture of a body.

    Raises
    ------
    service.intake.refusals.RefusedError
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
                    "/run" if kind == "visit" else "/runs",
                    None,
                    needed,
                    f"does not fit the plot {plot}",
                    f"Of this body the plots are {', '.join(fitting)}.",
                )
            ]
        )
    for name in ("quantity", "most"):
        value = getattr(asked, name)
        if value is not None and name not in row.asks:
            others = [other for other, it in PICTURES.items() if name in it.asks]
            raise _lacking(
                f"query/{name}",
                value,
                "left out",
                f"has no meaning for the plot {plot}",
                f"It is for {', '.join(others)}.",
            )
    return row.draw(body, asked)
