"""Colours and strokes, in one place: what every class of a drawing looks like in light and in dark.

The hues are those of Okabe and Ito, which people with any of the usual kinds of colour blindness tell
apart; on dark ground their lighter members stand in.  No class says by hue alone what it means: marks
differ in shape, lines in dashes, areas by their edge, and every state is written out beside.

References
----------
Okabe, M. and Ito, K. (2008). Color universal design: how to make figures and presentations that are
friendly to colorblind people.  Contrast: WCAG 2.2, 1.4.3 (text 4.5 to 1) and 1.4.11 (marks 3 to 1).
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from types import MappingProxyType
from typing import Literal

Theme = Literal["auto", "light", "dark"]

#: Name of each colour, on light and on dark ground.
COLOURS: Mapping[str, tuple[str, str]] = MappingProxyType(
    {
        "paper": ("#ffffff", "#15191e"),
        "ink": ("#1b1f24", "#eef1f4"),
        "quiet": ("#4d555e", "#b8c0c9"),
        "rule": ("#d9dee3", "#353c44"),
        "axis": ("#6b7580", "#8d97a2"),
        "blue": ("#0072b2", "#56b4e9"),
        "vermilion": ("#d55e00", "#f0a14a"),
        "pale_blue": ("#d3e6f2", "#173a52"),
        "pale_grey": ("#e8ebee", "#2a3037"),
    }
)

_TEXT = 'font-family:system-ui,-apple-system,"Segoe UI",Roboto,"Source Sans 3",Arial,sans-serif'

#: Sizes of text [user units; a picture is 400 wide].
SIZES: Mapping[str, float] = MappingProxyType(
    {"heading": 16.0, "text": 14.0, "strong": 14.0, "small": 12.5, "tag": 14.0, "tag-small": 12.5}
)

#: A rim of paper about a text that stands among lines, so that none runs through its letters.
_RIM = "paint-order:stroke;stroke-width:4;stroke-linejoin:round"

#: Class, then what it paints (``fill`` or ``stroke``) with which colour, and the rest of its style.
_CLASSES: Mapping[str, tuple[tuple[tuple[str, str], ...], str]] = MappingProxyType(
    {
        "paper": ((("fill", "paper"),), ""),
        "heading": ((("fill", "ink"),), f"font-size:{SIZES['heading']}px;font-weight:700"),
        "text": ((("fill", "ink"),), f"font-size:{SIZES['text']}px"),
        "strong": ((("fill", "ink"),), f"font-size:{SIZES['strong']}px;font-weight:700"),
        "small": ((("fill", "quiet"),), f"font-size:{SIZES['small']}px"),
        "tag": (
            (("fill", "ink"), ("stroke", "paper")),
            f"font-size:{SIZES['tag']}px;font-weight:700;{_RIM}",
        ),
        "tag-small": (
            (("fill", "quiet"), ("stroke", "paper")),
            f"font-size:{SIZES['tag-small']}px;{_RIM}",
        ),
        "rule": ((("stroke", "rule"),), "fill:none;stroke-width:1"),
        "axis": ((("stroke", "axis"),), "fill:none;stroke-width:1.2"),
        "edge": ((("stroke", "ink"),), "fill:none;stroke-width:1.6"),
        "bracket": ((("stroke", "ink"),), "fill:none;stroke-width:3"),
        "curve": ((("stroke", "quiet"),), "fill:none;stroke-width:1.4"),
        "contour": ((("stroke", "axis"),), "fill:none;stroke-width:0.8"),
        "faint": ((("stroke", "axis"),), "fill:none;stroke-width:0.9;stroke-dasharray:2 3"),
        "inside": ((("fill", "pale_blue"),), ""),
        "matterless": ((("fill", "pale_grey"),), ""),
        "outside": ((("fill", "paper"), ("stroke", "axis")), "stroke-width:0.8"),
        "ground": ((("fill", "pale_grey"),), ""),
        "line-good": ((("stroke", "blue"),), "fill:none;stroke-width:2.4"),
        "line-bad": ((("stroke", "vermilion"),), "fill:none;stroke-width:2.4"),
        "line-open": ((("stroke", "ink"),), "fill:none;stroke-width:2.4"),
        "line-quiet": ((("stroke", "quiet"),), "fill:none;stroke-width:1.8"),
        "line-trend": ((("stroke", "blue"),), "fill:none;stroke-width:2.2"),
        "line-limit": (
            (("stroke", "vermilion"),),
            "fill:none;stroke-width:2;stroke-dasharray:9 4",
        ),
        "whisker": ((("stroke", "ink"),), "fill:none;stroke-width:1.5"),
        "whisker-odd": ((("stroke", "quiet"),), "fill:none;stroke-width:1.5;stroke-dasharray:3 2"),
        "line-first": (
            (("stroke", "vermilion"),),
            "fill:none;stroke-width:2;stroke-dasharray:6 4",
        ),
        "line-guess": (
            (("stroke", "quiet"),),
            "fill:none;stroke-width:1.6;stroke-dasharray:2 3",
        ),
        "mark-good": ((("fill", "blue"), ("stroke", "paper")), "stroke-width:1.2"),
        "mark-bad": ((("fill", "vermilion"), ("stroke", "paper")), "stroke-width:1.2"),
        "mark-open": ((("fill", "paper"), ("stroke", "ink")), "stroke-width:2"),
        "mark-quiet": ((("fill", "paper"), ("stroke", "quiet")), "stroke-width:1.8"),
        "mark-point": ((("fill", "ink"), ("stroke", "paper")), "stroke-width:1"),
        "mark-first": ((("fill", "paper"), ("stroke", "vermilion")), "stroke-width:2"),
        "spread-good": (
            (("fill", "blue"), ("stroke", "blue")),
            "fill-opacity:0.22;stroke-width:1",
        ),
        "spread-trend": ((("fill", "blue"),), "fill-opacity:0.2"),
        "spread-first": (
            (("fill", "vermilion"), ("stroke", "vermilion")),
            "fill-opacity:0.16;stroke-width:1;stroke-dasharray:3 2",
        ),
        "bar-found": ((("fill", "vermilion"), ("stroke", "ink")), "stroke-width:1"),
        "bar-possible": ((("fill", "pale_blue"), ("stroke", "ink")), "stroke-width:1"),
        "bar-sound": ((("fill", "blue"), ("stroke", "ink")), "stroke-width:1"),
        "bar-unlikely": ((("fill", "paper"), ("stroke", "axis")), "stroke-width:1"),
    }
)

#: Names of every class, for the drawing to check against.
CLASSES = frozenset(_CLASSES)


def _painted(theme: int) -> str:
    return "".join(
        f".picture .{name}{{" + ";".join(f"{what}:{COLOURS[colour][theme]}" for what, colour in paints) + "}"
        for name, (paints, _) in _CLASSES.items()
    )


@cache
def style_sheet(theme: Theme) -> str:
    """The style of every drawing: ``auto`` follows the reader's setting, and print is always light."""
    shapes = f".picture{{{_TEXT}}}" + "".join(
        f".picture .{name}{{{style}}}" for name, (_, style) in _CLASSES.items() if style
    )
    if theme == "light":
        return shapes + _painted(0)
    if theme == "dark":
        return shapes + _painted(1)
    return shapes + _painted(0) + f"@media screen and (prefers-color-scheme:dark){{{_painted(1)}}}"
