"""`POST /v1/plots/{plot}` and `POST /v1/reports`: the body of any of the answers, drawn."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, Literal

from pydantic import Discriminator, Field, GetJsonSchemaHandler, Tag, TypeAdapter
from pydantic_core import CoreSchema
from typing_extensions import TypeAliasType

from schemas.assessments import AssessmentRequest
from schemas.comparisons import ComparisonRequest
from schemas.diagnoses import DiagnosisRequest
from schemas.quantities import AnyOf
from schemas.trends import TrendRequest

PlotName = TypeAliasType(
    "PlotName",
    Annotated[
        Literal["limits", "refrigerant_cycle", "air_process", "changes", "fault_probabilities", "trend", "course"],
        Field(description="A picture, see `GET /v1/plots`."),
    ],
)
PictureFormat = TypeAliasType(
    "PictureFormat",
    Annotated[Literal["svg", "png"], Field(description="Form of a picture.")],
)
PictureTheme = TypeAliasType(
    "PictureTheme",
    Annotated[Literal["auto", "light", "dark"], Field(description="Colours of a picture.")],
)
Audience = TypeAliasType(
    "Audience",
    Annotated[Literal["technician", "customer"], Field(description="For whom a page is.")],
)
BodyKind = Literal["visit", "comparison", "trend"]

#: Whatever is drawn.
Body = DiagnosisRequest | ComparisonRequest | TrendRequest

#: What a body is told by, for errors that name its fields; no part of the caller's document.
BODY_TAGS = frozenset({"body of a visit", "body of a comparison", "body of a series"})


#: Type of the error of a body that is none of these.
NO_KIND = "no_kind"


def _kind(value: Any) -> str | None:  # noqa: ANN401
    """Which body it is: by its runs; None where that cannot be told."""
    if isinstance(value, TrendRequest):
        return "body of a series"
    if isinstance(value, ComparisonRequest):
        return "body of a comparison"
    if isinstance(value, Mapping) and ("run" in value) == ("runs" in value):
        return None
    if isinstance(value, Mapping) and "runs" in value:
        series = isinstance(value["runs"], list)
        return "body of a series" if series else "body of a comparison"
    return "body of a visit"


class _AnyOf(AnyOf):
    """Published with the body of an assessment too.

    That of a diagnosis covers it; a client with a class for each takes only what is named.
    """

    def __get_pydantic_json_schema__(self, core_schema: CoreSchema, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        """Name the body of an assessment first."""
        published = super().__get_pydantic_json_schema__(core_schema, handler)
        published["anyOf"].insert(0, handler(TypeAdapter(AssessmentRequest).core_schema))
        return published


#: The body of an assessment or a diagnosis (`run`), of a comparison (`runs`, an object), or of a series
#: (`runs`, a list).
AnyBody = Annotated[
    Annotated[DiagnosisRequest, Tag("body of a visit")]
    | Annotated[ComparisonRequest, Tag("body of a comparison")]
    | Annotated[TrendRequest, Tag("body of a series")],
    Discriminator(
        _kind,
        custom_error_type=NO_KIND,
        custom_error_message="holds not exactly one of run and runs",
    ),
    _AnyOf(),
]


def kind_of(body: Body) -> BodyKind:
    """Which body was given."""
    if isinstance(body, TrendRequest):
        return "trend"
    return "comparison" if isinstance(body, ComparisonRequest) else "visit"
