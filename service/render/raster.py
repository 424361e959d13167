"""PNG from a drawing, by a library that renders SVG, with a font that comes with the service."""

from __future__ import annotations

from functools import cache
from importlib.resources import files

import resvg_py

from service.render.drawing import WIDTH, Drawing
from service.render.palette import Theme

FONT_FAMILY = "Source Sans 3"


@cache
def _font() -> str:
    """The font's file: text must not depend on what the machine has installed."""
    folder = files("fontpkg_source_sans_3").joinpath("files")
    return str(next(f for f in folder.iterdir() if f.name == "SourceSans3[wght].ttf"))


def png(drawing: Drawing, theme: Theme, width: int) -> bytes:
    """The picture as PNG, so many pixels wide; ``auto`` is light, as a PNG cannot follow its reader."""
    rendered: bytes = resvg_py.svg_to_bytes(
        svg_string=drawing.svg("dark" if theme == "dark" else "light"),
        zoom=width / WIDTH,
        skip_system_fonts=True,
        font_files=[_font()],
        font_family=FONT_FAMILY,
        sans_serif_family=FONT_FAMILY,
    )
    return rendered
