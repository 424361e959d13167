"""Colours: contrast by WCAG 2.2, and states that nobody has to tell apart by hue.

Closed formulas: relative luminance and contrast of WCAG 2.2 (its definitions), CIE 1976 L*a*b* and its
distance (ISO/CIE 11664-4 and -6) under D65.
"""

from __future__ import annotations

import re
from itertools import combinations

import numpy as np
import pytest

from service.physics.array_types import FloatArray
from service.render import changes_chart, limits_chart
from service.render.palette import CLASSES, COLOURS, style_sheet
from service.render.runs import LINES, MARKS, SPREADS

#: Grid, and grounds whose edges or marks carry what they say.
DECORATION = {"rule"}
GROUNDS = {"paper", "inside", "outside", "matterless", "ground"}
TEXTS = {"heading", "text", "strong", "small", "tag", "tag-small"}
#: What is drawn upon which ground beside the paper.
UPON = {
    "inside": {"mark-good", "mark-bad", "mark-open", "line-good", "line-bad", "line-open", "edge", "bracket"},
    "matterless": {"mark-good", "mark-bad", "mark-open", "line-good", "line-bad", "line-open", "curve", "axis"},
    "ground": {"bar-found", "bar-possible", "bar-sound", "bar-unlikely", "curve"},
}
THEMES = (0, 1)

#: Severity 1.0 of protanomaly, deuteranomaly and tritanomaly, on linear RGB: Machado, Oliveira and Fernandes
#: (2009), doi 10.1109/TVCG.2009.113, as the colorspacious library (1.1.2, cvd.py) has them.
DEFICIENCIES = {
    "protanopia": [
        [0.152286, 1.052583, -0.204868],
        [0.114503, 0.786281, 0.099216],
        [-0.003882, -0.048116, 1.051998],
    ],
    "deuteranopia": [
        [0.367322, 0.860646, -0.227968],
        [0.280085, 0.672501, 0.047413],
        [-0.011820, 0.042940, 0.968881],
    ],
    "tritanopia": [
        [1.255528, -0.076749, -0.178779],
        [-0.078411, 0.930809, 0.147602],
        [0.004733, 0.691367, 0.303900],
    ],
}


def linear(colour: str) -> FloatArray:
    """Linear RGB of ``#rrggbb`` (sRGB, IEC 61966-2-1)."""
    value = np.array([int(colour[k : k + 2], 16) for k in (1, 3, 5)]) / 255.0
    return np.asarray(np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4))


def luminance(colour: str) -> float:
    return float(np.array([0.2126, 0.7152, 0.0722]) @ linear(colour))


def contrast(one: str, other: str) -> float:
    """(lighter + 0.05) over (darker + 0.05)."""
    dark, light = sorted((luminance(one), luminance(other)))
    return (light + 0.05) / (dark + 0.05)


def lab(rgb: FloatArray) -> FloatArray:
    """L*a*b* of linear RGB, white D65."""
    matrix = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
    ratio = (matrix @ np.clip(rgb, 0.0, 1.0)) / matrix.sum(axis=1)
    root = np.where(ratio > (6 / 29) ** 3, np.cbrt(ratio), ratio * (29 / 6) ** 2 / 3 + 4 / 29)
    x, y, z = root.tolist()
    return np.array([116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z)])


def painted(style: str, theme: int) -> dict[str, str]:
    """Colours of a class as its style sheet has them."""
    sheet = style_sheet("dark" if theme else "light")
    return {
        what: colour
        for rule in re.findall(rf"\.picture \.{style}\{{([^}}]*)\}}", sheet)
        for what, colour in re.findall(r"(fill|stroke):(#[0-9a-f]{6})", rule)
    }


def shape(style: str) -> tuple[str | None, ...]:
    """What tells a class without colour: dashes, width of its stroke, whether it is filled as paper is."""
    sheet = style_sheet("light")
    rules = ";".join(re.findall(rf"\.picture \.{style}\{{([^}}]*)\}}", sheet))
    dashes = re.search(r"stroke-dasharray:([\d ]+)", rules)
    fill = painted(style, 0).get("fill")
    return (dashes.group(1) if dashes else None, str(fill == COLOURS["paper"][0]))


def test_the_formulas_give_their_published_values() -> None:
    """WCAG: black on white is 21 to 1, #767676 the greyest text of 4.5 to 1 (value from memory).  L* of
    white is 100; red of sRGB is 53.2, 80.1, 67.2 (value from memory)."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert contrast("#767676", "#ffffff") > 4.5 > contrast("#777777", "#ffffff")
    assert lab(linear("#ff0000")) == pytest.approx([53.2, 80.1, 67.2], abs=0.1)
    for matrix in DEFICIENCIES.values():
        # A grey stays what it is.
        assert np.array(matrix).sum(axis=1) == pytest.approx([1.0] * 3, abs=2e-6)


@pytest.mark.parametrize("theme", THEMES, ids=["light", "dark"])
def test_texts_stand_out_by_4_5_to_1(theme: int) -> None:
    """WCAG 2.2, 1.4.3; on every ground, as texts stand beside areas and on them."""
    for style in TEXTS:
        fill = painted(style, theme)["fill"]
        for ground in ("paper", "pale_blue", "pale_grey"):
            assert contrast(fill, COLOURS[ground][theme]) >= 4.5, (style, ground)


@pytest.mark.parametrize("theme", THEMES, ids=["light", "dark"])
def test_marks_and_lines_stand_out_by_3_to_1(theme: int) -> None:
    """WCAG 2.2, 1.4.11: of what has a fill and an edge, one of them does."""
    paper = COLOURS["paper"][theme]
    for style in CLASSES - DECORATION - GROUNDS - TEXTS:
        colours = painted(style, theme)
        assert colours, style
        # What is spread thinly is known by its edge; the band of a trend has its line within.
        if style == "spread-trend":
            colours = painted("line-trend", theme)
        assert max(contrast(c, paper) for c in colours.values()) >= 3.0, style
    for ground, those in UPON.items():
        area = painted(ground, theme)["fill"]
        for style in those:
            strongest = max(contrast(c, area) for c in painted(style, theme).values())
            assert strongest >= 3.0, (style, ground)


def test_every_class_is_of_one_kind() -> None:
    """So that a new one is checked."""
    assert (DECORATION | GROUNDS | TEXTS) <= CLASSES
    for ground, those in UPON.items():
        assert {ground} | those <= CLASSES


def test_grades_and_verdicts_differ_in_shape() -> None:
    """Good, bad and open have each a mark of its own, so do verdicts; limits are told by ends and a line."""
    assert len({mark for mark, *_ in limits_chart.GRADES.values()}) == len(limits_chart.GRADES) == 3
    found = {(mark, style) for mark, style, *_ in changes_chart.VERDICTS.values()}
    for (one, a), (other, b) in combinations(sorted(found), 2):
        assert one != other or shape(a) != shape(b), (a, b)


def test_the_two_runs_differ_in_dash_and_fill() -> None:
    for first, last in (LINES, MARKS, SPREADS):
        assert shape(first) != shape(last)
    assert shape(LINES[0])[0]
    assert not shape(LINES[1])[0]
    assert shape(MARKS[0])[1] != shape(MARKS[1])[1]


@pytest.mark.parametrize("theme", THEMES, ids=["light", "dark"])
def test_bars_differ_in_grey(theme: int) -> None:
    """Found, possible and unlikely by luminance, by a fifth at least; the last has a fainter edge too."""
    fills = [painted(f"bar-{status}", theme)["fill"] for status in ("found", "possible", "unlikely")]
    for one, other in combinations(fills, 2):
        assert contrast(one, other) >= 1.2
    edges = {painted(f"bar-{status}", theme)["stroke"] for status in ("found", "unlikely")}
    assert len(edges) == 2


@pytest.mark.parametrize("theme", THEMES, ids=["light", "dark"])
@pytest.mark.parametrize("deficiency", DEFICIENCIES)
def test_blue_and_vermilion_stay_apart(deficiency: str, theme: int) -> None:
    """CIE 1976 distance over 20 (common practice, no source: 2.3 is just noticeable)."""
    matrix = np.array(DEFICIENCIES[deficiency])
    one, other = (lab(matrix @ linear(COLOURS[name][theme])) for name in ("blue", "vermilion"))
    assert float(np.linalg.norm(one - other)) > 20.0


@pytest.mark.parametrize("theme", THEMES, ids=["light", "dark"])
def test_what_is_permitted_is_told_without_its_shade(theme: int) -> None:
    """The line under it stands out by 3 to 1 from the paper and from the shade; the shade alone does not."""
    line = painted("bracket", theme)["stroke"]
    for ground in ("inside", "outside"):
        assert contrast(line, painted(ground, theme)["fill"]) >= 3.0
    assert contrast(COLOURS["pale_blue"][theme], COLOURS["paper"][theme]) < 3.0
