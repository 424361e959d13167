"""`POST /v1/batches`: lines in, each a visit or a comparison; a line of answer to each, then a summary."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Annotated, Any, Literal, Self

from pydantic import (
    ConfigDict,
    Field,
    GetJsonSchemaHandler,
    RootModel,
    TypeAdapter,
    ValidationError,
    ValidatorFunctionWrapHandler,
    WrapValidator,
    create_model,
    model_validator,
    with_config,
)
from pydantic_core import CoreSchema, PydanticCustomError

from schemas.answers import Answer, fact
from schemas.assessments import Assessment, AssessmentRequest, AssessmentVerdicts
from schemas.checks import CHECKS, CheckAnswer, CheckRequest
from schemas.comparisons import Comparison, ComparisonRequest, ComparisonVerdicts
from schemas.details import DiagnosisGrades, Grades, TrendGrades, Verdicts
from schemas.diagnoses import Diagnosis, DiagnosisRequest, DiagnosisVerdicts
from schemas.examples import check_examples
from schemas.growth import MayGrow, only_if_asked
from schemas.problems import Problem
from schemas.quantities import WHOLE, Model, StrictInteger, StrictText, without_default
from schemas.trends import Trend, TrendRequest, TrendVerdicts

# ---------------------------------------------------------------- request

LONGEST_ID = 200
#: Beyond this, readers of JSON that hold numbers as doubles would change an id.
LARGEST_ID = 2**53 - 1

#: Types of errors of a line's envelope.
NO_ID, NOT_ONE_BODY, NOT_ONE_CHECK = "no_id", "not_one_body", "not_one_check"
#: Several bodies, or several checks, on one line; `names` says which, `lines` how to send each.
SEVERAL_BODIES, SEVERAL_CHECKS = "several_bodies", "several_checks"
#: A body that stands by itself, and one of a kind that no batch takes; `kind` and `address` say which.
BARE_BODY, OTHER_BODY = "bare_body", "other_body"
#: Bodies that only the single requests take, by the names that a line may give them.
_OTHERS = {
    name: (kind, address) for names, kind, address in ((("plan", "plans"), "a plan", "/v1/plans"),) for name in names
}
ID_RANGE = f"text of at most {LONGEST_ID} characters, or a whole number within ±{LARGEST_ID}"


def _several(kind: str, names: Sequence[str], line: str) -> PydanticCustomError:
    """The error of a line that holds more than one of what it may hold once."""
    said = {"names": " and ".join(names), "lines": " and ".join(line % name for name in names)}
    return PydanticCustomError(kind, "holds more than one", said)


def _one_error(value: object, handler: ValidatorFunctionWrapHandler) -> Any:  # noqa: ANN401
    """One error in place of one for each branch."""
    try:
        return handler(value)
    except ValidationError as error:
        raise PydanticCustomError(NO_ID, "is no id") from error


Id = Annotated[
    Annotated[StrictText, Field(max_length=LONGEST_ID)]
    | Annotated[StrictInteger, Field(ge=-LARGEST_ID, le=LARGEST_ID), WHOLE]
    | None,
    WrapValidator(_one_error),
]


#: Fields that tell a body from an envelope.
FIELDS_OF_BODIES = frozenset[str]().union(
    *(body.model_fields for body in (DiagnosisRequest, ComparisonRequest, TrendRequest))
)
#: The kinds of body that a line may hold.
BODIES = ("assessment", "comparison", "diagnosis", "trend", "check")
_ADDRESSES = {
    "assessment": "/v1/assessments",
    "comparison": "/v1/comparisons",
    "diagnosis": "/v1/diagnoses",
    "trend": "/v1/trends",
}
#: What tells the kind of a body that stands by itself, the first that holds.
_TOLD_BY: Mapping[str, Callable[[Mapping[str, Any]], bool]] = {
    "trend": lambda body: isinstance(body.get("runs"), list),
    "comparison": lambda body: "runs" in body,
    "diagnosis": lambda body: "baseline" in body,
    "assessment": lambda _: True,
}


def _key(published: dict[str, Any]) -> None:
    published["x-unit"] = "none"
    without_default(published)


class _Line(Model):
    id: Id = Field(
        default=None,
        description="Your own key of the line, given back with its answer.",
        examples=["unit-17/2026-07-14"],
        json_schema_extra=_key,
    )


class AssessmentLine(_Line):
    """A line of a batch: one visit to assess."""

    assessment: AssessmentRequest = Field(
        description="The body of `POST /v1/assessments`.",
        examples=[{"units": "imperial", "run": {"readings": {"suction_pressure": 118.0}}}],
    )


class ComparisonLine(_Line):
    """A line of a batch: two runs to compare."""

    comparison: ComparisonRequest = Field(
        description="The body of `POST /v1/comparisons`.",
        examples=[
            {
                "units": "imperial",
                "runs": {
                    "before": {"readings": {"suction_pressure": 118.0}},
                    "after": {"readings": {"suction_pressure": 121.0}},
                },
            }
        ],
    )


class DiagnosisLine(_Line):
    """A line of a batch: one visit to diagnose."""

    diagnosis: DiagnosisRequest = Field(
        description="The body of `POST /v1/diagnoses`.",
        examples=[{"units": "imperial", "run": {"readings": {"suction_pressure": 118.0}}}],
    )


class TrendLine(_Line):
    """A line of a batch: three or more dated runs of one unit."""

    trend: TrendRequest = Field(
        description="The body of `POST /v1/trends`.",
        examples=[
            {
                "units": "imperial",
                "runs": [
                    {"taken_at": f"{year}-07-14T14:05:00Z", "readings": {"suction_pressure": 118.0}}
                    for year in (2024, 2025, 2026)
                ],
            }
        ],
    )


class _OneCheck(Model):
    # A check is called as in its address, and nothing else.
    model_config = ConfigDict(extra="forbid", populate_by_name=False)

    @property
    def given(self) -> tuple[str, CheckRequest]:
        """The name of the check, and its body."""
        field = next(iter(self.model_fields_set))
        body: CheckRequest = getattr(self, field)
        return field.replace("_", "-"), body

    @model_validator(mode="after")
    def _one_check(self) -> Self:
        given = [field.replace("_", "-") for field in self.model_fields_set if getattr(self, field) is not None]
        if len(given) > 1:
            raise _several(SEVERAL_CHECKS, sorted(given), '{"check": {"%s": {...}}}')
        if len(given) != len(self.model_fields_set) or not given:
            raise PydanticCustomError(NOT_ONE_CHECK, "holds not exactly one check")
        return self


def _example(name: str) -> Any:  # noqa: ANN401
    return next(iter(check_examples(name).values()))


def _check_field(name: str, body: type[CheckRequest]) -> tuple[Any, Any]:
    field = Field(
        default=None,
        alias=name,
        description=f"The body of `POST /v1/checks/{name}`.",
        examples=[_example(name)],
        json_schema_extra=without_default,
    )
    return body | None, field


_CHECK_FIELDS: dict[str, Any] = {name.replace("-", "_"): _check_field(name, body) for name, body in CHECKS.items()}
#: One check of any kind, under its name.
CheckOfLine = create_model(
    "CheckOfLine", __base__=_OneCheck, __doc__="One check, under its name in the address.", **_CHECK_FIELDS
)


class CheckLine(_Line):
    """A line of a batch: one check."""

    check: CheckOfLine = Field(
        description="One check, under its name in the address.",
        examples=[{"leak-rate": _example("leak-rate")}],
    )


class BatchLine(_Line):
    """One line of a batch: one visit to assess or to diagnose, two runs to compare, a series of them, or one check."""

    assessment: AssessmentRequest | None = None
    comparison: ComparisonRequest | None = None
    diagnosis: DiagnosisRequest | None = None
    trend: TrendRequest | None = None
    check: CheckOfLine | None = None

    @classmethod
    def __get_pydantic_json_schema__(cls, _core_schema: CoreSchema, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        """Published as either line, so that a client's types say what each one holds."""
        lines = TypeAdapter(AssessmentLine | ComparisonLine | DiagnosisLine | TrendLine | CheckLine).core_schema
        return {**handler(lines), "title": cls.__name__, "description": cls.__doc__}

    @model_validator(mode="before")
    @classmethod
    def _in_an_envelope(cls, value: Any) -> Any:  # noqa: ANN401
        """One error in place of one for each field of a body that lacks its envelope."""
        if not isinstance(value, Mapping) or not value.keys().isdisjoint(BODIES):
            return value
        other = next((_OTHERS[name] for name in value if name in _OTHERS), None)
        if other is not None:
            raise PydanticCustomError(OTHER_BODY, "is not taken in batches", {"kind": other[0], "address": other[1]})
        if not value.keys().isdisjoint(FIELDS_OF_BODIES):
            kind = next(kind for kind, own in _TOLD_BY.items() if own(value))
            raise PydanticCustomError(BARE_BODY, "lacks its envelope", {"kind": kind, "address": _ADDRESSES[kind]})
        return value

    @model_validator(mode="after")
    def _one_body(self) -> Self:
        given = [kind for kind in BODIES if getattr(self, kind) is not None]
        if len(given) > 1:
            raise _several(SEVERAL_BODIES, given, '{"%s": {...}}')
        if not given:
            raise PydanticCustomError(NOT_ONE_BODY, "holds not exactly one body")
        return self


# ---------------------------------------------------------------- answer


class _Answered(Answer):
    id: Annotated[str | int | None, fact("The line's own `id`, null where it has none.", "unit-17", "none")]
    line: Annotated[int, fact("Number of the line within the whole input, from 0; blank lines count.", 0, "1", ge=0)]


class BatchAssessment(_Answered):
    """The answer to a visit."""

    assessment: Annotated[Assessment, fact("The answer of `POST /v1/assessments`.", {"units": "imperial"})]


class BatchGrades(_Answered):
    """The answer to a visit where `detail=grades`."""

    grades: Annotated[Grades, fact("The assessment, cut down.", {"units": "imperial"})]


class BatchComparison(_Answered):
    """The answer to a comparison."""

    comparison: Annotated[Comparison, fact("The answer of `POST /v1/comparisons`.", {"units": "imperial"})]


class BatchVerdicts(_Answered):
    """The answer to a comparison where `detail=grades`."""

    verdicts: Annotated[Verdicts, fact("The comparison, cut down.", {"units": "imperial"})]


@with_config(only_if_asked)
class BatchCheck(_Answered):
    """The answer to a check; whole, whatever `detail` says."""

    check: Annotated[CheckAnswer, fact("The answer of `POST /v1/checks/{check}`.", {"check": "leak-rate"})]


@with_config(only_if_asked)
class BatchAssessmentVerdicts(_Answered):
    """The answer to a visit where `detail=verdicts`."""

    assessment_verdicts: Annotated[AssessmentVerdicts, fact("What was judged.", {"units": "imperial"})]


@with_config(only_if_asked)
class BatchComparisonVerdicts(_Answered):
    """The answer to a comparison where `detail=verdicts`."""

    comparison_verdicts: Annotated[ComparisonVerdicts, fact("Its verdicts.", {"units": "imperial"})]


@with_config(only_if_asked)
class BatchDiagnosis(_Answered):
    """The answer to a visit that was to be diagnosed."""

    diagnosis: Annotated[Diagnosis, fact("The answer of `POST /v1/diagnoses`.", {"units": "imperial"})]


@with_config(only_if_asked)
class BatchDiagnosisVerdicts(_Answered):
    """The answer to a diagnosis where `detail=verdicts`."""

    diagnosis_verdicts: Annotated[DiagnosisVerdicts, fact("Without its assessment.", {"units": "imperial"})]


@with_config(only_if_asked)
class BatchDiagnosisGrades(_Answered):
    """The answer to a diagnosis where `detail=grades`."""

    diagnosis_grades: Annotated[DiagnosisGrades, fact("The diagnosis, cut down.", {"units": "imperial"})]


@with_config(only_if_asked)
class BatchTrend(_Answered):
    """The answer to a series of runs."""

    trend: Annotated[Trend, fact("The answer of `POST /v1/trends`.", {"units": "imperial"})]


@with_config(only_if_asked)
class BatchTrendVerdicts(_Answered):
    """The answer to a series where `detail=verdicts`."""

    trend_verdicts: Annotated[TrendVerdicts, fact("Its drifts.", {"units": "imperial"})]


@with_config(only_if_asked)
class BatchTrendGrades(_Answered):
    """The answer to a series where `detail=grades`."""

    trend_grades: Annotated[TrendGrades, fact("The series, cut down.", {"units": "imperial"})]


class BatchProblem(_Answered):
    """A line that could not be answered; the others are."""

    problem: Annotated[
        Problem,
        fact(
            "The problem that a single request would have returned; pointers are into the line.",
            {"type": "/problems/invalid-request"},
        ),
    ]


#: What may be odd about a body as a whole.
NoticeCode = Literal["last_line_cut", "no_line", "offset_past_end"]


class SummaryNotice(Answer):
    """Something odd about the input as a whole, though every line was processed."""

    code: Annotated[
        Annotated[NoticeCode, MayGrow()],
        fact(
            "`last_line_cut`: the last line has no line end and is not valid JSON. `no_line`: the body is empty, "
            "or blank. "
            "`offset_past_end`: `offset` is more than the lines of the body.",
            "last_line_cut",
        ),
    ]
    sentence: Annotated[str, fact("In plain words, with what to do.", "...")]
    resume_offset: Annotated[
        int | None,
        fact(
            "The `offset` with which to send the whole input, if it was cut; null where that would not help.",
            41,
            "1",
            ge=0,
        ),
    ]


class Summary(Answer):
    """What became of the whole input."""

    complete: Annotated[
        bool,
        fact(
            "Whether every line that arrived was processed. Compare `lines` with your own count: an input that is cut "
            "between two lines looks like a shorter one.",
            True,
        ),
    ]
    cut_suspected: Annotated[
        bool,
        fact(
            "Whether the last line has no line end and is not valid JSON, as where the input was cut on its way; "
            "`notices` says where to continue.",
            False,
        ),
    ]
    resume_offset: Annotated[
        int | None,
        fact(
            "Where `complete` is false: the `offset` with which to send the input again.",
            None,
            "1",
            ge=0,
        ),
    ]
    lines: Annotated[int, fact("Lines seen, skipped and blank ones too.", 4, "1", ge=0)]
    skipped: Annotated[int, fact("Lines passed over by `offset`.", 0, "1", ge=0)]
    blank: Annotated[int, fact("Blank lines, which get no answer.", 0, "1", ge=0)]
    answered: Annotated[int, fact("Answer lines before this one.", 4, "1", ge=0)]
    assessments: Annotated[int, fact("Assessments among them, in full or shortened.", 2, "1", ge=0)]
    comparisons: Annotated[int, fact("Comparisons among them, in full or shortened.", 1, "1", ge=0)]
    diagnoses: Annotated[int, fact("Diagnoses among them, in full or shortened.", 0, "1", ge=0)]
    trends: Annotated[int, fact("Series of runs among them, in full or shortened.", 0, "1", ge=0)]
    checks: Annotated[int, fact("Checks among them.", 0, "1", ge=0)]
    problems: Annotated[int, fact("Problems among them.", 1, "1", ge=0)]
    notices: Annotated[list[SummaryNotice], fact("What is odd about the input where `complete` is true.", [])]
    service: Annotated[str, fact("Version of the service.", "0.1.0")]
    problem: Annotated[Problem | None, fact("Where `complete` is false: why.", None)]


class BatchSummary(Answer):
    """The last line. An answer without it was cut on its way."""

    summary: Annotated[Summary, fact("What became of the input.", {"complete": True, "lines": 4})]


class BatchAnswerLine(
    RootModel[
        BatchAssessment
        | BatchGrades
        | BatchAssessmentVerdicts
        | BatchComparison
        | BatchVerdicts
        | BatchComparisonVerdicts
        | BatchDiagnosis
        | BatchDiagnosisVerdicts
        | BatchDiagnosisGrades
        | BatchTrend
        | BatchTrendVerdicts
        | BatchTrendGrades
        | BatchCheck
        | BatchProblem
        | BatchSummary
    ]
):
    """One line of the answer."""
