"""`POST /v1/plots/{plot}`."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Any

from fastapi import APIRouter, Body, Depends, Path, Query, Response
from pydantic import Field

from schemas.examples import every_example
from schemas.pictures import AnyBody, PictureFormat, PictureTheme, PlotName
from service.edge.csv_bodies import CSV_BODY, CsvOptions, VisitRoute
from service.edge.negotiation import chosen
from service.render.pictures import PICTURES, Asked, picture
from service.render.raster import png
from service.routes.counting import count_draws
from service.routes.forms import MEDIA_TYPES, Accept
from service.routes.responses import NAMED_PROBLEMS, PROBLEMS

router = APIRouter(prefix="/v1", tags=["pictures"], route_class=VisitRoute)

EXAMPLES: dict[str, Any] = {name: {"summary": title, "value": body} for name, title, body in every_example()}
#: Short names of the subjects of a picture.
_BODIES = {"visit": "visit", "comparison": "comparison", "trend": "series"}
#: A picture opened on its own may style itself, and nothing else.
PICTURE_POLICY = "default-src 'none'; style-src 'unsafe-inline'"


_DESCRIPTION = "\n".join(
    (
        "A picture of the body of an assessment, a diagnosis, a comparison or a series.",
        "",
        "| plot | of | shows |",
        "| --- | --- | --- |",
        *(
            f"| `{name}` | {', '.join(_BODIES[kind] for kind in row.kinds)} | {row.shows} |"
            for name, row in PICTURES.items()
        ),
    )
)


@dataclass(frozen=True)
class PictureOptions:
    """How a picture is to be drawn and sent."""

    form: Annotated[
        PictureFormat | None,
        Query(
            alias="format",
            description="Form of the answer; if left out, as `Accept` says, SVG by default.",
            examples=["svg"],
        ),
    ] = None
    theme: Annotated[
        PictureTheme,
        Query(
            description="`auto` follows the reader's light or dark setting and prints light; as PNG it is light.",
            examples=["auto"],
        ),
    ] = "auto"
    width: Annotated[
        int,
        Query(
            ge=200,
            le=2000,
            description="Width; an SVG scales from there.",
            examples=[960],
            json_schema_extra={"x-unit": "px"},
        ),
    ] = 480
    prefix: Annotated[
        str,
        Query(
            pattern="^([A-Za-z][A-Za-z0-9_-]{0,39})?$",
            description="Beginning of every id within an SVG, for several pictures on one page.",
            examples=["before-"],
        ),
    ] = ""
    quantity: Annotated[
        Annotated[str, Field(max_length=80)] | None,
        Query(
            description="Derived value that a trend shows; if left out, the one that moves most clearly.",
            examples=["condensing_temperature_over_ambient"],
        ),
    ] = None
    most: Annotated[
        Annotated[int, Field(ge=1, le=100)] | None,
        Query(
            description="Most rows of a chart (`limits`, `changes`, `fault_probabilities`), or readings of `course`, "
            "the most pressing first; if left out, as many as one screen holds.",
            examples=[8],
            json_schema_extra={"x-unit": "1"},
        ),
    ] = None
    accept: Accept = None


@router.post(
    "/plots/{plot}",
    operation_id="drawPlot",
    summary="Draw a picture",
    description=_DESCRIPTION,
    response_class=Response,
    responses={
        **PROBLEMS,
        **NAMED_PROBLEMS,
        200: {
            "description": "The picture.",
            "content": {
                # A client generated for the first type passes either on unchanged.
                "image/png": {
                    "schema": {
                        "type": "string",
                        "format": "binary",
                        "contentMediaType": "image/png",
                    }
                },
                "image/svg+xml": {
                    "schema": {"type": "string"},
                    "example": '<svg xmlns="http://www.w3.org/2000/svg" class="picture">...</svg>',
                },
            },
        },
    },
    openapi_extra=CSV_BODY,
)
async def draw_plot(
    plot: Annotated[PlotName, Path(description="Which picture.", examples=["limits"])],
    request: Annotated[AnyBody, Body(openapi_examples=EXAMPLES)],
    options: Annotated[PictureOptions, Depends()],
    _: Annotated[CsvOptions, Depends()],
) -> Response:
    """A picture of the body of an assessment, a diagnosis, a comparison or a series."""
    drawing = picture(plot, request, Asked(options.quantity, options.most))
    count_draws(request)
    kind = options.form or chosen(options.accept, {"image/svg+xml": "svg", "image/png": "png"}, "svg")
    content = (
        png(drawing, options.theme, options.width)
        if kind == "png"
        else drawing.svg(options.theme, width=options.width, prefix=options.prefix).encode()
    )
    return Response(
        content,
        media_type=MEDIA_TYPES[kind],
        headers={
            "Cache-Control": "no-store",
            "Content-Security-Policy": PICTURE_POLICY,
            "Vary": "Accept",
        },
    )
