"""The service called through the generated Python client, as an integrator would.

The tests check this module with ``mypy --strict`` against the generated package, and call it.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Protocol, assert_type

from split_system_readings_client import Client
from split_system_readings_client.api.assessments import assess_visit
from split_system_readings_client.api.comparisons import compare_runs, follow_runs, plan_readings
from split_system_readings_client.api.diagnoses import diagnose_visit
from split_system_readings_client.api.operations import health_live, health_ready
from split_system_readings_client.api.pictures import draw_plot, write_report
from split_system_readings_client.api.reference import (
    get_refrigerant,
    get_saturation_table,
    list_cautions,
    list_faults,
    list_instruments,
    list_limits,
    list_plots,
    list_refrigerants,
)
from split_system_readings_client.models import (
    Assessment,
    AssessmentLine,
    AssessmentRequest,
    BatchAssessment,
    BatchComparison,
    BatchGrades,
    BatchProblem,
    BatchSummary,
    BatchVerdicts,
    CautionList,
    Comparison,
    ComparisonLine,
    ComparisonRequest,
    Diagnosis,
    DiagnosisRequest,
    FaultList,
    Health,
    Instrument,
    InstrumentList,
    Kit,
    LimitList,
    Plan,
    PlanRequest,
    PlotList,
    PressureReading,
    Problem,
    Readings,
    RefrigerantAnswer,
    RefrigerantList,
    Run,
    SaturationTable,
    Trend,
    TrendRequest,
    Unit,
)
from split_system_readings_client.models.detail import Detail
from split_system_readings_client.models.grade import Grade
from split_system_readings_client.models.picture_format import PictureFormat
from split_system_readings_client.types import File, Response


class Model(Protocol):
    """Any model of the client."""

    def to_dict(self) -> dict[str, Any]:
        """As JSON."""


@dataclass(frozen=True)
class Exchange:
    """A call: request and answer as JSON, each from its typed model, and the answer as it came."""

    sent: Mapping[str, Any]
    status: int
    typed: Mapping[str, Any]
    raw: Any


@contextmanager
def connected(address: str) -> Iterator[Client]:
    """A client of the service at an address."""
    with Client(
        base_url=address,
        raise_on_unexpected_status=True,
        httpx_args={"trust_env": False},  # the service is on this machine, behind no proxy
    ) as client:
        yield client


def _exchange(sent: Model | None, response: Response[Any], kind: type[Model]) -> Exchange:
    """What was sent and what came back, which must be of that kind."""
    answer = response.parsed
    if not isinstance(answer, kind):
        raise TypeError(f"{type(answer).__name__} in place of {kind.__name__}: {response.content!r}")
    return Exchange(
        {} if sent is None else sent.to_dict(),
        response.status_code,
        answer.to_dict(),
        json.loads(response.content),
    )


# ---------------------------------------------------------------- bodies


def assess(client: Client, body: Mapping[str, Any]) -> Exchange:
    """`POST /v1/assessments`."""
    request = AssessmentRequest.from_dict(body)
    return _exchange(request, assess_visit.sync_detailed(client=client, body=request), Assessment)


def diagnose(client: Client, body: Mapping[str, Any]) -> Exchange:
    """`POST /v1/diagnoses`."""
    request = DiagnosisRequest.from_dict(body)
    return _exchange(request, diagnose_visit.sync_detailed(client=client, body=request), Diagnosis)


def compare(client: Client, body: Mapping[str, Any]) -> Exchange:
    """`POST /v1/comparisons`."""
    request = ComparisonRequest.from_dict(body)
    return _exchange(request, compare_runs.sync_detailed(client=client, body=request), Comparison)


def plan(client: Client, body: Mapping[str, Any]) -> Exchange:
    """`POST /v1/plans`."""
    request = PlanRequest.from_dict(body)
    return _exchange(request, plan_readings.sync_detailed(client=client, body=request), Plan)


def follow(client: Client, body: Mapping[str, Any]) -> Exchange:
    """`POST /v1/trends`."""
    request = TrendRequest.from_dict(body)
    return _exchange(request, follow_runs.sync_detailed(client=client, body=request), Trend)


@dataclass(frozen=True)
class Read:
    """A few values of an assessment, each with its type."""

    superheat: float
    low: float
    high: float
    grades: Sequence[Grade]


def by_hand(client: Client) -> Read:
    """A request made of the client's models, and its answer read by name."""
    kit = Kit()
    kit["gauges"] = Instrument(type_="pressure_transducer")
    request = AssessmentRequest(
        units="imperial",
        unit=Unit(refrigerant="R-410A", metering_device="thermostatic_expansion_valve"),
        kit=kit,
        run=Run(
            minutes_running=20,
            readings=Readings(
                suction_pressure=PressureReading(value=8.5, unit="bar", instrument="gauges"),
                suction_line_temperature=[55.2, 55.5, 55.4],
            ),
        ),
    )
    answer = assess_visit.sync(client=client, body=request)
    if not isinstance(answer, Assessment):
        raise TypeError(str(answer))
    superheat = answer.derived["superheat"]
    assert_type(superheat.value, float)
    return Read(
        superheat.value,
        superheat.band.low,
        superheat.band.high,
        [finding.grade for finding in answer.findings],
    )


# ---------------------------------------------------------------- lists of the reference

REFERENCES: Mapping[str, Callable[[Client], Exchange]] = {
    "live": lambda c: _exchange(None, health_live.sync_detailed(client=c), Health),
    "ready": lambda c: _exchange(None, health_ready.sync_detailed(client=c), Health),
    "refrigerants": lambda c: _exchange(
        None, list_refrigerants.sync_detailed(client=c, units="metric"), RefrigerantList
    ),
    "refrigerant": lambda c: _exchange(
        None,
        get_refrigerant.sync_detailed("R-454B", client=c, units="imperial"),
        RefrigerantAnswer,
    ),
    "saturation": lambda c: _exchange(
        None,
        get_saturation_table.sync_detailed(
            "R-410A", client=c, units="metric", from_=-10.0, to=40.0, step=10.0, altitude=300.0
        ),
        SaturationTable,
    ),
    "instruments": lambda c: _exchange(None, list_instruments.sync_detailed(client=c), InstrumentList),
    "limits": lambda c: _exchange(None, list_limits.sync_detailed(client=c), LimitList),
    "cautions": lambda c: _exchange(None, list_cautions.sync_detailed(client=c), CautionList),
    "faults": lambda c: _exchange(None, list_faults.sync_detailed(client=c), FaultList),
    "plots": lambda c: _exchange(None, list_plots.sync_detailed(client=c), PlotList),
}

# ---------------------------------------------------------------- pictures, pages, tables


def draw(client: Client, body: Mapping[str, Any], format_: PictureFormat) -> bytes:
    """The limits of a visit as a picture."""
    request = AssessmentRequest.from_dict(body)
    drawn = draw_plot.sync("limits", client=client, body=request, format_=format_, most=3)
    if not isinstance(drawn, File):
        raise TypeError(str(drawn))
    return drawn.payload.read()


def report(client: Client, body: Mapping[str, Any]) -> str:
    """A visit as a page."""
    request = DiagnosisRequest.from_dict(body)
    page = write_report.sync(client=client, body=request, audience="customer")
    if not isinstance(page, str):
        raise TypeError(str(page))
    return page


def table(client: Client) -> str:
    """A table as CSV, which the generated function does not read: by the connection beneath it."""
    response = client.get_httpx_client().get(
        "/v1/refrigerants/R-410A/saturation", params={"units": "metric", "format": "csv"}
    )
    return response.raise_for_status().text


# ---------------------------------------------------------------- batches

_ANSWERS: Mapping[str, Callable[[Mapping[str, Any]], Model]] = {
    "assessment": BatchAssessment.from_dict,
    "comparison": BatchComparison.from_dict,
    "grades": BatchGrades.from_dict,
    "verdicts": BatchVerdicts.from_dict,
    "problem": BatchProblem.from_dict,
    "summary": BatchSummary.from_dict,
}


def line(given: Mapping[str, Any]) -> AssessmentLine | ComparisonLine:
    """A line of a batch."""
    return AssessmentLine.from_dict(given) if "assessment" in given else ComparisonLine.from_dict(given)


def batch(client: Client, lines: Sequence[AssessmentLine | ComparisonLine], detail: Detail) -> list[tuple[Model, Any]]:
    """Each line of answer, typed and as it came.

    The generator knows no lines of JSON, so they travel by the connection beneath it.
    """
    response = client.get_httpx_client().post(
        "/v1/batches",
        params={"detail": detail},
        content="".join(json.dumps(one.to_dict()) + "\n" for one in lines),
        headers={"Content-Type": "application/x-ndjson"},
    )
    found = [json.loads(text) for text in response.raise_for_status().text.splitlines()]
    return [(next(read for key, read in _ANSWERS.items() if key in raw)(raw), raw) for raw in found]


# ---------------------------------------------------------------- problems


def refused(client: Client) -> tuple[Problem, Any]:
    """A request that is refused: its problem, typed and as it came."""
    response = assess_visit.sync_detailed(
        client=client,
        body=AssessmentRequest(units="imperial", run=Run(readings=Readings(suction_pressure=9999.0))),
    )
    if not isinstance(response.parsed, Problem):
        raise TypeError(str(response.parsed))
    return response.parsed, json.loads(response.content)


def unknown(client: Client) -> Problem:
    """A refrigerant that the service does not carry."""
    answer = get_refrigerant.sync("R-1", client=client, units="imperial")
    if not isinstance(answer, Problem):
        raise TypeError(str(answer))
    return answer


# ---------------------------------------------------------------- what must not pass

if TYPE_CHECKING:
    # The checker must refuse each of these: else it calls the comment that allows it unused.
    Readings(suction_presure=124.0)  # type: ignore[call-arg]
    PressureReading(value=8.5, unit="psii")  # type: ignore[arg-type]
    Readings(suction_pressure="124")  # type: ignore[arg-type]
    AssessmentRequest(run=Run(readings=Readings()))  # type: ignore[call-arg]
    Unit(metering_device="piston")  # type: ignore[arg-type]

    def _misread(client: Client, answer: Assessment) -> None:
        answer.finding  # type: ignore[attr-defined]  # noqa: B018
        answer.findings[0].limit.upper  # type: ignore[union-attr]  # noqa: B018
        answer.findings[0].grade = "passed"  # type: ignore[assignment]
        assess_visit.sync(client=client, body={"units": "imperial"})  # type: ignore[arg-type]
        list_refrigerants.sync(client=client)  # type: ignore[call-arg]
